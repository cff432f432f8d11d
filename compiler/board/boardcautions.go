package board

import (
	"errors"
	"fmt"
	"math"

	"bandwright/biquad"
	"bandwright/compiler/netlist"
	"bandwright/compiler/nodal"
	"bandwright/compiler/parallel"
	"bandwright/compiler/words"
)

const (
	// safeBuildOut (ohm) is the least resistor that keeps an op-amp from ringing into a
	// cable.
	safeBuildOut = 47
	// largeCoupling (F) is where film capacitors are no more what everybody takes.
	largeCoupling = 100e-9
	// muchBias (V) is the DC at an output that bias currents may make without remark, and
	// muchGain the gain that an offset voltage may have to there.
	muchBias, muchGain = 5e-3, 10
	// exactMatch is the tolerance of resistors that a balanced input asks for.
	exactMatch = 1e-3
)

var inputMatch = caution{
	name: "input match",
	found: func(s *survey) []place {
		t := s.tolerance(netlist.Resistor, nearest(s.Spec.Resistors, usualOhm))
		if !s.Spec.Input.Balanced || t <= exactMatch {
			return nil
		}
		// Each of the four resistors off by t against the others: 2/(4t) at a gain of one.
		return []place{{number: fmt.Sprintf("%s at least with %s", words.Short(-biquad.GainDB(2*t))+" dB", percent(t))}}
	},
	sentence: func(at []place) string {
		return "the match of its four resistors limits the balanced input's common-mode rejection, " + at[0].number + ": fit resistors of 0.1 %, or a matched network, in common stage 1"
	},
}

var buildOut = caution{
	name: "build-out",
	found: func(s *survey) []place {
		if s.Spec.Output.BuildOutOhm >= safeBuildOut {
			return nil
		}
		return []place{{name: "outputs", number: words.Part(s.Spec.Output.BuildOutOhm, "ohm")}}
	},
	sentence: func(at []place) string {
		return "an output with less than 47 ohm in series may ring into a cable's capacitance, " + where(at) + ": raise `output.build-out`, 47 to 100 ohm"
	},
}

var dcCoupled = caution{
	name: "DC-coupled outputs",
	found: func(s *survey) []place {
		if s.Spec.Output.CouplingF > 0 {
			return nil
		}
		most := 0
		for i, d := range s.dc {
			if d.v > s.dc[most].v {
				most = i
			}
		}
		return []place{{name: s.Ways[most].Name, number: words.Volt.Measured(s.dc[most].v)}}
	},
	sentence: func(at []place) string {
		return "the outputs are DC-coupled, so that op-amps' offsets reach the power amplifiers, at most " + where(at) + ": the amplifiers must block DC, or set `output.coupling`"
	},
}

var couplingType = caution{
	name: "type of coupling capacitors",
	found: func(s *survey) []place {
		var out []place
		for _, x := range []place{{name: "input", need: s.Spec.Input.CouplingF}, {name: "outputs", need: s.Spec.Output.CouplingF}} {
			if x.need > largeCoupling {
				x.number = words.Part(x.need, "F")
				out = append(out, x)
			}
		}
		return out
	},
	sentence: func(at []place) string {
		return "electrolytic and class 2 ceramic coupling capacitors distort where signal voltage drops across them, " + where(at) + ": use film or bipolar types"
	},
}

var breakBeforeMake = caution{
	name: "break before make",
	found: func(s *survey) []place {
		var out []place
		for _, x := range s.Selectors() {
			if x.BreaksFirst() {
				out = append(out, place{name: x.Ref})
			}
		}
		return out
	},
	sentence: func(at []place) string {
		var names []string
		for _, p := range at {
			names = append(names, p.name)
		}
		return "a selector that makes before it breaks connects op-amps' outputs together, " + words.List(names) +
			": use break-before-make types, and mute the amplifiers before a change"
	},
}

// What selectors that are made by the thousand have: four poles and twelve positions.
const mostPoles, mostThrows = 4, 12

var manyContacts = caution{
	name: "many contacts",
	found: func(s *survey) []place {
		var out []place
		for _, x := range s.Selectors() {
			if len(x.Poles) > mostPoles || x.Positions > mostThrows {
				out = append(out, place{name: x.Ref, number: fmt.Sprintf("%s of %s", words.Count(len(x.Poles), "pole", "poles"), words.Count(x.Positions, "position", "positions"))})
			}
		}
		return out
	},
	sentence: func(at []place) string {
		return "a selector of more than 4 poles or 12 positions is hard to buy in one piece, " + where(at) +
			": stack wafers on one shaft, or work several relays together and mute the amplifiers while they change"
	},
}

var twoSettings = caution{
	name: "selectors of several settings",
	found: func(s *survey) []place {
		var out []place
		for _, x := range s.Selectors() {
			if len(x.By) > 1 {
				out = append(out, place{name: x.Ref, number: words.Count(x.Positions, "position", "positions")})
			}
		}
		return out
	},
	sentence: func(at []place) string {
		return "a selector that several settings work has a position for each combination of their choices, which no knob of one of them turns, " + where(at) +
			": control relays by logic, or put each filter under one setting in the spec"
	},
}

// wayOffset is the greatest DC at a way's output in any case (V), with what bias
// currents make of it and the op-amp that most of that comes from; and the op-amp whose
// offset has the most gain to there.
type wayOffset struct {
	v, bias, gain      float64
	biasFrom, gainFrom string
}

// offsets are those of all ways; zero without a solution, of which another row speaks.
func (s *survey) offsets() []wayOffset {
	all := make([]nodal.Offsets, len(s.job.Cases))
	parallel.Each(len(all), func(i int) {
		if c := s.job.Cases[i]; c.C != nil {
			all[i], _ = s.wiring.in(c.C).Offsets(s.wiring.outs[c.Way])
		}
	})
	out := make([]wayOffset, len(s.Ways))
	parts := s.wiring.circuit.Parts()
	for i, o := range all {
		d := &out[s.job.Cases[i].Way]
		d.v = max(d.v, o.Worst)
		bias, most := 0.0, 0
		for k, v := range o.ByBias {
			bias += v
			if v > o.ByBias[most] {
				most = k
			}
			if o.Gain[k] > d.gain {
				d.gain, d.gainFrom = o.Gain[k], parts[k].Ref
			}
		}
		if bias > d.bias {
			d.bias, d.biasFrom = bias, parts[most].Ref
		}
	}
	return out
}

var biasCurrent = caution{
	name: "bias current",
	found: func(s *survey) []place {
		return s.eachWay(func(way int, p *place) {
			if d := s.dc[way]; d.bias > muchBias {
				p.number = fmt.Sprintf("%s, most of it from %s", words.Volt.Measured(d.bias), d.biasFrom)
				p.need = d.bias / muchBias
				p.remedy = words.Part(twoDigits(s.OpAmp.BiasA/p.need, math.Floor), "A")
			}
		})
	},
	sentence: func(at []place) string {
		most := at[0]
		for _, p := range at {
			if p.need > most.need {
				most = p
			}
		}
		return "bias currents through resistors make more than 5 mV of DC at an output, " + where(at) + ": take an op-amp with `bias-current` of " + most.remedy + ", or smaller resistors"
	},
}

var multipliedOffset = caution{
	name: "multiplied offset",
	found: func(s *survey) []place {
		return s.eachWay(func(way int, p *place) {
			if d := s.dc[way]; d.gain > muchGain {
				p.number = fmt.Sprintf("that of %s %.3g times, %s", d.gainFrom, d.gain, words.Volt.Measured(d.gain*s.OpAmp.OffsetV))
			}
		})
	},
	sentence: func(at []place) string {
		return "gain at low frequencies multiplies an op-amp's offset by more than 10, " + where(at) + ": place a high-pass behind it, set `output.coupling`, or take an op-amp with less `offset`"
	},
}

var noDCPath = caution{
	name: "DC path",
	found: func(s *survey) []place {
		err := s.wiring.solver.Clone().DC()
		var floats *nodal.Singular
		switch {
		case err == nil:
			return nil
		case errors.As(err, &floats) && len(floats.Nodes) > 0:
			return []place{{number: words.List(floats.Nodes)}}
		}
		return []place{{number: err.Error()}}
	},
	sentence: func(at []place) string {
		return "no direct current reaches a node, " + at[0].number + ": put 100 kohm from the op-amp's input there to ground"
	},
}

// lowWay is the lowest way's prototype at low frequencies, over its settings: its greatest
// boost (dB, of shelves, peaks and pole shifts, re far above them) down to half of the
// band's low end and where (Hz), and its level at a tenth of that end, re that at the boost.
func (s *survey) lowWay() (boost, hz, below float64) {
	const perOctave = 6
	path := s.job.System.Path(0)
	low := s.bandHz[0]
	grid := append(biquad.Octaves(low/2, 5*low, perOctave), low/10)
	h := make([]complex128, len(grid))
	boosts := path
	boosts.Gain, boosts.Slots = 1, nil
	for _, slot := range path.Slots {
		alt := make([]biquad.Analog, len(slot.Alt))
		for k, a := range slot.Alt {
			if top := a.B[a.Order()] / a.A[a.Order()]; top != 0 && a.B[0] != 0 {
				alt[k] = a
				for i := range alt[k].B {
					alt[k].B[i] /= top
				}
			} else {
				alt[k] = biquad.Constant(1)
			}
		}
		slot.Alt = alt
		boosts.Slots = append(boosts.Slots, slot)
	}
	below = math.Inf(-1)
	biquad.Each(biquad.Axes(path), len(s.job.Choices), func(c biquad.Combination) {
		biquad.AnalogAt(h, boosts, c, grid)
		here, at := 0.0, 0
		for i := range grid[:len(grid)-1] {
			if db := biquad.DB(h[i]); db > here {
				here, at = db, i
			}
		}
		biquad.AnalogAt(h, path, c, grid)
		passed := biquad.DB(h[len(grid)-1]) - biquad.DB(h[at])
		if here > boost {
			boost, hz = here, grid[at]
		}
		below = max(below, passed)
	})
	return boost, hz, below
}

const (
	// stopsRumble (dB) is how far down a tenth of the band's low end is behind a high-pass.
	stopsRumble = -20
	// boostDB (dB) is the low-frequency boost that needs one.
	boostDB = 3
	// passedDB (dB) is the level at 0 Hz from which a way is said to pass DC.
	passedDB = -60
)

var rumble = caution{
	name: "boost without a rumble filter",
	found: func(s *survey) []place {
		boost, hz, below := s.lowWay()
		if boost < boostDB || below < stopsRumble {
			return nil
		}
		return []place{{name: s.Ways[0].Name, number: fmt.Sprintf("%s at %s", words.Signed(boost, "dB"), words.Hz(hz)), remedy: words.Hz(twoDigits(s.bandHz[0]*0.75, math.Floor))}}
	},
	sentence: func(at []place) string {
		return "a boost of low frequencies without a high-pass below it lets rumble and offset move the driver, " + where(at) + ": add `high-pass` of the second order at " + at[0].remedy
	},
}

var passesDC = caution{
	name: "passes DC",
	found: func(s *survey) []place {
		h := make([]complex128, 1)
		biquad.AnalogAt(h, s.job.System.Path(0), make(biquad.Combination, len(s.job.Choices)), []float64{0})
		boost, _, below := s.lowWay()
		if db := biquad.DB(h[0]); db >= passedDB && !(boost >= boostDB && below >= stopsRumble) {
			return []place{{name: s.Ways[0].Name, number: words.Level(db, "dB") + " at 0 Hz"}}
		}
		return nil
	},
	sentence: func(at []place) string {
		return "no filter blocks DC in the lowest way, " + where(at) + ": a high-pass below the band would keep rumble and offset from its driver"
	},
}

var invertedOutput = caution{
	name: "inverted output",
	found: func(s *survey) []place {
		c := s.defaults()
		return s.eachWay(func(way int, p *place) {
			n := 0
			for _, chain := range []*Chain{&s.Common, p.chain} {
				for i := range chain.Positions {
					x := &chain.Positions[i]
					for _, stage := range x.Alt[x.Index(c)].Stages {
						if stage.Topology.Inverts {
							n++
						}
					}
				}
			}
			if n%2 == 1 {
				p.number = words.Count(n, "inverting stage", "inverting stages")
			}
		})
	},
	sentence: func(at []place) string {
		return "an odd number of inverting stages turns a way's polarity, as its spec asks, " + where(at) + ": connect its driver like the others, and check the polarity before the first sound"
	},
}

var boundValues = caution{
	name: "few values bound",
	found: func(s *survey) []place {
		if s.boundValues == "" {
			return nil
		}
		return []place{{number: s.boundValues}}
	},
	sentence: func(at []place) string {
		return "`board.few-values` is not used up: " + at[0].number + "; lower the wish, or allow the promise more"
	},
}

var manyValues = caution{
	name: "few values",
	found: func(s *survey) []place {
		if s.manyValues == "" {
			return nil
		}
		return []place{{number: s.manyValues}}
	},
	sentence: func(at []place) string {
		return "`board.few-values` has no effect: " + at[0].number + "; allow more, or write `few-values: off`"
	},
}
