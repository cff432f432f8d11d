package circuit

import "fmt"

// multipleFeedbackBoost derivation: that of multipleFeedbackCut with k = 1, and R2, which leaves the
// part ρ = Rp/R1 of the signal at the centre: g = 1 + P(1-ρ), P = Q²(1+C2/C1).
var multipleFeedbackBoost = Topology{
	Name:   "multiple-feedback-boost",
	Doc:    "(D+s·C2R3(1-Rp/R1))/D, D = 1+sRp(C1+C2)+s²RpR3C1C2, Rp = R1∥R2: a band-pass of one op-amp whose + input is the stage's: boosts without inversion, at unity gain elsewhere. Its op-amp's noise gain at the centre is 1+Q²(1+C2/C1), with the Q of the poles.",
	Source: "node equations, on " + multipleFeedbackSource + " (all-pass)",
	Template: []Element{
		r("R1", "in", "a"), r("R2", "a", "0").shunt(), r("R3", "b", "out"), c("C1", "a", "out"), c("C2", "a", "b"), u("U1", "in", "b", "out"),
	},
	Layout: `
R1 > 5,0
R2 v 11,5
C2 > 16,0
U1 27,2
R3 > 27,-6
C1 > 27,-13
out 35,0
wire in R1.1
wire R1.2 C2.1
wire C2.2 U1-
wire 11,0 R2.1
gnd R2.2
wire 21,0 ,-6 R3.1
wire 9,0 ,-13 C1.1
wire C1.2 33, ,-6 R3.2
wire 33,-6 ,2 U1o
wire 33,0 out
wire 1,0 ,13 21, ,4 U1+
`,
	Realises:   []Shape{Boost2},
	LevelFixed: true,
	Saves:      true,
	MaxQ:       4,
	Free:       []Free{aCapacitor("C1", "at least C2"), aCapacitor("C2", "any")},
	Closed: func(v []float64) Ratio {
		r1, r2, r3, c1, c2 := v[0], v[1], v[2], v[3], v[4]
		rp := inParallel(r1, r2)
		d := Polynomial{1, rp * (c1 + c2), rp * r3 * c1 * c2}
		return Ratio{d.plus(c2*r3*(1-rp/r1), Polynomial{0, 1}), d}
	},
	Design: func(a Asked, free []float64) ([]float64, error) {
		c1, c2 := free[0], free[1]
		p, gain := a.Q*a.Q*(1+c2/c1), a.N[1]*a.Q/a.N[0]
		peak := 1 + p - gain
		if peak < same {
			return nil, fmt.Errorf("a boost of %.3g is not below 1+Q²(1+C2/C1) = %.3g", gain, 1+p)
		}
		return bandPassDesign(a.W, a.Q, peak, c1, c2)
	},
	Cautions: func(a Asked, _ []float64, _ Means) []Caution { return sharp(a.Q) },
}
