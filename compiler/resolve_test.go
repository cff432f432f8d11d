package compiler_test

import (
	"fmt"
	"math"
	"math/cmplx"
	"slices"
	"testing"

	"bandwright/biquad"
	"bandwright/compiler"
	"bandwright/compiler/language"
	"bandwright/compiler/prototype"
)

// spec is a whole spec as Parse may return it: some settings, filters under
// them before and behind the split, neighbours with crossovers.
func (d *dice) spec(lang language.Tables, promise *language.Value) *language.Spec {
	s := &language.Spec{File: "dice", Name: "dice", PhaseCompensation: "none", Promise: promise, Digital: &language.Digital{Method: lang.DefaultMethod, RatesHz: []float64{48000}}}
	for i := range d.next() % 4 {
		set := language.Setting{Name: fmt.Sprint("s", i)}
		for k := range 1 + d.next()%4 {
			set.Choices = append(set.Choices, &language.Value{Text: fmt.Sprint("c", k), Given: true})
		}
		s.Settings = append(s.Settings, set)
	}
	for i := range d.next() % 4 {
		s.Common = append(s.Common, d.filter(lang, s, fmt.Sprintf("common[%d]", i)))
	}
	for k := range 1 + d.next()%3 {
		w := language.Way{Name: fmt.Sprint("w", k), Inverted: d.next()%2 == 1, GainDB: 40*d.share() - 20, DelayS: 0.01 * d.share()}
		for i := range d.next() % 5 {
			w.Filters = append(w.Filters, d.filter(lang, s, fmt.Sprintf("ways.w%d.filters[%d]", k, i)))
		}
		s.Ways = append(s.Ways, w)
	}
	for k := range len(s.Ways) - 1 {
		x := language.Crossover{Lower: k, Upper: k + 1, Same: d.next()%2 == 1}
		path := fmt.Sprintf("crossovers[%d]", k)
		x.Low = language.Filter{Path: path, Kind: lang.LowPass, Args: d.mapping(kindOf(lang, lang.LowPass).Keys)}
		x.High = language.Filter{Path: path, Kind: lang.HighPass, Args: x.Low.Args}
		if !x.Same {
			x.High.Args = d.mapping(kindOf(lang, lang.HighPass).Keys)
		}
		s.Crossovers = append(s.Crossovers, x)
	}
	return s
}

func kindOf(lang language.Tables, name string) *language.Kind {
	return &lang.Kinds[slices.IndexFunc(lang.Kinds, func(k language.Kind) bool { return k.Name == name })]
}

// filter is of any kind, under up to two settings.
func (d *dice) filter(lang language.Tables, s *language.Spec, path string) language.Filter {
	k := &lang.Kinds[d.next()%len(lang.Kinds)]
	if k.Name == "rational" && d.next()%16 > 0 {
		// To factor one takes as long as a hundred others, and FuzzPrototype
		// does it all the time.
		k = kindOf(lang, "peak")
	}
	f := language.Filter{Path: path, Kind: k.Name, Args: d.mapping(k.Keys)}
	if !k.NoMethod && d.next()%4 == 0 {
		f.Method = lang.Methods[d.next()%len(lang.Methods)].Name
	}
	if k.NoWhen || len(s.Settings) == 0 {
		return f
	}
	for range d.next() % 3 {
		i := d.next() % len(s.Settings)
		if slices.ContainsFunc(f.When, func(c language.Condition) bool { return c.Setting == i }) {
			continue
		}
		c := language.Condition{Setting: i}
		picked := d.next()
		for n := range s.Settings[i].Choices {
			if picked>>n&1 == 1 {
				c.Choices = append(c.Choices, n)
			}
		}
		if c.Choices == nil {
			c.Choices = []int{picked % len(s.Settings[i].Choices)}
		}
		f.When = append(f.When, c)
	}
	return f
}

// sameResponse is how far the response of the positions may be from that of
// the filters, relative: they are products of the same hundred sections at
// most, in another order. Delays add up before they become a phase, so that
// each whole turn costs as many digits more.
const sameResponse = 1e-12

// FuzzResolve takes whole specs of every kind of filter, under settings, through
// the resolver and the layout of positions: no panic; every problem with words;
// and under every combination of settings each way responds as the product of
// those filters that apply.
func FuzzResolve(f *testing.F) {
	lang := compiler.Language()
	s, faults := language.Parse("promise", []byte("{bandwright: 1, name: x, ways: {w: {}}, digital: {rates: [48 kHz], formats: [float32]}}"), lang)
	if s == nil {
		f.Fatal(faults)
	}
	promise := s.Promise
	for seed := range 24 {
		data := make([]byte, 200)
		for i := range data {
			data[i] = byte(seed*89 + i*i*31 + i*seed*7)
		}
		f.Add(data)
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		d := &dice{data: data}
		s := d.spec(lang, promise)
		b, faults := compiler.Prototype(s)
		stops := false
		for _, p := range faults {
			if p.Message == "" || p.Right == "" {
				t.Errorf("a fault without words: %+v", p)
			}
			stops = stops || p.Severity == language.Error
		}
		if (b == nil) != stops {
			t.Fatalf("a prototype: %v, faults: %v", b != nil, faults)
		}
		if b == nil {
			return
		}
		ideals := map[filterKey]prototype.Ideal{}
		hz := 20 * math.Exp2(10*d.share())
		c := make(biquad.Combination, len(s.Settings))
		var got [1]complex128
		for range 6 {
			for i := range c {
				c[i] = uint8(d.next() % len(s.Settings[i].Choices))
			}
			for w := range s.Ways {
				biquad.AnalogAt(got[:], b.Prototype.Path(w), c, []float64{hz})
				want, turns := expected(s, w, c, hz, ideals)
				if !(cmplx.Abs(got[0]-want) <= sameResponse*(1+turns)*cmplx.Abs(want)) {
					t.Errorf("way %d in %v at %v Hz: %v, not %v", w, c, hz, got[0], want)
				}
			}
		}
	})
}

// filterKey is what a filter's ideal depends on.
type filterKey struct {
	kind string
	args *language.Value
}

// expected is the response of way w at hz (Hz), filter by filter, with the
// turns that its delays make. It keeps the ideals that it needs.
func expected(s *language.Spec, w int, c biquad.Combination, hz float64, ideals map[filterKey]prototype.Ideal) (h complex128, turns float64) {
	way := s.Ways[w]
	h, turns = complex(biquad.FromDB(way.GainDB), 0)*biquad.Delay(hz, way.DelayS), hz*way.DelayS
	if way.Inverted {
		h = -h
	}
	times := func(f language.Filter) {
		for _, cond := range f.When {
			if !slices.Contains(cond.Choices, int(c[cond.Setting])) {
				return
			}
		}
		ideal, known := ideals[filterKey{f.Kind, f.Args}]
		if !known {
			k, _ := prototype.ByName(f.Kind)
			ideal, _ = k.Ideal(f.Args)
			ideals[filterKey{f.Kind, f.Args}] = ideal
		}
		h *= complex(ideal.Gain, 0) * biquad.Delay(hz, ideal.DelayS)
		turns += hz * ideal.DelayS
		for _, a := range ideal.Sections {
			h *= a.At(2 * math.Pi * hz)
		}
	}
	for _, f := range s.Common {
		times(f)
	}
	for _, f := range way.Filters {
		times(f)
	}
	for _, x := range s.Crossovers {
		switch w {
		case x.Lower:
			times(x.Low)
		case x.Upper:
			times(x.High)
		}
	}
	return h, turns
}
