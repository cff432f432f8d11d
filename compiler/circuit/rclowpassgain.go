package circuit

import "errors"

var rcLowPassGain = Topology{
	Name:   "rc-low-pass-gain",
	Doc:    "(1+RB/RA)/(1+sRC): a first-order low-pass and gain in one stage.",
	Source: "node equations",
	Template: []Element{
		r("R1", "in", "a"), c("C1", "a", "0"), r("RA", "b", "0").shunt(), r("RB", "out", "b"), u("U1", "a", "b", "out"),
	},
	Layout: `
R1 > 5,0
C1 v 11,4
U1 16,-2
out 24,0
wire in R1.1
wire R1.2 U1+
wire 11,0 C1.1
gnd C1.2

RB < 16,-10
RA < 7,-10
wire U1- 11, ,-10
wire RA.1 RB.2
wire RA.2 2,
gnd 2,-10
wire RB.1 22, ,-2 U1o
wire 22,-2 ,0 out
`,
	Realises: []Shape{LowPass1},
	Free:     []Free{aCapacitor("C1", "any; R1 follows"), aLevel("RB", "impedance level of the gain divider: RB")},
	Closed: func(v []float64) Ratio {
		return Ratio{Polynomial{1 + v[3]/v[2]}, Polynomial{1, v[0] * v[1]}}
	},
	Design: func(a Asked, free []float64) ([]float64, error) {
		if !(a.N[0] > 1+same) {
			return nil, errNeedsGain
		}
		return []float64{1 / (a.W * free[0]), free[0], free[1] / (a.N[0] - 1), free[1]}, nil
	},
}

// errNeedsGain is the refusal of first-order stages with a gain divider.
var errNeedsGain = errors.New("its gain is above 1")
