package board_test

import (
	"testing"

	"bandwright/biquad"
)

// BenchmarkElectric measures noise, offset and clipping of one way of a four-way
// board in one combination.
func BenchmarkElectric(b *testing.B) {
	made := shipped(b, "bittern")
	c := make(biquad.Combination, len(made.Settings))
	for b.Loop() {
		if _, err := made.Board.Electric(3, c, 20, 20e3); err != nil {
			b.Fatal(err)
		}
	}
}
