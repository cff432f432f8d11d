package biquad

import (
	"math"
	"testing"
)

// TestResponseStep makes steps of responses of analog filters and holds them against those by the exponential of
// their matrices.
func TestResponseStep(t *testing.T) {
	second := func(hz, q float64, b [3]float64) Slot[Analog] {
		return Slot[Analog]{Alt: []Analog{{W0: 2 * math.Pi * hz, B: b, A: [3]float64{1, 1 / q, 1}}}}
	}
	low, high := [3]float64{1}, [3]float64{0, 0, 1}
	top := second(400e3, 0.5, low) // as op-amps end every board
	for _, c := range []struct {
		name  string
		slots []Slot[Analog]
	}{
		{"low-pass", []Slot[Analog]{second(300, 0.7071, low), second(300, 0.7071, low)}},
		{"high-pass", []Slot[Analog]{second(2000, 0.7071, high), second(2000, 0.7071, high), top}},
		{"sharp", []Slot[Analog]{second(60, 10, low), top}},
		{"notch", []Slot[Analog]{second(1000, 5, [3]float64{1, 0, 1}), top}},
		{"all-passes", []Slot[Analog]{second(3000, 0.6, [3]float64{1, -1 / 0.6, 1}), second(9000, 1, [3]float64{1, -1, 1}), second(40, 0.6, high), top}},
		{"slow", []Slot[Analog]{second(1, 0.6, high), second(20e3, 0.7, low)}},
		{"constant", []Slot[Analog]{top}},
	} {
		cascade := Cascade[Analog]{Gain: 1, Slots: c.slots}
		h := make([]complex128, len(StepHz()))
		OnAnalog(cascade, StepHz()).Response(h, nil)
		got := NewResponseStep(h)
		want, _ := NewAnalogStep(cascade, nil)
		most, where, stand := 0.0, 0.0, 0.0
		for ms := 0.01; ms < 60; ms *= 1.013 {
			want.Wait(ms/1e3 - stand)
			stand = ms / 1e3
			if off := math.Abs(got.At(stand) - want.Value()); off > most {
				most, where = off, ms
			}
		}
		if most > 1e-3 {
			t.Errorf("%s: %.2g off after %.3g ms", c.name, most, where)
		}
	}
}
