package page

import (
	"cmp"
	"fmt"
	"html/template"
	"slices"
	"strings"

	"bandwright/compiler/brief"
	"bandwright/compiler/verify"
	"bandwright/compiler/words"
)

var promisesChapter = Chapter{Name: "promises", Title: "What was promised",
	Says: func(p *Paper) string {
		broken := 0
		for _, o := range p.verdict.Promises {
			if !o.Kept() {
				broken++
			}
		}
		switch {
		case len(p.verdict.Promises) == 0:
			return "Nothing is promised."
		case broken == 0:
			return fmt.Sprintf("All %d promises are kept.", len(p.verdict.Promises))
		}
		return fmt.Sprintf("%d of %s broken.", broken, words.Count(len(p.verdict.Promises), "promise is", "promises are"))
	},
	Body: promisesBody,
}

// promiseRow is one promise as its table has it.
type promiseRow struct {
	Name, Limit, Way, Realisation, Kept, With string
	Broken                                    bool
	Worst, At                                 template.HTML
}

var promisesTemplate = parsed(`{{range .Breaks}}<h3 class="broken">● {{.Head}}</h3>
<ul class="notes">{{range .Where}}<li>{{.}}</li>{{end}}</ul>
{{with .Remedy}}<p>To keep it: {{.}}.</p>{{end}}
{{end}}<div class="wide"><table class="tail">
<thead><tr><th>promise</th><th>verdict</th><th class="n">limit</th><th class="n">worst</th><th>where</th></tr></thead>
<tbody>{{range .Rows}}<tr><th scope="row">{{.Name}}</th><td{{if .Broken}} class="broken"{{end}}><span class="mark" aria-hidden="true">{{if .Broken}}●{{else}}○{{end}}</span> {{.Kept}}</td><td class="n">{{.Limit}}</td><td class="n">{{.Worst}}</td><td>{{.Way}} {{.At}} <span class="small">{{.Realisation}}{{with .With}}, with {{.}}{{end}}</span></td></tr>
{{end}}</tbody></table></div>
<p class="small">A hollow mark is a promise kept, a filled one a promise broken. {{.Over}}</p>
`)

func promisesBody(p *Paper) template.HTML {
	type brk struct {
		Head   string
		Where  []string
		Remedy string
	}
	var view struct {
		Breaks []brk
		Rows   []promiseRow
		Over   string
	}
	view.Over = cmp.Or(p.judgedOver, "Every worst case is that of all settings.")
	for _, x := range p.verdict.Breaks {
		b := brk{Head: x.Worst.Head(), Remedy: x.Worst.Remedy}
		for _, f := range x.Findings {
			b.Where = append(b.Where, f.Where())
		}
		view.Breaks = append(view.Breaks, b)
	}
	for _, o := range p.verdict.Promises {
		f := o.Worst
		i := slices.IndexFunc(p.Findings, func(x verify.Finding) bool {
			return x.Promise == f.Promise && x.Realisation == f.Realisation && x.Way == f.Way
		})
		of := fmt.Sprintf("findings[%d]", i)
		if p.checks != nil {
			of = p.checks[i]
		}
		r := promiseRow{Name: o.Promise, Limit: minus(f.LimitText()), Way: f.Way, Realisation: strings.TrimPrefix(f.Realisation, "digital "), Kept: "kept", With: verify.Choices(f.With),
			Worst: figure(of+".worst", f.Unit.Floored(f.Worst), f.WorstText())}
		if o.Checks > 1 {
			r.Kept = fmt.Sprintf("kept in all %d", o.Checks)
		}
		if !o.Kept() {
			r.Broken, r.Kept = true, fmt.Sprintf("BROKEN in %d of %d", o.Fails, o.Checks)
		}
		if f.AtHz > 0 {
			r.At = "at " + figure(of+".at_hz", f.AtHz, words.Hz(f.AtHz))
		}
		view.Rows = append(view.Rows, r)
	}
	return markup(promisesTemplate, view)
}

var firstTemplate = parsed(`<ul class="first">
{{range .}}<li><b><a href="#{{.To}}" title="{{.See}}">{{.Name}}</a></b> {{.Text}}</li>
{{end}}</ul>
`)

// first are the three things to look at before all others: what is broken, or the worst way;
// how much headroom is left; and how much DC there is.
func first(p *Paper) template.HTML {
	type thing struct{ Name, Text, To, See string }
	var out []thing
	if len(p.verdict.Breaks) > 0 {
		x := p.verdict.Breaks[0].Worst
		out = append(out, thing{"Broken first:", x.Head() + "; found " + x.Where() + ".", "promises", "All promises"})
	}
	if x := brief.WorstWay(p.Build); x.Known {
		out = append(out, thing{"Worst way:", x.Way + ", " + minus(words.DB.Signed(x.Value)) + x.Where() + ".", "error", "How far each way is off"})
	}
	levels, see := levelsChapter.Name, levelsChapter.Title
	for _, f := range brief.Facts(p.Build) {
		switch f.Name {
		case "headroom":
			out = append(out, thing{"Headroom:", f.Text + ".", levels, see})
		case "DC":
			out = append(out, thing{"DC:", f.Text + ".", "cautions", "What to be careful about"})
		}
	}
	return markup(firstTemplate, out)
}
