package page

import (
	"fmt"
	"html/template"
	"math"
	"slices"
	"strconv"
	"strings"

	"bandwright/compiler/words"
)

// The drawing's units: strips, one a way, stand under each other on one frequency axis; names are right of them.
const (
	paperWidth  = 760
	plotLeft    = 64
	plotTop     = 22
	plotRight   = 640
	stripHeight = 104
	stripGap    = 22
	lineApart   = 19  // of names at the ends of lines, as tall as they are on a phone
	closeX      = 1.5 // of samples over time, of which more are not seen
	closeY      = 0.15
)

// wantedLine is the prototype among the lines of a strip, where others count realisations.
const wantedLine = -1

// drawing is one figure: strips on a shared frequency axis.
type drawing struct {
	name   string // of what is drawn: said to those who cannot see it
	says   string // what there is to see
	note   string // what it is drawn with, which the script writes anew; "" of nothing that changes
	strips []strip
	still  bool   // whatever is chosen
	axis   *axis  // nil of the page's frequencies
	mades  string // realisations that it is shown for; "" of all
	hidden bool
}

// strip is one small plot: a quantity of a way, or of the sum.
type strip struct {
	kind, name string
	way        int     // len(ways) of the sum
	unit       string  // after numbers
	scale      float64 // of what is drawn to values
	low, high  float64 // drawn
	step       float64 // of the labels
	corridors  []corridor
	lines      []line
	marks      []mark
	roots      []root
	band       []bandPoint
	spread     *own                 // how far a band reaches to both sides of the first line, in any settings
	label      func(float64) string // of the vertical axis, nil for numbers
}

// bandPoint is a place of a band: its middle, and how far it reaches to both sides.
type bandPoint struct{ hz, middle, half float64 }

// corridor is what a promise allows on both sides of 0.
type corridor struct {
	made  int // of which realisation, -1 for all
	limit float64
}

// line is one curve in the default settings.
type line struct {
	made  int // wantedLine or a realisation
	class string
	name  string
	y     []float64
	hz    []float64 // its own frequencies; nil of the page's
	shown bool
	own   []*own // of each digital realisation, or one of all: the script draws it anew
	as    string // what a value of it is read out as; "" by its realisation. Such a line is always shown
}

// mark is the worst point of a realisation.
type mark struct {
	made     int
	hz, y    float64
	text     string
	broken   bool
	settings []int // that it is found with
	shown    bool
}

// axis is what strips share, of frequency or of time: in octaves.
type axis struct {
	lo, hi float64
	judged [2]float64 // beyond it is shaded; from 0 to 0 nothing is
	unit   string
	tick   func(float64) string
}

// overHz is the axis of the page's frequencies.
func (p *Paper) overHz() *axis {
	return &axis{p.curves.hz[0], p.curves.hz[len(p.curves.hz)-1], [2]float64{p.Promises.LowHz, p.Promises.HighHz}, "Hz", tick}
}

func (a *axis) x(hz float64) float64 {
	return plotLeft + (plotRight-plotLeft)*math.Log2(hz/a.lo)/math.Log2(a.hi/a.lo)
}

// labels are the frequencies with a number: 1, 2 and 5 of each decade.
func (a *axis) labels() []float64 {
	var out []float64
	for decade := 0.01; decade < 1e7; decade *= 10 {
		for _, k := range []float64{1, 2, 5} {
			if f := words.Round(decade*k, 3); f >= a.lo && f <= a.hi {
				out = append(out, f)
			}
		}
	}
	return out
}

func (s *strip) y(top, v float64) float64 {
	return top + stripHeight*(s.high-v)/(s.high-s.low)
}

// coordinate is a number of the drawing, to a tenth.
func coordinate(x float64) string { return strconv.FormatFloat(math.Round(10*x)/10+0, 'f', -1, 64) }

// path is a line as SVG; it is broken where there is no value.
func (s *strip) path(a *axis, hz, y []float64, top float64) string {
	var d []byte
	begin := true
	past := s.high - s.low
	lastX, lastY := math.Inf(-1), 0.0
	for i, v := range y {
		if i > 0 && s.kind == phaseKind && math.Abs(v-y[i-1]) > 180 { // once around
			begin = true
		}
		if math.IsNaN(v) {
			begin = true
			continue
		}
		v = math.Max(s.low-past, math.Min(s.high+past, v*s.scale))
		if x, y := a.x(hz[i]), s.y(top, v); s.kind != timeKind || begin || x-lastX > closeX || math.Abs(y-lastY) > closeY {
			lastX, lastY = x, y
		} else { // samples lie closer than a pixel
			continue
		}
		command := byte('L')
		if begin {
			command = 'M'
		}
		d = append(d, command)
		d = append(d, coordinate(a.x(hz[i]))...)
		d = append(d, ' ')
		d = append(d, coordinate(s.y(top, v))...)
		begin = false
	}
	return string(d)
}

// draw is the figure as markup, with what the script has to know in data attributes.
func (p *Paper) draw(d drawing) template.HTML {
	p.fig++
	a := d.axis
	if a == nil {
		a = p.overHz()
	}
	height := plotTop + len(d.strips)*(stripHeight+stripGap) + 8
	var out strings.Builder
	say := func(format string, args ...any) { fmt.Fprintf(&out, format, args...) }
	escape := template.HTMLEscapeString
	if say(`<figure`); d.mades != "" {
		say(` data-mades="%s"`, d.mades)
	}
	if d.hidden {
		say(` hidden`)
	}
	if d.still {
		say(`><div class="plot still">`)
	} else {
		of, none, places := "", "no frequency", len(p.curves.hz)
		if d.axis != nil {
			of, none, places = fmt.Sprintf(` data-low="%s" data-high="%s" data-unit="%s"`, words.Exact(a.lo), words.Exact(a.hi), a.unit), "no time", len(d.strips[0].lines[0].hz)
		}
		say(`><div class="plot" role="slider" tabindex="0" aria-label="%s: cursor" aria-valuemin="0" aria-valuemax="%d" aria-valuenow="0" aria-valuetext="%s" data-fig="%d"%s>`,
			escape(d.name), places-1, none, p.fig, of)
	}
	say(`<svg viewBox="0 0 %d %d" role="img" aria-label="%s">`, paperWidth, height, escape(d.name+". "+d.says))
	for i := range d.strips {
		p.strip(say, a, &d.strips[i], plotTop+float64(i*(stripHeight+stripGap)), i)
	}
	bottom := float64(plotTop+len(d.strips)*(stripHeight+stripGap)) + 2
	for _, f := range a.labels() {
		say(`<text class="q" x="%s" y="%s" text-anchor="middle">%s</text>`, coordinate(a.x(f)), coordinate(bottom), a.tick(f))
	}
	say(`<text class="q" x="%d" y="%s">%s</text>`, plotRight+18, coordinate(bottom), a.unit)
	if d.still {
		say(`</svg></div><figcaption>%s</figcaption></figure>`, escape(d.says))
		return template.HTML(out.String())
	}
	say(`<line class="cursor" x1="0" x2="0" y1="%d" y2="%d"/>`, plotTop, plotTop+len(d.strips)*(stripHeight+stripGap)-stripGap)
	note := ""
	if d.note != "" {
		note = fmt.Sprintf(` <span data-note%s>%s</span>`, map[bool]string{true: `="digital"`}[strings.Contains(d.note, "digital at ")], escape(d.note))
	}
	say(`</svg></div><output for="shown"></output><figcaption>%s%s</figcaption></figure>`, escape(d.says), note)
	return template.HTML(out.String())
}

// tick is a frequency on the axis: "500", "2k".
func tick(f float64) string {
	if f >= 1000 {
		return words.Exact(f/1000) + "k"
	}
	return words.Exact(f)
}

// strip draws one strip.
func (p *Paper) strip(say func(string, ...any), a *axis, s *strip, top float64, i int) {
	escape := template.HTMLEscapeString
	clip := fmt.Sprintf("clip%d-%d", p.fig, i)
	say(`<g data-strip="%s" data-way="%d" data-unit="%s" data-scale="%s" data-low="%s" data-high="%s" data-top="%s" data-name="%s">`, s.kind, s.way,
		escape(s.unit), words.Exact(s.scale), words.Exact(s.low), words.Exact(s.high), coordinate(top), escape(s.name))
	say(`<clipPath id="%s"><rect x="%d" y="%s" width="%d" height="%d"/></clipPath>`, clip, plotLeft, coordinate(top), plotRight-plotLeft, stripHeight)
	lo, hi := float64(plotLeft), float64(plotRight)
	if a.judged[1] > 0 {
		lo, hi = a.x(a.judged[0]), a.x(a.judged[1])
	}
	for _, x := range [][2]float64{{plotLeft, lo}, {hi, plotRight}} {
		if x[0] == x[1] {
			continue
		}
		say(`<rect class="outside" x="%s" y="%s" width="%s" height="%d"/>`, coordinate(x[0]), coordinate(top), coordinate(x[1]-x[0]), stripHeight)
	}
	for _, x := range s.corridors {
		t, b := s.y(top, math.Min(s.high, x.limit)), s.y(top, math.Max(s.low, -x.limit))
		say(`<rect class="corridor" x="%s" y="%s" width="%s" height="%s"/><path class="edge" d="M%s %sH%sM%s %sH%s"/>`, coordinate(lo), coordinate(t), coordinate(hi-lo),
			coordinate(b-t), coordinate(lo), coordinate(t), coordinate(hi), coordinate(lo), coordinate(b), coordinate(hi))
	}
	every := 1 // of so many lines one has its number, that they fit above each other on a phone
	for stripHeight*s.step*float64(every) < (lineApart-1)*(s.high-s.low) {
		every *= 2
	}
	for v := math.Ceil(s.low/s.step-1e-9) * s.step; v <= s.high+1e-9*s.step; v += s.step {
		class := "grid"
		if math.Abs(v) < 1e-9*s.step {
			class, v = "zero", 0
		}
		y := s.y(top, v)
		say(`<path class="%s" d="M%d %sH%d"/>`, class, plotLeft, coordinate(y), plotRight)
		if y > top+7 && int(math.Round(v/s.step))%every == 0 { // above it stands the unit
			text := number
			if s.label != nil {
				text = s.label
			}
			say(`<text class="q" x="%d" y="%s" text-anchor="end">%s</text>`, plotLeft-6, coordinate(min(y+4, top+stripHeight-1)), text(v))
		}
	}
	for _, f := range a.labels() {
		say(`<path class="grid" d="M%s %sv%d"/>`, coordinate(a.x(f)), coordinate(top), stripHeight)
	}
	say(`<text class="name" x="%d" y="%s">%s</text><text class="q" x="%d" y="%s" text-anchor="end">%s</text>`, plotRight+10, coordinate(top+10), escape(s.name), plotLeft-6, coordinate(top-6), escape(s.unit))
	say(`<g clip-path="url(#%s)">`, clip)
	for i, l := range s.lines {
		if l.own != nil && l.own[0] != nil && l.own[0].run == nil {
			s.lines[i].hz, s.lines[i].y = p.first(l.own[0])
		}
	}
	p.bands(say, a, s, top)
	for _, l := range s.lines {
		hidden := ""
		if !l.shown {
			hidden = " hidden"
		}
		hz, of := p.known(l)
		say(`<path class="%s"%s%s d="%s"/>`, l.class, of, hidden, s.path(a, hz, l.y, top))
	}
	say(`</g>`)
	s.crosses(say, a, top)
	p.ends(say, s, top)
	for _, m := range s.marks {
		p.mark(say, a, s, m, top)
	}
	say(`</g>`)
}

// known are a line's frequencies, and what the script is told of it.
func (p *Paper) known(l line) (hz []float64, of string) {
	hz, of = p.curves.hz, fmt.Sprintf(` data-line="%d"`, l.made)
	if l.hz != nil { // the script knows nothing of them
		hz, of = l.hz, ""
	}
	if l.own != nil {
		var places []int
		for _, o := range l.own {
			places = append(places, p.keep(o))
		}
		of = fmt.Sprintf(` data-own="%s" data-says="%s"`, joined(places), template.HTMLEscapeString(l.name))
	}
	if l.as != "" {
		of += fmt.Sprintf(` data-as="%s"`, l.as)
	}
	return hz, of
}

// bands draws the band of a strip: where it stands, or around the first line.
func (p *Paper) bands(say func(string, ...any), a *axis, s *strip, top float64) {
	points, of := s.band, ""
	if s.spread != nil {
		of = fmt.Sprintf(` data-band="%d"`, p.keep(s.spread))
		for i, half := range s.spread.y[0] {
			hz := s.spread.x[0][i]
			points = append(points, bandPoint{hz, at(p.curves.hz, s.lines[0].y, hz), half})
		}
	}
	if points == nil {
		return
	}
	var over, under []string
	for _, x := range points {
		over = append(over, coordinate(a.x(x.hz))+" "+coordinate(s.y(top, x.middle+x.half)))
		under = append(under, coordinate(a.x(x.hz))+" "+coordinate(s.y(top, x.middle-x.half)))
	}
	slices.Reverse(under)
	say(`<path class="band"%s d="M%sL%sZ"/>`, of, strings.Join(over, "L"), strings.Join(under, "L"))
}

// crosses draws poles and rings for zeros; those beyond the axis stand at its ends.
func (s *strip) crosses(say func(string, ...any), a *axis, top float64) {
	for _, r := range s.roots {
		x, y := coordinate(a.x(math.Max(a.lo, math.Min(a.hi, r.hz)))), coordinate(s.y(top, r.q))
		if r.pole {
			say(`<path class="pole" d="M%s %sm-4-4l8 8m-8 0l8-8"/>`, x, y)
			continue
		}
		say(`<circle class="root" cx="%s" cy="%s" r="4"/>`, x, y)
	}
}

// number is a label of the vertical axis.
func number(v float64) string {
	return strings.Replace(words.Exact(words.Round(v, 6)), "-", "\u2212", 1)
}

// ends names the lines at their right ends, with a piece of each.
func (p *Paper) ends(say func(string, ...any), s *strip, top float64) {
	type end struct {
		class, name string
		y           float64
	}
	var all []end
	for _, l := range s.lines {
		if !l.shown || l.name == "" {
			continue
		}
		last := s.low
		for _, v := range l.y {
			if !math.IsNaN(v) {
				last = v * s.scale
			}
		}
		all = append(all, end{l.class, l.name, math.Max(top+26, math.Min(top+stripHeight-2, s.y(top, last)))})
	}
	slices.SortStableFunc(all, func(a, b end) int { return int(math.Copysign(1, a.y-b.y)) * boolInt(a.y != b.y) })
	for i := range all { // down from the top, then up from the bottom where they do not fit
		if i > 0 {
			all[i].y = math.Max(all[i].y, all[i-1].y+lineApart)
		}
	}
	for i := len(all) - 1; i >= 0; i-- {
		all[i].y = math.Min(all[i].y, top+stripHeight-2-float64(lineApart*(len(all)-1-i)))
	}
	for _, e := range all {
		say(`<path class="%s" d="M%d %sh18"/><text x="%d" y="%s">%s</text>`, e.class, plotRight+10, coordinate(e.y-4), plotRight+34, coordinate(e.y), e.name)
	}
}

func boolInt(b bool) int {
	if b {
		return 1
	}
	return 0
}

// mark draws a worst point.
func (p *Paper) mark(say func(string, ...any), a *axis, s *strip, m mark, top float64) {
	x, y := a.x(m.hz), s.y(top, math.Max(s.low, math.Min(s.high, m.y*s.scale)))
	class, hidden := "worst", ""
	if m.broken {
		class = "worst broke"
	}
	if !m.shown {
		hidden = " hidden"
	}
	anchor, at := "start", x+9
	if x > (plotLeft+plotRight)/2 {
		anchor, at = "end", x-9
	}
	below := y - 8
	if !p.over(s, m) {
		below = y + 15
	}
	below = math.Max(top+10, math.Min(top+stripHeight-3, below))
	say(`<g data-mark="%d" data-with="%s"%s><circle class="%s" cx="%s" cy="%s" r="4.5"/><text class="said" x="%s" y="%s" text-anchor="%s">%s</text></g>`,
		m.made, joined(m.settings), hidden, class, coordinate(x), coordinate(y), coordinate(at), coordinate(below), anchor, template.HTMLEscapeString(m.text))
}

func joined(list []int) string {
	var out []string
	for _, x := range list {
		out = append(out, strconv.Itoa(x))
	}
	return strings.Join(out, " ")
}

// below is the greatest of 1, 2, 2.5 and 5 times a power of ten that is not above x.
func below(x float64) float64 {
	v := nice(x)
	for _, k := range []float64{1, 0.8, 0.5, 0.4, 0.25, 0.2} {
		if y := words.Round(v*k, 3); y <= x*(1+1e-9) && nice(y) == y {
			return y
		}
	}
	return v
}

// rounder is a step of labels of as few digits as can be: 2 for 2.5.
func rounder(step float64) float64 {
	if v := words.Round(0.8*step, 3); nice(v) == v {
		return v
	}
	return step
}

// nice is the least of 1, 2, 2.5 and 5 times a power of ten that is not below x.
func nice(x float64) float64 {
	if !(x > 0) || math.IsInf(x, 0) {
		return 1
	}
	for decade := 1e-12; decade < 1e12; decade *= 10 {
		for _, k := range []float64{1, 2, 2.5, 5} {
			if v := words.Round(k*decade, 3); v >= x*(1-1e-9) {
				return v
			}
		}
	}
	return x
}
