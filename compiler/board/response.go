package board

import (
	"math"

	"bandwright/biquad"
	"bandwright/compiler/nodal"
	"bandwright/compiler/parallel"
	"bandwright/compiler/verify"
)

// RealisationName is how findings call the board.
const RealisationName = "board"

// Name is how findings call the board.
func (b *Board) Name() string { return RealisationName }

// CommonDelayS is what is declared of all ways (s).
func (b *Board) CommonDelayS() float64 { return b.DelayS }

// chunk is how many frequencies one solver takes in turn. It is fixed, so that
// results do not depend on the number of processors.
const chunk = 17

// solve writes the response of the ways asked for (nil: all) in one
// combination.
func (b *Board) solve(dst [][]complex128, c biquad.Combination, hz []float64) {
	c = append(biquad.Combination{}, c...)
	parallel.Each((len(hz)+chunk-1)/chunk, func(i int) {
		s := b.wiring.lend(c)
		defer b.wiring.giveBack(c, s)
		for k := i * chunk; k < min(len(hz), (i+1)*chunk); k++ {
			// Where the equations have no solution the response is 0, which no
			// promise survives.
			err := s.At(hz[k])
			for w, out := range b.wiring.outs {
				if err != nil {
					dst[w][k] = 0
					continue
				}
				dst[w][k] = s.Voltage(out)
			}
		}
	})
}

// On prepares responses at hz (Hz).
func (b *Board) On(hz []float64) verify.Responder {
	r := b.responder(hz)
	r.variants = b.wiring.variants()
	return r
}

// Near prepares responses at a few frequencies hz (Hz), in one combination mostly.
func (b *Board) Near(hz []float64) verify.Responder { return b.responder(hz) }

// NearByMany says that Near serves several goroutines: solvers are lent to one at a time.
func (b *Board) NearByMany() {}

func (b *Board) responder(hz []float64) *responder {
	r := &responder{board: b, hz: hz}
	for range b.Ways {
		r.out = append(r.out, make([]complex128, len(hz)))
	}
	return r
}

// responder keeps all ways of the latest combination, which one analysis gives, and of
// the first one what is left for contacts to change.
type responder struct {
	board *Board
	hz    []float64
	out   [][]complex128
	c     biquad.Combination // in out; nil before the first
	left  []nodal.Left       // by frequency; nil before the first
	// variants solve for the combinations; nil where each is analysed as a whole.
	variants *variants
}

// Response implements verify.Responder.
func (r *responder) Response(dst []complex128, way int, c biquad.Combination) {
	if r.c == nil || string(r.c) != string(c) {
		r.solve(c)
		r.c = append(make(biquad.Combination, 0, len(c)), c...)
	}
	copy(dst, r.out[way])
}

// solve is Board.solve for the combinations of one responder.
func (r *responder) solve(c biquad.Combination) {
	if r.variants == nil {
		r.board.solve(r.out, c, r.hz)
		return
	}
	first := r.left == nil
	if first {
		r.left = make([]nodal.Left, len(r.hz))
	}
	w := r.board.wiring
	ohms := w.ohms(c)
	parallel.Each((len(r.hz)+chunk-1)/chunk, func(i int) {
		v := r.variants.lend()
		defer r.variants.giveBack(v)
		for k := i * chunk; k < min(len(r.hz), (i+1)*chunk); k++ {
			var err error
			if first {
				err = v.Reduce(&r.left[k], r.hz[k], ohms)
			} else {
				err = v.Solve(&r.left[k], r.hz[k], ohms)
			}
			for way := range w.outs {
				r.out[way][k] = v.Voltage(way)
			}
			if err != nil {
				r.whole(k, c)
			}
		}
	})
}

// whole solves all of the board at one frequency.
func (r *responder) whole(k int, c biquad.Combination) {
	one := make([][]complex128, len(r.out))
	for way := range one {
		one[way] = r.out[way][k : k+1]
	}
	r.board.solve(one, c, r.hz[k:k+1])
}

// Landmarks are the poles and zeros of a way's stages as their parts make them.
func (b *Board) Landmarks(way int) []verify.Landmark {
	var out []verify.Landmark
	for _, c := range []*Chain{&b.Common, &b.Ways[way].Chain} {
		for _, s := range c.Stages() {
			h := s.Topology.Closed(s.Values)
			out = append(append(out, landmarks(h.N[:])...), landmarks(h.D[:])...)
		}
	}
	return out
}

// landmarks are the roots of a polynomial of the second degree; higher ones
// belong to stages whose sharp roots the prototype has as well.
func landmarks(p []float64) []verify.Landmark {
	for len(p) > 0 && p[len(p)-1] == 0 {
		p = p[:len(p)-1]
	}
	if len(p) < 2 || len(p) > 3 || p[0] == 0 {
		return nil
	}
	if len(p) == 2 {
		return []verify.Landmark{{Hz: math.Abs(p[0]/p[1]) / (2 * math.Pi), Q: 0.5}}
	}
	w := math.Sqrt(math.Abs(p[0] / p[2]))
	q := math.Inf(1)
	if p[1] != 0 {
		q = math.Abs(p[0]/p[1]) / w
	}
	return []verify.Landmark{{Hz: w / (2 * math.Pi), Q: q}}
}
