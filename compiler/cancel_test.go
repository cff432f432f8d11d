package compiler_test

import (
	"context"
	"os"
	"strings"
	"testing"
	"time"

	"bandwright/compiler"
	"bandwright/compiler/progress"
)

// A compilation that is cancelled in the middle of any long stage ends soon, with
// the error of its context and without a Build. The bound is ten times what a busy machine
// takes; a stage that ignored the context would take seconds there.
func TestCancelled(t *testing.T) {
	src, err := os.ReadFile("../specs/bittern.yaml")
	if err != nil {
		t.Fatal(err)
	}
	text := strings.Replace(string(src), "\nboard:\n  held:", "\nboard:\n  few-values: 0.2 dB\n  # anew, not", 1)
	if text == string(src) {
		t.Fatal("bittern.yaml holds no board")
	}
	for _, c := range []struct {
		stage string
		after time.Duration
	}{
		{"making the digital filters", 10 * time.Millisecond},
		{"choosing the stages of the board", 10 * time.Millisecond},
		{"choosing values of ", 10 * time.Millisecond},
		{"looking for few different values of ", 0},
		{"looking for few different values of ", 100 * time.Millisecond},
	} {
		ctx, cancel := context.WithCancel(context.Background())
		var cancelled time.Time
		said := make(chan struct{}, 1)
		watched := progress.With(ctx, func(stage string) {
			if strings.HasPrefix(stage, c.stage) && len(said) == 0 {
				said <- struct{}{}
				time.AfterFunc(c.after, func() { cancelled = time.Now(); cancel() })
			}
		})
		b, _, err := compiler.Compile(watched, "bittern.yaml", []byte(text), os.DirFS("../specs"))
		late := time.Since(cancelled)
		if err != context.Canceled || b != nil {
			t.Errorf("%s: %v, a Build: %v", c.stage, err, b != nil)
		}
		if len(said) == 0 || late > time.Second {
			t.Errorf("%s, %v later: said %v, ended %v after its cancellation", c.stage, c.after, len(said) == 1, late)
		}
		t.Logf("%s: ended %v after its cancellation", c.stage, late)
		cancel()
	}
}
