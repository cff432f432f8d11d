package circuittest

import (
	"math"
	"math/cmplx"
	"testing"

	"bandwright/biquad"
	"bandwright/compiler/circuit"
	"bandwright/compiler/prototype"
	"bandwright/compiler/prototype/prototypetest"
)

type given = prototypetest.Given

func pole(at, q float64) given { return given{"at": at, "q": q} }

// samplesOfKinds are filters of every kind, in the shapes that a loudspeaker
// asks for.
var samplesOfKinds = map[string][]given{
	"low-pass": {
		{"at": 95.0, "family": "butterworth", "order": 3}, {"at": 2300.0, "family": "LR", "order": 4}, {"at": 400.0, "q": 1.1},
		{"at": 300.0, "family": "elliptic", "order": 5, "ripple": 0.1, "stop": 50.0}, {"at": 900.0, "family": "inverse-chebyshev", "order": 4, "stop": 40.0},
	},
	"high-pass": {
		{"at": 22.0, "family": "butterworth", "order": 2}, {"at": 2300.0, "family": "LR", "order": 8}, {"at": 80.0, "family": "bessel", "order": 5},
		{"at": 300.0, "family": "elliptic", "order": 4, "ripple": 0.5, "stop": 40.0},
	},
	"band-pass":   {pole(300, 2)},
	"notch":       {pole(650, 3), {"at": 650.0, "q": 3.0, "depth": 12.0}},
	"all-pass":    {{"at": 700.0, "order": 1}, pole(700, 0.6)},
	"peak":        {{"at": 92.0, "q": 2.2, "gain": -2.5}, {"at": 92.0, "q": 2.2, "gain": 4.0}, {"at": 3200.0, "q": 4.0, "gain": -8.0}},
	"low-shelf":   {{"at": 210.0, "gain": -3.0, "q": 0.7}, {"at": 90.0, "gain": 9.0, "order": 1}, {"at": 90.0, "gain": 6.0}, {"at": 90.0, "gain": -6.0, "order": 1}},
	"high-shelf":  {{"at": 7000.0, "gain": 1.2, "q": 0.7}, {"at": 6000.0, "gain": -3.0, "order": 1}, {"at": 6000.0, "gain": 3.0, "order": 1}, {"at": 6000.0, "gain": -4.0}},
	"pole-shift":  {{"from": pole(55.8, 0.81), "to": pole(34, 0.65)}, {"from": pole(80, 0.6), "to": pole(40, 0.7071)}},
	"dipole-lift": {{"from": 500.0, "to": 190.0}},
	"rational":    {{"at": 500.0, "numerator": []any{1.0, 0.4, 2.0}, "denominator": []any{1.0, 1.1, 1.0}}, {"at": 500.0, "numerator": []any{1.0, 1.0}, "denominator": []any{1.0, 2.0, 3.0, 1.0}}},
	"roots": {
		{"zeros": []any{given{"at": 900.0, "q": 0.8, "side": "right"}}, "poles": []any{pole(300, 0.8)}, "unity-at": 0.0},
		{"zeros": []any{given{"at": 400.0, "side": "right"}}, "poles": []any{300.0, 900.0}, "unity-at": 0.0},
	},
	"gain":  {{"by": -1.5}, {"by": 4.0}},
	"delay": {{"by": prototypetest.Metres(0.031)}},
}

// ideal is the prototype of a filter.
func ideal(t *testing.T, kind prototype.Kind, g given) prototype.Ideal {
	t.Helper()
	out, problems := kind.Ideal(prototypetest.Args(kind.Keys, g))
	if len(problems) > 0 {
		t.Fatalf("%s %v: %v", kind.Name, g, problems)
	}
	return out
}

// needTwo are kinds of which every section needs two topologies at least.
var needTwo = map[string]bool{"pole-shift": true, "dipole-lift": true, "delay": true, "low-shelf": true, "high-shelf": true}

// Every filter of every kind becomes stages: right-half zeros by all-passes,
// delay by all-passes, all else section by section.
func TestEveryKindHasStages(t *testing.T) {
	stock := means
	stock.Farad.To = 1e-6 // low corners with one op-amp take large capacitors
	for _, kind := range prototype.Kinds {
		texts := samplesOfKinds[kind.Name]
		if len(texts) == 0 {
			t.Errorf("kind %s has no sample here", kind.Name)
		}
		for _, text := range texts {
			ideal := ideal(t, kind, text)
			sections := ideal.Sections
			if ideal.Gain != 1 {
				sections = append(sections, biquad.Constant(ideal.Gain))
			}
			if ideal.DelayS != 0 {
				d, err := circuit.Delay(ideal.DelayS, 20e3, 5*math.Pi/180)
				if err != nil {
					t.Errorf("%s %v: %v", kind.Name, text, err)
				}
				sections = append(sections, d...)
			}
			if len(sections) == 0 {
				t.Errorf("%s %v has no sections", kind.Name, text)
			}
			for _, whole := range sections {
				parts, err := circuit.Split(whole)
				if err != nil {
					t.Errorf("%s %v: %v", kind.Name, text, err)
				}
				for _, s := range parts {
					var names []string
					for _, p := range circuit.Candidates(s, stock) {
						if p.Applies {
							names = append(names, p.Topology.Name)
						} else if p.Reason == "" {
							t.Errorf("%s does not apply to %s, and does not say why", p.Topology.Name, kind.Name)
						}
					}
					if want := 1 + b2i(needTwo[kind.Name]); len(names) < want {
						a, _ := circuit.Ask(s)
						t.Errorf("%s %v: %d topologies for a %v at %.4g Hz, Q %.3g, want %d: %v", kind.Name, text, len(names), a.Shape, a.W/2/math.Pi, a.Q, want, names)
					}
				}
			}
		}
	}
}

func b2i(b bool) int {
	if b {
		return 1
	}
	return 0
}

// Split keeps the response and leaves no right-half zero outside all-passes.
func TestSplitKeepsTheResponse(t *testing.T) {
	for _, s := range []biquad.Analog{
		{W0: 1000, B: [3]float64{1, -0.3, 2}, A: [3]float64{1, 0.7, 1}},
		{W0: 1000, B: [3]float64{1, 1, -2}, A: [3]float64{1, 0.7, 1}},
		{W0: 1000, B: [3]float64{-1, 1, 2}, A: [3]float64{1, 0.7, 1}},
		{W0: 1000, B: [3]float64{0, 1, -2}, A: [3]float64{1, 0.7, 1}},
		{W0: 1000, B: [3]float64{1, -2, 0}, A: [3]float64{1, 0.7, 1}},
		{W0: 1000, B: [3]float64{1, -3, 2}, A: [3]float64{1, 2.7, 1}},
		{W0: 1000, B: [3]float64{1, -3, 0}, A: [3]float64{1, 2.7, 0}},
		{W0: 1000, B: [3]float64{1, 3, 2}, A: [3]float64{1, 2.7, 1}},
	} {
		parts, err := circuit.Split(s)
		if err != nil {
			t.Errorf("%v: %v", s.B, err)
			continue
		}
		for _, w := range []float64{10, 700, 2000, 50000} {
			h := complex(1, 0)
			for _, p := range parts {
				h *= p.At(w)
			}
			if want := s.At(w); cmplx.Abs(h-want) > 1e-12*cmplx.Abs(want) {
				t.Errorf("%v at %g: %v, want %v", s.B, w, h, want)
			}
		}
		for _, p := range parts {
			a, err := circuit.Ask(p)
			if err != nil || a.Shape == circuit.RightHalf1 || a.Shape == circuit.RightHalf2 {
				t.Errorf("%v leaves a %v (%v)", s.B, a.Shape, err)
			}
		}
	}
}

// A delay of all-passes keeps the level and is within its phase.
func TestDelayIsADelay(t *testing.T) {
	const rad = 0.05
	for _, d := range []float64{1e-7, 31e-3 / 343, 0.2e-3} {
		sections, err := circuit.Delay(d, 20e3, rad)
		if err != nil {
			t.Fatal(err)
		}
		for f := 20.0; f <= 20e3; f *= 1.01 {
			h := complex(1, 0)
			for _, s := range sections {
				h *= s.At(2 * math.Pi * f)
			}
			e := h * cmplx.Rect(1, 2*math.Pi*f*d)
			if math.Abs(cmplx.Abs(h)-1) > 1e-12 || math.Abs(cmplx.Phase(e)) > rad*1.001 {
				t.Fatalf("%g s at %g Hz: %v", d, f, e)
			}
		}
	}
	if _, err := circuit.Delay(1, 20e3, rad); err == nil {
		t.Error("a second of delay is no matter of all-passes")
	}
	for _, v := range []float64{math.NaN(), math.Inf(1), -1} {
		if _, err := circuit.Delay(v, 20e3, rad); err == nil {
			t.Errorf("a delay of %g", v)
		}
	}
}

func TestImpossibleSectionsAreRefused(t *testing.T) {
	nan := math.NaN()
	for name, s := range map[string]biquad.Analog{
		"unstable":      {W0: 1, B: [3]float64{1}, A: [3]float64{1, -1, 1}},
		"on the axis":   {W0: 1, B: [3]float64{1}, A: [3]float64{1, 0, 1}},
		"at the origin": {W0: 1, B: [3]float64{1}, A: [3]float64{0, 1, 1}},
		"improper":      {W0: 1, B: [3]float64{1, 1, 1}, A: [3]float64{1, 1}},
		"zero":          {W0: 1, A: [3]float64{1, 1, 1}},
		"not finite":    {W0: 1, B: [3]float64{nan}, A: [3]float64{1, 1, 1}},
		"no scale":      {B: [3]float64{1}, A: [3]float64{1, 1, 1}},
		"nothing":       {},
	} {
		if _, err := circuit.Ask(s); err == nil {
			t.Errorf("%s: accepted", name)
		}
		if _, err := circuit.Split(s); err == nil {
			t.Errorf("%s: split", name)
		}
		for _, p := range circuit.Candidates(s, means) {
			if p.Applies || p.Reason == "" {
				t.Errorf("%s: %s applies", name, p.Topology.Name)
			}
		}
	}
}
