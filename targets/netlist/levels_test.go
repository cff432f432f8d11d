package netlist_test

import (
	"context"
	"fmt"
	"math"
	"math/cmplx"
	"os"
	"strings"
	"testing"

	"bandwright/compiler"
	"bandwright/compiler/board"
	"bandwright/compiler/circuit/circuittest"
	"bandwright/compiler/language"
	parts "bandwright/compiler/netlist"
	"bandwright/compiler/verify"
	"bandwright/targets/netlist"
)

// The level plan, where each stage clips, and what the signal takes from the rails are
// what ngspice finds in the emitted netlist with a source of 0 V behind every op-amp's
// output: volts, amperes and, by the textbook, 2πf times the peak. All three limits are
// reached first by some stage.
func TestNgspiceAgreesOnLevels(t *testing.T) {
	src, err := os.ReadFile("../../specs/dabchick.yaml")
	if err != nil {
		t.Fatal(err)
	}
	for extra, want := range map[string][]board.Limit{"": {board.OfSwing}, "output-current: 1.5 mA, slew-rate: 0.3 V/us, ": {board.OfCurrent, board.OfSlew}} {
		b := compile(t, "dabchick")
		if extra != "" {
			text := strings.Replace(string(src), "op-amp: {", "op-amp: {"+extra, 1)
			var faults []language.Fault
			if b, faults, err = compiler.Compile(context.Background(), "dabchick", []byte(text), os.DirFS("../../specs")); err != nil || b == nil || b.Board == nil {
				t.Fatal(extra, err, faults)
			}
		}
		files, err := netlist.Emit(b)
		if err != nil {
			t.Fatal(err)
		}
		subject := b.BoardSubject()
		supply := b.Board.Rails(subject.Cases())
		clipsBy := map[board.Limit]bool{}
		most := 0.0
		for _, c := range subject.Cases() {
			if c.C == nil {
				continue
			}
			p, err := b.Board.LevelPlan(c)
			if err != nil {
				t.Fatal(err)
			}
			for _, l := range p.Stages {
				clipsBy[l.Clip.By] = true
			}
			most = math.Max(most, plannedAs(t, b, metered(t, b, string(files[0].Data), c), p))
		}
		for _, by := range want {
			if !clipsBy[by] {
				t.Errorf("%q: no stage clips by %s", extra, by)
			}
		}
		if r := supply.SignalA / most; r > 1+1e-3 || r < 1-1e-3 {
			t.Errorf("%q: the signal takes %g A, in ngspice %g A", extra, supply.SignalA, most)
		}
	}
}

// metered runs a board in a case, at the level of its input, with a current meter behind
// every op-amp.
func metered(t *testing.T, b *compiler.Build, deck string, c verify.Case) circuittest.Plot {
	t.Helper()
	for i, s := range b.Settings {
		p := "set_" + strings.ReplaceAll(s.Name, "-", "_") + "="
		deck = strings.Replace(deck, p+"0\n", fmt.Sprintf("%s%d\n", p, c.C[i]), 1)
	}
	deck = strings.Replace(deck, "vin vin 0 DC 0 AC 1", fmt.Sprintf("vin vin 0 DC 0 AC %g", b.Board.InputV(c)*math.Sqrt2), 1)
	var out strings.Builder
	for l := range strings.Lines(deck) {
		f := strings.Fields(l)
		switch {
		case len(f) == 5 && strings.HasPrefix(f[4], "opamp") && f[0][0] == 'X':
			fmt.Fprintf(&out, "%s %s %s %s_meter %s\nVmeter_%s %s_meter %s 0\n", f[0], f[1], f[2], f[0], f[4], f[0][1:], f[0], f[3])
		case strings.HasPrefix(l, ".ac"):
			fmt.Fprintf(&out, ".ac dec 150 %g %g\n", b.Promises.LowHz, b.Promises.HighHz)
		case !strings.HasPrefix(l, ".print"):
			out.WriteString(l)
		}
	}
	plots, err := circuittest.ReadRaw(ngspice(t, out.String()))
	if err != nil {
		t.Fatal(err)
	}
	return plots[0]
}

// plannedAs holds a plan against what ngspice finds, and returns what the outputs take from
// a rail on average.
func plannedAs(t *testing.T, b *compiler.Build, plot circuittest.Plot, p board.LevelPlan) (railA float64) {
	t.Helper()
	const near = 1e-3 // 150 points a decade
	peak := func(name string) (greatest, fastest float64) {
		v := plot.Of(name)
		if v == nil {
			t.Fatalf("ngspice has no %s", name)
		}
		for i, x := range v {
			greatest = math.Max(greatest, cmplx.Abs(x))
			fastest = math.Max(fastest, 2*math.Pi*plot.Scale[i]*cmplx.Abs(x))
		}
		return greatest, fastest
	}
	amp := b.Spec.Board.OpAmp
	for _, l := range p.Stages {
		if v, _ := peak(l.Out); math.Abs(l.V*math.Sqrt2/v-1) > near {
			t.Errorf("%v %s stage %d: %g V, in ngspice %g V", p.Case, l.Chain, l.Number, l.V, v/math.Sqrt2)
		}
		share, named := 0.0, 0.0
		for k, e := range l.Topology.Template {
			ref := l.Refs[k]
			if ref == "" || e.Kind != parts.Amplifier {
				continue
			}
			v, fast := peak("xu" + strings.ToLower(ref[1:]) + "_meter")
			a, _ := peak("i(vmeter_" + strings.ToLower(ref))
			for by, x := range map[board.Limit]float64{board.OfSwing: v / amp.SwingV, board.OfCurrent: a / amp.OutputA, board.OfSlew: fast / amp.SlewVPerS} {
				share = math.Max(share, x)
				if ref == l.Clip.OpAmp && by == l.Clip.By {
					named = x
				}
			}
		}
		if db := -20 * math.Log10(share); math.Abs(db-l.Clip.MarginDB) > 0.01 || named < share*(1-near) {
			t.Errorf("%v %s stage %d: %.3f dB to %s of %s, in ngspice %.3f dB", p.Case, l.Chain, l.Number, l.Clip.MarginDB, l.Clip.By, l.Clip.OpAmp, db)
		}
	}
	for i := range plot.Scale {
		sum := 0.0
		for _, x := range b.Board.Packages {
			for _, u := range x.Units {
				sum += cmplx.Abs(plot.Of("i(vmeter_" + strings.ToLower(u))[i])
			}
		}
		railA = math.Max(railA, sum/math.Pi)
	}
	return railA
}
