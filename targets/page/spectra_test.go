package page_test

import (
	"fmt"
	"math"
	"testing"

	"bandwright/biquad"
	"bandwright/compiler/verify"
)

// ownLine is a line at places of its own, as the script has it in the present settings: NaN is 1e9.
type ownLine struct {
	Kind string
	Way  int
	X, Y []float64
}

// ownLines are those of strips of a kind; attribute says where they keep their place.
func ownLines(t *testing.T, b *browser, kind, attribute string) []ownLine {
	t.Helper()
	place := map[string]string{"own": "window.report.ownOf(l)", "band": "+l.dataset.band"}[attribute]
	return evaluate[[]ownLine](t, b, fmt.Sprintf(`[...document.querySelectorAll('figure:not([hidden]) [data-strip="%s"] path[data-%s]')].map(l => { const s = l.closest("[data-strip]").dataset, o = window.report.own(%s);
		return {Kind: s.strip, Way: +s.way, X: [...o.x], Y: [...o.y].map(v => Number.isNaN(v) ? 1e9 : v)}; })`, kind, attribute, place))
}

// realise picks a digital realisation in the form.
func (b *browser) realise(t *testing.T, made int) {
	t.Helper()
	evaluate[bool](t, b, fmt.Sprintf(`(() => { const s = document.querySelector("#shown [data-made]"); s.value = %d; s.dispatchEvent(new Event("change", {bubbles: true})); return true; })()`, made))
}

// every calls f with every combination of settings, chosen in the page, and then the default one.
func (b *browser) every(t *testing.T, p product, f func(c biquad.Combination)) {
	t.Helper()
	biquad.Each(p.build.Subject().AllAxes, len(p.build.Settings), func(c biquad.Combination) {
		b.choose(t, c)
		f(c)
	})
	b.choose(t, make(biquad.Combination, len(p.build.Settings)))
}

// named is a combination as the index has it.
func named(p product, c biquad.Combination) map[string]string {
	out := map[string]string{}
	for i, s := range p.build.Settings {
		out[s.Name] = s.Choices[c[i]]
	}
	return out
}

// covers says whether a choice of some settings is that of all.
func covers(some, all map[string]string) bool {
	for k, v := range some {
		if all[k] != v {
			return false
		}
	}
	return true
}

// spectra adds every spectrum of noise up to the floor of its realisation, in every combination and realisation, and where
// the index has its worst finds that; the lowest point at which a way of a board clips is what the level plan of the
// index has in that combination; and the band of a batch is as wide as the index says where it is widest.
func spectra(t *testing.T, b *browser, p product) {
	ways, noises, clips := len(p.build.Prototype.Ways), 0, 0
	hit := map[string]bool{}
	b.every(t, p, func(c biquad.Combination) {
		choices := named(p, c)
		made := 0
		for _, d := range p.build.Digital {
			if !d.Asked {
				continue
			}
			b.realise(t, made)
			made++
			for _, l := range ownLines(t, b, "noise", "own") {
				noises++
				sum := 0.0
				for i := 1; i < len(l.X); i++ {
					sum += (l.X[i] - l.X[i-1]) / 2 * (math.Pow(10, l.Y[i]/10) + math.Pow(10, l.Y[i-1]/10))
				}
				got := 10 * math.Log10(sum)
				want := d.Format.NewNoise(d.System, l.Way, d.InputGain, d.RateHz, 20, math.Min(20000, verify.TopOfRate*d.RateHz)).DBFS(c)
				if math.Abs(got-want) > 0.05 {
					t.Errorf("noise of way %d, %s, %v: %.2f dB, want %.2f", l.Way, d.Name(), c, got, want)
				}
				for _, f := range p.index.Figures {
					if f.Realisation == d.Name() && f.Way == p.build.Prototype.Ways[l.Way].Name && covers(f.NoiseDBFS.Setting, choices) {
						hit[fmt.Sprint("noise ", made, " ", l.Way)] = true
						if math.Abs(got-f.NoiseDBFS.Value) > 0.05 {
							t.Errorf("noise of %s, %s: %.2f dB, in the index %.2f", f.Way, d.Name(), got, f.NoiseDBFS.Value)
						}
					}
				}
			}
		}
		for _, l := range ownLines(t, b, "clip", "own") {
			got := math.Inf(1)
			for _, v := range l.Y {
				got = math.Min(got, v)
			}
			for _, plan := range p.index.Board.Ways[l.Way].Levels {
				if !covers(plan.Setting, choices) {
					continue
				}
				clips++
				if want := 20 * math.Log10(plan.ClipV/plan.InputV); math.Abs(got-want) > 0.02 {
					t.Errorf("way %d clips %.3f dB above the input's level with %v, in the index %.3f", l.Way, got, choices, want)
				}
			}
		}
		banded(t, b, p, choices, hit)
	})
	asked, combinations := 0, biquad.Count(p.build.Subject().AllAxes)
	for _, d := range p.build.Digital {
		if d.Asked {
			asked++
		}
	}
	boards, rows := 0, 0
	if p.build.Board != nil {
		boards, rows = 1, len(p.index.Board.Spread.Ways)
	}
	if noises != asked*ways*combinations || clips != boards*ways*combinations || len(hit) != asked*ways+rows {
		t.Errorf("%d lines of noise and %d of clipping, %d figures of the index, in %d combinations", noises, clips, len(hit), combinations)
	}
	if asked > 0 {
		b.realise(t, 0)
	}
}

// banded holds the bands of a batch in the present settings against the index, where it has their greatest.
func banded(t *testing.T, b *browser, p product, choices map[string]string, hit map[string]bool) {
	t.Helper()
	if p.build.Board == nil {
		return
	}
	var bands []ownLine
	for _, kind := range []string{"error", "sum-error"} {
		bands = append(bands, ownLines(t, b, kind, "band")...)
	}
	rows := p.index.Board.Spread.Ways
	if len(bands) != len(rows) {
		t.Fatalf("%d bands of %d rows", len(bands), len(rows))
	}
	for _, l := range bands {
		r := rows[l.Way]
		at := r.Sigma
		if !covers(at.Setting, choices) {
			continue
		}
		hit["spread "+r.Way] = true
		most, hz := 0.0, 0.0
		for i, v := range l.Y {
			if v > most {
				most, hz = v, l.X[i]
			}
		}
		if math.Abs(most-2*at.DB) > 1e-6*most || math.Abs(hz/at.Hz-1) > 1e-6 {
			t.Errorf("band of %s with %v: %v dB at %v Hz, in the index twice %v at %v", r.Way, choices, most, hz, at.DB, at.Hz)
		}
	}
}
