package kicad_test

import (
	"bytes"
	"encoding/csv"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"bandwright/targets/parts"
)

// The suite's bill of materials lists the parts that the parts list does, with the same
// tolerances and order numbers.
func TestBillOfMaterials(t *testing.T) {
	for _, name := range []string{"heron", "siskin", "odd_names", "relays", "transistors"} {
		b, folder := emitted(t, name)
		files, err := parts.Emit(b)
		if err != nil {
			t.Fatal(err)
		}
		want := map[string][2]string{} // tolerance and part by reference
		for i, row := range rows(t, files[0].Data) {
			if i == 0 || strings.HasPrefix(row[2], "spare") {
				continue
			}
			part := ""
			if len(row) > 6 {
				part = row[6]
			}
			for _, ref := range strings.Fields(row[5]) {
				want[ref] = [2]string{row[3], part}
			}
		}
		if out, ok := run(t, folder, "sch", "export", "bom", "--fields", "Reference,tolerance,part", "--ref-range-delimiter", "", "-o", "list.csv", name+".kicad_sch"); !ok {
			t.Fatal(out)
		}
		data, err := os.ReadFile(filepath.Join(folder, "list.csv"))
		if err != nil {
			t.Fatal(err)
		}
		seen := 0
		for _, row := range rows(t, data)[1:] {
			for _, ref := range strings.Split(row[0], ",") {
				w, listed := want[ref]
				if got := [2]string{row[1], row[2]}; !listed || got != w {
					t.Errorf("%s: %s is %v in the bill of materials, and %v in the parts list (%v)", name, ref, got, w, listed)
				}
				seen++
			}
		}
		if seen != len(want) {
			t.Errorf("%s: %d parts in the bill of materials, want %d", name, seen, len(want))
		}
	}
}

func rows(t *testing.T, data []byte) [][]string {
	t.Helper()
	r := csv.NewReader(bytes.NewReader(data))
	out, err := r.ReadAll()
	if err != nil || len(out) < 10 {
		t.Fatal(err, len(out))
	}
	return out
}
