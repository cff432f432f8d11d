package cheader

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"bandwright/compiler"
)

// cppcheck looks through the code as a user would, beside its header and without
// the standard ones, in so many configurations at most, and says what it finds. That it skips one it
// says as information, which counts as well.
func cppcheck(t *testing.T, header compiler.File, name string, data []byte, configurations string) (found string) {
	t.Helper()
	path, err := exec.LookPath("cppcheck")
	if err != nil {
		t.Fatal("no cppcheck: install the Debian package cppcheck")
	}
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, header.Name), header.Data, 0o644); err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(dir, name)
	if err := os.WriteFile(file, data, 0o644); err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command(path, "--quiet", "--std=c99", "--inconclusive", "--error-exitcode=3",
		"--enable=warning,style,performance,portability,information", "--suppress=missingIncludeSystem", "--max-configs="+configurations, file).CombinedOutput()
	if err != nil && len(out) == 0 {
		t.Fatal(err)
	}
	return string(out)
}

// faults are reads beyond an array, planted behind a line at the beginning of
// the code and one at its end.
var faults = []struct{ behind, plant string }{
	{"    int done = 0;", "if ({STEM}_rate_table[{UPPER}_RATES + 1].rate_hz == 0u) { return 1; }"},
	{"    f.wide = 0;", "f.from[0] = f.to[{UPPER}_WAYS][0];"},
}

// cppcheck has nothing to say of any code, with every warning it has, and it
// really looks: a read beyond an array that is planted into a copy is found. All shapes are
// looked through in one format, the first in all, where the faults are planted.
func TestCppcheckFindsNothingButWhatIsPlanted(t *testing.T) {
	for _, s := range shapes {
		files := emit(t, s.build())
		for i, f := range computed() { // q23 stands last
			first := s.name == shapes[0].name
			if !first && f.Name != "float32" {
				continue
			}
			header, code := files[2*i], files[2*i+1]
			t.Run(code.Name, func(t *testing.T) {
				t.Parallel()
				if found := cppcheck(t, header, code.Name, code.Data, "16"); found != "" {
					t.Errorf("cppcheck says:\n%s", found)
				}
				if !first {
					return
				}
				named := strings.NewReplacer("{STEM}", s.name, "{UPPER}", strings.ToUpper(s.name), "{TYPE}", f.C.Type.Name)
				bad := code.Data
				for _, fault := range faults {
					behind := named.Replace(fault.behind)
					if n := bytes.Count(bad, []byte(behind)); n == 0 {
						t.Fatalf("%q stands nowhere", behind)
					}
					bad = bytes.Replace(bad, []byte(behind), []byte(behind+"\n"+named.Replace(fault.plant)), 1)
				}
				found := cppcheck(t, header, code.Name, bad, "1")
				for _, fault := range faults {
					plant := named.Replace(fault.plant)
					before, _, _ := bytes.Cut(bad, []byte(plant))
					line := fmt.Sprintf(`(?m)^\S*:%d:\d+: .*\[arrayIndexOutOfBounds\]$`, 1+bytes.Count(before, []byte("\n")))
					if !regexp.MustCompile(line).MatchString(found) {
						t.Errorf("%q is not found:\n%s", plant, found)
					}
				}
			})
		}
	}
}

// The deviations from MISRA C that the code lists are those that the checker's add-on
// finds in what firmware and hosts make of it, but for what the add-on does not look for. It looks at what is
// named here, and not at each of the macros that occur by itself, with most of which nothing is compiled.
func TestDeviationsAreListed(t *testing.T) {
	for _, k := range []struct {
		shape        string
		defined      [][]string
		plain, lanes bool // whether each rule of the list, and of that of lanes, is deviated from
	}{
		{"heron", [][]string{
			{"-D__GNUC__=12", "-D__arm__", "-D__ARM_FP=4"},                // a core with assembly of its own
			{"-DHERON_LANES", "-DHERON_ONLY_48000", "-DHERON_NO_SINGLES"}, // any other compiler, and what is left out by halves
		}, true, false},
		{"heron", [][]string{{"-D__GNUC__=12", "-D__SSE2__"}}, false, true}, // a host
		{"wire", [][]string{{"-DWIRE_ONLY_48000"}}, false, false},           // one of everything
	} {
		t.Run(k.shape, func(t *testing.T) {
			t.Parallel()
			i := slices.IndexFunc(shapes, func(s shape) bool { return s.name == k.shape })
			code, found := misra(t, emit(t, shapes[i].build()), k.shape+"_float32.c", k.defined)
			_, text, _ := strings.Cut(code, "MISRA C:2012")
			text, _, _ = strings.Cut(text, "*/")
			plain, ofLanes, _ := strings.Cut(text, "and in lanes")
			listed := map[string]bool{}
			for _, rule := range ruleNumber.FindAllString(plain, -1) {
				listed[rule] = true
				if !found[rule] && rule != "18.4" && k.plain { // which not every version looks for
					t.Errorf("rule %s is listed, and nothing deviates from it", rule)
				}
			}
			if k.lanes {
				for _, rule := range ruleNumber.FindAllString(ofLanes, -1) {
					listed[rule] = true
					if !found[rule] {
						t.Errorf("rule %s is listed for lanes, and nothing deviates from it", rule)
					}
				}
			}
			for rule := range found {
				if !listed[rule] {
					t.Errorf("rule %s is not listed", rule)
				}
			}
			if len(found) < 5 {
				t.Errorf("the checker found %d rules: it does not look", len(found))
			}
		})
	}
}

var ruleNumber = regexp.MustCompile(`\b\d+\.\d+\b`)

// misra is the text of a file among files, and the rules that it deviates from with any of the definitions.
func misra(t *testing.T, files []compiler.File, name string, definitions [][]string) (text string, found map[string]bool) {
	dir := t.TempDir()
	for _, f := range files {
		if f.Name == name {
			text = string(f.Data)
		}
		if err := os.WriteFile(filepath.Join(dir, f.Name), f.Data, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	found = map[string]bool{}
	for _, defined := range definitions {
		args := append([]string{"--quiet", "--std=c99", "--enable=style", "--addon=misra", "--suppress=missingIncludeSystem"}, defined...)
		out, err := exec.Command("cppcheck", append(args, filepath.Join(dir, name))...).CombinedOutput()
		if err != nil {
			t.Fatalf("%v\n%s", err, out)
		}
		for _, m := range regexp.MustCompile(`\[misra-c2012-(\d+\.\d+)\]`).FindAllSubmatch(out, -1) {
			found[string(m[1])] = true
		}
	}
	return text, found
}
