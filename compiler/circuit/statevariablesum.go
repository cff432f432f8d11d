package circuit

import (
	"errors"
	"math"
	"slices"
)

// U4 sums the three outputs. The high-pass and the low-pass come through RH and RL
// to its inverting input, which undoes their inversion; the band-pass, which has
// the other sign, through RP and RG to the other input where the middle term of the
// numerator is positive, and through RB where it is negative.
var stateVariableSum = Topology{
	Name:   "state-variable-sum",
	Doc:    "The general second-order stage with a resistive input, four op-amps: the three outputs of a state variable stage, summed. Any numerator, high Q, at low frequencies too. Parts that a section does not need are left out.",
	Source: stateVariableSource + "; the sum from the node equations",
	Template: slices.Concat(stateVariableTemplate("hp", "bp", "lp"), []Element{
		r("RH", "hp", "s").optional(), r("RB", "bp", "s").optional(), r("RL", "lp", "s").optional(), r("RF", "s", "out"),
		r("RP", "bp", "q").optional(), r("RG", "q", "0"), u("U4", "q", "s", "out"),
	}),
	Layout: stateVariableLayout + `
RH > 76,-19
RB > 76,6
RL > 76,0
RF > 92,-6
RP > 76,12
RG v 86,17
U4 92,2
out 100,0
wire 24,-6 ,-19 RH.1
wire RH.2 84, ,-6
wire 68,0 RL.1
wire RL.2 84,0
wire 46,12 70, ,6 RB.1
wire RB.2 82, ,0 84,
wire 46,12 RP.1
wire RP.2 86,
wire U4+ 86, RG.1
gnd RG.2
wire 84,0 U4-
wire 84,0 ,-6 RF.1
wire RF.2 98, ,2 U4o
wire 98,0 out
`,
	Realises: []Shape{Notch2, LowNotch2, HighNotch2, AllPass2, Cut2, Boost2, Shift2, Biquad2, RightHalf2},
	MaxQ:     50,
	Free:     slices.Concat(stateVariableFree, []Free{aLevel("RF", "impedance level of the sum: RF")}),
	Closed: func(v []float64) Ratio {
		g, t1, t2, d := stateVariableParts(v)
		gh, gb, gl, rf, gp, rg := siemens(v[9]), siemens(v[10]), siemens(v[11]), v[12], siemens(v[13]), v[14]
		band := (1+rf*(gh+gb+gl))*rg*gp/(1+rg*gp) - rf*gb
		return Ratio{Polynomial{g * rf * gl, g * t2 * band, g * t1 * t2 * rf * gh}, d}
	},
	Design: func(a Asked, free []float64) ([]float64, error) {
		n0, n1, n2 := a.N[0], a.N[1], a.N[2]
		if n0 < 0 || n2 < 0 {
			return nil, errOneRightZero
		}
		last := len(free) - 1
		v, err := stateVariableDesign(a, 1, free[:last])
		if err != nil {
			return nil, err
		}
		rf := free[last]
		rb, rp, rg := 0.0, 0.0, rf
		switch share := n1 / (1 + n0 + n2); { // of the band-pass that reaches U4
		case share >= 1:
			return nil, errors.New("its zeros are too far apart on the real axis")
		case share > 0:
			rg = rf * math.Sqrt(share/(1-share))
			rp = rf * rf / rg
		case share < 0:
			rb = -rf / n1
		}
		return append(v, ohms(n2/rf), rb, ohms(n0/rf), rf, rp, rg), nil
	},
}
