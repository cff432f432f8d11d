package circuit

var sumWithBandPass = Topology{
	Name:   "sum-with-band-pass",
	Doc:    "-(Rf/Ra)[1-(Ra/Rb)·BP]: the signal minus κ times its band-pass: all-pass for κ = 2, notch for κ = 1, cut below. The match of the parts limits the depth of a notch.",
	Source: "node equations, on " + multipleFeedbackSource,
	Template: append(bandPassTemplate("in", "bp", "U1"),
		r("Ra", "in", "s"), r("Rb", "bp", "s"), r("Rf", "s", "out"), u("U2", "0", "s", "out")),
	Layout: bandPassPicture + `
Rb > 39,0
Ra > 39,-19
U2 51,2
Rf > 51,-6
out 59,0
fixed wire 33,0 Rb.1
switched contact 33,8 v
switched wire 33,2 S1
switched wire Sp 35, ,0 Rb.1
wire Rb.2 U2-
plus U2
wire 1,0 ,-19 Ra.1
wire Ra.2 45, ,-6 Rf.1
wire 45,-6 ,0
wire Rf.2 57, ,2 U2o
wire 57,0 out
`,
	Inverts:  true,
	Realises: []Shape{AllPass2, Notch2, Cut2},
	MaxQ:     10,
	Opens:    "Rb",
	Free:     []Free{aCapacitor("C1", "at least C2"), aCapacitor("C2", "any"), bandPassPeaks, aLevel("Ra", "impedance level of the sum: Ra")},
	Closed: func(v []float64) Ratio {
		b, d := bandPassClosed(v)
		ra, rb, rf := v[5], v[6], v[7]
		return Ratio{d.plus(-ra/rb*b, Polynomial{0, 1}).scaled(-rf / ra), d}
	},
	Design: func(a Asked, free []float64) ([]float64, error) {
		v, err := bandPassDesign(a.W, a.Q, free[2], free[0], free[1])
		if err != nil {
			return nil, err
		}
		ra := free[3]
		kappa := 1 - a.N[1]*a.Q/a.N[0]
		return append(v, ra, ra*free[2]/kappa, ra*a.N[0]), nil
	},
	Cautions: func(a Asked, _ []float64, _ Means) []Caution {
		out := sharp(a.Q)
		if a.Shape == Notch2 {
			out = append(out, matchedDepth)
		}
		return out
	},
}
