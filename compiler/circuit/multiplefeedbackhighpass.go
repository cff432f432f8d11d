package circuit

var multipleFeedbackHighPass = Topology{
	Name:   "multiple-feedback-high-pass",
	Doc:    "-s²C1C2R1R2/(1+sR1(C1+C2+C3)+s²R1R2C2C3): the gain C1/C3 follows the capacitors, the input is capacitive, and noise gain stays high above the corner. For use where its inversion is wanted.",
	Source: multipleFeedbackSource,
	Template: []Element{
		c("C1", "in", "a"), c("C2", "a", "b"), c("C3", "a", "out"), r("R1", "a", "0").shunt(), r("R2", "b", "out"), u("U1", "0", "b", "out"),
	},
	Inverts:  true,
	Realises: []Shape{HighPass2},
	MaxQ:     3,
	Free:     []Free{aCapacitor("C1", "any; C3 is C1 divided by the gain"), aCapacitor("C2", "any")},
	Closed: func(v []float64) Ratio {
		c1, c2, c3, r1, r2 := v[0], v[1], v[2], v[3], v[4]
		return Ratio{[]float64{0, 0, -c1 * c2 * r1 * r2}, []float64{1, r1 * (c1 + c2 + c3), r1 * r2 * c2 * c3}}
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
