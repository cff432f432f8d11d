package board

import (
	"fmt"
	"math"
	"math/cmplx"

	"bandwright/biquad"
	"bandwright/compiler/circuit"
	"bandwright/compiler/netlist"
	"bandwright/compiler/stage"
	"bandwright/compiler/words"
)

const (
	// hardNoiseGain is the noise gain, and easyInput the input impedance (ohm), from
	// which a stage is remarked on.
	hardNoiseGain = 10
	easyInput     = 2000
	// movedDB (dB) is what an op-amp's gain-bandwidth may move a stage by without remark.
	movedDB = 0.1
	// deepDB (dB re the peak in the band) is how far down a way as a whole may end.
	deepDB = -80
	// quietOhm is the largest resistor whose thermal noise passes without remark, and
	// quietShare the share of a way's noise power that passes of a larger one.
	quietOhm, quietShare = 22e3, 0.1
)

var noiseGain = caution{
	name: "noise gain",
	found: func(s *survey) []place {
		return s.eachStage(func(x *Stage, p *place) {
			if x.NoiseGain > hardNoiseGain {
				p.number = fmt.Sprintf("%s, %.3g", x.Topology.Name, x.NoiseGain)
			}
		})
	},
	sentence: func(at []place) string {
		return "noise gain above 10 multiplies the op-amp's own noise, " + where(at) + ": take an op-amp with less voltage noise, or name another `topology` there"
	},
}

var gainBandwidth = caution{
	name: "gain-bandwidth",
	found: func(s *survey) []place {
		return s.eachStage(func(x *Stage, p *place) {
			moved := func(hz float64) float64 {
				m := s.OpAmp
				m.GainBandwidthHz = hz
				db, err := x.Topology.OpAmpErrorDB(asked(x.Section), x.Values, m)
				if err != nil {
					return 0
				}
				return db
			}
			have := s.OpAmp.GainBandwidthHz
			db := moved(have)
			if !(db > movedDB) {
				return
			}
			p.number = words.Short(db) + " dB"
			for more := db / movedDB; more < 1e3; more *= 1.2 {
				if hz := twoDigits(more*have, math.Ceil); moved(hz) <= movedDB {
					p.need = hz
					return
				}
			}
		})
	},
	sentence: func(at []place) string {
		remedy := "lower the frequency or the Q"
		if hz := greatest(at); hz > 0 {
			remedy = "take one of " + words.Part(hz, "Hz")
		}
		return "the op-amp's gain-bandwidth moves the response by more than 0.1 dB, " + where(at) + ": " + remedy
	},
}

var heavyInput = caution{
	name: "input impedance",
	found: func(s *survey) []place {
		return s.eachStage(func(x *Stage, p *place) {
			if x.Measured && x.InputOhm < easyInput && x.Role != InputStage {
				p.number = words.Part(x.InputOhm, "ohm")
			}
		})
	},
	sentence: func(at []place) string {
		return "an input impedance below 2 kohm loads the stage before, " + where(at) + ": take an op-amp that drives it, or raise `resistors.from`"
	},
}

// remarks calls see with the topology's own remarks on each stage, until it completes
// the place.
func (s *survey) remarks(see func(c circuit.Caution, p *place)) []place {
	return s.eachStage(func(x *Stage, p *place) {
		if x.Topology.Cautions == nil {
			return
		}
		for _, c := range x.Topology.Cautions(asked(x.Section), x.Values, s.job.Means) {
			if see(c, p); p.number != "" || p.about != "" {
				return
			}
		}
	})
}

var ownRemark = caution{
	name: "topology",
	found: func(s *survey) []place {
		return s.remarks(func(c circuit.Caution, p *place) {
			if c.Trait == circuit.OfTheStage {
				p.about, p.number, p.remedy = c.What, c.Number, c.Remedy
			}
		})
	},
	sentence: func(at []place) string { return at[0].about + ", " + where(at) + ": " + at[0].remedy },
}

// leaks: what leaks past one stage is stopped by the others, so that it is the whole
// way that tells how far down it matters.
var leaks = caution{
	name: "leak",
	found: func(s *survey) []place {
		stages := s.remarks(func(c circuit.Caution, p *place) {
			if c.Trait == circuit.Leaks {
				p.number = c.Number
			}
		})
		if stages == nil {
			return nil
		}
		ends := s.eachWay(func(way int, p *place) {
			for _, x := range stages {
				if x.chain == p.chain || x.chain == &s.Common {
					if db, hz := s.floor(way); hz > 0 && db > deepDB {
						p.number = words.Level(db, "dB") + " at " + words.Part(hz, "Hz")
					}
					return
				}
			}
		})
		if ends == nil {
			return nil
		}
		return append(stages, ends...)
	},
	sentence: func(at []place) string {
		n := 0
		for at[n].stage > 0 {
			n++
		}
		return "signal leaks past the op-amp of a low-pass whose R1 is below 100 times the op-amp's output resistance, " + where(at[:n]) +
			"; as a whole the ways go no further down than " + where(at[n:]) + ": raise `resistors.from`, or name `topology: multiple-feedback-low-pass`"
	},
}

// floor is the highest level (dB re the way's peak in the band) at which a way passes
// more than twice of what its prototype does, by what op-amps let through, and where
// (Hz); 0 Hz where it nowhere does.
func (s *survey) floor(way int) (db, hz float64) {
	const perOctave = 6
	c := s.defaults()
	solver, out, path := s.wiring.in(c), s.wiring.outs[way], s.job.System.Path(way)
	grid := biquad.Octaves(s.bandHz[0], max(2*s.bandHz[1], stage.AboveGain*s.OpAmp.GainBandwidthHz), perOctave)
	want := make([]complex128, len(grid))
	biquad.AnalogAt(want, path, c, grid)
	peak, most := 0.0, 0.0
	for i, f := range grid {
		if solver.At(f) != nil {
			return 0, 0
		}
		g := cmplx.Abs(solver.Voltage(out))
		peak = max(peak, g)
		if g > 2*cmplx.Abs(want[i]) && g > most {
			most, hz = g, f
		}
	}
	return biquad.GainDB(most) - biquad.GainDB(peak), hz
}

var thermalNoise = caution{
	name: "thermal noise",
	found: func(s *survey) []place {
		loud := s.loudResistors()
		return s.eachStage(func(x *Stage, p *place) {
			for _, ref := range x.Refs {
				if says := loud[ref]; says != "" && p.number == "" {
					p.number = says
				}
			}
		})
	},
	sentence: func(at []place) string {
		return "resistors above 22 kohm are noisy, " + where(at) + ": allow larger capacitors, `capacitors.to`, or lower `resistors.to`"
	},
}

// loudResistors are the resistors above quietOhm that make more than quietShare of a way's
// noise power in the band, by reference, with what there is to say of each.
func (s *survey) loudResistors() map[string]string {
	const perOctave = 3 // in the default combination; the shares need no more
	grid := biquad.Octaves(s.bandHz[0], s.bandHz[1], perOctave)
	parts, out, most := s.wiring.circuit.Parts(), map[string]string{}, map[string]float64{}
	for way, node := range s.wiring.outs {
		solver := s.wiring.in(s.defaults())
		sources := solver.NoiseSources()
		at, power, all := make([]float64, len(sources)), make([]float64, len(sources)), 0.0
		for _, f := range grid {
			if solver.At(f) != nil {
				return nil
			}
			if _, err := solver.Noise(node, roomK, at); err != nil {
				return nil
			}
			for i, v := range at {
				power[i] += v * f // an octave's width goes with its frequency
				all += v * f
			}
		}
		for i, source := range sources {
			p, share := parts[source.Part], power[i]/all
			if p.Kind == netlist.Resistor && p.Value > quietOhm && share > max(quietShare, most[p.Ref]) {
				most[p.Ref] = share
				out[p.Ref] = fmt.Sprintf("%s of %s, %.0f %% of the noise power of %s", p.Ref, words.Part(p.Value, "ohm"), 100*share, s.Ways[way].Name)
			}
		}
	}
	return out
}
