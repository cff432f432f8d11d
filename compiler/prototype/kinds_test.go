package prototype_test

import (
	"math"
	"math/rand"
	"strings"
	"testing"

	"bandwright/compiler/language"
	"bandwright/compiler/prototype"
	"bandwright/compiler/prototype/prototypetest"
)

func TestKinds(t *testing.T) {
	for _, k := range prototype.Kinds {
		t.Run(k.Name, func(t *testing.T) { prototypetest.Check(t, k) })
	}
}

// build is a kind's prototype for arguments that must be accepted.
func build(t *testing.T, kind string, g prototypetest.Given) prototype.Ideal {
	t.Helper()
	k, ok := prototype.ByName(kind)
	if !ok {
		t.Fatalf("no kind `%s`", kind)
	}
	ideal, problems := k.Ideal(prototypetest.Args(k.Keys, g))
	for _, p := range problems {
		t.Fatalf("%s %v is refused: `%s`: %s (right: %s)", kind, g, p.Key, p.Message, p.Right)
	}
	return ideal
}

func args(k prototype.Kind, g given) *language.Value { return prototypetest.Args(k.Keys, g) }

// sound demands either a prototype that keeps the package's invariant or
// problems that say what is wrong and what would be right.
func sound(t *testing.T, ideal prototype.Ideal, problems []prototype.Problem) bool {
	t.Helper()
	for _, p := range problems {
		if p.Message == "" || p.Right == "" {
			t.Errorf("problem without a text: %+v", p)
		}
	}
	return len(problems) > 0 || prototypetest.Sound(t, ideal)
}

// Arguments that the grammar accepts and whose meaning is wrong: the key that
// the fault is shown at and a part of what it says.
func TestProblems(t *testing.T) {
	num := func(c ...float64) []any { return list(c) }
	for _, c := range []struct {
		kind, key, says string
		g               given
	}{
		{"low-pass", "", "needs `family` or `q`", given{"at": 1e3}},
		{"low-pass", "", "needs `family` or `q`", given{"at": 1e3, "order": 4}},
		{"high-pass", "", "needs an `order`", given{"at": 1e3, "family": "butterworth"}},
		{"low-pass", "order", "order is even, not 3", given{"at": 1e3, "family": "LR", "order": 3}},
		{"low-pass", "", "needs `ripple`", given{"at": 1e3, "family": "chebyshev", "order": 3}},
		{"low-pass", "ripple", "does not apply to the family butterworth", given{"at": 1e3, "family": "butterworth", "order": 3, "ripple": 1.0}},
		{"low-pass", "ripple", "does not apply to the family inverse-chebyshev", given{"at": 1e3, "family": "inverse-chebyshev", "order": 3, "ripple": 1.0, "stop": 40.0}},
		{"low-pass", "", "needs `stop`", given{"at": 1e3, "family": "inverse-chebyshev", "order": 3}},
		{"high-pass", "stop", "does not apply to the family chebyshev", given{"at": 1e3, "family": "chebyshev", "order": 3, "ripple": 1.0, "stop": 40.0}},
		{"low-pass", "", "needs `stop`", given{"at": 1e3, "family": "elliptic", "order": 3, "ripple": 1.0}},
		{"low-pass", "stop", "is not more than the passband's ripple", given{"at": 1e3, "family": "elliptic", "order": 3, "ripple": 2.0, "stop": 2.0}},
		{"low-pass", "stop", "needs a pole pair of Q", given{"at": 1e3, "family": "elliptic", "order": 12, "ripple": 6.0, "stop": 6.001}},
		{"low-pass", "scaled-by", "does not apply to the family LR", given{"at": 1e3, "family": "LR", "order": 4, "scaled-by": "phase"}},
		{"low-pass", "family", "cannot be combined with `q`", given{"at": 1e3, "family": "LR", "order": 2, "q": 0.5}},
		{"low-pass", "order", "has order 2, not 4", given{"at": 1e3, "order": 4, "q": 0.5}},
		{"low-pass", "scaled-by", "cannot be combined with `q`", given{"at": 1e3, "scaled-by": "delay", "q": 0.5}},
		{"all-pass", "q", "order 1 has no `q`", given{"at": 1e3, "order": 1, "q": 1.0}},
		{"all-pass", "", "order 2 needs `q`", given{"at": 1e3}},
		{"peak", "", "needs `q` or `bandwidth`", given{"at": 1e3, "gain": 3.0}},
		{"peak", "bandwidth", "set the same property", given{"at": 1e3, "gain": 3.0, "q": 1.0, "bandwidth": 1.0}},
		{"low-shelf", "q", "order 1 has no `q`", given{"at": 1e3, "gain": 3.0, "order": 1, "q": 1.0}},
		{"high-shelf", "slope", "order 1 has no `slope`", given{"at": 1e3, "gain": 3.0, "order": 1, "slope": 1.0}},
		{"low-shelf", "slope", "set the same property", given{"at": 1e3, "gain": 3.0, "q": 1.0, "slope": 1.0}},
		{"high-shelf", "slope", "no shelf of 12 dB is as steep as slope 9", given{"at": 1e3, "gain": 12.0, "slope": 9.0}},
		{"dipole-lift", "to", "cannot level out at 500 Hz", given{"from": 200.0, "to": 500.0}},
		{"dipole-lift", "to", "cannot level out at 200 Hz", given{"from": 200.0, "to": 200.0}},
		{"delay", "by", "too long", given{"by": 1.5}},
		{"rational", "numerator", "has order 3 and the denominator 2", given{"at": 1e3, "numerator": num(1, 0, 0, 0), "denominator": num(1, 1, 1)}},
		{"rational", "numerator", "gives no output", given{"at": 1e3, "numerator": num(0, 0), "denominator": num(1, 1, 1)}},
		{"rational", "denominator", "begins with 0", given{"at": 1e3, "numerator": num(1), "denominator": num(0, 1, 1)}},
		{"rational", "denominator", "pole pair at 1 kHz with Q 2 in the right half plane", given{"at": 1e3, "numerator": num(1), "denominator": num(1, -0.5, 1)}},
		{"rational", "denominator", "real pole at 3 kHz in the right half plane", given{"at": 1e3, "numerator": num(1), "denominator": num(1, -2, -3)}},
		{"rational", "denominator", "at 2 kHz on the imaginary axis", given{"at": 1e3, "numerator": num(1), "denominator": num(1, 0, 4)}},
		{"rational", "denominator", "integrator", given{"at": 1e3, "numerator": num(1), "denominator": num(1, 1, 0)}},
		{"rational", "denominator", "Q 1e+06 is almost undamped", given{"at": 1e3, "numerator": num(1), "denominator": num(1, 1e-6, 1)}},
		{"rational", "denominator", "has a root at", given{"at": 1e3, "numerator": num(1), "denominator": num(1, 1e20)}},
		{"roots", "zeros", "3 zeros and 2 poles", given{"zeros": []any{0.0, given{"at": 50.0, "q": "inf"}}, "poles": num(1, 2), "unity-at": 1e3}},
		{"roots", "poles", "integrator", given{"poles": num(0, 10), "unity-at": 1e3}},
		{"roots", "poles", "oscillates", given{"poles": []any{given{"at": 1e3, "q": "inf"}}, "unity-at": 0.0}},
		{"roots", "poles", "right half plane", given{"poles": []any{given{"at": 1e3, "side": "right"}}, "unity-at": 0.0}},
		{"roots", "zeros", "`side` does not apply", given{"zeros": []any{given{"at": 1e3, "q": "inf", "side": "right"}}, "poles": num(1, 2), "unity-at": 0.0}},
		{"roots", "unity-at", "is 0 at 0 Hz", given{"zeros": num(0), "poles": num(100), "unity-at": 0.0}},
		{"roots", "unity-at", "is 0 at infinity", given{"poles": num(100), "unity-at": "inf"}},
		{"roots", "unity-at", "is 0 at 3 kHz", given{"zeros": []any{given{"at": 3e3, "q": "inf"}}, "poles": num(100, 200), "unity-at": 3e3}},
		{"roots", "unity-at", "is too small or too large", given{"poles": num(1, 1, 1, 1, 1), "unity-at": 1e6}},
	} {
		k, _ := prototype.ByName(c.kind)
		_, problems := k.Ideal(args(k, c.g))
		found := false
		for _, p := range problems {
			found = found || p.Key == c.key && strings.Contains(p.Message, c.says) && p.Right != ""
		}
		if !found {
			t.Errorf("%s %v: %+v, want `%s`: …%s…", c.kind, c.g, problems, c.key, c.says)
		}
	}
}

// A zero on the axis is one wherever it lies, whatever rounding leaves of it.
func TestUnityAtAZero(t *testing.T) {
	k, _ := prototype.ByName("roots")
	for f := 20.0; f < 20e3; f *= 1.1 {
		_, problems := k.Ideal(args(k, given{
			"zeros": []any{given{"at": f, "q": "inf"}}, "poles": []any{given{"at": 777.0, "q": 2.0}, 1e3}, "unity-at": f,
		}))
		if len(problems) != 1 || !strings.Contains(problems[0].Message, "response is 0 at") {
			t.Errorf("%v Hz: %v", f, problems)
		}
	}
}

// The slope that a refusal names as the limit is itself accepted.
func TestSlopeLimit(t *testing.T) {
	k, _ := prototype.ByName("low-shelf")
	for _, db := range []float64{1, 6, 9, -9, -20, 60} {
		_, problems := k.Ideal(args(k, given{"at": 1e3, "gain": db, "slope": 10.0}))
		if db < 9 && db > 0 {
			if len(problems) != 0 { // 1/q² stays above 0 beyond a slope of 10
				t.Errorf("%v dB: %v", db, problems)
			}
			continue
		}
		if len(problems) != 1 {
			t.Fatalf("%v dB: %v", db, problems)
		}
		limit := strings.TrimPrefix(problems[0].Right, "at most ")
		build(t, "low-shelf", given{"at": 1e3, "gain": db, "slope": parsed(t, limit)})
	}
}

// TestAnyKeys drives low-pass and high-pass through every choice of keys,
// fitting or not.
func TestAnyKeys(t *testing.T) {
	rng := rand.New(rand.NewSource(6))
	maybe := func(g given, key string, v any) {
		if rng.Intn(3) > 0 {
			g[key] = v
		}
	}
	accepted := 0
	for range 4000 {
		k, _ := prototype.ByName([]string{"low-pass", "high-pass"}[rng.Intn(2)])
		f := prototype.Families[rng.Intn(len(prototype.Families))]
		g := given{"at": math.Exp2(30*rng.Float64() - 10)}
		maybe(g, "family", f.Name)
		maybe(g, "order", 1+rng.Intn(12))
		if f.UsesRipple || rng.Intn(4) == 0 {
			maybe(g, "ripple", 0.001+5.999*rng.Float64())
		}
		if f.UsesStop || rng.Intn(4) == 0 {
			maybe(g, "stop", 1+199*rng.Float64())
		}
		if rng.Intn(4) == 0 {
			maybe(g, "scaled-by", []string{"level", "delay", "phase"}[rng.Intn(3)])
		}
		if rng.Intn(8) == 0 {
			g["q"] = math.Exp2(14*rng.Float64() - 4)
		}
		ideal, problems := k.Ideal(args(k, g))
		if !sound(t, ideal, problems) {
			t.Fatalf("with %v", g)
		}
		if len(problems) == 0 {
			accepted++
		}
	}
	if accepted < 500 {
		t.Errorf("only %d accepted", accepted)
	}
}
