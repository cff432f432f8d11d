// Package parallel spreads independent work over the processors. It is a leaf.
//
// Read first: Each, Together, Try, First.
package parallel

import (
	"context"
	"runtime"
	"sync"
	"sync/atomic"
)

// Workers is how many calls run at once.
func Workers() int { return runtime.GOMAXPROCS(0) }

// Each calls f with 0 … n-1 on as many goroutines as there are processors. Each
// call writes to its own place, so results do not depend on the number.
// The caller's goroutine is one of them, so that little work costs little.
func Each(n int, f func(int)) {
	var wg sync.WaitGroup
	var next atomic.Int64
	work := func() {
		for i := int(next.Add(1)) - 1; i < n; i = int(next.Add(1)) - 1 {
			f(i)
		}
	}
	for range min(n, Workers()) - 1 {
		wg.Go(work)
	}
	work()
	wg.Wait()
}

// Together calls all of them at once, and returns when all have.
func Together(calls ...func()) {
	var wg sync.WaitGroup
	for _, f := range calls {
		wg.Go(f)
	}
	wg.Wait()
}

// Try is Each for work that may fail: the error of the lowest index wins.
func Try(n int, f func(int) error) error {
	errs := make([]error, n)
	Each(n, func(i int) { errs[i] = f(i) })
	for _, err := range errs {
		if err != nil {
			return err
		}
	}
	return nil
}

type crowded struct{}

// Crowded is a context for one of many independent pieces of work, which keep all
// processors busy by themselves: what runs ahead in one of them only delays the others.
func Crowded(ctx context.Context) context.Context { return context.WithValue(ctx, crowded{}, true) }

// Ahead is how many workers First is given best: one in a crowd, as many as there are
// processors elsewhere.
func Ahead(ctx context.Context) int {
	if ctx.Value(crowded{}) != nil {
		return 1
	}
	return Workers()
}

// First is the smallest i from 0 to n-1 for which f(worker, i, idle) is true, or n
// where it is for none. Calls run ahead on so many workers, of each (0 to
// workers-1) one at a time, so f has to answer by i alone; calls beyond First
// may have been made, and what they found is to be passed over. They may end at
// once, with any answer, when idle says that a smaller i has been found.
func First(workers, n int, f func(worker, i int, idle func() bool) bool) int {
	var wg sync.WaitGroup
	var next, first atomic.Int64
	first.Store(int64(n))
	for worker := range min(n, workers) {
		wg.Go(func() {
			for {
				i := next.Add(1) - 1
				if i >= first.Load() {
					return
				}
				if !f(worker, int(i), func() bool { return first.Load() < i }) {
					continue
				}
				for was := first.Load(); i < was && !first.CompareAndSwap(was, i); was = first.Load() {
				}
			}
		})
	}
	wg.Wait()
	return int(first.Load())
}
