package limits

import (
	"bytes"
	"context"
	"encoding/csv"
	"math"
	"os"
	"slices"
	"strconv"
	"testing"

	"bandwright/compiler"
	"bandwright/compiler/verify"
)

func compile(t *testing.T, name string) *compiler.Build {
	t.Helper()
	src, err := os.ReadFile("../../specs/" + name + ".yaml")
	if err != nil {
		t.Fatal(err)
	}
	b, faults, err := compiler.Compile(context.Background(), name, src, os.DirFS("../../specs"))
	if err != nil || b == nil {
		t.Fatal(err, faults)
	}
	return b
}

// A reader that knows nothing but the file measures the nominal board: level and phase lie
// between its limits, in the combination that the row says, with the units it says.
func TestNominalBoardPasses(t *testing.T) {
	b := compile(t, "dabchick")
	files, err := Emit(b)
	if err != nil || len(files) != 1 || files[0].Name != "board/dabchick_limits.csv" {
		t.Fatal(err, files)
	}
	rows, err := csv.NewReader(bytes.NewReader(files[0].Data)).ReadAll()
	if err != nil || !slices.Equal(rows[0], append([]string{"output", "desk"}, ending...)) {
		t.Fatal(err, rows[0])
	}
	number := func(text string) float64 {
		v, err := strconv.ParseFloat(text, 64)
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
	still, driven := 0, 0
	for _, r := range rows[1:] {
		way := slices.Index(b.BoardSubject().Ways, r[0])
		c := verify.Combination{uint8(slices.Index(b.Settings[0].Choices, r[1]))}
		if r[2] == "" {
			still++
			if number(r[8]) != -number(r[9]) || number(r[9]) < 1 || number(r[10]) < 1 || number(r[10]) > 100 || !slices.Equal(r[3:8], []string{"", "", "", "", ""}) {
				t.Errorf("%q", r)
			}
			continue
		}
		driven++
		h := make([]complex128, 1)
		b.Board.Near([]float64{number(r[2])}).Response(h, way, c)
		db := 20 * math.Log10(math.Hypot(real(h[0]), imag(h[0])))
		turn := math.Remainder(math.Atan2(imag(h[0]), real(h[0]))*180/math.Pi-number(r[6]), 360)
		if low, nominal, high := number(r[3]), number(r[4]), number(r[5]); db <= low || db >= high || math.Abs(db-nominal) > 0.006 || high-low > 4 {
			t.Errorf("%.3f dB, %q", db, r)
		}
		if math.Abs(turn) > 0.51 || number(r[7]) < 45 || number(r[7]) > 90 || !slices.Equal(r[8:], []string{"", "", ""}) {
			t.Errorf("%.1f degrees off, %q", turn, r)
		}
	}
	if still != 4 || driven < 32 || driven > 48 {
		t.Errorf("%d and %d rows", still, driven)
	}
}

func TestNoBoard(t *testing.T) {
	if files, err := Emit(compile(t, "pipit")); files != nil || err != nil {
		t.Error(files, err)
	}
}

func TestNumbers(t *testing.T) {
	for _, x := range []struct{ got, want string }{
		{plain(-0.001, 2), "0.00"}, {plain(-0.004, 0), "0"}, {plain(47.5, -1), "47.5"}, {plain(20000, -1), "20000"}, {plain(-12.345, 1), "-12.3"},
		{upwards(-1.01), "-1.1"}, {upwards(1.01), "1.1"}, {upwards(2), "2.0"},
	} {
		if x.got != x.want {
			t.Errorf("%s, want %s", x.got, x.want)
		}
	}
}
