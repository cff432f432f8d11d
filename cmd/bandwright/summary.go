package main

import (
	"fmt"
	"math"
	"strings"

	"bandwright/biquad"
	"bandwright/compiler"
	"bandwright/compiler/board"
	"bandwright/compiler/verify"
	"bandwright/compiler/words"
	"bandwright/targets/report"
)

const (
	summaryWidth = 100 // characters
	// breaksShown keeps a spec with many ways and rates from pushing the table
	// off the screen.
	breaksShown = 5
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
	add(report.Verdict(b), "", "  ")
	lines = append(lines, "")
	lines = append(lines, table(b)...)

	broken := report.Breaks(b)
	for i, x := range broken {
		if i == 0 {
			lines = append(lines, "")
		}
		if i == breaksShown {
			add(fmt.Sprintf("and %d more; %s", len(broken)-breaksShown, more), "* ", "  ")
			break
		}
		text := x.Head() + ": " + report.Where(x.Worst)
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
			add(fmt.Sprintf("the input is attenuated by %s dB: give back %s dB in analog gain",
				words.Short(db), words.Short(db)), "", "  ")
			break
		}
	}
	return strings.Join(lines, "\n") + "\n"
}

// table is one row a way, and one for the sum, in every realisation that the
// spec asks for.
func table(b *compiler.Build) []string {
	var t words.Table
	t.Row("way", "rate", "format", "worst error", "at", "top octave", "phase", "promises")
	for _, d := range b.Digital {
		if !d.Asked {
			continue
		}
		for _, f := range report.Of(b, d.Name()) {
			at := "-"
			if f.Magnitude.Known && f.Magnitude.AtHz > 0 {
				at = words.Hz(f.Magnitude.AtHz)
			}
			t.Row(f.Way, words.Rate(d.RateHz), d.Format.Name, value(f.Magnitude, "dB"), at,
				value(f.TopOctave, "dB"), value(f.Phase, "deg"), verdict(b, d.Name(), f.Way))
		}
	}
	if b.Board != nil {
		for _, f := range report.Of(b, board.RealisationName) {
			at := "-"
			if f.Magnitude.Known && f.Magnitude.AtHz > 0 {
				at = words.Hz(f.Magnitude.AtHz)
			}
			t.Row(f.Way, "-", "board", value(f.Magnitude, "dB"), at,
				value(f.TopOctave, "dB"), value(f.Phase, "deg"), verdict(b, board.RealisationName, f.Way))
		}
	}
	return t.Lines("", summaryWidth)
}

func value(e verify.Extreme, unit string) string {
	if !e.Known {
		return "-"
	}
	return words.Signed(e.Value, unit)
}

// verdict is what became of a row's promises.
func verdict(b *compiler.Build, realisation, way string) string {
	checks, fails := 0, 0
	for _, f := range b.Findings {
		if f.Realisation == realisation && f.Way == way {
			checks++
			if !f.Kept {
				fails++
			}
		}
	}
	switch {
	case checks == 0:
		return "-"
	case fails == 0:
		return "kept"
	}
	return fmt.Sprintf("BROKEN: %d of %d", fails, checks)
}
