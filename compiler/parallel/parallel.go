// Package parallel spreads independent work over the processors. It is a leaf.
//
// Read first: Each.
package parallel

import (
	"runtime"
	"sync"
)

// Each calls f with 0 … n-1 on as many goroutines as there are processors. Each
// call writes to its own place, so results do not depend on the number.
func Each(n int, f func(int)) {
	var wg sync.WaitGroup
	next := make(chan int)
	for range min(n, runtime.GOMAXPROCS(0)) {
		wg.Go(func() {
			for i := range next {
				f(i)
			}
		})
	}
	for i := range n {
		next <- i
	}
	close(next)
	wg.Wait()
}
