//go:build !amd64

package discretize

// gatherWide and spreadWide do as many of the rows as a processor with wide registers
// takes at once: none here.
func gatherWide(_, _ []float64, _ []int) int           { return 0 }
func spreadWide(_ []float64, _ []int, _ []float64) int { return 0 }
