package compiler

import (
	"fmt"
	"math"
	"slices"

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
func compensate(b *Build) []language.Fault {
	mode := b.Spec.PhaseCompensation
	if mode == compensateNone {
		return nil
	}
	var faults []language.Fault
	for k, x := range b.ideals.crossover {
		if len(b.Spec.Ways) == 2 {
			break // nothing beside the two ways to compensate
		}
		if problem := unsummable(b, x); problem != "" {
			faults = append(faults, b.Spec.Fault(language.Error, x.Pos,
				"phase-compensation: "+problem,
				"use LR crossovers (orders 2, 6 and 10 with one of the two ways inverted) or butterworth of odd order, "+
					"the same on both sides, or phase-compensation: none"))
			continue
		}
		for i := range b.Prototype.Ways {
			for _, s := range compensation(b, x, i, mode) {
				w := &b.Prototype.Ways[i]
				w.Slots = append(w.Slots, biquad.Fixed(s, fmt.Sprintf("crossovers[%d] phase-compensation", k)))
			}
		}
	}
	return faults
}

// compensation is what way i needs of crossover x, which may be nothing: the
// crossover's all-pass where x does not touch the way, or, in exact mode above
// it, its high-pass, as if the ways had been split off one after another.
func compensation(b *Build, x pair, i int, mode string) []biquad.Analog {
	switch {
	case mode == compensateNone || i == x.Lower || i == x.Upper:
		return nil
	case mode == compensateExact && i > x.Upper:
		return x.high.ideal.Sections
	}
	s, _ := allPassOf(b, x)
	return s
}

// allPassOf is the all-pass that a crossover's two sides sum to in the chosen
// polarities; ok is false where they do not sum to one.
func allPassOf(b *Build, x pair) (sections []biquad.Analog, ok bool) {
	family, order, at, ok := alignment(x)
	if !ok {
		return nil, false
	}
	return prototype.AllPassSum(family, order, 2*math.Pi*at, relative(b, x))
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
func relative(b *Build, x pair) int {
	if b.Spec.Ways[x.Lower].Inverted != b.Spec.Ways[x.Upper].Inverted {
		return -1
	}
	return 1
}

// unsummable says why a crossover has no all-pass sum; "" where it has one.
func unsummable(b *Build, x pair) string {
	if _, ok := allPassOf(b, x); ok {
		return ""
	}
	lower, upper := b.Spec.Ways[x.Lower].Name, b.Spec.Ways[x.Upper].Name
	family, order, at, ok := alignment(x)
	if !ok {
		return fmt.Sprintf("the two sides between `%s` and `%s` differ, so they do not sum to an all-pass", lower, upper)
	}
	if _, ok := prototype.AllPassSum(family, order, 2*math.Pi*at, -relative(b, x)); ok {
		return fmt.Sprintf("%s of order %d sums to an all-pass only if one of `%s` and `%s` is inverted against the other's present polarity",
			family, order, lower, upper)
	}
	return fmt.Sprintf("the sides of a %s crossover of order %d do not sum to an all-pass", family, order)
}

// sumsPerOctave is the density at which crossover sums are looked at: their
// ripple is as wide as the crossovers, octaves.
const sumsPerOctave = 48

// crossoverSums is what the crossover filters alone sum to, without and with
// phase compensation where that exists.
func crossoverSums(b *Build) []CrossoverSum {
	if len(b.ideals.crossover) == 0 {
		return nil
	}
	modes := []string{compensateNone}
	if len(b.Spec.Ways) > 2 && !slices.ContainsFunc(b.ideals.crossover, func(x pair) bool { return unsummable(b, x) != "" }) {
		modes = append(modes, compensateAllPass, compensateExact)
	}
	var hz []float64
	for i := 0; ; i++ {
		f := b.Promises.LowHz * math.Exp2(float64(i)/sumsPerOctave)
		if f > b.Promises.HighHz {
			break
		}
		hz = append(hz, f)
	}
	var out []CrossoverSum
	for _, mode := range modes {
		sum := make([]complex128, len(hz))
		h := make([]complex128, len(hz))
		for i, w := range b.Prototype.Ways {
			c := biquad.Cascade[biquad.Analog]{Gain: w.Polarity}
			add := func(ss []biquad.Analog) {
				for _, s := range ss {
					c.Slots = append(c.Slots, biquad.Fixed(s))
				}
			}
			for _, x := range b.ideals.crossover {
				switch i {
				case x.Lower:
					add(x.low.ideal.Sections)
				case x.Upper:
					add(x.high.ideal.Sections)
				default:
					add(compensation(b, x, i, mode))
				}
			}
			biquad.OnAnalog(c, hz).Response(h, make(biquad.Combination, len(b.Settings)))
			for k := range sum {
				sum[k] += h[k]
			}
		}
		s := CrossoverSum{Compensation: mode, LowDB: math.Inf(1), HighDB: math.Inf(-1), Chosen: mode == b.Spec.PhaseCompensation}
		for _, v := range sum {
			s.LowDB, s.HighDB = math.Min(s.LowDB, biquad.DB(v)), math.Max(s.HighDB, biquad.DB(v))
		}
		out = append(out, s)
	}
	return out
}
