package circuit

var laggingAllPass = Topology{
	Name:   "lagging-all-pass",
	Doc:    "(1-k·sR1C1)/(1+sR1C1), k = R3/R2: no inversion at low frequencies. With k ≠ 1 the zero lies elsewhere in the right half plane.",
	Source: "node equations",
	Template: []Element{
		r("R1", "in", "a"), c("C1", "a", "0"), r("R2", "in", "b"), r("R3", "b", "out"), u("U1", "a", "b", "out"),
	},
	Realises:   []Shape{AllPass1, RightHalf1},
	LevelFixed: true,
	Free:       []Free{aCapacitor("C1", "any; R1 follows"), aLevel("R2", allPassLevel)},
	Closed: func(v []float64) Ratio {
		t, k := v[0]*v[1], v[3]/v[2]
		return Ratio{[]float64{1, -k * t}, []float64{1, t}}
	},
	Design: func(a Asked, free []float64) ([]float64, error) {
		k := -a.N[1] / a.N[0]
		return []float64{1 / (a.W * free[0]), free[0], free[1], free[1] * k}, nil
	},
}

// allPassLevel is the doc of R2 in both all-passes.
const allPassLevel = "impedance level of the feedback: R2"
