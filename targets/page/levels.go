package page

import (
	"fmt"
	"html/template"
	"math"
	"strings"

	"bandwright/compiler/board"
	"bandwright/compiler/verify"
	"bandwright/compiler/words"
)

// planned is a level plan, and where it stands in the index.
type planned struct {
	board.LevelPlan
	of string
}

// least is the case of a way that leaves one of its op-amps the least margin; ok is false where none could be solved.
func (p *Paper) least(way int) (out planned, ok bool) {
	cases := 0
	for _, c := range p.BoardSubject().Cases() {
		if c.Way != way || c.C == nil {
			continue
		}
		x, err := p.Board.LevelPlan(c)
		if err != nil {
			continue
		}
		if !ok || x.Stages[x.First].Clip.MarginDB < out.Stages[out.First].Clip.MarginDB {
			out, ok = planned{x, fmt.Sprintf("board.ways[%d].levels[%d]", way, cases)}, true
		}
		cases++
	}
	return out, ok && len(out.Stages) > 0
}

var levelsChapter = Chapter{Name: "levels", Title: "Headroom along the chain",
	Says: func(p *Paper) string {
		inside := p.insideSays()
		if p.Board == nil {
			return inside
		}
		margin, text := math.Inf(1), ""
		for way, name := range p.curves.ways {
			if x, ok := p.least(way); ok {
				if c := x.Stages[x.First].Clip; c.MarginDB < margin {
					margin = c.MarginDB
					text = fmt.Sprintf("%s clips first: %s runs out of %s at %s, %.1f dB above the input's level of %s.", capital(name), c.OpAmp, c.By, words.Hz(words.Round(c.AtHz, 4)), c.MarginDB, words.Part(x.InputV, "V"))
				}
			}
		}
		return strings.TrimSpace(text + " " + inside)
	},
	Body: func(p *Paper) template.HTML {
		if p.Board == nil {
			return p.inside()
		}
		type row struct {
			Name, Op          string
			V, At, Margin, By template.HTML
			First             bool
		}
		type chain struct {
			Way, With string
			Rows      []row
		}
		var view []chain
		for way, name := range p.curves.ways {
			x, ok := p.least(way)
			if !ok {
				continue
			}
			c := chain{Way: name, With: verify.Choices(p.BoardSubject().Choices(x.Case))}
			for i, l := range x.Stages {
				of := fmt.Sprintf("%s.stages[%d].", x.of, i)
				four := func(field string, v float64, text string) template.HTML {
					return figure(of+field, words.Round(v, 4), text)
				}
				serves := l.From
				if serves == "" {
					serves = l.Role.String()
				}
				r := row{Name: fmt.Sprintf("%s %d: %s", l.Chain, l.Number, serves), First: i == x.First, V: four("v", l.V, words.Volt.Measured(l.V)), At: four("at_hz", l.AtHz, words.Hz(l.AtHz))}
				if l.Clip.OpAmp != "" {
					r.Op, r.Margin, r.By = l.Clip.OpAmp, four("margin_db", l.Clip.MarginDB, fmt.Sprintf("%.2f dB", l.Clip.MarginDB)), template.HTML(l.Clip.By.String())
				}
				c.Rows = append(c.Rows, r)
			}
			view = append(view, c)
		}
		return p.inside() + "<h3>Along the board</h3>" + p.clips() + markup(levelsTemplate, view)
	},
}

var levelsTemplate = parsed(`{{range .}}<h4>{{.Way}}{{with .With}} <span class="small">with {{.}}</span>{{end}}</h4>
<div class="wide"><table class="tail"><thead><tr><th>stage</th><th class="n">volts</th><th class="n">at</th><th class="n">margin</th><th>by</th></tr></thead>
<tbody>{{range .Rows}}<tr><td>{{.Name}}</td><td class="n">{{.V}}</td><td class="n">{{.At}}</td><td class="n">{{.Margin}}</td><td>{{.By}} {{.Op}}{{if .First}}, <strong>first</strong>{{end}}</td></tr>
{{end}}</tbody></table></div>
{{end}}<p class="small">The greatest voltage (RMS) behind each stage, of a sine of the input's level anywhere in the band, in the settings that leave the way least margin: how far the input is below what makes the first op-amp of the stage clip.</p>
`)
