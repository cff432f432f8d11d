package engine

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"bandwright/biquad"
)

// Chain is what is written into an engine for one output: sections one after another,
// each position with the words of its alternatives.
type Chain struct {
	Engine
	Positions []biquad.Slot[Words]
	// LevelDB is, for each position, how much lower its output is kept than the filters
	// have it (dB, 0 or negative), so that nothing inside clips which does not clip at the
	// output; the positions behind give it back.
	LevelDB []float64
	// BoundDBFS is, for each position, the greatest output that any input inside full
	// scale can cause, in any combination (dB re full scale): above 0 it may stop there.
	BoundDBFS []float64
	// Sines reports that positions inside are kept within full scale for full-scale sines,
	// not for every input: the words have no room for more.
	Sines bool
	// DelaySamples is the delay that an engine's sections cannot make.
	DelaySamples int
	order        []int // of the path's positions
}

// Refusal is why a chain cannot be written into an engine.
type Refusal struct {
	Position int
	Reason   string
}

// New writes a path, from the input to an output, for an engine. inputGain (linear) is
// the attenuation at the input. settings is the number of settings of the spec.
//
// Gains become part of sections. Each is scaled so that no input within full scale takes
// its output beyond it, by the L1 norm of the impulse response up to there in the worst
// combination; the last brings the level to what it has to be, so that only there full scale
// may be passed. Where the words cannot hold what the last has to give back, each is scaled
// for full-scale sines alone, by the greatest gain up to there (both norms: L. B. Jackson, On the
// interaction of roundoff noise and dynamic range in digital filters, Bell System Technical
// Journal 49(2), 1970).
func New(e Engine, path biquad.Cascade[biquad.Digital], inputGain, rateHz float64, settings int) (*Chain, *Refusal) {
	slots := path.Slots
	if len(slots) == 0 { // a gain alone
		slots = []biquad.Slot[biquad.Digital]{biquad.Fixed(biquad.Through(biquad.Direct))}
	}
	total := float64(path.Gain * inputGain)
	plain := e
	plain.Sequence = nil
	c, refusal := plain.usual(slots, total, rateHz, settings)
	if e.Sequence != nil && e.Sequence.weighs != nil {
		c = e.sequenced(e.Sequence, c, slots, total, rateHz, settings)
	}
	if c == nil {
		return nil, refusal
	}
	c.Engine = e
	c.DelaySamples = int(float64(path.DelayS*rateHz) + 0.5)
	return c, nil
}

// usual is the chain in the order of the filters, one moved.
func (e *Engine) usual(slots []biquad.Slot[biquad.Digital], total, rateHz float64, settings int) (*Chain, *Refusal) {
	var first *Refusal
	orders := e.orders(slots, total, rateHz, settings)
	for _, sines := range []bool{false, true} {
		for _, order := range orders {
			c := &Chain{Engine: *e, Sines: sines, order: order}
			refusal := c.write(biquad.Arranged(slots, order), total, rateHz, settings)
			if refusal == nil {
				return c, nil
			}
			if first == nil {
				first = refusal
			}
		}
	}
	return nil, first
}

// orders are the orders of positions to try, the quietest first: those with another
// position last. What comes last filters the noise of all others: a high-pass takes the DC
// away that rounding down leaves, a low-pass their treble. Orders that the words cannot hold
// even for sines are left out, unless all are.
func (e *Engine) orders(slots []biquad.Slot[biquad.Digital], total, rateHz float64, settings int) [][]int {
	type tried struct {
		order []int
		noise float64
	}
	n := len(slots)
	var all []tried
	for last := n - 1; last >= 0; last-- {
		o := tried{order: biquad.Moved(biquad.InPlace(n), last, n-1)}
		c := &Chain{Engine: *e, Sines: true}
		if c.write(biquad.Arranged(slots, o.order), total, rateHz, settings) != nil {
			continue
		}
		noise, dc := c.worstNoise(rateHz, rateHz/2, settings)
		o.noise = math.Hypot(noise, dc)
		all = append(all, o)
	}
	slices.SortStableFunc(all, func(a, b tried) int {
		return cmp.Compare(math.Round(biquad.GainDB(a.noise)*10), math.Round(biquad.GainDB(b.noise)*10))
	})
	out := [][]int{}
	for _, o := range all {
		out = append(out, o.order)
	}
	if len(out) == 0 {
		out = append(out, biquad.InPlace(n))
	}
	return out
}

// worstNoise is the noise from 20 Hz up, RMS re that of a full-scale sine, and the DC of rounding
// down re full scale, each in its worst combination.
func (c *Chain) worstNoise(rateHz, toHz float64, settings int) (noise, dc float64) {
	n := c.NewNoise(rateHz, orderFromHz, toHz)
	biquad.Each(biquad.Axes(c.Path(1, rateHz)), settings, func(comb biquad.Combination) {
		noise, dc = math.Max(noise, biquad.FromDB(n.DBFS(comb))), math.Max(dc, biquad.FromDB(n.RestDBFS(comb)))
	})
	return noise, dc
}

// byPosition are the words, position by position.
func (c *Chain) byPosition() (out [][]Words) {
	for _, p := range c.Positions {
		out = append(out, p.Alt)
	}
	return out
}

// write fills a chain with positions in an order whose gains come to total.
func (c *Chain) write(slots []biquad.Slot[biquad.Digital], total, rateHz float64, settings int) *Refusal {
	before := 1.0 // the scale up to here
	for i := range slots {
		last := i == len(slots)-1
		scale := total
		if !last {
			scale = math.Min(1, 1/c.norm(biquad.Cascade[biquad.Digital]{Gain: 1, Slots: slots[:i+1]}, rateHz, settings)) * c.spare()
			scale = math.Min(scale, before*c.mostScale(&slots[i]))
		}
		p, refusal := c.position(&slots[i], scale/before, rateHz, i)
		if refusal != nil {
			return refusal
		}
		c.Positions = append(c.Positions, p)
		// The words are not quite the filters: the bound is theirs.
		for n := 0; !last && n < rescalings; n++ {
			over := c.norm(c.upTo(i), rateHz, settings)
			if over <= 1 {
				break
			}
			scale /= over
			if c.Positions[i], refusal = c.position(&slots[i], scale/before, rateHz, i); refusal != nil {
				return refusal
			}
		}
		c.LevelDB = append(c.LevelDB, biquad.GainDB(scale))
		before = scale
	}
	c.LevelDB[len(slots)-1] = 0
	return c.bounds(settings)
}

// norm is what sections are scaled by.
func (c *Chain) norm(part biquad.Cascade[biquad.Digital], rateHz float64, settings int) float64 {
	if c.Sines {
		return peakOf(part, rateHz, settings)
	}
	return boundOf(part, settings)
}

// peakOf is the greatest gain of a cascade at any frequency in any combination.
func peakOf(part biquad.Cascade[biquad.Digital], rateHz float64, settings int) float64 {
	hz := biquad.Spaced(1, rateHz/2, errorPoints)[:errorPoints-1]
	for _, s := range part.Slots {
		for _, d := range s.Alt {
			hz = append(hz, around(d, rateHz, 0, rateHz/2)...)
		}
	}
	h, on := make([]complex128, len(hz)), biquad.OnDigital(part, rateHz, hz)
	worst := 0.0
	biquad.Each(biquad.Axes(part), settings, func(comb biquad.Combination) {
		on.Response(h, comb)
		for _, v := range h {
			worst = math.Max(worst, math.Sqrt(biquad.Power(v)))
		}
	})
	return worst
}

// spare is the share of full scale that positions are scaled to: where orders were weighed
// before they are written a little less than all, so that the scale need not follow the words, which
// would then fall otherwise than weighed.
func (e *Engine) spare() float64 {
	if e.Sequence == nil || e.Sequence.weighs == nil {
		return 1
	}
	return 1 - 1.0/1024
}

// rescalings is how often a position's scale follows its words: after the first what is
// left is a rounding of the words.
const rescalings = 4

// mostScale is the largest scale at which the words hold a position's numerators.
func (e *Engine) mostScale(s *biquad.Slot[biquad.Digital]) float64 {
	most := 0.0
	for _, d := range s.Alt {
		for _, b := range d.To(biquad.Direct).B {
			most = math.Max(most, math.Abs(b))
		}
	}
	return (e.Range() - e.Step()) / most
}

// upTo is the words of the positions up to one.
func (c *Chain) upTo(position int) biquad.Cascade[biquad.Digital] {
	part := c.Path(1, 1)
	return biquad.Cascade[biquad.Digital]{Gain: 1, Slots: part.Slots[:position+1]}
}

// boundOf is the greatest L1 norm of a cascade in any combination.
func boundOf(c biquad.Cascade[biquad.Digital], settings int) float64 {
	worst := 0.0
	biquad.Each(biquad.Axes(c), settings, func(comb biquad.Combination) {
		worst = math.Max(worst, math.Abs(biquad.L1(c, comb)))
	})
	return worst
}

// position is the words of a position whose sections are scaled.
func (c *Chain) position(s *biquad.Slot[biquad.Digital], scale, rateHz float64, at int) (biquad.Slot[Words], *Refusal) {
	out := biquad.Slot[Words]{From: s.From, By: s.By, Pick: s.Pick, Method: s.Method, How: s.How}
	for k, d := range s.Alt {
		w, d, wide := c.words(d, scale)
		if wide != nil {
			return out, &Refusal{at, fmt.Sprintf("%s of %s is %.4g, and words of %d bits with %d behind the point stay below %g",
				wide.name, s.Line(k), wide.value, c.Word, c.Fraction, c.Range())}
		}
		if !c.stable(w) {
			return out, &Refusal{at, fmt.Sprintf("with %d bits behind the point %s would not be stable", c.Fraction, s.Line(k))}
		}
		if e := c.sectionError(d, w, rateHz); k == 0 || e.TotalDB > out.Error.TotalDB {
			out.Error = e
		}
		out.Alt = append(out.Alt, w)
	}
	return out, nil
}

// tooWide is a coefficient that words do not hold.
type tooWide struct {
	name  string
	value float64
}

// words are those of a section whose numerator is scaled, and what they stand for.
func (e *Engine) words(d biquad.Digital, scale float64) (w Words, scaled biquad.Digital, wide *tooWide) {
	d = d.To(biquad.Direct)
	for i := range d.B {
		d.B[i] *= scale
	}
	for i, v := range [5]float64{d.B[0], d.B[1], d.B[2], d.A[1], d.A[2]} {
		var fits bool
		if w[i], fits = e.word(v); !fits {
			return w, d, &tooWide{coefficients[i], v}
		}
	}
	return w, d, nil
}

// stable reports whether a section's poles lie inside the unit circle, exactly: the
// triangle of stability of a1 and a2 (A. V. Oppenheim, R. W. Schafer, Discrete-Time Signal
// Processing, section 6.10; from memory), open at its sides.
func (e *Engine) stable(w Words) bool {
	one, a1, a2 := int64(1)<<e.Fraction, w[3], w[4]
	return one+a1+a2 > 0 && one-a1+a2 > 0 && a2 < one
}

// coefficients are the names of Words.
var coefficients = [5]string{"b0", "b1", "b2", "a1", "a2"}

// digital is the section that words are.
func (e *Engine) digital(w Words) biquad.Digital {
	return biquad.Digital{
		B: [3]float64{e.value(w[0]), e.value(w[1]), e.value(w[2])},
		A: [3]float64{1, e.value(w[3]), e.value(w[4])},
	}
}

// Path is what the words amount to, the attenuation at the input taken out again.
func (c *Chain) Path(inputGain, rateHz float64) biquad.Cascade[biquad.Digital] {
	out := biquad.Cascade[biquad.Digital]{Gain: 1 / inputGain, DelayS: float64(c.DelaySamples) / rateHz}
	for _, p := range c.Positions {
		s := biquad.Slot[biquad.Digital]{From: p.From, By: p.By, Pick: p.Pick, Method: p.Method, How: p.How, Error: p.Error}
		for _, w := range p.Alt {
			s.Alt = append(s.Alt, c.digital(w))
		}
		out.Slots = append(out.Slots, s)
	}
	return out
}

// Integers are a section's words as whole numbers, all of the fraction's bits behind the point.
func (e *Engine) Integers(d biquad.Digital) (biquad.Integers, bool) {
	var w biquad.Integers
	for k := range d.B {
		w.B[k], w.A[k] = int(math.Ldexp(d.B[k], e.Fraction)), int(math.Ldexp(d.A[k], e.Fraction))
		w.BBits[k], w.ABits[k] = e.Fraction, e.Fraction
	}
	return w, true
}

// bounds fills BoundDBFS, and refuses an accumulator that may wrap: one that does makes
// full scale of one sign into that of the other.
func (c *Chain) bounds(settings int) *Refusal {
	for i := range c.Positions {
		c.BoundDBFS = append(c.BoundDBFS, biquad.GainDB(boundOf(c.upTo(i), settings)))
		for k, w := range c.Positions[i].Alt {
			if need := c.sumBits(w); need > c.Accumulator {
				return &Refusal{i, fmt.Sprintf("an accumulator of %d bits may wrap in %s, whose coefficients add up to %.3g: that takes %d bits",
					c.Accumulator, c.Positions[i].Line(k), c.size(w), need)}
			}
		}
	}
	return nil
}

// size is the sum of the magnitudes of a section's coefficients.
func (e *Engine) size(w Words) (sum float64) {
	for _, v := range w {
		sum += math.Abs(e.value(v))
	}
	return sum
}

// sumBits is the width of accumulator that a section takes. Samples are limited to full scale,
// so that no sum of products and half a sample is beyond this, whatever went before.
func (e *Engine) sumBits(w Words) int {
	return e.Data + e.Fraction + int(math.Floor(math.Log2(e.size(w)+math.Ldexp(1, -e.Data)))) + 1
}
