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
// 6 dB less: the report has its levels, and names the digital filters as like the prototype. Settings that
// change nothing of a way have no row.
func TestLevelsThatHold(t *testing.T) {
	src, err := os.ReadFile("../../specs/heron.yaml")
	if err != nil {
		t.Fatal(err)
	}
	flowed := func(src string) string { return strings.Join(strings.Fields(text(t, compile(t, src))), " ") }
	const digital = "bass placement: free -7.80 dB +0.30 dB bass placement: wall -4.80 dB +3.30 dB bass placement: corner -1.80 dB +6.30 dB mid "
	const board = "full scale, of board: way setting excursion amplifier bass placement: free -13.8 dB -5.60 dB bass "
	const alike = "float32 they are the same within 0.1 dB."
	got := flowed(string(src))
	for _, want := range []string{digital, board, alike, "treble grille: woven, treble-trim: -1.5 dB - -3.20 dB",
		"Of board, re the prototype at every frequency in every combination, within 0.1 dB: on the axis +6.00 dB, in all directions +6.00 dB.",
		"float32 all of it is the same within 0.1 dB, in every combination.", "What limits: a bass excursion, b mid volts, c treble volts;",
		"mid re bass any 281 Hz -1.17 dB -2.86 dB -5.79 dB treble re mid treble-trim: 0 dB 2 kHz +0.72 dB +2.26 dB +5.34 dB treble re mid treble-trim: -1.5 dB 2.06 kHz ",
		"and board they are the same within 0.1 dB.", "Several drivers count as one place (mid)"} {
		if !strings.Contains(got, want) {
			t.Errorf("%q is missing", want)
		}
	}
	if got := flowed(string(src)[:strings.Index(string(src), "board: ")]); !strings.Contains(got, digital) || strings.Contains(got, "re its own full scale") {
		t.Error("digital filters, which follow the prototype, have tables of their own")
	}
}
