package design

import (
	"math"
	"slices"

	"bandwright/biquad"
)

// Extremes are the least and the greatest level of a sum over the band (dB), and
// where (Hz; 0 where that is 0 dB). A null reads NullDB.
type Extremes struct{ LowDB, LowHz, HighDB, HighHz float64 }

// NullDB is the least level that is told apart: a null that is deeper than this
// hangs on rounding.
const NullDB = -120

// Worst is how far a sum departs from 0 dB (dB, ≥ 0), and where (Hz).
func (e Extremes) Worst() (db, hz float64) {
	if -e.LowDB > e.HighDB {
		return -e.LowDB, e.LowHz
	}
	return math.Max(0, e.HighDB), e.HighHz
}

// CrossoverSum is what the crossover filters of all ways alone sum to, in the
// chosen polarities.
type CrossoverSum struct {
	Compensation string // none, all-pass or exact
	Extremes
	Chosen bool // the spec's own phase-compensation
}

// PairSum is what the two sides of one crossover sum to, in the chosen
// polarities.
type PairSum struct {
	Lower, Upper string
	Extremes
}

// Turned is what the sums would be with some ways' polarities the other way
// round: those with which every pair sums as flat as it can.
type Turned struct {
	Ways  []string // whose polarity turns; none where all is as flat as it can be
	Pairs []PairSum
	All   Extremes // of all ways, with the spec's phase-compensation
}

// crossoverSums is what the crossover filters alone sum to: of all ways, without
// and with phase compensation where that exists, and of each pair.
func (r *resolved) crossoverSums(d *Design) {
	if len(r.crossovers) == 0 {
		return
	}
	modes := []string{compensateNone}
	if len(r.spec.Ways) > 2 && !slices.ContainsFunc(r.crossovers, func(x pair) bool { return r.unsummable(x) != "" }) {
		modes = append(modes, compensateAllPass, compensateExact)
	}
	signs := make([]float64, len(r.spec.Ways))
	for i, w := range r.spec.Ways {
		signs[i] = polarity(w)
	}
	for _, mode := range modes {
		d.Sums = append(d.Sums, CrossoverSum{Compensation: mode, Extremes: r.sumOf(signs, mode), Chosen: mode == r.spec.PhaseCompensation})
	}
	d.Pairs = r.pairSums(signs)
	better := r.flattest(signs)
	for i := range signs {
		if better[i] != signs[i] {
			d.Turned.Ways = append(d.Turned.Ways, r.spec.Ways[i].Name)
		}
	}
	if d.Turned.Ways != nil {
		d.Turned.Pairs, d.Turned.All = r.pairSums(better), r.sumOf(better, r.spec.PhaseCompensation)
	}
}

// chained reports whether a crossover joins each way to the next, so that the
// sum of all ways is one of crossovers alone.
func (r *resolved) chained() bool {
	for i := range len(r.spec.Ways) - 1 {
		if !slices.ContainsFunc(r.crossovers, func(x pair) bool { return x.Lower == i }) {
			return false
		}
	}
	return true
}

// sumOf are the extremes of all ways' crossover filters together.
func (r *resolved) sumOf(signs []float64, mode string) Extremes {
	ways := make([][]biquad.Analog, len(signs))
	for i := range ways {
		for _, x := range r.crossovers {
			switch i {
			case x.Lower:
				ways[i] = append(ways[i], x.low.ideal.Sections...)
			case x.Upper:
				ways[i] = append(ways[i], x.high.ideal.Sections...)
			default:
				ways[i] = append(ways[i], r.compensation(x, i, mode)...)
			}
		}
	}
	return r.extremes(ways, signs)
}

// pairSums are the extremes of each crossover's two sides.
func (r *resolved) pairSums(signs []float64) []PairSum {
	var out []PairSum
	for _, x := range r.crossovers {
		sides := [][]biquad.Analog{x.low.ideal.Sections, x.high.ideal.Sections}
		out = append(out, PairSum{r.spec.Ways[x.Lower].Name, r.spec.Ways[x.Upper].Name,
			r.extremes(sides, []float64{signs[x.Lower], signs[x.Upper]})})
	}
	return out
}

// flattest are the polarities with which every crossover's two sides sum as flat
// as they can, as near to the spec's as that allows.
func (r *resolved) flattest(signs []float64) []float64 {
	out := slices.Clone(signs)
	ordered := slices.Clone(r.crossovers)
	slices.SortFunc(ordered, func(a, b pair) int { return a.Lower - b.Lower })
	for _, x := range ordered {
		sides := [][]biquad.Analog{x.low.ideal.Sections, x.high.ideal.Sections}
		now := signs[x.Upper] * signs[x.Lower]
		same, _ := r.extremes(sides, []float64{1, now}).Worst()
		other, _ := r.extremes(sides, []float64{1, -now}).Worst()
		if other < same-flatterDB {
			now = -now
		}
		out[x.Upper] = now * out[x.Lower]
	}
	changed := 0
	for i := range out {
		if out[i] != signs[i] {
			changed++
		}
	}
	if 2*changed > len(out) { // the same relative polarities with fewer changes
		for i := range out {
			out[i] = -out[i]
		}
	}
	return out
}

const (
	// flatterDB is how much flatter a pair has to sum for a polarity to be turned:
	// less is no reason to change a loudspeaker's wiring.
	flatterDB = 0.5
	// sumsPerOctave is the density at which crossover sums are looked at: their
	// ripple is as wide as the crossovers, octaves.
	sumsPerOctave = 48
	// goldenSteps come to 1e-10 of a frequency.
	goldenSteps = 40
	// flatDB is what a level may differ by and still be the same but for rounding.
	flatDB = 1e-9
)

// extremes finds the least and greatest level (dB) of sections in series, times
// a sign each, summed: on a grid, then by golden sections around it.
func (r *resolved) extremes(ways [][]biquad.Analog, signs []float64) Extremes {
	level := func(f float64) float64 {
		var sum complex128
		for i, sections := range ways {
			sum += complex(signs[i], 0) * biquad.InSeries(sections, 2*math.Pi*f)
		}
		if db := biquad.DB(sum); math.Abs(db) > flatDB {
			return math.Max(NullDB, db)
		}
		return 0
	}
	hz := biquad.Octaves(r.lowHz, r.highHz, sumsPerOctave)
	db := make([]float64, len(hz))
	for i, f := range hz {
		db[i] = level(f)
	}
	e := Extremes{LowDB: math.Inf(1), HighDB: math.Inf(-1)}
	take := func(f, v float64) {
		if v < e.LowDB {
			e.LowDB, e.LowHz = v, f
		}
		if v > e.HighDB {
			e.HighDB, e.HighHz = v, f
		}
	}
	for i, f := range hz {
		take(f, db[i])
		if i == 0 || i == len(hz)-1 {
			continue
		}
		for _, side := range []float64{1, -1} { // a maximum, a minimum
			// What is flat has no extremes but rounding.
			if side*db[i] >= side*db[i-1] && side*db[i] >= side*db[i+1] && side*(2*db[i]-db[i-1]-db[i+1]) > flatDB {
				top := biquad.Summit(hz[i-1], hz[i+1], goldenSteps, func(f float64) float64 { return side * level(f) })
				take(top, level(top))
			}
		}
	}
	if e.LowDB == 0 {
		e.LowHz = 0
	}
	if e.HighDB == 0 {
		e.HighHz = 0
	}
	return e
}
