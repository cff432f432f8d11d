package report

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"bandwright/compiler"
	"bandwright/compiler/acoustic"
	"bandwright/compiler/brief"
	"bandwright/compiler/words"
)

// printedDB is what two figures to the tenth of a decibel may differ by for their rounding alone.
const printedDB = 0.1 + 1e-9

// mostRows is of how many combinations of its settings a way has a row each.
const mostRows = 24

// heldTo are the levels up to which each way is within its limits in each setting, of one realisation.
func heldTo(a *compiler.Air, h *acoustic.Heard) (out []brief.Settled) {
	cell := func(x *float64) string {
		if x == nil {
			return "-"
		}
		return words.Level(*x, "dB")
	}
	for k, w := range h.Ways {
		var rows []brief.Settled
		for _, s := range w.Settings {
			if travel, amplifier := a.System.Ways[k].Holds(s); travel != nil || amplifier != nil {
				rows = append(rows, brief.Settled{Name: w.Way, With: s.With, Cells: []string{cell(travel), cell(amplifier)}})
			}
		}
		if rows = brief.WithoutIdle(rows); len(rows) <= mostRows {
			out = append(out, rows...)
		}
	}
	return out
}

// limits are the levels up to which each way is within its limits, in each setting of each
// realisation: those that are like the prototype are only named.
func limits(p *page, a *compiler.Air) {
	if len(heldTo(a, a.Heard[0])) == 0 {
		return
	}
	told(p, a, "Up to these levels re full scale each way of the prototype is within its excursion and what its amplifier gives, in each setting that "+
		"changes anything:", "The same levels, re its own full scale, of %s:", func(h *acoustic.Heard) bool { return holdAlike(a, a.Heard[0], h) }, func(h *acoustic.Heard) {
		t := words.Table{Names: 1}
		t.Row("way", "setting", "excursion", "amplifier")
		for _, r := range heldTo(a, h) {
			t.Row(r.Name, r.Choices(), r.Cells[0], r.Cells[1])
		}
		p.table(&t)
	})
}

// told prints what is told of the prototype and of each realisation that is not alike, and names
// the others.
func told(p *page, a *compiler.Air, of, ofAnother string, alike func(*acoustic.Heard) bool, print func(*acoustic.Heard)) {
	p.line("")
	p.note(of)
	print(a.Heard[0])
	var same []string
	for _, h := range a.Heard[1:] {
		if alike(h) {
			same = append(same, h.Realisation)
		}
	}
	if same != nil {
		p.note("Of " + words.List(same) + " they are the same within 0.1 dB.")
	}
	for _, h := range a.Heard[1:] {
		if !alike(h) {
			p.line("")
			p.note(fmt.Sprintf(ofAnother, h.Realisation))
			print(h)
		}
	}
}

// holdAlike reports whether two realisations hold to the same levels in all settings.
func holdAlike(a *compiler.Air, x, y *acoustic.Heard) bool {
	for k := range x.Ways {
		if len(x.Ways[k].Settings) != len(y.Ways[k].Settings) {
			return false
		}
		for i, s := range x.Ways[k].Settings {
			t, u := a.System.Ways[k].Holds(s)
			v, w := a.System.Ways[k].Holds(y.Ways[k].Settings[i])
			for _, pair := range [][2]*float64{{t, v}, {u, w}} {
				if pair[0] != nil && pair[1] != nil && math.Abs(*pair[0]-*pair[1]) > printedDB {
					return false
				}
			}
		}
	}
	return true
}

// byItself are the default and each choice by itself, which the report tells; result has all.
func byItself(h *acoustic.Heard) (out []*acoustic.Told) {
	for i := range h.Settings {
		changed := 0
		for _, v := range h.Settings[i].C {
			if v != 0 {
				changed++
			}
		}
		if changed <= 1 {
			out = append(out, &h.Settings[i])
		}
	}
	return out
}

// mostColumns is how many settings stand beside each other.
const mostColumns = 9

// inSettings is how loud all ways are together in each choice, on the axis, at most, and in all directions.
func inSettings(p *page, a *compiler.Air) {
	shown := byItself(a.Heard[0])
	if len(shown) == 1 && len(a.Heard) == 1 {
		return
	}
	p.line("")
	p.note("All ways together at 1 m in each choice by itself, the other settings at their default; the result file has every combination, under air. Columns:")
	for i, t := range shown {
		name := "the default"
		for _, c := range t.With {
			if slices.Contains(shown[0].With, c) {
				continue
			}
			name = c.Setting + ": " + c.Choice
		}
		p.item(name, fmt.Sprintf("    %d  ", i+1), "       ")
	}
	p.note("Of the prototype:")
	for _, q := range loud {
		q.table(p, a, a.Heard[0])
	}
	var same []string
	for _, h := range a.Heard[1:] {
		var said []string
		var apart []quantity
		alike := 0
		for _, q := range loud {
			low, high, ok := q.apart(a.Heard[0], h)
			switch {
			case ok && math.Max(-low, high) <= printedDB:
				alike++
				said = append(said, q.name+" as loud")
			case ok && high-low <= 2*printedDB && !q.by:
				said = append(said, q.name+" "+words.Level(math.Round((low+high)*5)/10, "dB"))
			default:
				apart = append(apart, q)
			}
		}
		if alike == len(loud) {
			same = append(same, h.Realisation)
			continue
		}
		if said != nil {
			p.note("Of " + h.Realisation + ", re the prototype at every frequency in every combination, within 0.1 dB: " + strings.Join(said, ", ") + ".")
		}
		for _, q := range apart {
			p.note("Of " + h.Realisation + ":")
			q.table(p, a, h)
		}
	}
	if same != nil {
		p.note("Of " + words.List(same) + " all of it is the same within 0.1 dB, in every combination.")
	}
}

// quantity is one of those that all ways make together.
type quantity struct {
	name string
	of   func(*acoustic.Told) []float64
	by   bool // with what limits it
}

var loud = []quantity{{"on the axis", func(t *acoustic.Told) []float64 { return t.SumDB }, false},
	{"at most", func(t *acoustic.Told) []float64 { return t.MaximumDB }, true},
	{"in all directions", func(t *acoustic.Told) []float64 { return t.PowerDB }, false}}

// apart is by how much a realisation's is from another's in every combination that is told; ok is
// false where they have not the same ones.
func (q quantity) apart(x, y *acoustic.Heard) (low, high float64, ok bool) {
	if len(x.Settings) != len(y.Settings) {
		return 0, 0, false
	}
	low, high = math.Inf(1), math.Inf(-1)
	for i := range x.Settings {
		was := q.of(&x.Settings[i])
		for n, v := range q.of(&y.Settings[i]) {
			low, high = math.Min(low, v-was[n]), math.Max(high, v-was[n])
		}
	}
	return low, high, true
}

// table is one of a realisation: octaves down, settings across.
func (q quantity) table(p *page, a *compiler.Air, h *acoustic.Heard) {
	letters := map[string]string{acoustic.FullScale: ""}
	var limits []string
	hz, _ := a.Shown()
	shown := byItself(h)
	for from := 0; from < len(shown) && len(q.of(shown[0])) > 0; from += mostColumns {
		some := shown[from:min(len(shown), from+mostColumns)]
		var t words.Table
		head := []string{q.name + ", dB"}
		for i := range some {
			head = append(head, fmt.Sprint(from+i+1))
		}
		t.Row(head...)
		for i := 0; i < len(some[0].SumDB); i += 6 { // octaves
			row := []string{words.Hz(words.Round(hz[i], 3))}
			for _, s := range some {
				cell := fmt.Sprintf("%.1f", q.of(s)[i])
				if q.by {
					if _, known := letters[s.By[i]]; !known {
						letters[s.By[i]] = " " + string(rune('a'+len(letters)-1))
						limits = append(limits, strings.TrimSpace(letters[s.By[i]])+" "+s.By[i])
					}
					cell += letters[s.By[i]]
				}
				row = append(row, cell)
			}
			t.Row(row...)
		}
		p.table(&t)
	}
	if limits != nil {
		p.note("What limits: " + strings.Join(limits, ", ") + "; where nothing does, the level is that of full scale.")
	}
}

// offAxis is how unlike neighbours are where they cross.
func offAxis(p *page, a *compiler.Air) {
	if len(meets(a.Heard[0])) == 0 {
		return
	}
	told(p, a, "Neighbouring ways off the axis where they are equally loud on it, upper re lower, of the prototype in each setting that changes anything:",
		"The same of %s:", func(h *acoustic.Heard) bool { return meetAlike(a.Heard[0], h) }, func(h *acoustic.Heard) {
			t := words.Table{Names: 1}
			head := []string{"ways", "setting", "equally loud at"}
			for _, x := range acoustic.Angles {
				head = append(head, words.Exact(x)+" deg")
			}
			t.Row(head...)
			for _, r := range meets(h) {
				t.Row(append([]string{r.Name, r.Choices()}, r.Cells...)...)
			}
			p.table(&t)
		})
}

// meets are the meetings of a realisation, a row each that settings change.
func meets(h *acoustic.Heard) (out []brief.Settled) {
	var names []string
	rows := map[string][]brief.Settled{}
	for _, c := range h.Crossed {
		for _, m := range c.Meetings {
			name := m.Upper + " re " + m.Lower
			if rows[name] == nil {
				names = append(names, name)
			}
			r := brief.Settled{Name: name, With: c.With, Cells: []string{words.Hz(words.Round(m.Hz, 3))}}
			for _, db := range m.MismatchDB {
				r.Cells = append(r.Cells, words.Level(db, "dB"))
			}
			rows[name] = append(rows[name], r)
		}
	}
	for _, n := range names {
		if r := brief.WithoutIdle(rows[n]); len(r) <= mostRows {
			out = append(out, r...)
		}
	}
	return out
}

// meetAlike reports whether neighbours of two realisations meet alike in all settings.
func meetAlike(x, y *acoustic.Heard) bool {
	if len(x.Crossed) != len(y.Crossed) {
		return false
	}
	for i := range x.Crossed {
		s, t := x.Crossed[i].Meetings, y.Crossed[i].Meetings
		if len(s) != len(t) {
			return false
		}
		for k := range s {
			for n := range s[k].MismatchDB {
				if s[k].Lower != t[k].Lower || math.Abs(s[k].Hz/t[k].Hz-1) > 0.01 || math.Abs(s[k].MismatchDB[n]-t[k].MismatchDB[n]) > printedDB {
					return false
				}
			}
		}
	}
	return true
}
