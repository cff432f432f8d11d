package page

import (
	"fmt"
	"html/template"
	"math"
	"slices"

	"bandwright/biquad"
	"bandwright/compiler/batch"
	"bandwright/compiler/board"
	"bandwright/compiler/netlist"
	"bandwright/compiler/words"
)

var spreadChapter = Chapter{Name: "spread", Title: "What a batch of boards is like",
	Says: func(p *Paper) string {
		if p.Batch == nil {
			return ""
		}
		y := p.Batch.Yield()
		return fmt.Sprintf("Of %d simulated boards %s stay within %s in every way, the sum and every setting.", p.Batch.Boards, words.Share.Measured(y.Share), words.DB.Limit(y.LimitDB))
	},
	Body: func(p *Paper) template.HTML { return p.spread() + p.percentiles() + p.matters() },
}

// spread draws each way of the board with two standard deviations on both sides.
func (p *Paper) spread() template.HTML {
	made := slices.IndexFunc(p.curves.made, func(m made) bool { return m.board })
	d := drawing{name: "Spread of a batch", note: p.note(false), says: fmt.Sprintf("The dashed line is the board with nominal parts, the pale band two standard deviations "+
		"to both sides, in which some 95 of 100 boards lie at any one frequency. The corridor is what is promised of the batch, \u00b1%s.", words.DB.Limit(p.Batch.LimitDB))}
	for way, r := range p.Batch.Rows {
		if way > len(p.curves.ways) || len(p.curves.ways) == 1 && way > 0 {
			break
		}
		kind := errorKind
		if way == len(p.curves.ways) {
			kind = sumErrorKind
		}
		s := strip{kind: kind, name: p.nameOf(way), way: way, unit: "dB", scale: 1, corridors: []corridor{{-1, p.Batch.LimitDB}}}
		most := p.Batch.LimitDB
		axes := p.Subject().AllAxes
		if way < len(p.curves.ways) {
			axes = p.Subject().WayAxes[way]
		}
		s.spread = ownIn(axes, len(p.Settings), func(c biquad.Combination) (hz, db []float64) {
			for _, x := range r.Spreads {
				if slices.Equal(x.C, c) {
					for _, y := range x.Sigmas {
						hz, db = append(hz, y.Hz), append(db, 2*y.DB)
					}
				}
			}
			return hz, db
		})
		if x, _ := p.worstOf(ofMagnitude, made, s.name); x.Known {
			most = math.Max(most, math.Abs(x.Value))
		}
		most = math.Max(most, 2*r.Widest.DB)
		s.lines = []line{{made: made, class: "board", name: "nominal", y: p.values(kind, way, made), shown: true}}
		s.high = most * 1.25
		s.low = -s.high
		s.step = below(s.high)
		d.strips = append(d.strips, s)
	}
	return p.draw(d)
}

// at is the value at hz between those of a list; 0 where there is none.
func at(list, y []float64, hz float64) float64 {
	if v := between(list, y, hz); !math.IsNaN(v) {
		return v
	}
	return 0
}

// between is the value at hz on the line through those of a list, as the script finds it; NaN where there is none.
func between(list, y []float64, hz float64) float64 {
	const same = 1e-6 // relative: the script has words of 32 bits
	i, _ := slices.BinarySearch(list, hz*(1-same))
	switch {
	case i < len(list) && math.Abs(list[i]/hz-1) <= same:
		return y[i]
	case i > 0 && i < len(list):
		t := math.Log(hz/list[i-1]) / math.Log(list[i]/list[i-1])
		return y[i-1] + t*(y[i]-y[i-1])
	}
	return math.NaN()
}

// percentiles is how far so many boards of a hundred are from the prototype.
func (p *Paper) percentiles() template.HTML {
	type row struct {
		Way   string
		Cells []template.HTML
	}
	var rows []row
	for i, r := range p.Batch.Rows {
		of := func(field string) string { return fmt.Sprintf("board.spread.ways[%d].%s.db", i, field) }
		db := func(field string, x batch.Place) template.HTML {
			return figure(of(field), x.DB, fmt.Sprintf("%+.2f dB", x.DB))
		}
		corner := db("corner_highest", r.Highest)
		if -r.Lowest.DB > r.Highest.DB {
			corner = db("corner_lowest", r.Lowest)
		}
		rows = append(rows, row{r.Name, []template.HTML{db("plain.p50", r.Plain.P50), db("plain.p95", r.Plain.P95), db("plain.p99", r.Plain.P99), db("trimmed.p95", r.Trimmed.P95),
			db("between_boards.p95", r.Match.P95), corner}})
	}
	return markup(percentilesTemplate, rows)
}

var percentilesTemplate = parsed(`<div class="wide"><table><thead><tr><th>within</th><th class="n">50 %</th><th class="n">95 %</th><th class="n">99 %</th><th class="n">trimmed, 95 %</th><th class="n">pairs, 95 %</th><th class="n">corner</th></tr></thead>
<tbody>{{range .}}<tr><th scope="row">{{.Way}}</th>{{range .Cells}}<td class="n">{{.}}</td>{{end}}</tr>
{{end}}</tbody></table></div>
<p class="small">Each at its own worst frequency and settings, where the ideal is within 20 dB of its peak; trimmed is with each way's level set for least error; pairs are two boards against each other; the worst corner has every part at an end of its tolerance.</p>
`)

// matters is which parts make most of the spread.
func (p *Paper) matters() template.HTML {
	type row struct {
		Way, Part, Value string
		Share, Each      template.HTML
	}
	var rows []row
	for i, r := range p.Batch.Rows {
		name := r.Name
		for k, m := range r.Matters[:min(3, len(r.Matters))] {
			of := fmt.Sprintf("%s.spread.ways[%d].matters[%d].", board.RealisationName, i, k)
			unit := "ohm"
			if m.Kind == netlist.Capacitor {
				unit = "F"
			}
			rows = append(rows, row{name, m.Ref, words.Stock(m.Value, unit), figure(of+"share", m.Share, fmt.Sprintf("%.1f %%", 100*m.Share)),
				figure(of+"db_per_percent", m.DBPerPercent, fmt.Sprintf("%+.4f dB", m.DBPerPercent))})
			name = ""
		}
	}
	return markup(mattersTemplate, rows)
}

var mattersTemplate = parsed(`<h3>Parts that matter</h3>
<div class="wide"><table><thead><tr><th>in</th><th>part</th><th>value</th><th class="n">makes of the spread</th><th class="n">1 % more of it</th></tr></thead>
<tbody>{{range .}}<tr>{{if .Way}}<th scope="row">{{.Way}}</th>{{else}}<td></td>{{end}}<td>{{.Part}}</td><td>{{.Value}}</td><td class="n">{{.Share}}</td><td class="n">{{.Each}}</td></tr>
{{end}}</tbody></table></div>
`)
