package report_test

import (
	"os"
	"strings"
	"testing"
)

// A spec with a room has its first reflections in the report, a row a surface and side.
func TestReflections(t *testing.T) {
	src, err := os.ReadFile("../../specs/heron.yaml")
	if err != nil {
		t.Fatal(err)
	}
	digital := string(src)[:strings.Index(string(src), "board: ")]
	got := text(t, compile(t, digital+"room: {listener: 2.8 m, base: 2.4 m, height: 0.9 m, ceiling: 2.5 m, left: 0.8 m}\n"))
	tidy(t, "heron in a room", got)
	for _, want := range []string{"reflections ", "left: floor", "left: ceiling", "left: left wall", "right: left wall", "of way", "-10.9", "A cabinet's shadow"} {
		if !strings.Contains(got, want) {
			t.Errorf("%q is missing", want)
		}
	}
	if strings.Contains(got, "rear wall") {
		t.Error("a wall that is not given reflects")
	}
}

// heron's board is driven 6 dB higher at full scale than its digital filters, so that it holds to
// 6 dB less: the report, whose table is of the prototype, says so. Without a board it does not.
func TestTheRealisationThatHoldsToLeast(t *testing.T) {
	src, err := os.ReadFile("../../specs/heron.yaml")
	if err != nil {
		t.Fatal(err)
	}
	const told = "bass in board up to -13.8 dB by its excursion and -5.60 dB by its amplifier, in the prototype -7.80 dB by its excursion and +0.30 dB by its amplifier"
	flowed := func(src string) string { return strings.Join(strings.Fields(text(t, compile(t, src))), " ") }
	if got := flowed(string(src)); !strings.Contains(got, told) {
		t.Errorf("%q is missing", told)
	}
	if got := flowed(string(src)[:strings.Index(string(src), "board: ")]); strings.Contains(got, "is not what holds to least") {
		t.Error("said of digital filters, which follow the prototype")
	}
}
