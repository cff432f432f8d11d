package board

import (
	"fmt"
	"math"

	"bandwright/biquad"
	"bandwright/compiler/circuit"
	"bandwright/compiler/netlist"
	"bandwright/compiler/stage"
	"bandwright/compiler/words"
)

const (
	// biasOhm gives a + input behind a coupling capacitor, or an open socket, its
	// direct current: large against any source, small against an op-amp's input.
	biasOhm = 100e3
	// stiff is the part of the input resistors that a source's resistance may be
	// for a difference amplifier without followers: 0.1 %, a match of 60 dB.
	stiff = 1e-3
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
}

// input lays out the input: source, coupling, bias and the stage that makes a
// single-ended signal from a low resistance of it.
func (b *Board) input(j Job) inputEnd {
	in := j.Spec.Input
	bias := nearest(j.Spec.Resistors, biasOhm)
	legs, name, why := []string{""}, "follower", "it buffers the stages from the source's impedance"
	source := in.SourceOhm
	if in.Balanced {
		// The source's resistance is that of both legs together.
		legs, source = []string{"_p", "_n"}, in.SourceOhm/2
		name, why = "difference-amplifier", "the source's resistance is too low to upset its match"
		if in.CouplingF > 0 || source > stiff*usualOhm {
			name, why = "buffered-difference-amplifier", "the source's resistance, or a coupling capacitor, would upset the match of an unbuffered one"
		}
	}
	e := inputEnd{level: 1, why: why}
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
		if in.CouplingF > 0 {
			add(Coupling, netlist.Capacitor, in.CouplingF, "inc"+leg)
		}
		if !plain {
			e.parts = append(e.parts, Part{Use: Bias, Kind: netlist.Resistor, Value: bias, A: at, B: "0"})
			if i == 0 {
				e.level = bias / (bias + source)
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

// outputLevel is what build-out and load leave of a way's level.
func (b *Board) outputLevel() float64 {
	return b.loadOhm() / (b.loadOhm() + b.Spec.Output.BuildOutOhm)
}

// loadOhm is an output's load, with what discharges a coupling capacitor.
func (b *Board) loadOhm() float64 {
	load := b.Spec.Output.LoadOhm
	if b.Spec.Output.CouplingF > 0 {
		load = load * biasOhm / (load + biasOhm)
	}
	return load
}

// output is what stands between the node `from` and a way's output.
func (b *Board) output(from, to string) []Part {
	out := b.Spec.Output
	var parts []Part
	at := from
	if out.BuildOutOhm > 0 {
		next := to
		if out.CouplingF > 0 {
			next = to + "_b"
		}
		parts = append(parts, Part{Use: BuildOut, Kind: netlist.Resistor, Value: out.BuildOutOhm, A: at, B: next})
		at = next
	}
	if out.CouplingF > 0 {
		parts = append(parts, Part{Use: Coupling, Kind: netlist.Capacitor, Value: out.CouplingF, A: at, B: to},
			Part{Use: Discharge, Kind: netlist.Resistor, Value: biasOhm, A: to, B: "0"})
	}
	if at == from && out.CouplingF == 0 {
		parts = append(parts, Part{Use: Wire, Kind: netlist.Resistor, Value: wireOhm, A: from, B: to, Outside: true})
	}
	return append(parts, Part{Use: Load, Kind: netlist.Resistor, Value: out.LoadOhm, A: to, B: "0", Outside: true})
}

// couplingF is an output capacitor (F) that costs no more than 0.02 dB at the low
// end of the band into the load and the discharge resistor, of E6.
func (b *Board) couplingF() float64 {
	const cost = 0.02 // dB: f0 = f·√(10^(cost/10)-1) of a first-order high-pass
	ohm := 1 / (1/b.Spec.Output.LoadOhm + 1/float64(biasOhm))
	least := 1 / (2 * math.Pi * b.bandHz[0] * math.Sqrt(math.Expm1(cost/10*math.Ln10)) * ohm)
	list := stage.Values([]string{"E6"}, nil, least, 10*least)
	return list[0]
}

// caution collects what a builder has to know of the whole board.
func (b *Board) caution(j Job) {
	say := func(format string, args ...any) { b.Cautions = append(b.Cautions, fmt.Sprintf(format, args...)) }
	in, out := j.Spec.Input, j.Spec.Output
	if in.Balanced {
		say("the balanced input's common-mode rejection depends on the match of its four resistors: 34 to 48 dB with 1 %% parts, 54 to 68 dB with 0.1 %%")
	}
	if out.BuildOutOhm < 47 {
		say("an output with less than 47 ohm in series may ring into a cable's capacitance: raise `output.build-out`")
	}
	if out.CouplingF == 0 {
		say("the outputs are DC-coupled: op-amp offsets reach the power amplifiers, which must block DC")
	}
	if in.CouplingF > 100e-9 || out.CouplingF > 100e-9 {
		say("use film or bipolar coupling capacitors; electrolytic and class 2 ceramic types distort where signal voltage drops across them")
	}
	var selectors []string
	for _, c := range b.Chains() {
		for _, p := range c.Positions {
			if p.Selector != "" {
				selectors = append(selectors, p.Selector)
			}
		}
	}
	if selectors != nil {
		say("use break-before-make types for %s, as others would connect op-amp outputs together, and mute the amplifiers before a change", words.List(selectors))
	}
	for _, c := range b.Chains() {
		for _, s := range c.Stages() {
			for _, text := range s.cautions(j.Means) {
				say("%s stage %d, %s: %s", b.NameOf(c), s.Number, s.Topology.Name, text)
			}
		}
	}
	b.Cautions = append(b.Cautions, b.stockCautions()...)
	for _, text := range b.overloads(j.Cases) {
		say("%s", text)
	}
	if err := b.wiring.solver.Clone().DC(); err != nil {
		say("no DC path: %v", err)
	}
	if !b.blocksDC(j) {
		say("no filter blocks DC in the lowest way: a high-pass below the band would keep rumble and offset from its driver")
	}
}

const (
	// hardNoiseGain is the noise gain, and easyInput the input impedance (ohm), from
	// which a stage is remarked on.
	hardNoiseGain = 10
	easyInput     = 2000
)

// cautions are what a builder has to know of one stage.
func (s *Stage) cautions(m circuit.Means) []string {
	var out []string
	if s.NoiseGain > hardNoiseGain {
		out = append(out, fmt.Sprintf("noise gain %.3g", s.NoiseGain))
	}
	if s.Measured && s.InputOhm < easyInput && s.Role != InputStage {
		out = append(out, fmt.Sprintf("the input impedance falls to %s and loads the stage before it", words.Part(s.InputOhm, "ohm")))
	}
	if s.Topology.Cautions != nil {
		out = append(out, s.Topology.Cautions(asked(s.Section), s.Values, m)...)
	}
	return out
}

// blocksDC reports whether the lowest way passes nothing at 0 Hz.
func (b *Board) blocksDC(j Job) bool {
	path := j.System.Path(0)
	h := make([]complex128, 1)
	biquad.AnalogAt(h, path, make(biquad.Combination, len(j.Choices)), []float64{1e-3})
	return biquad.DB(h[0]) < -60 || math.IsInf(biquad.DB(h[0]), -1)
}
