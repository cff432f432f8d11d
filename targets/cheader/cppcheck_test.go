package cheader

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// cppcheck looks through a header as a user would, by itself and without the
// standard headers, and says what it finds. That it skips a configuration it
// says as information, which counts as well.
func cppcheck(t *testing.T, name string, data []byte) (found string) {
	t.Helper()
	path, err := exec.LookPath("cppcheck")
	if err != nil {
		t.Fatal("no cppcheck: install the Debian package cppcheck")
	}
	file := filepath.Join(t.TempDir(), name)
	if err := os.WriteFile(file, data, 0o644); err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command(path, "--quiet", "--std=c99", "--inconclusive", "--error-exitcode=3",
		"--enable=warning,style,performance,portability,information", "--suppress=missingIncludeSystem", file).CombinedOutput()
	if err != nil && len(out) == 0 {
		t.Fatal(err)
	}
	return string(out)
}

// faults are reads beyond an array, planted behind a line at the beginning of
// the code and one at its end.
var faults = []struct{ behind, plant string }{
	{"const {STEM}_section_words k = *words;", "const uint32_t planted = {STEM}_rate_table[{UPPER}_RATES].rate_hz;"},
	{"    while (done < n) {", "way[0] = in[0]; common[0] = way[{UPPER}_BLOCK];"},
}

// cppcheck has nothing to say of any header, with every warning it has, and it
// really looks: a read beyond an array that is planted into a copy is found.
func TestCppcheckFindsNothingButWhatIsPlanted(t *testing.T) {
	for _, s := range shapes {
		for _, f := range emit(t, s.build()) {
			t.Run(f.Name, func(t *testing.T) {
				t.Parallel()
				if found := cppcheck(t, f.Name, f.Data); found != "" {
					t.Errorf("cppcheck says:\n%s", found)
				}
				named := strings.NewReplacer("{STEM}", s.name, "{UPPER}", strings.ToUpper(s.name))
				for _, fault := range faults {
					behind, plant := named.Replace(fault.behind), named.Replace(fault.plant)
					if n := bytes.Count(f.Data, []byte(behind)); n != 1 {
						t.Fatalf("%q stands %d times", behind, n)
					}
					bad := bytes.Replace(f.Data, []byte(behind), []byte(behind+"\n"+plant), 1)
					if found := cppcheck(t, f.Name, bad); !strings.Contains(found, "[arrayIndexOutOfBounds]") {
						t.Errorf("%q is not found:\n%s", plant, found)
					}
				}
			})
		}
	}
}
