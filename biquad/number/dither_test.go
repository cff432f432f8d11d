package number

import (
	"math"
	"testing"

	"bandwright/biquad"
)

// The mean and the mean square of what is wrong with a sample are the same whatever the
// word, over all values of both numbers that are added: a 512th of the converter's step,
// as halves go up, and a quarter of the step's square (Wannamaker and others, 2000; the
// numbers are whole, which takes a 65536th part of it away). Without dither both change
// with the word.
func TestDitherMakesTheErrorsMomentsIndependentOfTheSignal(t *testing.T) {
	for _, x := range []container{{bits: 32, guard: 0, dither: 24}, {bits: 24, guard: 3, dither: 24}} {
		const step = 1 << 8 // in units of the 32nd bit
		up := int64(1) << x.guard
		moments := func(v int64) (sum, squares int64) {
			for high := range uint32(step) {
				for low := range uint32(step) {
					e := x.dithered(v, high<<24|low)<<(32-x.bits) - v*up
					sum, squares = sum+e, squares+e*e
				}
			}
			return sum, squares
		}
		sum, squares := moments(1000)
		for v := int64(-1000); v < -1000+step/up; v++ {
			if s, q := moments(v); s != sum || q != squares {
				t.Fatalf("%+v: the moments of %d are %d and %d, those of 1000 %d and %d", x, v, s, q, sum, squares)
			}
		}
		mean, square := float64(sum)/step/step/step, float64(squares)/step/step/step/step
		if mean != 1.0/512 || math.Abs(square-0.25) > 1e-5 {
			t.Errorf("%+v: a mean of %g and a mean square of %g steps", x, mean, square)
		}
		if got := x.dithered(1<<30>>x.guard<<1-1, 0xffff0000); got != 1<<(x.bits-1)-1<<(x.bits-x.dither) {
			t.Errorf("%+v: full scale gives %d", x, got)
		}
	}
}

// The generator's step is linear in the bits. Its matrix has the order 2³²-1: to that power it is
// the identity, and to none of the powers that leave out a prime of 3·5·17·257·65537, so
// that every word but 0 comes once. The first words after 2463534242 are those of
// Marsaglia's paper (from memory).
func TestGeneratorGoesThroughAllWords(t *testing.T) {
	seed := uint32(2463534242)
	for i, want := range []uint32{723471715, 2497366906, 2064144800} {
		if seed = stirred(seed); seed != want {
			t.Errorf("word %d is %d, not %d", i, seed, want)
		}
	}
	type matrix [32]uint32 // columns
	apply := func(m *matrix, v uint32) (out uint32) {
		for i := range m {
			if v>>i&1 != 0 {
				out ^= m[i]
			}
		}
		return out
	}
	var step, one matrix
	for i := range step {
		step[i], one[i] = stirred(1<<i), 1<<i
	}
	power := func(n uint64) matrix {
		out, m := one, step
		for ; n > 0; n >>= 1 {
			var square, next matrix
			for i := range m {
				square[i], next[i] = apply(&m, m[i]), apply(&m, out[i])
			}
			if n&1 != 0 {
				out = next
			}
			m = square
		}
		return out
	}
	const period = 1<<32 - 1
	if power(period) != one {
		t.Errorf("the period is not 2^32 - 1")
	}
	for _, p := range []uint64{3, 5, 17, 257, 65537} {
		if power(period/p) == one {
			t.Errorf("the period is at most %d", period/p)
		}
	}
	seen := map[uint32]bool{0: true}
	for k := range 64 * 16 {
		if s := FirstSeed(k); seen[s] {
			t.Errorf("output %d begins at %d, as another does", k, s)
		} else {
			seen[s] = true
		}
	}
}

// ditheredErrors are those of every output of two channels, in steps of the converter,
// against the same words in float64.
func ditheredErrors(f Format, in []float64) [][]float64 {
	s := one(peak(400, 1, 0.7, 48000))
	s.Ways = append(s.Ways, s.Ways[0])
	f, systems := f.Systems([]biquad.System[biquad.Digital]{s}, 1, []float64{48000})
	s = systems[0]
	var out [][]float64
	for c := range 2 {
		m, exact := f.NewMachine(s, 1, 48000, 1e-3, nil), format("float64").NewMachine(s, 1, 48000, 1e-3, nil)
		m.OfChannel(c)
		got, want := m.Run(in), exact.Run(in)
		for w := range got {
			e := make([]float64, len(in)-settled)
			for i := range e {
				e[i] = math.Ldexp(got[w][settled+i]-want[w][settled+i], f.Dither-1)
			}
			out = append(out, e)
		}
	}
	return out
}

// What is wrong with outputs is white and the same whatever goes in: silence, a sine of a
// third of the converter's step, which plain rounding would swallow, and one of half of full
// scale. Its mean square is a quarter of a step's in all of the band and, by Welch's
// estimate, in each of three parts; neighbours in time, ways and channels have nothing
// to do with one another.
func TestDitherIsWhiteAndOfEachOutputsOwn(t *testing.T) {
	const n = 1 << 16
	for _, f := range []Format{format("q31").Dithered(20), format("q23").Dithered(16)} {
		for _, level := range []float64{0, math.Ldexp(1.0/3, 1-f.Dither), 0.5} {
			in := make([]float64, settled+n)
			for i := range in {
				in[i] = math.Round(level*math.Sin(0.1*float64(i))*f.C.FullScale) / f.C.FullScale
			}
			all := ditheredErrors(f, in)
			product := func(a, b []float64) float64 {
				var sum float64
				for i := range a {
					sum += a[i] * b[i]
				}
				return sum / float64(len(a))
			}
			for k, e := range all {
				if p := product(e, e); math.Abs(p-0.25) > 0.005 {
					t.Errorf("%s at %g, output %d: a mean square of %.4f steps", f.Name, level, k, p)
				}
				for lag := 1; lag <= 4; lag++ {
					if c := product(e[lag:], e[:n-lag]) / 0.25; math.Abs(c) > 0.02 {
						t.Errorf("%s at %g, output %d: %.4f of it comes again after %d samples", f.Name, level, k, c, lag)
					}
				}
				for j := range k {
					if c := product(e, all[j]) / 0.25; math.Abs(c) > 0.02 {
						t.Errorf("%s at %g: outputs %d and %d have %.4f in common", f.Name, level, j, k, c)
					}
				}
				for _, b := range []band{{20, 3000}, {3000, 10000}, {10000, 20000}} {
					scaled := make([]float64, n)
					for i := range e {
						scaled[i] = math.Ldexp(e[i], 1-f.Dither)
					}
					_, want := DitherDBFS(f.Dither, 48000, b.lo, b.hi)
					if got := welchNoise(scaled, make([]float64, n), 48000, b.lo, b.hi); math.Abs(got-want) > 0.3 {
						t.Errorf("%s at %g, output %d: %.2f dBFS from %g to %g Hz, not %.2f", f.Name, level, k, got, b.lo, b.hi, want)
					}
				}
			}
		}
	}
}

// Dither alone is a sixth of a step's square, 1.76 dB below all of it; of words of 16 bits
// that is -93.3 dBFS all told, 4.77 dB above plain rounding's -98.1 (6.02·16 + 1.76).
func TestDitherLevels(t *testing.T) {
	alone, all := DitherDBFS(16, 48000, 0, 24000)
	if plain := -(20*16*math.Log10(2) + 10*math.Log10(1.5)); math.Abs(all-plain-10*math.Log10(3)) > 1e-9 || math.Abs(all-alone-10*math.Log10(1.5)) > 1e-9 {
		t.Errorf("%.3f and %.3f dBFS", alone, all)
	}
	var s = one(peak(400, 1, 1, 48000))
	f := format("q31").Dithered(16)
	if got := f.NewNoise(s, 0, 1, 48000, 20, 20000).DBFS(nil); math.Abs(got-level(16)) > 0.01 {
		t.Errorf("the floor with dither is %.3f dBFS, of dither %.3f", got, level(16))
	}
	if f := format("float32"); f.Ditherable() || f.Dithered(16).Dither != 0 {
		t.Errorf("floating point has dither")
	}
}

func level(bits int) float64 {
	_, all := DitherDBFS(bits, 48000, 20, 20000)
	return all
}

// A reset begins the dither anew; a channel that is muted is silent to the bit, and one that
// is not goes on with it in silence.
func TestDitherBeginsAnewAndEndsWithTheMute(t *testing.T) {
	f := format("q23").Dithered(20)
	m := f.NewMachine(one(peak(400, 1, 1, 48000)), 1, 48000, 1e-3, nil)
	in := make([]float64, 4*settled)
	first := m.Run(in)[0]
	m.Reset()
	again := m.Run(in)[0]
	loud := 0
	for i, v := range first {
		if again[i] != v {
			t.Fatalf("sample %d after a reset is %g, not %g", i, again[i], v)
		}
		if v != 0 {
			loud++
		}
	}
	if loud < len(in)/10 {
		t.Errorf("silence has dither in %d of %d samples", loud, len(in))
	}
	m.Mute(true)
	m.Run(in)
	for i, v := range m.Run(in)[0] {
		if v != 0 {
			t.Fatalf("sample %d of a muted output is %g", i, v)
		}
	}
}
