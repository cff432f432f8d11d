package biquad

import "slices"

// An order of n things is the slice of their numbers, from 0, in the order in which they follow one another.

// InPlace is the order of n things in which each stands where it is.
func InPlace(n int) []int {
	out := make([]int, n)
	for i := range out {
		out[i] = i
	}
	return out
}

// Arranged are things in an order.
func Arranged[T any](things []T, order []int) []T {
	out := make([]T, len(order))
	for i, k := range order {
		out[i] = things[k]
	}
	return out
}

// Moved is an order with the thing in place from taken out and put into place to.
func Moved(order []int, from, to int) []int {
	k := order[from]
	return slices.Insert(slices.Delete(slices.Clone(order), from, from+1), to, k)
}

// exchanged is an order with the things in places a and b exchanged.
func exchanged(order []int, a, b int) []int {
	out := slices.Clone(order)
	out[a], out[b] = out[b], out[a]
	return out
}

// Improved is the order, from the given one on, of which no move of one thing and no exchange of two is
// better. Better is asked of each order that is tried, in turn, whether it is better than the last of which
// it said so, or than the given one.
func Improved(order []int, better func(tried []int) bool) []int {
	for again := true; again; {
		again = false
		for from := range order {
			for to := range order {
				for _, tried := range [][]int{Moved(order, from, to), exchanged(order, from, to)} {
					if better(tried) {
						order, again = tried, true
					}
				}
			}
		}
	}
	return order
}

// Orders calls f with every order of n things, in lexicographic order; f must not keep it.
func Orders(n int, f func(order []int)) {
	order := InPlace(n)
	for {
		f(order)
		i := n - 2
		for i >= 0 && order[i] > order[i+1] {
			i--
		}
		if i < 0 {
			return
		}
		j := n - 1
		for order[j] < order[i] {
			j--
		}
		order[i], order[j] = order[j], order[i]
		slices.Reverse(order[i+1:])
	}
}
