package biquad

import (
	"math"
	"math/big"
	"math/rand"
	"testing"
)

// backTol is how closely the product of the factors must give back the
// coefficients, relative to the sum of the magnitudes of the products that
// make up each: rounding 24 roots to float64 costs up to 24·2^-53 = 3e-15.
const backTol = 1e-14

// expanded multiplies out lead·Π(x - root) in 400-bit arithmetic, with the
// same sum of magnitudes beside it.
func expanded(t *testing.T, lead float64, roots []complex128) (c, mag []float64) {
	t.Helper()
	re, im, size := []*big.Float{wide(lead)}, []*big.Float{wide(0)}, []*big.Float{wide(math.Abs(lead))}
	for _, r := range roots {
		n := len(re)
		nre, nim, nsize := make([]*big.Float, n+1), make([]*big.Float, n+1), make([]*big.Float, n+1)
		a, b, m := wide(real(r)), wide(imag(r)), wide(math.Hypot(real(r), imag(r)))
		for k := range nre {
			nre[k], nim[k], nsize[k] = wide(0), wide(0), wide(0)
			if k > 0 {
				nre[k].Set(re[k-1])
				nim[k].Set(im[k-1])
				nsize[k].Set(size[k-1])
			}
			if k < n {
				nre[k].Sub(nre[k], wide(0).Mul(re[k], a))
				nre[k].Add(nre[k], wide(0).Mul(im[k], b))
				nim[k].Sub(nim[k], wide(0).Mul(re[k], b))
				nim[k].Sub(nim[k], wide(0).Mul(im[k], a))
				nsize[k].Add(nsize[k], wide(0).Mul(size[k], m))
			}
		}
		re, im, size = nre, nim, nsize
	}
	for k := range re {
		v, _ := re[k].Float64()
		m, _ := size[k].Float64()
		c, mag = append(c, v), append(mag, m)
	}
	return c, mag
}

func wide(x float64) *big.Float { return new(big.Float).SetPrec(400).SetFloat64(x) }

func mustRoots(t *testing.T, c []float64) []complex128 {
	t.Helper()
	rs, err := Roots(c)
	if err != nil {
		t.Fatalf("Roots(%v): %v", c, err)
	}
	if len(rs) != len(c)-1 {
		t.Fatalf("Roots(%v): %d roots, want %d", c, len(rs), len(c)-1)
	}
	return rs
}

// givesBack checks the two promises about the roots of a real polynomial: the
// product of the factors is the polynomial, and pairs are exact.
func givesBack(t *testing.T, c []float64) {
	t.Helper()
	rs := mustRoots(t, c)
	for i := 0; i < len(rs); i++ {
		if imag(rs[i]) != 0 {
			if i+1 == len(rs) || real(rs[i+1]) != real(rs[i]) || imag(rs[i+1]) != -imag(rs[i]) || imag(rs[i]) < 0 {
				t.Fatalf("Roots(%v): %v has no exact conjugate beside it", c, rs[i])
			}
			i++
		}
	}
	got, mag := expanded(t, c[len(c)-1], rs)
	for k := range c {
		if !(math.Abs(got[k]-c[k]) <= backTol*mag[k]) {
			t.Errorf("Roots(%v): coefficient %d comes back as %v, off by %.2g of its terms' magnitude", c, k, got[k], math.Abs(got[k]-c[k])/mag[k])
		}
	}
}

func TestRootsKnown(t *testing.T) {
	// Binomial coefficients: the root of multiplicity ten that a companion
	// matrix misses by 5.7e-2.
	for _, r := range mustRoots(t, []float64{1, 10, 45, 120, 210, 252, 210, 120, 45, 10, 1}) {
		if r != -1 {
			t.Errorf("(x+1)^10 has the root %v", r)
		}
	}
	// (x²+1)²·x³·(x-2): axis and origin exactly.
	got := mustRoots(t, []float64{0, 0, 0, -2, 1, -4, 2, -2, 1})
	want := []complex128{0, 0, 0, 1i, -1i, 1i, -1i, 2}
	for i := range want {
		if got[i] != want[i] {
			t.Errorf("root %d is %v, want %v", i, got[i], want[i])
		}
	}
	// Wilkinson's polynomial of degree 14 (J. H. Wilkinson, Rounding Errors in
	// Algebraic Processes, 1963): the largest whose coefficients are below
	// 2^53, so that its roots are the integers exactly.
	c := []float64{1}
	for r := 1; r <= 14; r++ {
		next := make([]float64, len(c)+1)
		for k, v := range c {
			next[k+1] += v
			next[k] -= float64(r) * v
		}
		c = next
	}
	for i, r := range mustRoots(t, c) {
		if r != complex(float64(i+1), 0) {
			t.Errorf("Wilkinson root %d is %v", i+1, r)
		}
	}
	// Degree lowered by zeros at the top, and none left.
	if rs, err := Roots([]float64{3, 1, 0, 0}); err != nil || len(rs) != 1 || rs[0] != -3 {
		t.Errorf("x+3 with zeros above: %v, %v", rs, err)
	}
	if rs, err := Roots([]float64{7}); err != nil || len(rs) != 0 {
		t.Errorf("a constant: %v, %v", rs, err)
	}
}

func TestRootsGiveBack(t *testing.T) {
	rng := rand.New(rand.NewSource(1))
	product := func(factors ...[]float64) []float64 {
		c := []float64{1}
		for _, f := range factors {
			next := make([]float64, len(c)+len(f)-1)
			for i, a := range c {
				for j, b := range f {
					next[i+j] += a * b
				}
			}
			c = next
		}
		return c
	}
	for n := 1; n <= 24; n++ {
		var same, near, spread [][]float64
		random := make([]float64, n+1)
		for k := range random {
			random[k] = rng.NormFloat64() * math.Exp2(8*rng.NormFloat64())
		}
		w := math.Exp2(10 * rng.NormFloat64())
		for range n {
			same = append(same, []float64{w, 1})
			near = append(near, []float64{w * (1 + 1e-9*rng.Float64()), 1})
			spread = append(spread, []float64{math.Exp2(20 * rng.NormFloat64()), 1})
		}
		pairs := [][]float64{{1, 1}}
		for k := 1; k < n; k += 2 {
			pairs = append(pairs, []float64{1, 0.001 * float64(k), 1})
		}
		givesBack(t, random)
		givesBack(t, product(same...)) // rounded coefficients: a cluster, not a multiple root
		givesBack(t, product(near...))
		givesBack(t, product(spread...))
		givesBack(t, product(pairs...))
		flat := make([]float64, n+1)
		for k := range flat {
			flat[k] = 1
		}
		givesBack(t, flat) // roots of unity
	}
}

// Roots 2^-40 apart, both exact in float64 when multiplied out: only the
// certificate tells them from a double root.
func TestRootsNearlyDouble(t *testing.T) {
	d := math.Ldexp(1, -26)
	got := mustRoots(t, []float64{1 - d*d, 2, 1}) // (x+1-d)(x+1+d)
	if got[0] != complex(-1+d, 0) || got[1] != complex(-1-d, 0) {
		t.Errorf("got %v", got)
	}
	got = mustRoots(t, []float64{1 + d*d, 2, 1}) // -1 ± jd
	if got[0] != complex(-1, d) || got[1] != complex(-1, -d) {
		t.Errorf("got %v", got)
	}
}

func TestRootsRefuses(t *testing.T) {
	for _, c := range [][]float64{
		nil, {0, 0}, {1, math.NaN()}, {math.Inf(1), 1},
		make([]float64, MaxDegree+2),
		{math.SmallestNonzeroFloat64, math.MaxFloat64}, // a root of 1e-632
	} {
		if len(c) > MaxDegree {
			c[len(c)-1], c[0] = 1, 1
		}
		if rs, err := Roots(c); err == nil {
			t.Errorf("Roots(%v) = %v, want an error", c, rs)
		}
	}
}

func FuzzRoots(f *testing.F) {
	f.Add(1.0, 2.0, 1.0, 0.0, 3.0, 1.0)
	f.Add(1e300, -1e-300, 5.0, 1e-310, 0.0, 7.0)
	f.Fuzz(func(t *testing.T, a, b, c, d, e, g float64) {
		rs, err := Roots([]float64{a, b, c, d, e, g, 1})
		if err != nil {
			return
		}
		if len(rs) != 6 {
			t.Fatalf("%d roots", len(rs))
		}
		for _, r := range rs {
			if math.IsNaN(real(r)) || math.IsNaN(imag(r)) || math.IsInf(real(r), 0) || math.IsInf(imag(r), 0) {
				t.Fatalf("root %v", r)
			}
		}
	})
}

func BenchmarkRoots12(b *testing.B) {
	rng := rand.New(rand.NewSource(2))
	c := make([]float64, 13)
	for k := range c {
		c[k] = 1 + rng.Float64()
	}
	for b.Loop() {
		if _, err := Roots(c); err != nil {
			b.Fatal(err)
		}
	}
}
