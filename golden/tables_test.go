package golden

import (
	"os"
	"regexp"
	"strings"
	"testing"

	"bandwright/biquad/discretize"
	"bandwright/biquad/number"
	"bandwright/compiler/circuit"
	"bandwright/compiler/promise"
	"bandwright/compiler/prototype"
	"bandwright/targets"
)

// row is one entry of a closed table.
type row struct {
	table, name, doc string
	// used finds the row in a spec; nil for what specs do not name.
	used *regexp.Regexp
}

// rows are the entries of every closed table.
func rows() []row {
	var out []row
	word := func(pattern, name string) *regexp.Regexp {
		return regexp.MustCompile(strings.Replace(pattern, "NAME", regexp.QuoteMeta(name), 1))
	}
	for _, k := range prototype.Kinds {
		out = append(out, row{"kind", k.Name, k.Doc, word(`(?m)^\s*- ["{]?NAME["]?:`, k.Name)})
	}
	for _, f := range prototype.Families {
		out = append(out, row{"family", f.Name, f.Doc, word(`family: *NAME\b`, f.Name)})
	}
	for _, m := range discretize.Methods() {
		out = append(out, row{"method", m.Name, m.Doc, word(`method: *NAME\b`, m.Name)})
	}
	for _, f := range number.Formats {
		out = append(out, row{"format", f.Name, f.Doc, word(`formats: *\[[^]]*\bNAME\b`, f.Name)})
	}
	for _, t := range circuit.Topologies {
		out = append(out, row{"topology", t.Name, t.Doc, nil})
	}
	for _, k := range promise.Keys() {
		out = append(out, row{"promise", k.Name, k.Doc, nil})
	}
	for _, p := range promise.All {
		if !p.InSpec() {
			out = append(out, row{"promise", p.Name, p.Doc, nil})
		}
	}
	for _, g := range targets.All {
		out = append(out, row{"target", g.Name, g.Doc, nil})
	}
	return out
}

// Every row of every table has its sentence, stands in the documentation, and
// is exercised by a good spec of the tree.
func TestTablesAreComplete(t *testing.T) {
	var docs, specs strings.Builder
	for _, name := range []string{"../README.md", "../DEVELOPERS.md"} {
		data, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		docs.Write(data)
	}
	for _, s := range sources(t) {
		if strings.HasSuffix(s.path, ".yaml") && !strings.HasPrefix(s.path, "specs/bad/") {
			specs.WriteString(s.text)
		}
	}
	for _, r := range rows() {
		if strings.TrimSpace(r.doc) == "" {
			t.Errorf("%s %s has no sentence of documentation", r.table, r.name)
		}
		if !strings.Contains(docs.String(), "`"+r.name+"`") {
			t.Errorf("%s %s is neither in README.md nor in DEVELOPERS.md (written `%s`)", r.table, r.name, r.name)
		}
		if r.used != nil && !r.used.MatchString(specs.String()) {
			t.Errorf("%s %s occurs in no spec of the tree", r.table, r.name)
		}
	}
}

// Names are what users write: each stands once in its table.
func TestTableNamesAreUnique(t *testing.T) {
	seen := map[string]bool{}
	for _, r := range rows() {
		key := r.table + " " + r.name
		if seen[key] {
			t.Errorf("two rows: %s", key)
		}
		seen[key] = true
	}
	index := 0
	for i, g := range targets.All {
		if (g.Emit == nil) == (g.Index == nil) {
			t.Errorf("target %s must have either Emit or Index", g.Name)
		}
		if g.Index != nil {
			index++
			if i != len(targets.All)-1 {
				t.Errorf("target %s lists the others and must be last", g.Name)
			}
		}
	}
	if index != 1 {
		t.Errorf("%d targets make an index, want one", index)
	}
}
