package compare

import (
	"fmt"
	"strings"

	"bandwright/compiler/result"
	"bandwright/compiler/words"
)

// mostClassMoves is how many parts of one move between classes are named.
const mostClassMoves = 6

// classes says which parts are bought in another class. A part is known by its
// reference; one that had another value or was not there is told by its stage.
func (c *comparison) classes(o, n *result.AcceptedBoard) {
	was := map[string]float64{}
	for _, x := range o.Classes {
		for _, ref := range x.Refs {
			was[ref] = x.Tolerance
		}
	}
	var moves []string
	refs := map[string][]string{}
	for _, x := range n.Classes {
		for _, ref := range x.Refs {
			before, known := was[ref]
			if !known || before == x.Tolerance {
				continue
			}
			move := fmt.Sprintf("of %s instead of %s", words.Share.Limit(x.Tolerance), words.Share.Limit(before))
			if refs[move] == nil {
				moves = append(moves, move)
			}
			refs[move] = append(refs[move], ref)
		}
	}
	for i, move := range moves {
		moves[i] = words.List(some(refs[move], mostClassMoves, "more part", "more parts")) + " " + move
	}
	if moves != nil {
		c.add(Change{Kind: OfPart, Sentence: "classes of parts: " + strings.Join(moves, "; ")})
	}
}
