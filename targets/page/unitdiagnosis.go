package page

import (
	"fmt"
	"html/template"
	"strings"

	"bandwright/compiler/diagnosis"
	"bandwright/compiler/words"
)

var togetherChapter = unitsChapter{name: "units", title: "The units",
	says: func(p *unitsPaper) string {
		if len(p.Results) < 2 {
			return ""
		}
		return fmt.Sprintf("%d of %d keep everything that is promised.", p.batch.Kept, p.batch.Units)
	},
	body: func(p *unitsPaper) template.HTML {
		type row struct {
			Unit, Verdict, Says string
			Broken              bool
			Worst, Level        template.HTML
		}
		type pair struct {
			A, B  string
			Apart template.HTML
		}
		b, at := p.batch, p.At+".batch."
		db := func(name string, v float64, signed bool) template.HTML {
			if signed {
				return figure(at+name, v, words.Level(v, "dB"))
			}
			return figure(at+name, words.DB.Floored(v), words.DB.Measured(v))
		}
		view := struct {
			Rows                          []row
			Median, Worst, Drift, Scatter template.HTML
			Moved                         bool
			Pairs                         []pair
			Left                          string
		}{Median: db("median_db", b.MedianDB, false), Worst: db("worst_db", b.WorstDB, false), Drift: db("drift_db", b.DriftDB, true), Scatter: db("scatter_db", b.ScatterDB, false), Moved: b.Units > 2}
		for i, r := range p.Results {
			x := row{Unit: r.Unit, Verdict: "kept", Says: spoken(r.Sentences[0]), Broken: !r.Kept(), Worst: figure(p.Units.at(i)+".worst_db", words.DB.Floored(r.WorstDB()), words.DB.Measured(r.WorstDB())),
				Level: figure(p.Units.at(i)+".level_db", r.LevelDB, words.Level(r.LevelDB, "dB"))}
			if x.Broken {
				x.Verdict = "BROKEN: " + strings.Join(r.Broken(), ", ")
			}
			view.Rows = append(view.Rows, x)
		}
		for i, x := range b.Pairs {
			view.Pairs = append(view.Pairs, pair{p.Results[x.A].Unit, p.Results[x.B].Unit, figure(fmt.Sprintf("%spairs[%d].apart_db", at, i), words.DB.Floored(x.ApartDB), words.DB.Measured(x.ApartDB))})
		}
		var left []string
		for _, i := range b.Left {
			left = append(left, p.Results[i].Unit)
		}
		view.Left = words.List(left)
		return markup(togetherTemplate, view)
	},
}

var togetherTemplate = parsed(`<div class="wide"><table class="tail"><thead><tr><th>unit</th><th>verdict</th><th class="n">worst</th><th class="n">level</th><th>diagnosis</th></tr></thead>
<tbody>{{range .Rows}}<tr><th scope="row">{{.Unit}}</th><td{{if .Broken}} class="broken"{{end}}><span class="mark" aria-hidden="true">{{if .Broken}}●{{else}}○{{end}}</span>&nbsp;{{.Verdict}}</td><td class="n">{{.Worst}}</td><td class="n">{{.Level}}</td><td>{{.Says}}</td></tr>
{{end}}</tbody></table></div>
<p>Half of the units are within {{.Median}} of what was wanted, all within {{.Worst}}.{{if .Moved}} From the first to the last the level moved by {{.Drift}}, and each is {{.Scatter}} off that.{{end}}</p>
{{if .Pairs}}<h3>Left and right</h3>
<div class="wide"><table><thead><tr><th>one</th><th>the other</th><th class="n">apart at most</th></tr></thead>
<tbody>{{range .Pairs}}<tr><th scope="row">{{.A}}</th><td>{{.B}}</td><td class="n">{{.Apart}}</td></tr>
{{end}}</tbody></table></div>
<p class="small">The two that are most alike first, then those of the others.{{if .Left}} No pair is left for {{.Left}}: the odd one out, or outside of what is promised.{{end}}</p>
{{end}}`)

var diagnosisChapter = unitsChapter{name: "diagnosis", title: "What is likely wrong",
	says: func(p *unitsPaper) string {
		found := 0
		for _, r := range p.Results {
			if r.Found() {
				found++
			}
		}
		switch {
		case len(p.Results) == 1:
			return spoken(p.Results[0].Sentences[0]) + "."
		case found == 0:
			return "Nothing was found in any unit."
		}
		return fmt.Sprintf("Something is likely wrong with %d of %d units.", found, len(p.Results))
	},
	body: func(p *unitsPaper) template.HTML {
		var out template.HTML
		for i, r := range p.Results {
			if r.Found() || len(p.Results) == 1 {
				out += p.diagnosed(i)
			}
		}
		return out + `<p class="small">All likelihoods are shares of one, and hold if one thing at most is wrong. A part whose fault lies within the spread of good ones is called good.</p>` + "\n"
	},
}

// diagnosed is what is likely of one unit, and what brings it inside.
func (p *unitsPaper) diagnosed(i int) template.HTML {
	type row struct {
		What, Alike string
		Likelihood  template.HTML
	}
	r, at := p.Results[i], p.Units.at(i)
	view := struct {
		Unit  string
		Rows  []row
		Trims []string
	}{Unit: r.Unit}
	share := func(of string, v float64) template.HTML { return figure(at+of, v, diagnosis.Percent(v)) }
	for k, h := range r.Named {
		x := row{What: spoken(h.What), Likelihood: share(fmt.Sprintf(".hypotheses[%d].likelihood", k), h.Likelihood)}
		if h.Alike != nil {
			x.Alike = "These outputs cannot tell it from: " + strings.Join(h.Alike, "; ") + "."
		}
		view.Rows = append(view.Rows, x)
	}
	nothing := row{What: "Nothing is wrong", Likelihood: share(".nothing_likelihood", r.Nothing)}
	other := row{What: "None of what is looked for: more than one thing is wrong, or something else", Likelihood: share(".other_likelihood", r.Other)}
	if view.Rows = append(view.Rows, other, nothing); !r.Found() {
		view.Rows = []row{nothing, other}
	} else if r.Unexplained() {
		view.Rows = append([]row{other}, append(view.Rows[:len(view.Rows)-2:len(view.Rows)-2], nothing)...)
	}
	for _, t := range r.Trims {
		view.Trims = append(view.Trims, spoken(t.String()))
	}
	return markup(diagnosedTemplate, view)
}

var diagnosedTemplate = parsed(`{{with .Unit}}<h3>{{.}}</h3>
{{end}}<div class="wide"><table><thead><tr><th>what</th><th class="n">likelihood</th></tr></thead>
<tbody>{{range .Rows}}<tr><td>{{.What}}{{with .Alike}}<br><span class="small">{{.}}</span>{{end}}</td><td class="n">{{.Likelihood}}</td></tr>
{{end}}</tbody></table></div>
{{if .Trims}}<p>What brings it inside, each tried on the measurement:</p>
<ul class="notes">
{{range .Trims}}<li>{{.}}.</li>
{{end}}</ul>
{{end}}`)

var checksChapter = unitsChapter{name: "promises", title: "What was promised",
	says: func(p *unitsPaper) string { return promisesChapter.Says(p.Paper) },
	body: func(p *unitsPaper) template.HTML { return promisesBody(p.Paper) },
}
