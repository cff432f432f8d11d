package compiler

import (
	"context"
	"errors"
	"io/fs"
	"slices"

	"bandwright/compiler/batch"
	"bandwright/compiler/board"
	"bandwright/compiler/language"
	"bandwright/compiler/promise"
	"bandwright/compiler/verify"
)

// Holding is what is asked of a held board beside to be used as it stands.
type Holding struct {
	// Absent says that the file may not be there yet: then the board is chosen anew.
	Absent bool
	// All says that the whole board is chosen anew, and Anew which chains are: names of
	// ways, or "common".
	All  bool
	Anew []string
	// Without are values that the stock has no more, resistors in ohm and capacitors
	// in farad.
	Without []board.Value
}

// absent reports whether the held board's file is not there and need not be.
func (h Holding) absent(folder fs.FS, name string) bool {
	if !h.Absent || folder == nil {
		return false
	}
	_, err := fs.Stat(folder, name)
	return errors.Is(err, fs.ErrNotExist)
}

// readHeld reads the board that a spec holds; nil where it holds none, or where it is
// to be chosen anew.
func readHeld(s *language.Spec, h Holding) (*language.Held, []language.Fault) {
	if s.Board == nil || s.Board.Held.Name == "" || s.Board.Held.Text == nil || h.All {
		return nil, nil
	}
	held, faults := language.ParseHeld(s.Beside(s.Board.Held.Name), s.Board.Held.Text, Language())
	if held == nil {
		return nil, faults
	}
	if f, wrong := held.Misnamed(s.Name); wrong {
		return nil, append(faults, f)
	}
	return held, append(faults, board.CheckHeld(held)...)
}

// says gives the labels of the filters in the spec's own words.
func (w *Wanted) says() map[string]string {
	out := map[string]string{}
	for _, f := range w.Spec.Filters() {
		out[f.Label()] = w.Spec.Says(f)
	}
	return out
}

// Hold is the board of a build as a file holds it.
func (b *Build) Hold() *language.Held { return b.Board.Hold(b.Spec.Name, b.says()) }

// loosened is a board of which few held parts changed, or where that breaks a promise
// that is not about the nominal response, as of noise, headroom or the batch, one that breaks fewer: with
// all values of the stages chosen anew whose lines changed.
func (w *Wanted) loosened(ctx context.Context, j board.Job, made *board.Board) *board.Board {
	n := w.brokenBeside(ctx, made)
	if n == 0 {
		return made
	}
	j.Loose = true
	if other, _ := board.Make(ctx, j); other != nil && w.brokenBeside(ctx, other) < n {
		return other
	}
	return made
}

// brokenBeside counts what a board breaks of the promises that are not about its nominal
// response.
func (w *Wanted) brokenBeside(ctx context.Context, made *board.Board) int {
	n, x := 0, w.weigh(ctx, made)
	for _, f := range slices.Concat(x.findings, w.weighBatch(ctx, x)) {
		if r := promise.ByName(f.Promise); !f.Kept && r != nil && !slices.Contains(response, r.Of) {
			n++
		}
	}
	return n
}

// weighed is what a board was judged to be before it was taken.
type weighed struct {
	board    *board.Board
	figures  []verify.Figures
	findings []verify.Finding // on the board itself
	ofBatch  []verify.Finding // on a batch of it, where batched
	batched  bool
}

// weigh judges a board, but for a batch of it; where the last one is kept, it is not judged again.
func (w *Wanted) weigh(ctx context.Context, made *board.Board) *weighed {
	x := w.weighed
	if x == nil {
		x = &weighed{}
	}
	if x.board != made {
		*x = weighed{board: made}
		x.figures, x.findings = verify.Judge(ctx, w.BoardSubject(), made, w.Promises.Terms())
	}
	return x
}

// weighBatch judges a batch of a board, of which as many are simulated as the verdict takes.
func (w *Wanted) weighBatch(ctx context.Context, x *weighed) []verify.Finding {
	if !x.batched {
		quick := *w
		quick.extent.enough, x.batched = true, true
		if all := quick.simulate(ctx, x.board); all != nil {
			x.ofBatch = verify.JudgeBatch(w.BoardSubject(), batch.Built{Board: x.board, Batch: all}, w.Promises.Terms())
		}
	}
	return x.ofBatch
}
