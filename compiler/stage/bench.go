// Package stage chooses the resistors and capacitors of one op-amp stage. A
// section and a stock come in, stages with values in stock go out, scored, the
// best first (Bench.Candidates). Bench.Textbook does what is done by hand, for
// comparison. Which candidate each stage of a board takes is chosen elsewhere:
// Realised has what that needs to know of them.
//
// The one invariant: every value of a Candidate is an element of the stock, and
// the same input gives the same candidates on every machine: no clock, scores
// compared rounded, ties by order.
//
// Read first: Bench, Candidate.
package stage

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"sync"

	"bandwright/biquad"
	"bandwright/compiler/circuit"
)

// Band is the range of frequencies in which a stage's error counts.
type Band struct {
	FromHz, ToHz float64
	// DownDB (dB, ≥ 0) is how far below its peak a response still counts; 0 for
	// all of it, but a notch counts to 30 dB below its peak in any case.
	DownDB float64
}

// Bench is what stages are made from. It answers each question once, and may be
// used by several goroutines.
type Bench struct {
	Stock Stock
	Means circuit.Means
	Band  Band

	known *sync.Map // of question, func() answer
}

// New is a bench, with the resistors as the low ones where the stock has no
// others.
func New(stock Stock, means circuit.Means, band Band) *Bench {
	if len(stock.ShuntOhm) == 0 {
		stock.ShuntOhm = stock.Ohm
	}
	return &Bench{Stock: stock, Means: means, Band: band, known: &sync.Map{}}
}

// With is the bench with another stock.
func (b *Bench) With(s Stock) *Bench { return New(s, b.Means, b.Band) }

// check says what is missing of a bench.
func (b *Bench) check() error {
	switch {
	case len(b.Stock.Ohm) == 0:
		return errors.New("the stock has no resistor")
	case len(b.Stock.Farad) == 0:
		return errors.New("the stock has no capacitor")
	case !(b.Band.FromHz > 0) || !(b.Band.ToHz > b.Band.FromHz):
		return fmt.Errorf("no band of frequencies: from %g Hz to %g Hz", b.Band.FromHz, b.Band.ToHz)
	}
	return nil
}

// question is what a bench is asked: for n stages of a topology, measured ones with some
// to spare, or those with the smallest errors.
type question struct {
	section  biquad.Analog
	topology *circuit.Topology
	n        int
	measured bool
	flat     bool // those of which an element can be opened
}

// answer is a list of stages, or why there are none.
type answer struct {
	list   []Candidate
	reason string
	err    error
}

// ask is f's answer, which is worked out once.
func (b *Bench) ask(q question, f func() answer) answer {
	once, _ := b.known.LoadOrStore(q, sync.OnceValue(f))
	return once.(func() answer)()
}

// Textbook is the stage that is designed by hand: the capacitors are picked, the
// resistors computed (circuit.Topology.Propose), and every part is rounded to the
// nearest value in stock, in ratio. It fails where the topology does not apply,
// with the reason.
func (b *Bench) Textbook(t *circuit.Topology, section biquad.Analog) (Candidate, error) {
	if err := b.check(); err != nil {
		return Candidate{}, err
	}
	p := t.Propose(section, b.Means)
	if !p.Applies {
		return Candidate{}, fmt.Errorf("%s: %s", t.Name, p.Reason)
	}
	c := Candidate{Topology: t, Section: section, Values: make([]float64, len(p.Values)), Level: p.Level}
	for i, e := range t.Parts() {
		if p.Values[i] != 0 {
			list := b.Stock.Of(e)
			c.Values[i] = list[nearest(list, p.Values[i])]
		}
	}
	c.ErrorDB = newWanted(section, c.Level, b.Band).error(t.Closed(c.Values), noLimit)
	list := []Candidate{c}
	err := b.Measure(list)
	return list[0], err
}

// Refusal says why a topology is no choice for a section.
type Refusal struct {
	Topology *circuit.Topology
	Reason   string
}

const (
	// spare is how many more sets of values are measured with the real op-amp than
	// are asked for: the quietest and the most exact are rarely the same.
	spare = 8
	// hopelessDB (dB) is the error with the real op-amp above which a stage is no
	// choice; circuit.Topology.Propose draws the line there too.
	hopelessDB = 1.0
	// strainDB (dB) is how much error a point of strain weighs as much as, among the sets of
	// values that are measured: errors of several stages can be made to cancel, capacitors
	// and noise can not.
	strainDB = 0.01
)

// Candidates lists stages for a section, best score first: at most n of each of
// the topologies, or of every one in the table where topologies is nil, and why
// the others are none. Balanced topologies are never choices. Stages of the same
// topology and error appear at most twice.
//
// The unity-gain Sallen-Key and the multiple-feedback low-passes and high-passes
// are searched exactly: the n returned are among the n+8 with the smallest
// ErrorDB that exist in the stock, and the smallest is among those measured. Other
// topologies are searched on the lattice around their designs.
//
// What stands behind the stages weighs their noise and their DC.
func (b *Bench) Candidates(section biquad.Analog, topologies []*circuit.Topology, n int, behind Behind) ([]Candidate, []Refusal, error) {
	if err := b.check(); err != nil {
		return nil, nil, err
	}
	if topologies == nil {
		topologies = circuit.Topologies
	}
	var out []Candidate
	var no []Refusal
	gains := behind.over(noiseHz(section))
	for _, t := range topologies {
		a := b.ask(question{section, t, n, true, false}, func() answer { return b.measured(t, section, n) })
		switch {
		case a.err != nil:
			return nil, nil, fmt.Errorf("%s: %w", t.Name, a.err)
		case a.reason != "":
			no = append(no, Refusal{t, a.reason})
		}
		list := slices.Clone(a.list)
		for i := range list {
			list[i].weigh(gains)
		}
		slices.SortStableFunc(list, byScore)
		out = append(out, copies(list[:min(n, len(list))])...)
	}
	slices.SortStableFunc(out, byScore)
	return out, no, nil
}

func byScore(x, y Candidate) int { return cmp.Compare(x.Score, y.Score) }

// measured are the stages of a topology among which the n best are.
func (b *Bench) measured(t *circuit.Topology, section biquad.Analog, n int) answer {
	found, reason := b.pool(t, section, n+spare, perError, strainDB)
	if reason != "" {
		return answer{reason: reason}
	}
	if err := b.Measure(found); err != nil {
		return answer{err: err}
	}
	least := found[0].RealDB
	for _, c := range found {
		least = min(least, c.RealDB)
	}
	if least > hopelessDB {
		return answer{reason: fmt.Sprintf("the nearest values in stock leave an error of %.2g dB with this op-amp, more than %g dB", least, hopelessDB)}
	}
	return answer{list: found}
}

// MostExact lists the n sets of values of a topology with the smallest errors, not
// measured: for choices in which values matter by themselves.
func (b *Bench) MostExact(t *circuit.Topology, section biquad.Analog, n int) []Candidate {
	return copies(b.ask(question{section, t, n, false, false}, func() answer {
		list, reason := b.pool(t, section, n, perErrorOfValues, 0)
		return answer{list: list, reason: reason}
	}).list)
}

// copies have values of their own. Two stages of one section get one answer, and
// Realised knows a candidate by where its values are: were they shared, the last
// digits of an error would hang on which of the two stages was looked at first, as a
// solver keeps the order of elimination that suits the first values it is given.
func copies(list []Candidate) []Candidate {
	out := slices.Clone(list)
	for i := range out {
		out[i].Values = slices.Clone(out[i].Values)
	}
	return out
}

// pool is that of all sets of values.
func (b *Bench) pool(t *circuit.Topology, section biquad.Analog, n, same int, perPoint float64) ([]Candidate, string) {
	return b.poolOf(t, section, n, same, perPoint, nil)
}

// poolOf finds the n sets of values of a topology with the smallest error, where a point of
// strain counts as much as perPoint (dB) of that, at most same of one error, that takes, where
// not nil, takes; not measured. Or it says why there are none.
func (b *Bench) poolOf(t *circuit.Topology, section biquad.Analog, n, same int, perPoint float64, takes func(v []float64) bool) ([]Candidate, string) {
	if t.Balanced {
		return nil, "it takes a balanced signal"
	}
	p := t.Propose(section, b.Means)
	if p.Values == nil || !p.Applies && p.GBWErrorDB > hopelessDB {
		return nil, p.Reason
	}
	found := &pool{elements: t.Parts(), most: n, same: same, perPoint: perPoint, noisy: noisy(p.Asked), takes: takes}
	return b.filled(p, section, newWanted(section, p.Level, b.Band), found)
}

// filled is a pool with the best of the values of a proposal's topology for a section, which ideal op-amps are to
// make w; or why there are none.
func (b *Bench) filled(p circuit.Proposal, section biquad.Analog, w *wanted, found *pool) ([]Candidate, string) {
	t := p.Topology
	if !exactly(t, &b.Stock, w, found) {
		found.list = nil
		newLattice(t, p.Asked, b, w, found).search()
	}
	if len(found.list) == 0 {
		if p.Applies {
			return nil, "no stock values come close"
		}
		return nil, p.Reason
	}
	out := make([]Candidate, len(found.list))
	for i, e := range found.list {
		out[i] = Candidate{Topology: t, Section: section, Values: e.values, Level: p.Level, ErrorDB: e.db}
	}
	return out, ""
}
