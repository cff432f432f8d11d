package language

import (
	"reflect"
	"strings"
	"testing"
)

func board(t *testing.T, text string) (*Spec, []Fault) {
	t.Helper()
	return Parse("test.yaml", []byte("bandwright: 1\nname: tern\nways: {bass: {}}\ndigital: {rates: [48 kHz], formats: [float32], method: bilinear}\n"+text+"\n"), lang)
}

// The defaults that the key tables document, in SI units.
func TestBoardDefaults(t *testing.T) {
	s, faults := board(t, "board: {}")
	if s == nil || len(faults) > 0 {
		t.Fatal(faults)
	}
	want := &Board{
		SupplyV: 15, DecouplingF: 100e-9, Input: BoardInput{Level: Levels{V: []float64{2}, By: -1}, SourceOhm: 100}, Output: BoardOutput{BuildOutOhm: 100, LoadOhm: 10e3},
		OpAmp: BoardOpAmp{GainBandwidthHz: 10e6, OpenLoopDB: 110, OutputOhm: 50, SlewVPerS: 10e6, SwingV: 13,
			VoltageNoise: 5e-9, CurrentNoise: 0.5e-12, OffsetV: 2e-3, BiasA: 100e-9, PerPackage: 2, OutputA: 25e-3, SupplyA: 4e-3},
		Resistors:  Stock{Series: []string{"E96"}, Tolerance: 0.01, From: 1e3, To: 100e3},
		Capacitors: Stock{Series: []string{"E12"}, Tolerance: 0.02, From: 1e-9, To: 470e-9},
		ColdC:      25, HotC: 25,
		ShuntOhm: 1e3, FewUnsaid: true,
	}
	want.Pos = s.Board.Pos
	if !reflect.DeepEqual(s.Board, want) {
		t.Errorf("got  %+v\nwant %+v", s.Board, want)
	}
	if s, _ := board(t, ""); s == nil || s.Board != nil || s.FullScaleV != 2 {
		t.Errorf("without the block: %+v", s)
	}
}

func TestBoardAsGiven(t *testing.T) {
	s, faults := board(t, `dac: {full-scale: 1.5 V}
board:
  supply: 9 V
  input: {balanced: true, source-impedance: 0 ohm, coupling: 10 uF}
  output: {coupling: 22 uF}
  resistors: {series: [E96, E24], shunt-from: 150 ohm}
  capacitors: {stock: [10 nF, 2.2 nF, 0.1 uF], to: 50 nF}
  distribution: normal`)
	if s == nil || len(faults) > 0 {
		t.Fatal(faults)
	}
	b := s.Board
	if !reflect.DeepEqual(b.Input, BoardInput{Level: Levels{V: []float64{1.5}, By: -1}, Balanced: true, CouplingF: 10e-6}) || b.Output.CouplingF != 22e-6 || b.OpAmp.SwingV != 7 || !b.Normal {
		t.Errorf("%+v", b)
	}
	if !reflect.DeepEqual(b.Resistors.Series, []string{"E96", "E24"}) || b.ShuntOhm != 150 {
		t.Errorf("%+v, shunts from %v", b.Resistors, b.ShuntOhm)
	}
	if want := (Stock{Values: []float64{10e-9, 2.2e-9, 0.1e-6}, Tolerance: 0.02, From: 2.2e-9, To: 50e-9}); !reflect.DeepEqual(b.Capacitors, want) {
		t.Errorf("%+v, want %+v", b.Capacitors, want)
	}
}

// Whatever has a fault is said once, and what depends on it says nothing more.
func TestBoardFaults(t *testing.T) {
	for text, want := range map[string]string{
		"board: {resistors: 3}":                         "`resistors` cannot be a single value",
		"board: {supply: 1 kV, op-amp: {swing: 13 V}}":  "`kV` is not a unit of `supply`",
		"board: {resistors: {from: 1 nF, to: 100 ohm}}": "`1 nF` is a capacitance",
		"board: {capacitors: {stock: [0 F], to: 1 nF}}": "`0 F` is out of range",
		"board: {capacitors: {stock: 1 nF}}":            "`stock` cannot be a single value",
		"board: {resistors: {series: E7, to: 9 kohm}}":  "`E7` is not a choice",
		"board: {op-amp: {swing: 15 V}}":                "swing of `15 V` is not below the rails of ±15 V",
	} {
		s, faults := board(t, text)
		if s != nil || len(faults) != 1 || !strings.Contains(faults[0].Message, want) {
			t.Errorf("%s: %v, want %q", text, faults, want)
		}
	}
	s, faults := board(t, "dac: {full-scale: 1 V}")
	if s == nil || len(faults) != 1 || faults[0].Severity != Warning || !strings.Contains(faults[0].Message, "`dac` has no effect") {
		t.Errorf("a converter without a board: %v", faults)
	}
}

// The input's level is that of the converter, one voltage, or one for each choice.
func TestInputLevels(t *testing.T) {
	const sources = "settings: {trim: [a, b], source: [line, phone]}\n"
	for text, want := range map[string]string{
		"board: {}":                         "2 V",
		"dac: {full-scale: 1 V}\nboard: {}": "1 V",
		"board: {input: {level: 4 V}}":      "4 V",
		sources + "board: {input: {level: {source: {phone: 0.7 V, line: 3 V}}}}":              "3 V with source: line, 0.7 V with source: phone",
		sources + "board:\n  input:\n    level:\n      trim: {a: 1 V, b: 2 V}\n  supply: 9 V": "1 V with trim: a, 2 V with trim: b",
	} {
		s, faults := board(t, text)
		if s == nil || len(faults) > 0 {
			t.Fatal(text, faults)
		}
		l := s.Board.Input.Level
		if l.String() != want {
			t.Errorf("%s: %s, want %s", text, l, want)
		}
		if l.By == 1 && (l.In([]uint8{0, 0}) != 3 || l.In([]uint8{0, 1}) != 0.7 || l.In(nil) != 3 || l.For([]uint8{1, 1}) != "source: phone" || l.For(nil) != "") {
			t.Errorf("%s: %+v", text, l)
		}
	}
	s, faults := board(t, "board: {supply: 5 V, op-amp: {supply-range: 5 V to 18 V}}")
	if s == nil || s.Board.OpAmp.RailLowV != 5 || s.Board.OpAmp.RailHighV != 18 {
		t.Error(faults)
	}
}
