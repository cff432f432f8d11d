package number

import (
	"math"

	"bandwright/biquad"
)

// l1Window is the samples between two looks at whether impulse responses have died
// away, l1Windows how many are waited for, l1Died what a window may still add.
const (
	l1Window  = 4096
	l1Windows = 512
	l1Died    = 1e-7
)

// roundingMargin is the share of the greatest level that is left for what rounding
// adds. A word has 2³⁰ steps and more above it; what circulates in sections at 20 Hz and
// 192 kHz is some thousands.
const roundingMargin = 1.0 / (1 << 10)

// mostCombined is how many combinations of settings are followed together. Where
// there are more, every position with alternatives is followed by itself.
const mostCombined = 64

// Reach is the greatest magnitudes, re full scale, that any input inside full
// scale can cause behind a gain or a position: of its output, and of what a section
// remembers. They are L1 norms of impulse responses, the greatest of all
// combinations of settings.
type Reach struct{ Y, P, Q float64 }

// node is a gain or a position of a path.
type node struct {
	gain float64
	slot *biquad.Slot[biquad.Digital] // nil for a gain
}

// pathOf is the nodes of way k, and the first that starts from silence while a
// setting changes: as many as there are where none does.
func pathOf(s biquad.System[biquad.Digital], k int, inputGain float64) (path []node, fresh int) {
	path = append(path, node{gain: inputGain * s.Common.Gain})
	for i := range s.Common.Slots {
		path = append(path, node{slot: &s.Common.Slots[i]})
	}
	twice := DoubledOf(s)
	fresh = 1 + twice[0].From
	way := &s.Ways[k]
	path = append(path, node{gain: way.Gain})
	for i := range way.Slots {
		path = append(path, node{slot: &way.Slots[i]})
	}
	if !twice[0].Twice {
		fresh += 1 + twice[1+k].From
	}
	return path, fresh
}

// Reaches are those of every node of way k: the input's gain, the common positions,
// the way's gain, its positions. During a change of a setting, sections begin at
// silence behind others that do not; what they reach is bounded by the product of the
// norms before and behind.
func Reaches(s biquad.System[biquad.Digital], k int, inputGain float64) []Reach {
	path, fresh := pathOf(s, k, inputGain)
	return reaches(path, fresh)
}

// reaches is Reaches of a part of a path.
func reaches(path []node, fresh int) []Reach {
	var out []Reach
	level := 1.0
	for len(path) > 0 {
		n := run(path, fresh-len(out))
		some := together(path[:n])
		for i := range some {
			some[i].Y, some[i].P, some[i].Q = level*some[i].Y, level*some[i].P, level*some[i].Q
		}
		out = append(out, some...)
		level, path = some[n-1].Y, path[n:]
	}
	return out
}

// run is how many nodes are followed together: to the first fresh one, and no more
// combinations than mostCombined.
func run(path []node, fresh int) int {
	n := len(path)
	if fresh > 0 {
		n = min(n, fresh)
	}
	var c biquad.Cascade[biquad.Digital]
	for i := range n {
		if path[i].slot != nil {
			c.Slots = append(c.Slots, *path[i].slot)
		}
		if biquad.Count(biquad.Axes(c)) > mostCombined {
			return max(1, i)
		}
	}
	return n
}

// together is what nodes reach for an input inside 1, in all combinations of their
// settings.
func together(path []node) []Reach {
	var c biquad.Cascade[biquad.Digital]
	settings := 0
	for _, n := range path {
		if n.slot != nil {
			c.Slots = append(c.Slots, *n.slot)
		}
	}
	axes := biquad.Axes(c)
	for _, a := range axes {
		settings = max(settings, a.Setting+1)
	}
	out := make([]Reach, len(path))
	biquad.Each(axes, settings, func(comb biquad.Combination) {
		for i, r := range norms(path, comb) {
			out[i] = Reach{math.Max(out[i].Y, r.Y), math.Max(out[i].P, r.P), math.Max(out[i].Q, r.Q)}
		}
	})
	return out
}

// norms is the sums of the magnitudes of the impulse responses at every node, in one
// combination. They are followed until a window of 4096 samples adds next to
// nothing anywhere; what still rings after two million is closed by a geometric
// series.
func norms(path []node, comb biquad.Combination) []Reach {
	type section struct{ c, b0, b1, b2, a1, a2, p, q float64 }
	ss := make([]section, len(path))
	for i, n := range path {
		d := biquad.Digital{B: [3]float64{n.gain}}
		if n.slot != nil {
			d = n.slot.Alt[n.slot.Index(comb)]
		}
		ss[i] = section{c: d.Form.Origin(), b0: d.B[0], b1: d.B[1], b2: d.B[2], a1: d.A[1], a2: d.A[2]}
	}
	total, window, before := make([]Reach, len(path)), make([]Reach, len(path)), make([]Reach, len(path))
	x := 1.0
	for range l1Windows {
		copy(before, window)
		clear(window)
		for range l1Window {
			v := x
			x = 0
			for i := range ss {
				s, w := &ss[i], &window[i]
				y := float64(s.b0*v) + s.p
				s.p = float64(s.c*s.p) + (s.q + float64(s.b1*v) - float64(s.a1*y))
				s.q = float64(s.c*s.q) + (float64(s.b2*v) - float64(s.a2*y))
				w.Y, w.P, w.Q = w.Y+math.Abs(y), w.P+math.Abs(s.p), w.Q+math.Abs(s.q)
				v = y
			}
		}
		died := true
		for i, w := range window {
			t := &total[i]
			t.Y, t.P, t.Q = t.Y+w.Y, t.P+w.P, t.Q+w.Q
			died = died && w.Y <= l1Died*t.Y && w.P <= l1Died*t.P && w.Q <= l1Died*t.Q
		}
		if died {
			return total
		}
	}
	for i, w := range window {
		t, b := &total[i], before[i]
		t.Y, t.P, t.Q = t.Y+remainder(w.Y, b.Y), t.P+remainder(w.P, b.P), t.Q+remainder(w.Q, b.Q)
	}
	return total
}

// remainder is what follows a window, of a series that goes on as it went from the one before.
func remainder(window, before float64) float64 {
	if r := window / before; r < 1 {
		return window * r / (1 - r)
	}
	return 0
}

// guardFor is the fewest guard bits with which no word and no sum of products
// wraps in any of the systems, for any input inside full scale.
func (f Format) guardFor(systems []biquad.System[biquad.Digital], inputGain float64) int {
	guard := 1
	for _, s := range systems {
		s = Arranged(s)
		for k := range s.Ways {
			path, _ := pathOf(s, k, inputGain)
			before := 1.0
			for i, r := range Reaches(s, k, inputGain) {
				for !f.holds(path[i], before, r, guard) {
					guard++
				}
				before = r.Y
			}
		}
	}
	return guard
}

// holds reports that a node's words and sums stay inside theirs.
func (f Format) holds(n node, before float64, r Reach, guard int) bool {
	full := math.Ldexp(1+roundingMargin, 31-guard)
	if r.Y*full > greatest {
		return false
	}
	if n.slot == nil {
		return true
	}
	for _, d := range n.slot.Alt {
		row := rowOf(d)
		at := map[string]float64{
			"x": before * full, "x1": before * full, "x2": before * full,
			"y": r.Y * full, "y1": r.Y * full, "y2": r.Y * full,
		}
		at["s"], at["q"] = holdsOf(row, r, before*full, full)
		for i, v := range wordsOf(row) {
			at[f.Kernel.Words[i].Name] = math.Abs(float64(v))
		}
		for _, s := range f.Kernel.Section(row.Form) {
			v, fits := magnitude(s.Tree(), at)
			if !fits {
				return false
			}
			if _, known := at[s.To]; !known {
				at[s.To] = v
			}
		}
	}
	return true
}

// magnitude bounds a tree's value by those of its leaves; false where a sum or a
// product may pass 2⁶³.
func magnitude(n Node, at map[string]float64) (bound float64, fits bool) {
	if n.Op == "" {
		return at[n.Leaf], true
	}
	var args []float64
	for _, a := range n.Args {
		v, ok := magnitude(a, at)
		if !ok {
			return 0, false
		}
		args = append(args, v)
	}
	switch n.Op {
	case "+", "-":
		bound = args[0] + args[1]
	case "times":
		// Each is a word of 32 bits.
		if math.Max(args[0], args[1]) > greatest {
			return 0, false
		}
		bound = args[0] * args[1]
	case "widen":
		bound = math.Ldexp(args[0], fraction)
	case "narrow":
		bound = math.Ldexp(args[0]+halfWord, -fraction)
	case "high":
		bound = math.Ldexp(args[0], -32) + 1
	case "twos":
		bound = 2 * (math.Ldexp(args[0], -32) + 1)
	case "eights":
		bound = 8 * (math.Ldexp(args[0], -32) + 1)
	default:
		panic("number: no bound of " + n.Op)
	}
	return bound, bound+halfWord < 1<<63
}

// relieved is a system for fixed-point words. Positions whose greatest gain lies outside
// quiet to loud are scaled by a power of two, against their cascade's gain, so that
// neither their coefficients nor what they put out runs short of bits; what a gain has
// above the largest word goes into constant positions in front. inputGain (linear) is in
// front of the common gain.
func (f Format) relieved(s biquad.System[biquad.Digital], inputGain, rateHz float64) biquad.System[biquad.Digital] {
	if f.most == 0 {
		return s
	}
	return f.lifted(evened(s, rateHz), inputGain)
}

// lifted is a system with what gains have above the largest word in constant positions in front.
func (f Format) lifted(s biquad.System[biquad.Digital], inputGain float64) biquad.System[biquad.Digital] {
	s = each(s, cloned)
	s.Common = f.withLifts(s.Common, inputGain)
	for k := range s.Ways {
		s.Ways[k].Cascade = f.withLifts(s.Ways[k].Cascade, 1)
	}
	return s
}

// quiet and loud are gains of a position that stays as it is.
const quiet, loud = 1.0 / 8, 8

// evened is a system whose positions' greatest gains are between quiet and loud, or 1/2 to 1, against those of
// their cascades.
func evened(s biquad.System[biquad.Digital], rateHz float64) biquad.System[biquad.Digital] {
	return each(s, func(c biquad.Cascade[biquad.Digital]) biquad.Cascade[biquad.Digital] {
		slots := c.Slots
		c.Slots = nil
		for _, s := range slots {
			s, up := even(s, rateHz)
			c.Slots = append(c.Slots, s)
			c.Gain = math.Ldexp(c.Gain, up)
		}
		return c
	})
}

// even is a position without so many powers of two of its gain.
func even(s biquad.Slot[biquad.Digital], rateHz float64) (biquad.Slot[biquad.Digital], int) {
	peak := 0.0
	for _, d := range s.Alt {
		for _, hz := range errorGrid(rateHz, d) {
			peak = math.Max(peak, biquad.Power(d.At(biquad.PointAt(hz, rateHz))))
		}
	}
	peak = math.Sqrt(peak)
	if peak == 0 || peak >= quiet && peak <= loud {
		return s, 0
	}
	_, up := math.Frexp(peak)
	return lifted(s, -up), up
}

// withLifts is a cascade with what its gain has above the largest word in constant positions in front.
func (f Format) withLifts(c biquad.Cascade[biquad.Digital], before float64) biquad.Cascade[biquad.Digital] {
	var lifts []biquad.Slot[biquad.Digital]
	var from []string
	if n := len(c.Slots); n > 0 {
		from = c.Slots[n-1].From
	}
	for c.Gain*before > f.most {
		g := biquad.Through(biquad.Direct)
		g.B[0] = loud
		lifts = append(lifts, biquad.Fixed(g, from...))
		c.Gain /= loud
	}
	c.Slots = append(lifts, c.Slots...)
	return c
}
