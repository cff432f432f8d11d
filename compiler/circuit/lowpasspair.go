package circuit

import (
	"errors"
	"fmt"
)

// lowPassPairSource derivation: the Sallen-Key low-pass with R3 below C2. The currents at the
// joint of R1, R2 and C1 and at the follower's input give
//
//	F = (1+sR3C2)/(1+sC2(R1+R2+R3)+s²R1R2C1C2).
const lowPassPairSource = "node equations, on " + sallenKeySource

// lowPassTemplate is the Sallen-Key low-pass with a zero between two nodes. A capacitor beside R1
// would make the zero as well, and load what drives it: op-amps ring with that.
func lowPassTemplate(in, out, amp string) []Element {
	return []Element{
		r("R1", in, "a"), r("R2", "a", "b"), c("C1", "a", out), c("C2", "b", "z"), r("R3", "z", "0").shunt(), u(amp, "b", out, out),
	}
}

// lowPassClosed gives numerator and denominator for R1, R2, C1, C2, R3.
func lowPassClosed(v []float64) (n, d Polynomial) {
	r1, r2, c1, c2, r3 := v[0], v[1], v[2], v[3], v[4]
	return Polynomial{1, r3 * c2}, Polynomial{1, c2 * (r1 + r2 + r3), r1 * r2 * c1 * c2}
}

// lowPassDesign finds R1, R2 and R3 for the poles w (rad/s) and q, and the zero at w/zero.
func lowPassDesign(w, q, zero float64, free []float64) ([]float64, error) {
	c1, c2 := free[0], free[1]
	left := 1/q - zero // of the damping, for R1+R2
	if !(zero > same) || !(left > same) || bad(left) {
		return nil, errors.New("its poles and zeros do not lie as those of a shelf do: the zero of the low-pass inside would be too low, or on the other side")
	}
	large, small, ok := quadraticRoots(left/(w*c2), 1/(w*w*c1*c2))
	if !ok {
		return nil, fmt.Errorf("C1 has to be at least %.3g times C2", 4/(left*left))
	}
	r1, r2 := inOrder(free[2], large, small)
	return []float64{r1, r2, c1, c2, zero / (w * c2)}, nil
}

// lowPassFree are the choices of lowPassDesign.
var lowPassFree = []Free{aCapacitor("C1", "large beside C2"), aCapacitor("C2", "any"), anOrder("R1 and R2")}

// lowPassPicture is how the low-pass inside is drawn, from 0,0 to 33,0.
const lowPassPicture = `
R1 > 5,0
R2 > 15,0
C2 v 20,4
R3 v 20,11
C1 > 21,-13
U1 25,-2
wire in R1.1
wire R1.2 R2.1
wire R2.2 U1+
wire 20,0 C2.1
wire C2.2 R3.1
gnd R3.2
loop U1
wire 10,0 ,-13 C1.1
wire C1.2 31, ,-2 U1o
wire 31,-2 ,0 33,
`
