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

// A polarity that turns is the most that a setting can do. With the default fade it clicks;
// the fade that is told of was tried: with it nothing is above -80 dB, with the one before it
// something is, and nothing is told where nothing clicks.
func TestFadeThatIsToldOfIsQuiet(t *testing.T) {
	of := func(fade string) *Changes {
		b, faults, err := Compile(context.Background(), "x.yaml", []byte("bandwright: 1\nname: x\nsettings: {turn: [not, turned]}\n"+
			"ways: {w: {filters: [{all-pass: {at: 5 Hz, order: 1, when: {turn: turned}}}]}}\npromise: {magnitude: off, phase: off, headroom: off}\n"+
			"digital: {rates: [48 kHz], formats: [float32], method: bilinear, fade: "+fade+"}\n"), nil)
		if err != nil || b == nil {
			t.Fatal(err, faults)
		}
		for _, d := range b.Digital {
			if d.Changes != nil {
				return d.Changes
			}
		}
		t.Fatal("no changes")
		return nil
	}
	worst := func(c *Changes) float64 { return math.Max(c.Each[0].ClickDB, c.Each[1].ClickDB) }
	if c := of("10 ms"); worst(c) < -80 || worst(c) > -70 || c.QuietFadeS != 0.013 {
		t.Errorf("%+v", c)
	}
	if c := of("11 ms"); worst(c) < -80 || c.QuietFadeS != 0.013 {
		t.Errorf("%+v", c)
	}
	if c := of("13 ms"); worst(c) > -80 || c.QuietFadeS != 0 {
		t.Errorf("%+v", c)
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
