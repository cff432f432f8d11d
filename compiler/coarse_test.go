package compiler

import (
	"context"
	"fmt"
	"os"
	"strings"
	"testing"

	"bandwright/compiler/language"
)

// Narrow peaks at low frequencies and a high rate are beyond what words of fixed point hold as well as all else: the
// spec is warned, at the way that they stand in, and keeps its promises. At 48 kHz, and of
// the shipped spec in fixed point, nothing is said.
func TestCoarseSectionsAreTold(t *testing.T) {
	of := func(rate string) (out []language.Fault) {
		spec := "bandwright: 1\nname: narrow\nways:\n  only:\n    filters:\n"
		for i := range 6 {
			spec += fmt.Sprintf("      - peak: {at: %d Hz, q: 21, gain: %d dB}\n", 20+4*i, 6-12*(i%2))
		}
		spec += "digital: {rates: [" + rate + "], formats: [float32, q31, q23], headroom: 20 dB}\n"
		b, faults, err := Compile(context.Background(), "narrow.yaml", []byte(spec), nil)
		if err != nil || b == nil {
			t.Fatal(err, faults)
		}
		return faults
	}
	if got := of("48 kHz"); len(got) != 0 {
		t.Errorf("at 48 kHz: %+v", got)
	}
	got := of("192 kHz")
	if len(got) != 1 || got[0].Severity != language.Warning || got[0].Pos.Line != 4 || !strings.Contains(got[0].Message, "at 192 kHz a section with poles at ") ||
		!strings.Contains(got[0].Right, "in `float64` the worst section is -") {
		t.Errorf("at 192 kHz: %+v", got)
	}
	src, err := os.ReadFile("../specs/wagtail.yaml")
	if err != nil {
		t.Fatal(err)
	}
	if b, faults, err := Filters(context.Background(), "wagtail.yaml", src, os.DirFS("../specs")); err != nil || b == nil || len(b.coarse()) != 0 {
		t.Errorf("wagtail: %v %+v", err, faults)
	}
}
