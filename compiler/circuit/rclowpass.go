package circuit

var rcLowPass = Topology{
	Name:     "rc-low-pass",
	Doc:      "1/(1+sRC): a resistor, a capacitor, a follower.",
	Source:   "node equations",
	Template: []Element{r("R1", "in", "a"), c("C1", "a", "0"), u("U1", "a", "out", "out")},
	Layout: `
R1 > 5,0
C1 v 11,4
U1 16,-2
out 24,0
wire in R1.1
wire R1.2 U1+
wire 11,0 C1.1
gnd C1.2

loop U1
wire U1o 22, ,0 out
`,
	Realises:   []Shape{LowPass1},
	LevelFixed: true,
	Free:       []Free{aCapacitor("C1", "any; R1 follows")},
	Closed: func(v []float64) Ratio {
		return Ratio{Polynomial{1}, Polynomial{1, v[0] * v[1]}}
	},
	Design: func(a Asked, free []float64) ([]float64, error) {
		return []float64{1 / (a.W * free[0]), free[0]}, nil
	},
}
