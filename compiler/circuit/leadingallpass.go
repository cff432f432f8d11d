package circuit

var leadingAllPass = Topology{
	Name:   "leading-all-pass",
	Doc:    "(sR1C1-k)/(1+sR1C1), k = R3/R2: inverts at low frequencies. With k ≠ 1 the zero lies elsewhere in the right half plane.",
	Source: "node equations",
	Template: []Element{
		c("C1", "in", "a"), r("R1", "a", "0"), r("R2", "in", "b"), r("R3", "b", "out"), u("U1", "a", "b", "out"),
	},
	Inverts:    true,
	Realises:   []Shape{AllPass1, RightHalf1},
	LevelFixed: true,
	Free:       []Free{aCapacitor("C1", "any; R1 follows"), aLevel("R2", allPassLevel)},
	Closed: func(v []float64) Ratio {
		t, k := v[0]*v[1], v[3]/v[2]
		return Ratio{[]float64{-k, t}, []float64{1, t}}
	},
	Design: func(a Asked, free []float64) ([]float64, error) {
		k := -a.N[0] / a.N[1]
		return []float64{free[0], 1 / (a.W * free[0]), free[1], free[1] * k}, nil
	},
}
