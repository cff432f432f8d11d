package golden

import (
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
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

// trials that must be there, one a table that is promised to take them. Those of one line are
// built into one program, as what each adds shows by its own name; where one of them changes
// what ships and another must not, they are apart.
var trialNames = [][]string{
	{"filter_kind", "number_format", "promise"},
	{"target"},
}

func TestTrials(t *testing.T) {
	count := 0
	for _, names := range trialNames {
		var together []trial
		for _, name := range names {
			together = append(together, readTrial(t, filepath.Join("testdata", "trials", name)))
			count++
		}
		e := &extended{}
		e.build = sync.OnceFunc(func() { e.make(t, together) })
		for i, name := range names {
			t.Run(name, func(t *testing.T) {
				t.Parallel()
				e.build()
				together[i].run(t, e)
			})
		}
	}
	entries, err := os.ReadDir(filepath.Join("testdata", "trials"))
	if err != nil {
		t.Fatal(err)
	}
	if len(entries) != count {
		t.Errorf("%d folders of trials, %d in the list of this test", len(entries), count)
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

// extended is the program with extensions in.
type extended struct {
	build      func()   // makes it, the first time
	env, shell []string // of go commands that see the extensions, and with the program on the path
	bin        string   // the folder of that program and of the packages' tests
	tests      sync.Map // package → func() error, which builds its tests, once for all steps
	err        error
}

// make builds the program with the extensions of trials in.
func (e *extended) make(t *testing.T, trials []trial) {
	// Nobody looks at these programs in a debugger, and what one needs takes long to link.
	flags := strings.TrimSpace(os.Getenv("GOFLAGS") + " -ldflags=-w -overlay=" + overlay(t, t.TempDir(), trials))
	e.env = append(os.Environ(), "GOFLAGS="+flags)
	e.bin = t.TempDir()
	e.shell = append(os.Environ(), "PATH="+e.bin+string(os.PathListSeparator)+os.Getenv("PATH"))
	said, err := in("..", e.env, "go", "build", "-o", filepath.Join(e.bin, "bandwright"), "./cmd/bandwright")
	if err != nil {
		e.err = fmt.Errorf("the extended program does not build: %w\n%s", err, said)
	}
}

// test runs tests of a package, those that a pattern names or all, as go test does: what it would link
// anew for every step is linked once, and what ran is named. Vet is run elsewhere, and cannot enter a folder that only the overlay has.
func (e *extended) test(pkg, run string) (string, error) {
	binary := filepath.Join(e.bin, strings.ReplaceAll(pkg, "/", "_")+".test")
	build, _ := e.tests.LoadOrStore(pkg, sync.OnceValue(func() error {
		if said, err := in("..", e.env, "go", "test", "-vet=off", "-c", "-o", binary, pkg); err != nil {
			return fmt.Errorf("the tests of %s do not build: %w\n%s", pkg, err, said)
		}
		return nil
	}))
	if err := build.(func() error)(); err != nil {
		return "", err
	}
	return in(filepath.Join("..", pkg), e.env, binary, "-test.v", "-test.timeout=10m", "-test.run="+run)
}

// run takes the steps of a trial that the program has.
func (x trial) run(t *testing.T, e *extended) {
	if e.err != nil {
		t.Fatal(e.err)
	}
	dir := t.TempDir()
	if err := os.CopyFS(dir, os.DirFS(x.folder)); err != nil {
		t.Fatal(err)
	}
	var said string
	var err error
	for _, s := range x.steps {
		if s.verb == "$" {
			said, err = in(dir, e.shell, "sh", "-c", s.rest)
		} else {
			pkg, pattern, _ := strings.Cut(s.rest, " ")
			said, err = e.test(pkg, pattern)
		}
		s.judge(t, said, err)
	}
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
	if code != want || strings.Contains(said, "no tests to run") {
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

// overlay writes what the go command takes for the tree: the new files in their
// places, and the tables with their new rows, and is the path of that list.
func overlay(t *testing.T, dir string, trials []trial) string {
	t.Helper()
	replaced := map[string]string{}
	for _, x := range trials {
		place, table := absolute(t, filepath.Join("..", x.file)), absolute(t, filepath.Join("..", x.table))
		if _, err := os.Stat(place); err == nil {
			t.Fatalf("%s is there already", x.file)
		}
		if replaced[place] != "" || replaced[table] != "" {
			t.Fatalf("%s or %s is another trial's as well", x.file, x.table)
		}
		text := behind(t, read(t, table), x.behind, x.line)
		if x.imported != "" {
			text = behind(t, text, "import (", strconv.Quote(x.imported))
		}
		replaced[place] = filepath.Join(x.folder, filepath.Base(x.file))
		replaced[table] = filepath.Join(dir, filepath.Base(x.folder)+".go")
		write(t, replaced[table], []byte(text))
	}
	data, err := json.Marshal(map[string]map[string]string{"Replace": replaced})
	if err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(dir, "overlay.json")
	write(t, path, data)
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
