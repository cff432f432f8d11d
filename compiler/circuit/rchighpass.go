package circuit

var rcHighPass = Topology{
	Name:     "rc-high-pass",
	Doc:      "sRC/(1+sRC): a capacitor, a resistor, a follower.",
	Source:   "node equations",
	Template: []Element{c("C1", "in", "a"), r("R1", "a", "0"), u("U1", "a", "out", "out")},
	Layout: `
C1 > 5,0
R1 v 11,4
U1 16,-2
out 24,0
wire in C1.1
wire C1.2 U1+
wire 11,0 R1.1
gnd R1.2

loop U1
wire U1o 22, ,0 out
`,
	Realises:   []Shape{HighPass1},
	LevelFixed: true,
	Free:       []Free{aCapacitor("C1", "any; R1 follows")},
	Closed: func(v []float64) Ratio {
		return Ratio{Polynomial{0, v[0] * v[1]}, Polynomial{1, v[0] * v[1]}}
	},
	Design: func(a Asked, free []float64) ([]float64, error) {
		return []float64{free[0], 1 / (a.W * free[0])}, nil
	},
}
