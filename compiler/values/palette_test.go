package values

import (
	"slices"
	"testing"

	"bandwright/compiler/stage"
)

// A palette is what the plan and the lines have, and of the rest in each pass some others, until all
// the stock had its turn; the first pass has nothing of it.
func TestPalette(t *testing.T) {
	stock := stage.Stock{Farad: []float64{1e-9, 2e-9, 3e-9}, Ohm: stage.Values([]string{"E24"}, nil, 1e3, 10e3)}
	plan := func(v ...float64) Plan { return Plan{Candidates: []stage.Candidate{{Values: v}}} }
	from, line := plan(1e-9, 1.1e3), plan(2e-9, 1.1e3, 5.1e3, 150)
	all := slices.Concat(stock.Farad, stock.Ohm)
	left := slices.Clone(all)
	for pass := range passes {
		of := palette(&stock, from, []Plan{line}, pass)
		besides := 0
		for _, v := range all {
			if of(v) && !from.has(v) {
				besides++
			}
		}
		want := mostBesides
		if pass == 0 {
			want = 2 // those of the line
		}
		// As many as fit when every so many-th is taken.
		if besides > want || besides < want-2 || !of(1e-9) || !of(2e-9) || !of(1.1e3) || !of(5.1e3) || !of(150) || of(151) {
			t.Errorf("pass %d: %d values besides, want about %d", pass, besides, want)
		}
		left = slices.DeleteFunc(left, of)
	}
	if len(left) > 0 {
		t.Errorf("%v never had their turn", left)
	}
}
