package page

import (
	"fmt"
	"html/template"
	"math"
	"slices"

	"bandwright/biquad"
	"bandwright/compiler/finished"
	"bandwright/compiler/verify"
	"bandwright/compiler/words"
)

// measuredAs names the lines of strips of units: what was wanted, and what became of it.
func measuredAs(s strip) strip {
	for i := range s.lines {
		if s.lines[i].name = "unit"; s.lines[i].made == wantedLine {
			s.lines[i].name = "wanted"
		}
	}
	return s
}

// worstSaid says what the worst of a measure is, in which unit and where.
func (p *unitsPaper) worstSaid(head string, m measure, sum bool) string {
	x, way, made, _, ok := p.worst(m, sum)
	if !ok {
		return ""
	}
	text := fmt.Sprintf("%s %s", head, minus(m.unit.Measured(math.Abs(x.Value))))
	if !sum {
		text += ": " + way
	}
	text += " at " + words.Hz(x.AtHz)
	if len(p.Results) > 1 {
		text += ", unit " + p.curves.made[made].short
	}
	return text + "."
}

var unitErrorChapter = unitsChapter{name: "error", title: "How far each way is off",
	says: func(p *unitsPaper) string { return p.worstSaid("No way is further off than", ofMagnitude, false) },
	body: func(p *unitsPaper) template.HTML {
		d := drawing{name: "Measured over wanted", says: "Each way, measured over wanted, where it is within 20 dB of its peak. The shaded corridor is what is promised as-built; a ring marks the worst point, filled " +
			"where it lies outside. Each drawing has a scale of its own."}
		for way := range p.curves.ways {
			d.strips = append(d.strips, measuredAs(p.departures(errorKind, way, ofMagnitude, 1, "dB")))
		}
		return p.draw(d) + p.table(ofMagnitude, p.curves.ways) + p.eachUnit()
	},
}

// eachUnit draws all units in one figure, the worst of them named.
func (p *unitsPaper) eachUnit() template.HTML {
	if len(p.Results) < 2 {
		return ""
	}
	d := drawing{name: "All units", still: true, says: "All units, measured over wanted; the one that is furthest off is drawn strong. The corridor is what is promised as-built."}
	allowed := p.promised(verify.Magnitude)
	for way := range p.curves.ways {
		s := strip{kind: errorKind, name: p.nameOf(way), way: way, unit: "dB", scale: 1, high: allowed}
		if allowed > 0 {
			s.corridors = []corridor{{-1, allowed}}
		}
		worst, far := -1, 0.0
		for made := range p.curves.made {
			x, _ := p.worstOf(ofMagnitude, made, s.name)
			if x.Known && math.Abs(x.Value) > far {
				worst, far = made, math.Abs(x.Value)
			}
		}
		for made := range p.curves.made {
			if made != worst {
				s.lines = append(s.lines, line{made: made, class: "unit", y: p.values(errorKind, way, made), shown: true})
			}
		}
		if worst >= 0 {
			s.lines = append(s.lines, line{made: worst, class: "digital", name: template.HTMLEscapeString(p.curves.made[worst].short), y: p.values(errorKind, way, worst), shown: true})
		}
		s.high = 1.25 * math.Max(s.high, math.Max(far, 0.01))
		s.low, s.step = -s.high, below(s.high)
		d.strips = append(d.strips, s)
	}
	return "<h3>All units</h3>" + p.draw(d)
}

var limitsChapter = unitsChapter{name: "limits", title: "The limits of the board's test",
	says: func(p *unitsPaper) string {
		if p.Desk.Limits() == nil {
			return ""
		}
		broken := map[string]bool{}
		for _, f := range p.Findings {
			if f.Promise == finished.LimitsName && !f.Kept {
				broken[f.Realisation] = true
			}
		}
		switch {
		case len(broken) == 0 && len(p.Results) == 1:
			return "Every way is inside of them."
		case len(broken) == 0:
			return "Every unit is inside of them."
		case len(p.Results) == 1:
			return "The unit is outside of them."
		}
		return fmt.Sprintf("%d of %d units are outside of them.", len(broken), len(p.Results))
	},
	body: func(p *unitsPaper) template.HTML {
		var out template.HTML
		for made := range p.curves.made {
			out += p.limitsOf(made)
		}
		if out == "" {
			return "<p>The test of finished boards has none in these settings.</p>"
		}
		return out
	},
}

// limitsOf draws a unit within the limits of the board's test.
func (p *unitsPaper) limitsOf(made int) template.HTML {
	d := drawing{name: "Limits of the test", still: true, mades: fmt.Sprint(made), hidden: !p.shown(made), says: "Measured over the nominal board, at the frequencies of the test of finished boards: the pale band is between its limits, those of " +
		p.Build.Spec.Name + "_limits.csv, within which good boards lie; a ring marks where a way comes nearest to them, or lies furthest beyond, and is filled where that is outside: " +
		words.DB.Limit(finished.BesideDB) + " beyond are the bench's own."}
	at := p.Desk.Measured(p.Units.Units[made], p.Results[made])
	for way, points := range p.Desk.Limits() {
		if points == nil {
			continue
		}
		s := strip{kind: "limits", name: p.nameOf(way), way: way, unit: "dB", scale: 1}
		var hz []float64
		for _, x := range points {
			hz = append(hz, x.Hz)
		}
		h := make([]complex128, len(hz))
		at.On(hz).Response(h, way, p.Desk.C)
		l := line{made: made, class: "digital", name: "unit", hz: hz, shown: true}
		tightest, wide, far := math.Inf(1), 0.0, 0.0
		m := mark{made: made, shown: true}
		for i, x := range points {
			v := biquad.DB(h[i])
			s.band = append(s.band, bandPoint{x.Hz, (x.LowDB+x.HighDB)/2 - x.NominalDB, (x.HighDB - x.LowDB) / 2})
			l.y = append(l.y, v-x.NominalDB)
			wide, far = math.Max(wide, math.Max(x.HighDB-x.NominalDB, x.NominalDB-x.LowDB)), math.Max(far, math.Abs(v-x.NominalDB))
			if inside := math.Min(v-x.LowDB, x.HighDB-v); inside < tightest {
				tightest, m.hz, m.y = inside, x.Hz, v-x.NominalDB
			}
		}
		if m.text = words.Error(tightest, "dB") + " inside"; tightest < 0 {
			m.text = words.Error(-tightest, "dB") + " beyond"
		}
		m.broken = slices.ContainsFunc(p.Results[made].Findings, func(f verify.Finding) bool {
			return f.Promise == finished.LimitsName && f.Way == s.name && !f.Kept
		})
		s.marks, s.lines = []mark{m}, []line{l}
		s.high = 1.25 * math.Max(wide, math.Min(far, 8*wide))
		s.low, s.step = -s.high, rounder(below(s.high))
		d.strips = append(d.strips, s)
	}
	if d.strips == nil {
		return ""
	}
	return p.draw(d)
}

var unitPhaseChapter = unitsChapter{name: "phase", title: "Phase where ways meet",
	says: func(p *unitsPaper) string {
		switch {
		case !p.Desk.Phased:
			return "The measurement says no phase: nothing is said of it, of polarity and of the sum."
		case len(p.curves.ways) == 1:
			return ""
		}
		return p.worstSaid("Where ways meet, none turns away from the wanted phase by more than", ofPhase, false)
	},
	body: func(p *unitsPaper) template.HTML {
		if !p.Desk.Phased {
			return ""
		}
		d := drawing{name: "Phase, measured less wanted", says: "After the delay that was taken out, where a neighbouring way is within 20 dB and it matters to the sum."}
		for way := range p.curves.ways {
			d.strips = append(d.strips, measuredAs(p.departures(phaseErrorKind, way, ofPhase, 1, "deg")))
		}
		return p.draw(d) + p.table(ofPhase, p.curves.ways)
	},
}

var unitSumChapter = unitsChapter{name: "sum", title: "The sum of the ways",
	says: func(p *unitsPaper) string { return p.worstSaid("All ways together are off by at most", ofSum, true) },
	body: func(p *unitsPaper) template.HTML {
		n := len(p.curves.ways)
		d := drawing{name: "Sum of all ways", says: "All ways added as their outputs are, without loudspeakers. Above the level, below measured over wanted.",
			strips: []strip{measuredAs(p.levels(sumKind, n, 36)), measuredAs(p.departures(sumErrorKind, n, ofSum, 1, "dB"))}}
		return p.draw(d) + p.table(ofSum, []string{verify.SumName})
	},
}

var levelsOfUnitsChapter = unitsChapter{name: "levels", title: "Each way, wanted and measured",
	says: func(p *unitsPaper) string {
		return fmt.Sprintf("From %s to %s.", words.Hz(p.Desk.LowHz), words.Hz(p.Desk.HighHz))
	},
	body: func(p *unitsPaper) template.HTML {
		d := drawing{name: "Levels", says: "The pale band is what was wanted, the line what was measured."}
		for way := range p.curves.ways {
			d.strips = append(d.strips, measuredAs(p.levels(levelKind, way, 66)))
		}
		return p.draw(d)
	},
}
