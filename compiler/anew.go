package compiler

import (
	"context"
	"fmt"
	"slices"

	"bandwright/compiler/language"
	"bandwright/compiler/verify"
)

// anew is what another spec asks for that names the same files; nil where it means nothing. No advice is looked for in what is
// made of it, and of a batch as many boards are simulated as the verdict takes.
func (w *Wanted) anew(spec *language.Spec) *Wanted {
	other, faults := Prototype(spec)
	if other == nil || anyError(faults) {
		return nil
	}
	if other.Acoustics, faults = other.inAir(); anyError(faults) {
		return nil
	}
	other.Held, other.Holding, other.extent = w.Held, w.Holding, extent{enough: true, unadvised: true, unplayed: true, unradiated: true}
	return other
}

// judgedAnew is what is found of another spec in every number format, at every rate, of its board and in the air; false where
// nothing comes of it.
func (b *Build) judgedAnew(ctx context.Context, spec *language.Spec) ([]verify.Finding, bool) {
	w := b.anew(spec)
	if w == nil {
		return nil, false
	}
	if b.Board != nil {
		w.planner = b.Board.Planner()
	}
	other := &Build{Wanted: *w}
	faults, err := other.realise(ctx)
	return other.Findings, err == nil && !anyError(faults) && ctx.Err() == nil
}

// withFilter is the spec with a filter more in front of those of a way or behind them, as a spec has it: "peak: {at: 1 kHz, q: 2,
// gain: -3 dB}"; nil where that is none.
func withFilter(spec *language.Spec, way int, text string, front bool) *language.Spec {
	mini := "bandwright: 1\nname: one\nways:\n  way:\n    filters:\n      - " + text + "\ndigital: {rates: [48 kHz], formats: [float32]}\n"
	s, faults := language.Parse("", []byte(mini), Language())
	if s == nil || anyError(faults) {
		return nil
	}
	out := *spec
	out.Ways = slices.Clone(spec.Ways)
	w := &out.Ways[way]
	at := len(w.Filters)
	if front {
		at = 0
	}
	w.Filters = slices.Insert(slices.Clone(w.Filters), at, s.Ways[0].Filters[0])
	w.Filters[at].Pos = w.Pos
	for i := range w.Filters {
		w.Filters[i].Path = fmt.Sprintf("ways.%s.filters[%d]", w.Name, i)
	}
	return &out
}
