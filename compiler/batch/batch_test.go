package batch_test

import (
	"context"
	"math"
	"math/cmplx"
	"os"
	"reflect"
	"runtime"
	"strings"
	"testing"

	"bandwright/biquad"
	"bandwright/compiler"
	"bandwright/compiler/batch"
	"bandwright/compiler/board"
	"bandwright/compiler/language"
)

var boards = []string{"dabchick", "heron", "bittern"}

// shipped compiles a spec of the tree, once.
func shipped(t testing.TB, name string) *compiler.Build {
	t.Helper()
	if made[name] == nil {
		src, err := os.ReadFile("../../specs/" + name + ".yaml")
		if err != nil {
			t.Fatal(err)
		}
		made[name] = build(t, string(src))
	}
	return made[name]
}

var made = map[string]*compiler.Build{}

func build(t testing.TB, src string) *compiler.Build {
	t.Helper()
	b, _ := compile(t, src)
	return b
}

func compile(t testing.TB, src string) (*compiler.Build, []language.Fault) {
	t.Helper()
	b, faults, err := compiler.Compile(context.Background(), "test.yaml", []byte(src), os.DirFS("../../specs"))
	if err != nil || b == nil || b.Board == nil {
		t.Fatal(err, faults)
	}
	return b, faults
}

// little is a spec of one way with a board block.
func little(filters, block string) string {
	return "bandwright: 1\nname: wren\nways:\n  only: {filters: [" + filters + "]}\nboard: {" + block + "}\n"
}

func judge(t testing.TB, b *compiler.Build) *batch.Judge {
	t.Helper()
	j, err := batch.NewJudge(b.Subject(), b.Board, b.Promises.LowHz, b.Promises.HighHz)
	if err != nil {
		t.Fatal(err)
	}
	return j
}

// full is what every way of a board with other values does by nodal analysis.
func full(t testing.TB, b *board.Board, parts []batch.Part, deviations []float64, c biquad.Combination, hz []float64) [][]complex128 {
	t.Helper()
	s, outs := b.Solver(c)
	for i, p := range parts {
		if err := s.Set(b.PartIndex(p.Ref), p.Value*(1+deviations[i])); err != nil {
			t.Fatal(err)
		}
	}
	out := make([][]complex128, len(outs))
	for _, f := range hz {
		if err := s.At(f); err != nil {
			t.Fatal(err)
		}
		for k, o := range outs {
			out[k] = append(out[k], s.Voltage(o))
		}
	}
	return out
}

// The figures of the simulation are those of nodal analysis of the same boards, with
// the real op-amp, in several combinations: within the hundredth of a decibel with the
// tolerances of the specs, and within a twentieth with four times those, up to 20 %.
func TestMethod(t *testing.T) {
	for _, name := range boards {
		b := shipped(t, name)
		j := judge(t, b)
		var all []biquad.Combination
		biquad.Each(b.Subject().AllAxes, len(b.Settings), func(c biquad.Combination) { all = append(all, append(biquad.Combination{}, c...)) })
		for _, x := range []struct{ scale, mostDB float64 }{{1, 0.01}, {4, 0.05}} {
			worst, u := 0.0, j.Unit()
			for n := range 6 {
				d := j.Scaled(n, x.scale)
				u.Set(d)
				c := all[n*len(all)/6]
				j.Compare(u, c, full(t, b.Board, j.Parts, d, c, j.Hz), func(_ int, _, simulated, nodal float64) {
					worst = math.Max(worst, math.Abs(simulated-nodal))
				})
			}
			if !(worst < x.mostDB) {
				t.Errorf("%s with %g times the tolerances: %.4f dB off", name, x.scale, worst)
			}
			t.Logf("%s with %g times the tolerances: %.4f dB off", name, x.scale, worst)
		}
	}
}

// Sections are multiplied out, and what does not hang on frequency is taken out of them: the
// response is that of the closed forms one by one, to the last digits.
func TestProducts(t *testing.T) {
	for _, name := range boards {
		b := shipped(t, name)
		j := judge(t, b)
		worst, u := 0.0, j.Unit()
		for n := range 3 {
			d := j.Scaled(n, 4)
			u.Set(d)
			for way := range b.Board.Ways {
				from, to := j.Span(way)
				for variant := range j.Variants(way) {
					for i := from; i < to; i++ {
						want := j.Directly(d, way, variant, i)
						worst = math.Max(worst, cmplx.Abs(u.Way(way, variant)[i]-want)/cmplx.Abs(want))
					}
				}
			}
		}
		if !(worst > 0 && worst < 1e-12) {
			t.Errorf("%s: %g off", name, worst)
		}
	}
}

// What settings of the common stages do is one factor of all ways and sums: those in every
// combination are, to the last digits, what closed forms one by one make of the board. Where ways
// with other settings load the common stages otherwise, as a trim of heron does, there are none.
func TestTurns(t *testing.T) {
	for _, x := range []struct {
		b     *compiler.Build
		turns int
		most  float64
	}{{shipped(t, "bittern"), 2, 1e-12}, {shipped(t, "heron"), 1, 1e-12}, {commonCuts(t), 64, 1e-7}} {
		j := judge(t, x.b)
		u, d := j.Unit(), j.Scaled(1, 4)
		u.Set(d)
		ways, sums := j.Apart(u, d)
		if !(ways > 0 && ways < x.most) || !(sums < x.most) {
			t.Errorf("%s: ways %g, sums %g off", x.b.Spec.Name, ways, sums)
		}
		if n := j.Turns(); n != x.turns {
			t.Errorf("%s: %d turns, want %d", x.b.Spec.Name, n, x.turns)
		}
		t.Logf("%s: %d turns, ways %.1g, sums %.1g off", x.b.Spec.Name, j.Turns(), ways, sums)
	}
}

// commonCuts is the spec with a trim, six cuts and two shelves, the cuts before the ways split.
func commonCuts(t *testing.T) *compiler.Build {
	t.Helper()
	const name = "common cuts"
	if made[name] == nil {
		src, err := os.ReadFile("../board/testdata/switched.yaml")
		if err != nil {
			t.Fatal(err)
		}
		var common, rest strings.Builder
		for line := range strings.Lines(string(src)) {
			if to := &rest; strings.Contains(line, "- peak:") {
				common.WriteString(line)
			} else {
				to.WriteString(line)
			}
		}
		made[name] = build(t, strings.Replace(rest.String(), "\nways:", "\ncommon:\n"+common.String()+"ways:", 1))
	}
	return made[name]
}

// Of many settings a board is looked at in a few combinations, and then what common stages do is no factor: the loudest
// choices together are not there with the first of the common ones. Every one that is looked at is, to the last
// digits, what closed forms one by one make of the board, and in dB what nodal analysis of the same board finds.
func TestFewOfManyCombinations(t *testing.T) {
	b := commonCuts(t)
	subject := b.BoardSubject()
	if len(subject.Only) == 0 || len(subject.Only) > 64 {
		t.Fatalf("%d combinations", len(subject.Only))
	}
	j, err := batch.NewJudge(subject, b.Board, b.Promises.LowHz, b.Promises.HighHz)
	if err != nil {
		t.Fatal(err)
	}
	if n := j.Turns(); n != 1 {
		t.Errorf("%d turns, want 1", n)
	}
	u, d := j.Unit(), j.Scaled(1, 1)
	u.Set(d)
	if ways, sums := j.Apart(u, d); !(ways > 0 && ways < 1e-12) || !(sums < 1e-12) {
		t.Errorf("ways %g, sums %g off", ways, sums)
	}
	worst, places := 0.0, 0
	for _, c := range subject.Only {
		j.Compare(u, c, full(t, b.Board, j.Parts, d, c, j.Hz), func(_ int, _, simulated, nodal float64) {
			worst, places = math.Max(worst, math.Abs(simulated-nodal)), places+1
		})
	}
	if !(worst < 0.02) || places < len(subject.Only)*50 {
		t.Errorf("%.4f dB off at %d places", worst, places)
	}
	t.Logf("%d combinations: %.4f dB off", len(subject.Only), worst)
}

// A stage of which a selector switches an element or picks a tap has the parts that it shares
// between its states, and in each the closed form of that state: boards in every 97th case of the
// spec with a trim of nine steps, six cuts and two shelves, by nodal analysis of the same boards.
func TestStatesShareParts(t *testing.T) {
	src, err := os.ReadFile("../board/testdata/switched.yaml")
	if err != nil {
		t.Fatal(err)
	}
	b := build(t, string(src))
	j := judge(t, b)
	refs := map[string]bool{}
	for _, p := range j.Parts {
		if refs[p.Ref] {
			t.Errorf("%s is there twice", p.Ref)
		}
		refs[p.Ref] = true
	}
	worst, n, u := 0.0, 0, j.Unit()
	for _, c := range b.Subject().Cases() {
		if c.C == nil {
			continue
		}
		if n++; n%97 != 1 {
			continue
		}
		d := j.Scaled(n, 1)
		u.Set(d)
		j.Compare(u, c.C, full(t, b.Board, j.Parts, d, c.C, j.Hz), func(_ int, _, simulated, nodal float64) {
			worst = math.Max(worst, math.Abs(simulated-nodal))
		})
	}
	if !(worst < 0.02) || n < 17 {
		t.Errorf("%d cases: %.4f dB off", n, worst)
	}
	t.Logf("%d cases: %.4f dB off", n, worst)
}

// What a board is hangs on its number alone: not on the processors, not on how many
// boards there are.
func TestBoardsAreTheSame(t *testing.T) {
	b := shipped(t, "dabchick")
	j := judge(t, b)
	many := j.Reaches(b.Board, 600)
	few := j.Reaches(b.Board, 250)
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(1))
	one := j.Reaches(b.Board, 600)
	if !reflect.DeepEqual(many, one) || !reflect.DeepEqual(many[:250], few) {
		t.Error("the same boards are not the same")
	}
}

// Parts deviate as the spec says, and not together.
func TestDraw(t *testing.T) {
	const parts, n = 40, 4000
	for _, c := range []struct {
		normal bool
		sigma  float64
	}{{false, 1 / math.Sqrt(3)}, {true, 0.98658 / 3}} { // of a normal distribution cut at 3 sigma
		sum, square, product := 0.0, 0.0, 0.0
		most := 0.0
		d := make([]float64, parts)
		for board := range n {
			batch.Draw(d, board, batch.AsMade, c.normal)
			for i, z := range d {
				sum += z
				square += z * z
				most = math.Max(most, math.Abs(z))
				product += z * d[(i+1)%parts]
			}
		}
		m := float64(parts * n)
		if e := math.Abs(sum / m / c.sigma); e > 4/math.Sqrt(m) {
			t.Errorf("mean %g sigma", e)
		}
		if s := math.Sqrt(square / m); math.Abs(s/c.sigma-1) > 0.01 {
			t.Errorf("sigma %g, want %g", s, c.sigma)
		}
		if r := product / square; math.Abs(r) > 4/math.Sqrt(m) {
			t.Errorf("neighbours are correlated: %g", r)
		}
		if most > 1 || most < 0.999 {
			t.Errorf("up to %g of the tolerance", most)
		}
	}
}

// Wilson's interval, against values printed in the literature and worked out by
// scipy.stats.binomtest(...).proportion_ci(method="wilson").
func TestWilson(t *testing.T) {
	for _, c := range []struct {
		k, n      int
		low, high float64
	}{{8, 10, 0.4901625, 0.9433178}, {0, 20, 0, 0.1611252}, {81, 263, 0.2552, 0.3662}, {20, 20, 0.8388748, 1}} {
		low, high := batch.Wilson(c.k, c.n)
		if math.Abs(low-c.low) > 1e-4 || math.Abs(high-c.high) > 1e-4 {
			t.Errorf("%d of %d: %.7f to %.7f", c.k, c.n, low, high)
		}
	}
}

// The standard deviations over frequency in all settings have their greatest where the row is widest.
func TestSigmasReachTheWidest(t *testing.T) {
	for _, name := range []string{"siskin", "heron"} {
		b := shipped(t, name)
		for _, r := range b.Batch.Rows {
			most, in := batch.Sigma{}, ""
			for n, x := range r.Spreads {
				if n == 0 && strings.Trim(string(x.C), "\x00") != "" {
					t.Errorf("%s %s: %v is first", name, r.Name, x.C)
				}
				for i, s := range x.Sigmas {
					if s.DB > most.DB {
						most, in = s, string(x.C)
					}
					if i > 0 && s.Hz <= x.Sigmas[i-1].Hz {
						t.Errorf("%s %s: %v Hz after %v Hz", name, r.Name, s.Hz, x.Sigmas[i-1].Hz)
					}
				}
			}
			if most.DB == 0 || most.DB != r.Widest.DB || most.Hz != r.Widest.Hz || in != string(r.Widest.C) {
				t.Errorf("%s %s: %+v in %q, widest %+v", name, r.Name, most, in, r.Widest)
			}
		}
	}
}
