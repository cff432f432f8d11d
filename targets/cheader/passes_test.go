package cheader

import (
	"math/rand/v2"
	"testing"

	"bandwright/biquad"
	"bandwright/biquad/number"
)

// Of all ways to take rows through passes the list is one of the cheapest, tried one by one, and it names
// every row once, in order, in a loop that is there.
func TestListsAreTheCheapest(t *testing.T) {
	draw := rand.New(rand.NewPCG(1, 2))
	for range 300 {
		h := &header{kernel: kernel{Format: formatNamed(t, "float32")}}
		h.RowBits = 11
		h.kinds, h.longest, h.heads = map[int]bool{1: true, kindOf[biquad.Delta]: true, bareKind: true}, map[int]int{}, map[int]bool{}
		kinds := make([]int, 12)
		var rows []int
		for i := range kinds {
			kinds[i] = 1 + draw.IntN(3)
			if draw.IntN(6) > 0 { // some rows stand elsewhere
				rows = append(rows, i)
			}
		}
		cost, next := 0, 0
		list := h.list(kinds, rows)
		for _, w := range list[:len(list)-1] {
			row, kind, n := w&(1<<h.RowBits-1), w>>h.RowBits&h.KindMask(), w>>h.CountShift()
			cost += h.cost(kind, n)
			for j := range n {
				if next == len(rows) || rows[next] != row+j || !fits(kinds[row+j], kind) {
					t.Fatalf("kinds %v, rows %v: word %#x", kinds, rows, w)
				}
				next++
			}
			found := false
			for _, p := range h.Passes() {
				found = found || p.Head == w>>h.RowBits
			}
			if !found {
				t.Fatalf("no loop for word %#x", w)
			}
		}
		if want := cheapest(h, kinds, rows); next != len(rows) || cost != want {
			t.Errorf("kinds %v, rows %v: %d instructions, may be %d", kinds, rows, cost, want)
		}
	}
}

// cheapest tries every first pass.
func cheapest(h *header, kinds, rows []int) int {
	if len(rows) == 0 {
		return 0
	}
	best := 1 << 30
	for _, kind := range []int{1, kindOf[biquad.Delta], bareKind} {
		for n := 1; n <= h.longestOf(kind) && n <= len(rows); n++ {
			if rows[n-1] != rows[0]+n-1 || !fits(kinds[rows[n-1]], kind) {
				break
			}
			best = min(best, h.cost(kind, n)+cheapest(h, kinds, rows[n:]))
		}
	}
	return best
}

// A loop's cost counts its operators: those of the formulas in the header.
func TestCostsCountOperators(t *testing.T) {
	k := kernel{Format: formatNamed(t, "float32")}
	for kind, each := range map[int]int{kindOf[biquad.Direct]: 9, kindOf[biquad.Delta]: 11, bareKind: 7} {
		if got := k.cost(kind, 2) - k.cost(kind, 1); got != each {
			t.Errorf("kind %d: %d operators, want %d", kind, got, each)
		}
	}
}

func formatNamed(t *testing.T, name string) number.Format {
	for _, f := range number.Formats {
		if f.Name == name {
			return f
		}
	}
	t.Fatal("no format " + name)
	return number.Format{}
}
