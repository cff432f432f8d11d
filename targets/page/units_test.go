package page_test

import (
	"context"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"bandwright/biquad"
	"bandwright/compiler"
	"bandwright/compiler/diagnosis"
	"bandwright/compiler/finished"
	"bandwright/compiler/verify"
	"bandwright/targets/page"
)

// measuredBoard is a board with trimmers whose units are measured.
const measuredBoard = `bandwright: 1
name: tern
settings: {placement: [free, wall]}
ways:
  bass: {filters: [{high-pass: {at: 60 Hz, q: 1}}, {peak: {at: 300 Hz, q: 1, gain: -4 dB, when: {placement: wall}}}]}
  treble: {polarity: inverted}
crossovers: [{between: [bass, treble], family: LR, order: 2, at: 2 kHz}]
board: {resistors: {tolerance: 1 %}, capacitors: {tolerance: 1 %}, trim: 1.5 dB}
promise: {as-built: 0.5 dB}
`

// boardUnits are units of that board at the wall, measured without error, and what became of them: the
// middle one has a capacitor that is 30 % high.
func boardUnits(t *testing.T, n int) page.Units {
	t.Helper()
	b, faults, err := compiler.Compile(context.Background(), "tern.yaml", []byte(measuredBoard), nil)
	if err != nil || b == nil || b.Board == nil {
		t.Fatal(err, faults)
	}
	x := finished.Terms{Conditions: diagnosis.Conditions{LowHz: 20, HighHz: 20000, FitLevel: true, FitDelay: true, Phased: true}, C: verify.Combination{1}, Ways: []int{0, 1}}
	d, err := finished.New(b, x)
	if err != nil {
		t.Fatal(err)
	}
	u := page.Units{Desk: d, Notes: []string{"treble.wav: it is quiet: its peak is \u221270 dBFS; record at a higher level"}, At: "specs[0]"}
	for i := range n {
		s, outs := b.Board.Solver(x.C)
		for k, p := range b.Board.Ways[1].Stages()[0].Placed() {
			if k == 0 && i == n/2 {
				if err := s.Set(b.Board.PartIndex(p.Ref), p.Value*1.3); err != nil {
					t.Fatal(err)
				}
			}
		}
		unit := finished.Unit{Name: fmt.Sprintf("%04d", i+1)}
		if n == 1 {
			unit.Name = ""
		}
		for w, o := range outs {
			unit.Readings = append(unit.Readings, diagnosis.Reading{Way: w, LowHz: 20, HighHz: 20000, AboutS: math.NaN(), At: func(hz float64) complex128 {
				if err := s.At(hz); err != nil {
					t.Fatal(err)
				}
				return s.Voltage(o) * complex(1.1, 0)
			}})
		}
		r, err := d.Judge(context.Background(), unit)
		if err != nil {
			t.Fatal(err)
		}
		u.Units, u.Results = append(u.Units, unit), append(u.Results, r)
	}
	return u
}

// unitsOfBoard opens the pages of one unit and of several.
func unitsOfBoard(t *testing.T, b *browser, axe string) {
	for _, n := range []int{1, 3} {
		u := boardUnits(t, n)
		data, err := page.OfUnits(u)
		if err != nil {
			t.Fatal(err)
		}
		file := filepath.Join(t.TempDir(), "units.html")
		if err := os.WriteFile(file, data, 0o666); err != nil {
			t.Fatal(err)
		}
		for _, scheme := range []string{"dark", "light"} {
			b.open(t, "file://"+file, 1280, scheme)
			accessible(t, b, axe)
		}
		text := evaluate[string](t, b, "document.body.innerText")
		says := []string{"Broken: ", "% high", "likelihood", "as-built", "a sweep can destroy drivers and hearing", "it is quiet", "placement: wall", "unit is outside of them"}
		if n > 1 {
			says = []string{"Broken: 1 of 3 units.", "2 of 3 keep everything", "Left and right", "1 of 3 units are outside of them."}
		}
		for _, s := range says {
			if !strings.Contains(text, s) {
				t.Errorf("%d: no %q in %s", n, s, text)
			}
		}
		drawn(t, b)
		cursor(t, b)
		measuredAsDrawn(t, b, u)
		if n > 1 {
			selects(t, b)
		}
		widths(t, b, product{url: "file://" + file})
	}
}

// measuredAsDrawn holds what is drawn of each unit's bass and treble against the measurement over the prototype.
func measuredAsDrawn(t *testing.T, b *browser, u page.Units) {
	t.Helper()
	hz := evaluate[[]float64](t, b, `[...window.report.hz]`)
	want := verify.NewIdeal(u.Desk.Build().Prototype).On(hz)
	for made, unit := range u.Units {
		for way := range 2 {
			h := make([]complex128, len(hz))
			want.Response(h, way, verify.Combination{1})
			got := evaluate[[]float64](t, b, fmt.Sprintf(`window.report.values("error", %d, %d).map(v => Number.isNaN(v) ? 1e9 : v)`, way, made))
			n := 0
			for i, v := range got {
				if v == 1e9 {
					continue
				}
				n++
				if want := biquad.DB(unit.Readings[way].At(hz[i])/h[i]) - u.Results[made].LevelDB; math.Abs(v-want) > 1e-5+1e-5*math.Abs(want) {
					t.Fatalf("unit %d, way %d: %v dB at %v Hz, not %v", made, way, v, hz[i], want)
				}
			}
			if n < len(hz)/3 {
				t.Errorf("unit %d, way %d: %d values drawn", made, way, n)
			}
		}
	}
}
