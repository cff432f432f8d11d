package language

import (
	"fmt"
	"slices"
)

// joint is the two ways that a crossover names, in the order that it names them.
type joint struct {
	between      *Value
	lower, upper int
	known        bool
}

// joined finds the two ways of a crossover.
func (b *builder) joined(between *Value) joint {
	names := b.wayNames()
	var at []int
	for _, v := range between.Items {
		if v == nil {
			return joint{between: between}
		}
		i := slices.Index(names, v.Word)
		if i < 0 {
			right := "the ways are " + list(ticked(names), "and")
			if s := Nearest(v.Word, names); s != "" {
				if !isName(s, false) {
					continue // its own name is the fault
				}
				right = "did you mean " + quoted(s) + "?"
			} else if len(names) == 1 {
				right = "the only way is " + quoted(names[0])
			}
			b.fault(v.Pos, quoted(v.Word)+" is not a way", right)
			continue
		}
		at = append(at, i)
	}
	if len(at) != 2 {
		return joint{between: between}
	}
	return joint{between, at[0], at[1], true}
}

func (b *builder) wayNames() []string {
	var names []string
	for _, w := range b.spec.Ways {
		names = append(names, w.Name)
	}
	return names
}

// otherOrder reports ways that the crossovers join in one chain, from low to
// high, which is not the order of `ways`. Of two ways that cannot be told from
// names in the wrong order: neighbours reports those.
func (b *builder) otherOrder(all []joint) bool {
	n := len(b.spec.Ways)
	if n < 3 || len(all) != n-1 {
		return false
	}
	above, below := make([]int, n), make([]int, n)
	for i := range n {
		above[i], below[i] = -1, -1
	}
	for _, j := range all {
		if !j.known || above[j.lower] >= 0 || below[j.upper] >= 0 {
			return false
		}
		above[j.lower], below[j.upper] = j.upper, j.lower
	}
	var order []int
	for i := slices.Index(below, -1); i >= 0 && len(order) < n; i = above[i] {
		order = append(order, i)
	}
	if len(order) < n || slices.IsSorted(order) {
		return false
	}
	names := b.wayNames()
	var chain []string
	for _, i := range order {
		chain = append(chain, names[i])
	}
	b.fault(b.spec.Ways[0].Pos, "the order of `ways` is from low to high, but the crossovers say "+list(ticked(chain), "and"),
		"write the ways in the order "+list(ticked(chain), "and")+", or turn the names in every `between` round, the lower way first")
	return true
}

// neighbours are the two ways of a crossover where they stand next to each
// other, the lower first.
func (b *builder) neighbours(j joint) (lower, upper int, ok bool) {
	if !j.known {
		return 0, 0, false
	}
	between, names := j.between, b.wayNames()
	lower, upper = j.lower, j.upper
	switch {
	case lower == upper:
		b.fault(between.Items[1].Pos, fmt.Sprintf("a crossover between %s and itself", quoted(names[lower])), "name two neighbouring ways, the lower first")
	case upper == lower-1:
		b.fault(between.Pos, fmt.Sprintf("%s comes after %s in `ways`, whose order is from low to high", quoted(names[lower]), quoted(names[upper])),
			fmt.Sprintf("name the lower way first: `between: [%s, %s]`; or, if %s is the lower one, put it before %s in `ways`",
				names[upper], names[lower], quoted(names[lower]), quoted(names[upper])))
	case upper != lower+1:
		low, high := min(lower, upper), max(lower, upper)
		b.fault(between.Pos, fmt.Sprintf("%s and %s are not neighbours", quoted(names[lower]), quoted(names[upper])),
			fmt.Sprintf("%s is between them in `ways`: a crossover joins neighbours, and the order of `ways` is from low to high", list(ticked(names[low+1:high]), "and")))
	default:
		return lower, upper, true
	}
	return 0, 0, false
}
