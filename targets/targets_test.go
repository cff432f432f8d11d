package targets

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"slices"
	"strings"
	"testing"

	"bandwright/compiler"
	"bandwright/compiler/result"
)

const small = `bandwright: 1
name: wren
ways:
  low:
    filters:
      - low-pass: {q: 0.7, order: 2, at: 200 Hz}
digital: {rates: [48 kHz], formats: [float32, float64], method: bilinear}
`

func build(t *testing.T) *compiler.Build {
	t.Helper()
	return buildOf(t, small)
}

func buildOf(t *testing.T, src string) *compiler.Build {
	t.Helper()
	b, faults, err := compiler.Compile(context.Background(), "wren.yaml", []byte(src), nil)
	if err != nil || b == nil {
		t.Fatalf("%v %v", err, faults)
	}
	return b
}

// Of each choice of groups, the files are those of its targets in the table's
// order, and the last one is the index, which lists them with their SHA-256.
func TestEmit(t *testing.T) {
	b := build(t)
	asked := [][]string{nil, Groups()}
	for _, g := range Groups() {
		asked = append(asked, []string{g}, []string{g, "json"})
	}
	for _, groups := range asked {
		files, err := Emit(b, groups)
		if err != nil {
			t.Fatal(err)
		}
		last := len(files) - 1
		if want := madeBy(t, b, groups); !slices.EqualFunc(files[:last], want, sameFile) || files[last].Name != "wren.json" {
			t.Errorf("%v: %d files and the index %s, want %d files and wren.json", groups, last, files[last].Name, len(want))
		}
		index, err := result.Read(files[last].Data)
		if err != nil {
			t.Fatal(err)
		}
		if len(index.Files) != last {
			t.Errorf("%v: the index lists %v", groups, index.Files)
		}
		for _, f := range files[:last] {
			if sum := sha256.Sum256(f.Data); index.Files[f.Name] != hex.EncodeToString(sum[:]) {
				t.Errorf("%v: wrong sum of %s", groups, f.Name)
			}
		}
	}
}

// madeBy are the files that the targets of some groups, or of all, make by
// themselves; the index is none of them.
func madeBy(t *testing.T, b *compiler.Build, groups []string) []compiler.File {
	t.Helper()
	var out []compiler.File
	for _, row := range All {
		if row.Index != nil || groups != nil && !slices.Contains(groups, row.Group) {
			continue
		}
		files, err := row.Emit(b)
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, files...)
	}
	return out
}

// A group is told to lack something where its targets make no file, and nowhere else.
func TestLacking(t *testing.T) {
	_, filters, _ := strings.Cut(small, "bandwright: 1\n")
	filters, _, _ = strings.Cut(filters, "digital:")
	for _, block := range []string{
		"digital: {rates: [48 kHz], formats: [float32], method: bilinear}",
		"digital: {rates: [48 kHz], method: bilinear, layouts: [{name: other, word: 28 bit, fraction: 23 bit, data: 28 bit, accumulator: 56 bit, as: hex}]}",
		"board: {}",
	} {
		b := buildOf(t, "bandwright: 1\n"+filters+block+"\n")
		for _, g := range Groups() {
			if g == "json" { // the index, which there always is
				continue
			}
			lacking, made := Lacking(b, []string{"json", g}), len(madeBy(t, b, []string{g}))
			if (len(lacking) == 1) != (made == 0) || len(lacking) == 1 && !strings.HasPrefix(lacking[0], g+": the spec has no `") {
				t.Errorf("%s: %d files of %s, lacking %v", block, made, g, lacking)
			}
		}
	}
}

func sameFile(a, b compiler.File) bool { return a.Name == b.Name && bytes.Equal(a.Data, b.Data) }

// Emitting changes nothing: a second time gives the same bytes.
func TestEmitTwice(t *testing.T) {
	b := build(t)
	first, err := Emit(b, nil)
	if err != nil {
		t.Fatal(err)
	}
	again, err := Emit(b, nil)
	if err != nil {
		t.Fatal(err)
	}
	if !slices.EqualFunc(first, again, sameFile) {
		t.Error("the second time gives other files")
	}
}

// Every target is in one group, and the groups stand in the table's order.
func TestGroups(t *testing.T) {
	groups := Groups()
	if sorted := slices.Compact(slices.Sorted(slices.Values(groups))); len(sorted) != len(groups) {
		t.Errorf("a group twice: %v", groups)
	}
	at := 0
	for _, row := range All {
		i := slices.Index(groups, row.Group)
		if i < 0 || i > at {
			t.Fatalf("target %s: its group %q is not where the table has it: %v", row.Name, row.Group, groups)
		}
		at = max(at, i+1)
	}
	if at != len(groups) {
		t.Errorf("%v holds more than the table", groups)
	}
}
