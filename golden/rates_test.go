package golden

import (
	"regexp"
	"testing"

	"bandwright/compiler"
)

// The loudspeakers that ship keep every default promise, on their boards and at
// each of the usual rates, by the default method.
func TestDefaultsHoldAtEveryRate(t *testing.T) {
	rates := regexp.MustCompile(`rates: \[[^]]*\]`)
	for _, name := range []string{"heron", "bittern", "dabchick"} {
		src := shippedSpec(t, name)
		if regexp.MustCompile(`(?m)^(promise|  method):`).MatchString(src) {
			t.Errorf("%s loosens a promise or names a method", name)
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
