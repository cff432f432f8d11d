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
func (b Built) OfBatch() [][]verify.Reading {
	if b.Batch == nil {
		return nil
	}
	x := b.Batch
	trim := ""
	if x.TrimDB > 0 {
		trim = ", after trim"
	}
	var out [][]verify.Reading
	for _, r := range x.Rows {
		out = append(out, []verify.Reading{
			{Of: verify.Spread, Value: math.Abs(r.Within.DB), AtHz: r.Within.Hz, C: r.Within.C,
				Note: fmt.Sprintf("what %s of %d boards stay within%s", words.Share.Limit(x.Share), x.Boards, trim)},
			{Of: verify.Match, Value: r.Apart.DB, AtHz: r.Apart.Hz, C: r.Apart.C,
				Note: fmt.Sprintf("what %s of %d pairs of boards stay within%s", words.Share.Limit(x.Share), x.Boards/2, trim)},
		})
	}
	y := x.Yield()
	return append(out, []verify.Reading{{Of: verify.Yield, Value: y.Share,
		Note: fmt.Sprintf("%s%s; the furthest board is %s off at %s: %s", y, trim, words.DB.Signed(x.Worst.DB), words.Hz(x.Worst.Hz), x.Rows[x.WorstRow].Name)}})
}

// String is the yield in words, with what its confidence is.
func (y Yield) String() string {
	return fmt.Sprintf("%d of %d boards within %s; with a confidence of 95 %% %s to %s of all", y.Inside, y.Boards,
		words.DB.Limit(y.LimitDB), words.Share.Measured(y.Low), words.Share.Measured(y.High))
}

var _ verify.Batched = Built{}
