package golden

import (
	"regexp"
	"slices"
	"testing"

	"bandwright/compiler"
	"bandwright/compiler/promise"
)

// The loudspeakers that ship keep every default promise, on their boards and at
// each of the usual rates, by the default method.
func TestDefaultsHoldAtEveryRate(t *testing.T) {
	rates := regexp.MustCompile(`rates: \[[^]]*\]`)
	for _, name := range []string{"heron", "bittern", "dabchick"} {
		src := shippedSpec(t, name)
		if regexp.MustCompile(`(?m)^  method:`).MatchString(src) {
			t.Errorf("%s names a method", name)
		}
		if m := regexp.MustCompile(`(?m)^promise:\n((?:  .*\n)+)`).FindStringSubmatch(src); m != nil {
			for _, key := range regexp.MustCompile(`(?m)^  ([a-z-]+):`).FindAllStringSubmatch(m[1], -1) {
				if r := slices.IndexFunc(promise.All, func(r *promise.Row) bool { return r.Name == key[1] }); r < 0 || !promise.All[r].InAir {
					t.Errorf("%s has a promise of its own that is not about its drivers: %s", name, key[1])
				}
			}
		} else if regexp.MustCompile(`(?m)^promise:`).MatchString(src) {
			t.Errorf("%s: the promises are written as this test cannot read them", name)
		}
		b, _ := compile(t, "../specs/"+name+".yaml")
		kept(t, name, b)
		src = withoutBoard(t, src)
		b = compileText(t, name, rates.ReplaceAllString(src, "rates: [44.1 kHz, 48 kHz, 96 kHz, 192 kHz]"))
		if len(b.Spec.Digital.RatesHz) != 4 {
			t.Fatalf("%s: rates %v", name, b.Spec.Digital.RatesHz)
		}
		kept(t, name, b)
	}
}

// kept demands that every promise is kept.
func kept(t *testing.T, name string, b *compiler.Build) {
	t.Helper()
	for _, f := range b.Findings {
		if !f.Kept {
			t.Errorf("%s: %s of %s, %s: %g %s", name, f.Promise, f.Way, f.Realisation, f.Worst, f.Unit)
		}
	}
}
