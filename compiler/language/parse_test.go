package language

import (
	"fmt"
	"reflect"
	"slices"
	"strings"
	"testing"
)

const goodSpec = `# a comment
bandwright: 1
name: heron
title: "Heron: a three-way" # invented
revision: 2.10

settings:
  placement: [free, wall, corner]
  treble-trim: [0 dB, -1.5 dB]

common:
  - high-pass: {family: butterworth, order: 2, at: 22 Hz}
  - low-shelf: {at: 210 Hz, gain: -3 dB, q: 0.7, when: {placement: [corner, wall]}}
ways:
  bass:
    filters:
      - pole-shift: {from: {at: 55.8 Hz, q: 0.81}, to: {at: 34 Hz, q: 0.65}}
      - notch:
          at: 92 Hz
          q: 2.2
      - delay: {by: 343 mm}
    gain: -4 dB
    polarity: inverted
    delay: 31 mm
  mid: &plain
    gain: 0.5 dB
  treble:
    filters:
    - gain: {by: -1.5 dB, when: {treble-trim: -1.5 dB, placement: free}}
    - gain: -2 dB
    - roots: {zeros: [0, 159 Hz, {at: 1 kHz, q: inf, side: right}], poles: [20 Hz, 30 Hz, {at: 1 kHz, q: 2}], unity-at: inf}
  super: *plain
crossovers:
  - {between: [bass, mid], family: LR, order: 4, at: 260 Hz}
  - between: [mid, treble]
    low: &edge {family: LR, order: 4.0, at: 2.3 kHz}
    high: *edge
phase-compensation: exact
promise: {phase: off, band: 30 Hz to 16kHz}
digital:
  rates: [44.1 kHz, 96 kHz]
  formats: [float32, float64]
  channels: 2
  headroom: 6 dB
  method: bilinear
`

func parseGood(t *testing.T, src string) *Spec {
	t.Helper()
	s, faults := Parse("good.yaml", []byte(src), lang)
	for _, f := range faults {
		t.Error(f)
	}
	if s == nil {
		t.FailNow()
	}
	return s
}

// show is the given part of a value, for comparing.
func show(v *Value) string {
	switch {
	case v == nil:
		return "nil"
	case v.Items != nil:
		var all []string
		for _, i := range v.Items {
			all = append(all, show(i))
		}
		return "[" + strings.Join(all, " ") + "]"
	case v.Fields != nil:
		var all []string
		for _, f := range v.Fields {
			given := ""
			if !f.Value.Given {
				given = "*"
			}
			all = append(all, f.Key+given+":"+show(f.Value))
		}
		return "{" + strings.Join(all, " ") + "}"
	case v.Word != "":
		return v.Word
	case v.High != 0:
		return fmt.Sprintf("%v-%v", v.Number, v.High)
	}
	return strings.TrimSpace(fmt.Sprintf("%v %s", v.Number, v.Dim))
}

func TestGoodSpec(t *testing.T) {
	s := parseGood(t, goodSpec)
	checkSpec(t, s)
	checkPlaces(t, []byte(goodSpec))
	if s.Name != "heron" || s.Title != "Heron: a three-way" || s.Revision != "2.10" || s.PhaseCompensation != "exact" || s.File != "good.yaml" {
		t.Errorf("head: %q %q %q %q", s.Name, s.Title, s.Revision, s.PhaseCompensation)
	}
	if len(s.Settings) != 2 || s.Settings[1].Name != "treble-trim" || s.Settings[1].Choices[1].Text != "-1.5 dB" || s.Settings[1].Pos != (Pos{9, 3}) {
		t.Errorf("settings: %+v", s.Settings)
	}
	filters := map[string]string{}
	for _, f := range s.Common {
		filters[f.Label()] = show(f.Args)
	}
	for _, w := range s.Ways {
		for _, f := range w.Filters {
			filters[f.Label()] = show(f.Args)
		}
	}
	for _, x := range s.Crossovers {
		filters[x.Low.Label()] = show(x.Low.Args)
		filters[x.High.Label()] = show(x.High.Args)
	}
	lr := func(hz string) string {
		return "{family:LR order:4 at:" + hz + " frequency scaled-by*:level}"
	}
	want := map[string]string{
		"common[0] high-pass":             "{family:butterworth order:2 at:22 frequency scaled-by*:level}",
		"common[1] low-shelf":             "{at:210 frequency gain:-3 level q:0.7 order*:2}",
		"ways.bass.filters[0] pole-shift": "{from:{at:55.8 frequency q:0.81} to:{at:34 frequency q:0.65}}",
		"ways.bass.filters[1] notch":      "{at:92 frequency q:2.2 depth*:complete}",
		"ways.bass.filters[2] delay":      "{by:0.343 length}",
		"ways.treble.filters[0] gain":     "{by:-1.5 level}",
		"ways.treble.filters[1] gain":     "{by:-2 level}",
		"ways.treble.filters[2] roots": "{zeros:[0 159 frequency {at:1000 frequency q:inf side:right}] " +
			"poles:[20 frequency 30 frequency {at:1000 frequency q:2}] unity-at:inf}",
		"crossovers[0] low-pass":       lr("260"),
		"crossovers[0] high-pass":      lr("260"),
		"crossovers[1].low low-pass":   lr("2300"),
		"crossovers[1].high high-pass": lr("2300"),
	}
	for label, got := range filters {
		if got != want[label] {
			t.Errorf("%s: got %s, want %s", label, got, want[label])
		}
		delete(want, label)
	}
	for label := range want {
		t.Errorf("%s is missing", label)
	}
	if c := s.Common[1].When; len(c) != 1 || c[0].Setting != 0 || !reflect.DeepEqual(c[0].Choices, []int{1, 2}) || c[0].Pos != (Pos{13, 57}) {
		t.Errorf("when: %+v", c)
	}
	if c := s.Ways[2].Filters[0].When; len(c) != 2 || c[0].Setting != 1 || c[1].Setting != 0 || c[0].Choices[0] != 1 || c[1].Choices[0] != 0 {
		t.Errorf("when: %+v", c)
	}
	if at := s.Ways[0].Filters[1].Pos; at != (Pos{18, 9}) {
		t.Errorf("the notch is at %v", at)
	}
	bass, mid, super := s.Ways[0], s.Ways[1], s.Ways[3]
	if bass.GainDB != -4 || !bass.Inverted || bass.DelayS != 0.031/343 || bass.DelayPos != (Pos{24, 12}) {
		t.Errorf("bass: %+v", bass)
	}
	if mid.GainDB != 0.5 || mid.Inverted || mid.DelayS != 0 || super.GainDB != 0.5 || super.Name != "super" {
		t.Errorf("mid: %+v, super: %+v", mid, super)
	}
	x := s.Crossovers
	if len(x) != 2 || !x[0].Same || x[1].Same || x[0].Lower != 0 || x[0].Upper != 1 || x[1].Lower != 1 || x[1].Upper != 2 || x[1].Low.Pos != (Pos{36, 5}) {
		t.Errorf("crossovers: %+v", x)
	}
	if got, want := show(s.Promise), "{phase:off band:30-16000 magnitude*:0.1 level down-to*:-60 level noise*:-110 level re full scale headroom*:0 level latency*:off}"; got != want {
		t.Errorf("promise: got %s, want %s", got, want)
	}
	if d := *s.Digital; !reflect.DeepEqual(d.RatesHz, []float64{44100, 96000}) || d.RatePos[1] != (Pos{41, 21}) || !reflect.DeepEqual(d.Formats, []string{"float32", "float64"}) ||
		d.Channels != 2 || d.HeadroomDB != 6 || d.Method != "bilinear" || d.ExtraBiquads != 1 {
		t.Errorf("digital: %+v", d)
	}
}

const shortSpec = "bandwright: 1\nname: tern\nways: {bass: {}}\ndigital: {rates: [48 kHz], formats: [float32], method: bilinear}\n"

func TestDefaults(t *testing.T) {
	s := parseGood(t, shortSpec)
	checkSpec(t, s)
	w := s.Ways[0]
	if w.GainDB != 0 || w.Inverted || w.DelayS != 0 || w.Filters != nil {
		t.Errorf("way: %+v", w)
	}
	if got, want := show(s.Promise), "{band*:20-20000 magnitude*:0.1 level down-to*:-60 level phase*:5 angle noise*:-110 level re full scale headroom*:0 level latency*:off}"; got != want || s.Promise.Given {
		t.Errorf("promise: got %s, want %s", got, want)
	}
	if d := s.Digital; d.Channels != 1 || d.HeadroomDB != 0 || d.ExtraBiquads != 1 {
		t.Errorf("digital: %+v", d)
	}
	if s.PhaseCompensation != "none" || s.Title != "" || s.Revision != "" {
		t.Errorf("head: %+v", s)
	}
}

// TestSpellings reads one spec in the layouts that YAML allows.
func TestSpellings(t *testing.T) {
	want := parseGood(t, goodSpec)
	for name, src := range map[string]string{
		"byte order mark":    "\xef\xbb\xbf" + goodSpec,
		"CR LF":              strings.ReplaceAll(goodSpec, "\n", "\r\n"),
		"spaces at line end": strings.ReplaceAll(goodSpec, "\n", "   \n"),
		"tabs at line end":   strings.ReplaceAll(goodSpec, "\n", " \t\n"),
		"tabs before #":      strings.ReplaceAll(goodSpec, " # invented", "\t# a\ttab"),
		"no final newline":   strings.TrimSuffix(goodSpec, "\n"),
		"document end":       goodSpec + "...\n",
		"no-break spaces":    strings.ReplaceAll(goodSpec, " Hz", "\u00a0Hz"),
	} {
		got := parseGood(t, src)
		if !reflect.DeepEqual(got.Settings, want.Settings) || !reflect.DeepEqual(got.Ways[0].Filters[0].Pos, want.Ways[0].Filters[0].Pos) || show(got.Promise) != show(want.Promise) ||
			show(got.Crossovers[1].High.Args) != show(want.Crossovers[1].High.Args) || got.Title != want.Title {
			t.Errorf("%s: another spec", name)
		}
		if string(got.Source) != src {
			t.Errorf("%s: Source is not what was read", name)
		}
	}
	s := parseGood(t, "---\n"+shortSpec)
	if s.Name != "tern" || s.Digital.Pos.Line != 5 {
		t.Errorf("after ---: %+v", s)
	}
	// Indentless lists, multi-line brackets with comments, JSON.
	s = parseGood(t, `{"bandwright": 1, "name": "tern",
  "ways": {"bass": {"filters": [ # first
    {"peak": {"at": "92 Hz", "q": 2.2, "gain": "-2.5 dB"}},
  ]}},
"digital": {"rates": ["48 kHz"], "formats": ["float32"], "method": "bilinear"}}`)
	if got, want := show(s.Ways[0].Filters[0].Args), "{at:92 frequency q:2.2 gain:-2.5 level}"; got != want {
		t.Errorf("JSON: %s", got)
	}
}

// TestLaterFaults makes a fault the way that later stages do.
func TestLaterFaults(t *testing.T) {
	s := parseGood(t, "\xef\xbb\xbf"+strings.ReplaceAll(shortSpec, "\n", "\r\n"))
	f := s.Fault(Warning, s.Ways[0].Pos, "no crossover touches this way", "add one")
	if got, want := f.Error(), "good.yaml:3:8: warning: no crossover touches this way\n    ways: {bass: {}}\n           ^\n    add one"; got != want {
		t.Errorf("got %s\nwant %s", got, want)
	}
	if got, want := s.Fault(Error, Pos{}, "all of it", "").Error(), "good.yaml: error: all of it"; got != want {
		t.Errorf("got %s\nwant %s", got, want)
	}
	if got := s.Fault(Error, Pos{99, 1}, "x", "").Line; got != "" {
		t.Errorf("a line behind the end: %q", got)
	}
}

// TestNoCascades counts the faults of specs with one mistake each.
func TestNoCascades(t *testing.T) {
	for name, change := range map[string][2]string{
		"unknown kind":            {"pole-shift: {from", "pole-shfit: {from"},
		"unknown key":             {"by: 343 mm", "bye: 343 mm"},
		"bad setting":             {"[free, wall, corner]", "{free: wall}"},
		"bad choice":              {"[free, wall, corner]", "[free, wäll, corner]"},
		"settings without value":  {"settings:\n  placement: [free, wall, corner]\n  treble-trim: [0 dB, -1.5 dB]\n", "settings: [0]\n"},
		"misspelt settings":       {"settings:", "setings:"},
		"bad way":                 {"gain: 0.5 dB", "gian: 0.5 dB"},
		"bad version":             {"bandwright: 1", "bandwright: 12"},
		"bad filter in crossover": {"at: 260 Hz", "at: 260"},
		"bad promise":             {"phase: off", "phase: of"},
		"bad rate":                {"44.1 kHz", "44.1"},
		"alias repeats a fault":   {"at: 2.3 kHz", "at: 2.3"},
		"duplicate key":           {"revision: 2.10", "name: heron"},
		"bad name of a way":       {"  bass:\n", "  Bass:\n"},
	} {
		if strings.Count(goodSpec, change[0]) != 1 {
			t.Fatalf("%s: %q does not occur once", name, change[0])
		}
		src := strings.Replace(goodSpec, change[0], change[1], 1)
		s, faults := Parse("x.yaml", []byte(src), lang)
		if s != nil || len(faults) != 1 {
			t.Errorf("%s: %d faults", name, len(faults))
			for _, f := range faults {
				t.Log(f)
			}
		}
	}
}

// TestCommas tells decimal commas in brackets from the commas of a list.
func TestCommas(t *testing.T) {
	filter := func(f string) string { return shortSpec + "common: [{" + f + "}]\n" }
	setting := func(s string) string { return "settings: {trim: [" + s + "]}\n" + shortSpec }
	for _, c := range []struct{ src, want string }{
		{filter("rational: {at: 1 kHz, numerator: [1,2,1], denominator: [1,2,3]}"), ""},
		{filter("roots: {zeros: [0,0], poles: [20 Hz,30 Hz]}"), ""},
		{setting("1,2"), ""},
		{setting("0 dB,3 dB"), ""},
		{filter("notch: {at: 1,2 kHz, q: 8}"), "`1,2 kHz` has a decimal comma"},
		{filter("notch: {q: 8, at: 1,2 kHz}"), "`1,2 kHz` has a decimal comma"},
		{filter("notch: {at: 1 kHz, q: 0,7}"), "`0,7` has a decimal comma"},
		{filter("notch: {at: 1 kHz, q: 8, depth: -0,5 dB}"), "`-0,5 dB` has a decimal comma"},
		{filter("roots: {poles: [1,5 kHz, 1 kHz]}"), "`1,5 kHz` has a decimal comma"},
		{setting("0 dB, -1,5 dB"), "`-1,5 dB` is ambiguous: one value or two"},
		{filter("roots: {zeros: [0,5 kHz], poles: [20 Hz, 1 kHz]}"), "`0,5 kHz` is ambiguous: one value or two"},
		{filter("roots: {zeros: [0,5], poles: [20 Hz, 1 kHz]}"), "`5` has no unit: `zeros[1]` is a frequency"},
		{strings.Replace(shortSpec, "48 kHz", "44,1 kHz", 1), "`44,1 kHz` has a decimal comma"},
		{strings.Replace(shortSpec, "48 kHz", "44,1", 1), "`44,1` has a decimal comma and has no unit"},
		{"{title: 1,2, " + strings.TrimSpace(strings.ReplaceAll(shortSpec, "\n", ", ")) + "}", "`1,2` ends at its comma: in brackets a comma separates elements"},
	} {
		s, faults := Parse("x.yaml", []byte(c.src), lang)
		switch {
		case c.want == "" && s == nil:
			t.Errorf("%s: %v", c.src, faults)
		case c.want != "" && (len(faults) != 1 || faults[0].Message != c.want):
			t.Errorf("%s: %v", c.src, faults)
		}
	}
}

// The tree of a spec holds all of it: read again, it gives the same spec, and
// reading it changes nothing in it.
func TestFromTree(t *testing.T) {
	s := parseGood(t, goodSpec)
	for range 2 {
		again, faults := FromTree(s.Tree, lang)
		if again == nil {
			t.Fatal(faults)
		}
		again.File, again.Source = s.File, s.Source
		if !reflect.DeepEqual(s, again) {
			t.Fatalf("got\n%+v\nwant\n%+v", again, s)
		}
	}
}

// Of a tree that names what it does not have there is no spec.
func TestFromTreeFinds(t *testing.T) {
	tree := *parseGood(t, goodSpec).Tree
	tree.Fields = slices.DeleteFunc(slices.Clone(tree.Fields), func(f Field) bool { return f.Key == "settings" })
	if s, faults := FromTree(&tree, lang); s != nil || len(faults) == 0 || !strings.Contains(faults[0].Message, "is not a setting") {
		t.Errorf("%v, %v", s, faults)
	}
}
