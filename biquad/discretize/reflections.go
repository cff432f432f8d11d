package discretize

import (
	"math"
	"slices"
)

// triangulate reflects the first n columns of m rows of width w into an upper
// triangle in place, by Householder's reflections (Golub and Van Loan, Matrix Computations,
// section 5.2).
func triangulate(a []float64, m, n, w int) {
	dots := make([]float64, w)
	order, first := beginnings(a, m, n, w)
	rows, spare := make([]int, 1, m+1), make([]int, 1, m+1) // the diagonal's, then those below it that have begun
	for k := 0; k < n && k < m; k++ {
		if begin := order[first[k]:first[k+1]]; len(begin) > 0 {
			rows, spare = joined(rows[1:], begin, spare[:1]), rows[:1]
		}
		for len(rows) > 1 && rows[1] <= k*w {
			rows = rows[1:]
		}
		rows[0] = k * w
		at := a[k:]
		sum := 0.0
		for _, row := range rows {
			sum += at[row] * at[row]
		}
		if sum == 0 {
			continue
		}
		x := at[k*w]
		alpha := -math.Copysign(math.Sqrt(sum), x)
		// Householder's vector is the column with x - α on top; its square is 2·(α² - α·x).
		at[k*w] = x - alpha
		beta := 1 / (float64(-alpha * (x - alpha)))
		d := dots[:w-k-1]
		clear(d)
		gather(d, at, rows)
		for j := range d {
			d[j] *= beta
		}
		spread(at, rows, d)
		at[k*w] = alpha
	}
}

// beginnings are where the rows are that begin in each of the first n columns, with
// something other than zero: those of column k from first[k] on.
func beginnings(a []float64, m, n, w int) (order, first []int) {
	first = make([]int, n+2+2*m)
	order, first = first[n+2+m:], first[:n+2+m]
	in, first := first[n+2:], first[:n+2]
	for i := range in {
		row := a[i*w : i*w+n]
		for in[i] < n && row[in[i]] == 0 {
			in[i]++
		}
		first[in[i]+1]++
	}
	for k := range n + 1 {
		first[k+1] += first[k]
	}
	next := slices.Clone(first)
	for i, k := range in {
		order[next[k]] = i * w
		next[k]++
	}
	return order, first
}

// joined appends two ascending lists to out, in ascending order.
func joined(a, b, out []int) []int {
	for len(a) > 0 && len(b) > 0 {
		next := &a
		if b[0] < a[0] {
			next = &b
		}
		out = append(out, (*next)[0])
		*next = (*next)[1:]
	}
	return append(append(out, a...), b...)
}

// gather adds to d every row after its first element, times that element, in the order
// of the rows.
func gather(d, a []float64, rows []int) {
	rows = rows[gatherWide(d, a, rows):]
	for ; len(rows) >= 4; rows = rows[4:] {
		row := func(i int) (v float64, x []float64) { return a[rows[i]], a[rows[i]+1:][:len(d)] }
		v0, x0 := row(0)
		v1, x1 := row(1)
		v2, x2 := row(2)
		v3, x3 := row(3)
		for j, y := range d {
			y += v0 * x0[j]
			y += v1 * x1[j]
			y += v2 * x2[j]
			y += v3 * x3[j]
			d[j] = y
		}
	}
	for _, at := range rows {
		v := a[at]
		for j, x := range a[at+1:][:len(d)] {
			d[j] += v * x
		}
	}
}

// spread takes d times its first element, which becomes zero, from every row.
func spread(a []float64, rows []int, d []float64) {
	rows = rows[spreadWide(a, rows, d):]
	for ; len(rows) >= 4; rows = rows[4:] {
		row := func(i int) (v float64, x []float64) {
			v, a[rows[i]] = a[rows[i]], 0
			return v, a[rows[i]+1:][:len(d)]
		}
		v0, x0 := row(0)
		v1, x1 := row(1)
		v2, x2 := row(2)
		v3, x3 := row(3)
		for j, y := range d {
			x0[j] -= v0 * y
			x1[j] -= v1 * y
			x2[j] -= v2 * y
			x3[j] -= v3 * y
		}
	}
	for _, at := range rows {
		v := a[at]
		a[at] = 0
		row := a[at+1:][:len(d)]
		for j, y := range d {
			row[j] -= v * y
		}
	}
}
