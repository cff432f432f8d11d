package compiler

import (
	"bytes"
	"io/fs"
	"maps"
	"strings"
	"testing"
	"testing/fstest"

	"bandwright/compiler/language"
)

// readSome reads one file that a spec names in its second line.
func readSome(folder fs.FS, name string) (*language.Board, map[string]string, []language.Fault) {
	b := &language.Board{Capacitors: language.Stock{File: language.Input{Name: name, Pos: language.Pos{Line: 2, Col: 7}}}}
	s := &language.Spec{File: "some/heron.yaml", Source: []byte("board:\n  stock: " + name + "\n"), Board: b}
	hashes, faults := readInputs(s, folder, Holding{})
	return b, hashes, faults
}

// The files that a spec names are read, and NAME.json can say which ones they were.
func TestInputs(t *testing.T) {
	folder := fstest.MapFS{"parts/film.csv": {Data: []byte("abc")}, "full.csv": {Data: bytes.Repeat([]byte("a"), maxInput)}}
	b, hashes, faults := readSome(folder, "parts/film.csv")
	// The digest of "abc" is FIPS 180-2, appendix B.1.
	want := map[string]string{"parts/film.csv": "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"}
	if faults != nil || string(b.Capacitors.File.Text) != "abc" || !maps.Equal(hashes, want) {
		t.Errorf("%v %q %v", faults, b.Capacitors.File.Text, hashes)
	}
	if b, _, faults := readSome(folder, "full.csv"); faults != nil || len(b.Capacitors.File.Text) != maxInput {
		t.Errorf("%d bytes: %v", len(b.Capacitors.File.Text), faults)
	}
	if _, hashes, faults := readSome(nil, ""); faults != nil || len(hashes) > 0 {
		t.Errorf("a spec without files: %v %v", faults, hashes)
	}
}

// A file that cannot be read is one fault at its name, which says what would be right.
func TestInputFaults(t *testing.T) {
	folder := fstest.MapFS{"parts/film.csv": {}, "large.csv": {Data: make([]byte, maxInput+1)}, "pipe.csv": {Mode: fs.ModeNamedPipe}}
	for _, c := range []struct {
		folder         fs.FS
		name, contains string
	}{
		{folder, "film.csv", "there is no file `film.csv` beside the spec\n      stock: film.csv\n          ^\n    a name is looked up"},
		{fstest.MapFS{"heron.yaml": {}}, "heron_b.yaml", "a name is looked up"}, // not the spec itself
		{folder, "parts/flim.csv", "did you mean `parts/film.csv`?"},
		{folder, "nowhere/film.csv", "there is no file `nowhere/film.csv`"},
		{folder, "parts", "`parts` is a folder"},
		{folder, "pipe.csv", "`pipe.csv` is not a regular file"},
		{folder, "large.csv", "more than the 1 MiB"},
		{nil, "film.csv", "cannot be read: the spec does not come from a folder"},
	} {
		b, hashes, faults := readSome(c.folder, c.name)
		if len(faults) != 1 || b.Capacitors.File.Text != nil || len(hashes) > 0 {
			t.Errorf("%s: %v", c.name, faults)
			continue
		}
		if text := faults[0].Error(); !strings.HasPrefix(text, "some/heron.yaml:2:7: error: ") || !strings.Contains(text, c.contains) {
			t.Errorf("%s:\n%s", c.name, text)
		}
	}
}
