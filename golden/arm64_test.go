package golden

import (
	"bytes"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"bandwright/compiler/result"
)

const (
	// closedWithin is how far coefficients in closed form may differ, relative
	// to 1 or their own size, on a processor that fuses products and sums: a
	// few thousand roundings.
	closedWithin = 1e-12
	// fittedWithin is how far the response of a fit may differ (dB): its last
	// steps depend on every rounding before, and end where the error no longer
	// changes in the ninth digit.
	fittedWithin = 1e-6
)

// On an arm64 processor, whose Go fuses products and sums, the compiler makes
// the same choices and keeps the same promises; coefficients in closed form
// agree to twelve digits, fits in what can be told of their response, and a board
// has the same parts.
func TestArm64Agrees(t *testing.T) {
	dir := t.TempDir()
	binary := filepath.Join(dir, "emulated")
	// Everything is compiled for this alone: what a debugger would need is left out.
	build := exec.Command("go", "build", "-gcflags=all=-dwarf=false", "-ldflags=-w", "-o", binary, "./testdata/emulated")
	build.Env = append(os.Environ(), "CGO_ENABLED=0", "GOOS=linux", "GOARCH=arm64")
	if out, err := build.CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	if _, err := exec.LookPath("qemu-aarch64"); err != nil {
		t.Fatal(err, "(Debian package qemu-user)")
	}
	there := func(path string) *result.Result {
		run := exec.Command("qemu-aarch64", binary, path)
		var problems bytes.Buffer
		run.Stderr = &problems
		data, err := run.Output()
		if err != nil {
			t.Fatalf("%s: %v\n%s", path, err, problems.String())
		}
		r, err := result.Read(data)
		if err != nil {
			t.Fatal(err)
		}
		return r
	}
	digital := withoutBoard(t, shippedSpec(t, "dabchick"))
	for name, src := range map[string]string{
		"fit":               digital,
		"magnitude-matched": strings.Replace(digital, "digital:\n", "digital:\n  method: magnitude-matched\n", 1),
		"bilinear":          strings.Replace(digital, "digital:\n", "digital:\n  method: bilinear\n", 1),
	} {
		path := filepath.Join(dir, name+".yaml")
		write(t, path, []byte(src))
		arm, here := there(path), result.Of(compileText(t, name, src))
		if here.Digital[0].Method != name || arm.Digital[0].Method != name {
			t.Fatalf("%s: methods %s and %s", name, here.Digital[0].Method, arm.Digital[0].Method)
		}
		agree(t, name, here, arm, name != "fit")
	}
	b, _ := compile(t, "../specs/siskin.yaml")
	here, arm := result.Of(b), there("../specs/siskin.yaml")
	alike(t, here.Board, arm.Board)
	agreeOnFindings(t, "siskin", here, arm)
}

// alike demands of two boards that every stage is the same, of the same parts, but for figures that
// are worked out from those.
func alike(t *testing.T, a, b *result.Board) {
	t.Helper()
	parts := 0
	chains := func(b *result.Board) (names []string, stages [][]result.Stage, ends [][]result.EndPart) {
		names, stages, ends = []string{"common"}, [][]result.Stage{b.Common.Stages}, [][]result.EndPart{b.Common.Ends}
		for _, w := range b.Ways {
			names, stages, ends = append(names, w.Way), append(stages, w.Stages), append(ends, w.Ends)
		}
		return names, stages, ends
	}
	names, stages, ends := chains(a)
	others, theirs, theirEnds := chains(b)
	if !reflect.DeepEqual(names, others) || !reflect.DeepEqual(ends, theirEnds) || !reflect.DeepEqual(a.Packages, b.Packages) {
		t.Fatalf("the boards have other ways, ends or packages:\n%v\n%v", a, b)
	}
	for i, name := range names {
		if len(stages[i]) != len(theirs[i]) {
			t.Fatalf("%s: %d and %d stages", name, len(stages[i]), len(theirs[i]))
		}
		for k, s := range stages[i] {
			o := theirs[i][k]
			if s.Topology != o.Topology || s.Filter != o.Filter || s.Role != o.Role || !reflect.DeepEqual(s.Parts, o.Parts) {
				t.Errorf("%s: stage %d is %+v here, %+v on arm64", name, k+1, s, o)
			}
			parts += len(s.Parts)
		}
	}
	if parts < 40 {
		t.Errorf("only %d parts were compared", parts)
	}
}

// agree compares two results of one spec.
func agree(t *testing.T, name string, a, b *result.Result, closed bool) {
	t.Helper()
	if len(a.Digital) != len(b.Digital) {
		t.Fatalf("%s: %d and %d realisations", name, len(a.Digital), len(b.Digital))
	}
	compared := 0
	number := func(what string, x, y float64) {
		compared++
		if !(math.Abs(x-y) <= closedWithin*math.Max(1, math.Abs(x))) {
			t.Errorf("%s: %s is %v here, %v on arm64", name, what, x, y)
		}
	}
	for i, d := range a.Digital {
		e := b.Digital[i]
		if d.RateHz != e.RateHz || d.Format != e.Format || len(d.Ways) != len(e.Ways) {
			t.Fatalf("%s: %v and %v", name, d, e)
		}
		number("the input gain", d.InputGain, e.InputGain)
		sections := func(what string, p, q []result.Section) {
			if len(p) != len(q) {
				t.Fatalf("%s, %s: %d and %d sections", name, what, len(p), len(q))
			}
			for k, s := range p {
				if s.Filter != q[k].Filter || s.Form != q[k].Form || s.Position != q[k].Position || !reflect.DeepEqual(s.When, q[k].When) {
					t.Errorf("%s, %s: section %d is %+v here, %+v on arm64", name, what, k, s, q[k])
				}
				for j := range s.B {
					if closed {
						number("b of "+s.Filter, s.B[j], q[k].B[j])
						number("a of "+s.Filter, s.A[j], q[k].A[j])
					}
				}
			}
		}
		sections("common", d.Common.Sections, e.Common.Sections)
		for k, w := range d.Ways {
			v := e.Ways[k]
			if w.Way != v.Way || w.Polarity != v.Polarity || w.DelaySamples != v.DelaySamples {
				t.Errorf("%s: %s and %s, polarity %d and %d, %d and %d samples", name, w.Way, v.Way, w.Polarity, v.Polarity, w.DelaySamples, v.DelaySamples)
			}
			sections(w.Way, w.Sections, v.Sections)
			if closed {
				number("the gain of "+w.Way, w.Gain, v.Gain)
			}
			if db, hz, _ := change(d, w, e, v, a.Settings); db > fittedWithin {
				t.Errorf("%s, %v Hz: %s differs by %v dB at %v Hz", name, d.RateHz, w.Way, db, hz)
			}
		}
	}
	if compared < 6 || closed && compared < 300 {
		t.Errorf("%s: only %d numbers were compared", name, compared)
	}
	agreeOnFindings(t, name, a, b)
}

// agreeOnFindings demands that the same is kept and broken, in as many combinations.
func agreeOnFindings(t *testing.T, name string, a, b *result.Result) {
	t.Helper()
	if len(a.Findings) != len(b.Findings) || len(a.Findings) == 0 {
		t.Fatalf("%s: %d and %d findings", name, len(a.Findings), len(b.Findings))
	}
	for i, f := range a.Findings {
		g := b.Findings[i]
		if f.Promise != g.Promise || f.Realisation != g.Realisation || f.Way != g.Way || f.Kept != g.Kept || f.Broken != g.Broken || f.Of != g.Of {
			t.Errorf("%s: here %+v, on arm64 %+v", name, f, g)
		}
	}
}
