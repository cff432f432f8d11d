package circuit

var multipleFeedbackHighPass = Topology{
	Name:   "multiple-feedback-high-pass",
	Doc:    "-s²C1C2R1R2/(1+sR1(C1+C2+C3)+s²R1R2C2C3): the gain C1/C3 follows the capacitors, the input is capacitive, and noise gain stays high above the corner. For use where its inversion is wanted.",
	Source: multipleFeedbackSource,
	Template: []Element{
		c("C1", "in", "a"), c("C2", "a", "b"), c("C3", "a", "out"), r("R1", "a", "0").shunt(), r("R2", "b", "out"), u("U1", "0", "b", "out"),
	},
	Layout: `
C1 > 5,0
R1 v 11,5
C2 > 16,0
U1 27,2
R2 > 27,-6
C3 > 27,-13
wire in C1.1
wire C1.2 C2.1
wire C2.2 U1-
plus U1
wire 11,0 R1.1
gnd R1.2
wire 21,0 ,-6 R2.1
wire 9,0 ,-13 C3.1
wire C3.2 33, ,-6 R2.2
wire 33,-6 ,2 U1o
wire 33,0 out
out 35,0
`,
	Inverts:  true,
	Realises: []Shape{HighPass2},
	MaxQ:     3,
	Free:     []Free{aCapacitor("C1", "any; C3 is C1 divided by the gain"), aCapacitor("C2", "any")},
	Closed: func(v []float64) Ratio {
		c1, c2, c3, r1, r2 := v[0], v[1], v[2], v[3], v[4]
		return Ratio{Polynomial{0, 0, -c1 * c2 * r1 * r2}, Polynomial{1, r1 * (c1 + c2 + c3), r1 * r2 * c2 * c3}}
	},
	Design: func(a Asked, free []float64) ([]float64, error) {
		c1, c2 := free[0], free[1]
		c3 := c1 / a.N[2]
		r1 := 1 / (a.W * a.Q * (c1 + c2 + c3))
		return []float64{c1, c2, c3, r1, 1 / (a.W * a.W * r1 * c2 * c3)}, nil
	},
	Cautions: func(_ Asked, v []float64, _ Means) []Caution {
		return []Caution{capacitive(v[0])}
	},
}
