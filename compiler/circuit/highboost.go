package circuit

var highBoost = Topology{
	Name:     "high-boost",
	Doc:      "1 + R2/(R1+1/sC1): boosts high frequencies, unity at low ones, from a high input resistance.",
	Source:   "node equations",
	Template: []Element{r("R1", "a", "b").shunt(), c("C1", "b", "0"), r("R2", "out", "a"), u("U1", "in", "a", "out")},
	Layout: `
U1 23,-2
R2 < 23,-10
R1 < 13,-10
C1 < 6,-10
out 31,0
wire in U1+
wire U1- 18, ,-10
wire R1.1 R2.2
wire R1.2 C1.1
fixed wire C1.2 2,
fixed gnd 2,-10
switched contact 2,-6 ^
switched wire C1.2 2, Sp
switched gnd S1
wire R2.1 29, ,-2 U1o
wire 29,-2 ,0 out
`,
	Realises:   []Shape{HighShelf1},
	LevelFixed: true,
	Opens:      "C1",
	Free:       []Free{aCapacitor("C1", "any; R1 and R2 follow")},
	Closed: func(v []float64) Ratio {
		r1, c1, r2 := v[0], v[1], v[2]
		return Ratio{Polynomial{1, (r1 + r2) * c1}, Polynomial{1, r1 * c1}}
	},
	Design: func(a Asked, free []float64) ([]float64, error) {
		r1 := 1 / (a.W * free[0])
		return []float64{r1, free[0], r1 * (a.N[1]/a.N[0] - 1)}, nil
	},
}
