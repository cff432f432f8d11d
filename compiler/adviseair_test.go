package compiler

import (
	"context"
	"testing"

	"bandwright/compiler/acoustic"
	"bandwright/compiler/language"
	"bandwright/compiler/verify"
)

// What high-passes break is said of each, and a promise that is broken already counts where it is further broken than before.
func TestHighPassesThatBreakAreNamed(t *testing.T) {
	finding := func(promise, way string, worst float64) verify.Finding {
		return verify.Finding{Promise: promise, About: promise + " of " + way, Realisation: "board", Way: way, Limit: 1, Worst: worst, Kept: worst <= 1}
	}
	spec := &language.Spec{Ways: []language.Way{{Name: "bass", Filters: make([]language.Filter, 1)}}}
	high := []acoustic.HighPass{{Order: 1, AtHz: 20}, {Order: 2, AtHz: 30}, {Order: 3, AtHz: 31}, {Order: 4, AtHz: 32}}
	moves, holds := finding("excursion", "bass", 2), finding("excursion", "bass", 1)
	for _, c := range []struct {
		noise, dc [4]float64 // with each, where they were 0.5 and 2
		want      string
	}{
		{[4]float64{2, 2, 0.5, 0.5}, [4]float64{2, 2, 3, 2.04}, ", or with a fourth-order high-pass at 32 Hz behind its other filters"},
		{[4]float64{2, 2, 0.5, 0.5}, [4]float64{2, 2, 3, 2.2}, "; each high-pass that was tried and keeps it breaks another promise, or one further, with a second-order high-pass at 30 Hz: noise of bass (board); " +
			"with a third-order high-pass at 31 Hz, a fourth-order high-pass at 32 Hz: dc of bass (board)"},
	} {
		a := airTrials{Build: &Build{}, tried: map[string][]verify.Finding{}}
		a.Spec, a.Findings = spec, []verify.Finding{moves, finding("noise", "bass", 0.5), finding("dc", "bass", 2)}
		for i, h := range high {
			found := []verify.Finding{holds, finding("noise", "bass", c.noise[i]), finding("dc", "bass", c.dc[i])}
			if i == 0 { // which does not keep it, wherever its corner is
				found[0] = moves
			}
			for range mostNudges + 1 {
				for _, front := range []bool{false, true} {
					a.tried[a.key(0, h, front)] = found
				}
				h.AtHz = next(h.AtHz)
			}
		}
		if got := a.highPass(context.Background(), "excursion", 0, high); got != c.want {
			t.Errorf("%q, want %q", got, c.want)
		}
	}
}
