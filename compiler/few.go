package compiler

import (
	"context"
	"fmt"

	"bandwright/compiler/board"
	"bandwright/compiler/language"
	"bandwright/compiler/progress"
	"bandwright/compiler/promise"
	"bandwright/compiler/words"
)

// fewShare is the share of what is promised of the board that few values may use up where the spec
// gives no number. The rest is for edits of the spec once the board is held: with all of it in use
// each would change parts.
const fewShare = 0.8

// fewWritten reports whether a spec asks for few values.
func fewWritten(b *language.Board) bool { return b.FewDB > 0 || b.FewPromised }

// fewWithin enters what few values may use up: the wish or tighter promises, or a share of the
// promises. Where the spec says nothing of them they are looked for when a board is laid out, and
// where nothing is promised of the ways there is nothing to keep to.
func (w *Wanted) fewWithin(j *board.Job) {
	b := w.Spec.Board
	ofWay, ofSum := w.Promises.Limit(&promise.BoardMagnitude), w.Promises.Limit(&promise.Sum)
	share := 1.0
	if b.FewDB == 0 {
		if laidOut := b.Held.Name != "" && w.Held == nil; !ofWay.On || !b.FewPromised && !(b.FewUnsaid && laidOut) {
			return
		}
		share, j.FewRoom = fewShare, true
		j.FewDB = share * ofWay.Value
		j.FewSumDB = j.FewDB
	} else {
		j.FewDB, j.FewSumDB = b.FewDB, b.FewDB
		if ofWay.On {
			j.FewDB = min(j.FewDB, ofWay.Value)
		}
	}
	if ofSum.On {
		j.FewSumDB = min(j.FewSumDB, share*ofSum.Value)
	}
	if w.Promises.Limit(&promise.Phase).On {
		j.FewPhaseRad = share * j.PhaseRad
	}
}

// orExact is a board, or where it has few values that no number is wished for and with them breaks more of the
// promises that are not about the nominal response, the one with the most exact values.
func (w *Wanted) orExact(ctx context.Context, j board.Job, few *board.Board) *board.Board {
	if _, ok := few.Reduced(); !ok {
		return few
	}
	n := w.brokenBeside(ctx, few)
	if n == 0 {
		return few
	}
	why := "with fewer values the board breaks a promise that is not about its response"
	if exact, _ := board.Make(ctx, j.Exact(why)); exact != nil && w.brokenBeside(ctx, exact) < n {
		return exact
	}
	return few
}

// FewTried is how many different values the board would have with `few-values: promise`, tried: false
// where the spec asks for few, where the board is held, and where nothing is promised of the ways.
func (b *Build) FewTried(ctx context.Context) (int, bool) {
	if b.Board == nil || fewWritten(b.Spec.Board) || b.Spec.Board.Held.Name != "" || !b.Promises.Limit(&promise.BoardMagnitude).On {
		return 0, false
	}
	progress.Say(ctx, "trying few different values")
	w, spec, block := b.Wanted, *b.Spec, *b.Spec.Board
	w.planner = b.Board.Planner()
	block.FewPromised, block.FewUnsaid = true, false
	spec.Board, w.Spec = &block, &spec
	made, _, _ := buildBoard(ctx, &w)
	if made == nil || ctx.Err() != nil {
		return 0, false
	}
	return made.DistinctValues(), true
}

// FewSaid says how many different values the board has where few were looked for and found, and
// whether the wish for them or the promises kept it from fewer; "" elsewhere.
func (b *Build) FewSaid() string {
	exact, ok := b.Board.Reduced()
	if !ok {
		return ""
	}
	text := words.Count(b.Board.DistinctValues(), "different value", "different values")
	if n := b.Board.DistinctValues(); n < exact {
		text += fmt.Sprintf(" instead of %d", exact)
	} else {
		text += ", and no fewer were found"
	}
	return text + ": " + b.fewBound()
}

// fewBound says what few values were kept within.
func (b *Build) fewBound() string {
	var all, tight string
	wish := b.Spec.Board.FewDB
	for _, r := range [...]*promise.Row{&promise.BoardMagnitude, &promise.Sum} {
		l := b.Promises.Limit(r)
		if !l.On {
			continue
		}
		one := fmt.Sprintf("`promise.%s` of %s dB", r.Name, words.Exact(l.Value))
		if all = and(all, one); l.Value < wish {
			tight = and(tight, one)
		}
	}
	switch {
	case wish == 0:
		return fmt.Sprintf("within %s of %s", words.Exact(fewShare), all)
	case tight != "":
		return fmt.Sprintf("not the wish of %s dB binds, but %s", words.Exact(wish), tight)
	case all == "":
		return fmt.Sprintf("the wish of %s dB binds, as nothing is promised", words.Exact(wish))
	}
	return fmt.Sprintf("the wish of %s dB binds, and no promise: %s", words.Exact(wish), all)
}

// and joins two phrases, of which the first may be "".
func and(a, b string) string {
	if a == "" {
		return b
	}
	return a + " and " + b
}
