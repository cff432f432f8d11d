package compiler

import (
	"bandwright/compiler/language"
	"bandwright/compiler/promise"
)

// batched reports whether something is promised of a batch of boards.
func (w *Wanted) batched() bool {
	return w.Promises.Limit(&promise.BoardSpread).On || w.Promises.Limit(&promise.BoardMatch).On
}

// unusedClasses warns of lists of tolerances that nothing chooses from.
func (w *Wanted) unusedClasses() (faults []language.Fault) {
	if w.Spec.Board == nil || w.batched() {
		return nil
	}
	for _, x := range []struct {
		name string
		of   *language.Stock
	}{{"resistors", &w.Spec.Board.Resistors}, {"capacitors", &w.Spec.Board.Capacitors}} {
		if len(x.of.Classes) > 1 {
			at := w.Spec.Tree.Get("board").Get(x.name).Get("tolerance").Pos
			faults = append(faults, w.Spec.Fault(language.Warning, at, "a list of tolerances has no effect: nothing is promised of a batch of boards, and all parts are of the loosest",
				"promise `board-spread`, or leave the closer ones out"))
		}
	}
	return faults
}
