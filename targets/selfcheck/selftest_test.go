package selfcheck

import (
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"bandwright/biquad"
	"bandwright/biquad/number"
	"bandwright/compiler"
	"bandwright/targets/cheader"
)

// golden are the accepted artefacts of the specs that ship.
var golden = filepath.Join("..", "..", "golden")

// firmware is what a program gets of one spec in one number format.
type firmware struct {
	stem, format           string
	header, code, selftest string
}

// shipped are those of the specs that ship, as they are accepted.
func shipped(t *testing.T) []firmware {
	t.Helper()
	found, err := filepath.Glob(filepath.Join(golden, "*", "*_selftest.c"))
	if err != nil || len(found) < 8 {
		t.Fatalf("%d self-tests in %s: %v", len(found), golden, err)
	}
	var out []firmware
	for _, path := range found {
		base := strings.TrimSuffix(path, "_selftest.c")
		f := firmware{stem: filepath.Base(filepath.Dir(path)), header: read(t, base+".h"), code: read(t, base+".c"), selftest: read(t, path)}
		f.format = strings.TrimPrefix(filepath.Base(base), f.stem+"_")
		out = append(out, f)
	}
	return out
}

func read(t *testing.T, path string) string {
	t.Helper()
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return string(data)
}

func put(t *testing.T, dir, name, text string) {
	t.Helper()
	if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
}

// write puts the three files into a folder.
func (f firmware) write(t *testing.T, dir string) {
	t.Helper()
	put(t, dir, f.name()+".h", f.header)
	put(t, dir, f.name()+".c", f.code)
	put(t, dir, f.name()+"_selftest.c", f.selftest)
}

func (f firmware) name() string  { return f.stem + "_" + f.format }
func (f firmware) upper() string { return strings.ToUpper(f.stem) }

// row is the format's.
func (f firmware) row(t *testing.T) number.Format {
	t.Helper()
	for _, row := range number.Formats {
		if row.Name == f.format {
			return row
		}
	}
	t.Fatalf("no format %s", f.format)
	return number.Format{}
}

// smew is the smallest spec that has everything, built; also with another text in it.
func smew(t *testing.T, change ...string) *compiler.Build {
	t.Helper()
	return compiled(t, strings.NewReplacer(change...).Replace(read(t, filepath.Join("testdata", "smew.yaml"))))
}

func compiled(t *testing.T, text string) *compiler.Build {
	t.Helper()
	b, faults, err := compiler.Compile(context.Background(), "smew.yaml", []byte(text), nil)
	if err != nil || b == nil {
		t.Fatalf("%v %v", err, faults)
	}
	return b
}

// made is what a program gets of a build, in every format.
func made(t *testing.T, b *compiler.Build) []firmware {
	t.Helper()
	files := map[string]string{}
	for _, emit := range []func(*compiler.Build) ([]compiler.File, error){cheader.Emit, Emit} {
		of, err := emit(b)
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range of {
			files[f.Name] = string(f.Data)
		}
	}
	var out []firmware
	for _, row := range number.Formats {
		f := firmware{stem: b.Spec.Name, format: row.Name}
		f.header, f.code, f.selftest = files[f.name()+".h"], files[f.name()+".c"], files[f.name()+"_selftest.c"]
		if f.selftest != "" {
			out = append(out, f)
		}
	}
	return out
}

// built runs a compiler in a folder, and says what it said.
func built(t *testing.T, dir, compiler string, args ...string) (string, error) {
	t.Helper()
	path, err := exec.LookPath(compiler)
	if err != nil {
		t.Fatalf("no %s: .ci/tools installs it", compiler)
	}
	run := exec.Command(path, args...)
	run.Dir = dir
	out, err := run.CombinedOutput()
	return string(out), err
}

// says is what a self-test that was built says.
func says(t *testing.T, command ...string) int {
	t.Helper()
	run := exec.Command(command[0], command[1:]...)
	out, err := run.CombinedOutput()
	if run.ProcessState == nil || len(out) > 0 {
		t.Fatalf("%v: %v\n%s", command, err, out)
	}
	return run.ProcessState.ExitCode()
}

// writable makes the tables of the code so.
var writable = regexp.MustCompile(`(?m)^static const ((?:STEM_\w+_entry|TYPE|unsigned char|uint\d+_t) STEM_\w+\[)`)

// formNames are what code calls the forms of its lists by number.
var formNames = []string{1: "direct", 2: "delta without b1 and b2", 3: "delta", 4: "error-feedback", 5: "delta, fine", 6: "delta, wide", 7: "delta, deep"}

// lengths is C's expression for how many words a row of a form has, as the comment above the tables says it.
func (f firmware) lengths(t *testing.T) string {
	t.Helper()
	m := regexp.MustCompile(`(?s)/\* ((?:\w+, )*\w+) of every section(.*?)Above each:`).FindStringSubmatch(f.code)
	if m == nil {
		t.Fatal("nothing says what a row is")
	}
	out, told := fmt.Sprint(strings.Count(m[1], ",")+1), strings.Join(strings.Fields(strings.ReplaceAll(m[2], "\n *", " ")), " ")
	for form, name := range formNames {
		if n := regexp.MustCompile(", " + name + `: the first (\d+)`).FindStringSubmatch(told); name != "" && n != nil {
			out = fmt.Sprintf("(form) == %d ? %s : %s", form, n[1], out)
		}
	}
	return out
}

// mutants is a program that judges mutants of one rate's tables.
func (f firmware) mutants(t *testing.T, rate string) string {
	t.Helper()
	dir := t.TempDir()
	within := "(double)" + f.stem + "_selftest.within[k % " + f.upper() + "_WAYS]"
	if f.row(t).C.Size.Name == "" {
		within = fmt.Sprintf("(1.0 / %.1f)", f.row(t).C.FullScale) // anything at all
	}
	switches := f.stem + "_switches_" + rate
	if once := f.stem + "_switch_table"; strings.Contains(f.code, once) {
		switches = once
	}
	stem := strings.NewReplacer("CHOICES", switches, "STEM", f.stem, "UPPER", f.upper(), "TYPE", f.row(t).C.Type.Name, "FULL", fmt.Sprintf("%.1f", f.row(t).C.FullScale), "RATE", rate, "WITHIN", within)
	f.code = regexp.MustCompile(stem.Replace(writable.String())).ReplaceAllString(f.code, "static $1")
	hash := stem.Replace("static void STEM_selftest_hash(int how, int size)\n{")
	if strings.Count(f.selftest, hash) != 1 {
		t.Fatalf("%q stands not once in the self-test", hash)
	}
	f.selftest = strings.Replace(f.selftest, hash, stem.Replace("static void STEM_seen(int how, int size);\n")+hash+stem.Replace("\n    STEM_seen(how, size);"), 1)
	f.selftest = strings.Replace(f.selftest, "static const "+f.stem+"_selftest_rate ", "static "+f.stem+"_selftest_rate ", 1)
	f.write(t, dir)
	put(t, dir, "main.c", "#define LENGTH(form) ("+f.lengths(t)+")\n"+stem.Replace("#include \"STEM_"+f.format+".c\"\n#include \"STEM_"+f.format+"_selftest.c\"\n"+
		read(t, filepath.Join("testdata", "mutants.c"))))
	if out, err := built(t, dir, "gcc", "-O1", "-fwrapv", "-std=gnu99", "-Wall", "-Werror", "-o", "main", "main.c"); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	out, err := exec.Command(filepath.Join(dir, "main")).Output()
	if err != nil {
		t.Fatal(err)
	}
	return string(out)
}

// ratesOf are the sampling rates of a self-test.
func (f firmware) rates() []string {
	var out []string
	for _, m := range regexp.MustCompile(`(?m)^#define `+f.upper()+`_ONLY_(\d+)$`).FindAllStringSubmatch(f.selftest, -1) {
		out = append(out, m[1])
	}
	return out
}

// negligible is how far an output may be off, re what is within tolerance, where two sections changed
// places and only bits were found to change: they are of one cascade, whose product is the same.
const negligible = 3

// sure is whether what a mutant does has to be found wrong; elsewhere it has to be found.
func sure(kind string, off float64) bool {
	switch {
	case strings.HasSuffix(kind, "1e-3"), strings.HasSuffix(kind, "-sign"), kind == "dropped", kind == "delay", kind == "fade", kind == "settle":
		return true
	case kind == "swap", kind == "order":
		return off > negligible
	}
	return false
}

// What the self-test finds in tables that are wrong: the filters of every spec that ships,
// compiled once a rate, judge one change after the other in one process. Every coefficient,
// gain and step of a fade is off by 1 in 10^5 or 10^3, or has another sign, every two
// sections change places, every setting is dropped at one position and at all.
func TestMutantsAreFound(t *testing.T) {
	for _, f := range append(shipped(t), made(t, smew(t))...) {
		for i, rate := range f.rates() {
			if f.format == number.Reference && i > 0 {
				continue // as far as tables go like the other format
			}
			t.Run(f.name()+" at "+rate, func(t *testing.T) {
				t.Parallel()
				counts := map[string][3]int{}
				for _, line := range strings.Split(strings.TrimSpace(f.mutants(t, rate)), "\n") {
					words := strings.Fields(line)
					kind := words[0]
					result, _ := strconv.Atoi(words[2])
					off, err := strconv.ParseFloat(words[3], 64)
					if err != nil || len(words) != 4 {
						t.Fatalf("%q", line)
					}
					n := counts[kind]
					n[result]++
					counts[kind] = n
					switch {
					case kind == "none" && result == 0, kind == "unsettled": // no change is tried at this rate
					case kind == "none" || result == 0 && !strings.HasSuffix(kind, "1e-5"):
						t.Errorf("%s: result %d", line, result)
					case result != 2 && sure(kind, off):
						t.Errorf("%s: outputs are off by %g tolerances, and that is not found wrong", line, off)
					}
				}
				if n := counts["none"]; n[0] != 2 {
					t.Errorf("the tables as they are, at first and in the end: %v", n)
				}
				for _, what := range []string{"word", "gain", "step"} {
					if n := counts[what+"-1e-5"]; 100*n[0] > n[1]+n[2] {
						t.Errorf("%s by 1e-5: %d of %d are not found", what, n[0], n[0]+n[1]+n[2])
					}
				}
				if f.stem != "siskin" && counts["word-1e-3"][2] < 8 {
					t.Errorf("%v: too few mutants", counts)
				}
				t.Logf("%v", counts)
			})
		}
	}
}

// Ways that are late are waited for, as long as that does not take all of the time; where it would, the
// file says so.
func TestLateWaysAreHeard(t *testing.T) {
	b := smew(t, "delay: 0.1 ms", "delay: 20 ms", "formats: [float32, float64]", "formats: [float32]")
	for _, line := range strings.Split(strings.TrimSpace(made(t, b)[0].mutants(t, "44100")), "\n") {
		words := strings.Fields(line)
		off, err := strconv.ParseFloat(words[3], 64)
		if err != nil || words[2] != "2" && sure(words[0], off) || words[2] == "0" && words[0] != "none" && words[0] != "unsettled" {
			t.Errorf("%s", line)
		}
	}
	for _, row := range []struct {
		delay string
		told  bool
	}{{"20 ms", false}, {"1 s", true}} {
		files, err := Emit(smew(t, "delay: 0.1 ms", "delay: "+row.delay, "formats: [float32, float64]", "formats: [float32]"))
		if err != nil {
			t.Fatal(err)
		}
		if told := strings.Contains(string(files[0].Data), "longer than a run"); told != row.told {
			t.Errorf("%s: told %v", row.delay, told)
		}
	}
}

// Every choice, and every section that a choice picks, is in some run; each choice is
// tried by itself where there is time for it.
func TestEverythingIsTried(t *testing.T) {
	b := smew(t)
	p := planned(b, b.Digital[:2])
	if p.rates[0].change == 0 || p.runs != 2 {
		t.Errorf("no change of settings is tried, or other runs than expected: %+v", p)
	}
	for i, s := range b.Settings {
		for k := range s.Choices {
			alone := slices.ContainsFunc(p.combinations, func(c biquad.Combination) bool {
				others := slices.Clone(c)
				others[i] = 0
				return int(c[i]) == k && !slices.ContainsFunc(others, func(v uint8) bool { return v != 0 })
			})
			if !alone {
				t.Errorf("choice %d of %s is not tried alone: %v", k, s.Name, p.combinations)
			}
		}
	}
}

// However long fades are and however many channels there are, no test becomes longer
// than the limit, but where it is at its shortest.
func TestItEnds(t *testing.T) {
	for _, change := range [][]string{{"fade: 2 ms", "fade: 1 s"}, {"channels: 2", "channels: 33"}} {
		b := smew(t, append(change, "formats: [float32, float64]", "formats: [float32]")...)
		files, err := Emit(b)
		if err != nil {
			t.Fatal(err)
		}
		if !strings.Contains(string(files[0].Data), "settle too long") {
			t.Errorf("%v: a change of settings is tried for all that", change)
		}
		f := made(t, b)[0]
		dir := t.TempDir()
		f.write(t, dir)
		if out, err := built(t, dir, "gcc", "-O1", "-DSMEW_SELFTEST_MAIN", "-o", "main", f.name()+".c", f.name()+"_selftest.c"); err != nil {
			t.Fatalf("%v\n%s", err, out)
		}
		if got := says(t, filepath.Join(dir, "main")); got != 0 {
			t.Errorf("%v: it says %d", change, got)
		}
	}
}
