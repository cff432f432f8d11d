package sweep

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"testing"

	"bandwright/biquad"
)

// through filters samples with biquads in the textbook's direct form II transposed.
func through(x []float64, b, a [3]float64) []float64 {
	out := make([]float64, len(x))
	var s1, s2 float64
	for i, v := range x {
		y := b[0]*v + s1
		s1, s2 = b[1]*v-a[1]*y+s2, b[2]*v-a[2]*y
		out[i] = y
	}
	return out
}

// peaking is the peaking filter of the W3C Audio EQ Cookbook.
func peaking(hz, q, db, rate float64) (b, a [3]float64) {
	big := math.Exp2(db / 40 * math.Log2(10))
	w := 2 * math.Pi * hz / rate
	alpha := math.Sin(w) / (2 * q)
	a0 := 1 + alpha/big
	return [3]float64{(1 + alpha*big) / a0, -2 * math.Cos(w) / a0, (1 - alpha*big) / a0}, [3]float64{1, -2 * math.Cos(w) / a0, (1 - alpha/big) / a0}
}

// highPass is that of the cookbook.
func highPass(hz, q, rate float64) (b, a [3]float64) {
	w := 2 * math.Pi * hz / rate
	alpha, c := math.Sin(w)/(2*q), math.Cos(w)
	a0 := 1 + alpha
	return [3]float64{(1 + c) / 2 / a0, -(1 + c) / a0, (1 + c) / 2 / a0}, [3]float64{1, -2 * c / a0, (1 - alpha) / a0}
}

func at(b, a [3]float64, hz, rate float64) complex128 {
	z := cmplx.Rect(1, -2*math.Pi*hz/rate)
	v := func(c [3]float64) complex128 {
		return complex(c[0], 0) + z*(complex(c[1], 0)+z*complex(c[2], 0))
	}
	return v(b) / v(a)
}

// words24 rounds to words of 24 bits.
func words24(x []float64) []float64 {
	for i := range x {
		x[i] = math.RoundToEven(x[i]*(1<<23)) / (1 << 23)
	}
	return x
}

// A known filter comes out within 0.01 dB from 20 Hz to 20 kHz, with words of 24 bits, a
// delay, noise 100 dB down and a loop that is anything but flat; its formula is the judge.
func TestDeconvolution(t *testing.T) {
	for _, rate := range []int{44100, 48000, 96000} {
		s := New(rate, DefaultS, DefaultDBFS)
		played := words24(s.Samples())
		b, a := peaking(55, 4, 9, float64(rate))
		b2, a2 := highPass(30, 0.9, float64(rate))
		loopB, loopA := peaking(9000, 1, -6, float64(rate))
		loop := through(played, loopB, loopA)
		unit := through(through(loop, b, a), b2, a2)
		const late = 777
		recorded := append(make([]float64, late), unit...)
		r := rand.New(rand.NewPCG(1, 2))
		for i := range recorded {
			recorded[i] += 1e-6 * r.NormFloat64() // -120 dBFS
		}
		take, err := Deconvolve(words24(loop), words24(recorded), float64(rate))
		if err != nil {
			t.Fatal(err)
		}
		hz := biquad.Spaced(20, math.Min(20000, 0.46*float64(rate)), 500)
		worst, turned := 0.0, 0.0
		for i, h := range take.Response(hz) {
			want := at(b, a, hz[i], float64(rate)) * at(b2, a2, hz[i], float64(rate)) * biquad.Delay(hz[i], late/float64(rate))
			worst = math.Max(worst, math.Abs(biquad.DB(h/want)))
			turned = math.Max(turned, math.Abs(cmplx.Phase(h/want))*180/math.Pi)
		}
		t.Logf("%d Hz: %.5f dB, %.4f deg, %g to %g Hz, late %g", rate, worst, turned, take.LowHz, take.HighHz, take.DelayS)
		if worst > 0.01 || turned > 0.1 {
			t.Errorf("%d Hz: %g dB and %g degrees off", rate, worst, turned)
		}
		// Noise of -120 dBFS in a sweep of -20 dBFS: at 1 kHz the sweep is 5 s / ln 2400 / 1 kHz long a hertz, and
		// the noise, in 1.19 s, 2e-12 / rate dense: their ratio. The filter takes nothing there.
		noise, lasts := take.Noise([]float64{1000})[0], DefaultS/math.Log(s.HighHz/s.LowHz)/1000
		dense := math.Sqrt(2e-12 / float64(rate) / 2 * 2 * (behindS + beforeS) * (1 - fades*5.0/8) / (0.005 * lasts / 2))
		if r := noise / dense / math.Abs(real(1/at(loopB, loopA, 1000, float64(rate)))); r < 0.5 || r > 2 {
			t.Errorf("%d Hz: noise %g, about %g expected", rate, noise, dense)
		}
		if math.Abs(take.DelayS*float64(rate)-late) > 3 {
			t.Errorf("%g s late", take.DelayS)
		}
	}
}

// A recording that ends soon after the sweep has the noise at every frequency that a long one
// has, within 3 dB.
func TestNoiseOfAShortRecording(t *testing.T) {
	const rate = 48000
	for _, length := range []float64{1, DefaultS} {
		s := New(rate, length, DefaultDBFS)
		played := s.Samples()
		recorded := append(make([]float64, rate), played...)
		recorded = append(recorded, make([]float64, 2*rate)...)
		r := rand.New(rand.NewPCG(3, 4))
		for i := range recorded {
			recorded[i] += 1e-5 * r.NormFloat64()
		}
		hz := biquad.Spaced(40, 18000, 30)
		var noise [2][]float64
		for k, end := range []int{len(recorded), rate + len(played) - rate} { // the stimulus ends with 1.5 s of silence
			take, err := Deconvolve(played, recorded[:end], rate)
			if err != nil {
				t.Fatal(err)
			}
			noise[k] = take.Noise(hz)
		}
		for i := range hz {
			if off := biquad.GainDB(noise[1][i] / noise[0][i]); math.Abs(off) > 3 {
				t.Errorf("%g s, %g Hz: %.1f dB off", length, hz[i], off)
			}
		}
	}
}
