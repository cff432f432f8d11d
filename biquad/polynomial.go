package biquad

// Times is the product of polynomials, coefficients in either order; 1 of none.
// Every product of two coefficients is rounded on its own, so that all platforms
// agree.
func Times(ps ...[]float64) []float64 {
	n := 1
	for _, p := range ps {
		n += len(p) - 1
	}
	out := make([]float64, n)
	out[0] = 1
	have := 1 // coefficients of the product so far
	for _, p := range ps {
		next := have + len(p) - 1
		for k := next - 1; k >= 0; k-- { // downwards, as the lower ones are still needed
			sum := 0.0
			for i := max(0, k-len(p)+1); i <= min(k, have-1); i++ {
				sum += float64(out[i] * p[k-i])
			}
			out[k] = sum
		}
		have = next
	}
	return out
}
