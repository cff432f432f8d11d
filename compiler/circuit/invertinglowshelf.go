package circuit

var invertingLowShelf = Topology{
	Name:     "inverting-low-shelf",
	Doc:      "-(R2/R1)(1+sR3C1)/(1+s(R2+R3)C1): any level at low frequencies and a lower one at high ones, such as the lift for an open baffle; up to some 20 dB. The lift costs headroom and adds low-frequency noise and offset.",
	Source:   "node equations",
	Template: []Element{r("R1", "in", "a"), r("R2", "a", "out"), r("R3", "a", "b"), c("C1", "b", "out"), u("U1", "0", "a", "out")},
	Layout: `
R1 > 5,0
U1 20,2
R2 > 20,-6
R3 > 16,-13
C1 > 24,-13
out 30,0
wire in R1.1
wire R1.2 U1-
plus U1
wire 11,0 ,-6 R2.1
wire 11,-6 ,-13 R3.1
wire R3.2 C1.1
wire C1.2 28, ,-6 R2.2
wire 28,-6 ,2 U1o
wire 28,0 out
`,
	Inverts:  true,
	Realises: []Shape{LowShelf1},
	Free:     []Free{aCapacitor("C1", "any; the resistors follow")},
	Closed: func(v []float64) Ratio {
		r1, r2, r3, c1 := v[0], v[1], v[2], v[3]
		return Ratio{Polynomial{1, r3 * c1}.scaled(-r2), Polynomial{1, (r2 + r3) * c1}.scaled(r1)}
	},
	Design: func(a Asked, free []float64) ([]float64, error) {
		sum, ratio := 1/(a.W*free[0]), a.N[0]/a.N[1]
		r2 := sum * (1 - 1/ratio)
		return []float64{r2 / a.N[0], r2, sum / ratio, free[0]}, nil
	},
}
