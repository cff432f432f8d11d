package circuit

import (
	"errors"
	"slices"
)

var sumWithLowPass = Topology{
	Name:   "sum-with-low-pass",
	Doc:    "-(Rf/Ra)[1+(Ra/Rb)·F]: the signal and its low-pass, which has a zero: second-order shelves that boost low frequencies, and pole shifts downwards, with no gain but the boost's.",
	Source: lowPassPairSource,
	Template: append(lowPassTemplate("in", "f", "U1"),
		r("Ra", "in", "s"), r("Rb", "f", "s"), r("Rf", "s", "out"), u("U2", "0", "s", "out")),
	Layout: lowPassPicture + `
Rb > 39,0
Ra > 39,-19
U2 51,2
Rf > 51,-6
out 59,0
fixed wire 33,0 Rb.1
switched contact 33,8 v
switched wire 33,0 S1
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
	Realises: []Shape{Shift2},
	MaxQ:     3,
	Opens:    "Rb",
	Free:     slices.Concat(lowPassFree, []Free{aLevel("Ra", "impedance level of the sum: Ra")}),
	Closed: func(v []float64) Ratio {
		n, d := lowPassClosed(v)
		ra, rb, rf := v[5], v[6], v[7]
		return Ratio{d.plus(ra/rb, n).scaled(-rf / ra), d}
	},
	Design: func(a Asked, free []float64) ([]float64, error) {
		level := a.N[2]
		k := a.N[0]/level - 1
		if !(k > same) {
			return nil, errors.New("it adds at low frequencies, and the section has less there")
		}
		v, err := lowPassDesign(a.W, a.Q, (a.N[1]/level-1/a.Q)/k, free)
		if err != nil {
			return nil, err
		}
		ra := free[3]
		return append(v, ra, ra/k, ra*level), nil
	},
}
