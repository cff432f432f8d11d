// Package explain writes, for people, what every filter of a spec became: its
// analog poles and zeros, the positions that realise it at each rate, by which
// method, why, and at what error; and which op-amp stages its sections may be.
// A Build goes in, text comes out.
package explain

import (
	"fmt"
	"math"
	"strings"

	"bandwright/biquad"
	"bandwright/biquad/discretize"
	"bandwright/compiler"
	"bandwright/compiler/verify"
	"bandwright/compiler/words"
)

// width is the widest line (characters).
const width = 100

// Text explains one way, or all of them and the common filters where way is
// "". A way that the spec has not is an error that names those it has.
func Text(b *compiler.Build, way string) (string, error) {
	if err := known(b, way); err != nil {
		return "", err
	}
	e := &explainer{b: b}
	e.why()
	if len(b.Prototype.Common.Slots) > 0 || b.Prototype.Common.Gain != 1 {
		e.cascade("common, before the ways split", b.Prototype.Common, 1)
		for _, d := range b.Digital {
			if d.Asked {
				e.realised(d, d.System.Common, nil)
			}
		}
	}
	for k, w := range b.Prototype.Ways {
		if way != "" && w.Name != way {
			continue
		}
		e.cascade("way "+w.Name, w.Cascade, w.Polarity)
		for _, d := range b.Digital {
			if d.Asked {
				e.realised(d, d.System.Ways[k].Cascade, e.figures(d, w.Name))
			}
		}
	}
	return strings.TrimLeft(e.out.String(), "\n"), nil
}

type explainer struct {
	b   *compiler.Build
	out strings.Builder
}

func (e *explainer) line(indent, text string) {
	for _, l := range words.Wrap(text, indent, indent+"  ", width) {
		e.out.WriteString(l + "\n")
	}
}

// why says once what the choices below follow from.
func (e *explainer) why() {
	d := e.b.Spec.Digital
	if d == nil {
		e.line("", "an analog product: `explain --board` says why each of its op-amp stages is what it is")
		return
	}
	m, _ := discretize.ByName(d.Method)
	e.line("", "method "+m.Name+": "+m.Doc)
	switch {
	case d.SectionBySection:
		e.line("", "section-by-section: every section is realised separately, so that a changed filter changes only its own coefficients")
	case len(e.b.Prototype.Axes()) > 0:
		e.line("", "filters under a setting are realised separately, so that a switch changes only their coefficients")
	}
	e.line("", "form: the one of the number format with the least computed error (coefficient rounding and round-off noise, re the section's peak)")
}

// cascade describes the ideal: gain, polarity, delay, and every filter's poles
// and zeros.
func (e *explainer) cascade(title string, c biquad.Cascade[biquad.Analog], polarity float64) {
	e.out.WriteString("\n" + title + "\n")
	what := []string{"gain " + gain(c.Gain)}
	if polarity < 0 {
		what = append(what, "inverted")
	}
	if c.DelayS > 0 {
		what = append(what, "delay "+words.Seconds(c.DelayS))
	}
	e.line("  ", strings.Join(what, ", "))
	for _, s := range c.Slots {
		for i, a := range s.Alt {
			name := s.From[0]
			if len(s.By) > 0 {
				name = s.From[i] + choices(e.b, s, i)
				if a == biquad.Constant(1) {
					e.line("  ", name+": bypassed")
					continue
				}
			}
			e.line("  ", name+": "+section(a))
		}
	}
	if len(c.Slots) == 0 {
		e.line("  ", "no filters")
	}
}

// choices says in which combinations of settings an alternative applies.
func choices[S biquad.Section](b *compiler.Build, s biquad.Slot[S], alt int) string {
	var all []string
	biquad.Each(s.By, len(b.Settings), func(c biquad.Combination) {
		if s.Index(c) != alt {
			return
		}
		var one []string
		for _, ax := range s.By {
			set := b.Settings[ax.Setting]
			one = append(one, set.Name+" "+set.Choices[c[ax.Setting]])
		}
		all = append(all, strings.Join(one, " and "))
	})
	return " (" + strings.Join(all, ", or ") + ")"
}

// gain is a gain in dB, 0 dB for one that is 1 but for rounding.
func gain(g float64) string {
	db := biquad.GainDB(math.Abs(g))
	if math.Abs(db) < 1e-9 {
		return "0 dB"
	}
	return words.Signed(db, "dB")
}

// section is an analog section in words.
func section(a biquad.Analog) string {
	if a.Order() == 0 {
		return "gain " + gain(a.B[0]/a.A[0])
	}
	zeros := roots("zero", a.Zeros())
	if zeros == "" {
		zeros = "no zeros"
	}
	n := a.Order()
	return roots("pole", a.Poles()) + "; " + zeros + "; " + end(a.B[0]/a.A[0], "at 0 Hz") + ", " + end(a.B[n]/a.A[n], "at high frequencies")
}

// end is the gain at one end of the frequency range.
func end(g float64, where string) string {
	if g == 0 {
		return "-inf dB " + where
	}
	return gain(g) + " " + where
}

// roots are poles or zeros (rad/s) as frequencies with their Q.
func roots(name string, rs []complex128) string {
	var out, real1 []string
	for _, r := range rs {
		w := math.Hypot(real(r), imag(r))
		hz := words.Hz(w / (2 * math.Pi))
		side := ""
		if real(r) > 0 {
			side = " in the right half plane"
		}
		switch {
		case imag(r) < 0:
		case imag(r) > 0 && math.Abs(real(r)) < 1e-12*w:
			out = append(out, name+" pair on the imaginary axis at "+hz)
		case imag(r) > 0:
			out = append(out, fmt.Sprintf("%s pair at %s, Q %s%s", name, hz, words.Three(w/(2*math.Abs(real(r)))), side))
		case w == 0:
			real1 = append(real1, "0 Hz")
		default:
			real1 = append(real1, hz+side)
		}
	}
	switch {
	case len(real1) == 2 && real1[0] == real1[1]:
		out = append(out, "two "+name+"s at "+real1[0])
	case len(real1) == 2:
		out = append(out, name+"s at "+real1[0]+" and "+real1[1])
	case len(real1) == 1:
		out = append(out, name+" at "+real1[0])
	}
	return strings.Join(out, ", ")
}

// poles are a digital section's poles as the analog frequencies and Q that
// they ring at.
func poles(d biquad.Digital, rateHz float64) string {
	if d.Order() == 0 {
		return "none"
	}
	var out []string
	for _, s := range d.Ringing(rateHz) {
		if imag(s) < 0 {
			continue
		}
		if math.IsInf(real(s), 0) {
			out = append(out, "at once")
			continue
		}
		w := math.Hypot(real(s), imag(s))
		hz := words.Hz(w / (2 * math.Pi))
		if imag(s) > 0 && imag(s) < math.Pi*rateHz { // a pair
			hz += ", Q " + words.Three(w/(2*math.Abs(real(s))))
		}
		out = append(out, hz)
	}
	return strings.Join(out, " and ")
}

// figures finds a way's figures in a realisation.
func (e *explainer) figures(d compiler.Digital, way string) *verify.Figures {
	for i, f := range e.b.Figures {
		if f.Realisation == d.Name() && f.Way == way {
			return &e.b.Figures[i]
		}
	}
	return nil
}

// realised says how a cascade was realised.
func (e *explainer) realised(d compiler.Digital, c biquad.Cascade[biquad.Digital], f *verify.Figures) {
	head := fmt.Sprintf("%s %s", words.Rate(d.RateHz), d.Format.Name)
	if f != nil && f.Magnitude.Known {
		head += fmt.Sprintf(": worst error %s at %s", words.Error(math.Abs(f.Magnitude.Value), "dB"), words.Hz(f.Magnitude.AtHz))
	}
	if n := d.DelaySamples(c); n > 0 {
		head += fmt.Sprintf("; delay line of %s", words.Count(n, "sample", "samples"))
	}
	if t := d.CommonDelayS; t != 0 && f != nil {
		side := "lag"
		if t < 0 {
			side = "lead"
		}
		head += fmt.Sprintf("; all ways %s the prototype by %s", side, words.Seconds(math.Abs(t)))
	}
	e.line("  ", head)
	if len(c.Slots) == 0 {
		return
	}
	var t words.Table
	t.Row("realises", "how", "poles", "form", "rounding")
	for _, s := range c.Slots {
		for k, alt := range s.Alt {
			name := strings.Join(s.From, ", ")
			if len(s.By) > 0 {
				if name = s.From[k]; alt.Order() == 0 && alt.B[0] == 1 {
					continue // a pass-through
				}
			}
			t.Row(name, s.How, poles(alt, d.RateHz), s.Error.Form.String(), words.Level(s.Error.TotalDB, "dB"))
		}
	}
	e.table(&t)
	e.rejected(c)
}

func (e *explainer) table(t *words.Table) {
	for _, l := range t.Lines("    ", width) {
		e.out.WriteString(l + "\n")
	}
}

// rejected says what the other forms of each section would have cost, where the
// number format has others.
func (e *explainer) rejected(c biquad.Cascade[biquad.Digital]) {
	var t words.Table
	t.Row("section", "rejected forms and their rounding")
	found := false
	for _, s := range c.Slots {
		var passed []string
		for _, o := range s.Error.Passed {
			cost := "unstable"
			if !o.Unstable {
				cost = words.Level(o.TotalDB, "dB")
			}
			passed = append(passed, o.Form.String()+" "+cost)
		}
		if s.Error.Pulled {
			passed = append(passed, "poles moved inwards: no form can represent them")
		}
		if passed != nil {
			found = true
			t.Row(strings.Join(lines(s), ", "), strings.Join(passed, ", "))
		}
	}
	if found {
		e.table(&t)
	}
}

// lines are the spec lines of all alternatives, each once. A pass-through is
// called after the lines that it leaves out, joined by plus signs.
func lines(s biquad.Slot[biquad.Digital]) []string {
	var out []string
	for _, f := range s.From {
		out = append(out, strings.Split(f, " + ")...)
	}
	return words.Once(out)
}
