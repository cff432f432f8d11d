package language

import (
	"math"
	"strings"
	"testing"
	"time"
)

// FuzzParse demands of any bytes: no panic; no hang; a Spec or an Error, never both;
// every fault at a place inside the file and with its line; and of a Spec, that
// every number in it is finite and everything read stands where it is said to.
func FuzzParse(f *testing.F) {
	for _, src := range badSpecs(f) {
		f.Add(src)
	}
	for _, src := range []string{"0: 0\n -0", "0: [0\n0\n  -: 00"} { // once placed outside the file
		f.Add([]byte(src))
	}
	f.Add([]byte("BArd: {AACtors: {stock}}")) // a misspelt board whose stock has no value
	f.Add([]byte(goodSpec))
	f.Add([]byte(goodSpec + "board: {resistors: {series: [E24, E96], shunt-from: 150 ohm}, capacitors: {stock: [1 nF, 10 nF], to: 5 nF}}\n"))
	f.Add([]byte("\xef\xbb\xbf" + strings.ReplaceAll(goodSpec, "\n", "\r\n")))
	f.Fuzz(func(t *testing.T, src []byte) {
		start := time.Now()
		s, faults := Parse("fuzz.yaml", src, lang)
		if d := time.Since(start); d > mostTime {
			t.Fatalf("%d bytes took %v", len(src), d)
		}
		checkFaults(t, s, faults, src)
		checkPlaces(t, src)
		if s != nil {
			checkSpec(t, s)
		}
	})
}

func checkFaults(t *testing.T, s *Spec, faults []Fault, src []byte) {
	lines := strings.Split(strings.TrimPrefix(string(src), "\xef\xbb\xbf"), "\n")
	errors := 0
	var last Pos
	for _, f := range faults {
		if f.Severity == Error {
			errors++
		}
		if f.Pos.Line < 1 || f.Pos.Line > len(lines) {
			t.Fatalf("a fault on line %d of %d: %s", f.Pos.Line, len(lines), f.Message)
		}
		line := strings.ToValidUTF8(strings.TrimSuffix(lines[f.Pos.Line-1], "\r"), "\ufffd")
		if len(src) <= maxBytes && f.Line != line {
			t.Fatalf("line %d is %q, the fault says %q", f.Pos.Line, line, f.Line)
		}
		// Each invalid byte counts as a character.
		if n := len([]rune(strings.TrimSuffix(lines[f.Pos.Line-1], "\r"))); f.Pos.Col < 1 || f.Pos.Col > n+1 {
			t.Fatalf("a fault in column %d of %d: %s", f.Pos.Col, n, f.Message)
		}
		if f.Message == "" || f.Right == "" {
			t.Fatalf("a fault without words: %+v", f)
		}
		if f.Pos.Line < last.Line || f.Pos.Line == last.Line && f.Pos.Col < last.Col {
			t.Fatalf("faults out of order at %v", f.Pos)
		}
		last = f.Pos
		if text := f.Error(); strings.ContainsAny(text, "\x1b\x00\t\r") {
			t.Fatalf("a control character in %q", text)
		}
	}
	if (s == nil) != (errors > 0) {
		t.Fatalf("%d errors, Spec nil: %v", errors, s == nil)
	}
	if len(faults) > maxFaults+1 {
		t.Fatalf("%d faults", len(faults))
	}
}

// checkPlaces compares every key and unquoted scalar of the tree with the text
// at its place: the lexer's columns are right.
func checkPlaces(t *testing.T, src []byte) {
	r := &reader{}
	text, ok := r.read(src)
	if !ok {
		return
	}
	root := r.tree(text)
	if root == nil {
		return
	}
	seen := map[*node]bool{}
	var walk func(n *node)
	walk = func(n *node) {
		if seen[n] {
			return
		}
		seen[n] = true
		if n.shape == scalar && !n.quotes && !strings.HasPrefix(r.from(n.at), n.text) {
			t.Fatalf("%q is not at %v: %q", n.text, n.at, r.line(n.at.Line))
		}
		for _, i := range n.items {
			walk(i)
		}
		for _, e := range n.entries {
			at := r.from(e.at)
			if !strings.HasPrefix(at, e.key) && !strings.HasPrefix(at, `"`) && !strings.HasPrefix(at, "'") {
				t.Fatalf("the key %q is not at %v: %q", e.key, e.at, r.line(e.at.Line))
			}
			walk(e.value)
		}
	}
	// What could not be read is not compared.
	if len(r.faults) == 0 {
		walk(root)
	}
}

func checkSpec(t *testing.T, s *Spec) {
	var value func(v *Value)
	value = func(v *Value) {
		if v == nil {
			t.Fatal("a value is missing")
		}
		for _, x := range []float64{v.Number, v.High} {
			if math.IsNaN(x) || math.IsInf(x, 0) || x == 0 && math.Signbit(x) {
				t.Fatalf("%q is %v", v.Text, x)
			}
		}
		if v.Pos.Line < 1 || v.Pos.Col < 1 {
			t.Fatalf("%q has no place", v.Text)
		}
		for _, i := range v.Items {
			value(i)
		}
		for _, f := range v.Fields {
			value(f.Value)
		}
	}
	filter := func(f Filter) {
		value(f.Args)
		if _, ok := lang.kind(f.Kind); !ok || f.Path == "" || f.Pos.Line < 1 {
			t.Fatalf("a filter without kind, path or place: %+v", f)
		}
		for _, c := range f.When {
			if c.Setting >= len(s.Settings) || len(c.Choices) == 0 || c.Choices[len(c.Choices)-1] >= len(s.Settings[c.Setting].Choices) {
				t.Fatalf("a condition that holds nothing: %+v", c)
			}
		}
	}
	for _, f := range s.Common {
		filter(f)
	}
	for _, w := range s.Ways {
		for _, f := range w.Filters {
			filter(f)
		}
		if !(w.DelayS >= 0 && w.DelayS <= 1) {
			t.Fatalf("a delay of %v s", w.DelayS)
		}
	}
	for _, x := range s.Crossovers {
		if x.Upper != x.Lower+1 || x.Upper >= len(s.Ways) {
			t.Fatalf("a crossover between %d and %d", x.Lower, x.Upper)
		}
		filter(x.Low)
		filter(x.High)
	}
	value(s.Promise)
	if s.Digital == nil || len(s.Digital.RatesHz) == 0 || len(s.Digital.Formats) == 0 || s.Digital.Method == "" || s.Digital.Channels < 1 {
		t.Fatalf("not all of digital: %+v", s.Digital)
	}
	if b := s.Board; b != nil {
		if !(b.OpAmp.SwingV > 0 && b.OpAmp.SwingV < b.SupplyV) || !(b.ShuntOhm > 0 && b.ShuntOhm <= b.Resistors.From) {
			t.Fatalf("a board that cannot be: %+v", b)
		}
		for _, k := range []Stock{b.Resistors, b.Capacitors} {
			if !(k.From > 0 && k.From <= k.To && k.Tolerance > 0) || (k.Series == nil) == (k.Values == nil) {
				t.Fatalf("a stock that cannot be: %+v", k)
			}
		}
	}
	if len(s.Ways) == 0 || s.Name == "" || s.PhaseCompensation == "" {
		t.Fatalf("not all of a spec: %+v", s)
	}
}
