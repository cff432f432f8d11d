package suggest

import (
	"math"
	"slices"
	"strings"

	"bandwright/compiler/language"
	"bandwright/compiler/prototype"
	"bandwright/compiler/words"
)

// Form is a way to write a filter of some kind, with what may be adjusted in it.
type Form struct {
	Kind     string
	Fixed    [][2]string // keys and words or whole numbers that stand
	Adjusts  []Adjusted
	Sections int
	// acts is where the filter changes the level: around its frequency, below or above it. start
	// is where to begin: hz is the frequency, off how far the response is above the target
	// where the filter acts, in dB.
	acts side
	// odd (dB) is what a form has to be better by: a reader expects a hump to be cut by a peak.
	odd   float64
	start func(hz, off float64) []float64
}

// Adjusted is a number of a form. Frequencies and Qs are adjusted by their logarithm.
type Adjusted struct {
	Key  string // "at", or "from.at" inside a mapping
	Unit unit
}

type side int

const (
	around side = iota
	below
	above
)

type unit int

const (
	inHz unit = iota
	asQ
	inDB
	asPoleQ  // of a pair of poles
	asShelfQ // of a shelf: with more of it, it overshoots
)

const butterworthQ = 0.7071

// Forms are all that are tried, in the order in which equals are preferred.
var Forms = []Form{
	{Kind: "peak", Adjusts: []Adjusted{{"at", inHz}, {"q", asQ}, {"gain", inDB}}, Sections: 1,
		start: func(hz, off float64) []float64 { return []float64{math.Log(hz), math.Log(2), -off} }},
	{Kind: "low-shelf", acts: below, Adjusts: []Adjusted{{"at", inHz}, {"q", asShelfQ}, {"gain", inDB}}, Sections: 1,
		start: func(hz, off float64) []float64 { return []float64{math.Log(hz), math.Log(butterworthQ), -off} }},
	{Kind: "high-shelf", acts: above, Adjusts: []Adjusted{{"at", inHz}, {"q", asShelfQ}, {"gain", inDB}}, Sections: 1,
		start: func(hz, off float64) []float64 { return []float64{math.Log(hz), math.Log(butterworthQ), -off} }},
	{Kind: "low-shelf", acts: below, Fixed: [][2]string{{"order", "1"}}, Adjusts: []Adjusted{{"at", inHz}, {"gain", inDB}}, Sections: 1,
		start: func(hz, off float64) []float64 { return []float64{math.Log(hz), -off} }},
	{Kind: "high-shelf", acts: above, Fixed: [][2]string{{"order", "1"}}, Adjusts: []Adjusted{{"at", inHz}, {"gain", inDB}}, Sections: 1,
		start: func(hz, off float64) []float64 { return []float64{math.Log(hz), -off} }},
	{Kind: "pole-shift", acts: below, odd: 0.1, Adjusts: []Adjusted{{"from.at", inHz}, {"from.q", asPoleQ}, {"to.at", inHz}, {"to.q", asPoleQ}}, Sections: 1,
		start: func(hz, off float64) []float64 {
			return []float64{math.Log(hz), math.Log(butterworthQ), math.Log(hz) + off*math.Ln10/40, math.Log(butterworthQ)}
		}},
	{Kind: "dipole-lift", acts: below, odd: 0.02, Adjusts: []Adjusted{{"from", inHz}, {"to", inHz}}, Sections: 1,
		start: func(hz, off float64) []float64 { return []float64{math.Log(hz), math.Log(hz) + off*math.Ln10/20} }},
	passing("high-pass", "butterworth", 1), passing("low-pass", "butterworth", 1),
	resonant("high-pass"), resonant("low-pass"),
	passing("high-pass", "butterworth", 3), passing("low-pass", "butterworth", 3),
	passing("high-pass", "LR", 4), passing("low-pass", "LR", 4),
	passing("high-pass", "butterworth", 4), passing("low-pass", "butterworth", 4),
}

func passing(kind, family string, order int) Form {
	return Form{Kind: kind, Fixed: [][2]string{{"family", family}, {"order", words.Short(float64(order))}}, Adjusts: []Adjusted{{"at", inHz}}, Sections: (order + 1) / 2,
		start: func(hz, _ float64) []float64 { return []float64{math.Log(hz)} }}
}

func resonant(kind string) Form {
	return Form{Kind: kind, Adjusts: []Adjusted{{"at", inHz}, {"q", asPoleQ}}, Sections: 1,
		start: func(hz, _ float64) []float64 { return []float64{math.Log(hz), math.Log(butterworthQ)} }}
}

// oddness (dB) is that of all filters of a list.
func oddness(filters []filter) float64 {
	sum := 0.0
	for _, f := range filters {
		sum += f.form.odd
	}
	return sum
}

// filter is a form with its numbers: the logarithms of frequencies and Qs, dB.
type filter struct {
	form *Form
	x    []float64
}

func copied(filters []filter) []filter {
	out := make([]filter, len(filters))
	for i, f := range filters {
		out[i] = filter{f.form, slices.Clone(f.x)}
	}
	return out
}

// siblings are the other forms of a filter's kind, at the same frequency; of a pole-shift
// those of the high-pass or the low-pass that it is nearly where its pairs lie far apart.
func (f filter) siblings() (out []filter) {
	kind, at := f.form.Kind, f.x[0]
	if kind == "pole-shift" {
		kind, at = "high-pass", f.x[2]
		if f.x[2] < f.x[0] {
			kind = "low-pass"
		}
	}
	for i := range Forms {
		if o := &Forms[i]; o != f.form && o.Kind == kind {
			x := o.start(1000, 0)
			x[0] = at
			out = append(out, filter{o, x})
		}
	}
	return out
}

// bounds are how far x may go.
func (a Adjusted) bounds(w *Wish) (low, high float64) {
	switch a.Unit {
	case inHz:
		return math.Log(max(w.FromHz/4, 1)), math.Log(min(w.ToHz*4, 200e3))
	case inDB:
		return -deepestCutDB, deepestCutDB
	case asQ:
		return math.Log(w.LowestQ), math.Log(w.HighestQ)
	case asShelfQ:
		return math.Log(0.4), math.Log(1.2)
	}
	return math.Log(0.3), math.Log(3)
}

// deepestCutDB bounds the gain of a peak or a shelf; what all filters together boost is bounded
// by the wish.
const deepestCutDB = 24

// bound keeps a filter's numbers within their bounds.
func (f filter) bound(w *Wish) {
	for i, a := range f.form.Adjusts {
		low, high := a.bounds(w)
		f.x[i] = max(low, min(f.x[i], high))
	}
	if f.form.Kind == "dipole-lift" { // which levels out below where it begins
		f.x[1] = min(f.x[1], f.x[0]-0.02)
	}
}

// number is what a spec says of x.
func (a Adjusted) number(x float64) float64 {
	if a.Unit == inDB {
		return x
	}
	return math.Exp2(x / math.Ln2)
}

// rounded are filters with so many digits: of dB one less behind the point.
func rounded(filters []filter, digits int) []filter {
	out := copied(filters)
	for _, f := range out {
		for i, a := range f.form.Adjusts {
			v := a.number(f.x[i])
			if a.Unit == inDB {
				scale := math.Exp2(float64(digits-1) * math.Log2(10))
				scale = math.Round(scale)
				f.x[i] = math.Round(v*scale) / scale
				continue
			}
			f.x[i] = math.Log(words.Round(v, digits))
		}
	}
	return out
}

// args are the filter's keys, as the parser would have them.
func (f filter) args() *language.Value {
	v := &language.Value{Given: true}
	for _, w := range f.form.Fixed {
		x := &language.Value{Given: true, Text: w[1], Word: w[1]}
		if w[0] == "order" {
			x.Word, x.Number = "", float64(w[1][0]-'0')
		}
		v.Fields = append(v.Fields, language.Field{Key: w[0], Value: x})
	}
	for i, a := range f.form.Adjusts {
		x := &language.Value{Given: true, Number: a.number(f.x[i]), Dim: a.dim()}
		outer, inner, nested := strings.Cut(a.Key, ".")
		if !nested {
			v.Fields = append(v.Fields, language.Field{Key: outer, Value: x})
			continue
		}
		m := v.Get(outer)
		if m == nil {
			m = &language.Value{Given: true}
			v.Fields = append(v.Fields, language.Field{Key: outer, Value: m})
		}
		m.Fields = append(m.Fields, language.Field{Key: inner, Value: x})
	}
	return v
}

func (a Adjusted) dim() language.Dim {
	switch a.Unit {
	case inHz:
		return language.Frequency
	case inDB:
		return language.Level
	}
	return ""
}

// written is a number as a spec has it.
func (a Adjusted) written(x float64) string {
	v := a.number(x)
	switch a.Unit {
	case inHz:
		v = words.Round(v, 6)
		if v >= 1e3 {
			return words.Exact(words.Round(v/1e3, 6)) + " kHz"
		}
		return words.Exact(v) + " Hz"
	case inDB:
		return words.Exact(words.Round(v, 6)) + " dB"
	}
	return words.Exact(words.Round(v, 6))
}

// text is the mapping of a filter.
func (f filter) text() string {
	var parts []string
	open := ""
	for _, w := range f.form.Fixed {
		parts = append(parts, w[0]+": "+w[1])
	}
	for i, a := range f.form.Adjusts {
		outer, inner, nested := strings.Cut(a.Key, ".")
		switch {
		case !nested:
			parts = append(parts, a.Key+": "+a.written(f.x[i]))
		case open == outer:
			parts[len(parts)-1] = strings.TrimSuffix(parts[len(parts)-1], "}") + ", " + inner + ": " + a.written(f.x[i]) + "}"
		default:
			parts = append(parts, outer+": {"+inner+": "+a.written(f.x[i])+"}")
			open = outer
		}
	}
	return "{" + strings.Join(parts, ", ") + "}"
}

// level is the filter's, in dB.
func (f filter) level(hz []float64) []float64 {
	kind, _ := prototype.ByName(f.form.Kind)
	ideal, _ := kind.Ideal(f.args())
	out := make([]float64, len(hz))
	for i, x := range hz {
		power := ideal.Gain * ideal.Gain
		for _, s := range ideal.Sections {
			w := 2 * math.Pi * x / s.W0
			power *= square(s.B, w*w) / square(s.A, w*w)
		}
		out[i] = max(10/math.Ln10*math.Log(power), -300)
	}
	return out
}

// square is |c0 + c1 p + c2 p²|² at p = jw.
func square(c [3]float64, ww float64) float64 {
	even := c[0] - c[2]*ww
	return even*even + c[1]*c[1]*ww
}
