package discretize

// leveller is a model with a response in dB at y = tan²(ω/2).
type leveller interface {
	model
	level(y float64, row []float64) float64
}

// levels is the problem of a response in dB at spots.
type levels []spot

func (ls levels) count() int { return len(ls) }

// errors are those of the level in dB, at guards only what exceeds the limit.
func (ls levels) errors(m model, dst, rows []float64) {
	l, n := m.(leveller), m.size()
	for i, p := range ls {
		var row []float64
		if rows != nil {
			row = rows[i*n : (i+1)*n]
		}
		e := l.level(p.y, row) - p.want
		if p.guard == above && e < 0 || p.guard == below && e > 0 {
			e = 0
		}
		dst[i] = e
	}
}

func (ls levels) within(_, n int) columns { return columns{0, n, false} }

func (ls levels) load(s *leastSquares, _, rows, weight, right []float64) {
	for i, w := range weight {
		if w != 0 {
			s.add(rows[i*s.n:(i+1)*s.n], w, right[i])
		}
	}
}
