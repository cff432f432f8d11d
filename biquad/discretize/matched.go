package discretize

import (
	"context"
	"math"

	"bandwright/biquad"
)

func magnitudeMatched() Method {
	return Method{
		Name: "magnitude-matched",
		Doc: "closed form: poles by e^(sT), zeros that match the magnitude; magnitude within " +
			"fractions of a dB per section, phase not matched",
		Realise: func(ctx context.Context, j Job) (Made, error) { return sectionWise(ctx, j, magnitudeMatched()) },
		Section: func(a biquad.Analog, j Job) (biquad.Digital, string, error) {
			return Matched(a, j.RateHz, j.HighHz), "magnitude-matched", nil
		},
	}
}

// Matched is the closed-form magnitude-matched realisation of one analog
// section at the sampling rate rateHz (Hz), judged up to topHz (Hz), in Delta
// form, after M. Vicanek,
// "Matched Second Order Digital Filters" (2016): the poles are those of
// impulse invariance, z = e^(pT), and the numerator reproduces |H|² at chosen
// frequencies. Here the numerator is that of any section, not of named
// shapes:
//
//   - zeros at DC stay there exactly, and without them the gain at DC is exact;
//   - what freedom is left matches |H|² at one or two more frequencies, chosen
//     from a short list for the least largest error in decibels;
//   - zeros on the imaginary axis below half the rate go to the same
//     frequency on the unit circle;
//   - zeros in the right half plane come out outside the unit circle;
//   - an all-pass section stays one: its zeros are the reciprocals of its
//     mapped poles;
//   - where a match would need a negative |H|² the zero goes to half the rate,
//     or onto the unit circle, and one frequency fewer is matched.
//
// The section must be stable; its poles may lie at any frequency, folded ones
// included. Where it has fewer poles than zeros, further poles go to z = 0.
func Matched(a biquad.Analog, rateHz, topHz float64) biquad.Digital {
	return match(a, rateHz, topHz).digital()
}

// matchedDownTo is how far down a match is judged (dB).
const matchedDownTo = -60

// match is Matched before it leaves the plane.
func match(a biquad.Analog, rateHz, topHz float64) planar {
	p := planar{d: mapped(a.Poles(), rateHz)}
	for poles := len(a.Poles()); poles < a.Order(); poles++ {
		p.d = [3]float64{p.d[0], p.d[0] + p.d[1], p.d[1]} // times 1+s: a pole at z = 0
	}
	lead := gain(a)
	if lead == 0 {
		return planar{d: [3]float64{1}}
	}
	if isAllPass(a) {
		p.n = [3]float64{lead * p.d[0], -lead * p.d[1], lead * p.d[2]}
		return p
	}
	m := matcher{a: a, rateHz: rateHz, d: p.d, band: Band{HighHz: min(topHz, 0.46*rateHz), FloorDB: matchedDownTo}}
	p.n = flipped(m.numerator(), a)
	return p
}

// gain is the response towards the end of the band where it does not vanish,
// with its sign: at DC, at infinite frequency, or the middle coefficient's.
func gain(a biquad.Analog) float64 {
	switch {
	case a.B[0] != 0 && a.A[0] != 0:
		return a.B[0] / a.A[0]
	case a.B[2] != 0 && a.A[2] != 0:
		return a.B[2] / a.A[2]
	case a.B[1] != 0 && a.A[1] != 0:
		return a.B[1] / a.A[1]
	}
	for k := 0; k < 3; k++ {
		if a.B[k] != 0 {
			return a.B[k]
		}
	}
	return 0
}

// allPassTolerance is the relative difference from mirrored coefficients
// below which a section counts as all-pass: a few roundings.
const allPassTolerance = 1e-12

// isAllPass reports whether the numerator is the mirrored denominator.
func isAllPass(a biquad.Analog) bool {
	n := a.Order()
	if n == 0 || a.A[n] == 0 || a.B[n] == 0 {
		return false
	}
	g := a.B[n] / a.A[n]
	for k := 0; k <= n; k++ {
		want := g * a.A[k]
		if (n-k)%2 == 1 {
			want = -want
		}
		if math.Abs(a.B[k]-want) > allPassTolerance*math.Abs(want) {
			return false
		}
	}
	return true
}

// matcher finds the numerator of one section.
type matcher struct {
	a      biquad.Analog
	rateHz float64
	d      [3]float64
	band   Band
	judges []matchPoint

	best  [3]float64
	worst float64 // largest error of best over the judges, nepers of power
}

// matchPoint is a frequency with what the numerator's power has to be there.
type matchPoint struct{ y, want float64 }

// point is what the numerator's power has to be at hz.
func (m *matcher) point(hz float64) matchPoint {
	v := warp(hz, m.rateHz)
	h := m.a.At(2 * math.Pi * hz)
	re, im := real(h), imag(h)
	return matchPoint{v * v, (float64(re*re) + float64(im*im)) * power(m.d, v*v)}
}

// Where numerators are matched: shares of the sampling rate, and ratios to the
// section's own frequency. The upper ends of audible bands at the usual rates
// lie among the first.
var (
	matchShares = [...]float64{0.03, 0.06, 0.1, 0.15, 0.2, 0.25, 0.3, 0.34, 0.37, 0.4, 0.42, 0.44, 0.455, 0.47, 0.485, 0.495}
	matchRatios = [...]float64{0.5, 0.71, 1.41, 2}
)

// Where candidates are judged: shares of the band's upper end, and ratios to
// the section's own frequency.
var (
	judgeShares = [...]float64{0.001, 0.003, 0.01, 0.03, 0.1, 0.2, 0.3, 0.45, 0.6, 0.7, 0.8, 0.9, 1}
	judgeRatios = [...]float64{0.25, 0.5, 0.7, 0.85, 0.95, 1, 1.05, 1.2, 1.4, 2, 4}
)

// numerator is the best of the candidates, minimum-phase.
func (m *matcher) numerator() [3]float64 {
	own, top, last := m.own(), m.band.HighHz, 0.49*m.rateHz
	for _, share := range judgeShares {
		m.judges = append(m.judges, m.point(top*share))
	}
	for _, r := range judgeRatios {
		if f := own * r; f < top {
			m.judges = append(m.judges, m.point(f))
		}
	}
	pts := []matchPoint{m.point(min(own, last))}
	for _, s := range matchShares {
		pts = append(pts, m.point(s*m.rateHz))
	}
	for _, r := range matchRatios {
		if f := own * r; f < last {
			pts = append(pts, m.point(f))
		}
	}
	m.worst = math.Inf(1)
	for i, q := range pts {
		m.one(q)
		if m.a.Order() < 2 {
			continue
		}
		for _, r := range pts[:i] {
			m.two(q, r)
		}
	}
	return m.best
}

// one tries the numerators that take one match.
func (m *matcher) one(q matchPoint) {
	b, root := m.a.B, math.Sqrt(q.want)
	n0 := math.Abs(gain(m.a)) * m.d[0]
	switch vz := warpedZero(m.a, m.rateHz); {
	case b[0] == 0 && b[1] == 0:
		m.try([3]float64{0, 0, root / q.y})
	case b[0] == 0:
		m.try([3]float64{0, math.Sqrt(q.want / q.y)})
	case vz > 0: // exact at DC, or at the match
		m.try([3]float64{n0, 0, n0 / (vz * vz)})
		if k := math.Abs(q.y - vz*vz); k > 0 {
			m.try([3]float64{root / k * vz * vz, 0, root / k})
		}
	default: // a zero, at half the rate where the match is below DC's level
		m.try([3]float64{n0, math.Sqrt(max((q.want-n0*n0)/q.y, 0))})
		if m.a.Order() == 2 { // or a double one
			u := max(root-n0, 0) / q.y
			m.try([3]float64{n0, 2 * math.Sqrt(n0*u), u})
		}
	}
}

// two tries the numerators that take two matches, where the power that they
// lead to is not negative.
func (m *matcher) two(q, r matchPoint) {
	b := m.a.B
	if b[0] == 0 && b[1] == 0 || warpedZero(m.a, m.rateHz) > 0 {
		return
	}
	n0 := 0.0
	if b[0] != 0 {
		n0 = math.Abs(gain(m.a)) * m.d[0]
	}
	// power = n0² + p1·y + p2·y²
	x, z := (q.want-n0*n0)/q.y, (r.want-n0*n0)/r.y
	p2 := (x - z) / (q.y - r.y)
	p1 := x - p2*q.y
	n2 := math.Sqrt(max(p2, 0))
	if p2 < 0 || b[0] == 0 && p1 < 0 {
		return
	}
	// Where the power would touch zero, the zeros go onto the unit circle.
	m.try([3]float64{n0, math.Sqrt(max(p1+2*n0*n2, 0)), n2})
}

// try keeps a numerator that is better than the best.
func (m *matcher) try(n [3]float64) {
	e := 0.0
	floor := biquad.FromDB(2 * m.band.FloorDB)
	for _, q := range m.judges {
		if q.want > floor*power(m.d, q.y) {
			e = max(e, math.Abs(math.Log(power(n, q.y)/q.want)))
		}
	}
	if e < m.worst || m.worst == math.Inf(1) && e == m.worst && m.best == [3]float64{} {
		m.best, m.worst = n, e
	}
}

// own is the section's own frequency in Hz.
func (m *matcher) own() float64 {
	w, _ := m.a.Natural()
	if w == 0 {
		w = m.a.W0
	}
	return w / (2 * math.Pi)
}

// warpedZero is v of a zero pair on the imaginary axis below half the rate, 0
// where there is none.
func warpedZero(a biquad.Analog, rateHz float64) float64 {
	if a.B[1] != 0 || !(a.B[0]*a.B[2] > 0) {
		return 0
	}
	hz := a.W0 * math.Sqrt(a.B[0]/a.B[2]) / (2 * math.Pi)
	if hz >= 0.499*rateHz {
		return 0
	}
	return warp(hz, rateHz)
}

// rightZeros is the number of zeros in the right half plane.
func rightZeros(a biquad.Analog) int {
	n := 0
	for _, z := range a.Zeros() {
		if real(z) > 0 {
			n++
		}
	}
	return n
}

// flipped gives a minimum-phase numerator the zeros of the analog section
// that lie in the right half plane, and its sign.
func flipped(n [3]float64, a biquad.Analog) [3]float64 {
	right, sign := rightZeros(a), 1.0
	lead := 0.0
	for _, b := range a.B {
		if b != 0 {
			lead = b
		}
	}
	if lead < 0 {
		sign = -1
	}
	switch {
	case right == 2 || right == 1 && n[0] == 0:
		n[1] = -n[1]
		if n[0] == 0 && n[2] != 0 { // s·(s-b)
			n = [3]float64{0, -math.Abs(n[1]), n[2]}
		}
	case right == 1:
		n = oneFlipped(n, lead*a.B[1] < 0)
	}
	for k := range n {
		n[k] *= sign
	}
	return n
}

// oneFlipped moves one zero of a real pair, or the only zero, to the right half
// plane: the one farther from DC where far is set. A complex pair cannot be
// split; it becomes the real pair of the same power at DC and at half the rate.
func oneFlipped(n [3]float64, far bool) [3]float64 {
	if n[2] == 0 {
		return [3]float64{-n[0], n[1]}
	}
	middle := math.Sqrt(max(float64(n[1]*n[1])-float64(4*n[0]*n[2]), 0))
	if far {
		middle = -middle
	}
	return [3]float64{-n[0], middle, n[2]}
}
