package circuit

var bufferedDifferenceAmplifier = Topology{
	Name:   "buffered-difference-amplifier",
	Doc:    "A difference amplifier with a follower in either input: the source's resistance no longer matters, and the inputs are alike; they need resistors to ground.",
	Source: "node equations",
	Template: []Element{
		r("R1", "d", "a"), r("R2", "a", "out"), r("R3", "e", "b"), r("R4", "b", "0"),
		u("U1", "b", "a", "out"), u("U2", "in_n", "d", "d"), u("U3", "in", "e", "e"),
	},
	Layout: `
U2 7,-18
U3 7,-2
R1 > 18,-16
R2 > 30,-16
R3 > 18,0
R4 v 23,4
U1 30,-2
in_n 0,-16
out 39,0
wire in_n U2+
loop U2
wire U2o 13, ,-16 R1.1
wire in U3+
loop U3
wire U3o 13, ,0 R3.1
wire R3.2 U1+
wire 23,0 R4.1
gnd R4.2
wire R1.2 R2.1
wire 24,-16 ,-4 U1-
wire R2.2 37, ,-2 U1o
wire 37,-2 ,0 out
`,
	Balanced: true,
	Realises: []Shape{Constant},
	Free:     []Free{aLevel("R1", "impedance level: R1 = R3")},
	Closed:   difference,
	Design:   differenceDesign,
}
