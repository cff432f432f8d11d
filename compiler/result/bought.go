package result

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"bandwright/compiler/words"
)

// parts says what became of the board's parts. None of it is a regression by
// itself: where a response moved with them, that is told, and a promise of the
// board that broke as well.
func (c *comparison) parts() {
	o, n := c.old.Board, c.new.Board
	say := func(beyond bool, format string, args ...any) {
		c.add(Change{Kind: OfPart, Beyond: beyond, Sentence: fmt.Sprintf(format, args...)})
	}
	switch {
	case o == nil && n == nil:
	case n == nil:
		say(true, "the board is gone: it had %s", words.Count(len(o.Stages), "stage", "stages"))
	case o == nil:
		size := fmt.Sprintf("%s, %s, %s", words.Count(len(n.Stages), "stage", "stages"),
			words.Count(n.Packages, "op-amp package", "op-amp packages"), words.Count(n.DistinctValues, "distinct value", "distinct values"))
		if s := parsed(c.old); s != nil && s.Board == nil {
			say(false, "the board is new: %s", size)
		} else {
			say(false, "the accepted result has no board to compare this one with: %s", size)
		}
	default:
		c.refitted(o, n)
	}
}

// refitted says what became of every stage, the sum of it first.
func (c *comparison) refitted(o, n *Fitted) {
	changes, parts, moved := stageChanges(o, n)
	ends := changedEnds(o.Ends, n.Ends)
	if parts > 0 {
		paths, why := c.fits()
		all := 0
		for _, s := range n.Stages {
			all += len(s.Parts)
		}
		c.add(Change{Kind: OfPart, Causes: paths, Sentence: fmt.Sprintf("board: %d of %s in %s changed, %s", parts,
			words.Count(all, "part", "parts"), words.Count(len(n.Stages), "stage", "stages"), why)})
	}
	c.purchases(o, n)
	for i, x := range changes {
		if i == mostStages {
			c.add(Change{Kind: OfPart, Sentence: words.Count(len(changes)-i, "more stage of the board", "more stages of the board") + " with other parts"})
			break
		}
		c.add(Change{Kind: OfPart, Way: x.where, Sentence: x.where + ": " + x.text})
	}
	if moved != nil {
		c.add(Change{Kind: OfPart, Sentence: "stages with other numbers, and their parts with them: " + words.List(moved)})
	}
	if ends != "" {
		c.add(Change{Kind: OfPart, Sentence: "inputs and outputs of the board: " + ends})
	}
}

// stageChange is what became of one stage. rank is what it is sorted by: whole
// stages and topologies, then how far the values went.
type stageChange struct {
	where, text string
	rank        float64
}

// stageChanges lists the stages that changed, the gravest first, how many parts of
// the new board are others, and which stages have another number.
func stageChanges(o, n *Fitted) (out []stageChange, parts int, moved []string) {
	const whole = math.MaxFloat64
	partner := pairs(o.Stages, n.Stages)
	for j, s := range n.Stages {
		if partner[j] < 0 {
			out = append(out, stageChange{s.Where, fmt.Sprintf("a stage more, %s", s.text()), whole})
			parts += len(s.Parts)
			continue
		}
		was := o.Stages[partner[j]]
		if was.Stage != s.Stage {
			moved = append(moved, fmt.Sprintf("%s %d instead of %d", s.Where, s.Stage, was.Stage))
		}
		if was.Topology != s.Topology {
			out = append(out, stageChange{s.Where, fmt.Sprintf("%s instead of %s for %s, with %s", s.Topology, was.Topology, s.Filter, listed(s.Parts)), whole})
			parts += len(s.Parts)
			continue
		}
		if text, count, most := changedParts(was.Parts, s.Parts); count > 0 {
			out = append(out, stageChange{s.Where, fmt.Sprintf("stage %d, %s for %s: %s", s.Stage, s.Topology, s.Filter, text), most})
			parts += count
		}
	}
	for i, s := range o.Stages {
		if !slices.Contains(partner, i) {
			out = append(out, stageChange{s.Where, fmt.Sprintf("a stage less, %s", s.text()), whole})
		}
	}
	slices.SortStableFunc(out, func(x, y stageChange) int { return cmp.Compare(y.rank, x.rank) })
	return out, parts, moved
}

// pairs gives every new stage its partner among the old ones, -1 for none:
// of one filter the same parts, then the same topology, then any; at last the
// same topology for a filter of the same kind, whose place in the spec moved.
func pairs(old, new []FittedStage) []int {
	partner := make([]int, len(new))
	for j := range partner {
		partner[j] = -1
	}
	kind := func(filter string) string { return filter[strings.LastIndexByte(filter, ' ')+1:] }
	for _, fits := range []func(o, n FittedStage) bool{
		func(o, n FittedStage) bool {
			_, count, _ := changedParts(o.Parts, n.Parts)
			return o.Filter == n.Filter && o.Topology == n.Topology && count == 0
		},
		func(o, n FittedStage) bool { return o.Filter == n.Filter && o.Topology == n.Topology },
		func(o, n FittedStage) bool { return o.Filter == n.Filter },
		func(o, n FittedStage) bool { return kind(o.Filter) == kind(n.Filter) && o.Topology == n.Topology },
	} {
		for j, n := range new {
			for i, o := range old {
				if partner[j] < 0 && o.Where == n.Where && !slices.Contains(partner, i) && fits(o, n) {
					partner[j] = i
				}
			}
		}
	}
	return partner
}

func (s FittedStage) text() string {
	return fmt.Sprintf("%s for %s with %s", s.Topology, s.Filter, listed(s.Parts))
}

// listed names parts with their values.
func listed(parts []FittedPart) string {
	var out []string
	for i, p := range parts {
		if i == mostParts && len(parts) > mostParts+1 {
			out = append(out, fmt.Sprintf("%d more", len(parts)-i))
			break
		}
		out = append(out, p.Ref+" "+p.String())
	}
	return words.List(out)
}

// sameValue is how near, relative, two spellings of one value come.
const sameValue = 1e-9

// apart is how far one value went to another: the magnitude of the logarithm
// of their ratio, and infinitely far from ohm to farad.
func apart(was, now FittedPart) float64 {
	if (was.Farad > 0) != (now.Farad > 0) {
		return math.Inf(1)
	}
	d := math.Abs(math.Log(now.Ohm+now.Farad) - math.Log(was.Ohm+was.Farad))
	if d < sameValue {
		return 0
	}
	return d
}

// changedParts is what changed from one stage's parts to another's of the same
// topology, place by place: references alone, which follow the stage's number,
// are no change. most is how far the value went that went furthest.
func changedParts(was, now []FittedPart) (text string, count int, most float64) {
	var out []string
	for i, p := range now {
		if i >= len(was) {
			out = append(out, fmt.Sprintf("%s of %s added", p.Ref, p))
			most = math.MaxFloat64
		} else if d := apart(was[i], p); d > 0 {
			out = append(out, fmt.Sprintf("%s %s instead of %s", p.Ref, p, was[i]))
			most = math.Max(most, d)
		}
	}
	for _, p := range was[min(len(now), len(was)):] {
		out = append(out, fmt.Sprintf("%s of %s removed", p.Ref, p))
		most = math.MaxFloat64
	}
	return capped(out, mostParts), len(out), most
}

// changedEnds is what changed in the parts of inputs and outputs, by reference.
func changedEnds(was, now []FittedPart) string {
	var out []string
	find := func(in []FittedPart, ref string) int {
		return slices.IndexFunc(in, func(p FittedPart) bool { return p.Ref == ref })
	}
	for _, p := range now {
		if i := find(was, p.Ref); i < 0 {
			out = append(out, fmt.Sprintf("%s of %s added", p.Ref, p))
		} else if apart(was[i], p) > 0 {
			out = append(out, fmt.Sprintf("%s %s instead of %s", p.Ref, p, was[i]))
		}
	}
	for _, p := range was {
		if find(now, p.Ref) < 0 {
			out = append(out, fmt.Sprintf("%s of %s removed", p.Ref, p))
		}
	}
	return capped(out, mostParts)
}

// capped joins at most some texts and counts the rest.
func capped(texts []string, most int) string {
	if n := len(texts); n > most+1 {
		texts = append(slices.Clone(texts[:most]), fmt.Sprintf("%d more", n-most))
	}
	return words.List(texts)
}

const (
	mostParts      = 4 // of a stage that one sentence names
	mostStages     = 6 // that have a sentence of their own
	mostQuantities = 6 // values of a parts list that one sentence names
)

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
	size := func(l line) int { return max(l.now-l.was, l.was-l.now) }
	slices.SortStableFunc(lines, func(x, y line) int { return cmp.Compare(size(y), size(x)) })
	var changed []string
	for _, l := range lines {
		if l.was != l.now {
			changed = append(changed, fmt.Sprintf("%s %d instead of %d", l.text, l.now, l.was))
		}
	}
	var out []string
	if more := len(changed) - mostQuantities; more > 0 {
		changed = append(changed[:mostQuantities], words.Count(more, "more value", "more values"))
	}
	if changed != nil {
		out = append(out, "quantities of "+strings.Join(changed, ", "))
	}
	if o.DistinctValues != n.DistinctValues {
		out = append(out, fmt.Sprintf("%s instead of %d", words.Count(n.DistinctValues, "distinct value", "distinct values"), o.DistinctValues))
	}
	if o.OpAmps > 0 && n.OpAmps > 0 && o.OpAmps != n.OpAmps { // older accepted results do not count them
		out = append(out, fmt.Sprintf("%s instead of %d", words.Count(n.OpAmps, "op-amp", "op-amps"), o.OpAmps))
	}
	if o.Packages != n.Packages {
		out = append(out, fmt.Sprintf("%s instead of %d", words.Count(n.Packages, "op-amp package", "op-amp packages"), o.Packages))
	}
	if out != nil {
		c.add(Change{Kind: OfPart, Sentence: "parts list: " + strings.Join(out, "; ")})
	}
}
