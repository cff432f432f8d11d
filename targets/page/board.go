package page

import (
	"encoding/base64"
	"fmt"
	"html/template"
	"math"
	"strings"

	"bandwright/compiler/board"
	"bandwright/compiler/netlist"
	"bandwright/compiler/verify"
	"bandwright/compiler/words"
)

var boardMeasures = []struct {
	measure
	head string
}{
	{measure{verify.NoiseV, "noise_v", words.Volt, func(f *verify.Figures) verify.Extreme { return f.NoiseV }}, "noise"},
	{measure{verify.NoiseAV, "noise_a_v", words.Volt, func(f *verify.Figures) verify.Extreme { return f.NoiseAV }}, "A-weighted"},
	{measure{verify.Offset, "offset_v", words.Volt, func(f *verify.Figures) verify.Extreme { return f.OffsetV }}, "DC"},
	{measure{verify.Clip, "clip_v", words.Volt, func(f *verify.Figures) verify.Extreme { return f.ClipV }}, "clips from"},
}

var boardChapter = Chapter{Name: "board", Title: "The board",
	Says: func(p *Paper) string {
		if p.Board == nil {
			return ""
		}
		amps := 0
		for _, x := range p.Board.Packages {
			amps += len(x.Units)
		}
		noise, dc := 0.0, 0.0
		for _, f := range verify.Of(p.Figures, board.RealisationName) {
			noise, dc = math.Max(noise, f.NoiseV.Value), math.Max(dc, math.Abs(f.OffsetV.Value))
		}
		return fmt.Sprintf("%s in %s; at the outputs at most %s of noise and %s of DC.", capital(words.Count(amps, "op-amp", "op-amps")),
			words.Count(len(p.Board.Packages), "package", "packages"), minus(words.Volt.Measured(noise)), minus(words.Volt.Measured(dc)))
	},
	Body: func(p *Paper) template.HTML { return p.outputs() + p.schematic() + p.stages() },
}

// outputs is what each way's output has beside the signal.
func (p *Paper) outputs() template.HTML {
	type row struct {
		Way   string
		Cells []template.HTML
	}
	var view struct {
		Heads []string
		Rows  []row
	}
	for _, m := range boardMeasures {
		view.Heads = append(view.Heads, m.head)
	}
	for _, way := range p.curves.ways {
		i := p.found(board.RealisationName, way)
		if i < 0 {
			continue
		}
		r := row{Way: way}
		for _, m := range boardMeasures {
			x := m.pick(&p.Figures[i])
			if !x.Known {
				r.Cells = append(r.Cells, "\u2013")
				continue
			}
			r.Cells = append(r.Cells, figure(fmt.Sprintf("figures[%d].%s.value", i, m.field), m.unit.Floored(x.Value), m.unit.Measured(x.Value)))
		}
		view.Rows = append(view.Rows, r)
	}
	return markup(outputsTemplate, view)
}

var outputsTemplate = parsed(`<div class="wide"><table><thead><tr><th>output</th>{{range .Heads}}<th class="n">{{.}}</th>{{end}}</tr></thead>
<tbody>{{range .Rows}}<tr><th scope="row">{{.Way}}</th>{{range .Cells}}<td class="n">{{.}}</td>{{end}}</tr>
{{end}}</tbody></table></div>
<p class="small">Noise is RMS from 20 Hz to 20 kHz, DC with every offset and bias current at its worst sign, and clipping is asked for as RMS of a sine at the input, at its worst frequency.</p>
`)

// schematic is every sheet as a picture of its own.
func (p *Paper) schematic() template.HTML {
	sheets, err := p.sheets()
	if err != nil { // a sheet that cannot be drawn is an error of the target that draws it
		return ""
	}
	type sheet struct {
		Title string
		Image template.URL
	}
	var view []sheet
	for _, s := range sheets {
		view = append(view, sheet{s.Title, template.URL("data:image/svg+xml;base64," + base64.StdEncoding.EncodeToString(s.SVG))})
	}
	return markup(schematicTemplate, view)
}

var schematicTemplate = parsed(`<div class="sheets"><h3>Schematic</h3>
{{range .}}<figure><img class="sheet" loading="lazy" decoding="async" src="{{.Image}}" alt="Schematic: {{.Title}}; the stages below are its parts in words"><figcaption>{{.Title}}</figcaption></figure>
{{end}}</div>
`)

// stages lists what every chain is built from.
func (p *Paper) stages() template.HTML {
	type row struct{ Chain, Number, For, Topology, Parts string }
	var rows []row
	for _, c := range p.Board.Chains() {
		name := p.Board.NameOf(c)
		for _, s := range c.Stages() {
			if s.Body != nil && s.Body != s {
				continue
			}
			var parts []string
			for _, x := range s.Placed() {
				switch x.Kind {
				case netlist.Capacitor:
					parts = append(parts, x.Ref+" "+words.Stock(x.Value, "F"))
				case netlist.Resistor:
					parts = append(parts, x.Ref+" "+words.Stock(x.Value, "ohm"))
				default:
					parts = append(parts, x.Ref)
				}
			}
			r := row{name, fmt.Sprint(s.Number), s.From, s.Topology.Name, strings.Join(parts, ", ")}
			if r.For == "" {
				r.For = s.Role.String()
			}
			rows = append(rows, r)
			name = ""
		}
	}
	return markup(stagesTemplate, rows)
}

var stagesTemplate = parsed(`<h3>Stages</h3>
<div class="wide"><table class="tail stages"><thead><tr><th>chain</th><th class="n">no.</th><th>realises</th><th>topology</th><th>parts</th></tr></thead>
<tbody>{{range .}}<tr>{{if .Chain}}<th scope="row">{{.Chain}}</th>{{else}}<td></td>{{end}}<td class="n">{{.Number}}</td><td>{{.For}}</td><td>{{.Topology}}</td><td class="small">{{.Parts}}</td></tr>
{{end}}</tbody></table></div>
`)
