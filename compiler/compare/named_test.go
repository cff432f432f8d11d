package compare

import (
	"testing"

	"bandwright/compiler/language"
)

// A filter that came in the place of another is not said to act together with itself.
func TestFormerLinesAreNamed(t *testing.T) {
	gone := cause{edit: edit{path: "ways.bass.filters[0]", said: "ways.bass.filters[0] was removed: all-pass {at: 400 Hz, order: 1}"}}
	came := cause{edit: edit{path: "ways.bass.filters[0]", said: "ways.bass.filters[0] was added: delay {by: 0.2 ms}", at: language.Pos{Line: 4, Col: 1}}}
	other := cause{edit: edit{path: "ways.bass.filters[1]", said: "ways.bass.filters[1] was removed: gain {by: 1 dB}"}}
	all := []cause{gone, came, other}
	for i, want := range []string{"the former ways.bass.filters[0]", "ways.bass.filters[0]", "ways.bass.filters[1]"} {
		if got := all[i].named(all); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}
