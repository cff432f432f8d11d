package targets

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"slices"
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
	b, faults, err := compiler.Compile(context.Background(), "wren.yaml", []byte(small))
	if err != nil || b == nil {
		t.Fatalf("%v %v", err, faults)
	}
	return b
}

// The last file is the index, and it lists all the others with their SHA-256.
func TestEmit(t *testing.T) {
	b := build(t)
	for _, c := range []struct {
		groups []string
		want   []string
	}{
		{nil, []string{"wren_float64.h", "wren_float32.h", "report.txt", "wren.json"}},
		{[]string{"report"}, []string{"report.txt", "wren.json"}},
		{[]string{"json"}, []string{"wren.json"}},
		{[]string{"cheader", "json"}, []string{"wren_float64.h", "wren_float32.h", "wren.json"}},
	} {
		files, err := Emit(b, c.groups)
		if err != nil {
			t.Fatal(err)
		}
		var names []string
		for _, f := range files {
			names = append(names, f.Name)
		}
		if !slices.Equal(names, c.want) {
			t.Errorf("%v: %v, want %v", c.groups, names, c.want)
		}
		index, err := result.Read(files[len(files)-1].Data)
		if err != nil {
			t.Fatal(err)
		}
		if len(index.Files) != len(files)-1 {
			t.Errorf("%v: the index lists %v", c.groups, index.Files)
		}
		for _, f := range files[:len(files)-1] {
			if sum := sha256.Sum256(f.Data); index.Files[f.Name] != hex.EncodeToString(sum[:]) {
				t.Errorf("%v: wrong sum of %s", c.groups, f.Name)
			}
		}
	}
}

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
	for i := range first {
		if first[i].Name != again[i].Name || !bytes.Equal(first[i].Data, again[i].Data) {
			t.Errorf("%s differs", first[i].Name)
		}
	}
}

func TestGroups(t *testing.T) {
	if got, want := Groups(), []string{"cheader", "board", "report", "json"}; !slices.Equal(got, want) {
		t.Errorf("%v, want %v", got, want)
	}
}
