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
	b := &language.Board{Held: language.Input{Name: name, Pos: language.Pos{Line: 2, Col: 7}}}
	s := &language.Spec{File: "some/heron.yaml", Source: []byte("board:\n  held: " + name + "\n"), Board: b}
	hashes, faults := readInputs(s, folder, Holding{})
	return b, hashes, faults
}

// The files that a spec names are read, and NAME.json can say which ones they were.
func TestInputs(t *testing.T) {
	folder := fstest.MapFS{"boards/heron_board.yaml": {Data: []byte("abc")}, "full.yaml": {Data: bytes.Repeat([]byte("a"), maxInput)}}
	b, hashes, faults := readSome(folder, "boards/heron_board.yaml")
	// The digest of "abc" is FIPS 180-2, appendix B.1.
	want := map[string]string{"boards/heron_board.yaml": "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"}
	if faults != nil || string(b.Held.Text) != "abc" || !maps.Equal(hashes, want) {
		t.Errorf("%v %q %v", faults, b.Held.Text, hashes)
	}
	if b, _, faults := readSome(folder, "full.yaml"); faults != nil || len(b.Held.Text) != maxInput {
		t.Errorf("%d bytes: %v", len(b.Held.Text), faults)
	}
	if _, hashes, faults := readSome(nil, ""); faults != nil || len(hashes) > 0 {
		t.Errorf("a spec without files: %v %v", faults, hashes)
	}
}

// A file that cannot be read is one fault at its name, which says what would be right.
func TestInputFaults(t *testing.T) {
	folder := fstest.MapFS{"boards/heron_board.yaml": {}, "large.yaml": {Data: make([]byte, maxInput+1)}, "pipe.yaml": {Mode: fs.ModeNamedPipe}}
	for _, c := range []struct {
		folder         fs.FS
		name, contains string
	}{
		{folder, "heron_board.yaml", "there is no file `heron_board.yaml` beside the spec\n      held: heron_board.yaml\n          ^\n    a name is looked up"},
		{folder, "boards/heron_bord.yaml", "did you mean `boards/heron_board.yaml`?"},
		{folder, "nowhere/heron_board.yaml", "there is no file `nowhere/heron_board.yaml`"},
		{folder, "boards", "`boards` is a folder"},
		{folder, "pipe.yaml", "`pipe.yaml` is not a regular file"},
		{folder, "large.yaml", "more than the 1 MiB"},
		{nil, "heron_board.yaml", "cannot be read: the spec does not come from a folder"},
	} {
		b, hashes, faults := readSome(c.folder, c.name)
		if len(faults) != 1 || b.Held.Text != nil || len(hashes) > 0 {
			t.Errorf("%s: %v", c.name, faults)
			continue
		}
		if text := faults[0].Error(); !strings.HasPrefix(text, "some/heron.yaml:2:7: error: ") || !strings.Contains(text, c.contains) {
			t.Errorf("%s:\n%s", c.name, text)
		}
	}
}
