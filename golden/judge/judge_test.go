package judge

import (
	"os"
	"regexp"
	"strings"
	"testing"

	"bandwright/compiler"
	"bandwright/compiler/language"
)

// scipy.signal agrees with what is emitted for every generated spec.
func TestScipyAgrees(t *testing.T) {
	var trials []trial
	for _, w := range generated() {
		trials = append(trials, newTrial(t, w.name, w.system, compiled(t, w.name, w.text)))
	}
	report(t, judged(t, trials))
}

// The same for the specs in the tree, whose filters are read from the parsed
// spec.
func TestScipyAgreesOnShippedSpecs(t *testing.T) {
	var trials []trial
	for _, path := range shipped(t) {
		text := must[[]byte](t)(os.ReadFile(path))
		name := stem(path)
		s, faults := language.Parse(path, text, compiler.Language())
		if s == nil {
			t.Fatalf("%s: %v", path, faults)
		}
		if s.Digital == nil { // ngspice judges boards
			continue
		}
		trials = append(trials, newTrial(t, name, described(s), compiled(t, name, string(text))))
	}
	report(t, judged(t, trials))
}

// fixedPoint are the formats of whole numbers in a spec's list.
var fixedPoint = regexp.MustCompile(`, q\d+\]`)

// The same for the coefficients of fits: every spec that was generated for the
// bilinear transform, by the default method, in floating point. That fixed point keeps what was
// fitted is seen in the specs that were generated for the fit.
func TestScipyAgreesOnFits(t *testing.T) {
	var trials []trial
	for _, w := range generated() {
		text := strings.Replace(w.text, "method: bilinear", "method: fit", 1)
		if text == w.text {
			continue
		}
		text = fixedPoint.ReplaceAllString(text, "]")
		trials = append(trials, newTrial(t, w.name, w.system, compiled(t, w.name, text)))
	}
	if len(trials) < 50 {
		t.Errorf("%d specs, want 50", len(trials))
	}
	report(t, judged(t, trials))
}
