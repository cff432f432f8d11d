package diagnosis

import (
	"cmp"
	"math"
	"math/cmplx"
	"slices"

	"bandwright/biquad"
)

// structure is the unit as it may be connected and set: an alternative (nil for what was said),
// with two ways exchanged or not, and some inverted.
type structure struct {
	other    *Alternative
	swapped  [2]int // columns; equal where none are
	inverted []int  // columns
	square   float64
	h        []complex128 // what it predicts, by place
}

// structures are the hypotheses on how a unit is connected and set; nothing is the square of
// what was said. Each is looked at with the tolerances of the unit as it was said to be, the
// nearest with its own.
func (x *Bench) structures(t *taken, readings []Reading, nothing float64) ([]Hypothesis, error) {
	var all []structure
	buf := x.deviation(nil, t, x.nominalAt)
	n := len(x.ways)
	for k := -1; k < len(x.alternatives); k++ {
		h := x.nominal
		var other *Alternative
		if k >= 0 {
			other = &x.alternatives[k]
			h = other.H
		}
		for a := range n {
			for b := a; b < n; b++ {
				if a == b && a > 0 {
					continue // none exchanged, once
				}
				stage := other != nil && other.stage
				if a != b && (stage || slices.Equal(h[a], h[b])) { // exchanged the same would be heard
					continue
				}
				s := structure{other: other, swapped: [2]int{a, b}}
				x.connect(&s, t, h, buf)
				if stage && len(s.inverted) > 0 {
					continue
				}
				if other != nil || a != b || len(s.inverted) > 0 {
					all = append(all, s)
				}
			}
		}
	}
	slices.SortStableFunc(all, func(a, b structure) int { return cmp.Compare(a.square, b.square) })
	var out []Hypothesis
	if !t.whole.fits(nothing) {
		if h, ok := x.apart(readings); ok && h.square < nothing {
			out = append(out, h)
		}
	}
	for _, h := range x.louder(t) {
		if h.square < nothing {
			out = append(out, h)
		}
	}
	count := float64(len(all) + 1)
	for i, s := range all {
		if i >= 6 || s.square > nothing {
			break
		}
		h := Hypothesis{square: s.square, h: s.h}
		lnDet := t.whole.lnDet
		for _, c := range s.inverted {
			h.Inverted = append(h.Inverted, x.ways[c])
		}
		if s.swapped[0] != s.swapped[1] {
			h.Swapped = []int{x.ways[s.swapped[0]], x.ways[s.swapped[1]]}
		}
		if s.other != nil {
			h.C, h.Text = s.other.C, s.other.Text
		}
		if h.C != nil && x.board != nil && i < 2 {
			own, err := x.in(h.C)
			if err != nil {
				return nil, err
			}
			beside := *t
			beside.whole = own.spaceOf(nil, t)
			own.connect(&s, &beside, own.nominal, nil)
			h.square, lnDet = s.square, beside.whole.lnDet
		}
		h.lnWeight = math.Log(structural/count) - (h.square+lnDet)/2
		if h.Text != "" {
			h.lnWeight -= math.Log(rarer)
		}
		out = append(out, h)
	}
	return out, nil
}

// connect finds which ways are inverted, and how far the measurement is from the unit as it
// would then be.
func (x *Bench) connect(s *structure, t *taken, h [][]complex128, buf []float64) {
	if a, b := s.swapped[0], s.swapped[1]; a != b { // each measurement beside what it is then of
		other := *t
		other.h, other.known = slices.Clone(t.h), slices.Clone(t.known)
		other.h[a], other.h[b] = other.h[b], other.h[a]
		other.known[a], other.known[b] = other.known[b], other.known[a]
		t = &other
	}
	if moved := s.swapped[0] != s.swapped[1] || s.other != nil && s.other.Text != ""; moved && x.FitDelay && x.Phased {
		reach := connectedReach
		if s.other != nil && s.other.stage {
			reach = bypassReach
		}
		t = x.later(t, h, reach)
	}
	sign := make([]float64, len(x.ways))
	for c := range sign {
		sum := 0.0
		for f, v := range t.h[c] {
			if g := h[c][f]; t.known[c][f] && cmplx.Abs(g) > 0.1*x.peaks[c] {
				sum += math.Cos(cmplx.Phase(v * cmplx.Conj(g)))
			}
		}
		if sign[c] = 1; sum < 0 && x.Phased {
			sign[c] = -1
			s.inverted = append(s.inverted, c)
		}
	}
	s.h = make([]complex128, len(x.places))
	for i, at := range x.places {
		s.h[i] = h[at.column][at.f] * complex(sign[at.column], 0)
	}
	s.square = t.whole.square(x.deviation(buf, t, func(i int, _ place) complex128 { return s.h[i] }))
}

// connectedReach (s) is what ways of one unit may be apart.
const connectedReach = 0.012

// later is a measurement with its delay fitted to other responses, within a reach (s).
func (x *Bench) later(t *taken, h [][]complex128, reach float64) *taken {
	out := *t
	out.h = nil
	s := 0.0
	for c, of := range t.h {
		of = slices.Clone(of)
		if c == 0 || x.DelayEach {
			s = x.delayOf(t, h, 1, -reach, reach, x.fitted(c))
		}
		for f, hz := range x.hz {
			of[f] *= cmplx.Conj(biquad.Delay(hz, s))
		}
		out.h = append(out.h, of)
	}
	return &out
}

// in is the bench for the same unit in another combination.
func (x *Bench) in(c []uint8) (*Bench, error) {
	x.mu.Lock()
	defer x.mu.Unlock()
	if own, ok := x.made[string(c)]; ok {
		return own, nil
	}
	own, err := newBench(x.subject, x.board, x.bought, x.ways, c, x.Conditions)
	if err != nil {
		return nil, err
	}
	// Both have to be held to the same places.
	own.places = x.places
	own.covariance = own.covarianceOf(nil)
	if x.made == nil {
		x.made = map[string]*Bench{}
	}
	x.made[string(c)] = own
	return own, nil
}
