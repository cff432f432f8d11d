package production_test

import (
	"context"
	"math"
	"math/cmplx"
	"math/rand/v2"
	"os"
	"reflect"
	"runtime"
	"slices"
	"strings"
	"sync"
	"testing"

	"bandwright/biquad"
	"bandwright/compiler"
	"bandwright/compiler/production"
)

// shipped compiles a shipped spec, once for all tests.
var shipped = func() func(t testing.TB, name string) *compiler.Build {
	var mu sync.Mutex
	made := map[string]*compiler.Build{}
	return func(t testing.TB, name string) *compiler.Build {
		t.Helper()
		mu.Lock()
		defer mu.Unlock()
		if made[name] == nil {
			src, err := os.ReadFile("../../specs/" + name + ".yaml")
			if err != nil {
				t.Fatal(err)
			}
			made[name] = build(t, string(src))
		}
		return made[name]
	}
}()

// build compiles a spec with a board.
func build(t testing.TB, src string) *compiler.Build {
	t.Helper()
	b, faults, err := compiler.Compile(context.Background(), "spec.yaml", []byte(src), os.DirFS("../../specs"))
	if err != nil || b == nil || b.Board == nil {
		t.Fatal(err, faults)
	}
	return b
}

func planOf(t testing.TB, b *compiler.Build) *production.Plan {
	t.Helper()
	p, err := production.Of(b.BoardSubject(), b.Board, b.Batch.Bought(), b.Promises.LowHz, b.Promises.HighHz)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// judge holds a proof to what limits promise.
func (p proof) judge(t testing.TB, name string) {
	t.Helper()
	t.Logf("%s: %+v", name, p)
	if share := float64(p.passed) / float64(p.good); share < 0.998 {
		t.Errorf("%s: %d of %d good boards pass", name, p.passed, p.good)
	}
	if share := float64(p.off.found) / float64(p.off.boards); !(share >= 0.95) {
		t.Errorf("%s: %d of %d boards with a part 20 %% off are found", name, p.off.found, p.off.boards)
	}
	if p.must.found != p.must.boards || p.must.boards == 0 {
		t.Errorf("%s: %d of %d boards with a missing or shorted part, or neighbours exchanged, are found", name, p.must.found, p.must.boards)
	}
	if share := float64(p.far.found) / float64(p.far.boards); !(share >= 0.999) {
		t.Errorf("%s: %d of %d boards with parts exchanged that are no neighbours are found", name, p.far.found, p.far.boards)
	}
	if p.harmful < 0.1 {
		t.Errorf("%s: only %.2f of the parts matter", name, p.harmful)
	}
}

// The limits of a small board let good boards of another seed pass, and find every one with
// a part that matters 20 % off, missing, shorted or exchanged; all by nodal analysis.
func TestLimits(t *testing.T) {
	b := shipped(t, "dabchick")
	newBench(t, b, planOf(t, b)).prove(t, 5000, 10).judge(t, "dabchick")
}

// Good boards of the large ones pass, DC and noise included.
func TestGoodBoards(t *testing.T) {
	for name, boards := range map[string]int{"dabchick": 20, "heron": 4, "bittern": 4} {
		b := shipped(t, name)
		p := planOf(t, b)
		x, r := newBench(t, b, p), rand.New(rand.NewPCG(3, 4))
		for range boards {
			factors := x.drawn(r)
			if !x.passes(t, factors) {
				t.Errorf("%s: a good board fails", name)
			}
			for _, g := range x.groups {
				x.set(t, g, factors)
				for _, k := range g.tests {
					test := p.Tests[k]
					o, err := g.solver.Offsets(g.outs[test.Way])
					if err != nil || o.Worst > test.OffsetV || o.Worst < 0.9*test.OffsetV && test.OffsetV > 0.001 {
						t.Errorf("%s: %g V of DC, limit %g %v", name, o.Worst, test.OffsetV, err)
					}
				}
			}
			g := x.groups[0]
			x.set(t, g, factors)
			for _, k := range g.tests {
				test := p.Tests[k]
				noise, _, err := g.solver.IntegratedNoise(g.outs[test.Way:test.Way+1], 300.15, 20, 20e3)
				if err != nil || noise[0] > 0.85*test.NoiseV || noise[0] < 0.6*test.NoiseV {
					t.Errorf("%s: %g V of noise, limit %g %v", name, noise, test.NoiseV, err)
				}
			}
		}
	}
}

// An inverted output fails by phase alone, at every point; and a level just outside fails.
func TestPolarity(t *testing.T) {
	for _, test := range planOf(t, shipped(t, "dabchick")).Tests {
		if n := len(test.Points); n < 8 || n > 12 {
			t.Errorf("%d points", n)
		}
		for i, q := range test.Points {
			h := cmplx.Rect(math.Pow(10, q.NominalDB/20), q.Degrees*math.Pi/180)
			up, down := complex(math.Pow(10, (q.HighDB-q.NominalDB+0.01)/20), 0), complex(math.Pow(10, (q.LowDB-q.NominalDB-0.01)/20), 0)
			if !passes(q, h) || passes(q, -h) || passes(q, h*up) || passes(q, h*down) {
				t.Errorf("%+v", q)
			}
			if i > 0 && q.Hz <= test.Points[i-1].Hz {
				t.Errorf("%g Hz after %g", q.Hz, test.Points[i-1].Hz)
			}
		}
	}
}

// Every stage of a board is in use in some test, however the settings are combined.
func TestEveryStageIsTested(t *testing.T) {
	const spec = `
bandwright: 1
name: tern
settings: {a: [x, y, z], b: [x, y, z]}
ways: {bass: {filters: [{high-pass: {at: 30 Hz, q: 0.7}}, {peak: {at: 300 Hz, q: 1, gain: -3 dB, when: {a: y, b: z}}}]}}
board: {}
`
	b := build(t, spec)
	p := planOf(t, b)
	used := map[string]bool{}
	for _, test := range p.Tests {
		for i := range b.Board.Ways[0].Positions {
			x := &b.Board.Ways[0].Positions[i]
			for _, s := range x.Alt[x.Index(test.C)].Stages {
				used[s.Out] = true
			}
		}
	}
	for _, s := range b.Board.Ways[0].Stages() {
		if !used[s.Out] {
			t.Errorf("%s is never tested", s.Out)
		}
	}
	if len(p.Tests) < 5 || len(p.Tests) > 8 {
		t.Errorf("%d of 9 combinations", len(p.Tests))
	}
}

// Boards with trimmers are measured after they are set: limits are narrower, and the most
// that a trimmer is turned is told.
func TestTrim(t *testing.T) {
	const spec = `
bandwright: 1
name: tern
ways: {bass: {filters: [{gain: {by: 12 dB}}]}}
board: {resistors: {tolerance: 5 %}TRIM}
`
	plain := planOf(t, build(t, strings.Replace(spec, "TRIM", "", 1)))
	trimmed := planOf(t, build(t, strings.Replace(spec, "TRIM", ", trim: 2 dB", 1)))
	if plain.TrimDB != nil || len(trimmed.TrimDB) != 1 || trimmed.TrimDB[0] < 0.3 || trimmed.TrimDB[0] > 1.5 {
		t.Errorf("trimmers are turned by %v and %v", plain.TrimDB, trimmed.TrimDB)
	}
	width := func(p *production.Plan) float64 {
		q := p.Tests[0].Points[len(p.Tests[0].Points)-1]
		return q.HighDB - q.LowDB
	}
	if width(plain) < 1 || width(trimmed) > 0.1*width(plain) {
		t.Errorf("limits %.2f dB wide after trim, %.2f without", width(trimmed), width(plain))
	}
}

// Parts that are bought in a closer class make closer limits, as all of that class do.
func TestClasses(t *testing.T) {
	const spec = `
bandwright: 1
name: tern
ways: {bass: {filters: [{high-pass: {at: 100 Hz, q: 2}}]}}
board: {resistors: {tolerance: 1 %}, capacitors: {tolerance: CLASSES}}
promise: {board-spread: 0.3 dB}
`
	width := func(classes string) float64 {
		b := build(t, strings.Replace(spec, "CLASSES", classes, 1))
		widest := 0.0
		for _, q := range planOf(t, b).Tests[0].Points {
			widest = math.Max(widest, q.HighDB-q.LowDB)
		}
		return widest
	}
	loose, chosen, close := width("10 %"), width("[10 %, 1 %]"), width("1 %")
	if loose < 1.5*chosen || math.Abs(chosen-close) > 0.02 {
		t.Errorf("limits are %.2f dB wide with 10 %%, %.2f with classes, %.2f with 1 %%", loose, chosen, close)
	}
}

// The same board has the same limits, on one processor as on many.
func TestSamePlan(t *testing.T) {
	b := shipped(t, "dabchick")
	many := planOf(t, b)
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(1))
	if !reflect.DeepEqual(many, planOf(t, b)) {
		t.Error("other limits")
	}
}

// Each stage's gain is that of its closed form within what the op-amp and the stage after
// it do to it, and its share of the level is told in volts.
func TestStages(t *testing.T) {
	for _, name := range []string{"dabchick", "heron", "bittern"} {
		b := shipped(t, name)
		all, err := production.Stages(b.BoardSubject(), b.Board, b.Promises.LowHz, b.Promises.HighHz)
		if err != nil {
			t.Fatal(err)
		}
		var names []string
		for _, c := range b.Board.Chains() {
			for _, s := range c.Stages() {
				names = append(names, s.Out)
			}
		}
		for i, s := range all {
			if s.Node != names[i] || s.Pin == "" {
				t.Errorf("%s: row %d is %s at %q, want %s", name, i, s.Node, s.Pin, names[i])
			}
			closed := biquad.DB(s.Topology.Closed(s.Values).At(2 * math.Pi * s.Hz))
			if math.Abs(closed-s.NominalDB) > 0.1 || math.Abs(s.WantedDB-s.NominalDB) > 1 {
				t.Errorf("%s %s: %.3f dB by nodal analysis, %.3f by its closed form, %.3f wanted", name, s.Node, s.NominalDB, closed, s.WantedDB)
			}
			if s.OutputV < 1e-3 || s.OutputV > 15 || s.OffsetV > 0.5 || s.OffsetV <= 0 {
				t.Errorf("%s %s: %g V, DC %g V", name, s.Node, s.OutputV, s.OffsetV)
			}
		}
		if len(all) != len(names) {
			t.Errorf("%s: %d of %d stages", name, len(all), len(names))
		}
	}
}

// What is inspected makes most of the spread where it is widest, and lies within tolerance.
func TestInspect(t *testing.T) {
	b := shipped(t, "dabchick")
	parts := production.Inspect(b.Batch)
	if len(parts) < 3 {
		t.Fatal(parts)
	}
	for _, row := range b.Batch.Rows {
		share := 0.0
		for _, m := range row.Matters {
			if slices.ContainsFunc(parts, func(x production.Inspected) bool { return x.Ref == m.Ref }) {
				share += m.Share
			}
		}
		if share < 0.5 {
			t.Errorf("%s: parts that make %.2f of it are inspected", row.Name, share)
		}
	}
	for i, x := range parts {
		if math.Abs(x.Low/x.Value-1+x.Tolerance) > 1e-9 || math.Abs(x.High/x.Value-1-x.Tolerance) > 1e-9 || i > 0 && x.Share > parts[i-1].Share {
			t.Errorf("%+v", x)
		}
	}
}

func BenchmarkOf(b *testing.B) {
	for _, name := range []string{"dabchick", "heron", "bittern"} {
		x := shipped(b, name)
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				planOf(b, x)
			}
		})
	}
}
