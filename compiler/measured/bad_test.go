package measured

import (
	"flag"
	"math"
	"math/cmplx"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"bandwright/compiler/language"
	"bandwright/compiler/wave"
)

var update = flag.Bool("update", false, "write testdata/faults.txt anew")

// badFiles are those that are refused, by name.
func badFiles(t testing.TB) map[string][]byte {
	t.Helper()
	paths, err := filepath.Glob("testdata/bad/*")
	if err != nil || len(paths) < 30 {
		t.Fatalf("%d files: %v", len(paths), err)
	}
	out := map[string][]byte{}
	for _, p := range paths {
		data, err := os.ReadFile(p)
		if err != nil {
			t.Fatal(err)
		}
		out[filepath.Base(p)] = data
	}
	return out
}

// Every bad file is refused with the accepted words.
func TestBadFiles(t *testing.T) {
	const accepted = "testdata/faults.txt"
	files := badFiles(t)
	var b strings.Builder
	paths, _ := filepath.Glob("testdata/bad/*") // sorted
	for _, p := range paths {
		name := filepath.Base(p)
		r, faults := Read(name, files[name])
		if r != nil || len(faults) == 0 {
			t.Errorf("%s is taken", name)
		}
		for _, f := range faults {
			b.WriteString(f.Error() + "\n")
		}
		b.WriteByte('\n')
	}
	if *update {
		if err := os.WriteFile(accepted, []byte(b.String()), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(accepted)
	if err != nil {
		t.Fatal(err)
	}
	if string(want) != b.String() {
		t.Errorf("the faults are no longer those of %s (-update writes it anew):\n%s", accepted, b.String())
	}
}

// FuzzRead demands of any bytes: no panic; a response or an error, never both; faults at
// places in the file, with words; and a response that is finite everywhere, the same each time.
func FuzzRead(f *testing.F) {
	for _, data := range badFiles(f) {
		f.Add(data)
	}
	h := product(highPass(50, 0.5), lowPass(3000, 0.4))
	f.Add([]byte(written(20, 20000, 3, h, nil)))
	f.Add([]byte(strings.ReplaceAll(written(20, 20000, 6, h, func(f float64) float64 { return -f / 100 }), " ", ", ")))
	f.Add(waved(f, 48000, 1, wave.Words{Bits: 16}, decay(300, 3, 0.9)))
	f.Fuzz(func(t *testing.T, data []byte) {
		start := time.Now()
		r, faults := Read("x", data)
		if d := time.Since(start); d > 2*time.Second {
			t.Fatalf("%d bytes took %v", len(data), d)
		}
		errors := 0
		lines := strings.Split(strings.ReplaceAll(string(data), "\r\n", "\n"), "\n")
		for _, x := range faults {
			if x.Severity == language.Error {
				errors++
			}
			if x.Message == "" || x.Right == "" || x.Pos.Line < 0 || x.Pos.Line > len(lines)+strings.Count(string(data), "\r") || x.Pos.Line > 0 && x.Pos.Col > len([]rune(x.Line))+1 {
				t.Fatalf("%+v", x)
			}
			_ = x.Error()
		}
		if (r == nil) != (errors > 0) {
			t.Fatal(r, faults)
		}
		if r == nil {
			return
		}
		from, to := r.Span()
		if !(from > 0 && to > from && to < 2*mostHz) {
			t.Fatal(from, to)
		}
		again, _ := Read("x", data)
		for _, hz := range []float64{1e-3, 1, from / 2, from, math.Sqrt(from * to), to, to * 3, 1e7} {
			h, s := r.At(hz), r.Under(Conditions{DriveV: 2, DistanceM: 1}).At(hz)
			if !finite(h) || !finite(s) || again.At(hz) != h {
				t.Fatal(hz, h, s)
			}
		}
	})
}

// finite is whether a response may be shown to anybody.
func finite(h complex128) bool { return !cmplx.IsNaN(h) && !cmplx.IsInf(h) }
