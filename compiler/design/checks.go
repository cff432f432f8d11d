package design

import (
	"fmt"
	"math"
	"slices"

	"bandwright/biquad"
	"bandwright/biquad/discretize"
	"bandwright/compiler/language"
	"bandwright/compiler/words"
)

// checks are the questions of meaning that need the whole prototype: corners
// against the rates, ways without a crossover, ways that cancel.
func (r *resolved) checks() []language.Fault {
	faults := r.cornersAgainstRates()
	if len(r.spec.Ways) > 1 {
		for i, w := range r.spec.Ways {
			if !slices.ContainsFunc(r.spec.Crossovers, func(x language.Crossover) bool { return x.Lower == i || x.Upper == i }) {
				faults = append(faults, r.spec.Fault(language.Warning, w.Pos,
					fmt.Sprintf("no crossover applies to the way `%s`: it runs full range", w.Name),
					"add an entry to `crossovers` that names it, or ignore this if intended"))
			}
		}
	}
	for _, x := range r.crossovers {
		if f, ok := r.cancelling(x); ok {
			faults = append(faults, f)
		}
	}
	return faults
}

// cornersAgainstRates finds filters whose corner is not below half of a rate:
// an error for a method that cannot realise them, otherwise a warning.
func (r *resolved) cornersAgainstRates() []language.Fault {
	if r.spec.Digital == nil {
		return nil
	}
	m, _ := discretize.ByName(r.spec.Digital.Method)
	severity, right := language.Warning, "the realisation follows the prototype only below half the rate"
	if m.BelowNyquist {
		severity = language.Error
		right = fmt.Sprintf("method `%s` needs every corner below half of every rate: lower the corner or leave the rate out", m.Name)
	}
	rate := slices.Min(r.spec.Digital.RatesHz)
	var faults []language.Fault
	look := func(l line) {
		top := 0.0
		for _, s := range l.ideal.Sections {
			if s.Order() > 0 {
				top = math.Max(top, hertz(s.Keep))
			}
		}
		if top < rate/2 {
			return
		}
		at := l.Pos
		for _, key := range []string{"at", "to"} {
			if v := l.Args.Get(key); v != nil {
				at = v.Pos
			}
		}
		faults = append(faults, r.spec.Fault(severity, at,
			fmt.Sprintf("the corner %s is not below half of the rate %s", words.Hz(top), words.Rate(rate)), right))
	}
	for _, l := range r.common {
		look(l)
	}
	for i, w := range r.spec.Ways {
		for _, l := range r.ways[i][:len(w.Filters)] {
			look(l)
		}
	}
	for _, x := range r.crossovers {
		look(x.low)
		if !x.Same {
			look(x.high)
		}
	}
	return faults
}

// cancelDB is how far the sum of two ways must fall below the sum of their
// magnitudes to be called a cancellation, and bettersDB how much less the
// other polarity must fall for the advice to be worth giving (common practice,
// no source: even-order alignments that only sag fall 3 dB).
const (
	cancelDB  = 12
	bettersDB = 6
)

// cancelPerOctave is the density at which cancellations are looked for: nulls
// are narrow.
const cancelPerOctave = 96

// cancelling warns of two ways that cancel where their crossover filters are
// within 20 dB of each other, whatever the family.
func (r *resolved) cancelling(x pair) (language.Fault, bool) {
	sign := float64(r.relative(x))
	fall, at, other := 0.0, 0.0, 0.0
	for _, f := range biquad.Octaves(r.lowHz, r.highHz, cancelPerOctave) {
		l, h := biquad.InSeries(x.low.ideal.Sections, 2*math.Pi*f), biquad.InSeries(x.high.ideal.Sections, 2*math.Pi*f)
		if math.Abs(biquad.DB(l)-biquad.DB(h)) > biquad.NeighbourDB {
			continue
		}
		all := biquad.DB(l) + biquad.GainDB(1+math.Hypot(real(h), imag(h))/math.Hypot(real(l), imag(l)))
		if d := biquad.DB(l+complex(sign, 0)*h) - all; d < fall {
			fall, at = d, f
		}
		other = math.Min(other, biquad.DB(l-complex(sign, 0)*h)-all)
	}
	if fall > -cancelDB || other < fall+bettersDB {
		return language.Fault{}, false
	}
	lower, upper := r.spec.Ways[x.Lower], r.spec.Ways[x.Upper]
	want := "inverted"
	if upper.Inverted {
		want = "normal"
	}
	return r.spec.Fault(language.Warning, x.Pos,
		fmt.Sprintf("`%s` and `%s` cancel at %s with these polarities: their sum falls by %s",
			lower.Name, upper.Name, words.Hz(at), decibels(-fall)),
		fmt.Sprintf("with `polarity: %s` for `%s` it falls by %s at most", want, upper.Name, decibels(-other))), true
}

// decibels writes a fall in level; deeper than 60 dB the figure says nothing.
func decibels(db float64) string {
	if db > 60 {
		return "more than 60 dB"
	}
	return fmt.Sprintf("%.1f dB", db)
}
