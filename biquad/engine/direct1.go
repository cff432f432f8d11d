package engine

// direct1 keeps two samples of the input and two of the output: whatever happens in
// between, what it keeps are samples.
var direct1 = &Form{
	Name: "direct-1",
	Doc:  "Direct form 1: two earlier samples of the input and of the output are kept.",
	Equations: []string{
		"sum = b0*x + b1*x1 + b2*x2 - a1*y1 - a2*y2",
		"y = down(sum); x2 = x1; x1 = x; y2 = y1; y1 = y",
	},
	States: []string{"x1", "x2", "y1", "y2"},
	step: func(e *Engine, s *section, x int64) int64 {
		w, m := &s.words, &s.samples
		var sum wide
		for i, v := range [5]int64{x, m[0], m[1], m[2], m[3]} {
			sum = e.summed(sum, w.signed(i), v)
		}
		y := e.down(sum)
		*m = [4]int64{x, m[0], y, m[2]}
		return y
	},
}
