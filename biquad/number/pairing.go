package number

import (
	"slices"

	"bandwright/biquad"
)

// worthwhile is the share by which an exchange of zeros has to lower an ordering's cost.
const worthwhile = 0.01

// paired is a cascade whose sections of one origin have exchanged zeros where that costs less
// noise and room: sections that were made together, of the second order, in positions
// without alternatives. Whatever it exchanges, the response of the whole stays.
func (f Format) paired(c biquad.Cascade[biquad.Digital], rateHz float64) biquad.Cascade[biquad.Digital] {
	moves := exchanges(c.Slots)
	if len(moves) == 0 {
		return c
	}
	words := f.cascade(c, rateHz)
	o := newOrdering(words.Slots, rateHz)
	p := &pairing{f: f, o: o, slots: c.Slots, rateHz: rateHz, seen: map[[2]int]pairedSlot{}}
	for i := range c.Slots {
		p.zeros = append(p.zeros, i)
		p.seen[[2]int{i, i}] = pairedSlot{c.Slots[i], o.gain[i], o.noise[i], p.f.steps(words.Slots[i])}
	}
	most := p.allSteps()
	order := o.best()
	now := o.cost(order)
	for again := true; again; {
		again = false
		for _, move := range moves {
			p.turn(move)
			if p.allSteps() > most {
				for range len(move) - 1 { // back to where it was
					p.turn(move)
				}
				continue
			}
			if cost := o.cost(order); cost < now*(1-worthwhile) {
				now, again = cost, true
			} else if best := o.best(); o.cost(best) < now*(1-worthwhile) {
				order, now, again = best, o.cost(best), true
			} else {
				for range len(move) - 1 { // back to where it was
					p.turn(move)
				}
				continue
			}
			// The search begins anew and may end somewhere worse: costs only fall, so
			// that this comes to an end.
			if best := o.best(); o.cost(best) < now {
				order, now = best, o.cost(best)
			}
		}
	}
	c.Slots = slices.Clone(c.Slots)
	for i := range c.Slots {
		c.Slots[i] = p.with(i, p.zeros[i]).slot
	}
	return c
}

// pairing is the search: which position's zeros each position has, and what was found of them.
type pairing struct {
	f      Format
	o      *ordering
	slots  []biquad.Slot[biquad.Digital]
	rateHz float64
	zeros  []int
	seen   map[[2]int]pairedSlot
}

// pairedSlot is a position with the zeros of one, and what the ordering knows of it.
type pairedSlot struct {
	slot        biquad.Slot[biquad.Digital]
	gain, noise []float64
	steps       int
}

// steps is how far down the list of forms, in which those that take fewer instructions are first, a position's is.
func (f Format) steps(s biquad.Slot[biquad.Digital]) int { return slices.Index(f.Forms, s.Alt[0].Form) }

// allSteps is the sum of all positions that may exchange their zeros.
func (p *pairing) allSteps() (sum int) {
	for i, k := range p.zeros {
		sum += p.seen[[2]int{i, k}].steps
	}
	return sum
}

// with is position i with the zeros of position j. They decide on its form, too.
func (p *pairing) with(i, j int) pairedSlot {
	x, known := p.seen[[2]int{i, j}]
	if !known {
		d := p.slots[i].Alt[0].To(biquad.Delta)
		d.B = p.slots[j].Alt[0].To(biquad.Delta).B
		x.slot = p.slots[i]
		x.slot.Alt = []biquad.Digital{d}
		evened, _ := even(x.slot, p.rateHz)
		words := p.f.Quantise(evened, p.rateHz)
		x.gain, x.noise, x.steps = p.o.powers(x.slot), p.o.noises(words), p.f.steps(words)
		p.seen[[2]int{i, j}] = x
	}
	return x
}

// turn gives each position of a move the zeros of the next.
func (p *pairing) turn(move []int) {
	first := p.zeros[move[0]]
	for k, i := range move {
		if k == len(move)-1 {
			p.zeros[i] = first
		} else {
			p.zeros[i] = p.zeros[move[k+1]]
		}
		x := p.with(i, p.zeros[i])
		p.o.gain[i], p.o.noise[i] = x.gain, x.noise
	}
}

// fewPairs is up to how many pairs are joined to threes as well, of five sections made together.
// Threes are as many as the third power of the sections, and each is worth a search for an order:
// with fifteen sections they would take minutes.
const fewPairs = 10

// exchanges are the positions that may exchange their zeros, two and, of few, three at a time.
func exchanges(slots []biquad.Slot[biquad.Digital]) [][]int {
	pairs := exchangeable(slots)
	var out [][]int
	for _, p := range pairs {
		out = append(out, p[:])
	}
	if len(pairs) > fewPairs {
		return out
	}
	for _, p := range pairs {
		for k := range p[0] {
			if slices.Contains(pairs, [2]int{k, p[0]}) {
				out = append(out, []int{k, p[0], p[1]}, []int{p[1], p[0], k})
			}
		}
	}
	return out
}

// exchangeable is the pairs of positions that may exchange their zeros.
func exchangeable(slots []biquad.Slot[biquad.Digital]) [][2]int {
	whole := func(s biquad.Slot[biquad.Digital]) bool {
		return len(s.Alt) == 1 && s.Alt[0].A[2] != 0
	}
	var out [][2]int
	for j, b := range slots {
		for i, a := range slots[:j] {
			if whole(a) && whole(b) && slices.Equal(a.From, b.From) {
				out = append(out, [2]int{i, j})
			}
		}
	}
	return out
}
