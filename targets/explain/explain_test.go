package explain

import (
	"context"
	"os"
	"strings"
	"sync"
	"testing"
	"unicode/utf8"

	"bandwright/compiler"
)

// builds are those of the specs that tests have asked for, by their text: each
// is compiled once, and read only.
var builds sync.Map // string → func() *compiler.Build

func build(t *testing.T, src string) *compiler.Build {
	t.Helper()
	once, _ := builds.LoadOrStore(src, sync.OnceValue(func() *compiler.Build {
		b, faults, err := compiler.Compile(context.Background(), "test.yaml", []byte(src), os.DirFS("../../specs"))
		if err != nil || b == nil {
			t.Error(err, faults)
		}
		return b
	}))
	b := once.(func() *compiler.Build)()
	if b == nil {
		t.FailNow()
	}
	return b
}

func shipped(t *testing.T, name string) string {
	t.Helper()
	src, err := os.ReadFile("../../specs/" + name + ".yaml")
	if err != nil {
		t.Fatal(err)
	}
	return string(src)
}

// The text names what a reader looks for: each filter's poles with their Q as
// the spec's own numbers say, and how each was realised.
func TestTextSaysWhatFiltersAre(t *testing.T) {
	text, err := Text(build(t, shipped(t, "heron")), "")
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{
		"common[0] high-pass: pole pair at 22 Hz, Q 0.707; two zeros at 0 Hz; -inf dB at 0 Hz, 0 dB at high frequencies",
		"ways.bass.filters[0] pole-shift: pole pair at 34 Hz, Q 0.650; zero pair at 55.8 Hz, Q 0.810",
		"ways.mid.filters[0] dipole-lift: pole at 190 Hz; zero at 500 Hz; +8.40 dB at 0 Hz, 0 dB at high frequencies", // 20·lg(500/190)
		"ways.treble.filters[0] gain (treble-trim -1.5 dB): gain -1.50 dB",
		"way treble gain -1.50 dB, delay 90.0 us",
		"fitted jointly with the other ways",
		"48 kHz float32: worst error",
	} {
		if !strings.Contains(strings.Join(strings.Fields(text), " "), want) {
			t.Errorf("%q is missing in\n%s", want, text)
		}
	}
}

func TestTextOfOneWay(t *testing.T) {
	b := build(t, shipped(t, "heron"))
	text, err := Text(b, "mid")
	if err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(text, "\nway mid\n") || strings.Contains(text, "\nway bass\n") || !strings.Contains(text, "\ncommon, before") {
		t.Errorf("not the common filters and one way:\n%s", text)
	}
	if _, err := Text(b, "tweeter"); err == nil || !strings.Contains(err.Error(), "bass, mid and treble") {
		t.Errorf("an unknown way: %v", err)
	}
}

func TestLinesFit(t *testing.T) {
	for _, name := range []string{"heron", "bittern", "dabchick", "k_weighting", "a_weighting", "disc_playback"} {
		text, err := Text(build(t, shipped(t, name)), "")
		if err != nil {
			t.Fatal(err)
		}
		for _, l := range strings.Split(text, "\n") {
			if utf8.RuneCountInString(l) > width {
				t.Errorf("%s: %d columns: %s", name, utf8.RuneCountInString(l), l)
			}
		}
	}
}

// A fall-back and a method of a filter's own stand in the words.
func TestMethodsAreNamed(t *testing.T) {
	text, err := Text(build(t, `bandwright: 1
name: test
ways:
  only:
    filters:
      - peak: {at: 1 kHz, q: 2, gain: 3 dB, method: bilinear}
      - high-pass: {at: 50 Hz, q: 0.7, method: magnitude-matched}
      - notch: {at: 50 Hz, q: 5}
digital: {rates: [48 kHz], formats: [float32]}
`), "")
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"filters[0] peak bilinear", "filters[1] high-pass magnitude-matched", "filters[2] notch fitted in magnitude"} {
		if !strings.Contains(strings.Join(strings.Fields(text), " "), want) {
			t.Errorf("%q is missing in\n%s", want, text)
		}
	}
}
