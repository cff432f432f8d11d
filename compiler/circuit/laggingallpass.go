package circuit

var laggingAllPass = Topology{
	Name:   "lagging-all-pass",
	Doc:    "(1-k·sR1C1)/(1+sR1C1), k = R3/R2: no inversion at low frequencies. With k ≠ 1 the zero lies elsewhere in the right half plane.",
	Source: "node equations",
	Template: []Element{
		r("R1", "in", "a"), c("C1", "a", "0"), r("R2", "in", "b"), r("R3", "b", "out"), u("U1", "a", "b", "out"),
	},
	Layout: `
R1 > 7,0
C1 v 12,4
R2 > 7,-10
R3 > 18,-10
U1 18,-2
out 26,0
wire in R1.1
wire R1.2 U1+
wire 12,0 C1.1
gnd C1.2
wire 2,0 ,-10 R2.1
wire R2.2 R3.1
wire 13,-10 ,-4 U1-
wire R3.2 24, ,-2 U1o
wire 24,-2 ,0 out
`,
	Realises:   []Shape{AllPass1, RightHalf1},
	LevelFixed: true,
	Free:       []Free{aCapacitor("C1", "any; R1 follows"), aLevel("R2", allPassLevel)},
	Closed: func(v []float64) Ratio {
		t, k := v[0]*v[1], v[3]/v[2]
		return Ratio{Polynomial{1, -k * t}, Polynomial{1, t}}
	},
	Design: func(a Asked, free []float64) ([]float64, error) {
		k := -a.N[1] / a.N[0]
		return []float64{1 / (a.W * free[0]), free[0], free[1], free[1] * k}, nil
	},
}

// allPassLevel is the doc of R2 in both all-passes.
const allPassLevel = "impedance level of the feedback: R2"
