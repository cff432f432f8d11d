package circuittest

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"testing"

	"bandwright/biquad"
	"bandwright/compiler/circuit"
)

// tappedSections are several strengths of every kind of filter, in an order that is not that of the taps.
var tappedSections = map[string][]biquad.Analog{
	"strengths of a low shelf":      {shelf(100, 3, 0.7, false), shelf(100, -6, 0.7, false), shelf(100, 6, 0.7, false), shelf(100, -3, 0.7, false)},
	"two boosts of a high shelf":    {shelf(5e3, 2, 0.7, true), shelf(5e3, 4, 0.7, true)},
	"three cuts and one more peak":  {bell(800, -2, 1.5), bell(800, -6, 1.5), bell(800, -4, 1.5), bell(800, 3, 1.5)},
	"strengths of a low shelf only": {shelf(200, -3, 0.7, false), shelf(200, -6, 0.7, false)},
	"up to 9 dB of a slope":         {slope(150, 3, false), slope(150, -9, false), slope(150, 9, false), slope(150, -3, false)},
	"up or down by 4 dB of a slope": {slope(4e3, -4, true), slope(4e3, 4, true)},
	"up to 14 dB of a slope":        {slope(4e3, 2, true), slope(4e3, 14, true), slope(4e3, -6, true)},
	"up never, and down of a slope": {slope(300, -4, false), slope(300, -2, false)},
}

// slope is a first-order shelf of low frequencies, (p+A)/(p+1/A) with A the square root of the strength, or with
// high the same in 1/p.
func slope(hz, db float64, high bool) biquad.Analog {
	a := math.Pow(10, db/40)
	if high {
		return biquad.Analog{W0: 2 * math.Pi * hz, B: [3]float64{1, a}, A: [3]float64{1, 1 / a}}
	}
	return biquad.Analog{W0: 2 * math.Pi * hz, B: [3]float64{a, 1}, A: [3]float64{1 / a, 1}}
}

// tapped are the stages that make sections, with their op-amps.
func tapped(sections []biquad.Analog) map[*circuit.Taps]int {
	out := map[*circuit.Taps]int{}
	for opAmps, of := range []*circuit.Taps{circuit.TappedShelf, circuit.TappedFilter} {
		if of.Stage(sections) != nil {
			out[of] = opAmps + 1
		}
	}
	return out
}

// The taps are in the order of the strengths, whatever that of the sections is; what stands as far from the
// string's other end is the exact reciprocal, whatever the values are, and without a contact the stage is flat.
func TestTapsAreReciprocals(t *testing.T) {
	rng := rand.New(rand.NewPCG(16, 4))
	reciprocal := func(name string, of *circuit.Taps, sections []biquad.Analog, opAmps int) {
		s := of.Stage(sections)
		if s.OpAmps() != opAmps || len(s.States) != len(sections)+1 || s.States[len(sections)].Throw != "" {
			t.Fatalf("%s: %d op-amps, %d states", name, s.OpAmps(), len(s.States))
		}
		ra, rf, first := of.Places(sections)
		at := make([]int, len(sections)) // the state of each tap
		for i, tap := range of.Order(sections) {
			at[tap] = i
		}
		for range samples {
			v := anyParts(rng, s.Topology)
			v[rf] = v[ra]
			string := v[first:]
			for i := range string {
				string[i] = string[min(i, len(string)-1-i)]
			}
			for _, f := range []float64{1, 30, 100, 220, 500, 1e3, 3e3, 1e4, 1e5} {
				w := 2 * math.Pi * f
				for tap, i := range at {
					up, down := s.States[i].Closed(v).At(w), s.States[at[len(at)-1-tap]].Closed(v).At(w)
					if cmplx.Abs(up*down-1) > 1e-9 {
						t.Errorf("%s, tap %d at %g Hz: %v times %v with %v", name, tap+1, f, up, down, v)
					}
				}
				if h := s.States[len(sections)].Closed(v).At(w); h != -1 {
					t.Errorf("%s, flat: %v", name, h)
				}
			}
		}
	}
	stages := 0
	for name, sections := range tappedSections {
		for of, opAmps := range tapped(sections) {
			stages++
			reciprocal(name+" by a "+of.Name, of, sections, opAmps)
		}
	}
	if stages != 10 {
		t.Errorf("%d stages", stages)
	}
	if got := circuit.TappedFilter.Order(tappedSections["strengths of a low shelf"]); got[0] != 1 || got[1] != 3 || got[2] != 0 || got[3] != 2 {
		t.Errorf("taps %v", got)
	}
	for what, none := range map[string][]biquad.Analog{
		"one section":        {bell(800, 6, 1.5)},
		"a shelf and a peak": {shelf(100, 3, 0.7, false), bell(100, -3, 1)},
		"a low and a high":   {shelf(100, 3, 0.7, false), shelf(100, -3, 0.7, true)},
		"one strength twice": {bell(800, 6, 1.5), bell(900, 6, 1.5)},
		"a gain":             {biquad.Constant(2), bell(800, 6, 1.5)},
		"two orders":         {bell(800, 6, 1.5), slope(800, 3, false)},
		"a low and a high 1": {slope(100, 3, false), slope(100, 3, true)},
		"an inverted one":    {slope(100, 3, false), {W0: 600, B: [3]float64{-2, -1}, A: [3]float64{1, 1}}},
		"a low-pass":         {{W0: 600, B: [3]float64{1}, A: [3]float64{1, 1}}, slope(100, 3, false)},
		"a notch":            {bell(800, 6, 1.5), {W0: 5e3, B: [3]float64{1, 0, 1}, A: [3]float64{1, 1, 1}}},
	} {
		if circuit.TappedFilter.Stage(none) != nil || circuit.TappedShelf.Stage(none) != nil {
			t.Errorf("%s is several strengths of one filter", what)
		}
	}
}

// Where a search begins the strongest is exact but for what loads its tap: with a string of a few ohms and
// nothing at the pole, at either end of it, up or down. Of the first order it is exact with what loads it.
func TestTheStrongestIsDesigned(t *testing.T) {
	exact := func(name string, of *circuit.Taps, sections []biquad.Analog) {
		s, taps := of.Stage(sections), of.Order(sections)
		v := of.Start(sections, 1e-7, 1e-8, 10e3, 1e-3, 1e12)
		switch {
		case of == circuit.TappedShelf:
			v = of.StartShelf(sections, 1e-8, 0.02, 5e3)
		case name == "three cuts and one more peak":
			v = of.Start(sections, 1e-8, 1e-8, 10e3, 1e-3, 1e12)
		case name == "two boosts of a high shelf":
			v = of.Start(sections, 1e-9, 1e-9, 10e3, 1e-3, 1e12)
		}
		if v == nil {
			t.Fatalf("%s: no values", name)
		}
		strong := 0
		peak := func(x biquad.Analog) float64 {
			most := 0.0
			for _, w := range []float64{1, 2 * math.Pi * 800, 1e7} {
				most = max(most, math.Abs(biquad.GainDB(cmplx.Abs(x.At(w)))))
			}
			return most
		}
		for i, x := range sections {
			if peak(x) > peak(sections[strong])+1e-6 {
				strong = i
			}
		}
		for _, hz := range []float64{10, 100, 500, 1e3, 3e3, 1e4} {
			w := 2 * math.Pi * hz
			if h, want := s.States[strong].Closed(v).At(w), -sections[strong].At(w); cmplx.Abs(h/want-1) > 1e-5 {
				t.Errorf("%s, tap %d at %g Hz: %v, want %v", name, taps[strong]+1, hz, h, want)
			}
		}
	}
	for name, sections := range tappedSections {
		for of := range tapped(sections) {
			exact(name, of, sections)
		}
	}
}

// With a real op-amp it does not oscillate in any position, nor between two of them where the contact makes
// before it breaks: taps near the output feed both op-amps back.
func TestTappedFiltersAreStable(t *testing.T) {
	n := 0
	for _, hz := range []float64{40, 800, 5e3, 15e3} {
		for _, db := range []float64{3, 12} {
			for name, of := range map[string]func(db float64) biquad.Analog{
				"low shelf":  func(db float64) biquad.Analog { return shelf(hz, db, 0.7, false) },
				"high shelf": func(db float64) biquad.Analog { return shelf(hz, db, 0.7, true) },
				"peak":       func(db float64) biquad.Analog { return bell(hz, db, 1.5) },
				"low 1":      func(db float64) biquad.Analog { return slope(hz, db, false) },
				"high 1":     func(db float64) biquad.Analog { return slope(hz, db, true) },
			} {
				sections := []biquad.Analog{of(db), of(db / 2), of(-db / 2), of(-db)}
				for taps := range tapped(sections) {
					s := taps.Stage(sections)
					for _, ratio := range []float64{1, 3, 10} {
						c := 1 / (2 * math.Pi * hz * 10e3)
						v := taps.Start(sections, c*ratio, c, 10e3, 10e3, 47e3)
						if taps == circuit.TappedShelf {
							v = taps.StartShelf(sections, c*ratio, 0.1, 5e3)
						}
						if v == nil {
							continue
						}
						n++
						for k := range s.States {
							x := withContact(s, k, v, audio)
							if z := worstPole(t, x); real(z) >= 0 {
								t.Errorf("%s of %g dB at %g Hz, position %d oscillates: pole %v with parts %v", name, db, hz, k+1, z, v)
							}
							if k+1 < len(sections) {
								x.Resistor("Sboth", s.States[k+1].Throw, circuit.Pole, perfectOhm)
								if z := worstPole(t, x); real(z) >= 0 {
									t.Errorf("%s of %g dB at %g Hz, between positions %d and %d: pole %v with parts %v", name, db, hz, k+1, k+2, z, v)
								}
							}
						}
					}
				}
			}
		}
	}
	if n < 84 {
		t.Errorf("%d stages were tried", n)
	}
}
