package circuit

var multipleFeedbackBandPass = Topology{
	Name:     "multiple-feedback-band-pass",
	Doc:      "-s·b/(1+sRp(C1+C2)+s²RpR3C1C2), b = C2R3Rp/R1, Rp = R1∥R2: peak gain and Q by resistors alone. The noise gain at the centre is 1+Q²(1+C2/C1).",
	Source:   multipleFeedbackSource,
	Template: bandPassTemplate("in", "out", "U1"),
	Layout: `
R1 > 5,0
R2 v 11,5
C2 > 16,0
U1 27,2
R3 > 27,-6
C1 > 27,-13
wire in R1.1
wire R1.2 C2.1
wire C2.2 U1-
plus U1
wire 11,0 R2.1
gnd R2.2
wire 21,0 ,-6 R3.1
wire 9,0 ,-13 C1.1
wire C1.2 33, ,-6 R3.2
wire 33,-6 ,2 U1o
wire 33,0 out
out 35,0
`,
	Inverts:  true,
	Realises: []Shape{BandPass2},
	MaxQ:     10,
	Free:     []Free{aCapacitor("C1", "at least C2"), aCapacitor("C2", "any")},
	Closed: func(v []float64) Ratio {
		b, d := bandPassClosed(v)
		return Ratio{Polynomial{0, -b}, d}
	},
	Design: func(a Asked, free []float64) ([]float64, error) {
		return bandPassDesign(a.W, a.Q, a.N[1]*a.Q, free[0], free[1])
	},
	Cautions: func(a Asked, _ []float64, _ Means) []Caution { return sharp(a.Q) },
}
