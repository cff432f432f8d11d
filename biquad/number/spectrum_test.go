package number

import (
	"math"
	"testing"

	"bandwright/biquad"
)

// TestNoiseSpectrum adds a spectrum up to the floor of its band, and takes floors of narrow bands from it: of fixed
// point, where every sine has the same noise.
func TestNoiseSpectrum(t *testing.T) {
	const rateHz = 48000.0
	for _, name := range []string{"float32", "q23"} {
		f, s := format(name), switchedSystem(rateHz)
		f, all := f.Systems([]biquad.System[biquad.Digital]{s}, 1, []float64{rateHz})
		for way := range s.Ways {
			for _, c := range []biquad.Combination{{0, 0}, {2, 1}} {
				n := f.NewNoise(all[0], way, 1, rateHz, 20, 20000)
				hz, db := n.Spectrum(c)
				sum := 0.0
				for i := 1; i < len(hz); i++ {
					sum += (hz[i] - hz[i-1]) / 2 * (math.Pow(10, db[i]/10) + math.Pow(10, db[i-1]/10))
				}
				if got, want := 10*math.Log10(sum), n.DBFS(c); math.Abs(got-want) > 1e-9 {
					t.Errorf("%s, way %d, %v: the spectrum adds up to %v dBFS, not %v", name, way, c, got, want)
				}
				if name != "q23" {
					continue
				}
				for _, i := range []int{len(hz) / 5, len(hz) / 2, len(hz) * 9 / 10} {
					lo, hi := hz[i]*(1-1e-4), hz[i]*(1+1e-4)
					want := f.NewNoise(all[0], way, 1, rateHz, lo, hi).DBFS(c) - 10*math.Log10(hi-lo)
					if math.Abs(db[i]-want) > 0.02 {
						t.Errorf("way %d, %v: %v dB in a hertz at %v Hz, by a narrow band %v", way, c, db[i], hz[i], want)
					}
				}
			}
		}
	}
}
