package circuit

import "fmt"

var sallenKeyLowPass = Topology{
	Name:   "sallen-key-low-pass",
	Doc:    "1/(1+sC2(R1+R2)+s²R1R2C1C2): unity gain, no inversion, few parts, low noise gain. Far above the corner the signal leaks through C1 and the op-amp's output resistance.",
	Source: sallenKeySource,
	Template: []Element{
		r("R1", "in", "a"), r("R2", "a", "b"), c("C1", "a", "out"), c("C2", "b", "0"), u("U1", "b", "out", "out"),
	},
	Layout: `
R1 > 5,0
R2 > 15,0
C2 v 20,4
C1 > 21,-13
U1 25,-2
out 33,0
wire in R1.1
wire R1.2 R2.1
wire R2.2 U1+
wire 20,0 C2.1
gnd C2.2
loop U1
wire 10,0 ,-13 C1.1
wire C1.2 31, ,-2 U1o
wire 31,-2 ,0 out
`,
	Realises:   []Shape{LowPass2},
	LevelFixed: true,
	MaxQ:       2,
	Free:       []Free{aCapacitor("C1", "at least 4Q²·C2"), aCapacitor("C2", "any"), anOrder("R1 and R2")},
	Closed: func(v []float64) Ratio {
		r1, r2, c1, c2 := v[0], v[1], v[2], v[3]
		return Ratio{Polynomial{1}, Polynomial{1, c2 * (r1 + r2), r1 * r2 * c1 * c2}}
	},
	Design: func(a Asked, free []float64) ([]float64, error) {
		c1, c2 := free[0], free[1]
		large, small, ok := quadraticRoots(1/(a.W*a.Q*c2), 1/(a.W*a.W*c1*c2))
		if !ok {
			return nil, fmt.Errorf("C1 has to be at least 4Q² = %.3g times C2", 4*a.Q*a.Q)
		}
		r1, r2 := inOrder(free[2], large, small)
		return []float64{r1, r2, c1, c2}, nil
	},
	Cautions: leak,
}
