package circuit

var bufferedDifferenceAmplifier = Topology{
	Name:   "buffered-difference-amplifier",
	Doc:    "A difference amplifier with a follower in either input: the source's resistance no longer matters, and the inputs are alike; they need resistors to ground.",
	Source: "node equations",
	Template: []Element{
		r("R1", "d", "a"), r("R2", "a", "out"), r("R3", "e", "b"), r("R4", "b", "0"),
		u("U1", "b", "a", "out"), u("U2", "in_n", "d", "d"), u("U3", "in", "e", "e"),
	},
	Balanced: true,
	Realises: []Shape{Constant},
	Free:     []Free{aLevel("R1", "impedance level: R1 = R3")},
	Closed:   difference,
	Design:   differenceDesign,
}
