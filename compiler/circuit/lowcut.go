package circuit

var lowCut = Topology{
	Name:     "low-cut",
	Doc:      "k(1+sR1C1)/(1+s(R1∥R2)C1), k = R2/(R1+R2): cuts low frequencies, unity at high ones; a passive network and a follower.",
	Source:   "node equations",
	Template: []Element{r("R1", "in", "a"), c("C1", "in", "a"), r("R2", "a", "0").shunt(), u("U1", "a", "out", "out")},
	Layout: `
R1 > 6,0
C1 > 6,-7
R2 v 12,4
U1 17,-2
out 25,0
wire in R1.1
wire R1.2 U1+
wire 2,0 ,-7 C1.1
wire C1.2 10, ,0
wire 12,0 R2.1
fixed gnd R2.2
switched contact 12,11 ^
switched wire R2.2 Sp
switched gnd S1
loop U1
wire U1o 23, ,0 out
`,
	Realises:   []Shape{HighShelf1},
	LevelFixed: true,
	Opens:      "R2",
	Free:       []Free{aCapacitor("C1", "any; R1 and R2 follow")},
	Closed: func(v []float64) Ratio {
		r1, c1, r2 := v[0], v[1], v[2]
		return Ratio{Polynomial{r2, r1 * r2 * c1}, Polynomial{r1 + r2, r1 * r2 * c1}}
	},
	Design: func(a Asked, free []float64) ([]float64, error) {
		ratio := a.N[1] / a.N[0]
		r1 := ratio / (a.W * free[0])
		return []float64{r1, free[0], r1 / (ratio - 1)}, nil
	},
}
