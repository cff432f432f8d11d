package board

// Rewire makes the equations of a board anew after its values were changed.
func (b *Board) Rewire() error { return b.wire() }
