package board

import (
	"math"
	"math/cmplx"
	"slices"

	"bandwright/biquad"
	"bandwright/compiler/circuit"
	"bandwright/compiler/language"
	"bandwright/compiler/stage"
)

const (
	// What a change of a held board's stages costs, in points: anything is dearer
	// than to leave it as it is.
	costOfNewStage  = 20.0 // beside its own score
	costOfAbsorbing = 5.0  // a gain in a stage that had none
	costOfLeaving   = 1.0  // a level that is not quite right
)

// heldStage is a stage with the parts that it is held with, asked for a section; false
// where its topology can not be it, or not what its filter wishes for.
func (c *chooser) heldStage(role Role, from string, s biquad.Analog, h *language.HeldStage) (*Stage, bool) {
	t, ok := circuit.ByName(h.Topology)
	a, err := circuit.Ask(s)
	if !ok || err != nil || !t.Can(a.Shape) || c.drop[h] {
		return nil, false
	}
	if wish := c.wish(from); wish != nil && wish != t && wish.Can(a.Shape) {
		return nil, false
	}
	values, ok := valuesOf(t, h)
	if !ok {
		return nil, false
	}
	x := &Stage{Role: role, From: from, Number: h.Number, Own: s, held: h, Why: "it is held"}
	x.Candidate = stage.Candidate{Topology: t, Section: s, Values: values, Level: c.heldLevel(t, s, values, h)}
	return x, true
}

// heldLevel is the wanted response of a held stage divided by its section.
func (c *chooser) heldLevel(t *circuit.Topology, s biquad.Analog, values []float64, h *language.HeldStage) float64 {
	if t.LevelFixed {
		if s == ownSection(h) {
			return h.Level
		}
		if p := t.Propose(s, c.bench.Means); p.Values != nil {
			return p.Level
		}
		return h.Level
	}
	// The sign is that of the parts, where the section is largest.
	w, _ := s.Natural()
	if w == 0 {
		w = s.W0
	}
	closed := t.Closed(values)
	top, level := 0.0, 1.0
	for _, x := range [...]float64{0.01, 1, 100} {
		if g := s.At(w * x); cmplx.Abs(g) > top {
			top, level = cmplx.Abs(g), real(closed.At(w*x)/g)
		}
	}
	return math.Copysign(1, level)
}

// valuesOf are a held stage's values in the order of its topology's parts.
func valuesOf(t *circuit.Topology, h *language.HeldStage) ([]float64, bool) {
	out := make([]float64, len(t.Parts()))
	fitted := 0
	number := map[string]int{}
	for i, e := range t.Parts() {
		kind := letter(e.Kind)
		number[kind]++
		if n := slices.IndexFunc(h.Parts, func(p language.HeldPart) bool { return p.Ref[:1] == kind && elementOf(p.Ref) == number[kind] }); n >= 0 {
			out[i] = h.Parts[n].Value
			fitted++
		} else if !e.Optional {
			return nil, false
		}
	}
	return out, fitted == len(h.Parts)
}

// elementOf is which of a stage's parts of its kind a reference names, from 1.
func elementOf(ref string) int {
	_, n, _ := endNumber(ref)
	return n
}

// layIn is lay, or heldLay where a held place serves the want.
func (c *chooser) layIn(w want, p *language.HeldPlace) (layout, *Obstacle) {
	if p == nil {
		return c.lay(w)
	}
	return c.heldLay(w, p)
}

// heldLay is lay of a want that a held place serves: in the one polarity that it has.
func (c *chooser) heldLay(w want, p *language.HeldPlace) (layout, *Obstacle) {
	if w.fixed() {
		s, ok := c.heldStage(w.role, w.From[0], w.Alt[0][0], &p.Alternatives[0][0])
		if !ok {
			l, obstacle := c.lay(w)
			return l.inPlaceOf(p), obstacle
		}
		l := layout{want: w, held: true}
		k := signOf(s.Level)
		level := s.Level
		if absorbed(s.held) {
			// The way's gain stays inside, unless the chain gives it another.
			inside := math.Abs(s.held.Level)
			s.Section, level = scaled(s.Own, inside), s.Level*inside
		}
		l.one[k] = built{ok: true, stages: []*Stage{s}, level: level}
		l.alts[k] = []built{l.one[k]}
		l.alts[1-k] = []built{{}}
		return l, nil
	}
	if p.Switched {
		if l, ok := c.heldStates(w, p); ok {
			return l, nil
		}
		l, obstacle := c.lay(w)
		l.selector = p.Selector
		return l, obstacle
	}
	return c.heldSwitched(w, p)
}

// inPlaceOf gives the stages of a new layout the number of the place that they replace.
func (l layout) inPlaceOf(p *language.HeldPlace) layout {
	held := &p.Alternatives[0][0]
	for k := range l.alts {
		for _, b := range l.alts[k] {
			for _, s := range b.stages {
				s.Number, s.replaces = held.Number, held
			}
		}
	}
	return l
}

// heldSwitched is heldLay of a switched position: alternatives that serve the same
// lines keep their stages, others are chosen in the same polarity.
func (c *chooser) heldSwitched(w want, p *language.HeldPlace) (layout, *Obstacle) {
	l := layout{want: w, selector: p.Selector}
	partner := c.alternatives(w, p)
	for i, sections := range w.Alt {
		var b [2]built
		kept := false
		if partner[i] >= 0 {
			b, kept = c.heldAlternative(w.Line(i), sections, p.Alternatives[partner[i]])
		}
		if !kept {
			b = c.alternative(w.role, w.Line(i), sections)
			for k := range b {
				b[k].cost += costOfNewStage * float64(len(b[k].stages))
			}
		}
		for k := range b {
			l.alts[k] = append(l.alts[k], b[k])
		}
		if !b[asAsked].ok && !b[inverted].ok {
			obstacle := c.impossible(w.Line(i), sections)
			return l, &obstacle
		}
	}
	l.total()
	if !l.one[asAsked].ok && !l.one[inverted].ok {
		// Held alternatives of either polarity, or of none that a new one can have.
		return c.lay(w)
	}
	return l, nil
}

// alternatives are, for each alternative that is asked for, the held one that serves
// its line, or else one of its kind; -1 for none.
func (c *chooser) alternatives(w want, p *language.HeldPlace) []int {
	out := slices.Repeat([]int{-1}, len(w.Alt))
	taken := make([]bool, len(p.Alternatives))
	for _, same := range []func(a, b string) bool{
		func(a, b string) bool { return a == b },
		func(a, b string) bool { return kindOf(a) == kindOf(b) },
	} {
		for i, sections := range w.Alt {
			for n, a := range p.Alternatives {
				filters := 0
				for _, s := range a {
					if s.Role == FilterStage.String() {
						filters++
					}
				}
				if out[i] >= 0 || taken[n] || filters != len(sections) {
					continue
				}
				line := lineOf(a)
				if filters == 0 || line != "" && same(line, c.says(w.Line(i))) {
					out[i], taken[n] = n, true
				}
			}
		}
	}
	return out
}

// heldAlternative is an alternative with the stages that it is held with, in the
// polarity that they have.
func (c *chooser) heldAlternative(from string, sections []biquad.Analog, stages []language.HeldStage) (out [2]built, ok bool) {
	b := nothing
	var gains []*Stage
	n := 0
	for i := range stages {
		h := &stages[i]
		var s *Stage
		if h.Role == FilterStage.String() {
			if n == len(sections) {
				return out, false
			}
			s, ok = c.heldStage(FilterStage, from, sections[n], h)
			n++
		} else {
			s, ok = c.heldStage(GainStage, from, ownSection(h), h)
			gains = append(gains, s)
		}
		if !ok {
			return out, false
		}
		b.stages = append(slices.Clone(b.stages), s)
		if s.Role == FilterStage {
			b.level *= s.Level
		}
	}
	if n != len(sections) {
		return out, false
	}
	// Gain stages make up for what the others leave, in the polarity that they have.
	sign := math.Copysign(1, b.level)
	for i, s := range gains {
		g := s.Level * s.Section.B[0] / s.Section.A[0]
		sign = math.Copysign(sign, sign*g)
		if i == len(gains)-1 {
			rest := sign / b.level
			for _, o := range gains[:i] {
				rest /= o.Level * o.Section.B[0] / o.Section.A[0]
			}
			s.ask(biquad.Constant(rest / s.Level))
		}
	}
	if len(gains) == 0 && math.Abs(math.Abs(b.level)-1) > 1e-9 {
		return out, false // nothing makes up for its level
	}
	b.level = sign
	out[signOf(sign)] = b
	return out, true
}

// ask makes a stage that only sets a level be another gain.
func (s *Stage) ask(section biquad.Analog) { s.Section, s.Own = section, section }
