package discretize

import (
	"math"
	"math/rand/v2"
	"testing"
)

// Many rows at a time are worked out as one at a time: the same bits, and nothing beside
// the rows is touched.
func TestRowsAtATime(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	for _, width := range []int{0, 1, 2, 3, 4, 7, 8, 33} {
		for rows := range 14 {
			w := width + 3
			a := make([]float64, rows*w+1)
			for i := range a {
				a[i] = rng.NormFloat64() * math.Exp2(float64(rng.IntN(80)-40))
			}
			d, at := make([]float64, width), make([]int, rows)
			for i := range d {
				d[i] = rng.NormFloat64()
			}
			for i := range at {
				at[i] = i*w + 1
			}
			one, all := append([]float64(nil), d...), append([]float64(nil), d...)
			gather(all, a, at)
			for i := range at {
				gather(one, a, at[i:i+1])
			}
			sameBits(t, "gathered", all, one)

			apart, together := append([]float64(nil), a...), append([]float64(nil), a...)
			spread(together, at, d)
			for i := range at {
				spread(apart, at[i:i+1], d)
			}
			sameBits(t, "spread", together, apart)
			for i, k := range at {
				if together[k] != 0 {
					t.Errorf("row %d of %d, width %d: first element %g is not zero", i, rows, width, together[k])
				}
			}
		}
	}
}

func sameBits(t *testing.T, what string, a, b []float64) {
	t.Helper()
	for i := range a {
		if math.Float64bits(a[i]) != math.Float64bits(b[i]) {
			t.Fatalf("%s: element %d is %g, one row at a time %g", what, i, a[i], b[i])
		}
	}
}

// The triangle of random rows, that begin anywhere, is that of their normal equations:
// RᵀR = AᵀA.
func TestTriangle(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	var work reflector
	for _, n := range []int{1, 2, 9, 40} {
		for _, m := range []int{0, 1, 2, n, n + 3, 5*n + 2} {
			w := n + 1
			a := make([]float64, m*w)
			for i := range m {
				from, chance := 0, 1+rng.IntN(4)
				if rng.IntN(2) == 0 {
					from = rng.IntN(w)
				}
				for k := from; k < w; k++ {
					if rng.IntN(chance+1) > 0 && k != 5 {
						a[i*w+k] = rng.NormFloat64()
					}
				}
			}
			r := append([]float64(nil), a...)
			work.triangulate(r, m, n, w)
			for i := range n {
				for k := range w {
					var want, got float64
					for q := range m {
						want += a[q*w+i] * a[q*w+k]
					}
					for q := 0; q <= i && q < m; q++ {
						got += r[q*w+i] * r[q*w+k]
					}
					if math.Abs(got-want) > 1e-11 {
						t.Errorf("%d rows of %d: product of columns %d and %d is %.15g, want %.15g", m, n, i, k, got, want)
					}
					if k < i && i < m && r[i*w+k] != 0 {
						t.Errorf("%d rows of %d: below the diagonal, %d %d: %g", m, n, i, k, r[i*w+k])
					}
				}
			}
		}
	}
}

// Quotients have the bits of the language's own.
func TestDivisor(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	part := func() float64 {
		return [...]float64{0, 1, -2, rng.NormFloat64() * math.Exp2(float64(rng.IntN(60)-30))}[rng.IntN(4)]
	}
	for range 2000 {
		a, b := complex(part(), part()), complex(part(), part())
		if b == 0 {
			continue
		}
		got, want := divisorOf(b).under(a), a/b
		sameBits(t, "quotient", []float64{real(got), imag(got)}, []float64{real(want), imag(want)})
	}
}
