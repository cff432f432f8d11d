package compiler

import (
	"math"
	"strings"
	"testing"
)

// twoPistons is an invented two-way of closed boxes without filters but its crossover.
const twoPistons = `# Invented.
bandwright: 1
name: wren
drivers:
  low: {resonance: 40 Hz, q-electrical: 0.4, q-mechanical: 4, moving-mass: 20 g, area: 220 cm2, coil-resistance: 6 ohm, excursion: 5 mm}
  mid: {resonance: 120 Hz, q-electrical: 0.5, q-mechanical: 3, moving-mass: 5 g, area: 50 cm2, coil-resistance: 6 ohm, excursion: 1 mm}
ways:
  a:
    driver: {model: low, mounting: sealed, volume: 20 l}
  b:
    driver: {model: mid, mounting: sealed, volume: 2 l}
    amplifier: {gain: 20 dB}
crossovers:
  - {between: [a, b], family: LR, order: 4, at: 500 Hz}
digital: {rates: [48 kHz], formats: [float32]}
`

// The ends of the range in which a crossover may lie, against closed forms: a closed box's
// excursion is a second-order low-pass of the voltage (R. H. Small, J. Audio Eng. Soc. 20, 1972),
// a piston's pattern 2J1(ka sinθ)/(ka sinθ) (P. M. Morse, Vibration and Sound, 1948).
func TestCorners(t *testing.T) {
	w, faults := Plan("wren.yaml", []byte(twoPistons), nil)
	if w == nil {
		t.Fatal(faults)
	}
	all := w.Corners()
	if len(all) != 1 || len(all[0].Ranges) != 1 || all[0].NowHz != 500 {
		t.Fatalf("%+v", all)
	}
	c := all[0]
	const mass, re, area, volume, fs, qes, qms = 5e-3, 6.0, 50e-4, 2e-3, 120.0, 0.5, 3.0
	ws := 2 * math.Pi * fs
	bl := math.Sqrt(ws * mass * re / qes)
	k := ws*ws*mass + 1.204*343*343*area*area/volume
	w0 := math.Sqrt(k / mass)
	q := w0 * mass / (ws*mass/qms + bl*bl/re)
	volts := w.Spec.FullScaleV * math.Pow(10, -w.Spec.Digital.HeadroomDB/20) * 10
	most := func(corner float64) float64 {
		m := 0.0
		for f := 5.0; f < 5000; f *= 1.002 {
			x, r := 2*math.Pi*f/w0, f/corner
			m = max(m, math.Sqrt2*volts*bl/(re*k)/math.Hypot(1-x*x, x/q)*r*r*r*r/(1+r*r*r*r))
		}
		return m
	}
	if math.Abs(c.ResonanceHz*2*math.Pi/w0-1) > 1e-3 {
		t.Errorf("a resonance at %.2f Hz, want %.2f", c.ResonanceHz, w0/2/math.Pi)
	}
	if c.Above.HoldsHz < 25 || math.Abs(most(c.Above.HoldsHz)-1e-3) > 5e-6 {
		t.Errorf("with a corner at %.1f Hz the cones move %.4f mm", c.Above.HoldsHz, 1e3*most(c.Above.HoldsHz))
	}
	off := func(area, f, degrees float64) float64 {
		x := 2 * math.Pi * f / 343 * math.Sqrt(area/math.Pi) * math.Sin(degrees*math.Pi/180)
		return 20 * math.Log10(math.Abs(2*math.J1(x)/x))
	}
	f := c.Ranges[0][1]
	worst := 0.0
	for _, degrees := range []float64{30, 45, 60} {
		worst = max(worst, math.Abs(off(area, f, degrees)-off(220e-4, f, degrees)))
	}
	if math.Abs(worst-3) > 0.1 || c.Alike[0].ToDegrees != 60 || c.Ranges[0][0] != max(c.Above.HoldsHz, c.ResonanceHz) {
		t.Errorf("at %.0f Hz patterns differ by %.2f dB: %+v", f, worst, c)
	}
}

// What bounds nothing is told as such; what nothing holds leaves no range.
func TestCornersWithout(t *testing.T) {
	for _, x := range []struct {
		old, new string
		holds    func(c Corners) bool
	}{
		{"excursion: 1 mm", "excursion: 90 mm", func(c Corners) bool { return c.Above.Any && c.Above.HoldsHz == 0 && c.Ranges[0][0] == c.ResonanceHz }},
		{", excursion: 1 mm", "", func(c Corners) bool { return !c.Above.Known && len(c.Ranges) == 1 }},
		{"excursion: 1 mm", "excursion: 0.011 mm", func(c Corners) bool { return c.Above.HoldsHz > 1000 && len(c.Ranges) == 0 }},
		{"name: wren", "name: wren\npromise: {pattern: 1 dB}", func(c Corners) bool { return c.WithinDB == 1 && c.Alike[0].ToHz < 1000 }},
		{"name: wren", "name: wren\npromise: {excursion: {at: -20 dB}}", func(c Corners) bool { return c.LevelDB == -20 && c.Above.HoldsHz < 100 }},
	} {
		w, faults := Plan("wren.yaml", []byte(strings.Replace(twoPistons, x.old, x.new, 1)), nil)
		if w == nil {
			t.Fatal(faults)
		}
		if all := w.Corners(); len(all) != 1 || !x.holds(all[0]) {
			t.Errorf("%s: %+v", x.new, all)
		}
	}
}

// The lower way bounds the corner from above where its cones move most near it: here a peak at 1.2 kHz in one
// setting, of which a low-pass takes the more the lower it is; a closed box moves as in TestCorners. Where they move too
// far with the spec's corner already, at the bottom of what the way is there for, nothing is bounded.
func TestCornersOfTheLowerWay(t *testing.T) {
	with := strings.Replace(twoPistons, "  a:\n", "  a:\n    amplifier: {gain: 20 dB}\n    filters: [{high-pass: {family: butterworth, order: 4, at: 350 Hz}}, {peak: {at: 1200 Hz, q: 3, gain: 24 dB, when: {lift: full}}}]\n", 1)
	with = strings.Replace(with, "name: wren", "name: wren\nsettings: {lift: [none, full]}\npromise: {pattern: 12 dB}", 1)
	of := func(excursion string) Corners {
		w, faults := Plan("wren.yaml", []byte(strings.Replace(with, "excursion: 5 mm", "excursion: "+excursion, 1)), nil)
		if w == nil {
			t.Fatal(faults)
		}
		return w.Corners()[0]
	}
	c := of("0.35 mm")
	const mass, re, area, volume, fs, qes, qms = 20e-3, 6.0, 220e-4, 20e-3, 40.0, 0.4, 4.0
	ws := 2 * math.Pi * fs
	bl := math.Sqrt(ws * mass * re / qes)
	k := ws*ws*mass + 1.204*343*343*area*area/volume
	w0 := math.Sqrt(k / mass)
	q := w0 * mass / (ws*mass/qms + bl*bl/re)
	w, _ := Plan("wren.yaml", []byte(with), nil)
	volts := w.Spec.FullScaleV * math.Pow(10, -w.Spec.Digital.HeadroomDB/20) * 10
	most, at := 0.0, 0.0
	for f := 5.0; f < 5000; f *= 1.0005 {
		x, r, h, p := 2*math.Pi*f/w0, math.Pow(f/c.Below.HoldsHz, 4), math.Pow(f/350, 8), f/1200
		a := math.Pow(10, 24./40)
		lift := math.Hypot(1-p*p, p*a/3) / math.Hypot(1-p*p, p/a/3)
		if m := math.Sqrt2 * volts * bl / (re * k) / math.Hypot(1-x*x, x/q) / (1 + r) * math.Sqrt(h/(1+h)) * lift; m > most {
			most, at = m, f
		}
	}
	if math.Abs(most/0.35e-3-1) > 6e-3 || math.Abs(c.Below.WorstHz/at-1) > 0.03 || c.Below.None || c.Ranges[len(c.Ranges)-1][1] != c.Below.HoldsHz {
		t.Errorf("with a corner at %.1f Hz the cones move %.4f mm at %.0f Hz: %+v", c.Below.HoldsHz, 1e3*most, at, c)
	}
	if c := of("0.2 mm"); !c.Below.None || c.Below.HoldsHz != 0 || c.Below.WorstHz > 500 || len(c.Ranges) == 0 {
		t.Errorf("%+v", c)
	}
	if c := of("50 mm"); !c.Below.Any {
		t.Errorf("%+v", c)
	}
}
