package values

import (
	"fmt"
	"math"
	"runtime"
	"slices"
	"strings"
	"testing"

	"bandwright/biquad"
	"bandwright/compiler/assign"
	"bandwright/compiler/circuit"
	"bandwright/compiler/stage"
	"bandwright/compiler/stage/stagetest"
)

// closestRecord is how many parts change, the median and the most, where a figure of each
// stage of the corpus changes by so much: stages on their own, to 0.1 dB from E96 and E12.
// kept is for how many of the stages that have the figure that is done. Worse fails, better
// has to be recorded.
var closestRecord = []struct {
	figure        string
	by            float64 // of a gain in dB, else in parts
	median, most  int
	changed, kept int
	of            int
}{
	{"at", 0.001, 0, 8, 10, 30, 30},
	{"at", 0.01, 1, 8, 34, 28, 30},
	{"at", 0.05, 2, 8, 62, 30, 30},
	{"gain", 0.1, 1, 3, 5, 5, 5},
	{"gain", 1, 3, 3, 12, 5, 5},
	{"q", 0.05, 2, 8, 65, 22, 24},
}

func TestClosestOfTheCorpus(t *testing.T) {
	const limitDB = 0.1
	b := stage.New(stage.Stock{
		Ohm:      stage.Values([]string{"E96"}, nil, 1e3, 100e3),
		ShuntOhm: stage.Values([]string{"E96"}, nil, 150, 100e3),
		Farad:    stage.Values([]string{"E12"}, nil, 1e-9, 1e-6),
	}, circuit.Means{
		Ohm: circuit.Range{From: 1e3, To: 100e3}, ShuntOhm: 150, Farad: circuit.Range{From: 1e-9, To: 1e-6}, OpAmp: stagetest.OpAmp,
	}, stage.Band{FromHz: 10, ToHz: 20e3})
	held := map[string]stage.Candidate{}
	all := stagetest.Corpus(t, "../../golden/published/stage_corpus.json")
	for _, s := range all {
		topology, _ := circuit.ByName(s.Topology)
		best, _, err := b.Candidates(s.Section(), []*circuit.Topology{topology}, 1, stage.Behind{})
		if err != nil || len(best) == 0 {
			t.Fatal(s.ID, err)
		}
		held[s.ID] = best[0]
	}
	for _, r := range closestRecord {
		var counts []int
		kept := 0
		for _, s := range all {
			had := false
			edited := stagetest.Section(s.Kind, func(key string) float64 {
				x := s.Figure(key)
				if key != r.figure && !strings.HasSuffix(key, "."+r.figure) || x == 0 {
					return x
				}
				had = true
				if r.figure == "gain" {
					return x + r.by
				}
				return x * (1 + r.by)
			})
			if !had {
				continue
			}
			h := Held{Candidate: held[s.ID], Free: true}
			h.Section = edited
			p := Problem{At: b.At(ordered(biquad.Octaves(10, 20e3, 12, edited.W0/(2*math.Pi)))), Stages: [][]stage.Candidate{{h.Candidate}}, Paths: []assign.Path{{Stages: []int{0}}}}
			if s.Kind == "all-pass" {
				p.Paths[0].PerRad = slices.Repeat([]float64{20 / math.Ln10}, len(p.At.Hz))
			}
			want(&p)
			limits := assign.Limits{PathDB: limitDB, SumDB: limitDB}
			got, err := FindClosest(p, []Held{h}, limits)
			if err != nil {
				t.Fatal(s.ID, err)
			}
			checkClosest(t, p, []Held{h}, limits, got)
			if got.Kept {
				kept++
			}
			counts = append(counts, got.Changed)
		}
		slices.Sort(counts)
		changed := 0
		for _, n := range counts {
			changed += n
		}
		median, most := counts[len(counts)/2], counts[len(counts)-1]
		if median != r.median || most != r.most || changed != r.changed || kept != r.kept || len(counts) != r.of {
			t.Errorf("{%q, %g, %d, %d, %d, %d, %d}; on record: %d, %d, %d, %d, %d", r.figure, r.by, median, most, changed, kept, len(counts),
				r.median, r.most, r.changed, r.kept, r.of)
		}
	}
}

// ordered are frequencies as they are looked at best.
func ordered(hz []float64) (out []float64) {
	for _, k := range stage.CoarseToFine(len(hz), -1) {
		out = append(out, hz[k])
	}
	return out
}

// figures are what an edit of the four-way may change: of a filter, or a gain (dB).
type figures = map[string]float64

// edited are the sections of the four-way in the order of its stages, each shape handed
// to to first.
func edited(to func(kind string, f figures)) []biquad.Analog {
	shaped := func(kind string, f figures) biquad.Analog {
		to(kind, f)
		if kind == "gain" {
			return biquad.Constant(biquad.FromDB(f["gain"]))
		}
		return stagetest.Shaped(kind, f)
	}
	var out []biquad.Analog
	add := func(kind string, f figures) { out = append(out, shaped(kind, f)) }
	twice := func(kind string, hz float64) {
		for range 2 {
			add(kind, figures{"at": hz, "q": stagetest.Q7})
		}
	}
	add("high-pass", figures{"at": 17, "q": stagetest.Q7})
	add("high-shelf", figures{"at": 8000, "order": 1, "gain": -1.5})
	add("pole-shift", figures{"from.at": 61, "from.q": 1.05, "to.at": 31, "to.q": 0.68})
	add("peak", figures{"at": 105, "q": 2.1, "gain": -3.5})
	add("gain", figures{"gain": -4})
	twice("low-pass", 210)
	twice("high-pass", 210)
	add("peak", figures{"at": 620, "q": 1.6, "gain": 2.5})
	add("gain", figures{"gain": -2})
	twice("low-pass", 860)
	twice("high-pass", 860)
	add("low-shelf", figures{"at": 1600, "order": 1, "gain": 3})
	add("gain", figures{"gain": 1.5})
	twice("low-pass", 4300)
	twice("high-pass", 4300)
	add("high-shelf", figures{"at": 9000, "order": 1, "gain": 4})
	add("gain", figures{"gain": 3})
	return out
}

// corner and gain are edits: of a crossover, by parts, and of a gain, by dB.
func corner(hz, by float64) func(kind string, f figures) {
	return func(kind string, f figures) {
		if (kind == "low-pass" || kind == "high-pass") && f["at"] == hz {
			f["at"] *= 1 + by
		}
	}
}

func gain(db, by float64) func(kind string, f figures) {
	return func(kind string, f figures) {
		if kind == "gain" && f["gain"] == db {
			f["gain"] += by
		}
	}
}

func peak(figure string, by float64) func(kind string, f figures) {
	return func(kind string, f figures) {
		if kind == "peak" {
			f[figure] *= 1 + by
		}
	}
}

// stands is a plan of the four-way as it is held after an edit.
func stands(plan Plan, p Problem, to func(kind string, f figures)) (Problem, []Held) {
	var held []Held
	q := p
	q.At, q.Paths, q.Stages = p.At.Bench.At(p.At.Hz), slices.Clone(p.Paths), nil
	for i, s := range edited(to) {
		h := Held{Candidate: plan.Candidates[i], Free: plan.Candidates[i].Section != s}
		h.Section = s
		held, q.Stages = append(held, h), append(q.Stages, []stage.Candidate{h.Candidate})
	}
	want(&q)
	return q, held
}

// closestFourWay is how many of the four-way's 95 parts change after an edit, where they
// were chosen jointly and as few values, to 0.1 dB from E24 and E6; of is how many parts
// the edited filters' stages have. Worse fails, better has to be recorded.
var closestFourWay = []struct {
	name           string
	to             func(kind string, f figures)
	joint, few, of int
}{
	{"a corner by 0.1 %", corner(860, 0.001), 0, 0, 20},
	{"a corner by 1 %", corner(860, 0.01), 6, 6, 20},
	{"a corner by 5 %", corner(860, 0.05), 5, 4, 20},
	{"another corner by 1 %", corner(4300, 0.01), 5, 8, 16},
	{"a low corner by -1 %", corner(210, -0.01), 4, 5, 20},
	{"a gain by 0.1 dB", gain(-4, 0.1), 2, 2, 2},
	{"a gain by 1 dB", gain(-4, 1), 2, 1, 2},
	{"another gain by -0.1 dB", gain(3, -0.1), 2, 2, 2},
	{"two peaks by 1 %", peak("at", 0.01), 0, 0, 16},
	{"two peaks by 5 %", peak("at", 0.05), 4, 4, 16},
	{"two peaks' Q by 5 %", peak("q", 0.05), 0, 0, 16},
}

func TestClosestOfTheFourWay(t *testing.T) {
	all := fourWayPlans()
	if all.err != nil {
		t.Fatal(all.err)
	}
	limits := both(0.1)
	for _, r := range closestFourWay {
		var counts [2]int
		of := 0
		for n, plan := range [...]Plan{all.plans[2], all.plans[3]} {
			p, held := stands(plan, all.problem, r.to)
			got, err := FindClosest(p, held, limits)
			if err != nil {
				t.Fatal(r.name, err)
			}
			checkClosest(t, p, held, limits, got)
			if counts[n] = got.Changed; !got.Kept {
				t.Errorf("%s: %d parts changed, and the limits are not kept", r.name, got.Changed)
			}
			of = 0
			for _, h := range held {
				if h.Free {
					of += len(h.Fitted())
				}
			}
		}
		if counts != [2]int{r.joint, r.few} || of != r.of {
			t.Errorf("%s: %d and %d parts of %d; on record are %d and %d of %d", r.name, counts[0], counts[1], of, r.joint, r.few, r.of)
		}
	}
}

// closestSteep is how many parts of two ways of four stages each change where their corner,
// of the eighth order, does by so much, to 0.1 dB from E24 and E6: of a corner by 1 % fewer
// than one a stage. Worse fails, better has to be recorded.
var closestSteep = []struct {
	hz, by  float64
	changed int
}{
	{300, 0.01, 7}, {1000, 0.01, 6}, {2500, 0.01, 6}, {1000, 0.05, 8}, {1000, 0.001, 0},
}

func TestClosestOfSteepCrossovers(t *testing.T) {
	b := boardBench()
	// Each way in two settings, which are alike.
	crossover := func(grid []float64, hz float64, some int) (p Problem) {
		p.At = b.At(grid)
		for w, kind := range []string{"low-pass", "high-pass"} {
			var list []int
			for _, q := range []float64{0.54119610, 1.30656296, 0.54119610, 1.30656296} {
				topology, _ := circuit.ByName("sallen-key-" + kind)
				all, _, err := b.Candidates(stagetest.Pair(kind, hz, q), []*circuit.Topology{topology}, some, stage.Behind{})
				if err != nil || len(all) == 0 {
					t.Fatal(err)
				}
				list, p.Stages = append(list, len(p.Stages)), append(p.Stages, all)
			}
			p.Paths = append(p.Paths, assign.Path{Way: w, Stages: list}, assign.Path{Way: w, Stages: list})
		}
		p.Sums = []assign.Sum{{Paths: []int{0, 2}}, {Paths: []int{1, 3}}}
		want(&p)
		return p
	}
	for _, r := range closestSteep {
		grid := ordered(biquad.Octaves(20, 20e3, 15, r.hz))
		plan, err := Joint(crossover(grid, r.hz, 100))
		if err != nil {
			t.Fatal(err)
		}
		p := crossover(grid, r.hz*(1+r.by), 1)
		var held []Held
		for i, c := range plan.Candidates {
			h := Held{Candidate: c, Free: true}
			h.Section = p.Stages[i][0].Section
			held = append(held, h)
		}
		got, err := FindClosest(p, held, both(0.1))
		if err != nil {
			t.Fatal(err)
		}
		checkClosest(t, p, held, both(0.1), got)
		if got.Changed != r.changed || !got.Kept {
			t.Errorf("%g Hz by %g: %d parts changed, kept %v; on record are %d", r.hz, r.by, got.Changed, got.Kept, r.changed)
		}
	}
}

// The sections of the edited four-way without an edit are those of the four-way.
func TestEditedIsTheFourWay(t *testing.T) {
	common, ways := invented()
	want := slices.Concat(append([][]biquad.Analog{common}, ways...)...)
	if got := edited(func(string, figures) {}); !slices.Equal(got, want) {
		t.Errorf("%v, want %v", got, want)
	}
}

// The same is found again, on one processor.
func TestClosestIsTheSameAgain(t *testing.T) {
	all := fourWayPlans()
	tell := func() (out string) {
		for _, r := range closestFourWay[:3] {
			p, held := stands(all.plans[2], all.problem, r.to)
			got, err := FindClosest(p, held, both(0.1))
			out += fmt.Sprint(got.Changed, got.Kept, numbers(got.Plan), err)
		}
		return out
	}
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(2))
	two := tell()
	runtime.GOMAXPROCS(1)
	if one := tell(); one != two {
		t.Error("two processors make another plan than one")
	}
}

// A choice of no use any more ends with an error.
func TestClosestEnds(t *testing.T) {
	all := fourWayPlans()
	p, held := stands(all.plans[2], all.problem, corner(860, 0.01))
	p.Idle = func() bool { return true }
	if got, err := FindClosest(p, held, both(0.1)); err == nil {
		t.Errorf("%d parts changed of no use", got.Changed)
	}
}

func TestClosestNeedsLimits(t *testing.T) {
	all := fourWayPlans()
	p, held := stands(all.plans[2], all.problem, gain(-4, 0.1))
	for _, l := range []assign.Limits{{}, {PathDB: 0.1}, {SumDB: 0.1}, {PathDB: math.NaN(), SumDB: 0.1}} {
		if _, err := FindClosest(p, held, l); err == nil {
			t.Errorf("limits of %v pass", l)
		}
	}
}

// A corner that moves by 1 %: seven stages' worth of parts that may change.
func BenchmarkClosest(b *testing.B) {
	all := fourWayPlans()
	if all.err != nil {
		b.Fatal(all.err)
	}
	for _, r := range closestFourWay {
		b.Run(r.name, func(b *testing.B) {
			for b.Loop() {
				p, held := stands(all.plans[2], all.problem, r.to)
				if _, err := FindClosest(p, held, both(0.1)); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
