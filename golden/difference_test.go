package golden

import (
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"bandwright/biquad"
	"bandwright/compiler/result"
)

const (
	linesShown   = 12  // of a difference
	columnsShown = 160 // of a line of it
)

// lineDifference shows the first lines that differ, "-" the golden, "+" the
// new ones.
func lineDifference(want, got string) string {
	a, b := strings.Split(want, "\n"), strings.Split(got, "\n")
	var out strings.Builder
	shown := 0
	show := func(sign string, number int, line string) {
		if shown++; shown > linesShown {
			return
		}
		if r := []rune(line); len(r) > columnsShown {
			line = string(r[:columnsShown]) + "..."
		}
		fmt.Fprintf(&out, "  %s %4d: %s\n", sign, number, line)
	}
	if len(a) == len(b) {
		for i := range a {
			if a[i] != b[i] {
				show("-", i+1, a[i])
				show("+", i+1, b[i])
			}
		}
	} else {
		head := 0
		for head < len(a) && head < len(b) && a[head] == b[head] {
			head++
		}
		tail := 0
		for tail < len(a)-head && tail < len(b)-head && a[len(a)-1-tail] == b[len(b)-1-tail] {
			tail++
		}
		for i, l := range a[head : len(a)-tail] {
			if i == linesShown/2 && len(b)-tail > head {
				break
			}
			show("-", head+i+1, l)
		}
		for i, l := range b[head : len(b)-tail] {
			show("+", head+i+1, l)
		}
	}
	if shown > linesShown {
		fmt.Fprintf(&out, "  and %d lines more\n", shown-linesShown)
	}
	return out.String()
}

// responseChange says, where both files are an index, how much the response of
// every way changed that did change.
func responseChange(name string, want, got []byte) string {
	if !strings.HasSuffix(name, ".json") {
		return ""
	}
	a, errA := result.Read(want)
	b, errB := result.Read(got)
	if errA != nil || errB != nil {
		return ""
	}
	var out strings.Builder
	for _, d := range b.Digital {
		i := slices.IndexFunc(a.Digital, func(o result.Digital) bool { return o.RateHz == d.RateHz && o.Format == d.Format })
		label := fmt.Sprintf("%g Hz %s", d.RateHz, d.Format)
		if i < 0 {
			fmt.Fprintf(&out, "  %s is new\n", label)
			continue
		}
		for _, w := range d.Ways {
			k := slices.IndexFunc(a.Digital[i].Ways, func(o result.Way) bool { return o.Way == w.Way })
			if k < 0 {
				fmt.Fprintf(&out, "  %s %s is new\n", label, w.Way)
				continue
			}
			db, hz, setting := change(a.Digital[i], a.Digital[i].Ways[k], d, w, b.Settings)
			if db > 0 {
				fmt.Fprintf(&out, "  %s %s: the response changes by %.3g dB at %.4g Hz%s\n", label, w.Way, db, hz, setting)
			}
		}
	}
	return out.String()
}

const (
	changeCombinations = 64  // looked at, of those that there are
	changePoints       = 300 // frequencies, from 10 Hz to 0.49 of the rate
)

// change is the greatest difference of magnitude in dB between two
// realisations of a way, its frequency and its settings.
func change(a result.Digital, wa result.Way, b result.Digital, wb result.Way, settings []result.Setting) (db, hz float64, setting string) {
	var axes []biquad.Axis
	for i, s := range settings {
		axes = append(axes, biquad.Axis{Setting: i, Choices: len(s.Choices)})
	}
	n := 0
	biquad.Each(axes, len(settings), func(c biquad.Combination) {
		if n++; n > changeCombinations {
			return
		}
		choice := map[string]string{}
		text := ""
		for i, s := range settings {
			choice[s.Name] = s.Choices[c[i]]
			text += fmt.Sprintf(", %s: %s", s.Name, s.Choices[c[i]])
		}
		for i := range changePoints {
			f := 10 * math.Exp2(math.Log2(0.049*b.RateHz)*float64(i)/(changePoints-1))
			x := levelDB(a, wa, choice, f)
			y := levelDB(b, wb, choice, f)
			if d := math.Abs(x - y); d > db {
				db, hz, setting = d, f, text
			}
		}
	})
	return db, hz, setting
}

// levelDB is a way's magnitude, common sections included, as a tool that reads
// the file computes it: from the words, in their form's variable.
func levelDB(d result.Digital, w result.Way, choice map[string]string, hz float64) float64 {
	forms := map[string]biquad.Form{
		biquad.Direct.String(): biquad.Direct, biquad.Delta.String(): biquad.Delta, biquad.Mirrored.String(): biquad.Mirrored,
	}
	p := biquad.PointAt(hz, d.RateHz)
	h := complex(d.Common.Gain*w.Gain, 0)
	for _, sections := range [][]result.Section{d.Common.Sections, w.Sections} {
		for _, s := range sections {
			applies := true
			for setting, allowed := range s.When {
				applies = applies && slices.Contains(allowed, choice[setting])
			}
			if applies {
				h *= biquad.Digital{Form: forms[s.Form], B: s.Words.B, A: s.Words.A}.At(p)
			}
		}
	}
	return biquad.DB(h)
}

var (
	hashes  = regexp.MustCompile(`\b[0-9a-f]{64}\b`)
	numeral = regexp.MustCompile(`[-+]?\d+(\.\d+)?([eE][-+]?\d+)?`)
)

// numbersAgree compares two texts: what is not a number must be equal, numbers
// within the relative tolerance, and checksums not at all. Numbers below
// 1e-9 are what round-off left of nothing and agree with each other.
func numbersAgree(a, b string, tolerance float64) bool {
	const dust = 1e-9
	a, b = hashes.ReplaceAllString(a, "hash"), hashes.ReplaceAllString(b, "hash")
	if numeral.ReplaceAllString(a, "#") != numeral.ReplaceAllString(b, "#") {
		return false
	}
	x, y := numeral.FindAllString(a, -1), numeral.FindAllString(b, -1)
	for i := range x {
		if x[i] == y[i] {
			continue
		}
		p, errP := strconv.ParseFloat(x[i], 64)
		q, errQ := strconv.ParseFloat(y[i], 64)
		if errP != nil || errQ != nil || math.Abs(p-q) > tolerance*math.Max(math.Abs(p), math.Abs(q))+dust {
			return false
		}
	}
	return true
}

func TestNumbersAgree(t *testing.T) {
	const h = "0123456789abcdef0123456789abcdef0123456789abcdef0123456789abcdef"
	for _, c := range []struct {
		a, b string
		want bool
	}{
		{"x 1.5 dB", "x 1.5000000001 dB", true},
		{"x 1.5 dB", "x 1.50001 dB", false},
		{"x 1.5 dB", "y 1.5 dB", false},
		{"1e-17", "-3e-16", true},
		{"b: [1, 2]", "b: [1]", false},
		{"sha " + h, "sha " + strings.ToUpper(h[:1]) + strings.Repeat("f", 63), true},
		{"kept 3 of 3", "kept 2 of 3", false},
	} {
		if got := numbersAgree(c.a, c.b, elsewhereTolerance); got != c.want {
			t.Errorf("%q and %q: %v", c.a, c.b, got)
		}
	}
}

// A changed coefficient must be told in decibels, at the place it changes most.
func TestResponseChangeIsTold(t *testing.T) {
	for _, path := range shipped(t) {
		_, files := compile(t, path)
		index := files[len(files)-1]
		r, err := result.Read(index.Data)
		if err != nil {
			t.Fatal(err)
		}
		last := &r.Digital[len(r.Digital)-1]
		way := &last.Ways[len(last.Ways)-1]
		way.Gain *= 1.01
		changed, err := r.Bytes()
		if err != nil {
			t.Fatal(err)
		}
		if text := responseChange(index.Name, index.Data, index.Data); text != "" {
			t.Errorf("%s: nothing changed, and yet %q", path, text)
		}
		want := fmt.Sprintf("%g Hz %s %s: the response changes by 0.0864 dB at ", last.RateHz, last.Format, way.Way)
		if text := responseChange(index.Name, index.Data, changed); !strings.Contains(text, want) {
			t.Errorf("%s: got %q, want %q", path, text, want)
		}
	}
}

func TestLineDifference(t *testing.T) {
	got := lineDifference("a\nb\nc", "a\nB\nc")
	if want := "  -    2: b\n  +    2: B\n"; got != want {
		t.Errorf("got %q", got)
	}
	got = lineDifference("a\nc", "a\nb\nc")
	if want := "  +    2: b\n"; got != want {
		t.Errorf("got %q", got)
	}
	if got := lineDifference(strings.Repeat("a\n", 40), strings.Repeat("b\n", 41)); strings.Count(got, "\n") != linesShown+1 {
		t.Errorf("got\n%s", got)
	}
}
