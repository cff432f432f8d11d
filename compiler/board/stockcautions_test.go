package board_test

import (
	"context"
	"fmt"
	"strings"
	"testing"
	"testing/fstest"

	"bandwright/compiler"
	"bandwright/compiler/board"
	"bandwright/compiler/stage"
)

// Which dielectrics distort: class 2 and 3 of EIA-198 by their codes and electrolytics,
// by whatever else stands beside them; no film, and no ceramic of class 1.
func TestDistortingDielectrics(t *testing.T) {
	for _, d := range []string{"X7R", "x5r", "Y5V", "Z5U", "X7S 50 V", "X6S", "X8L", "Z5U/X7R", "ceramic, X5R", "ceramic class 2", "Class II", "electrolytic",
		"aluminium electrolytic, bipolar", "Tantalum", "high-K ceramic"} {
		if !board.Distorts(d) {
			t.Errorf("%s distorts", d)
		}
	}
	for _, d := range []string{"", "C0G", "NP0", "C0G (NP0)", "U2J", "P2H", "film", "polypropylene", "PET", "polyester X2", "PPS", "polystyrene", "mica", "class 1", "X1", "X7", "XR7"} {
		if board.Distorts(d) {
			t.Errorf("%s does not distort", d)
		}
	}
}

const (
	ceramicRows = "K1,10 nF,5 %,16 V,X7R,0.01\nK2,22 nF,5 %,16 V,X7R,0.01\nK3,47 nF,5 %,16 V,X7R,0.01\nK4,100 nF,5 %,16 V,X7R,0.01\n"
	filmRows    = "F1,10 nF,5 %,63 V,polypropylene,0.2\nF2,22 nF,5 %,63 V,polypropylene,0.2\nF3,47 nF,5 %,63 V,polypropylene,0.2\nF4,100 nF,5 %,63 V,polypropylene,0.2\n"
)

// cautioned are the cautions on a board of 12 V from stock files with these capacitors.
func cautioned(t *testing.T, rows string) (cautions string, parts []string) {
	t.Helper()
	const spec = "bandwright: 1\nname: tern\nways: {bass: {filters: [{low-pass: {at: 300 Hz, q: 0.7}}]}}\npromise: {board-magnitude: off, phase: off, sum: off}\n" +
		"board: {supply: 12 V, resistors: {stock: r.csv}, capacitors: {stock: c.csv}}\n"
	resistors := "part,value,tolerance,voltage\n"
	for _, ohm := range stage.Values([]string{"E24"}, nil, 1e3, 100e3) {
		resistors += fmt.Sprintf("R%g,%g ohm,1 %%,50 V\n", ohm, ohm)
	}
	folder := fstest.MapFS{"r.csv": {Data: []byte(resistors)}, "c.csv": {Data: []byte("part,value,tolerance,voltage,dielectric,price\n" + rows)}}
	b, faults, err := compiler.Compile(context.Background(), "tern.yaml", []byte(spec), folder)
	if err != nil || b == nil || b.Board == nil {
		t.Fatal(err, faults)
	}
	for _, x := range b.Board.Bins() {
		if p := b.Spec.Board.Capacitors.Part(x.Value); p != nil {
			parts = append(parts, p.Name)
			if cautions := strings.Join(b.Board.Cautions, "\n"); board.Distorts(p.Dielectric) && !strings.Contains(cautions, x.Refs[0]) {
				t.Errorf("%s is not named in\n%s", x.Refs[0], cautions)
			}
		}
	}
	return strings.Join(b.Board.Cautions, "\n"), parts
}

// A ceramic of class 2 that was chosen is told with its references and what to buy in
// its place; that advice, followed, ends the caution.
func TestDielectricCaution(t *testing.T) {
	said, parts := cautioned(t, ceramicRows+filmRows)
	if len(parts) == 0 || strings.Trim(strings.Join(parts, ""), "K1234") != "" {
		t.Fatalf("the cheaper parts were not chosen: %v", parts)
	}
	film := strings.ReplaceAll(strings.Join(parts, " and "), "K", "F")
	for _, want := range []string{"X7R in c.csv: C", "distorts in the signal path", "without " + strings.Join(parts, " and ") + " the file's " + film + " would be used"} {
		if !strings.Contains(said, want) {
			t.Errorf("%q is not in\n%s", want, said)
		}
	}
	if said, parts := cautioned(t, filmRows); strings.Contains(said, "signal path") || strings.Join(parts, " and ") != film {
		t.Errorf("%v\n%s", parts, said)
	}
	if said, _ := cautioned(t, ceramicRows); !strings.Contains(said, "list film or class 1 ceramic (C0G) parts of these values") {
		t.Error(said)
	}
	if said, _ := cautioned(t, strings.ReplaceAll(ceramicRows, "X7R", "C0G")); strings.Contains(said, "signal path") {
		t.Error(said)
	}
}

// What stands at the ends of the board and is in no stock file has to be bought
// otherwise: it is told.
func TestUnlistedCaution(t *testing.T) {
	said, _ := cautioned(t, filmRows)
	if !strings.Contains(said, "r.csv does not list 100 ohm for R20001") || strings.Contains(said, "c.csv does not list") {
		t.Error(said)
	}
}

// A rating below the rails is told, one above them is not.
func TestVoltageCaution(t *testing.T) {
	if said, _ := cautioned(t, filmRows); strings.Contains(said, "rated") {
		t.Error(said)
	}
	if said, _ := cautioned(t, strings.ReplaceAll(filmRows, "63 V", "10 V")); !strings.Contains(said, "rated 10 V in c.csv, below the rails of ±12 V: C") {
		t.Error(said)
	}
}
