package language

import (
	"fmt"
	"math"
	"slices"
)

// Parse reads a spec. Several faults come from one run, in the order of the
// file, at most one about each place that is wrong; the Spec is nil where one
// of them is an Error. file is the name that faults carry; nothing is opened.
// src must not be changed afterwards.
func Parse(file string, src []byte, lang Tables) (*Spec, []Fault) {
	b := builder{
		walker: walker{reader: &reader{file: file}, lang: lang},
		spec:   &Spec{File: file, Source: src},
	}
	if text, ok := b.read(src); ok {
		if root := b.tree(text); root != nil {
			b.build(root)
		}
	}
	return b.done()
}

// sorted are the faults in the order of the file, each once (an alias repeats
// those of its value), and not more than a person would read.
func (r *reader) sorted() []Fault {
	Sort(r.faults)
	var out []Fault
	for _, f := range r.faults {
		if !slices.ContainsFunc(out, func(g Fault) bool { return g.Pos == f.Pos && g.Message == f.Message }) {
			if len(out) == maxFaults {
				f.Message, f.Right = fmt.Sprintf("more than %d faults; this one and those below it are not shown", maxFaults), "correct the ones above first"
				return append(out, f)
			}
			out = append(out, f)
		}
	}
	return out
}

// builder makes a Spec of checked values.
type builder struct {
	walker
	spec *Spec
	// settingsKnown is false where the settings block itself has a fault, so
	// that no `when` can be judged by it.
	settingsKnown bool
}

func (b *builder) build(n *node) {
	if n.shape != mapping {
		b.fault(n.at, "a spec is a mapping of keys", "begin with `bandwright: 1`")
		return
	}
	for _, e := range n.entries {
		if e.key == "bandwright-board" {
			b.fault(e.at, "this is a held board, not a spec", "give the spec whose `board.held` names this file")
			return
		}
		if v := e.value; e.key == "bandwright" && v.shape == scalar && !v.quotes && isWhole(v.text) && v.text != "1" && number(v.text) == len(v.text) {
			b.fault(v.at, fmt.Sprintf("this spec is in version %s of the language; this program reads version %d", v.text, version), "use the program that the spec was written for, or write `bandwright: 1`")
			return // another version has other keys
		}
	}
	g := Grammar(b.lang)
	b.resolve(b.value(n, &g, holder{at: n.at, name: "the spec"}))
	b.combinations()
	b.enums()
}

// FromTree makes a Spec of a tree of checked values: of Spec.Tree, or of one put
// together from parts of two. The faults are those of names that the tree lacks
// and of values against each other, as of Parse; the Spec is nil where there are
// any but warnings. How many settings there may be and what they are called in C
// is not asked again.
func FromTree(root *Value, lang Tables) (*Spec, []Fault) {
	b := builder{walker: walker{reader: &reader{}, lang: lang}, spec: &Spec{}}
	b.resolve(root)
	return b.done()
}

// done is the spec, nil where it has an error, and its faults.
func (b *builder) done() (*Spec, []Fault) {
	faults := b.sorted()
	if slices.ContainsFunc(faults, func(f Fault) bool { return f.Severity == Error }) {
		return nil, faults
	}
	return b.spec, faults
}

// resolve takes a checked file apart. Where it is nil or has nil in it, faults
// have said so.
func (b *builder) resolve(root *Value) {
	s := b.spec
	s.Tree = root
	s.Name, s.Title, s.Revision = root.word("name"), root.word("title"), root.word("revision")
	s.PhaseCompensation = root.word("phase-compensation")
	b.settings(root)
	if v := root.Get("common"); v != nil {
		for i, f := range v.Items {
			s.Common = append(s.Common, b.filter(f, fmt.Sprintf("common[%d]", i)))
		}
	}
	b.drivers(root.Get("drivers"))
	b.ways(root.Get("ways"), root.Get("drivers") != nil || !hasKey(root, "drivers"))
	b.unusedDrivers()
	b.crossovers(root.Get("crossovers"), root.Get("ways") != nil)
	s.Promise = root.Get("promise")
	s.Regression = root.Get("regression")
	b.digital(root.Get("digital"))
	b.board(root)
	b.room(root.Get("room"))
}

// filter takes a checked filter apart; the zero Filter where it had a fault.
func (b *builder) filter(v *Value, path string) Filter {
	if v == nil || v.Fields[0].Value == nil {
		return Filter{Path: path}
	}
	f := Filter{Path: path, Kind: v.Fields[0].Key, Pos: v.Fields[0].KeyPos}
	f.arguments(v.Fields[0].Value)
	f.When = b.conditions(v.Fields[0].Value.Get("when"))
	return f
}

// arguments fills in what stands below a filter's kind: the keys of the kind's
// own table, and how it is to be realised.
func (f *Filter) arguments(v *Value) {
	f.Args = v.without("when", "method", "topology")
	f.Method = v.word("method")
	if t := v.Get("topology"); t != nil {
		f.Topology, f.TopologyPos = t.Word, t.Pos
	}
}

// without is a mapping that lacks some keys.
func (v *Value) without(keys ...string) *Value {
	out := *v
	out.Fields = nil
	for _, f := range v.Fields {
		if !slices.Contains(keys, f.Key) {
			out.Fields = append(out.Fields, f)
		}
	}
	return &out
}

// wordOf is the value's word, "" for none.
func (v *Value) wordOf() string {
	if v == nil {
		return ""
	}
	return v.Word
}

func (b *builder) digital(v *Value) {
	if v == nil {
		return
	}
	d := &Digital{Pos: v.Pos}
	for _, r := range v.Get("rates").items() {
		if r == nil {
			continue
		}
		if r.Number != math.Trunc(r.Number) {
			b.fault(r.Pos, quoted(r.Text)+" is not a whole number of Hz", "a sampling rate is a whole number of Hz")
		}
		if i := slices.Index(d.RatesHz, r.Number); i >= 0 {
			b.fault(r.Pos, fmt.Sprintf("the rate %s is given twice", quoted(r.Text)), "keep one of them")
			continue
		}
		d.RatesHz = append(d.RatesHz, r.Number)
		d.RatePos = append(d.RatePos, r.Pos)
	}
	for _, f := range v.Get("formats").items() {
		if f == nil {
			continue
		}
		if slices.Contains(d.Formats, f.Word) {
			b.fault(f.Pos, fmt.Sprintf("the format %s is given twice", quoted(f.Word)), "keep one of them")
			continue
		}
		d.Formats = append(d.Formats, f.Word)
	}
	whole := func(key string) int {
		if n := v.Get(key); n != nil {
			return int(n.Number)
		}
		return 0
	}
	d.Channels, d.ExtraBiquads = whole("channels"), whole("extra-biquads")
	if h := v.Get("headroom"); h != nil {
		d.HeadroomDB = h.Number
	}
	if f := v.Get("fade"); f != nil {
		d.FadeS = f.Number
	}
	if n := v.Get("dither"); n != nil {
		d.Dither, d.DitherPos = b.bits(n), n.Pos
	}
	d.Method = v.word("method")
	d.SectionBySection = v.word("section-by-section") == "true"
	for _, l := range v.Get("layouts").items() {
		if l != nil {
			b.layout(l, d, b.lang)
		}
	}
	b.spec.Digital = d
}

// word, fields and items are empty for the value that is absent or had a fault.
func (v *Value) word(key string) string { return v.Get(key).wordOf() }

func (v *Value) fields() []Field {
	if v == nil {
		return nil
	}
	return v.Fields
}

func (v *Value) items() []*Value {
	if v == nil {
		return nil
	}
	return v.Items
}
