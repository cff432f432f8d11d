package page

import (
	"fmt"
	"html/template"
	"math"
	"slices"
	"strings"

	"bandwright/compiler/verify"
	"bandwright/compiler/words"
)

var errorChapter = Chapter{Name: "error", Title: "How far each way is off",
	Says: func(p *Paper) string {
		x, way, made, _, ok := p.worst(ofMagnitude, false)
		if !ok {
			return ""
		}
		return p.atWorst("No way is further off than", words.DB.Measured(math.Abs(x.Value)), x, way, made)
	},
	Body: func(p *Paper) template.HTML {
		d := drawing{name: "Error of each way", says: "Realised over wanted, where it is judged. The shaded corridor is what is promised; a ring marks the worst point of all settings, filled " +
			"where it lies outside. A click on a ring shows the settings that it belongs to."}
		for way := range p.curves.ways {
			d.strips = append(d.strips, p.departures(errorKind, way, ofMagnitude, 1, "dB"))
		}
		return p.draw(d) + p.table(ofMagnitude, p.curves.ways) + p.apart()
	},
}

// apart draws the board less the digital filters that are chosen: how much two products of one spec differ.
func (p *Paper) apart() template.HTML {
	made := slices.IndexFunc(p.curves.made, func(m made) bool { return m.board })
	if made < 1 { // without one of them
		return ""
	}
	d := drawing{name: "Board less digital", says: "How much louder the board is than the digital filters that are chosen, where both are judged: what is heard where one product replaces the other, whatever was wanted."}
	for way := range p.curves.ways {
		y := p.values(betweenKind, way, made)
		s := strip{kind: betweenKind, name: p.nameOf(way), way: way, unit: "dB", scale: 1, lines: []line{{made: made, class: "board", name: "apart", y: y, shown: true}}}
		for _, v := range y {
			if !math.IsNaN(v) {
				s.high = math.Max(s.high, math.Abs(v))
			}
		}
		s.high = 1.25 * math.Max(s.high, 0.01)
		s.low, s.step = -s.high, rounder(below(s.high))
		d.strips = append(d.strips, s)
	}
	return "<h3>Board less digital</h3>" + p.draw(d)
}

// atWorst says what the worst is, of which way, where, and in which realisation.
func (p *Paper) atWorst(head, value string, x verify.Extreme, way string, made int) string {
	m := p.curves.made[made]
	on := "digital at " + m.short
	if m.board {
		on = "on the board"
	}
	var where []string
	if way != verify.SumName {
		where = append(where, way)
	}
	if x.AtHz > 0 {
		where = append(where, "at "+words.Hz(x.AtHz))
	}
	return fmt.Sprintf("%s %s: %s, %s.", head, minus(value), strings.Join(where, " "), on)
}
