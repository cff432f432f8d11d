package compare

import (
	"math"
	"math/cmplx"
	"os"
	"slices"
	"strings"
	"testing"

	"bandwright/biquad"
	"bandwright/compiler"
	"bandwright/compiler/result"
	"bandwright/compiler/verify"
)

// verdictEdit is an edit whose verdict is judged from outside: by a textbook model of
// the spec that it changes, and by what the builds themselves respond, in every combination
// of settings on a grid of its own.
type verdictEdit struct {
	what    string
	replace []string
	model   func(*model) // nil where no response is wanted otherwise
}

// digitalEdits change plover at high rates, with a promise of a narrower band.
var digitalEdits = []verdictEdit{
	{"a gain by a thousandth", []string{"gain: -4 dB", "gain: -4.001 dB"}, func(m *model) { m.bassDB = -4.001 }},
	{"a gain within the tolerance", []string{"gain: -4 dB", "gain: -4.03 dB"}, func(m *model) { m.bassDB = -4.03 }},
	{"a gain beyond it", []string{"gain: -4 dB", "gain: -4.06 dB"}, func(m *model) { m.bassDB = -4.06 }},
	{"a high-pass by a thousandth", []string{"at: 25 Hz", "at: 25.01 Hz"}, func(m *model) { m.highPass = 25.01 }},
	{"a high-pass below the promised band", []string{"at: 25 Hz", "at: 28 Hz"}, func(m *model) { m.highPass = 28 }},
	{"a high-pass far up", []string{"at: 25 Hz", "at: 40 Hz"}, func(m *model) { m.highPass = 40 }},
	{"a peak's corner a little", []string{"at: 92 Hz", "at: 92.1 Hz"}, func(m *model) { m.peakAt = 92.1 }},
	{"a peak's corner", []string{"at: 92 Hz", "at: 93.5 Hz"}, func(m *model) { m.peakAt = 93.5 }},
	{"a peak's q a little", []string{"q: 2.2", "q: 2.21"}, func(m *model) { m.peakQ = 2.21 }},
	{"a peak's q", []string{"q: 2.2", "q: 2.5"}, func(m *model) { m.peakQ = 2.5 }},
	{"a peak's gain a little", []string{"gain: -2.5 dB", "gain: -2.52 dB"}, func(m *model) { m.peakDB = -2.52 }},
	{"a peak's gain", []string{"gain: -2.5 dB", "gain: -2.6 dB"}, func(m *model) { m.peakDB = -2.6 }},
	{"a crossover by half a hertz", []string{"at: 2.5 kHz", "at: 2500.5 Hz"}, func(m *model) { m.upper = 2500.5 }},
	{"a crossover", []string{"at: 2.5 kHz", "at: 2.52 kHz"}, func(m *model) { m.upper = 2520 }},
	{"the lower crossover a little", []string{"at: 260 Hz", "at: 260.1 Hz"}, func(m *model) { m.lower = 260.1 }},
	{"the lower crossover", []string{"at: 260 Hz", "at: 262 Hz"}, func(m *model) { m.lower = 262 }},
	{"the box a little", []string{"to: {at: 40 Hz", "to: {at: 40.02 Hz"}, func(m *model) { m.boxTo = 40.02 }},
	{"the box", []string{"to: {at: 40 Hz", "to: {at: 39.5 Hz"}, func(m *model) { m.boxTo = 39.5 }},
	{"a shelf at one choice a little", []string{"gain: -3 dB", "gain: -3.03 dB"}, func(m *model) { m.wallDB = -3.03 }},
	{"a shelf at one choice", []string{"gain: -3 dB", "gain: -3.08 dB"}, func(m *model) { m.wallDB = -3.08 }},
	{"a trim a little", []string{"by: -1 dB, when", "by: -1.03 dB, when"}, func(m *model) { m.trimDB = -1.03 }},
	{"a trim", []string{"by: -1 dB, when", "by: -1.06 dB, when"}, func(m *model) { m.trimDB = -1.06 }},
	{"a delay by a tenth of a microsecond", []string{"delay: 0.1 ms", "delay: 0.1001 ms"}, func(m *model) { m.lateS = 0.1001e-3 }},
	{"a delay by two microseconds", []string{"delay: 0.1 ms", "delay: 0.102 ms"}, func(m *model) { m.lateS = 0.102e-3 }},
	{"two gains that cancel", []string{"gain: -4 dB", "gain: -5 dB", "      - peak: {at: 92 Hz", "      - gain: {by: 1 dB}\n      - peak: {at: 92 Hz"}, nil},
	{"two gains that all but cancel", []string{"gain: -4 dB", "gain: -5 dB", "      - peak: {at: 92 Hz", "      - gain: {by: 0.9 dB}\n      - peak: {at: 92 Hz"},
		func(m *model) { m.bassDB = -4.1 }},
	{"two small gains that add up", []string{"gain: -4 dB", "gain: -4.04 dB", "      - peak: {at: 92 Hz", "      - gain: {by: -0.04 dB}\n      - peak: {at: 92 Hz"},
		func(m *model) { m.bassDB = -4.08 }},
	{"a way turned", []string{"gain: -1.5 dB", "gain: -1.5 dB\n    polarity: inverted"}, func(m *model) { m.treble = -1 }},
	{"a narrower promise", []string{"band: 100 Hz to 16 kHz", "band: 200 Hz to 12 kHz", "at: 25 Hz", "at: 26 Hz"}, func(m *model) { m.highPass = 26 }},
}

// boardEdits change stint with a delay, which has a board.
var boardEdits = []verdictEdit{
	{"another title", []string{"name: stint\n", "name: stint\ntitle: Stint\n"}, nil},
	{"a gain by a thousandth", []string{"gain: -4 dB", "gain: -4.001 dB"}, func(m *model) { m.trebleDB = -4.001 }},
	{"a gain", []string{"gain: -4 dB", "gain: -4.1 dB"}, func(m *model) { m.trebleDB = -4.1 }},
	{"a crossover by a hertz", []string{"2.2 kHz", "2201 Hz"}, func(m *model) { m.upper = 2201 }},
	{"a crossover", []string{"2.2 kHz", "2.25 kHz"}, func(m *model) { m.upper = 2250 }},
	{"a delay that no part can follow", []string{"delay: 50 us", "delay: 50.05 us"}, func(m *model) { m.lateS = 50.05e-6 }},
	{"a delay by half a microsecond", []string{"delay: 50 us", "delay: 50.5 us"}, func(m *model) { m.lateS = 50.5e-6 }},
	{"a delay", []string{"delay: 50 us", "delay: 55 us"}, func(m *model) { m.lateS = 55e-6 }},
	{"a peak at one choice", []string{"q: 0.9, gain: -2 dB", "q: 0.9, gain: -2.2 dB"}, func(m *model) { m.wallDB = -2.2 }},
	{"a high-pass", []string{"at: 45 Hz", "at: 47 Hz"}, func(m *model) { m.highPass = 47 }},
	{"a high-pass a little", []string{"at: 45 Hz", "at: 45.02 Hz"}, func(m *model) { m.highPass = 45.02 }},
	{"a faster op-amp", []string{"10 MHz", "12 MHz"}, nil},
	{"a much slower op-amp", []string{"10 MHz", "3 MHz"}, nil},
	{"finer resistors", []string{"series: E24", "series: E96"}, nil},
	{"coarser capacitors", []string{"series: E12", "series: E6"}, nil},
	{"another output", []string{"board:\n", "board:\n  output: {load: 47 kohm}\n"}, nil},
	{"a small coupling capacitor", []string{"board:\n", "board:\n  output: {coupling: 2.2 uF}\n"}, nil},
}

// TestVerdicts: of forty-six realistic edits none passes that moved something further
// than the tolerances, and none that did not is called a regression.
func TestVerdicts(t *testing.T) {
	narrow := replaced(t, plover(t), "[96 kHz]", "[96 kHz, 192 kHz]", "promise: {", "promise: {band: 100 Hz to 16 kHz, ", "  method: bilinear\n", "")
	j := judge{map[bool]int{}, &strings.Builder{}}
	j.all(t, narrow, digitalEdits, model.ways, base)
	j.all(t, delayed(t), boardEdits, model.twoWays, func() model {
		return model{highPass: 45, upper: 2200, trebleDB: -4, lateS: 50e-6, wallDB: -2, treble: 1}
	})
	golden(t, "testdata/verdicts.txt", j.said.String())
	if n := len(digitalEdits) + len(boardEdits); n < 40 || j.found[true] < 15 || j.found[false] < 15 {
		t.Errorf("%d edits, %v", n, j.found)
	}
}

// delayed is stint with a delay, its board promised a response alone: what neither moves nor breaks anything here, a
// batch of it, is not simulated.
func delayed(t *testing.T) string {
	t.Helper()
	data, err := os.ReadFile("testdata/stint.yaml")
	if err != nil {
		t.Fatal(err)
	}
	return replaced(t, string(data), "    gain: -4 dB\n", "    gain: -4 dB\n    delay: 50 us\n",
		"phase: off", "phase: off, band: 60 Hz to 15 kHz, board-spread: off, board-yield: off")
}

// twoWays are bass, treble and their sum of stint.yaml at f (Hz).
func (m model) twoWays(f float64) map[string]complex128 {
	common := complex(1, 0)
	if m.wall {
		common = bell(f, 170, 0.9, m.wallDB)
	}
	low, high := second(f, m.upper, [3]float64{0, 0, 1}, butterworth), second(f, m.upper, [3]float64{1, 0, 0}, butterworth)
	bass := common * second(f, m.highPass, [3]float64{1, 0, 0}, [3]float64{1, 1 / 0.8, 1}) * bell(f, 800, 1.5, -2) * low * low
	treble := common * gain(m.trebleDB) * bell(f, 5000, 2, -1.5) * high * high * cmplx.Exp(complex(0, -2*math.Pi*f*m.lateS))
	return map[string]complex128{"bass": bass, "treble": treble, "sum": bass + treble}
}

// judge counts verdicts, and collects all edits with what is said of them.
type judge struct {
	found map[bool]int
	said  *strings.Builder
}

// all holds the verdict on every edit to what the model and the builds say.
func (j judge) all(t *testing.T, src string, edits []verdictEdit, ways func(model, float64) map[string]complex128, start func() model) {
	was := built(t, src)
	results[src] = result.Accept(was)
	for _, e := range edits {
		text := replaced(t, src, e.replace...)
		now := built(t, text)
		before, after := start(), start()
		if e.model != nil {
			e.model(&after)
		}
		wish := modelMoves(before, after, ways)
		real := realMoves(was, now, after.lateS-before.lateS)
		must := wish > 1 || real > 1
		for _, x := range []float64{wish, real} {
			if math.Abs(x-1) < 0.08 && !(must && math.Max(wish, real) > 1.1) {
				t.Errorf("%s: the model says %.3f, the builds %.3f of the tolerance: too near to judge", e.what, wish, real)
			}
		}
		broke := slices.ContainsFunc(now.Findings, func(f verify.Finding) bool {
			return !f.Kept && !slices.ContainsFunc(was.Findings, func(o verify.Finding) bool {
				return !o.Kept && o.Promise == f.Promise && o.Realisation == f.Realisation && o.Way == f.Way
			})
		})
		j.found[must]++
		results[text] = result.Accept(now)
		c := Results(results[src], results[text])
		show(j.said, e.what, e.replace, c)
		if c.Regression != (must || broke) {
			t.Errorf("%s: by the model %.3f of the tolerance, by the builds %.3f, regression %v:\n%s", e.what, wish, real, c.Regression, c.Text(1000))
		}
		if !c.Regression && strings.Contains(c.Text(1000), "\n! ") {
			t.Errorf("%s: marked, and no regression:\n%s", e.what, c.Text(1000))
		}
	}
}

// modelMoves is how far the model moved, as a multiple of the usual tolerances: 0.05 dB
// and 0.5 deg where a way is within 20 dB of its peak, 1 us, no polarity.
func modelMoves(a, b model, ways func(model, float64) map[string]complex128) (most float64) {
	if a.treble != b.treble {
		return 1000
	}
	late := b.lateS - a.lateS
	most = math.Abs(late) / 1e-6
	hz := biquad.Octaves(20, 20e3, 60)
	for _, at := range [4][2]bool{{}, {true, false}, {false, true}, {true, true}} {
		a.wall, a.trim, b.wall, b.trim = at[0], at[1], at[0], at[1]
		x, y := map[string][]complex128{}, map[string][]complex128{}
		for _, f := range hz {
			for way, h := range ways(a, f) {
				x[way] = append(x[way], h)
			}
			for way, h := range ways(b, f) {
				if way == "treble" {
					h *= cmplx.Exp(complex(0, 2*math.Pi*f*late))
				}
				y[way] = append(y[way], h)
			}
		}
		for way := range x {
			if way == "sum" { // with the delay
				for i, f := range hz {
					y[way][i] = ways(b, f)["sum"]
				}
			}
			db, deg := moved(x[way], y[way])
			most = math.Max(most, db/0.05)
			if way != "sum" {
				most = math.Max(most, deg/0.5)
			}
		}
	}
	return most
}

// moved is the largest change of level (dB) and phase (deg) within 20 dB of the peak.
func moved(x, y []complex128) (db, deg float64) {
	px, py := peak(x), peak(y)
	for i := range x {
		lx, ly := level(x[i])-px, level(y[i])-py
		if math.Max(lx, ly) >= -20 {
			db = math.Max(db, math.Abs(level(y[i])-level(x[i])))
		}
		if math.Min(lx, ly) >= -20 {
			deg = math.Max(deg, math.Abs(cmplx.Phase(y[i]/x[i]))*180/math.Pi)
		}
	}
	return db, deg
}

// realMoves is how far the level of any way and of the sum moved in any realisation of
// two builds with the same settings, as a multiple of 0.05 dB; and the phase of a way
// where its neighbour is within 20 dB, with and without the delay (s) of the last way that
// was asked for, as a multiple of 0.5 deg.
func realMoves(a, b *compiler.Build, late float64) (most float64) {
	var axes []biquad.Axis
	for i, s := range a.Settings {
		axes = append(axes, biquad.Axis{Setting: i, Choices: len(s.Choices)})
	}
	compare := func(high float64, lag [2]float64, x, y func(dst []complex128, way int, c biquad.Combination, hz []float64)) {
		hz := biquad.Octaves(20, high, 60)
		biquad.Each(axes, len(axes), func(c biquad.Combination) {
			sum := [2][]complex128{make([]complex128, len(hz)), make([]complex128, len(hz))}
			var ways [2][][]complex128
			for k := range a.Prototype.Ways {
				h := [2][]complex128{make([]complex128, len(hz)), make([]complex128, len(hz))}
				x(h[0], k, c, hz)
				y(h[1], k, c, hz)
				for side := range h {
					for i := range h[side] {
						h[side][i] *= cmplx.Conj(biquad.Delay(hz[i], lag[side]))
						sum[side][i] += h[side][i]
					}
				}
				db, _ := moved(h[0], h[1])
				most = math.Max(most, db/0.05)
				ways[0], ways[1] = append(ways[0], h[0]), append(ways[1], h[1])
			}
			for k := range ways[0] {
				asked := 0.0
				if k == len(ways[0])-1 {
					asked = late
				}
				most = math.Max(most, math.Min(turnedBy(ways, k, hz, 0), turnedBy(ways, k, hz, asked))/0.5)
			}
			db, _ := moved(sum[0], sum[1])
			most = math.Max(most, db/0.05)
		})
	}
	for i := range a.Digital {
		at := func(d *compiler.Digital) func([]complex128, int, biquad.Combination, []float64) {
			return func(dst []complex128, way int, c biquad.Combination, hz []float64) {
				biquad.DigitalAt(dst, d.System.Path(way), c, d.RateHz, hz)
			}
		}
		lag := [2]float64{a.Digital[i].CommonDelayS, b.Digital[i].CommonDelayS}
		compare(math.Min(20e3, verify.TopOfRate*a.Digital[i].RateHz), lag, at(&a.Digital[i]), at(&b.Digital[i]))
	}
	if a.Board != nil && b.Board != nil {
		at := func(b verify.Realisation) func([]complex128, int, biquad.Combination, []float64) {
			var on verify.Responder // at the same frequencies each time
			return func(dst []complex128, way int, c biquad.Combination, hz []float64) {
				if on == nil {
					on = b.On(hz)
				}
				on.Response(dst, way, c)
			}
		}
		compare(20e3, [2]float64{a.Board.CommonDelayS(), b.Board.CommonDelayS()}, at(a.Board), at(b.Board))
	}
	return most
}

// turnedBy is the largest change of phase (deg) of way k beside a delay (s), where it is
// within 20 dB of its peak and of a neighbour.
func turnedBy(ways [2][][]complex128, k int, hz []float64, late float64) (most float64) {
	x, y := ways[0][k], ways[1][k]
	px, py := peak(x), peak(y)
	for i, f := range hz {
		near := false
		for side := range ways {
			for _, n := range []int{k - 1, k + 1} {
				near = near || n >= 0 && n < len(ways[side]) && math.Abs(level(ways[side][n][i])-level(ways[side][k][i])) <= 20
			}
		}
		if near && math.Min(level(x[i])-px, level(y[i])-py) >= -20 {
			most = math.Max(most, math.Abs(cmplx.Phase(y[i]/x[i]/biquad.Delay(f, late)))*180/math.Pi)
		}
	}
	return most
}
