package engine

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"testing"

	"bandwright/biquad"
)

// Sections with real roots, drawn at random, are what their two halves make of them, to the last
// digits from 5 Hz up; those whose poles or zeros ring stay whole.
func TestSplitIsTheSame(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 6))
	first := func() biquad.Digital { // poles from 5 Hz up, zeros anywhere real
		pole, zero := -math.Expm1(-2*math.Pi*5*math.Exp2(11*r.Float64())/rateHz), -2*r.Float64()*r.Float64()
		return biquad.Digital{Form: biquad.Delta, B: [3]float64{1, -zero}, A: [3]float64{1, pole}}
	}
	worst := 0.0
	for range 300 {
		a, b := first(), first()
		if r.IntN(4) == 0 {
			b = a // equal roots
		}
		whole := a.Times(b)
		halves, more := Split(biquad.Cascade[biquad.Digital]{Gain: 1, Slots: []biquad.Slot[biquad.Digital]{biquad.Fixed(whole, "x")}})
		if more != 1 || halves.Slots[0].Alt[0].Order() > 1 || halves.Slots[1].Alt[0].Order() > 1 {
			t.Fatalf("%+v: %d more", whole, more)
		}
		for _, hz := range []float64{5, 30, 200, 1000, 10000, 23000} {
			at := biquad.PointAt(hz, rateHz)
			got := halves.Slots[0].Alt[0].At(at) * halves.Slots[1].Alt[0].At(at)
			worst = math.Max(worst, cmplx.Abs(got/whole.At(at)-1))
		}
	}
	if worst > 1e-6 { // of equal roots half of the digits
		t.Errorf("off by %g", worst)
	}
	ringing := path()
	if _, more := Split(ringing); more != 0 {
		t.Errorf("%d sections of %d more", more, len(ringing.Slots))
	}
	// A switched position whose alternatives all have real roots, one of them nothing.
	s := biquad.Cascade[biquad.Digital]{Gain: 1, Slots: []biquad.Slot[biquad.Digital]{{From: []string{"a", "b"}, By: []biquad.Axis{{Setting: 0, Choices: 2}}, Pick: []uint8{0, 1},
		Alt: []biquad.Digital{biquad.Through(biquad.Direct), highPass(40, 0.5)}}}}
	got, more := Split(s)
	if more != 1 || got.Slots[1].Index(biquad.Combination{1}) != 1 || got.Slots[1].Alt[0].Order() != 0 {
		t.Errorf("%+v", got)
	}
}

// What it is for: a high-pass with two equal poles at 20 Hz, of which words with 18
// bits behind the point keep little in one section, where 1 + a1 + a2 is 1.8 of their steps, and
// most in two, where 1 + a1 is 685.
func TestSplitKeepsLowCorners(t *testing.T) {
	e := Engine{Word: 20, Fraction: 18, Data: 32, Accumulator: 64, Form: direct1, Nearest: true}
	whole := biquad.Cascade[biquad.Digital]{Gain: 1, Slots: []biquad.Slot[biquad.Digital]{biquad.Fixed(highPass(20, 0.5), "x")}}
	halves, _ := Split(whole)
	worst := func(p biquad.Cascade[biquad.Digital]) (db float64) {
		c, refusal := New(e, p, 1, rateHz, 0)
		if refusal != nil {
			t.Fatal(refusal)
		}
		hz := biquad.Spaced(10, 20000, 100)
		got, want := make([]complex128, len(hz)), make([]complex128, len(hz))
		biquad.DigitalAt(got, c.Path(1, rateHz), nil, rateHz, hz)
		biquad.DigitalAt(want, whole, nil, rateHz, hz)
		for i := range hz {
			db = math.Max(db, math.Abs(biquad.DB(got[i])-biquad.DB(want[i])))
		}
		return db
	}
	one, two := worst(whole), worst(halves)
	t.Logf("one section is off by %.3g dB, two are by %.3g", one, two)
	if one < 0.3 || two > 0.01 {
		t.Errorf("one section is off by %.3g dB, two are by %.3g", one, two)
	}
}
