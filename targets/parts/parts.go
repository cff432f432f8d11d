// Package parts emits board/NAME_parts.csv, what to buy for a board: resistors
// and capacitors of the stages by value, op-amps, then what stands around them.
// A finished board goes in, text comes out. The one invariant: every part of
// the netlist that is on the board is counted once.
//
// Read first: Emit.
package parts

import (
	"bytes"
	"cmp"
	"encoding/csv"
	"fmt"
	"slices"
	"strings"

	"bandwright/compiler"
	"bandwright/compiler/batch"
	"bandwright/compiler/board"
	"bandwright/compiler/language"
	"bandwright/compiler/netlist"
	"bandwright/compiler/words"
)

// header names the columns that every list has.
var header = []string{"quantity", "value", "kind", "tolerance", "series", "refs"}

// list is a parts list being written.
type list struct {
	board    *language.Board
	purchase *batch.Purchase
	// more are the further columns of the stock files, those of resistors first; nil
	// where there are no such files.
	more []string
	rows [][]string
}

// begin writes the names of the columns.
func begin(d *language.Board, p *batch.Purchase) *list {
	l := &list{board: d, purchase: p}
	names := slices.Clone(header)
	if d.Resistors.Parts != nil || d.Capacitors.Parts != nil {
		l.more = words.Once(slices.Concat(d.Resistors.Columns, d.Capacitors.Columns))
		names = append(names, "part", "price")
		for _, name := range l.more {
			if slices.Contains(header, name) {
				name = "stock " + name
			}
			names = append(names, name)
		}
	}
	l.rows = [][]string{names}
	return l
}

// add writes a row.
func (l *list) add(quantity int, value, kind string, refs []string) {
	row := make([]string, len(l.rows[0]))
	copy(row, []string{fmt.Sprint(quantity), value, kind, "", "", strings.Join(refs, " ")})
	l.rows = append(l.rows, row)
}

// stocked writes rows on resistors or capacitors, one for each class that they are
// bought in, with what a stock file says of them. always is of those that are chosen from
// the stock; others may happen to be in a file, or come in classes.
func (l *list) stocked(bin board.Bin, kind string, always bool) {
	from, unit := l.stock(bin.Kind), "ohm"
	if bin.Kind == netlist.Capacitor {
		unit = "F"
	}
	for _, x := range l.lines(bin, l.purchase) {
		l.add(len(x.Refs), words.Stock(x.Value, unit), kind, x.Refs)
		row := l.rows[len(l.rows)-1]
		if always || x.chosen || x.Part != nil {
			row[3], row[4] = words.Short(x.Tolerance*100)+" %", seriesOf(from)
		}
		if x.Part == nil {
			continue
		}
		row[6], row[7] = x.Part.Name, x.Part.Price
		for i, name := range from.Columns {
			row[8+slices.Index(l.more, name)] = x.Part.More[i]
		}
	}
}

// Emit is the parts list of a build's board; nothing where the spec has none.
func Emit(b *compiler.Build) ([]compiler.File, error) {
	if b.Board == nil {
		return nil, nil
	}
	d := b.Spec.Board
	l := begin(d, b.Batch.Bought())
	bins := b.Board.Bins()
	for _, x := range bins {
		l.stocked(x, x.Kind.String(), true)
	}
	l.packages(b)
	for _, e := range uses {
		for _, x := range b.Board.EndBins(e.use) {
			l.stocked(x, e.kind, false)
		}
	}
	l.trimmers(b)
	l.devices(b)
	l.selectors(b)
	resistors := len(slices.DeleteFunc(slices.Clone(bins), func(x board.Bin) bool { return x.Kind != netlist.Resistor }))
	l.add(resistors, "", "distinct resistor values in stages", nil)
	l.add(len(bins)-resistors, "", "distinct capacitor values in stages", nil)

	var out bytes.Buffer
	w := csv.NewWriter(&out)
	if err := w.WriteAll(l.rows); err != nil {
		return nil, err
	}
	return []compiler.File{{Name: "board/" + b.Spec.Name + "_parts.csv", Data: out.Bytes()}}, nil
}

// uses are what the resistors and capacitors outside of the stages are called.
var uses = []struct {
	use  board.Use
	kind string
}{
	{board.SeriesResistance, "series resistor of the input"}, {board.RFFilter, "RF filter capacitor"},
	{board.Coupling, "coupling capacitor"}, {board.Bias, "bias resistor"}, {board.TrimShunt, "resistor to ground behind a trimmer"}, {board.BuildOut, "build-out resistor"},
	{board.Discharge, "discharge resistor"}, {board.Gate, "gate resistor of the mutes"}, {board.Bleed, "bleed resistor"},
}

// trimmers writes the trimmers, one for each way.
func (l *list) trimmers(b *compiler.Build) {
	var refs []string
	track := 0.0
	for _, w := range b.Board.Ways {
		for _, p := range w.Ends {
			if p.Use == board.Trim {
				refs, track = append(refs, p.Ref), p.TrackOhm
			}
		}
	}
	if refs != nil {
		l.add(len(refs), words.Stock(track, "ohm"), "trimmer, level of a way", refs)
	}
}

// devices writes what protects and mutes.
func (l *list) devices(b *compiler.Build) {
	coil := words.Part(netlist.CoilV, "V") + " coil of " + words.Part(netlist.CoilOhm, "ohm") + " or more"
	for _, e := range []struct {
		use         board.Use
		kind        netlist.Kind
		value, what string
	}{
		{board.Clamp, netlist.Diode, "", "clamp diode, small-signal, low leakage"},
		{board.Muting, netlist.Contact, coil, "mute relay, contact closed without current"},
		{board.Flyback, netlist.Diode, "", "flyback diode, small-signal, across the coil of a relay"},
		{board.Muting, netlist.Transistor, words.Part(netlist.JFETOnOhm, "ohm") + " or less, off at " + words.Part(-netlist.JFETOffV, "V"), "mute transistor, n-channel depletion-mode (JFET)"},
	} {
		if refs := b.Board.Devices(e.use, e.kind); refs != nil {
			l.add(len(refs), e.value, e.what, refs)
		}
	}
}

// packages writes the op-amps and what stands at their supply pins.
func (l *list) packages(b *compiler.Build) {
	var packages, spare []string
	for _, p := range b.Board.Packages {
		packages = append(packages, p.Ref)
		spare = append(spare, p.Spare...)
	}
	amp := l.board.OpAmp
	l.add(len(packages), words.Part(amp.GainBandwidthHz, "Hz"), words.Count(amp.PerPackage, "op-amp per package", "op-amps per package"), packages)
	if len(spare) > 0 {
		l.add(len(spare), "", "spare op-amp in these packages: output to -, + to ground", spare)
	}
	for _, e := range []struct {
		use  board.Use
		kind string
	}{{board.Decoupling, "decoupling capacitor, each rail of each package to ground"}, {board.Bulk, "bulk capacitor, each rail to ground where the supply comes in"}} {
		var refs []string
		value := 0.0
		for _, p := range b.Board.Supply {
			if p.Use == e.use {
				refs, value = append(refs, p.Ref), p.Value
			}
		}
		if refs != nil {
			l.add(len(refs), words.Stock(value, "F"), e.kind, refs)
		}
	}
}

// selectors writes the selectors by what they are: those of whole stages, which may not make
// before they break, then those of elements of stages, which may be of any type; each with the
// fewest poles and positions first.
func (l *list) selectors(b *compiler.Build) {
	all := b.Board.Selectors()
	slices.SortStableFunc(all, func(a, b board.Selector) int {
		return cmp.Or(cmp.Compare(kindOf(&b), kindOf(&a)), cmp.Compare(len(a.Poles), len(b.Poles)), cmp.Compare(a.Positions, b.Positions))
	})
	for len(all) > 0 {
		var refs []string
		value, kind := all[0].String(), kindOf(&all[0])
		all = slices.DeleteFunc(all, func(s board.Selector) bool {
			same := s.String() == value && kindOf(&s) == kind
			if same {
				refs = append(refs, s.Ref)
			}
			return same
		})
		l.add(len(refs), value, kind, refs)
	}
}

// kindOf says of what kind a selector has to be.
func kindOf(s *board.Selector) string {
	if s.BreaksFirst() {
		return "selector, break before make"
	}
	return "selector"
}

// seriesOf names a stock: its series, or that it is a file or a list.
func seriesOf(s *language.Stock) string {
	switch {
	case s.Parts != nil:
		return "stock"
	case s.Values != nil:
		return "list"
	}
	return strings.Join(s.Series, " ")
}
