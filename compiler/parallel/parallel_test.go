package parallel_test

import (
	"context"
	"runtime"
	"sync/atomic"
	"testing"

	"bandwright/compiler/parallel"
)

// The first is the first whichever call ends first, and no worker has two calls.
func TestFirst(t *testing.T) {
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(0))
	for _, processors := range []int{1, 2, 5} {
		runtime.GOMAXPROCS(processors)
		for n := range 40 {
			for want := range n + 1 {
				var busy [5]atomic.Int32
				var before atomic.Int32
				got := parallel.First(parallel.Workers(), n, func(worker, i int, idle func() bool) bool {
					if busy[worker].Add(1) > 1 {
						t.Errorf("worker %d is called twice at once", worker)
					}
					defer busy[worker].Add(-1)
					if i < want {
						before.Add(1)
						runtime.Gosched() // those after it are faster
						return false
					}
					if idle() && i == want {
						t.Errorf("%d of %d is idle before it is found", i, n)
					}
					return true
				})
				if got != want || int(before.Load()) != want {
					t.Fatalf("%d processors: %d of %d, want %d; %d calls before it", processors, got, n, want, before.Load())
				}
			}
		}
	}
}

func TestEach(t *testing.T) {
	seen := make([]int, 1000)
	parallel.Each(len(seen), func(i int) { seen[i]++ })
	for i, n := range seen {
		if n != 1 {
			t.Fatalf("%d: %d calls", i, n)
		}
	}
}

// In a crowd nothing runs ahead.
func TestCrowded(t *testing.T) {
	crowd := parallel.Crowded(context.Background())
	if alone, in := parallel.Ahead(context.Background()), parallel.Ahead(crowd); alone != parallel.Workers() || in != 1 {
		t.Fatalf("%d workers alone, %d in a crowd", alone, in)
	}
	calls := 0
	if got := parallel.First(parallel.Ahead(crowd), 100, func(worker, i int, _ func() bool) bool {
		calls++
		return i == 3
	}); got != 3 || calls != 4 {
		t.Fatalf("%d is the first, after %d calls", got, calls)
	}
}
