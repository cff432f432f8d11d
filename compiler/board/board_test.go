package board_test

import (
	"context"
	"fmt"
	"math"
	"math/cmplx"
	"os"
	"regexp"
	"strings"
	"testing"

	"bandwright/biquad"
	"bandwright/compiler"
	"bandwright/compiler/board"
	"bandwright/compiler/netlist"
	"bandwright/compiler/nodal"
	"bandwright/compiler/promise"
)

var boards = []string{"heron", "dabchick", "bittern"}

// shipped compiles a spec of the tree, once.
func shipped(t testing.TB, name string) *compiler.Build {
	t.Helper()
	if made[name] == nil {
		made[name] = build(t, source(t, name))
	}
	return made[name]
}

// heldLine is where a spec says that its board is held.
var heldLine = regexp.MustCompile(`\n  held: .*`)

// digitalBlock is what a spec says of its digital filters.
var digitalBlock = regexp.MustCompile(`\ndigital:\n(  .*\n)*`)

func source(t testing.TB, name string) string {
	t.Helper()
	src, err := os.ReadFile("../../specs/" + name + ".yaml")
	if err != nil {
		t.Fatal(err)
	}
	// Chosen anew: what is held of a board is no choice. Filters beside it are no matter of boards.
	return digitalBlock.ReplaceAllString(heldLine.ReplaceAllString(string(src), ""), "\n")
}

var made = map[string]*compiler.Build{}

func build(t testing.TB, src string) *compiler.Build {
	t.Helper()
	b, faults, err := compiler.Compile(context.Background(), "test.yaml", []byte(src), os.DirFS("../../specs"))
	if err != nil || b == nil {
		t.Fatal(err, faults)
	}
	return b
}

// little is a spec of one way at one rate with a board.
func little(settings, filters, way string) string {
	return "bandwright: 1\nname: wren\n" + settings + "ways:\n  only: {filters: [" + filters + "]" + way + "}\n" +
		"digital: {rates: [48 kHz], formats: [float32], method: bilinear}\npromise: {magnitude: off, headroom: off}\nboard: {}\n"
}

// unjudged is a spec with none of what is promised of a board beside its response: neither is a batch of it
// simulated, nor are other boards tried for advice, where a test looks at neither.
func unjudged(spec string) string {
	return strings.Replace(spec, "promise: {", "promise: {board-headroom: off, board-noise: off, board-spread: off, board-yield: off, ", 1)
}

// nominal (dB) is what every way with E24 and E6 keeps.
const nominal = 0.07

// ofDrivers are promises that only ways with a driver are held to.
var ofDrivers = map[string]bool{"acoustic-sum": true, "excursion": true, "amplifier": true, "pattern": true}

func TestShippedBoardsKeepTheirPromises(t *testing.T) {
	for _, name := range boards {
		b := shipped(t, name)
		checks := 0
		for _, f := range b.Findings {
			if f.Realisation != board.RealisationName {
				continue
			}
			if !ofDrivers[f.Promise] {
				checks++
			}
			if !f.Kept || f.Promise == "board-magnitude" && f.Worst > nominal {
				t.Errorf("%s: %+v", name, f)
			}
		}
		if want := 5*len(b.Board.Ways) + 3; checks != want { // the sum, and two of the batch
			t.Errorf("%s: %d findings, want %d", name, checks, want)
		}
		t.Logf("%s: %d values", name, b.Board.DistinctValues())
	}
}

// Every resistor and capacitor of a stage can be bought, and what the parts list
// counts is what the netlist holds.
func TestPartsAreInStock(t *testing.T) {
	for _, name := range boards {
		b := shipped(t, name)
		stock := board.StockOf(b.Spec.Board)
		for _, c := range b.Board.Chains() {
			for _, s := range c.Stages() {
				for i, e := range s.Topology.Parts() {
					if !stock.Has(e, s.Values[i]) {
						t.Errorf("%s: stage %d.%d %s: %s of %g is not in stock", name, s.Block, s.Number, s.Topology.Name, e.Ref, s.Values[i])
					}
				}
			}
		}
		counted := map[string]bool{}
		count := func(refs ...string) {
			for _, r := range refs {
				if counted[r] {
					t.Errorf("%s: %s is counted twice", name, r)
				}
				counted[r] = true
			}
		}
		for _, x := range b.Board.Bins() {
			count(x.Refs...)
		}
		for _, use := range []board.Use{board.Coupling, board.Bias, board.BuildOut, board.Discharge, board.Bleed} {
			for _, x := range b.Board.EndBins(use) {
				count(x.Refs...)
			}
		}
		for _, p := range b.Board.Supply {
			count(p.Ref)
		}
		for _, p := range b.Board.Packages {
			if n := len(p.Units) + len(p.Spare); n != b.Spec.Board.OpAmp.PerPackage {
				t.Errorf("%s: %s holds %d op-amps", name, p.Ref, n)
			}
			count(append(p.Units, p.Spare...)...)
		}
		all := netlist.New()
		b.Board.Parts(all)
		if err := all.Check(); err != nil {
			t.Error(err)
		}
		outside := 0
		for _, c := range b.Board.Chains() {
			for _, p := range c.Ends {
				if p.Outside {
					outside++
				}
			}
		}
		for _, p := range all.Parts() {
			if counted[p.Ref] {
				delete(counted, p.Ref)
			} else {
				outside--
			}
		}
		if len(counted) > 0 || outside != 0 {
			t.Errorf("%s: counted and not on the board: %v; on the board and not counted: %d", name, counted, -outside)
		}
	}
}

// With ideal op-amps a board knows no scale: all resistors times k, all
// capacitors divided by k leave every response.
func TestScaling(t *testing.T) {
	const k, rounding = 1.7, 1e-9
	for _, name := range boards {
		b := shipped(t, name)
		c := make(biquad.Combination, len(b.Settings))
		scaled := func(k float64) (*nodal.Solver, []netlist.Node) {
			from, to := b.Board.Circuit(c), netlist.New()
			for _, p := range from.Parts() {
				n := func(i int) string { return from.Name(p.Nodes[i]) }
				switch p.Kind {
				case netlist.Resistor:
					to.Resistor(p.Ref, n(0), n(1), p.Value*k)
				case netlist.Capacitor:
					to.Capacitor(p.Ref, n(0), n(1), p.Value/k)
				case netlist.Source:
					to.Source(p.Ref, n(0), n(1), p.Value)
				case netlist.Amplifier:
					to.OpAmp(p.Ref, n(0), n(1), n(2), netlist.OpAmp{Ideal: true})
				}
			}
			s, err := nodal.New(to, 10)
			if err != nil {
				t.Fatal(err)
			}
			var outs []netlist.Node
			for _, w := range b.Board.Ways {
				outs = append(outs, to.Node(w.Out))
			}
			return s, outs
		}
		one, outs := scaled(1)
		other, _ := scaled(k)
		for _, hz := range []float64{20, 63, 300, 1000, 5000, 20000} {
			if err := one.At(hz); err != nil {
				t.Fatal(err)
			}
			if err := other.At(hz); err != nil {
				t.Fatal(err)
			}
			for w, n := range outs {
				// Re the source: in a stop band the difference is rounding.
				if e := cmplx.Abs(one.Voltage(n) - other.Voltage(n)); e > rounding {
					t.Errorf("%s, %s at %g Hz: %v and %v", name, b.Board.Ways[w].Name, hz, one.Voltage(n), other.Voltage(n))
				}
			}
		}
	}
}

// Whatever gain and polarity a way asks for, and however many of its stages
// invert, its output has them.
func TestGainAndPolarity(t *testing.T) {
	const most = 0.02 // relative: findings hold the magnitude, this the sign
	for _, filters := range []string{"", "{low-pass: {at: 5 kHz, q: 0.7}}", "{dipole-lift: {from: 500 Hz, to: 190 Hz}}",
		"{peak: {at: 100 Hz, q: 2, gain: 3 dB}}", "{pole-shift: {from: {at: 60 Hz, q: 0.8}, to: {at: 30 Hz, q: 0.7}}}"} {
		for _, polarity := range []string{"normal", "inverted"} {
			for _, gain := range []string{"-47 dB", "-4 dB", "0 dB", "0.5 dB", "9 dB", "30 dB"} {
				b := build(t, unjudged(little("", filters, ", gain: "+gain+", polarity: "+polarity)))
				if b.Board == nil {
					t.Errorf("%s, %s, %s: no board: %v", filters, polarity, gain, b.Warnings)
					continue
				}
				hz := []float64{300}
				got, want := make([]complex128, 1), make([]complex128, 1)
				b.Board.On(hz).Response(got, 0, nil)
				b.Subject().Prototype.On(hz).Response(want, 0, nil)
				if e := cmplx.Abs(got[0]/want[0] - 1); !(e < most) {
					t.Errorf("%s, %s, %s: %v, want %v", filters, polarity, gain, got[0], want[0])
				}
			}
		}
	}
}

// Alternatives of one position have one polarity and one level, whatever they are
// made of.
func TestAlternativesAreAlike(t *testing.T) {
	for _, name := range boards {
		for _, c := range shipped(t, name).Board.Chains() {
			for _, p := range c.Positions {
				var levels []float64
				for _, a := range p.Alt {
					level := 1.0
					for _, s := range a.Stages {
						level *= s.Level
						if s.Role == board.GainStage && s.Section.Order() == 0 {
							level *= math.Copysign(1, s.Section.B[0])
						}
					}
					levels = append(levels, level)
				}
				for _, l := range levels {
					if math.Abs(l-levels[0]) > 1e-9 {
						t.Errorf("%s %s: levels %v", name, p.Selector, levels)
					}
				}
			}
		}
	}
}

// Delay that all ways share is declared, not built; what is left is.
func TestSharedDelayIsDeclared(t *testing.T) {
	b := build(t, "bandwright: 1\nname: wren\ncommon: [{delay: {by: 1 ms}}]\nways: {low: {delay: 0.2 ms}, high: {delay: 0.23 ms}}\n"+
		"crossovers: [{between: [low, high], family: LR, order: 4, at: 2 kHz}]\ndigital: {rates: [48 kHz], formats: [float32]}\nboard: {}\n")
	if got, want := b.Board.CommonDelayS(), -0.0012; math.Abs(got-want) > 1e-15 {
		t.Errorf("common delay %g, want %g", got, want)
	}
	for k, want := range []float64{0, 0.00003} {
		if got := b.Board.Ways[k].DelayS; math.Abs(got-want) > 1e-15 {
			t.Errorf("way %d is delayed by %g, want %g", k, got, want)
		}
	}
	for _, f := range b.Findings {
		if f.Realisation == board.RealisationName && !f.Kept {
			t.Errorf("%+v", f)
		}
	}
}

// Above 64 combinations some are looked at, and the findings say so.
func TestManyCombinations(t *testing.T) {
	settings, filters := "settings: {", ""
	for i := range 7 {
		settings += fmt.Sprintf("s%d: [a, b], ", i)
		filters += fmt.Sprintf("{low-shelf: {at: 100 Hz, order: 1, gain: %d dB, when: {s%d: b}}}, ", i%3+1, i)
	}
	b := build(t, little(strings.TrimSuffix(settings, ", ")+"}\n", strings.TrimSuffix(filters, ", "), ""))
	n := 0
	for _, f := range b.Findings {
		if f.Realisation != board.RealisationName {
			continue
		}
		n++
		// The default, seven choices alone, all and none; those of a batch are one.
		if f.Of != 9 && !promise.ByName(f.Promise).Of.OfBatch() || !strings.Contains(f.Note, "9 of 128 combinations") {
			t.Errorf("%+v", f)
		}
	}
	if n == 0 {
		t.Error("no finding")
	}
}

// A board that cannot be built is a broken finding with the reason in a warning;
// the digital realisation stands.
func TestUnbuildable(t *testing.T) {
	b := build(t, little("", "{low-pass: {at: 2 kHz, q: 90}}", ""))
	if b.Board != nil || len(b.Digital) == 0 {
		t.Fatal("a board of Q 90, or no digital realisation")
	}
	found := false
	for _, f := range b.Findings {
		found = found || f.Promise == "board" && !f.Kept && f.Remedy != ""
	}
	if !found || len(b.Warnings) == 0 || !strings.Contains(b.Warnings[0].Message, "Q 90 is above 50") {
		t.Errorf("%+v %+v", b.Findings, b.Warnings)
	}
}

// An output without a build-out resistor is connected all the same.
func TestBareOutput(t *testing.T) {
	for _, coupling := range []string{"none", "10 uF"} {
		b := build(t, strings.Replace(little("", "", ""), "board: {}", "board: {output: {build-out: 0, coupling: "+coupling+", load: 1 kohm}}", 1))
		h := make([]complex128, 1)
		b.Board.On([]float64{1000}).Response(h, 0, nil)
		// The source's 100 ohm and the bias resistor's 100 kohm take 0.009 dB.
		if e := math.Abs(biquad.DB(h[0])); e > 0.02 {
			t.Errorf("coupling %s: %g dB", coupling, e)
		}
	}
}

// A wish is granted, in every section of the filter that it can be.
func TestWishes(t *testing.T) {
	b := build(t, little("", "{low-pass: {family: butterworth, order: 5, at: 1 kHz, topology: multiple-feedback-low-pass}}, {peak: {at: 300 Hz, q: 1, gain: -3 dB, topology: tow-thomas}}", ""))
	count := map[string]int{}
	for _, s := range b.Board.Ways[0].Stages() {
		count[s.Topology.Name]++
	}
	if count["multiple-feedback-low-pass"] != 2 || count["tow-thomas"] != 1 {
		t.Errorf("%v", count)
	}
}
