package promise

import (
	"fmt"
	"math"

	"bandwright/compiler/acoustic"
	"bandwright/compiler/verify"
	"bandwright/compiler/words"
)

// Air is what promises about drivers and amplifiers are judged by.
type Air struct {
	System *acoustic.System
	Heard  []*acoustic.Heard
	// BandGiven says that the spec says where the sum is judged.
	BandGiven bool
	// Mend is advice for a sum that departs so far (dB) in a realisation, which was tried;
	// "" where none is better. Where it is nil no advice is looked for.
	Mend func(h *acoustic.Heard, limit float64) string
	// HighPass says which of some high-passes keeps a promise of a way, by its index, and breaks no other, behind what the
	// finding says otherwise; "" where there is nothing to say. It may be nil as well.
	HighPass func(name string, way int, of []acoustic.HighPass) string
}

// holds says at which level x over frequency keeps a limit, and with which high-pass it does at so many dB re full scale in every
// realisation: of are the same in each.
func (a Air) holds(f *verify.Finding, way int, of func(h *acoustic.Heard) []float64, levelDB []float64, at, limit float64) string {
	var own, most []float64
	for _, h := range a.Heard {
		x := of(h)
		if h.Realisation == f.Realisation {
			own = x
		}
		for i, v := range x {
			if i < len(most) {
				most[i] = math.Max(most[i], v)
			} else {
				most = append(most, v)
			}
		}
	}
	text := fmt.Sprintf("it holds to %s dB", words.Exact(acoustic.HoldsDB(own, limit)+0))
	if a.HighPass == nil {
		return text
	}
	return text + a.HighPass(f.Promise, way, acoustic.HighPasses(a.System.Hz[:len(most)], most, levelDB, at, limit))
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
