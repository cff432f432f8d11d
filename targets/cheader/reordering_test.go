package cheader

import (
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
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
// too, once it refuses nothing. Without the guard bits change: in every format by gcc, and in
// some by clang, which finds nothing to reorder in what lanes do with double precision.
func TestReorderingIsRefusedOrUndone(t *testing.T) {
	var acted sync.Map // by compiler and format, what reordered
	t.Run("formats", func(t *testing.T) { reorderingOfFormats(t, &acted) })
	for _, compiler := range []string{"gcc", "clang"} {
		for _, options := range reordering {
			some := false
			for _, format := range computed() {
				_, is := acted.Load(compiler + format.Name + options[0])
				some = some || is
				if compiler == "gcc" && format.C.Within != "" && !is {
					t.Errorf("gcc %s, %s: bits are the same without the guard: the options do nothing", options[0], format.Name)
				}
			}
			if !some {
				t.Errorf("%s %s: bits are the same without the guard in all formats: the options do nothing", compiler, options[0])
			}
		}
	}
}

// reorderingOfFormats builds the programs of all formats, and notes where bits without the guard
// were others.
func reorderingOfFormats(t *testing.T, acted *sync.Map) {
	for _, format := range computed() {
		if format.C.Within == "" {
			continue // nothing that an option could reorder
		}
		whole := summing(t, format)
		willing, bare := whole, unguarded(t, format)
		willing.headers = map[string][]byte{}
		for name, data := range whole.headers {
			if strings.HasSuffix(name, ".c") && !refusal.Match(data) {
				t.Fatalf("%s refuses nothing", name)
			}
			willing.headers[name] = refusal.ReplaceAll(data, []byte("#if 0"))
		}
		for name, data := range bare.headers {
			bare.headers[name] = refusal.ReplaceAll(data, []byte("#if 0"))
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
					if n := bare.same(t, filepath.Join(dir, compiler), false); n != len(bare.trials) {
						acted.Store(compiler+format.Name+options[0], true)
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
