package diagnosis

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"bandwright/compiler/netlist"
	"bandwright/compiler/verify"
	"bandwright/compiler/words"
)

// Sentence says what is wrong.
func (x *Bench) Sentence(h *Hypothesis) string {
	if len(h.Parts) > 0 && h.Text == "" {
		return x.ofParts(h)
	}
	var out []string
	if h.Text != "" {
		out = append(out, h.Text)
	} else if h.C != nil {
		for i, s := range x.subject.Settings {
			if h.C[i] != x.C[i] {
				out = append(out, fmt.Sprintf("%s is at %s, not at %s", s.Name, s.Choices[h.C[i]], s.Choices[x.C[i]]))
			}
		}
	}
	if len(h.Swapped) > 0 {
		out = append(out, fmt.Sprintf("%s and %s are exchanged", x.subject.Ways[h.Swapped[0]], x.subject.Ways[h.Swapped[1]]))
	}
	var ways []string
	for _, w := range h.Inverted {
		ways = append(ways, x.subject.Ways[w])
	}
	switch {
	case len(ways) == len(x.ways) && len(ways) > 1:
		out = append(out, "every way has the wrong polarity: the input's, or that of the bench")
	case len(ways) == 1:
		out = append(out, ways[0]+" has the wrong polarity")
	case len(ways) > 1:
		out = append(out, words.List(ways)+" have the wrong polarity")
	}
	return strings.Join(out, "; ")
}

// ofParts says what is wrong with parts, and where no sound comes of it, or a distorted one, why.
func (x *Bench) ofParts(h *Hypothesis) string {
	text := x.partsText(h)
	if h.fault.stuck != 0 {
		text += ", which leaves an op-amp at a rail"
	}
	if h.fault.swings != 0 {
		text += fmt.Sprintf(", with which an op-amp swings to its rails at %s at the input: measured so loud it would be distorted",
			words.Part(x.board.Spec.Input.Level.In(x.C), "V"))
	}
	return text
}

func (x *Bench) partsText(h *Hypothesis) string {
	p := &x.Parts[h.fault.parts[0]]
	switch h.Kind {
	case Missing:
		return fmt.Sprintf("%s, %s, is missing, or open", p.Ref, value(p.Kind, p.Value))
	case Shorted:
		return fmt.Sprintf("%s, %s, is shorted", p.Ref, value(p.Kind, p.Value))
	case TenTimes:
		return fmt.Sprintf("%s is %s, ten times %s", p.Ref, value(p.Kind, p.Value*10), value(p.Kind, p.Value))
	case Tenth:
		return fmt.Sprintf("%s is %s, a tenth of %s", p.Ref, value(p.Kind, p.Value/10), value(p.Kind, p.Value))
	case Exchanged:
		q := &x.Parts[h.fault.parts[1]]
		return fmt.Sprintf("%s and %s are exchanged, %s and %s", p.Ref, q.Ref, value(p.Kind, p.Value), value(q.Kind, q.Value))
	}
	side, percent := "high", (h.Factor-1)*100
	if percent < 0 {
		side = "low"
	}
	if h.Factor > 2 {
		return fmt.Sprintf("%s is %s, %s times %s", p.Ref, about(p.Kind, p.Value*h.Factor), words.Three(round2(h.Factor)), value(p.Kind, p.Value))
	}
	return fmt.Sprintf("%s is %s %% %s, %s instead of %s", p.Ref, strconv.FormatFloat(math.Abs(percent), 'g', 2, 64), side, about(p.Kind, p.Value*h.Factor), value(p.Kind, p.Value))
}

// value is a part's in words.
func value(kind netlist.Kind, v float64) string { return words.Part(v, unitOf(kind)) }

// about is a value that was estimated.
func about(kind netlist.Kind, v float64) string { return words.Part(words.Round(v, 3), unitOf(kind)) }

func round2(x float64) float64 { return words.Round(x, 2) }

func unitOf(kind netlist.Kind) string {
	if kind == netlist.Capacitor {
		return "F"
	}
	return "ohm"
}

// Percent is a likelihood in words.
func Percent(p float64) string {
	switch {
	case p > 0.999:
		return "> 99.9 %"
	case p < 0.001:
		return "< 0.1 %"
	}
	return strconv.FormatFloat(p*100, 'g', 3, 64) + " %"
}

const (
	// named is how many hypotheses are named, leastNamed how likely the last is at least, and
	// alikeNamed how many that cannot be told from one.
	named, leastNamed, alikeNamed = 4, 0.01, 6
)

// Sentences say what a diagnosis is, the likeliest first.
func (x *Bench) Sentences(d *Diagnosis) []string {
	if !d.Found() {
		return []string{"nothing found, likelihood " + Percent(d.Nothing)}
	}
	var out []string
	if d.Unexplained() {
		out = append(out, "none of what is looked for explains the measurement, likelihood "+Percent(d.Other)+": more than one thing is wrong, or something else")
	}
	for i := range d.Hypotheses {
		h := &d.Hypotheses[i]
		if i == named || i > 0 && h.Likelihood < leastNamed {
			break
		}
		text := x.Sentence(h) + ", likelihood " + Percent(h.Likelihood)
		if i == 0 && d.Unexplained() {
			text = "the nearest: " + text
		} else if i == 0 && len(h.Parts) > 0 {
			text = "fits best: " + text
		} else if i > 0 {
			text = "next best: " + text
			if r := round2(h.Likelihood / d.Hypotheses[0].Likelihood); r == 1 {
				text += ", as likely"
			} else if r >= 0.005 {
				text += ", " + words.Three(r) + " times as likely"
			}
		}
		if len(h.Alike) > 0 {
			text += "; these outputs cannot tell it from: " + x.others(h)
		}
		out = append(out, text)
	}
	if d.Other >= leastNamed && !d.Unexplained() {
		out = append(out, "none of what is looked for, likelihood "+Percent(d.Other))
	}
	return out
}

// Named is a hypothesis in words.
type Named struct {
	What       string
	Likelihood float64
	Parts      []string
	Alike      []string
}

// Named are the hypotheses that are likely enough to be named, in words; none where nothing
// is found.
func (x *Bench) Named(d *Diagnosis) []Named {
	var out []Named
	for i := range d.Hypotheses {
		h := &d.Hypotheses[i]
		if !d.Found() || h.Likelihood < leastNamed && i > 0 {
			break
		}
		n := Named{What: x.Sentence(h), Likelihood: h.Likelihood, Parts: h.Parts}
		for k := range h.Alike {
			n.Alike = append(n.Alike, x.Sentence(&h.Alike[k]))
		}
		out = append(out, n)
	}
	return out
}

// others are the faults that cannot be told from one.
func (x *Bench) others(h *Hypothesis) string {
	var out []string
	for i := range h.Alike {
		if i == alikeNamed {
			out = append(out, fmt.Sprintf("and %d more", len(h.Alike)-alikeNamed))
			break
		}
		out = append(out, x.Sentence(&h.Alike[i]))
	}
	return strings.Join(out, "; ")
}

// Settings are the choices of a combination of the bench in words, "" where there are none.
func (x *Bench) Settings() string {
	var out []verify.Choice
	for i, s := range x.subject.Settings {
		out = append(out, verify.Choice{Setting: s.Name, Choice: s.Choices[x.C[i]]})
	}
	return verify.Choices(out)
}
