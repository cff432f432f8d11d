package board

import (
	"fmt"
	"math"
	"slices"

	"bandwright/biquad"
	"bandwright/compiler/circuit"
	"bandwright/compiler/netlist"
	"bandwright/compiler/parallel"
	"bandwright/compiler/stage"
)

// negligibleDB is the level that no gain stage is added for (dB): a fifth of
// the usual promise.
const negligibleDB = 0.02

// built is stages in series: their cost, and their response divided by what
// was asked, negative where they invert.
type built struct {
	ok     bool
	stages []*Stage
	cost   float64
	level  float64
	signs  []int // of a series: the polarity of each of its positions
}

// signs index what comes out as asked, and inverted.
const (
	asAsked = iota
	inverted
)

func signOf(level float64) int {
	if level < 0 {
		return inverted
	}
	return asAsked
}

// nothing is a wire.
var nothing = built{ok: true, level: 1}

// then is one part of a chain behind another.
func then(a, b built) built {
	if !a.ok || !b.ok {
		return built{}
	}
	return built{ok: true, stages: slices.Concat(a.stages, b.stages), cost: a.cost + b.cost, level: a.level * b.level}
}

// cheaper is the better of two, the first where they cost the same.
func cheaper(a, b built) built {
	if !a.ok || b.ok && b.cost < a.cost {
		return b
	}
	return a
}

// series is the cheapest way to put positions in series, in either polarity.
func series(positions [][2]built) [2]built {
	total := [2]built{asAsked: nothing}
	for _, p := range positions {
		step := func(before, k int) built {
			b := then(total[before], p[k])
			b.signs = append(slices.Clone(total[before].signs), k)
			return b
		}
		total = [2]built{
			cheaper(step(asAsked, asAsked), step(inverted, inverted)),
			cheaper(step(asAsked, inverted), step(inverted, asAsked)),
		}
	}
	return total
}

// single is one stage of a candidate, chosen from others.
func single(role Role, from string, o stage.Candidate, all []stage.Candidate) built {
	others := slices.DeleteFunc(slices.Clone(all), func(x stage.Candidate) bool { return x.Topology == o.Topology })
	return built{ok: true, stages: []*Stage{{Role: role, From: from, Candidate: o, Own: o.Section, Why: why(o, others)}}, cost: o.Score, level: o.Level}
}

// why says in a few words why a topology was chosen.
func why(o stage.Candidate, others []stage.Candidate) string {
	if len(others) == 0 {
		if o.Topology.OpAmps() > smallStage {
			return "no other topology applies"
		}
		return "no other topology of one or two op-amps applies"
	}
	for _, x := range others {
		if x.Score < o.Score && signOf(x.Level) != signOf(o.Level) {
			return fmt.Sprintf("its polarity is needed here; %s would score %.2g points less", x.Topology.Name, o.Score-x.Score)
		}
	}
	next := others[0]
	if next.Score < o.Score {
		return fmt.Sprintf("it provides the way's gain; %s cannot", next.Topology.Name)
	}
	return fmt.Sprintf("the lowest score, %.3g points; %s is next with %.2g more", o.Score, next.Topology.Name, next.Score-o.Score)
}

// one builds one section in either polarity.
func (c *chooser) one(role Role, from string, s biquad.Analog) (out [2]built) {
	all := c.wished(from, c.options(s, from))
	for _, o := range all {
		if k := signOf(o.Level); !out[k].ok {
			out[k] = single(role, from, o, all)
		}
	}
	return out
}

// gain is the cheapest stage that multiplies by g, of either sign; nothing for
// one that may be left out.
func (c *chooser) gain(from string, g float64) built {
	if g > 0 && math.Abs(biquad.GainDB(g)) < negligibleDB {
		return nothing
	}
	return c.times(from, g)
}

// exactly is gain, but leaves nothing out that differs from 1 at all.
func (c *chooser) exactly(from string, g float64) built {
	if math.Abs(g-1) < 1e-9 {
		return nothing
	}
	return c.times(from, g)
}

// times is a stage that multiplies by g, or two where one cannot.
func (c *chooser) times(from string, g float64) built {
	if b := c.one(GainStage, from, biquad.Constant(g))[asAsked]; b.ok {
		return b
	}
	half := math.Sqrt(math.Abs(g))
	return then(c.one(GainStage, from, biquad.Constant(half))[asAsked], c.one(GainStage, from, biquad.Constant(math.Copysign(half, g)))[asAsked])
}

// alternative builds one alternative of a switched position in either
// polarity, at exactly the level that was asked for: what a contact picks must
// not change the level of the way.
func (c *chooser) alternative(role Role, from string, sections []biquad.Analog) (out [2]built) {
	var all [][2]built
	for _, s := range sections {
		all = append(all, c.one(role, from, s))
	}
	chain := series(all)
	for k, sign := range [2]float64{1, -1} {
		for _, b := range chain {
			if b.ok {
				out[k] = cheaper(out[k], then(b, c.exactly(from, sign/b.level)))
			}
		}
		if out[k].ok {
			out[k].level = sign
		}
	}
	return out
}

// layout is a want with its topologies chosen, in either polarity.
type layout struct {
	want
	alts [2][]built // by sign
	one  [2]built   // of a fixed position; of a switched one the sum of its costs
	// held says that the one stage of a fixed position is that of a held board, and
	// selector names the selector that a switched position is held with.
	held     bool
	selector string
}

// lay builds a position in either polarity. All alternatives of a switched
// position have the same.
func (c *chooser) lay(w want) (layout, *Obstacle) {
	if l, ok := c.switched(w); ok {
		return l, nil
	}
	return c.whole(w)
}

// whole builds a position of stages of its own for each alternative.
func (c *chooser) whole(w want) (layout, *Obstacle) {
	l := layout{want: w}
	for i, sections := range w.Alt {
		var b [2]built
		if w.fixed() {
			b = c.one(w.role, w.Line(i), sections[0])
		} else {
			b = c.alternative(w.role, w.Line(i), sections)
		}
		for k := range b {
			l.alts[k] = append(l.alts[k], b[k])
		}
		if !b[asAsked].ok && !b[inverted].ok {
			p := c.impossible(w.Line(i), sections)
			return l, &p
		}
	}
	l.total()
	if !l.one[asAsked].ok && !l.one[inverted].ok {
		return l, &Obstacle{From: w.From[0], Message: "its alternatives cannot have the same polarity", Right: "change the filter"}
	}
	return l, nil
}

// total sums the alternatives of a position up, in either polarity.
func (l *layout) total() {
	for k, sign := range [2]float64{1, -1} {
		if l.fixed() {
			l.one[k] = l.alts[k][0]
			continue
		}
		l.one[k] = built{ok: true, level: sign}
		for _, b := range l.alts[k] {
			l.one[k].ok = l.one[k].ok && b.ok
			l.one[k].cost += b.cost
		}
	}
}

// position is a layout in one of its polarities.
func (l layout) position(alts []built) Position {
	p := Position{Selector: l.selector, Slot: biquad.Slot[Alternative]{From: l.From, By: l.By, Pick: l.Pick}}
	for _, b := range alts {
		p.Alt = append(p.Alt, Alternative{Stages: b.stages})
	}
	return p
}

// finished is a chain of which every position is chosen: layouts in the polarities
// of signs, but for the one that takes the gain, where absorber is not negative; last
// is what gives the gain.
type finished struct {
	built
	layouts  []layout
	signs    []int
	absorber int
	last     built
}

// positions lists a finished chain's, with the gain stage last where there is one.
func (f finished) positions() []Position {
	var out []Position
	signs := f.signs
	for i, l := range f.layouts {
		if i == f.absorber {
			out = append(out, l.position([]built{f.last}))
			continue
		}
		out = append(out, l.position(l.alts[signs[0]]))
		signs = signs[1:]
	}
	if f.absorber < 0 && len(f.last.stages) > 0 {
		out = append(out, Position{Slot: biquad.Fixed(Alternative{Stages: f.last.stages})})
	}
	return out
}

// finish chooses the cheapest chain whose response is total times what its
// positions are asked for: with a gain stage at the end, with the gain in a
// stage whose level is free, or with neither where nothing is left to do.
func (c *chooser) finish(ls []layout, name string, total float64) finished {
	var best finished
	for absorber := -1; absorber < len(ls); absorber++ {
		if absorber >= 0 && !ls[absorber].fixed() {
			continue
		}
		// Both polarities of the rest, each with what is left.
		var rest [][2]built
		for i, l := range ls {
			if i != absorber {
				rest = append(rest, l.one)
			}
		}
		for _, b := range series(rest) {
			if !b.ok {
				continue
			}
			var last built
			if left := total / b.level; absorber < 0 {
				last = c.gain("ways."+name+" gain", left)
			} else {
				last = c.absorbed(ls[absorber], left)
			}
			if all := then(b, last); all.ok && (!best.ok || all.cost < best.cost) {
				best = finished{all, ls, b.signs, absorber, last}
			}
		}
	}
	return best
}

// absorbs reports whether a topology's level follows a resistor alone, so that
// a way's gain costs it nothing: every capacitor is free.
func absorbs(t *circuit.Topology) bool {
	if t.LevelFixed || t.Balanced {
		return false
	}
	return !slices.ContainsFunc(t.Parts(), func(e circuit.Element) bool {
		return e.Kind == netlist.Capacitor && !slices.ContainsFunc(t.Free, func(f circuit.Free) bool { return f.Name == e.Ref })
	})
}

// scaled is a section times a gain.
func scaled(s biquad.Analog, g float64) biquad.Analog {
	for k := range s.B {
		s.B[k] *= g
	}
	return s
}

// absorbed builds a fixed position with the gain inside.
func (c *chooser) absorbed(l layout, g float64) built {
	from, s := l.From[0], l.Alt[0][0]
	// What inverts serves a section whose numerator is negative, and no other.
	c = c.before(l.behind.Without(g))
	all := c.wished(from, c.options(s, from))
	s = scaled(s, g)
	a, err := circuit.Ask(s)
	if err != nil {
		return built{}
	}
	var fitting []*circuit.Topology
	for _, t := range circuit.Topologies {
		large := t.OpAmps() > smallStage && !slices.ContainsFunc(all, func(o stage.Candidate) bool { return o.Topology == t })
		if absorbs(t) && !large && t.Can(a.Shape) && t.Inverts == (a.Sign < 0) {
			fitting = append(fitting, t)
		}
	}
	if fitting == nil {
		return built{}
	}
	for _, o := range c.wished(from, c.ask(s, fitting)) {
		if o.Level > 0 {
			b := single(l.role, from, o, all)
			b.level, b.stages[0].Own = 1, l.Alt[0][0]
			return b
		}
	}
	return built{}
}

// cheapest chooses the polarity of the common stages, the first of the chains, by what
// the ways behind them then cost; finish gives each way behind a level of the common
// stages. It is nil where none has every way's level and polarity.
func cheapest(common []layout, ways int, finish func(way int, level float64) finished) []finished {
	var ones [][2]built
	for _, l := range common {
		ones = append(ones, l.one)
	}
	fronts := series(ones)
	all := make([]finished, len(fronts)*ways)
	parallel.Each(len(all), func(i int) {
		if front := fronts[i/ways]; front.ok {
			all[i] = finish(i%ways, front.level)
		}
	})
	var best []finished
	least := math.Inf(1)
	for k, front := range fronts {
		behind := all[k*ways : (k+1)*ways]
		total := front.cost
		for _, x := range behind {
			total += x.cost
			front.ok = front.ok && x.ok
		}
		if front.ok && total < least {
			least = total
			best = append([]finished{{front, common, front.signs, -1, nothing}}, behind...)
		}
	}
	return best
}
