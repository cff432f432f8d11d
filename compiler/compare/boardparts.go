package compare

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"bandwright/compiler/language"
	"bandwright/compiler/result"
	"bandwright/compiler/words"
)

const (
	mostParts      = 4 // of a stage that one sentence names
	mostStages     = 6 // that have a sentence of their own
	mostQuantities = 6 // values of a parts list that one sentence names
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
		say(true, "the board was removed: it had %s", words.Count(len(o.Stages), "stage", "stages"))
	case o == nil:
		size := fmt.Sprintf("%s, %s, %s", words.Count(len(n.Stages), "stage", "stages"),
			words.Count(n.Packages, "op-amp package", "op-amp packages"), words.Count(n.DistinctValues, "distinct value", "distinct values"))
		if s := parsed(c.old); s != nil && s.Board == nil {
			say(false, "the board is new: %s", size)
		} else {
			say(false, "the accepted result has no board to compare this one with: %s", size)
		}
	default:
		c.stages(o, n)
	}
}

// stages says what became of every stage, the sum of it first.
func (c *comparison) stages(o, n *result.AcceptedBoard) {
	changes, parts, moved := stageChanges(o, n)
	ends, _ := partChanges(o.Ends, n.Ends, byReference(o.Ends, n.Ends), instead)
	if n.Held != "" && len(c.edits)+len(c.otherFiles()) > 0 && len(changes)+len(ends) == 0 {
		c.add(Change{Kind: OfPart, Sentence: "no part of the held board changed"})
	}
	if parts > 0 {
		paths, why := c.builtAnew()
		all := 0
		for _, s := range n.Stages {
			all += len(s.Parts)
		}
		c.add(Change{Kind: OfPart, Causes: paths, Sentence: fmt.Sprintf("board: %d of %s in %s changed, %s", parts,
			words.Count(all, "part", "parts"), words.Count(len(n.Stages), "stage", "stages"), why)})
	}
	c.purchases(o, n)
	c.classes(o, n)
	for i, x := range changes {
		if i == mostStages {
			c.add(Change{Kind: OfPart, Sentence: words.Count(len(changes)-i, "more stage", "more stages") + " with changed parts"})
			break
		}
		c.add(Change{Kind: OfPart, Way: x.where, Sentence: x.text})
	}
	if moved != nil {
		c.add(Change{Kind: OfPart, Sentence: "stages and their parts renumbered: " + words.List(moved)})
	}
	if ends != nil {
		c.add(Change{Kind: OfPart, Sentence: "inputs and outputs of the board: " + partList(ends)})
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
func stageChanges(o, n *result.AcceptedBoard) (out []stageChange, parts int, moved []string) {
	const whole = math.MaxFloat64
	add := func(s result.AcceptedStage, rank float64, text string) {
		out = append(out, stageChange{s.Where, text, rank})
	}
	partner, same, went := stagePairs(o.Stages, n.Stages), inPlace, instead
	if n.Held != "" {
		partner, same, went = stagesByName(o.Stages, n.Stages), byReference, fromTo
	}
	for j, s := range n.Stages {
		if partner[j] < 0 {
			add(s, whole, stageText(s, "added", n.Held != ""))
			parts += len(s.Parts)
			continue
		}
		was := o.Stages[partner[j]]
		if was.Stage != s.Stage {
			moved = append(moved, fmt.Sprintf("%s %d instead of %d", s.Where, s.Stage, was.Stage))
		}
		said, most := partChanges(was.Parts, s.Parts, same(was.Parts, s.Parts), went)
		switch {
		case was.Topology != s.Topology:
			add(s, whole, fmt.Sprintf("%s: %s instead of %s for %s, with %s", s.Where, s.Topology, was.Topology, s.Filter, values(s.Parts)))
			parts += len(s.Parts)
			continue
		case said == nil:
			continue
		case n.Held != "":
			add(s, most, partList(said)+" in "+heldStage(s))
		default:
			add(s, most, fmt.Sprintf("%s: stage %d, %s for %s: %s", s.Where, s.Stage, s.Topology, s.Filter, partList(said)))
		}
		parts += len(said)
	}
	for i, s := range o.Stages {
		if !slices.Contains(partner, i) {
			add(s, whole, stageText(s, "removed", n.Held != ""))
		}
	}
	slices.SortStableFunc(out, func(x, y stageChange) int { return cmp.Compare(y.rank, x.rank) })
	return out, parts, moved
}

// stagePairs gives every new stage its partner among the old ones, -1 for none:
// of one filter the same parts, then the same topology, then any; at last the
// same topology for a filter of the same kind, whose place in the spec moved.
func stagePairs(old, new []result.AcceptedStage) []int {
	round := func(fits func(o, n result.AcceptedStage) bool) func(i, j int) bool {
		return func(i, j int) bool { return old[i].Where == new[j].Where && fits(old[i], new[j]) }
	}
	return pair(nobody(len(new)), len(old),
		round(func(o, n result.AcceptedStage) bool {
			said, _ := partChanges(o.Parts, n.Parts, inPlace(o.Parts, n.Parts), instead)
			return o.Filter == n.Filter && o.Topology == n.Topology && said == nil
		}),
		round(func(o, n result.AcceptedStage) bool { return o.Filter == n.Filter && o.Topology == n.Topology }),
		round(func(o, n result.AcceptedStage) bool { return o.Filter == n.Filter }),
		round(func(o, n result.AcceptedStage) bool {
			return language.KindIn(o.Filter) == language.KindIn(n.Filter) && o.Topology == n.Topology
		}))
}

// stageText says that a stage was added or removed; by its number where that is its name.
func stageText(s result.AcceptedStage, what string, named bool) string {
	if named {
		return fmt.Sprintf("%s %s, %s with %s", heldStage(s), what, s.Topology, values(s.Parts))
	}
	return fmt.Sprintf("%s: stage %s, %s for %s with %s", s.Where, what, s.Topology, s.Filter, values(s.Parts))
}

// values names parts with their values.
func values(parts []result.AcceptedPart) string {
	var out []string
	for _, p := range parts {
		out = append(out, p.Ref+" "+p.String())
	}
	return partList(out)
}

// partList joins texts about parts and counts the rest.
func partList(texts []string) string {
	if n := len(texts); n > mostParts+1 {
		texts = append(slices.Clone(texts[:mostParts]), fmt.Sprintf("%d more", n-mostParts))
	}
	return words.List(texts)
}

// apart is how far one value went to another: the magnitude of the logarithm
// of their ratio, and infinitely far from ohm to farad.
func apart(was, now result.AcceptedPart) float64 {
	const same = 1e-9 // how near, relative, two spellings of one value come
	if (was.Farad > 0) != (now.Farad > 0) {
		return math.Inf(1)
	}
	if was.TrackOhm > 0 && now.TrackOhm > 0 { // where a trimmer stands is set at test
		was.Ohm, now.Ohm = was.TrackOhm, now.TrackOhm
	}
	d := math.Abs(math.Log(now.Ohm+now.Farad) - math.Log(was.Ohm+was.Farad))
	if d < same {
		return 0
	}
	return d
}

// inPlace pairs the parts of two stages of one topology place by place: references alone,
// which follow the stage's number, are no change.
func inPlace(_, _ []result.AcceptedPart) func(i, j int) bool {
	return func(i, j int) bool { return i == j }
}

// byReference pairs parts that have one name.
func byReference(was, now []result.AcceptedPart) func(i, j int) bool {
	return func(i, j int) bool { return was[i].Ref == now[j].Ref }
}

// instead is another value of a part.
func instead(was, now result.AcceptedPart) string {
	return fmt.Sprintf("%s %s instead of %s", now.Ref, now, was)
}

// partChanges is what changed from some parts to others, of which same tells the
// pairs, and went another value. most is how far the value went that went furthest.
func partChanges(was, now []result.AcceptedPart, same func(i, j int) bool, went func(was, now result.AcceptedPart) string) (said []string, most float64) {
	partner := pair(nobody(len(now)), len(was), same)
	for j, p := range now {
		if i := partner[j]; i < 0 {
			said = append(said, fmt.Sprintf("%s of %s added", p.Ref, p))
			most = math.MaxFloat64
		} else if d := apart(was[i], p); d > 0 {
			said = append(said, went(was[i], p))
			most = math.Max(most, d)
		}
	}
	for i, p := range was {
		if !slices.Contains(partner, i) {
			said = append(said, fmt.Sprintf("%s of %s removed", p.Ref, p))
			most = math.MaxFloat64
		}
	}
	return said, most
}

// purchases says what another parts list has to be bought.
func (c *comparison) purchases(o, n *result.AcceptedBoard) {
	was, now := quantities(o), quantities(n)
	size := func(value string) int { return max(now[value]-was[value], was[value]-now[value]) }
	var changed []string
	for _, value := range words.Once(slices.Concat(partValues(o), partValues(n))) {
		if size(value) > 0 {
			changed = append(changed, value)
		}
	}
	slices.SortStableFunc(changed, func(x, y string) int { return cmp.Compare(size(y), size(x)) })
	for i, value := range changed {
		changed[i] = fmt.Sprintf("%s %d instead of %d", value, now[value], was[value])
	}
	var out []string
	if changed != nil {
		out = append(out, "quantities of "+strings.Join(some(changed, mostQuantities, "more value", "more values"), ", "))
	}
	count := func(one, many string, was, now int) {
		if was != now {
			out = append(out, fmt.Sprintf("%s instead of %d", words.Count(now, one, many), was))
		}
	}
	count("distinct value", "distinct values", o.DistinctValues, n.DistinctValues)
	if o.OpAmps > 0 && n.OpAmps > 0 { // older accepted results do not count them
		count("op-amp", "op-amps", o.OpAmps, n.OpAmps)
	}
	count("op-amp package", "op-amp packages", o.Packages, n.Packages)
	if out != nil {
		c.add(Change{Kind: OfPart, Sentence: "parts list: " + strings.Join(out, "; ")})
	}
}

// partValues are the values of a board's parts, those of inputs and outputs
// first.
func partValues(b *result.AcceptedBoard) (out []string) {
	all := slices.Clone(b.Ends)
	for _, s := range b.Stages {
		all = append(all, s.Parts...)
	}
	for _, p := range all {
		out = append(out, p.String())
	}
	return out
}

// quantities counts a board's parts of each value.
func quantities(b *result.AcceptedBoard) map[string]int {
	n := map[string]int{}
	for _, value := range partValues(b) {
		n[value]++
	}
	return n
}
