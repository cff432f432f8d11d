package result

import (
	"math"
	"slices"

	"bandwright/biquad"
	"bandwright/compiler"
	"bandwright/compiler/language"
	"bandwright/compiler/verify"
	"bandwright/compiler/words"
)

// sheet is a loudspeaker's responses: [combination][way][frequency].
type sheet struct {
	ways []string
	h    [][][]complex128
	// late (s) and sign are each way's pure delay and polarity.
	late, sign []float64
}

func (s *sheet) way(name string) int { return slices.Index(s.ways, name) }

// sum is all ways together in combination c.
func (s *sheet) sum(c int) []complex128 {
	out := make([]complex128, len(s.h[c][0]))
	for _, w := range s.h[c] {
		for i, v := range w {
			out[i] += v
		}
	}
	return out
}

// ideal is the sheet of a prototype.
func ideal(b *compiler.Wanted, hz []float64, combos []biquad.Combination) *sheet {
	s := &sheet{}
	var rs []*biquad.Responder
	for k, w := range b.Prototype.Ways {
		p := b.Prototype.Path(k)
		s.ways, s.late, s.sign = append(s.ways, w.Name), append(s.late, p.DelayS), append(s.sign, w.Polarity)
		rs = append(rs, biquad.OnAnalog(p, hz))
	}
	for _, c := range combos {
		row := make([][]complex128, len(rs))
		for k, r := range rs {
			row[k] = make([]complex128, len(hz))
			r.Response(row[k], c)
		}
		s.h = append(s.h, row)
	}
	return s
}

// realised is the sheet of a realisation, the common delay taken out.
func realised(d *Reached, hz []float64, combos []map[string]string) *sheet {
	s := &sheet{}
	for _, w := range d.Ways {
		s.ways, s.late, s.sign = append(s.ways, w.Way), append(s.late, 0), append(s.sign, 1)
	}
	for _, c := range combos {
		var row [][]complex128
		for k := range d.Ways {
			row = append(row, d.response(k, c, hz))
		}
		s.h = append(s.h, row)
	}
	return s
}

// scope is where two loudspeakers are compared: the combinations of settings
// that both offer, and frequencies over the promised band.
type scope struct {
	tol      Tolerances
	downTo   float64 // dB, how far below its peak a way still counts
	hz       []float64
	settings []language.Setting // of both
	combos   []biquad.Combination
	// oldNames and newNames are the combinations by name, for each side with
	// the default of a setting that only it has.
	oldNames, newNames []map[string]string
}

const (
	scopePerOctave = 48
	// heardDB is how far below its peak a way, or the sum below the ways'
	// magnitudes, is compared first (dB): lower it neither sums nor is heard.
	heardDB = -20.0
	// leastDB, leastDeg and leastS are the changes that are told: what the
	// tables resolve.
	leastDB, leastDeg, leastS = 0.001, 0.01, 1e-9
)

// change is the greatest change of one way or of the sum.
type change struct {
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

func (c change) any() bool {
	return math.Abs(c.db) >= leastDB || math.Abs(c.deg) >= leastDeg || math.Abs(c.lateS) >= leastS || c.turned
}

// beyond reports whether a change is more than the tolerances allow.
func (t Tolerances) beyond(c change) bool {
	return math.Max(c.most, math.Abs(c.db)) > t.MagnitudeDB || math.Abs(c.deg) > t.PhaseDeg || math.Abs(c.lateS) > t.DelayS || c.turned
}

// Tolerances are the spec's regression block.
type Tolerances struct {
	MagnitudeDB float64 `json:"magnitude_db"`
	PhaseDeg    float64 `json:"phase_deg"`
	DelayS      float64 `json:"delay_s"`
}

func (t Tolerances) String() string {
	return words.Exact(t.MagnitudeDB) + " dB, " + words.Exact(t.PhaseDeg) + " deg or " + words.Exact(digits(t.DelayS*1e6, 9)) + " us"
}

// ratio is 20·lg|b/a| within ±verify.MostErrorDB.
func ratio(a, b complex128) float64 {
	d := biquad.DB(b) - biquad.DB(a)
	return math.Max(-verify.MostErrorDB, math.Min(verify.MostErrorDB, d))
}

// between is how the ways that both sheets have changed, then the sum, which
// is left out of a single way.
func (s *scope) between(a, b *sheet) []change {
	var out []change
	for i, name := range a.ways {
		j := b.way(name)
		if j < 0 {
			continue
		}
		c := change{way: name, lateS: b.late[j] - a.late[i], turned: a.sign[i] != b.sign[j]}
		if math.Abs(c.lateS) < leastS {
			c.lateS = 0
		}
		s.scan(&c, func(k int) (x, y []complex128, px, py float64) {
			x, y = a.h[k][i], b.h[k][j]
			return x, y, peak(x), peak(y)
		})
		out = append(out, c)
	}
	if len(a.ways) == 1 && len(b.ways) == 1 {
		return out
	}
	sum := change{way: "sum"}
	s.scan(&sum, func(k int) (x, y []complex128, px, py float64) {
		x, y = a.sum(k), b.sum(k)
		return x, y, peak(x), peak(y)
	})
	sum.deg = 0 // the ways' own phases are told
	return append(out, sum)
}

// peak is the greatest level, dB.
func peak(h []complex128) float64 {
	var top complex128
	most := 0.0
	for _, v := range h {
		if m := real(v)*real(v) + imag(v)*imag(v); m > most {
			top, most = v, m
		}
	}
	return biquad.DB(top)
}

// scan finds the greatest change: where heard, and where nothing is changed
// there, further down.
func (s *scope) scan(c *change, pair func(combo int) (x, y []complex128, px, py float64)) {
	deep := change{}
	spread := make([]float64, len(s.combos)) // dB, of the change where heard
	for k := range s.combos {
		x, y, px, py := pair(k)
		low, high := math.Inf(1), math.Inf(-1)
		for i := range x {
			d := ratio(x[i], y[i])
			c.perLine = append(c.perLine, d)
			lx, ly := biquad.DB(x[i])-px, biquad.DB(y[i])-py
			level := math.Max(lx, ly)
			switch {
			case level < s.downTo:
				continue
			case level < heardDB:
				if math.Abs(d) > math.Abs(deep.db)+1e-9 {
					deep = change{db: d, hz: s.hz[i], combo: k, below: -level}
				}
				continue
			}
			low, high = math.Min(low, d), math.Max(high, d)
			c.most = math.Max(c.most, math.Abs(d))
			if math.Abs(d) > math.Abs(c.db)+s.margin(k, c.combo) {
				c.db, c.hz, c.combo = d, s.hz[i], k
			}
			if math.Min(lx, ly) >= heardDB {
				q := y[i] * complex(real(x[i]), -imag(x[i])) * turn(s.hz[i], c)
				if deg := math.Atan2(imag(q), real(q)) * 180 / math.Pi; math.Abs(deg) > math.Abs(c.deg)+1e-9 {
					c.deg, c.degHz = deg, s.hz[i]
				}
			}
		}
		spread[k] = high - low
	}
	if n := len(s.hz); c.combo != 0 && math.Abs(c.perLine[slices.Index(s.hz, c.hz)]-c.perLine[c.combo*n+slices.Index(s.hz, c.hz)]) < leastDB {
		c.combo = 0 // the setting does not matter: it only raises the rest
	}
	c.flat = spread[c.combo] < leastDB
	if c.most <= s.tol.MagnitudeDB && math.Abs(deep.db) > s.tol.MagnitudeDB {
		c.db, c.hz, c.combo, c.below, c.flat = deep.db, deep.hz, deep.combo, deep.below, false
		c.most = math.Abs(deep.db)
	}
}

// margin is by how much (dB) another combination must be worse to be the one
// that is told: a sentence without settings says more.
func (s *scope) margin(combo, best int) float64 {
	if combo != best {
		return 10 * leastDB
	}
	return 1e-9
}

// turn takes a change's pure delay and polarity out of a quotient.
func turn(hz float64, c *change) complex128 {
	q := biquad.Delay(hz, -c.lateS)
	if c.turned {
		return -q
	}
	return q
}
