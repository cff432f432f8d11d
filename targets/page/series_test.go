package page_test

import (
	"fmt"
	"math"
	"math/cmplx"
	"strings"
	"testing"

	"bandwright/biquad"
	"bandwright/compiler/result"
)

// want are responses by other means than the page's: of digital filters the words of the index, of the board
// its parts and wires, both without their common delay, of the prototype the spec's.
type want struct {
	ideal []complex128
	made  [][]complex128
}

// wanted are those of a way.
func wanted(t *testing.T, p product, way int, c biquad.Combination, hz []float64) want {
	t.Helper()
	a := result.Accept(p.build)
	choices := map[string]string{}
	for i, s := range p.build.Settings {
		choices[s.Name] = s.Choices[c[i]]
	}
	w := want{ideal: make([]complex128, len(hz))}
	biquad.AnalogAt(w.ideal, p.build.Prototype.Path(way), c, hz)
	for i, d := range p.index.Digital {
		if d.Asked {
			w.made = append(w.made, a.Digital[i].Response(way, choices, hz))
		}
	}
	if a.Board != nil {
		h, err := a.Board.Responses([]map[string]string{choices}, hz)
		if err != nil {
			t.Fatal(err)
		}
		w.made = append(w.made, h[0][way])
	}
	return w
}

// series compares every line of the page in several combinations of settings with responses by other means.
func series(t *testing.T, b *browser, p product) {
	hz := evaluate[[]float64](t, b, `[...window.report.hz]`)
	var all []biquad.Combination
	biquad.Each(p.build.Prototype.Axes(), len(p.build.Settings), func(c biquad.Combination) { all = append(all, append(biquad.Combination{}, c...)) })
	for i := 0; i < len(all); i += max(1, len(all)/4) {
		c := all[len(all)-1-i]
		b.choose(t, c)
		for way := range p.build.Prototype.Ways {
			w := wanted(t, p, way, c, hz)
			sameAs(t, b, fmt.Sprintf("%v, way %d, wanted", c, way), [2]int{way, -1}, hz, [2][]complex128{w.ideal})
			for made, h := range w.made {
				if made > 0 && board(t, b, made) {
					apart(t, b, way, made, hz, [2][]complex128{h, w.made[0]})
				}
				sameAs(t, b, fmt.Sprintf("%v, way %d, realisation %d", c, way, made), [2]int{way, made}, hz, [2][]complex128{h, w.ideal})
			}
		}
	}
	b.choose(t, make(biquad.Combination, len(p.build.Settings)))
}

// choose picks choices in the form, as a person does.
func (b *browser) choose(t *testing.T, c biquad.Combination) {
	t.Helper()
	var list []string
	for _, x := range c {
		list = append(list, fmt.Sprint(x))
	}
	evaluate[bool](t, b, `(() => { const c = [`+strings.Join(list, ",")+`];
		document.querySelectorAll("#shown [data-setting]").forEach(s => { s.value = c[s.dataset.setting]; s.dispatchEvent(new Event("change", {bubbles: true})); });
		return true; })()`)
}

// board says whether a realisation is the board.
func board(t *testing.T, b *browser, made int) bool {
	t.Helper()
	return evaluate[bool](t, b, fmt.Sprintf(`window.report.data.made[%d].board`, made))
}

// sameAs holds level and error of a way in a realisation (of) against a response and, where there is one, the ideal. Words of 32 bits keep seven digits.
// The board's responses are solved by other means than the page's, from the nodes and values of an accepted result.
func sameAs(t *testing.T, b *browser, what string, of [2]int, hz []float64, want [2][]complex128) {
	t.Helper()
	h, ideal := want[0], want[1]
	read := func(kind string) []float64 {
		return evaluate[[]float64](t, b, fmt.Sprintf(`window.report.values(%q, %d, %d).map(v => Number.isNaN(v) ? 1e9 : v)`, kind, of[0], of[1]))
	}
	near := 1e-6
	if of[1] >= 0 && board(t, b, of[1]) {
		near = 1e-5
	}
	level := read("level")
	count := 0
	for i := range hz {
		if level[i] == 1e9 || cmplx.Abs(h[i]) < 1e-8 {
			continue
		}
		count++
		if d := math.Abs(level[i] - biquad.DB(h[i])); d > 2*near+3e-7*math.Abs(level[i]) {
			t.Errorf("%s: %v dB at %v Hz, not %v", what, level[i], hz[i], biquad.DB(h[i]))
			return
		}
	}
	if count < len(hz)/2 {
		t.Errorf("%s: %d of %d levels", what, count, len(hz))
	}
	if ideal == nil {
		return
	}
	errors, phases := read("error"), read("phase-error")
	count = 0
	for i, f := range hz {
		q := h[i] / ideal[i]
		if errors[i] != 1e9 {
			count++
			if d := math.Abs(errors[i] - biquad.DB(q)); d > near+2e-5*math.Abs(errors[i]) {
				t.Errorf("%s: off by %v dB at %v Hz, not %v", what, errors[i], f, biquad.DB(q))
				return
			}
		}
		if phases[i] != 1e9 {
			if d := math.Abs(phases[i] - cmplx.Phase(q)*180/math.Pi); d > 40*near+2e-5*math.Abs(phases[i]) {
				t.Errorf("%s: turned by %v degrees at %v Hz, not %v", what, phases[i], f, cmplx.Phase(q)*180/math.Pi)
				return
			}
		}
	}
	if count == 0 {
		t.Errorf("%s: no error is drawn", what)
	}
}

// apart holds the board less the first digital realisation against the responses of both.
func apart(t *testing.T, b *browser, way, made int, hz []float64, of [2][]complex128) {
	t.Helper()
	count := 0
	for i, v := range evaluate[[]float64](t, b, fmt.Sprintf(`window.report.values("between", %d, %d).map(v => Number.isNaN(v) ? 1e9 : v)`, way, made)) {
		if v == 1e9 {
			continue
		}
		count++
		if want := biquad.DB(of[0][i] / of[1][i]); math.Abs(v-want) > 2e-5+2e-5*math.Abs(v) {
			t.Errorf("way %d: board less digital is %v dB at %v Hz, not %v", way, v, hz[i], want)
			return
		}
	}
	if count < 20 {
		t.Errorf("way %d: board less digital at %d frequencies", way, count)
	}
}
