package production_test

import (
	"fmt"
	"math"
	"math/cmplx"
	"math/rand/v2"
	"slices"
	"testing"

	"bandwright/biquad"
	"bandwright/compiler"
	"bandwright/compiler/batch"
	"bandwright/compiler/netlist"
	"bandwright/compiler/nodal"
	"bandwright/compiler/production"
)

// passes reports whether a response, output over generator, is within the limits, as a
// bench that knows nothing else reads them.
func passes(p production.Point, h complex128) bool {
	turn := cmplx.Phase(h * cmplx.Rect(1, -p.Degrees*math.Pi/180))
	return biquad.DB(h) >= p.LowDB && biquad.DB(h) <= p.HighDB && math.Abs(turn) <= p.Within*math.Pi/180
}

// bench measures boards by nodal analysis of all parts with the real op-amp: none of what
// limits are made with.
type bench struct {
	*compiler.Build
	plan   *production.Plan
	parts  []batch.Part
	index  []int // of each part in a solver
	stage  []int // of each part in its chain
	groups []group
	trimDB float64
}

// group is tests of one combination, which one analysis measures.
type group struct {
	solver *nodal.Solver
	outs   []netlist.Node
	tests  []int
}

func newBench(t testing.TB, b *compiler.Build, p *production.Plan) *bench {
	t.Helper()
	sim, err := batch.NewSimulator(b.BoardSubject(), b.Board, []float64{1000})
	if err != nil {
		t.Fatal(err)
	}
	x := &bench{Build: b, plan: p, parts: sim.Parts, trimDB: b.Spec.Board.TrimDB}
	stage := map[string]int{}
	for _, c := range b.Board.Chains() {
		for i, st := range c.Built() {
			for _, part := range st.Placed() {
				stage[part.Ref] = i
			}
		}
	}
	for _, part := range sim.Parts {
		x.index, x.stage = append(x.index, b.Board.PartIndex(part.Ref)), append(x.stage, stage[part.Ref])
	}
	at := map[string]int{}
	for i, test := range p.Tests {
		g, seen := at[string(test.C)]
		if !seen {
			g = len(x.groups)
			at[string(test.C)] = g
			s, outs := b.Board.Solver(test.C)
			x.groups = append(x.groups, group{solver: s, outs: outs})
		}
		x.groups[g].tests = append(x.groups[g].tests, i)
	}
	return x
}

// drawn is a board within the tolerances, from a seed of the test's own.
func (x *bench) drawn(r *rand.Rand) []float64 {
	d := make([]float64, len(x.parts))
	for i, p := range x.parts {
		d[i] = 1 + p.Tolerance*(2*r.Float64()-1)
	}
	return d
}

// set gives all parts so many times their nominal values.
func (x *bench) set(t testing.TB, g group, factors []float64) {
	t.Helper()
	for i, p := range x.parts {
		if err := g.solver.Set(x.index[i], p.Value*factors[i]); err != nil {
			t.Fatal(err)
		}
	}
}

// passes says whether a board with so many times the nominal values is within all limits
// of level and phase, or of the tests of one way.
func (x *bench) passes(t testing.TB, factors []float64) bool {
	t.Helper()
	for _, g := range x.groups {
		x.set(t, g, factors)
		for _, k := range g.tests {
			test := x.plan.Tests[k]
			for _, q := range test.Points {
				if err := g.solver.At(q.Hz); err != nil {
					t.Fatal(err)
				}
				if !passes(q, g.solver.Voltage(g.outs[test.Way])) {
					return false
				}
			}
		}
	}
	return true
}

// faulty are factors with which a fault comes on top of those of a board; one that must be
// found always where it matters, or in most boards: what is off, or far apart.
type faulty struct {
	what    string
	parts   [2]int // the second -1 for one part
	factors [2]float64
	must    bool
	far     bool // exchanged with a part that is no neighbour, which the plan does not look for
}

// on is a board with the fault.
func (f faulty) on(factors []float64) []float64 {
	out := slices.Clone(factors)
	for i, p := range f.parts {
		if p >= 0 {
			out[p] *= f.factors[i]
		}
	}
	return out
}

// faults lists what may be wrong: every part 20 % off, missing (a resistor of a millionfold
// value, a capacitor of a millionth) or shorted, and every two parts of one kind of one
// chain exchanged: neighbours, in one stage or the next, and those far apart.
func (x *bench) faults() []faulty {
	var out []faulty
	for i, p := range x.parts {
		for _, factor := range []float64{1.2, 0.8} {
			out = append(out, faulty{what: fmt.Sprintf("%s x %g", p.Ref, factor), parts: [2]int{i, -1}, factors: [2]float64{factor, 1}})
		}
		for _, factor := range []float64{1e6, 1e-6} {
			out = append(out, faulty{what: fmt.Sprintf("%s x %g", p.Ref, factor), parts: [2]int{i, -1}, factors: [2]float64{factor, 1}, must: true})
		}
		for k, q := range x.parts[:i] {
			if p.Kind == q.Kind && p.Value != q.Value && p.Chain == q.Chain {
				near := max(x.stage[i]-x.stage[k], x.stage[k]-x.stage[i]) <= 1
				out = append(out, faulty{what: p.Ref + " and " + q.Ref, parts: [2]int{i, k}, factors: [2]float64{q.Value / p.Value, p.Value / q.Value}, must: near, far: !near})
			}
		}
	}
	return out
}

// band is, by test and frequency, how wide limits are anywhere, not only where boards are
// tested: by the plan's standard deviations of what nodal sensitivities add up to, and
// no wider than all parts at their ends go.
type band struct {
	hz      []float64
	nominal [][]float64
	width   [][]float64
}

func (x *bench) band(t testing.TB) band {
	t.Helper()
	var w band
	for f := x.Promises.LowHz; f <= x.Promises.HighHz; f *= math.Exp2(1.0 / 12) {
		w.hz = append(w.hz, f)
	}
	for range x.plan.Tests {
		w.nominal, w.width = append(w.nominal, make([]float64, len(w.hz))), append(w.width, make([]float64, len(w.hz)))
	}
	all := make([]complex128, x.Board.PartCount())
	for _, g := range x.groups {
		x.set(t, g, slices.Repeat([]float64{1}, len(x.parts)))
		for i, f := range w.hz {
			if err := g.solver.At(f); err != nil {
				t.Fatal(err)
			}
			for _, k := range g.tests {
				out := g.outs[x.plan.Tests[k].Way]
				if err := g.solver.Sensitivities(all, out); err != nil {
					t.Fatal(err)
				}
				variance, reach := 0.0, 0.0
				for n, p := range x.parts {
					db := 20 / math.Ln10 * real(all[x.index[n]]) * p.Tolerance
					variance, reach = variance+db*db/3, reach+math.Abs(db)
				}
				w.nominal[k][i] = biquad.DB(g.solver.Voltage(out))
				w.width[k][i] = 2*math.Min(x.plan.Sigmas*math.Sqrt(variance), 1.125*reach) + 0.04
			}
		}
	}
	// What lies 40 dB below a way's peak is not measured.
	for k, all := range w.nominal {
		for i, db := range all {
			if db < slices.Max(all)-40 {
				w.width[k][i] = math.Inf(1)
			}
		}
	}
	return w
}

// moves says whether a fault moves the level of any way by more than the width of the
// limits there, at any frequency of a band.
func (x *bench) moves(t testing.TB, w band, f faulty) bool {
	t.Helper()
	factors := f.on(slices.Repeat([]float64{1}, len(x.parts)))
	for _, g := range x.groups {
		x.set(t, g, factors)
		for i, hz := range w.hz {
			if err := g.solver.At(hz); err != nil {
				t.Fatal(err)
			}
			for _, k := range g.tests {
				if math.Abs(biquad.DB(g.solver.Voltage(g.outs[x.plan.Tests[k].Way]))-w.nominal[k][i]) > w.width[k][i] {
					return true
				}
			}
		}
	}
	return false
}

// caught is what became of boards with faults.
type caught struct{ faults, boards, found int }

// proof has good boards and boards with one fault each measured.
type proof struct {
	good, passed   int
	off, must, far caught
	least, harmful float64 // the least share found of one fault that is 20 % off
}

func (x *bench) prove(t testing.TB, good, each int) proof {
	t.Helper()
	r := rand.New(rand.NewPCG(20, 7))
	p := proof{good: good, least: 1}
	for range good {
		if x.passes(t, x.drawn(r)) {
			p.passed++
		}
	}
	w := x.band(t)
	all, off := 0, 0
	for _, f := range x.faults() {
		matters := x.moves(t, w, f)
		isOff := !f.must && !f.far
		if isOff {
			all++
		}
		if !matters {
			continue
		}
		c := &p.must
		switch {
		case isOff:
			c = &p.off
			off++
		case f.far:
			c = &p.far
		}
		c.faults++
		found := 0
		for range each {
			if !x.passes(t, f.on(x.drawn(r))) {
				found++
			}
		}
		c.boards, c.found = c.boards+each, c.found+found
		if isOff {
			p.least = math.Min(p.least, float64(found)/float64(each))
		} else if f.must && found < each {
			t.Errorf("%s: %d of %d boards found", f.what, found, each)
		}
	}
	p.harmful = float64(off) / float64(all)
	return p
}
