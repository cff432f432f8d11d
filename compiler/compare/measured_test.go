package compare

import (
	"context"
	"fmt"
	"math"
	"strings"
	"testing"
	"testing/fstest"

	"bandwright/compiler"
	"bandwright/compiler/result"
)

// twice is two ways without a filter, each as its file says.
const twice = `{bandwright: 1, name: rail, ways: {
 low: {driver: {response: low.txt, time: absolute}, amplifier: {gain: 20 dB}},
 high: {driver: {response: high.txt, time: absolute, drive: 2 V}, amplifier: {gain: 20 dB}}},
 promise: {sum: off, acoustic-sum: off}, digital: {rates: [48 kHz], formats: [float64]}}`

// unit is a driver by its parameters.
const unit = "{resonance: 29 Hz, q-electrical: 0.46, q-mechanical: 5.1, moving-mass: 48 g, area: 340 cm2, coil-resistance: 5.6 ohm}"

// table is a measured response, 24 frequencies an octave from 5 Hz.
func table(db, deg func(hz float64) float64) string {
	var out strings.Builder
	for k := 0; k <= 288; k++ {
		f := 5 * math.Pow(2, float64(k)/24)
		fmt.Fprintf(&out, "%.6f\t%.5f\t%.5f\n", f, db(f), deg(f))
	}
	return out.String()
}

func flat(x float64) func(float64) float64 { return func(float64) float64 { return x } }

// bump is 90 dB, and so much more at 5 Hz · 2^7.625 = 987 Hz.
func bump(more float64) func(float64) float64 {
	return func(hz float64) float64 { x := 6*math.Log2(hz/5) - 6*7.625; return 90 + more/(1+x*x) }
}

// measuredAs is what a spec with files is accepted as, written to a file and read again.
func measuredAs(t *testing.T, src, low, high string) *result.Accepted {
	t.Helper()
	folder := fstest.MapFS{"low.txt": {Data: []byte(low)}, "high.txt": {Data: []byte(high)}, "other.txt": {Data: []byte(high)}}
	b, faults, err := compiler.Compile(context.Background(), "rail.yaml", []byte(src), folder)
	if b == nil {
		t.Fatal(faults, err)
	}
	data, err := result.Accept(b).Bytes()
	if err != nil {
		t.Fatal(err)
	}
	a, err := result.ReadAccepted(data)
	if err != nil {
		t.Fatal(err)
	}
	return a
}

// What a file of a measured response holds is compared: by how much its way moved in the
// air, or the sum where only phase did (two ways as 1 and r = 1.415, one turned by 90 degrees,
// are |j + r|/(1 + r) = -2.88 dB), and that the file did it. What the spec says of how it was measured
// is told with it.
func TestMeasuredFilesAreComparedInTheAir(t *testing.T) {
	plain := table(flat(90), flat(0))
	was := measuredAs(t, twice, plain, plain)
	for _, e := range []struct {
		what, from, to, low, high string
		want                      []string
		regression                bool
	}{
		{what: "nothing", low: plain, high: plain},
		{what: "a level", low: table(bump(3), flat(0)), high: plain, regression: true,
			want: []string{"low in the air: +3.00 dB at 987 Hz, because low.txt is another file"}},
		{what: "a small level", low: plain, high: table(bump(0.02), flat(0)),
			want: []string{"high in the air: +0.02 dB at "}},
		{what: "both", low: table(bump(1), flat(0)), high: table(bump(-2), flat(0)), regression: true,
			want: []string{"high in the air: -2.00 dB at 987 Hz, because high.txt is another file", "low in the air: +1.00 dB at 987 Hz, because low.txt is another file"}},
		{what: "phase alone", low: table(flat(90), flat(90)), high: table(flat(90), flat(0)), regression: true,
			want: []string{"sum in the air: -2.88 dB at ", "because low.txt is another file"}},
		{what: "a comment", low: plain, high: "# once more\n" + plain,
			want: []string{"high.txt is another file, which moves no response on the axis"}},
		{what: "the drive", from: "drive: 2 V", to: "drive: 1 V", low: plain, high: plain, regression: true,
			want: []string{"high in the air: +6.02 dB at ", "because ways.high.driver.drive went from 2 V to 1 V"}},
		{what: "drive and file", from: "drive: 2 V", to: "drive: 1 V", low: plain, high: table(bump(1), flat(0)), regression: true,
			want: []string{"high in the air: +7.02 dB at 987 Hz, because ways.high.driver.drive went from 2 V to 1 V and high.txt is another file"}},
		{what: "another name", from: "high.txt", to: "other.txt", low: plain, high: plain,
			want: []string{"ways.high.driver.response went from high.txt to other.txt"}},
		{what: "the amplifier", from: "drive: 2 V}, amplifier: {gain: 20 dB}", to: "drive: 2 V}, amplifier: {gain: 21 dB}", low: plain, high: plain, regression: true,
			want: []string{"high in the air: +1.00 dB at ", "because ways.high.amplifier.gain went from 20 dB to 21 dB"}},
		// A model in a mounting and a measured response have no key in common that means the same.
		{what: "a model in its place", from: "rail, ways: {\n low: {driver: {response: low.txt, time: absolute}", to: "rail, drivers: {unit: " + unit + "}, ways: {\n low: {driver: {model: unit, mounting: baffle}",
			low: plain, high: plain, regression: true,
			want: []string{"low in the air: ", ", because ways.low.driver went from {response: low.txt, time: absolute} to {model: unit, mounting: baffle}", "drivers gained unit"}},
	} {
		src := twice
		if e.from != "" {
			src = replaced(t, twice, e.from, e.to)
		}
		c := Results(was, measuredAs(t, src, e.low, e.high))
		text := ""
		for _, x := range c.Changes {
			text += x.Sentence + "\n"
		}
		for _, w := range e.want {
			if !strings.Contains(text, w) {
				t.Errorf("%s: %q is missing in\n%s", e.what, w, text)
			}
		}
		if n := strings.Count(text, "\n"); n > len(e.want) || n == 0 && e.want != nil || c.Regression != e.regression {
			t.Errorf("%s: regression %v\n%s", e.what, c.Regression, text)
		}
	}
}

// A result that is older than the measured responses in it, and a NAME.json, do not hold
// what a file held: that is said.
func TestFilesThatAreNotKnown(t *testing.T) {
	plain, other := table(flat(90), flat(0)), table(bump(3), flat(0))
	old, now := measuredAs(t, twice, plain, plain), measuredAs(t, twice, plain, other)
	old.Drivers = nil
	for _, e := range [][2]string{{"older", "high.txt is another file; what it held is not in the result before"}, {"without specs", "high.txt is another file; what it moves is told between"}} {
		what, want := e[0], e[1]
		if what == "without specs" {
			old.Spec, now.Spec, now.Drivers = nil, nil, nil
		}
		got := Results(old, now).Changes
		if len(got) != 1 || !strings.HasPrefix(got[0].Sentence, want) {
			t.Errorf("%s: %+v", what, got)
		}
	}
}

// Measured responses that two merged results left in one file are refused.
func TestDamagedMeasuredResponses(t *testing.T) {
	plain := table(flat(90), flat(0))
	a := measuredAs(t, twice, plain, plain)
	for _, harm := range []func(x *result.AcceptedDrivers){
		func(x *result.AcceptedDrivers) { x.DB = x.DB[1:] },
		func(x *result.AcceptedDrivers) { x.DB, x.Deg = nil, nil },
		func(x *result.AcceptedDrivers) { x.FromHz = 0 },
		func(x *result.AcceptedDrivers) { x.PerOctave = 0 },
	} {
		x := *a
		data, _ := x.Bytes()
		y, err := result.ReadAccepted(data)
		if err != nil {
			t.Fatal(err)
		}
		harm(&y.Drivers[1])
		data, _ = y.Bytes()
		if _, err := result.ReadAccepted(data); err == nil || !strings.Contains(err.Error(), "measured response") {
			t.Errorf("%v", err)
		}
	}
}
