// Package number holds the number formats: how words are rounded, in which
// form a section is kept, what the arithmetic adds in noise, and a bit-true
// simulation of the kernel that the C target emits.
//
// Ideal digital sections come in, sections whose coefficients are exactly the
// words of the format go out. The one invariant: what a Machine computes is,
// bit for bit, what the emitted C computes.
//
// Each format is one row of Formats. Read first: Format, Quantise, Machine.
package number

import "bandwright/biquad"

// Format is one row of the table of number formats.
type Format struct {
	Name string // as in the spec: "float32"
	Doc  string // one sentence
	// Forms are the forms that a section may be kept in; the first is
	// preferred where computed errors are equal.
	Forms []biquad.Form
	// Round is the word nearest to x, as a float64.
	Round func(x float64) float64
	// UnitRoundOff is half the distance between 1 and the next word.
	UnitRoundOff float64
	// kernel builds the bit-true simulation of one channel.
	kernel func(chains []chain) kernel
}

// ByName finds a format's row.
func ByName(name string) (Format, bool) {
	for _, f := range Formats {
		if f.Name == name {
			return f, true
		}
	}
	return Format{}, false
}
