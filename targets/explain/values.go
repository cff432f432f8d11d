package explain

import (
	"context"
	"fmt"

	"bandwright/compiler/words"
)

// values tells how many different values the resistors and capacitors of the board's stages have, and
// how few they would be: of a board that asks for few what bound them, and of one that does not, and is
// not held, what the wish would bring.
func (e *stages) values() {
	b := e.b
	if b.Board == nil {
		return
	}
	e.out.WriteString("\ndifferent values of resistors and capacitors in stages\n")
	n := b.Board.DistinctValues()
	if said := b.FewSaid(); said != "" {
		e.line("  ", said)
		return
	}
	e.line("  ", words.Count(n, "different value", "different values"))
	few, ok := b.FewTried(context.Background())
	switch {
	case !ok:
	case few < n:
		e.line("  ", fmt.Sprintf("tried: with `few-values: promise` in `board` %d instead of %d", few, n))
		if b.Spec.Board.FewUnsaid {
			e.line("  ", "when `bandwright hold` lays the board out it has as few without being asked, unless `few-values` says otherwise")
		}
	default:
		e.line("  ", "tried: with `few-values: promise` in `board` no fewer are found")
	}
}
