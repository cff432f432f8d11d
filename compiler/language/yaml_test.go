package language

import (
	"fmt"
	"testing"
)

// notYAML is what is said about files that are not YAML, or YAML that a spec
// does without. Unknown keys are left out.
var notYAML = []struct{ src, want string }{
	{"", "1:1 the file has no content"},
	{"\n\n# c\n", "1:1 the file has no content"},
	{"---\n", "1:1 the file has no content"},
	{"a\n", "1:1 a spec is a mapping of keys"},
	{"a:b\n", "1:2 no space after this colon"},
	{"a: {b:c}\n", "1:6 no space after this colon"},
	{"- a\n", "1:1 a spec is a mapping of keys"},
	{"a: \"x\" y\n", "1:8 this follows the end of a value"},
	{"a: {b: c} d\n", "1:11 this follows the end of a value"},
	{"a: {b: c}}\n", "1:10 this follows the end of a value"},
	{"a: b\n\"c\"\n", "2:1 this line is not `key: value`"},
	{"a: [1]\nb\n", "2:1 `b` is a key without its colon"},
	{"a: [b c\n", "1:4 this `[` is never closed"},
	{"a: {b: 1\nc: 2\n", "1:4 this `{` is never closed"},
	{"a: ]\n", "1:4 this `]` closes nothing"},
	{"a: [b]]\n", "1:7 this `]` closes nothing"},
	{"a: {b: [c}\n", "1:10 this `}` does not close the `[` of line 1"},
	{"a: [x {y}, z]\n", "1:7 no comma before this"},
	{"a: {b: 1 c: 2, d: e: 3}\n", "1:10 no comma before `c`; 1:19 a second colon in one value"},
	{"a: [,]\n", "1:5 a comma with nothing before it"},
	{"a: [x,,y]\n", "1:7 a comma with nothing before it"},
	{"ways: {b, c: {}}\n", "1:8 `b` has no value"},
	{"a: [b: c]\n", "1:5 a key inside `[ ]`"},
	{"a: [- b]\n", "1:5 a `- ` inside brackets"},
	{"a: [- 3 dB]\n", "1:5 a space after a minus sign"},
	{"a: - 3 dB\n", "1:4 a space after a minus sign"},
	{"a: - b\n", "1:4 a list begins on the line of its key"},
	{": x\n", "1:1 a colon without a key before it"},
	{"- : x\n", "1:3 a colon without a key before it"},
	{"? x\n", "1:1 `? ` begins a key that is not a word"},
	{"{a: b}: c\n", "1:7 a list or a mapping as a key"},
	{"a: b: c\n", "1:5 a second colon on one line"},
	{"a: 'x\n", "1:4 these quotes are never closed"},
	{"a: \"x\n y\"\n", "1:4 this text does not end on its line"},
	{"a: \"\\q\"\n", "1:6 a backslash sequence that YAML does not know"},
	{"a: @b\n", "1:4 a value cannot begin with this character"},
	{"%YAML 1.2\n---\na: b\n", "1:1 `%` begins a directive"},
	{"--- a: b\n", "1:5 a key on the line of `---`"},
	{"a: b\n---\nc: d\n", "2:1 a second document"},
	{"a: b\n...\nc: d\n", "3:1 a second document"},
	{"a: |\n x\n", "1:4 `|` begins a text of several lines"},
	{"a: >-\n x\n", "1:4 `>` begins a text of several lines"},
	{"a: !x y\n", "1:4 a tag: `!x`"},
	{"!!map {a: b}\n", "1:1 a tag: `!!map`"},
	{"<<: x\n", "1:1 a merge key `<<`"},
	{"a: &x\n", "1:4 this anchor or alias has no name or no value"},
	{"a: &x 1\nb: &x 2\n", "2:4 the anchor `&x` is given twice"},
	{"a: *x\nb: &x 1\n", "1:4 there is no anchor `&x` above"},
	{"a: &x [*x]\n", "1:8 `*x` is inside the value that it repeats"},
	{"&x a: b\n", "1:1 an anchor before a key"},
	{"a: {&x b: c}\n", "1:5 an anchor before a key"},
	{"a: &x 1\n*x : b\n", "2:1 an alias as a key"},
	{"a:\n  b: 1\n c: 2\n", "3:2 this key `c` matches nothing above it: check the indentation"},
	{"a:\n  - b\n - c\n", "3:2 this list item matches nothing above it: check the indentation"},
	{"  a: 1\nb: 2\n", "2:1 this key `b` matches nothing above it: check the indentation"},
	{"a: b\n- c\n", "2:1 this list item matches nothing above it: check the indentation"},
	{"a: 1\n  b: 2\n", "2:3 this line is indented below a key that has a value already"},
	{"a: b\n\n# c\n   d\n", "4:4 `d` is a key without its colon"},
	{"a: b\n\n   c\n", "3:4 a value of the line above continues here"},
	{"a: 0\n -0\n", "2:2 a value of the line above continues here"},
	{"\ta: b\n", "1:1 a tab"},
	{"a:\tb\n", "1:3 a tab"},
	{"a: \"b\tc\"\n", "1:6 a tab"},
	{"a: b\t# c\td\n\t# e\n", ""},
	{"a: 'it''s # no comment'\t# c\n", ""},
	{"a: b\rc\n", "1:5 a carriage return in the middle of a line"},
	{"a: b\x00\n", "1:5 a NUL character: this is not a text file"},
	{"a: \xe5\nb: \xe5\n\xe5\x00\n\x00", "3:2 a NUL character: this is not a text file"},
	{"\xff\xfea\x00:\x00\n\x00", "1:1 the file is in UTF-16"},
	{"a: \x1b\n", "1:4 the control character U+001B"},
	{"a: \u2028\n", "1:4 the control character U+2028"},
	{"a: \xff\xfe\n", "1:4 the byte 0xFF is not UTF-8"},
	{"a: 1\na: 2\na: 3\n", "2:1 `a` is given twice; 3:1 `a` is given twice"},
	{"a: {b: 1, \"b\": 2}\n", "1:11 `b` is given twice"},
}

func TestYAML(t *testing.T) {
	for _, c := range notYAML {
		_, faults := Parse("x.yaml", []byte(c.src), lang)
		checkFaults(t, nil, faults, []byte(c.src))
		got := ""
		for _, f := range faults {
			if f.Message == quoted(keyAt(f))+" is not a key of the spec" || f.Pos == (Pos{1, 1}) && len(f.Message) > 14 && f.Message[:14] == "the spec lacks" {
				continue
			}
			if got != "" {
				got += "; "
			}
			got += fmt.Sprintf("%d:%d %s", f.Pos.Line, f.Pos.Col, f.Message)
		}
		if got != c.want {
			t.Errorf("%q: got\n\t%s\nwant\n\t%s", c.src, got, c.want)
		}
	}
}

// keyAt is the one-letter key that a fault points at.
func keyAt(f Fault) string {
	if f.Pos.Col > len(f.Line) {
		return ""
	}
	return f.Line[f.Pos.Col-1 : f.Pos.Col]
}

func TestTexts(t *testing.T) {
	for title, want := range map[string]string{
		`""`:                "an empty text",
		`"  "`:              "an empty text",
		`"a\u200bb"`:        "a text with the character U+200B, which cannot be printed",
		`"a\nb"`:            "a text with the character U+000A, which cannot be printed",
		"a\u202eb":          "a text with the character U+202E, which cannot be printed",
		"Ωμέγα, 5.1 \u00bd": "",
		"off":               "",
		"1e3":               "",
		`"null"`:            "",
		"~":                 "`title` has no value: YAML reads `~` as empty",
		"{a: 1,2}":          "`title` cannot be a mapping",
	} {
		s, faults := Parse("x.yaml", []byte(shortSpec+"title: "+title+"\n"), lang)
		switch {
		case want == "" && (s == nil || s.Title == ""):
			t.Errorf("%s: %v", title, faults)
		case want != "" && (len(faults) != 1 || faults[0].Message != want):
			t.Errorf("%s: %v, want %s", title, faults, want)
		}
	}
}
