package page

import (
	"fmt"
	"html/template"
	"math"
	"slices"
	"strings"

	"bandwright/biquad"
	"bandwright/compiler"
	"bandwright/compiler/finished"
	"bandwright/compiler/sweep"
	"bandwright/compiler/verify"
	"bandwright/compiler/words"
)

// Units are finished units that were judged, and what became of them.
type Units struct {
	Desk    *finished.Desk
	Units   []finished.Unit
	Results []*finished.Result
	Notes   []string // on how they were measured
	// At is where they stand in what the page's figures are of: "specs[0]".
	At string

	batch *finished.Batch
}

// unitsPaper is what chapters on finished units are written on.
type unitsPaper struct {
	*Paper
	Units
}

// unitsChapter is a chapter of a page of finished units, as Chapter.
type unitsChapter struct {
	name, title string
	says        func(*unitsPaper) string
	body        func(*unitsPaper) template.HTML
}

// unitsChapters are all of them, in their order.
var unitsChapters = []unitsChapter{
	togetherChapter,
	diagnosisChapter,
	unitErrorChapter,
	limitsChapter,
	unitPhaseChapter,
	unitSumChapter,
	levelsOfUnitsChapter,
	checksChapter,
	deskChapter,
}

// OfUnits is the page of finished units: what became of them, each way measured over wanted, and what is likely
// wrong.
func OfUnits(u Units) ([]byte, error) {
	u.batch = finished.BatchOf(u.Results)
	p := &unitsPaper{newUnits(u), u}
	spec := u.Desk.Build().Spec
	v := pageView{Name: spec.Name, Title: spec.Title, Revision: spec.Revision, Kept: u.batch.Kept == u.batch.Units, Verdict: sentence(finished.Verdict(u.Results)),
		First: p.firstOfUnits(), Foot: "Every figure here stands in the answer of the same check with --format json too."}
	if v.Title == "" {
		v.Title = v.Name
	}
	v.Title += ", measured"
	if v.settings(p.Paper); len(v.Made) < 2 {
		v.Made = nil
	}
	v.MadeAs = "unit"
	for _, c := range unitsChapters {
		if says := c.says(p); says != "" {
			v.Chapters = append(v.Chapters, chapterView{c.name, c.title, says, c.body(p)})
		}
	}
	return v.render(p.Paper)
}

// newUnits are units as a Paper: each stands where a report has a realisation, in the settings that it was
// measured in alone.
func newUnits(u Units) *Paper {
	d := u.Desk
	b := &compiler.Build{}
	b.Spec = d.Build().Spec
	b.Promises = d.Build().Promises
	b.Promises.LowHz, b.Promises.HighHz, b.Promises.DownToDB = d.LowHz, d.HighHz, finished.DownToDB
	p := &Paper{Build: b, curves: &curves{ways: d.Names(), delayS: make([]float64, len(d.Ways))}, sides: [2]string{"wanted", "measured"}, worstHead: "worst",
		judgedOver: "All of it in the settings that were measured.", promised: func(q *verify.Quantity) float64 {
			if q == verify.Magnitude || q == verify.Sum {
				return d.Allowed()
			}
			return 0
		}}
	hz := append(biquad.Octaves(d.LowHz, d.HighHz, perOctave), d.LowHz, d.HighHz)
	for i, r := range u.Results {
		for k, f := range r.Figures {
			for _, x := range []*verify.Extreme{&f.Magnitude, &f.Phase, &f.GroupDelay} {
				if x.C, x.With = nil, nil; x.AtHz > d.LowHz && x.AtHz < d.HighHz {
					hz = append(hz, x.AtHz)
				}
			}
			p.Figures, p.places = append(p.Figures, f), append(p.places, fmt.Sprintf("%s.ways[%d]", u.at(i), k))
		}
		for k, f := range r.Findings {
			p.Findings, p.checks = append(p.Findings, f), append(p.checks, fmt.Sprintf("%s.checks[%d]", u.at(i), k))
		}
	}
	p.verdict = verify.VerdictOn(p.Findings)
	c := p.curves
	c.hz = biquad.Ascending(hz, 1e-9)
	grid := append(slices.Clone(c.hz), companions(c.hz)...)
	want := make([][]complex128, len(d.Ways))
	on := d.Wanted().On(grid)
	for way := range want {
		want[way] = make([]complex128, len(grid))
		on.Response(want[way], way, d.C)
		c.ideal = append(c.ideal, decomposed(nil, 0, func(biquad.Combination) [quantities][]float64 { return c.absolute(want[way]) }))
	}
	for i, r := range u.Results {
		of := d.Measured(u.Units[i], r)
		m := made{Realisation: of, short: r.Unit, toHz: math.Inf(1)}
		if m.short == "" {
			m.short = "measured"
		}
		on := of.On(grid)
		for way := range want {
			h := make([]complex128, len(grid))
			on.Response(h, way, d.C)
			m.ways = append(m.ways, decomposed(nil, 0, func(biquad.Combination) [quantities][]float64 { return c.departure(h, want[way], of.CommonDelayS()) }))
		}
		c.made = append(c.made, m)
	}
	return p
}

// spoken is a sentence of a diagnosis as a page has it.
func spoken(s string) string { return strings.ReplaceAll(capital(minus(s)), " -", " \u2212") }

// at is where a unit stands.
func (u *Units) at(i int) string { return fmt.Sprintf("%s.units[%d]", u.At, i) }

// firstOfUnits are the things to look at before all others.
func (p *unitsPaper) firstOfUnits() template.HTML {
	type thing struct{ Name, Text, To, See string }
	var out []thing
	add := func(name, text, to, see string) {
		out = append(out, thing{name, spoken(text) + ".", to, see})
	}
	if x, way, made, _, ok := p.worst(ofMagnitude, false); ok {
		text := fmt.Sprintf("%s, %s at %s", way, minus(words.DB.Signed(x.Value)), words.Hz(x.AtHz))
		if len(p.Results) > 1 {
			text = "unit " + p.curves.made[made].short + ", " + text
		}
		add("Worst way:", text, unitErrorChapter.name, unitErrorChapter.title)
	}
	if len(p.Results) == 1 {
		add("Diagnosis:", p.Results[0].Sentences[0], diagnosisChapter.name, diagnosisChapter.title)
		if t := p.Results[0].Trims; t != nil {
			add("Trim:", t[0].String(), diagnosisChapter.name, "All that was tried")
		}
		return markup(firstTemplate, out)
	}
	found := 0
	for _, r := range p.Results {
		if r.Found() {
			found++
		}
	}
	add("Diagnosis:", fmt.Sprintf("something is likely wrong with %s of %d units", words.Count(found, "unit", "units"), len(p.Results)), diagnosisChapter.name, diagnosisChapter.title)
	if text := p.batch.Nearest(p.Results); text != "" {
		x := p.batch.Pairs[0]
		add("Most alike:", fmt.Sprintf("%s and %s, %s apart", p.Results[x.A].Unit, p.Results[x.B].Unit, words.Error(x.ApartDB, "dB")), togetherChapter.name, togetherChapter.title)
	}
	return markup(firstTemplate, out)
}

// deskChapter is on how units were measured.
var deskChapter = unitsChapter{name: "desk", title: "How it was measured",
	says: func(p *unitsPaper) string { return p.Desk.Head(len(p.Results)) + "." },
	body: func(p *unitsPaper) template.HTML {
		type row struct {
			Unit         string
			Level, Delay template.HTML
		}
		var view struct {
			Fitted, Delayed bool
			Each            bool
			Rows            []row
			Notes           []string
			Caution         string
		}
		view.Fitted, view.Delayed = p.Desk.FitLevel, p.Desk.FitDelay && p.Desk.Phased
		view.Each = p.Desk.DelayEach
		for i, r := range p.Results {
			view.Rows = append(view.Rows, row{p.curves.made[i].short, figure(p.at(i)+".level_db", r.LevelDB, words.Level(r.LevelDB, "dB")),
				p.delays(i)})
		}
		view.Notes, view.Caution = p.Notes, sweep.Cautions
		return markup(deskTemplate, view)
	},
}

// delays are those that were taken out of a unit's measurement.
func (p *unitsPaper) delays(i int) template.HTML {
	var out []string
	for k, s := range p.Results[i].DelaysS {
		if k == 0 || p.Desk.DelayEach {
			out = append(out, string(figure(fmt.Sprintf("%s.delay_s[%d]", p.Units.at(i), k), s, words.Seconds(s))))
		}
	}
	return template.HTML(strings.Join(out, ", "))
}

var deskTemplate = parsed(`{{if .Notes}}<ul class="notes">
{{range .Notes}}<li>{{.}}</li>
{{end}}</ul>
{{end}}{{if .Fitted}}<div class="wide"><table><thead><tr><th>unit</th><th class="n">level taken out</th>{{if .Delayed}}<th class="n">delay taken out</th>{{end}}</tr></thead>
<tbody>{{$delayed := .Delayed}}{{range .Rows}}<tr><th scope="row">{{.Unit}}</th><td class="n">{{.Level}}</td>{{if $delayed}}<td class="n">{{.Delay}}</td>{{end}}</tr>
{{end}}</tbody></table></div>
<p class="small">Beside the nominal unit: level and delay of such a measurement mean nothing, and are one for all ways{{if .Each}}, but for the delay: each way has its own{{end}}.</p>
{{end}}<p>What is measured at the outputs says nothing of noise, DC and distortion, of parts that do nothing in the measured settings, and of what lies within the tolerances of the others.</p>
<p>{{.Caution}}</p>
`)
