package board

import (
	"fmt"
	"math"
	"math/cmplx"

	"bandwright/biquad"
	"bandwright/compiler/language"
	"bandwright/compiler/netlist"
	"bandwright/compiler/verify"
	"bandwright/compiler/words"
)

const (
	// deepMute (dB) is the least that a mute should take away.
	deepMute = 60
	// diodeLeakA (A) is what a small-signal diode leaks at most when it is warm, of types
	// that are made for it.
	diodeLeakA = 10e-9
	// beyondV (V) is a fault at the input that the current into the rails is told for.
	beyondV = 10
)

var lowRFFilter = caution{
	name: "corner of the RF filter",
	found: func(s *survey) []place {
		ohm, farad := s.rf()
		if farad == 0 {
			return nil
		}
		loss := func(corner float64) float64 { return biquad.GainDB(math.Hypot(1, s.bandHz[1]/corner)) }
		if loss(cornerHz(ohm, farad)) <= s.job.LimitDB/2 {
			return nil
		}
		// A quarter of the promise is left to it: f/sqrt(10^(loss/10)-1).
		enough := s.bandHz[1] / math.Sqrt(math.Expm1(s.job.LimitDB/40*math.Ln10))
		return []place{{name: "input", number: fmt.Sprintf("%s at %s", words.Signed(-loss(cornerHz(ohm, farad)), "dB"), words.Hz(s.bandHz[1])), remedy: words.Hz(twoDigits(enough, math.Ceil))}}
	},
	sentence: func(at []place) string {
		return "the RF filter reaches down into the band and uses up more than half of what is promised of the response, " + where(at) + ": raise `input.rf-filter` to " + at[0].remedy
	},
}

var clampDiodes = caution{
	name: "clamp diodes",
	found: func(s *survey) []place {
		if !s.Spec.Input.Clamped {
			return nil
		}
		p := place{name: "input"}
		for _, x := range s.Common.Ends {
			switch x.Use {
			case SeriesResistance:
				p.number = fmt.Sprintf("%s for each %d V beyond a rail", words.Part(twoDigits(beyondV/x.Value, math.Round), "A"), beyondV)
			case Bias:
				p.remedy = fmt.Sprintf("%s through %s are %s of DC", words.Part(diodeLeakA, "A"), words.Stock(x.Value, "ohm"), words.Volt.Measured(diodeLeakA*x.Value))
			}
		}
		return []place{p}
	},
	sentence: func(at []place) string {
		return "clamp diodes lead a fault at the input into the rails, " + where(at) + ": the supply has to take that current, with a Zener diode at each rail if it can not; and they leak, " +
			at[0].remedy + ": take types of low leakage"
	},
}

var noDriverProtection = caution{
	name: "no protection of drivers",
	found: func(s *survey) []place {
		if s.Spec.Output.Mute == language.NoMute {
			return nil
		}
		opens := words.Part(math.Abs(s.MuteV()), "V")
		if s.MuteV() < 0 {
			opens = "-" + opens
		}
		opens += " at the node `mute`"
		if s.Spec.Output.Mute == language.RelayMute {
			opens += fmt.Sprintf(", %s for each relay,", words.Part(netlist.CoilV*1.0/netlist.CoilOhm, "A"))
		}
		return []place{{name: "outputs", number: opens + " opens them"}}
	},
	sentence: func(at []place) string {
		return "a mute keeps turn-on thumps from the power amplifiers and does not protect drivers, " + where(at) +
			": keep DC protection in the power amplifiers, and have the control give that voltage a second after the rails stand and take it away before they fall"
	},
}

var shallowMute = caution{
	name: "depth of the mute",
	found: func(s *survey) []place {
		if s.Spec.Output.Mute == language.NoMute {
			return nil
		}
		db := s.MuteDB()
		if db >= deepMute {
			return nil
		}
		// Of one divider R/r + 1, of two in a row (R/r)^2 + 3R/r + 1, a decibel more for loads.
		times := biquad.FromDB(deepMute + 1)
		enough := netlist.ClosedOhm * times
		if s.Spec.Output.Mute == language.TransistorMute {
			enough = netlist.JFETOnOhm * (math.Sqrt(5+4*times) - 3) / 2
		}
		return []place{{name: "outputs", number: words.Short(math.Round(db)) + " dB", remedy: words.Part(twoDigits(enough, math.Ceil), "ohm")}}
	},
	sentence: func(at []place) string {
		return "a muted output is less than 60 dB down, " + where(at) + ": raise `output.build-out` to " + at[0].remedy
	},
}

// peaks are the greatest output of each way behind its build-out (V peak at the full input
// level), in the default setting.
func (s *survey) peaks() []float64 {
	c := s.defaults()
	solver, outs := s.Solver(c)
	out := make([]float64, len(outs))
	for _, hz := range biquad.Octaves(s.bandHz[0], s.bandHz[1], strainPerOctave) {
		if solver.At(hz) != nil {
			continue
		}
		for k, n := range outs {
			out[k] = math.Max(out[k], math.Sqrt2*s.InputV(verify.Case{Way: k, C: c})*cmplx.Abs(solver.Voltage(n)))
		}
	}
	return out
}

var mutedCurrent = caution{
	name: "current into the mute",
	found: func(s *survey) []place {
		if s.Spec.Output.Mute == language.NoMute {
			return nil
		}
		// What the op-amp gives without the divider of build-out and load, into what is
		// left of the path to ground.
		others := 0.0
		if s.Spec.Output.Mute == language.TransistorMute {
			others = netlist.JFETOnOhm
		}
		peaks := s.peaks()
		return s.eachWay(func(way int, p *place) {
			i := peaks[way] / s.outputLevel() / (s.Spec.Output.BuildOutOhm + others)
			// A larger resistor loses more into the load, which is made up for before it; where
			// the load alone asks for too much, another row speaks.
			if left := s.easyA() - peaks[way]/s.loadOhm(); i > s.easyA() && left > 0 {
				p.number = words.Part(twoDigits(i, math.Round), "A") + " peak"
				p.need = twoDigits((peaks[way]-s.easyA()*others)/left, math.Ceil)
			}
		})
	},
	sentence: func(at []place) string {
		return "a muted op-amp works into its build-out resistor alone and has to give more than 40 % of its `output-current` at the full input level, " + where(at) +
			": raise `output.build-out` to " + words.Part(greatest(at), "ohm") + ", or take one for such loads"
	},
}

var mutedSwing = caution{
	name: "swing at mute transistors",
	found: func(s *survey) []place {
		if s.Spec.Output.Mute != language.TransistorMute {
			return nil
		}
		// The gate is at the negative rail, and a negative peak at the drain takes from it.
		limit := s.Spec.SupplyV - netlist.JFETOffV
		peaks := s.peaks()
		return s.eachWay(func(way int, p *place) {
			if v := peaks[way] / s.outputLevel(); v > limit {
				p.number = fmt.Sprintf("%s peak, and they stop below %s", words.Part(twoDigits(v, math.Round), "V"), words.Part(limit, "V"))
			}
		})
	},
	sentence: func(at []place) string {
		return "the transistors of the mute begin to conduct at negative peaks of the full level, " + where(at) + ": write `mute: relay`, or lower `input.level`"
	},
}
