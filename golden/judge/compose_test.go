package judge

import (
	"fmt"
	"math"
	"strings"
)

// What the generated specs have, by their number: one to four ways, half of
// them settings, half delays, a quarter each compensation, in all mixtures.
func waysOf(i int) int       { return 1 + i%4 }
func hasSettings(i int) bool { return i/4%2 == 1 }
func hasDelays(i int) bool   { return i/8%2 == 0 }
func compensation(i int) string {
	return []string{"none", "all-pass", "none", "exact"}[(i/4+i/16)%4]
}

// methodOf gives most specs to the method whose sections scipy can compute.
func methodOf(i int) string {
	switch {
	case i%9 == 4:
		return "fit"
	case i%9 == 7:
		return "magnitude-matched"
	}
	return "bilinear"
}

// maxCombinations bounds the settings of one spec, so that the judge can look
// at every combination.
const maxCombinations = 16

// spec composes spec number i.
func (g *generator) spec(i int) written {
	g.used = map[string]bool{}
	w := written{name: fmt.Sprintf("judge_%02d", i), features: g.used}
	rate := g.rates.next()
	rateText := []string{rate}
	if other := g.rates.next(); i%3 == 0 && other != rate {
		rateText = append(rateText, other)
	}
	lowest := math.Inf(1)
	for _, r := range rateText {
		w.ratesHz = append(w.ratesHz, ratesHz[r])
		lowest = math.Min(lowest, ratesHz[r])
		g.note("rate %s", r)
	}
	g.note("method %s", methodOf(i))
	g.mixed = methodOf(i) != "bilinear"
	w.formats = formats[i%len(formats)]
	for _, f := range w.formats {
		g.note("format %s", f)
		if strings.HasPrefix(f, "q") {
			g.note("fixed point by %s", methodOf(i))
		}
	}
	// bilinear takes corners below half of the lowest rate; audio has none
	// above 30 kHz.
	g.minHz, g.limitHz = 15, math.Min(0.45*lowest, 30e3)

	s := &w.system
	s.Compensation = "none"
	s.Settings = []setting{}
	if hasSettings(i) {
		s.Settings = g.settings()
		g.note("settings")
	}
	ways := waysOf(i)
	g.note("%d ways", ways)
	s.Common = g.filters(s.Settings, g.IntN(3), hasDelays(i))
	for k := range ways {
		x := way{Name: wayNames[k]}
		x.Filters = g.filters(s.Settings, g.IntN(4), hasDelays(i))
		if g.IntN(2) == 0 {
			d := g.gainDB()
			x.GainDB, x.gain = d.float(), d.in(0)+" dB"
			g.note("gain of a way")
		}
		x.Inverted = g.IntN(3) == 0
		if hasDelays(i) {
			x.DelayS, x.delay = g.delay()
		}
		s.Ways = append(s.Ways, x)
	}
	g.crossovers(s, i)
	for _, x := range s.Ways {
		if x.Inverted {
			g.note("polarity inverted")
		}
		for _, r := range w.ratesHz {
			if d := x.DelayS * r; d != math.Round(d) {
				g.note("fraction of a sample")
			} else if d > 0 {
				g.note("whole samples")
			}
		}
	}
	if i%2 == 0 {
		s.HeadroomDB = 6
	}
	w.text = g.text(w, rateText, i)
	return w
}

// settings draws one to three settings of at most maxCombinations.
func (g *generator) settings() []setting {
	var out []setting
	n := 1
	for _, k := range g.Perm(len(settingTable))[:1+g.IntN(3)] {
		if s := settingTable[k]; n*len(s.Choices) <= maxCombinations {
			out = append(out, s)
			n *= len(s.Choices)
		}
	}
	return out
}

// delay is a time or a length, with what it is in seconds.
func (g *generator) delay() (seconds float64, text string) {
	switch g.IntN(4) {
	case 0:
		d := decimal{1 + g.Int64N(12), -3} // whole samples at every rate of whole kHz
		g.note("delay as a time")
		return d.float(), d.in(-3) + " ms"
	case 1:
		d := g.lin(0.01e-3, 2e-3, 3)
		g.note("delay as a time")
		return d.float(), d.in(-3) + " ms"
	case 2:
		d := g.lin(3e-6, 60e-6, 2)
		g.note("delay as a time")
		return d.float(), d.in(-6) + " us"
	}
	d := g.lin(2e-3, 900e-3, 3)
	g.note("delay as a length")
	return d.float() / speedOfSound, d.in(-3) + " mm"
}

// filters are n filters, some under settings, with delays between them.
func (g *generator) filters(settings []setting, n int, delays bool) []filter {
	var out []filter
	for range n {
		if len(settings) > 0 && g.IntN(3) > 0 {
			out = append(out, g.group(settings)...)
			continue
		}
		out = append(out, g.any())
	}
	if delays && g.IntN(3) == 0 {
		f := newFilter("delay")
		s, text := g.delay()
		f.Num["by"] = s
		f.text = []string{"by: " + text}
		g.note("filter delay")
		out = append(out, f)
	}
	return out
}

// any is any filter that may stand under a setting.
func (g *generator) any() filter {
	var f filter
	switch g.IntN(6) {
	case 0:
		f = g.pass("low-pass", g.low.next(), g.corner())
	case 1:
		f = g.pass("high-pass", g.high.next(), g.corner())
	default:
		f = g.filter(g.kinds.next())
	}
	if g.mixed && f.Kind != "gain" && g.IntN(3) == 0 {
		f.word("method", []string{"bilinear", "magnitude-matched"}[g.IntN(2)])
		g.note("method of a filter")
	}
	return f
}

// group is one filter or some consecutive filters under settings.
func (g *generator) group(settings []setting) []filter {
	a := g.IntN(len(settings))
	b := (a + 1) % len(settings)
	choice := func(s int) int { return g.IntN(len(settings[s].Choices)) }
	under := func(f filter, cs ...condition) filter {
		f.When = cs
		if f.Kind == "gain" {
			g.note("gain under a setting")
		}
		return f
	}
	is := func(s, k int) condition { return condition{s, []int{k}} }
	switch n := g.IntN(5); {
	case n == 0 && a != b:
		g.note("two settings in one when")
		return []filter{under(g.any(), is(a, choice(a)), is(b, choice(b)))}
	case n == 1 && a != b:
		// The two exclude each other in a, and leave what b decides open.
		g.note("two settings in one when")
		g.note("exclusive filters")
		k := choice(a)
		return []filter{
			under(g.any(), is(a, k), is(b, choice(b))),
			under(g.any(), is(a, (k+1)%len(settings[a].Choices))),
		}
	case n == 2 && len(settings[a].Choices) > 2:
		g.note("list of choices")
		k := choice(a)
		c := condition{Setting: a}
		for j := range settings[a].Choices {
			if j != k {
				c.Choices = append(c.Choices, j)
			}
		}
		return []filter{under(g.any(), c)}
	case n == 3:
		return []filter{under(g.filter("gain"), is(a, choice(a)))}
	}
	g.note("exclusive filters")
	var out []filter
	for k := range settings[a].Choices {
		if k > 0 || g.IntN(3) == 0 {
			out = append(out, under(g.any(), is(a, k)))
		}
	}
	return out
}

// crossovers joins neighbouring ways, in corners that rise.
func (g *generator) crossovers(s *system, i int) {
	n := len(s.Ways) - 1
	if n < 1 {
		return
	}
	mode := compensation(i)
	s.Compensation = mode
	g.note("phase-compensation %s", mode)
	octaves := math.Log2(math.Min(g.limitHz, 12e3)/90) / float64(n)
	for k := range n {
		if mode == "none" && n > 1 && k == 0 && i%16 == 2 {
			g.note("way without a crossover")
			continue
		}
		lo := 90 * math.Exp2(octaves*float64(k))
		at := g.log(lo*1.2, lo*math.Exp2(octaves)*0.85, 3)
		x := crossover{Lower: k, Upper: k + 1}
		switch how := g.IntN(5); {
		case mode != "none":
			a := g.summable.next()
			x.Low = g.pass("low-pass", a, at)
			x.same = true
			if a.family == "LR" {
				// Halves of odd order sum to an all-pass with one way inverted.
				s.Ways[k+1].Inverted = s.Ways[k].Inverted != (a.order/2%2 == 1)
			}
		case how == 0:
			x.Low = newFilter("low-pass")
			g.hz(&x.Low, "at", at)
			x.Low.number("q", g.log(0.4, 1.2, 3))
			x.same = true
		case how == 1:
			x.Low = g.pass("low-pass", g.low.next(), at)
			x.same = true
		default:
			low, high := g.low.next(), g.high.next()
			x.Low = g.pass("low-pass", low, at)
			x.High = g.pass("high-pass", high, g.log(at.float()*0.8, at.float()*1.2, 3))
			if low.family != high.family {
				g.note("crossover of two families")
			}
		}
		if x.same {
			x.High = x.Low
			x.High.Kind = "high-pass"
			g.note("crossover written once")
		} else {
			g.note("crossover with two sides")
		}
		s.Crossovers = append(s.Crossovers, x)
	}
}

// text writes the spec.
func (g *generator) text(w written, rates []string, i int) string {
	s := w.system
	var b strings.Builder
	p := func(format string, args ...any) { fmt.Fprintf(&b, format, args...) }
	p("bandwright: 1\nname: %s\ntitle: Generated for the judge\nrevision: \"%d\"\n", w.name, i)
	if len(s.Settings) > 0 {
		p("settings:\n")
		for _, x := range s.Settings {
			p("  %s: [%s]\n", x.Name, strings.Join(x.Choices, ", "))
		}
	}
	if len(s.Common) > 0 {
		p("common:\n")
		for _, f := range s.Common {
			p("  %s", f.line(s.Settings))
		}
	}
	p("ways:\n")
	for _, x := range s.Ways {
		p("  %s:\n", x.Name)
		if len(x.Filters) == 0 {
			p("    filters: []\n")
		} else {
			p("    filters:\n")
			for _, f := range x.Filters {
				p("      %s", f.line(s.Settings))
			}
		}
		if x.gain != "" {
			p("    gain: %s\n", x.gain)
		}
		if x.Inverted {
			p("    polarity: inverted\n")
		}
		if x.delay != "" {
			p("    delay: %s\n", x.delay)
		}
	}
	if len(s.Crossovers) > 0 {
		p("crossovers:\n")
		for _, x := range s.Crossovers {
			between := fmt.Sprintf("between: [%s, %s]", s.Ways[x.Lower].Name, s.Ways[x.Upper].Name)
			low, high := strings.Join(x.Low.text, ", "), strings.Join(x.High.text, ", ")
			if x.same {
				p("  - {%s, %s}\n", between, low)
			} else {
				p("  - {%s, low: {%s}, high: {%s}}\n", between, low, high)
			}
		}
	}
	if s.Compensation != "none" {
		p("phase-compensation: %s\n", s.Compensation)
	}
	switch i % 5 {
	case 1:
		p("promise: {band: 40 Hz to 16 kHz, magnitude: 1 dB, sum: 2 dB}\n")
	case 2:
		p("promise: {down-to: -30 dB, phase: 2 deg}\n")
	case 3:
		p("promise: {phase: off, noise: off, headroom: off}\n")
	}
	p("digital:\n  rates: [%s]\n  formats: [%s]\n", strings.Join(rates, ", "), strings.Join(w.formats, ", "))
	p("  channels: %d\n  headroom: %v dB\n  method: %s\n", 1+i%2, s.HeadroomDB, methodOf(i))
	return b.String()
}
