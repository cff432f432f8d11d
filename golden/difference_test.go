package golden

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"maps"
	"math"
	"os"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"bandwright/compiler/compare"
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

// responseChange says, where both files are an index, what the change does to
// the product: the sentences of `bandwright check --against`.
func responseChange(t *testing.T, name string, want, got []byte) string {
	t.Helper()
	if !strings.HasSuffix(name, ".json") {
		return ""
	}
	a, errA := result.Read(want)
	b, errB := result.Read(got)
	if errA != nil || errB != nil {
		return ""
	}
	c := compare.Results(result.FromResult(a, specOf(t, a)), result.FromResult(b, specOf(t, b)))
	return c.Text(columnsShown)
}

// specOf is the shipped spec that a result was made from, nil where it is no
// longer as it was.
func specOf(t *testing.T, r *result.Result) []byte {
	t.Helper()
	for _, path := range shipped(t) {
		src, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		if sum := sha256.Sum256(src); hex.EncodeToString(sum[:]) == r.SpecSHA256 {
			return src
		}
	}
	return nil
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

// A golden file that was altered must be told in decibels, at the place that
// changes most, and one whose coefficients move no response as just that.
func TestAlteredGoldenIsTold(t *testing.T) {
	for _, path := range shipped(t) {
		b, files := compile(t, path)
		if b.Spec.Digital == nil { // it has no coefficients to alter
			continue
		}
		folder, index := folderOf(files), files[len(files)-1]
		made := map[string][]byte{}
		for _, f := range files {
			made[folder+"/"+f.Name] = f.Data
		}
		for _, c := range []struct {
			factor float64
			want   []string
		}{
			{1.01, []string{": REGRESSION: ", ": -0.09 dB throughout", "because Bandwright itself changed, not the spec"}},
			{1.0001, []string{": changed, nothing beyond ", "Bandwright itself: 1 of ", "changed coefficients", "but no response by more than 0.05 dB, 0.5 deg or 1 us"}},
		} {
			r, err := result.Read(index.Data)
			if err != nil {
				t.Fatal(err)
			}
			last := &r.Digital[len(r.Digital)-1]
			last.Ways[len(last.Ways)-1].Gain *= c.factor
			altered, err := r.Bytes()
			if err != nil {
				t.Fatal(err)
			}
			stored := maps.Clone(made)
			stored[folder+"/"+index.Name] = altered
			told := differences(t, made, stored)
			if len(told) != 1 {
				t.Errorf("%s: one file was altered, and %d are told: %q", path, len(told), told)
				continue
			}
			for _, want := range append(c.want, index.Name+" differs from its golden file") {
				if !strings.Contains(told[0], want) {
					t.Errorf("%s: %q is missing in\n%s", path, want, told[0])
				}
			}
		}
		if told := differences(t, made, made); len(told) > 0 {
			t.Errorf("%s: nothing changed, and yet %q", path, told)
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
