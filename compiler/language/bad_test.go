package language

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// badSpecs are the files of specs/bad by name.
func badSpecs(t testing.TB) map[string][]byte {
	paths, err := filepath.Glob("../../specs/bad/*.yaml")
	if err != nil || len(paths) < 35 {
		t.Fatalf("%d specs in specs/bad: %v", len(paths), err)
	}
	out := map[string][]byte{}
	for _, p := range paths {
		src, err := os.ReadFile(p)
		if err != nil {
			t.Fatal(err)
		}
		out[strings.TrimSuffix(filepath.Base(p), ".yaml")] = src
	}
	return out
}
