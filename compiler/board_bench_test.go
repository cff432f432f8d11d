package compiler

import (
	"context"
	"os"
	"testing"
)

// BenchmarkBoard makes and judges the board of bittern, a four-way.
func BenchmarkBoard(b *testing.B) {
	src, err := os.ReadFile("../specs/bittern.yaml")
	if err != nil {
		b.Fatal(err)
	}
	made, _, err := Compile(context.Background(), "bittern.yaml", src, Options{})
	if err != nil || made == nil {
		b.Fatal(err)
	}
	findings, figures := len(made.Findings), len(made.Figures)
	for b.Loop() {
		made.Findings, made.Figures = made.Findings[:findings], made.Figures[:figures]
		buildBoard(made)
		judgeBoard(made)
	}
}
