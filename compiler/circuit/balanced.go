package circuit

// difference is the gain for two inputs of ±1/2:
// [R4/(R3+R4)·(1+R2/R1) + R2/R1]/2.
func difference(v []float64) Ratio {
	r1, r2, r3, r4 := v[0], v[1], v[2], v[3]
	return Ratio{Polynomial{(r4*(r1+r2) + r2*(r3+r4)) / 2}, Polynomial{r1 * (r3 + r4)}}
}

func differenceDesign(a Asked, free []float64) ([]float64, error) {
	r1, r2 := free[0], free[0]*a.N[0]
	return []float64{r1, r2, r1, r2}, nil
}
