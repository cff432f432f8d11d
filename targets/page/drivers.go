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
					text = fmt.Sprintf("At full scale %s moves furthest beside its limit: %s mm, %s mm allowed, at %s, %s.", w.Way, words.Short(w.MostMM.Value), words.Short(limit), words.Hz(w.MostMM.Hz), h.Realisation)
				}
			}
		}
		return text
	},
	Body: func(p *Paper) template.HTML {
		air := result.InAir(p.Build)
		return p.airLevels(air) + p.taken(air) + p.strains(air) + p.holds(air) + p.patterns(air) + p.reflections(air) + p.airWays(air)
	},
}

// between6 is how lines in the air are drawn.
const between6 = " Worked out at six frequencies an octave; between them lines are straight."

// airLevels draws what is heard at 1 m on the axis.
func (p *Paper) airLevels(air *result.Air) template.HTML {
	d := drawing{name: "Level in the air", note: p.note(true), says: "The largest sine at the input, on the axis at 1 m: wanted, by the digital filters and by the board. " +
		"Of all ways together the dotted line is the most before something reaches its limit, by what is wanted." + p.apartSaid(air) + between6}
	add := func(name string, way int, lines []line) {
		top := most(lines)
		if math.IsInf(top, 0) {
			return
		}
		s := strip{kind: "air", name: name, way: way, unit: "dB", scale: 1, step: 12, lines: lines}
		s.high = 6 * math.Ceil(top/6+0.2)
		s.low = s.high - 54
		d.strips = append(d.strips, s)
	}
	for _, w := range p.airWaysOf(air) {
		add(w.Way, w.way, p.realised(func(made int) *own { return p.inAir(air, w.way, made, nil) }))
	}
	sum := p.realised(func(made int) *own {
		return p.togetherIn(air, made, func(x *result.AirTold) []float64 { return x.SumDB })
	})
	if o := p.togetherIn(air, wantedLine, func(x *result.AirTold) []float64 {
		if x.MaximumDB == nil { // nothing reaches a limit
			return x.SumDB
		}
		return x.MaximumDB
	}); o != nil && slices.ContainsFunc(air.Heard[0].Settings, func(x result.AirTold) bool { return x.MaximumDB != nil }) {
		sum = append(sum, line{made: wantedLine, class: "beside furthest", name: "at most", shown: true, own: []*own{o}})
	}
	add("sum", len(p.curves.ways), sum)
	if d.strips == nil {
		return ""
	}
	return p.draw(d)
}

// takes are what is drawn of what each way takes, with what it may.
var takes = []struct {
	head, says, unit string
	pick             func(*result.AirOfWay) []float64
	limit            func(*result.AirWay) float64
}{
	{"Excursion", "How far each cone moves to one side, peak, for the largest sine at the input; the corridor is what the driver may.", "mm",
		func(w *result.AirOfWay) []float64 { return w.ExcursionMM }, func(w *result.AirWay) float64 { return w.ExcursionMM }},
	{"Volts", "Volts RMS that each way's amplifier is asked for, for the largest sine at the input; the corridor is what it gives.", "V",
		func(w *result.AirOfWay) []float64 { return w.V }, func(w *result.AirWay) float64 { return w.AmplifierV }},
}

// taken draws what each way takes over frequency.
func (p *Paper) taken(air *result.Air) (out template.HTML) {
	for _, x := range takes {
		d := drawing{name: x.head, note: p.note(true), says: x.says + between6}
		for _, w := range p.airWaysOf(air) {
			lines := p.realised(func(made int) *own { return p.inAir(air, w.way, made, x.pick) })
			high := most(lines)
			if !(high > 0) { // a measured driver: nothing is known of its cone
				continue
			}
			s := strip{kind: "air", name: w.Way, way: w.way, unit: x.unit, scale: 1, lines: lines}
			if limit := x.limit(w.AirWay); limit > 0 {
				s.corridors, high = []corridor{{-1, limit}}, math.Max(high, limit)
			}
			s.high = high * 1.2
			s.low, s.step = -s.high*0.05, rounder(below(s.high/2))
			d.strips = append(d.strips, s)
		}
		if d.strips != nil {
			out += "<h3>" + template.HTML(x.head) + "</h3>" + p.draw(d)
		}
	}
	return out
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
