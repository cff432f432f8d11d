package golden

import (
	"errors"
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

// On an arm64 processor, whose Go fuses products and sums, the program makes
// the same choices and keeps the same promises; coefficients in closed form
// agree to twelve digits, fits in what can be told of their response.
func TestArm64Agrees(t *testing.T) {
	dir := t.TempDir()
	binary := filepath.Join(dir, "bandwright")
	build := exec.Command("go", "build", "-o", binary, "../cmd/bandwright")
	build.Env = append(os.Environ(), "CGO_ENABLED=0", "GOOS=linux", "GOARCH=arm64")
	if out, err := build.CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	if _, err := exec.LookPath("qemu-aarch64"); err != nil {
		t.Fatal(err, "(Debian package qemu-user)")
	}
	fitted := shippedSpec(t, "dabchick")
	digital := withoutBoard(t, fitted)
	for name, src := range map[string]string{
		"fit":               fitted,
		"magnitude-matched": strings.Replace(digital, "digital:\n", "digital:\n  method: magnitude-matched\n", 1),
		"bilinear":          strings.Replace(digital, "digital:\n", "digital:\n  method: bilinear\n", 1),
	} {
		path := filepath.Join(dir, name+".yaml")
		if err := os.WriteFile(path, []byte(src), 0o666); err != nil {
			t.Fatal(err)
		}
		run := exec.Command("qemu-aarch64", binary, "compile", path, "-o", filepath.Join(dir, name))
		out, err := run.CombinedOutput()
		var exit *exec.ExitError
		if errors.As(err, &exit) && exit.ExitCode() == 1 {
			err = nil // a broken promise is an answer as well
		}
		if err != nil {
			t.Fatalf("%s: %v\n%s", name, err, out)
		}
		data, err := os.ReadFile(filepath.Join(dir, name, "dabchick.json"))
		if err != nil {
			t.Fatal(err)
		}
		arm, err := result.Read(data)
		if err != nil {
			t.Fatal(err)
		}
		here := result.Of(compileText(t, name, src))
		if here.Digital[0].Method != name || arm.Digital[0].Method != name {
			t.Fatalf("%s: methods %s and %s", name, here.Digital[0].Method, arm.Digital[0].Method)
		}
		agree(t, name, here, arm, name != "fit")
	}
}

// agree compares two results of one spec.
func agree(t *testing.T, name string, a, b *result.Result, closed bool) {
	t.Helper()
	if len(a.Digital) != len(b.Digital) || len(a.Findings) != len(b.Findings) {
		t.Fatalf("%s: %d and %d realisations, %d and %d findings", name, len(a.Digital), len(b.Digital), len(a.Findings), len(b.Findings))
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
	for i, f := range a.Findings {
		g := b.Findings[i]
		if f.Promise != g.Promise || f.Realisation != g.Realisation || f.Way != g.Way || f.Kept != g.Kept || f.Broken != g.Broken || f.Of != g.Of {
			t.Errorf("%s: here %+v, on arm64 %+v", name, f, g)
		}
	}
	if compared < 6 || closed && compared < 300 {
		t.Errorf("%s: only %d numbers were compared", name, compared)
	}
}
