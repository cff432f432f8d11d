package compiler

import (
	"context"
	"os"
	"testing"

	"bandwright/compiler/verify"
)

// BenchmarkBoard makes and judges the board of bittern, a four-way.
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
	for b.Loop() {
		made.Board, _, _ = buildBoard(context.Background(), &made.Wanted)
		verify.Judge(context.Background(), made.boardSubject(), made.Board, terms)
	}
}
