package compare

import (
	"fmt"
	"slices"

	"bandwright/compiler/board"
	"bandwright/compiler/language"
	"bandwright/compiler/netlist"
	"bandwright/compiler/result"
)

// On a board that is held, references and numbers of stages are identities: what has the
// name of before is the thing of before.

// stagesByName gives every new stage its partner among the old ones, -1 for none: a stage
// that a part of it was in before, unless it now serves a filter of another kind by another
// topology: then its number alone was free again.
func stagesByName(old, new []result.AcceptedStage) []int {
	named := func(s result.AcceptedStage) []result.AcceptedPart { return slices.Concat(s.Parts, s.OpAmps) }
	return pair(nobody(len(new)), len(old), func(i, j int) bool {
		o, n := old[i], new[j]
		if o.Topology != n.Topology && language.KindIn(o.Filter) != language.KindIn(n.Filter) || o.Stage != n.Stage {
			return false
		}
		return slices.ContainsFunc(named(n), func(p result.AcceptedPart) bool {
			return slices.ContainsFunc(named(o), func(q result.AcceptedPart) bool { return p.Ref == q.Ref })
		})
	})
}

// heldStage names a stage of a held board.
func heldStage(s result.AcceptedStage) string {
	return fmt.Sprintf("%s stage %d (%s)", s.Where, s.Stage, language.KindIn(s.Filter))
}

// fromTo is another value of a part that has its name for good.
func fromTo(was, now result.AcceptedPart) string {
	x := board.PartChange{Ref: now.Ref, Kind: netlist.Resistor, Was: was.Ohm, Is: now.Ohm}
	if was.Farad > 0 {
		x.Kind, x.Was, x.Is = netlist.Capacitor, was.Farad, now.Farad
	}
	return x.String()
}
