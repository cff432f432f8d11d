package result

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"bandwright/compiler/words"
)

// Fitted is an accepted board: what it is built from, a stage a line.
type Fitted struct {
	Packages       int           `json:"packages"` // of op-amps
	DistinctValues int           `json:"distinct_values"`
	Stages         []FittedStage `json:"stages"`
	Ends           []FittedPart  `json:"ends"` // of inputs and outputs
}

// FittedStage is one op-amp stage.
type FittedStage struct {
	Where    string       `json:"where"` // "common" or the way
	Stage    int          `json:"stage"`
	Topology string       `json:"topology"`
	Filter   string       `json:"filter"`
	Parts    []FittedPart `json:"parts"` // resistors and capacitors, in the order of the topology
}

// FittedPart is a resistor or a capacitor, in an accepted result a text such as
// "R10201 4120" or "C10201 3.3e-07": its reference, whose letter says what it is,
// and its value in ohm or farad.
type FittedPart struct {
	Ref        string
	Ohm, Farad float64
}

// MarshalText writes a part.
func (p FittedPart) MarshalText() ([]byte, error) {
	return []byte(p.Ref + " " + strconv.FormatFloat(p.Ohm+p.Farad, 'g', -1, 64)), nil
}

// UnmarshalText reads a part.
func (p *FittedPart) UnmarshalText(text []byte) error {
	ref, number, _ := strings.Cut(string(text), " ")
	v, err := strconv.ParseFloat(number, 64)
	if ref == "" || err != nil || !(v > 0) || math.IsInf(v, 0) {
		return fmt.Errorf("%q is no part: it takes a reference and a value, such as \"R10201 4120\"", text)
	}
	*p = FittedPart{Ref: ref, Ohm: v}
	if ref[0] == 'C' {
		*p = FittedPart{Ref: ref, Farad: v}
	}
	return nil
}

func (p FittedPart) String() string {
	if p.Farad > 0 {
		return words.Part(p.Farad, "F")
	}
	return words.Part(p.Ohm, "ohm")
}

// fitted is a board as an accepted one, nil where there is none.
func fitted(b *Board) *Fitted {
	if b == nil {
		return nil
	}
	out := &Fitted{Packages: len(b.Packages), DistinctValues: b.DistinctValues, Stages: []FittedStage{}, Ends: []FittedPart{}}
	add := func(where string, stages []Stage, ends []EndPart) {
		for _, s := range stages {
			f := FittedStage{Where: where, Stage: s.Stage, Topology: s.Topology, Filter: s.Filter, Parts: []FittedPart{}}
			for _, p := range s.Parts {
				if !p.OpAmp {
					f.Parts = append(f.Parts, FittedPart{p.Ref, p.Ohm, p.Farad})
				}
			}
			out.Stages = append(out.Stages, f)
		}
		for _, e := range ends {
			if !e.Outside && e.Ohm+e.Farad > 0 {
				out.Ends = append(out.Ends, FittedPart{e.Ref, e.Ohm, e.Farad})
			}
		}
	}
	add("common", b.Common.Stages, b.Common.Ends)
	for _, w := range b.Ways {
		add(w.Way, w.Stages, w.Ends)
	}
	return out
}

// parts says what became of the board's parts. None of it is a regression by
// itself: where a response moved with them, that is told, and a promise of the
// board that broke as well.
func (c *comparison) parts() {
	o, n := c.old.Board, c.new.Board
	say := func(beyond bool, way, format string, args ...any) {
		c.add(Change{Kind: OfPart, Way: way, Beyond: beyond, Sentence: fmt.Sprintf(format, args...)})
	}
	switch {
	case o == nil && n == nil:
		return
	case n == nil:
		say(true, "", "the board is gone: it had %s", words.Count(len(o.Stages), "stage", "stages"))
		return
	case o == nil:
		say(false, "", "a board that was not accepted before: %s, %s", words.Count(len(n.Stages), "stage", "stages"), words.Count(n.Packages, "op-amp package", "op-amp packages"))
		return
	}
	c.purchases(o, n)
	left := slices.Clone(o.Stages)
	for _, s := range n.Stages {
		i := slices.IndexFunc(left, func(x FittedStage) bool { return x.Where == s.Where && x.Filter == s.Filter })
		if i < 0 {
			say(false, s.Where, "%s: a stage more, %s", s.Where, s.text())
			continue
		}
		was := left[i]
		left = slices.Delete(left, i, i+1)
		if was.Topology != s.Topology {
			say(false, s.Where, "%s: %s instead of %s for %s", s.Where, s.Topology, was.Topology, s.Filter)
			continue
		}
		if text := changedParts(was.Parts, s.Parts); text != "" {
			say(false, s.Where, "%s: stage %d, %s for %s: %s", s.Where, s.Stage, s.Topology, s.Filter, text)
		}
	}
	for _, s := range left {
		say(false, s.Where, "%s: a stage less, %s", s.Where, s.text())
	}
	if text := changedParts(o.Ends, n.Ends); text != "" {
		say(false, "", "inputs and outputs of the board: %s", text)
	}
}

func (s FittedStage) text() string {
	return fmt.Sprintf("%s for %s with %s", s.Topology, s.Filter, words.Count(len(s.Parts), "part", "parts"))
}

// changedParts is what changed from one list of parts to another, place by
// place; "" where nothing did but references, which follow the stage's number.
func changedParts(was, now []FittedPart) string {
	var out []string
	for i, p := range now {
		switch {
		case i >= len(was):
			out = append(out, fmt.Sprintf("%s of %s added", p.Ref, p))
		case was[i].Ohm != p.Ohm || was[i].Farad != p.Farad:
			out = append(out, fmt.Sprintf("%s %s instead of %s", p.Ref, p, was[i]))
		}
	}
	for _, p := range was[min(len(now), len(was)):] {
		out = append(out, fmt.Sprintf("%s of %s removed", p.Ref, p))
	}
	if n := len(out); n > mostParts {
		out = append(out[:mostParts], fmt.Sprintf("and %d more", n-mostParts))
	}
	return strings.Join(out, ", ")
}

// mostParts is how many parts of a stage one sentence names.
const mostParts = 4

// mostQuantities is how many values of a parts list one sentence names.
const mostQuantities = 6

// purchases says what another parts list has to be bought.
func (c *comparison) purchases(o, n *Fitted) {
	type line struct {
		text     string
		was, now int
	}
	var lines []line
	count := func(f *Fitted, add func(*line)) {
		all := slices.Clone(f.Ends)
		for _, s := range f.Stages {
			all = append(all, s.Parts...)
		}
		for _, p := range all {
			text := p.String()
			i := slices.IndexFunc(lines, func(l line) bool { return l.text == text })
			if i < 0 {
				i, lines = len(lines), append(lines, line{text: text})
			}
			add(&lines[i])
		}
	}
	count(o, func(l *line) { l.was++ })
	count(n, func(l *line) { l.now++ })
	var changed []string
	more := 0
	for _, l := range lines {
		switch {
		case l.was == l.now:
		case len(changed) == mostQuantities:
			more++
		default:
			changed = append(changed, fmt.Sprintf("%s %d instead of %d", l.text, l.now, l.was))
		}
	}
	if more > 0 {
		changed = append(changed, words.Count(more, "more value", "more values"))
	}
	var out []string
	if changed != nil {
		out = append(out, "quantities of "+strings.Join(changed, ", "))
	}
	if o.DistinctValues != n.DistinctValues {
		out = append(out, fmt.Sprintf("%s instead of %d", words.Count(n.DistinctValues, "distinct value", "distinct values"), o.DistinctValues))
	}
	if o.Packages != n.Packages {
		out = append(out, fmt.Sprintf("%s instead of %d", words.Count(n.Packages, "op-amp package", "op-amp packages"), o.Packages))
	}
	if out != nil {
		c.add(Change{Kind: OfPart, Sentence: "parts list: " + strings.Join(out, "; ")})
	}
}
