package language

import (
	"math/rand/v2"
	"strings"
	"testing"
)

// A file that is no text is told once, wherever its zero bytes went: random bytes without any, and a picture's.
// Text in another encoding, and text with control characters in it, keep a message for each line.
func TestBinaryFilesAreOneFault(t *testing.T) {
	draw := rand.New(rand.NewPCG(7, 1))
	for _, size := range []int{300, 3000, 100_000} {
		data := make([]byte, size)
		for i := range data {
			data[i] = byte(1 + draw.IntN(255))
		}
		for what, src := range map[string]string{"random": string(data), "behind a spec": shortSpec + string(data), "compressed": "\x1f\x8b\x08" + string(data), "picture": "\x89PNG\r\n\x1a\n" + string(data)} {
			s, faults := Parse("x.yaml", []byte(src), lang)
			checkFaults(t, s, faults, []byte(src))
			if s != nil || len(faults) != 1 || !strings.HasSuffix(faults[0].Message, ": this is not a text file") {
				t.Errorf("%d bytes, %s: %d faults, the first %v", size, what, len(faults), faults[0])
			}
		}
	}
	for src, want := range map[string]int{
		strings.Repeat("# \xe4\xf6\xfc \xe4\xf6\xfc\xdf\n", 8): 8, // ISO 8859-1
		strings.Repeat("a: \x1b[0m\n", 3):                      3, // pasted from a terminal
	} {
		if _, faults := Parse("x.yaml", []byte(src), lang); len(faults) != want || strings.Contains(faults[0].Message, "not a text file") {
			t.Errorf("%q: %v", src, faults)
		}
	}
}
