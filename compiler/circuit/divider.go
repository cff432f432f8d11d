package circuit

import "errors"

var divider = Topology{
	Name:     "divider",
	Doc:      "A divider R2/(R1+R2) and a follower: gains below 1 without inversion.",
	Source:   "node equations",
	Template: []Element{r("R1", "in", "a"), r("R2", "a", "0").shunt(), u("U1", "a", "out", "out")},
	Layout: `
R1 > 5,0
R2 v 11,4
U1 16,-2
out 24,0
wire in R1.1
wire R1.2 U1+
wire R2.1 11,0
gnd R2.2
loop U1
wire U1o 22, ,0 out
`,
	Realises: []Shape{Constant},
	Free: []Free{aLevelFor("R1", "impedance level: R1", func(a Asked) float64 {
		return a.N[0] / (1 - a.N[0]) // R2/R1
	})},
	Closed: func(v []float64) Ratio {
		return Ratio{Polynomial{v[1]}, Polynomial{v[0] + v[1]}}
	},
	Design: func(a Asked, free []float64) ([]float64, error) {
		if !(a.N[0] < 1-same) {
			return nil, errors.New("its gain is below 1")
		}
		return []float64{free[0], free[0] * a.N[0] / (1 - a.N[0])}, nil
	},
}
