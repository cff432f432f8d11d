package circuit

var invertingHighShelf = Topology{
	Name:     "inverting-high-shelf",
	Doc:      "-(R2/R1)(1+s(R1+R3)C1)/(1+sR3C1): any level at low frequencies and a higher one at high ones; the input impedance falls to R1∥R3.",
	Source:   "node equations",
	Template: []Element{r("R1", "in", "a"), r("R3", "in", "b"), c("C1", "b", "a"), r("R2", "a", "out"), u("U1", "0", "a", "out")},
	Inverts:  true,
	Realises: []Shape{HighShelf1},
	Free:     []Free{aCapacitor("C1", "any; the resistors follow")},
	Closed: func(v []float64) Ratio {
		r1, r3, c1, r2 := v[0], v[1], v[2], v[3]
		return Ratio{scaled(-r2, 1, (r1+r3)*c1), scaled(r1, 1, r3*c1)}
	},
	Design: func(a Asked, free []float64) ([]float64, error) {
		r3 := 1 / (a.W * free[0])
		r1 := r3 * (a.N[1]/a.N[0] - 1)
		return []float64{r1, r3, free[0], r1 * a.N[0]}, nil
	},
}
