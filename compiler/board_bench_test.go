package compiler

import (
	"context"
	"os"
	"testing"

	"bandwright/compiler/verify"
)

// BenchmarkBoard makes and judges the board of bittern, a four-way: chosen anew, and as
// it is held.
func BenchmarkBoard(b *testing.B) {
	src, err := os.ReadFile("../specs/bittern.yaml")
	if err != nil {
		b.Fatal(err)
	}
	made, _, err := Compile(context.Background(), "bittern.yaml", src, os.DirFS("../specs"))
	if err != nil || made == nil {
		b.Fatal(err)
	}
	terms := made.Promises.Terms()
	held := made.Held
	run := func(b *testing.B) {
		for b.Loop() {
			made.Board, _, _ = buildBoard(context.Background(), &made.Wanted)
			verify.Judge(context.Background(), made.BoardSubject(), made.Board, terms)
		}
	}
	b.Run("held", run)
	made.Held = nil
	b.Run("anew", run)
	made.Held = held
}
