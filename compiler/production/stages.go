package production

import (
	"fmt"
	"math"
	"math/cmplx"

	"bandwright/biquad"
	"bandwright/compiler/board"
	"bandwright/compiler/netlist"
	"bandwright/compiler/verify"
)

// Stage is what to expect of one stage when the first board is brought up.
type Stage struct {
	*board.Stage
	// Chain is "common" or the name of a way.
	Chain string
	// Selector is the pole of a selector that the stage is behind, "" for none, and At the
	// selector's position, from 1, that it has to be in, with the choices of C, where all others have the
	// default.
	Selector string
	At       int
	C        verify.Combination
	// Pin is the op-amp whose output is the stage's, and Node the node.
	Pin, Node string
	Hz        float64 // the stage's own frequency
	// WantedDB is the gain there of what the stage is asked to be, and NominalDB that of its
	// parts with the real op-amp, in its place.
	WantedDB, NominalDB float64
	// OutputV is the voltage there (V RMS) with the input's level at the input, and OffsetV the
	// largest DC voltage, of either sign, with the input at rest.
	OutputV, OffsetV float64
}

// plainHz is the frequency of common stages without one of their own.
const plainHz = 1000.0

// Stages lists the stages of a board in the order of the signal, which a subject is the
// prototype of, each at its own frequency or, outside lowHz to highHz, the
// nearest inside. It fails where the board's equations have no solution.
func Stages(subject *verify.Subject, b *board.Board, lowHz, highHz float64) ([]Stage, error) {
	var out []Stage
	for _, c := range b.Chains() {
		for i := range c.Positions {
			p := &c.Positions[i]
			for k, a := range p.Alt {
				for _, s := range a.Stages {
					x := Stage{Stage: s, Chain: b.NameOf(c), Node: s.Out, Pin: pin(s), C: make(verify.Combination, len(subject.Settings))}
					if p.Selector != "" {
						x.Selector, x.At = p.Selector, p.At(k)[0]
						for i, choice := range p.Choices(k)[0] {
							x.C[p.By[i].Setting] = uint8(choice)
						}
					}
					x.Hz = math.Max(lowHz, math.Min(highHz, x.own(b, lowHz, highHz)))
					if err := x.look(b); err != nil {
						return nil, err
					}
					out = append(out, x)
				}
			}
		}
	}
	return out, nil
}

// own is the frequency (Hz) at which a stage is looked at: its natural one, or, of a
// stage without, where its way is loudest.
func (x *Stage) own(b *board.Board, lowHz, highHz float64) float64 {
	if w, _ := x.Section.Natural(); w > 0 {
		return w / (2 * math.Pi)
	}
	for k, way := range b.Ways {
		if way.Name != x.Chain {
			continue
		}
		hz := benchFrequencies(lowHz, highHz)
		h := make([]complex128, len(hz))
		b.On(hz).Response(h, k, x.C)
		loudest := 0
		for i, v := range h {
			if cmplx.Abs(v) > cmplx.Abs(h[loudest]) {
				loudest = i
			}
		}
		return hz[loudest]
	}
	return plainHz
}

// pin is the reference of the op-amp at a stage's output; "" for a stage without.
func pin(s *board.Stage) string {
	for i, e := range s.Topology.Template {
		if e.Kind == netlist.Amplifier && e.Nodes[2] == "out" {
			return s.Refs[i]
		}
	}
	return ""
}

// look puts what the board's equations say of a stage.
func (x *Stage) look(b *board.Board) error {
	s, _ := b.Solver(x.C)
	if err := s.At(x.Hz); err != nil {
		return fmt.Errorf("stage %s: %w", x.Node, err)
	}
	volts := func(name string) complex128 {
		if name == "" {
			return 0
		}
		return s.Voltage(b.Node(name))
	}
	out, in := volts(x.Out), volts(x.In)-volts(x.InN)
	x.WantedDB, x.NominalDB = biquad.DB(x.Section.At(2*math.Pi*x.Hz)), biquad.DB(out/in)
	x.OutputV = cmplx.Abs(out) * b.Spec.Input.Level.In(x.C)
	o, err := s.Offsets(b.Node(x.Out))
	if err != nil {
		return fmt.Errorf("stage %s: %w", x.Node, err)
	}
	x.OffsetV = o.Worst
	return nil
}
