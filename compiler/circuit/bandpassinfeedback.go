package circuit

var bandPassInFeedback = Topology{
	Name:   "band-pass-in-feedback",
	Doc:    "-(Rf/Ra)/(1-(Rf/Rb)·BP): a boost that is the exact reciprocal of the same cut, with the band-pass at the Q of the zeros.",
	Source: "node equations, on " + multipleFeedbackSource,
	Template: append(bandPassTemplate("out", "bp", "U1"),
		r("Ra", "in", "s"), r("Rb", "bp", "s"), r("Rf", "s", "out"), u("U2", "0", "s", "out")),
	Layout: `
Ra > 5,0
U2 37,2
Rf > 37,-6
Rb v 10,-8
R1 < 38,-20
R2 v 33,-15
C2 < 27,-20
U1 16,-18 <
R3 < 16,-26
C1 < 16,-33
out 45,0
wire in Ra.1
wire Ra.2 U2-
plus U2
wire 31,0 ,-6 Rf.1
wire Rf.2 43, ,2 U2o
wire 43,0 out
wire 43,-6 ,-20 R1.1
wire R1.2 C2.1
wire 33,-20 R2.1
gnd R2.2
wire C2.2 U1-
wire U1+ 21, ,-15
gnd 21,-15
wire 22,-20 ,-26 R3.1
wire 34,-20 ,-33 C1.1
wire C1.2 10, ,-26 R3.2
wire 10,-26 ,-18 U1o
fixed wire 10,-18 Rb.1
switched contact 10,-15 v
switched wire Sp Rb.1
wire Rb.2 10,0
`,
	Inverts:  true,
	Realises: []Shape{Boost2},
	MaxQ:     20,
	Opens:    "Rb",
	Free:     []Free{aCapacitor("C1", "at least C2"), aCapacitor("C2", "any"), bandPassPeaks, aLevel("Rf", "impedance level of the sum: Rf")},
	Closed: func(v []float64) Ratio {
		b, d := bandPassClosed(v)
		ra, rb, rf := v[5], v[6], v[7]
		return Ratio{d.scaled(-rf / ra), d.plus(-rf/rb*b, Polynomial{0, 1})}
	},
	Design: func(a Asked, free []float64) ([]float64, error) {
		q := a.N[0] / a.N[1] // of the zeros
		v, err := bandPassDesign(a.W, q, free[2], free[0], free[1])
		if err != nil {
			return nil, err
		}
		rf := free[3]
		kappa := 1 - q/a.Q
		return append(v, rf/a.N[0], rf*free[2]/kappa, rf), nil
	},
	Cautions: func(a Asked, _ []float64, _ Means) []Caution { return sharp(a.N[0] / a.N[1]) },
}
