package finished

import (
	"fmt"
	"slices"
	"strings"

	"bandwright/biquad"
	"bandwright/compiler"
	"bandwright/compiler/diagnosis"
	"bandwright/compiler/verify"
	"bandwright/compiler/words"
)

// usualRates are sampling rates (Hz) that a system is run at by mistake.
var usualRates = []float64{32000, 44100, 48000, 88200, 96000, 176400, 192000}

// alternatives are what a digital system may be instead: run at another rate than its words are
// for, without one of its sections, with a way of which nothing is heard, or with outputs that nothing filters.
func alternatives(b *compiler.Build, t Terms, gain float64, hz []float64) []diagnosis.Alternative {
	var out []diagnosis.Alternative
	d := t.Digital
	for _, rate := range usualRates {
		if rate != d.RateHz {
			out = append(out, diagnosis.Alternative{
				Text: fmt.Sprintf("the filters for %s run at %s", words.Rate(d.RateHz), words.Rate(rate)),
				H:    respond(d.System, t, gain, d.RateHz, stretched(hz, d.RateHz/rate)),
			})
		}
	}
	for _, other := range b.Digital { // the tables of another rate
		if other.Format.Name == d.Format.Name && other.RateHz != d.RateHz {
			out = append(out, diagnosis.Alternative{
				Text: fmt.Sprintf("the filters for %s run at %s", words.Rate(other.RateHz), words.Rate(d.RateHz)),
				H:    respond(other.System, t, gain, other.RateHz, stretched(hz, other.RateHz/d.RateHz)),
			})
		}
	}
	without := func(where string, slots []biquad.Slot[biquad.Digital], put func(s *biquad.System[biquad.Digital], slots []biquad.Slot[biquad.Digital])) {
		for i, slot := range slots {
			if s := slot.Alt[slot.Index(t.C)]; s.Order() == 0 && s.B[0] == 1 {
				continue // passes through
			}
			left := append(append([]biquad.Slot[biquad.Digital]{}, slots[:i]...), slots[i+1:]...)
			system := d.System
			system.Ways = append([]biquad.Way[biquad.Digital]{}, d.System.Ways...)
			put(&system, left)
			out = append(out, diagnosis.Alternative{
				Text: fmt.Sprintf("section %d %s is missing (%s)", i, where, strings.Join(words.Once(slot.From), ", ")),
				H:    respond(system, t, gain, d.RateHz, hz),
			})
		}
	}
	without("of the common ones", d.System.Common.Slots, func(s *biquad.System[biquad.Digital], slots []biquad.Slot[biquad.Digital]) { s.Common.Slots = slots })
	for _, w := range t.Ways {
		without("of "+d.System.Ways[w].Name, d.System.Ways[w].Slots, func(s *biquad.System[biquad.Digital], slots []biquad.Slot[biquad.Digital]) { s.Ways[w].Slots = slots })
	}
	for k, w := range t.Ways {
		if len(t.Ways) > 1 { // where nothing is heard of any way there is no measurement
			h := respond(d.System, t, gain, d.RateHz, hz)
			h[k] = make([]complex128, len(hz))
			out = append(out, diagnosis.Alternative{Text: d.System.Ways[w].Name + " is silent: muted, or not connected", H: h})
		}
	}
	return append(out, unfiltered(t, gain, hz)...)
}

// unfiltered are outputs that are the input as it is, all of them or one: a processor in bypass, or one that was started
// without its filters.
func unfiltered(t Terms, gain float64, hz []float64) []diagnosis.Alternative {
	s := t.Digital.System
	through := slices.Repeat([]complex128{1}, len(hz))
	all := diagnosis.Alternative{Text: "no filter runs: every output is the input as it is"}
	var out []diagnosis.Alternative
	for k, w := range t.Ways {
		all.H = append(all.H, through)
		if len(s.Common.Slots)+len(s.Ways[w].Slots) == 0 {
			continue // as it is meant
		}
		if len(t.Ways) > 1 {
			h := respond(s, t, gain, t.Digital.RateHz, hz)
			h[k] = through
			out = append(out, diagnosis.Alternative{Text: s.Ways[w].Name + " is the input as it is: its filters do not run", H: h})
		}
	}
	if len(out) > 0 || len(s.Common.Slots)+len(s.Ways[t.Ways[0]].Slots) > 0 {
		out = append(out, all)
	}
	return out
}

// stretched are frequencies in another proportion.
func stretched(hz []float64, by float64) []float64 {
	out := make([]float64, len(hz))
	for i, f := range hz {
		out[i] = f * by
	}
	return out
}

// respond are the responses of the ways measured of a digital system.
func respond(s biquad.System[biquad.Digital], t Terms, gain, rateHz float64, hz []float64) [][]complex128 {
	var out [][]complex128
	for _, w := range t.Ways {
		h := make([]complex128, len(hz))
		biquad.DigitalAt(h, s.Path(w), t.C, rateHz, hz)
		for i, f := range hz {
			if h[i] *= complex(gain, 0); f > verify.TopOfRate*rateHz {
				h[i] = 0
			}
		}
		out = append(out, h)
	}
	return out
}
