package prototype

import (
	"math"
	"math/cmplx"
	"math/rand"
	"testing"
)

// Every arrangement is the same function: unity sections times the rest equal
// the product of the factors.
func TestArrangeIsTheProduct(t *testing.T) {
	rng := rand.New(rand.NewSource(8))
	draw := func(n int, left bool) []factor {
		var fs []factor
		for n > 0 {
			w := math.Exp2(12*rng.Float64() - 6)
			switch {
			case n > 1 && rng.Intn(2) == 0:
				r := math.Exp2(8*rng.Float64() - 5)
				if !left && rng.Intn(2) == 0 {
					r = -r
				}
				fs, n = append(fs, factor{2, w, r}), n-2
			case !left && rng.Intn(3) == 0:
				fs, n = append(fs, factor{1, 0, 1}), n-1
			default:
				r := 1.0
				if !left && rng.Intn(2) == 0 {
					r = -1
				}
				fs, n = append(fs, factor{1, w, r}), n-1
			}
		}
		return fs
	}
	value := func(fs []factor, s complex128) complex128 {
		v := complex(1, 0)
		for _, f := range fs {
			if f.order == 1 {
				v *= s + complex(f.r*f.w, 0)
			} else {
				v *= s*s + complex(f.r*f.w, 0)*s + complex(f.w*f.w, 0)
			}
		}
		return v
	}
	for range 2000 {
		n := 1 + rng.Intn(12)
		zeros, poles := draw(rng.Intn(n+1), false), draw(n, true)
		sections, rest := arrange(zeros, poles)
		order, firsts := 0, 0
		for i, s := range sections {
			order += s.Order()
			if s.Order() == 1 {
				firsts++
			}
			if i > 0 && lessQ(s, sections[i-1]) {
				t.Fatalf("sections are not in order: %v", sections)
			}
			ends := math.Max(math.Abs(s.B[0]), math.Abs(s.B[s.Order()]))
			if ends > 1 || ends < 1 && math.Abs(math.Abs(s.B[1]/s.A[1])-1) > 1e-15 {
				t.Fatalf("section %v/%v is not scaled to its passband", s.B, s.A)
			}
		}
		if order != n || firsts != n%2 {
			t.Fatalf("%d poles became order %d with %d first-order sections", n, order, firsts)
		}
		for lg := -8.0; lg <= 8; lg += 1.3 {
			w := math.Exp2(lg)
			got := complex(rest, 0)
			for _, s := range sections {
				got *= s.At(w)
			}
			p := complex(0, w)
			want := value(zeros, p) / value(poles, p)
			// Q up to 32 and twelve factors with a few ulps each; near a zero the
			// difference counts against the size of the factors.
			if e := cmplx.Abs(got - want); !(e <= 1e-12*math.Max(cmplx.Abs(want), 1e-3)) {
				t.Fatalf("%v/%v at %v: %v, want %v", zeros, poles, w, got, want)
			}
		}
	}
}

// The assignment of single zeros against all assignments.
func TestCheapestIsLeast(t *testing.T) {
	rng := rand.New(rand.NewSource(9))
	for range 500 {
		m := 1 + rng.Intn(6)
		n := rng.Intn(m + 1)
		var zeros []factor
		var slots []slot
		at := 0.0
		for range n {
			at += rng.Float64()
			zeros = append(zeros, factor{1, math.Exp2(at), 1})
		}
		if n > 0 && rng.Intn(2) == 0 {
			zeros[0].w = 0
		}
		at = 0
		for i := range m {
			at += rng.Float64()
			slots = append(slots, slot{i, math.Exp2(at)})
		}
		cost := func(i, j int) float64 {
			lg := float64(lgOrigin)
			if zeros[i].w > 0 {
				lg = math.Log2(zeros[i].w)
			}
			return math.Abs(lg - math.Log2(slots[j].at))
		}
		got := 0.0
		taken := map[int]bool{}
		out := cheapest(zeros, slots)
		if len(out) != n {
			t.Fatalf("%d of %d zeros placed", len(out), n)
		}
		for i, j := range out {
			if taken[j] {
				t.Fatalf("slot %d taken twice", j)
			}
			taken[j] = true
			got += cost(i, j)
		}
		var least func(i int, used int) float64
		least = func(i, used int) float64 {
			if i == n {
				return 0
			}
			best := math.Inf(1)
			for j := range m {
				if used&(1<<j) == 0 {
					best = math.Min(best, cost(i, j)+least(i+1, used|1<<j))
				}
			}
			return best
		}
		if want := least(0, 0); math.Abs(got-want) > 1e-9 {
			t.Fatalf("cost %v, least is %v", got, want)
		}
	}
}

// A notch pair far below a resonance stays with the pole pair beside it, and
// zeros at the origin make high-passes of the lowest sections.
func TestArrangePlaces(t *testing.T) {
	sections, _ := arrange(
		[]factor{{2, 50, 0}, {1, 0, 1}, {1, 0, 1}},
		[]factor{{2, 10e3, 0.2}, {2, 50, 1.4}, {1, 300, 1}, {1, 200, 1}},
	)
	for _, s := range sections {
		switch {
		case s.W0 == 10e3:
			if s.B != [3]float64{1, 0, 0} {
				t.Errorf("resonance at 10e3: %v", s.B)
			}
		case s.W0 == 50:
			if s.B != [3]float64{1, 0, 1} {
				t.Errorf("notch at 50: %v", s.B)
			}
		default:
			if s.B != [3]float64{0, 0, 1} {
				t.Errorf("real poles at %v: %v", s.W0, s.B)
			}
		}
	}
}

// The last guard of a rational tells a coefficient that is off by 2e-12.
func TestGivesBackTells(t *testing.T) {
	sections, rest := arrange([]factor{{2, 3, 0.5}}, []factor{{2, 1, 0.3}, {1, 2, 1}})
	amplified(sections, rest)
	num, _, den := expanded(sections, 1)
	if !givesBack(sections, num, den) {
		t.Error("refuses its own coefficients")
	}
	for k := range den {
		off := append([]float64(nil), den...)
		if off[k] *= 1 + 2e-12; k < len(den)-1 && givesBack(sections, num, off) {
			t.Errorf("accepts a denominator that is off in p^%d", k)
		}
	}
	for k := range 3 {
		off := append([]float64(nil), num...)
		if off[k] *= 1 + 2e-12; givesBack(sections, off, den) {
			t.Errorf("accepts a numerator that is off in p^%d", k)
		}
	}
}
