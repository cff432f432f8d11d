package compiler

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"

	"bandwright/biquad"
	"bandwright/biquad/discretize"
	"bandwright/biquad/engine"
	"bandwright/biquad/number"
	"bandwright/compiler/language"
	"bandwright/compiler/progress"
	"bandwright/compiler/promise"
	"bandwright/compiler/verify"
	"bandwright/compiler/words"
)

// Laid is a digital realisation in the words of somebody else's engine.
type Laid struct {
	Layout language.Layout
	// Chains are by way, each from the input to the way's output, the common filters,
	// gain and polarity in it.
	Chains []*engine.Chain
	made   discretize.Made // what the words stand for
}

// engineOf is a layout's engine.
func engineOf(l language.Layout) engine.Engine {
	return engine.Engine{Word: l.Word, Fraction: l.Fraction, Data: l.Data, Accumulator: l.Accumulator,
		Form: engine.FormByName(l.Form), Nearest: l.Nearest, Sequence: engine.SequenceByName(l.Sections)}
}

// layOut writes the systems of all rates for the engines of the spec's layouts; a fault
// where one cannot hold them.
func (w *Wanted) layOut(made []discretize.Made) ([]Digital, []language.Fault) {
	d := w.Spec.Digital
	if d == nil {
		return nil, nil
	}
	var out []Digital
	var faults []language.Fault
	for i, rate := range d.RatesHz {
		for _, l := range d.Layouts {
			laid, way, refusal := w.laid(l, made[i], rate)
			if refusal == nil {
				out = append(out, laid)
				continue
			}
			faults = append(faults, w.Spec.Fault(language.Error, l.Pos,
				fmt.Sprintf("the engine %s cannot hold %s at %s: %s", code(l.Name), w.Prototype.Ways[way].Name, words.Rate(rate), refusal.Reason),
				w.holding(l, made[i], rate)))
		}
	}
	return out, faults
}

// code is what a user may write.
func code(text string) string { return "`" + text + "`" }

// laid is the system of one rate for one engine, or the way that it cannot hold.
func (w *Wanted) laid(l language.Layout, made discretize.Made, rateHz float64) (Digital, int, *engine.Refusal) {
	gain := biquad.FromDB(-w.Spec.Digital.HeadroomDB)
	d := Digital{
		RateHz: rateHz, Asked: true, Method: w.Spec.Digital.Method, CommonDelayS: made.CommonDelayS, InputGain: gain,
		Format: number.Format{Name: l.Name, Doc: "coefficients for an engine"},
		System: biquad.System[biquad.Digital]{Common: biquad.Cascade[biquad.Digital]{Gain: 1}},
		Laid:   &Laid{Layout: l, made: made}, Notes: notes(made),
	}
	for k, way := range made.System.Ways {
		path := made.System.Path(k)
		if l.FirstOrder {
			path, _ = engine.Split(path)
		}
		c, refusal := engine.New(engineOf(l), path, gain, rateHz, len(w.Settings))
		if refusal != nil {
			return d, k, refusal
		}
		d.Laid.Chains = append(d.Laid.Chains, c)
		d.System.Ways = append(d.System.Ways, biquad.Way[biquad.Digital]{Name: way.Name, Polarity: 1, Cascade: c.Path(gain, rateHz)})
	}
	return d, 0, nil
}

// holding is the nearest engine that holds a system, in words: other places of the point,
// then wider words, then a wider accumulator.
func (w *Wanted) holding(l language.Layout, made discretize.Made, rateHz float64) string {
	holds := func(change func(*language.Layout)) bool {
		x := l
		change(&x)
		_, _, refusal := w.laid(x, made, rateHz)
		return refusal == nil
	}
	if !l.FirstOrder && holds(func(x *language.Layout) { x.FirstOrder = true }) {
		return "with first-order: true it would"
	}
	for _, s := range engine.Sequences {
		if s.Name != l.Sections && holds(func(x *language.Layout) { x.Sections = s.Name }) {
			return fmt.Sprintf("with sections: %s it would", s.Name)
		}
	}
	for n := 1; n < l.Word; n++ {
		for _, f := range []int{l.Fraction - n, l.Fraction + n} {
			if f >= 1 && f <= l.Word-2 && holds(func(x *language.Layout) { x.Fraction = f }) {
				return fmt.Sprintf("with fraction: %d bit it would", f)
			}
		}
	}
	for n := 1; n <= engine.MostAccumulator-l.Accumulator; n++ {
		if holds(func(x *language.Layout) { x.Accumulator += n }) {
			return fmt.Sprintf("with accumulator: %d bit it would", l.Accumulator+n)
		}
	}
	for n := 1; n <= engine.MostWord-l.Word; n++ {
		for _, f := range []int{l.Fraction + n, l.Fraction, l.Fraction + n/2} {
			if holds(func(x *language.Layout) { x.Word, x.Fraction, x.Accumulator = l.Word+n, f, engine.MostAccumulator }) {
				return fmt.Sprintf("with word: %d bit, fraction: %d bit and a wide accumulator it would", l.Word+n, f)
			}
		}
	}
	return "no engine that a layout can describe would hold it: leave the layout out"
}

// widening is what of an engine is made wider, bit by bit, to keep a promise.
type widening struct {
	helps []*verify.Quantity
	order string                        // the sequence of sections that may help
	wider func(l *language.Layout) bool // false at the end
	text  func(l language.Layout) string
	// bits is how many more a broken finding takes at least, about.
	bits func(f verify.Finding) float64
}

var widenings = []widening{
	{[]*verify.Quantity{verify.Magnitude, verify.Phase, verify.Sum}, "truest", func(l *language.Layout) bool {
		l.Word, l.Fraction = l.Word+1, l.Fraction+1
		return l.Word <= engine.MostWord
	}, func(l language.Layout) string {
		return fmt.Sprintf("take words of %d bits with %d behind the point", l.Word, l.Fraction)
	}, func(verify.Finding) float64 { return 0 }}, // how words fall is chance: fewer bits than expected may do
	{[]*verify.Quantity{verify.Noise}, "quietest", func(l *language.Layout) bool {
		l.Data++
		return l.Data <= engine.MostData
	}, func(l language.Layout) string {
		return fmt.Sprintf("take samples of %d bits between the sections", l.Data)
	}, func(f verify.Finding) float64 { return (f.Worst - f.Limit) / (20 * math.Log10(2)) }},
}

// trial is a layout that was changed, and what was then found.
type trial struct {
	findings []verify.Finding
	refusal  *engine.Refusal
}

// adviseLaid says of broken promises of an engine what would keep them: sections of the
// first order where there are real poles, another order of sections, and engines wider by a bit after another, are tried.
func (b *Build) adviseLaid(ctx context.Context, d *Digital, findings []verify.Finding) {
	for _, widen := range widenings {
		if len(widen.broken(findings)) == 0 {
			continue
		}
		progress.Say(ctx, "looking for an engine that keeps the promises")
		try := func(l language.Layout) trial {
			x, _, refusal := b.laid(l, d.Laid.made, d.RateHz)
			if refusal != nil {
				return trial{refusal: refusal}
			}
			_, then := verify.Judge(ctx, b.Subject(), b.Realisation(x), b.Promises.Terms())
			return trial{findings: then}
		}
		keeps := func(l language.Layout) (bool, *engine.Refusal) {
			x := try(l)
			return x.refusal == nil && len(widen.broken(x.findings)) == 0 && !breaksMore(findings, x.findings), x.refusal
		}
		few := 0.0
		for _, f := range widen.broken(findings) {
			few = math.Max(few, widen.bits(f))
		}
		texts, less := b.rearranged(widen, d, findings, try)
		if text := widened(ctx, widen, d.Laid.Layout, few, keeps); text != "" {
			texts = append(texts, text)
		} else if len(texts) == 0 {
			texts = append(texts, "no engine that a layout can describe keeps it without breaking another promise")
		}
		text := strings.Join(append(texts, less...), "; or ")
		for i := range findings {
			if len(widen.broken(findings[i:i+1])) > 0 {
				findings[i].Remedy = text
			}
		}
	}
}

// broken are the broken promises that a widening may help.
func (w *widening) broken(of []verify.Finding) []verify.Finding {
	return slices.DeleteFunc(slices.Clone(of), func(f verify.Finding) bool {
		r := promise.ByName(f.Promise)
		return f.Kept || r == nil || !slices.Contains(w.helps, r.Of)
	})
}

// rearranged says what keeps the promises with the same words: sections of the first order,
// another order of sections, or both; and, of another order that does not, how far it goes.
func (b *Build) rearranged(w widening, d *Digital, findings []verify.Finding, try func(language.Layout) trial) (keeps, less []string) {
	more := b.splittable(d)
	split := fmt.Sprintf("write `first-order: true`, %s more of the first order", words.Count(more, "section", "sections"))
	order := "write " + code("sections: "+w.order) + ", another order of the same sections"
	tried := func(first, sorted bool) trial {
		l := d.Laid.Layout
		l.FirstOrder = l.FirstOrder || first
		if sorted {
			l.Sections = w.order
		}
		return try(l)
	}
	sound := func(t trial) bool { return t.refusal == nil && !breaksMore(findings, t.findings) }
	kept := func(t trial) bool { return sound(t) && len(w.broken(t.findings)) == 0 }
	if more > 0 && kept(tried(true, false)) {
		keeps = append(keeps, split)
	}
	if d.Laid.Layout.Sections == w.order {
		return keeps, nil
	}
	t := tried(false, true)
	switch {
	case kept(t):
		return append(keeps, order), nil
	case more > 0 && len(keeps) == 0 && kept(tried(true, true)):
		return append(keeps, split+", and "+code("sections: "+w.order)), nil
	case sound(t):
		if brings := nearer(w.broken(findings), w.broken(t.findings)); brings != "" {
			less = append(less, order+", which alone "+brings+" only")
		}
	}
	return keeps, less
}

// breaksMore reports whether a promise is broken of what it was kept of before.
func breaksMore(before, after []verify.Finding) bool {
	return slices.ContainsFunc(after, func(f verify.Finding) bool {
		return !f.Kept && !slices.ContainsFunc(before, func(o verify.Finding) bool { return !o.Kept && o.About == f.About })
	})
}

// worthTelling is the share of what a promise is missed by that a change has to leave at most, to be named.
const worthTelling = 0.75

// nearer says of a change how near the first broken promise came, where all came nearer by what is worth telling; else "".
func nearer(before, after []verify.Finding) (text string) {
	beyond := func(f verify.Finding) float64 { return math.Abs(f.Worst - f.Limit) }
	for _, was := range before {
		i := slices.IndexFunc(after, func(f verify.Finding) bool { return f.About == was.About })
		switch {
		case i >= 0 && beyond(after[i]) > worthTelling*beyond(was):
			return ""
		case i >= 0 && text == "":
			text = fmt.Sprintf("brings %s from %s to %s", was.About, was.Unit.Measured(was.Worst), was.Unit.Measured(after[i].Worst))
		}
	}
	return text
}

// splittable is how many sections more there are in all ways with those of the first
// order; 0 where that is so already.
func (b *Build) splittable(d *Digital) int {
	more := 0
	for k := range d.Laid.made.System.Ways {
		if !d.Laid.Layout.FirstOrder {
			_, n := engine.Split(d.Laid.made.System.Path(k))
			more += n
		}
	}
	return more
}

// widened says what of an engine has to be how wide, the first that keeps; "" where none
// does. few is how many bits it takes at least, about.
func widened(ctx context.Context, widen widening, l language.Layout, few float64, keeps func(language.Layout) (bool, *engine.Refusal)) string {
	given := l.Accumulator
	for n := 1; widen.wider(&l) && ctx.Err() == nil; n++ {
		if float64(n) < few-1 { // too few bits for certain
			continue
		}
		kept, refusal := keeps(l)
		also := ""
		if sums := min(given+n, engine.MostAccumulator); refusal != nil && sums > given {
			x := l
			x.Accumulator = sums
			kept, _ = keeps(x)
			also = fmt.Sprintf(", and sums of %d", sums)
		}
		if kept {
			return widen.text(l) + also
		}
	}
	return ""
}
