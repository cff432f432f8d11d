package finished

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"

	"bandwright/biquad"
	"bandwright/compiler/board"
	"bandwright/compiler/diagnosis"
	"bandwright/compiler/netlist"
	"bandwright/compiler/verify"
	"bandwright/compiler/words"
)

// Trim is one way to bring a unit inside. It was tried: the unit with it, by nodal analysis of what
// it changes, keeps everything.
type Trim struct {
	// What is done, in words, and how far off (dB) ways and sum are before and after it.
	What          string
	WasDB, WillDB float64
}

// String is the trim in a sentence.
func (t Trim) String() string {
	return fmt.Sprintf("%s: then it is within %s, now within %s", t.What, words.Error(t.WillDB, "dB"), words.Error(t.WasDB, "dB"))
}

const (
	// mostTrims is how many are told, triedTrims how many are tried, and reachOf by which ratio a selected
	// part may differ from its nominal value.
	mostTrims, triedTrims, reachOf = 2, 6, 1.25
)

// change is other values of some parts.
type change struct {
	refs   []string
	values []float64
	what   string
	offDB  float64 // from the nominal unit, at the places of the bench
}

// trims are what brings a unit inside that is outside and set and connected as was said: its
// trimmers, then other values of one part.
func (d *Desk) trims(ctx context.Context, u Unit, r *Result) []Trim {
	if d.plan == nil || r.Kept() || r.Otherwise() > 0.5 {
		return nil
	}
	loud := d.bench.Loud(-DownToDB)
	all := d.selected(r.apart, loud)
	slices.SortStableFunc(all, func(a, b change) int {
		return strings.Compare(fmt.Sprintf("%09.4f", a.offDB), fmt.Sprintf("%09.4f", b.offDB))
	})
	if c, ok := d.trimmers(r.apart, loud); ok {
		all = append([]change{c}, all...)
	}
	var out []Trim
	used := map[string]bool{}
	for i, tried := 0, 0; i < len(all) && tried < triedTrims && len(out) < mostTrims; i++ {
		c := &all[i]
		if used[c.refs[0]] {
			continue // one value of a part is enough
		}
		used[c.refs[0]] = true
		tried++
		changed, err := d.changed(u, c)
		if err != nil {
			continue
		}
		m := d.measured(changed, r.Diagnosis)
		figures, findings := d.holds(ctx, m)
		if verify.Kept(findings) {
			out = append(out, Trim{What: c.what, WasDB: r.WorstDB(), WillDB: (&Result{Figures: figures}).WorstDB()})
		}
	}
	return out
}

// selected are other values that the stock has, of every part of a stage by itself, as it is where that part is not the
// one that is off.
func (d *Desk) selected(apart []float64, loud []int) []change {
	stock := board.StockOf(d.b.Spec.Board)
	var out []change
	stages := map[string]bool{}
	for _, c := range d.b.Board.Chains() {
		for _, s := range c.Built() {
			for _, p := range s.Placed() {
				stages[p.Ref] = true
			}
		}
	}
	for i, p := range d.bench.Parts {
		if !stages[p.Ref] {
			continue
		}
		values, unit := stock.ShuntOhm, "ohm"
		if p.Kind == netlist.Capacitor {
			values, unit = stock.Farad, "F"
		}
		for _, v := range values {
			if v == p.Value || v > p.Value*reachOf || v < p.Value/reachOf {
				continue
			}
			out = append(out, change{[]string{p.Ref}, []float64{v},
				fmt.Sprintf("fit %s for %s if that measures %s", words.Stock(v, unit), p.Ref, words.Stock(p.Value, unit)), worst(d.bench.Retuned(i, v, apart), loud)})
		}
	}
	return out
}

// worst is the greatest deviation where a unit is loud.
func worst(apart []float64, loud []int) float64 {
	most := 0.0
	for i, db := range apart {
		if loud[i] >= 0 {
			most = math.Max(most, math.Abs(db))
		}
	}
	return most
}

// trimmers are how those of the board are set, so that the greatest deviations of each way up and down are
// equal; false where there are none.
func (d *Desk) trimmers(apart []float64, loud []int) (change, bool) {
	var c change
	var said []string
	for _, w := range d.Ways {
		for _, p := range d.b.Board.Ways[w].Ends {
			if p.Use != board.Trim {
				continue
			}
			most, least := math.Inf(-1), math.Inf(1)
			for i, db := range apart {
				if loud[i] == w {
					most, least = math.Max(most, db), math.Min(least, db)
				}
			}
			by := -(most + least) / 2
			if limit := d.b.Spec.Board.TrimDB; !(math.Abs(by) > 0.02) || math.Abs(by) > 1.5*limit {
				continue
			}
			ohm, ok := d.turned(w, p, by)
			if !ok {
				continue
			}
			c.refs, c.values = append(c.refs, p.Ref), append(c.values, ohm)
			said = append(said, fmt.Sprintf("%s of %s by %s, to %s of its %s", p.Ref, d.subject.Ways[w], words.Level(by, "dB"), words.Part(words.Round(ohm, 3), "ohm"), words.Part(p.TrackOhm, "ohm")))
		}
	}
	c.what = "turn " + strings.Join(said, ", ")
	return c, len(said) > 0
}

// turned is what a trimmer has in series for another level, by halving its range.
func (d *Desk) turned(way int, p board.Part, byDB float64) (ohm float64, ok bool) {
	s, outs := d.b.Board.Solver(d.C)
	level := func(ohm float64) float64 {
		if s.Set(d.b.Board.PartIndex(p.Ref), ohm) != nil || s.At(math.Sqrt(d.LowHz*d.HighHz)) != nil {
			return math.NaN()
		}
		return biquad.DB(s.Voltage(outs[way]))
	}
	want := level(p.Value) + byDB
	low, high := p.TrackOhm*1e-3, p.TrackOhm
	if !(level(low) >= want && level(high) <= want) {
		return 0, false
	}
	for range 40 {
		if middle := (low + high) / 2; level(middle) > want {
			low = middle
		} else {
			high = middle
		}
	}
	return (low + high) / 2, true
}

// changed is a unit with other values of some parts: what was measured, times what the nominal board
// makes of the change.
func (d *Desk) changed(u Unit, c *change) (Unit, error) {
	was, outs := d.b.Board.Solver(d.C)
	will, _ := d.b.Board.Solver(d.C)
	for i, ref := range c.refs {
		if err := will.Set(d.b.Board.PartIndex(ref), c.values[i]); err != nil {
			return u, err
		}
	}
	known := map[float64][]complex128{}
	ratio := func(way int, hz float64) complex128 {
		if _, ok := known[hz]; !ok {
			out := make([]complex128, len(outs))
			if was.At(hz) == nil && will.At(hz) == nil {
				for i, o := range outs {
					out[i] = will.Voltage(o) / was.Voltage(o)
				}
			}
			known[hz] = out
		}
		return known[hz][way]
	}
	out := Unit{Name: u.Name}
	for _, r := range u.Readings {
		at, way := r.At, r.Way
		r.At = func(hz float64) complex128 { return at(hz) * ratio(way, hz) }
		out.Readings = append(out.Readings, r)
	}
	return out, nil
}

// measured is a unit as a realisation, level and delay as diagnosed taken out.
func (d *Desk) measured(u Unit, by *diagnosis.Diagnosis) *measured {
	return &measured{name: d.Name(u), of: d.of, unit: u, ways: d.Ways, gain: biquad.FromDB(by.LevelDB) * d.gain, delays: by.DelaysS, low: d.LowHz, high: d.HighHz}
}
