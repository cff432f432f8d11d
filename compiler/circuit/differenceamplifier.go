package circuit

var differenceAmplifier = Topology{
	Name:   "difference-amplifier",
	Doc:    "Balanced input of gain R2/R1 = R4/R3. Common-mode rejection is set by the resistors' match: some 50 dB for 1 %, 70 dB for 0.1 %; the source's resistance degrades it where R1 and R3 are low.",
	Source: "node equations",
	Template: []Element{
		r("R1", "in_n", "a"), r("R2", "a", "out"), r("R3", "in", "b"), r("R4", "b", "0"),
		u("U1", "b", "a", "out"),
	},
	Balanced: true,
	Realises: []Shape{Constant},
	Free:     []Free{aLevel("R1", "impedance level: R1 = R3")},
	Closed:   difference,
	Design:   differenceDesign,
}
