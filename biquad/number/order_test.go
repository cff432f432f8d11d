package number

import (
	"math"
	"math/rand"
	"testing"

	"bandwright/biquad"
)

// loudCascade is a random cascade with cuts and boosts, in words.
func loudCascade(r *rand.Rand, n int, rateHz float64) biquad.Cascade[biquad.Digital] {
	c := biquad.Cascade[biquad.Digital]{Gain: 1}
	for k := range n {
		d := randomSection(r, rateHz)
		if k%2 == 0 {
			hz, db := 30*math.Exp2(8*r.Float64()), 14*(2*r.Float64()-1)
			d = lowShelf(hz, 0.7, db, rateHz)
		}
		c.Slots = append(c.Slots, q31Format.Quantise(biquad.Fixed(d), rateHz))
	}
	return c
}

// The search against all orders of up to six positions: the least cost is found, but for
// one case in twenty, which is then within half a decibel.
func TestOrderIsTheBest(t *testing.T) {
	const rateHz, nearDB = 48000.0, 0.5
	r := rand.New(rand.NewSource(21))
	missed, gained, cases := 0, 0.0, 0
	for n := 2; n <= 6; n++ {
		for range 12 {
			o := newOrdering(loudCascade(r, n, rateHz).Slots, rateHz)
			found, least, greatest := o.cost(o.best()), math.Inf(1), 0.0
			biquad.Orders(n, func(order []int) {
				c := o.cost(order)
				least, greatest = math.Min(least, c), math.Max(greatest, c)
			})
			cases++
			if found > least*(1+1e-6) {
				missed++
				if db := 10 * math.Log10(found/least); db > nearDB {
					t.Errorf("%d positions: %.2f dB above the best of all orders", n, db)
				}
			}
			gained += 10 * math.Log10(greatest/least)
		}
	}
	if 20*missed > cases {
		t.Errorf("%d of %d orders are not the best", missed, cases)
	}
	if gained/float64(cases) < 3 {
		t.Errorf("the best order is %.1f dB above the worst on average: the cases prove nothing", gained/float64(cases))
	}
}

// What the order is judged by is what counts: where levels are the L1 norms of what is reached there, and not a
// sine's, no order of the whole is more than 3 dB better. Half a bit is 3 dB: levels are whole bits.
func TestOrderIsGoodByNorms(t *testing.T) {
	const rateHz, withinDB = 48000.0, 3.0
	r := rand.New(rand.NewSource(22))
	judged := func(c biquad.Cascade[biquad.Digital]) float64 {
		s := biquad.System[biquad.Digital]{Common: c, Ways: []biquad.Way[biquad.Digital]{{Polarity: 1, Cascade: biquad.Cascade[biquad.Digital]{Gain: 1}}}}
		noise, sum := newOrdering(c.Slots, rateHz).atEnd(), 0.0
		for i, x := range Reaches(s, 0, 1)[:len(noise)] {
			if i == len(noise)-1 {
				x.Y = math.Max(1, x.Y)
			}
			sum += noise[i] * x.Y * x.Y
		}
		return 10 * math.Log10(sum)
	}
	for range 6 {
		c := loudCascade(r, 4, rateHz)
		in := func(order []int) biquad.Cascade[biquad.Digital] {
			return biquad.Cascade[biquad.Digital]{Gain: 1, Slots: biquad.Arranged(c.Slots, order)}
		}
		got, best := judged(in(newOrdering(c.Slots, rateHz).best())), math.Inf(1)
		biquad.Orders(4, func(order []int) { best = math.Min(best, judged(in(order))) })
		if got > best+withinDB {
			t.Errorf("noise and room %.2f dB, in the best order %.2f dB", got, best)
		}
	}
}

// The pairing of zeros with poles, with the order, against all pairings in all orders of up
// to five sections that take no more instructions: within a decibel of the least cost, and the response stays.
func TestPairingIsGood(t *testing.T) {
	const rateHz, withinDB = 48000.0, 1.0
	r := rand.New(rand.NewSource(23))
	gained, most := 0.0, 0.0
	steps := func(c biquad.Cascade[biquad.Digital]) (sum int) {
		for _, s := range c.Slots {
			sum += q31Format.steps(s)
		}
		return sum
	}
	for n := 2; n <= 5; n++ {
		for range max(1, 9-2*n) {
			var ds []biquad.Digital
			for len(ds) < n {
				if d := randomSection(r, rateHz).To(biquad.Delta); d.Order() == 2 && d.A[2] != 0 {
					ds = append(ds, d)
				}
			}
			all := func(zeros []int) biquad.Cascade[biquad.Digital] {
				c := biquad.Cascade[biquad.Digital]{Gain: 1}
				for i, k := range zeros {
					d := ds[i]
					d.B = ds[k].B
					c.Slots = append(c.Slots, biquad.Fixed(d, "ways.only"))
				}
				return c
			}
			turned := make([]int, n)
			for i := range turned {
				turned[i] = (i + 1) % n
			}
			before := all(turned)
			after := q31Format.paired(before, rateHz)
			cost := func(c biquad.Cascade[biquad.Digital]) float64 {
				o := newOrdering(q31Format.cascade(c, rateHz).Slots, rateHz)
				return 10 * math.Log10(o.cost(o.best()))
			}
			least := math.Inf(1)
			biquad.Orders(n, func(zeros []int) {
				words := q31Format.cascade(all(zeros), rateHz)
				if steps(words) > steps(q31Format.cascade(before, rateHz)) {
					return
				}
				o := newOrdering(words.Slots, rateHz)
				if n == 5 { // all orders of each are tried above
					least = math.Min(least, 10*math.Log10(o.cost(o.best())))
					return
				}
				biquad.Orders(n, func(order []int) { least = math.Min(least, 10*math.Log10(o.cost(order))) })
			})
			got := cost(after)
			if steps(q31Format.cascade(after, rateHz)) > steps(q31Format.cascade(before, rateHz)) {
				t.Errorf("%d sections in slower forms than before", n)
			}
			most = math.Max(most, got-least)
			gained += cost(before) - got
			for _, hz := range []float64{25, 400, 9000} {
				p := biquad.PointAt(hz, rateHz)
				was, is := complex(1, 0), complex(1, 0)
				for i := range n {
					was, is = was*before.Slots[i].Alt[0].At(p), is*after.Slots[i].Alt[0].At(p)
				}
				if math.Abs(biquad.DB(was)-biquad.DB(is)) > 1e-6 {
					t.Errorf("%g Hz: %.9f dB became %.9f dB", hz, biquad.DB(was), biquad.DB(is))
				}
			}
		}
	}
	t.Logf("at most %.2f dB above the least, %.1f dB gained in all", most, gained)
	if most > withinDB {
		t.Errorf("%.2f dB above the best pairing", most)
	}
	if gained < 10 {
		t.Errorf("%.1f dB gained in all: nothing is paired", gained)
	}
}
