package engine

// transposed2 keeps two sums, in the accumulator's width.
var transposed2 = &Form{
	Name: "transposed-2",
	Doc:  "Transposed direct form 2: two sums are kept, in the accumulator's width.",
	Equations: []string{
		"y = down(b0*x + s1)",
		"s1 = s2 + b1*x - a1*y",
		"s2 = b2*x - a2*y",
	},
	States: []string{"s1", "s2"},
	Sums:   true,
	step: func(e *Engine, s *section, x int64) int64 {
		w, m := &s.words, &s.sums
		y := e.down(e.summed(m[0], w.signed(0), x))
		m[0] = e.summed(e.summed(m[1], w.signed(1), x), w.signed(3), y)
		m[1] = e.summed(e.summed(wide{}, w.signed(2), x), w.signed(4), y)
		return y
	},
}
