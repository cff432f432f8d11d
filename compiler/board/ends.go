package board

import (
	"math"

	"bandwright/compiler/circuit"
	"bandwright/compiler/language"
	"bandwright/compiler/netlist"
	"bandwright/compiler/stage"
)

const (
	// restOhm gives a + input behind a coupling capacitor, an open socket or a selector
	// between two positions its direct current, and holds outputs and gates at ground: large
	// against any source, small against an op-amp's input. usableOhm is the least that does.
	restOhm, usableOhm = 100e3, 22e3
	// stiff is the part of the input resistors that a source's resistance may be
	// for a difference amplifier without followers: 0.1 %, a match of 60 dB.
	stiff = 1e-3
	// seriesOhm is the resistor in each leg of an input that is filtered or protected: a
	// fault's current is limited by it, and its noise is below an op-amp's.
	seriesOhm, seriesFrom, seriesTo = 470, 47, 1000
	// wireOhm stands for the wire of an output without a build-out resistor.
	wireOhm = 1e-3
	// usualOhm is the impedance level of stages that are free in it.
	usualOhm = 10e3
)

// inputEnd is the board's input: parts, the stage, and its level.
type inputEnd struct {
	parts    []Part
	topology *circuit.Topology
	level    float64 // of the stage's output over the source
	node     string  // of the stage's input, the + one of a balanced stage
	why      string
	obstacle *Obstacle
}

// input lays out the input: source, coupling, bias and the stage that makes a
// single-ended signal from a low resistance of it.
func (b *Board) input(j Job) inputEnd {
	in := j.Spec.Input
	bias := b.restOhm
	legs, name, why := []string{""}, "follower", "it buffers the stages from the source's impedance"
	source := in.SourceOhm
	if in.Balanced {
		// The source's resistance is that of both legs together.
		legs, source = []string{"_p", "_n"}, in.SourceOhm/2
		name, why = "difference-amplifier", "the source's resistance is too low to upset its match"
		if in.CouplingF > 0 || source > stiff*usualOhm || in.RFHz > 0 || in.Clamped {
			name, why = "buffered-difference-amplifier", "the source's resistance, or a coupling capacitor, would upset the match of an unbuffered one"
		}
		if in.RFHz > 0 || in.Clamped {
			why = "resistors in series with the legs would upset the match of an unbuffered one"
		}
	}
	series, rf, obstacle := j.inputFilter(source)
	e := inputEnd{level: 1, why: why, obstacle: obstacle}
	e.topology, _ = circuit.ByName(name)
	plain := name == "difference-amplifier"
	for i, leg := range legs {
		at := "vin" + leg
		add := func(use Use, kind netlist.Kind, value float64, to string) {
			p := Part{Use: use, Kind: kind, Value: value, A: at, B: to, Outside: use == SourceResistance}
			e.parts = append(e.parts, p)
			at = to
		}
		if source > 0 {
			add(SourceResistance, netlist.Resistor, source, "in"+leg)
		}
		if series > 0 {
			add(SeriesResistance, netlist.Resistor, series, "inf"+leg)
		}
		if rf > 0 {
			e.parts = append(e.parts, Part{Use: RFFilter, Kind: netlist.Capacitor, Value: rf, A: at, B: "0"})
		}
		if in.CouplingF > 0 {
			add(Coupling, netlist.Capacitor, in.CouplingF, "inc"+leg)
		}
		if in.Clamped {
			e.parts = append(e.parts, Part{Use: Clamp, Kind: netlist.Diode, A: at, B: PlusRail}, Part{Use: Clamp, Kind: netlist.Diode, A: MinusRail, B: at})
		}
		if !plain {
			e.parts = append(e.parts, Part{Use: Bias, Kind: netlist.Resistor, Value: bias, A: at, B: "0"})
			if i == 0 {
				e.level = bias / (bias + source + series)
			}
		}
		if i == 0 {
			e.node = at
		}
	}
	if plain && source > 0 {
		e.level = usualOhm / (usualOhm + source) // of the - leg; the + leg loses half of that
	}
	return e
}

// rest is the resistor in stock that gives a node its direct current: the next from 100 kohm
// up, or the largest where that is usable, or else 100 kohm from another stock.
func (j *Job) rest() float64 {
	last := 0.0
	for _, v := range j.stock().Ohm {
		if last = v; v >= restOhm*(1-1e-9) {
			return v
		}
	}
	if last >= usableOhm {
		return last
	}
	return restOhm
}

// outputLevel is what a trimmer, build-out and load leave of a way's level.
func (b *Board) outputLevel() float64 {
	level, _ := b.trimmed()
	return level * b.loadOhm() / (b.loadOhm() + b.buildOutOhm())
}

// buildOutOhm is all that is in series with an output: a mute by transistors has two
// resistors, and a trimmer its own.
func (b *Board) buildOutOhm() float64 {
	out := b.Spec.Output
	_, ohm := b.trimmed()
	if out.Mute == language.TransistorMute {
		ohm += out.BuildOutOhm
	}
	return ohm + out.BuildOutOhm
}

// loadOhm is an output's load, with what discharges a coupling capacitor.
func (b *Board) loadOhm() float64 {
	load := b.Spec.Output.LoadOhm
	if b.Spec.Output.CouplingF > 0 {
		load = load * b.restOhm / (load + b.restOhm)
	}
	return load
}

// output is what stands between the node `from` and a way's output.
func (b *Board) output(from, to string) []Part {
	out := b.Spec.Output
	var parts []Part
	at := from
	add := func(use Use, kind netlist.Kind, value float64, next string) {
		parts = append(parts, Part{Use: use, Kind: kind, Value: value, A: at, B: next})
		at = next
	}
	if x := b.trim; x != nil {
		parts = append(parts, Part{Use: Trim, Kind: netlist.Resistor, Value: x.nominal, TrackOhm: x.track, A: at, B: to + "_t"},
			Part{Use: TrimShunt, Kind: netlist.Resistor, Value: x.shunt, A: to + "_t", B: "0"})
		at = to + "_t"
	}
	if out.Mute == language.TransistorMute {
		add(BuildOut, netlist.Resistor, out.BuildOutOhm, to+"_m")
	}
	switch {
	case out.BuildOutOhm > 0 && out.CouplingF > 0:
		add(BuildOut, netlist.Resistor, out.BuildOutOhm, to+"_b")
	case out.BuildOutOhm > 0:
		add(BuildOut, netlist.Resistor, out.BuildOutOhm, to)
	}
	if out.CouplingF > 0 {
		add(Coupling, netlist.Capacitor, out.CouplingF, to)
		parts = append(parts, Part{Use: Discharge, Kind: netlist.Resistor, Value: b.restOhm, A: to, B: "0"})
	}
	if at != to {
		parts = append(parts, Part{Use: Wire, Kind: netlist.Resistor, Value: wireOhm, A: at, B: to, Outside: true})
	}
	parts = append(parts, b.mute(to)...)
	return append(parts, Part{Use: Load, Kind: netlist.Resistor, Value: out.LoadOhm, A: to, B: "0", Outside: true})
}

// couplingF is an output capacitor (F) that costs no more than 0.02 dB at the low
// end of the band into the load and the discharge resistor, of E6.
func (b *Board) couplingF() float64 {
	const cost = 0.02 // dB: f0 = f·√(10^(cost/10)-1) of a first-order high-pass
	ohm := 1 / (1/b.Spec.Output.LoadOhm + 1/b.restOhm)
	least := 1 / (2 * math.Pi * b.bandHz[0] * math.Sqrt(math.Expm1(cost/10*math.Ln10)) * ohm)
	list := stage.Values([]string{"E6"}, nil, least, 10*least)
	return list[0]
}
