package page

import (
	"fmt"
	"html/template"
	"math"

	"bandwright/compiler/brief"
	"bandwright/compiler/result"
	"bandwright/compiler/words"
)

// patterns draws how much quieter each way is beside its axis.
func (p *Paper) patterns(air *result.Air) template.HTML {
	d := drawing{name: "Beside the axis", note: p.note(true), says: "Level of each way beside its axis over that on it, at the angles that the lines are named by: the further off, the more broken the line; " +
		"no setting and no filter changes it. Of all ways together, how much louder it is on the axis than in the mean of all directions." + between6}
	classes := []string{"beside", "beside further", "beside furthest"}
	for _, w := range p.airWaysOf(air) {
		s := strip{kind: "air", name: w.Way, way: w.way, unit: "dB", scale: 1, step: 6, high: 3, low: -24}
		for i, a := range w.OffAxis {
			s.lines = append(s.lines, line{made: wantedLine, class: classes[min(i, len(classes)-1)], name: words.Exact(a.Degrees) + "\u00b0", shown: true,
				own: []*own{{x: [][]float64{air.Hz[:len(a.DB)]}, y: [][]float64{a.DB}}}})
		}
		if s.lines != nil {
			d.strips = append(d.strips, s)
		}
	}
	if lines := p.realised(func(made int) *own { return p.togetherIn(air, made, directed) }); lines != nil {
		d.strips = append(d.strips, strip{kind: "air", name: "sum", way: len(p.curves.ways), unit: "dB", scale: 1, step: 5, low: -3, high: math.Max(15, 5*math.Ceil(most(lines)/5+0.2)), lines: lines})
	}
	if d.strips == nil {
		return ""
	}
	out := "<h3>Beside the axis</h3>" + p.draw(d)
	if text := brief.OnePlace(p.Build); text != "" {
		out += template.HTML(`<p class="small">` + template.HTMLEscapeString(text) + `</p>`)
	}
	return out
}

// directed is the directivity index of all ways together (dB); nil where a way is not known off its axis.
func directed(x *result.AirTold) (out []float64) {
	for i, v := range x.PowerDB {
		out = append(out, x.SumDB[i]-v)
	}
	return out
}

// reflections is what the surfaces of the room send to the listener.
func (p *Paper) reflections(air *result.Air) template.HTML {
	if len(air.Reflections) == 0 {
		return ""
	}
	type loud struct {
		Way   string
		Cells []template.HTML
	}
	type row struct {
		Side, Surface string
		Cells         []template.HTML
		Ways          []loud
	}
	var view struct {
		Heads []string
		Rows  []row
	}
	for _, f := range air.Reflections[0].LevelHz {
		view.Heads = append(view.Heads, words.Hz(f))
	}
	for i, x := range air.Reflections {
		of := func(field string, v float64, unit string) template.HTML {
			return figure(fmt.Sprintf("air.reflections[%d].%s", i, field), v, words.Exact(words.Round(v, 4))+unit)
		}
		r := row{Side: x.Side, Surface: x.Surface, Cells: []template.HTML{of("delay_ms", x.DelayMS, " ms"), of("path_m", x.PathM, " m"), of("degrees", x.Degrees, "\u00b0"), of("distance_db", x.DistanceDB, " dB")}}
		for _, w := range air.Ways {
			l := loud{Way: w.Way}
			for j, db := range x.LevelDB[w.Way] {
				l.Cells = append(l.Cells, of(fmt.Sprintf("level_db.%s[%d]", w.Way, j), db, " dB"))
			}
			if l.Cells != nil {
				r.Ways = append(r.Ways, l)
			}
		}
		view.Rows = append(view.Rows, r)
	}
	return markup(reflectionsTemplate, view)
}

var reflectionsTemplate = parsed(`<h3>Reflections of the room</h3>
<div class="wide"><table><thead><tr><th>loudspeaker</th><th>surface</th><th class="n">later by</th><th class="n">path</th><th class="n">leaves at</th><th class="n">by distance</th></tr></thead>
<tbody>{{range .Rows}}<tr><th scope="row">{{.Side}}</th><td>{{.Surface}}</td>{{range .Cells}}<td class="n">{{.}}</td>{{end}}</tr>
{{end}}</tbody></table></div>
<div class="wide"><table><thead><tr><th>re the direct sound</th><th>way</th>{{range .Heads}}<th class="n">{{.}}</th>{{end}}</tr></thead>
<tbody>{{range .Rows}}{{$r := .}}{{range $i, $w := .Ways}}<tr>{{if $i}}<td></td>{{else}}<th scope="row">{{$r.Side}}, {{$r.Surface}}</th>{{end}}<td>{{.Way}}</td>{{range .Cells}}<td class="n">{{.}}</td>{{end}}</tr>
{{end}}{{end}}</tbody></table></div>
<p class="small">At the listener, of surfaces that swallow nothing and send on like mirrors: the first table by distance alone, the second with each way's pattern in the direction in which the sound leaves.</p>
`)
