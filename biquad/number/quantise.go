package number

import (
	"math"
	"slices"

	"bandwright/biquad"
)

const (
	// epsilon is float64's distance from 1 to the next number: the precision in
	// which ideal coefficients arrive.
	epsilon = 1.0 / (1 << 52)
	// dust is the size, relative to the terms that a coefficient is the sum of,
	// below which it is what rounding left of an exact zero. A change of form
	// adds three terms of at most one rounding each; the designers' own
	// rounding gets as much again.
	dust = 8 * epsilon
	// dustShare keeps the snapping honest where genuine coefficients are as
	// small as dust, at corners of a millionth of the rate: a numerator
	// coefficient of a section in powers of 1/(z∓1) is dust only where it also
	// lies 80 dB below its partner in the denominator, which is the section's
	// level at the frequency that the coefficient decides.
	dustShare = 1e-4
)

// Quantise keeps every alternative of a position in the words of the format, with
// the computed error, all in the one form whose worst error is least, so that a
// switch never changes the form; an earlier form of the row's is kept where its
// error is below the row's EnoughDB. A position of mere constants stays direct: there
// it has no memory. The sections that come out are stable: a form that rounding
// makes unstable is passed over, and where every form is, the poles are pulled
// inwards as little as makes one stable.
func (f Format) Quantise(slot biquad.Slot[biquad.Digital], rateHz float64) biquad.Slot[biquad.Digital] {
	forms := []biquad.Form{biquad.Direct}
	for _, d := range slot.Alt {
		if d.Order() > 0 {
			forms = f.Forms
		}
	}
	out, refs := slot, aims(slot.Alt, rateHz)
	var best biquad.SectionError
	var passed []biquad.SectionError
	found := false
	for _, form := range forms {
		alt, err, stable := f.keep(refs, form)
		if slices.ContainsFunc(alt, f.beyond) {
			continue
		}
		if !stable || found && (err.TotalDB >= best.TotalDB || f.EnoughDB != 0 && best.TotalDB < f.EnoughDB) {
			passed = append(passed, err)
			continue
		}
		if found {
			passed = append(passed, best)
		}
		found, best, out.Alt = true, err, alt
	}
	switch {
	case !found:
		out.Alt, best = f.pulled(refs)
	case f.section != nil && best.TotalDB > f.EnoughDB:
		out.Alt, best = f.adjusted(refs, out.Alt)
	}
	best.Passed = passed
	out.Error = best
	return out
}

// keep rounds sections in one form. The error is the worst section's.
func (f Format) keep(ideal []aim, form biquad.Form) (alt []biquad.Digital, worst biquad.SectionError, stable bool) {
	stable = true
	for i, r := range ideal {
		q := f.rounded(r.ideal, form)
		alt = append(alt, q)
		if !(q.PoleMargin() > 0) {
			stable = false
			worst = unstable(form)
			continue
		}
		if e := f.compared(r, q).SectionError; stable && (i == 0 || e.TotalDB > worst.TotalDB) {
			worst = e
		}
	}
	return alt, worst, stable
}

// adjusted is sections in words with those next to theirs where they come nearer: rounding each by itself
// leaves what two of them together could do better, such as b1 and a1 of a narrow cut.
func (f Format) adjusted(ideal []aim, alt []biquad.Digital) (out []biquad.Digital, worst biquad.SectionError) {
	for i, q := range alt {
		e := f.compared(ideal[i], q)
		for better := true; better; {
			better = false
			for _, next := range neighbours(q) {
				if next != f.inWords(next) || f.beyond(next) || !(next.PoleMargin() > 0) {
					continue
				}
				if n, below := f.comparedBelow(ideal[i], next, e.total, e.furthest); below && n.TotalDB < e.TotalDB-worthAdjusting {
					q, e, better = next, n, true
				}
			}
		}
		if out = append(out, q); i == 0 || e.TotalDB > worst.TotalDB {
			worst = e.SectionError
		}
	}
	return out, worst
}

// worthAdjusting is what a step of adjusted has to gain, in dB.
const worthAdjusting = 0.1

// rounded is the section in a form and in words.
func (f Format) rounded(d biquad.Digital, form biquad.Form) biquad.Digital {
	q := d.To(form)
	n, h := d.Order(), form.Origin()-d.Form.Origin()
	b, a := terms(d.B, n, h), terms(d.A, n, h)
	for k := 1; k <= n; k++ {
		switch {
		case math.Abs(q.B[k]) > dust*b[k]:
		case form.Origin() == 0 || math.Abs(q.B[k]) <= dustShare*math.Abs(q.A[k]):
			q.B[k] = 0
		}
		// A denominator without its last coefficient has a pole at the form's
		// origin: harmless in the direct form only.
		if form.Origin() == 0 && math.Abs(q.A[k]) <= dust*a[k] {
			q.A[k] = 0
		}
	}
	return f.inWords(q)
}

// inWords is a section whose coefficients are the nearest words.
func (f Format) inWords(q biquad.Digital) biquad.Digital {
	if f.section != nil {
		return f.section(q)
	}
	for k := range q.B {
		q.B[k], q.A[k] = f.Round(q.B[k]), f.Round(q.A[k])
	}
	return q
}

// beyond reports that a section has a coefficient that no word is large enough for.
func (f Format) beyond(q biquad.Digital) bool {
	return f.tooLarge != nil && f.tooLarge(q)
}

// terms is the size of the terms that the coefficients in powers of t are
// summed from when c0·(t+h)ⁿ + … is written out. Without a change of variable
// a coefficient is measured against all of them.
func terms(c [3]float64, n int, h float64) [3]float64 {
	x, y, z, h := math.Abs(c[0]), math.Abs(c[1]), math.Abs(c[2]), math.Abs(h)
	if h == 0 {
		return [3]float64{x, x + y + z, x + y + z}
	}
	if n == 1 {
		return [3]float64{x, y + h*x, 0}
	}
	return [3]float64{x, y + 2*h*x, h*h*x + h*y + z}
}

// pullSteps bounds the search of pulled: the last step moves every pole to the
// origin.
const pullSteps = 60

// pulled keeps sections in the direct form with the poles of the unstable ones
// scaled towards the origin by 1 - 2⁻ᵏ, the largest k that is stable.
func (f Format) pulled(ideal []aim) ([]biquad.Digital, biquad.SectionError) {
	var alt []biquad.Digital
	worst := biquad.SectionError{Form: biquad.Direct}
	for i, r := range ideal {
		d := r.ideal
		q := f.rounded(d, biquad.Direct)
		for k := pullSteps; k >= 0 && !(q.PoleMargin() > 0); k-- {
			inwards := 1 - math.Ldexp(1, -k)
			p := d.To(biquad.Direct)
			p.A[1], p.A[2] = p.A[1]*inwards, p.A[2]*inwards*inwards
			q = f.rounded(p, biquad.Direct)
		}
		alt = append(alt, q)
		if e := f.compared(r, q).SectionError; i == 0 || e.TotalDB > worst.TotalDB {
			worst = e
		}
	}
	worst.Pulled = true
	return alt, worst
}

// System keeps a whole system in the words of the format, with the computed
// error in every position. The kernel multiplies the input once by the word
// nearest to inputGain × the common gain, and the common gain that comes back
// is what that amounts to over inputGain (linear, > 0); a way's gain is a word.
func (f Format) System(ideal biquad.System[biquad.Digital], inputGain, rateHz float64) biquad.System[biquad.Digital] {
	return f.kept(f.relieved(ideal, inputGain, rateHz), inputGain, rateHz)
}

// Systems keeps a spec's systems, one a rate, and gives the format as it is fitted
// to all of them: of fixed-point words so many bits stay free above full scale that
// no input inside full scale makes any word wrap, in any combination of settings, and
// zeros are paired with poles, and positions ordered, for little noise and room. ratesHz (Hz) are the rates in the order of the systems.
func (f Format) Systems(ideal []biquad.System[biquad.Digital], inputGain float64, ratesHz []float64) (Format, []biquad.System[biquad.Digital]) {
	if f.fitted == nil {
		var out []biquad.System[biquad.Digital]
		for i, s := range ideal {
			out = append(out, f.System(s, inputGain, ratesHz[i]))
		}
		return f, out
	}
	even, kept := f.allInOrder(ideal, inputGain, ratesHz, f.paired)
	fitted, out, levelled := f.fitTo(even, kept, inputGain, ratesHz)
	if levelled {
		return fitted, out
	}
	// An exchange may ask for a level that no words hold, as where the poles of a low corner of high Q get zeros
	// far above it: what was not exchanged may be held.
	asMade := func(c biquad.Cascade[biquad.Digital], _ float64) biquad.Cascade[biquad.Digital] { return c }
	even, kept = f.allInOrder(ideal, inputGain, ratesHz, asMade)
	if other, unpaired, levelled := f.fitTo(even, kept, inputGain, ratesHz); levelled || other.GuardBits < fitted.GuardBits {
		return other, unpaired
	}
	return fitted, out
}

// allInOrder is inOrder of all systems, whose zeros are paired with poles in such a way.
func (f Format) allInOrder(ideal []biquad.System[biquad.Digital], inputGain float64, ratesHz []float64, paired func(biquad.Cascade[biquad.Digital], float64) biquad.Cascade[biquad.Digital]) (even, kept []biquad.System[biquad.Digital]) {
	for i, s := range ideal {
		s = each(s, func(c biquad.Cascade[biquad.Digital]) biquad.Cascade[biquad.Digital] { return paired(c, ratesHz[i]) })
		s, words := f.inOrder(evened(s, ratesHz[i]), inputGain, ratesHz[i])
		even, kept = append(even, s), append(kept, words)
	}
	return even, kept
}

// inOrder is a system, unrounded and in words, with the positions of each cascade in the best order.
func (f Format) inOrder(ideal biquad.System[biquad.Digital], inputGain, rateHz float64) (_, kept biquad.System[biquad.Digital]) {
	kept = f.kept(ideal, inputGain, rateHz)
	var orders [][]int
	kept = each(kept, func(c biquad.Cascade[biquad.Digital]) biquad.Cascade[biquad.Digital] {
		order := newOrdering(c.Slots, rateHz).best()
		orders = append(orders, order)
		c.Slots = biquad.Arranged(c.Slots, order)
		return c
	})
	at := 0
	ideal = each(ideal, func(c biquad.Cascade[biquad.Digital]) biquad.Cascade[biquad.Digital] {
		c.Slots = biquad.Arranged(c.Slots, orders[at])
		at++
		return c
	})
	return ideal, kept
}

// fitTo is the format with the fewest guard bits with which there are levels for all systems, and the systems
// with these. Where there are none, as a gain is beyond words, levels stay as they are, and it reports so.
func (f Format) fitTo(ideal, kept []biquad.System[biquad.Digital], inputGain float64, ratesHz []float64) (_ Format, _ []biquad.System[biquad.Digital], levelled bool) {
	reached, made := make([][][]Reach, len(kept)), make([][]positionsMade, len(kept))
	for i, s := range kept {
		made[i] = append(made[i], positionsMade{})
		for k := range s.Ways {
			made[i] = append(made[i], positionsMade{})
			reached[i] = append(reached[i], Reaches(Arranged(s), k, inputGain))
		}
	}
	even, out := make([]biquad.System[biquad.Digital], len(kept)), make([]biquad.System[biquad.Digital], len(kept))
	found := false
	for guard := 1; guard <= mostGuard && !found; guard++ {
		found = true
		for i := range kept {
			if found {
				even[i], out[i], found = f.fitted(guard).levelled(ideal[i], kept[i], inputGain, ratesHz[i], reached[i], made[i])
			}
		}
	}
	for i := range kept {
		if !found {
			even[i] = f.lifted(ideal[i], inputGain)
			out[i] = f.kept(even[i], inputGain, ratesHz[i])
		}
	}
	f = f.fitted(f.guardFor(out, inputGain))
	for i := range out {
		out[i].Common.Gain = f.commonGain(even[i], inputGain)
	}
	return f, out, found
}

// mostGuard is up to how many guard bits levels are looked for.
const mostGuard = 24

// each is a system with something done to each of its cascades.
func each(s biquad.System[biquad.Digital], do func(biquad.Cascade[biquad.Digital]) biquad.Cascade[biquad.Digital]) biquad.System[biquad.Digital] {
	s.Common = do(s.Common)
	s.Ways = slices.Clone(s.Ways)
	for k := range s.Ways {
		s.Ways[k].Cascade = do(s.Ways[k].Cascade)
	}
	return s
}

func (f Format) kept(ideal biquad.System[biquad.Digital], inputGain, rateHz float64) biquad.System[biquad.Digital] {
	var q biquad.System[biquad.Digital]
	q.Common = f.cascade(ideal.Common, rateHz)
	q.Common.Gain = f.commonGain(ideal, inputGain)
	for _, w := range ideal.Ways {
		w.Cascade = f.cascade(w.Cascade, rateHz)
		w.Gain = f.Round(w.Gain)
		q.Ways = append(q.Ways, w)
	}
	return q
}

// commonGain is what the input's word amounts to beside inputGain.
func (f Format) commonGain(s biquad.System[biquad.Digital], inputGain float64) float64 {
	return math.Ldexp(f.InputWord(s, inputGain), f.GuardBits) / inputGain
}

func (f Format) cascade(c biquad.Cascade[biquad.Digital], rateHz float64) biquad.Cascade[biquad.Digital] {
	slots := c.Slots
	c.Slots = nil
	for _, s := range slots {
		c.Slots = append(c.Slots, f.Quantise(s, rateHz))
	}
	return c
}
