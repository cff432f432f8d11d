package board

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
	"sync"

	"bandwright/biquad"
	"bandwright/compiler/circuit"
	"bandwright/compiler/netlist"
	"bandwright/compiler/stage"
	"bandwright/compiler/words"
)

// negligibleDB is the level that no gain stage is added for (dB): a fifth of
// the usual promise.
const negligibleDB = 0.02

// option is a stage with values in stock.
type option = stage.Candidate

// pick is one chosen stage.
type pick struct {
	role    Role
	from    string
	section biquad.Analog
	option
	others []option
}

// built is stages in series: their cost, and their response divided by what
// was asked, negative where they invert.
type built struct {
	ok    bool
	picks []pick
	cost  float64
	level float64
	signs []int // of a series: the polarity of each of its positions
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

// chooser chooses topologies.
type chooser struct {
	bench  *stage.Bench
	wishes map[string]string
	known  memo // of sections
	scaled memo // of sections with a way's gain inside
}

// memo keeps answers about sections; the zero value is ready, for several
// goroutines.
type memo struct{ all sync.Map }

// of is the answer about a section, asked for once.
func (m *memo) of(s biquad.Analog, ask func() []option) []option {
	answer, _ := m.all.LoadOrStore(s, sync.OnceValue(ask))
	return answer.(func() []option)()
}

// options are the stages that a section may be, the best score first, one of
// each topology.
func (c *chooser) options(s biquad.Analog) []option {
	return c.known.of(s, func() []option { return c.survey(s, nil) })
}

// ask lists the stages in stock for a section, one of each topology, the best
// score first. Where no section can be it the list is empty, and impossible says
// why.
func (c *chooser) ask(s biquad.Analog, topologies []*circuit.Topology) []option {
	out, _, _ := c.bench.Candidates(s, topologies, 1)
	return out
}

const (
	// tolerable is the score below which a stage of one or two op-amps, a small one,
	// is not compared with one of more, which costs half of that in parts alone.
	tolerable  = 9.0
	smallStage = 2
)

// survey lists the stages for a section: those of three op-amps and more only where
// none of fewer is tolerable in either polarity, or the filter wishes for one.
func (c *chooser) survey(s biquad.Analog, wish *circuit.Topology) []option {
	a, err := circuit.Ask(s)
	if err != nil {
		return nil
	}
	var small, large []*circuit.Topology
	for _, t := range circuit.Topologies {
		switch {
		case t.Balanced || !t.Can(a.Shape):
		case t.OpAmps() > smallStage && t != wish:
			large = append(large, t)
		default:
			small = append(small, t)
		}
	}
	var out []option
	if len(small) > 0 {
		out = c.ask(s, small)
	}
	if len(large) > 0 && (len(out) == 0 || out[0].Score > tolerable) {
		out = append(out, c.ask(s, large)...)
		slices.SortStableFunc(out, func(x, y option) int { return cmp.Compare(x.Score, y.Score) })
	}
	return out
}

// only is a list of one topology.
func only(t *circuit.Topology) []*circuit.Topology { return []*circuit.Topology{t} }

// wished are the options that a filter's own wish leaves.
func (c *chooser) wished(from string, options []option) []option {
	name := c.wishes[from]
	t, ok := circuit.ByName(name)
	if !ok {
		return options
	}
	var out []option
	for _, o := range options {
		if o.Topology == t {
			out = append(out, o)
		}
	}
	if len(out) == 0 && len(options) > 0 && !t.Can(asked(options[0].Section).Shape) {
		return options // a section of the filter that the wish is not about
	}
	return out
}

// one builds one section in either polarity.
func (c *chooser) one(role Role, from string, s biquad.Analog) (out [2]built) {
	all := c.wished(from, c.options(s))
	for _, o := range all {
		k := signOf(o.Level)
		if out[k].ok {
			continue
		}
		out[k] = built{ok: true, cost: o.Score, level: o.Level,
			picks: []pick{{role: role, from: from, section: s, option: o, others: without(all, o)}}}
	}
	return out
}

func without(all []option, chosen option) []option {
	var out []option
	for _, o := range all {
		if o.Topology != chosen.Topology {
			out = append(out, o)
		}
	}
	return out
}

// then is one part of a chain behind another.
func then(a, b built) built {
	if !a.ok || !b.ok {
		return built{}
	}
	return built{ok: true, picks: slices.Concat(a.picks, b.picks), cost: a.cost + b.cost, level: a.level * b.level}
}

// cheaper is the better of two, the first where they cost the same.
func cheaper(a, b built) built {
	if !a.ok || b.ok && b.cost < a.cost {
		return b
	}
	return a
}

// nothing is a wire.
var nothing = built{ok: true, level: 1}

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

// gain is the cheapest stage that multiplies by g, of either sign; nothing for
// one that may be left out.
func (c *chooser) gain(role Role, from string, g float64) built {
	if g > 0 && math.Abs(biquad.GainDB(g)) < negligibleDB {
		return nothing
	}
	return c.times(role, from, g)
}

// times is a stage that multiplies by g, or two where one cannot.
func (c *chooser) times(role Role, from string, g float64) built {
	if b := c.one(role, from, biquad.Constant(g))[asAsked]; b.ok {
		return b
	}
	half := math.Sqrt(math.Abs(g))
	return then(c.one(role, from, biquad.Constant(half))[asAsked], c.one(role, from, biquad.Constant(math.Copysign(half, g)))[asAsked])
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
				out[k] = cheaper(out[k], then(b, c.exactly(GainStage, from, sign/b.level)))
			}
		}
		if out[k].ok {
			out[k].level = sign
		}
	}
	return out
}

// exactly is gain, but leaves nothing out that differs from 1 at all.
func (c *chooser) exactly(role Role, from string, g float64) built {
	if math.Abs(g-1) < 1e-9 {
		return nothing
	}
	return c.times(role, from, g)
}

// layout is a want with its alternatives built in either polarity.
type layout struct {
	want
	alts [2][]built // by sign
	one  [2]built   // of a fixed position; of a switched one the sum of its costs
}

// lay builds a position in either polarity. All alternatives of a switched
// position have the same.
func (c *chooser) lay(w want) (layout, *Problem) {
	l := layout{want: w}
	for i, sections := range w.alts {
		from := w.from[min(i, len(w.from)-1)]
		var b [2]built
		if w.fixed() {
			b = c.one(w.role, from, sections[0])
		} else {
			b = c.alternative(w.role, from, sections)
		}
		for k := range b {
			l.alts[k] = append(l.alts[k], b[k])
		}
		if !b[asAsked].ok && !b[inverted].ok {
			p := c.impossible(from, sections)
			return l, &p
		}
	}
	for k, sign := range [2]float64{1, -1} {
		if w.fixed() {
			l.one[k] = l.alts[k][0]
			continue
		}
		sum := built{ok: true, level: sign}
		for _, b := range l.alts[k] {
			sum.ok = sum.ok && b.ok
			sum.cost += b.cost
		}
		l.one[k] = sum
	}
	if !l.one[asAsked].ok && !l.one[inverted].ok {
		return l, &Problem{From: w.from[0], Message: "its alternatives cannot have the same polarity", Right: "change the filter, or leave `board` out"}
	}
	return l, nil
}

// impossible says why a section, or the wish for it, cannot be built.
func (c *chooser) impossible(from string, sections []biquad.Analog) Problem {
	for _, s := range sections {
		all := c.options(s)
		if len(c.wished(from, all)) > 0 {
			continue
		}
		if t, ok := circuit.ByName(c.wishes[from]); ok {
			why := ""
			if _, refusals, err := c.bench.Candidates(s, only(t), 1); err == nil && len(refusals) > 0 {
				why = refusals[0].Reason
			}
			right := "no topology applies: change the filter, or leave `board` out"
			if len(all) > 0 {
				right = "leave `topology` out, or name one that applies: " + words.List(names(all))
			}
			return Problem{From: from, Wish: true, Message: fmt.Sprintf("no `%s` can be %s: %s", t.Name, described(asked(s), s), why), Right: right}
		}
		return Problem{From: from, Message: fmt.Sprintf("no op-amp stage can be %s: %s", described(asked(s), s), c.reasons(s)),
			Right: "change the filter, widen the board's stock, or leave `board` out"}
	}
	return Problem{From: from, Message: "no op-amp stage can be this filter", Right: "change the filter, or leave `board` out"}
}

func asked(s biquad.Analog) circuit.Asked { a, _ := circuit.Ask(s); return a }

// described is a section in words.
func described(a circuit.Asked, s biquad.Analog) string {
	w, q := s.Natural()
	switch a.Order {
	case 0:
		return "a gain of " + words.Level(biquad.GainDB(math.Abs(a.N[0])), "dB")
	case 1:
		return fmt.Sprintf("a %v at %s", a.Shape, words.Hz(w/(2*math.Pi)))
	}
	return fmt.Sprintf("a %v at %s with Q %s", a.Shape, words.Hz(w/(2*math.Pi)), words.Short(q))
}

// reasons are why the topologies for a section's shape do not apply.
func (c *chooser) reasons(s biquad.Analog) string {
	var out []string
	_, refusals, err := c.bench.Candidates(s, nil, 1)
	if err != nil {
		return err.Error()
	}
	for _, r := range refusals {
		if !r.Topology.Balanced && r.Topology.Can(asked(s).Shape) {
			out = append(out, r.Topology.Name+": "+r.Reason)
		}
	}
	if out == nil {
		return "no topology has this shape"
	}
	return strings.Join(out, "; ")
}

func names(options []option) []string {
	var out []string
	for _, o := range options {
		out = append(out, o.Topology.Name)
	}
	return out
}

// absorbs reports whether a topology's level follows a resistor alone, so that
// a way's gain costs it nothing: every capacitor is free.
func absorbs(t *circuit.Topology) bool {
	if t.LevelFixed || t.Balanced {
		return false
	}
	for _, e := range t.Parts() {
		if e.Kind == netlist.Capacitor && !slices.ContainsFunc(t.Free, func(f circuit.Free) bool { return f.Name == e.Ref }) {
			return false
		}
	}
	return true
}

// scaled is a section times g.
func scaled(s biquad.Analog, g float64) biquad.Analog {
	for k := range s.B {
		s.B[k] *= g
	}
	return s
}

// picked is what was chosen for a chain: by position, with the gain stage last.
type laidChain struct {
	built
	alts [][]built // of each position
}

// finish chooses the cheapest chain whose response is total times what its
// positions are asked for: with a gain stage at the end, with the gain in a
// stage whose level is free, or with neither where nothing is left to do.
func (c *chooser) finish(ls []layout, name string, total float64) laidChain {
	var best laidChain
	try := func(positions [][2]built, absorber int) {
		// Both polarities of the rest, each with what is left.
		rest := positions
		if absorber >= 0 {
			rest = slices.Concat(positions[:absorber], positions[absorber+1:])
		}
		for _, b := range series(rest) {
			if !b.ok {
				continue
			}
			left := total / b.level
			last := c.gain(GainStage, "ways."+name+" gain", left)
			if absorber >= 0 {
				last = c.absorbed(ls[absorber], left)
			}
			all := then(b, last)
			if !all.ok || best.ok && all.cost >= best.cost {
				continue
			}
			best = laidChain{built: all, alts: split(ls, absorber, b.signs, last)}
		}
	}
	var positions [][2]built
	for _, l := range ls {
		positions = append(positions, l.one)
	}
	try(positions, -1)
	for i, l := range ls {
		if l.fixed() {
			try(positions, i)
		}
	}
	return best
}

// absorbed builds a fixed position with the gain inside.
func (c *chooser) absorbed(l layout, g float64) built {
	from, s := l.from[0], scaled(l.want.alts[0][0], g)
	a, err := circuit.Ask(s)
	if err != nil {
		return built{}
	}
	// What inverts serves a section whose numerator is negative, and no other.
	all := c.wished(from, c.options(l.want.alts[0][0]))
	var fitting []*circuit.Topology
	for _, t := range circuit.Topologies {
		large := t.OpAmps() > smallStage && !slices.ContainsFunc(all, func(o option) bool { return o.Topology == t })
		if absorbs(t) && !large && t.Can(a.Shape) && t.Inverts == (a.Sign < 0) {
			fitting = append(fitting, t)
		}
	}
	if fitting == nil {
		return built{}
	}
	scaled := c.scaled.of(s, func() []option { return c.ask(s, fitting) })
	for _, o := range c.wished(from, scaled) {
		if absorbs(o.Topology) && o.Level > 0 {
			return built{ok: true, cost: o.Score, level: 1,
				picks: []pick{{role: l.role, from: from, section: s, option: o, others: without(all, o)}}}
		}
	}
	return built{}
}

// split lists the alternatives of each position in the polarities of a chosen
// series, and the gain stage last where no position absorbs it.
func split(ls []layout, absorber int, signs []int, last built) [][]built {
	out := make([][]built, 0, len(ls)+1)
	for i, l := range ls {
		if i == absorber {
			out = append(out, []built{last})
			continue
		}
		out = append(out, l.alts[signs[0]])
		signs = signs[1:]
	}
	if absorber < 0 {
		out = append(out, []built{last})
	}
	return out
}
