package biquad

import (
	"math/rand"
	"slices"
	"testing"
)

// All orders of n are n! different ones, ascending.
func TestOrders(t *testing.T) {
	for n, factorial := 1, 1; n <= 6; n++ {
		factorial *= n
		var before []int
		count := 0
		Orders(n, func(order []int) {
			sorted := slices.Clone(order)
			slices.Sort(sorted)
			if !slices.Equal(sorted, InPlace(n)) || slices.Compare(before, order) >= 0 {
				t.Errorf("%v after %v", order, before)
			}
			before = slices.Clone(order)
			count++
		})
		if count != factorial {
			t.Errorf("%d orders of %d, not %d", count, n, factorial)
		}
	}
}

// Where the search ends nothing near is better: every order that takes one thing out and puts it somewhere else, or
// exchanges two, is among all orders looked for by their differences from it.
func TestImprovedEndsWhereNothingNearIsBetter(t *testing.T) {
	r := rand.New(rand.NewSource(5))
	const n = 5
	for range 50 {
		cost := map[[n]int]float64{}
		Orders(n, func(order []int) { cost[[n]int(order)] = r.Float64() })
		now := cost[[n]int(InPlace(n))]
		best := Improved(InPlace(n), func(tried []int) bool {
			c := cost[[n]int(tried)]
			if c < now {
				now = c
				return true
			}
			return false
		})
		if cost[[n]int(best)] != now {
			t.Fatalf("%v costs %g, not %g", best, cost[[n]int(best)], now)
		}
		near := 0
		Orders(n, func(order []int) {
			if !nearTo(order, best) {
				return
			}
			if near++; cost[[n]int(order)] < now {
				t.Errorf("%v is near %v and better", order, best)
			}
		})
		// (n-1)² moves of one (of neighbours counted once) and n(n-1)/2 exchanges, of which those of neighbours are moves.
		if want := (n-1)*(n-1) + n*(n-1)/2 - (n - 1); near != want {
			t.Fatalf("%d orders are near, not %d", near, want)
		}
	}
}

// nearTo reports whether two orders differ by one exchange, or by one thing that is somewhere else.
func nearTo(a, b []int) bool {
	differ := 0
	for i := range a {
		if a[i] != b[i] {
			differ++
		}
	}
	if differ == 0 {
		return false
	}
	for _, k := range a {
		is := func(x int) bool { return x == k }
		if slices.Equal(slices.DeleteFunc(slices.Clone(a), is), slices.DeleteFunc(slices.Clone(b), is)) {
			return true
		}
	}
	return differ == 2
}
