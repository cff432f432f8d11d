package board

import (
	"cmp"
	"math"
	"slices"
	"strings"

	"bandwright/biquad"
	"bandwright/compiler/circuit"
	"bandwright/compiler/language"
	"bandwright/compiler/netlist"
)

// keptChain is what a held board has for a chain, and which of its places serve what
// is asked for now. The nil keptChain holds nothing: its chain is chosen anew.
type keptChain struct {
	held *language.HeldChain
	// place is, for each want, the index of the held place that serves it, -1 for none.
	place []int
	// gain is the index of the place of the way's own gain stage, -1 for none.
	gain int
	// absorber is the index of the place whose stage has the way's gain inside, -1 for
	// none.
	absorber int
}

// keep finds what a held board has for every chain, and puts what is asked for into
// the order that the held board has it in.
func (j Job) keep(chains [][]want, ways []Way) []*keptChain {
	out := make([]*keptChain, len(chains))
	if j.Held == nil {
		return out
	}
	of := j.heldWays(chains[1:], ways)
	for i, ws := range chains {
		held, name := &j.Held.Common, "common"
		if i > 0 {
			if name = ways[i-1].Name; of[i-1] == nil {
				continue // a way that is new
			}
			held = &of[i-1].HeldChain
		}
		if slices.Contains(j.Anew, name) {
			continue
		}
		out[i] = j.keepChain(held, ws)
		out[i].order(ws)
	}
	return out
}

// heldWays are the held ways of all ways: those of their names, or else those that serve their lines under a name that no
// way has any more, since a way that is called otherwise is no other circuit; nil for a way that is new.
func (j Job) heldWays(chains [][]want, ways []Way) []*language.HeldWay {
	out := make([]*language.HeldWay, len(ways))
	for k := range j.Held.Ways {
		if i := slices.IndexFunc(ways, func(w Way) bool { return w.Name == j.Held.Ways[k].Name }); i >= 0 {
			out[i] = &j.Held.Ways[k]
		}
	}
	for i, ws := range chains {
		if out[i] != nil {
			continue
		}
		most := 0.0
		for k := range j.Held.Ways {
			h := &j.Held.Ways[k]
			if share := j.servedBy(ws, &h.HeldChain); share > most && share >= leastServed && !slices.Contains(out, h) {
				out[i], most = h, share
			}
		}
	}
	return out
}

// leastServed is the share of a way's lines that a held way serves if it is that way under another name.
const leastServed = 0.75

// servedBy is the share of what is asked for, or of what is held where that is more, that are the same lines of the spec.
func (j Job) servedBy(ws []want, held *language.HeldChain) float64 {
	var now, then []string
	for _, w := range ws {
		for i := range w.Alt {
			if w.role == FilterStage && len(w.Alt[i]) > 0 {
				now = append(now, j.says(w.Line(i)))
			}
		}
	}
	for _, p := range held.Places {
		for _, a := range p.Alternatives {
			if len(a) > 0 && a[0].Role == FilterStage.String() {
				then = append(then, a[0].For)
			}
		}
	}
	return float64(shared(now, then)) / float64(max(len(now), len(then), 1))
}

// keepChain pairs what is asked for with held places: each with the one that serves the
// same line of the spec, or else the nearest of its kind.
func (j Job) keepChain(held *language.HeldChain, ws []want) *keptChain {
	k := &keptChain{held: held, place: slices.Repeat([]int{-1}, len(ws)), gain: -1, absorber: -1}
	type pair struct {
		want, place int
		apart       float64
	}
	var pairs []pair
	for n, p := range held.Places {
		if p.Selector != "" {
			for i, w := range ws {
				pairs = append(pairs, pair{i, n, j.apartSwitched(w, p)})
			}
			continue
		}
		s := &p.Alternatives[0][0]
		switch {
		case s.Role == GainStage.String():
			k.gain = n
		case s.Role == FilterStage.String() && absorbed(s):
			k.absorber = n
		}
		for i, w := range ws {
			pairs = append(pairs, pair{i, n, j.apart(w, s)})
		}
	}
	slices.SortStableFunc(pairs, func(a, b pair) int { return cmp.Compare(a.apart, b.apart) })
	taken := make([]bool, len(held.Places))
	for _, p := range pairs {
		if k.place[p.want] < 0 && !taken[p.place] && !math.IsInf(p.apart, 1) {
			k.place[p.want], taken[p.place] = p.place, true
		}
	}
	return k
}

// absorbed reports whether a held stage has a gain inside that is not its filter's.
func absorbed(s *language.HeldStage) bool {
	t, ok := circuit.ByName(s.Topology)
	return ok && absorbs(t) && math.Abs(math.Abs(s.Level)-1) > 1e-9
}

// apart is how far what is asked for is from what a held stage serves: below 1 for the
// same line of the spec, below 3 for another of its kind, and infinite where the stage
// can not be it.
func (j Job) apart(w want, s *language.HeldStage) float64 {
	if !w.fixed() || s.Role != w.role.String() || len(w.Alt[0]) != 1 {
		return math.Inf(1)
	}
	t, ok := circuit.ByName(s.Topology)
	a, err := circuit.Ask(w.Alt[0][0])
	if !ok || err != nil || !t.Can(a.Shape) {
		return math.Inf(1)
	}
	says := j.says(w.From[0])
	rank := 0.0
	switch {
	case s.For == says:
	case kindOf(s.For) == kindOf(says):
		rank = 1
	default:
		return math.Inf(1)
	}
	return rank + apartSections(w.Alt[0][0], ownSection(s))
}

// apartSections is 0 for sections of one shape, below 1 for all others: octaves of
// frequency and of Q.
func apartSections(a, b biquad.Analog) float64 {
	wa, qa := a.Natural()
	wb, qb := b.Natural()
	octaves := 0.0
	for _, x := range [][2]float64{{wa, wb}, {qa, qb}} {
		if x[0] > 0 && x[1] > 0 {
			octaves += math.Abs(math.Log2(x[0] / x[1]))
		}
	}
	if a.Order() != b.Order() {
		octaves += 4
	}
	for _, f := range [...]float64{0.25, 1, 4} {
		// Two shelves may share their poles.
		ha, hb := a.At(wa*f), b.At(wa*f)
		if ha != 0 && hb != 0 {
			octaves += math.Abs(biquad.DB(ha)-biquad.DB(hb)) / 60
		}
	}
	return octaves / (1 + octaves)
}

// apartSwitched is apart of a switched position: how many of its alternatives serve
// other lines.
func (j Job) apartSwitched(w want, p language.HeldPlace) float64 {
	if w.fixed() {
		return math.Inf(1)
	}
	var now, then, kindsNow, kindsThen []string
	for i := range w.Alt {
		if len(w.Alt[i]) > 0 {
			now = append(now, j.says(w.Line(i)))
			kindsNow = append(kindsNow, kindOf(now[len(now)-1]))
		}
	}
	for _, a := range p.Alternatives {
		if f := lineOf(a); f != "" {
			then = append(then, f)
			kindsThen = append(kindsThen, kindOf(f))
		}
	}
	same, alike := shared(now, then), shared(kindsNow, kindsThen)
	if alike == 0 {
		return math.Inf(1)
	}
	all := float64(max(len(now), len(then)))
	if same > 0 {
		return 1 - float64(same)/all
	}
	return 2 - float64(alike)/all
}

// shared counts the texts that two lists share.
func shared(a, b []string) int {
	n := 0
	b = slices.Clone(b)
	for _, x := range a {
		if i := slices.Index(b, x); i >= 0 {
			n++
			b = slices.Delete(b, i, i+1)
		}
	}
	return n
}

// lineOf is what a held alternative serves, "" for a wire.
func lineOf(stages []language.HeldStage) string {
	for _, s := range stages {
		if s.Role == FilterStage.String() {
			return s.For
		}
	}
	if len(stages) > 0 {
		return stages[0].For
	}
	return ""
}

// kindOf is the first word of what a stage serves.
func kindOf(says string) string {
	kind, _, _ := strings.Cut(says, " ")
	return kind
}

// says is a filter's label in the spec's own words.
func (j Job) says(from string) string {
	if text, ok := j.Says[from]; ok {
		return text
	}
	return from[strings.LastIndexByte(from, ' ')+1:]
}

// ownSection is the section that a held stage was chosen for.
func ownSection(s *language.HeldStage) biquad.Analog {
	return biquad.Analog{W0: s.W0, B: s.B, A: s.A}
}

// order puts what is asked for into the order of the held places. What is new comes
// behind what it follows by the rules of inOrder.
func (k *keptChain) order(ws []want) {
	if k == nil {
		return
	}
	type at struct {
		w     want
		place int
		key   int // of the place that it stands at, or behind
		nth   int
	}
	all := make([]at, len(ws))
	key := -1
	for i, w := range ws {
		if k.place[i] >= 0 {
			key = k.place[i]
		}
		all[i] = at{w, k.place[i], key, i}
	}
	slices.SortStableFunc(all, func(a, b at) int {
		// A held place stands before what follows it.
		return cmp.Or(cmp.Compare(a.key, b.key), cmp.Compare(b.place, a.place), cmp.Compare(a.nth, b.nth))
	})
	for i, x := range all {
		ws[i], k.place[i] = x.w, x.place
	}
}

// input gives the input stage what it is held with.
func (k *keptChain) input(j Job, s *Stage) {
	if k == nil {
		return
	}
	k.stages(func(h *language.HeldStage) {
		if h.Role != InputStage.String() || h.Topology != s.Topology.Name {
			return
		}
		if values, ok := valuesOf(s.Topology, h); ok {
			s.Number, s.held = h.Number, h
			if !slices.ContainsFunc(values, func(v float64) bool { return j.lost(netlist.Resistor, v) }) {
				s.Values = values
			}
		}
	})
}

// of is the held place of want n, nil for none.
func (k *keptChain) of(n int) *language.HeldPlace {
	if k == nil || k.place[n] < 0 {
		return nil
	}
	return &k.held.Places[k.place[n]]
}

// stages calls f for every held stage: of a switched one for the first of its states.
func (k *keptChain) stages(f func(*language.HeldStage)) {
	for i := range k.held.Places {
		for n, a := range k.held.Places[i].Alternatives {
			if n > 0 && k.held.Places[i].Switched {
				break
			}
			for n := range a {
				f(&a[n])
			}
		}
	}
}

// lastNumber is the largest number of a stage in use, 0 for none: what is
// new is not mistaken for what is gone.
func (k *keptChain) lastNumber() int {
	if k == nil {
		return 0
	}
	last := 0
	k.stages(func(s *language.HeldStage) { last = max(last, s.Number) })
	return last
}

// blockNumber is the block that a held chain's references name, 0 for none.
func (k *keptChain) blockNumber() int {
	if k == nil {
		return 0
	}
	return k.held.Block
}

// ends gives the parts of a chain's ends the references that they are held with, and
// those that the board chose by itself their values.
func (k *keptChain) ends(c *Chain) {
	if k == nil {
		return
	}
	taken := make([]bool, len(k.held.Ends))
	for i := range c.Ends {
		p := &c.Ends[i]
		n := 0
		for n < len(taken) && (taken[n] || !c.heldAs(p, k.held.Ends[n])) {
			n++
		}
		if n == len(taken) {
			continue
		}
		taken[n] = true
		e := k.held.Ends[n].Part
		p.Ref = e.Ref
		switch p.Use {
		case SeriesResistance, RFFilter, Bias, Discharge, Bleed, Gate:
			p.Value = e.Value
		}
	}
}
