package page

import (
	"cmp"
	"fmt"
	"html/template"
	"math"
	"slices"
	"strings"

	"bandwright/biquad"
	"bandwright/compiler"
	"bandwright/compiler/verify"
	"bandwright/compiler/words"
)

var (
	ofPeak  = measure{verify.Peak, "peak_dbfs", words.DBFS, func(f *verify.Figures) verify.Extreme { return f.Peak }}
	ofNoise = measure{verify.Noise, "noise_dbfs", words.DBFS, func(f *verify.Figures) verify.Extreme { return f.NoiseDBFS }}
)

var digitalChapter = Chapter{Name: "digital", Title: "The digital filters",
	Says: func(p *Paper) string {
		peak, noise := math.Inf(-1), math.Inf(-1)
		way, at := "", ""
		for made, m := range p.curves.made {
			for _, w := range p.curves.ways {
				if x, _ := p.worstOf(ofPeak, made, w); x.Known && !m.board && x.Value > peak {
					peak, way, at = x.Value, w, m.short
				}
				if x, _ := p.worstOf(ofNoise, made, w); x.Known && !m.board {
					noise = math.Max(noise, x.Value)
				}
			}
		}
		if way == "" {
			return ""
		}
		return fmt.Sprintf("Least headroom is %s, in %s at %s; the filters' own noise is %s or less.", words.DB.Measured(0-peak), way, at, minus(words.DBFS.Measured(noise)))
	},
	Body: func(p *Paper) template.HTML {
		out := p.headed("Peak of a full-scale sine at each output", ofPeak) + p.headed("Noise of the arithmetic, 20 Hz to 20 kHz", ofNoise) + p.spectra() + p.costs()
		for _, d := range p.Digital {
			if d.Asked {
				return out + p.roots(d) + p.sections(d)
			}
		}
		return out
	},
}

// headed is a table of a measure under a heading.
func (p *Paper) headed(head string, m measure) template.HTML {
	t := p.table(m, p.curves.ways)
	if t == "" {
		return ""
	}
	return "<h3>" + template.HTML(template.HTMLEscapeString(head)) + "</h3>" + t
}

// costs is what each way runs for every sample, how late it is, and how far its poles are from the edge.
func (p *Paper) costs() template.HTML {
	type cell struct{ Sections, Latency, Margin template.HTML }
	type row struct {
		Name  string
		Cells []cell
	}
	var rows []row
	for _, m := range p.curves.made {
		if m.board {
			continue
		}
		r := row{Name: m.short}
		for _, way := range p.curves.ways {
			i := p.found(m.Name(), way)
			f := p.Figures[i]
			of := func(field string) string { return fmt.Sprintf("figures[%d].%s", i, field) }
			r.Cells = append(r.Cells, cell{figure(of("sections"), float64(f.Sections), fmt.Sprint(f.Sections)), figure(of("latency_s"), f.LatencyS, words.Seconds(f.LatencyS)),
				figure(of("pole_margin"), f.PoleMargin, words.Three(f.PoleMargin))})
		}
		rows = append(rows, r)
	}
	return markup(costsTemplate, struct {
		Ways []string
		Rows []row
	}{p.curves.ways, rows})
}

var costsTemplate = parsed(`<h3>What each way costs</h3>
<div class="wide"><table><thead><tr><th>sections, latency, pole margin</th>{{range .Ways}}<th class="n">{{.}}</th>{{end}}</tr></thead>
<tbody>{{range .Rows}}<tr><th scope="row">{{.Name}}</th>{{range .Cells}}<td class="n">{{.Sections}}, {{.Latency}}<br><span class="small">{{.Margin}}</span></td>{{end}}</tr>
{{end}}</tbody></table></div>
<p class="small">Pole margin is how far the outermost pole lies inside the unit circle.</p>
`)

// root is a pole or zero on the frequency axis: where it is, and how sharp.
type root struct {
	hz, q float64
	pole  bool
}

// rootsOf are those of a section at a rate (Hz); a real one has a Q of one half.
func rootsOf(d biquad.Digital, rateHz float64) []root {
	var out []root
	for i, list := range [][]complex128{d.Poles(), d.Zeros()} {
		for _, z := range list {
			if imag(z) < 0 {
				continue
			}
			angle, radius := math.Atan2(imag(z), real(z)), math.Hypot(real(z), imag(z))
			r := root{hz: angle / (2 * math.Pi) * rateHz, q: math.Inf(1), pole: i == 0}
			if lag := -math.Log(radius); radius > 0 && lag != 0 { // s = rate·ln z
				w := math.Hypot(lag, angle)
				r.hz, r.q = w/(2*math.Pi)*rateHz, w/(2*math.Abs(lag))
			}
			if radius == 0 {
				continue
			}
			out = append(out, r)
		}
	}
	return out
}

// The range of Q that roots are drawn in.
const leastQ, mostQ = 0.35, 24

// roots draws poles and zeros of every way on the frequency axis, the sharper the higher.
func (p *Paper) roots(d compiler.Digital) template.HTML {
	e := drawing{name: "Poles and zeros", still: true, says: "Crosses are poles, rings zeros, of all alternatives, at " + shortName(d) +
		"; the height is the Q. Left and right of the axis lie roots that no ear meets."}
	lift := func(q float64) float64 { return math.Log2(math.Max(leastQ, math.Min(mostQ, q))) }
	for k, w := range d.System.Ways {
		s := strip{kind: "roots", name: w.Name, way: k, unit: "Q", scale: 1, low: math.Log2(leastQ) - 0.3, high: math.Log2(mostQ) + 0.3, step: 2,
			label: func(v float64) string { return words.Short(math.Exp2(v)) }}
		for _, slot := range d.System.Path(k).Slots {
			for _, alt := range slot.Alt {
				for _, r := range rootsOf(alt, d.RateHz) {
					s.roots = append(s.roots, root{r.hz, lift(r.q), r.pole})
				}
			}
		}
		slices.SortFunc(s.roots, func(a, b root) int { return cmp.Or(cmp.Compare(a.hz, b.hz), cmp.Compare(a.q, b.q)) })
		s.roots = slices.Compact(s.roots)
		e.strips = append(e.strips, s)
	}
	return "<h3>Poles and zeros</h3>" + p.draw(e)
}

// sections lists the sections of the common part and each way.
func (p *Paper) sections(d compiler.Digital) template.HTML {
	type row struct{ Position, For, Form, Poles, Zeros string }
	type chain struct {
		Name string
		Rows []row
	}
	var view struct {
		Of     string
		Chains []chain
	}
	view.Of = shortName(d)
	add := func(name string, slots []biquad.Slot[biquad.Digital]) {
		c := chain{Name: name}
		for i := range slots {
			for alt, x := range slots[i].Alt {
				if x.Order() == 0 && len(slots[i].Alt) > 1 {
					continue
				}
				lines := strings.Join(words.Once(slots[i].From), ", ")
				r := row{Position: fmt.Sprint(i + 1), For: lines, Form: x.Form.String()}
				if len(slots[i].By) > 0 {
					r.For = slots[i].Line(alt) + ", with " + verify.Picked(p.Settings, &slots[i], alt)
				}
				var poles, zeros []string
				for _, z := range rootsOf(x, d.RateHz) {
					if z.pole {
						poles = append(poles, z.String())
					} else {
						zeros = append(zeros, z.String())
					}
				}
				r.Poles, r.Zeros = strings.Join(poles, "; "), strings.Join(zeros, "; ")
				c.Rows = append(c.Rows, r)
			}
		}
		if c.Rows != nil {
			view.Chains = append(view.Chains, c)
		}
	}
	add("common", d.System.Common.Slots)
	for _, w := range d.System.Ways {
		add(w.Name, w.Slots)
	}
	return markup(sectionsTemplate, view)
}

// String is a root in words: "62.1 Hz, Q 0.71".
func (r root) String() string {
	if r.hz < 1e-3 {
		return "0 Hz"
	}
	s := words.Hz(words.Round(r.hz, 4))
	switch {
	case math.IsInf(r.q, 1) || r.q > 1e4:
		return s + " on the circle"
	case r.q > 0.5001:
		return s + ", Q " + words.Short(words.Round(r.q, 3))
	}
	return s
}

var sectionsTemplate = parsed(`<h3>Sections at {{.Of}}</h3>
<div class="wide"><table><thead><tr><th>way</th><th class="n">no.</th><th>realises</th><th>form</th><th>poles</th><th>zeros</th></tr></thead>
<tbody>{{range .Chains}}{{$name := .Name}}{{range $i, $r := .Rows}}<tr>{{if $i}}<td></td>{{else}}<th scope="row">{{$name}}</th>{{end}}<td class="n">{{.Position}}</td><td>{{.For}}</td><td>{{.Form}}</td><td>{{.Poles}}</td><td>{{.Zeros}}</td></tr>
{{end}}{{end}}</tbody></table></div>
<p class="small">Roots are at the frequencies that their logarithm gives; a zero at half the rate is there for the filter's fall. Alternatives that pass everything are left out.</p>
`)
