package kicad_test

import (
	"context"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"testing/fstest"

	"bandwright/compiler"
	"bandwright/targets/kicad"
)

// What a stock file says of a part is in its fields, the footprint in the suite's own.
func TestStockFields(t *testing.T) {
	src, err := os.ReadFile("../../specs/siskin.yaml")
	if err != nil {
		t.Fatal(err)
	}
	folder := fstest.MapFS{}
	for _, name := range []string{"parts/thin_film.csv", "parts/film.csv"} {
		text, err := os.ReadFile(filepath.Join("../../specs", name))
		if err != nil {
			t.Fatal(err)
		}
		var out []string
		for line := range strings.Lines(string(text)) {
			line = strings.TrimRight(line, "\n")
			switch {
			case strings.HasPrefix(line, "#"):
			case strings.HasPrefix(line, "part,"):
				line += ",Footprint,value code"
			default:
				line += ",ours:" + line[:1] + "-7mm,see list"
			}
			out = append(out, line)
		}
		folder[name] = &fstest.MapFile{Data: []byte(strings.Join(out, "\n") + "\n")}
	}
	b, faults, err := compiler.Compile(context.Background(), "siskin.yaml", src, folder)
	if err != nil || b == nil || b.Board == nil {
		t.Fatal(err, faults)
	}
	files, err := kicad.Emit(b)
	if err != nil {
		t.Fatal(err)
	}
	parts := 0
	for _, c := range export(t, write(t, files), "siskin").Components {
		fields := map[string]string{}
		for _, f := range c.Fields {
			fields[f.Name] = f.Text
		}
		if fields["part"] == "" {
			continue
		}
		parts++
		letter := map[byte]string{'R': "T", 'C': "F"}[c.Ref[0]]
		column := map[byte]string{'R': "size", 'C': "pitch"}[c.Ref[0]]
		for name, like := range map[string]string{"part": "^" + letter + "-", "tolerance": `^[\d.]+ %$`, "voltage": ` V$`, "tempco": ` ppm/K$`, "price": `^[\d.]+$`, column: ".", "value code": "^see list$"} {
			if !regexp.MustCompile(like).MatchString(fields[name]) {
				t.Errorf("%s: field %s is %q", c.Ref, name, fields[name])
			}
		}
		if want := "ours:" + letter + "-7mm"; c.Foot != want {
			t.Errorf("%s has the footprint %q, want %q", c.Ref, c.Foot, want)
		}
	}
	if parts < 40 {
		t.Errorf("%d parts are bought", parts)
	}
}

// UUIDs are those of RFC 4122, version 5 (the one here is from Python's uuid.uuid5), so
// that a layout finds a part again after another compilation.
func TestUUIDs(t *testing.T) {
	if got, want := kicad.UUID("heron", "R10101", "1"), "86a35a20-b321-58c1-9e57-4b17353cb6d8"; got != want {
		t.Errorf("%s, want %s", got, want)
	}
	files, err := kicad.Emit(compile(t, "heron"))
	if err != nil {
		t.Fatal(err)
	}
	all := map[string]bool{}
	for _, f := range files {
		for _, m := range regexp.MustCompile(`\(uuid ([^)]*)\)`).FindAllStringSubmatch(string(f.Data), -1) {
			if all[m[1]] {
				t.Errorf("%s: the UUID %s stands twice", f.Name, m[1])
			}
			all[m[1]] = true
		}
	}
	if !all[kicad.UUID("heron", "R10101", "1")] {
		t.Error("R10101 has another UUID than its own")
	}
}
