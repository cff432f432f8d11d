package main

import (
	"os"
	"path/filepath"
	"regexp"
	"runtime/debug"
	"strings"
	"testing"
)

// An accepted result that no spec answers for is a regression; a call with some
// of the specs misses none of the others while they are there.
func TestUnanswered(t *testing.T) {
	dir := place(t, "specs/wren.yaml", small("wren", loose, "float32"))
	put(t, filepath.Join(dir, "specs/finch.yaml"), small("finch", loose, "float32"))
	put(t, filepath.Join(dir, "more/siskin.yaml"), small("siskin", loose, "float32"))
	all := []string{"specs/wren.yaml", "specs/finch.yaml", "more/siskin.yaml"}
	check := func(more ...string) ran {
		return bandwright(t, dir, append([]string{"check", "--against", "accepted"}, more...)...)
	}
	quiet := func(what string, specs ...string) {
		t.Helper()
		if r := check(specs...); r.code != exitKept || strings.Contains(r.out, "REGRESSION") {
			t.Errorf("%s: %+v", what, r)
		}
	}
	rename := func(from, to string) {
		t.Helper()
		if err := os.Rename(filepath.Join(dir, from), filepath.Join(dir, to)); err != nil {
			t.Fatal(err)
		}
	}
	expect(t, "accept", check(append(all, "--accept")...), exitKept, "accepted: wrote accepted/finch.accepted.json")
	quiet("all", all...)
	quiet("one of them", "specs/wren.yaml")
	quiet("one of another folder", "more/siskin.yaml")

	rename("specs/finch.yaml", "specs/bird.yaml")
	quiet("another file name", "specs/wren.yaml", "specs/bird.yaml", "more/siskin.yaml")
	quiet("another file name, left out", "specs/wren.yaml")

	rename("specs/bird.yaml", "bird.yaml")
	r := check("specs/wren.yaml", "more/siskin.yaml")
	expect(t, "gone", r, exitBroken, "finch: REGRESSION", "! specs/finch.yaml is gone, and no spec answers for what was accepted",
		"2 specs: 2 kept, 0 broken, 1 regression")
	for _, format := range []string{"json", "github", "junit"} {
		expect(t, format, check("specs/wren.yaml", "--format", format), exitBroken, "specs/finch.yaml is gone")
	}
	quiet("gone from a folder that nothing is given of", "more/siskin.yaml")
	expect(t, "gone, and accepted", check("specs/wren.yaml", "--accept"), exitBroken, "specs/finch.yaml is gone")

	put(t, filepath.Join(dir, "specs/finch.yaml"), small("linnet", loose, "float32"))
	expect(t, "renamed, left out", check("specs/wren.yaml"), exitKept)
	expect(t, "renamed", check("specs/wren.yaml", "specs/finch.yaml", "--accept"), exitBroken, "the name in specs/finch.yaml is linnet now")
	if err := os.Remove(filepath.Join(dir, "accepted/finch.accepted.json")); err != nil {
		t.Fatal(err)
	}
	quiet("as told", "specs/wren.yaml", "specs/finch.yaml")

	// The folder of accepted results may be a copy of an older one.
	if err := os.CopyFS(filepath.Join(dir, "elsewhere/old/accepted"), os.DirFS(filepath.Join(dir, "accepted"))); err != nil {
		t.Fatal(err)
	}
	copied := func(specs ...string) ran {
		return bandwright(t, dir, append([]string{"check", "--against", "elsewhere/old/accepted"}, specs...)...)
	}
	expect(t, "a copy", copied("specs/wren.yaml", "specs/finch.yaml", "more/siskin.yaml"), exitKept)
	rename("specs/finch.yaml", "finch.yaml")
	expect(t, "a copy, and one gone", copied("specs/wren.yaml", "more/siskin.yaml"), exitBroken, "linnet: REGRESSION")
}

// What stops a build stands first, and many specs end with one line.
func TestOrderOfVerdicts(t *testing.T) {
	dir, spec := acceptedWren(t)
	put(t, filepath.Join(dir, "bad.yaml"), "bandwright: 1\n")
	put(t, filepath.Join(dir, "wren.yaml"), strings.Replace(spec, "at: 200 Hz", "at: 210 Hz", 1))
	r := bandwright(t, dir, "check", "wren.yaml", "--against", "accepted")
	if !strings.HasPrefix(r.out, "wren: REGRESSION: ") || !strings.Contains(r.out, "\n! low: ") || strings.Contains(r.out, " specs: ") {
		t.Errorf("%s", r.out)
	}
	r = bandwright(t, dir, "check", "bad.yaml", "wren.yaml", "--against", "accepted")
	if !strings.HasSuffix(r.out, "\n\n2 specs: 1 kept, 0 broken, 1 regression, 1 not judged\n") {
		t.Errorf("%s", r.out)
	}
}

// An accepted result of the version before is refused with what to run.
func TestEarlierVersion(t *testing.T) {
	dir, _ := acceptedWren(t)
	path := filepath.Join(dir, "accepted/wren.accepted.json")
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	put(t, path, strings.Replace(string(data), `"accepted": 2`, `"accepted": 1`, 1))
	expect(t, "version 1", bandwright(t, dir, "check", "wren.yaml", "--against", "accepted"), exitRefused,
		"an accepted result of version 1", "`bandwright check SPEC --against DIR --accept`")
	expect(t, "accepted anew", bandwright(t, dir, "check", "wren.yaml", "--against", "accepted", "--accept"), exitKept, "accepted: wrote")
}

// An accepted result says which program made it, and a comparison that another one did; one
// of before, which does not say it, is compared all the same. Neither is a change to accept.
func TestWhatMadeAnAcceptedResult(t *testing.T) {
	dir, _ := acceptedWren(t)
	path := filepath.Join(dir, "accepted/wren.accepted.json")
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	line := regexp.MustCompile(`(?m)^ "made_by": "(.+)",\n`)
	made := line.FindStringSubmatch(string(data))
	if made == nil {
		t.Fatalf("no program made\n%s", data[:400])
	}
	check := func(args ...string) ran {
		return bandwright(t, dir, append([]string{"check", "wren.yaml", "--against", "accepted"}, args...)...)
	}
	if r := check(); strings.Contains(r.out, "versions") {
		t.Errorf("%s", r.out)
	}
	put(t, path, strings.Replace(string(data), made[1], "v0.1.0", 1))
	says := "made by two versions of Bandwright: v0.1.0 before, " + made[1] + " now"
	expect(t, "another program", check(), exitKept, "wren: no change", says)
	expect(t, "accepted again", check("--accept"), exitKept, "wren: no change", says, "is unchanged")
	expect(t, "as JSON", check("--format", "json"), exitKept, `"made_by": "made by two versions`)
	put(t, path, line.ReplaceAllString(string(data), ""))
	if r := check(); r.code != exitKept || !strings.Contains(r.out, "wren: no change\n") || strings.Contains(r.out, "versions") {
		t.Errorf("%d %s", r.code, r.out)
	}
}

// The version is that of the module, or the revision of a working tree.
func TestProgramOf(t *testing.T) {
	revision := debug.BuildSetting{Key: "vcs.revision", Value: "0123456789abcdef0123"}
	for _, x := range []struct {
		info *debug.BuildInfo
		want string
	}{
		{nil, ""},
		{&debug.BuildInfo{Main: debug.Module{Version: "v1.2.3"}, Settings: []debug.BuildSetting{revision}}, "v1.2.3"},
		{&debug.BuildInfo{Main: debug.Module{Version: "(devel)"}}, "development build"},
		{&debug.BuildInfo{Settings: []debug.BuildSetting{{Key: "GOARCH", Value: "amd64"}, revision}}, "development build 0123456789ab"},
	} {
		if got := programOf(x.info); got != x.want {
			t.Errorf("%+v: %q, want %q", x.info, got, x.want)
		}
	}
}
