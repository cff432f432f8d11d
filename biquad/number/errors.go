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

// aim is a section that words are compared with: it is looked at once, however many words are tried for it.
type aim struct {
	ideal biquad.Digital
	at    []biquad.Point // of errorGrid
	peak  float64        // the greatest |H|
}

// aims are sections at a sampling rate (Hz).
func aims(ideal []biquad.Digital, rateHz float64) []aim {
	out := make([]aim, len(ideal))
	for i, d := range ideal {
		out[i] = aim{ideal: d, at: points(errorGrid(rateHz, d), rateHz)}
		for _, pt := range out[i].at {
			out[i].peak = max(out[i].peak, cmplx.Abs(d.At(pt)))
		}
	}
	return out
}

// comparison is a section in words beside its ideal.
type comparison struct {
	biquad.SectionError
	total    float64 // of which TotalDB is the level beside the peak
	furthest int     // the point where the coefficients' error is greatest
}

// compared compares a section in words, q, with its ideal.
func (f Format) compared(r aim, q biquad.Digital) comparison {
	c, _ := f.comparedBelow(r, q, math.Inf(1), 0)
	return c
}

// comparedBelow is compared, which ends where one point, the first of which is given, shows that the error is
// above a limit (in the scale of total).
func (f Format) comparedBelow(r aim, q biquad.Digital, limit float64, first int) (_ comparison, below bool) {
	diff := newDifference(r.ideal, q)
	change, furthest := 0.0, 0
	for n := range r.at {
		i := (first + n) % len(r.at)
		v := cmplx.Abs(diff.at(r.at[i]))
		if v > limit {
			return comparison{}, false
		}
		if v > change {
			furthest = i
		}
		change = max(change, v)
	}
	round := f.UnitRoundOff * math.Sqrt(f.rounding.power*f.noiseOf(r, q))
	total := math.Hypot(change, round)
	return comparison{
		SectionError: biquad.SectionError{
			Form:          q.Form,
			CoefficientDB: ratioDB(change, r.peak),
			RoundOffDB:    ratioDB(round, r.peak),
			TotalDB:       ratioDB(total, r.peak),
		},
		total:    total,
		furthest: furthest,
	}, true
}

// noiseOf is what the rounding of a section in words adds at its output, at the worst frequency.
func (f Format) noiseOf(r aim, q biquad.Digital) (noise float64) {
	yNoise, pNoise, qNoise := noiseNorms(q)
	at := r.at
	if f.rounding.absolute {
		at = at[:1] // as much at all
	}
	for _, pt := range at {
		s := f.rounding.sources(q, pt, q.At(pt))
		noise = max(noise, s.y*yNoise+s.p*pNoise+s.q*qNoise)
	}
	return noise
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
