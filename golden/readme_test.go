package golden

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
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
