package board

import (
	"bandwright/biquad"
	"bandwright/compiler/language"
	"bandwright/compiler/netlist"
)

// Hold is the board as a file holds it, for the spec of a name; words are the labels of
// filters in the spec's own words.
func (b *Board) Hold(name string, words map[string]string) *language.Held {
	says := Job{Says: words}.says
	out := &language.Held{Name: name, Common: b.Common.hold(says), Written: map[string]float64{}}
	for k := range b.Ways {
		w := &b.Ways[k]
		out.Ways = append(out.Ways, language.HeldWay{Name: w.Name, HeldChain: w.hold(says)})
	}
	for _, c := range b.Chains() {
		for _, p := range c.Ends {
			if p.held() {
				out.Written[p.Ref] = p.Marked()
			}
		}
		for _, s := range c.Built() {
			for _, p := range s.Placed() {
				if p.Kind != netlist.Amplifier {
					out.Written[p.Ref] = p.Value
				}
			}
		}
	}
	return out
}

// held reports whether a held board has the part: what has a value. Diodes, relays and
// transistors are what the spec asks for, and are numbered in the order of the signal.
func (p *Part) held() bool { return !p.Outside && p.Passive() }

// Marked is the value that is written on the part (ohm or farad): of a trimmer all of it.
func (p *Part) Marked() float64 {
	if p.TrackOhm > 0 {
		return p.TrackOhm
	}
	return p.Value
}

// Passive reports whether the part is a resistor or a capacitor, with a value.
func (p *Part) Passive() bool { return p.Kind == netlist.Resistor || p.Kind == netlist.Capacitor }

func (c *Chain) hold(says func(string) string) language.HeldChain {
	out := language.HeldChain{Block: c.Block}
	for _, p := range c.Ends {
		if p.held() {
			out.Ends = append(out.Ends, language.HeldEnd{Use: string(p.Use), Of: p.Of, Part: heldPart(Placed{p.Kind, p.Ref, p.Marked()})})
		}
	}
	for _, p := range c.Positions {
		place := language.HeldPlace{Selector: p.Selector, Switched: p.Switched() != nil}
		for _, a := range p.Alt {
			var stages []language.HeldStage
			for _, s := range a.Stages {
				stages = append(stages, s.hold(says))
			}
			place.Alternatives = append(place.Alternatives, stages)
		}
		out.Places = append(out.Places, place)
	}
	return out
}

// aroundHz are frequencies (Hz) at which a response that differs shows it.
var aroundHz = biquad.Octaves(1, 1e5, 3)

func (s *Stage) hold(says func(string) string) language.HeldStage {
	out := language.HeldStage{Number: s.Number, Role: s.Role.String(), For: says(s.From), W0: s.Own.W0, B: s.Own.B, A: s.Own.A,
		Level: s.total(), Topology: s.Topology.Name}
	if !s.askedAnew(aroundHz) {
		// As it was written: the last digits of a gain that is worked out anew are no change.
		out.W0, out.B, out.A, out.Level = s.held.W0, s.held.B, s.held.A, s.held.Level
	}
	for _, p := range s.Placed() {
		if part := heldPart(p); p.Kind == netlist.Amplifier {
			out.OpAmps = append(out.OpAmps, part)
		} else {
			out.Parts = append(out.Parts, part)
		}
	}
	return out
}

// total is what the stage is asked for, over its own section.
func (s *Stage) total() float64 {
	for k := range s.Own.B {
		if s.Own.B[k] != 0 {
			return s.Level * (s.Section.B[k] / s.Own.B[k])
		}
	}
	return s.Level
}

func heldPart(p Placed) language.HeldPart {
	out := language.HeldPart{Ref: p.Ref, Value: p.Value}
	switch p.Kind {
	case netlist.Resistor:
		out.Dim = language.Resistance
	case netlist.Capacitor:
		out.Dim = language.Capacitance
	}
	return out
}
