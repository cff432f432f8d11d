package cheader

import (
	"bytes"
	"regexp"
	"testing"

	"bandwright/biquad/number"
)

// A common part that is a gain at every rate costs no pass of its own: the loop that looks at the input multiplies, and
// nothing is filtered. One with sections is filtered, and there the first pass has the gain where passes take gains along.
// The bits are the same either way, so that no comparison of samples sees it: what is looked at is the function's text.
func TestAPlainCommonPartTakesNoPass(t *testing.T) {
	function := regexp.MustCompile(`(?ms)^static int \w+_run_common\(.*?^\}`)
	product := regexp.MustCompile(`\w\[i[ +\d]*\].*\bgain\b|\bgain\b.*\w\[i[ +\d]*\]|\bx\b.*\bgain\b`)
	looked := 0
	for _, s := range []shape{shapes[1], shapes[3]} { // some sections, none
		for _, plain := range []bool{false, true} {
			b := s.build()
			for i := range b.Digital {
				if plain {
					b.Digital[i].System.Common.Slots = nil
				}
			}
			for _, f := range code(t, b) {
				text := function.Find(f.Data)
				if text == nil {
					t.Fatalf("%s: no function for the common part", f.Name)
				}
				filters := bytes.Contains(text, []byte("_run_cascade(")) || bytes.Contains(text, []byte("_run_list("))
				if want := s.sections > 0 && !plain; filters != want {
					t.Errorf("%s, plain %v: the common part is filtered: %v, want %v", f.Name, plain, filters, want)
				}
				if !filters && !product.Match(text) {
					t.Errorf("%s: nothing multiplies by the gain in\n%s", f.Name, text)
				}
				looked++
			}
		}
	}
	if looked < 2*2*len(number.Formats) {
		t.Errorf("%d functions only", looked)
	}
}
