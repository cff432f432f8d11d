package diagnosis

import (
	"cmp"
	"math"
	"math/cmplx"
	"slices"

	"bandwright/biquad"
	"bandwright/compiler/verify"
)

// Diagnosis is what is likely of one unit.
type Diagnosis struct {
	// LevelDB (dB) and DelaysS (s), by way looked at, are those of the measurement over the nominal unit's; 0 where
	// they were not fitted. Delays differ where each way was said to have its own.
	LevelDB float64
	DelaysS []float64
	// Nothing is the likelihood (0 to 1) that nothing is wrong.
	Nothing float64
	// Other is the likelihood that it is none of these: that more than one thing is wrong, or
	// something that is not looked for.
	Other float64
	// Hypotheses are what may be wrong, the likeliest first. With Nothing and Other their
	// likelihoods add up to 1 but for what is too unlikely to be named.
	Hypotheses []Hypothesis
}

// Found reports whether something is wrong, more likely than not.
func (d *Diagnosis) Found() bool { return d.Nothing < 0.5 }

// Unexplained reports whether it is more likely than not that nothing that is looked for fits.
func (d *Diagnosis) Unexplained() bool { return d.Other > 0.5 }

// Otherwise is how likely it is that a unit is set or connected otherwise than was said.
func (d *Diagnosis) Otherwise() float64 {
	sum := 0.0
	for i := range d.Hypotheses {
		if len(d.Hypotheses[i].Parts) == 0 {
			sum += d.Hypotheses[i].Likelihood
		}
	}
	return sum
}

// Hypothesis is one thing that may be wrong.
type Hypothesis struct {
	Likelihood float64 // 0 to 1
	// Parts are the references of a fault of parts, or of a trimmer that is turned, nil of others; Kind and Factor (times its
	// value) say what is wrong with the first.
	Parts  []string
	Kind   Kind
	Factor float64
	// Alike are other faults that no measurement of these outputs tells from it: their
	// likelihoods are in its own.
	Alike []Hypothesis
	// Inverted are ways with the wrong polarity, Swapped two that were exchanged, by index;
	// C is the combination that the unit is in where that is not what was said, Text an
	// alternative with a text of its own.
	Inverted, Swapped []int
	C                 verify.Combination
	Text              string

	fault    Fault
	lnWeight float64
	square   float64
	h        []complex128 // what it predicts, by place
}

const (
	// good, structural and wrong are how likely it is beforehand that a unit is good, that it is
	// connected or set otherwise than was said, and that a part is wrong.
	good, structural, wrong = 0.97, 0.01, 0.02
	// strange is how likely it is beforehand that something else is wrong, and strangeScale how far (in
	// standard deviations of good units) that moves what is measured at least.
	strange, strangeScale = 0.002, 2.0
	// rarer is how many times less likely alternatives are that are no other setting.
	rarer = 20.0
	// offScale is how far parts are off that are off (a ratio of 1.35), as the mean of an
	// exponential distribution of the logarithm.
	offScale = 0.3
	// sought is how many parts are looked at closely; of those behind them up to alsoSought are told that do the same as
	// one of these, where they fit as well but for so much: many silence a way.
	sought, alsoSought, alsoSquare = 16, 96, 10.0
	// same (dB) and sameDeg (degrees) are what no measurement of a desk tells apart.
	same, sameDeg = 0.02, 0.15
	// silent is how far above the floor (linear) a way is silent all the same: how silent hangs on
	// the ohms of a short.
	silent = 10.0
)

// coarse are the factors at which every part is tried first, by natural logarithm.
var coarse = []float64{-2.3, -1.6, -1.1, -0.7, -0.45, -0.25, -0.14, -0.07, 0.07, 0.14, 0.25, 0.45, 0.7, 1.1, 1.6, 2.3}

// Diagnose says what is likely of a unit, from readings of the ways that the bench is for.
func (x *Bench) Diagnose(readings []Reading) (*Diagnosis, error) {
	t := x.take(readings)
	t.whole = x.spaceOf(nil, t)
	d := &Diagnosis{DelaysS: t.delays, LevelDB: biquad.GainDB(t.gain)}
	nothing := Hypothesis{lnWeight: math.Log(good)}
	nothing.square = t.whole.square(x.deviation(nil, t, x.nominalAt))
	nothing.lnWeight -= (nothing.square + t.whole.lnDet) / 2
	all, err := x.structures(t, readings, nothing.square)
	if err != nil {
		return nil, err
	}
	if x.board != nil && x.telling(t, nothing.square) {
		all = append(all, x.parts(t, nothing.square)...)
	}
	x.weigh(d, nothing, all, float64(len(t.whole.root)))
	return d, x.drive(d)
}

// more is the weight (its logarithm) of something else being wrong beside a hypothesis: that moves all n figures at
// random, by as many standard deviations as fit what the hypothesis leaves best.
func (h *Hypothesis) more(n float64) float64 {
	scale := math.Max(strangeScale*strangeScale, h.square/n)
	return h.lnWeight + math.Log(strange) + (h.square-n*math.Log(scale)-h.square/scale)/2
}

// telling reports whether some part may be wrong at all: where no deviation of one, to the first
// order, brings a measurement much nearer, and it is as near as those of good units, none is.
func (x *Bench) telling(t *taken, square float64) bool {
	const enough = 8
	if !t.whole.fits(square) {
		return true
	}
	y := x.deviation(nil, t, x.nominalAt)
	t.whole.square(y) // leaves y in standard deviations
	for _, s := range x.slopes {
		s = slices.Clone(s)
		t.whole.square(s)
		along, length := 0.0, 0.0
		for i, v := range s {
			along, length = along+v*y[i], length+v*v
		}
		if length > 0 && along*along > enough*length {
			return true
		}
	}
	return false
}

func (x *Bench) nominalAt(_ int, at place) complex128 { return x.nominal[at.column][at.f] }

// squareOf is how far a measurement is from what a fault makes of the board, in the space of
// the good one.
func (x *Bench) squareOf(d []float64, t *taken, f *Fault) float64 {
	return t.whole.square(x.deviation(d, t, func(_ int, at place) complex128 { return x.response(at, f) }))
}

// parts are the hypotheses of one wrong part, or two exchanged ones.
func (x *Bench) parts(t *taken, nothing float64) []Hypothesis {
	type tried struct {
		Fault
		square float64
	}
	var all []tried
	buf := x.deviation(nil, t, x.nominalAt)
	for i := range x.faults {
		if f := &x.faults[i]; x.touches(f) {
			all = append(all, tried{*f, x.squareOf(buf, t, f)})
		}
	}
	for p := range x.Parts {
		best := tried{square: math.Inf(1)}
		for _, u := range coarse {
			f := off(p, u)
			if !x.touches(&f) {
				break
			}
			if q := x.squareOf(buf, t, &f); q < best.square {
				best = tried{f, q}
			}
		}
		if best.square < nothing {
			all = append(all, best)
		}
	}
	slices.SortStableFunc(all, func(a, b tried) int { return cmp.Compare(a.square, b.square) })
	var out []Hypothesis
	for i, c := range all {
		if i < sought {
			out = append(out, x.hypothesis(t, c.Fault))
			continue
		}
		if i == alsoSought || c.square > all[0].square+alsoSquare {
			break
		}
		if h, ok := x.likeOne(out[:sought], c.Fault); ok {
			out = append(out, h)
		}
	}
	return out
}

// likeOne is a fault that was not looked at closely and does what one does that was, such as silencing a way; false of
// one that does not.
func (x *Bench) likeOne(seen []Hypothesis, f Fault) (Hypothesis, bool) {
	h := Hypothesis{Kind: f.Kind, fault: f, Factor: f.factors[0], Parts: x.refs(&f), h: make([]complex128, len(x.places))}
	for i, at := range x.places {
		h.h[i] = x.response(at, &f)
	}
	for i := range seen {
		if x.alike(&seen[i], &h) {
			h.square, h.lnWeight = seen[i].square, seen[i].lnWeight+math.Log(prior[f.Kind]/prior[seen[i].Kind])
			return h, true
		}
	}
	return h, false
}

// refs are the references of the parts of a fault.
func (x *Bench) refs(f *Fault) []string {
	var out []string
	for _, p := range f.parts {
		if p >= 0 {
			out = append(out, x.Parts[p].Ref)
		}
	}
	return out
}

// touches reports whether a fault does anything where the board is looked at.
func (x *Bench) touches(f *Fault) bool {
	most := 0.0
	for i := 0; i < len(x.places); i += 3 {
		h := x.nominalAt(i, x.places[i])
		most = math.Max(most, cmplx.Abs(x.response(x.places[i], f)/h-1))
	}
	return most > 1e-4
}

// hypothesis looks at a fault closely: the amount of a deviation is sought, and what good parts do
// is that of a board with the fault.
func (x *Bench) hypothesis(t *taken, f Fault) Hypothesis {
	h := Hypothesis{Kind: f.Kind, fault: f}
	lnPrior := math.Log(wrong / float64(len(x.Parts)) * prior[f.Kind])
	buf := x.deviation(nil, t, x.nominalAt)
	if f.Kind == Off {
		u := math.Log(f.factors[0])
		at := func(u float64) float64 { g := off(f.parts[0], u); return x.squareOf(buf, t, &g) }
		reach := math.Max(0.12, math.Abs(u)*0.4)
		u = biquad.Summit(u-reach, u+reach, 14, func(u float64) float64 { return -at(u) })
		f = off(f.parts[0], u)
		const step = 0.004
		curve := (at(u+step) + at(u-step) - 2*at(u)) / (step * step) / 2
		sigma := math.Min(0.5, 1/math.Sqrt(math.Max(curve, 1)))
		lnPrior += math.Log(sigma*math.Sqrt(2*math.Pi)/(2*offScale)) - math.Abs(u)/offScale
	} else if f.Kind == Exchanged {
		lnPrior -= math.Log(3) // each part has some neighbours
	}
	h.fault, h.Factor = f, f.factors[0]
	space := x.spaceOf(&f, t)
	h.h = make([]complex128, len(x.places))
	h.square = space.square(x.deviation(buf, t, func(i int, at place) complex128 {
		h.h[i] = x.response(at, &f)
		return h.h[i]
	}))
	h.lnWeight = lnPrior - (h.square+space.lnDet)/2
	h.Parts = x.refs(&f)
	return h
}

// weigh turns weights into likelihoods and gathers what cannot be told apart.
func (x *Bench) weigh(d *Diagnosis, nothing Hypothesis, all []Hypothesis, n float64) {
	top := math.Max(nothing.lnWeight, nothing.more(n))
	for i := range all {
		top = math.Max(top, math.Max(all[i].lnWeight, all[i].more(n)))
	}
	d.Other = exp(nothing.more(n) - top)
	for i := range all {
		d.Other += exp(all[i].more(n) - top)
	}
	total := exp(nothing.lnWeight-top) + d.Other
	for i := range all {
		all[i].Likelihood = exp(all[i].lnWeight - top)
		total += all[i].Likelihood
	}
	d.Nothing, d.Other = exp(nothing.lnWeight-top)/total, d.Other/total
	slices.SortStableFunc(all, func(a, b Hypothesis) int { return cmp.Compare(b.Likelihood, a.Likelihood) })
	for _, h := range all {
		h.Likelihood /= total
		k := slices.IndexFunc(d.Hypotheses, func(o Hypothesis) bool { return x.alike(&o, &h) })
		if k >= 0 {
			o := &d.Hypotheses[k]
			o.Likelihood += h.Likelihood
			if !o.again(&h) && !slices.ContainsFunc(o.Alike, func(o Hypothesis) bool { return o.again(&h) }) {
				o.Alike = append(o.Alike, h)
			}
			continue
		}
		d.Hypotheses = append(d.Hypotheses, h)
	}
	slices.SortStableFunc(d.Hypotheses, func(a, b Hypothesis) int { return cmp.Compare(b.Likelihood, a.Likelihood) })
}

// again reports whether two hypotheses are of one part that has some other value, found twice: ten times its own is
// among those that are tried without an amount.
func (h *Hypothesis) again(o *Hypothesis) bool {
	value := func(h *Hypothesis) bool {
		return len(h.Parts) == 1 && (h.Kind == Off || h.Kind == TenTimes || h.Kind == Tenth)
	}
	return value(h) && value(o) && h.Parts[0] == o.Parts[0] && math.Abs(math.Log(h.Factor/o.Factor)) < 0.1
}

// alike reports whether two faults of parts make the same of every response looked at, but for
// level and delay where these are fitted.
func (x *Bench) alike(a, b *Hypothesis) bool {
	if a.h == nil || b.h == nil || !slices.Equal(a.Swapped, b.Swapped) {
		return false
	}
	level, n := 0.0, 0.0
	ratio := func(i int) complex128 {
		floor := x.places[i].floor * silent
		return (a.h[i] + complex(floor, 0)) / (b.h[i] + complex(floor, 0))
	}
	if x.FitLevel {
		for i := range a.h {
			level, n = level+biquad.DB(ratio(i)), n+1
		}
		level /= n
	}
	for i := range a.h {
		r := ratio(i)
		if math.Abs(biquad.DB(r)-level) > same || x.Phased && math.Abs(cmplx.Phase(r)) > sameDeg*math.Pi/180 {
			return false
		}
	}
	return true
}

// exp is e to the power of x, in a way that no processor does differently.
func exp(x float64) float64 { return math.Exp2(x / math.Ln2) }
