package board_test

import (
	"context"
	"fmt"
	"math"
	"math/cmplx"
	"strings"
	"testing"

	"bandwright/biquad"
	"bandwright/compiler"
	"bandwright/compiler/board"
	"bandwright/compiler/netlist"
)

// protected is a little board with what may stand around its stages.
func protected(in, out string) string {
	return strings.Replace(little("", rumbleFree, ""), "board: {}", "board: {input: {"+in+"}, output: {"+out+"}, bulk: 100 uF, decoupling: 47 nF}", 1)
}

// Every part that a spec asks for is on the board, once, with its nodes, and those that
// stand between rails and ground.
func TestProtectedBoard(t *testing.T) {
	for _, k := range []struct {
		in, out string
		uses    map[board.Use]int
	}{
		{"", "", map[board.Use]int{board.Bias: 1, board.BuildOut: 1}},
		{"rf-filter: 300 kHz", "", map[board.Use]int{board.SeriesResistance: 1, board.RFFilter: 1, board.Bias: 1, board.BuildOut: 1}},
		{"protection: clamp-diodes", "mute: relay", map[board.Use]int{board.SeriesResistance: 1, board.Clamp: 2, board.Bias: 1, board.BuildOut: 1, board.Muting: 1, board.Flyback: 1}},
		{"balanced: true, coupling: 22 uF, rf-filter: 300 kHz, protection: clamp-diodes", "mute: transistor, coupling: 10 uF",
			map[board.Use]int{board.SeriesResistance: 2, board.RFFilter: 2, board.Coupling: 3, board.Clamp: 4, board.Bias: 2, board.BuildOut: 2, board.Discharge: 1, board.Muting: 2, board.Gate: 1}},
	} {
		b := build(t, protected(k.in, k.out)).Board
		circuit := netlist.New()
		b.OnBoard(circuit)
		if err := circuit.Check(); err != nil {
			t.Error(err)
		}
		got := map[board.Use]int{}
		for _, c := range b.Chains() {
			for _, p := range c.Ends {
				i, there := circuit.Part(p.Ref)
				if there == p.Outside {
					t.Errorf("%s is outside: %v, and on the board: %v", p.Ref, p.Outside, there)
				}
				if p.Outside {
					continue
				}
				got[p.Use]++
				if x := circuit.Parts()[i]; x.Kind != p.Kind || circuit.Name(x.Nodes[0]) != p.A {
					t.Errorf("%s is %+v in the netlist", p.Ref, x)
				}
			}
		}
		for use, n := range k.uses {
			if got[use] != n {
				t.Errorf("%s %s: %d parts for %s, want %d", k.in, k.out, got[use], use, n)
			}
			delete(got, use)
		}
		if len(got) > 0 {
			t.Errorf("%s %s: also %v", k.in, k.out, got)
		}
		if want := 2 + 2*len(b.Packages); len(b.Supply) != want || b.Supply[0].Value != 100e-6 || b.Supply[2].Value != 47e-9 {
			t.Errorf("%d capacitors of the supply, want %d: %+v", len(b.Supply), want, b.Supply)
		}
	}
}

// The RF filter has its corner where it was asked for, as far as values in stock allow,
// with the source inside, and is common delay of all ways: RC.
func TestRFFilterCorner(t *testing.T) {
	for _, k := range []struct {
		in     string
		source float64
		hz     float64
	}{{"rf-filter: 300 kHz", 100, 300e3}, {"rf-filter: 150 kHz, balanced: true, source-impedance: 600 ohm", 300, 150e3},
		{"rf-filter: 1 MHz, source-impedance: 0 ohm", 0, 1e6}} {
		b := build(t, protected(k.in, "")).Board
		ohm, farad := k.source, 0.0
		for _, p := range b.Common.Ends[:3] {
			switch p.Use {
			case board.SeriesResistance:
				ohm += p.Value
			case board.RFFilter:
				farad = p.Value
			}
		}
		if hz := 1 / (2 * math.Pi * ohm * farad); math.Abs(hz/k.hz-1) > 0.02 {
			t.Errorf("%s: %g ohm and %g F have their corner at %g Hz", k.in, ohm, farad, hz)
		}
		if math.Abs(b.DelayS-ohm*farad) > 1e-15 {
			t.Errorf("%s: a delay of %g s is declared, and RC is %g", k.in, b.DelayS, ohm*farad)
		}
	}
}

// A corner that no values in stock have is refused, with the nearest one that is taken.
func TestRFFilterOutOfStock(t *testing.T) {
	src := strings.Replace(protected("rf-filter: 10 MHz", ""), "bulk: 100 uF", "capacitors: {from: 4.7 nF}", 1)
	b, faults, err := compiler.Compile(context.Background(), "test.yaml", []byte(src), nil)
	text := fmt.Sprint(faults)
	const want = "no resistor and capacitor in stock make an RF filter at 10 MHz: the nearest is one at 230 kHz"
	if b != nil && b.Board != nil || err != nil || !strings.Contains(text, want) {
		t.Errorf("%v %s, want %s", err, text, want)
	}
	build(t, strings.Replace(src, "10 MHz", "230 kHz", 1))
}

// A mismatch of the two legs makes a difference of what both carry. With m = wRC, and the
// tolerances r and c at opposite signs in the legs, that is about 2(r·R/(R+Rs) + c)·m/(1+m²):
// the derivative of 1/(1+jm). All four resistors of the stage off by r add 2r.
func TestImbalance(t *testing.T) {
	b := build(t, protected("balanced: true, coupling: 22 uF, rf-filter: 300 kHz", "")).Board
	var r, c float64
	for _, p := range b.Common.Ends {
		switch p.Use {
		case board.SeriesResistance:
			r = p.Value
		case board.RFFilter:
			c = p.Value
		}
	}
	got := b.Imbalance()
	if len(got) != 2 || got[0].Hz != 1e3 || got[1].Hz != 20e3 {
		t.Fatalf("%+v", got)
	}
	for _, x := range got {
		m := 2 * math.Pi * x.Hz * (r + 50) * c
		filter := 2 * (0.01*r/(r+50) + 0.02) * m / (1 + m*m)
		// Differences are passed on as 1/(1+jm) as well; and each leg is divided by its
		// resistor and the bias resistor.
		filter = math.Hypot(filter*math.Sqrt(1+m*m), 2*0.01*r/100e3)
		if want := -biquad.GainDB(filter); math.Abs(x.FilterDB-want) > 0.2 {
			t.Errorf("%g Hz: %.2f dB by the filter, and the formula has %.2f", x.Hz, x.FilterDB, want)
		}
		// The stage's error is real, that of the filter almost imaginary.
		if want := -biquad.GainDB(math.Hypot(0.02, filter)); math.Abs(x.InputDB-want) > 0.5 || x.InputDB > x.FilterDB {
			t.Errorf("%g Hz: %.2f dB in all, and the formula has %.2f", x.Hz, x.InputDB, want)
		}
	}
	for _, in := range []string{"rf-filter: 300 kHz", "balanced: true, coupling: 22 uF"} {
		if x := build(t, protected(in, "")).Board.Imbalance(); x != nil {
			t.Errorf("%s: %+v", in, x)
		}
	}
}

// A muted output is a divider of what is in series and what shorts it.
func TestMuteDepth(t *testing.T) {
	parallel := func(a, b float64) float64 { return a * b / (a + b) }
	relay := parallel(0.05, 10e3)
	second := parallel(10, 10e3)
	first := parallel(10, 470+second)
	for _, k := range []struct {
		out  string
		want float64 // muted over playing
	}{
		{"mute: relay", relay / (100 + relay) * (10e3 + 100) / 10e3},
		{"mute: transistor, build-out: 470 ohm", first / (470 + first) * second / (470 + second) * (10e3 + 940) / 10e3},
	} {
		b := build(t, protected("", k.out)).Board
		if got, want := b.MuteDB(), -biquad.GainDB(k.want); math.Abs(got-want) > 0.01 {
			t.Errorf("%s: %.3f dB, and the divider has %.3f", k.out, got, want)
		}
	}
}

// Nothing at an output that plays hears the mute: an open contact, and transistors that
// are stopped but for their gates' 10 pF.
func TestMuteIsUnheard(t *testing.T) {
	hz := biquad.Octaves(20, 20e3, 1)
	at := func(out string) []complex128 {
		h := make([]complex128, len(hz))
		build(t, protected("", out)).Board.On(hz).Response(h, 0, nil)
		return h
	}
	plain, relay := at("build-out: 470 ohm"), at("build-out: 470 ohm, mute: relay")
	for i := range hz {
		if d := cmplx.Abs(relay[i]/plain[i] - 1); d > 1e-7 {
			t.Errorf("%g Hz: the relay moves the response by %.1g", hz[i], d)
		}
	}
	two, transistor := at("build-out: 940 ohm"), at("build-out: 470 ohm, mute: transistor")
	for i := range hz {
		if d := math.Abs(biquad.DB(transistor[i] / two[i])); d > 0.01 {
			t.Errorf("%g Hz: the transistors move the response by %.1g dB", hz[i], d)
		}
	}
}
