package page

import (
	"cmp"
	"fmt"
	"html/template"
	"math"
	"slices"
	"strconv"
	"strings"

	"bandwright/biquad"
	"bandwright/compiler/verify"
	"bandwright/compiler/words"
)

// figure is a number as the page prints it, beside the number itself and where it stands in NAME.json.
func figure(of string, value float64, text string) template.HTML {
	return template.HTML(fmt.Sprintf(`<data value="%s" data-of="%s">%s</data>`, strconv.FormatFloat(value, 'g', -1, 64), of, template.HTMLEscapeString(minus(text))))
}

// minus writes signs and millionths as print does.
func minus(s string) string {
	if rest, ok := strings.CutPrefix(s, "-"); ok {
		s = "\u2212" + rest
	}
	for _, unit := range []string{"s", "V"} {
		if rest, ok := strings.CutSuffix(s, " u"+unit); ok {
			s = rest + " \u00b5" + unit
		}
	}
	return s
}

// found is the place of a way's figures of a realisation, -1 where there are none.
func (p *Paper) found(realisation, way string) int {
	return slices.IndexFunc(p.Figures, func(f verify.Figures) bool { return f.Realisation == realisation && f.Way == way })
}

// measure is a quantity that figures hold the worst of.
type measure struct {
	of    *verify.Quantity
	field string // of NAME.json
	unit  words.Unit
	pick  func(*verify.Figures) verify.Extreme
}

var (
	ofMagnitude = measure{verify.Magnitude, "magnitude_db", words.DB, func(f *verify.Figures) verify.Extreme { return f.Magnitude }}
	ofSum       = measure{verify.Sum, "magnitude_db", words.DB, func(f *verify.Figures) verify.Extreme { return f.Magnitude }}
	ofPhase     = measure{verify.Phase, "phase_deg", words.Deg, func(f *verify.Figures) verify.Extreme { return f.Phase }}
	ofDelay     = measure{verify.GroupDelay, "group_delay_s", words.Second, func(f *verify.Figures) verify.Extreme { return f.GroupDelay }}
)

// limit is what is promised of a quantity of a realisation; 0 where nothing is.
func (p *Paper) limit(q *verify.Quantity, made int) float64 {
	if p.promised != nil {
		return p.promised(q)
	}
	for _, d := range p.Promises.Terms().Demands {
		if d.Of == q && d.MeasuredOf(p.curves.made[made].Realisation) {
			return d.Limit
		}
	}
	return 0
}

// worstOf is a realisation's worst value of a measure, of a way or of the sum.
func (p *Paper) worstOf(m measure, made int, way string) (verify.Extreme, string) {
	i := p.found(p.curves.made[made].Name(), way)
	if i < 0 {
		return verify.Extreme{}, ""
	}
	place := fmt.Sprintf("figures[%d]", i)
	if p.places != nil {
		place = p.places[i]
	}
	return m.pick(&p.Figures[i]), place + "." + m.field
}

// nameOf is a way's name, or that of the sum.
func (p *Paper) nameOf(way int) string {
	if way == len(p.curves.ways) {
		return verify.SumName
	}
	return p.curves.ways[way]
}

// shown says whether a realisation is drawn before anybody chooses: the board and the first digital one.
func (p *Paper) shown(made int) bool {
	return made == wantedLine || made == 0 || p.curves.made[made].board
}

// lines are the curves of a strip, the prototype first where it is drawn.
func (p *Paper) lines(kind string, way int, wanted bool) (out []line) {
	from := 0
	if wanted {
		from = wantedLine
	}
	for made := from; made < len(p.curves.made); made++ {
		l := line{made: made, class: "wanted", name: "wanted", shown: p.shown(made)}
		if made >= 0 {
			if l.class, l.name = "digital", "digital"; p.curves.made[made].board {
				l.class, l.name = "board", "board"
			}
		}
		l.y = p.values(kind, way, made)
		out = append(out, l)
	}
	return out
}

// departures is a strip of the error of a way or the sum, with what is promised and the worst points.
func (p *Paper) departures(kind string, way int, m measure, scale float64, unit string) strip {
	s := strip{kind: kind, name: p.nameOf(way), way: way, unit: unit, scale: scale, lines: p.lines(kind, way, false)}
	most := 0.0
	var limits []float64
	for made := range p.curves.made {
		x, _ := p.worstOf(m, made, s.name)
		if !x.Known {
			continue
		}
		limit := p.limit(m.of, made)
		s.marks = append(s.marks, mark{made: made, hz: x.AtHz, y: x.Value, text: minus(m.unit.Signed(x.Value)), shown: p.shown(made),
			broken: limit > 0 && math.Abs(x.Value) > limit*(1+1e-9), settings: settingsOf(x.C)})
		most = math.Max(most, math.Abs(x.Value))
		if limit > 0 {
			most = math.Max(most, limit)
			if !slices.Contains(limits, limit) {
				limits = append(limits, limit)
			}
		}
	}
	slices.Sort(limits)
	slices.Reverse(limits)
	for _, l := range limits {
		s.corridors = append(s.corridors, corridor{-1, l * scale})
	}
	if most == 0 {
		most = 1 / scale
	}
	s.high = most * scale * 1.25
	s.low = -s.high
	s.step = below(s.high)
	return s
}

func settingsOf(c verify.Combination) (out []int) {
	for _, x := range c {
		out = append(out, int(x))
	}
	return out
}

// levels is a strip of what was wanted and what was made of it (dB).
func (p *Paper) levels(kind string, way int, belowDB float64) strip {
	s := strip{kind: kind, name: p.nameOf(way), way: way, unit: "dB", scale: 1, lines: p.lines(kind, way, true), step: 12}
	top := math.Inf(-1)
	for i, f := range p.curves.hz {
		if f < p.Promises.LowHz || f > p.Promises.HighHz {
			continue
		}
		if way < len(p.curves.ways) {
			top = math.Max(top, p.curves.ideal[way][magnitudeQ].most(i))
		} else {
			sum := 0.0
			for k := range p.curves.ways {
				sum += biquad.FromDB(p.curves.ideal[k][magnitudeQ].most(i))
			}
			top = math.Max(top, math.Min(biquad.GainDB(sum), s.lines[0].y[i]+9))
		}
	}
	s.high = 3 * math.Ceil(top/3+0.3)
	s.low = s.high - belowDB
	if belowDB < 40 {
		s.step = 6
	}
	return s
}

// most is the greatest value at a frequency in any settings, or a little more.
func (s series) most(i int) float64 {
	v := s.Base[i]
	for _, a := range s.By {
		add := 0.0
		for _, x := range a.Alt {
			if x != nil {
				add = math.Max(add, x[i])
			}
		}
		v += add
	}
	return v
}

// worst is the greatest of a measure over ways and realisations; ok is false where none is known.
func (p *Paper) worst(m measure, sum bool) (x verify.Extreme, way string, made int, of string, ok bool) {
	for k := range p.curves.made {
		for w := 0; w <= len(p.curves.ways); w++ {
			if sum != (w == len(p.curves.ways)) {
				continue
			}
			if y, path := p.worstOf(m, k, p.nameOf(w)); y.Known && (!ok || math.Abs(y.Value) > math.Abs(x.Value)) {
				x, way, made, of, ok = y, p.nameOf(w), k, path, true
			}
		}
	}
	return x, way, made, of, ok
}

// table is one row a realisation with the worst of a measure in each way.
func (p *Paper) table(m measure, ways []string) template.HTML {
	type cell struct {
		Figure, At template.HTML
		With, Name string
	}
	type row struct {
		Name  string
		Made  int
		Cells []cell
	}
	var rows []row
	for made, x := range p.curves.made {
		r := row{Name: x.short, Made: made}
		any := false
		for _, way := range ways {
			x, of := p.worstOf(m, made, way)
			if !x.Known {
				r.Cells = append(r.Cells, cell{Figure: "\u2013"})
				continue
			}
			any = true
			c := cell{Figure: figure(of+".value", m.unit.Floored(x.Value), m.unit.Signed(x.Value)), With: joined(settingsOf(x.C)), Name: way + ", " + r.Name}
			if x.AtHz > 0 {
				c.At = "at " + figure(of+".at_hz", x.AtHz, words.Hz(x.AtHz))
			}
			r.Cells = append(r.Cells, c)
		}
		if any {
			rows = append(rows, r)
		}
	}
	if rows == nil {
		return ""
	}
	return markup(worstTable, struct {
		Head  string
		Heads []string
		Rows  []row
	}{cmp.Or(p.worstHead, "worst of all settings"), ways, rows})
}

var worstTable = parsed(`<div class="wide"><table><thead><tr><th>{{.Head}}</th>{{range .Heads}}<th class="n">{{.}}</th>{{end}}</tr></thead>
<tbody>{{range .Rows}}{{$made := .Made}}<tr><th scope="row">{{.Name}}</th>{{range .Cells}}<td class="n">{{.Figure}}<br><span class="small">{{.At}}</span>{{if .With}} <button type="button" data-mark="{{$made}}" data-with="{{.With}}" aria-label="show the settings of {{.Name}}">show</button>{{end}}</td>{{end}}</tr>
{{end}}</tbody></table></div>
`)

// over tells whether the text of a worst point stands above its ring: of what is shown of a board and of
// digital filters the higher has it above, the other below, so that they do not meet.
func (p *Paper) over(s *strip, m mark) bool {
	board := func(m mark) bool { return p.curves.made[m.made].board }
	digital, built := math.NaN(), math.NaN()
	for _, o := range s.marks {
		switch {
		case !o.shown:
		case board(o):
			built = o.y
		default:
			digital = o.y
		}
	}
	return board(m) == (built > digital)
}
