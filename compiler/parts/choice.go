package parts

import (
	"errors"
	"fmt"

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

// Bench is what a choice of values works with.
type Bench struct {
	Stock Stock
	Means circuit.Means
	Band  Band
}

// Choice is a stage with values in stock.
type Choice struct {
	Topology *circuit.Topology
	Section  biquad.Analog
	// Ideal and Values are in the order of Topology.Parts, unrounded and in
	// stock; 0 for a part that is not fitted. Ideal is the design that Values
	// round: with the capacitors of Values where the topology leaves those open
	// and has a solution for them, else the proposal.
	Ideal, Values []float64
	// Level is the wanted response of the stage divided by that of the section:
	// negative where it inverts, of magnitude 1 unless the topology's level is
	// fixed. Another stage makes up for it.
	Level float64
	// ErrorDB is the largest error in dB of the stage with ideal op-amps against
	// Level·Section, over the band: of the magnitude, or for all-passes
	// 8.686·|H/H0-1|.
	ErrorDB float64
	// Figures are measured with the real op-amp; Measured says whether they were.
	Figures
	Measured bool
	// Score is the sum of what speaks against the stage, in points; see score.go.
	Score float64
}

// Of lists the choices of one topology, in their order.
func Of(t *circuit.Topology, all []Choice) []Choice {
	var out []Choice
	for _, c := range all {
		if c.Topology == t {
			out = append(out, c)
		}
	}
	return out
}

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

// ready is the bench with Ohm as the low resistors where nothing else is given.
func (b *Bench) ready() *Bench {
	out := *b
	if len(out.Stock.ShuntOhm) == 0 {
		out.Stock.ShuntOhm = out.Stock.Ohm
	}
	return &out
}

// Textbook is the stage that is designed by hand: the capacitors are picked, the
// resistors computed (circuit.Topology.Propose), and every part is rounded to the
// nearest value in stock, in ratio. It fails where the topology does not apply,
// with the reason.
func (b *Bench) Textbook(t *circuit.Topology, section biquad.Analog) (Choice, error) {
	if err := b.check(); err != nil {
		return Choice{}, err
	}
	b = b.ready()
	p := t.Propose(section, b.Means)
	if !p.Applies {
		return Choice{}, fmt.Errorf("%s: %s", t.Name, p.Reason)
	}
	c := Choice{Topology: t, Section: section, Ideal: p.Values, Values: b.rounded(t.Parts(), p.Values), Level: p.Level}
	c.ErrorDB = newAim(section, c.Level, b.Band).error(t.Closed(c.Values), noLimit)
	err := b.measure([]Choice{c}, func(_ int, done Choice) { c = done })
	return c, err
}

// rounded is every part at its nearest value in stock.
func (b *Bench) rounded(elements []circuit.Element, v []float64) []float64 {
	out := make([]float64, len(v))
	for i, e := range elements {
		if v[i] != 0 {
			list := b.Stock.Of(e)
			out[i] = list[nearest(list, v[i])]
		}
	}
	return out
}
