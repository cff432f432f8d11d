package parts

import (
	"math"
	"slices"
	"sync"

	"bandwright/biquad"
	"bandwright/compiler/circuit"
	"bandwright/compiler/netlist"
)

// isCapacitor says which kind a resistor or capacitor is.
func isCapacitor(e circuit.Element) bool { return e.Kind == netlist.Capacitor }

// Each is the plan that takes the choice with the smallest error for each stage
// on its own, for comparison.
func (b *Bench) Each(p Problem) (Plan, error) {
	a, stages, err := b.prepared(p)
	if err != nil {
		return Plan{}, err
	}
	return a.plan(stages), nil
}

// Joint chooses the values of all stages together: pairs of stages are changed
// until no pair of choices makes the sum of the worst errors of all ways and of
// all pairs' sums smaller (with a small share of what else speaks against a
// choice). The responses are those of the real op-amp.
func (b *Bench) Joint(p Problem) (Plan, error) {
	a, stages, err := b.prepared(p)
	if err != nil {
		return Plan{}, err
	}
	a.idle = p.Idle
	a.search()
	return a.plan(stages), nil
}

// prepared tabulates a problem's candidates with the real op-amp and starts from
// the smallest error of each.
func (b *Bench) prepared(p Problem) (*arrangement, []Stage, error) {
	if err := p.check(); err != nil {
		return nil, nil, err
	}
	stages := make([]Stage, len(p.Stages))
	pick, lists := make([]int, len(p.Stages)), make([][]int, len(p.Stages))
	for i, s := range p.Stages {
		stages[i] = s.usable()
		for k, c := range stages[i].Candidates {
			lists[i] = append(lists[i], k)
			if errorOf(c) < errorOf(stages[i].Candidates[pick[i]])-scoreStep {
				pick[i] = k
			}
		}
	}
	board, err := p.tabulate(func(i int, hz []float64) (table, error) {
		return b.realTable(stages[i].Candidates, hz, p.Known)
	})
	if err != nil {
		return nil, nil, err
	}
	return board.arrange(pick, lists), stages, nil
}

// usable are the candidates that count.
func (s Stage) usable() Stage {
	var out []Choice
	for _, c := range s.Candidates {
		if len(out) < MostCandidates && sameLevel(c.Level, s.Candidates[0].Level) {
			out = append(out, c)
		}
	}
	return Stage{out}
}

func sameLevel(x, y float64) bool {
	x, y = math.Abs(x), math.Abs(y)
	return math.Abs(x-y) <= 1e-9*math.Max(x, y)
}

func errorOf(c Choice) float64 {
	if c.Measured {
		return c.RealDB
	}
	return c.ErrorDB
}

// Known holds responses with the real op-amp; the zero value is ready. It may be
// used by several goroutines.
type Known struct{ rows sync.Map } // of known, *[2][]float64

// known identifies a choice: its values by where they are, as they never change.
type known struct {
	values  *float64
	section biquad.Analog
	level   float64
}

// realTable is the table of choices with the real op-amp.
func (b *Bench) realTable(all []Choice, hz []float64, memory *Known) (table, error) {
	t := table{points: make([]float64, len(all)), db: make([][]float64, len(all)), rad: make([][]float64, len(all))}
	lowest := slices.Min(hz)
	var r *rig
	for i, c := range all {
		if c.Measured {
			t.points[i] = c.Score - pointsPerDB*c.RealDB
		}
		key := known{nil, c.Section, c.Level}
		if memory != nil && len(c.Values) > 0 {
			key.values = &c.Values[0]
			if rows, ok := memory.rows.Load(key); ok {
				rows := rows.(*[2][]float64)
				t.db[i], t.rad[i] = rows[0], rows[1]
				continue
			}
		}
		if r == nil || r.t != c.Topology {
			r = newRig(c.Topology, b.Means.OpAmp, lowest)
		}
		if err := r.set(c.Values); err != nil {
			return t, err
		}
		t.db[i], t.rad[i] = make([]float64, len(hz)), make([]float64, len(hz))
		for k, f := range hz {
			h, _, err := r.at(f)
			if err != nil {
				return t, err
			}
			t.put(i, k, h, c, f)
		}
		if key.values != nil {
			memory.rows.Store(key, &[2][]float64{t.db[i], t.rad[i]})
		}
	}
	return t, nil
}

func newTable(choices, frequencies int) table {
	t := table{points: make([]float64, choices)}
	for range choices {
		t.db, t.rad = append(t.db, make([]float64, frequencies)), append(t.rad, make([]float64, frequencies))
	}
	return t
}

// put enters a response.
func (t *table) put(i, k int, h complex128, c Choice, hz float64) {
	want := complex(c.Level, 0) * c.Section.At(2*math.Pi*hz)
	if want != 0 && h != 0 {
		t.db[i][k], t.rad[i][k] = logarithm(h / want)
	}
}

// plan is the arrangement as a plan.
func (a *arrangement) plan(stages []Stage) Plan {
	p := Plan{PathDB: make([]float64, len(a.b.paths)), SumDB: make([]float64, len(a.b.sums))}
	for s, i := range a.pick {
		p.Choices = append(p.Choices, stages[s].Candidates[i])
	}
	for n := range a.b.paths {
		p.PathDB[n] = a.pathError(n, a.db[n], a.rad[n], noLimit)
	}
	for n := range a.b.sums {
		p.SumDB[n] = a.exactSum(n)
	}
	return p
}
