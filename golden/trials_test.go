package golden

import (
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

// A trial adds to a closed table what a newcomer would add: one new file and
// one row. Everything else has to follow by itself, or a test has to name what
// is missing. testdata/trials has a folder for each trial with the new file,
// a spec that uses it, and trial.txt:
//
//	file PATH            where the new file goes; the folder has it by its last name
//	import PACKAGE       the import that Go wants for a row from a new package
//	row PATH             the file of the table;
//	| LINE               the line of it behind which the row goes,
//	+ LINE               and the row
//	pass PACKAGE [RUN]   go test has to pass, with -run RUN
//	names PACKAGE [RUN]  go test has to fail and
//	> TEXT               to say this, and so on
//	$ COMMAND            a shell runs this beside the trial's files, with the
//	exit CODE            extended program on its path, which ends so (0 if not told)
//	> TEXT               and says this
//
// The tree stays as it is: the go command sees the two files by an overlay.
type trial struct {
	folder       string
	file, table  string
	behind, line string
	imported     string // a package; "" for a row from the table's own
	steps        []step
}

// step is one thing that a trial does, and what has to come of it.
type step struct {
	verb string // pass, names or $
	rest string
	code int
	says []string
}

// trials that must be there, one a table that is promised to take them.
var trialNames = []string{"filter_kind", "number_format", "promise", "target"}

func TestTrials(t *testing.T) {
	for _, name := range trialNames {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			x := readTrial(t, filepath.Join("testdata", "trials", name))
			x.run(t)
		})
	}
	entries, err := os.ReadDir(filepath.Join("testdata", "trials"))
	if err != nil {
		t.Fatal(err)
	}
	if len(entries) != len(trialNames) {
		t.Errorf("%d folders of trials, %d in the list of this test", len(entries), len(trialNames))
	}
}

// readTrial reads trial.txt of a folder.
func readTrial(t *testing.T, folder string) trial {
	t.Helper()
	x := trial{folder: absolute(t, folder)}
	for i, line := range strings.Split(read(t, filepath.Join(folder, "trial.txt")), "\n") {
		verb, rest, _ := strings.Cut(line, " ")
		last := len(x.steps) - 1
		set := func(field *string) {
			if *field != "" || rest == "" {
				t.Fatalf("%s/trial.txt:%d: `%s` stands once, and has a text", folder, i+1, verb)
			}
			*field = rest
		}
		switch {
		case verb == "" || strings.HasPrefix(verb, "#"):
		case verb == "file":
			set(&x.file)
		case verb == "import":
			set(&x.imported)
		case verb == "row":
			set(&x.table)
		case verb == "|":
			set(&x.behind)
		case verb == "+":
			set(&x.line)
		case verb == "pass", verb == "names", verb == "$":
			x.steps = append(x.steps, step{verb: verb, rest: rest})
		case verb == ">" && last >= 0:
			x.steps[last].says = append(x.steps[last].says, rest)
		case verb == "exit" && last >= 0:
			code, err := strconv.Atoi(rest)
			if err != nil {
				t.Fatal(err)
			}
			x.steps[last].code = code
		default:
			t.Fatalf("%s/trial.txt:%d: %q means nothing here", folder, i+1, line)
		}
	}
	if x.file == "" || x.table == "" || x.behind == "" || x.line == "" || len(x.steps) == 0 {
		t.Fatalf("%s/trial.txt lacks a file, a row or steps", folder)
	}
	return x
}

// run builds the program with the extension in and takes the steps.
func (x trial) run(t *testing.T) {
	dir := t.TempDir()
	if err := os.CopyFS(dir, os.DirFS(x.folder)); err != nil {
		t.Fatal(err)
	}
	flags := strings.TrimSpace(os.Getenv("GOFLAGS") + " -overlay=" + x.overlay(t, t.TempDir()))
	env := append(os.Environ(), "GOFLAGS="+flags)
	bin := t.TempDir()
	said, err := in("..", env, "go", "build", "-o", filepath.Join(bin, "bandwright"), "./cmd/bandwright")
	if err != nil {
		t.Fatalf("the extended program does not build: %v\n%s", err, said)
	}
	shell := append(os.Environ(), "PATH="+bin+string(os.PathListSeparator)+os.Getenv("PATH"))
	for _, s := range x.steps {
		if s.verb == "$" {
			said, err = in(dir, shell, "sh", "-c", s.rest)
		} else {
			said, err = in("..", env, "go", append([]string{"test"}, s.test()...)...)
		}
		s.judge(t, said, err)
	}
}

// test are the arguments of go test. Vet is run elsewhere, and cannot enter a
// folder that only the overlay has.
func (s step) test() []string {
	pkg, run, found := strings.Cut(s.rest, " ")
	if found {
		return []string{"-vet=off", pkg, "-run", run}
	}
	return []string{"-vet=off", pkg}
}

// judge compares what came of a step with what had to come of it.
func (s step) judge(t *testing.T, said string, err error) {
	t.Helper()
	code := 0
	if err != nil {
		exit, ok := err.(*exec.ExitError)
		if !ok {
			t.Fatalf("%s %s: %v", s.verb, s.rest, err)
		}
		code = exit.ExitCode()
	}
	want := s.code
	if s.verb == "names" {
		want = 1
	}
	if code != want || strings.Contains(said, "[build failed]") || strings.Contains(said, "no tests to run") {
		t.Errorf("%s %s: exit code %d, want %d\n%s", s.verb, s.rest, code, want, said)
	}
	for _, text := range s.says {
		if !strings.Contains(said, text) {
			t.Errorf("%s %s does not say %q:\n%s", s.verb, s.rest, text, said)
		}
	}
	if s.verb == "names" && len(s.says) == 0 {
		t.Errorf("names %s: no text that has to be named", s.rest)
	}
}

// overlay writes what the go command takes for the tree: the new file in its
// place, and the table with its new row, and is the path of that list.
func (x trial) overlay(t *testing.T, dir string) string {
	t.Helper()
	place := absolute(t, filepath.Join("..", x.file))
	if _, err := os.Stat(place); err == nil {
		t.Fatalf("%s is there already", x.file)
	}
	table := behind(t, read(t, filepath.Join("..", x.table)), x.behind, x.line)
	if x.imported != "" {
		table = behind(t, table, "import (", strconv.Quote(x.imported))
	}
	extended := filepath.Join(dir, "table.go")
	if err := os.WriteFile(extended, []byte(table), 0o666); err != nil {
		t.Fatal(err)
	}
	data, err := json.Marshal(map[string]map[string]string{"Replace": {
		place: filepath.Join(x.folder, filepath.Base(x.file)),
		absolute(t, filepath.Join("..", x.table)): extended,
	}})
	if err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(dir, "overlay.json")
	if err := os.WriteFile(path, data, 0o666); err != nil {
		t.Fatal(err)
	}
	return path
}

// behind is a text with a line more, behind the one line that is like anchor
// but for its margin, which the new one gets as well.
func behind(t *testing.T, text, anchor, line string) string {
	t.Helper()
	var out strings.Builder
	found := 0
	for l := range strings.Lines(text) {
		out.WriteString(l)
		if trimmed := strings.TrimSpace(l); trimmed == anchor {
			out.WriteString(strings.Replace(l, trimmed, line, 1))
			found++
		}
	}
	if found != 1 {
		t.Fatalf("the table has %d lines %q, want one", found, anchor)
	}
	return out.String()
}

// in runs a command in a folder; what it says on both ways out, and its error.
func in(dir string, env []string, name string, args ...string) (string, error) {
	cmd := exec.Command(name, args...)
	cmd.Dir, cmd.Env = dir, env
	said, err := cmd.CombinedOutput()
	return string(said), err
}

func absolute(t *testing.T, path string) string {
	t.Helper()
	out, err := filepath.Abs(path)
	if err != nil {
		t.Fatal(err)
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
