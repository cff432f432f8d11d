package batch

import (
	"fmt"
	"math"

	"bandwright/compiler/board"
	"bandwright/compiler/verify"
	"bandwright/compiler/words"
)

// Built is a board with what its batch is like: a realisation that is built many
// times.
type Built struct {
	*board.Board
	Batch *Batch
}

// OfBatch implements verify.Batched.
func (b Built) OfBatch() []verify.Reading {
	x := b.Batch
	if x == nil {
		return nil
	}
	trim := ""
	if x.TrimDB > 0 {
		trim = " after trim"
	}
	share := words.Share.Limit(x.Share)
	y := x.Yield()
	return []verify.Reading{
		{Of: verify.Spread, Value: math.Abs(x.Within.DB), AtHz: x.Within.Hz, C: x.Within.C, With: x.Within.With,
			Note: fmt.Sprintf("%s of %d boards stay within this%s, the last of them in %s", share, x.Boards, trim, x.Within.Row)},
		{Of: verify.Match, Value: x.Apart.DB, AtHz: x.Apart.Hz, C: x.Apart.C, With: x.Apart.With,
			Note: fmt.Sprintf("%s of %d pairs of boards stay within this%s, the last of them in %s", share, x.Boards/2, trim, x.Apart.Row)},
		{Of: verify.Yield, Value: y.Share,
			Note: fmt.Sprintf("%s%s; the furthest is %s off in %s at %s", y, trim, words.DB.Signed(x.Furthest.DB), x.Furthest.Row, words.Hz(x.Furthest.Hz))},
	}
}

// String is the yield in words, with what its confidence is.
func (y Yield) String() string {
	return fmt.Sprintf("%d of %d boards within %s; with a confidence of 95 %% %s to %s of all", y.Inside, y.Boards,
		words.DB.Limit(y.LimitDB), words.Share.Measured(y.Low), words.Share.Measured(y.High))
}

var _ verify.Batched = Built{}
