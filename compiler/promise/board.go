package promise

import "bandwright/compiler/words"

// Board is that the board which a spec asks for can be built at all.
var Board = Row{
	Name: "board", Doc: "How many filters of the board cannot be built: none.",
	Default: demanded(0), Unit: words.Filters,
}
