package circuit

var bainter = Topology{
	Name:   "bainter",
	Doc:    "(s²C1C2R5+R2/(R1R3))/(s²C1C2R5+sC1+1/R4): a notch whose zeros stay on the axis whatever the parts' tolerances, so that its depth depends on the op-amps only; the zeros may lie above or below the poles. Unity gain at high frequencies, no inversion.",
	Source: "Electronics 48 (2 October 1975) 115-117; this form from the node equations",
	Template: []Element{
		r("R1", "in", "a"), r("R2", "a", "d"), u("U1", "0", "a", "d"),
		r("R3", "d", "b"), r("R4", "out", "b"), c("C1", "b", "e"), u("U2", "0", "b", "e"),
		r("R5", "e", "f"), c("C2", "in", "f"), u("U3", "f", "out", "out"),
	},
	Layout: `
R1 > 5,0
U1 16,2
R2 > 16,-6
R3 > 27,0
R4 < 49,-12
U2 38,2
C1 > 38,-6
R5 > 49,0
C2 > 49,10
U3 60,-2
out 68,0
wire in R1.1
wire R1.2 U1-
plus U1
wire 10,0 ,-6 R2.1
wire R2.2 22, ,2 U1o
wire 22,0 R3.1
wire R3.2 U2-
plus U2
wire 32,0 ,-6 C1.1
wire 32,-6 ,-12 R4.2
wire C1.2 44, ,2 U2o
wire 44,0 R5.1
wire R5.2 U3+
wire 1,0 ,10 C2.1
wire C2.2 54, ,0
loop U3
wire R4.1 66, ,-2 U3o
wire 66,-2 ,0 out
`,
	Realises:   []Shape{Notch2, LowNotch2, HighNotch2},
	LevelFixed: true,
	MaxQ:       10,
	Free: []Free{
		aCapacitor("C1", "any"), aCapacitor("C2", "any; C2/C1 = Q² makes R4 = R5"),
		aLevel("R1", "impedance level of the inverter: R1"), aRatio("R2/R1", "gain of the inverter", 1, 2, 0.5),
	},
	Closed: func(v []float64) Ratio {
		r1, r2, r3, r4, c1, r5, c2 := v[0], v[1], v[2], v[3], v[4], v[5], v[6]
		return Ratio{Polynomial{r2 / (r1 * r3), 0, c1 * c2 * r5}, Polynomial{1 / r4, c1, c1 * c2 * r5}}
	},
	Design: func(a Asked, free []float64) ([]float64, error) {
		c1, c2, r1, k := free[0], free[1], free[2], free[3]
		r4 := 1 / (a.W * a.Q * c1)
		return []float64{r1, r1 * k, k * r4 * a.N[2] / a.N[0], r4, c1, a.Q / (a.W * c2), c2}, nil
	},
	Cautions: func(_ Asked, v []float64, _ Means) []Caution {
		return []Caution{capacitive(v[6])}
	},
}
