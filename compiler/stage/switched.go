package stage

import (
	"cmp"
	"math"
	"slices"

	"bandwright/biquad"
	"bandwright/compiler/circuit"
)

const (
	// stringOhm (ohm) is the least of a string of resistors that a tap is picked from: easy
	// for the op-amp before it. It is more where its smallest resistor would not be in stock,
	// up to longestOhm, as its thermal noise is that of a quarter of it; and up to stringRange
	// times its least, in stringStarts steps.
	stringOhm, longestOhm, stringRange, stringStarts = 5e3, 40e3, 4, 24
	// feedbacks is how many pairs of resistors are tried for the gain behind it.
	feedbacks = 3
	// topDB (dB) is how much more gain than the largest an amplifier behind a string has
	// whose first tap is below the input.
	topDB = 0.6
	// dbPerValue is what a value more, or a part more, is worth among strings.
	dbPerValue = 0.001
	// bothParts is how many parts a string may have whose pairs are tried together.
	bothParts = 16
)

// Tapped chooses the values of circuit.TappedGain for gains, different ones from the largest down,
// with a resistor at the selector's pole near poleOhm: those with the smallest error (dB) in the
// worst position. It is nil where the stock has none.
func (b *Bench) Tapped(gains []float64, poleOhm float64) (s *circuit.Switched, values []float64, worstDB float64) {
	amplifies := gains[0] > 1+1e-9
	// Without a resistor above the first tap that has the amplifier's gain, which of a few
	// resistors is not exact.
	tops := []bool{gains[0] < 1-1e-9}
	if amplifies {
		tops = []bool{false, true}
	}
	best := math.Inf(1)
	for _, top := range tops {
		x := &stringOf{s: circuit.TappedGain(len(gains), top, amplifies), gains: gains, cost: math.Inf(1)}
		for _, e := range x.s.Parts() {
			x.lists = append(x.lists, b.Stock.Of(e))
		}
		x.search(top, amplifies, poleOhm)
		if x.cost < best {
			best, s, values, worstDB = x.cost, x.s, x.best, x.error(x.best)
		}
	}
	return s, values, worstDB
}

// stringOf looks for the values of a string.
type stringOf struct {
	s      *circuit.Switched
	gains  []float64
	lists  [][]float64 // of each part
	string int         // how many resistors it has
	best   []float64
	cost   float64 // of best
}

// search tries strings of many lengths, with amplifiers behind them.
func (x *stringOf) search(top, amplifies bool, poleOhm float64) {
	x.string = len(x.lists) - 1
	loops := []loop{{gain: 1}}
	if amplifies {
		x.string -= 2
		loops = x.loops(top)
	}
	pole := x.lists[x.string]
	hold := pole[nearest(pole, poleOhm)]
	for _, l := range loops {
		// A string of 1 ohm and a pole that does not load it: its smallest resistor.
		ideal := circuit.DesignTapped(x.gains, top, l.gain, 1, 1e9)
		shortest := math.Max(stringOhm, x.lists[0][0]/slices.Min(ideal))
		for i := range stringStarts {
			total := shortest * math.Exp2(math.Log2(stringRange)*float64(i)/(stringStarts-1))
			if total > longestOhm {
				break
			}
			if v, ok := x.begin(circuit.DesignTapped(x.gains, top, l.gain, total, hold), hold, l); ok {
				x.descend(v)
			}
		}
	}
}

// loop is the resistors of an amplifier, to the ground and of the feedback, with its gain.
type loop struct{ minus, feedback, gain float64 }

// loops are those whose gain comes nearest to the largest that is wanted, or with top
// to topDB above it.
func (x *stringOf) loops(top bool) []loop {
	want := x.gains[0]
	if top {
		want *= biquad.FromDB(topDB)
	}
	var all []loop
	for _, feedback := range x.lists[len(x.lists)-1] {
		if feedback < usualOhm/2 || feedback > usualOhm*2 {
			continue
		}
		minus := x.lists[len(x.lists)-2]
		m := minus[nearest(minus, feedback/(want-1))]
		all = append(all, loop{m, feedback, 1 + feedback/m})
	}
	slices.SortStableFunc(all, func(a, b loop) int {
		return cmp.Compare(rounded(math.Abs(biquad.GainDB(a.gain/want))), rounded(math.Abs(biquad.GainDB(b.gain/want))))
	})
	return all[:min(feedbacks, len(all))]
}

// begin rounds a design; false where the stock does not reach it.
func (x *stringOf) begin(ideal []float64, hold float64, l loop) ([]float64, bool) {
	v := make([]float64, len(x.lists))
	for i, ohm := range ideal {
		list := x.lists[i]
		if !(ohm >= list[0]/outside) || ohm > list[len(list)-1]*outside {
			return nil, false
		}
		v[i] = list[nearest(list, ohm)]
	}
	v[x.string] = hold
	if l.feedback > 0 {
		v[x.string+1], v[x.string+2] = l.minus, l.feedback
	}
	return v, true
}

// Retapped are the values of a string for other gains with the fewest parts changed that
// leave no error above mostDB, one or two; nil where that does not do.
func (b *Bench) Retapped(s *circuit.Switched, gains, values []float64, mostDB float64) []float64 {
	x := &stringOf{s: s, gains: gains}
	for _, e := range s.Parts() {
		x.lists = append(x.lists, b.Stock.Of(e))
	}
	for most := 1; most <= 2; most++ {
		best, least := []float64(nil), mostDB
		w := slices.Clone(values)
		var change func(from, parts int)
		change = func(from, parts int) {
			for i := from; i < len(w); i++ {
				for _, w[i] = range x.lists[i] {
					if parts < most {
						change(i+1, parts+1)
					} else if e := x.error(w); e <= least {
						best, least = slices.Clone(w), e
					}
				}
				w[i] = values[i]
			}
		}
		change(0, 1)
		if best != nil {
			return best
		}
	}
	return nil
}

// error is the largest error (dB) of any position.
func (x *stringOf) error(v []float64) float64 {
	worst := 0.0
	for i, g := range x.gains {
		h := x.s.States[i].Closed(v)
		worst = math.Max(worst, math.Abs(biquad.GainDB(h.N[0]/h.D[0]/g)))
	}
	return rounded(worst)
}

// descend goes from values to the smallest error near by, and remembers it where it is
// the smallest so far.
func (x *stringOf) descend(v []float64) {
	worst := x.error(v)
	w := slices.Clone(v)
	for range maxRounds {
		var next []float64
		var change func(from, parts int)
		change = func(from, parts int) {
			for i := from; i < len(v); i++ {
				if i == x.string {
					continue
				}
				at := nearest(x.lists[i], v[i])
				for k := max(0, at-1); k <= min(len(x.lists[i])-1, at+1); k++ {
					if k == at {
						continue
					}
					w[i] = x.lists[i][k]
					if e := x.error(w); e < worst {
						worst, next = e, slices.Clone(w)
					}
					if parts < 2 && len(v) <= bothParts {
						change(i+1, parts+1)
					}
				}
				w[i] = v[i]
			}
		}
		change(0, 1)
		if next == nil {
			break
		}
		v = next
		copy(w, v)
	}
	different := slices.Clone(v)
	slices.Sort(different)
	if cost := rounded(worst + dbPerValue*float64(len(v)+len(slices.Compact(different)))); cost < x.cost {
		x.best, x.cost = v, cost
	}
}

// flatDB (dB) is how far an opened stage may be from the level that it has when it is not:
// what nobody adds a gain stage for.
const flatDB = 0.005

// Opened is a stage that a selector switches by an element, with values in stock.
type Opened struct {
	*circuit.Switched
	// On and Off are what it is in its two positions. Off is a gain of 1 at the level of On.
	On, Off Candidate
	// All are those that On was taken from, with other values, by score.
	All []Candidate
}

// measureOff makes Off of the values of On.
func (o *Opened) measureOff(b *Bench, behind Behind) error {
	off := []Candidate{{Topology: o.States[1].Topology, Section: biquad.Constant(1), Values: slices.Clone(o.On.Values), Level: o.On.Level}}
	err := b.Measure(off)
	off[0].weigh(behind.over(noiseHz(off[0].Section)))
	o.Off = off[0]
	return err
}

// Score is what speaks against the stage in both positions together.
func (o *Opened) Score() float64 { return o.On.Score + o.Off.Score }

// leans is how often values are looked for that make up for what the real op-amp does to the last ones.
const leans = 3

// flatAt reports of values of a topology whether it is a gain of level with its element Opens open.
func flatAt(t *circuit.Topology, level float64) func(v []float64) bool {
	flat := t.Opened().States[1]
	return func(v []float64) bool {
		x := real(flat.Closed(v).At(0)) / level
		return x > 0 && math.Abs(biquad.GainDB(x)) <= flatDB
	}
}

// Opened lists the stages of topologies for a section that a selector can switch off, the
// best first, one of each topology: those whose level stays when the element is open. On is the best
// that is at most mostDB off, or the best of all where none is.
func (b *Bench) Opened(section biquad.Analog, topologies []*circuit.Topology, n int, behind Behind, mostDB float64) ([]Opened, error) {
	var out []Opened
	for _, t := range topologies {
		if t.Opens == "" {
			continue
		}
		list, _, err := b.Candidates(section, []*circuit.Topology{t}, n, behind)
		if err != nil {
			return nil, err
		}
		x := Opened{Switched: t.Opened()}
		for _, c := range list {
			if math.Abs(math.Abs(c.Level)-1) < 1e-9 && flatAt(t, c.Level)(c.Values) {
				x.All = append(x.All, c)
			}
		}
		if x.All == nil {
			continue
		}
		near := func(c Candidate) bool { return c.RealDB <= mostDB }
		like := x.All[0]
		for range leans {
			if b.Means.OpAmp.Ideal || slices.ContainsFunc(x.All, near) {
				break
			}
			more, err := b.leant(like, n, behind)
			if err != nil {
				return nil, err
			}
			if len(more) == 0 {
				break
			}
			like = more[MostExact(more)]
			x.All = append(x.All, more...)
		}
		slices.SortStableFunc(x.All, byScore)
		for i := range x.All {
			x.All[i].Topology = x.States[0].Topology
		}
		x.On = x.All[max(0, slices.IndexFunc(x.All, near))]
		if err := x.measureOff(b, behind); err != nil {
			return nil, err
		}
		out = append(out, x)
	}
	slices.SortStableFunc(out, func(x, y Opened) int { return cmp.Compare(x.Score(), y.Score()) })
	return out, nil
}

// leant are up to n stages like one, flat as it is where its element is open, with the values that the real
// op-amp takes where that one ought to be.
func (b *Bench) leant(like Candidate, n int, behind Behind) ([]Candidate, error) {
	t := like.Topology
	r := newRig(t, b.Means.OpAmp, b.Band.FromHz)
	if err := r.set(like.Values); err != nil {
		return nil, err
	}
	asked := newWanted(like.Section, like.Level, b.Band)
	w, err := r.lean(asked, t.Closed(like.Values))
	if err != nil {
		return nil, err
	}
	p := t.Propose(like.Section, b.Means)
	found := &pool{elements: t.Parts(), most: n, same: perError, perPoint: strainDB, noisy: noisy(p.Asked), takes: flatAt(t, like.Level)}
	list, _ := b.filled(p, like.Section, w, found)
	for i, c := range list {
		list[i].ErrorDB = asked.error(t.Closed(c.Values), noLimit)
	}
	if err := b.Measure(list); err != nil {
		return nil, err
	}
	for i := range list {
		list[i].weigh(behind.over(noiseHz(like.Section)))
	}
	return list, nil
}
