package circuit

var highCut = Topology{
	Name:       "high-cut",
	Doc:        "(1+sR2C1)/(1+s(R1+R2)C1): cuts high frequencies, unity at low ones; a passive network and a follower.",
	Source:     "node equations",
	Template:   []Element{r("R1", "in", "a"), r("R2", "a", "b").shunt(), c("C1", "b", "0"), u("U1", "a", "out", "out")},
	Realises:   []Shape{LowShelf1},
	LevelFixed: true,
	Free:       []Free{aCapacitor("C1", "any; R1 and R2 follow")},
	Closed: func(v []float64) Ratio {
		r1, r2, c1 := v[0], v[1], v[2]
		return Ratio{[]float64{1, r2 * c1}, []float64{1, (r1 + r2) * c1}}
	},
	Design: func(a Asked, free []float64) ([]float64, error) {
		sum, ratio := 1/(a.W*free[0]), a.N[0]/a.N[1]
		return []float64{sum * (1 - 1/ratio), sum / ratio, free[0]}, nil
	},
}
