// Package stagetest holds the sections and the op-amp that tests of stages share. It
// knows neither the package that makes stages nor the kinds of filters of specs: its
// formulas are its own.
package stagetest

import (
	"math"

	"bandwright/biquad"
	"bandwright/compiler/netlist"
)

// Q7 is the Q of the sections of an LR4.
const Q7 = math.Sqrt2 / 2

// OpAmp is a usual one.
var OpAmp = netlist.OpAmp{GainBandwidthHz: 10e6, OpenLoopGain: 316e3, OutputOhm: 50, VoltageNoise: 5e-9, CurrentNoise: 0.5e-12,
	OffsetV: 2e-3, BiasA: 100e-9, SwingV: 13, SlewVPerS: 10e6}

// Pair is a filter of the second order at hz (Hz) with a Q.
func Pair(kind string, hz, q float64) biquad.Analog {
	return Shaped(kind, map[string]float64{"at": hz, "q": q})
}

// Shaped is Section with the values in a map.
func Shaped(kind string, keys map[string]float64) biquad.Analog {
	return Section(kind, func(key string) float64 { return keys[key] })
}

// Section is a filter of a kind by the name that specs have for it, with its values by
// their keys: at (Hz), q, gain (dB), order, and from.at … of a pole shift. p = s/w.
func Section(kind string, get func(string) float64) biquad.Analog {
	w, q := 2*math.Pi*get("at"), get("q")
	s := biquad.Analog{W0: w, Keep: w}
	rootA := biquad.FromDB(get("gain") / 2) // √(10^(gain/20))
	switch order := get("order"); {
	case kind == "pole-shift":
		w1, w2 := 2*math.Pi*get("from.at"), 2*math.Pi*get("to.at")
		s.W0, s.Keep = w2, w2
		r := w1 / w2
		s.B, s.A = [3]float64{r * r, r / get("from.q"), 1}, [3]float64{1, 1 / get("to.q"), 1}
	case kind == "low-pass" && order == 1:
		s.B, s.A = [3]float64{1}, [3]float64{1, 1}
	case kind == "high-pass" && order == 1:
		s.B, s.A = [3]float64{0, 1}, [3]float64{1, 1}
	case kind == "low-pass":
		s.B, s.A = [3]float64{1}, [3]float64{1, 1 / q, 1}
	case kind == "high-pass":
		s.B, s.A = [3]float64{0, 0, 1}, [3]float64{1, 1 / q, 1}
	case kind == "low-shelf":
		s.B, s.A = [3]float64{rootA, 1}, [3]float64{1 / rootA, 1}
	case kind == "high-shelf":
		s.B, s.A = [3]float64{1, rootA}, [3]float64{1, 1 / rootA}
	case kind == "all-pass" && order == 1:
		s.B, s.A = [3]float64{1, -1}, [3]float64{1, 1}
	case kind == "all-pass":
		s.B, s.A = [3]float64{1, -1 / q, 1}, [3]float64{1, 1 / q, 1}
	case kind == "notch":
		s.B, s.A = [3]float64{1, 0, 1}, [3]float64{1, 1 / q, 1}
	case kind == "peak":
		s.B, s.A = [3]float64{1, rootA / q, 1}, [3]float64{1, 1 / (rootA * q), 1}
	default:
		panic("no test knows this kind of filter: " + kind)
	}
	return s
}
