package engine

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/mjibson/go-dsp/spectral"

	"bandwright/biquad"
)

// The closed form is what the simulation has: the difference of two runs of the same
// samples, one in wide words, in Welch's estimate of go-dsp, within 1 dB; and its mean the
// DC of rounding down. The band is the whole one, so that all of the noise is compared.
func TestNoiseIsWhatTheSimulationHas(t *testing.T) {
	const n = 1 << 17
	for _, e := range []Engine{
		{Word: 28, Fraction: 23, Data: 24, Accumulator: 56, Form: direct1},
		{Word: 28, Fraction: 23, Data: 24, Accumulator: 56, Form: transposed2, Nearest: true},
		{Word: 24, Fraction: 20, Data: 16, Accumulator: 48, Form: direct1, Nearest: true},
	} {
		c := made(t, e)
		comb := biquad.Combination{1}
		rng := rand.New(rand.NewPCG(7, 8))
		x := make([]int64, n)
		for i := range x {
			x[i] = e.Sample(0.3 * (2*rng.Float64() - 1))
		}
		wide := *c
		wide.Data, wide.Accumulator = e.Data+24, 96
		y := make([]int64, n)
		for i, v := range x {
			y[i] = v << 24
		}
		c.NewMachine(comb).Run(x)
		wide.NewMachine(comb).Run(y)
		diff := make([]float64, n)
		var mean float64
		const skip = 1 << 15 // the DC settles with the lowest corner
		for i := range x {
			diff[i] = (float64(x[i]) - math.Ldexp(float64(y[i]), -24)) * math.Ldexp(1, 1-e.Data)
			if i >= skip {
				mean += diff[i] / (n - skip)
			}
		}
		for i := range diff {
			diff[i] -= mean
		}
		pxx, _ := spectral.Pwelch(diff[skip:], rateHz, &spectral.PwelchOptions{NFFT: 8192, Noverlap: 4096})
		var power float64
		for _, p := range pxx {
			power += p * rateHz / 8192
		}
		noise := c.NewNoise(rateHz, 1, rateHz/2)
		got, want := noise.DBFS(comb), 10*math.Log10(2*power)
		if math.Abs(got-want) > 1 {
			t.Errorf("%s, %d bits of data: %.2f dBFS by the closed form, %.2f by simulation", e.Form.Name, e.Data, got, want)
		}
		if rest := noise.RestDBFS(comb); !e.Nearest && math.Abs(rest-biquad.GainDB(math.Abs(mean))) > 1 {
			t.Errorf("%s: DC of %.2f dBFS by the closed form, %.2f by simulation", e.Form.Name, rest, biquad.GainDB(math.Abs(mean)))
		}
	}
}
