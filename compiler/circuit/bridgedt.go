package circuit

import (
	"errors"
	"fmt"
	"math"
)

// bridgedT derivation: a T of two arms Ra, Rb with a capacitor C from their
// joint to ground passes the short-circuit current V/(S+sCP), S = Ra+Rb,
// P = Ra·Rb; bridged by R and C2 in series it passes V·Y with
//
//	Y = N/(D·T), N = 1+sC2(R+S)+s²C·C2·P, D = S+sCP, T = 1+sC2·R.
//
// The stage is -Y(input)/Y(feedback). D and T cancel where both networks have
// the same C·P/S and the same C2·R.
var bridgedT = Topology{
	Name:   "bridged-t",
	Doc:    "-[Ni·Df·Tf]/[Nf·Di·Ti]: one op-amp between two bridged T networks replaces one pole pair by another: pole shifts and second-order shelves. It needs k = (f0/fp-Q0/Qp)/(Q0/Qp-fp/f0) > 0 for the zeros f0, Q0 and the poles fp, Qp, and adds noise where it boosts.",
	Source: "derived from the node equations",
	Template: []Element{
		r("R1A", "in", "a"), r("R1B", "a", "m"), c("C1", "a", "0"), r("R2", "in", "b"), c("C2", "b", "m"),
		r("R3A", "m", "d"), r("R3B", "d", "out"), c("C3", "d", "0"), r("R4", "m", "e"), c("C4", "e", "out"),
		u("U1", "0", "m", "out"),
	},
	Layout: `
R1A > 6,0
R1B > 18,0
C1 v 12,5
R2 > 6,-7
C2 > 18,-7
U1 36,2
R3A > 30,-13
R3B > 42,-13
C3 v 36,-8
R4 > 30,-20
C4 > 42,-20
out 49,0
wire in R1A.1
wire R1A.2 R1B.1
wire 12,0 C1.1
gnd C1.2
wire R1B.2 U1-
plus U1
wire 2,0 ,-7 R2.1
wire R2.2 C2.1
wire C2.2 24, ,0
wire 24,-7 ,-13 R3A.1
wire 24,-13 ,-20 R4.1
wire R3A.2 R3B.1
wire 36,-13 C3.1
gnd C3.2
wire R4.2 C4.1
wire C4.2 47, ,-13 R3B.2
wire 47,-13 ,2 U1o
wire 47,0 out
`,
	Inverts:  true,
	Realises: []Shape{Shift2},
	MaxQ:     3,
	Free: []Free{
		aCapacitor("C2", "any; C4 is C2 divided by the gain at high frequencies"),
		aRatio("C1", "0 for equal arms R1A = R1B, or a larger capacitor with unequal ones", 0),
		aRatio("C3", "0 for equal arms R3A = R3B, or a larger capacitor with unequal ones", 0),
	},
	Closed: func(v []float64) Ratio {
		ni, di, ti := bridged(v[0], v[1], v[2], v[3], v[4])
		nf, df, tf := bridged(v[5], v[6], v[7], v[8], v[9])
		return Ratio{ni.first(df).first(tf).scaled(-1), nf.first(di).first(ti)}
	},
	Design: func(a Asked, free []float64) ([]float64, error) {
		// H = gain·(s²+s·w0/Q0+w0²)/(s²+s·wp/Qp+wp²).
		gain := a.N[2]
		wp, qp := a.W, a.Q
		w0 := wp * math.Sqrt(a.N[0]/a.N[2])
		q0 := math.Sqrt(a.N[0]*a.N[2]) / a.N[1]
		c2, c4 := free[0], free[0]/gain
		ratio := w0 / wp
		// C2(R2+S) = 1/(w0Q0) and C2(R2+S·ratio²) = 1/(wpQp), the feedback scaled
		// by the gain.
		s := (1/(wp*qp) - 1/(w0*q0)) / (c2 * (ratio*ratio - 1))
		r2 := 1/(c2*w0*q0) - s
		if !(s > 0) || !(r2 > 0) || bad(s) {
			return nil, fmt.Errorf("k = (f0/fp-Q0/Qp)/(Q0/Qp-fp/f0) has to be positive; f0/fp is %.4g and Q0/Qp %.4g", ratio, q0/qp)
		}
		r1a, r1b, c1, err := arms(s, 1/(c2*w0*w0), free[1])
		if err != nil {
			return nil, fmt.Errorf("C1 %w", err)
		}
		r3a, r3b, c3, err := arms(s*ratio*ratio*gain, 1/(c4*wp*wp), free[2])
		if err != nil {
			return nil, fmt.Errorf("C3 %w", err)
		}
		return []float64{r1a, r1b, c1, r2, c2, r3a, r3b, c3, r2 * gain, c4}, nil
	},
}

// bridged is N, D and T of one network.
func bridged(ra, rb, c, r, cb float64) (n Polynomial, d, t [2]float64) {
	s, p := ra+rb, ra*rb
	return Polynomial{1, cb * (r + s), c * cb * p}, [2]float64{s, c * p}, [2]float64{1, cb * r}
}

// arms splits the sum s (ohm) of the arms so that C·Ra·Rb is cp, for a chosen C
// or, where that is 0, for equal arms.
func arms(s, cp, chosen float64) (ra, rb, c float64, err error) {
	if chosen == 0 {
		return s / 2, s / 2, 4 * cp / (s * s), nil
	}
	large, small, ok := quadraticRoots(s, cp/chosen)
	if !ok {
		return 0, 0, 0, errors.New("is smaller than equal arms need")
	}
	return large, small, chosen, nil
}
