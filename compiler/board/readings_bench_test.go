package board_test

import (
	"context"
	"testing"

	"bandwright/biquad"
	"bandwright/compiler/verify"
)

// BenchmarkReadings measures noise, offset and clipping of one way of a four-way
// board in one combination.
func BenchmarkReadings(b *testing.B) {
	made := shipped(b, "bittern")
	c := make(biquad.Combination, len(made.Settings))
	for b.Loop() {
		if r := made.Board.Readings(context.Background(), []verify.Case{{Way: 3, C: c}}); len(r[0]) != 4 {
			b.Fatal(r)
		}
	}
}
