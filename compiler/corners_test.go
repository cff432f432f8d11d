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
	if c.LeastHz < 25 || math.Abs(most(c.LeastHz)-1e-3) > 5e-6 {
		t.Errorf("with a corner at %.1f Hz the cones move %.4f mm", c.LeastHz, 1e3*most(c.LeastHz))
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
	if math.Abs(worst-3) > 0.1 || c.Alike[0].ToDegrees != 60 || c.Ranges[0][0] != c.LeastHz {
		t.Errorf("at %.0f Hz patterns differ by %.2f dB: %+v", f, worst, c)
	}
}

// What bounds nothing is told as such; what nothing holds leaves no range.
func TestCornersWithout(t *testing.T) {
	for _, x := range []struct {
		old, new string
		holds    func(c Corners) bool
	}{
		{"excursion: 1 mm", "excursion: 90 mm", func(c Corners) bool { return c.LeastHz == 0 && c.KnowsExcursion }},
		{", excursion: 1 mm", "", func(c Corners) bool { return !c.KnowsExcursion && len(c.Ranges) == 1 }},
		{"excursion: 1 mm", "excursion: 0.011 mm", func(c Corners) bool { return c.LeastHz > 1000 && len(c.Ranges) == 0 }},
		{"name: wren", "name: wren\npromise: {pattern: 1 dB}", func(c Corners) bool { return c.WithinDB == 1 && c.Alike[0].ToHz < 1000 }},
		{"name: wren", "name: wren\npromise: {excursion: {at: -20 dB}}", func(c Corners) bool { return c.LevelDB == -20 && c.LeastHz < 100 }},
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
