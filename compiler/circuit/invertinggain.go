package circuit

var invertingGain = Topology{
	Name:     "inverting-gain",
	Doc:      "-R2/R1: any gain, and the polarity with it; the input resistance is R1.",
	Source:   "node equations",
	Template: []Element{r("R1", "in", "a"), r("R2", "a", "out"), u("U1", "0", "a", "out")},
	Layout: `
R1 > 5,0
U1 16,2
R2 > 16,-6
out 24,0
wire in R1.1
wire R1.2 U1-
plus U1
wire 10,0 ,-6 R2.1
wire R2.2 22, ,2 U1o
wire 22,0 out
`,
	Inverts:  true,
	Realises: []Shape{Constant},
	Free:     []Free{aLevelFor("R1", "impedance level: R1, the input resistance", func(a Asked) float64 { return a.N[0] })},
	Closed: func(v []float64) Ratio {
		return Ratio{Polynomial{-v[1]}, Polynomial{v[0]}}
	},
	Design: func(a Asked, free []float64) ([]float64, error) {
		return []float64{free[0], free[0] * a.N[0]}, nil
	},
}
