package language

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"bandwright/biquad"
)

// ParseHeld reads the file of a held board, as Parse does a spec: several faults come
// from one run; the board is nil where one of them is an Error. Whether a topology has
// such parts, it does not know.
func ParseHeld(file string, src []byte, lang Tables) (*Held, []Fault) {
	b := heldBuilder{
		walker: walker{reader: &reader{file: file, held: true}, lang: lang},
		held:   &Held{File: file, Source: src, Written: map[string]float64{}},
		refs:   map[string]Pos{},
	}
	if text, ok := b.read(src); ok {
		if root := b.tree(text); root != nil {
			b.build(root)
		}
	}
	faults := b.sorted()
	if slices.ContainsFunc(faults, func(f Fault) bool { return f.Severity == Error }) {
		return nil, faults
	}
	return b.held, faults
}

// heldBuilder makes a Held of checked values.
type heldBuilder struct {
	walker
	held *Held
	refs map[string]Pos // that were given, of parts and of selectors
}

func (b *heldBuilder) build(n *node) {
	if n.shape != mapping {
		b.fault(n.at, "a held board is a mapping of keys", "begin with `bandwright-board: 1`")
		return
	}
	for _, e := range n.entries {
		switch v := e.value; {
		case e.key == "bandwright":
			b.fault(e.at, "this is a spec, not a held board", "name the file that `bandwright hold SPEC` wrote, or a new one for it to write")
			return
		case e.key == "bandwright-board" && v.shape == scalar && !v.quotes && isWhole(v.text) && v.text != "1" && number(v.text) == len(v.text):
			b.fault(v.at, fmt.Sprintf("this held board is in version %s of its language; this program reads version %d", v.text, heldVersion),
				"use the program that wrote it, or write `bandwright-board: 1`")
			return
		}
	}
	g := heldGrammar(b.lang)
	root := b.value(n, &g, holder{at: n.at, name: "the held board"})
	h := b.held
	if name := root.Get("name"); name != nil {
		h.Name, h.NamePos = name.Word, name.Pos
	}
	for _, f := range root.fields() {
		switch f.Key {
		case "common":
			h.Common = b.chain(f, 1)
		case "ways":
			b.ways(f.Value)
		}
	}
	for _, v := range root.Get("written").items() {
		b.written(v)
	}
}

func (b *heldBuilder) ways(v *Value) {
	blocks := map[int]Pos{}
	for _, f := range v.fields() {
		block := 0
		if n := f.Value.Get("block"); n != nil {
			block = int(n.Number)
			if at, twice := blocks[block]; twice {
				b.twice(n.Pos, "the block "+quoted(n.Text), at)
				block = 0
			} else {
				blocks[block] = n.Pos
			}
		}
		b.held.Ways = append(b.held.Ways, HeldWay{f.Key, b.chain(f, block)})
	}
}

// twice reports what is given a second time.
func (b *heldBuilder) twice(at Pos, what string, first Pos) {
	b.fault(at, what+" is given twice", fmt.Sprintf("the first is on line %d: keep one of them", first.Line))
}

// chain is the common chain or a way's. With block 0, which had a fault, no reference
// is judged by it.
func (b *heldBuilder) chain(f Field, block int) HeldChain {
	c := HeldChain{Pos: f.KeyPos, Block: block}
	stages := map[int]Pos{}
	for _, v := range f.Value.Get("stages").items() {
		if v == nil {
			continue
		}
		p := HeldPlace{Pos: v.Pos}
		switch {
		case v.Get("switches") != nil || v.Get("states") != nil:
			p.Selector, p.Switched = b.selector(v.Get("selector")), true
			p.Alternatives = b.states(v, block, stages)
		case v.Get("positions") == nil && v.Get("selector") == nil:
			p.Alternatives = [][]HeldStage{{b.stage(v, block, stages)}}
		default:
			p.Selector = b.selector(v.Get("selector"))
			for _, alt := range v.Get("positions").items() {
				series := []HeldStage{}
				for _, s := range alt.items() {
					if s != nil {
						series = append(series, b.stage(s, block, stages))
					}
				}
				p.Alternatives = append(p.Alternatives, series)
			}
		}
		c.Places = append(c.Places, p)
	}
	for _, e := range f.Value.Get("ends").fields() {
		c.Ends = append(c.Ends, b.end(e, &c))
	}
	return c
}

// end is a part outside of the stages of a chain.
func (b *heldBuilder) end(f Field, c *HeldChain) HeldEnd {
	e := HeldEnd{Pos: f.KeyPos, Use: f.Value.word("use"), Of: f.Value.word("of")}
	e.Part = b.part(f, f.Value.Get("value"), c.Block, 0)
	of, bleed := f.Value.Get("of"), e.Use == "bleed"
	switch lacks := !slices.ContainsFunc(f.Value.fields(), func(f Field) bool { return f.Key == "of" }); {
	case e.Use == "" || of == nil && !lacks: // it had a fault
	case bleed && lacks:
		b.fault(f.KeyPos, quoted(f.Key)+" lacks `of`", "a bleed resistor stands behind a selector: add `of: S1`, with the selector's reference")
	case bleed:
		b.behind(of, c)
	case !lacks:
		b.fault(of.Pos, "only a bleed resistor stands behind a selector: "+quoted(f.Key)+" is not one", "leave `of` out")
	}
	return e
}

// behind checks that a bleed resistor stands behind a selector of its chain.
func (b *heldBuilder) behind(of *Value, c *HeldChain) {
	var selectors []string
	for _, p := range c.Places {
		switch {
		case p.Selector != "":
			selectors = append(selectors, p.Selector)
		case len(p.Alternatives) > 1:
			return // its selector has a fault, and this may be its right name
		}
	}
	if slices.Contains(selectors, of.Word) {
		return
	}
	right := "the selectors are " + list(ticked(selectors), "and")
	if s := Nearest(of.Word, selectors); s != "" {
		right = "did you mean " + quoted(s) + "?"
	} else if selectors == nil {
		right = "there is no selector here: leave the resistor out"
	}
	b.fault(of.Pos, quoted(of.Word)+" is not a selector of these stages", right)
}

// selector is the reference of a selector's pole.
func (b *heldBuilder) selector(v *Value) string {
	if v == nil {
		return ""
	}
	b.given(v.Pos, v.Word)
	return v.Word
}

// states are the alternatives of a switched stage.
func (b *heldBuilder) states(v *Value, block int, before map[int]Pos) [][]HeldStage {
	one := HeldStage{}
	if x := v.Get("switches"); x != nil {
		one.Pos = x.Pos
		b.built(x, block, before, &one)
	}
	var behind []HeldStage
	for _, x := range v.Get("behind").items() {
		if x != nil {
			behind = append(behind, b.stage(x, block, before))
		}
	}
	var out [][]HeldStage
	for _, x := range v.Get("states").items() {
		if x == nil {
			continue
		}
		s := one
		b.asked(x, &s)
		out = append(out, append([]HeldStage{s}, behind...))
	}
	return out
}

// stage is one stage; before are the numbers given in its block.
func (b *heldBuilder) stage(v *Value, block int, before map[int]Pos) HeldStage {
	s := HeldStage{Pos: v.Pos}
	b.asked(v, &s)
	b.built(v, block, before, &s)
	if t := v.Get("topology"); t != nil && s.Role != "" && s.Role != "input" && !slices.Contains(names(b.lang.Topologies), s.Topology) {
		message, right := " takes a balanced signal, which only the board's input has", "choose another topology, or write `role: input`"
		if slices.Contains(names(b.lang.Switched), s.Topology) {
			message, right = " has a selector that picks its tap", "write it as `switches` of that selector"
		}
		b.fault(t.Pos, quoted(s.Topology)+message, right)
	}
	return s
}

// asked is what a stage is asked for.
func (b *heldBuilder) asked(v *Value, s *HeldStage) {
	s.Role, s.For = v.word("role"), v.word("for")
	if n := v.Get("level"); n != nil {
		if s.Level = n.Number; s.Level == 0 {
			b.fault(n.Pos, quoted(n.Text)+" is out of range for `level`: the stage would give no output", "it must not be 0")
		}
	}
	b.section(v.Get("section"), s)
}

// built is what a stage is.
func (b *heldBuilder) built(v *Value, block int, before map[int]Pos, s *HeldStage) {
	s.Topology = v.word("topology")
	if n := v.Get("stage"); n != nil {
		s.Number = int(n.Number)
		if at, twice := before[s.Number]; twice {
			b.twice(n.Pos, "the stage "+quoted(n.Text), at)
			block = 0
		} else {
			before[s.Number] = n.Pos
		}
	}
	if t := v.Get("topology"); t != nil {
		s.TopologyPos = t.Pos
	}
	for _, f := range v.Get("parts").fields() {
		s.Parts = append(s.Parts, b.part(f, f.Value, block, s.Number))
	}
	for _, r := range v.Get("op-amps").items() {
		if r != nil {
			b.opAmp(r, block)
			s.OpAmps = append(s.OpAmps, HeldPart{Pos: r.Pos, Ref: r.Word})
		}
	}
}

// part is a resistor or a capacitor of a stage, or with stage 0 one outside of them.
func (b *heldBuilder) part(f Field, v *Value, block, stage int) HeldPart {
	if b.given(f.KeyPos, f.Key) {
		b.fits(f.KeyPos, f.Key, block, stage)
	}
	p := HeldPart{Pos: f.KeyPos, Ref: f.Key, Dim: dimOf(f.Key)}
	if v != nil {
		p.Value, p.ValuePos = v.Number, v.Pos
	}
	return p
}

// given notes a reference, which the file must not have twice, and reports whether it
// is the first.
func (b *heldBuilder) given(at Pos, ref string) bool {
	first, twice := b.refs[ref]
	if twice {
		b.twice(at, quoted(ref), first)
	} else {
		b.refs[ref] = at
	}
	return !twice
}

// fits checks that the reference of a resistor or capacitor is one of its stage; 0 is
// where the parts outside of the stages are counted.
func (b *heldBuilder) fits(at Pos, ref string, block, stage int) {
	prefix := fmt.Sprintf("%s%d%02d", ref[:1], block, stage)
	if block == 0 || continues(ref, prefix) {
		return
	}
	where := fmt.Sprintf("stage %d of block %d", stage, block)
	if stage == 0 {
		where = fmt.Sprintf("the ends of block %d", block)
	}
	b.fault(at, fmt.Sprintf("%s does not belong to %s", quoted(ref), where),
		fmt.Sprintf("%s there is %s and a number of two digits, such as %s", partNoun(ref), quoted(prefix), quoted(prefix+"01")))
}

// opAmp notes the reference of an op-amp, which has its package's number inside its block.
func (b *heldBuilder) opAmp(v *Value, block int) {
	prefix := fmt.Sprintf("U%d", block)
	if !b.given(v.Pos, v.Word) || block == 0 || continues(strings.TrimRight(v.Word, "ABCD"), prefix) {
		return
	}
	b.fault(v.Pos, fmt.Sprintf("%s does not belong to block %d", quoted(v.Word), block),
		fmt.Sprintf("an op-amp there is %s, its package in two digits and its letter, such as %s", quoted(prefix), quoted(prefix+"01A")))
}

// section is what a stage was chosen for.
func (b *heldBuilder) section(v *Value, s *HeldStage) {
	one := biquad.Constant(1)
	s.W0, s.B, s.A = one.W0, one.B, one.A
	if v == nil {
		return
	}
	num, den := v.Get("numerator"), v.Get("denominator")
	if num == nil || den == nil {
		return // it had a fault
	}
	s.B, s.A = ascending(num), ascending(den)
	at, w0 := v.Get("at"), v.Get("w0")
	given := slices.ContainsFunc(v.Fields, func(f Field) bool { return f.Key == "at" || f.Key == "w0" })
	switch {
	case at != nil:
		s.W0 = 2 * math.Pi * at.Number
	case w0 != nil:
		s.W0 = w0.Number
	case !given && (len(num.Items) > 1 || len(den.Items) > 1):
		b.fault(v.Pos, "`section` lacks `at`", "add `at: 22 Hz`, the frequency that s is divided by; only a constant has none")
	}
	for _, c := range []struct {
		v    *Value
		name string
		of   [3]float64
	}{{num, "numerator", s.B}, {den, "denominator", s.A}} {
		if !slices.Contains(c.v.Items, nil) && c.of == ([3]float64{}) {
			b.fault(c.v.Pos, quoted(c.name)+" is 0", "at least one coefficient must not be 0")
		}
	}
}

// ascending are coefficients that a file lists from the highest power down.
func ascending(v *Value) (c [3]float64) {
	for i, x := range v.Items {
		if x != nil {
			c[len(v.Items)-1-i] = x.Number
		}
	}
	return c
}

// written notes which parts had a value when the program wrote the file.
func (b *heldBuilder) written(v *Value) {
	value := v.Get("value")
	for _, r := range v.Get("of").items() {
		if r == nil || value == nil {
			continue
		}
		if _, twice := b.held.Written[r.Word]; twice {
			b.fault(r.Pos, quoted(r.Word)+" is given twice in `written`", "keep one of them")
			continue
		}
		if value.Dim != dimOf(r.Word) {
			b.fault(r.Pos, fmt.Sprintf("%s is %s, and %s is %s", quoted(r.Word), partNoun(r.Word), quoted(value.Text), nouns[value.Dim]), "put it where its own value is")
			continue
		}
		b.held.Written[r.Word] = value.Number
	}
}
