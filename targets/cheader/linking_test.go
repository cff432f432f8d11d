package cheader

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"bandwright/biquad/number"
)

// twoFiles are a file that filters and one that sets up, for the shape one.
// Each tells what it makes of its own.
const (
	filtersFile = `%[1]s#include "one_%[2]s.h"
int filter(one_state *s, const %[3]s *in, %[3]s *const *out, int n);
int filter(one_state *s, const %[3]s *in, %[3]s *const *out, int n) { return one_run(s, 1, in, out, n); }
`
	setsUpFile = `%[1]s#include "one_%[2]s.h"
#include <stdio.h>
#ifdef __cplusplus
extern "C"
#endif
int filter(one_state *s, const %[3]s *in, %[3]s *const *out, int n);
static one_state state;
int main(void)
{
    static %[3]s in[300], way[300];
    %[3]s *const out[ONE_WAYS] = { way };
    double sum = 0;
    int bad = one_init(&state, 48000u);
    int i;
    in[0] = 1;
    bad |= one_set_trim(&state, 1, ONE_TRIM_MINUS_1_5_DB);
    bad |= filter(&state, in, out, 300);
    bad |= one_run(&state, 0, in, out, 300);
    one_reset(&state);
    bad |= filter(&state, in, out, 300);
    for (i = 0; i < 300; i++) {
        sum = sum * 0.75 + (double)way[i];
    }
    printf("%%d %%.17g\n", bad, sum);
    return bad;
}
`
)

// strictLinkage are the warnings that a file which declares and defines functions
// for others must not cause.
var strictLinkage = strings.Fields("-O2 -Wmissing-prototypes -Wmissing-declarations -Wredundant-decls -Wnested-externs")

// pair is how the two files are compiled: what stands above the #include of the
// one that filters and of the one that sets up, and whether the latter is C++.
type pair struct {
	name, filters, setsUp string
	cxx                   bool
	options               []string // of the file that sets up
}

const here, elsewhere = "#define ONE_HERE\n", "#define ONE_ELSEWHERE\n"

// linked compiles and links the pair in dir, with a header of the format there.
func (p pair) linked(t *testing.T, dir, compiler string, format number.Format) (bin, errors string) {
	t.Helper()
	var objects []string
	for i, text := range []string{filtersFile, setsUpFile} {
		cc, args := compiler, append(strictC[:len(strictC):len(strictC)], strictLinkage...)
		above := p.filters
		if i == 1 {
			above = p.setsUp
			if p.cxx {
				cc, args = map[string]string{"gcc": "g++", "clang": "clang++"}[compiler], strictCXX[:len(strictCXX):len(strictCXX)]
			}
			args = append(args, p.options...)
		}
		file := fmt.Sprintf("%s%d.c", p.name, i)
		if err := os.WriteFile(filepath.Join(dir, file), fmt.Appendf(nil, text, above, format.Name, format.C.Type.Name), 0o644); err != nil {
			t.Fatal(err)
		}
		run := exec.Command(cc, append(args, "-c", "-o", file+".o", file)...)
		run.Dir = dir
		if out, err := run.CombinedOutput(); err != nil {
			t.Fatalf("%s: %v\n%s", file, err, out)
		}
		objects = append(objects, filepath.Join(dir, file+".o"))
	}
	bin = filepath.Join(dir, p.name)
	if out, err := exec.Command(compiler, append(objects, "-o", bin)...).CombinedOutput(); err != nil {
		return "", string(out)
	}
	return bin, ""
}

// symbols are a program's, as nm lists them.
func symbols(t *testing.T, bin string) string {
	t.Helper()
	out, err := exec.Command("nm", bin).Output()
	if err != nil {
		t.Fatalf("no nm: install the Debian package binutils: %v", err)
	}
	return string(out)
}

// Two files that include a header have tables and code twice; with HERE in one
// and ELSEWHERE in the other they stand once, and the program does the same.
// The file elsewhere may be C++, and may be compiled with what the code refuses.
func TestTablesStandOnce(t *testing.T) {
	for _, format := range number.Formats {
		files, _ := headers(t, format)
		for _, compiler := range []string{"gcc", "clang"} {
			t.Run(format.Name+"-"+compiler, func(t *testing.T) {
				t.Parallel()
				dir := program{headers: files}.write(t)
				ran := func(p pair) (output, names string) {
					bin, errors := p.linked(t, dir, compiler, format)
					out, err := exec.Command(bin).Output()
					if err != nil {
						t.Fatalf("%s: %v\n%s\n%s", p.name, err, errors, out)
					}
					return string(out), symbols(t, bin)
				}
				want, twice := ran(pair{name: "twice"})
				for _, p := range []pair{
					{name: "once", filters: here, setsUp: elsewhere},
					{name: "turned", filters: elsewhere, setsUp: here},
					{name: "fast", filters: here, setsUp: elsewhere, options: []string{"-ffast-math"}},
					{name: "cxx", filters: here, setsUp: elsewhere, cxx: true},
					{name: "cxxhere", filters: elsewhere, setsUp: here, cxx: true},
				} {
					got, once := ran(p)
					if got != want {
						t.Errorf("%s: %q, two copies: %q", p.name, got, want)
					}
					for _, table := range []string{"one_section_table", "one_position_table", "one_rate_table"} {
						if a, b := strings.Count(twice, table), strings.Count(once, table); a != 2 || b != 1 {
							t.Errorf("%s: %s stands %d times in two files by themselves, %d times shared", p.name, table, a, b)
						}
					}
					if n := strings.Count(once, " T one_run\n"); n != 1 {
						t.Errorf("%s: one_run is defined %d times", p.name, n)
					}
				}
				// What is left out, or said twice, does not link.
				for _, both := range []string{here, elsewhere} {
					if bin, errors := (pair{name: "wrong", filters: both, setsUp: both}).linked(t, dir, compiler, format); bin != "" || !strings.Contains(errors, "one_run") {
						t.Errorf("both files with %q link: %s", both, errors)
					}
				}
			})
		}
	}
}
