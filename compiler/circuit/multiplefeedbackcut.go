package circuit

// multipleFeedbackCut derivation: the band-pass with one op-amp, whose + input gets the part k of the
// signal instead of the ground. The currents at its two nodes give N = k·(D + sC2R3) - s·C2R3 for
// the denominator D of the band-pass, and k(1+P) - P = k·g at the centre, P = Q²(1+C2/C1).
var multipleFeedbackCut = Topology{
	Name:   "multiple-feedback-cut",
	Doc:    "k[D+s·C2R3(1-1/k)]/D, D = 1+sR1(C1+C2)+s²R1R3C1C2, k = RB/(RA+RB): a band-pass of one op-amp whose + input gets a part of the signal: cuts, notches and all-passes without inversion, at the level k. Its op-amp's noise gain at the centre is k(1+Q²(1+C2/C1)).",
	Source: "node equations, on " + multipleFeedbackSource + " (all-pass)",
	Template: []Element{
		r("R1", "in", "a"), r("R3", "b", "out"), c("C1", "a", "out"), c("C2", "a", "b"),
		r("RA", "in", "p"), r("RB", "p", "0"), u("U1", "p", "b", "out"),
	},
	Layout: `
R1 > 5,0
C2 > 16,0
U1 27,2
R3 > 27,-6
C1 > 27,-13
RA > 11,9
RB v 21,13
out 35,0
wire in R1.1
wire R1.2 C2.1
wire C2.2 U1-
wire 21,0 ,-6 R3.1
wire 9,0 ,-13 C1.1
wire C1.2 33, ,-6 R3.2
wire 33,-6 ,2 U1o
wire 33,0 out
wire 1,0 ,9 RA.1
wire RA.2 21, RB.1
wire 21,9 ,4 U1+
gnd RB.2
`,
	Realises:   []Shape{AllPass2, Notch2, Cut2},
	LevelFixed: true,
	Saves:      true,
	MaxQ:       4,
	Free:       []Free{aCapacitor("C1", "at least C2"), aCapacitor("C2", "any"), aDivider},
	Closed: func(v []float64) Ratio {
		r1, r3, c1, c2, k := v[0], v[1], v[2], v[3], v[5]/(v[4]+v[5])
		d := Polynomial{1, r1 * (c1 + c2), r1 * r3 * c1 * c2}
		return Ratio{d.plus(c2*r3*(1-1/k), Polynomial{0, 1}).scaled(k), d}
	},
	Design: func(a Asked, free []float64) ([]float64, error) {
		c1, c2, ra := free[0], free[1], free[2]
		p := a.Q * a.Q * (1 + c2/c1)
		v, err := bandPassDesign(a.W, a.Q, p, c1, c2)
		if err != nil {
			return nil, err
		}
		depth := 1 - a.N[1]*a.Q/a.N[0]
		return []float64{v[0], v[2], c1, c2, ra, ra * p / depth}, nil // k = p/(p+depth)
	},
	Cautions: func(a Asked, _ []float64, _ Means) []Caution {
		out := sharp(a.Q)
		if a.Shape == Notch2 {
			out = append(out, matchedDepth)
		}
		return out
	},
}
