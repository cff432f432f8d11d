package schematic_test

import (
	"bytes"
	"context"
	"encoding/xml"
	"errors"
	"image/png"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"bandwright/compiler"
	"bandwright/targets/schematic"
)

const small = `bandwright: 1
name: wren
title: Wren <a & b>
revision: A1
settings: {wall: [near, far]}
ways:
  low-end:
    filters:
      - low-pass: {q: 0.7, order: 2, at: 200 Hz}
      - low-shelf: {at: 100 Hz, gain: 3 dB, order: 1, when: {wall: far}}
board: {}
`

// The pages are well-formed XML with every reference on them, and another program makes
// pictures of them that are not empty.
func TestPages(t *testing.T) {
	tool, err := exec.LookPath("rsvg-convert")
	if err != nil {
		t.Fatal("rsvg-convert is missing: install the Debian package `librsvg2-bin` (apt-get install -y librsvg2-bin)")
	}
	b, faults, err := compiler.Compile(context.Background(), "wren.yaml", []byte(small), nil)
	if err != nil || b == nil {
		t.Fatal(err, faults)
	}
	files, err := schematic.Emit(b)
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	all := ""
	for _, f := range files {
		names = append(names, f.Name)
		all += string(f.Data)
		for d := xml.NewDecoder(bytes.NewReader(f.Data)); ; {
			if _, err := d.Token(); errors.Is(err, io.EOF) {
				break
			} else if err != nil {
				t.Fatal(f.Name, err)
			}
		}
		from := filepath.Join(t.TempDir(), "page.svg")
		if err := os.WriteFile(from, f.Data, 0o600); err != nil {
			t.Fatal(err)
		}
		out, err := exec.Command(tool, "-w", "600", from).Output()
		if err != nil {
			t.Fatal(f.Name, err)
		}
		picture, err := png.Decode(bytes.NewReader(out))
		if err != nil {
			t.Fatal(f.Name, err)
		}
		dark := 0
		for y := range picture.Bounds().Max.Y - 1 { // the last row is covered in part
			for x := range picture.Bounds().Max.X - 1 {
				if r, _, _, a := picture.At(x, y).RGBA(); a != 0xffff {
					t.Fatalf("%s can be seen through at %d, %d", f.Name, x, y)
				} else if r < 0x8000 {
					dark++
				}
			}
		}
		if dark < 1500 {
			t.Errorf("%s: %d dark points", f.Name, dark)
		}
	}
	if got, want := strings.Join(names, " "), "board/wren_common.svg board/wren_low-end.svg board/wren_supply.svg"; got != want {
		t.Errorf("the files are %s, want %s", got, want)
	}
	for _, s := range b.Board.Common.Stages() {
		for _, ref := range s.Refs {
			if ref != "" && strings.Count(all, ">"+ref+"<") != 1 {
				t.Errorf("%s is not written once", ref)
			}
		}
	}
	for _, want := range []string{"Wren &lt;a &amp; b&gt;", b.SHA256, "sheet 2 of 3", "revision A1", "position 2: wall far", "position 1: wall near", "Calculated, not tested"} {
		if !strings.Contains(all, want) {
			t.Errorf("no page has %q", want)
		}
	}
}
