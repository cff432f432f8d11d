package circuit

var invertingHighShelf = Topology{
	Name:     "inverting-high-shelf",
	Doc:      "-(R2/R1)(1+s(R1+R3)C1)/(1+sR3C1): any level at low frequencies and a higher one at high ones; the input impedance falls to R1∥R3.",
	Source:   "node equations",
	Template: []Element{r("R1", "in", "a"), r("R3", "in", "b"), c("C1", "b", "a"), r("R2", "a", "out"), u("U1", "0", "a", "out")},
	Layout: `
R1 > 10,0
R3 > 6,-6
C1 > 14,-6
U1 24,2
R2 > 24,-6
out 32,0
wire in R1.1
wire R1.2 U1-
plus U1
wire 2,0 ,-6 R3.1
wire R3.2 C1.1
wire C1.2 R2.1
wire 19,-6 ,0
wire R2.2 30, ,2 U1o
wire 30,0 out
`,
	Inverts:  true,
	Realises: []Shape{HighShelf1},
	Free:     []Free{aCapacitor("C1", "any; the resistors follow")},
	Closed: func(v []float64) Ratio {
		r1, r3, c1, r2 := v[0], v[1], v[2], v[3]
		return Ratio{Polynomial{1, (r1 + r3) * c1}.scaled(-r2), Polynomial{1, r3 * c1}.scaled(r1)}
	},
	Design: func(a Asked, free []float64) ([]float64, error) {
		r3 := 1 / (a.W * free[0])
		r1 := r3 * (a.N[1]/a.N[0] - 1)
		return []float64{r1, r3, free[0], r1 * a.N[0]}, nil
	},
}
