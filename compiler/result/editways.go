package result

import (
	"fmt"
	"slices"
	"strings"

	"bandwright/compiler/language"
	"bandwright/compiler/words"
)

// ways blends the ways and the crossovers between them. Which ways there are,
// and in which order, is one edit: crossovers hang on it.
func (b *blend) ways(s *language.Spec) {
	o, n := b.old, b.new
	before, after := wayNames(o), wayNames(n)
	base := n
	if !slices.Equal(before, after) {
		e := edit{path: "ways", at: n.Ways[0].Pos, stops: true}
		switch gone, come := without(before, after), without(after, before); {
		case gone == nil && come == nil:
			e.said = fmt.Sprintf("ways went from %s to %s", words.List(before), words.List(after))
		case gone == nil:
			e.said = "ways has the new " + words.List(come)
		case come == nil:
			e.said = "ways lost " + words.List(gone)
		default:
			e.said = fmt.Sprintf("ways has %s in place of %s", words.List(come), words.List(gone))
		}
		if !b.choose(e) {
			base = o
		}
	}
	s.Ways = nil
	for _, w := range base.Ways {
		i, j := slices.Index(before, w.Name), slices.Index(after, w.Name)
		if i < 0 || j < 0 {
			w.Filters = b.from(w.Filters, base)
			s.Ways = append(s.Ways, w)
			continue
		}
		s.Ways = append(s.Ways, b.way(o.Ways[i], n.Ways[j]))
	}
	b.crossovers(s, base)
}

func wayNames(s *language.Spec) []string {
	var out []string
	for _, w := range s.Ways {
		out = append(out, w.Name)
	}
	return out
}

// without are the names in a that b lacks.
func without(a, b []string) []string {
	var out []string
	for _, x := range a {
		if !slices.Contains(b, x) {
			out = append(out, x)
		}
	}
	return out
}

func (b *blend) way(o, n language.Way) language.Way {
	w := n
	path := "ways." + n.Name
	w.Filters = b.filters(path+".filters", b.from(o.Filters, b.old), b.from(n.Filters, b.new))
	db := func(x float64) string { return words.Exact(x) + " dB" }
	if o.GainDB != n.GainDB && !b.text(path+".gain", db(o.GainDB), db(n.GainDB), edit{at: n.Pos}) {
		w.GainDB = o.GainDB
	}
	polarity := func(inverted bool) string {
		if inverted {
			return "inverted"
		}
		return "normal"
	}
	if !b.text(path+".polarity", polarity(o.Inverted), polarity(n.Inverted), edit{at: n.Pos}) {
		w.Inverted = o.Inverted
	}
	if !b.text(path+".delay", delayText(o.DelayS), delayText(n.DelayS), edit{at: n.DelayPos}) {
		w.DelayS = o.DelayS
	}
	return w
}

// delayText is a delay (s) in ms to nine digits: a length and the time that it
// stands for read the same.
func delayText(s float64) string { return words.Exact(digits(s*1e3, 9)) + " ms" }

// crossovers blends the crossovers of the ways in s, which are base's.
func (b *blend) crossovers(s, base *language.Spec) {
	type key struct{ lower, upper string }
	keyed := func(of *language.Spec) (keys []key) {
		for _, x := range of.Crossovers {
			keys = append(keys, key{of.Ways[x.Lower].Name, of.Ways[x.Upper].Name})
		}
		return keys
	}
	old, new := keyed(b.old), keyed(b.new)
	names := wayNames(s)
	s.Crossovers = nil
	keep := func(k key, x language.Crossover) {
		x.Lower, x.Upper = slices.Index(names, k.lower), slices.Index(names, k.upper)
		if x.Lower >= 0 && x.Upper == x.Lower+1 {
			s.Crossovers = append(s.Crossovers, x)
		}
	}
	sameWays := slices.Equal(wayNames(b.old), wayNames(b.new))
	for j, k := range new {
		x := b.new.Crossovers[j]
		path := fmt.Sprintf("crossovers[%d]", j)
		if i := slices.Index(old, k); i >= 0 {
			keep(k, b.crossover(path, b.old.Crossovers[i], x))
			continue
		}
		// With other ways the crossover belongs to that edit.
		if !sameWays && base == b.new ||
			sameWays && b.choose(edit{path: path, at: x.Pos, said: fmt.Sprintf("%s was added: %s", path, crossoverText(k.lower, k.upper, x))}) {
			keep(k, x)
		}
	}
	for i, k := range old {
		if slices.Contains(new, k) {
			continue
		}
		x := b.old.Crossovers[i]
		path := fmt.Sprintf("crossovers[%d]", i)
		if !sameWays && base == b.old ||
			sameWays && !b.choose(edit{path: path, said: fmt.Sprintf("%s was removed: %s", path, crossoverText(k.lower, k.upper, x))}) {
			keep(k, x)
		}
	}
}

func crossoverText(lower, upper string, x language.Crossover) string {
	sides := valueText(x.Low.Args)
	if !alike(x.Low.Args, x.High.Args) {
		sides += " and " + valueText(x.High.Args)
	}
	return fmt.Sprintf("%s to %s %s", lower, upper, sides)
}

// crossover blends two crossovers of the same ways: line by line where each
// is one filter for both sides, otherwise side by side.
func (b *blend) crossover(path string, o, n language.Crossover) language.Crossover {
	x := n
	if o.Same && n.Same {
		x.Low = b.filter(path, o.Low, n.Low)
		x.High = n.High
		x.High.Args = x.Low.Args
		return x
	}
	x.Low = b.filter(path+".low", o.Low, n.Low)
	x.High = b.filter(path+".high", o.High, n.High)
	x.Same = false
	return x
}

// promises tells of changed promises and tolerances, which change no prototype.
func (b *blend) promises(block string, o, n *language.Value) {
	for _, f := range n.Fields {
		was := o.Get(f.Key)
		if alike(was, f.Value) {
			continue
		}
		path := block + "." + f.Key
		b.choose(edit{path: path, at: f.Value.Pos, said: went(path, valueText(was), valueText(f.Value)),
			dull: true, stops: weaker(f.Key, was, f.Value), realises: block == "promise"})
	}
}

// hardware tells of what changed in the converter and the board, key by key:
// it changes no filter. A board that is gone stops.
func (b *blend) hardware(path string, o, n *language.Value) {
	keys := func(v *language.Value) (out []string) {
		if v != nil {
			for _, f := range v.Fields {
				out = append(out, f.Key)
			}
		}
		return out
	}
	of := func(v *language.Value, key string) *language.Value {
		if v == nil {
			return nil
		}
		return v.Get(key)
	}
	for _, key := range append(keys(n), without(keys(o), keys(n))...) {
		was, is := of(o, key), of(n, key)
		below := strings.TrimPrefix(path+"."+key, ".")
		if was != nil && is != nil && was.Fields != nil && is.Fields != nil {
			b.hardware(below, was, is)
			continue
		}
		if alike(was, is) {
			continue
		}
		e := edit{path: below, said: went(below, valueText(was), valueText(is)), dull: true, stops: key == "board" && is == nil}
		if is != nil {
			e.at = is.Pos
		}
		b.choose(e)
	}
}

// weaker reports whether a promise demands less than it did.
func weaker(key string, o, n *language.Value) bool {
	switch {
	case o == nil || o.Word == "off":
		return false
	case n.Word == "off":
		return true
	case key == "band":
		return n.Number > o.Number || n.High < o.High
	case key == "headroom" || key == "board-headroom":
		return n.Number < o.Number
	}
	return n.Number > o.Number
}

// digital tells of changes to the digital block. The blended spec never needs
// it but for its rates, which the checks of meaning look at.
func (b *blend) digital() *language.Digital {
	o, n := b.old.Digital, b.new.Digital
	rates := func(d *language.Digital) (out []string) {
		for _, r := range d.RatesHz {
			out = append(out, words.Rate(r))
		}
		return out
	}
	b.list("digital.rates", rates(o), rates(n), n.Pos)
	b.list("digital.formats", o.Formats, n.Formats, n.Pos)
	number := func(key string, from, to float64, unit string, e edit) {
		if from != to {
			e.dull, e.at = true, n.Pos
			b.text("digital."+key, words.Exact(from)+unit, words.Exact(to)+unit, e)
		}
	}
	b.text("digital.method", o.Method, n.Method, edit{at: n.Pos, dull: true, realises: true})
	b.text("digital.section-by-section", fmt.Sprint(o.SectionBySection), fmt.Sprint(n.SectionBySection), edit{at: n.Pos, dull: true, realises: true})
	number("channels", float64(o.Channels), float64(n.Channels), "", edit{stops: n.Channels < o.Channels})
	number("headroom", o.HeadroomDB, n.HeadroomDB, " dB", edit{stops: true})
	number("extra-biquads", float64(o.ExtraBiquads), float64(n.ExtraBiquads), "", edit{realises: true})
	d := *n
	d.Method = "" // so that no method refuses a corner above a rate
	return &d
}

// list tells what a list of names gained and lost.
func (b *blend) list(path string, o, n []string, at language.Pos) {
	gone, come := without(o, n), without(n, o)
	if gone != nil {
		b.choose(edit{path: path, at: at, said: path + " lost " + words.List(gone), dull: true, stops: true})
	}
	if come != nil {
		b.choose(edit{path: path, at: at, said: path + " has the new " + words.List(come), dull: true})
	}
	if gone == nil && come == nil && !slices.Equal(o, n) {
		b.choose(edit{path: path, at: at, said: fmt.Sprintf("%s went from [%s] to [%s]", path, strings.Join(o, ", "), strings.Join(n, ", ")), dull: true})
	}
}
