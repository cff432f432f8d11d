package compiler

import (
	"context"
	"math"
	"testing"
)

// Every setting that acts goes once round its choices, and no change is heard: the
// spec's settings work at the common part and at a way.
func TestChangesAreSimulated(t *testing.T) {
	const spec = `
bandwright: 1
name: wren
settings: {placement: [free, wall, corner], trim: [0 dB, -3 dB], unused: [a, b]}
common:
  - high-pass: {family: butterworth, order: 2, at: 80 Hz}
  - low-shelf: {at: 210 Hz, gain: -3 dB, q: 0.7, when: {placement: wall}}
  - low-shelf: {at: 240 Hz, gain: -6 dB, q: 0.7, when: {placement: corner}}
ways:
  low: {filters: [{gain: {by: 1 dB, when: {unused: b}}}, {gain: {by: -1 dB, when: {unused: b}}}]}
  high: {filters: [{gain: {by: -3 dB, when: {trim: -3 dB}}}], delay: 0.1 ms}
crossovers: [{between: [low, high], family: LR, order: 4, at: 2 kHz}]
digital: {rates: [48 kHz, 96 kHz], formats: [float32, float64], method: bilinear, headroom: 6 dB}
promise: {magnitude: off, sum: off, phase: off}
`
	b, faults, err := Compile(context.Background(), "wren.yaml", []byte(spec), nil)
	if err != nil || b == nil {
		t.Fatalf("%v %v", err, faults)
	}
	for i, d := range b.Digital {
		if (d.Changes != nil) != (d.RateHz == 48000 && d.Format.Name == "float32") {
			t.Errorf("realisation %d: changes %v", i, d.Changes)
		}
		if d.Changes == nil {
			continue
		}
		if d.Changes.FadeS != 0.01 || d.Changes.SettleS < 0.02 || d.Changes.SettleS > 0.5 {
			t.Errorf("fade %g s, settling %g s", d.Changes.FadeS, d.Changes.SettleS)
		}
		var names []string
		for _, c := range d.Changes.Each {
			names = append(names, c.Setting+" "+c.From+" "+c.To)
			if !(c.ClickDB < -85 && c.ClickDB > -150) || math.Abs(c.LevelDB) > 0.01 {
				t.Errorf("%+v", c)
			}
		}
		if len(names) < 5 || names[0] != "placement free wall" || names[2] != "placement corner free" {
			t.Errorf("changes %q", names)
		}
	}
}

// The filter that finds clicks has half the power left at its corner, and next to
// nothing of the tone below.
func TestAboveFilter(t *testing.T) {
	const rate = 48000.0
	for _, c := range []struct{ hz, wantDB, within float64 }{{1000, -3.01, 0.05}, {10000, 0, 0.05}, {60, -97.7, 0.5}} {
		f := newAboveFilter(rate)
		peak := 0.0
		for i := range 48000 {
			y := f.next(math.Sin(2 * math.Pi * c.hz / rate * float64(i)))
			if i > 24000 {
				peak = math.Max(peak, math.Abs(y))
			}
		}
		if db := 20 * math.Log10(peak); math.Abs(db-c.wantDB) > c.within {
			t.Errorf("%g Hz: %.2f dB, want %.2f", c.hz, db, c.wantDB)
		}
	}
}
