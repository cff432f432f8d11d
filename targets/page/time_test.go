package page_test

import (
	"fmt"
	"math"
	"os"
	"regexp"
	"strconv"
	"strings"
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
	Unit, Mades, Class, D string
	Way                   int
	Low, High, Top        float64
}

var vertex = regexp.MustCompile(`[ML]([-\d.]+) ([-\d.]+)`)

// inTime holds steps and impulses against the words of the index, run in another structure than the page's, and the
// prototype's step in one stride each; and chooses each realisation.
func inTime(t *testing.T, b *browser, p product) {
	lines := evaluate[[]timeLine](t, b, `[...document.querySelectorAll("path[data-mades]")].map(l => { const s = l.closest("[data-strip]").dataset;
		return {Unit: s.unit, Mades: l.dataset.mades, Class: l.getAttribute("class"), D: l.getAttribute("d"), Way: +s.way, Low: +s.low, High: +s.high, Top: +s.top}; })`)
	var asked []result.Digital
	for _, d := range p.index.Digital {
		if d.Asked {
			asked = append(asked, d)
		}
	}
	if (len(asked) == 0) != (len(lines) == 0) {
		t.Fatalf("%d digital realisations and %d lines over time", len(asked), len(lines))
	}
	for _, l := range lines {
		made, _ := strconv.Atoi(strings.Fields(l.Mades)[0])
		along(t, p, l, asked[made])
	}
	for made := range asked {
		shown := evaluate[[]string](t, b, fmt.Sprintf(`(() => { const s = document.querySelector("#shown [data-made]"); s.value = %d; s.dispatchEvent(new Event("change", {bubbles: true}));
			return [...document.querySelectorAll("path[data-mades]:not([hidden]), figure[data-mades]:not([hidden])")].map(l => l.dataset.mades); })()`, made))
		if len(shown) != 4*len(p.build.Prototype.Ways)+1 { // and the noise
			t.Errorf("%d lines over time with realisation %d", len(shown), made)
		}
		for _, s := range shown {
			if !strings.Contains(" "+s+" ", fmt.Sprintf(" %d ", made)) {
				t.Errorf("a line of %s with realisation %d", s, made)
			}
		}
	}
	if len(asked) > 0 {
		evaluate[bool](t, b, `(() => { const s = document.querySelector("#shown [data-made]"); s.value = 0; s.dispatchEvent(new Event("change", {bubbles: true})); return true; })()`)
	}
}

// along holds every corner of a line against its series.
func along(t *testing.T, p product, l timeLine, d result.Digital) {
	t.Helper()
	rate, early := d.RateHz, d.CommonDelayS*d.RateHz
	last := int(0.05*rate+early) + 8
	y := stepped(p, d, l.Way, last)
	if l.Class == "wanted" {
		path := p.build.Prototype.Path(l.Way)
		for n := range y {
			y[n] = math.NaN()
			if at := (float64(n)+0.5-early)/rate - path.DelayS; at <= 0 {
				y[n] = 0
			} else if n < 40 || n%97 == 0 { // each from the start
				s, _ := biquad.NewAnalogStep(path, make(biquad.Combination, len(p.build.Settings)))
				s.Wait(at)
				y[n] = s.Value()
			}
		}
	}
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
		if count++; least > 0.16 {
			t.Errorf("%s, way %d, %s, %q: %.2f off at %v ms", l.Mades, l.Way, l.Class, l.Unit, least, ms)
			return
		}
	}
	if count < 20 {
		t.Errorf("%s, way %d, %s, %q: %d corners", l.Mades, l.Way, l.Class, l.Unit, count)
	}
}

// stepped is the answer to samples of 1, of a way in the default settings, by words of the index: each section as
// direct form II in the variable of its form.
func stepped(p product, d result.Digital, way, n int) []float64 {
	var all []result.Section
	for _, s := range append(append([]result.Section{}, d.Common.Sections...), d.Ways[way].Sections...) {
		applies := true
		for _, x := range p.build.Settings {
			if list, ok := s.When[x.Name]; ok {
				found := false
				for _, c := range list {
					found = found || c == x.Choices[0]
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
