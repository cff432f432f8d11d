package discretize

import (
	"math"
	"math/cmplx"
	"sort"

	"bandwright/biquad"
)

// Band is what a fit answers for: frequencies from LowHz to HighHz where the
// prototype's response exceeds FloorDB.
type Band struct {
	LowHz, HighHz float64
	FloorDB       float64
}

// Audible is the usual band at a sampling rate: 20 Hz to 20 kHz, or to 0.46 of
// the rate where that is lower, with a floor of -60 dB.
func Audible(rateHz float64) Band {
	return Band{LowHz: 20, HighHz: math.Min(20000, 0.46*rateHz), FloorDB: -60}
}

// spot is a frequency of a fit: v = tan(ω/2), y = v², and what the cascade
// has to be there.
type spot struct {
	hz, v, y float64
	want     float64 // dB
	guard    side
}

// side says what the wanted level of a spot is.
type side int8

const (
	target side = iota
	above       // an upper limit
	below       // a lower limit
)

// spotsPerDecade is the density of a fit's grid along ln v.
const spotsPerDecade = 30

// ahead is the response in dB of a cascade of analog sections.
func ahead(as []biquad.Analog, hz float64) float64 {
	h := 1.0
	db := 0.0
	for _, a := range as {
		h *= cmplx.Abs(a.At(2 * math.Pi * hz))
		if h < 1e-100 || h > 1e100 {
			db += biquad.GainDB(h)
			h = 1
		}
	}
	return db + biquad.GainDB(h)
}

// grid is the set of frequencies of a fit: the parts of the band above the
// floor, closely spaced towards their ends where the error of a best fit
// alternates fastest, more where a pole or zero has a high Q; then the guard
// points below the floor and above the band.
func grid(as []biquad.Analog, rateHz float64, band Band) []spot {
	top := math.Min(band.HighHz, 0.499*rateHz)
	want := func(hz float64) float64 { return ahead(as, hz) }
	var spots []spot
	add := func(hz float64, guard side) {
		v := warp(hz, rateHz)
		w := want(hz)
		if guard == above {
			w = math.Max(w+guardSlackDB, band.FloorDB+guardFloorDB)
		}
		spots = append(spots, spot{hz: hz, v: v, y: v * v, want: w, guard: guard})
	}
	lo, hi := math.Log(warp(band.LowHz, rateHz)), math.Log(warp(top, rateHz))
	back := func(l float64) float64 { // e^l is a tangent
		return rateHz / math.Pi * math.Atan(math.Exp2(l*math.Log2E))
	}
	// Intervals above the floor, found on a scan and bisected.
	const scan = 400
	exceeds := func(l float64) bool { return want(back(l)) > band.FloorDB }
	prev := exceeds(lo)
	start := lo
	at := func(i int) float64 { return lo + (hi-lo)*float64(i)/scan }
	var parts [][2]float64
	for i := 1; i <= scan; i++ {
		now := exceeds(at(i))
		if now == prev {
			continue
		}
		a, b := at(i-1), at(i)
		for k := 0; k < 30; k++ {
			if m := (a + b) / 2; exceeds(m) == prev {
				a = m
			} else {
				b = m
			}
		}
		if now {
			start = b
		} else {
			parts = append(parts, [2]float64{start, a})
		}
		prev = now
	}
	if prev {
		parts = append(parts, [2]float64{start, hi})
	}
	for _, p := range parts {
		n := max(16, int((p[1]-p[0])*spotsPerDecade/math.Ln10))
		for k := 0; k <= n; k++ {
			u := float64(k) / float64(n)
			c := (1 - math.Cos(math.Pi*u)) / 2
			hz := back(p[0] + (p[1]-p[0])*(0.4*u+0.6*c))
			add(math.Max(band.LowHz, math.Min(top, hz)), target)
		}
	}
	inside := func(hz float64) bool { return hz >= band.LowHz && hz <= top && want(hz) > band.FloorDB }
	for _, a := range as {
		for _, z := range append(a.Poles(), a.Zeros()...) {
			w, s := cmplx.Abs(z), math.Abs(real(z))
			if imag(z) <= 0 || s > 0.35*w {
				continue
			}
			s = math.Max(s, 1e-3*w)
			for _, k := range [...]float64{-8, -4, -2.5, -1.5, -1, -0.6, -0.3, 0, 0.3, 0.6, 1, 1.5, 2.5, 4, 8} {
				if hz := (w + k*s) / (2 * math.Pi); inside(hz) {
					add(hz, target)
				}
			}
		}
	}
	// Below the floor.
	for i := 0; i <= scan; i += 8 {
		if l := at(i); !exceeds(l) {
			add(back(l), above)
		}
	}
	// Above the band, up to the last hundredth below half the rate.
	edge := want(top)
	for k := 1; k <= 24; k++ {
		hz := top + (0.4999*rateHz-top)*float64(k)/24
		v := warp(hz, rateHz)
		w := math.Max(math.Max(want(hz), edge)+guardSlackDB, band.FloorDB+guardFloorDB)
		spots = append(spots, spot{hz: hz, v: v, y: v * v, want: w, guard: above})
	}
	sort.SliceStable(spots, func(i, j int) bool { return spots[i].hz < spots[j].hz })
	return spots
}

const (
	// guardSlackDB is how far a fit may exceed the prototype below the floor
	// and above the band: less than the audit's MostExcessDB, since a fit only
	// leans on its guards.
	guardSlackDB = 2
	// guardFloorDB is where, relative to the band's floor, the guards stop
	// asking for less.
	guardFloorDB = -10
)

// lifted adds lower limits above the band, so far below the prototype that no
// fit needs to reach them. In the first stage they keep polynomials off the
// edge of where they are positive, from which no step would lead away.
func lifted(spots []spot, as []biquad.Analog) []spot {
	out := append([]spot(nil), spots...)
	for i := len(spots) - 1; i >= 0 && spots[i].guard == above; i-- {
		s := spots[i]
		s.guard, s.want = below, ahead(as, s.hz)-liftedDB
		out = append(out, s)
	}
	return out
}

const liftedDB = 20

// between adds the places between spots where the error of a fitted model is
// greater than at all of them.
func between(m leveller, errors []float64, spots []spot, as []biquad.Analog, band Band) []spot {
	worst := 0.0
	for i, s := range spots {
		if s.guard == target {
			worst = math.Max(worst, math.Abs(errors[i]))
		}
	}
	var out []spot
	for i, s := range spots {
		out = append(out, s)
		if i+1 == len(spots) || s.guard != target || spots[i+1].guard != target {
			continue
		}
		o := spots[i+1]
		top, at := worst*1.002, spot{}
		for _, u := range [...]float64{0.25, 0.5, 0.75} {
			n := spot{hz: s.hz + (o.hz-s.hz)*u}
			n.v = math.Tan(math.Atan(s.v) + (math.Atan(o.v)-math.Atan(s.v))*u)
			n.y = n.v * n.v
			n.want = ahead(as, n.hz)
			if e := math.Abs(m.level(n.y, nil) - n.want); n.want > band.FloorDB && e > top {
				top, at = e, n
			}
		}
		if at.hz != 0 {
			out = append(out, at)
		}
	}
	return out
}
