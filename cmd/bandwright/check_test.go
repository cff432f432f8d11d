package main

import (
	"encoding/json"
	"encoding/xml"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"bandwright/compiler/compare"
	"bandwright/compiler/result"
)

// acceptedWren is a folder with a spec and its accepted result.
func acceptedWren(t *testing.T) (dir, spec string) {
	t.Helper()
	spec = small("wren", loose, "float32")
	dir = place(t, "wren.yaml", spec)
	expect(t, "accept", bandwright(t, dir, "check", "wren.yaml", "--against", "accepted", "--accept"), exitKept,
		"accepted: wrote accepted/wren.accepted.json")
	return dir, spec
}

func TestCheckAgainst(t *testing.T) {
	dir, spec := acceptedWren(t)
	check := func(more ...string) ran {
		return bandwright(t, dir, append([]string{"check", "wren.yaml", "--against", "accepted"}, more...)...)
	}
	edit := func(old, new string) {
		t.Helper()
		if !strings.Contains(spec, old) {
			t.Fatalf("no %q", old)
		}
		put(t, filepath.Join(dir, "wren.yaml"), strings.Replace(spec, old, new, 1))
	}
	before := tree(t, dir)
	expect(t, "as accepted", check(), exitKept, "wren: no change")
	expect(t, "accepted once more", check("--accept"), exitKept, "is unchanged")
	same(t, "nothing to accept", dir, before)

	edit("order: 2, at: 200 Hz", "at: 0.2 kHz, order: 2")
	before = tree(t, dir)
	expect(t, "other spelling", check(), exitKept, "wren: no change")
	same(t, "check", dir, before)

	edit("at: 200 Hz", "at: 210 Hz")
	before = tree(t, dir)
	const why = "because ways.low.filters[0].at went from 200 Hz to 210 Hz"
	expect(t, "a change", check(), exitBroken, "wren: REGRESSION", "low: +0.", why)
	same(t, "a regression", dir, before)
	expect(t, "a change accepted", check("--accept"), exitKept, why, "accepted: wrote")
	expect(t, "after that", check(), exitKept, "wren: no change")

	edit("magnitude: "+loose, "magnitude: "+tight)
	expect(t, "a broken promise", check(), exitBroken, "the promise magnitude is now broken", "promise.magnitude went from 3 dB to 0.1 dB")
	expect(t, "a broken promise is accepted, and stays one", check("--accept"), exitBroken, "accepted: wrote")
	expect(t, "as accepted, and broken", check(), exitBroken, "wren: no change")
}

// TestCompileAgainst has the report tell what changed since a result was accepted.
func TestCompileAgainst(t *testing.T) {
	dir, spec := acceptedWren(t)
	compile := func(more ...string) ran {
		return bandwright(t, dir, append([]string{"compile", "wren.yaml", "-o", "out", "--only", "report"}, more...)...)
	}
	says := func(want string) {
		t.Helper()
		data, err := os.ReadFile(filepath.Join(dir, "out", "report.html"))
		if err != nil || !strings.Contains(string(data), want) {
			t.Errorf("no %q in the report: %v", want, err)
		}
	}
	expect(t, "with nothing", compile(), exitKept, "wrote 3 files")
	says("No accepted result was given to compare with.")
	expect(t, "as accepted", compile("--against", "accepted"), exitKept, "wrote 3 files")
	says("Nothing changed since ")
	first := tree(t, dir)
	expect(t, "once more", compile("--against", "accepted"), exitKept, "wrote 3 files")
	same(t, "two runs", dir, first)
	expect(t, "built", bandwright(t, dir, "check", "wren.yaml", "--built", "out"), exitKept, "holds all files")

	put(t, filepath.Join(dir, "wren.yaml"), strings.Replace(spec, "at: 200 Hz", "at: 210 Hz", 1))
	expect(t, "a change", compile("--against", "accepted"), exitKept, "wrote 3 files")
	says("because ways.low.filters[0].at went from 200 Hz to 210 Hz")
	expect(t, "none yet", compile("--against", "elsewhere"), exitKept, "nothing was accepted yet: there is no elsewhere/wren.accepted.json")
	says("No accepted result was given to compare with.")
	before := tree(t, dir)
	put(t, filepath.Join(dir, "accepted", "wren.accepted.json"), "{")
	expect(t, "damaged", compile("--against", "accepted"), exitRefused, "wren.accepted.json")
	expect(t, "no report", bandwright(t, dir, "compile", "wren.yaml", "-o", "out", "--only", "cheader", "--against", "accepted"), exitRefused, "let --only take `report` too")
	put(t, filepath.Join(dir, "accepted", "wren.accepted.json"), before["accepted/wren.accepted.json"])
	same(t, "what is refused", dir, before)
}

func TestCheckAgainstFaults(t *testing.T) {
	dir, spec := acceptedWren(t)
	put(t, filepath.Join(dir, "finch.yaml"), small("finch", loose, "float32"))
	put(t, filepath.Join(dir, "bad.yaml"), "bandwright: 1\n")
	put(t, filepath.Join(dir, "again.yaml"), spec)
	put(t, filepath.Join(dir, "file"), "")
	before := tree(t, dir)
	check := func(args ...string) ran { return bandwright(t, dir, append([]string{"check"}, args...)...) }

	r := check("finch.yaml", "wren.yaml", "--against", "accepted")
	expect(t, "one not accepted", r, exitRefused, "nothing was accepted yet: there is no accepted/finch.accepted.json", "--accept", "wren: no change")
	expect(t, "one bad", check("bad.yaml", "wren.yaml", "--against", "accepted"), exitRefused, "wren: no change")
	expect(t, "no folder", check("wren.yaml", "--accept"), exitRefused, "--against DIR")
	expect(t, "one name twice", check("wren.yaml", "again.yaml", "--against", "accepted"), exitRefused, "wren.yaml and again.yaml are both named wren")
	expect(t, "no such format", check("wren.yaml", "--format", "html"), exitRefused, "html")
	expect(t, "not a folder", check("wren.yaml", "--against", "file", "--accept"), exitFailed, "file")
	same(t, "faults", dir, before)

	path := filepath.Join(dir, "accepted/wren.accepted.json")
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	put(t, path, "{")
	expect(t, "past reading", check("wren.yaml", "--against", "accepted"), exitRefused, "not an accepted result")
	put(t, path, strings.Replace(string(data), `"gain": 1,`, `"gain": 1.1,`, 1))
	expect(t, "a merge of two", check("wren.yaml", "--against", "accepted"), exitRefused, "they come from different results")
	expect(t, "accepted anew", check("wren.yaml", "--against", "accepted", "--accept"), exitKept, "accepted: wrote")
	if now, err := os.ReadFile(path); err != nil || string(now) != string(data) {
		t.Errorf("accepted anew, the file is not as it was: %v", err)
	}
}

func TestFormats(t *testing.T) {
	dir, spec := acceptedWren(t)
	put(t, filepath.Join(dir, "wren.yaml"), strings.Replace(spec, "at: 200 Hz", "at: 210 Hz", 1))
	put(t, filepath.Join(dir, "bad.yaml"), "bandwright: 1\nname: bad\nwas: it\n")
	both := []string{"check", "wren.yaml", "bad.yaml", "--against", "accepted", "--format"}
	const sentence = "because ways.low.filters[0].at went from 200 Hz to 210 Hz"

	r := bandwright(t, dir, append(both, "json")...)
	expect(t, "json", r, exitRefused)
	var answer struct {
		Specs []struct {
			Spec, Name, Problem string
			Exit                int
			Compared            *compare.Comparison
		}
	}
	if err := json.Unmarshal([]byte(r.out), &answer); err != nil || len(answer.Specs) != 2 {
		t.Fatalf("%v\n%s", err, r.out)
	}
	wren, bad := answer.Specs[0], answer.Specs[1]
	if wren.Name != "wren" || wren.Exit != exitBroken || !wren.Compared.Regression || !strings.Contains(wren.Compared.Changes[0].Sentence, sentence) {
		t.Errorf("%s", r.out)
	}
	if bad.Exit != exitRefused || !strings.Contains(bad.Problem, "3:1: `was` is not a key") || bad.Compared != nil {
		t.Errorf("%s", r.out)
	}

	r = bandwright(t, dir, append(both, "github")...)
	expect(t, "github", r, exitRefused, "::error file=bad.yaml,line=1::the spec lacks", "%0A`was` is not a key")
	if n := strings.Count(r.out, "\n"); n != 2 || !strings.HasPrefix(r.out, "::error file=bad.yaml") || strings.Contains(r.out, "2 errors") {
		t.Errorf("not one annotation a spec, the worst first:\n%s", r.out)
	}
	for line := range strings.Lines(r.out) {
		if !strings.HasPrefix(line, "::error file=") && !strings.HasPrefix(line, "::notice file=") && !strings.HasPrefix(line, "::warning file=") {
			t.Errorf("not a workflow command: %q", line)
		}
		if strings.Contains(line, sentence) && !strings.HasPrefix(line, "::error file=wren.yaml,line=7::wren: REGRESSION") {
			t.Errorf("the change is not told at its line: %q", line)
		}
	}
	if !strings.Contains(r.out, sentence) {
		t.Errorf("%s", r.out)
	}

	r = bandwright(t, dir, append(both, "junit")...)
	expect(t, "junit", r, exitRefused)
	var suites struct {
		Suites []struct {
			Name     string `xml:"name,attr"`
			Tests    int    `xml:"tests,attr"`
			Failures int    `xml:"failures,attr"`
			Errors   int    `xml:"errors,attr"`
			Cases    []struct {
				Name    string `xml:"name,attr"`
				Failure string `xml:"failure"`
			} `xml:"testcase"`
		} `xml:"testsuite"`
	}
	if err := xml.Unmarshal([]byte(r.out), &suites); err != nil || len(suites.Suites) != 2 {
		t.Fatalf("%v\n%s", err, r.out)
	}
	s := suites.Suites[0]
	if s.Tests != len(s.Cases) || s.Failures != 1 || s.Errors != 0 || !strings.Contains(strings.Join(strings.Fields(s.Cases[len(s.Cases)-1].Failure), " "), sentence) {
		t.Errorf("%s", r.out)
	}
	if s := suites.Suites[1]; s.Errors != 1 {
		t.Errorf("%s", r.out)
	}
}

func TestDiff(t *testing.T) {
	dir, spec := acceptedWren(t)
	put(t, filepath.Join(dir, "new.yaml"), strings.Replace(spec, "at: 200 Hz", "at: 210 Hz", 1))
	expect(t, "accept the new", bandwright(t, dir, "check", "new.yaml", "--against", "later", "--accept"), exitKept)
	put(t, filepath.Join(dir, "bad.yaml"), "bandwright: 1\n")
	before := tree(t, dir)
	const old, new = "accepted/wren.accepted.json", "later/wren.accepted.json"
	diff := func(args ...string) ran { return bandwright(t, dir, append([]string{"diff"}, args...)...) }
	first := diff("wren.yaml", "new.yaml")
	for _, pair := range [][2]string{{"wren.yaml", "new.yaml"}, {old, new}, {old, "new.yaml"}, {"wren.yaml", new}} {
		r := diff(pair[0], pair[1])
		expect(t, "diff", r, exitBroken, "low: +0.", "because ways.low.filters[0].at went from 200 Hz to 210 Hz")
		if r.out != first.out {
			t.Errorf("%v: %s\nnot\n%s", pair, r.out, first.out)
		}
	}
	expect(t, "the same", diff(old, "wren.yaml"), exitKept, "wren: no change")
	expect(t, "json", diff("wren.yaml", "new.yaml", "--format", "json"), exitBroken, `"regression": true`, `"spec": "new.yaml"`)
	expect(t, "github", diff("wren.yaml", "new.yaml", "--format", "github"), exitBroken, "::error file=new.yaml,line=7::wren: REGRESSION", "%0A! low: ")
	expect(t, "github of an accepted result", diff(old, new, "--format", "github"), exitBroken, "::error file=later/wren.accepted.json::wren: REGRESSION", "%0A! low: ")
	expect(t, "junit", diff("wren.yaml", "new.yaml", "--format", "junit"), exitBroken, `<testsuite name="new.yaml" `, ` tests="1" failures="1" errors="0" `)
	expect(t, "a bad spec", diff("wren.yaml", "bad.yaml"), exitRefused, "bad.yaml")
	expect(t, "no file", diff("wren.yaml", "none.json"), exitRefused, "none.json")
	same(t, "diff", dir, before)

	// A result whose spec somebody took out can be compared all the same.
	data, err := os.ReadFile(filepath.Join(dir, old))
	if err != nil {
		t.Fatal(err)
	}
	a, err := result.ReadAccepted(data)
	if err != nil {
		t.Fatal(err)
	}
	a.Spec = nil
	if data, err = a.Bytes(); err != nil {
		t.Fatal(err)
	}
	put(t, filepath.Join(dir, "bare.accepted.json"), string(data))
	expect(t, "without a spec", diff("bare.accepted.json", "new.yaml"), exitBroken, "low: +0.", "the cause cannot be traced without both specs")
}
