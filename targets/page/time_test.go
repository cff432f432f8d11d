package page_test

import (
	"fmt"
	"math"
	"os"
	"regexp"
	"slices"
	"strconv"
	"testing"

	"bandwright/biquad"
	"bandwright/compiler/result"
)

// roomy is heron in a room, whose reflections its page tells too.
func roomy(t *testing.T) product {
	t.Helper()
	src, err := os.ReadFile("../../specs/heron.yaml")
	if err != nil {
		t.Fatal(err)
	}
	return made(t, "heron", string(src)+"\nroom: {listener: 2.8 m, base: 2.4 m, height: 0.9 m, ceiling: 2.5 m, left: 0.8 m}\n")
}

// timeLine is a line over time as the page draws it.
type timeLine struct {
	Unit, Says, D  string
	Way            int
	Low, High, Top float64
}

var vertex = regexp.MustCompile(`[ML]([-\d.]+) ([-\d.]+)`)

// inTime holds steps and impulses against the words of the index, run in another structure than the page's, and the
// prototype's step in one stride each: as the page is opened, and in other settings and realisations.
func inTime(t *testing.T, b *browser, p product) {
	var asked []result.Digital
	for _, d := range p.index.Digital {
		if d.Asked {
			asked = append(asked, d)
		}
	}
	read := `[...document.querySelectorAll('[data-strip="time"] path[data-own]')].map(l => { const s = l.closest("[data-strip]").dataset;
		return {Unit: s.unit, Says: l.dataset.says, D: l.getAttribute("d"), Way: +s.way, Low: +s.low, High: +s.high, Top: +s.top}; })`
	lines := evaluate[[]timeLine](t, b, read)
	if len(asked) == 0 && len(lines) == 0 {
		return
	}
	c := make(biquad.Combination, len(p.build.Settings))
	for turn, made0 := range []int{0, len(asked) - 1, len(asked) / 2} {
		if turn > 0 { // what is far from every default, then one setting alone
			for i, s := range p.build.Settings {
				if c[i] = 0; turn == 1 || i == 0 {
					c[i] = uint8(len(s.Choices) - 1)
				}
			}
			b.choose(t, c)
			if len(asked) > 0 {
				b.realise(t, made0)
			}
			evaluate[bool](t, b, `(() => { document.querySelectorAll('[data-strip="time"]').forEach(window.report.draw); return true; })()`)
			lines = evaluate[[]timeLine](t, b, read)
		}
		want := 2 // step and impulse of the prototype
		for _, side := range []bool{len(asked) > 0, p.build.Board != nil} {
			if side {
				want += 2
			}
		}
		if len(lines) != want*len(p.build.Prototype.Ways) {
			t.Fatalf("%d lines over time", len(lines))
		}
		made, boardHz := inMoments{p: p, d: result.Digital{RateHz: 48e3}, c: c, known: map[string][]float64{}}, 48e3
		if len(asked) > 0 {
			made.d, boardHz = asked[made0], asked[0].RateHz
		}
		made.boardHz = boardHz
		for _, l := range lines {
			made.along(t, l)
		}
	}
	if len(asked) > 0 {
		b.realise(t, 0)
	}
	b.choose(t, make(biquad.Combination, len(p.build.Settings)))
}

// inMoments are answers of ways in a realisation and a combination.
type inMoments struct {
	p     product
	d     result.Digital
	c     biquad.Combination
	known map[string][]float64 // by line and way
	// boardHz is the rate of the times that a board is drawn at.
	boardHz float64
}

// of are the values of a line at every sample of the realisation; NaN where they are not worked out.
func (m inMoments) of(l timeLine, n int) []float64 {
	key := fmt.Sprint(l.Says, l.Way)
	if m.known[key] != nil {
		return m.known[key]
	}
	if l.Says == "board" { // solved in the combination itself
		hz, y := biquad.StepHz(), make([]float64, n)
		h := make([]complex128, len(hz))
		m.p.build.Board.On(hz).Response(h, l.Way, m.c)
		for s, i := biquad.NewResponseStep(h), 0; i < n; i++ {
			y[i] = s.At((float64(i) + 0.5) / m.boardHz)
		}
		m.known[key] = y
		return y
	}
	y := make([]float64, n)
	if l.Says == "digital" {
		y = stepped(m.p, m.d, l.Way, n, m.c)
	}
	if l.Says == "wanted" {
		path := m.p.build.Prototype.Path(l.Way)
		for n := range y {
			y[n] = math.NaN()
			if at := (float64(n)+0.5)/m.d.RateHz - m.d.CommonDelayS - path.DelayS; at <= 0 {
				y[n] = 0
			} else if n < 40 || n%97 == 0 { // each from the start
				s, _ := biquad.NewAnalogStep(path, m.c)
				s.Wait(at)
				y[n] = s.Value()
			}
		}
	}
	m.known[key] = y
	return y
}

// along holds every corner of a line against its series.
func (m inMoments) along(t *testing.T, l timeLine) {
	t.Helper()
	rate, early := m.d.RateHz, m.d.CommonDelayS*m.d.RateHz
	if l.Says == "board" {
		rate, early = m.boardHz, 0
	}
	y := m.of(l, int(0.05*rate+early)+8)
	count := 0
	for _, v := range vertex.FindAllStringSubmatch(l.D, -1) {
		x, _ := strconv.ParseFloat(v[1], 64)
		drawn, _ := strconv.ParseFloat(v[2], 64)
		ms := 0.01 * math.Exp2((x-64)/(640-64)*math.Log2(5000))
		if ms < 0.0101 || ms > 49 {
			continue
		}
		n := int(math.Round(ms*rate/1e3 - 0.5 + early))
		least := math.Inf(1)
		for k := max(0, n-5); k <= n+5; k++ {
			want := y[k]
			if l.Unit != "" {
				if n > 500 {
					continue
				}
				if k > 0 {
					want -= y[k-1]
				}
				want *= rate / 1e3
			}
			least = math.Min(least, math.Abs(l.Top+104*(l.High-want)/(l.High-l.Low)-drawn))
			if k == n && n < 100 && !math.IsNaN(want) { // here samples are apart
				least = math.Abs(l.Top + 104*(l.High-want)/(l.High-l.Low) - drawn)
				break
			}
		}
		if math.IsNaN(least) || math.IsInf(least, 0) {
			continue
		}
		slack := 0.16
		if l.Says == "board" && slices.Max(append(m.c, 0)) > 0 { // made of the default settings: 0.005 of a step
			slack += 104 * 0.005 / (l.High - l.Low) * map[bool]float64{false: 1, true: rate / 1e3}[l.Unit != ""]
		}
		if count++; least > slack {
			t.Errorf("%v, way %d, %s, %q: %.2f off at %v ms", m.c, l.Way, l.Says, l.Unit, least, ms)
			return
		}
	}
	if count < 20 {
		t.Errorf("%v, way %d, %s, %q: %d corners", m.c, l.Way, l.Says, l.Unit, count)
	}
}

// stepped is the answer to samples of 1, of a way, by words of the index: each section as
// direct form II in the variable of its form.
func stepped(p product, d result.Digital, way, n int, combination biquad.Combination) []float64 {
	var all []result.Section
	for _, s := range append(append([]result.Section{}, d.Common.Sections...), d.Ways[way].Sections...) {
		applies := true
		for i, x := range p.build.Settings {
			if list, ok := s.When[x.Name]; ok {
				found := false
				for _, c := range list {
					found = found || c == x.Choices[combination[i]]
				}
				applies = applies && found
			}
		}
		if applies {
			all = append(all, s)
		}
	}
	origin := map[string]float64{"delta": 1, "mirrored": -1}
	state := make([][2]float64, len(all))
	out := make([]float64, n)
	gain := d.Common.Gain * d.Ways[way].Gain * float64(d.Ways[way].Polarity)
	for k := d.Common.DelaySamples + d.Ways[way].DelaySamples; k < n; k++ {
		v := gain
		for i, s := range all {
			w, c, x := s.Words, origin[s.Form], &state[i]
			mid := v - w.A[1]*x[0] - w.A[2]*x[1]
			v = w.B[0]*mid + w.B[1]*x[0] + w.B[2]*x[1]
			x[0], x[1] = c*x[0]+mid, c*x[1]+x[0]
		}
		out[k] = v
	}
	return out
}
