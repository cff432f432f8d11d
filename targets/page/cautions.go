package page

import (
	"fmt"
	"html/template"

	"bandwright/compiler/brief"
)

var cautionsChapter = Chapter{Name: "cautions", Title: "What to be careful about",
	Says: func(p *Paper) string {
		for _, f := range brief.Facts(p.Build) {
			if f.Name == "caution" {
				return capital(f.Text) + "."
			}
		}
		return ""
	},
	Body: func(p *Paper) template.HTML {
		var view struct{ Warnings, Board, First []string }
		for _, w := range p.Warnings {
			s := w.Message
			if w.Pos.Line > 0 {
				s = fmt.Sprintf("line %d: %s", w.Pos.Line, s)
			}
			if w.Right != "" {
				s += ": " + w.Right
			}
			view.Warnings = append(view.Warnings, s)
		}
		if p.Board != nil {
			view.Board = p.Board.Cautions
		}
		view.First = brief.Cautions(p.Build)
		return markup(cautionsTemplate, view)
	},
}

var cautionsTemplate = parsed(`{{with .Warnings}}<h3>Warnings</h3>
<ul class="notes">{{range .}}<li>{{.}}</li>{{end}}</ul>
{{end}}{{with .Board}}<h3>Of the board</h3>
<ul class="notes">{{range .}}<li>{{.}}</li>{{end}}</ul>
{{end}}<h3>Before the first sound</h3>
<ul class="notes">{{range .First}}<li>{{.}}</li>{{end}}</ul>
`)
