package parts

import (
	"bytes"
	"context"
	"encoding/csv"
	"os"
	"strconv"
	"strings"
	"testing"

	"bandwright/compiler"
)

// Quantities are those of the references, each of which stands once, and a spec
// without a board has no list.
func TestList(t *testing.T) {
	for _, name := range []string{"heron", "dabchick", "bittern", "pipit"} {
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
		if err != nil || strings.Join(rows[0], ",") != "quantity,value,kind,tolerance,series,refs" {
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
