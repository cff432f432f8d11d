package compiler

import (
	"context"
	"math"
	"math/rand"
	"os"
	"regexp"
	"strings"
	"testing"

	"bandwright/biquad"
	"bandwright/biquad/number"
	"bandwright/compiler/language"
)

var formatsAsked = regexp.MustCompile(`formats: \[[^]]*\]`)

// fixedPoint are the specs below, each made once.
var fixedPoint = map[string]*Build{}

// inFixedPoint is a shipped spec's digital side in the fixed-point formats.
func inFixedPoint(t *testing.T, name string) *Build {
	t.Helper()
	if b := fixedPoint[name]; b != nil {
		return b
	}
	src, err := os.ReadFile("../specs/" + name + ".yaml")
	if err != nil {
		t.Fatal(err)
	}
	b, faults, err := Filters(context.Background(), name, formatsAsked.ReplaceAll(src, []byte("formats: [q31, q23]")), os.DirFS("../specs"))
	if err != nil || b == nil {
		t.Fatal(err, faults)
	}
	fixedPoint[name] = b
	return b
}

// The large specs promise a noise of -110 dBFS, and keep that in fixed point in every
// combination of settings at every rate. records are the worst noise (dBFS), mostly of making the samples
// of q23, and the guard bits: better ones are to be written down.
func TestFixedPointKeepsTheNoise(t *testing.T) {
	const promised = -110
	records := map[string]struct {
		worst float64
		guard int
	}{"heron": {-146.7, 2}, "dabchick": {-146.1, 2}, "bittern": {-145.6, 2}}
	for name, record := range records {
		b := inFixedPoint(t, name)
		n, worst, guard := 0, math.Inf(-1), 0
		for _, d := range b.Digital {
			if d.Format.GuardBits == 0 {
				continue
			}
			guard = max(guard, d.Format.GuardBits)
			for k := range d.System.Ways {
				noise := d.Format.NewNoise(d.System, k, d.InputGain, d.RateHz, 20, math.Min(20000, 0.46*d.RateHz))
				biquad.Each(biquad.Axes(d.System.Path(k)), len(b.Settings), func(c biquad.Combination) {
					n++
					db := noise.DBFS(c)
					if worst = math.Max(worst, db); db > promised {
						t.Errorf("%s, %s, way %d, %v: %.1f dBFS", name, d.Name(), k, c, db)
					}
				})
			}
		}
		if n < 4 {
			t.Errorf("%s: %d cases", name, n)
		}
		if math.Abs(worst-record.worst) > 0.15 || guard != record.guard {
			t.Errorf("%s: %d cases, the worst %.1f dBFS, up to %d guard bits; recorded are %.1f dBFS and %d", name, n, worst, guard, record.worst, record.guard)
		}
	}
}

// Nothing wraps in the large specs either: full-scale sines, squares and noise, while
// settings change, give what the same words in double precision give, limited to full
// scale.
func TestFixedPointNeverWraps(t *testing.T) {
	const samples = 1 << 13
	r := rand.New(rand.NewSource(9))
	reference, _ := formatNamed("float64")
	for _, name := range []string{"heron", "dabchick", "bittern"} {
		b := inFixedPoint(t, name)
		choices := make([]int, len(b.Settings))
		for i, s := range b.Settings {
			choices[i] = len(s.Choices)
		}
		for _, d := range b.Digital[:2] {
			if d.Format.Name != "q31" {
				continue
			}
			x := d.Format.NewMachine(d.System, d.InputGain, d.RateHz, b.Spec.Digital.FadeS, choices)
			y := reference.NewMachine(d.System, d.InputGain, d.RateHz, b.Spec.Digital.FadeS, choices)
			for i := range 12 {
				c := make(biquad.Combination, len(choices))
				for k, n := range choices {
					c[k] = uint8(r.Intn(n))
				}
				x.Set(c)
				y.Set(c)
				in := make([]float64, samples)
				hz := 25 * math.Exp2(9.4*r.Float64())
				for k := range in {
					v := math.Sin(2 * math.Pi * hz / d.RateHz * float64(k))
					switch i % 3 {
					case 1:
						v = math.Copysign(1, v)
					case 2:
						v = math.Copysign(1, r.Float64()-0.5)
					}
					in[k] = v
				}
				got, want := x.Run(in), y.Run(in)
				for w := range got {
					for k, v := range got[w] {
						if e := math.Abs(v - math.Max(-1, math.Min(1, want[w][k]))); e > 1e-5 {
							t.Fatalf("%s, %s, way %d, sample %d: %g, want %g", name, d.Name(), w, k, v, want[w][k])
						}
					}
				}
			}
		}
	}
}

func formatNamed(name string) (number.Format, bool) {
	for _, f := range number.Formats {
		if f.Name == name {
			return f, true
		}
	}
	return number.Format{}, false
}

// Where a way's own gain goes beyond full scale the finding says that it is clipped there,
// at which level and frequency, and which headroom would do; with that it is kept.
func TestFixedPointTellsSaturation(t *testing.T) {
	const spec = `bandwright: 1
name: knot
title: Knot, a boost (invented)
ways:
  only: {filters: [{peak: {at: 100 Hz, q: 2, gain: 9 dB}}]}
promise: {headroom: 0 dB}
digital: {rates: [48 kHz], formats: [q31]HEADROOM}
`
	compile := func(headroom string) *Build {
		b, faults, err := Compile(context.Background(), "knot.yaml", []byte(strings.Replace(spec, "HEADROOM", headroom, 1)), nil)
		if err != nil || b == nil {
			t.Fatal(err, faults)
		}
		for _, f := range faults {
			if f.Severity == language.Error {
				t.Fatal(f)
			}
		}
		return b
	}
	kept := func(b *Build) bool {
		for _, f := range b.Findings {
			if f.Promise != "headroom" {
				continue
			}
			if !f.Kept && (math.Abs(f.Worst-9) > 0.01 || math.Abs(f.AtHz-100) > 1 || !strings.Contains(f.Note, "saturate") ||
				!strings.Contains(f.Remedy, "digital.headroom: 9")) {
				t.Errorf("the finding says %+v", f)
			}
			return f.Kept
		}
		t.Fatal("no finding of headroom")
		return false
	}
	if kept(compile("")) {
		t.Error("9 dB above full scale is kept")
	}
	if !kept(compile(", headroom: 9.1 dB")) {
		t.Error("9.1 dB of headroom are not enough for 9 dB")
	}
}
