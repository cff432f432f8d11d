package promise

import (
	"bandwright/compiler/acoustic"
	"bandwright/compiler/verify"
)

// Air is what promises about drivers and amplifiers are judged by.
type Air struct {
	System *acoustic.System
	Heard  []*acoustic.Heard
	// BandGiven says that the spec says where the sum is judged.
	BandGiven bool
	// Mend is advice for a sum that departs so far (dB) in a realisation, which was tried;
	// "" where none is better.
	Mend func(h *acoustic.Heard, limit float64) string
}

// InAir holds drivers, amplifiers and the sum in the air to what is promised of them.
func (p Promises) InAir(a Air) []verify.Finding {
	var out []verify.Finding
	for _, r := range []struct {
		row *Row
		of  func(a Air, limit float64) []verify.Finding
	}{{&AcousticSum, acousticSums}, {&Excursion, excursions}, {&Amplifier, amplifiers}, {&Pattern, patterns}} {
		if l := p.Limit(r.row); l.On {
			out = append(out, r.of(a, l.Value)...)
		}
	}
	return out
}

// hardly is the part beyond a limit that is the rounding of the search.
const hardly = 1e-6

// broken counts the settings of which something is beyond a limit.
func broken(settings []acoustic.Strain, beyond func(acoustic.Strain) bool) (n int) {
	for _, s := range settings {
		if beyond(s) {
			n++
		}
	}
	return n
}

// choices are those of a setting that is told, never nil.
func choices(cs []verify.Choice) []verify.Choice {
	if cs == nil {
		return []verify.Choice{}
	}
	return cs
}
