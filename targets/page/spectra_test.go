package page_test

import (
	"math"
	"strconv"
	"testing"

	"bandwright/biquad"
	"bandwright/compiler/verify"
)

// spectra adds every drawn spectrum of noise up to the floor of its realisation, and finds at the lowest point of every
// way of a board what its level plan says.
func spectra(t *testing.T, b *browser, p product) {
	type drawn struct {
		Kind, Made, D  string
		Way            int
		Low, High, Top float64
	}
	lines := evaluate[[]drawn](t, b, `[...document.querySelectorAll('[data-strip="noise"] path[class="digital"][d*="L"], [data-strip="clip"] path[class="board"][d*="L"]')].map(l => { const s = l.closest("[data-strip]").dataset, f = l.closest("figure").dataset;
		return {Kind: s.strip, Made: f.mades || "", D: l.getAttribute("d"), Way: +s.way, Low: +s.low, High: +s.high, Top: +s.top}; })`)
	hz := evaluate[[]float64](t, b, `[window.report.hz[0], window.report.hz[window.report.hz.length - 1]]`)
	asked := 0
	found := map[string]int{}
	c := make(biquad.Combination, len(p.build.Settings))
	for _, d := range p.build.Digital {
		if d.Asked {
			asked++
		}
	}
	for _, l := range lines {
		var at, db []float64
		for _, v := range vertex.FindAllStringSubmatch(l.D, -1) {
			x, _ := strconv.ParseFloat(v[1], 64)
			y, _ := strconv.ParseFloat(v[2], 64)
			at, db = append(at, hz[0]*math.Exp2((x-64)/(640-64)*math.Log2(hz[1]/hz[0]))), append(db, l.High-(y-l.Top)/104*(l.High-l.Low))
		}
		found[l.Kind]++
		got, want := math.Inf(1), 0.0
		if l.Kind == "clip" {
			plan, err := p.build.Board.LevelPlan(verify.Case{Way: l.Way, C: c})
			if err != nil {
				t.Fatal(err)
			}
			want = plan.Stages[plan.First].Clip.MarginDB
			for _, v := range db {
				got = math.Min(got, v)
			}
		} else {
			sum := 0.0
			for i := 1; i < len(at); i++ {
				sum += (at[i] - at[i-1]) / 2 * (math.Pow(10, db[i]/10) + math.Pow(10, db[i-1]/10))
			}
			got = 10 * math.Log10(sum)
			made, _ := strconv.Atoi(l.Made)
			for _, d := range p.build.Digital {
				if d.Asked {
					if made--; made < 0 {
						want = d.Format.NewNoise(d.System, l.Way, d.InputGain, d.RateHz, 20, math.Min(20000, verify.TopOfRate*d.RateHz)).DBFS(c)
						break
					}
				}
			}
		}
		if math.Abs(got-want) > 0.3 {
			t.Errorf("%s of way %d, realisation %q: %.2f dB, want %.2f", l.Kind, l.Way, l.Made, got, want)
		}
	}
	ways := len(p.build.Prototype.Ways)
	boards := 0
	if p.build.Board != nil {
		boards = 1
	}
	if found["noise"] != asked*ways || found["clip"] != boards*ways {
		t.Errorf("%v lines of %d ways, %d realisations and %d boards", found, ways, asked, boards)
	}
}
