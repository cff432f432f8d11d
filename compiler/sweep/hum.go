package sweep

import (
	"math"

	"gonum.org/v1/gonum/dsp/fourier"

	"bandwright/biquad"
)

const (
	// humHz (Hz) is the lowest tone that the 20 ms at an end of a recording can tell from other sound.
	humHz = 0.8 / edgeS
	// humHarmonics are how many multiples of a hum's frequency are taken for it.
	humHarmonics = 5
	// humShare is the least amplitude, of the peak, of a hum that is loud at the ends: a sweep, which stays nowhere, has
	// less of any one frequency.
	humShare = 0.2
	// humSteady is by how much a hum may be louder at one end than at the other: hum is steady, a sweep that begins or ends
	// where the hum is adds to it.
	humSteady = 1.4
)

// hums reports that the sound at both ends of a recording is one tone with its harmonics, which goes on from the first
// sample to the last: hum, and not a sweep that the recording cuts.
func hums(x []float64, rateHz, peak float64) bool {
	hz, amplitude := loudestTone(x, rateHz)
	edge := int(edgeS * rateHz)
	if hz < humHz || amplitude < humShare*peak || len(x) < 2*edge {
		return false
	}
	ends := [2][]float64{x[:edge], x[len(x)-edge:]}
	var tone [2]float64
	for i, end := range ends {
		rest := deviation(without(end, hz/rateHz))
		if rest > peak/4 {
			return false
		}
		tone[i] = math.Sqrt(math.Max(0, deviation(end)*deviation(end)-rest*rest))
	}
	return max(tone[0], tone[1]) <= humSteady*min(tone[0], tone[1])
}

// loudestTone is the frequency (Hz) and the amplitude of the loudest line in the spectrum of all samples, behind a
// Hann window; the parabola through its three bins, in logarithms, has the frequency within a twentieth of a bin.
func loudestTone(x []float64, rateHz float64) (hz, amplitude float64) {
	n := quick(len(x))
	padded := make([]float64, n)
	for i, v := range x {
		padded[i] = v * (1 - math.Cos(2*math.Pi*(float64(i)+0.5)/float64(len(x))))
	}
	bins := fourier.NewFFT(n).Coefficients(nil, padded)
	at := 1
	for i := 1; i < len(bins)-1; i++ {
		if biquad.Power(bins[i]) > biquad.Power(bins[at]) {
			at = i
		}
	}
	level := func(i int) float64 { return math.Log(math.Max(biquad.Power(bins[i]), math.SmallestNonzeroFloat64)) }
	low, top, high := level(at-1), level(at), level(at+1)
	off := 0.0
	if bend := low - 2*top + high; bend < 0 {
		off = (low - high) / (2 * bend)
	}
	return (float64(at) + off) * rateHz / float64(n), 2 * math.Sqrt(biquad.Power(bins[at])) / float64(len(x))
}

// without is what is left of samples when a tone of so many turns a sample and its harmonics are taken out: least
// squares, by Gram's and Schmidt's bases.
func without(x []float64, turns float64) []float64 {
	rest := append([]float64(nil), x...)
	var bases [][]float64
	take := func(wave func(float64) float64, of float64) {
		b := make([]float64, len(x))
		for i := range b {
			b[i] = wave(2 * math.Pi * of * float64(i))
		}
		for _, c := range bases {
			along(b, c)
		}
		size := 0.0
		for _, v := range b {
			size += v * v
		}
		if size = math.Sqrt(size); size > 1e-6*math.Sqrt(float64(len(x))) {
			for i := range b {
				b[i] /= size
			}
			along(rest, b)
			bases = append(bases, b)
		}
	}
	for k := 1.0; k <= humHarmonics && k*turns < 0.5; k++ {
		take(math.Cos, k*turns)
		take(math.Sin, k*turns)
	}
	return rest
}

// along takes out of samples what lies along others of size 1.
func along(x, unit []float64) {
	sum := 0.0
	for i, v := range unit {
		sum += v * x[i]
	}
	for i, v := range unit {
		x[i] -= sum * v
	}
}
