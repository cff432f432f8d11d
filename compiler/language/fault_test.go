package language

import (
	"strconv"
	"strings"
	"testing"
)

func TestExcerpt(t *testing.T) {
	long := "      - low-shelf: {at: 210 Hz, gain: -3 dB, q: 0.7, when: {placement: [wall, corner], grille: [none, woven], trim: 0 dB}}"
	for _, c := range []struct {
		line string
		col  int
		want string
	}{
		{"ab: c", 5, "    ab: c\n        ^"},
		{"ab: c", 6, "    ab: c\n         ^"},
		{"ab: c", 60, "    ab: c\n         ^"},
		{"\tab: c", 2, "        ab: c\n        ^"},
		{"a\tb\tc", 5, "    a   b   c\n            ^"},
		{"a: ヒロ, b", 8, "    a: ヒロ, b\n             ^"},
		{"a: e\u0301, b", 8, "    a: e\u0301, b\n          ^"},
		{"a: \x1b[31m, b", 10, "    a: ·[31m, b\n             ^"},
		{"a: \u202eb", 5, "    a: ·b\n        ^"},
		{long, 20, "    " + long[:92] + " …\n                       ^"},
		{long, 105, "    … " + long[len(long)-92:] + "\n" + strings.Repeat(" ", len("    ")+len("… ")-2+104-(len(long)-92)) + "^"},
	} {
		f := Fault{File: "f", Pos: Pos{1, c.col}, Line: c.line, Message: "m"}
		if got, want := f.Error(), "f:1:"+strconv.Itoa(c.col)+": error: m\n"+c.want; got != want {
			t.Errorf("%q, column %d: got\n%s\nwant\n%s", c.line, c.col, got, want)
		}
	}
}

func TestWrapped(t *testing.T) {
	got := wrapped("it takes a mapping: `key: value` lines indented below it, or `{key: value}`, such as `notch: {at: 80 Hz, q: 0.7}`")
	want := []string{"it takes a mapping: `key: value` lines indented below it, or `{key: value}`, such as", "`notch: {at: 80 Hz, q: 0.7}`"}
	if len(got) != 2 || got[0] != want[0] || got[1] != want[1] {
		t.Errorf("got %q", got)
	}
}

func TestNearest(t *testing.T) {
	names := []string{"at", "family", "order", "ripple", "stop", "scaled-by", "q", "inverse-chebyshev", "-1.5 dB"}
	for word, want := range map[string]string{
		"atz": "at", "ta": "", "familiy": "family", "fmaily": "family", "oder": "order", "Q": "q", "ripples": "ripple", "inverse_chebyshev": "inverse-chebyshev",
		"InverseChebychev": "inverse-chebyshev", "scaled": "scaled-by", "frequency": "", "x": "", "-1.5dB": "-1.5 dB", "": "",
	} {
		if got := Nearest(word, names); got != want {
			t.Errorf("%q: got %q, want %q", word, got, want)
		}
	}
}

// TestDistance compares with the worked values of the metric's definition: one
// each for an insertion, a deletion, a replacement and a swap.
func TestDistance(t *testing.T) {
	for _, c := range []struct {
		a, b string
		want int
	}{
		{"", "", 0}, {"abc", "abc", 0}, {"abc", "abxc", 1}, {"abc", "ac", 1}, {"abc", "axc", 1}, {"abc", "acb", 1}, {"ca", "abc", 3}, {"abcd", "badc", 2}, {"", "abc", 3},
	} {
		if got := distance(c.a, c.b); got != c.want {
			t.Errorf("%q, %q: got %d, want %d", c.a, c.b, got, c.want)
		}
		if got := distance(c.b, c.a); got != c.want {
			t.Errorf("%q, %q: got %d, want %d", c.b, c.a, got, c.want)
		}
	}
}
