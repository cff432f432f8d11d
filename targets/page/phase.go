package page

import (
	"html/template"
	"math"

	"bandwright/compiler/words"
)

var phaseChapter = Chapter{Name: "phase", Title: "Phase",
	Says: func(p *Paper) string {
		x, way, made, _, ok := p.worst(ofPhase, false)
		if !ok {
			if len(p.curves.ways) == 1 {
				return "One way has nothing to be in phase with."
			}
			return ""
		}
		return p.atWorst("Where ways meet, none turns away from its prototype by more than", words.Deg.Measured(math.Abs(x.Value)), x, way, made)
	},
	Body: func(p *Paper) template.HTML {
		d := drawing{name: "Phase of each way", says: "Without each way's pure delay, from \u2212180 to 180 degrees."}
		e := drawing{name: "Error of phase", says: "After the common delay, where a neighbouring way is within 20 dB and it matters to the sum."}
		for way := range p.curves.ways {
			d.strips = append(d.strips, strip{kind: phaseKind, name: p.nameOf(way), way: way, unit: "deg", scale: 1, low: -200, high: 200, step: 90, lines: p.lines(phaseKind, way, true)})
			e.strips = append(e.strips, p.departures(phaseErrorKind, way, ofPhase, 1, "deg"))
		}
		out := p.draw(d)
		if len(p.curves.ways) > 1 {
			out += p.draw(e) + p.table(ofPhase, p.curves.ways)
		}
		return out
	},
}
