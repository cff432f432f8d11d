package circuit

var differenceAmplifier = Topology{
	Name:   "difference-amplifier",
	Doc:    "Balanced input of gain R2/R1 = R4/R3. Common-mode rejection is set by the resistors' match: some 50 dB for 1 %, 70 dB for 0.1 %; the source's resistance degrades it where R1 and R3 are low.",
	Source: "node equations",
	Template: []Element{
		r("R1", "in_n", "a"), r("R2", "a", "out"), r("R3", "in", "b"), r("R4", "b", "0"),
		u("U1", "b", "a", "out"),
	},
	Layout: `
R1 > 5,-16
R2 > 17,-16
R3 > 5,0
R4 v 10,4
U1 17,-2
in_n 0,-16
out 25,0
wire in R3.1
wire R3.2 U1+
wire 10,0 R4.1
gnd R4.2
wire in_n R1.1
wire R1.2 R2.1
wire 11,-16 ,-4 U1-
wire R2.2 23, ,-2 U1o
wire 23,-2 ,0 out
`,
	Balanced: true,
	Realises: []Shape{Constant},
	Free:     []Free{aLevel("R1", "impedance level: R1 = R3")},
	Closed:   difference,
	Design:   differenceDesign,
}
