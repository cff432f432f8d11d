package circuit

var stateVariableHighPass = Topology{
	Name:     "state-variable-high-pass",
	Doc:      "High-pass output of two integrators and a summer: high Q, low sensitivity. Inverts.",
	Source:   stateVariableSource,
	Template: stateVariableTemplate("out", "bp", "lp"),
	Layout: stateVariableLayout + `
out 72,0
wire 24,-6 ,-19 70, ,0 out
`,
	Inverts:  true,
	Realises: []Shape{HighPass2},
	MaxQ:     50,
	Free:     stateVariableFree,
	Closed: func(v []float64) Ratio {
		g, t1, t2, d := stateVariableParts(v)
		return Ratio{Polynomial{0, 0, -g * t1 * t2}, d}
	},
	Design: func(a Asked, free []float64) ([]float64, error) { return stateVariableDesign(a, a.N[2], free) },
}
