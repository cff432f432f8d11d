package discretize

import (
	"math"
	"slices"
)

// reflector is what triangulate works in.
type reflector struct {
	dots  []float64
	order []int // where rows are, by the columns in which they begin
	first []int // where those of a column are in order; one more, and one for rows of zeros
	next  []int // the same, as order is filled
	rows  []int // the one on the diagonal, then those below it that have begun
}

// triangulate reflects the first n columns of m rows of width w into an upper
// triangle in place, by Householder's reflections (Golub and Van Loan, Matrix Computations,
// section 5.2).
func (r *reflector) triangulate(a []float64, m, n, w int) {
	r.begin(a, m, n, w)
	rows := append(r.rows[:0], 0)
	for k := 0; k < n && k < m; k++ {
		rows = joined(rows, r.order[r.first[k]:r.first[k+1]])
		for len(rows) > 1 && rows[1] <= k*w {
			rows = rows[1:]
		}
		rows[0] = k * w
		at := a[k:]
		sum := 0.0
		for _, row := range rows {
			x := at[row]
			sum += x * x
		}
		if sum == 0 {
			continue
		}
		x := at[k*w]
		alpha := -math.Copysign(math.Sqrt(sum), x)
		// Householder's vector is the column with x - α on top; its square is 2·(α² - α·x).
		at[k*w] = x - alpha
		beta := 1 / (float64(-alpha * (x - alpha)))
		d := r.dots[:w-k-1]
		clear(d)
		gather(d, at, rows)
		for j := range d {
			d[j] *= beta
		}
		spread(at, rows, d)
		at[k*w] = alpha
	}
}

// begin finds where the rows are that begin in each of the first n columns, with
// something other than zero: those of column k from first[k] on.
func (r *reflector) begin(a []float64, m, n, w int) {
	r.dots = slices.Grow(r.dots[:0], w)[:w]
	r.order = slices.Grow(r.order[:0], m)[:m]
	r.first = slices.Grow(r.first[:0], n+2)[:n+2]
	r.rows = slices.Grow(r.rows[:0], m+1)
	clear(r.first)
	in := r.rows[:m]
	for i := range in {
		k, row := 0, a[i*w:i*w+n]
		for k < len(row) && row[k] == 0 {
			k++
		}
		in[i] = k
		r.first[k+1]++
	}
	for k := range n + 1 {
		r.first[k+1] += r.first[k]
	}
	r.next = append(r.next[:0], r.first...)
	for i, k := range in {
		r.order[r.next[k]] = i * w
		r.next[k]++
	}
}

// joined puts the elements of b where they belong among those of a behind its first, both
// in ascending order: few as a rule, but where a is empty.
func joined(a, b []int) []int {
	at := 1
	for i, x := range b {
		n, _ := slices.BinarySearch(a[at:], x)
		if at += n; at == len(a) {
			return append(a, b[i:]...)
		}
		a = slices.Insert(a, at, x)
	}
	return a
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
