package prototype_test

import (
	"math"
	"math/big"
	"math/rand"
	"testing"
	"time"

	"bandwright/biquad"
	"bandwright/compiler/prototype"
)

// coefficientTol is how closely a rational's sections must give back its
// coefficients.
const coefficientTol = 1e-12

// expand multiplies sections out to polynomials of p = s/w, lowest power
// first, in 300-bit arithmetic; size is the sum of the magnitudes that make up
// each coefficient of the numerator.
func expand(sections []biquad.Analog, w float64) (num, size, den []*big.Float) {
	wide := func(x float64) *big.Float { return new(big.Float).SetPrec(300).SetFloat64(x) }
	num, size, den = []*big.Float{wide(1)}, []*big.Float{wide(1)}, []*big.Float{wide(1)}
	multiply := func(x []*big.Float, c []*big.Float) []*big.Float {
		out := make([]*big.Float, len(x)+len(c)-1)
		for i := range out {
			out[i] = wide(0)
		}
		for i, a := range x {
			for j, b := range c {
				out[i+j].Add(out[i+j], wide(0).Mul(a, b))
			}
		}
		return out
	}
	for _, s := range sections {
		ratio := wide(0).Quo(wide(w), wide(s.W0))
		power := wide(1)
		var b, m, a []*big.Float
		for k := range s.Order() + 1 {
			b = append(b, wide(0).Mul(wide(s.B[k]), power))
			m = append(m, wide(0).Mul(wide(math.Abs(s.B[k])), power))
			a = append(a, wide(0).Mul(wide(s.A[k]), power))
			power = wide(0).Mul(power, ratio)
		}
		num, size, den = multiply(num, b), multiply(size, m), multiply(den, a)
	}
	return num, size, den
}

// givesBack checks a rational against its own coefficients, highest first.
// Denominators of stable filters never cancel and are held to each coefficient;
// numerators may, and are held to the magnitude of their terms.
func givesBack(t *testing.T, at float64, num, den []float64) {
	t.Helper()
	ideal := build(t, "rational", given{"at": at, "numerator": list(num), "denominator": list(den)})
	b, size, a := expand(ideal.Sections, 2*math.Pi*at)
	lead := a[len(a)-1]
	off := func(c *big.Float, want float64) float64 {
		q, _ := new(big.Float).Quo(c, lead).Float64()
		return math.Abs(q - want)
	}
	for k := range den {
		want := den[len(den)-1-k] / den[0]
		if e := off(a[k], want); !(e <= coefficientTol*math.Abs(want)) {
			t.Errorf("%v/%v: denominator p^%d is off by %.2g", num, den, k, e)
		}
	}
	for k := range b {
		want := 0.0
		if k < len(num) {
			want = num[len(num)-1-k] / den[0]
		}
		s, _ := new(big.Float).Quo(size[k], lead).Float64()
		if e := off(b[k], want); !(e <= coefficientTol*s) {
			t.Errorf("%v/%v: numerator p^%d is off by %.2g", num, den, k, e)
		}
	}
}

func list(c []float64) []any {
	out := make([]any, len(c))
	for i, v := range c {
		out[i] = v
	}
	return out
}

// TestRationalGivesBack multiplies out stable denominators of every order, with
// poles spread over decades, clustered, and repeated, under numerators with
// zeros anywhere, and demands the coefficients back.
func TestRationalGivesBack(t *testing.T) {
	rng := rand.New(rand.NewSource(4))
	between := func(lo, hi float64) float64 { return lo + (hi-lo)*rng.Float64() }
	descending := func(factors [][]float64) []float64 {
		c := []float64{between(0.2, 5)}
		for _, f := range factors {
			c = times(c, f)
		}
		for i, j := 0, len(c)-1; i < j; i, j = i+1, j-1 {
			c[i], c[j] = c[j], c[i]
		}
		return c
	}
	// factors of total degree n around frequency w, lowest power first.
	factors := func(n int, w, r func() float64) [][]float64 {
		var fs [][]float64
		for n > 0 {
			f := w()
			if n == 1 || rng.Intn(3) == 0 {
				fs, n = append(fs, []float64{f, 1}), n-1
			} else {
				fs, n = append(fs, []float64{f * f, f * r(), 1}), n-2
			}
		}
		return fs
	}
	for n := 1; n <= prototype.MaxOrder; n++ {
		for range 6 {
			m := rng.Intn(n + 1)
			at := math.Exp2(between(4, 14))
			any := func() float64 { return between(-2, 2.5) }
			damped := func() float64 { return math.Exp2(between(-7, 2)) }
			anywhere := factors(m, func() float64 { return math.Exp2(between(-6, 6)) }, any)
			spread := factors(n, func() float64 { return math.Exp2(between(-7, 7)) }, damped)
			w, q := math.Exp2(between(-1, 1)), damped()
			cluster := factors(n, func() float64 { return w * (1 + 1e-6*rng.Float64()) }, func() float64 { return q })
			same := factors(n, func() float64 { return 0.5 }, func() float64 { return 0.25 }) // exact in binary
			for _, poles := range [][][]float64{spread, cluster, same} {
				givesBack(t, at, descending(anywhere), descending(poles))
			}
		}
	}
	// Zeros at the origin and nothing else, a sign, and (p+1)^10.
	givesBack(t, 100, []float64{-3, 0, 0, 0}, []float64{1, 2, 2, 1})
	givesBack(t, 100, []float64{1, 0, 1}, []float64{1, 10, 45, 120, 210, 252, 210, 120, 45, 10, 1})
	givesBack(t, 100, []float64{0, 0, 5}, []float64{2, 1, 7}) // leading zeros of a numerator
}

// A plain constant is a section of order 0.
func TestRationalConstant(t *testing.T) {
	ideal := build(t, "rational", given{"at": 100.0, "numerator": list([]float64{-6}), "denominator": list([]float64{3})})
	if len(ideal.Sections) != 1 || ideal.Sections[0] != biquad.Constant(-2) {
		t.Errorf("got %+v", ideal)
	}
}

// TestRationalHostile feeds coefficients that try the range and the patience of
// the root finder: no NaN, no panic, no hang.
func TestRationalHostile(t *testing.T) {
	rng := rand.New(rand.NewSource(5))
	k, _ := prototype.ByName("rational")
	start := time.Now()
	const tries = 300
	for range tries {
		draw := func(n int) []any {
			c := make([]any, n)
			mode := rng.Intn(4)
			for i := range c {
				switch mode {
				case 0:
					c[i] = float64(rng.Intn(5) - 2)
				case 1:
					c[i] = math.Exp2(200*rng.Float64() - 100)
				case 2:
					c[i] = 1 + 1e-15*rng.NormFloat64()
				default:
					c[i] = math.Abs(rng.NormFloat64())
				}
			}
			return c
		}
		n := 1 + rng.Intn(prototype.MaxOrder+1)
		ideal, problems := k.Ideal(args(k, given{"at": 1000.0, "numerator": draw(1 + rng.Intn(n)), "denominator": draw(n)}))
		sound(t, ideal, problems)
	}
	if took := time.Since(start); took > 20*time.Second { // measured: 1 s
		t.Errorf("%d fractions took %v", tries, took)
	}
}

// The roots finder's own limit, reached from a spec only by way of coefficients
// like these, reads as a fault of the key.
func TestRationalRange(t *testing.T) {
	k, _ := prototype.ByName("rational")
	_, problems := k.Ideal(args(k, given{"at": 1000.0, "numerator": list([]float64{1}), "denominator": list([]float64{1e-30, 1e30})}))
	if len(problems) != 1 || problems[0].Key != "denominator" {
		t.Errorf("got %v", problems)
	}
}
