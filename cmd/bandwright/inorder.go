package main

import "bandwright/compiler/parallel"

// mostAhead is how many results may wait for one before them.
const mostAhead = 64

// inOrder does n pieces of work on as many goroutines as there are processors,
// and hands the results to take in order, until it returns an error. prepare is
// called for one after another, in order, shortly before the work that it
// returns.
func inOrder[T any](n int, prepare func(i int) func() T, take func(T) error) error {
	results := make([]chan T, n)
	for i := range results {
		results[i] = make(chan T, 1)
	}
	waiting, working := make(chan struct{}, mostAhead), make(chan struct{}, parallel.Workers())
	stop := make(chan struct{})
	defer close(stop)
	go func() {
		for i := range n {
			select {
			case waiting <- struct{}{}:
			case <-stop:
				return
			}
			working <- struct{}{}
			work := prepare(i)
			go func() {
				results[i] <- work()
				<-working
			}()
		}
	}()
	for i := range n {
		x := <-results[i]
		<-waiting
		if err := take(x); err != nil {
			return err
		}
	}
	return nil
}
