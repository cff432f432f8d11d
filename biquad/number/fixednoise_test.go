package number

import (
	"math"
	"math/rand"
	"testing"

	"github.com/mjibson/go-dsp/spectral"

	"bandwright/biquad"
)

// fixedNoiseDB is how far the computed floor in fixed point may be from that of the
// simulated arithmetic.
const fixedNoiseDB = 1

// measurable is the greatest norm of noise that some 10⁵ samples tell to a decibel: what
// has more is a few Hz wide.
const measurable = 100

// estimator is how much noise of a band (Hz) one output has against the exact one, in dBFS.
type estimator func(got, want []float64, rateHz, loHz, hiHz float64) float64

// welchNoise is go-dsp's estimate of it (P. D. Welch, The use of fast Fourier transform for the
// estimation of power spectra, IEEE Trans. Audio Electroacoust. 15(2), 1967).
func welchNoise(got, want []float64, rateHz, loHz, hiHz float64) float64 {
	const length = 1 << 13
	e := make([]float64, len(got))
	for i := range e {
		e[i] = got[i] - want[i]
	}
	density, hz := spectral.Pwelch(e, rateHz, &spectral.PwelchOptions{NFFT: length, Noverlap: length / 2})
	var power float64
	for i, d := range density {
		if hz[i] >= loHz && hz[i] <= hiHz {
			power += d * rateHz / length
		}
	}
	return biquad.GainDB(math.Sqrt(2 * power))
}

// simulatedFloor is the noise (dBFS, loHz to hiHz) that the format's arithmetic adds at
// the output of every way while noise goes in, against the same words in float64.
func simulatedFloor(f Format, s biquad.System[biquad.Digital], rateHz float64, c biquad.Combination, seed int64, estimate estimator) []float64 {
	r := rand.New(rand.NewSource(seed))
	in := make([]float64, 3*settled)
	for i := range in {
		in[i] = math.Round((r.Float64()-0.5)*f.C.FullScale) / f.C.FullScale
	}
	choices := make([]int, len(c))
	for i := range choices {
		choices[i] = 256
	}
	x, y := f.NewMachine(s, 1, rateHz, fadeS, choices), format("float64").NewMachine(s, 1, rateHz, fadeS, choices)
	x.Set(c)
	y.Set(c)
	got, want := x.Run(in), y.Run(in)
	var out []float64
	for k := range got {
		out = append(out, estimate(got[k][2*settled:], want[k][2*settled:], rateHz, 20, 20000))
	}
	return out
}

// The closed form of a section's noise against the simulation, in every form that its
// words fit, the rejected ones too.
func TestFixedNoiseOfSectionsAgreesWithSimulation(t *testing.T) {
	f := format("q31")
	count := map[biquad.Form]int{}
	for i, n := range samples() {
		if n.rateHz != 48000 && i%3 != 0 {
			continue
		}
		for _, form := range f.Forms {
			q := f.rounded(n.d, form)
			if f.beyond(q) || !(q.PoleMargin() > 0) || q.Order() == 0 {
				continue
			}
			if y, _, _ := noiseNorms(q); y > measurable {
				continue
			}
			s := one(q)
			if f.guardFor([]biquad.System[biquad.Digital]{s}, 1) > f.GuardBits {
				continue
			}
			want := f.NewNoise(s, 0, 1, n.rateHz, 20, 20000).DBFS(nil)
			if got := simulatedFloor(f, s, n.rateHz, nil, int64(i), bandNoise)[0]; math.Abs(got-want) > fixedNoiseDB {
				t.Errorf("%s, %s (%d): computed %.2f dBFS, simulated %.2f dBFS", n.name, form, form, want, got)
			}
			count[form]++
		}
	}
	for _, form := range f.Forms {
		if count[form] < 5 {
			t.Errorf("%d sections in the %s form (%d)", count[form], form, form)
		}
	}
}

// And that of whole ways, in every combination, with full scale where it is, with
// samples of 24 bits, whose own rounding is most of it, and with dither.
func TestFixedNoiseOfWaysAgreesWithSimulation(t *testing.T) {
	const rateHz = 48000.0
	for _, format := range []Format{format("q31"), format("q23"), format("q31").Dithered(22)} {
		f, systems := format.Systems([]biquad.System[biquad.Digital]{switchedSystem(rateHz)}, 1, []float64{rateHz})
		s := systems[0]
		at := int64(0)
		biquad.Each(s.Axes(), 2, func(c biquad.Combination) {
			at++
			if at%2 == 0 {
				return
			}
			for i, estimate := range []estimator{bandNoise, welchNoise} {
				for k, got := range simulatedFloor(f, s, rateHz, c, at, estimate) {
					if want := f.NewNoise(s, k, 1, rateHz, 20, 20000).DBFS(c); math.Abs(got-want) > fixedNoiseDB {
						t.Errorf("%s, way %d, settings %v, estimate %d: computed %.2f dBFS, simulated %.2f dBFS", f.Name, k, c, i, want, got)
					}
				}
			}
		})
	}
}
