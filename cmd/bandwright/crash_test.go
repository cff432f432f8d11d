package main

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"
)

// stages are the hidden folders that killed runs left in a folder.
func stages(t *testing.T, dir string) []string {
	t.Helper()
	found, err := filepath.Glob(filepath.Join(dir, ".bandwright-*"))
	if err != nil {
		t.Fatal(err)
	}
	return found
}

// Killed at any moment while it writes, a run leaves each file whole, old or
// new, and the user's own untouched; the next run puts everything right.
func TestKillAtAnyMoment(t *testing.T) {
	dir := compiled(t, "float32")
	out := filepath.Join(dir, "out")
	put(t, filepath.Join(out, "notes.txt"), "mine")
	old := tree(t, out)
	put(t, filepath.Join(dir, "wren.yaml"), small("wren", "4 dB", "float32, float64"))
	expect(t, "undisturbed", bandwright(t, dir, "compile", "wren.yaml", "-o", "other"), exitKept)
	fresh := tree(t, filepath.Join(dir, "other"))
	fresh["notes.txt"] = "mine"

	const moments, step = 40, 150 * time.Microsecond
	killed, mixed := 0, 0
	for i := range moments {
		cmd := begun(t, dir, out, old)
		over := make(chan error, 1)
		go func() { over <- cmd.Wait() }()
		// Some while after it begins to write, or as soon as one file is new.
		if i%2 == 0 {
			for len(over) == 0 && len(stages(t, out)) == 0 {
			}
			time.Sleep(time.Duration(i) * step)
		} else {
			for len(over) == 0 && syscall.Access(filepath.Join(out, "wren_float64.h"), 0) != nil {
			}
		}
		cmd.Process.Kill()
		if <-over != nil && len(stages(t, out)) > 0 {
			killed++
		}
		new, files := 0, tree(t, out)
		for name, text := range files {
			switch {
			case strings.HasPrefix(name, ".bandwright-"), name == ".":
			case text == fresh[name]:
				new++
			case text != old[name]:
				t.Errorf("moment %d: %s is neither the old one nor the new one", i, name)
			}
		}
		for name := range old {
			if _, ok := files[name]; !ok {
				t.Errorf("moment %d: %s is gone", i, name)
			}
		}
		if new > 1 && files["wren.json"] != fresh["wren.json"] { // notes.txt is always the same
			mixed++
		}
		expect(t, fmt.Sprintf("after moment %d", i), bandwright(t, dir, "compile", "wren.yaml", "-o", "out"), exitKept)
		same(t, fmt.Sprintf("after moment %d", i), out, fresh)
	}
	t.Logf("%d of %d runs killed while they wrote, %d between the first file and the index", killed, moments, mixed)
	if killed < 3 {
		t.Error("hardly a run was killed while it wrote: the test did not test")
	}
}

// What looks like the rest of a killed run but is not, or is in use, stays.
func TestSweepLeavesWhatIsNotItsOwn(t *testing.T) {
	const (
		left   = "out/.bandwright-0123456789ab/"
		inUse  = "out/.bandwright-00000000000a/"
		theirs = "out/.bandwright-00000000000b/"
		deep   = "out/.bandwright-00000000000c/"
		other  = "out/.bandwright-mine/"
	)
	dir := place(t, "wren.yaml", small("wren", loose, "float32"),
		left+"new0", "x", left+"old12", "x", inUse+"new0", "x", theirs+"new0", "x", theirs+"notes", "mine",
		deep+"new0/x", "mine", other+"new0", "mine", "elsewhere/new0", "mine")
	if err := os.Symlink("../elsewhere", filepath.Join(dir, "out/.bandwright-00000000000d")); err != nil {
		t.Fatal(err)
	}
	f, err := os.Open(filepath.Join(dir, inUse))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if !lock(f) {
		t.Fatal("no lock")
	}
	before := tree(t, dir)
	expect(t, "compile", bandwright(t, dir, "compile", "wren.yaml", "-o", "out"), exitKept)
	after := tree(t, dir)
	for name, text := range before {
		swept := strings.HasPrefix(name+"/", left)
		if got, there := after[name]; there == swept || there && got != text {
			t.Errorf("%s: there %v, %q", name, there, got)
		}
	}
	f.Close()
	expect(t, "no longer in use", bandwright(t, dir, "compile", "wren.yaml", "-o", "out"), exitKept)
	if _, err := os.Stat(filepath.Join(dir, inUse)); !os.IsNotExist(err) {
		t.Errorf("still there: %v", err)
	}
	if text := tree(t, dir)["elsewhere/new0"]; text != "mine" {
		t.Error("removed through a link")
	}
}

// onSmallDisk runs a compile into a folder that is a disk of its own with the
// given size, which holds the files of before, and returns what is on it then.
// The disk exists for that one process only: nothing is left mounted.
func onSmallDisk(t *testing.T, dir, before string, kb int) (ran, map[string]string) {
	t.Helper()
	after, err := os.MkdirTemp(dir, "after")
	if err != nil {
		t.Fatal(err)
	}
	const script = `set -e
mount -t tmpfs -o size="$1"k tmpfs disk
cp -r "$2/." disk/
code=0
"$3" compile wren.yaml -o disk || code=$?
cp -r disk/. "$4/"
exit "$code"`
	cmd := exec.Command("sh", "-c", script, "sh", fmt.Sprint(kb), before, binary, after)
	cmd.Dir = dir
	cmd.SysProcAttr = &syscall.SysProcAttr{Unshareflags: syscall.CLONE_NEWNS} // private, unlike by Cloneflags
	if os.Getuid() != 0 {
		cmd.SysProcAttr = &syscall.SysProcAttr{
			Cloneflags:  syscall.CLONE_NEWUSER | syscall.CLONE_NEWNS,
			UidMappings: []syscall.SysProcIDMap{{HostID: os.Getuid(), Size: 1}},
			GidMappings: []syscall.SysProcIDMap{{HostID: os.Getgid(), Size: 1}},
		}
	}
	r := finish(t, cmd)
	return r, tree(t, after)
}

// On a disk that is too small for the new files beside the old ones, the old
// ones stay, whole, and nothing else.
func TestFullDisk(t *testing.T) {
	dir := compiled(t, "float32")
	put(t, filepath.Join(dir, "out/notes.txt"), "mine")
	put(t, filepath.Join(dir, "wren.yaml"), small("wren", "4 dB", "float32, float64"))
	for _, folder := range []string{"disk", "empty"} {
		if err := os.Mkdir(filepath.Join(dir, folder), 0o755); err != nil {
			t.Fatal(err)
		}
	}
	expect(t, "room enough", bandwright(t, dir, "compile", "wren.yaml", "-o", "other"), exitKept)
	fresh := tree(t, filepath.Join(dir, "other"))
	for _, before := range []string{"out", "empty"} {
		old := tree(t, filepath.Join(dir, before))
		full, most := 0, 0
		for _, text := range old {
			most += (len(text) + 4095) / 4096 * 4
		}
		for kb := most + 4; ; kb += 8 {
			r, got := onSmallDisk(t, dir, before, kb)
			if r.code == exitKept {
				delete(got, "notes.txt")
				for name, text := range fresh {
					if got[name] != text {
						t.Errorf("%s, %d KB: %s is not the new one", before, kb, name)
					}
				}
				if len(got) != len(fresh) {
					t.Errorf("%s, %d KB: %v", before, kb, names(got))
				}
				break
			}
			full++
			expect(t, fmt.Sprintf("%s, %d KB", before, kb), r, exitFailed, "no space left on device", "nothing was written")
			if strings.Count(r.err, "\n") != 1 || r.out != "" {
				t.Errorf("%s, %d KB: stdout %q, stderr %q", before, kb, r.out, r.err)
			}
			for name, text := range old {
				if got[name] != text {
					t.Errorf("%s, %d KB: %s changed", before, kb, name)
				}
			}
			if len(got) != len(old) {
				t.Errorf("%s, %d KB: %v appeared beside %v", before, kb, names(got), names(old))
			}
			if kb > most+1024 {
				t.Fatal("a megabyte is not enough")
			}
		}
		t.Logf("%s: refused on %d sizes of disk, the first with %d KB free", before, full, 4)
		if full < 3 {
			t.Errorf("%s: only %d disks were too small", before, full)
		}
	}
}

// A link to a folder is that folder; a link in the place of an artefact is
// somebody's own and stays.
func TestLinks(t *testing.T) {
	dir := place(t, "real/wren.yaml", small("wren", loose, "float32"), "precious", "mine", "store/x", "")
	for _, l := range [][2]string{{"real/wren.yaml", "spec.yaml"}, {"store", "out"}} {
		if err := os.Symlink(l[0], filepath.Join(dir, l[1])); err != nil {
			t.Fatal(err)
		}
	}
	expect(t, "through links", bandwright(t, dir, "compile", "spec.yaml", "-o", "out"), exitKept)
	got := tree(t, filepath.Join(dir, "store"))
	if info, err := os.Lstat(filepath.Join(dir, "out")); err != nil || info.Mode()&os.ModeSymlink == 0 || got["wren_float32.h"] == "" {
		t.Errorf("the link is no longer one, or the files are not behind it: %v", names(got))
	}
	header := filepath.Join(dir, "store/wren_float32.h")
	if err := os.Remove(header); err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink("../precious", header); err != nil {
		t.Fatal(err)
	}
	before := tree(t, dir)
	expect(t, "a link in its place", bandwright(t, dir, "compile", "spec.yaml", "-o", "out"), exitFailed, "wren_float32.h exists and was not written by an earlier compile")
	same(t, "a link in its place", dir, before)
}
