package compiler

import (
	"context"
	"strings"
	"testing"

	"bandwright/compiler/verify"
)

// What the words of a format alone break is told as that, and the formats that are named keep it.
func TestRoundingIsToldAsRounding(t *testing.T) {
	const text = "bandwright: 1\nname: lark\nways: {bass: {filters: [{high-pass: {at: 30 Hz, q: 0.8}}]}}\n" +
		"digital: {rates: [192 kHz], formats: [float32], method: bilinear}\npromise: {magnitude: 1 dB, headroom: off, noise: -140 dBFS}\n"
	noise := func(text string) verify.Finding {
		t.Helper()
		b, faults, err := Compile(context.Background(), "lark.yaml", []byte(text), nil)
		if b == nil || err != nil {
			t.Fatal(faults, err)
		}
		for _, f := range b.Findings {
			if f.Promise == "noise" {
				return f
			}
		}
		t.Fatal("no finding on noise")
		return verify.Finding{}
	}
	f := noise(text)
	if f.Kept || !strings.Contains(f.Note, "rounding to the words of `float32` alone breaks it") || !strings.Contains(f.Remedy, "write `float64`, `q31` or `q23`") {
		t.Errorf("%+v", f)
	}
	for _, format := range []string{"float64", "q31", "q23"} {
		if f := noise(strings.Replace(text, "float32", format, 1)); !f.Kept {
			t.Errorf("%s: %+v", format, f)
		}
	}
}

// What a method breaks in any number format is told as that; the usual method and twice the rate are named where they keep it.
func TestOtherMethodsAndRatesAreTried(t *testing.T) {
	const text = "bandwright: 1\nname: lark\nways: {bass: {filters: [{low-pass: {at: 300 Hz, family: LR, order: 4}}]}}\n" +
		"digital: {rates: [48 kHz], formats: [float32], method: bilinear}\npromise: {magnitude: LIMIT dB}\n"
	magnitude := func(text string) verify.Finding {
		t.Helper()
		b, faults, err := Compile(context.Background(), "lark.yaml", []byte(text), nil)
		if b == nil || err != nil {
			t.Fatal(faults, err)
		}
		for _, f := range b.Findings {
			if f.Promise == "magnitude" {
				return f
			}
		}
		t.Fatal("no finding on magnitude")
		return verify.Finding{}
	}
	const fit, allow = "write `method: fit`: tried, that keeps it, or ", "allow promise.magnitude: "
	const use = fit + "use 96 kHz: tried, that keeps it, or " + allow
	for limit, want := range map[string]string{"0.05": use, "0.01": fit + allow, "0.000000001": allow} {
		text := strings.Replace(text, "LIMIT", limit, 1)
		f, doubled := magnitude(text), magnitude(strings.Replace(text, "48 kHz", "96 kHz", 1))
		if f.Kept || !strings.Contains(f.Note, "method bilinear breaks it, whatever the number format") || !strings.HasPrefix(f.Remedy, want) {
			t.Errorf("%s dB: %+v", limit, f)
		}
		if doubled.Kept != (want == use) {
			t.Errorf("%s dB at 96 kHz: %+v", limit, doubled)
		}
		if f := magnitude(strings.Replace(text, "bilinear", "fit", 1)); f.Kept != (want != allow) {
			t.Errorf("%s dB by fit: %+v", limit, f)
		}
	}
}
