package page

import (
	"cmp"
	"fmt"
	"html/template"
	"maps"
	"math"
	"slices"
	"strings"

	"bandwright/biquad"
	"bandwright/compiler"
	"bandwright/compiler/board"
	"bandwright/compiler/compare"
	"bandwright/compiler/result"
	"bandwright/compiler/verify"
	"bandwright/compiler/words"
)

// Between is a page of what became of one result in another, for a reviewer who does not read specs: c's
// sentences, then each way before and after on one axis, and by how much it moved. Of results without a way in
// common there are the sentences alone. It fails where a board's circuit has no solution.
func Between(old, new *result.Accepted, c *compare.Comparison) ([]byte, error) {
	v := pageView{Name: c.Name, Title: c.Name + ", before and after", Revision: new.Revision, Kept: !c.Regression, Verdict: sentenceOf(c.Verdict()),
		Foot: "Compared are the words and parts of both results; what cannot be told from them is not in here."}
	sentences := markup(changesTemplate, c)
	v.Chapters = append(v.Chapters, chapterView{"changes", "What changed", said(c), sentences})
	p, err := newBetween(old, new, c)
	if err != nil {
		return nil, err
	}
	if p != nil {
		v.settings(p)
		x := pair{before: wantedLine, moved: errorKind, turned: phaseErrorKind, sumMoved: sumErrorKind, limits: c.Tolerances,
			series: func(way int) [quantities]series { return p.curves.made[0].ways[way] }}
		for way := range p.curves.ways {
			x.ways = append(x.ways, way)
		}
		was, now, turned := p.beforeAndAfter(x)
		v.Chapters = append(v.Chapters, chapterView{"ways", "Each way, before and after", p.about, p.draw(was)},
			chapterView{"moved", "By how much", fmt.Sprintf("A regression begins at %s.", c.Tolerances), p.draw(now)})
		if len(x.ways) > 1 {
			v.Chapters = append(v.Chapters, chapterView{"turned", "By how much phases turned", "What matters to the sum is where ways meet.", p.draw(turned)})
		}
	}
	v.Chapters = append(v.Chapters, chapterView{"promises", "Promises, before and after", promisesSaid(old, new), promisesBetween(old, new)})
	return v.render(p)
}

// sentenceOf is a comparison's verdict as a page says it.
func sentenceOf(s string) string {
	_, s, _ = strings.Cut(s, ": ")
	return capital(strings.ToLower(s[:1])+strings.Replace(s[1:], "EGRESSION", "egression", 1)) + "."
}

// said is what changed in one line.
func said(c *compare.Comparison) string {
	if len(c.Changes) == 0 {
		return "Nothing changed."
	}
	return capital(c.Changes[0].Sentence) + "."
}

var changesTemplate = parsed(`<ul class="notes marked">
{{range .Changes}}<li><span class="mark" aria-hidden="true">{{if .Beyond}}●{{else}}○{{end}}</span> {{.Sentence}}{{if .Beyond}} <strong class="broken">to review</strong>{{end}}</li>
{{end}}</ul>
{{range .Totals}}<p>In all: {{.}}.</p>
{{end}}{{with .MadeBy}}<p class="small">{{.}}</p>
{{end}}<p class="small">A filled mark is a change beyond the tolerances of the spec, or something that is gone.</p>
`)

// realised is one side of a comparison: a realisation of an accepted result.
type realised struct {
	name     string
	ways     []string
	toHz     float64
	settings []result.Setting
	sets     [][]string // of settings that positions hang on, by name
	// responses are [way][frequency] with choices by name, the common delay taken out.
	responses func(choices map[string]string, hz []float64) ([][]complex128, error)
}

// realisedBy is the first digital realisation that rounds, else any, else the board; nil of a result without one.
func realisedBy(a *result.Accepted) *realised {
	d := slices.IndexFunc(a.Digital, func(d result.AcceptedDigital) bool { return d.Format != result.Reference })
	if d < 0 && len(a.Digital) > 0 {
		d = 0
	}
	if d >= 0 {
		return digitalOf(a, &a.Digital[d])
	}
	return boardOf(a)
}

// on adds the settings that something hangs on.
func (r *realised) on(when map[string][]string) {
	if len(when) > 0 {
		r.sets = append(r.sets, slices.Sorted(maps.Keys(when)))
	}
}

// digitalOf is a digital realisation.
func digitalOf(a *result.Accepted, x *result.AcceptedDigital) *realised {
	out := &realised{settings: a.Settings, name: compiler.RealisationName(x.RateHz, x.Format), toHz: x.RateHz / 2 / (1 + 2*stepUp)}
	for _, c := range append([]result.AcceptedChain{x.Common}, x.Ways...) {
		for _, s := range c.Coefficients {
			out.on(s.When)
		}
	}
	for _, w := range x.Ways {
		out.ways = append(out.ways, w.Way)
	}
	out.responses = func(choices map[string]string, hz []float64) (h [][]complex128, err error) {
		for k := range x.Ways {
			h = append(h, x.Response(k, choices, hz))
		}
		return h, nil
	}
	return out
}

// boardOf is a board; nil where there is none of which the circuit is known.
func boardOf(a *result.Accepted) *realised {
	if a.Board == nil || !a.Board.Wired() {
		return nil
	}
	out := &realised{settings: a.Settings, name: board.RealisationName, toHz: math.Inf(1)}
	for _, o := range a.Board.Outputs {
		out.ways = append(out.ways, o.Way)
	}
	if a.Board.Contacts != nil {
		for _, c := range a.Board.Contacts.List {
			for _, when := range c.Closed {
				out.on(when)
			}
		}
	}
	out.responses = func(choices map[string]string, hz []float64) ([][]complex128, error) {
		h, err := a.Board.Responses([]map[string]string{choices}, hz)
		if err != nil {
			return nil, err
		}
		return h[0], nil
	}
	return out
}

// over are the responses of a side's ways at frequencies, then at their companions: a circuit is swept over
// rising frequencies, these apart.
func (r *realised) over(choices map[string]string, hz []float64) ([][]complex128, error) {
	a, err := r.responses(choices, hz)
	if err != nil {
		return nil, err
	}
	b, err := r.responses(choices, companions(hz))
	if err != nil {
		return nil, err
	}
	for k := range a {
		a[k] = append(slices.Clone(a[k]), b[k]...)
	}
	return a, nil
}

// chosen are the choices of a side by name: those of the page where the side has them, else its default.
func (r *realised) chosen(settings []verify.Setting, c biquad.Combination) map[string]string {
	out := map[string]string{}
	for _, s := range r.settings {
		out[s.Name] = s.Choices[0]
		for i, o := range settings {
			if o.Name == s.Name && slices.Contains(s.Choices, o.Choices[c[i]]) {
				out[s.Name] = o.Choices[c[i]]
			}
		}
	}
	return out
}

// newBetween is a comparison as a Paper: the old result stands where a report has the prototype, the new one where it has
// a realisation.
func newBetween(old, new *result.Accepted, c *compare.Comparison) (*Paper, error) {
	was, now := realisedBy(old), realisedBy(new)
	if was == nil || now == nil {
		return nil, nil
	}
	p := &Paper{Build: &compiler.Build{}, curves: &curves{}}
	p.Promises.LowHz, p.Promises.HighHz, p.Promises.DownToDB = 20, 20e3, -60
	p.about = fmt.Sprintf("Drawn is %s.", now.name)
	if was.name != now.name {
		p.about = fmt.Sprintf("Drawn are %s before and %s after: what one is less the other.", was.name, now.name)
	}
	for _, s := range new.Settings {
		p.Settings = append(p.Settings, verify.Setting{Name: s.Name, Choices: s.Choices})
	}
	var places [][2]int
	for k, w := range now.ways {
		if i := slices.Index(was.ways, w); i >= 0 {
			places = append(places, [2]int{i, k})
			p.curves.ways, p.curves.delayS = append(p.curves.ways, w), append(p.curves.delayS, 0)
		}
	}
	if len(places) == 0 {
		return nil, nil
	}
	sets := p.sets(was, now)
	hz := biquad.Octaves(10, 40e3, perOctave)
	for _, x := range c.Changes {
		if x.AtHz > 10 && x.AtHz < 40e3 {
			hz = append(hz, x.AtHz)
		}
	}
	p.curves.hz = slices.DeleteFunc(biquad.Ascending(hz, 1e-9), func(f float64) bool { return f > math.Min(was.toHz, now.toHz) })
	before, after := map[string][][]complex128{}, map[string][][]complex128{}
	var failed error
	eachOf(sets, len(p.Settings), func(_ int, x biquad.Combination) {
		for _, side := range []struct {
			*realised
			to map[string][][]complex128
		}{{was, before}, {now, after}} {
			if side.to[string(x)] != nil || failed != nil {
				continue
			}
			var err error
			side.to[string(x)], err = side.over(side.chosen(p.Settings, x), p.curves.hz)
			failed = cmp.Or(failed, err)
		}
	})
	if failed != nil {
		return nil, failed
	}
	m := made{Realisation: named(now.name), short: strings.TrimPrefix(now.name, "digital "), toHz: math.Inf(1)}
	for _, at := range places {
		p.curves.ideal = append(p.curves.ideal, decomposed(sets, len(p.Settings), func(x biquad.Combination) [quantities][]float64 {
			return p.curves.absolute(before[string(x)][at[0]])
		}))
		m.ways = append(m.ways, decomposed(sets, len(p.Settings), func(x biquad.Combination) [quantities][]float64 {
			return p.curves.departure(after[string(x)][at[1]], before[string(x)][at[0]], 0)
		}))
	}
	p.curves.made = []made{m}
	return p, nil
}

// sets are the sets of settings that either side hangs on: all of them together where there are few combinations.
func (p *Paper) sets(sides ...*realised) [][]biquad.Axis {
	axis := func(name string) (biquad.Axis, bool) {
		i := slices.IndexFunc(p.Settings, func(s verify.Setting) bool { return s.Name == name })
		if i < 0 {
			return biquad.Axis{}, false
		}
		return biquad.Axis{Setting: i, Choices: len(p.Settings[i].Choices)}, true
	}
	var sets [][]biquad.Axis
	var all []biquad.Axis
	for _, r := range sides {
		for _, names := range r.sets {
			var set []biquad.Axis
			for _, name := range names {
				if a, ok := axis(name); ok {
					set = append(set, a)
					if !slices.Contains(all, a) {
						all = append(all, a)
					}
				}
			}
			sets = append(sets, set)
		}
	}
	if biquad.Count(all) <= mostWhole {
		return closed([][]biquad.Axis{all})
	}
	return closed(sets)
}

// named is a realisation of which nothing but its name is known.
type named string

func (n named) Name() string                    { return string(n) }
func (n named) On([]float64) verify.Responder   { return nil }
func (n named) Near([]float64) verify.Responder { return nil }
func (n named) Landmarks(int) []verify.Landmark { return nil }
func (n named) CommonDelayS() float64           { return 0 }

// promisesSaid counts the promises that are broken now and were kept.
func promisesSaid(old, new *result.Accepted) string {
	count := func(a *result.Accepted) (n int) {
		for _, f := range a.Findings {
			if !f.Kept {
				n++
			}
		}
		return n
	}
	was, now := count(old), count(new)
	if was == 0 && now == 0 {
		return "All are kept, before and after."
	}
	return fmt.Sprintf("Of %s %d broke before, %d do after.", words.Count(len(new.Findings), "check", "checks"), was, now)
}

// promisesBetween lists each promise's worst check of every realisation that both have, before and after.
func promisesBetween(old, new *result.Accepted) template.HTML {
	type row struct {
		Promise, Way, Realisation, Was, Now string
		Broken                              bool
	}
	var rows []row
	say := func(f result.AcceptedFinding) string {
		text := minus(words.Short(f.Worst)) + " " + f.Unit
		if !f.Kept {
			text += ", broken"
		}
		return text
	}
	for _, f := range new.Findings {
		r := row{Promise: f.Promise, Way: f.Way, Realisation: f.Realisation, Was: "\u2013", Now: say(f), Broken: !f.Kept}
		if i := slices.IndexFunc(old.Findings, func(o result.AcceptedFinding) bool {
			return o.Promise == f.Promise && o.Way == f.Way && o.Realisation == f.Realisation
		}); i >= 0 {
			if r.Was = say(old.Findings[i]); r.Was == r.Now && f.Kept {
				continue
			}
		}
		rows = append(rows, r)
	}
	return markup(promisesBetweenTemplate, rows)
}

var promisesBetweenTemplate = parsed(`{{if .}}<div class="wide"><table><thead><tr><th>promise</th><th>way</th><th>realisation</th><th class="n">before</th><th class="n">after</th></tr></thead>
<tbody>{{range .}}<tr><th scope="row">{{.Promise}}</th><td>{{.Way}}</td><td>{{.Realisation}}</td><td class="n">{{.Was}}</td><td class="n{{if .Broken}} broken{{end}}">{{.Now}}</td></tr>
{{end}}</tbody></table></div>
<p class="small">Checks that came to the same are left out.</p>
{{else}}<p>Every check came to the same.</p>
{{end}}`)
