package page

import (
	"fmt"
	"html/template"
	"math"
	"slices"

	"bandwright/biquad"
	"bandwright/compiler/compare"
	"bandwright/compiler/result"
	"bandwright/compiler/words"
)

// since is what became of an accepted result in a build.
type since struct {
	old, new *result.Accepted
	is       *compare.Comparison
	same     []string // realisations of which no response moved
}

// beforeLine is the first of what was accepted among the lines of a strip; the others are below it.
const beforeLine = wantedLine - 1

// before is a realisation of an accepted result, beside the one that came in its place.
type before struct {
	of       int    // the realisation that is there now
	was, now string // their names
	// moved are level and phase of each way now over what they were; without a Base of a way that is new.
	moved [][quantities]series
	base  [][quantities][]float64 // what it was, as a departure from the prototype, in the default settings
}

// was is the line of what was accepted in the place of a realisation.
func (p *Paper) was(made int) int {
	return beforeLine - slices.IndexFunc(p.curves.before, func(b before) bool { return b.of == made })
}

// compared evaluates the paper's curves, and those of the accepted result that its build was given.
func (p *Paper) compared() error {
	if p.Before == nil {
		p.curves = curvesOf(p.Build, nil)
		return nil
	}
	old, err := result.ReadAccepted(p.Before)
	if err != nil {
		return fmt.Errorf("the accepted result: %w", err)
	}
	p.since = &since{old: old, new: result.Accept(p.Build)}
	p.since.is = compare.Results(old, p.since.new)
	var at []float64
	for _, x := range p.since.is.Changes {
		at = append(at, x.AtHz)
	}
	p.curves = curvesOf(p.Build, at)
	return p.replaced()
}

// replaced finds what stood in the place of the digital realisation and of the board: the same, else the one of a
// comparison.
func (p *Paper) replaced() error {
	old := p.since.old
	here := func(name string) int {
		return slices.IndexFunc(p.curves.made, func(m made) bool { return !m.board && (name == "" || m.Name() == name) })
	}
	digital, was, wasBoard := here(""), realisedBy(old), boardOf(old)
	for i := range old.Digital {
		x := digitalOf(old, &old.Digital[i])
		if of := here(x.name); of >= 0 {
			digital, was = of, x
			break
		}
	}
	ofBoard := slices.IndexFunc(p.curves.made, func(m made) bool { return m.board })
	if digital >= 0 && was != nil && (len(old.Digital) > 0 || ofBoard < 0) {
		if err := p.replace(was, digital); err != nil {
			return err
		}
	}
	switch {
	case ofBoard < 0:
	case wasBoard == nil && was != nil && digital < 0:
		return p.replace(was, ofBoard)
	case wasBoard != nil && old.Board.SameCircuit(p.since.new.Board):
		p.since.same = append(p.since.same, wasBoard.name)
	case wasBoard != nil:
		return p.replace(wasBoard, ofBoard)
	}
	return nil
}

// replace works out what a realisation moved against what was there before it.
func (p *Paper) replace(was *realised, of int) error {
	m := &p.curves.made[of]
	out := before{of: of, was: was.name, now: m.Name(), moved: make([][quantities]series, len(p.curves.ways)), base: make([][quantities][]float64, len(p.curves.ways))}
	sets := p.sets(was, p.axesOf(m))
	upTo, _ := slices.BinarySearch(p.curves.hz, math.Min(was.toHz, m.toHz))
	short := &curves{hz: p.curves.hz[:upTo]}
	responses := map[string][][]complex128{}
	var failed error
	eachOf(sets, len(p.Settings), func(_ int, x biquad.Combination) {
		if responses[string(x)] == nil && failed == nil {
			responses[string(x)], failed = was.over(was.chosen(p.Settings, x), short.hz)
		}
	})
	if failed != nil {
		return failed
	}
	moved := false
	for way, name := range p.curves.ways {
		at := slices.Index(was.ways, name)
		if at < 0 {
			continue
		}
		out.moved[way] = decomposed(sets, len(p.Settings), func(x biquad.Combination) (all [quantities][]float64) {
			had := short.absolute(responses[string(x)][at])
			for q := range all {
				want, got := p.curves.ideal[way][q].at(x), m.ways[way][q].at(x)
				all[q] = slices.Repeat([]float64{math.NaN()}, len(p.curves.hz))
				for i := range had[q] {
					all[q][i] = want[i] + got[i] - had[q][i]
					if q == phaseQ {
						all[q][i] = wrapped(all[q][i])
					}
				}
			}
			return all
		})
		out.moved[way][delayQ] = series{} // not drawn
		for _, q := range []int{magnitudeQ, phaseQ} {
			s := out.moved[way][q]
			out.base[way][q] = slices.Clone(m.ways[way][q].Base)
			for i, x := range s.Base {
				out.base[way][q][i] -= x
				moved = moved || s.reach(i) > stillBelow[q]
			}
		}
	}
	if !moved {
		p.since.same = append(p.since.same, out.now)
		return nil
	}
	p.curves.before = append(p.curves.before, out)
	return nil
}

// stillBelow is what two evaluations of one response may differ by and nobody draws (dB, degrees).
var stillBelow = [quantities]float64{magnitudeQ: 1e-4, phaseQ: 1e-3}

// axesOf are the settings that a realisation of the build hangs on.
func (p *Paper) axesOf(m *made) *realised {
	out := &realised{}
	for _, w := range m.ways {
		for _, a := range w[magnitudeQ].By {
			var names []string
			for _, x := range a.Axes {
				names = append(names, p.Settings[x.Setting].Name)
			}
			out.sets = append(out.sets, names)
		}
	}
	return out
}

// except is what of a page's figures is not in the index of its build.
func (p *Paper) except() string {
	if p.since == nil {
		return ""
	}
	return fmt.Sprintf(", but for what was accepted before and stands in %s.accepted.json,", p.Spec.Name)
}

var changesChapter = Chapter{Name: "changes", Title: "What changed",
	Says: func(p *Paper) string {
		if p.since == nil {
			return "No accepted result was given to compare with."
		}
		what := "what was accepted"
		if r := p.since.old.Revision; r != "" {
			what = "revision " + r + " was accepted"
		}
		c := p.since.is
		if len(c.Changes) == 0 {
			return "Nothing changed since " + what + "."
		}
		review := 0
		for _, x := range c.Changes {
			if x.Beyond {
				review++
			}
		}
		said := capital(words.Count(len(c.Changes), "thing", "things")) + " changed since " + what
		switch {
		case review > 0:
			said += fmt.Sprintf(", %d to review", review)
		case c.Regression:
			said += ", which together are to review"
		}
		return said + "; the worst first: " + c.Changes[0].Sentence + "."
	},
	Body: func(p *Paper) template.HTML {
		if p.since == nil {
			return unanswered
		}
		out := template.HTML("")
		if len(p.since.is.Changes) > 0 {
			out = markup(changesTemplate, p.since.is)
		}
		for k, b := range p.curves.before {
			out += p.changed(beforeLine-k, b)
		}
		for _, name := range p.since.same {
			out += template.HTML(fmt.Sprintf("<p>No response of the %s moved.</p>\n", template.HTMLEscapeString(name)))
		}
		if len(p.since.is.Changes) > 0 {
			out += "<h3>Promises, before and after</h3><p>" + template.HTML(template.HTMLEscapeString(promisesSaid(p.since.old, p.since.new))) + "</p>" + promisesBetween(p.since.old, p.since.new)
		}
		return out
	},
}

// unanswered says how to have an accepted result.
const unanswered = template.HTML(`<p>Accept what there is with <code>bandwright check SPEC --against accepted --accept</code>; ` +
	`<code>bandwright compile SPEC -o DIR --against accepted</code> then tells here what changed since, before and after.</p>
`)

// changed draws what became of one realisation.
func (p *Paper) changed(line int, b before) template.HTML {
	x := pair{before: line, after: b.of, moved: movedKind, turned: turnedKind, sumMoved: sumMovedKind, limits: p.since.is.Tolerances,
		series: func(way int) [quantities]series { return b.moved[way] }}
	for way := range p.curves.ways {
		if b.moved[way][magnitudeQ].Base != nil {
			x.ways = append(x.ways, way)
		}
	}
	head := capital(b.now)
	if b.was != b.now {
		head = fmt.Sprintf("%s in the place of %s", capital(b.now), b.was)
	}
	was, now, turned := p.beforeAndAfter(x)
	of := func(d drawing, more string) template.HTML {
		d.name = head + ", " + more
		return "<h3>" + template.HTML(template.HTMLEscapeString(d.name)) + "</h3>" + p.draw(d)
	}
	out := of(was, "before and after") + of(now, "by how much")
	if len(p.curves.ways) > 1 {
		out += of(turned, "by how much phases turned")
	}
	return out
}

// pair are two lines of which one came in the place of the other.
type pair struct {
	before, after           int
	moved, turned, sumMoved string // kinds of strips
	ways                    []int  // that both have
	limits                  compare.Tolerances
	series                  func(way int) [quantities]series // after less before
}

// beforeAndAfter are the drawings of a pair: both, by how much levels moved, and by how much phases turned. The
// sum is there where both have every way of it.
func (p *Paper) beforeAndAfter(x pair) (was, now, turned drawing) {
	was = drawing{name: "Before and after", says: "The pale band is before, the other line after."}
	now = drawing{name: "The change", says: "After over before, as far down as ways are judged. The corridor is what the spec lets pass as no regression."}
	turned = drawing{name: "The change of phase", says: "After less before, in degrees, where a neighbouring way is within 20 dB."}
	for _, way := range x.ways {
		was.strips = append(was.strips, p.both(x, levelKind, way, 66))
		now.strips = append(now.strips, p.moved(x, x.moved, way))
		turned.strips = append(turned.strips, p.moved(x, x.turned, way))
	}
	if n := len(p.curves.ways); n > 1 && len(x.ways) == n {
		was.strips = append(was.strips, p.both(x, sumKind, n, 36))
		now.strips = append(now.strips, p.moved(x, x.sumMoved, n))
	}
	return was, now, turned
}

// both is a strip of what was and what is.
func (p *Paper) both(x pair, kind string, way int, belowDB float64) strip {
	s := p.levels(kind, way, belowDB)
	s.lines = []line{{made: x.before, class: "wanted", name: "before", as: "before", y: p.values(kind, way, x.before), shown: true},
		{made: x.after, class: p.classOf(x.after), name: "after", as: "after", y: p.values(kind, way, x.after), shown: true}}
	top := math.Inf(-1)
	for _, l := range s.lines {
		for i, v := range l.y {
			if f := p.curves.hz[i]; f >= p.Promises.LowHz && f <= p.Promises.HighHz && v > top {
				top = v
			}
		}
	}
	if high := 3 * math.Ceil(top/3+0.3); high > s.high {
		s.low, s.high = s.low+high-s.high, high
	}
	return s
}

// classOf is how a realisation is drawn.
func (p *Paper) classOf(made int) string {
	if p.curves.made[made].board {
		return "board"
	}
	return "digital"
}

// moved is a strip of what became of a way, with what is no regression as its corridor.
func (p *Paper) moved(x pair, kind string, way int) strip {
	s := strip{kind: kind, name: p.nameOf(way), way: way, unit: "dB", scale: 1}
	q, limit := magnitudeQ, x.limits.MagnitudeDB
	if kind == x.turned {
		q, limit, s.unit = phaseQ, x.limits.PhaseDeg, "deg"
	}
	s.lines = []line{{made: x.after, class: p.classOf(x.after), name: "moved", as: "moved by", y: p.values(kind, way, x.after), shown: true}}
	most := limit
	for i, v := range s.lines[0].y {
		switch {
		case math.IsNaN(v):
		case way < len(p.curves.ways):
			most = math.Max(most, x.series(way)[q].reach(i))
		default:
			most = math.Max(most, math.Abs(v))
		}
	}
	if limit > 0 {
		s.corridors = []corridor{{-1, limit}}
	}
	if most == 0 {
		most = 1
	}
	s.high = math.Min(most, 60*math.Max(1, limit)) * 1.2
	s.low, s.step = -s.high, below(s.high)
	return s
}

// reach is how far a value comes from 0 in any settings, or a little more.
func (s series) reach(i int) float64 {
	v := math.Abs(s.Base[i])
	for _, a := range s.By {
		add := 0.0
		for _, x := range a.Alt {
			if x != nil && !math.IsNaN(x[i]) {
				add = math.Max(add, math.Abs(x[i]))
			}
		}
		v += add
	}
	return v
}
