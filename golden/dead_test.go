package golden

import (
	"encoding/json"
	"fmt"
	"os/exec"
	"strings"
	"testing"
)

// reachedByTests are the files of which the program calls nothing, or not
// everything, and which stay all the same, with the reason. Packages that only
// tests may import need none.
var reachedByTests = map[string]string{
	"compiler/language/format.go": "tests of two packages hold Parse(Format(s)) = s",
}

// Every function is reached from main. What only tests reach belongs into
// their files: here it would be kept right for nobody.
func TestNothingIsDead(t *testing.T) {
	needed := map[string]bool{}
	for _, f := range dead(t, "./...") {
		switch {
		case forTest(f.folder()):
		case reachedByTests[f.File] != "":
			needed[f.File] = true
		default:
			t.Errorf("%s is not reached by the program", f)
		}
	}
	for name := range reachedByTests {
		if !needed[name] {
			t.Errorf("%s is in the list of this test, but the program reaches all of it, or it is gone", name)
		}
	}
}

// unreached is a function that nothing reaches.
type unreached struct {
	Name, File string
	Line       int
}

func (f unreached) String() string { return fmt.Sprintf("%s:%d: %s", f.File, f.Line, f.Name) }

func (f unreached) folder() string { return f.File[:strings.LastIndex(f.File, "/")] }

// dead runs the tool that go.mod pins.
func dead(t *testing.T, args ...string) []unreached {
	t.Helper()
	cmd := exec.Command("go", append([]string{"tool", "deadcode", "-json"}, args...)...)
	cmd.Dir = ".."
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("deadcode: %v\n%s", err, out)
	}
	var packages []struct {
		Funcs []struct {
			Name     string
			Position struct {
				File string
				Line int
			}
		}
	}
	if err := json.Unmarshal(out, &packages); err != nil {
		t.Fatal(err)
	}
	var all []unreached
	for _, p := range packages {
		for _, f := range p.Funcs {
			all = append(all, unreached{f.Name, f.Position.File, f.Position.Line})
		}
	}
	return all
}
