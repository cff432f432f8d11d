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
// neighbouring ways, the level and phase of the sum, and each way's own phase
// where it overlaps a neighbour, all against the prototype delayed by one τ.
type summing struct {
	ways   []levels
	gain   []float64
	shared []junction
	weigh  weights
	off    []int // errors before each way's, then the shared ones
	span   []int // parameters before each way's
	total  int
}

// weights say what a degree, between neighbours, of the sum or of one way, and
// a decibel of the sum are worth in decibels of a way.
type weights struct{ relative, sum, sumPhase, own float64 }

// junction is a shared spot: what every way has to be there, before τ.
type junction struct {
	hz, v   float64
	turn    float64 // phase of one sample, ω/rate
	target  []complex128
	line    []complex128 // gain and delay line of every way
	sum     complex128
	clarity float64   // |sum| of the ways relative to the sum of their sizes
	overlap []float64 // of ways w and w+1: 1 where both are equal
	own     []float64 // of each way: 1 where its own phase counts
}

const degrees = 180 / math.Pi

// newSumming prepares the problem. whole is the delay line of each way, in
// samples: what is left of its delay is the sections'.
func newSumming(ways []Way, whole []int, rateHz float64, band Band, weigh weights) *summing {
	s := &summing{weigh: weigh}
	for _, w := range ways {
		s.off = append(s.off, s.total)
		spots := levels(spotsOf(w.Sections, rateHz, band))
		s.ways = append(s.ways, spots)
		s.gain = append(s.gain, w.Gain)
		s.total += len(spots)
	}
	s.off = append(s.off, s.total)
	for _, hz := range sharedHz(ways, rateHz, band) {
		j := junction{hz: hz, v: warp(hz, rateHz), turn: 2 * math.Pi * hz / rateHz}
		size := 0.0
		for i, w := range ways {
			h := w.at(hz)
			j.line = append(j.line, complex(w.Gain, 0)*biquad.Delay(hz, float64(whole[i])/rateHz))
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
		j.own = sharing(j.target, s.gain, band.FloorDB)
		s.shared = append(s.shared, j)
	}
	s.total += len(s.shared) * s.perJunction()
	return s
}

// perJunction is the number of errors at a shared spot: neighbours' relative
// phases, the sum's level and phase, and each way's own phase.
func (s *summing) perJunction() int { return 2*len(s.ways) + 1 }

// overlapDB is how near in level a neighbour must be for a way's own phase to
// matter (dB). The weight of a fit fades out over fadeDB more, so that it also
// answers for the edge and for levels that settings move.
const (
	overlapDB = 20
	fadeDB    = 6
)

// sharing is, for each way, how much its own phase counts where the ways are h;
// the floor is before the ways' gains.
func sharing(h []complex128, gains []float64, floorDB float64) []float64 {
	out := make([]float64, len(h))
	for i := range h {
		own := biquad.DB(h[i])
		if own <= floorDB+biquad.GainDB(math.Abs(gains[i])) {
			continue
		}
		for _, n := range [2]int{i - 1, i + 1} {
			if n >= 0 && n < len(h) {
				x := (overlapDB + fadeDB - math.Abs(biquad.DB(h[n])-own)) / fadeDB
				out[i] = math.Max(out[i], math.Min(x, 1))
			}
		}
	}
	return out
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
		at := s.off[k] + q*s.perJunction()
		var sum complex128
		sn, cs := math.Sincos(c.tau * j.turn)
		back := complex(cs, sn) // takes τ off again
		for i, w := range c.ways {
			if rows != nil {
				resp[i] = w.at(j.v, re[c.off[i]:], im[c.off[i]:])
			} else {
				resp[i] = w.at(j.v, nil, nil)
			}
			resp[i] *= back * j.line[i]
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
		for i := range c.ways {
			f := s.weigh.own * degrees * j.own[i]
			e[at+k+1+i] = f * phase[i]
			if rows != nil {
				row := rows[(at+k+1+i)*n:]
				for x := c.off[i]; x < c.off[i+1]; x++ {
					row[x] = f * im[x]
				}
				row[n-1] = f * j.turn
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
	n, k, every := sys.n, len(s.ways), s.perJunction()
	add := func(from, step, to int) {
		for at := from; at < to; at += step {
			if weight[at] != 0 {
				sys.add(rows[at*n:(at+1)*n], weight[at], right[at])
			}
		}
	}
	for i := range s.ways {
		from := sys.m
		add(s.off[i], 1, s.off[i+1])
		sys.compress(from, s.span[i], s.span[i+1], false)
		from = sys.m
		add(s.off[k]+k+1+i, every, s.total)
		sys.compress(from, s.span[i], s.span[i+1], true)
	}
	for r := 0; r <= k; r++ { // the pairs, then the sum's level and phase
		from := sys.m
		add(s.off[k]+r, every, s.total)
		if r < k-1 {
			sys.compress(from, s.span[r], s.span[r+2], false)
		}
	}
}
