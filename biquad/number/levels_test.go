package number

import (
	"math"
	"math/rand"
	"testing"

	"bandwright/biquad"
)

// humped is a system that is 30 dB louder inside than at its ends, wherever its positions stand: boosts, and cuts
// of another width.
func humped(rateHz float64) biquad.System[biquad.Digital] {
	way := biquad.Cascade[biquad.Digital]{Gain: 0.5}
	for _, hz := range []float64{60, 400, 3000} {
		way.Slots = append(way.Slots, biquad.Fixed(lowShelf(hz, 0.7, 15, rateHz), "ways.only"), biquad.Fixed(lowShelf(hz*1.3, 0.9, -15, rateHz), "ways.only"))
	}
	way.Slots = append(way.Slots, biquad.Fixed(peak(90, 3, 15, rateHz), "ways.other"), biquad.Fixed(peak(90, 2.5, -15, rateHz), "ways.third"))
	return biquad.System[biquad.Digital]{Common: biquad.Cascade[biquad.Digital]{Gain: 1}, Ways: []biquad.Way[biquad.Digital]{{Polarity: 1, Cascade: way}}}
}

// Levels of their own take guard bits and noise away, and nothing else is another: the response, the forms, how many
// sections there are. Beside it stands the same system in the order of least noise with one level for all.
func TestLevelsSaveGuardBits(t *testing.T) {
	const rateHz = 48000.0
	ideal := humped(rateHz)
	f, systems := q31Format.Systems([]biquad.System[biquad.Digital]{ideal}, 1, []float64{rateHz})
	s := systems[0]
	_, plain := q31Format.inOrder(evened(ideal, rateHz), 1, rateHz)
	bits := q31Format.guardFor([]biquad.System[biquad.Digital]{plain}, 1)
	before := q31Format.fitted(bits).NewNoise(plain, 0, 1, rateHz, 20, 20000).DBFS(nil)
	after := f.NewNoise(s, 0, 1, rateHz, 20, 20000).DBFS(nil)
	t.Logf("%d guard bits and %.1f dBFS, with one level %d and %.1f", f.GuardBits, after, bits, before)
	if f.GuardBits >= bits || after > before-5 {
		t.Errorf("%d guard bits and %.1f dBFS, with one level %d and %.1f", f.GuardBits, after, bits, before)
	}
	if len(s.Ways[0].Slots) != len(ideal.Ways[0].Slots) {
		t.Errorf("%d sections of %d", len(s.Ways[0].Slots), len(ideal.Ways[0].Slots))
	}
	forms := map[biquad.Form]int{}
	for i := range s.Ways[0].Slots {
		forms[s.Ways[0].Slots[i].Alt[0].Form]++
		forms[plain.Ways[0].Slots[i].Alt[0].Form]--
	}
	for form, more := range forms {
		if more != 0 {
			t.Errorf("%d more in the %s form", more, form)
		}
	}
	hz := []float64{25, 90, 400, 3000, 15000}
	got, want := make([]complex128, len(hz)), make([]complex128, len(hz))
	biquad.DigitalAt(got, s.Path(0), nil, rateHz, hz)
	biquad.DigitalAt(want, ideal.Path(0), nil, rateHz, hz)
	for i := range hz {
		if db := biquad.DB(got[i]) - biquad.DB(want[i]); math.Abs(db) > 1e-4 {
			t.Errorf("%g Hz: %.7f dB off", hz[i], db)
		}
	}
}

// The search against all levels of up to three sections: none has less noise and stays in words, and with a guard bit
// less than the fewest there are none.
func TestLevelsAreTheBest(t *testing.T) {
	const rateHz, furthest = 48000.0, 9
	r := rand.New(rand.NewSource(31))
	tried, none := 0, 0
	for range 12 {
		c := loudCascade(r, 3, rateHz)
		s := biquad.System[biquad.Digital]{Common: biquad.Cascade[biquad.Digital]{Gain: 1}, Ways: []biquad.Way[biquad.Digital]{{Polarity: 1, Cascade: c}}}
		reached := Reaches(s, 0, 1)[1:]
		for guard := 1; guard <= 5; guard++ {
			l := q31Format.fitted(guard).newLevelling(c, c, reached, positionsMade{}, rateHz)
			least := math.Inf(1)
			for a := -furthest; a <= furthest; a++ {
				for b := -furthest; b <= furthest; b++ {
					for d := -furthest; d <= furthest; d++ {
						noise := math.Ldexp(l.noise[0], -2*a) + math.Ldexp(l.noise[1], -2*b) + math.Ldexp(l.noise[2], -2*d) + l.noise[3]
						if noise < least && l.gainFits(a) && l.fits(1, a, b) && l.fits(2, b, d) && l.fits(3, d, 0) {
							least = noise
						}
					}
				}
			}
			found := l.find()
			if found != !math.IsInf(least, 1) {
				t.Fatalf("%d guard bits: levels found %t, the least noise of all %g", guard, found, least)
			}
			if !found {
				none++
				continue
			}
			tried++
			noise := 0.0
			for i, c := range l.found {
				noise += math.Ldexp(l.noise[i], -2*c)
			}
			if noise > least*(1+1e-9) {
				t.Errorf("%d guard bits: %g, the best levels %g", guard, noise, least)
			}
		}
	}
	if tried < 10 || none < 5 {
		t.Errorf("%d cases with levels and %d without: they prove little", tried, none)
	}
}

// The zeros of a low corner of high Q and of a sharp peak far above it, exchanged, would be least noise, if words were
// large enough for what is loud inside: they are not, and the sections stay as they were made.
func TestExchangesThatNoLevelsHoldAreTakenBack(t *testing.T) {
	const rateHz = 192000.0
	ideal := biquad.System[biquad.Digital]{Common: biquad.Cascade[biquad.Digital]{Gain: 1}, Ways: []biquad.Way[biquad.Digital]{{Polarity: 1, Cascade: biquad.Cascade[biquad.Digital]{Gain: 1}}}}
	for _, d := range []biquad.Digital{
		{B: [3]float64{1.0163557200343099, -1.921641505504622, 0.9730629126131178}, A: [3]float64{1, -1.9213482029380164, 0.989125335567242}},
		{B: [3]float64{0.9999584675325188, -1.9999169350650376, 0.9999584675325188}, A: [3]float64{1, -1.999917762689329, 0.9999181910401869}},
	} {
		ideal.Ways[0].Slots = append(ideal.Ways[0].Slots, biquad.Fixed(d, "ways.only"))
	}
	f, systems := q31Format.Systems([]biquad.System[biquad.Digital]{ideal}, 1, []float64{rateHz})
	hz := []float64{20, 400, 8000, 20000}
	got, want := make([]complex128, len(hz)), make([]complex128, len(hz))
	biquad.DigitalAt(got, systems[0].Path(0), nil, rateHz, hz)
	biquad.DigitalAt(want, ideal.Path(0), nil, rateHz, hz)
	for i := range hz {
		if db := biquad.DB(got[i]) - biquad.DB(want[i]); math.Abs(db) > 1e-3 {
			t.Errorf("%g Hz: %.7f dB off", hz[i], db)
		}
	}
	if noise := f.NewNoise(systems[0], 0, 1, rateHz, 20, 20000).DBFS(nil); f.GuardBits > 7 || noise > -110 {
		t.Errorf("%d guard bits, noise %.1f dBFS", f.GuardBits, noise)
	}
}
