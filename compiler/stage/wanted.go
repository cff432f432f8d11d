package stage

import (
	"math"
	"math/cmplx"
	"slices"

	"bandwright/biquad"
	"bandwright/compiler/circuit"
)

const (
	// perOctave is how many frequencies of an octave an error is looked at: the
	// responses of second-order stages with the Qs that topologies allow move
	// little between them, and the corner is always among them.
	perOctave = 12
	// notchDB (dB) is how far down a notch counts: below it the depth, which is
	// the match of the parts and not their choice, would be all that counts.
	notchDB = 30
	// perNeper is 20/ln 10: dB of a small relative error.
	perNeper = 8.685889638065036553
)

// noLimit is a limit that no error exceeds.
var noLimit = math.Inf(1)

// wanted is a wanted response at the frequencies that count, in the order in which
// errors show soonest.
type wanted struct {
	w     []float64    // rad/s
	x     []float64    // w²
	want  []complex128 // level included
	scale []float64    // 1/|want|²
	phase bool         // the phase counts too
	// last is the frequency at which the latest response was found to be beyond its limit, which the next one
	// is looked at first: it mostly is a neighbour of that.
	last           int
	within, misfit inside
}

// inside are the bounds of a ratio of powers with an error of up to limit (dB).
type inside struct{ limit, high, low float64 }

// of is the bounds for a limit, which mostly is the latest one.
func (b *inside) of(limit float64) (high, low float64) {
	if limit != b.limit || b.high == 0 {
		b.limit = limit
		b.high, b.low = bounds(limit)
	}
	return b.high, b.low
}

// newWanted is level·section over a band.
func newWanted(section biquad.Analog, level float64, band Band) *wanted {
	a := &wanted{}
	asked, err := circuit.Ask(section)
	down := band.DownDB
	if down == 0 {
		down = 600
	}
	corner := 0.0
	if err == nil {
		corner = asked.W / (2 * math.Pi)
		switch asked.Shape {
		case circuit.AllPass1, circuit.AllPass2, circuit.RightHalf1, circuit.RightHalf2:
			a.phase = true
		case circuit.Notch2, circuit.LowNotch2, circuit.HighNotch2:
			down = math.Min(down, notchDB)
		}
	}
	hz := biquad.Octaves(band.FromHz, band.ToHz, perOctave, corner)
	want := make([]complex128, len(hz))
	peak := 0.0
	for i, f := range hz {
		want[i] = section.At(2*math.Pi*f) * complex(level, 0)
		peak = math.Max(peak, cmplx.Abs(want[i]))
	}
	floor := peak * biquad.FromDB(-down)
	for _, i := range CoarseToFine(len(hz), slices.Index(hz, corner)) {
		m := cmplx.Abs(want[i])
		if m == 0 || m < floor {
			continue
		}
		w := 2 * math.Pi * hz[i]
		a.w, a.x, a.want, a.scale = append(a.w, w), append(a.x, w*w), append(a.want, want[i]), append(a.scale, 1/(m*m))
	}
	return a
}

// CoarseToFine orders n indices: first, then the ends, then in ever finer steps, so
// that a bad response is found out after a few of them.
func CoarseToFine(n, first int) []int {
	out := make([]int, 0, n)
	seen := make([]bool, n)
	add := func(i int) {
		if i >= 0 && i < n && !seen[i] {
			seen[i] = true
			out = append(out, i)
		}
	}
	add(first)
	add(0)
	add(n - 1)
	step := 1
	for step < n {
		step *= 2
	}
	for ; step > 0; step /= 2 {
		for i := step; i < n; i += step {
			add(i)
		}
	}
	return out
}

// off is the square of a response's relative error at the i-th frequency, of its phase as well.
func (a *wanted) off(r *circuit.Ratio, i int) float64 {
	e := r.At(a.w[i])/a.want[i] - 1
	return float64(real(e)*real(e)) + float64(imag(e)*imag(e))
}

// mostOff is the largest square of a relative error within limit (dB).
func mostOff(limit float64) float64 {
	most := limit / perNeper
	return most * most
}

// misses reports whether a response is beyond limit (dB) at the frequency at which the latest one was.
func (a *wanted) misses(r *circuit.Ratio, limit float64) bool {
	i := a.last
	switch {
	case len(a.w) == 0:
		return false
	case a.phase:
		return !(a.off(r, i) <= mostOff(limit))
	}
	high, low := a.misfit.of(limit)
	p := a.power(r, i)
	return !(p <= high && p >= low)
}

// power is a response's power at the i-th frequency, re the wanted one.
func (a *wanted) power(r *circuit.Ratio, i int) float64 {
	return power(&r.N, a.x[i]) / power(&r.D, a.x[i]) * a.scale[i]
}

// error is the largest error in dB of a response, infinite where it exceeds limit.
func (a *wanted) error(r circuit.Ratio, limit float64) float64 {
	if len(a.w) == 0 {
		return 0
	}
	if a.phase {
		worst, most := 0.0, mostOff(limit)
		if !(a.off(&r, a.last) <= most) {
			return math.Inf(1)
		}
		for i := range a.w {
			if sq := a.off(&r, i); !(sq <= worst) {
				if worst = sq; !(sq <= most) {
					a.last = i
					return math.Inf(1)
				}
			}
		}
		return perNeper * math.Sqrt(worst)
	}
	high, low := a.within.of(limit)
	if p := a.power(&r, a.last); !(p <= high && p >= low) {
		return math.Inf(1)
	}
	top, bottom := 1.0, 1.0
	n, d := squareOf(&r.N), squareOf(&r.D)
	second := r.N.Degree() <= 2 && r.D.Degree() <= 2
	for i, x := range a.x {
		var p float64
		if second {
			p = n.at(x) / d.at(x) * a.scale[i]
		} else {
			p = a.power(&r, i)
		}
		if !(p <= high && p >= low) {
			a.last = i
			return math.Inf(1)
		}
		if p > top {
			top = p
		}
		if p < bottom {
			bottom = p
		}
	}
	return finite(math.Max(10*math.Log10(top), -10*math.Log10(bottom)))
}

// finite makes a number that is none infinitely bad.
func finite(x float64) float64 {
	if math.IsNaN(x) {
		return math.Inf(1)
	}
	return x
}

// bounds are the largest and smallest ratio of powers within limit (dB).
func bounds(limit float64) (high, low float64) {
	if math.IsInf(limit, 1) {
		return math.MaxFloat64, 0
	}
	high = biquad.FromDB(limit)
	high *= high
	return high, 1 / high
}

// square is |p0 + p1·s + p2·s²|² at s = jw.
type square struct{ p0, p1squared, p2 float64 }

// squareOf is the square of a polynomial of the second degree at most.
func squareOf(p *circuit.Polynomial) square { return square{p[0], p[1] * p[1], p[2]} }

// at is the square at x = w².
func (q square) at(x float64) float64 {
	re := q.p0 - float64(q.p2*x)
	return float64(re*re) + float64(q.p1squared*x)
}

// power is |P(jw)|² for a polynomial in s, with x = w².
func power(p *circuit.Polynomial, x float64) float64 {
	var even, odd float64 // in powers of -x
	for k := len(p) - 1; k >= 0; k-- {
		if k%2 == 0 {
			even = p[k] - float64(even*x)
		} else {
			odd = p[k] - float64(odd*x)
		}
	}
	return float64(even*even) + float64(float64(odd*odd)*x)
}
