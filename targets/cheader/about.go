package cheader

import (
	"fmt"
	"math"
	"math/cmplx"
	"slices"
	"strings"

	"bandwright/biquad"
	"bandwright/compiler"
	"bandwright/compiler/verify"
	"bandwright/compiler/words"
)

// place is where a position stands: position k of cascade number cascade of a
// realisation, 0 the common one.
type place struct {
	digital    compiler.Digital
	cascade, k int
}

// about is what the comment above a position says: rate, cascade and number, of
// a fixed position what it realises, its form and error.
func about(b *compiler.Build, p place, s biquad.Slot[biquad.Digital]) string {
	where := fmt.Sprintf("common %d", p.k)
	if p.cascade > 0 {
		where = fmt.Sprintf("%s %d", p.digital.System.Ways[p.cascade-1].Name, p.k)
		if ways := waysWith(p.digital, s); len(ways) > 1 {
			where = words.List(ways)
		}
	}
	form := "constant"
	for _, a := range s.Alt {
		if a.Order() > 0 {
			form = a.Form.String()
		}
	}
	realises := "by choice"
	if len(s.Alt) == 1 {
		realises = realised(b, p, s, 0, lines(s.From))
	}
	return fmt.Sprintf("%d Hz, %s: %s; %s, %.0f dB", wholeHz(p.digital.RateHz), where, realises, form, s.Error.TotalDB)
}

// waysWith are the ways that have the same position.
func waysWith(d compiler.Digital, s biquad.Slot[biquad.Digital]) []string {
	var out []string
	for _, w := range d.System.Ways {
		if len(s.By) > 0 && slices.ContainsFunc(w.Slots, func(x biquad.Slot[biquad.Digital]) bool { return samePosition(x, s) }) {
			out = append(out, w.Name)
		}
	}
	return out
}

// samePosition reports that two positions have the same alternatives for the same choices.
func samePosition(a, b biquad.Slot[biquad.Digital]) bool {
	return slices.Equal(a.Alt, b.Alt) && slices.Equal(a.By, b.By) && slices.Equal(a.Pick, b.Pick)
}

// aboutChoice is what a row under a setting is: for which choices it stands,
// the spec line that it realises with its poles, or the gain of a constant.
func aboutChoice(b *compiler.Build, p place, s biquad.Slot[biquad.Digital], alt int) string {
	text := verify.Picked(b.Settings, &s, alt) + ": "
	switch gain := s.Alt[alt].B[0]; {
	case s.Alt[alt].Order() > 0:
		return text + realised(b, p, s, alt, []string{s.Line(alt)})
	case gain == 1:
		return text + "straight through"
	default:
		return text + s.Line(alt) + ", " + decibels(math.Abs(gain)) + " dB"
	}
}

// lines are the spec lines that a position realises, each once. A pass-through
// is labelled by all lines that it is without, joined by +; those have been
// named already.
func lines(from []string) []string {
	var out []string
	for _, f := range from {
		for _, line := range strings.Split(f, " + ") {
			if !slices.Contains(out, line) {
				out = append(out, line)
			}
		}
	}
	return out
}

// realised is the spec lines of an alternative with the frequency and Q that
// its poles ring at. Lines that were made together have one label for all
// sections: there those whose prototype has the same poles stand in its place,
// where there are such.
func realised(b *compiler.Build, p place, s biquad.Slot[biquad.Digital], alt int, label []string) string {
	var own, owners []string
	for _, root := range s.Alt[alt].Ringing(p.digital.RateHz) {
		switch {
		case imag(root) < 0:
			continue
		case math.IsInf(real(root), 0):
			own = append(own, "z = 0")
			continue
		case imag(root) >= math.Pi*p.digital.RateHz:
			own = append(own, "half the rate")
			continue
		}
		text := words.Hz(cmplx.Abs(root) / (2 * math.Pi))
		if imag(root) > 0 {
			text += ", Q " + words.Three(cmplx.Abs(root)/(2*math.Abs(real(root))))
		}
		own = append(own, text)
		if line := lineOf(b, p.cascade, root); line != "" && !slices.Contains(owners, line) {
			owners = append(owners, line)
		}
	}
	if len(owners) > 0 && !slices.ContainsFunc(owners, func(line string) bool { return slices.Contains(label, line) }) {
		label = owners
	}
	text := strings.Join(label, ", ")
	switch {
	case len(own) == 0:
		return text
	case s.Alt[alt].A[2] == 0:
		return text + ", pole at " + own[0]
	}
	return text + ", poles at " + strings.Join(slices.Compact(own), " and ")
}

// samePole is how far apart, re its distance from 0, a pole of the prototype and
// the one that realises it may lie. Fits move those near half the rate.
const samePole = 0.1

// lineOf is the spec line of a cascade whose prototype has the pole nearest to
// root (rad/s); "" where none lies there.
func lineOf(b *compiler.Build, cascade int, root complex128) string {
	if cascade > len(b.Prototype.Ways) {
		return ""
	}
	slots := b.Prototype.Common.Slots
	if cascade > 0 { // what settings change of the common part may stand behind the ways
		own := b.Prototype.Ways[cascade-1].Slots
		slots = slices.Concat(own, slices.DeleteFunc(slices.Clone(slots), func(s biquad.Slot[biquad.Analog]) bool { return len(s.By) == 0 }))
	}
	line, least := "", samePole*cmplx.Abs(root)
	for _, s := range slots {
		for alt, a := range s.Alt {
			for _, pole := range a.Poles() {
				if d := cmplx.Abs(pole - root); d < least {
					line, least = s.Line(alt), d
				}
			}
		}
	}
	return line
}
