package number

import (
	"math"
	"math/cmplx"
	"math/rand"
	"slices"
	"testing"

	"github.com/mjibson/go-dsp/fft"

	"bandwright/biquad"
)

// fadeS is the fades' length in these tests, the default of specs.
const fadeS = 10e-3

// go-dsp's FFT of the simulated impulse response against the response of the
// quantised coefficients: every way in every combination.
func TestMachineImpulseResponse(t *testing.T) {
	const rateHz, n = 48000.0, 1 << 16
	for _, f := range Formats {
		s := f.System(switchedSystem(rateHz), 0.5, rateHz)
		m := f.NewMachine(s, 0.5, rateHz, fadeS, []int{3, 2})
		impulse := make([]float64, n)
		impulse[0] = 1
		biquad.Each(s.Axes(), 2, func(c biquad.Combination) {
			if !m.Set(c) {
				t.Fatalf("%v refused", c)
			}
			m.Reset()
			m.Run(make([]float64, FadeSamples(fadeS, rateHz)))
			out := m.Run(impulse)
			for w := range s.Ways {
				spectrum := fft.FFTReal(out[w])
				var hz []float64
				for i := 1; i < n/2; i++ {
					hz = append(hz, float64(i)*rateHz/n)
				}
				want := make([]complex128, len(hz))
				biquad.OnDigital(s.Path(w), rateHz, hz).Response(want, c)
				var sum, worst float64
				for i := range want {
					e := cmplx.Abs(spectrum[i+1] - 0.5*want[i])
					sum += e * e
					worst = math.Max(worst, e)
				}
				// The mean square over frequency is the energy of the error. An
				// impulse meets every node with less than the worst sine does,
				// whose noise (re a mean square of 1/2) is the computed floor.
				floor := biquad.FromDB(f.NewNoise(s, w, 0.5, rateHz, 1, rateHz/2).DBFS(c))
				const margin = 1.5 // modelDB's average over a path, and the FFT's own rounding
				limit := margin * floor
				if f.rounding.absolute { // which goes on for as long as is looked
					limit *= math.Sqrt(n / 2)
				}
				// Short words may never let the states decay. The true response is
				// over by half time; what goes on was there before as well.
				var held float64
				for _, v := range out[w][n/2:] {
					held += 2 * v * v
				}
				limit += math.Sqrt(held)
				if f.Name == "float64" {
					// The evaluation of the coefficients and the FFT round as
					// much as the kernel does.
					limit += 1e-12
				}
				if rms := math.Sqrt(sum / float64(len(hz))); rms > limit || rms == 0 {
					t.Errorf("%s, way %d, settings %v: off by %.3g RMS, limit %.3g (worst %.3g)", f.Name, w, c, rms, limit, worst)
				}
			}
		})
	}
}

// Block splits do not matter, and neither does what ran before a reset.
func TestMachineReset(t *testing.T) {
	r := rand.New(rand.NewSource(8))
	in := make([]float64, 1000)
	for i := range in {
		in[i] = 2*r.Float64() - 1
	}
	for _, f := range Formats {
		s := f.System(switchedSystem(48000), 1, 48000)
		m := f.NewMachine(s, 1, 48000, fadeS, []int{3, 2})
		whole := m.Run(in)
		m.Set(biquad.Combination{2, 1})
		m.Run(in)
		m.Set(biquad.Combination{0, 0})
		m.Reset()
		first, rest := m.Run(in[:7]), m.Run(in[7:])
		for w := range whole {
			for i, v := range append(first[w], rest[w]...) {
				if v != whole[w][i] {
					t.Fatalf("%s: sample %d differs", f.Name, i)
				}
			}
		}
		for _, bad := range []biquad.Combination{{3, 0}, {0, 2}, {0}, {0, 0, 0}} {
			if m.Set(bad) {
				t.Errorf("%v was accepted", bad)
			}
		}
	}
}

// A clone in the middle of a change goes on to the bit as what it was cloned from would have,
// and neither hears what the other does.
func TestMachineClone(t *testing.T) {
	r := rand.New(rand.NewSource(9))
	in := make([]float64, 4000)
	for i := range in {
		in[i] = 2*r.Float64() - 1
	}
	for _, f := range Formats {
		s := f.System(switchedSystem(48000), 1, 48000)
		begin := func() *Machine {
			m := f.NewMachine(s, 1, 48000, fadeS, []int{3, 2})
			m.Run(in)
			m.Set(biquad.Combination{2, 1})
			m.Run(in[:500])
			return m
		}
		want := begin().Run(in)
		m := begin()
		other := m.Clone()
		other.Set(biquad.Combination{1, 0})
		other.Run(in[:700])
		clone := m.Clone()
		for which, got := range [][][]float64{m.Run(in), clone.Run(in)} {
			for w := range want {
				if !slices.Equal(got[w], want[w]) {
					t.Errorf("%s, %d: way %d differs", f.Name, which, w)
				}
			}
		}
	}
}
