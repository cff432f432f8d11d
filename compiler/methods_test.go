package compiler_test

import (
	"fmt"
	"math"
	"os"
	"strings"
	"testing"

	"bandwright/biquad"
	"bandwright/biquad/discretize"
	"bandwright/compiler"
)

const oneWay = `ways:
  only:
    filters:
      - peak: {at: 9 kHz, q: 1.2, gain: 4 dB%s}
      - low-shelf: {at: %s, gain: -3 dB}
      - high-pass: {at: 30 Hz, q: 0.7}
`

func compileMethod(t *testing.T, body, digital string) map[string][]biquad.Digital {
	t.Helper()
	src := "bandwright: 1\nname: test\n" + body + "promise: {magnitude: 90 dB, sum: 90 dB, phase: 170 deg, headroom: off}\n" +
		"digital: {rates: [48 kHz], formats: [float64]" + digital + "}\n"
	b := compileSource(t, src)
	out := map[string][]biquad.Digital{}
	for _, s := range b.Digital[0].System.Ways[0].Slots {
		key := strings.Join(s.From, ", ")
		out[key] = append(out[key], s.Alt[0])
	}
	return out
}

// A filter with a method of its own is realised by it, beside a fit of the
// others: its coefficients are those that the method alone gives.
func TestMethodOfOneFilter(t *testing.T) {
	for _, method := range []string{"bilinear", "magnitude-matched"} {
		mixed := compileMethod(t, fmt.Sprintf(oneWay, ", method: "+method, "200 Hz"), ", method: fit")
		pure := compileMethod(t, fmt.Sprintf(oneWay, "", "200 Hz"), ", method: "+method)
		const line = "ways.only.filters[0] peak"
		if len(mixed[line]) != 1 || mixed[line][0] != pure[line][0] {
			t.Errorf("%s: %v beside a fit, %v alone", method, mixed[line], pure[line])
		}
		if len(mixed["ways.only"]) != 2 {
			t.Errorf("%s: the other filters are not fitted as a whole: %v", method, mixed)
		}
	}
}

// With section-by-section a changed filter changes only its own section;
// without it the fit is free to move the others.
func TestSectionBySection(t *testing.T) {
	for _, c := range []struct {
		digital string
		own     bool
	}{{", section-by-section: true", true}, {"", false}} {
		before := compileMethod(t, fmt.Sprintf(oneWay, "", "200 Hz"), c.digital)
		after := compileMethod(t, fmt.Sprintf(oneWay, "", "400 Hz"), c.digital)
		changed := 0
		for line, ds := range before {
			for i, d := range ds {
				if i >= len(after[line]) || after[line][i] != d {
					changed++
				}
			}
		}
		if (changed == 1) != c.own {
			t.Errorf("%q: %d of %d sections changed", c.digital, changed, len(before))
		}
	}
}

// digitalText is a shipped spec without its board, which is no matter of
// methods and takes longer.
func digitalText(t *testing.T, name string) string {
	t.Helper()
	src, err := os.ReadFile("../specs/" + name + ".yaml")
	if err != nil {
		t.Fatal(err)
	}
	text, _, _ := strings.Cut(string(src), "\nboard:")
	return text
}

// digitals are the builds of digitalText, by name: each is compiled once, and
// read only.
var digitals = map[string]*compiler.Build{}

func digital(t *testing.T, name string) *compiler.Build {
	t.Helper()
	if digitals[name] == nil {
		digitals[name] = compileSource(t, digitalText(t, name))
	}
	return digitals[name]
}

// The common delay that the method declares is the one that the coefficients
// have: the slope of the phase of realised over prototype, by least squares
// over the ways' overlap, without the code that declared it.
func TestDeclaredDelayIsInTheCoefficients(t *testing.T) {
	for _, name := range []string{"heron", "dabchick", "bittern", "pipit"} {
		b := digital(t, name)
		for _, d := range b.Digital {
			if !d.Asked {
				continue
			}
			var num, den float64
			for hz := 20.0; hz < 10000; hz *= 1.02 {
				for k := range b.Prototype.Ways {
					h := make([]complex128, 1)
					biquad.OnAnalog(b.Prototype.Ways[k].Cascade, []float64{hz}).Response(h, make(biquad.Combination, len(b.Settings)))
					p := h[0]
					biquad.OnDigital(d.System.Ways[k].Cascade, d.RateHz, []float64{hz}).Response(h, make(biquad.Combination, len(b.Settings)))
					q := h[0] * complex(real(p), -imag(p))
					w, weight := 2*math.Pi*hz, math.Min(1, real(p)*real(p)+imag(p)*imag(p))
					num -= weight * w * math.Atan2(imag(q), real(q))
					den += weight * w * w
				}
			}
			// A degree at 10 kHz is 0.28 µs.
			if got := num / den; math.Abs(got-d.CommonDelayS) > 0.3e-6 {
				t.Errorf("%s, %s: declared %.3f µs, the coefficients have %.3f", name, d.Name(), d.CommonDelayS*1e6, got*1e6)
			}
		}
	}
}

// Moving one corner by a tenth of a per cent moves no response by more than
// 0.01 dB beyond the prototype's own change, except where a biquad comes or
// goes.
func TestSmallEditsMoveLittle(t *testing.T) {
	edits := map[string][][2]string{
		"heron":    {{"at: 260 Hz", "at: 260.26 Hz"}, {"at: 92 Hz", "at: 92.092 Hz"}, {"to: 190 Hz", "to: 190.19 Hz"}},
		"dabchick": {{"at: 2.4 kHz", "at: 2.4024 kHz"}, {"at: 3.1 kHz", "at: 3.1031 kHz"}},
		"bittern":  {{"at: 3.4 kHz", "at: 3.4034 kHz"}, {"at: 430 Hz", "at: 430.43 Hz"}, {"at: 1.05 kHz", "at: 1.05105 kHz"}},
	}
	for name, list := range edits {
		text, before := digitalText(t, name), digital(t, name)
		for _, e := range list {
			if !strings.Contains(text, e[0]) {
				t.Fatalf("%s has no %q", name, e[0])
			}
			after := compileSource(t, strings.ReplaceAll(text, e[0], e[1]))
			for i, d := range before.Digital {
				for k, w := range d.System.Ways {
					if len(w.Slots) != len(after.Digital[i].System.Ways[k].Slots) {
						continue
					}
					worst := 0.0
					for hz := 20.0; hz < 20000; hz *= 1.01 {
						level := func(p, r bool) float64 {
							b := before
							if p {
								b = after
							}
							h := make([]complex128, 1)
							c := make(biquad.Combination, len(b.Settings))
							if r {
								biquad.OnDigital(b.Digital[i].System.Path(k), d.RateHz, []float64{hz}).Response(h, c)
							} else {
								biquad.OnAnalog(b.Prototype.Path(k), []float64{hz}).Response(h, c)
							}
							return biquad.DB(h[0])
						}
						if level(false, false) < -60 {
							continue
						}
						own := level(true, false) - level(false, false)
						worst = math.Max(worst, math.Abs(level(true, true)-level(false, true)-own))
					}
					if worst > 0.01 {
						t.Errorf("%s, %s → %s, %s, way %s: %.4f dB beyond the prototype's own change", name, e[0], e[1], d.Name(), w.Name, worst)
					}
				}
			}
		}
	}
}

// The methods table as the spec language sees it: the first row is the default.
func TestDefaultMethod(t *testing.T) {
	b := compileSource(t, "bandwright: 1\nname: test\nways: {only: {}}\ndigital: {rates: [48 kHz], formats: [float32]}\n")
	if want := discretize.Methods()[0].Name; b.Spec.Digital.Method != want {
		t.Errorf("default %q, want %q", b.Spec.Digital.Method, want)
	}
}
