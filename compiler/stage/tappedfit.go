package stage

import (
	"math"
	"math/cmplx"

	"bandwright/biquad"
)

const (
	// fitPoints is how many frequencies of each state a fit looks at, and fitSteps how many steps it takes.
	fitPoints, fitSteps = 20, 20
	// slack (dB) is what an octave away from quietOhm counts beside errors: where a resistor does
	// not matter it goes there. slackOfNoise is that of Rb away from quietShare of the amplifier's
	// resistors: what the filter adds is noise in every position, the less the nearer the strongest
	// taps are to the string's ends.
	slack, slackOfNoise, quietShare = 0.015, 0.05, 4
	// nudge is the relative change that derivatives are taken from, longest that of a step.
	nudge, longest = 1e-6, 0.4
)

// fit moves some of the parts of values to the smallest sum of squared errors of all states, by the method
// of Levenberg and Marquardt (Marquardt, J. SIAM 11, 1963), within what the stock reaches.
func (x *tappedFilter) fit(v []float64, parts []int) {
	least := 0.0
	at := x.residuals(v, parts)
	for _, e := range at {
		least += float64(e * e)
	}
	damp := 1e-3
	rows := make([][]float64, len(parts))
	for range fitSteps {
		for k, i := range parts {
			was := v[i]
			v[i] *= 1 + nudge
			rows[k] = x.residuals(v, parts)
			for n := range rows[k] {
				rows[k][n] = (rows[k][n] - at[n]) / nudge
			}
			v[i] = was
		}
		w := append([]float64(nil), v...)
		for k, d := range downhill(rows, at, damp) {
			list := x.lists[parts[k]]
			next := v[parts[k]] * (1 + math.Max(-longest, math.Min(longest, d)))
			w[parts[k]] = math.Max(list[0], math.Min(list[len(list)-1], next))
		}
		next, sum := x.residuals(w, parts), 0.0
		for _, e := range next {
			sum += float64(e * e)
		}
		if !(sum < least) {
			damp *= 8
			continue
		}
		done := sum > least*(1-1e-4)
		copy(v, w)
		at, least, damp = next, sum, damp/4
		if done {
			return
		}
	}
}

// residuals are the errors (dB) of all states at fitPoints frequencies each, and how far parts are from
// what is easy.
func (x *tappedFilter) residuals(v []float64, parts []int) []float64 {
	v[x.rf] = v[x.ra]
	out := make([]float64, 0, fitPoints*len(x.want)+len(parts))
	for k, a := range x.want {
		h := x.s.States[k].Closed(v)
		for i, w := range a.w[:min(fitPoints, len(a.w))] {
			out = append(out, biquad.GainDB(cmplx.Abs(h.At(w)/a.want[i])))
		}
	}
	for _, i := range parts {
		e := slack * math.Log2(v[i]/quietOhm)
		if i == x.rb {
			e = slackOfNoise * math.Log2(v[i]/(quietShare*v[x.ra]))
		}
		out = append(out, e)
	}
	return out
}

// lean has fits look for what real op-amps make what is asked for, going by the values v (rig.lean).
func (x *tappedFilter) lean(v []float64) error {
	op := x.b.Means.OpAmp
	if op.Ideal {
		return nil
	}
	x.want = make([]*wanted, len(x.asked))
	for k, a := range x.asked {
		if k == len(x.rigs) {
			x.rigs = append(x.rigs, newRig(x.s.States[k].Topology, op, x.b.Band.FromHz))
		}
		if err := x.rigs[k].set(v); err != nil {
			return err
		}
		w, err := x.rigs[k].lean(a, x.s.States[k].Closed(v))
		if err != nil {
			return err
		}
		x.want[k] = w
	}
	return nil
}

// downhill is the step that makes residuals smaller whose derivatives are rows, one a part, damped.
func downhill(rows [][]float64, at []float64, damp float64) []float64 {
	n := len(rows)
	m := make([][]float64, n) // the normal equations, with their right side
	for i := range m {
		m[i] = make([]float64, n+1)
		for k := range n {
			m[i][k] = product(rows[i], rows[k])
		}
		m[i][i] *= 1 + damp
		m[i][n] = -product(rows[i], at)
	}
	for i := range n { // positive definite: no pivots are needed
		for k := i + 1; k < n; k++ {
			f := m[k][i] / m[i][i]
			for c := i; c <= n; c++ {
				m[k][c] -= float64(f * m[i][c])
			}
		}
	}
	step := make([]float64, n)
	for i := n - 1; i >= 0; i-- {
		sum := m[i][n]
		for k := i + 1; k < n; k++ {
			sum -= float64(m[i][k] * step[k])
		}
		step[i] = sum / m[i][i]
	}
	return step
}

func product(a, b []float64) float64 {
	sum := 0.0
	for i := range a {
		sum += float64(a[i] * b[i])
	}
	return sum
}
