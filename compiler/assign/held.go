package assign

import (
	"math"
	"slices"
)

// Held is a pick that stands, of which as little as can be is to change.
type Held struct {
	p       *prepared
	idle    func() bool
	limits  Limits
	pointDB float64
	pick    []int
	rows    []Errors // of each path
	err     []float64
	over    []bool // of what is judged: it misses its limit
}

// Room is what the errors of a stage may be by frequency, from low to high; infinite where
// anything may be.
type Room struct{ LowDB, HighDB, LowRad, HighRad []float64 }

// heldShare of limits is used, the rest is for rounding.
const heldShare = 1 - 1e-9

// Hold begins with a pick, whose choices are those that stand, and limits (dB, > 0).
func Hold(p Problem, pick []int, limits Limits) (*Held, error) {
	b, err := p.prepare()
	if err != nil {
		return nil, err
	}
	for n := range b.sums {
		b.sums[n].near = b.sums[n].at // what stands is judged where one path stands alone too
	}
	h := &Held{p: b, idle: p.Idle, pointDB: p.PointDB, limits: Limits{limits.PathDB * heldShare, limits.SumDB * heldShare}}
	h.stand(pick)
	return h, nil
}

// stand takes another pick as what stands.
func (h *Held) stand(pick []int) {
	a := h.p.arrange(pick, make([][]int, len(pick)), h.pointDB)
	a.limit(h.limits)
	h.pick, h.rows, h.err, h.over = a.pick, a.rows, a.err, make([]bool, len(a.err))
	for n, e := range a.err {
		h.over[n] = e > a.limitOf(h.p.group[n])
	}
}

// Within reports whether what stands may stay and is within the limits.
func (h *Held) Within() bool { return !h.gone(-1, -1) && !slices.Contains(h.over, true) }

// gone reports whether what stands may not stay in a stage beside two.
func (h *Held) gone(i, j int) bool {
	for s := range h.p.tables {
		if h.p.tables[s].Gone && s != i && s != j {
			return true
		}
	}
	return false
}

// room is what some stages of which all chosen paths pass may add up to; where reports
// whether a path counts.
func (h *Held) room(where func(path int) bool, stages ...int) Room {
	n := h.p.frequencies
	r := Room{LowDB: slices.Repeat([]float64{-noLimit}, n), HighDB: slices.Repeat([]float64{noLimit}, n),
		LowRad: slices.Repeat([]float64{-noLimit}, n), HighRad: slices.Repeat([]float64{noLimit}, n)}
	for i, t := range h.p.paths {
		if !where(i) {
			continue
		}
		own := func(k int) (db, rad float64) {
			for _, s := range stages {
				if t.has[s] {
					e := h.p.tables[s].Choices[h.pick[s]]
					db, rad = db+e.DB[k], rad+e.Rad[k]
				}
			}
			return db, rad
		}
		for _, k := range t.at {
			db, _ := own(k)
			rest := h.rows[i].DB[k] - db + t.extraDB[k]
			r.LowDB[k], r.HighDB[k] = math.Max(r.LowDB[k], -h.limits.PathDB-rest), math.Min(r.HighDB[k], h.limits.PathDB-rest)
		}
		for _, k := range t.turns {
			_, rad := own(k)
			rest, most := h.rows[i].Rad[k]-rad, h.limits.PathDB/t.PerRad[k]
			r.LowRad[k], r.HighRad[k] = math.Max(r.LowRad[k], -most-rest), math.Min(r.HighRad[k], most-rest)
		}
	}
	return r
}

// RoomOf is what the errors of a stage may be with all others as they stand. ok is false
// where it takes more than that stage.
func (h *Held) RoomOf(stage int) (r Room, ok bool) {
	return h.room(func(n int) bool { return h.p.paths[n].has[stage] }, stage), !h.lost(stage, -1)
}

// lost reports whether a stage beside two has to change, or a path or a sum that hangs on
// neither of them misses its limit.
func (h *Held) lost(i, j int) bool {
	if h.gone(i, j) {
		return true
	}
	for n, over := range h.over {
		if over && !h.p.involves(n, i, j) {
			return true
		}
	}
	return false
}

// Trial judges other errors of some stages; it is not safe for concurrent use.
type Trial struct {
	h     *Held
	a     *arrangement
	rows  []Errors
	zeros []Errors
}

// Trial prepares trials.
func (h *Held) Trial() *Trial {
	a := h.p.arrange(h.pick, make([][]int, len(h.pick)), 0)
	a.limit(h.limits)
	t := &Trial{h: h, a: a, rows: slices.Clone(h.rows), zeros: a.zeros}
	for n := range t.rows {
		t.rows[n] = newErrors(h.p.frequencies)
	}
	return t
}

// Instead is another choice's errors for a stage, with what speaks against it.
type Instead struct {
	Stage  int
	Errors Errors
	Points float64
}

// Cost is the cost (dB) with some errors instead of those that stand: the worst error of
// every way and of every pair's sum, and points, as Search has them; infinite where that
// is not within the limits.
func (t *Trial) Cost(all ...Instead) float64 {
	h := t.h
	worst := t.a.worst
	clear(worst)
	for n := range h.p.paths {
		path := &h.p.paths[n]
		copy(t.rows[n].DB, h.rows[n].DB)
		copy(t.rows[n].Rad, h.rows[n].Rad)
		passed := false
		for _, x := range all {
			if path.has[x.Stage] {
				passed = true
				own := h.p.tables[x.Stage].Choices[h.pick[x.Stage]]
				for k := range own.DB {
					t.rows[n].DB[k] += x.Errors.DB[k] - own.DB[k]
					t.rows[n].Rad[k] += x.Errors.Rad[k] - own.Rad[k]
				}
			}
		}
		e := h.err[n]
		if passed {
			e = t.a.pathError(n, t.rows[n], h.p.zero, h.limits.PathDB)
		}
		if e > h.limits.PathDB {
			return noLimit
		}
		worst[path.Way] = math.Max(worst[path.Way], e)
	}
	for n := range h.p.sums {
		e := t.a.sumError(n, t.rows, t.zeros, h.limits.SumDB)
		if e > h.limits.SumDB {
			return noLimit
		}
		g := h.p.ways + h.p.sums[n].Pair
		worst[g] = math.Max(worst[g], e)
	}
	cost := 0.0
	for _, e := range worst {
		cost += e
	}
	for s, k := range h.pick {
		points := h.p.tables[s].Points[k]
		for _, x := range all {
			if x.Stage == s {
				points = x.Points
			}
		}
		cost += h.pointDB * points
	}
	return cost
}
