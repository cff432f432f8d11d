package page

import (
	"math"
	"slices"
	"strings"

	"bandwright/biquad"
)

// own is a line at places of its own, in any settings: a list of values for every combination of the settings
// that it hangs on; where these are too many, for every choice of one of them, the others at their first. What
// neither adds up nor is small is not carried at all: the script runs it.
type own struct {
	x    [][]float64 // of its axis: Hz, ms
	axes []biquad.Axis
	one  bool        // one setting is changed at a time
	y    [][]float64 // the first is that of the default settings; NaN is nothing
	run  *run
	// add is a way and a realisation whose departure from the prototype is added; from is what follows y (dB) from the
	// default settings on.
	add  *[2]int
	from []float64
}

// ownIn makes a line of what is in a combination, at which places; settings is how many there are. of is called once
// a combination, in their order, and must not keep it; a combination may have nothing.
func ownIn(axes []biquad.Axis, settings int, of func(biquad.Combination) (x, y []float64)) *own {
	o := &own{axes: axes, one: biquad.Count(axes) > mostWhole}
	add := func(c biquad.Combination) {
		x, y := of(c)
		o.x, o.y = append(o.x, x), append(o.y, y)
	}
	if !o.one {
		biquad.Each(axes, settings, add)
		return o
	}
	add(make(biquad.Combination, settings))
	for _, a := range axes {
		for choice := 1; choice < a.Choices; choice++ {
			c := make(biquad.Combination, settings)
			c[a.Setting] = uint8(choice)
			add(c)
		}
	}
	return o
}

// combinations are those that ownIn asks for.
func combinations(axes []biquad.Axis, settings int) (out []biquad.Combination) {
	ownIn(axes, settings, func(c biquad.Combination) (x, y []float64) {
		out = append(out, slices.Clone(c))
		return nil, nil
	})
	return out
}

// first is the line in the default settings, as the script has it.
func (p *Paper) first(o *own) (x, y []float64) {
	x, y = o.x[0], slices.Clone(o.y[0])
	for i, f := range x {
		add := 0.0
		if o.add != nil {
			add = between(p.curves.hz, p.base(magnitudeQ, o.add[0], o.add[1]), f)
			y[i] += add
		}
		if o.from != nil {
			y[i] = o.from[i] * biquad.FromDB(add)
		}
	}
	return x, y
}

// packedOwn is such a line for the script: lists by their places in the page's.
type packedOwn struct {
	X        []int   `json:"x,omitempty"`
	Settings []int   `json:"settings"`
	One      bool    `json:"one,omitempty"`
	Y        []int   `json:"y,omitempty"`
	Run      *run    `json:"run,omitempty"`
	Add      *[2]int `json:"add,omitempty"`
	From     *int    `json:"from,omitempty"`
}

// keep hands a line to the script and returns its place there; -1 of none.
func (p *Paper) keep(o *own) int {
	if o == nil {
		return -1
	}
	out := packedOwn{Settings: []int{}, One: o.one, Run: o.run, Add: o.add}
	if o.from != nil {
		i := p.list(o.from)
		out.From = &i
	}
	if o.run == nil {
		for _, a := range o.axes {
			out.Settings = append(out.Settings, a.Setting)
		}
		for i, y := range o.y {
			out.X, out.Y = append(out.X, p.list(o.x[i])), append(out.Y, p.list(y))
		}
	}
	p.owns = append(p.owns, out)
	return len(p.owns) - 1
}

// list hands numbers to the script, the same ones once, and returns their place.
func (p *Paper) list(x []float64) int {
	text := words32(x)
	if i, ok := p.listed[text]; ok {
		return i
	}
	if p.listed == nil {
		p.listed = map[string]int{}
	}
	p.listed[text] = len(p.lists)
	p.lists = append(p.lists, text)
	return len(p.lists) - 1
}

// note says what a drawing is drawn with: every setting and, where it matters, the digital realisation. The script
// writes the same of what is chosen.
func (p *Paper) note(digital bool) string {
	var with []string
	for _, s := range p.Settings {
		with = append(with, s.Name+": "+s.Choices[0])
	}
	out := strings.Join(with, ", ")
	if digital {
		if out != "" {
			out += "; "
		}
		out += "digital at " + p.curves.made[0].short
	}
	if out == "" {
		return ""
	}
	return "Drawn with " + out + "."
}

// extremes are the least and the greatest of lines in any settings; 0 and 0 of none.
func extremes(all ...*own) (low, high float64) {
	low, high = math.Inf(1), math.Inf(-1)
	for _, o := range all {
		if o == nil {
			continue
		}
		for _, y := range o.y {
			for _, v := range y {
				if !math.IsNaN(v) && !math.IsInf(v, 0) {
					low, high = math.Min(low, v), math.Max(high, v)
				}
			}
		}
	}
	if low > high {
		return 0, 0
	}
	return low, high
}
