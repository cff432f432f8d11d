// Package judge lets scipy.signal decide whether what the compiler emits is
// right. Go writes specs, compiles them and tells a Python script, in numbers
// of its own, what the filters of each spec are; the script builds the ideal
// and the digital filters independently, reads NAME.json, and compares.
//
// Read first: TestScipyAgrees, testdata/judge.py.
package judge

import (
	"fmt"
	"strconv"
	"strings"

	"bandwright/compiler/language"
)

// decimal is digits·10^exp: a value that can be written in any unit without
// rounding.
type decimal struct {
	digits int64
	exp    int
}

func (d decimal) float() float64 {
	v, err := strconv.ParseFloat(fmt.Sprintf("%de%d", d.digits, d.exp), 64)
	if err != nil {
		panic(err)
	}
	return v
}

// in writes the value in units of 10^exp, without an exponent.
func (d decimal) in(exp int) string {
	sign, n := "", d.digits
	if n < 0 {
		sign, n = "-", -n
	}
	t, e := strconv.FormatInt(n, 10), d.exp-exp
	if n == 0 {
		return "0"
	}
	if e >= 0 {
		return sign + t + strings.Repeat("0", e)
	}
	for len(t) <= -e {
		t = "0" + t
	}
	t = t[:len(t)+e] + "." + t[len(t)+e:]
	return sign + strings.TrimSuffix(strings.TrimRight(t, "0"), ".")
}

// system is what the judge is told of a spec: the numbers of its filters in
// Hz, dB and seconds. Nothing in it went through package prototype.
type system struct {
	Settings     []setting   `json:"settings"`
	Common       []filter    `json:"common"`
	Ways         []way       `json:"ways"`
	Crossovers   []crossover `json:"crossovers"`
	Compensation string      `json:"compensation"`
	HeadroomDB   float64     `json:"headroom_db"`
}

type setting struct {
	Name    string   `json:"name"`
	Choices []string `json:"choices"`
}

type way struct {
	Name     string   `json:"name"`
	GainDB   float64  `json:"gain_db"`
	Inverted bool     `json:"inverted"`
	DelayS   float64  `json:"delay_s"`
	Filters  []filter `json:"filters"`

	gain, delay string // as the spec writes them
}

type crossover struct {
	Lower int    `json:"lower"`
	Upper int    `json:"upper"`
	Low   filter `json:"low"`
	High  filter `json:"high"`

	same bool // written once for both sides
}

// filter is one line of a spec. A key inside a mapping is joined to it with a
// point: "from.at".
type filter struct {
	Kind  string               `json:"kind"`
	Num   map[string]float64   `json:"num"` // Hz, dB, s or plain
	Word  map[string]string    `json:"word"`
	List  map[string][]float64 `json:"list"`
	Roots map[string][]root    `json:"roots"`
	When  []condition          `json:"when"`

	text []string // the keys as the spec writes them
}

// root is one entry of a list of zeros or poles: Q is nil for a single one
// and 0 for a pair on the imaginary axis.
type root struct {
	AtHz  float64  `json:"at_hz"`
	Q     *float64 `json:"q"`
	Right bool     `json:"right"`
}

type condition struct {
	Setting int   `json:"setting"`
	Choices []int `json:"choices"`
}

func newFilter(kind string) filter {
	return filter{Kind: kind, Num: map[string]float64{}, Word: map[string]string{},
		List: map[string][]float64{}, Roots: map[string][]root{}}
}

// number adds a plain number.
func (f *filter) number(key string, d decimal) {
	f.Num[key] = d.float()
	f.text = append(f.text, key+": "+d.in(0))
}

// quantity adds a number of 10^exp of the unit.
func (f *filter) quantity(key string, d decimal, exp int, unit string) {
	f.Num[key] = d.float()
	f.text = append(f.text, key+": "+d.in(exp)+" "+unit)
}

func (f *filter) word(key, w string) {
	f.Word[key] = w
	f.text = append(f.text, key+": "+w)
}

// line is the filter as a line of a list.
func (f filter) line(settings []setting) string {
	t := f.text
	if len(f.When) > 0 {
		var when []string
		for _, c := range f.When {
			s := settings[c.Setting]
			var names []string
			for _, k := range c.Choices {
				names = append(names, s.Choices[k])
			}
			choice := names[0]
			if len(names) > 1 {
				choice = "[" + strings.Join(names, ", ") + "]"
			}
			when = append(when, s.Name+": "+choice)
		}
		t = append(append([]string{}, t...), "when: {"+strings.Join(when, ", ")+"}")
	}
	return "- " + f.Kind + ": {" + strings.Join(t, ", ") + "}\n"
}

// described reads a parsed spec's own numbers, before anything is computed
// from them.
func described(s *language.Spec) system {
	out := system{Settings: []setting{}, Compensation: s.PhaseCompensation, HeadroomDB: s.Digital.HeadroomDB}
	for _, x := range s.Settings {
		v := setting{Name: x.Name}
		for _, c := range x.Choices {
			v.Choices = append(v.Choices, c.Text)
		}
		out.Settings = append(out.Settings, v)
	}
	for _, f := range s.Common {
		out.Common = append(out.Common, filterOf(f))
	}
	for _, w := range s.Ways {
		d := way{Name: w.Name, GainDB: w.GainDB, Inverted: w.Inverted, DelayS: w.DelayS}
		for _, f := range w.Filters {
			d.Filters = append(d.Filters, filterOf(f))
		}
		out.Ways = append(out.Ways, d)
	}
	for _, x := range s.Crossovers {
		out.Crossovers = append(out.Crossovers, crossover{Lower: x.Lower, Upper: x.Upper, Low: filterOf(x.Low), High: filterOf(x.High)})
	}
	return out
}

func filterOf(f language.Filter) filter {
	out := newFilter(f.Kind)
	for _, c := range f.When {
		out.When = append(out.When, condition{c.Setting, c.Choices})
	}
	var take func(prefix string, v *language.Value)
	take = func(prefix string, v *language.Value) {
		for _, field := range v.Fields {
			key, x := prefix+field.Key, field.Value
			switch {
			case len(x.Fields) > 0:
				take(key+".", x)
			case key == "zeros" || key == "poles":
				for _, item := range x.Items {
					out.Roots[key] = append(out.Roots[key], rootOf(item))
				}
			case x.Items != nil:
				for _, item := range x.Items {
					out.List[key] = append(out.List[key], item.Number)
				}
			case x.Word != "":
				out.Word[key] = x.Word
			case x.Dim == language.Length:
				out.Num[key] = x.Number / speedOfSound
			default:
				out.Num[key] = x.Number
			}
		}
	}
	take("", f.Args)
	// A default that what is given stands in for is not part of the filter.
	if _, ok := out.Num["slope"]; ok || out.Num["order"] == 1 && f.Kind != "low-pass" && f.Kind != "high-pass" {
		delete(out.Num, "q")
	}
	return out
}

func rootOf(v *language.Value) root {
	r := root{AtHz: v.Number}
	if at := v.Get("at"); at != nil {
		r.AtHz = at.Number
		if q := v.Get("q"); q != nil {
			x := q.Number // 0 where the word is inf
			r.Q = &x
		}
		if side := v.Get("side"); side != nil {
			r.Right = side.Word == "right"
		}
	}
	return r
}

// speedOfSound turns lengths into times: 343 m/s in air at 20 °C.
const speedOfSound = 343
