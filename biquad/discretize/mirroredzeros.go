package discretize

import "math"

// flip is one way to have a response's phase changed and its size kept: a
// zero, or a conjugate pair of them, mirrored at the unit circle.
type flip struct {
	section int
	root    float64 // real zero at s = -root; 0 for the section's pair
}

// flips are those that the sections' zeros allow: all left of the axis.
func flips(ps []planar) []flip {
	var out []flip
	for i, p := range ps {
		for _, z := range roots(p.n) {
			switch {
			case real(z) >= 0 || imag(z) < 0:
			case imag(z) > 0:
				out = append(out, flip{section: i})
			default:
				out = append(out, flip{i, -real(z)})
			}
		}
	}
	return out
}

// turn is the phase that the flip adds at s = jv, in radians.
func (f flip) turn(ps []planar, v float64) float64 {
	if f.root > 0 {
		return -2 * math.Atan(v/f.root)
	}
	n := ps[f.section].n
	return -2 * math.Atan2(n[1]*v*n[0], (n[0]-n[2]*v*v)*n[0])
}

// flippedBy are the sections with the chosen flips.
func flippedBy(ps []planar, fs []flip, chosen []bool) []planar {
	out := append([]planar(nil), ps...)
	for i, f := range fs {
		if !chosen[i] {
			continue
		}
		n := &out[f.section].n
		if f.root == 0 {
			n[1] = -n[1]
			continue
		}
		// n(s)·(root-s)/(root+s), by synthetic division.
		q1 := n[2]
		q0 := n[1] - q1*f.root
		if n[2] == 0 {
			q0 = n[1]
		}
		*n = [3]float64{q0 * f.root, q1*f.root - q0, -q1}
	}
	return out
}

// mostFlips bounds an exhaustive search over flips; beyond it they are tried
// one after another until none helps.
const mostFlips = 10

// bestFlips chooses the flips that leave the least Σ weight·phase² of the base
// phase, and returns that sum. turns[i] is what flip i adds at every place.
func bestFlips(base, weight []float64, turns [][]float64) ([]bool, float64) {
	k := len(turns)
	chosen := make([]bool, k)
	now := append([]float64(nil), base...)
	cost := func() float64 {
		sum := 0.0
		for i, x := range now {
			sum += weight[i] * x * x
		}
		return sum
	}
	toggle := func(i int) {
		s := 1.0
		if chosen[i] {
			s = -1
		}
		chosen[i] = !chosen[i]
		for j, t := range turns[i] {
			now[j] += s * t
		}
	}
	best := cost()
	keep := append([]bool(nil), chosen...)
	if k > mostFlips {
		for again := true; again; {
			again = false
			for i := range turns {
				toggle(i)
				if c := cost(); c < best {
					best, again = c, true
				} else {
					toggle(i)
				}
			}
		}
		return chosen, best
	}
	// Gray's code: one flip from every state to the next.
	for g := 1; g < 1<<k; g++ {
		bit := 0
		for g>>bit&1 == 0 {
			bit++
		}
		toggle(bit)
		if c := cost(); c < best {
			best = c
			copy(keep, chosen)
		}
	}
	return keep, best
}
