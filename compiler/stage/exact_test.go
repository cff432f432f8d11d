package stage

import (
	"math"
	"slices"
	"testing"
)

// brute is the smallest error that any set of values of the stock has, found by
// trying them all. It shares nothing with the search: transfer functions are
// written out here (Sallen and Key, IRE Trans. Circuit Theory 2, 1955, for unity
// gain; Op Amps for Everyone, 5th ed., chapter 16, for multiple feedback), as is
// the corpus's measure of the error.
type brute struct {
	x    []float64 // w²
	want []float64 // |H|²
	high float64   // power ratio of the best error so far
}

func newBrute(s corpusStage) *brute {
	b := &brute{high: math.Inf(1)}
	// The corner first, then from outside in: what is off shows there.
	hz := []float64{s.section.W0 / (2 * math.Pi), 10, 20e3}
	for k := range 200 {
		if f := 10 * math.Pow(2, float64(k)/12); f < 20e3 {
			hz = append(hz, f)
		}
	}
	for _, f := range hz {
		h := s.section.At(2 * math.Pi * f)
		b.x = append(b.x, 4*math.Pi*math.Pi*f*f)
		b.want = append(b.want, real(h)*real(h)+imag(h)*imag(h))
	}
	return b
}

// try looks at K/(1+sT1+s²T2), or K·s²T2/(1+sT1+s²T2).
func (b *brute) try(k, t1, t2 float64, highPass bool) {
	k *= k
	if highPass {
		k *= t2 * t2
	}
	low := 1 / b.high
	worst := 1.0
	for i, x := range b.x {
		re := 1 - t2*x
		h := k / (re*re + t1*t1*x)
		if highPass {
			h *= x * x
		}
		r := h / b.want[i]
		if r > b.high || r < low {
			return
		}
		if r < 1 {
			r = 1 / r
		}
		worst = math.Max(worst, r)
	}
	b.high = worst
}

// errorDB is the best error.
func (b *brute) errorDB() float64 { return 10 * math.Log10(b.high) }

// every search of E24/E6 by brute force: all capacitors and all resistors, but
// that a gain other than 1 to within the error found so far is passed over, as
// the error at one end of the band is that of the gain.
func (b *brute) search(topology string, stock Stock) {
	r, c, shunt := stock.Ohm, stock.Farad, stock.ShuntOhm
	switch topology {
	case "sallen-key-low-pass":
		for _, c1 := range c {
			for _, c2 := range c {
				for _, r1 := range r {
					for _, r2 := range r {
						b.try(1, c2*(r1+r2), r1*r2*c1*c2, false)
					}
				}
			}
		}
	case "sallen-key-high-pass":
		for _, c1 := range c {
			for _, c2 := range c {
				for _, r1 := range r {
					for _, r2 := range r {
						b.try(1, r1*(c1+c2), r1*r2*c1*c2, true)
					}
				}
			}
		}
	case "multiple-feedback-low-pass":
		for _, r1 := range r {
			for _, r2 := range r {
				for _, c1 := range c {
					for _, c2 := range c {
						for _, r3 := range r {
							b.try(r2/r1, c2*(r2+r3+r2*r3/r1), r2*r3*c1*c2, false)
						}
					}
				}
			}
		}
	case "multiple-feedback-high-pass":
		for _, c1 := range c {
			for _, c3 := range c {
				for _, c2 := range c {
					for _, r1 := range shunt {
						for _, r2 := range r {
							b.try(c1/c3, r1*(c1+c2+c3), r1*r2*c2*c3, true)
						}
					}
				}
			}
		}
	}
}

// sameError (dB): two ways to the same number.
const sameError = 2e-9

// The exact search finds what brute force finds, for every Sallen-Key and
// multiple-feedback stage of the corpus.
func TestExactIsBruteForce(t *testing.T) {
	bench := corpusBench("E24", "E6")
	tried := map[string]int{}
	for _, s := range corpus(t) {
		exact := false
		for _, x := range exacts {
			exact = exact || x.topology == s.topology.Name
		}
		if !exact {
			continue
		}
		tried[s.topology.Name]++
		t.Run(s.id, func(t *testing.T) {
			t.Parallel()
			b := newBrute(s)
			b.search(s.topology.Name, bench.Stock)
			found, reason := bench.pool(s.topology, s.section, 1, perError, 0)
			if reason != "" {
				t.Fatal(reason)
			}
			if math.Abs(found[0].ErrorDB-b.errorDB()) > sameError {
				t.Errorf("%s: the search finds %.9f dB, brute force %.9f dB", s.topology.Name, found[0].ErrorDB, b.errorDB())
			}
		})
	}
	for _, x := range exacts {
		if tried[x.topology] == 0 {
			t.Errorf("the corpus has no %s", x.topology)
		}
	}
	if n := tried["sallen-key-low-pass"] + tried["sallen-key-high-pass"] + tried["multiple-feedback-low-pass"] + tried["multiple-feedback-high-pass"]; n != 18 {
		t.Errorf("%d stages of the corpus are searched exactly, not 18", n)
	}
}

// Not only the best: the n best are the n best of all, up to what equal errors
// leave out.
func TestExactKnowsTheBestMany(t *testing.T) {
	bench := corpusBench("E24", "E6")
	s := corpus(t)[4] // a Sallen-Key low-pass
	const many = 50
	found, _ := bench.pool(s.topology, s.section, many, 1, 0)
	var all []float64
	b := newBrute(s)
	limit := found[len(found)-1].ErrorDB + sameError
	for _, c1 := range bench.Stock.Farad {
		for _, c2 := range bench.Stock.Farad {
			for _, r1 := range bench.Stock.Ohm {
				for _, r2 := range bench.Stock.Ohm {
					was := math.Pow(10, limit/10)
					b.high = was
					b.try(1, c2*(r1+r2), r1*r2*c1*c2, false)
					if b.high < was && !slices.ContainsFunc(all, func(e float64) bool { return math.Abs(e-b.errorDB()) < sameError }) {
						all = append(all, b.errorDB())
					}
				}
			}
		}
	}
	if len(found) != many || len(all) != many {
		t.Errorf("the search finds %d of %d, and brute force %d not above %.6f dB", len(found), many, len(all), found[many-1].ErrorDB)
	}
	for _, c := range found {
		near := math.Inf(1)
		for _, e := range all {
			near = math.Min(near, math.Abs(e-c.ErrorDB))
		}
		if near > sameError {
			t.Errorf("brute force knows no error of %.9f dB", c.ErrorDB)
		}
	}
}
