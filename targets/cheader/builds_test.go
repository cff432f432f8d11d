package cheader

import (
	"fmt"
	"math"
	"math/rand"
	"slices"
	"strings"
	"sync"
	"testing"

	"bandwright/biquad"
	"bandwright/biquad/number"
	"bandwright/compiler"
	"bandwright/compiler/language"
	"bandwright/compiler/verify"
)

// shape is what a test build is made of.
type shape struct {
	name     string
	seed     int64
	channels int
	ways     int
	settings []verify.Setting
	rates    []float64
	delayS   float64 // of the common part; way k has k times as much
	headroom float64 // dB
	fadeS    float64
	lowHz    float64 // the least corner
	noCommon bool    // no setting acts on the common part
	sections int     // a cascade, about
	dither   int     // bits
}

// shapes cover what a header may or may not have: settings, delays, one way or
// several, one channel or several.
var shapes = []shape{
	{name: "heron", seed: 1, channels: 2, ways: 3, rates: []float64{48000, 96000}, headroom: 6, sections: 5, fadeS: 2e-3, lowHz: 900,
		settings: []verify.Setting{
			{Name: "placement", Choices: []string{"free", "wall", "corner"}},
			{Name: "grille", Choices: []string{"none", "woven"}},
			{Name: "treble-trim", Choices: []string{"0 dB", "-1.5 dB"}},
		}},
	{name: "plain", seed: 2, channels: 1, ways: 2, rates: []float64{44100}, sections: 3},
	{name: "late_2", seed: 3, channels: 3, ways: 4, rates: []float64{8000, 44100, 192000}, delayS: 1e-3, sections: 2, dither: 16},
	{name: "wire", seed: 4, channels: 1, ways: 1, rates: []float64{48000}, headroom: 3},
	{name: "one", seed: 5, channels: 2, ways: 1, rates: []float64{192000, 48000}, sections: 6, lowHz: 2000, dither: 24,
		settings: []verify.Setting{{Name: "trim", Choices: []string{"0 dB", "-1.5 dB", "+1.5 dB", ".5"}}}},
	{name: "idle", seed: 6, channels: 1, ways: 2, rates: []float64{48000},
		settings: []verify.Setting{{Name: "unused", Choices: []string{"yes", "no"}}}},
	{name: "ways", seed: 7, channels: 1, ways: 2, rates: []float64{48000}, sections: 4, lowHz: 1500, noCommon: true, delayS: 1e-4,
		settings: []verify.Setting{{Name: "trim", Choices: []string{"0 dB", "-1.5 dB"}}}},
}

// computed is a format of every kind of arithmetic, for tests of what samples do not
// matter for: q23 computes as q31 does.
func computed() []number.Format {
	return slices.DeleteFunc(slices.Clone(number.Formats), func(f number.Format) bool { return f.Name == "q23" })
}

// builds are those of shapes, by all that a shape says: the words of one take a while.
var builds sync.Map // string → func() *compiler.Build

// build is a finished Build of random stable sections, quantised as the pipeline does,
// and made once. The realisations may be changed, what they point to is everybody's.
func (s shape) build() *compiler.Build {
	once, _ := builds.LoadOrStore(fmt.Sprintf("%+v", s), sync.OnceValue(s.fresh))
	b := *once.(func() *compiler.Build)()
	b.Digital = slices.Clone(b.Digital)
	return &b
}

// fresh is a build that is nobody else's.
func (s shape) fresh() *compiler.Build {
	r := rand.New(rand.NewSource(s.seed))
	b := &compiler.Build{
		Wanted: compiler.Wanted{
			Spec: &language.Spec{
				Name: s.name, Title: "Test filters, not for listening (invented)", Revision: "B2",
				Digital: &language.Digital{Channels: s.channels, HeadroomDB: s.headroom, FadeS: s.fadeS},
			},
			Settings: s.settings,
		},
		SHA256: strings.Repeat("0123456789abcdef", 4),
	}
	var ideals []biquad.System[biquad.Digital]
	for i, rate := range s.rates {
		sections := s.sections
		if i == 1 && sections > 0 {
			sections++ // rates may differ in length
		}
		var ideal biquad.System[biquad.Digital]
		common := s
		if s.noCommon {
			common.settings = nil
		}
		ideal.Common = common.cascade(r, rate, sections, s.delayS)
		for k := range s.ways {
			w := biquad.Way[biquad.Digital]{Name: []string{"bass", "mid", "treble-left", "super"}[k], Polarity: 1}
			w.Cascade = s.cascade(r, rate, sections+k%2, s.delayS*float64(k))
			if k == 1 {
				w.Polarity = -1
			}
			if s.sections == 0 {
				w.Slots = nil
			}
			ideal.Ways = append(ideal.Ways, w)
		}
		ideals = append(ideals, ideal)
	}
	gain := biquad.FromDB(-s.headroom)
	of := len(number.Formats)
	b.Digital = make([]compiler.Digital, len(s.rates)*of)
	for k, f := range number.Formats {
		fitted, systems := f.Dithered(s.dither).Systems(ideals, gain, s.rates)
		for i, rate := range s.rates {
			b.Digital[i*of+k] = compiler.Digital{
				RateHz: rate, Format: fitted, Asked: true, Method: "bilinear", InputGain: gain, System: systems[i],
			}
		}
	}
	return b
}

// cascade alternates fixed positions with ones under one or two settings, whose
// alternatives may be pass-throughs and gains.
func (s shape) cascade(r *rand.Rand, rate float64, sections int, delayS float64) biquad.Cascade[biquad.Digital] {
	c := biquad.Cascade[biquad.Digital]{Gain: biquad.FromDB(-6 * r.Float64()), DelayS: math.Round(delayS*rate) / rate}
	for k := range sections {
		slot := biquad.Fixed(section(r, max(s.lowHz, 20), rate), "a filter")
		if n := len(s.settings); n > 0 && k%2 == 1 {
			slot.Alt = nil
			for i := range 1 + k%2 {
				at := (k/2 + i) % n
				if i > 0 && at <= slot.By[0].Setting {
					continue
				}
				slot.By = append(slot.By, biquad.Axis{Setting: at, Choices: len(s.settings[at].Choices)})
			}
			slot.Alt = []biquad.Digital{biquad.Through(biquad.Delta), section(r, max(s.lowHz, 20), rate), {B: [3]float64{biquad.FromDB(-1.5)}, A: [3]float64{1}}, section(r, max(s.lowHz, 20), rate)}
			for range biquad.Count(slot.By) {
				slot.Pick = append(slot.Pick, uint8(r.Intn(len(slot.Alt))))
			}
		}
		c.Slots = append(c.Slots, slot)
	}
	return c
}

// section is a random stable second- or first-order section with a gain of
// about one, its corner from low (Hz) to 0.45 of the rate.
func section(r *rand.Rand, low, rate float64) biquad.Digital {
	hz := low * math.Exp2(r.Float64()*math.Log2(0.45*rate/low))
	k := math.Tan(math.Pi * hz / rate)
	if r.Intn(5) == 0 {
		z := 0.5 + r.Float64()
		return biquad.Digital{B: [3]float64{(z*k + 1) / (k + 1), (z*k - 1) / (k + 1)}, A: [3]float64{1, (k - 1) / (k + 1)}}
	}
	// (g0 + g1·p + g2·p²)/(1 + p/q + p²) through p = u/(k·(u+2)), u = z-1.
	q := 0.5 + 2*r.Float64()
	g := [3]float64{r.Float64() + 0.3, (r.Float64() + 0.3) / q, r.Float64() + 0.3}
	if r.Intn(4) == 0 {
		g = [3]float64{0, 0, 1} // b1 = b2 = 0 in the delta form
	}
	in := func(c [3]float64) [3]float64 {
		return [3]float64{c[0]*k*k + c[1]*k + c[2], 4*k*k*c[0] + 2*k*c[1], 4 * k * k * c[0]}
	}
	num, den := in(g), in([3]float64{1, 1 / q, 1})
	d := biquad.Digital{Form: biquad.Delta}
	for i := range num {
		d.B[i], d.A[i] = num[i]/den[0], den[i]/den[0]
	}
	return d
}

func emit(t *testing.T, b *compiler.Build) []compiler.File {
	t.Helper()
	files, err := Emit(b)
	if err != nil {
		t.Fatal(err)
	}
	return files
}
