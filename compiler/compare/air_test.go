package compare

import (
	"strings"
	"testing"
)

// driven is a closed box that has drivers in it.
const driven = `{bandwright: 1, name: rail, drivers: {woofer: {resonance: 29 Hz, q-electrical: 0.46, q-mechanical: 5.1, moving-mass: 48 g, area: 340 cm2, coil-resistance: 5.6 ohm, excursion: 8 mm}},
 ways: {bass: {filters: [{high-pass: {at: 30 Hz, q: 0.7}}], driver: {model: woofer, mounting: sealed, volume: 38 l}, amplifier: {gain: 26 dB, power: 150 W, into: 8 ohm}}},
 digital: {rates: [48 kHz], formats: [float64]}}`

// What a line about drivers or amplifiers does is said in the air, and by how much: 6 dB of
// gain are 6 dB, twice the excursion, and hold to 6 dB less; a greater excursion is only
// held to a higher level, and a title is nothing.
func TestDriversAreComparedInTheAir(t *testing.T) {
	was := accepted(t, driven)
	for _, e := range []struct{ from, to, want string }{
		{"gain: 26 dB", "gain: 32 dB", "bass in the air: +6.00 dB at 24.5 Hz, its excursion at full scale went from 15.2 mm to 30.4 mm and it holds to -11.6 dB, before to -5.60 dB, because "},
		{"excursion: 8 mm", "excursion: 16 mm", "bass in the air: it holds to -4.40 dB, before to -5.60 dB, because drivers.woofer.excursion went from 8 mm to 16 mm"},
		{"volume: 38 l", "volume: 19 l", "bass in the air: -4.44 dB at "},
		{"area: 340 cm2", "area: 300 cm2", "bass in the air: -1.45 dB at "},
	} {
		got := Results(was, accepted(t, replaced(t, driven, e.from, e.to)))
		var said []string
		for _, x := range got.Changes {
			if x.Kind == OfAir {
				said = append(said, x.Sentence)
			}
			if strings.Contains(x.Sentence, "changes no response") || strings.Contains(x.Sentence, "moves no response") {
				t.Errorf("%s: %s", e.to, x.Sentence)
			}
		}
		if len(said) != 1 || !strings.HasPrefix(said[0], e.want) || !strings.Contains(said[0], ", because ") {
			t.Errorf("%s: %q", e.to, said)
		}
		t.Log(said)
	}
}

// An entry that only has another name is told in one sentence, with nothing of the lines that name it; one that is replaced
// by the line that names another; and of keys that mean nothing alone, as a port's tuning, what they do together.
func TestRenamedAndReplacedDrivers(t *testing.T) {
	was := accepted(t, driven)
	for _, e := range []struct {
		pairs []string
		stops bool
		want  []string
	}{
		{[]string{"drivers: {woofer:", "drivers: {bass-25:", "model: woofer", "model: bass-25"}, false, []string{"drivers.woofer is now called bass-25"}},
		{[]string{"drivers: {woofer:", "drivers: {bass-25:", "model: woofer", "model: bass-25", "ways: {bass:", "ways: {low:"}, true,
			[]string{"ways.bass is now called low", "drivers.woofer is now called bass-25"}},
		{[]string{"drivers: {woofer:", "drivers: {bass-25:", "model: woofer", "model: bass-25", "area: 340 cm2", "area: 300 cm2"}, true,
			[]string{"bass in the air: -1.45 dB at 80 Hz, ", "drivers has bass-25 instead of woofer"}},
		{[]string{"mounting: sealed, ", "mounting: vented, tuning: 29 Hz, "}, true,
			[]string{"bass in the air: +"}},
	} {
		got := Results(was, accepted(t, replaced(t, driven, e.pairs...)))
		if len(got.Changes) != len(e.want) || got.Regression != e.stops {
			t.Errorf("%q: %v %+v", e.pairs, got.Regression, got.Changes)
			continue
		}
		for i, want := range e.want {
			if !strings.HasPrefix(got.Changes[i].Sentence, want) {
				t.Errorf("%q: %q, not %q", e.pairs, got.Changes[i].Sentence, want)
			}
		}
	}
	vented := Results(was, accepted(t, replaced(t, driven, "mounting: sealed, ", "mounting: vented, tuning: 29 Hz, "))).Changes[0].Sentence
	if says := ", because ways.bass.driver.mounting went from sealed to vented and ways.bass.driver.tuning was added: 29 Hz"; !strings.HasSuffix(vented, says) {
		t.Error(vented)
	}
}
