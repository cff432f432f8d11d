package page

import (
	"fmt"
	"html/template"
	"math"

	"bandwright/compiler/brief"
	"bandwright/compiler/result"
	"bandwright/compiler/verify"
	"bandwright/compiler/words"
)

// holds are the levels up to which each way is within its limits, in each setting that changes any, of the
// prototype and of every realisation that holds to others.
func (p *Paper) holds(air *result.Air) template.HTML {
	var view struct {
		Heads []string
		Rows  []holdsRow
		Alike string
	}
	shown := []int{0}
	var alike []string
	for i := range air.Heard[1:] {
		if !sameSettings(&air.Heard[0], &air.Heard[i+1]) {
			continue
		}
		if holdAlike(&air.Heard[0], &air.Heard[i+1]) {
			alike = append(alike, air.Heard[i+1].Realisation)
			continue
		}
		shown = append(shown, i+1)
	}
	for _, i := range shown {
		view.Heads = append(view.Heads, air.Heard[i].Realisation)
	}
	view.Alike = words.List(alike)
	for k, w := range air.Heard[0].Ways {
		var rows []brief.Settled
		for j := range w.Settings {
			r := brief.Settled{Name: w.Way, With: p.chosen(w.Settings[j].Setting), From: j}
			none := true
			for _, i := range shown {
				x := &air.Heard[i].Ways[k].Settings[j]
				r.Cells = append(r.Cells, fmt.Sprint(holdsText(x.ExcursionHoldsDB), holdsText(x.AmplifierHoldsDB)))
				none = none && x.ExcursionHoldsDB == nil && x.AmplifierHoldsDB == nil
			}
			if !none {
				rows = append(rows, r)
			}
		}
		for _, r := range brief.WithoutIdle(rows) {
			row := holdsRow{Way: r.Name, Setting: r.Choices()}
			for _, i := range shown {
				of := fmt.Sprintf("air.realisations[%d].ways[%d].settings[%d].", i, k, r.From)
				x := &air.Heard[i].Ways[k].Settings[r.From]
				row.Cells = append(row.Cells, holdsCell(of+"excursion_holds_db", x.ExcursionHoldsDB), holdsCell(of+"amplifier_holds_db", x.AmplifierHoldsDB))
			}
			view.Rows = append(view.Rows, row)
		}
	}
	if view.Rows == nil {
		return ""
	}
	return markup(holdsTemplate, view)
}

type holdsRow struct {
	Way, Setting string
	Cells        []template.HTML
}

// chosen are the choices of a setting of the result, in the order of the spec.
func (p *Paper) chosen(setting map[string]string) []verify.Choice {
	out := []verify.Choice{}
	for _, s := range p.Settings {
		if c, ok := setting[s.Name]; ok {
			out = append(out, verify.Choice{Setting: s.Name, Choice: c})
		}
	}
	return out
}

func holdsText(x *float64) string {
	if x == nil {
		return "\u2013"
	}
	return words.Level(*x, "dB")
}

func holdsCell(of string, x *float64) template.HTML {
	if x == nil {
		return "\u2013"
	}
	return figure(of, *x, words.Level(*x, "dB"))
}

// sameSettings reports whether ways of two realisations are told of in the same settings.
func sameSettings(a, b *result.AirOf) bool {
	for k := range a.Ways {
		if len(a.Ways[k].Settings) != len(b.Ways[k].Settings) {
			return false
		}
	}
	return true
}

// holdAlike reports whether two realisations hold to the same levels within 0.1 dB, in the same settings.
func holdAlike(a, b *result.AirOf) bool {
	for k := range a.Ways {
		for j := range a.Ways[k].Settings {
			x, y := &a.Ways[k].Settings[j], &b.Ways[k].Settings[j]
			for _, pair := range [][2]*float64{{x.ExcursionHoldsDB, y.ExcursionHoldsDB}, {x.AmplifierHoldsDB, y.AmplifierHoldsDB}} {
				if pair[0] != nil && pair[1] != nil && math.Abs(*pair[0]-*pair[1]) > 0.1+1e-9 {
					return false
				}
			}
		}
	}
	return true
}

var holdsTemplate = parsed(`<h3>Levels that hold</h3>
<div class="wide"><table><thead><tr><th>way</th><th>setting</th>{{range .Heads}}<th class="n">{{.}}: excursion</th><th class="n">amplifier</th>{{end}}</tr></thead>
<tbody>{{range .Rows}}<tr><th scope="row">{{.Way}}</th><td>{{.Setting}}</td>{{range .Cells}}<td class="n">{{.}}</td>{{end}}</tr>
{{end}}</tbody></table></div>
<p class="small">Up to these levels re full scale a way is within its driver's excursion and what its amplifier gives, in each setting that changes any.{{if .Alike}} Of {{.Alike}} they are those of the prototype within 0.1 dB.{{end}}</p>
`)
