package cheader

import (
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// reordering are options that let a compiler change the order of sums. They go
// to the compiler only: given to the link they would change the processor's
// treatment of the smallest numbers as well.
var reordering = [][]string{
	strings.Fields("-fassociative-math -fno-signed-zeros -fno-trapping-math"),
	{"-funsafe-math-optimizations"},
}

// harmless are options that allow much, but nothing that the filters do.
var harmless = strings.Fields("-freciprocal-math -ffinite-math-only -fno-signed-zeros -fno-trapping-math -fno-math-errno")

// refusal is the condition under which a header refuses options.
var refusal = regexp.MustCompile(`(?m)^#if defined __FAST_MATH__ \|\| defined __ASSOCIATIVE_MATH__$`)

// optimised builds the program in dir with options of the compiler's alone.
func optimised(t *testing.T, dir, compiler, bin string, options ...string) {
	t.Helper()
	object := append(append(strings.Fields("-std=gnu11 -O3 -Wall -Wextra -Werror"), options...), "-c", "-o", bin+".o")
	if out, err := compile(t, dir, compiler, object...); err != nil {
		t.Fatalf("%s %v: %v\n%s", compiler, options, err, out)
	}
	if out, err := exec.Command(compiler, "-o", bin, bin+".o").CombinedOutput(); err != nil {
		t.Fatalf("%s: %v\n%s", compiler, err, out)
	}
}

// Options that reorder sums are refused where the preprocessor is told of them,
// as by gcc; where they pass, the header's own guard keeps the bits, for gcc
// too, once it refuses nothing. Without the guard bits change.
func TestReorderingIsRefusedOrUndone(t *testing.T) {
	for _, format := range computed() {
		if format.C.Within == "" {
			continue // nothing that an option could reorder
		}
		whole := newProgram(t, format)
		willing, bare := whole, whole
		willing.headers, bare.headers = map[string][]byte{}, map[string][]byte{}
		for name, data := range whole.headers {
			if strings.HasSuffix(name, ".c") && !refusal.Match(data) {
				t.Fatalf("%s refuses nothing", name)
			}
			willing.headers[name] = refusal.ReplaceAll(data, []byte("#if 0"))
			bare.headers[name] = guard.ReplaceAll(willing.headers[name], nil)
		}
		for _, options := range reordering {
			t.Run(format.Name+options[0], func(t *testing.T) {
				t.Parallel()
				dir := whole.write(t)
				for _, compiler := range []string{"gcc", "g++"} {
					args := append([]string{"-fsyntax-only", "-O2"}, options...)
					if strings.HasSuffix(compiler, "++") {
						args = append(args, "-x", "c++")
					}
					if out, err := compile(t, dir, compiler, args...); err == nil || !strings.Contains(out, "compile without -ffast-math") {
						t.Errorf("%s: %v\n%s", compiler, err, out)
					}
				}
				optimised(t, dir, "clang", filepath.Join(dir, "clang"), options...)
				whole.same(t, filepath.Join(dir, "clang"), true)
				dir = willing.write(t)
				optimised(t, dir, "gcc", filepath.Join(dir, "gcc"), options...)
				willing.same(t, filepath.Join(dir, "gcc"), true)
				dir = bare.write(t)
				for _, compiler := range []string{"gcc", "clang"} {
					optimised(t, dir, compiler, filepath.Join(dir, compiler), options...)
					if n := bare.same(t, filepath.Join(dir, compiler), false); n == len(bare.trials) {
						t.Errorf("%s: bits are the same without the guard: the options do nothing", compiler)
					}
				}
			})
		}
		t.Run(format.Name+"-harmless", func(t *testing.T) {
			t.Parallel()
			dir := whole.write(t)
			for _, compiler := range []string{"gcc", "clang"} {
				optimised(t, dir, compiler, filepath.Join(dir, compiler), harmless...)
				whole.same(t, filepath.Join(dir, compiler), true)
			}
		})
	}
}
