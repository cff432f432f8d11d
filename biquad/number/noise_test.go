package number

import (
	"math"
	"math/rand"
	"testing"

	"github.com/mjibson/go-dsp/fft"
	"github.com/mjibson/go-dsp/window"

	"bandwright/biquad"
)

// pathDB is how far the computed floor of a whole way may be from the
// measured one: the sections' modelDB averages out along a path, and a
// periodogram of 2¹⁵ samples is within a few tenths.
const pathDB = 3

// shortWordsDB is what the floor of a whole way may be above the round-off of one
// word where that alone lies above -80 dBFS.
const shortWordsDB = 20

// switchedSystem has two ways with settings in the common part and in a way.
func switchedSystem(rateHz float64) biquad.System[biquad.Digital] {
	through := biquad.Through(biquad.Delta)
	s := biquad.System[biquad.Digital]{Common: biquad.Cascade[biquad.Digital]{Gain: 1}}
	s.Common.Slots = []biquad.Slot[biquad.Digital]{
		biquad.Fixed(highPass(22, 0.7071, rateHz)),
		{
			Alt: []biquad.Digital{through, lowShelf(210, 0.7, -3, rateHz), lowShelf(240, 0.7, -6, rateHz)},
			By:  []biquad.Axis{{Setting: 0, Choices: 3}}, Pick: []uint8{0, 1, 2},
		},
	}
	low := biquad.Cascade[biquad.Digital]{Gain: biquad.FromDB(-4), Slots: []biquad.Slot[biquad.Digital]{
		biquad.Fixed(bilinear([3]float64{2.69, 2.03, 1}, [3]float64{1, 1 / 0.65, 1}, 34, rateHz)),
		biquad.Fixed(peak(92, 2.2, -2.5, rateHz)),
		biquad.Fixed(lowPass(260, 0.7071, rateHz)),
		biquad.Fixed(lowPass(260, 0.7071, rateHz)),
	}}
	high := biquad.Cascade[biquad.Digital]{Gain: biquad.FromDB(-1.5), DelayS: 9 / rateHz, Slots: []biquad.Slot[biquad.Digital]{
		{
			Alt: []biquad.Digital{{B: [3]float64{1}, A: [3]float64{1}}, {B: [3]float64{biquad.FromDB(-1.5)}, A: [3]float64{1}}},
			By:  []biquad.Axis{{Setting: 1, Choices: 2}}, Pick: []uint8{0, 1},
		},
		biquad.Fixed(highPass(2300, 0.7071, rateHz)),
		biquad.Fixed(highPass(2300, 0.7071, rateHz)),
		{
			Alt: []biquad.Digital{through, peak(9000, 1.5, 3, rateHz), peak(9000, 1.5, -3, rateHz)},
			By:  []biquad.Axis{{Setting: 0, Choices: 3}, {Setting: 1, Choices: 2}}, Pick: []uint8{0, 1, 0, 2, 1, 2},
		},
	}}
	s.Ways = []biquad.Way[biquad.Digital]{{Name: "low", Polarity: 1, Cascade: low}, {Name: "high", Polarity: -1, Cascade: high}}
	return s
}

// The floor of a way against the noise of the simulated arithmetic, which
// go-dsp's FFT and window measure in the band, in every combination.
func TestNoiseOfWaysAgreesWithSimulation(t *testing.T) {
	const rateHz, lo, hi = 48000.0, 20.0, 20000.0
	f := format("float32")
	s := f.System(switchedSystem(rateHz), 1, rateHz)
	for way := range s.Ways {
		n := f.NewNoise(s, way, 1, rateHz, lo, hi)
		biquad.Each(s.Axes(), 2, func(c biquad.Combination) {
			want := n.DBFS(c)
			at := 0
			for i, v := range n.sum {
				if v > n.sum[at] {
					at = i
				}
			}
			hz := math.Min(n.sines[at], 0.49*rateHz)
			simulated, exact := inBoth(f, s, hz, rateHz, 2*settled, c)
			got := bandNoise(simulated[way][settled:], exact[way][settled:], rateHz, lo, hi)
			if math.Abs(got-want) > pathDB {
				t.Errorf("way %d, settings %v: computed %.1f dBFS, simulated with %.1f Hz %.1f dBFS", way, c, want, hz, got)
			}
		})
	}
}

// settled is how many samples pass before the noise is measured, and over how
// many it is.
const settled = 1 << 15

// bandNoise is the noise of one output against the exact one between lo and hi,
// in dBFS.
func bandNoise(got, want []float64, rateHz, lo, hi float64) float64 {
	count := len(got)
	e := make([]float64, count)
	for i := range e {
		e[i] = got[i] - want[i]
	}
	w := window.Hann(count)
	var power float64
	for i := range e {
		power += w[i] * w[i]
		e[i] *= w[i]
	}
	var sum float64
	for i, v := range fft.FFTReal(e)[:count/2] {
		if hz := float64(i) * rateHz / float64(count); hz >= lo && hz <= hi {
			sum += 2 * biquad.Power(v)
		}
	}
	return biquad.GainDB(math.Sqrt(2 * sum / power / float64(count)))
}

// Grids twice as fine must give the same floor.
func TestNoiseGridIsFineEnough(t *testing.T) {
	const rateHz, tolerance = 96000.0, 0.1 // dB
	f := format("float32")
	r := rand.New(rand.NewSource(5))
	for range 20 {
		c := biquad.Cascade[biquad.Digital]{Gain: 0.5}
		for range 8 {
			c.Slots = append(c.Slots, biquad.Fixed(randomSection(r, rateHz)))
		}
		s := f.System(biquad.System[biquad.Digital]{Common: c, Ways: []biquad.Way[biquad.Digital]{{Polarity: 1, Cascade: biquad.Cascade[biquad.Digital]{Gain: 0.7}}}}, 1, rateHz)
		coarse := f.NewNoise(s, 0, 1, rateHz, 20, 20000).DBFS(nil)
		fine := newNoise(f, f.noisy(s, 0, 1), rateHz, band{20, 20000}, 8*noiseGridPoints).DBFS(nil)
		if math.Abs(coarse-fine) > tolerance {
			t.Errorf("floor %.3f dBFS on the grid, %.3f dBFS on one 8 times as fine", coarse, fine)
		}
	}
}

func TestNoiseIsFinite(t *testing.T) {
	s := switchedSystem(48000)
	for _, f := range Formats {
		q := f.System(s, 1, 48000)
		limit := math.Max(-80, biquad.GainDB(f.UnitRoundOff)+shortWordsDB)
		for w := range q.Ways {
			db := f.NewNoise(q, w, 1, 48000, 20, 20000).DBFS(make(biquad.Combination, 2))
			if !(db > -400 && db < limit) {
				t.Errorf("%s, way %d: %g dBFS", f.Name, w, db)
			}
		}
	}
	// A path that rounds nothing.
	empty := one(biquad.Through(biquad.Direct))
	if db := format("float32").NewNoise(empty, 0, 1, 48000, 20, 20000).DBFS(nil); db != -600 {
		t.Errorf("a path without rounding: %g dBFS", db)
	}
}

func BenchmarkNoise4096(b *testing.B) {
	const rateHz = 48000
	f := format("float32")
	r := rand.New(rand.NewSource(1))
	var common, way biquad.Cascade[biquad.Digital]
	common.Gain, way.Gain = 1, 0.7
	for range 8 {
		way.Slots = append(way.Slots, biquad.Fixed(randomSection(r, rateHz)))
	}
	for k := range 12 {
		common.Slots = append(common.Slots, biquad.Slot[biquad.Digital]{
			Alt: []biquad.Digital{randomSection(r, rateHz), randomSection(r, rateHz)},
			By:  []biquad.Axis{{Setting: k, Choices: 2}}, Pick: []uint8{0, 1},
		})
	}
	s := f.System(biquad.System[biquad.Digital]{Common: common, Ways: []biquad.Way[biquad.Digital]{{Polarity: 1, Cascade: way}}}, 1, rateHz)
	for b.Loop() {
		n := f.NewNoise(s, 0, 1, rateHz, 20, 20000)
		biquad.Each(s.Axes(), 12, func(c biquad.Combination) { n.DBFS(c) })
	}
}
