package compiler_test

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"bandwright/compiler"
)

// BenchmarkCompile is the time from a shipped spec's bytes to a verified Build.
func BenchmarkCompile(b *testing.B) {
	paths, err := filepath.Glob("../specs/*.yaml")
	if err != nil || len(paths) == 0 {
		b.Fatal(paths, err)
	}
	for _, p := range paths {
		src, err := os.ReadFile(p)
		if err != nil {
			b.Fatal(err)
		}
		b.Run(strings.TrimSuffix(filepath.Base(p), ".yaml"), func(b *testing.B) {
			for b.Loop() {
				if build, faults, err := compiler.Compile(context.Background(), p, src, os.DirFS(filepath.Dir(p))); build == nil || err != nil {
					b.Fatal(faults, err)
				}
			}
		})
	}
}
