package compiler_test

import (
	"fmt"
	"math"
	"math/cmplx"
	"os"
	"regexp"
	"strings"
	"testing"

	"bandwright/compiler"
	"bandwright/compiler/acoustic"
	"bandwright/compiler/verify"
)

// specOf is a shipped spec at one rate in one format; without: its board is taken out.
func specOf(t *testing.T, name string, without bool) string {
	t.Helper()
	src, err := os.ReadFile("../specs/" + name + ".yaml")
	if err != nil {
		t.Fatal(err)
	}
	text := strings.NewReplacer("rates: [48 kHz, 96 kHz]", "rates: [48 kHz]", "formats: [float32, float64]", "formats: [float64]").Replace(string(src))
	if without {
		text = regexp.MustCompile(`(?s)\nboard:.*`).ReplaceAllString(text, "\n")
	}
	return text
}

// responsesOf are the volts before the amplifiers of each way of a realisation, for full scale.
func responsesOf(b *compiler.Build, r verify.Realisation, c verify.Combination, full, hz float64) []complex128 {
	out := make([]complex128, len(b.Air.System.Ways))
	for k := range out {
		h := make([]complex128, 1)
		r.Near([]float64{hz}).Response(h, k, c)
		out[k] = h[0] * complex(full, 0)
	}
	return out
}

// In each combination of heron's settings, of prototype, digital filters and board, all ways
// together are what comes of adding up each way's response times its drivers' pressure, one by one; what limits
// them is the nearest of each way's limits; and power is the plain sum over each degree of the sphere's
// rings, ∫|p|²·sinθ dθ/2.
func TestToldInEachSetting(t *testing.T) {
	b := ofDrivers(t, specOf(t, "heron", false))
	hz, _ := b.Air.Shown()
	for n, h := range b.Air.Heard {
		r, full := verify.Realisation(verify.NewIdeal(b.Prototype)), b.Spec.FullScaleV*math.Pow(10, -b.Spec.Digital.HeadroomDB/20)
		switch n {
		case 1:
			r = b.Realisation(b.Digital[0])
		case 2:
			r, full = b.Board, 2 // of its input
		}
		if len(h.Settings) != 12 || h.Realisation != r.Name() {
			t.Fatalf("%s: %d settings", h.Realisation, len(h.Settings))
		}
		for j, s := range h.Settings {
			for _, i := range [][]int{{3, 17}, {33, 52}, {66, 21}, {40, 12}}[j%4] {
				v := responsesOf(b, r, s.C, full, hz[i])
				sum, part, by := complex(0, 0), 1.0, acoustic.FullScale
				for k := range v {
					w := &b.Air.System.Ways[k]
					sum += v[k] * w.Pressure(hz[i], 0)
					ask := func(what string, is, limit float64) {
						if limit > 0 && limit/is < part {
							part, by = limit/is, w.Name+" "+what
						}
					}
					if m, ok := w.Source.(*acoustic.Mounted); ok {
						ask("excursion", math.Sqrt2*cmplx.Abs(v[k]*m.Excursion(hz[i]))*w.Gain, m.ExcursionM())
						ask("amperes", cmplx.Abs(v[k]/m.Impedance(hz[i]))*w.Gain, w.LimitA)
					}
					ask("volts", cmplx.Abs(v[k])*w.Gain, w.LimitV)
				}
				db := 20 * math.Log10(cmplx.Abs(sum)/20e-6)
				if math.Abs(s.SumDB[i]-db) > 1e-6 || math.Abs(s.MaximumDB[i]-db-20*math.Log10(part)) > 1e-6 || s.By[i] != by {
					t.Errorf("%s, %v, %.1f Hz: %.4f and %.4f dB by %s, instead of %.4f and %.4f dB by %s", h.Realisation, s.With, hz[i], s.SumDB[i], s.MaximumDB[i], s.By[i], db, db+20*math.Log10(part), by)
				}
				power := 0.0
				for a := 0.5; a < 180; a++ {
					var p complex128
					for k := range v {
						p += v[k] * b.Air.System.Ways[k].Pressure(hz[i], a)
					}
					power += real(p*cmplx.Conj(p)) * math.Sin(a*math.Pi/180) * math.Pi / 360
				}
				if want := 10 * math.Log10(power/400e-12); math.Abs(s.PowerDB[i]-want) > 0.01 || math.Abs(s.IndexDB[i]-(db-want)) > 0.01 {
					t.Errorf("%s, %v, %.1f Hz: %.3f dB to all sides, %.3f dB by rings", h.Realisation, s.With, hz[i], s.PowerDB[i], want)
				}
			}
		}
		toldOfWays(t, b, r, full, h)
		meetings(t, b, r, h)
	}
	if x := b.Air.Heard[1].Apart(b.Air.Heard[0]); !(x > 0) || x > 0.02 {
		t.Errorf("digital filters are %g dB apart from the prototype", x)
	}
	if x := b.Air.Heard[2].Apart(b.Air.Heard[0]); x < 5.8 || x > 6.5 {
		t.Errorf("the board, whose full scale is 6 dB more, is %g dB apart from the prototype", x)
	}
}

// toldOfWays looks at the levels of ways in their own settings.
func toldOfWays(t *testing.T, b *compiler.Build, r verify.Realisation, full float64, h *acoustic.Heard) {
	t.Helper()
	hz, _ := b.Air.Shown()
	for k, w := range h.Ways {
		for _, s := range w.Settings {
			for _, i := range []int{10, 40, 70} {
				want := math.Max(0, 20*math.Log10(cmplx.Abs(responsesOf(b, r, s.C, full, hz[i])[k]*b.Air.System.Ways[k].Pressure(hz[i], 0))/20e-6))
				if math.Abs(s.LevelDB[i]-want) > 1e-6 {
					t.Errorf("%s, %s, %v, %.1f Hz: %g instead of %g dB", h.Realisation, w.Way, s.With, hz[i], s.LevelDB[i], want)
				}
			}
		}
	}
}

// meetings are where neighbours are as loud as each other, within what is told, and what is told beside
// the axis is what the drivers have there.
func meetings(t *testing.T, b *compiler.Build, r verify.Realisation, h *acoustic.Heard) {
	t.Helper()
	ways := b.Air.System.Ways
	if len(h.Crossed) != 2 || len(h.Crossed[1].With) != 1 || h.Crossed[1].With[0].Choice != "-1.5 dB" || h.Crossed[0].Meetings[1].Hz > h.Crossed[1].Meetings[1].Hz/1.01 {
		t.Errorf("%s: %+v", h.Realisation, h.Crossed)
	}
	for _, c := range h.Crossed {
		for k, m := range c.Meetings {
			v := responsesOf(b, r, c.C, 1, m.Hz)
			on := func(way int, a float64) float64 {
				return 20 * math.Log10(cmplx.Abs(v[way]*ways[way].Pressure(m.Hz, a)))
			}
			if apart := on(k, 0) - on(k+1, 0); math.Abs(apart) > 0.02 {
				t.Errorf("%s, %v: %s and %s are %g dB apart at %g Hz", h.Realisation, c.With, m.Lower, m.Upper, apart, m.Hz)
			}
			for i, a := range acoustic.Angles {
				if want := (on(k+1, a) - on(k+1, 0)) - (on(k, a) - on(k, 0)); math.Abs(m.MismatchDB[i]-want) > 1e-9 {
					t.Errorf("%s, %g degrees: %g instead of %g dB", h.Realisation, a, m.MismatchDB[i], want)
				}
			}
		}
	}
}

// Of more than 24 combinations the default is told and each choice by itself; strains are those
// of all, and a promise on patterns is judged in each that moves where ways meet.
func TestToldOfManySettings(t *testing.T) {
	src := strings.NewReplacer("treble-trim: [0 dB, -1.5 dB]", "treble-trim: [0 dB, -1.5 dB]\n  shelf: [a, b, c]", "gain: {by: -1.5 dB, when: {treble-trim: -1.5 dB}}",
		"gain: {by: -6 dB, when: {treble-trim: -1.5 dB}}\n      - gain: {by: 1 dB, when: {shelf: b}}\n      - gain: {by: 2 dB, when: {shelf: c}}",
		"promise:\n", "promise:\n  pattern: 5.4 dB\n").Replace(specOf(t, "heron", true))
	b := ofDrivers(t, src)
	for n, h := range b.Air.Heard {
		if len(h.Settings) != 7 || len(h.Ways[2].Settings) != 36 || h.Ways[2].Settings[35].LevelDB != nil || h.Ways[2].Settings[0].LevelDB == nil || len(h.Ways[0].Settings[5].LevelDB) == 0 {
			t.Errorf("%d settings, %d of the treble", len(h.Settings), len(h.Ways[2].Settings))
		}
		var found []verify.Finding
		for _, f := range b.Findings {
			if f.Promise == "pattern" && f.Realisation == h.Realisation {
				found = append(found, f)
			}
		}
		if len(found) != 2 {
			t.Fatalf("%+v", found)
		}
		low, high := found[0], found[1]
		if low.Way != "bass+mid" || low.Of != 6 || low.Broken != 6 || low.Kept || !strings.HasSuffix(low.Note, "; the drivers of mid count as one place") {
			t.Errorf("%d: %+v", n, low)
		}
		worst, broken := 0.0, 0
		for _, c := range h.Crossed {
			x := 0.0
			for _, db := range c.Meetings[1].MismatchDB {
				x = math.Max(x, math.Abs(db))
			}
			if worst = math.Max(worst, x); x > 5.4 {
				broken++
			}
		}
		if high.Of != 6 || high.Broken != broken || broken == 0 || broken == 6 || math.Abs(high.Worst-worst) > 1e-6 || fmt.Sprint(high.With) != "[{treble-trim 0 dB} {shelf c}]" {
			t.Errorf("%d: %+v, %d broken", n, high, broken)
		}
	}
}
