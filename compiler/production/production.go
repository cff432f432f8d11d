// Package production tells how finished boards of a batch are tested: a board and
// the prototype come in; what to measure at each output in which settings, and what
// good boards measure there, what to expect of each stage when the first board is
// brought up, and which parts to measure before they are fitted, come out.
//
// Limits hold for boards as delivered, at the temperature that values are given at,
// with the parts of the board alone: no loudspeaker is connected. What is told is
// what lies between the generator, behind the source's resistance, and the output
// with its load: a bench measures the same. The uncertainty of instruments is not in
// the limits.
//
// The one invariant: nothing is drawn or chosen but from fixed seeds in a fixed
// order, so that the same board has the same limits.
//
// Read first: Of, Plan, Stages, Inspect.
package production

import (
	"math"
	"slices"

	"bandwright/biquad"
	"bandwright/compiler/batch"
	"bandwright/compiler/board"
	"bandwright/compiler/verify"
)

// Plan is the test of every finished board.
type Plan struct {
	// Tests are by way, each way's default combination first.
	Tests []Test
	// Sigmas is how many standard deviations from the mean the limits lie at least, where
	// parts at the ends of their tolerances go that far.
	Sigmas float64
	// TrimDB is, for a board with level trimmers, how far each way's is turned at most by
	// all but a thousandth of all boards.
	TrimDB []float64
}

// Test is what is measured at one output in one combination of settings.
type Test struct {
	Way    int
	C      verify.Combination
	Points []Point
	// OffsetV is the largest DC voltage of a good board, of either sign, and NoiseV the most
	// noise (V RMS, 20 Hz to 20 kHz), both with the input at rest.
	OffsetV, NoiseV float64
}

// Point is a frequency with what good boards measure there: output over input.
type Point struct {
	Hz                       float64
	LowDB, NominalDB, HighDB float64
	// Degrees is the phase of the nominal board, from -180 to 180, and Within how far off
	// a good board is at most; an inverted output is 180 degrees off.
	Degrees, Within float64
}

// Of plans the test of a board, which a subject is the prototype of, with parts as they
// are bought (nil where all come in one class) and frequencies from lowHz to highHz. It
// fails where the board's equations have no solution.
func Of(subject *verify.Subject, b *board.Board, bought *batch.Purchase, lowHz, highHz float64) (*Plan, error) {
	simulator := func(hz []float64) (*batch.Simulator, error) {
		sim, err := batch.NewSimulator(subject, b, hz)
		if err != nil || bought == nil {
			return sim, err
		}
		for i := range sim.Parts {
			if x, ok := bought.Of(sim.Parts[i].Ref); ok {
				sim.Parts[i].Tolerance = x.Class().Tolerance
			}
		}
		return sim, nil
	}
	sim, err := simulator(benchFrequencies(lowHz, highHz))
	if err != nil {
		return nil, err
	}
	s := newSurvey(subject, b, sim)
	s.choose()
	var all []float64
	for _, x := range s.tests {
		for _, i := range x.chosen {
			all = append(all, s.sim.Hz[i])
		}
	}
	slices.Sort(all)
	if sim, err = simulator(slices.Compact(all)); err != nil {
		return nil, err
	}
	p := measure(b, s, sim).plan(b)
	p.voltages(b)
	return p, nil
}

// survey is what every part does to every test at all frequencies that may be chosen.
type survey struct {
	sim    *batch.Simulator
	board  *board.Board
	tests  []*tested
	faults []fault
}

// tested is a test on its way.
type tested struct {
	way, variant int
	c            verify.Combination
	nominal      []complex128
	levels       []float64   // of nominal (dB)
	usable       []bool      // by frequency: high enough above the noise to be measured
	sigma        []float64   // standard deviation of the level (dB), to the first order
	bound        []float64   // what all parts at the worst ends of their tolerances add up to (dB)
	telling      [][]float64 // by fault and frequency: the change of level over half the limits' width
	chosen       []int       // frequencies by index, ascending
}

const (
	// assumedSigmas is where limits are expected when frequencies are chosen: a bit wider
	// than they turn out.
	assumedSigmas = 4.0
	// downToDB is how far below its peak a way is measured: lower, hum and noise of a bench
	// come into it.
	downToDB = -40.0
)

// newSurvey looks at a board.
func newSurvey(subject *verify.Subject, b *board.Board, sim *batch.Simulator) *survey {
	s := &survey{sim: sim, board: b, tests: combinations(subject, b, sim)}
	for _, x := range s.tests {
		peak := math.Inf(-1)
		for _, h := range x.nominal {
			x.levels = append(x.levels, biquad.DB(h))
			peak = math.Max(peak, biquad.DB(h))
		}
		for _, db := range x.levels {
			x.usable = append(x.usable, db >= peak+downToDB)
		}
	}
	s.spreads(b.Spec.Normal)
	s.faults = s.listFaults()
	s.tell()
	return s
}

// spreads finds how far good boards spread, from what each part does by itself.
func (s *survey) spreads(normal bool) {
	share := 1.0 / 3 // variance of a uniform distribution over the square of the half width
	if normal {
		share = 1.0 / 9
	}
	for _, x := range s.tests {
		x.sigma, x.bound = make([]float64, len(s.sim.Hz)), make([]float64, len(s.sim.Hz))
	}
	u, d := s.sim.Unit(), make([]float64, len(s.sim.Parts))
	up := make([][]float64, len(s.tests))
	for k := range up {
		up[k] = make([]float64, len(s.sim.Hz))
	}
	touched := s.sim.Touched()
	for p, part := range s.sim.Parts {
		d[p] = part.Tolerance
		u.SetWays(d, touched[p])
		for k, x := range s.tests {
			if touched[p][x.way] {
				x.changes(up[k], u)
			}
		}
		d[p] = -part.Tolerance
		u.SetWays(d, touched[p])
		for k, x := range s.tests {
			if !touched[p][x.way] {
				continue
			}
			for i, h := range u.Way(x.way, x.variant) {
				more, less := up[k][i], biquad.DB(h)-x.levels[i]
				x.sigma[i] += share * (more - less) * (more - less) / 4
				x.bound[i] += math.Max(math.Abs(more), math.Abs(less))
			}
		}
		d[p] = 0
	}
	for _, x := range s.tests {
		for i := range x.sigma {
			x.sigma[i] = math.Sqrt(x.sigma[i])
		}
	}
}

// changes puts how far a unit's level is from the nominal one (dB).
func (x *tested) changes(dst []float64, u *batch.Unit) {
	for i, h := range u.Way(x.way, x.variant) {
		dst[i] = biquad.DB(h) - x.levels[i]
	}
}

// halfDB is half of the limits' width at a frequency, as it is expected.
func (x *tested) halfDB(i int) float64 {
	return math.Min(assumedSigmas*x.sigma[i], reachOf(x.bound[i])) + methodDB
}

// benchFrequencies are those of series R40 of ISO 3 from lowHz to highHz, as generators
// and sheets of paper have them.
func benchFrequencies(lowHz, highHz float64) []float64 {
	series := [...]float64{100, 106, 112, 118, 125, 132, 140, 150, 160, 170, 180, 190, 200, 212, 224, 236, 250, 265, 280, 300,
		315, 335, 355, 375, 400, 425, 450, 475, 500, 530, 560, 600, 630, 670, 710, 750, 800, 850, 900, 950}
	var out []float64
	for hundredths := range 9 { // from 0.01 Hz to 10 MHz
		for _, v := range series {
			hz := v
			for range hundredths {
				hz *= 10
			}
			if hz /= 1e4; hz >= lowHz && hz <= highHz {
				out = append(out, hz)
			}
		}
	}
	if len(out) == 0 {
		out = []float64{math.Sqrt(lowHz * highHz)}
	}
	return out
}
