package biquad

import (
	"slices"
	"testing"
)

// (1 + 2x)(3 - x)·x and the empty product.
func TestTimes(t *testing.T) {
	if got := Times([]float64{1, 2}, []float64{3, -1}, []float64{0, 1}); !slices.Equal(got, []float64{0, 3, 5, -2}) {
		t.Errorf("%v", got)
	}
	if got := Times(); !slices.Equal(got, []float64{1}) {
		t.Errorf("%v", got)
	}
}
