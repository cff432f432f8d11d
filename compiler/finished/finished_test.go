package finished

import (
	"fmt"
	"math"
	"os"
	"slices"
	"strings"
	"testing"

	"bandwright/compiler"
	"bandwright/compiler/diagnosis"
	"bandwright/compiler/netlist"
	"bandwright/compiler/nodal"
	"bandwright/compiler/verify"
)

const small = `
bandwright: 1
name: tern
ways:
  bass: {filters: [{high-pass: {at: 60 Hz, q: 1}}, {peak: {at: 300 Hz, q: 1, gain: -4 dB}}]}
  treble: {polarity: inverted}
crossovers: [{between: [bass, treble], family: LR, order: 2, at: 2 kHz}]
board: {resistors: {tolerance: 1 %}, capacitors: {tolerance: 1 %}, trim: 1.5 dB}
promise: {as-built: 0.5 dB}
`

func build(t *testing.T, src string) *compiler.Build {
	t.Helper()
	b, faults, err := compiler.Compile(t.Context(), "spec.yaml", []byte(src), os.DirFS("../../specs"))
	if err != nil || b == nil || b.Board == nil {
		t.Fatal(err, faults)
	}
	return b
}

// unitOf is a board whose parts have other values, measured without error.
func unitOf(t *testing.T, b *compiler.Build, values map[string]float64) Unit {
	t.Helper()
	s, outs := b.Board.Solver(make(verify.Combination, len(b.Settings)))
	for ref, v := range values {
		if err := s.Set(b.Board.PartIndex(ref), v); err != nil {
			t.Fatal(err)
		}
	}
	u := Unit{Name: "1"}
	for w := range b.Board.Ways {
		u.Readings = append(u.Readings, diagnosis.Reading{Way: w, LowHz: 20, HighHz: 20000, AboutS: math.NaN(), At: at(t, s, outs[w])})
	}
	return u
}

func at(t *testing.T, s *nodal.Solver, out netlist.Node) func(hz float64) complex128 {
	return func(hz float64) complex128 {
		if err := s.At(hz); err != nil {
			t.Fatal(err)
		}
		return s.Voltage(out)
	}
}

func deskOf(t *testing.T, b *compiler.Build) *Desk {
	t.Helper()
	x := Terms{Conditions: diagnosis.Conditions{LowHz: 20, HighHz: 20000, Phased: true}, C: make(verify.Combination, len(b.Settings))}
	for w := range b.Board.Ways {
		x.Ways = append(x.Ways, w)
	}
	d, err := New(b, x)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// The nominal board keeps everything, and its figures are those of the board itself; a way that is off in
// level is brought inside by its trimmer, to the value that the advice says, and one whose gain is off by the
// part that makes it.
func TestTrims(t *testing.T) {
	b := build(t, small)
	d := deskOf(t, b)
	r, err := d.Judge(t.Context(), unitOf(t, b, nil))
	if err != nil || !r.Kept() || r.Found() || r.Trims != nil {
		t.Fatalf("%v: %+v", err, r)
	}
	figures, _ := verify.Judge(t.Context(), b.BoardSubject(), struct{ verify.Realisation }{b.Board}, verify.Terms{Extent: verify.Extent{LowHz: 20, HighHz: 20000, DownToDB: -20}})
	for i, f := range r.Figures {
		if math.Abs(f.Magnitude.Value-figures[i].Magnitude.Value) > 1e-6 || math.Abs(f.Phase.Value-figures[i].Phase.Value) > 1e-6 {
			t.Errorf("%s: %+v and %+v, the board %+v and %+v", f.Way, f.Magnitude, f.Phase, figures[i].Magnitude, figures[i].Phase)
		}
	}
	var trimmer string
	nominal := 0.0
	for _, p := range b.Board.Ways[0].Ends {
		if p.TrackOhm > 0 {
			trimmer, nominal = p.Ref, p.Value
		}
	}
	off := map[string]float64{trimmer: nominal * 1.5}
	if r, err = d.Judge(t.Context(), unitOf(t, b, off)); err != nil || r.Kept() || len(r.Trims) == 0 || !strings.Contains(r.Trims[0].What, "turn "+trimmer+" of bass by +") {
		t.Fatalf("%v: %v, %+v", err, r.Sentences, r.Trims)
	}
	if x := r.Trims[0]; x.WillDB > 0.5 || x.WillDB > x.WasDB/3 {
		t.Errorf("%s", x)
	}
	// One part of the peak's stage off: what is told to be fitted elsewhere is tried on the real board.
	var ref string
	for _, s := range b.Board.Ways[0].Stages() {
		for _, p := range s.Placed() {
			if p.Kind == netlist.Resistor && ref == "" {
				off = map[string]float64{p.Ref: p.Value * 1.12}
				if r, err = d.Judge(t.Context(), unitOf(t, b, off)); err == nil && !r.Kept() && slices.ContainsFunc(r.Trims, func(x Trim) bool { return strings.HasPrefix(x.What, "fit ") }) {
					ref = p.Ref
				}
			}
		}
	}
	if ref == "" {
		t.Fatal("no part is selected on any board")
	}
	for _, x := range r.Trims {
		if x.WillDB > 0.5 {
			t.Errorf("%s: %s", ref, x)
		}
		var fitted float64
		var ohm, other string
		if n, _ := fmt.Sscanf(x.What, "fit %g %s for %s if that measures", &fitted, &ohm, &other); n != 3 || other == ref {
			continue
		}
		if ohm == "kohm" {
			fitted *= 1000
		}
		off[other] = fitted
		after, err := d.Judge(t.Context(), unitOf(t, b, off))
		if err != nil || !after.Kept() || math.Abs(after.WorstDB()-x.WillDB) > 0.02 {
			t.Errorf("%s: %s, and %g dB (%v)", ref, x, after.WorstDB(), err)
		}
		delete(off, other)
	}
}

// An inverted way keeps the limits of level and breaks those of phase; limits beyond what was measured are not judged, and
// what noise may have moved counts for as much less.
func TestLimits(t *testing.T) {
	b := build(t, small)
	d := deskOf(t, b)
	broken := func(u Unit, d *Desk) string {
		t.Helper()
		r, err := d.Judge(t.Context(), u)
		if err != nil {
			t.Fatal(err)
		}
		return strings.Join(r.Broken(), " ")
	}
	u := unitOf(t, b, nil)
	of := u.Readings[1].At
	u.Readings[1].At = func(hz float64) complex128 { return -of(hz) }
	if got := broken(u, d); got != "as-built limits-phase as-said" {
		t.Errorf("inverted: %s", got)
	}
	// Below 100 Hz the file says nothing, and there is nothing of it.
	narrow := d.Terms
	narrow.LowHz = 100
	above, err := New(b, narrow)
	if err != nil {
		t.Fatal(err)
	}
	u = unitOf(t, b, nil)
	for i := range u.Readings {
		at := u.Readings[i].At
		u.Readings[i].LowHz = 100
		u.Readings[i].At = func(hz float64) complex128 {
			if hz < 99 {
				return 1000
			}
			return at(hz)
		}
	}
	if got := broken(u, above); got != "" {
		t.Errorf("from 100 Hz on: %s", got)
	}
	u = unitOf(t, b, nil)
	treble := u.Readings[1].At
	u.Readings[1].At = func(hz float64) complex128 {
		if hz > 10000 {
			return treble(hz) * complex(1.055, 0)
		}
		return treble(hz)
	}
	if got := broken(u, d); !strings.Contains(got, "limits") {
		t.Errorf("without noise: %s", got)
	}
	u.Readings[1].Noise = func(hz float64) float64 { return 0.05 }
	if got := broken(u, d); strings.Contains(got, "limits") {
		t.Errorf("with noise: %s", got)
	}
}

// Units are paired as they are alike, whatever their order, and drift is told from scatter.
func TestBatch(t *testing.T) {
	var all []*Result
	for i, shape := range []float64{0, 0.4, 0.02, 0.43, 0.9} {
		r := &Result{Diagnosis: &diagnosis.Diagnosis{LevelDB: 0.1 * float64(i)}}
		for k := range 20 {
			r.apart = append(r.apart, shape*math.Sin(float64(k)))
		}
		all = append(all, r)
	}
	b := BatchOf(all)
	if len(b.Pairs) != 2 || b.Pairs[0].A != 0 || b.Pairs[0].B != 2 || b.Pairs[1].A != 1 || b.Pairs[1].B != 3 || !slices.Equal(b.Left, []int{4}) {
		t.Errorf("%+v", b)
	}
	if math.Abs(b.DriftDB-0.4) > 0.02 || b.ScatterDB > 0.02 || b.Kept != 5 {
		t.Errorf("%+v", b)
	}
}
