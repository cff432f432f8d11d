package number

import (
	"math"
	"math/cmplx"
	"slices"

	"bandwright/biquad"
)

// worstDB stands for an error without bound: no figure is infinite.
const worstDB = 600

func unstable(form biquad.Form) biquad.SectionError {
	return biquad.SectionError{Form: form, CoefficientDB: worstDB, RoundOffDB: worstDB, TotalDB: worstDB, Unstable: true}
}

// sectionError compares a section in words, q, with its ideal.
func (f Format) sectionError(ideal, q biquad.Digital, rateHz float64) biquad.SectionError {
	hz := errorGrid(rateHz, ideal)
	diff := newDifference(ideal, q)
	yNoise, pNoise, qNoise := noiseNorms(q)
	var peak, change, noise float64
	for _, at := range hz {
		pt := biquad.PointAt(at, rateHz)
		h := ideal.At(pt)
		peak = max(peak, cmplx.Abs(h))
		change = max(change, cmplx.Abs(diff.at(pt)))
		s := f.rounding.sources(q, pt, q.At(pt))
		noise = max(noise, s.y*yNoise+s.p*pNoise+s.q*qNoise)
	}
	round := f.UnitRoundOff * math.Sqrt(f.rounding.power*noise)
	return biquad.SectionError{
		Form:          q.Form,
		CoefficientDB: ratioDB(change, peak),
		RoundOffDB:    ratioDB(round, peak),
		TotalDB:       ratioDB(math.Hypot(change, round), peak),
	}
}

// ratioDB is 20·lg(x/y), kept between the floor of biquad.GainDB and worstDB.
func ratioDB(x, y float64) float64 {
	r := x / y
	if !(r <= 1e30) {
		return worstDB
	}
	return biquad.GainDB(r)
}

// errorGridPoints per section: logarithmic from errorGridFromHz to half the
// rate. Between neighbours, 3.5 % apart at 192 kHz, a section of Q = 10 off its
// landmarks changes by less than 0.2 dB.
const (
	errorGridPoints = 330
	errorGridFromHz = 1
)

// errorGrid is frequencies (Hz) from just above zero to half the rate that
// show the extremes of sections: a logarithmic grid, the same grid mirrored so
// that corners near half the rate are resolved too, and the neighbourhood of
// every pole and zero.
func errorGrid(rateHz float64, sections ...biquad.Digital) []float64 {
	half := rateHz / 2
	hz := biquad.Spaced(errorGridFromHz, half, errorGridPoints+1)[:errorGridPoints]
	for i := 0; hz[i] < half/2; i += 4 {
		hz = append(hz, half-hz[i])
	}
	for _, d := range sections {
		for _, l := range landmarks(d, rateHz) {
			hz = append(append(hz, l.hz), l.around()...)
		}
	}
	return band{0.01 * errorGridFromHz, half}.within(hz)
}

// band is frequencies from lo to hi (Hz).
type band struct{ lo, hi float64 }

// within sorts frequencies and drops repeats and those outside the band.
func (b band) within(hz []float64) []float64 {
	return biquad.Ascending(slices.DeleteFunc(hz, func(f float64) bool { return !(f >= b.lo && f <= b.hi) }), 0)
}

// neighbourhood is how far around a landmark to look, in its half widths.
var neighbourhood = []float64{0.25, 0.5, 1, 2, 4}

// landmark is a pole's or zero's frequency and its distance from the unit
// circle as a frequency (Hz): half the width of the resonance.
type landmark struct{ hz, widthHz float64 }

func (l landmark) around() []float64 {
	var hz []float64
	for _, k := range neighbourhood {
		hz = append(hz, l.hz-k*l.widthHz, l.hz+k*l.widthHz)
	}
	return hz
}

// landmarks looks from z = 1, where low corners keep their digits.
func landmarks(d biquad.Digital, rateHz float64) []landmark {
	one := d.To(biquad.Delta)
	var out []landmark
	for _, rs := range [][]complex128{one.Poles(), one.Zeros()} {
		for _, z := range rs {
			if imag(z) < 0 || cmplx.IsNaN(z) || cmplx.IsInf(z) || z == 0 {
				continue
			}
			out = append(out, landmark{
				hz:      math.Abs(cmplx.Phase(z)) / (2 * math.Pi) * rateHz,
				widthHz: math.Abs(math.Log(cmplx.Abs(z))) / (2 * math.Pi) * rateHz,
			})
		}
	}
	return out
}

// difference is q - ideal as (ΔN·D - N·ΔD) / (D·(D+ΔD)), so that no digits
// cancel, written around z = 1 and around z = -1.
type difference struct {
	ideal, q biquad.Digital
	n        int
	around   [2]around // [0] around 1, [1] around -1
}

type around struct{ b, a, db, da [3]float64 }

func newDifference(ideal, q biquad.Digital) difference {
	d := difference{ideal: ideal, q: q, n: ideal.Order()}
	for i, form := range []biquad.Form{biquad.Delta, biquad.Mirrored} {
		x, y := ideal.To(form), q.To(form)
		r := around{b: x.B, a: x.A}
		for k := range r.b {
			r.db[k], r.da[k] = y.B[k]-x.B[k], y.A[k]-x.A[k]
		}
		d.around[i] = r
	}
	return d
}

func (d difference) at(p biquad.Point) complex128 {
	if d.q.Order() != d.n {
		return d.q.At(p) - d.ideal.At(p)
	}
	r, t := d.around[0], p.FromOne
	if real(p.FromMinusOne) < 1 {
		r, t = d.around[1], p.FromMinusOne
	}
	num, den := power(r.b, d.n, t), power(r.a, d.n, t)
	dNum, dDen := power(r.db, d.n, t), power(r.da, d.n, t)
	return (dNum*den - num*dDen) / (den * (den + dDen))
}

// power is c0·tⁿ + c1·tⁿ⁻¹ + ….
func power(c [3]float64, n int, t complex128) complex128 {
	v := complex(c[0], 0)
	for k := 1; k <= n; k++ {
		v = v*t + complex(c[k], 0)
	}
	return v
}
