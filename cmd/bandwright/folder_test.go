package main

import (
	"context"
	"os"
	"os/exec"
	"os/user"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"syscall"
	"testing"

	"bandwright/compiler"
	"bandwright/compiler/language"
	"bandwright/targets/json"
)

// compiled is a folder with a spec and its output in out.
func compiled(t *testing.T, formats string) string {
	t.Helper()
	dir := place(t, "wren.yaml", small("wren", loose, formats))
	expect(t, "first compile", bandwright(t, dir, "compile", "wren.yaml", "-o", "out"), exitKept)
	return dir
}

func TestOldOutputStaysWholeAfterABadSpec(t *testing.T) {
	dir := compiled(t, "float32")
	put(t, filepath.Join(dir, "wren.yaml"), small("wren", "3", "float32"))
	before := tree(t, dir)
	expect(t, "bad spec", bandwright(t, dir, "compile", "wren.yaml", "-o", "out"), exitRefused)
	same(t, "bad spec", dir, before)
}

// What is no longer made goes, what somebody changed stays, and so does
// everything that no compile wrote.
func TestStaleFiles(t *testing.T) {
	dir := compiled(t, "float32, float64")
	put(t, filepath.Join(dir, "out/notes.txt"), "mine")
	put(t, filepath.Join(dir, "out/package.json"), `{"name": "package", "version": "1"}`)
	put(t, filepath.Join(dir, "wren.yaml"), small("wren", loose, "float32"))
	r := bandwright(t, dir, "compile", "wren.yaml", "-o", "out")
	expect(t, "one format less", r, exitKept)
	want := []string{"notes.txt", "package.json", "report.html", "report.txt", "wren.json", "wren_float32.c", "wren_float32.h", "wren_float32_selftest.c"}
	if got := names(tree(t, filepath.Join(dir, "out"))); !slices.Equal(got, want) {
		t.Errorf("got %v, want %v", got, want)
	}

	put(t, filepath.Join(dir, "out/wren_float32.h"), "changed by hand")
	put(t, filepath.Join(dir, "wren.yaml"), small("wren", loose, "float64"))
	r = bandwright(t, dir, "compile", "wren.yaml", "-o", "out")
	expect(t, "another format", r, exitKept, "wren_float32.h is no longer made")
	if got := tree(t, filepath.Join(dir, "out")); got["wren_float32.h"] != "changed by hand" || got["wren_float64.h"] == "" {
		t.Errorf("got %v", names(got))
	}
}

func TestOnly(t *testing.T) {
	dir := compiled(t, "float32")
	out := filepath.Join(dir, "out")
	expect(t, "only report", bandwright(t, dir, "compile", "wren.yaml", "-o", "out", "--only", "report"), exitKept)
	if got, want := names(tree(t, out)), []string{"report.html", "report.txt", "wren.json"}; !slices.Equal(got, want) {
		t.Errorf("got %v, want %v", got, want)
	}
	r := bandwright(t, dir, "compile", "wren.yaml", "-o", "none", "--only", "board,layout,report")
	expect(t, "only what there is none of", r, exitKept, "nothing was made for --only board: the spec has no `board`\n", "nothing was made for --only layout: the spec has no `digital.layouts`\n")
	if strings.Contains(r.out, "--only report") {
		t.Errorf("got %s", r.out)
	}
	expect(t, "only two", bandwright(t, dir, "compile", "wren.yaml", "-o", "out", "--only", "cheader,json"), exitKept)
	if got, want := names(tree(t, out)), []string{"wren.json", "wren_float32.c", "wren_float32.h", "wren_float32_selftest.c"}; !slices.Equal(got, want) {
		t.Errorf("got %v, want %v", got, want)
	}
}

// Into a folder in use: -o . beside the user's own files.
func TestHereBesideOtherFiles(t *testing.T) {
	dir := place(t, "wren.yaml", small("wren", loose, "float32"), "main.c", "int x;", ".git/config", "x", "sub/report.txt", "theirs")
	before := tree(t, dir)
	expect(t, "-o .", bandwright(t, dir, "compile", "wren.yaml", "-o", "."), exitKept)
	after := tree(t, dir)
	for name, text := range before {
		if after[name] != text {
			t.Errorf("%s changed", name)
		}
	}
	if got := len(after) - len(before); got != len(artefacts) {
		t.Errorf("%d new files: %v", got, names(after))
	}
	expect(t, "again", bandwright(t, dir, "compile", "wren.yaml", "-o", "."), exitKept)
	same(t, "again", dir, after)
}

// A file that no compile wrote is never replaced, whatever it is.
func TestInTheWay(t *testing.T) {
	for _, c := range []struct {
		what string
		make func(out string) error
	}{
		{"a user's report.txt", func(out string) error { return os.WriteFile(filepath.Join(out, "report.txt"), []byte("mine"), 0o644) }},
		{"a user's wren.json", func(out string) error {
			return os.WriteFile(filepath.Join(out, "wren.json"), []byte(`{"a": 1}`), 0o644)
		}},
		{"a folder", func(out string) error { return os.Mkdir(filepath.Join(out, "wren_float32.h"), 0o755) }},
		{"a link", func(out string) error { return os.Symlink("../wren.yaml", filepath.Join(out, "wren_float32.h")) }},
		{"a dangling link", func(out string) error { return os.Symlink("nowhere", filepath.Join(out, "report.txt")) }},
	} {
		dir := place(t, "wren.yaml", small("wren", loose, "float32"))
		out := filepath.Join(dir, "out")
		if err := os.Mkdir(out, 0o755); err != nil {
			t.Fatal(err)
		}
		if err := c.make(out); err != nil {
			t.Fatal(err)
		}
		before := tree(t, dir)
		r := bandwright(t, dir, "compile", "wren.yaml", "-o", "out")
		expect(t, c.what, r, exitFailed, "exists and was not written by an earlier compile")
		if r.out != "" {
			t.Errorf("%s: stdout %q", c.what, r.out)
		}
		same(t, c.what, dir, before)
	}
}

// One folder holds the output of one spec.
func TestAnotherSpecsFolder(t *testing.T) {
	dir := compiled(t, "float32")
	put(t, filepath.Join(dir, "robin.yaml"), small("robin", loose, "float32"))
	before := tree(t, dir)
	expect(t, "another spec", bandwright(t, dir, "compile", "robin.yaml", "-o", "out"), exitFailed, "another spec, wren", "wren.json")
	same(t, "another spec", dir, before)
}

// A list of files from a hostile or damaged index removes nothing outside the
// folder, nothing through a link and nothing that was not written.
func TestHostileIndex(t *testing.T) {
	dir := compiled(t, "float32")
	out := filepath.Join(dir, "out")
	const sum = "2d711642b726b04401627ca9fbac32f5c8530fb1903cc4db02258717921a4881" // of "x"
	put(t, filepath.Join(dir, "precious"), "x")
	put(t, filepath.Join(dir, "elsewhere/precious"), "x")
	put(t, filepath.Join(out, "folder/kept"), "x")
	put(t, filepath.Join(out, "listed"), "x")
	for _, link := range [][2]string{{"../precious", "link"}, {"../elsewhere", "way"}} {
		if err := os.Symlink(link[0], filepath.Join(out, link[1])); err != nil {
			t.Fatal(err)
		}
	}
	index := tree(t, out)["wren.json"]
	hostile := `"files": {"../precious": "SUM", "/etc/hostname": "SUM", "link": "SUM", "way/precious": "SUM", "folder": "SUM", ` +
		`"": "SUM", ".": "SUM", "..": "SUM", "folder/../listed": "SUM", "never": "SUM", "listed": "SUM",`
	put(t, filepath.Join(out, "wren.json"), strings.Replace(index, `"files": {`, strings.ReplaceAll(hostile, "SUM", sum), 1))
	before := tree(t, dir)
	expect(t, "hostile index", bandwright(t, dir, "compile", "wren.yaml", "-o", "out"), exitKept)
	if _, still := before["out/listed"]; !still {
		t.Fatal("nothing to remove")
	}
	delete(before, "out/listed")
	before["out/wren.json"] = index
	same(t, "hostile index", dir, before)
}

func TestOutputPathIsAFile(t *testing.T) {
	dir := place(t, "wren.yaml", small("wren", loose, "float32"), "file", "mine")
	if err := os.Symlink("nowhere", filepath.Join(dir, "link")); err != nil {
		t.Fatal(err)
	}
	before := tree(t, dir)
	for _, out := range []string{"file", "file/below", "wren.yaml", "link", strings.Repeat("long", 100)} {
		r := bandwright(t, dir, "compile", "wren.yaml", "-o", out)
		code := exitFailed
		if out == "file" || out == "wren.yaml" { // a slip in the command line
			code = exitRefused
		}
		expect(t, out, r, code, out)
		if r.out != "" || strings.Count(r.err, "\n") != 1 {
			t.Errorf("%s: stdout %q, stderr %q", out, r.out, r.err)
		}
	}
	same(t, "output path is a file", dir, before)
}

// unprivileged makes a command run as a user whom file modes bind.
func unprivileged(t *testing.T, cmd *exec.Cmd) {
	t.Helper()
	if os.Getuid() != 0 {
		return
	}
	u, err := user.Lookup("nobody")
	if err != nil {
		t.Fatal(err)
	}
	uid, errU := strconv.ParseUint(u.Uid, 10, 32)
	gid, errG := strconv.ParseUint(u.Gid, 10, 32)
	if errU != nil || errG != nil {
		t.Fatal(errU, errG)
	}
	cmd.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: uint32(uid), Gid: uint32(gid), NoSetGroups: true}}
}

func TestWithoutPermission(t *testing.T) {
	dir := compiled(t, "float32")
	secret := filepath.Join(dir, "secret.yaml")
	put(t, secret, small("wren", loose, "float32"))
	out := filepath.Join(dir, "out")
	for path, mode := range map[string]os.FileMode{secret: 0, out: 0o555, dir: 0o555} {
		if err := os.Chmod(path, mode); err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { os.Chmod(path, 0o755) })
	}
	asRoot := func() map[string]string { // what there is, whoever may read it
		if os.Getuid() != 0 {
			os.Chmod(secret, 0o400)
			defer os.Chmod(secret, 0)
		}
		return tree(t, dir)
	}
	before := asRoot()
	for _, args := range [][]string{
		{"compile", "wren.yaml", "-o", "out"},   // existing output, read-only
		{"compile", "wren.yaml", "-o", "fresh"}, // to be made in a read-only folder
		{"compile", "wren.yaml", "-o", "."},
		{"compile", "secret.yaml", "-o", "out"},
		{"check", "secret.yaml"},
	} {
		cmd := exec.Command(binary, args...)
		cmd.Dir = dir
		unprivileged(t, cmd)
		r := finish(t, cmd)
		expect(t, strings.Join(args, " "), r, exitFailed, "permission denied")
		if r.out != "" || strings.Count(r.err, "\n") != 1 {
			t.Errorf("%v: stdout %q, stderr %q", args, r.out, r.err)
		}
	}
	for path, text := range asRoot() {
		if before[path] != text {
			t.Errorf("%s changed", path)
		}
	}
}

// A failure in the middle of the renames gives back what was there.
func TestUndoInTheMiddle(t *testing.T) {
	dir := place(t)
	first := []compiler.File{{Name: "a", Data: []byte("old a")}, {Name: "gone", Data: []byte("old")}, index("a", "old a", "gone", "old")}
	s, err := write(context.Background(), dir, "wren", first)
	if err != nil {
		t.Fatal(err)
	}
	s.done()
	before := tree(t, dir)
	// "a" cannot be a file and a folder: the third rename fails.
	second := []compiler.File{{Name: "a", Data: []byte("new a")}, {Name: "b/c", Data: []byte("new")}, {Name: "a/b", Data: []byte("x")}, index()}
	if _, err := write(context.Background(), dir, "wren", second); err == nil {
		t.Fatal("written")
	}
	same(t, "undo", dir, before)

	cancelled, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := write(cancelled, dir, "wren", first); err == nil {
		t.Fatal("written although cancelled")
	}
	same(t, "cancelled", dir, before)

	// The caller may still go back after everything is in place.
	third := []compiler.File{{Name: "a", Data: []byte("new a")}, {Name: "d/e/f", Data: []byte("new")}, index()}
	s, err = write(context.Background(), dir, "wren", third)
	if err != nil {
		t.Fatal(err)
	}
	if got := tree(t, dir); got["a"] != "new a" || got["d/e/f"] != "new" || got["gone"] != "" {
		t.Errorf("not in place: %v", got)
	}
	s.undo()
	same(t, "undone", dir, before)
}

// index is a minimal wren.json that lists files given as name, text ….
func index(files ...string) compiler.File {
	b := &compiler.Build{Wanted: compiler.Wanted{Spec: &language.Spec{Name: "wren"}}, SHA256: "00"}
	var made []compiler.File
	for i := 0; i < len(files); i += 2 {
		made = append(made, compiler.File{Name: files[i], Data: []byte(files[i+1])})
	}
	f, err := json.Emit(b, made)
	if err != nil {
		panic(err)
	}
	return f
}
