package result

import (
	"fmt"
	"math"
	"slices"

	"bandwright/biquad"
	"bandwright/compiler"
	"bandwright/compiler/language"
	"bandwright/compiler/verify"
	"bandwright/compiler/words"
)

// effect is one edit with what it alone changes.
type effect struct {
	edit
	changes []change // nil where the spec with this edit alone means nothing
}

func (e effect) of(way string) (change, bool) {
	for _, c := range e.changes {
		if c.way == way {
			return c, c.any()
		}
	}
	return change{}, false
}

// causes compares two specs line by line.
func (c *comparison) causes(before, after *language.Spec) {
	c.edits = edits(before, after)
	start := func(edit) bool { return false }
	end := func(edit) bool { return true }
	from, _ := compiler.Prototype(with(before, after, start))
	to, _ := compiler.Prototype(with(before, after, end))
	if from == nil || to == nil {
		c.unknown()
		return
	}
	c.from, c.to = from, to
	c.settings = to.Spec.Settings
	c.share(before, after, append(from.Prototype.Axes(), to.Prototype.Axes()...))
	c.landmarks(from, to)
	c.a, c.b = ideal(from, c.hz, c.combos), ideal(to, c.hz, c.combos)
	var effects []effect
	for _, e := range c.edits {
		x := effect{edit: e}
		if !e.dull {
			if b, _ := compiler.Prototype(with(before, after, func(o edit) bool { return o.said == e.said })); b != nil {
				x.changes = c.between(c.a, ideal(b, c.hz, c.combos))
			}
		}
		effects = append(effects, x)
	}
	total := c.between(c.a, c.b)
	c.single(effects, total)
	c.together(effects, total)
}

// unknown sets the scope of results whose specs are not known, from their own
// settings.
func (c *comparison) unknown() {
	var shared []Setting
	for _, s := range c.new.Settings {
		i := slices.IndexFunc(c.old.Settings, func(o Setting) bool { return o.Name == s.Name })
		if i < 0 {
			continue
		}
		both := Setting{Name: s.Name}
		for _, x := range c.old.Settings[i].Choices {
			if slices.Contains(s.Choices, x) {
				both.Choices = append(both.Choices, x)
			}
		}
		if both.Choices != nil {
			shared = append(shared, both)
		}
	}
	for _, m := range combinations(shared) {
		c.name(m)
		c.combos = append(c.combos, nil)
	}
}

// name notes a combination of shared settings by name for each side.
func (c *comparison) name(shared map[string]string) {
	side := func(settings []Setting) map[string]string {
		m := map[string]string{}
		for _, s := range settings {
			m[s.Name] = s.Choices[0]
			if x, ok := shared[s.Name]; ok {
				m[s.Name] = x
			}
		}
		return m
	}
	c.oldNames, c.newNames = append(c.oldNames, side(c.old.Settings)), append(c.newNames, side(c.new.Settings))
}

// share finds the combinations that both specs offer, of the settings that
// either depends on.
func (c *comparison) share(before, after *language.Spec, axes []biquad.Axis) {
	var shared []Setting
	find := func(of *language.Spec, name string) *language.Setting {
		for i := range of.Settings {
			if of.Settings[i].Name == name {
				return &of.Settings[i]
			}
		}
		return nil
	}
	has := func(s *language.Setting, text string) bool {
		return slices.ContainsFunc(s.Choices, func(v *language.Value) bool { return v.Text == text })
	}
	for i, s := range c.settings {
		if !slices.ContainsFunc(axes, func(a biquad.Axis) bool { return a.Setting == i }) {
			continue
		}
		o, n := find(before, s.Name), find(after, s.Name)
		if o == nil || n == nil {
			continue
		}
		both := Setting{Name: s.Name}
		for _, v := range s.Choices {
			if has(o, v.Text) && has(n, v.Text) {
				both.Choices = append(both.Choices, v.Text)
			}
		}
		if both.Choices != nil {
			shared = append(shared, both)
		}
	}
	for _, m := range combinations(shared) {
		combo := make(biquad.Combination, len(c.settings))
		for i, s := range c.settings {
			if text, ok := m[s.Name]; ok {
				combo[i] = uint8(slices.IndexFunc(s.Choices, func(v *language.Value) bool { return v.Text == text }))
			}
		}
		c.combos = append(c.combos, combo)
		c.name(m)
	}
}

// landmarks adds to the grid the places where narrow filters stand, so that
// none falls between two frequencies.
func (c *comparison) landmarks(builds ...*compiler.Wanted) {
	lo, hi := c.hz[0], c.hz[len(c.hz)-1]
	for _, b := range builds {
		p := b.Subject().Prototype
		for k := range b.Prototype.Ways {
			for _, l := range p.Landmarks(k) {
				for _, f := range []float64{l.Hz * (1 - 0.5/math.Max(l.Q, 0.5)), l.Hz, l.Hz * (1 + 0.5/math.Max(l.Q, 0.5))} {
					if l.Q > scopePerOctave/4 && f > lo && f < hi {
						c.hz = append(c.hz, f)
					}
				}
			}
		}
	}
	slices.Sort(c.hz)
	c.hz = slices.Compact(c.hz)
}

// single adds the sentences of every edit alone.
func (c *comparison) single(effects []effect, total []change) {
	for _, e := range effects {
		said := false
		sum, _ := e.of("sum")
		all := uniform(e.changes)
		for i, x := range e.changes {
			if !x.any() || all && i != widest(e.changes) {
				continue
			}
			name := x.way
			if all {
				name = "every way"
			}
			if x.way == "sum" && (math.Abs(x.db) < leastDB || said && c.through(e.changes)) {
				continue
			}
			text, db, hz, combo := c.say(x, sum, len(e.changes) > 1)
			beyond := c.tol.beyond(x) && slices.ContainsFunc(total, func(t change) bool { return t.way == x.way && c.tol.beyond(t) })
			c.add(Change{Kind: OfResponse, Way: name, DB: db, AtHz: hz, Setting: c.choices(combo), Causes: []string{e.path}, Line: e.at.Line,
				Beyond: beyond, Sentence: name + ": " + text + ", because " + e.said})
			said = true
		}
		if said {
			continue
		}
		kind, text := OfText, e.said
		switch {
		case e.stops:
			kind = OfOffer
		case e.changes != nil:
			text += ", which changes no response at any setting that both have"
		case !e.dull:
			text += ", which cannot stand without the other changes"
		}
		c.add(Change{Kind: kind, Causes: []string{e.path}, Line: e.at.Line, Beyond: e.stops, Sentence: text})
	}
	for _, e := range effects {
		if e.stops && e.changes != nil && !slices.ContainsFunc(c.out.Changes, func(x Change) bool { return x.Kind == OfOffer && x.Causes[0] == e.path }) {
			c.add(Change{Kind: OfOffer, Causes: []string{e.path}, Line: e.at.Line, Beyond: true, Sentence: e.said})
		}
	}
	for _, t := range total {
		c.out.Regression = c.out.Regression || c.tol.beyond(t)
	}
}

// through reports whether the ways themselves told nothing but delay, polarity
// or phase: then the sum is in their sentences already.
func (c *comparison) through(changes []change) bool {
	for _, x := range changes {
		if x.way != "sum" && math.Abs(x.db) >= leastDB {
			return false
		}
	}
	return true
}

// widest is which of some changes is the greatest in dB.
func widest(changes []change) int {
	at := 0
	for i, x := range changes {
		if math.Abs(x.db) > math.Abs(changes[at].db)+1e-9 {
			at = i
		}
	}
	return at
}

// uniform reports whether all ways and the sum changed alike, as by a common
// filter.
func uniform(changes []change) bool {
	if len(changes) < 3 {
		return false
	}
	first := changes[0]
	for _, x := range changes[1:] {
		for i := range x.perLine {
			if math.Abs(x.perLine[i]-first.perLine[i]) > leastDB {
				return false
			}
		}
		if x.way != "sum" && (x.turned != first.turned || math.Abs(x.lateS-first.lateS) >= leastS) {
			return false
		}
	}
	return true
}

// say is what happened to one way: its level, or where that did not change,
// its delay, polarity or phase with what they do to the sum. db is what it is
// sorted by.
func (c *comparison) say(x, sum change, withSum bool) (text string, db, hz float64, combo int) {
	if math.Abs(x.db) >= leastDB {
		return c.level(x), x.db, x.hz, x.combo
	}
	switch {
	case x.turned:
		text = "its polarity turns"
	case x.lateS > 0:
		text = words.Seconds(x.lateS) + " later"
	case x.lateS < 0:
		text = words.Seconds(-x.lateS) + " earlier"
	default:
		text = fmt.Sprintf("%+.1f deg at %s", x.deg, hertz(x.degHz))
	}
	if withSum && math.Abs(sum.db) >= leastDB {
		return text + ", which changes the sum by " + c.level(sum), sum.db, sum.hz, sum.combo
	}
	return text, 0, 0, 0
}

// level is "+0.21 dB at 256 Hz with placement wall".
func (c *comparison) level(x change) string {
	text := decibels(x.db)
	if x.flat {
		text += " throughout"
	} else {
		text += " at " + hertz(x.hz)
	}
	if x.below > 0 {
		text += fmt.Sprintf(", %.0f dB below its peak", x.below)
	}
	return text + c.where(x.combo)
}

// where names the choices of a combination that are not the defaults.
func (c *comparison) where(combo int) string {
	var out []string
	m := c.choices(combo)
	for _, s := range c.new.Settings {
		if v, ok := m[s.Name]; ok {
			out = append(out, s.Name+" "+v)
		}
	}
	if out == nil {
		return ""
	}
	return " with " + words.List(out)
}

// choices are those of a combination that are not the defaults.
func (c *comparison) choices(combo int) map[string]string {
	var m map[string]string
	for _, s := range c.new.Settings {
		if v := c.newNames[combo][s.Name]; v != c.newNames[0][s.Name] {
			if m == nil {
				m = map[string]string{}
			}
			m[s.Name] = v
		}
	}
	return m
}

func decibels(x float64) string {
	switch {
	case math.Abs(x) >= verify.MostErrorDB:
		return words.Level(x, "dB") + " or more"
	case math.Abs(x) < 0.01:
		return fmt.Sprintf("%+.3f dB", x)
	}
	return words.Level(x, "dB")
}

// hertz is a frequency to three digits.
func hertz(f float64) string { return words.Hz(digits(f, 3)) }

// together adds what edits do only jointly, and what all do together.
func (c *comparison) together(effects []effect, total []change) {
	for _, t := range total {
		var parts []effect
		alone := make([]float64, len(t.perLine))
		for _, e := range effects {
			if e.dull {
				continue
			}
			x, any := e.of(t.way)
			if e.changes == nil || any {
				parts = append(parts, e)
			}
			for i, d := range x.perLine {
				alone[i] += d
			}
		}
		if len(parts) < 2 {
			continue
		}
		rest := c.rest(t.way, alone)
		least := leastDB
		if t.way == "sum" {
			least = c.tol.MagnitudeDB // every two lines interact in a sum
		}
		if math.Abs(rest.db) >= 10*least || t.way == "sum" && math.Abs(rest.db) > least {
			further := "a further "
			if !slices.ContainsFunc(parts, func(e effect) bool { return e.changes != nil }) {
				further = ""
			}
			paths, why := because(parts)
			c.add(Change{Kind: OfInteraction, Way: t.way, DB: rest.db, AtHz: rest.hz, Setting: c.choices(rest.combo), Causes: paths, Line: parts[0].at.Line,
				Beyond:   math.Abs(rest.db) > c.tol.MagnitudeDB && c.tol.beyond(t),
				Sentence: fmt.Sprintf("%s: %s%s by interaction, because %s act together", t.way, further, c.level(rest), why)})
		}
		if math.Abs(t.db) >= leastDB {
			c.out.Totals = append(c.out.Totals, t.way+" "+c.level(t))
		}
	}
}

// rest is the greatest part of a way's change that its edits alone do not add
// up to, where it is heard.
func (c *comparison) rest(way string, alone []float64) change {
	out := change{way: way}
	n := 0
	for k := range c.combos {
		x, y := c.pair(c.a, c.b, way, k)
		px, py := peak(x), peak(y)
		for i := range x {
			d := ratio(x[i], y[i]) - alone[n]
			n++
			if math.Max(biquad.DB(x[i])-px, biquad.DB(y[i])-py) >= heardDB && math.Abs(d) > math.Abs(out.db)+1e-9 {
				out.db, out.hz, out.combo = d, c.hz[i], k
			}
		}
	}
	return out
}

// pair is a way, or the sum, on two sheets.
func (c *comparison) pair(a, b *sheet, way string, combo int) (x, y []complex128) {
	if way == "sum" {
		return a.sum(combo), b.sum(combo)
	}
	return a.h[combo][a.way(way)], b.h[combo][b.way(way)]
}

const causesNamed = 3

// because names edits by their paths: "crossovers[0].at and ways.bass.gain".
func because(parts []effect) (paths []string, text string) {
	for _, e := range parts {
		paths = append(paths, e.path)
	}
	if n := len(paths) - causesNamed; n > 0 {
		return paths, words.List(append(slices.Clone(paths[:causesNamed]), words.Count(n, "more line", "more lines")))
	}
	return paths, words.List(paths)
}
