package stage

import (
	"math"
	"math/cmplx"
	"slices"
	"sync"

	"bandwright/biquad"
)

// Realised gives what candidates with the real op-amp do at fixed frequencies: the
// errors in dB and radians of the response over Level·Section, which add up along a
// chain. It works out each candidate once, and may be used by several goroutines.
type Realised struct {
	Bench *Bench
	Hz    []float64
	known sync.Map // of *float64, row: values by where they are, as they never change
}

// row is the errors of one candidate by frequency.
type row struct{ db, rad []float64 }

// At prepares errors at the frequencies hz (Hz).
func (b *Bench) At(hz []float64) *Realised { return &Realised{Bench: b, Hz: hz} }

// Errors puts the errors of every candidate. Neighbours of one topology share a
// solver.
func (r *Realised) Errors(all []Candidate, put func(i int, db, rad []float64)) error {
	var on *rig
	for i, c := range all {
		var key *float64
		if len(c.Values) > 0 {
			key = &c.Values[0]
			if known, ok := r.known.Load(key); ok {
				e := known.(row)
				put(i, e.db, e.rad)
				continue
			}
		}
		if on == nil || on.t != c.Topology {
			on = newRig(c.Topology, r.Bench.Means.OpAmp, slices.Min(r.Hz))
		}
		if err := on.set(c.Values); err != nil {
			return err
		}
		e := row{make([]float64, len(r.Hz)), make([]float64, len(r.Hz))}
		for k, f := range r.Hz {
			h, _, err := on.at(f)
			if err != nil {
				return err
			}
			e.db[k], e.rad[k] = relative(h, c.wanted(f))
		}
		if key != nil {
			r.known.Store(key, e)
		}
		put(i, e.db, e.rad)
	}
	return nil
}

// Near puts the errors of candidates of one topology and section, with ideal op-amps and with what
// the real one does to the nearest of some of them added: that changes little from one set of
// values to the next.
func (r *Realised) Near(some, all []Candidate, put func(i int, db, rad []float64)) error {
	wanted := make([]complex128, len(r.Hz))
	for k, f := range r.Hz {
		wanted[k] = all[0].wanted(f)
	}
	ideal := func(c Candidate) row {
		e := row{make([]float64, len(r.Hz)), make([]float64, len(r.Hz))}
		h := c.Topology.Closed(c.Values)
		for k, f := range r.Hz {
			e.db[k], e.rad[k] = relative(h.At(2*math.Pi*f), wanted[k])
		}
		return e
	}
	var add []row
	var at [][]float64
	if err := r.Errors(some, func(i int, db, rad []float64) {
		own := ideal(some[i])
		for k := range own.db {
			own.db[k], own.rad[k] = db[k]-own.db[k], rad[k]-own.rad[k]
		}
		add, at = append(add, own), append(at, octaves(some[i].Values))
	}); err != nil {
		return err
	}
	for i, c := range all {
		e, more := ideal(c), add[closest(octaves(c.Values), at)]
		for k := range e.db {
			e.db[k] += more.db[k]
			e.rad[k] += more.rad[k]
		}
		put(i, e.db, e.rad)
	}
	return nil
}

// octaves are values by their logarithms, 0 for a part that is not fitted.
func octaves(values []float64) []float64 {
	out := make([]float64, len(values))
	for i, v := range values {
		if v > 0 {
			out[i] = math.Log2(v)
		}
	}
	return out
}

// closest is the index of the point of some that is the closest to one, the first of equal ones.
func closest(x []float64, some [][]float64) int {
	best, least := 0, math.Inf(1)
	for n, y := range some {
		sum := 0.0
		for i := range x {
			sum += float64((x[i] - y[i]) * (x[i] - y[i]))
		}
		if sum < least {
			best, least = n, sum
		}
	}
	return best
}

// wanted is the response that a candidate is to have.
func (c *Candidate) wanted(hz float64) complex128 {
	return complex(c.Level, 0) * c.Section.At(2*math.Pi*hz)
}

// relative is a response over the wanted one in dB and radians; 0 where either
// vanishes.
func relative(h, want complex128) (db, rad float64) {
	if h == 0 || want == 0 {
		return 0, 0
	}
	e := h / want
	return biquad.GainDB(cmplx.Abs(e)), math.Atan2(imag(e), real(e))
}

// sharpSteps are where op-amps inside of a stage of the second order are looked at,
// in units of its natural frequency, beside the ends of the band.
var sharpSteps = [...]float64{0.25, 0.5, 0.7, 0.85, 1, 1.2, 1.4, 2, 4}

// Swings lists the largest magnitude of any op-amp's output for 1 V at the input, of
// candidates of one topology and section with the real op-amp.
func (b *Bench) Swings(all []Candidate) ([]float64, error) {
	hz := []float64{b.Band.FromHz, b.Band.ToHz}
	if w, _ := all[0].Section.Natural(); w > 0 {
		for _, x := range sharpSteps {
			hz = append(hz, x*w/(2*math.Pi))
		}
	}
	r := newRig(all[0].Topology, b.Means.OpAmp, slices.Min(hz))
	out := make([]float64, len(all))
	for i, c := range all {
		if err := r.set(c.Values); err != nil {
			return nil, err
		}
		for _, f := range hz {
			if _, _, err := r.at(f); err != nil {
				return nil, err
			}
			out[i] = math.Max(out[i], r.swing())
		}
	}
	return out, nil
}
