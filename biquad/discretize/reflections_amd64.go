package discretize

import "golang.org/x/sys/cpu"

// gatherWide is gather for as many of the rows as four divides, where the processor has
// AVX. The elements of four columns are worked out at once, each by the same products
// and sums in the same order, none of them fused: the bits are the same on any amd64.
// It returns how many rows it did.
func gatherWide(d, a []float64, rows []int) int {
	n := fours(len(d), a, rows)
	if n > 0 {
		gatherFours(d, a, rows[:n])
	}
	return n
}

// spreadWide is spread likewise.
func spreadWide(a []float64, rows []int, d []float64) int {
	n := fours(len(d), a, rows)
	if n > 0 {
		spreadFours(a, rows[:n], d)
	}
	return n
}

// fours is how many rows of a, each below the one before, may be done four at a time.
func fours(width int, a []float64, rows []int) int {
	n := len(rows) &^ 3
	if !cpu.X86.HasAVX || n == 0 {
		return 0
	}
	_ = a[rows[0] : rows[n-1]+width+1] // nothing below looks at the bounds
	return n
}

//go:noescape
func gatherFours(d, a []float64, rows []int)

//go:noescape
func spreadFours(a []float64, rows []int, d []float64)
