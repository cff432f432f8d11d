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

// spotsOf is the set of frequencies of a fit: the parts of the band above the
// floor, closely spaced towards their ends where the error of a best fit
// alternates fastest, more where a pole or zero has a high Q; then the guard
// points below the floor and above the band.
func spotsOf(as []biquad.Analog, rateHz float64, band Band) []spot {
	l := spotList{as: as, rateHz: rateHz, band: band, top: min(band.HighHz, 0.499*rateHz)}
	l.lo, l.hi = math.Log(warp(band.LowHz, rateHz)), math.Log(warp(l.top, rateHz))
	for _, part := range l.aboveFloor() {
		l.addPart(part[0], part[1])
	}
	for _, a := range as {
		l.addResonances(append(a.Poles(), a.Zeros()...))
	}
	for i := 0; i <= scanSteps; i += 8 {
		if x := l.scanned(i); !l.exceeds(x) {
			l.add(l.hz(x), above)
		}
	}
	l.addAboveBand()
	sort.SliceStable(l.spots, func(i, j int) bool { return l.spots[i].hz < l.spots[j].hz })
	return l.spots
}

// spotList collects the frequencies of a fit.
type spotList struct {
	as     []biquad.Analog
	rateHz float64
	band   Band
	top    float64 // Hz, the end of the band
	lo, hi float64 // ln v at both ends of the band
	spots  []spot
}

// scanSteps is into how many steps of ln v the band is divided in the search for
// where the response crosses the floor.
const scanSteps = 400

func (l *spotList) want(hz float64) float64 { return ahead(l.as, hz) }

// hz is the frequency of a place x = ln v.
func (l *spotList) hz(x float64) float64 {
	return l.rateHz / math.Pi * math.Atan(math.Exp2(x*math.Log2E))
}

func (l *spotList) scanned(i int) float64 { return l.lo + (l.hi-l.lo)*float64(i)/scanSteps }

func (l *spotList) exceeds(x float64) bool { return l.want(l.hz(x)) > l.band.FloorDB }

// add adds a spot; above the wanted response is a limit with some slack.
func (l *spotList) add(hz float64, guard side) {
	w := l.want(hz)
	if guard == above {
		w = max(w+guardSlackDB, l.band.FloorDB+guardFloorDB)
	}
	l.addWanting(hz, w, guard)
}

func (l *spotList) addWanting(hz, want float64, guard side) {
	v := warp(hz, l.rateHz)
	l.spots = append(l.spots, spot{hz: hz, v: v, y: v * v, want: want, guard: guard})
}

// aboveFloor are the intervals of ln v in which the response exceeds the floor,
// found on a scan and bisected.
func (l *spotList) aboveFloor() [][2]float64 {
	var parts [][2]float64
	prev, start := l.exceeds(l.lo), l.lo
	for i := 1; i <= scanSteps; i++ {
		now := l.exceeds(l.scanned(i))
		if now == prev {
			continue
		}
		a, b := l.scanned(i-1), l.scanned(i)
		for range 30 {
			if m := (a + b) / 2; l.exceeds(m) == prev {
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
		parts = append(parts, [2]float64{start, l.hi})
	}
	return parts
}

// addPart adds spots from ln v = from to to.
func (l *spotList) addPart(from, to float64) {
	n := max(16, int((to-from)*spotsPerDecade/math.Ln10))
	for k := 0; k <= n; k++ {
		u := float64(k) / float64(n)
		c := (1 - math.Cos(math.Pi*u)) / 2
		hz := l.hz(from + (to-from)*(0.4*u+0.6*c))
		l.add(max(l.band.LowHz, min(l.top, hz)), target)
	}
}

// aroundResonance are the places around a root of high Q, in its half widths.
var aroundResonance = [...]float64{-8, -4, -2.5, -1.5, -1, -0.6, -0.3, 0, 0.3, 0.6, 1, 1.5, 2.5, 4, 8}

// addResonances adds spots around the roots (rad/s) of high Q.
func (l *spotList) addResonances(roots []complex128) {
	for _, z := range roots {
		w, s := cmplx.Abs(z), math.Abs(real(z))
		if imag(z) <= 0 || s > 0.35*w {
			continue
		}
		s = max(s, 1e-3*w)
		for _, k := range aroundResonance {
			hz := (w + k*s) / (2 * math.Pi)
			if hz >= l.band.LowHz && hz <= l.top && l.want(hz) > l.band.FloorDB {
				l.add(hz, target)
			}
		}
	}
}

// addAboveBand adds the upper limits above the band, up to the last hundredth
// below half the rate.
func (l *spotList) addAboveBand() {
	const n = 24
	edge := l.want(l.top)
	for k := 1; k <= n; k++ {
		hz := l.top + (0.4999*l.rateHz-l.top)*float64(k)/n
		l.addWanting(hz, max(max(l.want(hz), edge)+guardSlackDB, l.band.FloorDB+guardFloorDB), above)
	}
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

// betweenSpots adds the places between spots where the error of a fitted model is
// greater than at all of them.
func betweenSpots(m leveller, errors []float64, spots []spot, as []biquad.Analog, band Band) []spot {
	worst := 0.0
	for i, s := range spots {
		if s.guard == target {
			worst = max(worst, math.Abs(errors[i]))
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
