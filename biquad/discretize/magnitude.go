package discretize

import (
	"math"

	"bandwright/biquad"
)

// Fit is a realisation of a cascade with its audit.
type Fit struct {
	Sections []biquad.Digital // in Delta form, in the order to run them
	Audit    Inspection
	// Fitted says that the sections are a fit that keeps the limits; where
	// none was found they are the magnitude-matched ones.
	Fitted bool
}

// Magnitude realises a cascade of stable analog sections at rateHz (Hz) by
// the least largest error in decibels over the band, with as many biquads as
// the cascade has sections, each of full second order, and extra more. The
// phase is left to itself; zeros at DC and inside the band on the imaginary
// axis stay exact, all-pass sections and those with zeros in the right half
// plane are realised on their own, the first matched, the second fitted and
// flipped.
//
// The fit works on |H|² as a ratio of polynomials in tan²(ω/2): damped Newton
// steps on the p-norm of the error with p from 2 to 128, new spots where the
// error peaks between the old ones, spectral factorisation, an audit. Cascades
// of more than six sections are fitted in groups.
func Magnitude(as []biquad.Analog, rateHz float64, band Band, extra int) Fit {
	ps, fitted := magnitude(as, rateHz, band, extra)
	f := Fit{Sections: digital(ps), Fitted: fitted}
	f.Audit = Inspect(as, f.Sections, rateHz, band)
	return f
}

// Enough is Magnitude with as few extra biquads, up to most, as bring the
// error within goalDB; where none do, the best of the fits.
func Enough(as []biquad.Analog, rateHz float64, band Band, goalDB float64, most int) Fit {
	best := Magnitude(as, rateHz, band, 0)
	for extra := 1; extra <= most && best.Audit.WorstDB > goalDB; extra++ {
		if f := Magnitude(as, rateHz, band, extra); f.Fitted && f.Audit.WorstDB < best.Audit.WorstDB {
			best = f
		}
	}
	return best
}

// digital are the sections outside the plane.
func digital(ps []planar) []biquad.Digital {
	ds := make([]biquad.Digital, len(ps))
	for i, p := range ps {
		ds[i] = p.digital()
	}
	return ds
}

// magnitude is Magnitude before it leaves the plane.
func magnitude(as []biquad.Analog, rateHz float64, band Band, extra int) ([]planar, bool) {
	var ps []planar
	fitted := true
	constant := 1.0
	var plain []biquad.Analog
	for _, a := range as {
		switch {
		case a.Order() == 0 || gain(a) == 0:
			constant *= gain(a)
		case isAllPass(a):
			ps = append(ps, match(a, rateHz, band.HighHz))
		case rightZeros(a) > 0:
			qs, ok := asOneRatio([]biquad.Analog{a}, rateHz, band, 0)
			qs[0].n = flipped(qs[0].n, a)
			ps = append(ps, qs...)
			fitted = fitted && ok
		default:
			plain = append(plain, a)
		}
	}
	groups := (len(plain) + mostInRatio - 1) / mostInRatio
	for g := 0; g < groups; g++ {
		more := extra / groups
		if g < extra%groups {
			more++
		}
		qs, ok := asOneRatio(plain[g*len(plain)/groups:(g+1)*len(plain)/groups], rateHz, band, more)
		ps = append(ps, qs...)
		fitted = fitted && ok
	}
	if len(ps) == 0 {
		ps = []planar{{n: [3]float64{1}, d: [3]float64{1}}}
	}
	for k := range ps[0].n {
		ps[0].n[k] *= constant
	}
	return ps, fitted
}

// mostInRatio is the number of sections whose |H|² is one ratio of
// polynomials: up to degree 12, whose roots double precision still resolves.
const mostInRatio = 6

// polishedDB is the error from which on a fitted ratio is not refined section
// by section.
const polishedDB = 1e-6

// settledDB is the error from which on no second start is tried.
const settledDB = 5e-4

// asOneRatio fits sections with left-half-plane zeros as one ratio. It returns
// the matched sections and false where no fit keeps the limits.
func asOneRatio(as []biquad.Analog, rateHz float64, band Band, extra int) ([]planar, bool) {
	var start []planar
	negative := false
	for _, a := range as {
		p := match(a, rateHz, band.HighHz)
		if gain(a) < 0 {
			negative = !negative
		}
		start = append(start, freed(p, a, rateHz, band))
	}
	spots := spotsOf(as, rateHz, band)
	y := loudest(spots)
	var best []planar
	worst := math.Inf(1)
	try := func(ps []planar) {
		ordered(ps, y, negative)
		a := Inspect(as, digital(ps), rateHz, band)
		if a.Keeps(Guarded) && a.WorstDB < worst {
			best, worst = ps, a.WorstDB
		}
	}
	for i := range spares {
		if i > 0 && (worst < settledDB || extra == 0) {
			break
		}
		pairs := make([]spare, extra)
		for k := range pairs {
			pairs[k] = spares[(i+k)%len(spares)]
		}
		if ps, ok := ratioFit(ratioModelOf(start, y, pairs), as, band, spots, y); ok {
			try(ps)
			if worst > polishedDB {
				try(sectionFit(ps, spots, y))
			}
		}
	}
	if best == nil {
		try(sectionFit(start, spots, y))
	}
	if best == nil {
		var ps []planar
		for _, a := range as {
			ps = append(ps, match(a, rateHz, band.HighHz))
		}
		return ps, false
	}
	return best, true
}

// loudest is y where the prototype's response is greatest.
func loudest(spots []spot) float64 {
	y, top := 1.0, math.Inf(-1)
	for _, s := range spots {
		if s.guard == target && s.want > top {
			y, top = s.y, s.want
		}
	}
	return y
}

// freed prepares a matched section for a fit: zeros at half the rate and those
// on the axis above the band move off the edge of what is feasible, where a
// step could not leave it.
func freed(p planar, a biquad.Analog, rateHz float64, band Band) planar {
	top := warp(min(band.HighHz, 0.499*rateHz), rateHz)
	if p.n[1] == 0 && p.n[0]*p.n[2] > 0 && p.n[0] > p.n[2]*top*top {
		p.n[1] = 0.3 * math.Sqrt(p.n[0]*p.n[2])
	}
	onAxis := p.n[1] == 0 && p.n[0]*p.n[2] > 0
	for k := 1; k < 3 && !onAxis; k++ {
		if p.d[k] != 0 && p.n[k] == 0 && p.n[k-1] != 0 && (k < 2 || p.n[1] != 0) {
			p.n[k] = 0.01 * p.n[k-1]
		}
	}
	return p
}

// stages are the norms of a fit, with the steps each may take.
var stages = [...]struct{ p, steps int }{{2, 60}, {4, 20}, {8, 20}, {16, 20}, {32, 20}, {64, 20}, {128, 20}}

// ratioFit fits a ratio and returns its sections.
func ratioFit(r *ratioModel, as []biquad.Analog, band Band, spots []spot, y float64) ([]planar, bool) {
	f := newFitter(r, levels(lifted(spots, as)), nil)
	f.reduce(stages[0].p, stages[0].steps)
	f = newFitter(f.m, levels(spots), nil)
	for _, s := range stages {
		f.reduce(s.p, s.steps)
	}
	for round := 0; round < 2; round++ {
		more := betweenSpots(f.m.(leveller), f.e, spots, as, band)
		if len(more) == len(spots) {
			break
		}
		spots = more
		f = newFitter(f.m, levels(spots), nil)
		f.reduce(64, 10)
		f.reduce(128, 20)
	}
	return f.m.(*ratioModel).planars(y)
}

// sectionFit fits sections by their own coefficients within the limits.
func sectionFit(start []planar, spots []spot, y float64) []planar {
	s := sectionModelOf(start, y)
	least := 0.1 * s.margin()
	f := newFitter(s, levels(spots), func(m model) bool { return m.(*sectionModel).margin() > least })
	for _, st := range stages {
		f.reduce(st.p, st.steps)
	}
	return f.m.(*sectionModel).planars()
}
