package parts

import (
	"bytes"
	"context"
	"encoding/csv"
	"fmt"
	"math"
	"strings"
	"testing"

	"bandwright/compiler"
	"bandwright/compiler/result"
	"bandwright/compiler/words"
)

// Parts of one value in two classes are two lines; each reference stands in the line of
// its tolerance, which is also the one in NAME.json, and what is said of the batch is of
// those tolerances.
func TestLinesByClass(t *testing.T) {
	const spec = `
bandwright: 1
name: tern
ways:
  bass: {filters: [{high-pass: {at: 40 Hz, q: 1.2}}, {low-pass: {at: 300 Hz, q: 1.5}}, {peak: {at: 100 Hz, q: 2, gain: -6 dB}}]}
board: {output: {build-out: 47 ohm, coupling: 10 uF}, resistors: {series: E24, tolerance: [1 %, 5 %]}, capacitors: {series: E6, tolerance: [10 %, 1 %, 5 %]}}
`
	b, faults, err := compiler.Compile(context.Background(), "tern.yaml", []byte(spec), nil)
	if err != nil || b == nil || b.Board == nil {
		t.Fatal(err, faults)
	}
	files, err := Emit(b)
	if err != nil {
		t.Fatal(err)
	}
	list, err := csv.NewReader(bytes.NewReader(files[0].Data)).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	of, lines := map[string]string{}, map[string]int{}
	for _, r := range list[1:] {
		if strings.Contains(r[2], "resistor") || strings.Contains(r[2], "capacitor") {
			lines[r[1]+r[2]]++
			for _, ref := range strings.Fields(r[5]) {
				of[ref] = r[3]
			}
			if n := len(strings.Fields(r[5])); fmt.Sprint(n) != r[0] && r[5] != "" {
				t.Errorf("%d references: %v", n, r)
			}
		}
	}
	split := 0
	for _, n := range lines {
		if n > 1 {
			split++
		}
	}
	if split == 0 {
		t.Error("no value is bought in two classes")
	}
	seen := map[string]int{}
	check := func(ref string, tolerance float64) {
		if want := words.Short(math.Round(tolerance*1e6)/1e4) + " %"; tolerance > 0 && of[ref] != want {
			t.Errorf("%s is of %q in the list and of %s in the result", ref, of[ref], want)
		}
		seen[of[ref]]++
	}
	r := result.Of(b)
	for _, w := range r.Board.Ways {
		for _, s := range w.Stages {
			for _, p := range s.Parts {
				if !p.OpAmp && p.Tolerance == 0 {
					t.Errorf("%s has no tolerance", p.Ref)
				}
				if !p.OpAmp {
					check(p.Ref, p.Tolerance)
				}
			}
		}
		for _, e := range w.Ends {
			if !e.Outside && e.Ohm > 0 {
				check(e.Ref, e.Tolerance)
			}
			if e.Farad > 0 && e.Tolerance > 0 {
				t.Errorf("%s is above the range of the classes", e.Ref)
			}
		}
	}
	if seen["1 %"] == 0 || seen["5 %"] == 0 {
		t.Error(seen)
	}
	simulatedAsBought(t, b, of)
}

// simulatedAsBought demands that parts have the tolerance of their line in the batch.
func simulatedAsBought(t *testing.T, b *compiler.Build, of map[string]string) {
	t.Helper()
	for _, row := range b.Batch.Rows {
		for _, m := range row.Matters {
			if bought := of[m.Ref]; bought != "" && words.Short(math.Round(m.Tolerance*1e6)/1e4)+" %" != bought {
				t.Errorf("%s is simulated with %g and bought with %s", m.Ref, m.Tolerance, bought)
			}
		}
	}
}
