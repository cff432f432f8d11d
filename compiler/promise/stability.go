package promise

import "bandwright/compiler/words"

// Stability is that every pole lies inside the unit circle. No spec drops it.
var Stability = Row{
	Name: "stability", Doc: "How far the outermost pole lies inside the unit circle: more than 0.",
	Default: demanded(0), Unit: words.Margin, LessIsWorse: true,
}
