package cheader

import (
	"bytes"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"

	"bandwright/biquad/number"
)

// The flags that a header must compile under without a finding.
var (
	strictC = strings.Fields("-std=c99 -pedantic -Wall -Wextra -Wconversion -Wsign-conversion -Wshadow -Wdouble-promotion " +
		"-Wcast-align -Wcast-qual -Wundef -Wfloat-equal -Werror")
	strictCXX = strings.Fields("-std=c++17 -Wall -Wextra -Wconversion -Wshadow -Werror -x c++")
	fused     = strings.Fields("-std=gnu11 -O3 -mfma -Wall -Wextra -Werror")
)

// packages are the Debian packages of the compilers.
var packages = map[string]string{"gcc": "gcc", "g++": "g++", "clang": "clang", "clang++": "clang"}

// compile runs a compiler in dir on main.c.
func compile(t *testing.T, dir, compiler string, args ...string) (output string, err error) {
	t.Helper()
	path, err := exec.LookPath(compiler)
	if err != nil {
		t.Fatalf("no %s: install the Debian package %s", compiler, packages[compiler])
	}
	c := exec.Command(path, append(args, "main.c")...)
	c.Dir = dir
	out, err := c.CombinedOutput()
	return string(out), err
}

// write puts a program into a folder of its own.
func (p program) write(t *testing.T) string {
	t.Helper()
	dir := t.TempDir()
	for name, data := range p.headers {
		if err := os.WriteFile(filepath.Join(dir, name), data, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	if err := os.WriteFile(filepath.Join(dir, "main.c"), []byte(p.source), 0o644); err != nil {
		t.Fatal(err)
	}
	return dir
}

// same runs the program on every trial and reports how many answered exactly
// what the simulation did. Under verdict it is an error where one did not.
func (p program) same(t *testing.T, bin string, verdict bool) int {
	t.Helper()
	equal := 0
	for _, tr := range p.trials {
		c := exec.Command(bin, tr.stem)
		c.Stdin = bytes.NewReader(tr.stdin)
		var stderr bytes.Buffer
		c.Stderr = &stderr
		got, err := c.Output()
		switch {
		case err != nil:
			t.Errorf("%s_%s.c: %v\n%s", tr.stem, p.format.Name, err, stderr.String())
		case bytes.Equal(got, tr.want):
			equal++
		case verdict:
			at := 0
			for at < len(got) && at < len(tr.want) && got[at] == tr.want[at] {
				at++
			}
			t.Errorf("%s_%s.c: byte %d of %d (the simulation: %d) is the first that differs", tr.stem, p.format.Name, at, len(got), len(tr.want))
		}
	}
	return equal
}

// The emitted C against the simulation, bit for bit, and without a warning, in
// C99 and C++17, by two compilers at all levels of optimisation. With the
// processor's fused multiply-add allowed the header's own guard must keep the
// bits.
func TestHeadersEqualTheSimulation(t *testing.T) {
	for _, format := range number.Formats {
		for _, c := range []struct {
			name, compiler string
			args           []string
		}{
			{"gcc-O0", "gcc", append(strictC, "-O0")},
			{"gcc-O3", "gcc", append(strictC, "-O3")},
			{"clang-O0", "clang", append(strictC, "-O0")},
			{"clang-O2", "clang", append(strictC, "-O2")},
			{"clang-O3", "clang", append(strictC, "-O3")},
			{"g++", "g++", append(strictCXX, "-O2")},
			{"clang++", "clang++", append(strictCXX, "-O2")},
			{"gcc-fma", "gcc", fused},
			{"clang-fma", "clang", fused},
			{"gcc-sanitized", "gcc", sanitized},
			{"clang-sanitized", "clang", sanitized},
		} {
			args := append([]string{}, c.args...)
			if !wanted(format, c.name) {
				continue
			}
			t.Run(format.Name+"-"+c.name, func(t *testing.T) {
				t.Parallel()
				p := newProgram(t, format)
				if strings.HasSuffix(c.name, "-fma") {
					p = summing(t, format)
				}
				dir := p.write(t)
				bin := filepath.Join(dir, c.name)
				if strings.HasSuffix(c.name, "-fma") {
					assemble(t, bin, c.compiler, fusedWhole(t, format, c.compiler))
				} else if out, err := compile(t, dir, c.compiler, append(args, "-o", bin)...); err != nil {
					t.Fatalf("%v\n%s", err, out)
				}
				if strings.HasSuffix(c.name, "-fma") && !canFuse() {
					t.Log("this processor has no fused multiply-add: compiled, and judged by its instructions only")
					return
				}
				p.same(t, bin, true)
			})
		}
	}
}

// wanted reports whether a format is tried in a build. Whole numbers leave compilers no
// choice, so that one build of each compiler is enough, one of them with the sanitizers (all
// four compilers build the shipped headers in golden); those of floating point do without
// clang's, and double precision with the level that is shipped and without sanitizers, under which
// targets/selfcheck runs it: the self-tests run on every machine at every level. At -O2 the compiler for C++ builds
// all there is, and golden what ships in C, so that C is built there by clang alone and in double precision.
func wanted(format number.Format, build string) bool {
	switch {
	case format.Name == number.Reference:
		return build == "clang-O2" || build == "g++" || strings.HasSuffix(build, "-fma")
	case format.GuardBits == 0:
		return build != "clang-sanitized" && !strings.HasSuffix(build, "-O2")
	case format.C.Type.Bytes*8 > bitsOf(format):
		return build == "gcc-sanitized"
	}
	return build == "gcc-O3" || build == "clang-sanitized"
}

// bitsOf is how many bits the samples of a fixed-point format have.
func bitsOf(format number.Format) int { return 1 + int(math.Log2(format.C.FullScale)) }

func canFuse() bool {
	info, _ := os.ReadFile("/proc/cpuinfo")
	return regexp.MustCompile(`(?m)^flags\s*:.*\bfma\b`).Match(info)
}

// guard is the lines of a header that keep products and sums apart.
var guard = regexp.MustCompile(`(?m)^#pragma GCC optimize\("fp-contract.*\)$|_Pragma\("(STDC FP_CONTRACT OFF|clang fp .*)"\)$`)

// fusedSum is a fused multiply-add among x86 instructions.
var fusedSum = regexp.MustCompile(`\bvf(n?)m(add|sub)\d+[sp][sd]\b`)

// notCode are comments and strings of C, and floating what its text says of numbers that
// are not whole: their types, and literals.
var (
	notCode  = regexp.MustCompile(`(?s)/\*.*?\*/|"[^"\n]*"`)
	floating = regexp.MustCompile(`\b(float|double)\b|\d\.|\.\d|\b\d+[eE][-+]?\d`)
)

// Teeth of the test above: with the guard the compilers emit no fused
// multiply-add, and without it they do, and the outputs differ. A format without
// a guard has nothing that they could fuse: its code has no number that is not whole.
func TestContractionGuardIsNeeded(t *testing.T) {
	for _, format := range number.Formats {
		guards := 3 // for gcc, for clang and for the others
		if format.C.Within == "" {
			guards = 0
		}
		for name, data := range newProgram(t, format).headers {
			if !strings.HasSuffix(name, ".c") {
				continue
			}
			if n := len(guard.FindAll(data, -1)); n != guards {
				t.Fatalf("%s: %d lines of the guard, want %d", name, n, guards)
			}
			found := floating.Find(notCode.ReplaceAll(data, nil))
			if (found != nil) != (guards > 0) {
				t.Errorf("%s: %d lines of the guard, and of numbers that are not whole %q", name, guards, found)
			}
		}
		if guards == 0 {
			continue
		}
		bare := unguarded(t, format)
		for _, compiler := range []string{"gcc", "clang"} {
			t.Run(format.Name+"-"+compiler, func(t *testing.T) {
				t.Parallel()
				with := len(fusedSum.FindAll(fusedWhole(t, format, compiler), -1))
				text := assembly(t, bare.write(t), compiler)
				without := len(fusedSum.FindAll(text, -1))
				if with != 0 || without == 0 {
					t.Errorf("%d fused instructions with the guard, %d without it", with, without)
				}
				if !canFuse() {
					t.Log("this processor has no fused multiply-add: judged by the instructions only")
					return
				}
				bin := filepath.Join(t.TempDir(), "bare")
				assemble(t, bin, compiler, text)
				if n := bare.same(t, bin, false); n > 0 {
					t.Errorf("%d of %d headers without their guard still equal the simulation", n, len(bare.trials))
				}
			})
		}
	}
}

// unguarded is the program of the first shape without the guard: one shows what a guard is for.
func unguarded(t *testing.T, format number.Format) program {
	bare := programOf(t, format, shapes[:1])
	headers := bare.headers
	bare.headers = map[string][]byte{}
	for name, data := range headers {
		bare.headers[name] = guard.ReplaceAll(data, nil)
	}
	return bare
}

// assembly is what a compiler makes of the program in dir where it may fuse.
func assembly(t *testing.T, dir, compiler string) []byte {
	t.Helper()
	if out, err := compile(t, dir, compiler, append(fused[:len(fused):len(fused)], "-S", "-o", "main.s")...); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	text, err := os.ReadFile(filepath.Join(dir, "main.s"))
	if err != nil {
		t.Fatal(err)
	}
	return text
}

// fusedWholes are the assembly of summing programs by format and compiler, made once: one
// test looks at the instructions, another at what they compute.
var fusedWholes sync.Map

func fusedWhole(t *testing.T, format number.Format, compiler string) []byte {
	t.Helper()
	made, _ := fusedWholes.LoadOrStore(format.Name+" "+compiler, &madeOnce{})
	once := made.(*madeOnce)
	once.Do(func() { once.text = assembly(t, summing(t, format).write(t), compiler) })
	if once.text == nil {
		t.Fatalf("%s by %s did not compile", format.Name, compiler)
	}
	return once.text
}

type madeOnce struct {
	sync.Once
	text []byte
}

// assemble makes a program of assembly.
func assemble(t *testing.T, bin, compiler string, text []byte) {
	t.Helper()
	if err := os.WriteFile(bin+".s", text, 0o644); err != nil {
		t.Fatal(err)
	}
	if out, err := exec.Command(compiler, "-o", bin, bin+".s").CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
}

// A file that only includes a header compiles too, and so does the code by
// itself: nothing is unused, nothing else is needed. What must not compile says why.
func TestHeadersAlone(t *testing.T) {
	var p program
	p.headers = map[string][]byte{}
	for _, s := range shapes {
		for _, f := range emit(t, s.build()) {
			p.headers[f.Name] = f.Data
		}
	}
	for name := range p.headers {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			q := program{headers: p.headers, source: "#include \"" + name + "\"\nint main(void) { return 0; }\n"}
			if strings.HasSuffix(name, ".h") {
				q.source = "#include \"" + name + "\"\n" + q.source // twice is no more than once
			}
			dir := q.write(t)
			for _, compiler := range []string{"gcc", "clang"} {
				if out, err := compile(t, dir, compiler, append(strictC[:len(strictC):len(strictC)], "-fsyntax-only")...); err != nil {
					t.Errorf("%s: %v\n%s", compiler, err, out)
				}
			}
		})
	}
	q := program{headers: p.headers, source: "#include \"heron_float32.h\"\n#include \"heron_float64.h\"\nint main(void) { return 0; }\n"}
	both := q.write(t)
	q.source = "#include \"heron_float32.c\"\nint main(void) { return 0; }\n"
	alone := q.write(t)
	for _, compiler := range []string{"gcc", "clang", "g++", "clang++"} {
		var lang []string
		if strings.HasSuffix(compiler, "++") {
			lang = []string{"-x", "c++"}
		}
		if out, err := compile(t, both, compiler, append(lang, "-fsyntax-only")...); err == nil || !strings.Contains(out, "heron: include the header of one number format only") {
			t.Errorf("%s, both formats in one file: %v\n%s", compiler, err, out)
		}
		if out, err := compile(t, alone, compiler, append(lang, "-fsyntax-only", "-ffast-math")...); err == nil || !strings.Contains(out, "heron: compile without -ffast-math") {
			t.Errorf("%s -ffast-math: %v\n%s", compiler, err, out)
		}
		if out, err := compile(t, alone, compiler, append(lang, "-fsyntax-only")...); err != nil {
			t.Errorf("%s: %v\n%s", compiler, err, out)
		}
	}
}
