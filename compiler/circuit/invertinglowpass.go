package circuit

var invertingLowPass = Topology{
	Name:     "inverting-low-pass",
	Doc:      "-(R2/R1)/(1+sR2C1): first order with any gain.",
	Source:   "node equations",
	Template: []Element{r("R1", "in", "a"), r("R2", "a", "out"), c("C1", "a", "out"), u("U1", "0", "a", "out")},
	Layout: `
R1 > 5,0
U1 16,2
R2 > 16,-6
C1 > 16,-13
out 24,0
wire in R1.1
wire R1.2 U1-
plus U1
wire 10,0 ,-6 R2.1
wire 10,-6 ,-13 C1.1
wire C1.2 22, ,-6 R2.2
wire 22,-6 ,2 U1o
wire 22,0 out
`,
	Inverts:  true,
	Realises: []Shape{LowPass1},
	Free:     []Free{aCapacitor("C1", "any; R2 and R1 follow")},
	Closed: func(v []float64) Ratio {
		return Ratio{Polynomial{-v[1] / v[0]}, Polynomial{1, v[1] * v[2]}}
	},
	Design: func(a Asked, free []float64) ([]float64, error) {
		r2 := 1 / (a.W * free[0])
		return []float64{r2 / a.N[0], r2, free[0]}, nil
	},
}
