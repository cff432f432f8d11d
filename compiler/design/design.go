// Package design says what a spec means: every filter in theory, and the
// prototype system that they make, with phase compensation. A Spec goes in, a
// Design comes out, or faults where a line has no meaning. The one invariant:
// nothing here knows how the prototype will be built; only the checks look at
// the sampling rates, for corners that lie above them.
//
// Read first: Design, New; then filters.go and positions.go.
package design

import (
	"math"

	"bandwright/biquad"
	"bandwright/compiler/acoustic"
	"bandwright/compiler/language"
	"bandwright/compiler/prototype"
)

// Design is the meaning of a spec.
type Design struct {
	// Prototype is the ideal that every realisation is judged by.
	Prototype biquad.System[biquad.Analog]
	// Sums say what the crossovers of all ways alone sum to, without phase
	// compensation and with each kind of it where that exists, Pairs what the two
	// sides of each sum to; none without crossovers.
	Sums  []CrossoverSum
	Pairs []PairSum
	// Chained: a crossover joins each way to the next.
	Chained bool
	// Drivers are those of each way that the spec has parameters of, nil elsewhere.
	Drivers []*acoustic.Mounted
	Turned  Turned
}

// New finds out what a spec means. lowHz and highHz are the band that promises
// hold in (Hz). The Design is nil where a fault is an Error.
func New(s *language.Spec, lowHz, highHz float64) (*Design, []language.Fault) {
	drivers, faults := acoustic.Modelled(s)
	if len(faults) > 0 {
		return nil, faults
	}
	x, faults := resolve(s, drivers)
	if len(faults) > 0 {
		return nil, faults
	}
	x.lowHz, x.highHz = lowHz, highHz
	d := &Design{Prototype: x.prototype(), Drivers: drivers}
	if faults := x.compensate(&d.Prototype); len(faults) > 0 {
		return nil, faults
	}
	x.crossoverSums(d)
	d.Chained = x.chained()
	faults = x.checks()
	for _, f := range faults {
		if f.Severity == language.Error {
			return nil, faults
		}
	}
	return d, faults
}

// resolved is a spec with what each of its filters is in theory.
type resolved struct {
	spec          *language.Spec
	lowHz, highHz float64
	common        []line
	ways          [][]line // each way's own filters, then its share of the crossovers
	crossovers    []pair
}

// line is one filter of the spec with what it is in theory.
type line struct {
	language.Filter
	ideal prototype.Ideal
}

// pair is a crossover's two sides.
type pair struct {
	language.Crossover
	low, high line
}

// hertz turns rad/s into Hz.
func hertz(w float64) float64 { return w / (2 * math.Pi) }
