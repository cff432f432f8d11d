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

// systemProblem is the problem of a joint fit at one sampling rate: every way's
// level at its own spots, and at shared spots the relative phase of
// neighbouring ways, the level and phase of the sum, and each way's own phase
// where it overlaps a neighbour, all against the prototype delayed by one τ.
type systemProblem struct {
	ways   []levels
	gain   []float64
	shared []junction
	weigh  weights
	off    []int // errors before each way's, then the shared ones
	span   []int // parameters before each way's
	where  []columns
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
	ideal   complex128   // sum of the targets
	clarity float64      // |ideal| relative to the sum of their sizes
	overlap []float64    // of ways w and w+1: 1 where both are equal
	own     []float64    // of each way: 1 where its own phase counts
}

const degrees = 180 / math.Pi

// newSystemProblem prepares the problem. What is left of a way's delay beside its
// delay line is the sections'.
func newSystemProblem(starts []*wayStart, rateHz float64, band Band, weigh weights) *systemProblem {
	s := &systemProblem{weigh: weigh}
	var ways []Way
	for _, p := range starts {
		ways = append(ways, p.way)
		s.off = append(s.off, s.total)
		s.ways = append(s.ways, p.spots)
		s.gain = append(s.gain, p.way.Gain)
		s.total += len(p.spots)
	}
	s.off = append(s.off, s.total)
	for _, hz := range sharedHz(ways, rateHz, band) {
		j := junction{hz: hz, v: warp(hz, rateHz), turn: 2 * math.Pi * hz / rateHz}
		size := 0.0
		for _, p := range starts {
			h := p.way.at(hz)
			j.line = append(j.line, complex(p.way.Gain, 0)*biquad.Delay(hz, float64(p.whole)/rateHz))
			j.target = append(j.target, h)
			j.ideal += h
			size += cmplx.Abs(h)
		}
		if size == 0 {
			continue
		}
		j.clarity = cmplx.Abs(j.ideal) / size
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
func (s *systemProblem) perJunction() int { return 2*len(s.ways) + 1 }

// fadeDB (dB): the weight of a way's own phase fades out over as much beyond
// biquad.NeighbourDB, so that a fit also answers for the edge and for levels that
// settings move.
const fadeDB = 6

// sharing is, for each way, how much its own phase counts where the ways are h;
// the floor is before the ways' gains.
func sharing(h []complex128, gains []float64, floorDB float64) []float64 {
	out := make([]float64, len(h))
	for i := range h {
		own := biquad.DB(h[i])
		if own <= floorDB+biquad.GainDB(math.Abs(gains[i])) {
			continue
		}
		margin := biquad.NeighbourMarginDB(biquad.NeighbourDB+fadeDB, i, len(h), func(n int) float64 { return biquad.DB(h[n]) - own })
		out[i] = max(0, min(margin/fadeDB, 1))
	}
	return out
}

// sharedHz are the shared frequencies: along the band, and closer around the
// crossovers.
func sharedHz(ways []Way, rateHz float64, band Band) []float64 {
	top := min(band.HighHz, 0.499*rateHz)
	var hz []float64
	const n = 48
	for k := 0; k <= n; k++ {
		u := float64(k) / n
		u = 0.5*u + 0.5*math.Sin(math.Pi/2*u)
		hz = append(hz, between(band.LowHz, top, u))
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

// between is the frequency a share u of the way from low to high on the
// logarithmic axis.
func between(low, high, u float64) float64 { return low * math.Exp2(u*math.Log2(high/low)) }

// crossovers are the frequencies at which neighbouring ways are equal: those
// where the product of their sizes is greatest among the crossings.
func crossovers(ways []Way, low, high float64) []float64 {
	var out []float64
	const n = 300
	for i := 1; i < len(ways); i++ {
		best, at := 0.0, 0.0
		level := func(x float64) (float64, float64) {
			hz := between(low, high, x)
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
				best, at = a*b, between(low, high, lo)
			}
			a0, b0 = a, b
		}
		if at > 0 {
			out = append(out, at)
		}
	}
	return out
}

func (s *systemProblem) count() int { return s.total }

func (s *systemProblem) errors(m model, e, rows []float64) {
	c := m.(*systemModel)
	n, k := c.n, len(c.ways)
	// What is zero in a row stays so: see reaches. All else is written anew.
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
	r := responses{systemModel: c, way: make([]complex128, k), phase: make([]float64, k)}
	if rows != nil {
		r.re, r.im = make([]float64, n), make([]float64, n)
	}
	for q := range s.shared {
		at := s.off[k] + q*s.perJunction()
		r.at(&s.shared[q])
		r.e = e[at:]
		if rows != nil {
			r.rows = rows[at*n:]
		}
		s.relativePhases(&r)
		s.sumErrors(&r)
		s.ownPhases(&r)
	}
}

// responses are what the ways of a model are at one junction, with the errors
// there that are made of them and, where they are asked for, the derivatives.
type responses struct {
	*systemModel
	*junction
	way   []complex128 // with τ taken off again
	phase []float64    // of each way against its target, rad
	sum   complex128
	// re and im are the derivatives of the logarithms of the ways' responses
	// (nepers, rad) by their own parameters; nil where they are not asked for.
	re, im  []float64
	e, rows []float64 // from the junction's first error on
}

// at moves to a junction.
func (r *responses) at(j *junction) {
	r.junction, r.sum = j, 0
	sn, cs := math.Sincos(r.tau * j.turn)
	back := complex(cs, sn) // takes τ off again
	for i, w := range r.ways {
		if r.re != nil {
			r.way[i] = w.at(j.v, r.re[r.off[i]:], r.im[r.off[i]:])
		} else {
			r.way[i] = w.at(j.v, nil, nil)
		}
		r.way[i] *= back * j.line[i]
		r.sum += r.way[i]
		r.phase[i] = angle(r.way[i], j.target[i])
	}
}

// row are the derivatives of error i of the junction; nil where they are not
// asked for.
func (r *responses) row(i int) []float64 {
	if r.re == nil {
		return nil
	}
	return r.rows[i*r.n:]
}

// relativePhases fills in the errors of neighbours' relative phases.
func (s *systemProblem) relativePhases(r *responses) {
	for i := 1; i < len(r.ways); i++ {
		f := s.weigh.relative * degrees * r.overlap[i-1]
		d := r.phase[i] - r.phase[i-1]
		d -= 2 * math.Pi * math.Round(d/(2*math.Pi))
		r.e[i-1] = f * d
		if row := r.row(i - 1); row != nil {
			for x := r.off[i-1]; x < r.off[i]; x++ {
				row[x] = -f * r.im[x]
			}
			for x := r.off[i]; x < r.off[i+1]; x++ {
				row[x] = f * r.im[x]
			}
		}
	}
}

// sumErrors fills in the errors of the sum's level and phase.
func (s *systemProblem) sumErrors(r *responses) {
	k := len(r.ways)
	level, phase := &r.e[k-1], &r.e[k]
	if r.sum == 0 || r.ideal == 0 {
		*level, *phase = 0, 0
		if r.re != nil {
			clear(r.row(k - 1)[:2*r.n])
		}
		return
	}
	fs := s.weigh.sum * min(1, 2*r.clarity) * biquad.DBPerNeper
	fp := s.weigh.sumPhase * r.clarity * degrees
	*level = fs * math.Log(cmplx.Abs(r.sum)/cmplx.Abs(r.ideal))
	*phase = fp * angle(r.sum, r.ideal)
	if r.re == nil {
		return
	}
	levelRow, phaseRow := r.row(k-1), r.row(k)
	for i := range r.ways {
		share := r.way[i] / r.sum
		a, b := real(share), imag(share)
		for x := r.off[i]; x < r.off[i+1]; x++ {
			levelRow[x] = fs * (a*r.re[x] - b*r.im[x])
			phaseRow[x] = fp * (a*r.im[x] + b*r.re[x])
		}
	}
	phaseRow[r.n-1] = fp * r.turn
}

// ownPhases fills in the errors of each way's own phase.
func (s *systemProblem) ownPhases(r *responses) {
	k := len(r.ways)
	for i := range r.ways {
		f := s.weigh.own * degrees * r.own[i]
		r.e[k+1+i] = f * r.phase[i]
		if row := r.row(k + 1 + i); row != nil {
			for x := r.off[i]; x < r.off[i+1]; x++ {
				row[x] = f * r.im[x]
			}
			row[r.n-1] = f * r.turn
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

// reaches finds in which columns the derivatives of each error are, for models whose ways
// have their parameters from the given ones on.
func (s *systemProblem) reaches(off []int) {
	k := len(s.ways)
	s.span, s.where = off, make([]columns, s.total)
	own := func(i int, last bool) columns { return columns{off[i], off[i+1], last} }
	for i := range s.ways {
		for at := s.off[i]; at < s.off[i+1]; at++ {
			s.where[at] = own(i, false)
		}
	}
	for q := range s.shared {
		at := s.where[s.off[k]+q*s.perJunction():]
		for r := range k - 1 {
			at[r] = columns{off[r], off[r+2], false}
		}
		at[k-1], at[k] = columns{0, off[k] + 1, false}, columns{0, off[k] + 1, false}
		for i := range k {
			at[k+1+i] = own(i, true)
		}
	}
}

func (s *systemProblem) within(i, _ int) columns { return s.where[i] }

// load compresses each way's own rows, and each pair's, before they meet.
func (s *systemProblem) load(sys *leastSquares, _, rows, weight, right []float64) {
	n, k, every := sys.n, len(s.ways), s.perJunction()
	add := func(to func(row []float64, weight, y float64), from, step, end int) {
		for at := from; at < end; at += step {
			if weight[at] != 0 {
				to(rows[at*n:(at+1)*n], weight[at], right[at])
			}
		}
	}
	compressed := func(from, step, end int) {
		sys.part.begin(s.where[from])
		add(sys.part.add, from, step, end)
		sys.addPart(&sys.part)
	}
	for i := range s.ways {
		compressed(s.off[i], 1, s.off[i+1])
		compressed(s.off[k]+k+1+i, every, s.total)
	}
	for r := range k - 1 {
		compressed(s.off[k]+r, every, s.total)
	}
	for r := k - 1; r <= k; r++ { // the sum's level and phase
		add(sys.add, s.off[k]+r, every, s.total)
	}
}
