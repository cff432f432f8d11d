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
	const text = "bandwright: 1\nname: lark\nways: {bass: {filters: [{FILTER}]}}\n" +
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
	const low, high = "low-pass: {at: 300 Hz, family: LR, order: 4}", "peak: {at: 21 kHz, gain: 12 dB, q: 8}"
	const fit, allow = "write `method: fit`: tried, that keeps it, or ", "allow promise.magnitude: "
	// The usual method comes first; twice the rate where that does not do, or is what is used.
	for _, c := range []struct {
		limit, filter, method, want string
		fits, doubles               bool
	}{
		{"0.05", low, "bilinear", fit + allow, true, true},
		{"0.01", low, "bilinear", fit + allow, true, false},
		{"0.000000001", low, "bilinear", allow, false, false},
		{"0.000002", high, "fit", "use 96 kHz: tried, that keeps it, or " + allow, false, true},
	} {
		text := strings.NewReplacer("LIMIT", c.limit, "FILTER", c.filter, "bilinear", c.method).Replace(text)
		f := magnitude(text)
		if f.Kept || !strings.Contains(f.Note, "method "+c.method+" breaks it, whatever the number format") || !strings.HasPrefix(f.Remedy, c.want) {
			t.Errorf("%s dB: %+v", c.limit, f)
		}
		if f := magnitude(strings.Replace(text, "48 kHz", "96 kHz", 1)); f.Kept != c.doubles {
			t.Errorf("%s dB at 96 kHz: %+v", c.limit, f)
		}
		if f := magnitude(strings.Replace(text, c.method, "fit", 1)); f.Kept != c.fits {
			t.Errorf("%s dB by fit: %+v", c.limit, f)
		}
	}
}
