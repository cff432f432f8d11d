package compiler_test

import (
	"context"
	"fmt"
	"math"
	"math/cmplx"
	"os"
	"regexp"
	"strings"
	"testing"
	"testing/fstest"

	"bandwright/compiler"
	"bandwright/compiler/acoustic"
	"bandwright/compiler/verify"
)

// ofDrivers compiles a spec that may name files of specs.
func ofDrivers(t *testing.T, src string) *compiler.Build {
	t.Helper()
	b, faults, err := compiler.Compile(context.Background(), "x.yaml", []byte(src), os.DirFS("../specs"))
	if err != nil || b == nil {
		t.Fatal(err, faults)
	}
	return b
}

// boxed is a closed box behind a second-order shift of its poles, in full scale of 2 V.
const boxed = `{bandwright: 1, name: rail, drivers: {woofer: {resonance: 29 Hz, q-electrical: 0.46, q-mechanical: 5.1, moving-mass: 48 g, area: 340 cm2, coil-resistance: 5.6 ohm, excursion: 8 mm}},
 ways: {bass: {filters: [FIRST{pole-shift: {from: driver, to: {at: 30 Hz, q: 0.7}}}], driver: {model: woofer, mounting: sealed, volume: 38 l}, amplifier: {gain: 26 dB, power: 150 W, into: 8 ohm}}},
 promise: {excursion: {at: LEVEL}, amplifier: {at: 0 dB}}, digital: {rates: [48 kHz], formats: [float64]}}`

func withBoxed(first, level string) string {
	last, is := strings.CutPrefix(first, "LAST")
	src := strings.Replace(boxed, "LEVEL", level, 1)
	if is {
		return strings.NewReplacer("FIRST", "", "q: 0.7}}}]", "q: 0.7}}}, "+last+"]").Replace(src)
	}
	return strings.Replace(src, "FIRST", first, 1)
}

// A high-pass that keeps an excursion and breaks another promise is no advice: what it breaks is said, and is so. A stage more makes more
// noise, of which the third order makes less than the second.
func TestRemediesOfExcursionBreakNothing(t *testing.T) {
	const high = "LAST{high-pass: {family: butterworth, order: 2, at: 51 Hz}}"
	withBoard := func(first, noise string) string {
		return strings.NewReplacer("digital: {rates: [48 kHz], formats: [float64]}", "board: {resistors: {series: E12}, capacitors: {series: E6}}",
			"amplifier: {at: 0 dB}", "board-magnitude: 1 dB, board-spread: off, board-yield: off, board-noise: "+noise).Replace(withBoxed(first, "-6 dB"))
	}
	f := findingOf(t, ofDrivers(t, withBoard("", "-105 dBu")), "excursion", "prototype")
	if !strings.HasSuffix(f.Remedy, ", or with a third-order high-pass at 48 Hz behind its other filters") {
		t.Errorf("%q", f.Remedy)
	}
	b := ofDrivers(t, withBoard(high, "-105 dBu"))
	if findingOf(t, b, "board-noise", "board").Kept || !findingOf(t, b, "excursion", "board").Kept {
		t.Errorf("%+v", b.Findings)
	}
	for _, f := range ofDrivers(t, withBoard(strings.Replace(high, "order: 2, at: 51", "order: 3, at: 48", 1), "-105 dBu")).Findings {
		if !f.Kept {
			t.Errorf("%+v", f)
		}
	}
}

func findingOf(t *testing.T, b *compiler.Build, promise, realisation string) verify.Finding {
	t.Helper()
	for _, f := range b.Findings {
		if f.Promise == promise && f.Realisation == realisation {
			return f
		}
	}
	t.Fatalf("no finding on %s of %s", promise, realisation)
	return verify.Finding{}
}

// With its poles shifted a closed box is the high-pass that was asked for: its excursion is
// that of the textbook, x = √2·V·Bl/(Re·Mms·|w0² - w² + jw·w0/Q|), greatest near DC for
// Q 0.7. A full-scale sine of 2 V behind 26 dB, at -6 dB.
func TestExcursionOfAShiftedBox(t *testing.T) {
	b := ofDrivers(t, withBoxed("", "-6 dB"))
	d := b.Drivers[0].Driver
	worst, at := 0.0, 0.0
	for f := 5.0; f < 200; f += 0.01 {
		w, w0 := 2*math.Pi*f, 2*math.Pi*30
		volts := 2 * math.Pow(10, (26.-6)/20)
		x := math.Sqrt2 * volts * d.ForceFactor / (d.CoilOhm * d.MassKg) / cmplx.Abs(complex(w0*w0-w*w, w*w0/0.7))
		if x > worst {
			worst, at = x, f
		}
	}
	f := findingOf(t, b, "excursion", "prototype")
	if math.Abs(f.Worst/(worst*1e3)-1) > 1e-7 || math.Abs(f.AtHz-at) > 0.02*at || f.Kept || f.Limit != 8 {
		t.Errorf("%+v; by the textbook %g mm at %g Hz", f, worst*1e3, at)
	}
}

// What a remedy says was tried: at the level that it gives, and with the high-pass that it
// gives, the promise is kept, and a tenth of a decibel louder it is not.
func TestRemediesOfExcursionHold(t *testing.T) {
	f := findingOf(t, ofDrivers(t, withBoxed("", "-6 dB")), "excursion", "prototype")
	m := regexp.MustCompile(`^bass passes 8 mm below (\d+) Hz at -6 dB; it holds to (-[\d.]+) dB, or with a (\w+)-order high-pass at ([\d.]+) Hz behind its other filters$`).FindStringSubmatch(f.Remedy)
	if m == nil {
		t.Fatalf("%q", f.Remedy)
	}
	var level float64
	if _, err := fmt.Sscan(m[2], &level); err != nil {
		t.Fatal(err)
	}
	order := map[string]int{"first": 1, "second": 2, "third": 3, "fourth": 4}[m[3]]
	for _, c := range []struct {
		first, level string
		kept         bool
	}{{"", m[2] + " dB", true}, {"", fmt.Sprintf("%.2f dB", level+0.11), false},
		{fmt.Sprintf("LAST{high-pass: {family: butterworth, order: %d, at: %s Hz}}", order, m[4]), "-6 dB", true}} {
		b := ofDrivers(t, withBoxed(c.first, c.level))
		for _, r := range []string{"prototype", "digital 48 kHz float64"} {
			if f := findingOf(t, b, "excursion", r); f.Kept != c.kept {
				t.Errorf("%+v: %+v", c, f)
			}
		}
	}
}

// The advice on a sum that departs was tried: with it, the sum departs by what it says.
func TestRemedyOfTheSumHolds(t *testing.T) {
	src, err := os.ReadFile("../specs/dabchick.yaml")
	if err != nil {
		t.Fatal(err)
	}
	only := regexp.MustCompile(`(?s)\nboard:.*`).ReplaceAllString(string(src), "\n")
	turned := strings.Replace(only, "polarity: inverted", "polarity: normal", 1)
	b := ofDrivers(t, turned)
	f := findingOf(t, b, "acoustic-sum", "prototype")
	m := regexp.MustCompile(`^turn the polarity of (treble|bass)(?: and delay treble by ([\d.]+) us more)?, which leaves \+?([\d.]+) dB in the default setting$`).FindStringSubmatch(f.Remedy)
	if f.Kept || m == nil {
		t.Fatalf("%+v", f)
	}
	mended := only
	if m[2] != "" {
		mended = strings.Replace(only, "polarity: inverted", "polarity: inverted\n    delay: "+m[2]+" us", 1)
	}
	got := ofDrivers(t, mended).Air.Heard[0].Departures[0]
	if want := m[3]; fmt.Sprintf("%.2f", math.Abs(got.Value)) != want {
		t.Errorf("the advice leaves %s dB, and what it does %g dB", want, got.Value)
	}
	// What helps and does not keep the promise says so.
	f = findingOf(t, ofDrivers(t, strings.Replace(turned, "pattern: 5 dB", "acoustic-sum: 0.05 dB", 1)), "acoustic-sum", "prototype")
	if want := "no polarity and no delay of one way does; it helps to "; f.Kept || !strings.HasPrefix(f.Remedy, want) || !strings.Contains(f.Remedy, ", which leaves ") {
		t.Errorf("%+v", f)
	}
}

// Ways that are further apart than any delay that is tried first are brought together: a way that is late by milliseconds, or that
// stands far back, has its neighbour delayed by that much, and with it the sum departs by what is said.
func TestRemedyOfDistantWays(t *testing.T) {
	src, err := os.ReadFile("../specs/dabchick.yaml")
	if err != nil {
		t.Fatal(err)
	}
	only := strings.Replace(regexp.MustCompile(`(?s)\nboard:.*`).ReplaceAllString(string(src), "\n"), "[44.1 kHz, 48 kHz, 96 kHz]", "[48 kHz]", 1)
	for _, x := range []struct {
		was, is string
		ms      float64
	}{{"gain: -5 dB", "gain: -5 dB\n    delay: 700 us", 0.7}, {"setback: 20 mm", "setback: 1 m", 0.98 / 0.3434}} {
		late := strings.Replace(only, x.was, x.is, 1)
		f := findingOf(t, ofDrivers(t, late), "acoustic-sum", "prototype")
		m := regexp.MustCompile(`^delay bass by ([\d.]+) (ms|us) more, which leaves \+([\d.]+) dB in the default setting$`).FindStringSubmatch(f.Remedy)
		if f.Kept || m == nil {
			t.Fatalf("%s: %+v", x.is, f)
		}
		var ms float64
		if _, err := fmt.Sscan(m[1], &ms); err != nil {
			t.Fatal(err)
		}
		if m[2] == "us" {
			ms /= 1000
		}
		b := ofDrivers(t, strings.Replace(late, "gain: -3 dB\n", "gain: -3 dB\n    delay: "+m[1]+" "+m[2]+"\n", 1))
		if got := fmt.Sprintf("%.2f", math.Abs(b.Air.Heard[0].Departures[0].Value)); math.Abs(ms-x.ms) > 0.03 || got != m[3] {
			t.Errorf("%s: %q leaves %s dB", x.is, f.Remedy, got)
		}
		for _, f := range b.Findings {
			if !f.Kept {
				t.Errorf("%s: %+v", x.is, f)
			}
		}
	}
}

// A measured response of a model is the model: the same sum within what the file's two
// decimals allow.
func TestMeasuredLikeModelled(t *testing.T) {
	b := ofDrivers(t, withBoxed("", "-20 dB"))
	var file strings.Builder
	for f := 4.0; f < 22000; f *= math.Pow(2, 1./24) {
		p := b.Drivers[0].Pressure(f, 0) * 2.83
		fmt.Fprintf(&file, "%.6g\t%.5f\t%.5f\n", f, 20*math.Log10(cmplx.Abs(p)/acoustic.ReferencePa), cmplx.Phase(p)*180/math.Pi)
	}
	src := strings.Replace(withBoxed("", "-20 dB"), "from: driver", "from: {at: 55.80906 Hz, q: 0.811857}", 1)
	src = regexp.MustCompile(`driver: \{model[^}]*\}`).ReplaceAllString(src, "driver: {response: like.txt, time: relative}")
	src = regexp.MustCompile(`drivers: \{woofer: \{[^}]*\}\},`).ReplaceAllString(src, "")
	m, faults, err := compiler.Compile(context.Background(), "x.yaml", []byte(src), fstest.MapFS{"like.txt": &fstest.MapFile{Data: []byte(file.String())}})
	if err != nil || m == nil {
		t.Fatal(err, faults)
	}
	model, read := b.Air.Heard[0], m.Air.Heard[0]
	for i, hz := range b.Air.Hz {
		if hz > 8 && hz < 10000 && math.Abs(model.SumDB[i]-read.SumDB[i]) > 0.01 {
			t.Errorf("%g Hz: %g dB by the model, %g dB as measured", hz, model.SumDB[i], read.SumDB[i])
		}
	}
	if len(m.Warnings) != 1 || !strings.Contains(m.Warnings[0].Message, "nothing is known that `excursion`") {
		t.Errorf("%v", m.Warnings)
	}
}

// A dipole way radiates 10·lg 3 = 4.771 dB less power than a monopole of the same level on
// the axis, and falls by 6 + 12 dB an octave below its driver's resonance: both to 0.01 dB.
func TestDipoleWayPowerAndSlope(t *testing.T) {
	const way = `{bandwright: 1, name: rail, drivers: {small: {resonance: 2 kHz, q-electrical: 0.6, q-mechanical: 3, moving-mass: 0.4 g, area: 4 cm2, coil-resistance: 5.6 ohm}},
 ways: {all: {driver: {model: small, MOUNTING}, amplifier: {gain: 26 dB}}}, digital: {rates: [48 kHz], formats: [float64]}}`
	dipole := ofDrivers(t, strings.Replace(way, "MOUNTING", "mounting: dipole, path-difference: 4 cm", 1)).Air
	monopole := ofDrivers(t, strings.Replace(way, "MOUNTING", "mounting: sealed, volume: 100 l", 1)).Air
	hz, _ := dipole.Shown()
	judged := 0
	for i, f := range hz {
		if f > 100 {
			break
		}
		less := dipole.Heard[0].Settings[0].IndexDB[i] - monopole.Heard[0].Settings[0].IndexDB[i]
		if math.Abs(less-10*math.Log10(3)) > 0.01 {
			t.Errorf("%g Hz: %g dB less power", f, less)
		}
		if f > 21 {
			continue
		}
		judged++
		at := func(hz float64) float64 { return 20 * math.Log10(cmplx.Abs(dipole.System.Ways[0].Pressure(hz, 0))) }
		if slope := at(2*f) - at(f); math.Abs(slope-60*math.Log10(2)) > 0.01 {
			t.Errorf("%g Hz: %g dB an octave", f, slope)
		}
	}
	if judged < 12 {
		t.Errorf("%d frequencies", judged)
	}
}

// The advice on an amplifier that is asked for too much was tried as well: with the level that it gives, and
// with the high-pass, the promise is kept by what is built too, and a tenth of a decibel louder it is not.
func TestRemediesOfAmplifiersHold(t *testing.T) {
	asking := func(first, level string) string {
		return strings.NewReplacer("amplifier: {at: 0 dB}", "amplifier: {at: "+level+"}", "gain: 26 dB, power: 150 W", "gain: 20 dB, current: 40 A, power: 150 W").Replace(withBoxed(first, "-40 dB"))
	}
	f := findingOf(t, ofDrivers(t, asking("", "0 dB")), "amplifier", "prototype")
	m := regexp.MustCompile(`^bass asks for more than 34\.6 V .* at 0 dB; it holds to (-[\d.]+) dB, or with a (\w+)-order high-pass at ([\d.]+) Hz behind its other filters$`).FindStringSubmatch(f.Remedy)
	if f.Kept || m == nil {
		t.Fatalf("%+v", f)
	}
	var level float64
	if _, err := fmt.Sscan(m[1], &level); err != nil {
		t.Fatal(err)
	}
	order := map[string]int{"first": 1, "second": 2, "third": 3, "fourth": 4}[m[2]]
	for _, c := range []struct {
		first, level string
		kept         bool
	}{{"", m[1] + " dB", true}, {"", fmt.Sprintf("%.2f dB", level+0.11), false},
		{fmt.Sprintf("LAST{high-pass: {family: butterworth, order: %d, at: %s Hz}}", order, m[3]), "0 dB", true}} {
		b := ofDrivers(t, asking(c.first, c.level))
		for _, r := range []string{"prototype", "digital 48 kHz float64"} {
			if f := findingOf(t, b, "amplifier", r); f.Kept != c.kept {
				t.Errorf("%+v: %+v", c, f)
			}
		}
	}
}

// Where the ways are brought to be equally loud at the frequency that the advice on patterns
// gives, the promise is kept. The corner of the crossover is not that frequency, as drivers have
// levels of their own: it is moved until they meet there.
func TestRemedyOfPatternsHolds(t *testing.T) {
	src, err := os.ReadFile("../specs/dabchick.yaml")
	if err != nil {
		t.Fatal(err)
	}
	only := regexp.MustCompile(`(?s)\nboard:.*`).ReplaceAllString(string(src), "\n")
	for _, limit := range []string{"3 dB", "2 dB"} {
		strict := strings.NewReplacer("pattern: 5 dB", "pattern: "+limit, "rates: [44.1 kHz, 48 kHz, 96 kHz]", "rates: [48 kHz]").Replace(only)
		f := findingOf(t, ofDrivers(t, strict), "pattern", "prototype")
		m := regexp.MustCompile(`^they are within [\d.]+ dB at ([\d.]+) kHz: move the crossover until they are equally loud there$`).FindStringSubmatch(f.Remedy)
		if f.Kept || m == nil {
			t.Fatalf("%+v", f)
		}
		var khz float64
		if _, err := fmt.Sscan(m[1], &khz); err != nil {
			t.Fatal(err)
		}
		at := 2400.0
		for range 6 {
			if at *= khz * 1e3 / f.AtHz; math.Abs(f.AtHz/khz/1e3-1) < 1e-4 {
				break
			}
			f = findingOf(t, ofDrivers(t, strings.Replace(strict, "at: 2.4 kHz", fmt.Sprintf("at: %.2f Hz", at), 1)), "pattern", "prototype")
		}
		if !f.Kept || math.Abs(f.AtHz/khz/1e3-1) > 1e-3 {
			t.Errorf("crossed at %.1f Hz: %+v", at, f)
		}
	}
}
