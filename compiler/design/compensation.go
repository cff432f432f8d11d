package design

import (
	"fmt"
	"math"

	"bandwright/biquad"
	"bandwright/compiler/language"
	"bandwright/compiler/prototype"
)

// The values of phase-compensation.
const (
	compensateNone    = "none"
	compensateAllPass = "all-pass"
	compensateExact   = "exact"
)

// compensate adds the sections of the spec's phase-compensation to the ways.
func (r *resolved) compensate(to *biquad.System[biquad.Analog]) []language.Fault {
	mode := r.spec.PhaseCompensation
	if mode == compensateNone {
		return nil
	}
	var faults []language.Fault
	for k, x := range r.crossovers {
		if len(r.spec.Ways) == 2 {
			break // nothing beside the two ways to compensate
		}
		if problem := r.unsummable(x); problem != "" {
			faults = append(faults, r.spec.Fault(language.Error, x.Pos,
				"phase-compensation: "+problem,
				"use LR crossovers (orders 2, 6 and 10 with one of the two ways inverted) or butterworth of odd order, "+
					"the same on both sides, or phase-compensation: none"))
			continue
		}
		for i := range to.Ways {
			for _, s := range r.compensation(x, i, mode) {
				w := &to.Ways[i]
				w.Slots = append(w.Slots, biquad.Fixed(s, fmt.Sprintf("crossovers[%d] phase-compensation", k)))
			}
		}
	}
	return faults
}

// compensation is what way i needs of crossover x, which may be nothing: the
// crossover's all-pass where x does not touch the way, or, in exact mode above
// it, its high-pass, as if the ways had been split off one after another.
func (r *resolved) compensation(x pair, i int, mode string) []biquad.Analog {
	switch {
	case mode == compensateNone || i == x.Lower || i == x.Upper:
		return nil
	case mode == compensateExact && i > x.Upper:
		return x.high.ideal.Sections
	}
	s, _ := r.allPassOf(x)
	return s
}

// allPassOf is the all-pass that a crossover's two sides sum to in the chosen
// polarities; ok is false where they do not sum to one.
func (r *resolved) allPassOf(x pair) (sections []biquad.Analog, ok bool) {
	family, order, at, ok := alignment(x)
	if !ok {
		return nil, false
	}
	return prototype.AllPassSum(family, order, 2*math.Pi*at, r.relative(x))
}

// alignment is the family, order and corner (Hz) that both sides share.
func alignment(x pair) (family string, order int, at float64, ok bool) {
	l, h := x.Low.Args, x.High.Args
	for _, key := range []string{"family", "order", "at"} {
		a, c := l.Get(key), h.Get(key)
		if a == nil || c == nil || a.Word != c.Word || a.Number != c.Number {
			return "", 0, 0, false
		}
	}
	return l.Get("family").Word, int(l.Get("order").Number), l.Get("at").Number, true
}

// relative is 1 where the two ways have the same polarity, otherwise -1.
func (r *resolved) relative(x pair) int {
	if r.spec.Ways[x.Lower].Inverted != r.spec.Ways[x.Upper].Inverted {
		return -1
	}
	return 1
}

// unsummable says why a crossover has no all-pass sum; "" where it has one.
func (r *resolved) unsummable(x pair) string {
	if _, ok := r.allPassOf(x); ok {
		return ""
	}
	lower, upper := r.spec.Ways[x.Lower].Name, r.spec.Ways[x.Upper].Name
	family, order, at, ok := alignment(x)
	switch {
	case ok:
	case x.Low.Args.Get("q") != nil && x.High.Args.Get("q") != nil:
		return fmt.Sprintf("the two sides between `%s` and `%s` are sections with `q`, which do not sum to an all-pass", lower, upper)
	default:
		return fmt.Sprintf("the two sides between `%s` and `%s` differ, so they do not sum to an all-pass", lower, upper)
	}
	if _, ok := prototype.AllPassSum(family, order, 2*math.Pi*at, -r.relative(x)); ok {
		return fmt.Sprintf("%s of order %d sums to an all-pass only if the polarity of one of `%s` and `%s` is changed",
			family, order, lower, upper)
	}
	return fmt.Sprintf("the sides of a %s crossover of order %d do not sum to an all-pass", family, order)
}
