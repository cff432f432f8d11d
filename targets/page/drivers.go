package page

import (
	"fmt"
	"html/template"
	"math"
	"slices"
	"strings"

	"bandwright/compiler/result"
	"bandwright/compiler/words"
)

var driversChapter = Chapter{Name: "drivers", Title: "The drivers in the air",
	Says: func(p *Paper) string {
		air := result.InAir(p.Build)
		if air == nil {
			return ""
		}
		most, text := 0.0, fmt.Sprintf("%s told in the air.", capital(words.Count(len(air.Ways), "way is", "ways are")))
		for _, h := range air.Heard {
			for k, w := range h.Ways {
				limit := air.Ways[k].ExcursionMM
				if w.MostMM != nil && limit > 0 && w.MostMM.Value/limit > most {
					most = w.MostMM.Value / limit
					text = fmt.Sprintf("At full scale %s takes most of what it may: %s of %s mm at %s, %s.", w.Way, words.Short(w.MostMM.Value), words.Short(limit), words.Hz(w.MostMM.Hz), h.Realisation)
				}
			}
		}
		return text
	},
	Body: func(p *Paper) template.HTML {
		air := result.InAir(p.Build)
		return p.airLevels(air) + p.excursions(air) + p.strains(air) + p.patterns(air) + p.reflections(air) + p.airWays(air)
	},
}

// heardFirst is the realisation that series are drawn of: the first beside the prototype that has them, else the prototype.
func heardFirst(air *result.Air) *result.AirOf {
	best := &air.Heard[0]
	for i := range air.Heard {
		if h := &air.Heard[i]; len(h.SumDB) > 0 && h.Realisation != "prototype" {
			return h
		}
	}
	return best
}

// over is a line over the frequencies of the air.
func over(air *result.Air, class, name string, y []float64) line {
	return line{made: wantedLine, class: class, name: name, y: y, hz: air.Hz[:len(y)], shown: true}
}

// airLevels draws what is heard at 1 m on the axis.
func (p *Paper) airLevels(air *result.Air) template.HTML {
	h := heardFirst(air)
	d := drawing{name: "Level in the air", still: true, says: fmt.Sprintf("The largest sine at the input, on the axis at 1 m, in the default settings: %s. "+
		"Below all ways the pale band is the most before something reaches its limit.", h.Realisation)}
	add := func(name string, lines ...line) {
		top := math.Inf(-1)
		for _, l := range lines {
			for _, v := range l.y {
				top = math.Max(top, v)
			}
		}
		if math.IsInf(top, 0) {
			return
		}
		s := strip{kind: "air", name: name, unit: "dB", scale: 1, step: 12, lines: lines}
		s.high = 6 * math.Ceil(top/6+0.2)
		s.low = s.high - 54
		d.strips = append(d.strips, s)
	}
	for _, w := range h.Ways {
		if len(w.LevelDB) > 0 {
			add(w.Way, over(air, "digital", "level", w.LevelDB))
		}
	}
	if len(h.SumDB) > 0 {
		lines := []line{over(air, "digital", "level", h.SumDB)}
		if len(h.MaximumDB) > 0 {
			lines = append([]line{over(air, "wanted", "at most", h.MaximumDB)}, lines...)
		}
		add("sum", lines...)
	}
	if d.strips == nil {
		return ""
	}
	return p.draw(d)
}

// excursions draws how far cones move, with their limits as a corridor.
func (p *Paper) excursions(air *result.Air) template.HTML {
	h := heardFirst(air)
	d := drawing{name: "Excursion", still: true, says: "How far each cone moves to one side, peak, for the largest sine at the input, in the default settings; the corridor is what the driver may."}
	for k, w := range h.Ways {
		if len(w.ExcursionMM) == 0 {
			continue
		}
		most := slices.Max(w.ExcursionMM)
		s := strip{kind: "air", name: w.Way, unit: "mm", scale: 1, lines: []line{over(air, "digital", "cone", w.ExcursionMM)}}
		if limit := air.Ways[k].ExcursionMM; limit > 0 {
			s.corridors, most = []corridor{{-1, limit}}, math.Max(most, limit)
		}
		if most == 0 { // a measured driver: nothing is known of its cone
			continue
		}
		s.high = most * 1.2
		s.low, s.step = -s.high*0.05, below(s.high)
		d.strips = append(d.strips, s)
	}
	if d.strips == nil {
		return ""
	}
	return "<h3>Excursion</h3>" + p.draw(d)
}

// strains is what each way takes at most, in any settings, of each realisation.
func (p *Paper) strains(air *result.Air) template.HTML {
	type row struct {
		Name, Way string
		Cells     []template.HTML
	}
	var rows []row
	for i, h := range air.Heard {
		name := strings.TrimPrefix(h.Realisation, "digital ")
		for k, w := range h.Ways {
			cell := func(field, unit string, x *result.AirPlace) template.HTML {
				if x == nil {
					return "\u2013"
				}
				of := fmt.Sprintf("air.realisations[%d].ways[%d].%s.", i, k, field)
				return figure(of+"value", x.Value, words.Short(words.Round(x.Value, 3))+" "+unit) + "<br><span class=\"small\">at " + figure(of+"hz", x.Hz, words.Hz(x.Hz)) + "</span>"
			}
			rows = append(rows, row{name, w.Way, []template.HTML{cell("most_mm", "mm", w.MostMM), cell("most_v", "V", w.MostV), cell("most_a", "A", w.MostA)}})
			name = ""
		}
	}
	return markup(strainsTemplate, rows)
}

var strainsTemplate = parsed(`<h3>What drivers and amplifiers are asked for</h3>
<div class="wide"><table><thead><tr><th>at full scale, worst of all settings</th><th>way</th><th class="n">excursion</th><th class="n">volts</th><th class="n">amperes</th></tr></thead>
<tbody>{{range .}}<tr>{{if .Name}}<th scope="row">{{.Name}}</th>{{else}}<td></td>{{end}}<td>{{.Way}}</td>{{range .Cells}}<td class="n">{{.}}</td>{{end}}</tr>
{{end}}</tbody></table></div>
`)

// airWays is what no setting changes of each way.
func (p *Paper) airWays(air *result.Air) template.HTML {
	type row struct {
		Way   string
		Facts []template.HTML
		Notes []string
	}
	var rows []row
	for k, w := range air.Ways {
		r := row{Way: w.Way, Notes: w.Notes}
		add := func(field string, v float64, head, unit string) {
			if v != 0 {
				r.Facts = append(r.Facts, template.HTML(head+" ")+figure(fmt.Sprintf("air.ways[%d].%s", k, field), v, strings.TrimSpace(words.Exact(words.Round(v, 4))+" "+unit)))
			}
		}
		add("resonance_hz", w.ResonanceHz, "resonance at", "Hz")
		add("resonance_q", w.ResonanceQ, "with a Q of", "")
		add("excursion_limit_mm", w.ExcursionMM, "the cone may move", "mm")
		add("amplifier_v", w.AmplifierV, "the amplifier gives", "V")
		add("beams_hz", w.BeamsHz, "it beams from", "Hz")
		if w.LeastOhm != nil {
			add("least_ohm.value", w.LeastOhm.Value, "the load is at least", "ohm")
		}
		if w.CoilDC != nil {
			add("coil_dc.v", w.CoilDC.V, "the board's DC at the coil is", "V")
		}
		rows = append(rows, r)
	}
	return markup(airWaysTemplate, rows)
}

var airWaysTemplate = parsed(`<h3>Each driver</h3>
<ul class="notes">{{range .}}<li><strong>{{.Way}}</strong>: {{range $i, $f := .Facts}}{{if $i}}, {{end}}{{$f}}{{end}}.{{range .Notes}} Note: {{.}}.{{end}}</li>
{{end}}</ul>
<p class="small">Calculated from what the spec says of the drivers, in free field; rooms, edges and break-up are not in it.</p>
`)
