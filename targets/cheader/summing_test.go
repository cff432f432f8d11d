package cheader

import (
	"regexp"
	"strings"
	"testing"

	"bandwright/biquad/number"
)

// summing is the program of the shapes in whose code every sum and every product of samples stands that is
// in any shape's: what compilers may do to those is seen in it as well as in all.
func summing(t *testing.T, format number.Format) program {
	t.Helper()
	chosen := []shape{shapes[2], shapes[3], shapes[4]}
	stands := map[string]bool{}
	for _, s := range chosen {
		for sum := range s.sums(t, format) {
			stands[sum] = true
		}
	}
	for _, s := range shapes {
		for sum := range s.sums(t, format) {
			if !stands[sum] {
				t.Errorf("%s computes `%s`, which is not among what is compiled", s.name, sum)
			}
		}
	}
	if len(stands) < 20 {
		t.Errorf("%d sums and products only", len(stands))
	}
	return programOf(t, format, chosen)
}

// sample is a name of what samples are computed with, and numbered an index of one.
var (
	sample   = regexp.MustCompile(`\b([pqy]_|x\b|gain\b|w\b|from\[|now\[|io\[|other\[)`)
	numbered = regexp.MustCompile(`_\d\b|\[\d\]`)
	summed   = regexp.MustCompile(`[^-+*] ?[-+*]=? `)
)

// sums are the statements of a shape's code that add or multiply samples, with indices and white space left out.
func (s shape) sums(t *testing.T, format number.Format) map[string]bool {
	t.Helper()
	out := map[string]bool{}
	for _, f := range code(t, s.build()) {
		if f.Name != s.name+"_"+format.Name+".c" {
			continue
		}
		text := strings.NewReplacer(s.name+"_", "STEM_", strings.ToUpper(s.name)+"_", "UPPER_").Replace(string(notCode.ReplaceAll(f.Data, nil)))
		for _, statement := range regexp.MustCompile(`[;{}]|\n#[^\n]*`).Split(text, -1) {
			statement = numbered.ReplaceAllString(strings.Join(strings.Fields(statement), " "), "_N")
			if _, value, is := strings.Cut(statement, " = "); is && sample.MatchString(value) && summed.MatchString(value) {
				out[statement] = true
			}
		}
	}
	return out
}
