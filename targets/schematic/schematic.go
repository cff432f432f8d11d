// Package schematic emits board/NAME_SHEET.svg, the schematic of a board: one page for
// the input and the common stages, one a way, and one for the supply. A finished board
// goes in, pictures come out.
//
// Read first: Emit.
package schematic

import (
	"bandwright/compiler"
	"bandwright/compiler/picture"
)

// Emit is the schematic of a build's board; nothing where the spec has none.
func Emit(b *compiler.Build) ([]compiler.File, error) {
	sheets, err := picture.Sheets(b)
	var out []compiler.File
	for _, s := range sheets {
		out = append(out, compiler.File{Name: "board/" + b.Spec.Name + "_" + s.Name + ".svg", Data: s.SVG})
	}
	return out, err
}
