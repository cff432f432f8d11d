package sweep

import (
	"math"
	"strings"
	"testing"
)

// What clips in front of a filter leaves no flat tops: it is found by its third harmonic, which is that of a clipped sine by
// Fourier's integral, within 3 dB; what does not clip has none.
func TestDistorted(t *testing.T) {
	const rate = 48000
	played := New(rate, DefaultS, DefaultDBFS).Samples()
	b, a := highPass(60, 0.7, rate)
	for _, at := range []float64{1, 0.95, 0.9, 0.6} {
		x := make([]float64, len(played))
		for i, v := range played {
			x[i] = math.Max(-0.1*at, math.Min(0.1*at, v))
		}
		take, err := Deconvolve(played, through(x, b, a), rate)
		if err != nil {
			t.Fatal(err)
		}
		var first, third float64 // of a sine so clipped, by Fourier's integral
		const n = 4096
		for i := range n {
			u := 2 * math.Pi * (float64(i) + 0.5) / n
			v := math.Max(-at, math.Min(at, math.Sin(u)))
			first, third = first+v*math.Sin(u), third+v*math.Sin(3*u)
		}
		want := 20 * math.Log10(math.Abs(third/first))
		troubles := take.Inspect(20, 20000, nil)
		t.Logf("%g: %.1f dB, by the integral %.1f dB; %v", at, take.Harmonics[1], want, troubles)
		switch {
		case at == 1 && (len(troubles) > 0 || !math.IsInf(take.Harmonics[1], -1)):
			t.Errorf("%v, %v", take.Harmonics, troubles)
		case at < 1 && math.Abs(take.Harmonics[1]-want) > 3:
			t.Errorf("%g: %v dB, want %v", at, take.Harmonics[1], want)
		case at < 0.95 && (len(troubles) == 0 || !troubles[0].Spoiled || !strings.Contains(troubles[0].Message, "third harmonic")):
			t.Errorf("%g: %v", at, troubles)
		}
	}
}
