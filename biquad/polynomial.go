package biquad

// Times is the product of polynomials, coefficients in either order; 1 of none.
// Every product of two coefficients is rounded on its own, so that all platforms
// agree.
func Times(ps ...[]float64) []float64 {
	out := []float64{1}
	for _, p := range ps {
		next := make([]float64, len(out)+len(p)-1)
		for i, a := range out {
			for j, b := range p {
				next[i+j] += float64(a * b)
			}
		}
		out = next
	}
	return out
}
