package page

import (
	"html/template"
	"math"

	"bandwright/compiler/verify"
	"bandwright/compiler/words"
)

var sumChapter = Chapter{Name: "sum", Title: "The sum of the ways",
	Says: func(p *Paper) string {
		x, way, made, _, ok := p.worst(ofSum, true)
		if !ok {
			return ""
		}
		return p.atWorst("All ways together are off by at most", words.DB.Measured(math.Abs(x.Value)), x, way, made)
	},
	Body: func(p *Paper) template.HTML {
		n := len(p.curves.ways)
		d := drawing{name: "Sum of all ways", says: "All ways added as their outputs are, without loudspeakers: what is drawn is electrical. Above the level, below what became of it."}
		d.strips = []strip{p.levels(sumKind, n, 36), p.departures(sumErrorKind, n, ofSum, 1, "dB")}
		return p.draw(d) + p.table(ofSum, []string{verify.SumName})
	},
}
