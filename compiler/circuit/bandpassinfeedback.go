package circuit

var bandPassInFeedback = Topology{
	Name:   "band-pass-in-feedback",
	Doc:    "-(Rf/Ra)/(1-(Rf/Rb)·BP): a boost that is the exact reciprocal of the same cut, with the band-pass at the Q of the zeros.",
	Source: "node equations, on " + multipleFeedbackSource,
	Template: append(bandPassTemplate("out", "bp", "U1"),
		r("Ra", "in", "s"), r("Rb", "bp", "s"), r("Rf", "s", "out"), u("U2", "0", "s", "out")),
	Inverts:  true,
	Realises: []Shape{Boost2},
	MaxQ:     20,
	Free:     []Free{aCapacitor("C1", "at least C2"), aCapacitor("C2", "any"), bandPassPeaks, aLevel("Rf", "impedance level of the sum: Rf")},
	Closed: func(v []float64) Ratio {
		b, d := bandPassClosed(v)
		ra, rb, rf := v[5], v[6], v[7]
		return Ratio{scaled(-rf/ra, d...), plus(d, -rf/rb*b, []float64{0, 1})}
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
