package golden

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"bandwright/compiler/promise"
)

// excerpt marks a fenced block of README.md as taken from a file of this tree:
//
//	<!-- from golden/heron/report.txt -->
var excerpt = regexp.MustCompile("(?s)<!-- from ([^ ]+) -->\n+```[a-z]*\n(.*?)```")

// Every excerpt in README.md stands in its file: the same lines in the same
// order, a line of "…" for what is left out. So the README cannot go stale.
func TestReadmeExcerptsAreTrue(t *testing.T) {
	text, err := os.ReadFile("../README.md")
	if err != nil {
		t.Fatal(err)
	}
	found := excerpt.FindAllStringSubmatch(string(text), -1)
	if len(found) < 4 {
		t.Fatalf("README.md has %d excerpts; it should show a spec, a header, JSON and a report", len(found))
	}
	for _, m := range found {
		src, err := os.ReadFile(filepath.Join("..", m[1]))
		if err != nil {
			t.Error(err)
			continue
		}
		if line := firstMissing(strings.Split(string(src), "\n"), strings.Split(m[2], "\n")); line != "" {
			t.Errorf("README.md shows a line that %s does not have there:\n%s", m[1], line)
		}
	}
}

// README.md's table of promises has every promise of the compiler, in the spec
// language or not, with the default that it has today, and no other.
func TestReadmePromises(t *testing.T) {
	text, err := os.ReadFile("../README.md")
	if err != nil {
		t.Fatal(err)
	}
	_, table, found := strings.Cut(string(text), "| promise | default | holds where |\n|---|---|---|\n")
	if !found {
		t.Fatal("README.md has no table of promises")
	}
	table, _, _ = strings.Cut(table, "\n\n")
	said := map[string]string{}
	for _, l := range strings.Split(table, "\n") {
		cells := strings.Split(strings.Trim(l, "| "), " | ")
		if len(cells) != 3 || len(cells[2]) < 20 {
			t.Fatalf("a row without a name, a default and a sentence: %s", l)
		}
		said[strings.Trim(cells[0], "`")] = cells[1]
	}
	for _, r := range promise.All {
		want := "always"
		if r.InSpec() {
			want = r.Key().Default
		}
		if said[r.Name] != want {
			t.Errorf("README.md says %q of the promise %s, want %q", said[r.Name], r.Name, want)
		}
		delete(said, r.Name)
	}
	for name := range said {
		t.Errorf("README.md has a promise %s that is none", name)
	}
}

// firstMissing is the first line of part that does not follow in whole: the
// next line, or any later one after "…".
func firstMissing(whole, part []string) string {
	at, skip := 0, true
	for _, p := range part {
		if strings.TrimSpace(p) == "…" {
			skip = true
			continue
		}
		if p == "" && at >= len(whole) {
			continue
		}
		if skip {
			for at < len(whole) && whole[at] != p {
				at++
			}
			skip = false
		}
		if at >= len(whole) || whole[at] != p {
			return p
		}
		at++
	}
	return ""
}
