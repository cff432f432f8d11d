package engine

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/mjibson/go-dsp/fft"

	"bandwright/biquad"
)

// randomPath is n sections, low- and high-passes, peaks and sometimes one with two choices, and a gain.
func randomPath(r *rand.Rand, n int) biquad.Cascade[biquad.Digital] {
	c := biquad.Cascade[biquad.Digital]{Gain: -math.Exp2(-3 * r.Float64())}
	for range n {
		hz, q := 40*math.Exp2(7*r.Float64()), 0.5+2*r.Float64()
		d := peak(hz, q, 24*r.Float64()-12)
		switch r.IntN(3) {
		case 0:
			d = highPass(math.Min(hz, 2000), q)
		case 1:
			d = lowPass(math.Max(hz, 400), q)
		}
		c.Slots = append(c.Slots, biquad.Fixed(d, "x"))
	}
	if r.IntN(2) == 0 {
		c.Slots[0] = biquad.Slot[biquad.Digital]{From: []string{"a", "b"}, By: []biquad.Axis{{Setting: 0, Choices: 2}}, Pick: []uint8{0, 1},
			Alt: []biquad.Digital{c.Slots[0].Alt[0], peak(100, 1, 5)}}
	}
	return c
}

// simulated is the noise of an order of a path, by this test's own arithmetic: scales by the L1 norm of the impulse response in front (L. B. Jackson,
// Bell System Technical Journal 49(2), 1970), and the transform (go-dsp) of what one rounding's impulse does at the output, from 20 Hz to 20 kHz. In decibels re the
// RMS of a full-scale sine, and the DC of rounding down re full scale; NaN where words do not hold it.
func simulated(e Engine, p biquad.Cascade[biquad.Digital], order []int, comb []biquad.Combination) (noise, dc float64) {
	const long = 1 << 13
	run := func(d biquad.Digital, x []float64) []float64 {
		y, x1, x2, y1, y2 := make([]float64, len(x)), 0.0, 0.0, 0.0, 0.0
		for i, v := range x {
			y[i] = d.B[0]*v + d.B[1]*x1 + d.B[2]*x2 - d.A[1]*y1 - d.A[2]*y2
			x2, x1, y2, y1 = x1, v, y1, y[i]
		}
		return y
	}
	impulse := func() []float64 { x := make([]float64, long); x[0] = 1; return x }
	at := func(k int, c biquad.Combination) biquad.Digital { return p.Slots[k].Alt[p.Slots[k].Index(c)] }
	scales := make([]float64, len(order))
	before := 1.0
	for i, k := range order {
		norm, most := 0.0, 0.0
		for _, c := range comb {
			h, sum := impulse(), 0.0
			for _, k := range order[:i+1] {
				h = run(at(k, c), h)
			}
			for _, v := range h {
				sum += math.Abs(v)
			}
			norm = math.Max(norm, sum)
		}
		for _, d := range p.Slots[k].Alt {
			for _, b := range d.B {
				most = math.Max(most, math.Abs(b))
			}
		}
		scales[i] = math.Min(math.Min(1, 1/norm), before*(e.Range()-e.Step())/most)
		if i == len(order)-1 {
			if scales[i] = p.Gain; math.Abs(p.Gain)/before*most >= e.Range() {
				return math.NaN(), 0
			}
		}
		before = scales[i]
	}
	step, most := math.Ldexp(1, 1-e.Data), 0.0
	for _, c := range comb {
		power, sum := 0.0, 0.0
		for i, k := range order {
			h := run(biquad.Digital{B: [3]float64{1}, A: at(k, c).A}, impulse())
			for _, k := range order[i+1:] {
				h = run(at(k, c), h)
			}
			for n, v := range fft.FFTReal(h)[:long/2] {
				v *= complex(p.Gain/scales[i], 0)
				if n == 0 {
					sum += real(v)
				}
				if f := float64(n) * rateHz / long; f >= 20 && f < 20000 {
					power += real(v)*real(v) + imag(v)*imag(v)
				}
			}
		}
		most = math.Max(most, 2*step*step/12*power/(long/2))
		if !e.Nearest {
			dc = math.Max(dc, math.Abs(sum)*step/2)
		}
	}
	return 10 * math.Log10(most), 20 * math.Log10(dc)
}

// Of all orders of up to four sections none is quieter, unless it leaves more DC than allowed; by a
// simulation of its own that goes through all of them.
func TestNoOrderIsQuieter(t *testing.T) {
	r := rand.New(rand.NewPCG(21, 12))
	combs := []biquad.Combination{{0}, {1}}
	gained := 0.0
	for i, n := range []int{3, 4, 3, 4, 3} {
		e := engines()[2*i%len(engines())]
		e.Accumulator = 96
		p := randomPath(r, n)
		e.Sequence = nil
		usual, refusal := New(e, p, 1, rateHz, 1)
		e.Sequence = SequenceByName("quietest")
		c, also := New(e, p, 1, rateHz, 1)
		if refusal != nil || also != nil {
			t.Fatal(refusal, also)
		}
		was, allowed := simulated(e, p, usual.order, combs)
		allowed = math.Max(-60, allowed)
		got, dc := simulated(e, p, c.order, combs)
		best, of := math.Inf(1), []int(nil)
		biquad.Orders(len(p.Slots), func(order []int) {
			if db, dc := simulated(e, p, order, combs); db < best && dc < allowed-0.1 {
				best, of = db, slices.Clone(order)
			}
		})
		if !(got <= best+0.3) || !(dc <= allowed+0.1) || c.Sines {
			t.Errorf("%d: order %v has %.2f dBFS, %v %.2f, the usual one %.2f", i, c.order, got, of, best, was)
		}
		if own, _ := c.worstNoise(rateHz, 20000, 1); math.Abs(biquad.GainDB(own)-got) > 0.3 {
			t.Errorf("%d: %.2f dBFS in closed form, %.2f by transform", i, biquad.GainDB(own), got)
		}
		gained = math.Max(gained, was-got)
	}
	if gained < 3 {
		t.Errorf("no order was quieter than the usual one by more than %.1f dB", gained)
	}
}

// Of all orders of four sections none changes the magnitude clearly less, each written by itself and its
// words' response taken apart into powers of z here; 1 dB is for words that fall by chance when scales follow them.
func TestNoOrderIsTruer(t *testing.T) {
	r := rand.New(rand.NewPCG(13, 14))
	hz := biquad.Spaced(20, 23900, 500)
	gained := 0.0
	for i := range 8 {
		e := Engine{Word: 24, Fraction: 20, Data: 32, Accumulator: 96, Form: direct1, Nearest: true}
		p := randomPath(r, 4)
		off := func(c *Chain) float64 {
			worst := 0.0
			for choice := range 2 {
				comb := biquad.Combination{uint8(choice)}
				var want, got []float64
				for _, f := range hz {
					z := cmplx.Exp(complex(0, -2*math.Pi*f/rateHz))
					h, w := complex(p.Gain, 0), complex128(1)
					for k := range p.Slots {
						d := p.Slots[k].Alt[p.Slots[k].Index(comb)]
						h *= (complex(d.B[0], 0) + z*(complex(d.B[1], 0)+z*complex(d.B[2], 0))) / (1 + z*(complex(d.A[1], 0)+z*complex(d.A[2], 0)))
					}
					for k := range c.Positions {
						v := c.Positions[k].Alt[c.Positions[k].Index(comb)]
						n := func(i int) complex128 { return complex(float64(v[i]), 0) }
						w *= (n(0) + z*(n(1)+z*n(2))) / (1<<20 + z*(n(3)+z*n(4)))
					}
					want, got = append(want, cmplx.Abs(h)), append(got, cmplx.Abs(w))
				}
				for k := range hz {
					worst = math.Max(worst, math.Abs(got[k]-want[k])/math.Max(want[k], 0.01*slices.Max(want)))
				}
			}
			return 20 * math.Log10(worst)
		}
		usual, refusal := New(e, p, 1, rateHz, 1)
		e.Sequence = SequenceByName("truest")
		c, also := New(e, p, 1, rateHz, 1)
		if refusal != nil || also != nil {
			t.Fatal(refusal, also)
		}
		best := math.Inf(1)
		biquad.Orders(4, func(order []int) {
			other := &Chain{Engine: e}
			if other.write(biquad.Arranged(p.Slots, order), p.Gain, rateHz, 1) == nil {
				best = math.Min(best, off(other))
			}
		})
		if got := off(c); got > best+1 || got > off(usual)+0.2 {
			t.Errorf("%d: order %v is off by %.2f dB, the best by %.2f, the usual one by %.2f", i, c.order, got, best, off(usual))
		}
		gained = math.Max(gained, off(usual)-off(c))
	}
	if gained < 6 {
		t.Errorf("no order was truer than the usual one by more than %.1f dB", gained)
	}
}

// Seven sections, which are exchanged and moved, not tried in all orders, come to what the best of all 5040 has, by the same weights.
func TestExchangesFindTheBest(t *testing.T) {
	r := rand.New(rand.NewPCG(15, 16))
	for i := range 3 {
		e := engines()[i]
		e.Accumulator = 96
		p := randomPath(r, exhaustive+1)
		a := e.newArranging(p.Slots, p.Gain, rateHz, 1)
		a.begin(false)
		least := math.Inf(1)
		biquad.Orders(len(p.Slots), func(order []int) {
			if o := a.laid(order); o != nil {
				least = math.Min(least, a.noiseDB(o))
			}
		})
		if got := a.noiseDB(a.laid(a.ranked(Sequences[1].weighs)[0])); got > least+0.2 {
			t.Errorf("%d: %.2f dB, the best has %.2f", i, got, least)
		}
	}
}
