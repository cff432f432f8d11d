package sweep

import (
	"fmt"
	"math"
	"math/cmplx"
	"slices"

	"bandwright/biquad"
	"bandwright/compiler/words"
)

const (
	// distortedDB and spoiledDB are how loud a harmonic is beside what is measured from which on that is told, and from
	// which on a recording is refused (dB): what clips loses about as much of its level.
	distortedDB, spoiledDB = -46.0, -30.0
	// plainly is how much more energy than elsewhere there is where a harmonic is.
	plainly = 30.0
)

// harmonics are the second and the third beside what is measured (dB), by where they stand in the impulse response: a sweep
// passes N times a frequency by log2(N) octaves' time later, so that the N-th harmonic is as much too early (A. Farina, AES
// Convention 108, 2000). They are -Inf where nothing stands out there, or where the sweep is too fast.
func harmonics(impulse []float64, top int, octaveS, rateHz float64) [2]float64 {
	out := [2]float64{math.Inf(-1), math.Inf(-1)}
	half := int(0.04 * octaveS * rateHz)
	if half < 16 || int(4*octaveS*rateHz) > len(impulse)/2 {
		return out
	}
	energy := func(octaves float64) float64 {
		sum, n := 0.0, len(impulse)
		for k := -half; k < half; k++ {
			v := impulse[((top-int(octaves*octaveS*rateHz)+k)%n+n)%n]
			sum += v * v
		}
		return sum
	}
	var all []float64
	for o := 0.5; o < 3; o += 0.08 {
		all = append(all, energy(o))
	}
	slices.Sort(all)
	usual, own := all[len(all)/2], energy(0)
	for i := range out {
		if e := energy(math.Log2(float64(i + 2))); e > plainly*usual && own > 0 {
			out[i] = biquad.GainDB(math.Sqrt(e / own))
		}
	}
	return out
}

// inside is a spectrum (from 0 Hz to half of the rate) without what lies so high that what the reference hardly has is
// divided by.
func (t *Take) inside(spectrum []complex128) []complex128 {
	const most = 0.7
	out := slices.Clone(spectrum)
	clear(out[min(len(out), int(most*t.HighHz/(t.RateHz/2)*float64(len(out)-1))):])
	return out
}

// octaveS is how long (s) a reference's sweep takes for an octave, from its spectrum's delay at 1 kHz and at 2 kHz; not
// positive of what is no rising sweep.
func octaveS(played []complex128, spacing float64) float64 {
	at := func(hz float64) float64 {
		var all []float64
		for i := int(hz / spacing); i < int(hz*1.02/spacing) && i+1 < len(played); i++ {
			turn := -cmplx.Phase(played[i+1]*cmplx.Conj(played[i])) / (2 * math.Pi * spacing)
			if turn < 0 {
				turn += 1 / spacing
			}
			all = append(all, turn)
		}
		if len(all) == 0 {
			return 0
		}
		slices.Sort(all)
		return all[len(all)/2]
	}
	return at(2000) - at(1000)
}

// distorted says whether something clips on the way.
func (t *Take) distorted() []Trouble {
	name, most := "second", t.Harmonics[0]
	if t.Harmonics[1] > most {
		name, most = "third", t.Harmonics[1]
	}
	if most < distortedDB {
		return nil
	}
	return []Trouble{{Message: fmt.Sprintf("it is distorted: its %s harmonic is %s from what is measured: something clips, in the unit or on the bench", name, words.Level(most, "dB")),
		Right: "play at a lower level", Spoiled: most > spoiledDB}}
}
