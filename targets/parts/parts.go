// Package parts emits board/NAME_parts.csv, what to buy for a board: resistors
// and capacitors of the stages by value, op-amps, then what stands around them.
// A finished board goes in, text comes out. The one invariant: every part of
// the netlist that is on the board is counted once.
//
// Read first: Emit.
package parts

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"slices"
	"strings"

	"bandwright/compiler"
	"bandwright/compiler/board"
	"bandwright/compiler/language"
	"bandwright/compiler/netlist"
	"bandwright/compiler/words"
)

// decouplingF is the capacitor from each rail to ground at every package (F):
// common practice of op-amp data sheets.
const decouplingF = 100e-9

// header names the columns.
var header = []string{"quantity", "value", "kind", "tolerance", "series", "refs"}

// Emit is the parts list of a build's board; nothing where the spec has none.
func Emit(b *compiler.Build) ([]compiler.File, error) {
	if b.Board == nil {
		return nil, nil
	}
	rows := [][]string{header}
	add := func(quantity int, value, kind, tolerance, series string, refs []string) {
		rows = append(rows, []string{fmt.Sprint(quantity), value, kind, tolerance, series, strings.Join(refs, " ")})
	}
	d := b.Spec.Board
	bins := b.Board.Bins()
	for _, x := range bins {
		stock, unit := d.Resistors, "ohm"
		if x.Kind == netlist.Capacitor {
			stock, unit = d.Capacitors, "F"
		}
		add(len(x.Refs), words.Stock(x.Value, unit), x.Kind.String(), words.Short(stock.Tolerance*100)+" %", seriesOf(stock), x.Refs)
	}
	var packages, spare, rails []string
	for _, p := range b.Board.Packages {
		packages = append(packages, p.Ref)
		spare = append(spare, p.Spare...)
		n := strings.TrimPrefix(p.Ref, "U")
		rails = append(rails, "C"+n+"P", "C"+n+"N")
	}
	add(len(packages), words.Part(d.OpAmp.GainBandwidthHz, "Hz"), words.Count(d.OpAmp.PerPackage, "op-amp per package", "op-amps per package"), "", "", packages)
	if len(spare) > 0 {
		add(len(spare), "", "spare op-amp in these packages: output to -, + to ground", "", "", spare)
	}
	add(len(rails), words.Stock(decouplingF, "F"), "decoupling capacitor, each rail of each package to ground", "", "", rails)
	for _, e := range []struct {
		use  board.Use
		kind string
	}{{board.Coupling, "coupling capacitor"}, {board.Bias, "bias resistor"}, {board.BuildOut, "build-out resistor"}, {board.Discharge, "discharge resistor"}, {board.Bleed, "bleed resistor"}} {
		for _, x := range b.Board.EndBins(e.use) {
			unit := "ohm"
			if x.Kind == netlist.Capacitor {
				unit = "F"
			}
			add(len(x.Refs), words.Stock(x.Value, unit), e.kind, "", "", x.Refs)
		}
	}
	for n := 2; n <= mostPositions; n++ {
		var refs []string
		for _, c := range b.Board.Chains() {
			for _, p := range c.Positions {
				if p.Selector != "" && len(p.Alt) == n {
					refs = append(refs, p.Selector)
				}
			}
		}
		if refs != nil {
			add(len(refs), fmt.Sprintf("%d positions", n), "selector, break before make", "", "", refs)
		}
	}
	resistors := len(slices.DeleteFunc(slices.Clone(bins), func(x board.Bin) bool { return x.Kind != netlist.Resistor }))
	add(resistors, "", "distinct resistor values in stages", "", "", nil)
	add(len(bins)-resistors, "", "distinct capacitor values in stages", "", "", nil)

	var out bytes.Buffer
	w := csv.NewWriter(&out)
	if err := w.WriteAll(rows); err != nil {
		return nil, err
	}
	return []compiler.File{{Name: "board/" + b.Spec.Name + "_parts.csv", Data: out.Bytes()}}, nil
}

// mostPositions is how many alternatives a position can have: a pick is a byte.
const mostPositions = 256

// seriesOf names a stock: its series, or that it is a list.
func seriesOf(s language.Stock) string {
	if s.Values != nil {
		return "list"
	}
	return strings.Join(s.Series, " ")
}
