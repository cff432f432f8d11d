package circuit

var lowBoost = Topology{
	Name:     "low-boost",
	Doc:      "1 + (R2∥C1)/R1: boosts low frequencies, unity at high ones, from a high input resistance.",
	Source:   "node equations",
	Template: []Element{r("R1", "a", "0").shunt(), r("R2", "out", "a"), c("C1", "out", "a"), u("U1", "in", "a", "out")},
	Layout: `
U1 16,-2
R1 < 7,-10
R2 < 16,-10
C1 < 16,-17
out 24,0
wire in U1+
wire U1- 11, ,-10
wire R1.1 R2.2
fixed wire R1.2 2,
fixed gnd 2,-10
switched contact 2,-6 ^
switched wire R1.2 2, Sp
switched gnd S1
wire 12,-10 ,-17 C1.2
wire C1.1 22, ,-10 R2.1
wire 22,-10 ,-2 U1o
wire 22,-2 ,0 out
`,
	Realises:   []Shape{LowShelf1},
	LevelFixed: true,
	Opens:      "R1",
	Free:       []Free{aCapacitor("C1", "any; R2 and R1 follow")},
	Closed: func(v []float64) Ratio {
		r1, r2, c1 := v[0], v[1], v[2]
		return Ratio{Polynomial{r1 + r2, r1 * r2 * c1}, Polynomial{r1, r1 * r2 * c1}}
	},
	Design: func(a Asked, free []float64) ([]float64, error) {
		r2 := 1 / (a.W * free[0])
		return []float64{r2 / (a.N[0]/a.N[1] - 1), r2, free[0]}, nil
	},
}
