package biquad

import (
	"math"
	"slices"
	"testing"
)

func TestOctaves(t *testing.T) {
	for _, c := range []struct {
		lo, hi    float64
		perOctave int
		more      []float64
		want      []float64
	}{
		{1, 8, 1, nil, []float64{1, 2, 4, 8}},
		{1, 9, 1, nil, []float64{1, 2, 4, 8, 9}},
		{1, 7, 1, nil, []float64{1, 2, 4, 7}},
		{100, 100, 3, nil, []float64{100}},
		{1, 8, 1, []float64{3, 4, 0.5, 9, 1, 8, math.NaN()}, []float64{1, 2, 3, 4, 8}},
		{20, 25, 12, nil, []float64{20, 20 * math.Exp2(1.0/12), 20 * math.Exp2(2.0/12), 20 * math.Exp2(3.0/12), 25}},
	} {
		if got := Octaves(c.lo, c.hi, c.perOctave, c.more...); !slices.Equal(got, c.want) {
			t.Errorf("Octaves(%g, %g, %d, %v) = %v, not %v", c.lo, c.hi, c.perOctave, c.more, got, c.want)
		}
	}
	// Whatever the rounding, a band of whole octaves has no point twice and ends
	// on its end.
	for lo := 0.001; lo < 1e5; lo *= 1.37 {
		for n := 1; n <= 96; n++ {
			got := Octaves(lo, lo*1024, n)
			if len(got) != 10*n+1 || got[10*n] != lo*1024 {
				t.Fatalf("Octaves(%g, %g, %d): %d points to %g", lo, lo*1024, n, len(got), got[len(got)-1])
			}
			if below := OctavesBelow(lo, lo*1024, n); !slices.Equal(below, got[:10*n]) {
				t.Fatalf("OctavesBelow(%g, %g, %d) is not Octaves but for its end", lo, lo*1024, n)
			}
		}
	}
	if got := OctavesBelow(1, 1, 3); len(got) != 0 {
		t.Errorf("an empty band has points %v", got)
	}
}

func TestSpaced(t *testing.T) {
	if got, want := Spaced(20, 20000, 4), []float64{20, 200, 2000, 20000}; !near(got, want, 1e-13) || got[3] != 20000 {
		t.Errorf("Spaced = %v, not %v", got, want)
	}
	if got := Spaced(3, 7, 2); !slices.Equal(got, []float64{3, 7}) {
		t.Errorf("Spaced of two points = %v", got)
	}
}

func near(a, b []float64, tol float64) bool {
	return slices.EqualFunc(a, b, func(x, y float64) bool { return math.Abs(x-y) <= tol*y })
}

func TestAscending(t *testing.T) {
	for _, c := range []struct {
		apart    float64
		hz, want []float64
	}{
		{0, []float64{3, 1, 2, 1, 3}, []float64{1, 2, 3}},
		{0, []float64{1, 1 + 1e-12}, []float64{1, 1 + 1e-12}},
		{1e-9, []float64{1 + 1e-12, 2, 1}, []float64{1, 2}},
		// What is left out does not hide what comes after it.
		{0.1, []float64{1, 1.06, 1.12}, []float64{1, 1.12}},
		{0, nil, nil},
	} {
		if got := Ascending(slices.Clone(c.hz), c.apart); !slices.Equal(got, c.want) {
			t.Errorf("Ascending(%v, %g) = %v, not %v", c.hz, c.apart, got, c.want)
		}
	}
}
