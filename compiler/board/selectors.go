package board

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"bandwright/biquad"
	"bandwright/compiler/language"
	"bandwright/compiler/verify"
	"bandwright/compiler/words"
)

// Selector is one part to buy: the poles that the same settings work, wherever on the board
// they are, on one shaft or worked by one relay's coil.
type Selector struct {
	Ref string
	// By are the settings that work it, and Positions how many it has: one for each of their
	// combinations, the last setting fastest, so that position 1 is the default.
	By        []biquad.Axis
	Positions int
	Poles     []Pole
}

// Pole is the switched position of a chain that one pole of a selector works. Its reference
// is Position.Selector: the selector's, with a letter where that has several poles.
type Pole struct {
	Chain    *Chain
	Position *Position
}

// BreaksFirst reports whether a pole picks whole stages, or an end of one of several: its throws are
// op-amps' outputs, or one of those and the ground, so that it may not make before it breaks.
func (s *Selector) BreaksFirst() bool {
	return slices.ContainsFunc(s.Poles, func(p Pole) bool {
		body := p.Position.Switched()
		if body == nil {
			return true
		}
		driven := 0
		throws, _ := p.Position.Throws()
		for _, t := range throws {
			if t.Node == body.In || t.Node == body.Out || t.Node == "0" {
				driven++
			}
		}
		return driven > 1
	})
}

// String says how many poles and positions there are.
func (s *Selector) String() string {
	if len(s.Poles) == 1 {
		if throws, _ := s.Poles[0].Position.Throws(); len(throws) == 1 && s.Positions == 2 {
			return "on-off"
		}
		return fmt.Sprintf("%d positions", s.Positions)
	}
	return fmt.Sprintf("%d poles, %d positions", len(s.Poles), s.Positions)
}

// Selectors lists the board's, in the order of their first poles.
func (b *Board) Selectors() []Selector {
	var out []Selector
	for _, c := range b.Chains() {
		for i := range c.Positions {
			p := &c.Positions[i]
			if p.Selector == "" {
				continue
			}
			n, _ := poleOf(p.Selector)
			ref := fmt.Sprintf("S%d", n)
			k := slices.IndexFunc(out, func(s Selector) bool { return s.Ref == ref })
			if k < 0 {
				k = len(out)
				out = append(out, Selector{Ref: ref, By: p.By, Positions: biquad.Count(p.By)})
			}
			out[k].Poles = append(out[k].Poles, Pole{c, p})
		}
	}
	for i := range out {
		slices.SortStableFunc(out[i].Poles, func(a, b Pole) int {
			_, x := poleOf(a.Position.Selector)
			_, y := poleOf(b.Position.Selector)
			return cmp.Compare(x, y)
		})
	}
	return out
}

// poleOf is the number of the selector in a pole's reference and which of its poles that is,
// from 0; 0 and 0 of none.
func poleOf(ref string) (selector, pole int) {
	digits, ok := strings.CutPrefix(ref, "S")
	number := strings.TrimRight(digits, "ABCDEFGHIJKLMNOPQRSTUVWXYZ")
	n, err := strconv.Atoi(number)
	if !ok || err != nil {
		return 0, 0
	}
	for _, l := range digits[len(number):] {
		pole = 26*pole + int(l-'A') + 1
	}
	return n, max(pole-1, 0)
}

// Letters are those of a pole, from 0: A to Z, AA, AB, ...
func Letters(pole int) string {
	out := ""
	for pole++; pole > 0; pole = (pole - 1) / 26 {
		out = string(rune('A'+(pole-1)%26)) + out
	}
	return out
}

// nameSelectors gives every switched position the reference of the pole that works it: the
// same settings work one selector. A held board's keep their numbers; where poles come or
// go the letters stay without a gap, in the order that they had.
func (b *Board) nameSelectors(kept []*keptChain) {
	var all []*Selector
	for _, c := range b.Chains() {
		for i := range c.Positions {
			p := &c.Positions[i]
			p.held, p.Selector = p.Selector, ""
			if len(p.By) == 0 {
				continue
			}
			k := slices.IndexFunc(all, func(s *Selector) bool { return slices.Equal(s.By, p.By) })
			if k < 0 {
				k = len(all)
				all = append(all, &Selector{By: p.By})
			}
			all[k].Poles = append(all[k].Poles, Pole{c, p})
		}
	}
	last := 0
	for _, k := range kept {
		last = max(last, k.lastSelector())
	}
	taken := map[int]bool{}
	number := make([]int, len(all))
	for i, s := range all {
		for _, p := range s.Poles {
			if n, _ := poleOf(p.Position.held); n > 0 && !taken[n] {
				number[i], taken[n] = n, true
				break
			}
		}
	}
	for i, s := range all {
		if number[i] == 0 {
			last++
			number[i] = last
		}
		s.letter(number[i])
	}
}

// letter gives the poles of a selector of a number their references: first those that it
// had, then what is new in the order of the signal.
func (s *Selector) letter(number int) {
	rank := func(p Pole) int {
		if n, k := poleOf(p.Position.held); n == number {
			return k
		}
		return len(s.Poles) + mostStages*mostStages
	}
	slices.SortStableFunc(s.Poles, func(a, b Pole) int { return cmp.Compare(rank(a), rank(b)) })
	for k, p := range s.Poles {
		p.Position.Selector = fmt.Sprintf("S%d", number)
		if len(s.Poles) > 1 {
			p.Position.Selector += Letters(k)
		}
	}
}

// lastSelector is the largest number of a selector in use, 0 for none: what is new is not
// mistaken for what is gone.
func (k *keptChain) lastSelector() int {
	last := 0
	if k != nil {
		for _, p := range k.held.Places {
			n, _ := poleOf(p.Selector)
			last = max(last, n)
		}
	}
	return last
}

// heldOf is what a held board calls the selector that a bleed resistor is behind.
func (c *Chain) heldOf(p *Part) string {
	for i := range c.Positions {
		if x := &c.Positions[i]; p.Of != "" && x.Selector == p.Of {
			return x.held
		}
	}
	return p.Of
}

// heldAs reports whether a held end is a part.
func (c *Chain) heldAs(p *Part, e language.HeldEnd) bool {
	return e.Use == string(p.Use) && e.Of == c.heldOf(p)
}

// Throw is a contact of a pole: the node that it connects with the pole's.
type Throw struct {
	Alt  int
	Node string
	// At are the positions of the selector in which it does, from 1, ascending.
	At []int
}

// Throws are the contacts of a position's pole in the order of their first positions, and
// the node of the pole: the outputs of its alternatives, or where it switches an element of
// a stage the nodes that it has contacts at.
func (p *Position) Throws() (throws []Throw, pole string) {
	pole = p.Out
	for k, a := range p.Alt {
		t := Throw{Alt: k, Node: a.Out, At: p.At(k)}
		if p.Switched() != nil {
			t.Node, pole = p.Throw(k)
		}
		if t.Node != "" && t.At != nil {
			throws = append(throws, t)
		}
	}
	slices.SortFunc(throws, func(a, b Throw) int { return cmp.Compare(a.At[0], b.At[0]) })
	return throws, pole
}

// At are the positions of the selector in which a position's alternative is picked, from 1,
// ascending.
func (p *Position) At(alt int) []int {
	var out []int
	for i, k := range p.Pick {
		if int(k) == alt {
			out = append(out, i+1)
		}
	}
	return out
}

// Stands is the position of a selector in a combination of settings, from 1.
func (s *Selector) Stands(c biquad.Combination) int {
	k := 0
	for _, ax := range s.By {
		k = k*ax.Choices + int(c[ax.Setting])
	}
	return k + 1
}

// Settings are the names of the settings that work a selector.
func (s *Selector) Settings(all []verify.Setting) []string {
	var out []string
	for _, ax := range s.By {
		out = append(out, all[ax.Setting].Name)
	}
	return out
}

// Choices are the choices that each position of a selector stands for.
func (s *Selector) Choices(all []verify.Setting) [][]string {
	var out [][]string
	biquad.Each(s.By, len(all), func(c biquad.Combination) {
		var choices []string
		for _, ax := range s.By {
			choices = append(choices, all[ax.Setting].Choices[c[ax.Setting]])
		}
		out = append(out, choices)
	})
	return out
}

// Words say what works a selector and what each of its positions stands for: "placement,
// 1 free, 2 wall".
func (s *Selector) Words(all []verify.Setting) string {
	list := []string{strings.Join(s.Settings(all), " and ")}
	for k, choices := range s.Choices(all) {
		list = append(list, fmt.Sprintf("%d %s", k+1, strings.Join(choices, " and ")))
	}
	return strings.Join(list, ", ")
}

// Works says what a pole of a selector works: "S1B common stages 3 and 4".
func (b *Board) Works(p Pole) string {
	var numbers []int
	for _, s := range p.Position.Built() {
		numbers = append(numbers, s.Number)
	}
	stages := "stages"
	if len(numbers) == 1 {
		stages = "stage"
	}
	return strings.Join([]string{p.Position.Selector, b.NameOf(p.Chain), stages, words.Numbers(numbers)}, " ")
}
