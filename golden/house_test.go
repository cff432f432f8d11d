package golden

import (
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// source is one text file of the tree.
type source struct {
	path string // slash-separated, from the top
	text string
}

// sources reads every text file of the tree but the generated ones and what
// git does not keep.
func sources(t *testing.T) []source {
	t.Helper()
	var out []source
	err := filepath.WalkDir("..", func(path string, e fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		name := filepath.ToSlash(strings.TrimPrefix(path, ".."+string(filepath.Separator)))
		if e.IsDir() {
			if name == ".git" || name == "build" || strings.HasSuffix(name, "__pycache__") || strings.Contains(name, "/testdata/fuzz") {
				return fs.SkipDir
			}
			return nil
		}
		if !e.Type().IsRegular() || name == ".git" { // a worktree's .git is a file
			return nil
		}
		data, err := os.ReadFile(path)
		out = append(out, source{name, string(data)})
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

func (s source) isGo() bool   { return strings.HasSuffix(s.path, ".go") }
func (s source) isTest() bool { return strings.HasSuffix(s.path, "_test.go") }

// rule is a pattern that must not stand in some files. Patterns that would
// find themselves are written in two pieces.
type rule struct {
	pattern *regexp.Regexp
	in      func(source) bool
	reason  string
}

var rules = []rule{
	{
		regexp.MustCompile(`\b(math\.(Exp|Pow|Sinh|Cosh|Tanh)|cmplx\.(Exp|Pow|Sinh|Cosh|Tanh))\(`),
		func(s source) bool { return s.isGo() && !s.isTest() },
		"its result depends on the processor: on amd64 it fuses products and sums where it can",
	},
	{
		regexp.MustCompile(`\b(math\.FMA|unsafe\.|rand\.(Int|Float|Perm|Shuffle|Norm)[A-Za-z0-9]*)\(`),
		func(s source) bool { return s.isGo() && !s.isTest() },
		"results must be the same on every run and every machine",
	},
	{
		regexp.MustCompile(`\b[tbf]\.` + `Skip(Now|f)?\(`),
		func(s source) bool { return s.isGo() },
		"a test that does not run proves nothing: a missing tool must fail",
	},
	{
		regexp.MustCompile(`/(wo` + `rk|ro` + `ot|ho` + `me|fa` + `rm)/`),
		func(source) bool { return true },
		"a path of one machine",
	},
	{
		regexp.MustCompile(`\b(TO` + `DO|FIX` + `ME|XX` + `X|HA` + `CK)\b`),
		func(source) bool { return true },
		"do it, or leave it out",
	},
	{
		regexp.MustCompile(`(?m)^package \w*(util|helper|misc|common)\w*$`),
		source.isGo,
		"a package is named by what it holds",
	},
}

func TestHouseRules(t *testing.T) {
	for _, s := range sources(t) {
		for _, r := range rules {
			if !r.in(s) {
				continue
			}
			if at := r.pattern.FindStringIndex(s.text); at != nil {
				t.Errorf("%s:%d: `%s`: %s", s.path, 1+strings.Count(s.text[:at[0]], "\n"), s.text[at[0]:at[1]], r.reason)
			}
		}
	}
}

// Each rule must find what it is for.
func TestHouseRulesBite(t *testing.T) {
	for i, bad := range []string{
		"y := math.E" + "xp(x)", "rand.I" + "ntN(3)", "t.S" + "kip(x)", "/ro" + "ot/x", "// TO" + "DO: later", "package my" + "utils",
	} {
		if !rules[i].pattern.MatchString(bad) {
			t.Errorf("rule %d lets %q pass", i, bad)
		}
	}
}

// Every published value is there because a test reads it.
func TestPublishedFilesAreUsed(t *testing.T) {
	entries, err := os.ReadDir("published")
	if err != nil {
		t.Fatal(err)
	}
	if len(entries) == 0 {
		t.Error("no published files")
	}
	all := sources(t)
	for _, e := range entries {
		used := false
		for _, s := range all {
			used = used || (s.isTest() || strings.HasSuffix(s.path, ".py")) && strings.Contains(s.text, e.Name())
		}
		if !used {
			t.Errorf("no test reads published/%s", e.Name())
		}
	}
}
