package number

import (
	"fmt"
	"math"
	"math/rand"

	"bandwright/biquad"
)

// bilinear is the section (B0 + B1·p + B2·p²)/(A0 + A1·p + A2·p²), p = s/ω0,
// prewarped at hz, in powers of 1/(z-1): with u = z-1, p = u/(K·(u+2)).
func bilinear(b, a [3]float64, hz, rateHz float64) biquad.Digital {
	k := math.Tan(math.Pi * hz / rateHz)
	in := func(c [3]float64) [3]float64 {
		return [3]float64{c[0]*k*k + c[1]*k + c[2], 4*k*k*c[0] + 2*k*c[1], 4 * k * k * c[0]}
	}
	num, den := in(b), in(a)
	d := biquad.Digital{Form: biquad.Delta}
	for i := range num {
		d.B[i], d.A[i] = num[i]/den[0], den[i]/den[0]
	}
	return d
}

func lowPass(hz, q, rateHz float64) biquad.Digital {
	return bilinear([3]float64{1}, [3]float64{1, 1 / q, 1}, hz, rateHz)
}

func highPass(hz, q, rateHz float64) biquad.Digital {
	return bilinear([3]float64{0, 0, 1}, [3]float64{1, 1 / q, 1}, hz, rateHz)
}

func peak(hz, q, db, rateHz float64) biquad.Digital {
	a := biquad.FromDB(db / 2)
	return bilinear([3]float64{1, a / q, 1}, [3]float64{1, 1 / (a * q), 1}, hz, rateHz)
}

func lowShelf(hz, q, db, rateHz float64) biquad.Digital {
	a := biquad.FromDB(db / 2)
	r := math.Sqrt(a)
	return bilinear([3]float64{a * a, a * r / q, a}, [3]float64{1, r / q, a}, hz, rateHz)
}

// firstOrder is (z0 + p)/(1 + p) in the direct form.
func firstOrder(hz, z0, rateHz float64) biquad.Digital {
	k := math.Tan(math.Pi * hz / rateHz)
	return biquad.Digital{B: [3]float64{(z0*k + 1) / (k + 1), (z0*k - 1) / (k + 1)}, A: [3]float64{1, (k - 1) / (k + 1)}}
}

type named struct {
	name   string
	rateHz float64
	d      biquad.Digital
}

// samples are sections of the kinds that loudspeakers use, 20 Hz to 20 kHz at
// 48 and 192 kHz.
func samples() []named {
	var out []named
	add := func(rate float64, name string, d biquad.Digital) {
		out = append(out, named{fmt.Sprintf("%s at %g kHz", name, rate/1000), rate, d})
	}
	for _, rate := range []float64{48000, 192000} {
		for _, hz := range []float64{20, 200, 2000, 8000, 20000} {
			add(rate, fmt.Sprintf("low-pass %g Hz", hz), lowPass(hz, 0.7071, rate))
			add(rate, fmt.Sprintf("high-pass %g Hz", hz), highPass(hz, 0.9, rate))
			add(rate, fmt.Sprintf("peak %g Hz", hz), peak(hz, 3, -5, rate))
			add(rate, fmt.Sprintf("low-shelf %g Hz", hz), lowShelf(hz, 0.7071, 4, rate))
			add(rate, fmt.Sprintf("first order %g Hz", hz), firstOrder(hz, 0.5, rate))
		}
		add(rate, "resonance 50 Hz", lowPass(50, 8, rate))
		add(rate, "gain", biquad.Digital{B: [3]float64{0.7}, A: [3]float64{1}})
	}
	return out
}

// randomSection is a stable section with its corner anywhere from 20 Hz to
// 0.45 of the rate.
func randomSection(r *rand.Rand, rateHz float64) biquad.Digital {
	hz := 20 * math.Exp2(r.Float64()*math.Log2(0.45*rateHz/20))
	q := 0.4 + 3*r.Float64()
	switch r.Intn(6) {
	case 0:
		return lowPass(hz, q, rateHz)
	case 1:
		return highPass(hz, q, rateHz)
	case 2:
		return lowShelf(hz, 0.8, 12*r.Float64()-6, rateHz)
	case 3:
		return firstOrder(hz, 2*r.Float64(), rateHz)
	case 4:
		return biquad.Digital{B: [3]float64{0.5 + r.Float64()}, A: [3]float64{1}}
	}
	return peak(hz, q, 12*r.Float64()-6, rateHz)
}

func format(name string) Format {
	for _, f := range Formats {
		if f.Name == name {
			return f
		}
	}
	panic("no format " + name)
}

func one(d biquad.Digital) biquad.System[biquad.Digital] {
	return biquad.System[biquad.Digital]{
		Common: biquad.Cascade[biquad.Digital]{Gain: 1, Slots: []biquad.Slot[biquad.Digital]{biquad.Fixed(d)}},
		Ways:   []biquad.Way[biquad.Digital]{{Name: "only", Polarity: 1, Cascade: biquad.Cascade[biquad.Digital]{Gain: 1}}},
	}
}
