package page_test

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"bandwright/biquad"
	"bandwright/compiler/result"
)

// airLine is a line of the air as the page draws it; NaN is 1e9.
type airLine struct {
	Name, Says, Figure string
	Way                int
	X, Y               []float64
}

// aired is what lines are held against in one combination.
type aired struct {
	what    string
	air     *result.Air
	of      *result.AirOf
	choices map[string]string
}

// inTheAir holds levels, excursions, volts and sums in the air against the index, in several settings and every
// realisation: what it has no series of is its prototype's with the response of its words over the ideal one, and peaks are
// what it says of each setting.
func inTheAir(t *testing.T, b *browser, p product) {
	if p.index.Air == nil {
		return
	}
	var asked []result.Digital
	for _, d := range p.index.Digital {
		if d.Asked {
			asked = append(asked, d)
		}
	}
	air, hz := p.index.Air, p.index.Air.Hz
	turn, count := 0, map[string]int{}
	b.every(t, p, func(c biquad.Combination) {
		choices := named(p, c)
		made := turn % max(1, len(asked))
		if turn++; len(asked) > 0 {
			b.realise(t, made)
		}
		ideal := map[int]want{}
		for way := range p.build.Prototype.Ways {
			ideal[way] = wanted(t, p, way, c, hz)
		}
		for _, l := range evaluate[[]airLine](t, b, `[...document.querySelectorAll('[data-strip="air"] path[data-own]')].map(l => { const s = l.closest("[data-strip]").dataset, o = window.report.own(window.report.ownOf(l));
			return {Name: s.name, Says: l.dataset.says, Figure: l.closest(".plot").getAttribute("aria-label"), Way: +s.way, X: [...o.x], Y: [...o.y].map(v => Number.isNaN(v) ? 1e9 : v)}; })`) {
			h := &air.Heard[0]
			switch l.Says {
			case "digital":
				h = heard(air, fmt.Sprintf("digital %s", shortOf(p, made)))
			case "board":
				h = heard(air, "board")
			}
			x := aired{fmt.Sprintf("%v, realisation %d: %s %s %s", c, made, l.Figure, l.Name, l.Says), air, h, choices}
			count[l.Figure+l.Says]++
			if l.Name == "sum" {
				x.together(t, l)
				continue
			}
			departure := make([]float64, len(hz))
			for n := range departure {
				departure[n] = biquad.DB(ideal[l.Way].made[made][n] / ideal[l.Way].ideal[n])
			}
			x.alone(t, l, departure)
		}
	})
	for _, figure := range []string{"Level in the air", "Volts"} {
		for _, says := range []string{"wanted", "digital", "board"} {
			if count[figure+": cursor"+says] < turn*len(air.Ways) {
				t.Errorf("%d lines of %s, %s in %d combinations", count[figure+": cursor"+says], figure, says, turn)
			}
		}
	}
	if len(asked) > 0 {
		b.realise(t, 0)
	}
}

// alone holds a line of one way; departure (dB) is the realisation's from the prototype.
func (x aired) alone(t *testing.T, l airLine, departure []float64) {
	t.Helper()
	k := slices.IndexFunc(x.of.Ways, func(w result.AirOfWay) bool { return w.Way == l.Name })
	i := slices.IndexFunc(x.of.Ways[k].Settings, func(s result.AirCase) bool { return covers(s.Setting, x.choices) })
	in := x.of.Ways[k].Settings[i]
	if l.Figure == "Level in the air: cursor" {
		level, departs := in.LevelDB, 0.0
		if level == nil {
			level, departs = x.air.Heard[0].Ways[k].Settings[i].LevelDB, 1
		}
		for n, v := range l.Y {
			if db := level[n] + departs*departure[n]; math.Abs(v-db) > 0.003 && v != 1e9 {
				t.Errorf("%s: %v dB at %v Hz, not %v", x.what, v, x.air.Hz[n], db)
				return
			}
		}
		return
	}
	most, top := map[string]float64{"Excursion: cursor": in.MM, "Volts: cursor": in.V}[l.Figure], 0.0
	for _, v := range l.Y {
		if v != 1e9 {
			top = math.Max(top, v)
		}
	}
	if most > 0 && (top > 1.01*most || top < 0.93*most) { // a peak may lie between two of six an octave
		t.Errorf("%s: at most %v, in the index %v", x.what, top, most)
	}
}

// heard is a realisation of the index's air.
func heard(air *result.Air, name string) *result.AirOf {
	i := slices.IndexFunc(air.Heard, func(h result.AirOf) bool { return h.Realisation == name })
	return &air.Heard[i]
}

// shortOf is a digital realisation as the page names it: "48 kHz float32".
func shortOf(p product, made int) string {
	for _, d := range p.build.Digital {
		if d.Asked {
			if made--; made < 0 {
				return d.Name()[len("digital "):]
			}
		}
	}
	return ""
}

// together holds a line of all ways together, of a realisation that has settings of its own or the prototype's.
func (x aired) together(t *testing.T, l airLine) {
	t.Helper()
	list := x.of.Settings
	if list == nil {
		list = x.air.Heard[0].Settings
	}
	in := list[slices.IndexFunc(list, func(s result.AirTold) bool { return covers(s.Setting, x.choices) })]
	for n, v := range l.Y {
		want := in.SumDB[n]
		switch {
		case l.Says == "at most" && in.MaximumDB != nil:
			want = in.MaximumDB[n]
		case l.Figure == "Beside the axis: cursor":
			want -= in.PowerDB[n]
		}
		if math.Abs(v-want) > 1e-5 {
			t.Errorf("%s: %v dB, not %v", x.what, v, want)
			return
		}
	}
}
