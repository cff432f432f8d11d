package biquad_test

import (
	"math"
	"testing"

	"bandwright/biquad"
)

// TestAnalogStep holds steps against the closed forms of textbooks: a low-pass of second order with damping z
// (K. Ogata, Modern Control Engineering, 5th ed., eq. 5-12), two equal first-order low-passes,
// 1-(1+t)exp(-t), and a high-pass of first order, exp(-t).
func TestAnalogStep(t *testing.T) {
	w := 2 * math.Pi * 100
	first := func(b0, b1 float64) biquad.Analog {
		return biquad.Analog{W0: w, Keep: w, B: [3]float64{b0, b1}, A: [3]float64{1, 1}}
	}
	z := 0.4
	d := math.Sqrt(1 - z*z)
	for name, x := range map[string]struct {
		sections []biquad.Analog
		want     func(x float64) float64 // x = w·t
	}{
		"second order": {[]biquad.Analog{{W0: w, Keep: w, B: [3]float64{1}, A: [3]float64{1, 2 * z, 1}}},
			func(x float64) float64 { return 1 - math.Exp(-z*x)*(math.Cos(d*x)+z/d*math.Sin(d*x)) }},
		"band":         {[]biquad.Analog{{W0: w, Keep: w, B: [3]float64{0, 2 * z}, A: [3]float64{1, 2 * z, 1}}}, func(x float64) float64 { return 2 * z / d * math.Exp(-z*x) * math.Sin(d*x) }},
		"two":          {[]biquad.Analog{first(1, 0), first(1, 0)}, func(x float64) float64 { return 1 - (1+x)*math.Exp(-x) }},
		"high":         {[]biquad.Analog{first(0, 1)}, func(x float64) float64 { return math.Exp(-x) }},
		"constant":     {[]biquad.Analog{biquad.Constant(-0.5)}, func(float64) float64 { return -0.5 }},
		"low and high": {[]biquad.Analog{first(1, 0), first(0, 1)}, func(x float64) float64 { return x * math.Exp(-x) }},
	} {
		c := biquad.Cascade[biquad.Analog]{Gain: 2}
		for _, s := range x.sections {
			c.Slots = append(c.Slots, biquad.Fixed(s))
		}
		s, ok := biquad.NewAnalogStep(c, nil)
		if !ok {
			t.Fatal(name)
		}
		at := 0.0
		for _, wait := range []float64{0, 1e-5, 1e-3, 1e-3, 0.02, 1e-4} {
			s.Wait(wait)
			at += wait
			if got, want := s.Value(), 2*x.want(w*at); math.Abs(got-want) > 1e-12 {
				t.Errorf("%s after %v s: %v, want %v", name, at, got, want)
			}
		}
	}
	rising := biquad.Cascade[biquad.Analog]{Gain: 1, Slots: []biquad.Slot[biquad.Analog]{biquad.Fixed(biquad.Analog{W0: 1, Keep: 1, B: [3]float64{1, 1}, A: [3]float64{1}})}}
	if _, ok := biquad.NewAnalogStep(rising, nil); ok {
		t.Error("a differentiator has a step")
	}
}

// TestStepDigital takes a one-pole low-pass, y = g·x + (1-g)·y, in all forms: 1-(1-g)^(n+1).
func TestStepDigital(t *testing.T) {
	const g = 0.1
	for _, f := range []biquad.Form{biquad.Direct, biquad.Delta, biquad.Mirrored} {
		d := biquad.Digital{B: [3]float64{g}, A: [3]float64{1, g - 1}}.To(f)
		y := make([]float64, 40)
		biquad.StepDigital(y, biquad.Cascade[biquad.Digital]{Gain: 3, Slots: []biquad.Slot[biquad.Digital]{biquad.Fixed(d)}}, nil)
		left := 3.0
		for n, v := range y {
			if left *= 1 - g; math.Abs(v-(3-left)) > 1e-12 {
				t.Fatalf("%v, sample %d: %v, want %v", f, n, v, 3-left)
			}
		}
	}
}
