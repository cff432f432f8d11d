package promise

import (
	"bandwright/compiler/verify"
	"bandwright/compiler/words"
)

// Board is that the board which a spec asks for can be built at all.
var Board = Row{
	Promise: verify.Promise{Name: "board", Unit: words.Filters},
	Doc:     "How many filters of the board cannot be built: none.",
	Default: demanded(0),
}

// NoBoard is the finding that the board which a spec asks for cannot be built,
// for so many reasons.
func NoBoard(realisation string, reasons int, remedy string) verify.Finding {
	return verify.Absence(Board.Name, realisation, Board.Unit, reasons, remedy)
}
