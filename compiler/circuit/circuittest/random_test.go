package circuittest

import (
	"math"
	"math/rand/v2"

	"bandwright/biquad"
	"bandwright/compiler/circuit"
	"bandwright/compiler/netlist"
)

// audio is an op-amp of the usual kind.
var audio = netlist.OpAmp{
	GainBandwidthHz: 10e6, OpenLoopGain: 316228, OutputOhm: 50,
	VoltageNoise: 5e-9, CurrentNoise: 0.5e-12, VoltageCornerHz: 30, CurrentCornerHz: 150, OffsetV: 2e-3, BiasA: 100e-9,
}

// means is a usual stock.
var means = circuit.Means{
	Ohm: circuit.Range{From: 1e3, To: 100e3}, ShuntOhm: 150,
	Farad: circuit.Range{From: 1e-9, To: 470e-9}, OpAmp: audio,
}

func between(rng *rand.Rand, lo, hi float64) float64 {
	return lo * math.Exp2(rng.Float64()*math.Log2(hi/lo))
}

// anyParts are values over the whole usual range, each optional part left out
// now and then, though never so many that nothing comes through.
func anyParts(rng *rand.Rand, t *circuit.Topology) []float64 {
	for {
		var v []float64
		for _, e := range t.Parts() {
			switch {
			case e.Optional && rng.IntN(3) == 0:
				v = append(v, 0)
			case e.Kind == netlist.Resistor:
				v = append(v, between(rng, 1e3, 100e3))
			default:
				v = append(v, between(rng, 1e-9, 470e-9))
			}
		}
		if t.Closed(v).At(6000) != 0 {
			return v
		}
	}
}

// anySection is a section of a shape, with a pole Q up to maxQ where it has
// one. The level is 1 where the topology fixes it or where it is a ratio.
func anySection(rng *rand.Rand, shape circuit.Shape, maxQ float64) biquad.Analog {
	w := 2 * math.Pi * between(rng, 30, 5000)
	q := between(rng, 0.35, math.Max(maxQ, 0.36))
	g := between(rng, 0.3, 3)
	ratio := between(rng, 1.1, 4)
	first := func(b0, b1 float64) biquad.Analog {
		return biquad.Analog{W0: w, Keep: w, B: [3]float64{g * b0, g * b1}, A: [3]float64{1, 1}}
	}
	second := func(b0, b1, b2 float64) biquad.Analog {
		return biquad.Analog{W0: w, Keep: w, B: [3]float64{g * b0, g * b1, g * b2}, A: [3]float64{1, 1 / q, 1}}
	}
	switch shape {
	case circuit.Constant:
		if rng.IntN(3) == 0 {
			return biquad.Constant(1) // what a follower can do
		}
		return biquad.Constant(g)
	case circuit.LowPass1:
		return first(1, 0)
	case circuit.HighPass1:
		return first(0, 1)
	case circuit.LowShelf1:
		return first(ratio, 1)
	case circuit.HighShelf1:
		return first(1, ratio)
	case circuit.AllPass1:
		return first(1, -1)
	case circuit.RightHalf1:
		return first(1, -ratio)
	case circuit.LowPass2:
		return second(1, 0, 0)
	case circuit.HighPass2:
		return second(0, 0, 1)
	case circuit.BandPass2:
		return second(0, 1/q, 0)
	case circuit.Notch2:
		return second(1, 0, 1)
	case circuit.LowNotch2:
		return second(ratio, 0, 1)
	case circuit.HighNotch2:
		return second(1, 0, ratio)
	case circuit.AllPass2:
		return second(1, -1/q, 1)
	case circuit.Cut2:
		return second(1, 1/(q*ratio), 1)
	case circuit.Boost2:
		return second(1, ratio/q, 1)
	case circuit.Shift2:
		// Shelves: the Q of the zeros is that of the poles.
		s := second(ratio*ratio, ratio/q, 1)
		if rng.IntN(2) == 0 {
			s.A, s.B = [3]float64{ratio * ratio, ratio / q, 1}, [3]float64{g, g / q, g}
		}
		return s
	case circuit.Biquad2:
		return second(1, ratio, 0)
	case circuit.RightHalf2:
		return second(ratio, -1/q, 1)
	}
	panic("a shape without a sample")
}
