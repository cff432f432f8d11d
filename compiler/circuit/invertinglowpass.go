package circuit

var invertingLowPass = Topology{
	Name:     "inverting-low-pass",
	Doc:      "-(R2/R1)/(1+sR2C1): first order with any gain.",
	Source:   "node equations",
	Template: []Element{r("R1", "in", "a"), r("R2", "a", "out"), c("C1", "a", "out"), u("U1", "0", "a", "out")},
	Inverts:  true,
	Realises: []Shape{LowPass1},
	Free:     []Free{aCapacitor("C1", "any; R2 and R1 follow")},
	Closed: func(v []float64) Ratio {
		return Ratio{[]float64{-v[1] / v[0]}, []float64{1, v[1] * v[2]}}
	},
	Design: func(a Asked, free []float64) ([]float64, error) {
		r2 := 1 / (a.W * free[0])
		return []float64{r2 / a.N[0], r2, free[0]}, nil
	},
}
