package batch_test

import (
	"context"
	"testing"

	"bandwright/compiler/batch"
)

// What it takes to simulate 10,000 boards of each shipped spec, and all that is told
// of them.
func BenchmarkOf(b *testing.B) {
	for _, name := range boards {
		x := shipped(b, name)
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				if _, err := batch.Of(context.Background(), x.Subject(), x.Board, batch.Terms{LowHz: 20, HighHz: 20000, LimitDB: 1, Share: 0.95}); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

// What it takes more where capacitors come in three classes.
func BenchmarkClasses(b *testing.B) {
	for _, name := range boards {
		x := shipped(b, name)
		spec := *x.Spec.Board
		spec.Capacitors.Classes, spec.Capacitors.Tolerance = []float64{0.05, 0.02, 0.01}, 0.05
		made := *x.Board
		made.Spec = &spec
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				if _, err := batch.Of(context.Background(), x.Subject(), &made, batch.Terms{LowHz: 20, HighHz: 20000, LimitDB: 1, Share: 0.95}); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
