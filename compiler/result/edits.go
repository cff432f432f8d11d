package result

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"bandwright/compiler/language"
	"bandwright/compiler/words"
)

// edit is one line of the spec that changed its meaning.
type edit struct {
	said string       // "crossovers[0].at went from 260 Hz to 252 Hz": its identity as well
	path string       // "crossovers[0].at"
	at   language.Pos // in the new spec; zero where nothing of it is left there
	// dull says that it cannot change the prototype.
	dull bool
	// stops is why the edit alone must not pass unseen: something that the
	// product offered is gone, or a promise is weaker.
	stops bool
	// realises says that it may change how the prototype is realised.
	realises bool
}

// fits reports whether the edit, which changes no prototype, may change what a
// board is built from.
func (e edit) fits() bool {
	block, key, _ := strings.Cut(e.path, ".")
	switch {
	case !e.dull:
		return false
	case block == "board":
		return key != "distribution" && !strings.HasSuffix(key, ".tolerance")
	case block == "promise":
		return key == "board-magnitude" || key == "sum" || key == "phase" || key == "band"
	}
	return strings.HasSuffix(e.path, ".topology") || strings.HasSuffix(e.said, otherOrder)
}

// otherOrder is what is said of filters that only changed places.
const otherOrder = " stand in another order"

// blend is a spec between two: at every line that changed, choose says whether
// the new one is taken. With a choose that collects, it is the list of edits;
// with one that takes a single edit, it is the old spec with that edit alone.
// Conditions count in the settings of both, the old ones first.
type blend struct {
	old, new *language.Spec
	choose   func(edit) bool
	settings []language.Setting
}

// edits lists what changed between two specs in the order of the file.
func edits(old, new *language.Spec) []edit {
	var out []edit
	b := blend{old: old, new: new, choose: func(e edit) bool {
		if !slices.ContainsFunc(out, func(o edit) bool { return o.said == e.said }) {
			out = append(out, e)
		}
		return true
	}}
	b.spec()
	return out
}

// with is the old spec with the edits for which on holds.
func with(old, new *language.Spec, on func(edit) bool) *language.Spec {
	b := blend{old: old, new: new, choose: on}
	return b.spec()
}

func (b *blend) spec() *language.Spec {
	o, n := b.old, b.new
	s := *n
	for _, t := range [][3]string{{"name", o.Name, n.Name}, {"title", o.Title, n.Title}, {"revision", o.Revision, n.Revision}} {
		b.text(t[0], t[1], t[2], edit{dull: true})
	}
	b.union()
	s.Settings = b.settings
	s.Common = b.filters("common", b.from(o.Common, o), b.from(n.Common, n))
	b.ways(&s)
	s.PhaseCompensation = n.PhaseCompensation
	if !b.text("phase-compensation", o.PhaseCompensation, n.PhaseCompensation, edit{}) {
		s.PhaseCompensation = o.PhaseCompensation
	}
	b.promises("promise", o.Promise, n.Promise)
	b.promises("regression", o.Regression, n.Regression)
	s.Digital = b.digital()
	b.hardware("", parts(o), parts(n))
	return &s
}

// parts is what a spec says of the converter and the board.
func parts(s *language.Spec) *language.Value {
	out := &language.Value{}
	for _, f := range s.Tree.Fields {
		if f.Key == "dac" || f.Key == "board" {
			out.Fields = append(out.Fields, f)
		}
	}
	return out
}

// went is the sentence part of a value that changed.
func went(path, from, to string) string {
	switch {
	case from == "":
		return fmt.Sprintf("%s was added: %s", path, to)
	case to == "":
		return fmt.Sprintf("%s was removed: it was %s", path, from)
	}
	return fmt.Sprintf("%s went from %s to %s", path, from, to)
}

// text asks for a changed text; true where the new one holds.
func (b *blend) text(path, from, to string, e edit) bool {
	if from == to {
		return true
	}
	e.path, e.said = path, went(path, from, to)
	return b.choose(e)
}

// union joins the settings: the old choices, then those that are new.
func (b *blend) union() {
	texts := func(s language.Setting) []string {
		var out []string
		for _, c := range s.Choices {
			out = append(out, c.Text)
		}
		return out
	}
	find := func(in []language.Setting, name string) int {
		return slices.IndexFunc(in, func(s language.Setting) bool { return s.Name == name })
	}
	for _, s := range b.old.Settings {
		j := find(b.new.Settings, s.Name)
		all := language.Setting{Name: s.Name, Choices: slices.Clone(s.Choices)}
		path := "settings." + s.Name
		if j < 0 {
			b.choose(edit{path: path, said: path + " was removed: it had " + words.List(texts(s)), dull: true, stops: true})
			b.settings = append(b.settings, all)
			continue
		}
		n := b.new.Settings[j]
		before, after := texts(s), texts(n)
		for k, c := range after {
			if !slices.Contains(before, c) {
				b.choose(edit{path: path, at: n.Pos, said: fmt.Sprintf("%s has the new choice %s", path, c), dull: true})
				all.Choices = append(all.Choices, n.Choices[k])
			}
		}
		for _, c := range before {
			if !slices.Contains(after, c) {
				b.choose(edit{path: path, at: n.Pos, said: fmt.Sprintf("%s lost the choice %s", path, c), dull: true, stops: true})
			}
		}
		if before[0] != after[0] {
			b.choose(edit{path: path, at: n.Pos, said: fmt.Sprintf("%s now begins at %s, not %s", path, after[0], before[0]), dull: true, stops: true})
		}
		b.settings = append(b.settings, all)
	}
	for _, n := range b.new.Settings {
		if find(b.old.Settings, n.Name) < 0 {
			path := "settings." + n.Name
			b.choose(edit{path: path, at: n.Pos, said: path + " was added: " + words.List(texts(n)), dull: true})
			b.settings = append(b.settings, n)
		}
	}
}

// from is a list of filters with their conditions in the joint settings.
func (b *blend) from(fs []language.Filter, of *language.Spec) []language.Filter {
	var out []language.Filter
	for _, f := range fs {
		when := f.When
		f.When = nil
		for _, c := range when {
			name := of.Settings[c.Setting].Name
			i := slices.IndexFunc(b.settings, func(s language.Setting) bool { return s.Name == name })
			joint := language.Condition{Setting: i, Pos: c.Pos}
			for _, k := range c.Choices {
				text := of.Settings[c.Setting].Choices[k].Text
				joint.Choices = append(joint.Choices, slices.IndexFunc(b.settings[i].Choices, func(v *language.Value) bool { return v.Text == text }))
			}
			slices.Sort(joint.Choices)
			f.When = append(f.When, joint)
		}
		slices.SortFunc(f.When, func(x, y language.Condition) int { return x.Setting - y.Setting })
		out = append(out, f)
	}
	return out
}

// when writes conditions as a spec does.
func (b *blend) when(cs []language.Condition) string {
	var out []string
	for _, c := range cs {
		var choices []string
		for _, k := range c.Choices {
			choices = append(choices, b.settings[c.Setting].Choices[k].Text)
		}
		text := strings.Join(choices, ", ")
		if len(choices) > 1 {
			text = "[" + text + "]"
		}
		out = append(out, b.settings[c.Setting].Name+": "+text)
	}
	if out == nil {
		return ""
	}
	return "{" + strings.Join(out, ", ") + "}"
}

// filters blends two lists of filters. Equal filters pair first, in order and
// then out of it; then those of one kind that share a value or their place.
// What is left was added or removed.
func (b *blend) filters(path string, old, new []language.Filter) []language.Filter {
	partner := make([]int, len(new)) // index in old, -1 for none
	taken := make([]bool, len(old))
	for j := range partner {
		partner[j] = -1
	}
	pair := func(fits func(i, j int) bool) {
		for j := range new {
			for i := range old {
				if partner[j] < 0 && !taken[i] && fits(i, j) {
					partner[j], taken[i] = i, true
				}
			}
		}
	}
	same := func(i, j int) bool { return b.equal(old[i], new[j]) }
	for i, j := range common(len(old), len(new), same) {
		if j >= 0 {
			partner[j], taken[i] = i, true
		}
	}
	pair(same)
	kin := func(i, j int) bool { return old[i].Kind == new[j].Kind }
	pair(func(i, j int) bool {
		return kin(i, j) && shares(old[i].Args, new[j].Args) && b.when(old[i].When) == b.when(new[j].When)
	})
	pair(func(i, j int) bool { return kin(i, j) && (i == j || shares(old[i].Args, new[j].Args)) })

	b.order(path, new, partner)
	var out []language.Filter
	for i := range old {
		if !taken[i] {
			said := fmt.Sprintf("%s[%d] was removed: %s", path, i, b.filterText(old[i]))
			if !b.choose(edit{path: fmt.Sprintf("%s[%d]", path, i), said: said}) {
				out = append(out, old[i])
			}
		}
	}
	for j, f := range new {
		here := fmt.Sprintf("%s[%d]", path, j)
		if partner[j] < 0 {
			if b.choose(edit{path: here, at: f.Pos, said: fmt.Sprintf("%s was added: %s", here, b.filterText(f))}) {
				out = append(out, f)
			}
			continue
		}
		out = append(out, b.filter(here, old[partner[j]], f))
	}
	return out
}

// order tells of filters that only changed places, which changes no response.
func (b *blend) order(path string, new []language.Filter, partner []int) {
	last, moved := -1, false
	for _, i := range partner {
		if i >= 0 {
			moved = moved || i < last
			last = max(last, i)
		}
	}
	if moved {
		b.choose(edit{path: path, at: new[0].Pos, said: path + otherOrder, dull: true, realises: true})
	}
}

// common is a longest common subsequence: for every element of the first list
// its partner in the second, -1 for none.
func common(n, m int, same func(i, j int) bool) []int {
	length := make([][]int, n+1)
	for i := range length {
		length[i] = make([]int, m+1)
	}
	for i := n - 1; i >= 0; i-- {
		for j := m - 1; j >= 0; j-- {
			length[i][j] = max(length[i+1][j], length[i][j+1])
			if same(i, j) {
				length[i][j] = max(length[i][j], length[i+1][j+1]+1)
			}
		}
	}
	out := make([]int, n)
	for i, j := 0, 0; i < n; {
		switch {
		case j < m && same(i, j) && length[i][j] == length[i+1][j+1]+1:
			out[i] = j
			i++
			j++
		case j < m && length[i][j+1] >= length[i+1][j]:
			j++
		default:
			out[i] = -1
			i++
		}
	}
	return out
}

// filter blends two filters of one kind.
func (b *blend) filter(path string, o, n language.Filter) language.Filter {
	f := n
	f.Args = b.value(path, o.Args, n.Args)
	if from, to := b.when(o.When), b.when(n.When); from != to {
		if !b.choose(edit{path: path + ".when", at: n.Pos, said: went(path+".when", from, to)}) {
			f.When = o.When
		}
	}
	b.text(path+".method", o.Method, n.Method, edit{at: n.Pos, dull: true, realises: true})
	b.text(path+".topology", o.Topology, n.Topology, edit{at: n.Pos, dull: true})
	return f
}

func (b *blend) equal(o, n language.Filter) bool {
	return o.Kind == n.Kind && alike(o.Args, n.Args) && b.when(o.When) == b.when(n.When) && o.Method == n.Method && o.Topology == n.Topology
}

func (b *blend) filterText(f language.Filter) string {
	text := f.Kind + " " + valueText(f.Args)
	if w := b.when(f.When); w != "" {
		text += " when " + w
	}
	return text
}

// value blends two values key by key.
func (b *blend) value(path string, o, n *language.Value) *language.Value {
	if o == nil || n == nil || o.Fields == nil || n.Fields == nil {
		if alike(o, n) {
			return n
		}
		at := language.Pos{}
		if n != nil {
			at = n.Pos
		}
		if b.choose(edit{path: path, at: at, said: went(path, valueText(o), valueText(n))}) {
			return n
		}
		return o
	}
	out := *n
	out.Fields = nil
	add := func(key string, pos language.Pos, v *language.Value) {
		if v != nil {
			out.Fields = append(out.Fields, language.Field{Key: key, KeyPos: pos, Value: v})
		}
	}
	for _, f := range n.Fields {
		add(f.Key, f.KeyPos, b.value(path+"."+f.Key, o.Get(f.Key), f.Value))
	}
	for _, f := range o.Fields {
		if n.Get(f.Key) == nil {
			add(f.Key, f.KeyPos, b.value(path+"."+f.Key, f.Value, nil))
		}
	}
	return &out
}

// sameNumber is how near, relative, two spellings of one quantity come out: a
// length divided by the speed of sound is rounded once more than a time.
const sameNumber = 1e-12

// speed turns a length into a time, m/s.
const speed = 343

// zero is the word for no quantity of any unit.
const zero = "0"

// quantity is a scalar's number, a length as the time that sound takes for it:
// wherever a spec may hold a length, it may hold a time as well.
func quantity(v *language.Value) float64 {
	if v.Dim == language.Length {
		return v.Number / speed
	}
	return v.Number
}

// alike reports whether two values mean the same, whatever their spelling and
// the order of their keys.
func alike(o, n *language.Value) bool {
	if o == nil || n == nil {
		return o == n
	}
	close := func(x, y float64) bool {
		return x == y || math.Abs(x-y) <= sameNumber*math.Max(math.Abs(x), math.Abs(y))
	}
	if o.Word != n.Word && (o.Word != zero && n.Word != zero || o.Number != n.Number) || !close(quantity(o), quantity(n)) || !close(o.High, n.High) ||
		len(o.Items) != len(n.Items) || len(o.Fields) != len(n.Fields) {
		return false
	}
	for i := range o.Items {
		if !alike(o.Items[i], n.Items[i]) {
			return false
		}
	}
	for _, f := range o.Fields {
		if !alike(f.Value, n.Get(f.Key)) {
			return false
		}
	}
	return true
}

// shares reports whether two mappings have a value in common that the spec
// gives.
func shares(o, n *language.Value) bool {
	for _, f := range o.Fields {
		if v := n.Get(f.Key); v != nil && f.Value.Given && v.Given && alike(f.Value, v) {
			return true
		}
	}
	return false
}

// valueText is a value as a spec writes it, without its defaults; "" for none.
func valueText(v *language.Value) string {
	var out []string
	switch {
	case v == nil:
		return ""
	case v.Items != nil:
		for _, i := range v.Items {
			out = append(out, valueText(i))
		}
		return "[" + strings.Join(out, ", ") + "]"
	case v.Fields != nil:
		for _, f := range v.Fields {
			if f.Value.Given {
				out = append(out, f.Key+": "+valueText(f.Value))
			}
		}
		return "{" + strings.Join(out, ", ") + "}"
	}
	return v.Text
}
