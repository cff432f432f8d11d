package circuit

var stateVariableLowPass = Topology{
	Name:     "state-variable-low-pass",
	Doc:      "Low-pass output of two integrators and a summer: high Q, low sensitivity, frequency by R6 and R7, Q by R5. Inverts.",
	Source:   stateVariableSource,
	Template: stateVariableTemplate("hp", "bp", "out"),
	Layout: stateVariableLayout + `
out 70,0
wire 68,0 out
`,
	Inverts:  true,
	Realises: []Shape{LowPass2},
	MaxQ:     50,
	Free:     stateVariableFree,
	Closed: func(v []float64) Ratio {
		g, _, _, d := stateVariableParts(v)
		return Ratio{Polynomial{-g}, d}
	},
	Design: func(a Asked, free []float64) ([]float64, error) { return stateVariableDesign(a, a.N[0], free) },
}
