package circuit

import "errors"

// The three outputs of one circuit are three topologies, because a section is
// asked of one output. With t1 = R6·C1, t2 = R7·C2 and
// k = R4/(R4+R5)·(1+R3/R1+R3/R2) the high-pass output is
//
//	-(R3/R1)·s²t1t2 / (s²t1t2 + s·k·t2 + R3/R2),
//
// the band-pass output that times -1/(s·t1), the low-pass output that times
// 1/(s²t1t2).
const stateVariableSource = "IEEE J. Solid-State Circuits 2 (1967) 87-92"

// stateVariableTemplate names the output of a section "out" and the others hp,
// bp and lp.
func stateVariableTemplate(hp, bp, lp string) []Element {
	return []Element{
		r("R1", "in", "a"), r("R2", lp, "a"), r("R3", hp, "a"), r("R4", "b", "0").shunt(), r("R5", bp, "b"), u("U1", "b", "a", hp),
		r("R6", hp, "d"), c("C1", "d", bp), u("U2", "0", "d", bp),
		r("R7", bp, "e"), c("C2", "e", lp), u("U3", "0", "e", lp),
	}
}

var stateVariableFree = []Free{
	aCapacitor("C1", "any"), aCapacitor("C2", "any; the same as C1 for equal levels inside"),
	aLevel("R2", "impedance level: R2 = R3"), aLevel("R4", "impedance level of the damping: R4"),
}

// stateVariableParts returns the numerator's R3/R1, t1, t2 and the denominator.
func stateVariableParts(v []float64) (g, t1, t2 float64, d Polynomial) {
	r1, r2, r3, r4, r5 := v[0], v[1], v[2], v[3], v[4]
	t1, t2 = v[5]*v[6], v[7]*v[8]
	k := r4 / (r4 + r5) * (1 + r3/r1 + r3/r2)
	return r3 / r1, t1, t2, Polynomial{r3 / r2, k * t2, t1 * t2}
}

// stateVariableDesign finds the values for R3/R1 = g and R2 = R3.
func stateVariableDesign(a Asked, g float64, free []float64) ([]float64, error) {
	c1, c2, r2, r4 := free[0], free[1], free[2], free[3]
	// t1 = t2 = 1/w, k = 1/Q.
	r5 := r4 * (a.Q*(2+g) - 1)
	if !(r5 > 0) {
		return nil, errors.New("its Q is above 1/(2+gain)")
	}
	return []float64{r2 / g, r2, r2, r4, r5, 1 / (a.W * c1), c1, 1 / (a.W * c2), c2}, nil
}

// stateVariableLayout is what the four pictures have in common.
const stateVariableLayout = `
R1 > 5,0
R2 < 40,-13
R3 < 18,-6
R4 v 12,16
R5 < 30,12
U1 18,2
R6 > 29,0
C1 > 40,-6
U2 40,2
R7 > 51,0
C2 > 62,-6
U3 62,2
wire in R1.1
wire R1.2 U1-
wire 11,0 ,-6 R3.2
wire 11,-6 ,-13 R2.2
wire U1+ 12, ,12
wire R5.2 12, R4.1
gnd R4.2
wire R3.1 24, ,2 U1o
wire 24,0 R6.1
wire R6.2 U2-
plus U2
wire 34,0 ,-6 C1.1
wire C1.2 46, ,2 U2o
wire 46,2 ,12 R5.1
wire 46,0 R7.1
wire R7.2 U3-
plus U3
wire 56,0 ,-6 C2.1
wire C2.2 68, ,2 U3o
wire 68,-6 ,-13 R2.1
`
