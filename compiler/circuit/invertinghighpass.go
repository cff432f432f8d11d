package circuit

var invertingHighPass = Topology{
	Name:     "inverting-high-pass",
	Doc:      "-sR2C1/(1+sR1C1): first order with any gain; R1 is the input impedance in the passband.",
	Source:   "node equations",
	Template: []Element{r("R1", "in", "b"), c("C1", "b", "a"), r("R2", "a", "out"), u("U1", "0", "a", "out")},
	Layout: `
R1 > 5,0
C1 > 12,0
U1 23,2
R2 > 23,-6
out 31,0
wire in R1.1
wire R1.2 C1.1
wire C1.2 U1-
plus U1
wire 17,0 ,-6 R2.1
wire R2.2 29, ,2 U1o
wire 29,0 out
`,
	Inverts:  true,
	Realises: []Shape{HighPass1},
	Free:     []Free{aCapacitor("C1", "any; R1 and R2 follow")},
	Closed: func(v []float64) Ratio {
		return Ratio{Polynomial{0, -v[2] * v[1]}, Polynomial{1, v[0] * v[1]}}
	},
	Design: func(a Asked, free []float64) ([]float64, error) {
		r1 := 1 / (a.W * free[0])
		return []float64{r1, free[0], r1 * a.N[1]}, nil
	},
}
