package stages

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

// Every stage is one row with all of its references, in the order of the signal; the
// selector's position is the one that the board closes with the settings of the row.
func TestRows(t *testing.T) {
	for _, name := range []string{"heron", "dabchick", "siskin", "pipit"} {
		src, err := os.ReadFile("../../specs/" + name + ".yaml")
		if err != nil {
			t.Fatal(err)
		}
		b, faults, err := compiler.Compile(context.Background(), name, src, os.DirFS("../../specs"))
		if err != nil || b == nil {
			t.Fatal(err, faults)
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
		if err != nil || files[0].Name != "board/"+name+"_stages.csv" {
			t.Fatal(err, files[0].Name)
		}
		rows = rows[1:]
		for _, c := range b.Board.Chains() {
			for _, p := range c.Positions {
				for k, a := range p.Alt {
					for _, s := range a.Stages {
						if len(rows) == 0 {
							t.Fatalf("%s: %s has no row", name, s.Out)
						}
						r := rows[0]
						rows = rows[1:]
						position := ""
						if p.Selector != "" {
							position = p.Selector + ": " + strconv.Itoa(p.At(k)[0])
						}
						if r[0] != b.Board.NameOf(c) || r[1] != strconv.Itoa(s.Number) || r[3] != s.Topology.Name || r[5] != position || r[8] != s.Out {
							t.Errorf("%s: %q is not the stage at %s, %s", name, r, s.Out, position)
						}
						if n := len(strings.Fields(r[4])); n != len(s.Placed()) {
							t.Errorf("%s: %d of %d references in %q", name, n, len(s.Placed()), r)
						}
						if !strings.HasSuffix(r[7], " output") || !strings.Contains(" "+r[4]+" ", " "+strings.TrimSuffix(r[7], " output")+" ") {
							t.Errorf("%s: %q is no output of %q", name, r[7], r[4])
						}
					}
				}
			}
		}
		if len(rows) != 0 {
			t.Errorf("%s: %d rows too many", name, len(rows))
		}
	}
}
