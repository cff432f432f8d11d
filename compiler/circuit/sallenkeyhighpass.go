package circuit

var sallenKeyHighPass = Topology{
	Name:   "sallen-key-high-pass",
	Doc:    "s²R1R2C1C2/(1+sR1(C1+C2)+s²R1R2C1C2): unity gain, no inversion, any two capacitors; R2/R1 = 4Q² where they are equal.",
	Source: sallenKeySource,
	Template: []Element{
		c("C1", "in", "a"), c("C2", "a", "b"), r("R1", "a", "out"), r("R2", "b", "0"), u("U1", "b", "out", "out"),
	},
	Layout: `
C1 > 5,0
C2 > 15,0
R2 v 20,4
R1 > 21,-13
U1 25,-2
out 33,0
wire in C1.1
wire C1.2 C2.1
wire C2.2 U1+
wire 20,0 R2.1
gnd R2.2
loop U1
wire 10,0 ,-13 R1.1
wire R1.2 31, ,-2 U1o
wire 31,-2 ,0 out
`,
	Realises:   []Shape{HighPass2},
	LevelFixed: true,
	MaxQ:       3,
	Free:       []Free{aCapacitor("C1", "any"), aCapacitor("C2", "any")},
	Closed: func(v []float64) Ratio {
		c1, c2, r1, r2 := v[0], v[1], v[2], v[3]
		a := r1 * r2 * c1 * c2
		return Ratio{Polynomial{0, 0, a}, Polynomial{1, r1 * (c1 + c2), a}}
	},
	Design: func(a Asked, free []float64) ([]float64, error) {
		c1, c2 := free[0], free[1]
		r1 := 1 / (a.W * a.Q * (c1 + c2))
		return []float64{c1, c2, r1, 1 / (a.W * a.W * c1 * c2 * r1)}, nil
	},
}
