package language

import (
	"fmt"
	"math"
	"slices"
	"strings"
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
	b.ways(root.Get("ways"))
	b.crossovers(root.Get("crossovers"), root.Get("ways") != nil)
	s.Promise = root.Get("promise")
	s.Regression = root.Get("regression")
	b.digital(root.Get("digital"))
	b.board(root)
}

// settings checks what the grammar cannot of the choices.
func (b *builder) settings(root *Value) {
	v := root.Get("settings")
	b.settingsKnown = true
	if v == nil {
		b.settingsKnown = !slices.ContainsFunc(root.fields(), func(f Field) bool { return f.Key == "settings" })
		return
	}
	for _, f := range v.Fields {
		set := Setting{Name: f.Key, Pos: f.KeyPos}
		for _, c := range f.Value.items() {
			if c != nil && !b.choice(c) {
				c = nil
			}
			set.Choices = append(set.Choices, c)
		}
		b.spec.Settings = append(b.spec.Settings, set)
	}
}

// combinations refuses more combinations of choices than are verified.
func (b *builder) combinations() {
	all := 1
	for _, s := range b.spec.Settings {
		if all *= max(1, len(s.Choices)); all > maxCombinations {
			b.fault(s.Pos, fmt.Sprintf("with this setting there are more than %d combinations of choices", maxCombinations), "fewer settings, or fewer choices")
			return
		}
	}
}

// choice checks that a choice can become an identifier.
func (b *builder) choice(c *Value) bool {
	const signs = " ._+-"
	for _, r := range c.Text {
		if r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || strings.ContainsRune(signs, r) {
			continue
		}
		right := "a choice is letters a–z and A–Z, digits, spaces and the signs . _ + -"
		if fixed := strings.NewReplacer("\u2212", "-", ",", ".").Replace(c.Text); fixed != c.Text && number(fixed) > 0 {
			right = "write " + code(fixed)
		}
		b.fault(c.Pos, fmt.Sprintf("the choice %s has the character %s", quoted(c.Text), quoted(string(r))), right)
		return false
	}
	if len(c.Text) > maxName {
		b.fault(c.Pos, fmt.Sprintf("a choice of more than %d characters", maxName), "shorten it")
		return false
	}
	return true
}

// enums refuses settings and choices that would have the same name in C.
func (b *builder) enums() {
	type owner struct {
		name string
		line int
	}
	claim := func(seen map[string]owner, enum, name string, at Pos) bool {
		o, taken := seen[enum]
		switch {
		case !taken:
			seen[enum] = owner{name, at.Line}
			return true
		case o.name == name:
			b.fault(at, quoted(name)+" is given twice", fmt.Sprintf("it stands on line %d already: keep one of them", o.line))
		default:
			b.fault(at, fmt.Sprintf("%s and %s are both %s in C", quoted(o.name), quoted(name), quoted(enum)), "choose another name for one of them")
		}
		return false
	}
	settings, choices := map[string]owner{}, map[string]owner{}
	for _, s := range b.spec.Settings {
		if !claim(settings, EnumName(s.Name), s.Name, s.Pos) {
			continue
		}
		for _, c := range s.Choices {
			if c != nil {
				claim(choices, strings.ToUpper(b.spec.Name)+"_"+EnumName(s.Name)+"_"+EnumName(c.Text), c.Text, c.Pos)
			}
		}
	}
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

// conditions resolves `when` against the settings.
func (b *builder) conditions(v *Value) []Condition {
	var out []Condition
	for _, f := range v.fields() {
		i := slices.IndexFunc(b.spec.Settings, func(s Setting) bool { return s.Name == f.Key })
		if i < 0 {
			b.unknownSetting(f)
			continue
		}
		c := Condition{Setting: i, Pos: f.KeyPos}
		choices := f.Value.items()
		if f.Value != nil && choices == nil {
			choices = []*Value{f.Value}
		}
		for _, w := range choices {
			if w == nil {
				continue
			}
			switch k := b.choiceIndex(i, w); {
			case k < 0:
			case slices.Contains(c.Choices, k):
				b.fault(w.Pos, quoted(w.Text)+" is given twice", "keep one of them")
			default:
				c.Choices = append(c.Choices, k)
			}
		}
		slices.Sort(c.Choices)
		out = append(out, c)
	}
	return out
}

func (b *builder) unknownSetting(f Field) {
	if !b.settingsKnown {
		return
	}
	var names []string
	for _, s := range b.spec.Settings {
		names = append(names, s.Name)
	}
	right := "the settings are " + list(ticked(names), "and")
	if s := nearest(f.Key, names); s != "" {
		if !isName(s, false) {
			return // its own name is the fault
		}
		right = "did you mean " + quoted(s) + "?"
	} else if len(names) == 0 {
		right = "the spec has no `settings`: add a setting with its choices, or leave `when` out"
	}
	b.fault(f.KeyPos, quoted(f.Key)+" is not a setting", right)
}

// choiceIndex finds a choice of setting i, -1 with a fault where there is none.
func (b *builder) choiceIndex(i int, v *Value) int {
	s := b.spec.Settings[i]
	var texts []string
	for k, c := range s.Choices {
		if c == nil {
			return -1 // one had a fault: it may be this
		}
		if c.Text == v.Text {
			return k
		}
		texts = append(texts, c.Text)
	}
	if texts == nil {
		return -1
	}
	right := "the choices are " + list(ticked(texts), "and")
	if c := nearest(v.Text, texts); c != "" {
		right = "did you mean " + quoted(c) + "?"
	}
	b.fault(v.Pos, fmt.Sprintf("%s is not a choice of the setting %s", quoted(v.Text), quoted(s.Name)), right)
	return -1
}

func (b *builder) ways(v *Value) {
	seen := map[string]string{}
	for _, f := range v.fields() {
		w := Way{Name: f.Key, Pos: f.KeyPos}
		if f.Key == sumOfWays {
			b.fault(f.KeyPos, "a way cannot be called "+quoted(sumOfWays)+": reports call the sum of all ways so", "choose another name")
		}
		if other, taken := seen[identifier(f.Key)]; taken {
			b.fault(f.KeyPos, fmt.Sprintf("the ways %s and %s are both %s in C", quoted(other), quoted(f.Key), quoted(identifier(f.Key))), "choose another name for one of them")
		}
		seen[identifier(f.Key)] = f.Key
		for i, v := range f.Value.Get("filters").items() {
			w.Filters = append(w.Filters, b.filter(v, fmt.Sprintf("ways.%s.filters[%d]", f.Key, i)))
		}
		if g := f.Value.Get("gain"); g != nil {
			w.GainDB = g.Number
		}
		w.Inverted = f.Value.word("polarity") == "inverted"
		if d := f.Value.Get("delay"); d != nil {
			w.DelayS, w.DelayPos = d.Quantity(), d.Pos
			if w.DelayS > 1 {
				b.fault(d.Pos, fmt.Sprintf("%s is out of range for `delay`", quoted(d.Text)), "it must be from 0 s to 1 s, or 0 m to 343 m")
			}
		}
		b.spec.Ways = append(b.spec.Ways, w)
	}
}

// crossovers resolves the names of ways. waysKnown is false where the ways
// block itself has a fault.
func (b *builder) crossovers(v *Value, waysKnown bool) {
	used := map[int]int{} // lower way → line
	for i, item := range v.items() {
		if item == nil {
			continue
		}
		x := Crossover{Pos: item.Pos}
		path := fmt.Sprintf("crossovers[%d]", i)
		if between := item.Get("between"); between != nil && waysKnown {
			lower, upper, ok := b.neighbours(between)
			if ok {
				if line, taken := used[lower]; taken {
					b.fault(between.Pos, fmt.Sprintf("a second crossover between %s and %s", quoted(b.spec.Ways[lower].Name), quoted(b.spec.Ways[upper].Name)),
						fmt.Sprintf("the one on line %d is there already: keep one of them", line))
				} else {
					used[lower] = between.Pos.Line
				}
			}
			x.Lower, x.Upper = lower, upper
		}
		if low, high := item.Get("low"), item.Get("high"); low != nil || high != nil {
			x.Low = side(path+".low", b.lang.LowPass, item, "low")
			x.High = side(path+".high", b.lang.HighPass, item, "high")
		} else {
			x.Same = true
			x.Low = Filter{Path: path, Kind: b.lang.LowPass, Pos: item.Pos}
			x.Low.arguments(item.without("between"))
			x.High = x.Low
			x.High.Kind = b.lang.HighPass
		}
		b.spec.Crossovers = append(b.spec.Crossovers, x)
	}
}

// side is the filter under one key of a crossover.
func side(path, kind string, item *Value, key string) Filter {
	f := Filter{Path: path, Kind: kind}
	for _, field := range item.Fields {
		if field.Key != key {
			continue
		}
		if f.Pos = field.KeyPos; field.Value != nil {
			f.arguments(field.Value)
		}
	}
	return f
}

// neighbours finds the two ways of a crossover.
func (b *builder) neighbours(between *Value) (lower, upper int, ok bool) {
	var names []string
	for _, w := range b.spec.Ways {
		names = append(names, w.Name)
	}
	var at []int
	for _, v := range between.Items {
		if v == nil {
			return 0, 0, false
		}
		i := slices.Index(names, v.Word)
		if i < 0 {
			right := "the ways are " + list(ticked(names), "and")
			if s := nearest(v.Word, names); s != "" {
				if !isName(s, false) {
					continue // its own name is the fault
				}
				right = "did you mean " + quoted(s) + "?"
			} else if len(names) == 1 {
				right = "the only way is " + quoted(names[0])
			}
			b.fault(v.Pos, quoted(v.Word)+" is not a way", right)
			continue
		}
		at = append(at, i)
	}
	if len(at) != 2 {
		return 0, 0, false
	}
	lower, upper = at[0], at[1]
	switch {
	case lower == upper:
		b.fault(between.Items[1].Pos, fmt.Sprintf("a crossover between %s and itself", quoted(names[lower])), "name two neighbouring ways, the lower first")
	case upper == lower-1:
		b.fault(between.Pos, fmt.Sprintf("%s stands above %s in `ways`", quoted(names[lower]), quoted(names[upper])), fmt.Sprintf("name the lower way first: `between: [%s, %s]`", names[upper], names[lower]))
	case upper != lower+1:
		low, high := min(lower, upper), max(lower, upper)
		b.fault(between.Pos, fmt.Sprintf("%s and %s are not neighbours", quoted(names[lower]), quoted(names[upper])),
			fmt.Sprintf("between them in `ways` stands %s: a crossover is between neighbours", list(ticked(names[low+1:high]), "and")))
	default:
		return lower, upper, true
	}
	return 0, 0, false
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
	d.Method = v.word("method")
	d.SectionBySection = v.word("section-by-section") == "true"
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
