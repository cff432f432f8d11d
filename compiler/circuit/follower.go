package circuit

import "errors"

var follower = Topology{
	Name:     "follower",
	Doc:      "Unity gain from a high input resistance: isolates a stage from one that would load it.",
	Source:   "node equations",
	Template: []Element{u("U1", "in", "out", "out")},
	Layout: `
U1 7,-2
out 15,0
wire in U1+
loop U1
wire U1o 13, ,0 out
`,
	Realises: []Shape{Constant},
	Closed:   func([]float64) Ratio { return Ratio{Polynomial{1}, Polynomial{1}} },
	Design: func(a Asked, _ []float64) ([]float64, error) {
		if !near(a.N[0], 1) {
			return nil, errors.New("its gain is 1")
		}
		return []float64{}, nil
	},
}
