package report

import "bandwright/compiler"

// held says what became of the board that the spec holds.
func held(p *page, b *compiler.Build) {
	k := b.Board.Kept
	if k == nil {
		return
	}
	p.heading("The board as it is laid out, " + b.Spec.Board.Held.Name)
	p.item(k.Head(), "  ", "    ")
	for _, s := range k.Lines() {
		p.item(s, "  * ", "    ")
	}
}
