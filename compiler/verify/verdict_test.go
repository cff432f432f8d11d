package verify_test

import (
	"context"
	"math"
	"strings"
	"testing"

	"bandwright/compiler/digital"
	"bandwright/compiler/verify"
	"bandwright/compiler/words"
)

// The worst check of a promise is the one furthest on the wrong side, and a
// verdict counts what it says.
func TestVerdict(t *testing.T) {
	proto := twoWay(2300)
	var findings []verify.Finding
	var figures []verify.Figures
	for _, name := range []string{"one", "other"} {
		dig := realised(t, proto)
		dig.Ways[1].Gain *= 1 + 0.01*float64(len(name))
		f, g := verify.Judge(context.Background(), subject(proto), digital.New(name, dig, rate, 0, digital.Traits{Gain: 1}), all(0.1, 90, 60))
		figures, findings = append(figures, f...), append(findings, g...)
	}
	v := verify.VerdictOn(findings)
	names, broken := map[string]bool{}, 0
	for _, p := range v.Promises {
		names[p.Promise] = true
		checks, fails := 0, 0
		for _, f := range findings {
			if f.Promise != p.Promise {
				continue
			}
			checks++
			if !f.Kept {
				fails++
			}
			if f.LessIsWorse && f.Worst < p.Worst.Worst || !f.LessIsWorse && f.Worst > p.Worst.Worst {
				t.Errorf("%s: %v is worse than %v", p.Promise, f, p.Worst)
			}
		}
		broken += fails
		if checks != p.Checks || fails != p.Fails || p.Kept() != (fails == 0) {
			t.Errorf("%s: %d of %d, counted %d of %d", p.Promise, p.Fails, p.Checks, fails, checks)
		}
	}
	if len(names) != 6 || !names["stability"] || broken == 0 || verify.Kept(findings) {
		t.Errorf("%d broken of %v", broken, names)
	}
	told := 0
	for _, b := range v.Breaks {
		told += len(b.Findings)
	}
	if told != broken || !strings.HasPrefix(v.String(), "BROKEN: ") {
		t.Errorf("%d of %d told: %s", told, broken, v)
	}
	if checks, fails := v.Of("other", "high"); checks != 5 || fails != 1 {
		t.Errorf("%d checks of the treble, %d failed", checks, fails)
	}
	way, worst := verify.WorstTopOctave(verify.Of(figures, "one"))
	for _, f := range verify.Of(figures, "one") {
		if f.TopOctave.Known && math.Abs(f.TopOctave.Value) > math.Abs(worst.Value) {
			t.Errorf("%s is worse than %s", f.Way, way)
		}
	}
	if !worst.Known || worst.AtHz < 10000 {
		t.Errorf("top octave: %v", worst)
	}
}

// What breaks a promise by little does not read as if it kept it.
func TestBrokenByLittle(t *testing.T) {
	f := verify.Finding{About: "headroom of low", Unit: words.DBFS, Worst: 0.0004, AtHz: 100, Realisation: "digital", Of: 1}
	if got := f.Head() + ": " + f.Where(); got != "headroom of low, 0 dBFS allowed: +0.0004 dBFS at 100 Hz, digital" {
		t.Error(got)
	}
	f.Kept, f.Limit = true, 0.0004
	if got := f.WorstText(); got != "0 dBFS" {
		t.Error(got)
	}
}
