package compare

import (
	"math"
	"math/cmplx"
	"slices"

	"bandwright/biquad"
	"bandwright/compiler"
	"bandwright/compiler/result"
	"bandwright/compiler/verify"
)

// sumOfWays is what sentences call all ways together.
const sumOfWays = "sum"

// responses are a loudspeaker's: [combination][way][frequency].
type responses struct {
	ways []string
	h    [][][]complex128
	// late (s) and sign are each way's pure delay and polarity.
	late, sign []float64
}

func (r *responses) way(name string) int { return slices.Index(r.ways, name) }

// sum is all ways together in combination c.
func (r *responses) sum(c int) []complex128 {
	out := make([]complex128, len(r.h[c][0]))
	for _, w := range r.h[c] {
		for i, v := range w {
			out[i] += v
		}
	}
	return out
}

// of is a way, or the sum, in combination c.
func (r *responses) of(way string, c int) []complex128 {
	if way == sumOfWays {
		return r.sum(c)
	}
	return r.h[c][r.way(way)]
}

// ideal are the responses of a prototype.
func (s *scope) ideal(w *compiler.Wanted) *responses {
	out := &responses{}
	var rs []*biquad.Responder
	for k, way := range w.Prototype.Ways {
		p := w.Prototype.Path(k)
		out.ways, out.late, out.sign = append(out.ways, way.Name), append(out.late, p.DelayS), append(out.sign, way.Polarity)
		rs = append(rs, biquad.OnAnalog(p, s.hz))
	}
	for _, c := range s.combos {
		row := make([][]complex128, len(rs))
		for k, r := range rs {
			row[k] = make([]complex128, len(s.hz))
			r.Response(row[k], c.joint)
		}
		out.h = append(out.h, row)
	}
	return out
}

// realised are responses from which delays and polarities are not told apart:
// of each way in each of some combinations by name.
func realised(ways []string, combos []map[string]string, response func(k int, choices map[string]string) []complex128) *responses {
	out := &responses{ways: ways, late: make([]float64, len(ways)), sign: slices.Repeat([]float64{1}, len(ways))}
	for _, c := range combos {
		var row [][]complex128
		for k := range ways {
			row = append(row, response(k, c))
		}
		out.h = append(out.h, row)
	}
	return out
}

// digital are the responses of a realisation, the common delay taken out.
func (s *scope) digital(d *result.AcceptedDigital, combos []map[string]string) *responses {
	var ways []string
	for _, w := range d.Ways {
		ways = append(ways, w.Way)
	}
	return realised(ways, combos, func(k int, choices map[string]string) []complex128 { return d.Response(k, choices, s.hz) })
}

// sides are the combinations by name, on the old side and on the new one.
func (s *scope) sides() (old, new []map[string]string) {
	for _, c := range s.combos {
		old, new = append(old, c.old), append(new, c.new)
	}
	return old, new
}

// move is the greatest change of one way or of the sum.
type move struct {
	way    string
	db, hz float64
	// flat: the change is the same wherever the way is heard, as of a gain.
	flat bool
	// most is the greatest magnitude of db in any combination; db is the
	// default's where that is not clearly less.
	most    float64
	below   float64 // dB below the peak where only that is changed; 0 where heard
	combo   int
	deg     float64 // beside delay and polarity
	degHz   float64
	lateS   float64
	turned  bool
	perLine []float64 // dB at every combination × frequency, for sums of edits
}

func (m move) any() bool {
	return math.Abs(m.db) >= leastDB || math.Abs(m.deg) >= leastDeg || math.Abs(m.lateS) >= leastS || m.turned
}

// little reports whether anything moved at all, beyond what arithmetic leaves of nothing.
func (m move) little() bool {
	return math.Max(m.most, math.Abs(m.db)) > littleDB || math.Abs(m.deg) > littleDeg
}

// level reports whether a way's level moved further than the tolerance allows.
func (t Tolerances) level(m move) bool { return math.Max(m.most, math.Abs(m.db)) > t.MagnitudeDB }

// beyond reports whether a way moved further than the tolerances allow.
func (t Tolerances) beyond(m move) bool {
	return t.level(m) || math.Abs(m.deg) > t.PhaseDeg || math.Abs(m.lateS) > t.DelayS || m.turned
}

// ratio is 20·lg|b/a| within ±verify.MostErrorDB.
func ratio(a, b complex128) float64 { return bounded(biquad.DB(b) - biquad.DB(a)) }

func bounded(db float64) float64 {
	return math.Max(-verify.MostErrorDB, math.Min(verify.MostErrorDB, db))
}

// between is how the ways that both have moved, then the sum, which is left
// out of a single way.
func (s *scope) between(a, b *responses) []move {
	var out []move
	for i, name := range a.ways {
		j := b.way(name)
		if j < 0 {
			continue
		}
		m := move{way: name, lateS: b.late[j] - a.late[i], turned: a.sign[i] != b.sign[j]}
		if math.Abs(m.lateS) < leastS {
			m.lateS = 0
		}
		s.scan(&m, a, b)
		out = append(out, m)
	}
	if len(a.ways) == 1 && len(b.ways) == 1 {
		return out
	}
	sum := move{way: sumOfWays}
	s.scan(&sum, a, b)
	sum.deg = 0 // the ways' own phases are told
	return append(out, sum)
}

// peak is the greatest level, dB.
func peak(h []complex128) float64 {
	var top complex128
	most := 0.0
	for _, v := range h {
		if m := biquad.Power(v); m > most {
			top, most = v, m
		}
	}
	return biquad.DB(top)
}

// scan finds the greatest change of the way of m: where heard, and where nothing
// is changed there, further down.
func (s *scope) scan(m *move, a, b *responses) {
	deep := move{}
	spread := make([]float64, len(s.combos)) // dB, of the change where heard
	for k := range s.combos {
		x, y := a.of(m.way, k), b.of(m.way, k)
		px, py := peak(x), peak(y)
		low, high := math.Inf(1), math.Inf(-1)
		near := s.near(m.way, k, a, b)
		for i, hz := range s.hz {
			lx, ly := biquad.DB(x[i]), biquad.DB(y[i])
			d := bounded(ly - lx)
			m.perLine = append(m.perLine, d)
			lx, ly = lx-px, ly-py
			level := math.Max(lx, ly)
			switch {
			case level < s.downTo:
				continue
			case level < heardDB:
				if math.Abs(d) > math.Abs(deep.db)+1e-9 {
					deep = move{db: d, hz: hz, combo: k, below: -level}
				}
				continue
			}
			low, high = math.Min(low, d), math.Max(high, d)
			m.most = math.Max(m.most, math.Abs(d))
			if math.Abs(d) > math.Abs(m.db)+m.margin(k) {
				m.db, m.hz, m.combo = d, hz, k
			}
			if math.Min(lx, ly) >= heardDB {
				q := y[i] * cmplx.Conj(x[i]) * m.turn(hz)
				deg := math.Atan2(imag(q), real(q)) * 180 / math.Pi
				if math.Abs(deg) > math.Abs(m.deg)+1e-9 && (math.Abs(deg) > reversedDeg || near(i)) {
					m.deg, m.degHz = deg, hz
				}
			}
		}
		spread[k] = high - low
	}
	if at := slices.Index(s.hz, m.hz); m.combo != 0 && math.Abs(m.perLine[at]-m.perLine[m.combo*len(s.hz)+at]) < leastDB {
		m.combo = 0 // the setting does not matter: it only raises the rest
	}
	m.flat = spread[m.combo] < leastDB
	if m.most <= s.tol.MagnitudeDB && math.Abs(deep.db) > s.tol.MagnitudeDB {
		m.db, m.hz, m.combo, m.below, m.flat = deep.db, deep.hz, deep.combo, deep.below, false
		m.most = math.Abs(deep.db)
	}
}

// reversedDeg is from which phase on (deg) a way counts as reversed, which is
// told wherever the way is heard.
const reversedDeg = 90

// near reports at which frequencies the phase of a way counts in combination k:
// everywhere, or where a neighbour is near in level on either side.
func (s *scope) near(way string, k int, a, b *responses) func(i int) bool {
	if !s.nearOnly {
		return func(int) bool { return true }
	}
	within := func(r *responses, i int) bool {
		at := r.way(way)
		if at < 0 {
			return false
		}
		own := biquad.DB(r.h[k][at][i])
		return biquad.NeighbourMarginDB(biquad.NeighbourDB, at, len(r.ways), func(n int) float64 { return biquad.DB(r.h[k][n][i]) - own }) >= 0
	}
	return func(i int) bool { return within(a, i) || within(b, i) }
}

// margin is by how much (dB) a combination must be worse to be the one that is told, where another one so far has
// anything to tell: a sentence without settings says more.
func (m *move) margin(combo int) float64 {
	if combo != m.combo && math.Abs(m.db) >= leastDB {
		return 10 * leastDB
	}
	return 1e-9
}

// turn takes a way's pure delay and polarity out of a quotient.
func (m *move) turn(hz float64) complex128 {
	q := biquad.Delay(hz, -m.lateS)
	if m.turned {
		return -q
	}
	return q
}
