package circuit

import "fmt"

var multipleFeedbackLowPass = Topology{
	Name:   "multiple-feedback-low-pass",
	Doc:    "-(R2/R1)/(1+sC2(R2+R3+R2R3/R1)+s²R2R3C1C2): any gain, and a stopband that holds beyond the op-amp's bandwidth.",
	Source: multipleFeedbackSource,
	Template: []Element{
		r("R1", "in", "a"), r("R2", "a", "out"), r("R3", "a", "b"), c("C1", "a", "0"), c("C2", "b", "out"), u("U1", "0", "b", "out"),
	},
	Layout: `
R1 > 5,0
C1 v 11,5
R3 > 16,0
U1 27,2
C2 > 27,-6
R2 > 27,-13
wire in R1.1
wire R1.2 R3.1
wire R3.2 U1-
plus U1
wire 11,0 C1.1
gnd C1.2
wire 21,0 ,-6 C2.1
wire 9,0 ,-13 R2.1
wire R2.2 33, ,-6 C2.2
wire 33,-6 ,2 U1o
wire 33,0 out
out 35,0
`,
	Inverts:  true,
	Realises: []Shape{LowPass2},
	MaxQ:     4,
	Free:     []Free{aCapacitor("C1", "at least 4Q²(1+gain)·C2"), aCapacitor("C2", "any"), anOrder("R2, and R3 in the opposite way")},
	Closed: func(v []float64) Ratio {
		r1, r2, r3, c1, c2 := v[0], v[1], v[2], v[3], v[4]
		return Ratio{Polynomial{-r2 / r1}, Polynomial{1, c2 * (r2 + r3 + r2*r3/r1), r2 * r3 * c1 * c2}}
	},
	Design: func(a Asked, free []float64) ([]float64, error) {
		c1, c2, g := free[0], free[1], a.N[0]
		product := 1 / (a.W * a.W * c1 * c2) // R2·R3
		large, small, ok := quadraticRoots(1/(a.W*a.Q*c2), (1+g)*product)
		if !ok {
			return nil, fmt.Errorf("C1 has to be at least 4Q²(1+gain) = %.3g times C2", 4*a.Q*a.Q*(1+g))
		}
		r2, _ := inOrder(free[2], large, small)
		return []float64{r2 / g, r2, product / r2, c1, c2}, nil
	},
}
