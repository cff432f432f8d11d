package page

import (
	"fmt"
	"html/template"
	"math"
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
		return p.draw(d) + p.table(ofMagnitude, p.curves.ways)
	},
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
