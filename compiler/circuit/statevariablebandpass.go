package circuit

var stateVariableBandPass = Topology{
	Name:     "state-variable-band-pass",
	Doc:      "Band-pass output of two integrators and a summer: high Q, low sensitivity. Does not invert.",
	Source:   stateVariableSource,
	Template: stateVariableTemplate("hp", "out", "lp"),
	Layout: stateVariableLayout + `
out 72,0
wire 46,12 70, ,0 out
`,
	Realises: []Shape{BandPass2},
	MaxQ:     50,
	Free:     stateVariableFree,
	Closed: func(v []float64) Ratio {
		g, _, t2, d := stateVariableParts(v)
		return Ratio{Polynomial{0, g * t2}, d}
	},
	Design: func(a Asked, free []float64) ([]float64, error) { return stateVariableDesign(a, a.N[1], free) },
}
