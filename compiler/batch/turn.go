package batch

import (
	"fmt"
	"slices"

	"bandwright/biquad"
)

// turn is the common stages in one combination of the settings that change them. They stand
// before the node that all ways begin at, so that what a turn does to one way it does to
// every other: what ways and their sums do in it is what they do in the first turn, times one
// factor, where the ways load the node alike. Otherwise what common stages do is the ways' own.
type turn struct {
	alts   []int        // of the common positions
	blocks []int        // beside those of every variant
	base   []complex128 // what it does nominally, over the first turn, over that of its blocks
	plain  bool         // it is the first and has no blocks: its factor is 1
	span
}

// part parts the positions at which all variants pass the same blocks from the others, and of
// those the first ones, which are common to all ways, from the ways' own.
func (s *Simulator) part(common int) {
	if !s.splits(common) {
		common = 0
	}
	for k := range s.ways {
		p := &s.ways[k]
		var varies []int
		for i, first := range p.variants[0].passed {
			if slices.ContainsFunc(p.variants, func(v variant) bool { return !slices.Equal(v.passed[i], first) }) {
				varies = append(varies, i)
			} else {
				p.fixed = append(p.fixed, first...)
			}
		}
		for n := range p.variants {
			v := &p.variants[n]
			var own, shared []int
			for _, i := range varies {
				switch {
				case i < common:
					shared = append(shared, v.passed[i]...)
				case len(v.passed[i]) > 0:
					own = append(own, s.partedOf(v.passed[i]))
				}
			}
			v.turn, v.core = s.turnOf(v.alts[:common], shared), p.coreOf(v.alts[common:], own)
			if v.turn == 0 {
				p.cores[v.core].variant = n
			}
		}
	}
}

// alike is by how much what a turn does to one way may differ from what it does to another
// (relative; 1e-6 dB): settings of a way load the common stages differently.
const alike = 1e-7

// splits tells that what the first positions, the common ones, do is the same factor for all
// ways, and that the ways are looked at in the first turn with every combination of their own
// settings: of many settings not all combinations are.
func (s *Simulator) splits(common int) bool {
	first := s.ways[0].variants[0].alts[:common]
	turns := map[string][]complex128{} // what each does, by its alternatives
	for k := range s.ways {
		for _, v := range s.ways[k].variants {
			n := slices.IndexFunc(s.ways[k].variants, func(o variant) bool {
				return slices.Equal(o.alts[:common], first) && slices.Equal(o.alts[common:], v.alts[common:])
			})
			if n < 0 {
				return false
			}
			by := slices.Clone(v.nominal)
			for i, h := range s.ways[k].variants[n].nominal {
				by[i] /= h
			}
			key := fmt.Sprint(v.alts[:common])
			if turns[key] == nil {
				turns[key] = by
			}
			for i, h := range turns[key] {
				if d := biquad.Power(by[i] - h); !(d <= alike*alike*biquad.Power(h)) {
					return false
				}
			}
		}
	}
	return true
}

// turnOf is the index of the turn with some alternatives, which joins the others.
func (s *Simulator) turnOf(alts, blocks []int) int {
	k := slices.IndexFunc(s.turns, func(x turn) bool { return slices.Equal(x.alts, alts) })
	if k < 0 {
		k = len(s.turns)
		s.turns = append(s.turns, turn{alts: alts, blocks: blocks, plain: k == 0 && len(blocks) == 0})
	}
	return k
}

// coreOf is the index of the core with some alternatives, which joins the others.
func (p *path) coreOf(alts, own []int) int {
	k := slices.IndexFunc(p.cores, func(x core) bool { return slices.Equal(x.alts, alts) })
	if k < 0 {
		k = len(p.cores)
		p.cores = append(p.cores, core{alts: alts, own: own})
	}
	return k
}

// partedOf is the index of some blocks among the parted ones, which they join.
func (s *Simulator) partedOf(blocks []int) int {
	k := slices.IndexFunc(s.parted, func(x parted) bool { return slices.Equal(x.blocks, blocks) })
	if k < 0 {
		k = len(s.parted)
		s.parted = append(s.parted, parted{blocks: blocks})
	}
	return k
}

// turnsTo is what a turn does nominally at a frequency, over the first turn: by the way that is
// loudest there.
func (s *Simulator) turnsTo(t, at int) complex128 {
	ratio, most := complex128(1), 0.0
	for k := range s.ways {
		p := &s.ways[k]
		n := slices.IndexFunc(p.variants, func(v variant) bool { return v.turn == t })
		if n < 0 {
			continue
		}
		first := p.variants[p.cores[p.variants[n].core].variant].nominal[at]
		if size := biquad.Power(first); size > most {
			ratio, most = p.variants[n].nominal[at]/first, size
		}
	}
	return ratio
}

// turned is what a turn does to the unit's ways.
type turned struct {
	known bool
	at    []complex128
	power []float64 // of at
}

// turned works a turn out, once a board.
func (u *Unit) turned(t int) *turned {
	x, f := &u.simulator.turns[t], &u.turns[t]
	if f.known || x.from >= x.to {
		return f
	}
	f.known = true
	u.multiply(x.blocks)
	h, power := f.at[x.from:x.to], f.power[x.from:x.to]
	u.product.over(h, u.simulator.omega[x.from:x.to])
	times(h, x.base[x.from:x.to])
	for i, v := range h {
		power[i] = biquad.Power(v)
	}
	return f
}
