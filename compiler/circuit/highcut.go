package circuit

var highCut = Topology{
	Name:     "high-cut",
	Doc:      "(1+sR2C1)/(1+s(R1+R2)C1): cuts high frequencies, unity at low ones; a passive network and a follower.",
	Source:   "node equations",
	Template: []Element{r("R1", "in", "a"), r("R2", "a", "b").shunt(), c("C1", "b", "0"), u("U1", "a", "out", "out")},
	Layout: `
R1 > 5,0
R2 v 11,4
C1 v 11,11
U1 16,-2
out 24,0
wire in R1.1
wire R1.2 U1+
wire 11,0 R2.1
wire R2.2 C1.1
fixed gnd C1.2
switched contact 11,18 ^
switched wire C1.2 Sp
switched gnd S1
loop U1
wire U1o 22, ,0 out
`,
	Realises:   []Shape{LowShelf1},
	LevelFixed: true,
	Opens:      "C1",
	Free:       []Free{aCapacitor("C1", "any; R1 and R2 follow")},
	Closed: func(v []float64) Ratio {
		r1, r2, c1 := v[0], v[1], v[2]
		return Ratio{Polynomial{1, r2 * c1}, Polynomial{1, (r1 + r2) * c1}}
	},
	Design: func(a Asked, free []float64) ([]float64, error) {
		sum, ratio := 1/(a.W*free[0]), a.N[0]/a.N[1]
		return []float64{sum * (1 - 1/ratio), sum / ratio, free[0]}, nil
	},
}
