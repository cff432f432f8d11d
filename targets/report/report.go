// Package report emits report.txt, the error report that a person reads in a
// terminal: the verdict first, then what to change, then how far every way is
// from its prototype and where. It prints what was measured and judges
// nothing.
//
// Read first: Emit.
package report

import (
	"fmt"
	"strings"

	"bandwright/biquad"
	"bandwright/compiler"
	"bandwright/compiler/brief"
	"bandwright/compiler/verify"
	"bandwright/compiler/words"
)

// width is the greatest length of a line, in characters.
const width = 100

// nameWidth is the width of the names under the verdict (characters).
const nameWidth = len("headroom") + 2

// Emit is report.txt.
func Emit(b *compiler.Build) ([]compiler.File, error) {
	p := &page{}
	v := verify.VerdictOn(b.Findings)
	identity(p, b, v)
	broken(p, v)
	promises(p, b, v)
	for _, d := range b.Digital {
		if d.Asked {
			realisation(p, b, d)
		}
	}
	boardRealisation(p, b)
	crossovers(p, b)
	air(p, b)
	input(p, b)
	terms(p, b)
	warnings(p, b)
	cautions(p, b)
	return []compiler.File{{Name: "report.txt", Data: []byte(p.text.String())}}, nil
}

// page collects lines of at most width characters.
type page struct{ text strings.Builder }

func (p *page) line(s string) {
	p.text.WriteString(s)
	p.text.WriteByte('\n')
}

// heading starts a part of the report.
func (p *page) heading(s string) {
	p.line("")
	for _, l := range words.Wrap(s, "", "", width) {
		p.line(l)
	}
}

// note is a paragraph, indented under its heading.
func (p *page) note(s string) { p.item(s, "  ", "  ") }

// item is a paragraph whose first line starts with first, the others with
// rest.
func (p *page) item(s, first, rest string) {
	for _, l := range words.Wrap(s, first, rest, width) {
		p.line(l)
	}
}

func (p *page) table(t *words.Table) {
	for _, l := range t.Lines("  ", width) {
		p.line(l)
	}
}

// identity is the verdict and what it is about.
func identity(p *page, b *compiler.Build, v verify.Verdict) {
	p.item(v.String(), "", "  ")
	for _, x := range brief.Facts(b) {
		p.item(x.Text, "  "+x.Name+strings.Repeat(" ", nameWidth-len(x.Name)), "  "+strings.Repeat(" ", nameWidth))
	}
	p.line("")
	title := b.Spec.Name
	if b.Spec.Title != "" {
		title += ": " + b.Spec.Title
	}
	p.item(title, "spec      ", "          ")
	if b.Spec.Revision != "" {
		p.item(b.Spec.Revision, "revision  ", "          ")
	}
	p.item(b.SHA256, "SHA-256   ", "          ")
	p.item(extent(b), "checked   ", "          ")
	if s := more(b); s != "" {
		p.item(s, "more      ", "          ")
	}
}

// more says where the detail is that this report leaves out.
func more(b *compiler.Build) string {
	var out []string
	if hasDigital(b) {
		out = append(out, "`bandwright explain SPEC` shows each filter's sections, methods and forms")
	}
	if b.Board != nil {
		out = append(out, "`bandwright explain --board SPEC` shows the op-amp stages and why each was chosen")
	}
	return strings.Join(out, "; ")
}

// hasDigital tells a spec with digital filters from one of an analog product.
func hasDigital(b *compiler.Build) bool { return b.Spec.Digital != nil }

// extent says over what the promises were judged.
func extent(b *compiler.Build) string {
	rates := map[float64]bool{}
	formats := map[string]bool{}
	for _, d := range b.Digital {
		if d.Asked {
			rates[d.RateHz] = true
			formats[d.Format.Name] = true
		}
	}
	s := fmt.Sprintf("%s to %s, %s", words.Hz(b.Promises.LowHz), words.Hz(b.Promises.HighHz), words.Count(len(b.Prototype.Ways), "way", "ways"))
	if hasDigital(b) {
		s += fmt.Sprintf(" at %s in %s", words.Count(len(rates), "rate", "rates"), words.Count(len(formats), "number format", "number formats"))
	}
	switch {
	case b.Board != nil && hasDigital(b):
		s += " and on a board"
	case b.Board != nil:
		s += " on a board"
	}
	if len(b.Settings) > 0 {
		n := 1
		for _, ax := range b.Prototype.Axes() {
			n *= ax.Choices
		}
		s += ", all " + words.Count(n, "combination", "combinations") + " of settings"
	}
	return s
}

// terms says what the columns of the tables are whose names do not tell it.
func terms(p *page, b *compiler.Build) {
	if len(b.Figures) == 0 {
		return
	}
	p.heading("What the columns are")
	p.note("error: realised over ideal, in the worst combination of settings. group delay: the greatest difference from the ideal's; " +
		"at low frequencies it is large in time and small in phase.")
	if hasDigital(b) {
		p.note("sine peak: output for a full-scale sine at the worst frequency. L1 bound: no input within full scale drives the output " +
			"above it (the sum of the impulse response's magnitudes). pole margin: distance of the outermost pole from the unit circle.")
	}
	if b.Batch != nil {
		p.note("50 %, 95 %, 99 %: what so many simulated boards stay within, in every setting, where the ideal is within 20 dB of its peak; trimmed: with each way's " +
			"level set for least error in the default setting; pairs: two boards against each other; worst corner: every part at an end of its tolerance.")
	}
	if b.Board != nil {
		p.note("noise: RMS, 20 Hz to 20 kHz. DC offset: worst case, all offset voltages and bias currents adding. " +
			"clips from: RMS of the least sine at the input with which an op-amp of the way, common stages included, reaches its swing, " +
			"its output current or its slew rate (2 pi f times the peak), asked for at the input's level.")
	}
}

// broken lists what is not kept and what to change.
func broken(p *page, v verify.Verdict) {
	for i, x := range v.Breaks {
		if i == 0 {
			p.heading("What is broken, and what to change")
		}
		p.item(x.Worst.Head(), "  * ", "    ")
		for _, f := range x.Findings {
			p.item(f.Where(), "      ", "        ")
		}
		if x.Worst.Remedy != "" {
			p.item("to keep it: "+x.Worst.Remedy, "      ", "        ")
		}
	}
}

// promises is one line a promise: its limit and its worst check.
func promises(p *page, b *compiler.Build, v verify.Verdict) {
	if len(v.Promises) == 0 {
		return
	}
	p.heading("Promises: limits and worst results")
	t := words.Table{Names: 6}
	t.Row("promise", "verdict", "kept", "limit", "worst", "at", "way", "realisation")
	for _, x := range v.Promises {
		verdict := "kept"
		if !x.Kept() {
			verdict = "BROKEN"
		}
		t.Row(x.Promise, verdict, fmt.Sprintf("%d of %d", x.Checks-x.Fails, x.Checks), x.Worst.LimitText(),
			x.Worst.WorstText(), at(x.Worst.AtHz), x.Worst.Way, strings.TrimPrefix(x.Worst.Realisation, "digital "))
	}
	p.table(&t)
	p.note(reach(b))
}

// reach says how far down responses are checked, and where phase is.
func reach(b *compiler.Build) string {
	down := b.Promises.DownToDB
	if b.Board != nil && len(b.Digital) == 0 {
		down = b.Board.DownToDB()
	}
	text := fmt.Sprintf("magnitude is checked down to %s dB below each way's peak", words.Exact(-down))
	if b.Board != nil && len(b.Digital) > 0 {
		text += fmt.Sprintf(", on the board down to %s dB", words.Exact(-b.Board.DownToDB()))
	}
	if len(b.Prototype.Ways) > 1 {
		text += fmt.Sprintf("; phase where a neighbouring way is within %d dB", biquad.NeighbourDB)
	}
	return text
}

// at is a frequency cell, "-" where none belongs to the figure.
func at(hz float64) string {
	if hz > 0 {
		return words.Hz(hz)
	}
	return "-"
}
