package language

import (
	"fmt"
	"strings"
	"testing"
	"time"
)

// TestLimits holds the counts at which a spec is refused, on both sides.
func TestLimits(t *testing.T) {
	settings := func(n, choices int) string {
		var b strings.Builder
		for i := range n {
			b.WriteString(fmt.Sprintf("  s%d: [", i))
			for c := range choices {
				b.WriteString(fmt.Sprintf("c%d, ", c))
			}
			b.WriteString("]\n")
		}
		return "settings:\n" + b.String() + shortSpec
	}
	ways := func(n, filters int) string {
		var b strings.Builder
		for i := range n {
			b.WriteString(fmt.Sprintf("w%d: {filters: [", i))
			b.WriteString(strings.Repeat("{gain: {by: 1 dB}}, ", filters) + "]}, ")
		}
		return strings.Replace(shortSpec, "bass: {}", b.String(), 1)
	}
	nested := func(n int) string { return shortSpec + "x: " + strings.Repeat("[", n) + strings.Repeat("]", n) }
	for _, c := range []struct {
		name, src, want string // "" for a spec without such a fault
	}{
		{"bytes", shortSpec + strings.Repeat("# 345678\n", (maxBytes-len(shortSpec))/9), ""},
		{"bytes", shortSpec + strings.Repeat("# 345678\n", maxBytes/9), "KiB"},
		{"line", shortSpec + "# " + strings.Repeat("é", maxLine-2), ""},
		{"line", shortSpec + "# " + strings.Repeat("é", maxLine-1), "a line of more than"},
		{"tokens", shortSpec + "x: [" + strings.Repeat("1,\n", 29_900) + "]", ""},
		{"tokens", shortSpec + "x: [" + strings.Repeat("1,\n", 30_000) + "]", "more than 60000 tokens"},
		{"nesting", nested(maxNesting - 1), ""},
		{"nesting", nested(maxNesting), "nested more than"},
		{"block nesting", shortSpec + "x:\n" + strings.Repeat("- ", maxNesting-1) + "1", ""},
		{"block nesting", shortSpec + "x:\n" + strings.Repeat("- ", maxNesting) + "1", "nested more than"},
		{"alias nesting", shortSpec + "x: [&a [[[[[[[[1]]]]]]]], [[[[[[*a]]]]]]]", ""},
		{"alias nesting", shortSpec + "x: [&a [[[[[[[[1]]]]]]]], [[[[[[[*a]]]]]]]]", "nested more than"},
		{"keys", shortSpec + "x:\n" + keysOf(maxKeys, " k%d: 1\n"), ""},
		{"keys", shortSpec + "x:\n" + keysOf(maxKeys+1, " k%d: 1\n"), "keys in one mapping"},
		{"flow keys", shortSpec + "x: {" + keysOf(maxKeys, "k%d: 1,\n") + "}", ""},
		{"flow keys", shortSpec + "x: {" + keysOf(maxKeys+1, "k%d: 1,\n") + "}", "keys in one mapping"},
		{"settings", settings(maxSettings, 2), "combinations"},
		{"settings", settings(12, 2), ""},
		{"settings", settings(13, 2), "combinations"},
		{"settings", settings(maxSettings+1, 2), "it takes at most 16 entries"},
		{"choices", settings(1, maxChoices), ""},
		{"choices", settings(1, maxChoices+1), "it takes at most 32 items"},
		{"ways", ways(maxWays, 1), ""},
		{"ways", ways(maxWays+1, 1), "it takes at most 20 entries"},
		{"filters", ways(1, maxFilters), ""},
		{"filters", ways(1, maxFilters+1), "it takes at most 40 items"},
		{"name", strings.Replace(shortSpec, "tern", strings.Repeat("a", maxName), 1), ""},
		{"name", strings.Replace(shortSpec, "tern", strings.Repeat("a", maxName+1), 1), "a name of more than"},
		{"title", shortSpec + "title: " + strings.Repeat("é", maxText), ""},
		{"title", shortSpec + "title: " + strings.Repeat("é", maxText+1), "a text of more than"},
		{"faults", shortSpec + keysOf(maxFaults, "k%d: 1\n"), ""},
		{"faults", shortSpec + keysOf(maxFaults+1, "k%d: 1\n"), "more than 50 faults"},
	} {
		s, faults := Parse("x.yaml", []byte(c.src), lang)
		checkFaults(t, s, faults, []byte(c.src))
		found := false
		for _, f := range faults {
			text := f.Message + " " + f.Right
			if c.want != "" && strings.Contains(text, c.want) {
				found = true
			} else if !strings.Contains(text, "is not a key of the spec") {
				t.Errorf("%s: %s", c.name, f)
			}
		}
		if c.want != "" && !found {
			t.Errorf("%s: no fault with %q", c.name, c.want)
		}
	}
}

func keysOf(n int, format string) string {
	var b strings.Builder
	for i := range n {
		fmt.Fprintf(&b, format, i)
	}
	return b.String()
}

// mostTime is when an input counts as a hang: ten times what the slowest takes
// where nothing else runs.
const mostTime = 8 * time.Second

// TestHostileInput times inputs that a parser takes long over; without the
// limits several of them take more than ten seconds, and one minutes.
func TestHostileInput(t *testing.T) {
	full := func(s string) string { return strings.Repeat(s, maxBytes/len(s)) }
	tokens := func(s string, each int) string { return strings.Repeat(s, (maxTokens-20)/each) }
	bomb := "x: [&a0 [1, 1, 1, 1, 1, 1, 1, 1, 1]"
	for i := 1; i < 15; i++ {
		bomb += fmt.Sprintf(",\n &a%d [%s]", i, strings.Repeat(fmt.Sprintf("*a%d, ", i-1), 9))
	}
	for name, src := range map[string]string{
		"open brackets":        full("["),
		"64 KB of brackets":    strings.Repeat("[", 64<<10),
		"open braces":          full("{"),
		"brackets":             tokens("[],", 3),
		"items":                "a:\n" + tokens("- b\n", 2),
		"empty items":          tokens("-\n", 1),
		"nested items":         tokens("- ", 1),
		"items of mappings":    "a:\n" + tokens("- b: c\n", 4),
		"keys":                 tokens("k: 1\n", 3),
		"bare flow keys":       "a: {" + tokens("b,", 2) + "}",
		"flow keys":            "a: {" + tokens("b: ,\n", 3) + "}",
		"question marks":       tokens("? ", 1),
		"documents":            tokens("---\n", 1),
		"less-than signs":      full("<"),
		"less-than lines":      full(strings.Repeat("<", 9990) + "\n"),
		"quoted tabs":          full("\"" + strings.Repeat("\t", 9990) + "\n"),
		"quoted spaces":        "a: \"" + full(" "),
		"quotes":               full("'"),
		"bad escapes":          full("\"\\q\" "),
		"reserved signs":       full("@\n"),
		"lines of one text":    "a: " + full("b\n  "),
		"block text":           "a: |\n" + full("  b\n"),
		"comments":             full("#\n"),
		"line feeds":           full("\n"),
		"anchors":              full("&a "),
		"aliases":              full("*a "),
		"colons":               full(": "),
		"colons in braces":     "{" + full(":"),
		"alias bomb":           bomb + "]",
		"one long line":        full("a"),
		"control characters":   full("\x01\n"),
		"not UTF-8":            full("\xff"),
		"unknown keys":         keysOf(1000, strings.Repeat("k", 200)+"%d: 1\n"),
		"many faults":          shortSpec + "common:\n" + tokens("- {gain: {by: 1}}\n", 9),
		"many words near keys": shortSpec + keysOf(990, "%dcrossover: 1\n"),
	} {
		src = src[:min(len(src), maxBytes)]
		start := time.Now()
		s, faults := Parse("x.yaml", []byte(src), lang)
		if d := time.Since(start); d > mostTime {
			t.Errorf("%s: %v", name, d)
		} else if testing.Verbose() {
			t.Logf("%-22s %6d bytes %8v %d faults", name, len(src), d.Round(time.Millisecond), len(faults))
		}
		if s != nil {
			t.Errorf("%s: accepted", name)
		}
		checkFaults(t, s, faults, []byte(src))
	}
}
