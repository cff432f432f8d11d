package values

import (
	"errors"
	"fmt"
	"math"
	"math/cmplx"
	"runtime"
	"slices"
	"strings"
	"sync"
	"testing"

	"bandwright/biquad"
	"bandwright/compiler/assign"
	"bandwright/compiler/circuit"
	"bandwright/compiler/netlist"
	"bandwright/compiler/nodal"
	"bandwright/compiler/stage"
	"bandwright/compiler/stage/stagetest"
)

// fourWayRecord is what the four-way comes to, in dB, and how many distinct
// resistors and capacitors: worse fails, better has to be recorded.
var fourWayRecord = []struct {
	name                  string
	ways                  []float64
	sums                  []float64
	resistors, capacitors int
}{
	{"textbook", []float64{1.2863, 0.5895, 1.2041, 0.5905}, []float64{1.2838, 0.7814, 1.2068}, 19, 14},
	{"each stage's best", []float64{0.0825, 0.1426, 0.0759, 0.0360}, []float64{0.1427, 0.0758, 0.0589}, 28, 12},
	{"joint", []float64{0.0253, 0.0113, 0.0187, 0.0103}, []float64{0.0216, 0.0182, 0.0187}, 30, 17},
	{"few values, 0.1 dB", []float64{0.0853, 0.0612, 0.0655, 0.0874}, []float64{0.0853, 0.0658, 0.0855}, 13, 9},
	{"few values, 0.2 dB", []float64{0.1354, 0.1668, 0.1440, 0.1017}, []float64{0.1575, 0.1687, 0.1231}, 11, 6},
}

// fourWayPlans are the plans of fourWayRecord, made once.
var fourWayPlans = sync.OnceValue(func() (out struct {
	problem Problem
	plans   []Plan
	err     error
}) {
	b := boardBench()
	p, hand := fourWay(panicking{}, b)
	out.problem = p
	keep := func(x Plan, err error) Plan {
		out.plans = append(out.plans, x)
		out.err = errors.Join(out.err, err)
		return x
	}
	keep(Each(alone(p, hand)))
	keep(Each(p))
	joint := keep(Joint(p))
	for _, limit := range []float64{0.1, 0.2} {
		x, kept, err := Few(p, joint, both(limit))
		if err == nil && !kept {
			err = errors.New("the joint choice keeps no limit")
		}
		keep(x, err)
	}
	return out
})

// panicking is a test's face outside of a test.
type panicking struct{ testing.TB }

func (panicking) Helper()           {}
func (panicking) Fatal(args ...any) { panic(fmt.Sprint(args...)) }

func TestFourWayRecord(t *testing.T) {
	all := fourWayPlans()
	if all.err != nil {
		t.Fatal(all.err)
	}
	b := boardBench()
	for i, want := range fourWayRecord {
		got := all.plans[i]
		r, c := got.Distinct()
		if !near(got.PathDB, want.ways) || !near(got.SumDB, want.sums) || r != want.resistors || c != want.capacitors {
			t.Errorf("%s: ways %.4f, sums %.4f, %d resistors, %d capacitors; on record: %.4f, %.4f, %d, %d",
				want.name, got.PathDB, got.SumDB, r, c, want.ways, want.sums, want.resistors, want.capacitors)
		}
		for _, x := range got.Candidates {
			for k, e := range x.Topology.Parts() {
				if !b.Stock.Has(e, x.Values[k]) {
					t.Errorf("%s: %s = %g is not in stock", x.Topology.Name, e.Ref, x.Values[k])
				}
			}
		}
	}
	for i, limit := range map[int]float64{3: 0.1, 4: 0.2} {
		if path, sum := all.plans[i].Worst(); path > limit || sum > limit {
			t.Errorf("%s: %g dB, sums %g dB", fourWayRecord[i].name, path, sum)
		}
	}
}

func near(got, want []float64) bool {
	if len(got) != len(want) {
		return false
	}
	for i := range got {
		if math.Abs(got[i]-want[i]) > 1e-4 {
			return false
		}
	}
	return true
}

// chainTolerance (dB) is what stages do to each other through the output
// impedance of real op-amps, which a plan leaves out: some mΩ against kΩ.
const chainTolerance = 2e-3

// A plan's errors are those of the whole netlist, stage behind stage, against
// the product of the sections.
func TestPlanIsWhatTheNetlistDoes(t *testing.T) {
	all := fourWayPlans()
	p := all.problem
	for i, plan := range all.plans {
		responses := make([][]complex128, len(p.Paths))
		for n, path := range p.Paths {
			net, last := chain(plan, path)
			solver, err := nodal.New(net, 20)
			if err != nil {
				t.Fatal(err)
			}
			out, _ := net.Find(last)
			worst, peak := 0.0, 0.0
			want := make([]complex128, len(p.At.Hz))
			for k, f := range p.At.Hz {
				want[k] = 1
				for _, s := range path.Stages {
					want[k] *= plan.Candidates[s].Section.At(2 * math.Pi * f)
				}
				peak = math.Max(peak, cmplx.Abs(want[k]))
			}
			// Levels of single stages are made up for elsewhere; polarity too.
			level := 1.0
			for _, s := range path.Stages {
				level *= plan.Candidates[s].Level
			}
			for k, f := range p.At.Hz {
				if err := solver.At(f); err != nil {
					t.Fatal(err)
				}
				h := solver.Voltage(out) / complex(level, 0)
				responses[n] = append(responses[n], h)
				if cmplx.Abs(want[k]) > 0.01*peak {
					worst = math.Max(worst, math.Abs(20*math.Log10(cmplx.Abs(h/want[k]))))
				}
			}
			if math.Abs(worst-plan.PathDB[n]) > chainTolerance {
				t.Errorf("%s, way %d: %.5f dB, the netlist has %.5f dB", fourWayRecord[i].name, n, plan.PathDB[n], worst)
			}
		}
		for n, s := range p.Sums {
			worst, peak := 0.0, 0.0
			var got, want []complex128
			for k, f := range p.At.Hz {
				var h, w complex128
				for _, path := range s.Paths {
					g := complex(1, 0)
					for _, n := range p.Paths[path].Stages {
						g *= plan.Candidates[n].Section.At(2 * math.Pi * f)
					}
					h, w = h+responses[path][k], w+g
				}
				got, want = append(got, h), append(want, w)
				peak = math.Max(peak, cmplx.Abs(w))
			}
			for k := range want {
				if cmplx.Abs(want[k]) > 0.01*peak {
					worst = math.Max(worst, math.Abs(20*math.Log10(cmplx.Abs(got[k]/want[k]))))
				}
			}
			if math.Abs(worst-plan.SumDB[n]) > chainTolerance {
				t.Errorf("%s, sum %d: %.5f dB, the netlists have %.5f dB", fourWayRecord[i].name, n, plan.SumDB[n], worst)
			}
		}
	}
}

// chain is a path of a plan as a netlist, and the node where it ends.
func chain(plan Plan, path assign.Path) (net *netlist.Circuit, last string) {
	net = netlist.New()
	net.Source("Vin", "in", "0", 1)
	last = "in"
	for k, s := range path.Stages {
		c, from, to := plan.Candidates[s], last, fmt.Sprintf("s%d", k)
		c.Topology.Place(net, circuit.Names{
			Ref: func(ref string) string { return fmt.Sprintf("%s_%d", ref, k) },
			Node: func(node string) string {
				switch node {
				case "in":
					return from
				case "out":
					return to
				}
				return fmt.Sprintf("n%d_%s", k, node)
			},
		}, c.Values, stagetest.OpAmp)
		last = to
	}
	return net, last
}

// Two stages in each of two ways that sum: no other pair of choices of one way
// costs less, by trying all with responses computed here.
func TestJointIsTheBestOfAllPairs(t *testing.T) {
	b := benchWith(netlist.OpAmp{Ideal: true})
	const many = 25
	p := Problem{At: b.At(biquad.Octaves(50, 5000, 6)), Paths: []assign.Path{{Way: 0, Stages: []int{0, 1}}, {Way: 1, Stages: []int{2, 3}}}, Sums: []assign.Sum{{Paths: []int{0, 1}}}}
	for _, kind := range []string{"low-pass", "high-pass"} {
		topology, _ := circuit.ByName("sallen-key-" + kind)
		c, _, err := b.Candidates(stagetest.Pair(kind, 500, stagetest.Q7), []*circuit.Topology{topology}, many, stage.Behind{})
		if err != nil {
			t.Fatal(err)
		}
		p.Stages = append(p.Stages, c, c)
	}
	want(&p)
	plan, err := Joint(p)
	if err != nil {
		t.Fatal(err)
	}
	at := func(c stage.Candidate, f float64) complex128 { return c.Topology.Closed(c.Values).At(2 * math.Pi * f) }
	table := make([][][]complex128, 4)
	for s := range table {
		for _, c := range p.Stages[s] {
			var h []complex128
			for _, f := range p.At.Hz {
				h = append(h, at(c, f))
			}
			table[s] = append(table[s], h)
		}
	}
	want := make([][]complex128, 2)
	peak := make([]float64, 2)
	for w := range want {
		for k, f := range p.At.Hz {
			h := p.Stages[2*w][0].Section.At(2 * math.Pi * f)
			want[w] = append(want[w], h*h)
			peak[w] = math.Max(peak[w], cmplx.Abs(want[w][k]))
		}
	}
	cost := func(pick [4]int) float64 {
		var worst [3]float64
		for k := range p.At.Hz {
			low, high := table[0][pick[0]][k]*table[1][pick[1]][k], table[2][pick[2]][k]*table[3][pick[3]][k]
			for n, e := range []complex128{low / want[0][k], high / want[1][k], (low + high) / (want[0][k] + want[1][k])} {
				if n == 2 || cmplx.Abs(want[n][k]) > 0.01*peak[n] {
					worst[n] = math.Max(worst[n], math.Abs(20*math.Log10(cmplx.Abs(e))))
				}
			}
		}
		total := worst[0] + worst[1] + worst[2]
		for s, i := range pick {
			c := p.Stages[s][i]
			total += pointDB * c.Points()
		}
		return total
	}
	var pick [4]int
	for s := range pick {
		pick[s] = slices.IndexFunc(p.Stages[s], func(c stage.Candidate) bool { return slices.Equal(c.Values, plan.Candidates[s].Values) })
	}
	best := cost(pick)
	for w := 0; w < 4; w += 2 {
		for i := range p.Stages[w] {
			for j := range p.Stages[w+1] {
				other := pick
				other[w], other[w+1] = i, j
				// The search's series for the sum leaves out what is below this.
				if c := cost(other); c < best-1e-5 {
					t.Fatalf("choices %v cost %.6f, those of the plan %v cost %.6f", other, c, pick, best)
				}
			}
		}
	}
}

// Joint and Consolidate give the same plans again, on one processor.
func TestPlansAreTheSameAgain(t *testing.T) {
	first := fourWayPlans()
	was := runtime.GOMAXPROCS(1)
	defer runtime.GOMAXPROCS(was)
	b := boardBench()
	p, _ := fourWay(t, b)
	joint, err := Joint(p)
	if err != nil {
		t.Fatal(err)
	}
	few, _, err := Few(p, joint, both(0.2))
	if err != nil {
		t.Fatal(err)
	}
	for i, x := range map[int]Plan{2: joint, 4: few} {
		y := first.plans[i]
		if a, b := numbers(x), numbers(y); a != b {
			t.Errorf("%s: two runs make different plans", fourWayRecord[i].name)
		}
	}
}

// numbers are those of a plan.
func numbers(p Plan) string {
	var out []any
	for _, c := range p.Candidates {
		out = append(out, c.Topology.Name, c.Values, c.Level, c.ErrorDB, c.Measures, c.Score)
	}
	return fmt.Sprint(append(out, p.PathDB, p.SumDB)...)
}

// Settings: a stage that is switched belongs to some paths of a way only, and
// what no stage makes up for stands in Extra.
func TestSwitchedStages(t *testing.T) {
	b := boardBench()
	p := Problem{At: b.At(biquad.Octaves(20, 20e3, 8))}
	shelf := func(gain float64) biquad.Analog {
		return stagetest.Shaped("low-shelf", map[string]float64{"at": 300, "order": 1, "gain": gain})
	}
	for _, s := range []biquad.Analog{stagetest.Pair("high-pass", 40, 0.9), stagetest.Pair("low-pass", 3000, 0.6), shelf(3), shelf(6)} {
		all, _, err := b.Candidates(s, nil, 1, stage.Behind{})
		if err != nil {
			t.Fatal(err)
		}
		c, _, err := b.Candidates(s, []*circuit.Topology{all[0].Topology}, 60, stage.Behind{})
		if err != nil {
			t.Fatal(err)
		}
		for i := range c {
			c[i].Score -= c[i].Points() // errors alone
		}
		p.Stages = append(p.Stages, c)
	}
	p.Paths = []assign.Path{{Stages: []int{0, 1}}, {Stages: []int{0, 1, 2}}, {Stages: []int{0, 1, 3}}}
	want(&p)
	each, err := Each(p)
	if err != nil {
		t.Fatal(err)
	}
	joint, err := Joint(p)
	if err != nil {
		t.Fatal(err)
	}
	before, _ := each.Worst()
	after, _ := joint.Worst()
	if !(after < before) || len(joint.PathDB) != 3 {
		t.Errorf("jointly the worst position is %g dB off, %g dB by each stage's best", after, before)
	}
	// 0.05 dB too little in what is no stage is made up for by the stages.
	for i := range p.Paths {
		p.Paths[i].Extra = make([]complex128, len(p.At.Hz))
		for k := range p.At.Hz {
			p.Paths[i].Extra[k] = complex(biquad.FromDB(-0.05), 0)
		}
	}
	given, err := Each(alone(p, joint.Candidates))
	if err != nil {
		t.Fatal(err)
	}
	made, err := Joint(p)
	if err != nil {
		t.Fatal(err)
	}
	with, _ := given.Worst()
	if without, _ := made.Worst(); !(without < with) || with < 0.05 {
		t.Errorf("with 0.05 dB lost the worst position is %g dB off, and %g dB where stages know of it", with, without)
	}
}

// Two ways of one stage each have no pair of stages in common: each moves by
// itself, and the sum of both is seen.
func TestLoneStagesMove(t *testing.T) {
	b := boardBench()
	p := Problem{At: b.At(biquad.Octaves(50, 5000, 6)), Paths: []assign.Path{{Way: 0, Stages: []int{0}}, {Way: 1, Stages: []int{1}}}, Sums: []assign.Sum{{Paths: []int{0, 1}}}}
	for i, kind := range []string{"low-pass", "high-pass"} {
		topology, _ := circuit.ByName("sallen-key-" + kind)
		c, _, err := b.Candidates(stagetest.Pair(kind, 500, stagetest.Q7), []*circuit.Topology{topology}, 40, stage.Behind{})
		if err != nil {
			t.Fatal(err)
		}
		p.Stages = append(p.Stages, c)
		p.Paths[i].Extra = make([]complex128, len(p.At.Hz))
		for k, f := range p.At.Hz { // the high-pass inverted, as LR2 wants it, and 0.04 dB off
			p.Paths[i].Extra[k] = complex(biquad.FromDB(0.04), 0)
			if h := c[0].Section.At(2 * math.Pi * f); i == 1 {
				p.Paths[i].Want = append(p.Paths[i].Want, -h)
			} else {
				p.Paths[i].Want = append(p.Paths[i].Want, h)
			}
		}
	}
	each, err := Each(p)
	if err != nil {
		t.Fatal(err)
	}
	joint, err := Joint(p)
	if err != nil {
		t.Fatal(err)
	}
	was, wasSum := each.Worst()
	is, isSum := joint.Worst()
	if !(is+isSum < was+wasSum-1e-3) || wasSum > 0.5 {
		t.Errorf("jointly %.4f and %.4f dB, each by itself %.4f and %.4f dB", is, isSum, was, wasSum)
	}
}

// What few values begin with must be a plan within limits.
func TestFewBeginsWithinLimits(t *testing.T) {
	b := boardBench()
	all, _, err := b.Candidates(biquad.Constant(1.5), nil, 5, stage.Behind{})
	if err != nil {
		t.Fatal(err)
	}
	p := Problem{At: b.At([]float64{100, 1000}), Stages: [][]stage.Candidate{all}, Paths: []assign.Path{{Stages: []int{0}}}, Sums: []assign.Sum{{Paths: []int{0}}}}
	want(&p)
	plan, err := Joint(p)
	if err != nil || len(plan.Candidates) != 1 {
		t.Fatal(plan, err)
	}
	for want, f := range map[string]func() error{
		"as many choices": func() error { _, _, err := Few(p, Plan{}, both(0.1)); return err },
		"above 0 dB":      func() error { _, _, err := Few(p, plan, assign.Limits{SumDB: 0.1}); return err },
	} {
		if err := f(); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v", want, err)
		}
	}
	if _, kept, err := Few(p, plan, both(1e-12)); kept || err != nil {
		t.Errorf("a limit below the plan's own errors is kept: %v", err)
	}
	// Nothing to choose is a plan too.
	if plan, err := Joint(Problem{At: b.At([]float64{100})}); err != nil || len(plan.Candidates) != 0 {
		t.Errorf("no stages: %v %v", plan, err)
	}
}
