package main

import (
	"fmt"
	"math"
	"strings"

	"bandwright/biquad"
	"bandwright/compiler"
	"bandwright/compiler/verify"
	"bandwright/compiler/words"
)

const (
	summaryWidth = 100 // characters
	// breaksShown keeps a spec with many ways and rates from pushing the table
	// off the screen.
	breaksShown = 5
	// heldShown is how many sentences on a held board are shown.
	heldShown = 8
)

// summary is the verdict, a table of ways × rates × formats, and what to
// change. more says where the broken promises beyond the first few are.
func summary(b *compiler.Build, more string) string {
	var lines []string
	add := func(text, first, rest string) {
		lines = append(lines, words.Wrap(text, first, rest, summaryWidth)...)
	}
	head := b.Spec.Name
	if b.Spec.Revision != "" {
		head += ", revision " + b.Spec.Revision
	}
	add(head, "", "  ")
	v := verify.VerdictOn(b.Findings)
	add(v.String(), "", "  ")
	lines = append(lines, "")
	lines = append(lines, table(b, v)...)

	for i, x := range v.Breaks {
		if i == 0 {
			lines = append(lines, "")
		}
		if i == breaksShown {
			add(fmt.Sprintf("and %d more; %s", len(v.Breaks)-breaksShown, more), "* ", "  ")
			break
		}
		text := x.Worst.Head() + ": " + x.Worst.Where()
		if n := len(x.Findings); x.Checks > 1 {
			text += fmt.Sprintf("; broken in %d of %d realisations", n, x.Checks)
		}
		if x.Worst.Remedy != "" {
			text += "; to keep it: " + x.Worst.Remedy
		}
		add(text, "* ", "  ")
	}
	for _, d := range b.Digital {
		if db := -biquad.GainDB(d.InputGain); math.Abs(db) > 1e-9 {
			lines = append(lines, "")
			add(fmt.Sprintf("the input is attenuated by %s dB: add %s dB of analog make-up gain",
				words.Short(db), words.Short(db)), "", "  ")
			break
		}
	}
	if text := offset(b); text != "" {
		lines = append(lines, "")
		add(text, "", "  ")
	}
	if b.Board != nil && b.Board.Kept != nil {
		k := b.Board.Kept
		lines = append(lines, "")
		add(k.Head(), "", "  ")
		for i, text := range k.Lines() {
			if i == heldShown {
				add(fmt.Sprintf("and %d more; %s", len(k.Lines())-heldShown, more), "* ", "  ")
				break
			}
			add(text, "* ", "  ")
		}
	}
	return strings.Join(lines, "\n") + "\n"
}

// offset is the greatest DC at an output of the board, "" without one.
func offset(b *compiler.Build) string {
	if b.Board == nil {
		return ""
	}
	var worst verify.Figures
	for _, f := range verify.Of(b.Figures, b.Board.Name()) {
		if f.OffsetV.Known && (!worst.OffsetV.Known || f.OffsetV.Value > worst.OffsetV.Value) {
			worst = f
		}
	}
	switch {
	case !worst.OffsetV.Known:
		return ""
	case worst.OffsetV.Value == 0:
		return "DC at the outputs of the board: none, capacitors block it"
	}
	text := fmt.Sprintf("DC at the outputs of the board: at most %s, %s", words.Volt.Measured(worst.OffsetV.Value), worst.Way)
	if len(worst.OffsetV.With) > 0 {
		text += " with " + verify.Choices(worst.OffsetV.With)
	}
	return text
}

// table is one row a way, and one for the sum, in every realisation that the
// spec asks for. An analog product has no rates and formats to tell.
func table(b *compiler.Build, v verify.Verdict) []string {
	var t words.Table
	digital := b.Spec.Digital != nil
	row := func(way, rate, format string, rest ...string) {
		cells := []string{way}
		if digital {
			cells = append(cells, rate, format)
		}
		t.Row(append(cells, rest...)...)
	}
	row("way", "rate", "format", "worst error", "at", "top octave", "phase", "promises")
	add := func(realisation, rate, format string) {
		for _, f := range verify.Of(b.Figures, realisation) {
			at := "-"
			if f.Magnitude.Known && f.Magnitude.AtHz > 0 {
				at = words.Hz(f.Magnitude.AtHz)
			}
			row(f.Way, rate, format, value(f.Magnitude, words.DB), at,
				value(f.TopOctave, words.DB), value(f.Phase, words.Deg), kept(v, realisation, f.Way))
		}
	}
	for _, d := range b.Digital {
		if d.Asked {
			add(d.Name(), words.Rate(d.RateHz), d.Format.Name)
		}
	}
	if b.Board != nil {
		add(b.Board.Name(), "-", "board")
	}
	return t.Lines("", summaryWidth)
}

func value(e verify.Extreme, unit words.Unit) string {
	if !e.Known {
		return "-"
	}
	return unit.Signed(e.Value)
}

// kept is what became of a row's promises.
func kept(v verify.Verdict, realisation, way string) string {
	checks, fails := v.Of(realisation, way)
	switch {
	case checks == 0:
		return "-"
	case fails == 0:
		return "kept"
	}
	return fmt.Sprintf("BROKEN: %d of %d", fails, checks)
}
