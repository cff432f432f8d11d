package cheader

import (
	_ "embed"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"bandwright/biquad/number"
)

// twoFiles are a file that filters and one that sets up, for the shape one.
const (
	filtersFile = `#include "one_%[1]s.h"
int filter(one_state *s, const %[2]s *const *in, %[2]s *const *out, int n);
int filter(one_state *s, const %[2]s *const *in, %[2]s *const *out, int n) { return one_run(s, in, out, n); }
`
	setsUpFile = `#include "one_%[1]s.h"
#include <stdio.h>
#ifdef __cplusplus
extern "C"
#endif
int filter(one_state *s, const %[2]s *const *in, %[2]s *const *out, int n);
static one_state state;
int main(void)
{
    static %[2]s in[600];
    static %[2]s way[ONE_CHANNELS][600];
    const %[2]s *const ins[ONE_CHANNELS] = { in, in };
    %[2]s *const out[ONE_CHANNELS * ONE_WAYS] = { way[0], way[1] };
    double sum = 0;
    int bad = one_init(&state, 48000u);
    int i;
    in[590] = 1;
    bad |= one_set_trim(&state, 1, ONE_TRIM_MINUS_1_5_DB);
    bad |= filter(&state, ins, out, 600);
    in[590] = 0;
    bad |= one_run(&state, ins, out, 300);
    for (i = 0; i < 600; i++) {
        sum = sum * 0.75 + (double)way[1][i];
    }
    i = one_get_trim(&state, 1);
    printf("%%d %%d %%s %%.17g\n", bad, one_init(&state, 192000u), one_trim_names[i], sum);
    return bad;
}
`
)

// strictLinkage are the warnings that a file which declares and defines functions
// for others must not cause.
var strictLinkage = strings.Fields("-O2 -Wmissing-prototypes -Wmissing-declarations -Wredundant-decls -Wnested-externs")

// joined is how a program of three files is compiled: the code, one that filters
// and one that sets up, each in C or in C++.
type joined struct {
	name                   string
	codeInCXX, setsUpInCXX bool
	options                []string // of the code
	user                   []string // of the file that sets up
}

// compiled are the objects of one folder by the command that makes them: programs that differ in one file
// share the others.
type compiled map[string]string

// link compiles and links the three in dir, with header and code of the format
// there, but for what is made already; the linker's complaint.
func (p joined) link(t *testing.T, dir string, made compiled, compiler string, format number.Format) error {
	t.Helper()
	var objects []string
	for i, text := range []string{filtersFile, setsUpFile, ""} {
		cc, args := compiler, append(strictC[:len(strictC):len(strictC)], strictLinkage...)
		if i == 1 && p.setsUpInCXX || i == 2 && p.codeInCXX {
			cc, args = map[string]string{"gcc": "g++", "clang": "clang++"}[compiler], strictCXX[:len(strictCXX):len(strictCXX)]
		}
		file := "one_" + format.Name + ".c"
		switch i {
		case 1:
			args = append(args, p.user...)
		case 2:
			args = append(args, p.options...)
		}
		if text != "" {
			file = fmt.Sprintf("user%d.c", i)
			if err := os.WriteFile(filepath.Join(dir, file), fmt.Appendf(nil, text, format.Name, format.C.Type.Name), 0o644); err != nil {
				t.Fatal(err)
			}
		}
		object := fmt.Sprintf("%s%d.o", p.name, i)
		command := append(append([]string{cc}, args...), "-c", file)
		if same, is := made[strings.Join(command, " ")]; is {
			object = same
		} else {
			run := exec.Command(cc, append(command[1:], "-o", object)...)
			run.Dir = dir
			if out, err := run.CombinedOutput(); err != nil {
				t.Fatalf("%s: %v\n%s", file, err, out)
			}
			made[strings.Join(command, " ")] = object
		}
		objects = append(objects, filepath.Join(dir, object))
	}
	if out, err := exec.Command(compiler, append(objects, "-o", filepath.Join(dir, p.name))...).CombinedOutput(); err != nil {
		return fmt.Errorf("%s: %w\n%s", p.name, err, out)
	}
	return nil
}

// linked is link for what has to link; the program's file.
func (p joined) linked(t *testing.T, dir string, made compiled, compiler string, format number.Format) string {
	t.Helper()
	if err := p.link(t, dir, made, compiler, format); err != nil {
		t.Fatal(err)
	}
	return filepath.Join(dir, p.name)
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

// However many files include the header, tables and code stand once, and the
// program does the same: in C and in C++, and where a file that uses it is
// compiled with what the code refuses. A rate that is left out takes no room.
func TestTablesStandOnce(t *testing.T) {
	for _, format := range computed() {
		files := headers(t, format)
		for _, compiler := range []string{"gcc", "clang"} {
			t.Run(format.Name+"-"+compiler, func(t *testing.T) {
				t.Parallel()
				dir, made := program{headers: files}.write(t), compiled{}
				ran := func(p joined) (output, names string) {
					bin := p.linked(t, dir, made, compiler, format)
					out, err := exec.Command(bin).Output()
					if err != nil {
						t.Fatalf("%s: %v\n%s", p.name, err, out)
					}
					return string(out), symbols(t, bin)
				}
				want, names := ran(joined{name: "plain"})
				if !strings.HasPrefix(want, "0 0 -1.5 dB ") {
					t.Errorf("the program says %q", want)
				}
				for _, once := range []string{"one_sections_48000", "one_sections_192000", "one_rate_table", " T one_run\n"} {
					if n := strings.Count(names, once); n != 1 {
						t.Errorf("%s stands %d times", once, n)
					}
				}
				for _, p := range []joined{
					{name: "fast", user: []string{"-ffast-math"}},
					{name: "cxx", setsUpInCXX: true},
					{name: "allcxx", setsUpInCXX: true, codeInCXX: true},
				} {
					if got, _ := ran(p); got != want {
						t.Errorf("%s: %q, plain: %q", p.name, got, want)
					}
				}
				got, names := ran(joined{name: "only", options: []string{"-DONE_ONLY_48000"}})
				if got != strings.Replace(want, "0 0", "0 1", 1) || strings.Contains(names, "_192000") {
					t.Errorf("only 48 kHz: %q, and names of 192 kHz: %t", got, strings.Contains(names, "_192000"))
				}
			})
		}
	}
}

// A state with lanes is larger than one without: a program of which one file
// thinks the one and one the other does not link.
func TestLanesInOneFileDoNotLink(t *testing.T) {
	format := number.Formats[slices.IndexFunc(number.Formats, func(f number.Format) bool { return f.Name == "float32" })]
	files := headers(t, format)
	dir, made := program{headers: files}.write(t), compiled{}
	without := []string{"-DONE_NO_LANES"}
	for _, p := range []joined{
		{name: "neither"},
		{name: "both", options: without, user: without},
		{name: "code", options: without},
		{name: "user", user: without},
	} {
		err := p.link(t, dir, made, "gcc", format)
		if agree := len(p.options) == len(p.user); agree != (err == nil) {
			t.Errorf("%s without lanes: %v", p.name, err)
		} else if !agree && !strings.Contains(err.Error(), "one_init") {
			t.Errorf("%s without lanes: the linker's message does not name one_init: %v", p.name, err)
		}
	}
}

//go:embed testdata/interrupt.c
var interruptExample string

// The example in README.md compiles with what ships, and does not grow.
func TestTheExampleCompiles(t *testing.T) {
	if n := strings.Count(interruptExample, "\n"); n > 50 {
		t.Errorf("the example has %d lines", n)
	}
	for _, compiler := range []string{"gcc", "clang"} {
		p := program{headers: map[string][]byte{}, source: interruptExample}
		for _, name := range []string{"heron_float32.h", "heron_float32.c"} {
			data, err := os.ReadFile(filepath.Join("..", "..", "golden", "heron", name))
			if err != nil {
				t.Fatal(err)
			}
			p.headers[name] = data
		}
		dir := p.write(t)
		if out, err := compile(t, dir, compiler, append(strictC[:len(strictC):len(strictC)], "-c", "-O1", "heron_float32.c")...); err != nil {
			t.Errorf("%s: %v\n%s", compiler, err, out)
		}
	}
}
