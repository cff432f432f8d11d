package discretize

import (
	"math"
	"math/cmplx"
	"sort"

	"bandwright/biquad"
)

// Way is one way of a system whose ways sum: the sections of its cascade, its
// linear gain with the sign of its polarity, and its delay in seconds.
type Way struct {
	Sections     []biquad.Analog
	Gain, DelayS float64
}

// at is the way's response at hz.
func (w Way) at(hz float64) complex128 {
	h := complex(w.Gain, 0) * biquad.Delay(hz, w.DelayS)
	for _, a := range w.Sections {
		h *= a.At(2 * math.Pi * hz)
	}
	return h
}

// summing is the problem of a joint fit at one sampling rate: every way's
// level at its own spots, and at shared spots the relative phase of
// neighbouring ways and the level and phase of the sum, all against the
// prototype delayed by one τ.
type summing struct {
	ways   []levels
	gain   []float64
	shared []junction
	weigh  weights
	off    []int // errors before each way's, then the shared ones
	span   []int // parameters before each way's
	total  int
}

// weights say what a degree and a decibel of the sum are worth in decibels of
// a way.
type weights struct{ relative, sum, sumPhase float64 }

// junction is a shared spot: what every way has to be there, before τ.
type junction struct {
	hz, v   float64
	turn    float64 // phase of one sample, ω/rate
	target  []complex128
	sum     complex128
	clarity float64   // |sum| of the ways relative to the sum of their sizes
	overlap []float64 // of ways w and w+1: 1 where both are equal
}

const degrees = 180 / math.Pi

// newSumming prepares the problem. lag is what each way's sections have to
// delay besides τ, in samples.
func newSumming(ways []Way, lag []float64, rateHz float64, band Band, weigh weights) *summing {
	s := &summing{weigh: weigh}
	for _, w := range ways {
		s.off = append(s.off, s.total)
		spots := levels(grid(w.Sections, rateHz, band))
		s.ways = append(s.ways, spots)
		s.gain = append(s.gain, w.Gain)
		s.total += len(spots)
	}
	s.off = append(s.off, s.total)
	for _, hz := range sharedHz(ways, rateHz, band) {
		j := junction{hz: hz, v: warp(hz, rateHz), turn: 2 * math.Pi * hz / rateHz}
		size := 0.0
		for i, w := range ways {
			w.DelayS = lag[i] / rateHz
			h := w.at(hz)
			j.target = append(j.target, h)
			j.sum += h
			size += cmplx.Abs(h)
		}
		if size == 0 {
			continue
		}
		j.clarity = cmplx.Abs(j.sum) / size
		for i := 1; i < len(ways); i++ {
			a, b := cmplx.Abs(j.target[i-1]), cmplx.Abs(j.target[i])
			// Nothing where the two matter little beside the others.
			j.overlap = append(j.overlap, 2*a*b/(a*a+b*b)*(a+b)/size)
		}
		s.shared = append(s.shared, j)
	}
	s.total += len(s.shared) * (len(ways) + 1)
	return s
}

// sharedHz are the shared frequencies: along the band, and closer around the
// crossovers.
func sharedHz(ways []Way, rateHz float64, band Band) []float64 {
	top := math.Min(band.HighHz, 0.499*rateHz)
	var hz []float64
	const n = 48
	for k := 0; k <= n; k++ {
		u := float64(k) / n
		u = 0.5*u + 0.5*math.Sin(math.Pi/2*u)
		hz = append(hz, band.LowHz*math.Exp2(u*math.Log2(top/band.LowHz)))
	}
	for _, x := range crossovers(ways, band.LowHz, top) {
		for k := -8; k <= 8; k++ {
			if f := x * math.Exp2(float64(k)/6); f > band.LowHz && f < top {
				hz = append(hz, f)
			}
		}
	}
	sort.Float64s(hz)
	return hz
}

// crossovers are the frequencies at which neighbouring ways are equal: those
// where the product of their sizes is greatest among the crossings.
func crossovers(ways []Way, low, high float64) []float64 {
	var out []float64
	const n = 300
	for i := 1; i < len(ways); i++ {
		best, at := 0.0, 0.0
		level := func(x float64) (float64, float64) {
			hz := low * math.Exp2(x*math.Log2(high/low))
			return cmplx.Abs(ways[i-1].at(hz)), cmplx.Abs(ways[i].at(hz))
		}
		a0, b0 := level(0)
		for k := 1; k <= n; k++ {
			a, b := level(float64(k) / n)
			if (a > b) != (a0 > b0) && a*b > best {
				lo, hi := float64(k-1)/n, float64(k)/n
				for step := 0; step < 40; step++ {
					m := (lo + hi) / 2
					if x, y := level(m); (x > y) == (a0 > b0) {
						lo = m
					} else {
						hi = m
					}
				}
				best, at = a*b, low*math.Exp2(lo*math.Log2(high/low))
			}
			a0, b0 = a, b
		}
		if at > 0 {
			out = append(out, at)
		}
	}
	return out
}

// system of ways under fit.
type chorus struct {
	ways []*voice
	tau  float64 // samples; the last parameter
	off  []int   // first parameter of each way
	n    int
}

// voice is one way under fit: a gain with sign and sections, with the
// logarithms of the denominators' coefficients and the numerators'
// coefficients themselves as parameters, so that zeros may pass the unit
// circle and poles may not.
type voice struct {
	gainDB   float64 // parameter 0
	negative bool
	ps       []planar
	index    [][2][3]int // parameter of n[k] and d[k], -1 where fixed
	n        int
}

// voiceOf makes a way of sections; coefficients that are zero stay zero and
// the one that dominates at v is one.
func voiceOf(ps []planar, y float64) *voice {
	w := &voice{n: 1}
	gain := 0.0
	for _, p := range ps {
		var ix [2][3]int
		onAxis := p.n[1] == 0 && p.n[0]*p.n[2] > 0
		for side, c := range [2]*[3]float64{&p.n, &p.d} {
			best, size, scale := 0, 0.0, 1.0
			for k, x := range c {
				if m := x * x * scale; m > size {
					best, size = k, m
				}
				scale *= y
			}
			top := c[best]
			sign := float64(1 - 2*side)
			gain += sign * math.Log(math.Abs(top))
			if top < 0 {
				w.negative = !w.negative
			}
			for k := range c {
				c[k] /= top
				ix[side][k] = -1
				// A numerator that fell short of its degree may use it again.
				idle := side == 0 && k > 0 && c[0] != 0 && p.d[k] != 0 && !onAxis
				if k != best && (c[k] != 0 || idle) {
					ix[side][k] = w.n
					w.n++
				}
			}
		}
		w.ps = append(w.ps, p)
		w.index = append(w.index, ix)
	}
	w.gainDB = gain * dbPerNeper
	return w
}

// planars are the sections, the gain in the first.
func (w *voice) planars() []planar {
	ps := append([]planar(nil), w.ps...)
	g := biquad.FromDB(w.gainDB)
	if w.negative {
		g = -g
	}
	for k := range ps[0].n {
		ps[0].n[k] *= g
	}
	return ps
}

// margin is the least pole margin.
func (w *voice) margin() float64 {
	m := 1.0
	for _, p := range w.ps {
		m = math.Min(m, margin(p.d))
	}
	return m
}

// level is the response in dB at y, with its derivatives.
func (w *voice) level(y float64, row []float64) float64 {
	db, ratio := w.gainDB, 1.0
	for i := range w.ps {
		p := &w.ps[i]
		nr, dr := p.n[0]-p.n[2]*y, p.d[0]-p.d[2]*y
		n := nr*nr + p.n[1]*p.n[1]*y + tiny
		d := dr*dr + p.d[1]*p.d[1]*y + tiny
		ratio *= n / d
		if i&3 == 3 {
			db += dbPerNeper / 2 * math.Log(ratio)
			ratio = 1
		}
		if row == nil {
			continue
		}
		ix := &w.index[i]
		q := dbPerNeper / n
		if k := ix[0][0]; k >= 0 {
			row[k] = q * nr
		}
		if k := ix[0][1]; k >= 0 {
			row[k] = q * p.n[1] * y
		}
		if k := ix[0][2]; k >= 0 {
			row[k] = -q * nr * y
		}
		q = -dbPerNeper / d
		if k := ix[1][0]; k >= 0 {
			row[k] = q * dr * p.d[0]
		}
		if k := ix[1][1]; k >= 0 {
			row[k] = q * p.d[1] * p.d[1] * y
		}
		if k := ix[1][2]; k >= 0 {
			row[k] = -q * dr * y * p.d[2]
		}
	}
	if row != nil {
		row[0] = 1
	}
	return db + dbPerNeper/2*math.Log(ratio)
}

// at is the response at s = jv; re and im, unless nil, receive the derivatives
// of its logarithm, in nepers and radians.
func (w *voice) at(v float64, re, im []float64) complex128 {
	h := complex(biquad.FromDB(w.gainDB), 0)
	if w.negative {
		h = -h
	}
	y := v * v
	put := func(k int, z complex128) {
		if k >= 0 {
			re[k], im[k] = real(z), imag(z)
		}
	}
	for i := range w.ps {
		p := &w.ps[i]
		n := complex(p.n[0]-p.n[2]*y, p.n[1]*v)
		d := complex(p.d[0]-p.d[2]*y, p.d[1]*v)
		h *= n / d
		if re == nil {
			continue
		}
		ix := &w.index[i]
		if n == 0 {
			n = tiny
		}
		un, ud := 1/n, -1/d
		put(ix[0][0], un)
		put(ix[0][1], un*complex(0, v))
		put(ix[0][2], un*complex(-y, 0))
		put(ix[1][0], ud*complex(p.d[0], 0))
		put(ix[1][1], ud*complex(0, v*p.d[1]))
		put(ix[1][2], ud*complex(-y*p.d[2], 0))
	}
	if re != nil {
		re[0], im[0] = 1/dbPerNeper, 0
	}
	return h
}

func (w *voice) moved(x []float64, scale float64) *voice {
	c := *w
	c.ps = append([]planar(nil), w.ps...)
	c.gainDB += scale * x[0]
	for i := range c.ps {
		for k := 0; k < 3; k++ {
			if ix := w.index[i][0][k]; ix >= 0 {
				c.ps[i].n[k] += scale * x[ix]
			}
			if ix := w.index[i][1][k]; ix >= 0 {
				c.ps[i].d[k] *= math.Exp2(scale * x[ix] * math.Log2E)
			}
		}
	}
	return &c
}

func chorusOf(ways []*voice, tau float64) *chorus {
	c := &chorus{ways: ways, tau: tau}
	for _, w := range ways {
		c.off = append(c.off, c.n)
		c.n += w.n
	}
	c.off = append(c.off, c.n)
	c.n++
	return c
}

func (c *chorus) size() int { return c.n }

func (c *chorus) moved(x []float64) model {
	scale := 1.0
	for i, w := range c.ways {
		for _, ix := range w.index {
			for _, k := range ix[1] {
				if k >= 0 {
					scale = math.Min(scale, longestStep/math.Max(longestStep, math.Abs(x[c.off[i]+k])))
				}
			}
		}
	}
	m := &chorus{tau: c.tau + scale*x[c.n-1], off: c.off, n: c.n}
	for i, w := range c.ways {
		m.ways = append(m.ways, w.moved(x[c.off[i]:], scale))
	}
	return m
}

func (s *summing) count() int { return s.total }

func (s *summing) errors(m model, e, rows []float64) {
	c := m.(*chorus)
	n, k := c.n, len(c.ways)
	if rows != nil {
		for i := range rows {
			rows[i] = 0
		}
	}
	for i, w := range c.ways {
		for j, p := range s.ways[i] {
			at := s.off[i] + j
			var row []float64
			if rows != nil {
				row = rows[at*n+c.off[i] : at*n+c.off[i]+w.n]
			}
			d := w.level(p.y, row) - p.want
			if p.guard == above && d < 0 {
				d = 0
			}
			e[at] = d
		}
	}
	resp := make([]complex128, k)
	phase := make([]float64, k)
	var re, im []float64
	if rows != nil {
		re, im = make([]float64, n), make([]float64, n)
	}
	for q, j := range s.shared {
		at := s.off[k] + q*(k+1)
		var sum complex128
		sn, cs := math.Sincos(c.tau * j.turn)
		back := complex(cs, sn) // takes τ off again
		for i, w := range c.ways {
			if rows != nil {
				resp[i] = w.at(j.v, re[c.off[i]:], im[c.off[i]:])
			} else {
				resp[i] = w.at(j.v, nil, nil)
			}
			resp[i] *= back * complex(s.gain[i], 0)
			sum += resp[i]
			phase[i] = angle(resp[i], j.target[i])
		}
		for i := 1; i < k; i++ {
			f := s.weigh.relative * degrees * j.overlap[i-1]
			d := phase[i] - phase[i-1]
			d -= 2 * math.Pi * math.Round(d/(2*math.Pi))
			e[at+i-1] = f * d
			if rows != nil {
				row := rows[(at+i-1)*n:]
				for x := c.off[i-1]; x < c.off[i]; x++ {
					row[x] = -f * im[x]
				}
				for x := c.off[i]; x < c.off[i+1]; x++ {
					row[x] = f * im[x]
				}
			}
		}
		fs := s.weigh.sum * math.Min(1, 2*j.clarity) * dbPerNeper
		fp := s.weigh.sumPhase * j.clarity * degrees
		if sum == 0 || j.sum == 0 {
			e[at+k-1], e[at+k] = 0, 0
			continue
		}
		e[at+k-1] = fs * math.Log(cmplx.Abs(sum)/cmplx.Abs(j.sum))
		e[at+k] = fp * angle(sum, j.sum)
		if rows != nil {
			level, arg := rows[(at+k-1)*n:], rows[(at+k)*n:]
			for i := range c.ways {
				part := resp[i] / sum
				a, b := real(part), imag(part)
				for x := c.off[i]; x < c.off[i+1]; x++ {
					level[x] = fs * (a*re[x] - b*im[x])
					arg[x] = fp * (a*im[x] + b*re[x])
				}
			}
			arg[n-1] = fp * j.turn
		}
	}
}

// angle is the phase from b to a in radians, 0 where either vanishes.
func angle(a, b complex128) float64 {
	z := a * cmplx.Conj(b)
	if z == 0 {
		return 0
	}
	return math.Atan2(imag(z), real(z))
}

// load compresses each way's own rows, and each pair's, before they meet.
func (s *summing) load(sys *system, _, rows, weight, right []float64) {
	n := sys.n
	for i := range s.ways {
		from := sys.m
		for at := s.off[i]; at < s.off[i+1]; at++ {
			if weight[at] != 0 {
				sys.add(rows[at*n:(at+1)*n], weight[at], right[at])
			}
		}
		sys.compress(from, s.span[i], s.span[i+1])
	}
	k := len(s.ways)
	for r := 0; r <= k; r++ { // the pairs, then the sum's level and phase
		from := sys.m
		for at := s.off[k] + r; at < s.total; at += k + 1 {
			if weight[at] != 0 {
				sys.add(rows[at*n:(at+1)*n], weight[at], right[at])
			}
		}
		if r < k-1 {
			sys.compress(from, s.span[r], s.span[r+2])
		}
	}
}
