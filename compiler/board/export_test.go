package board

// Rewire makes the equations of a board anew after its values were changed.
func (b *Board) Rewire() error { return b.wire() }

// Foreseen is the worst error (dB) of any way and of any sum of neighbours as the
// choice of values reckons, from the stages by themselves.
func (b *Board) Foreseen(j Job) (way, sum float64, err error) {
	return b.foreseen(j, benchOf(j), j.few())
}

// Distorts reports whether a capacitor of a dielectric distorts in the signal path.
func Distorts(dielectric string) bool { return distorts(dielectric) }
