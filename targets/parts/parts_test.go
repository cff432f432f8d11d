package parts

import (
	"bytes"
	"context"
	"encoding/csv"
	"fmt"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"
	"testing/fstest"

	"bandwright/compiler"
	"bandwright/compiler/stage"
	"bandwright/compiler/words"
)

// Quantities are those of the references, each of which stands once, and a spec
// without a board has no list.
func TestList(t *testing.T) {
	for _, name := range []string{"heron", "dabchick", "bittern", "pipit", "siskin"} {
		src, err := os.ReadFile("../../specs/" + name + ".yaml")
		if err != nil {
			t.Fatal(err)
		}
		b, _, err := compiler.Compile(context.Background(), name, src, os.DirFS("../../specs"))
		if err != nil || b == nil {
			t.Fatal(err)
		}
		files, err := Emit(b)
		if err != nil {
			t.Fatal(err)
		}
		if b.Board == nil {
			if files != nil {
				t.Errorf("%s has no board and %d files", name, len(files))
			}
			continue
		}
		rows, err := csv.NewReader(bytes.NewReader(files[0].Data)).ReadAll()
		if err != nil || strings.Join(rows[0][:6], ",") != "quantity,value,kind,tolerance,series,refs" {
			t.Fatal(err, rows[0])
		}
		seen := map[string]bool{}
		distinct, bins := 0, 0
		packages, rails := 0, 0
		for _, r := range rows[1:] {
			n, err := strconv.Atoi(r[0])
			if err != nil {
				t.Fatal(err)
			}
			switch refs := strings.Fields(r[5]); {
			case strings.HasPrefix(r[2], "distinct"):
				distinct += n
				continue
			case len(refs) != n:
				t.Errorf("%s: %d parts and %d references: %v", name, n, len(refs), r)
			default:
				for _, ref := range refs {
					if seen[ref] {
						t.Errorf("%s: %s is listed twice", name, ref)
					}
					seen[ref] = true
				}
			}
			switch {
			case r[2] == "resistor" || r[2] == "capacitor":
				bins++
			case strings.Contains(r[2], "per package"):
				packages = n
			case strings.HasPrefix(r[2], "decoupling capacitor"):
				rails = n
			}
		}
		if distinct != bins || bins != b.Board.DistinctValues() {
			t.Errorf("%s: %d distinct values said, %d listed, %d on the board", name, distinct, bins, b.Board.DistinctValues())
		}
		if packages != len(b.Board.Packages) || rails != 2*packages {
			t.Errorf("%s: %d packages, %d decoupling capacitors", name, packages, rails)
		}
	}
}

// With stock files the list names the part of each value, its price and the columns of
// one's own; what is listed is what the files say.
func TestStockColumns(t *testing.T) {
	const spec = `
bandwright: 1
name: tern
ways: {bass: {filters: [{low-pass: {at: 300 Hz, q: 0.7}}]}}
promise: {board-magnitude: off}
board: {output: {build-out: 47 ohm}, resistors: {stock: r.csv, from: 1 kohm}, capacitors: {series: E12, tolerance: 5 %}}
`
	rows := "order number,part,value,tolerance,price,refs\n\"A,1\",R0,47 ohm,2 %,0.05,x\n"
	for _, ohm := range stage.Values([]string{"E24"}, nil, 1e3, 100e3) {
		rows += fmt.Sprintf(",T%g,%g ohm,0.1 %%,0.20,\nN%g,R%g,%g ohm,0.5 %%,0.010,\n", ohm, ohm, ohm, ohm, ohm)
	}
	b, faults, err := compiler.Compile(context.Background(), "tern.yaml", []byte(spec), fstest.MapFS{"r.csv": {Data: []byte(rows)}})
	if err != nil || b == nil || b.Board == nil {
		t.Fatal(err, faults)
	}
	files, err := Emit(b)
	if err != nil {
		t.Fatal(err)
	}
	list, err := csv.NewReader(bytes.NewReader(files[0].Data)).ReadAll()
	if err != nil || strings.Join(list[0], ",") != "quantity,value,kind,tolerance,series,refs,part,price,order number,stock refs" {
		t.Fatal(err, list[0])
	}
	seen := map[string]int{}
	for _, r := range list[1:] {
		seen[r[2]]++
		ohm := ""
		for _, v := range b.Spec.Board.Resistors.Values {
			if words.Stock(v, "ohm") == r[1] {
				ohm = fmt.Sprint(v)
			}
		}
		want := []string{"", "", "", "", "", ""}
		switch r[2] {
		case "resistor":
			want = []string{"0.5 %", "stock", "R" + ohm, "0.010", "N" + ohm, ""}
		case "capacitor":
			want = []string{"5 %", "E12", "", "", "", ""}
		case "build-out resistor":
			want = []string{"2 %", "stock", "R0", "0.05", "A,1", "x"}
		}
		if got := append(slices.Clone(r[3:5]), r[6:]...); r[2] != "bias resistor" && !slices.Equal(got, want) {
			t.Errorf("%q instead of %q in %q", got, want, r)
		}
	}
	if seen["resistor"] == 0 || seen["capacitor"] == 0 || seen["build-out resistor"] != 1 {
		t.Error(seen)
	}
}
