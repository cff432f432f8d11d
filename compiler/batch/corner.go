package batch

import (
	"context"
	"math"
	"math/cmplx"
	"slices"

	"bandwright/biquad"
	"bandwright/compiler/board"
	"bandwright/compiler/netlist"
	"bandwright/compiler/nodal"
	"bandwright/compiler/parallel"
)

const (
	// cornerPlaces is at how many places, those with the highest bound of the first
	// order, a corner is looked for; cornerApart how many frequencies they are apart.
	cornerPlaces, cornerApart = 3, 4
	// mostTurns is how often all parts are turned over; two or three are enough.
	mostTurns = 8
	// summitSteps is how often the interval around a corner's frequency is narrowed.
	summitSteps = 16
	// noEffect is the relative change of a response, for as large a relative change of
	// a part, below which the part is another way's.
	noEffect = 1e-9
)

// bounds are the least and greatest factor of every part's value, tolerance and
// drift together.
type bounds struct{ least, most []float64 }

// corner is the largest deviation of a way, or of the sum, that parts at the ends of
// their tolerances can make (dB, signed), and where.
type corner struct {
	db, hz  float64
	row, in int
}

// corners finds, of each row in turn, the corners that lie highest above the prototype
// and lowest below, by nodal analysis.
func (j *judge) corners(ctx context.Context, b *board.Board, sens [][]complex128, r bounds) []corner {
	candidates := j.cornerPlaces(sens, r)
	out := make([]corner, len(candidates))
	parallel.Each(len(candidates), func(i int) {
		var best *climber
		for _, x := range candidates[i] {
			if ctx.Err() != nil {
				return
			}
			c := j.climb(b, x, r)
			if best == nil || c.sign*c.db > best.sign*best.db {
				best = c
			}
		}
		out[i] = best.top()
	})
	return out
}

// sought is a place where a corner is looked for, upwards or downwards.
type sought struct {
	place
	sign, bound float64
}

// cornerPlaces are the places with the largest bounds of the first order: of each row,
// upwards and downwards.
func (j *judge) cornerPlaces(sens [][]complex128, r bounds) [][]sought {
	best := make([][]sought, 2*j.rows())
	effects := make([]float64, len(j.Parts))
	j.places(func(x place, db float64) {
		j.effects(effects, sens, x)
		up, down := db, -db
		for i, e := range effects {
			a, b := e*(r.most[i]-1), e*(r.least[i]-1)
			up += math.Max(a, b)
			down -= math.Min(a, b)
		}
		best[2*x.row] = keepBest(best[2*x.row], sought{x, 1, up})
		best[2*x.row+1] = keepBest(best[2*x.row+1], sought{x, -1, down})
	})
	return best
}

// keepBest adds a place to those with the largest bounds that are apart from each
// other.
func keepBest(list []sought, x sought) []sought {
	near := slices.IndexFunc(list, func(o sought) bool { return o.in == x.in && max(o.at-x.at, x.at-o.at) < cornerApart })
	switch {
	case near >= 0:
		if x.bound > list[near].bound {
			list[near] = x
		}
	case len(list) < cornerPlaces:
		list = append(list, x)
	default:
		least := 0
		for i := range list {
			if list[i].bound < list[least].bound {
				least = i
			}
		}
		if x.bound > list[least].bound {
			list[least] = x
		}
	}
	return list
}

// climber turns parts over, one after another, at one place.
type climber struct {
	*judge
	sought
	bounds
	solver *nodal.Solver
	outs   []netlist.Node
	index  []int     // of each part in the solver
	high   []bool    // of each part: it is at its upper end
	effect []float64 // of each part of the solver
	db     float64   // the deviation so far
}

// climb climbs from a place: every part goes to the end that the sensitivities at the
// corner so far ask for, until none asks for another.
func (j *judge) climb(b *board.Board, x sought, r bounds) *climber {
	c := &climber{judge: j, sought: x, bounds: r, high: make([]bool, len(j.Parts)), effect: make([]float64, b.PartCount())}
	c.solver, c.outs = b.Solver(j.combination(x.row, x.in))
	for _, p := range j.Parts {
		c.index = append(c.index, b.PartIndex(p.Ref))
	}
	hz := j.Hz[x.at]
	for range mostTurns {
		c.effectsAt(c.effect, hz)
		moved := false
		for i, k := range c.index {
			if high := c.effect[k]*c.sign > 0; c.effect[k] != 0 && high != c.high[i] {
				c.high[i], moved = high, true
			}
		}
		c.set()
		if !moved {
			break
		}
	}
	c.db = c.deviation(hz)
	return c
}

// top turns each part over by itself, for what the sensitivities do not see, until
// none helps, and looks for the summit between the frequencies beside the place.
func (c *climber) top() corner {
	hz := c.Hz[c.at]
	for range mostTurns {
		moved := false
		for i, k := range c.index {
			if math.Abs(c.effect[k]) < noEffect {
				continue
			}
			c.turn(i)
			if db := c.deviation(hz); c.sign*db > c.sign*c.db {
				c.db, moved = db, true
			} else {
				c.turn(i)
			}
		}
		if !moved {
			break
		}
	}
	from, to := c.neighbours()
	at := biquad.Summit(from, to, summitSteps, func(hz float64) float64 { return c.sign * c.deviation(hz) })
	if db := c.deviation(at); c.sign*db > c.sign*c.db {
		c.db, hz = db, at
	}
	return corner{c.db, hz, c.row, c.in}
}

// neighbours are the frequencies beside the place, where boards are looked at.
func (c *climber) neighbours() (from, to float64) {
	at := c.target(c.row, c.in).at
	i := slices.Index(at, int32(c.at))
	return c.Hz[at[max(i-1, 0)]], c.Hz[at[min(i+1, len(at)-1)]]
}

// target is that of a row in one of its variants or combinations.
func (j *judge) target(row, in int) *target {
	if row < len(j.ways) {
		return &j.ideal[row][in]
	}
	return &j.sums[in].target
}

func (c *climber) value(i int) float64 {
	if c.high[i] {
		return c.Parts[i].Value * c.most[i]
	}
	return c.Parts[i].Value * c.least[i]
}

// set gives all parts their values. They are in range, as nominal ones are.
func (c *climber) set() {
	for i, k := range c.index {
		_ = c.solver.Set(k, c.value(i))
	}
}

func (c *climber) turn(i int) {
	c.high[i] = !c.high[i]
	_ = c.solver.Set(c.index[i], c.value(i))
}

// response is that of the row's ways together; 0 without a solution.
func (c *climber) response(hz float64) complex128 {
	if c.solver.At(hz) != nil {
		return 0
	}
	if c.row < len(c.ways) {
		return c.solver.Voltage(c.outs[c.row])
	}
	total := complex128(0)
	for _, out := range c.outs {
		total += c.solver.Voltage(out)
	}
	return total
}

// deviation is that from the prototype (dB).
func (c *climber) deviation(hz float64) float64 {
	want := c.ideally(c.row, c.in, hz)
	return decibels(biquad.Power(c.response(hz)) / (want * want))
}

// effectsAt puts d ln|response| over the relative deviation of every part of the
// solver, at the corner so far.
func (c *climber) effectsAt(dst []float64, hz float64) {
	clear(dst)
	total := c.response(hz)
	if total == 0 {
		return
	}
	one := make([]complex128, len(dst))
	for k, out := range c.outs {
		if c.row < len(c.ways) && k != c.row {
			continue
		}
		share := c.solver.Voltage(out) / total
		if cmplx.Abs(share) == 0 || c.solver.Sensitivities(one, out) != nil {
			continue
		}
		for i, s := range one {
			dst[i] += real(s * share)
		}
	}
}
