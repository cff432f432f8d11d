package circuit

import "errors"

// highPassPairSource derivation: the Sallen-Key high-pass with R3 beside C1. The currents at the
// joint of C1, C2 and R1 and at the follower's input give
//
//	F = (s²C1C2+sC2/R3)/(s²C1C2+s(C2/R3+(C1+C2)/R2)+(1/R1+1/R3)/R2).
const highPassPairSource = "node equations, on " + sallenKeySource

// highPassTemplate is the Sallen-Key high-pass with a second zero, above 0 Hz, between two nodes.
func highPassTemplate(in, out, amp string) []Element {
	return []Element{
		c("C1", in, "a"), c("C2", "a", "b"), r("R1", "a", out), r("R2", "b", "0").shunt(), r("R3", in, "a"), u(amp, "b", out, out),
	}
}

// highPassClosed gives numerator and denominator for C1, C2, R1, R2, R3, multiplied by R1·R2·R3.
func highPassClosed(v []float64) (n, d Polynomial) {
	c1, c2, r1, r2, r3 := v[0], v[1], v[2], v[3], v[4]
	s2 := r1 * r2 * r3 * c1 * c2
	return Polynomial{0, c2 * r1 * r2, s2}, Polynomial{r1 + r3, c2*r1*r2 + (c1+c2)*r1*r3, s2}
}

// highPassDesign finds R1, R2 and R3 for the poles w (rad/s) and q, and the zero at w·zero.
func highPassDesign(w, q, zero float64, free []float64) ([]float64, error) {
	c1, c2 := free[0], free[1]
	left := 1/q - zero // of the damping, for R2
	if !(zero > same) || !(left > same) || bad(left) {
		return nil, errors.New("its poles and zeros do not lie as those of a shelf do: the zero of the high-pass inside would be too high, or on the other side")
	}
	r2 := (c1 + c2) / (left * w * c1 * c2)
	g1 := w*w*c1*c2*r2 - zero*w*c1
	if !(g1 > 0) {
		return nil, errors.New("the zero of the high-pass inside would be too high beside its poles")
	}
	return []float64{c1, c2, 1 / g1, r2, 1 / (zero * w * c1)}, nil
}

// highPassFree are the choices of highPassDesign.
var highPassFree = []Free{aCapacitor("C1", "any"), aCapacitor("C2", "any")}

// highPassPicture is how the high-pass inside is drawn, from 0,0 to 33,0.
const highPassPicture = `
C1 > 5,0
R3 > 5,-7
C2 > 15,0
R2 v 20,4
R1 > 21,-13
U1 25,-2
wire in C1.1
wire 1,0 ,-7 R3.1
wire R3.2 10,
wire C1.2 C2.1
wire C2.2 U1+
wire 20,0 R2.1
gnd R2.2
loop U1
wire 10,0 ,-13 R1.1
wire R1.2 31, ,-2 U1o
wire 31,-2 ,0 33,
`
