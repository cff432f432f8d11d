package language

import (
	"cmp"
	"fmt"
	"math"
	"slices"
)

// maxClasses is how many tolerances a list may have: more are not sold.
const maxClasses = 8

// Class is one way to buy a part of a value.
type Class struct {
	Tolerance float64 // 0.01 for 1 %
	Tempco    float64 // how far the value moves with temperature, plus or minus (1/K)
	Part      *Part   // of the stock file; nil where the stock is none
}

// toleranceKey is the tolerance of a stock: one, or classes.
func toleranceKey(usual string) Key {
	one := partTolerance
	return Key{Name: "tolerance", Effect: RealisesBoard | SpreadsBoards, Default: usual, Example: usual,
		Type: Type{Either: []Type{one, {List: &one, MinLen: 1, MaxLen: maxClasses}}},
		Doc:  "Largest deviation of a part from its value, 0.01 % to 20 %; a list is classes, of which each part gets the loosest with which the yield holds."}
}

// tolerances reads the tolerance of a stock: the loosest of a list.
func (b *builder) tolerances(s *Stock, v *Value) {
	if v == nil {
		return // it had a fault
	}
	if v.Items == nil {
		s.Tolerance = v.Number
		return
	}
	for _, n := range v.Items {
		switch {
		case n == nil:
		case slices.Contains(s.Classes, n.Number):
			b.fault(n.Pos, fmt.Sprintf("the tolerance %s is given twice", quoted(n.Text)), "keep one of them: each is a class")
		default:
			s.Classes = append(s.Classes, n.Number)
			s.Tolerance = max(s.Tolerance, n.Number)
		}
	}
	slices.SortFunc(s.Classes, func(a, b float64) int { return cmp.Compare(b, a) })
}

// fileAndTolerance says what is wrong with a tolerance beside a stock file.
func (b *builder) fileAndTolerance(v *Value) {
	switch {
	case v == nil || !v.Given:
	case v.Items != nil:
		b.fault(v.Pos, "a list of tolerances is not for a stock file, which gives that of each part",
			"leave it out: rows of one value with different tolerances are the classes of that value")
	default:
		b.warn(v.Pos, "`tolerance` has no effect: the stock file gives that of each part", "leave it out")
	}
}

// ClassesOf are the classes in which a part of a value can be bought, the loosest first:
// the tolerances that the spec lists, or the part of the stock file that is bought as a
// rule and those rows of its value that are closer, each the cheapest of its tolerance.
// A closer row has to be of the same dielectric and for no less voltage. There is
// always one.
func (s *Stock) ClassesOf(value float64) []Class {
	of := func(p *Part) Class {
		c := Class{Tolerance: p.Tolerance, Tempco: s.Tempco, Part: p}
		if p.KnowsTempCo {
			c.Tempco = math.Abs(p.TempCo)
		}
		return c
	}
	all := s.Listed(value)
	if len(all) == 0 {
		var out []Class
		for _, t := range s.Classes {
			out = append(out, Class{Tolerance: t, Tempco: s.Tempco})
		}
		if out == nil {
			out = []Class{{Tolerance: s.Tolerance, Tempco: s.Tempco}}
		}
		return out
	}
	usual := &all[0]
	out := []Class{of(usual)}
	for i := range all[1:] {
		p := &all[1+i]
		known := slices.ContainsFunc(out, func(c Class) bool { return c.Tolerance == p.Tolerance })
		if !known && p.Tolerance < usual.Tolerance && p.Dielectric == usual.Dielectric && p.VoltageV >= usual.VoltageV {
			out = append(out, of(p))
		}
	}
	slices.SortStableFunc(out, func(a, b Class) int { return cmp.Compare(b.Tolerance, a.Tolerance) })
	return out
}

// InClasses reports whether some part can be bought in more than one class.
func (s *Stock) InClasses() bool {
	if len(s.Classes) > 1 {
		return true
	}
	return slices.ContainsFunc(s.Values, func(v float64) bool { return s.Parts != nil && len(s.ClassesOf(v)) > 1 })
}

// Closest is the closest tolerance that any part is sold with.
func (s *Stock) Closest() float64 {
	least := s.Tolerance
	for _, t := range s.Classes {
		least = min(least, t)
	}
	return least
}
