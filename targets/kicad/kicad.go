// Package kicad emits a board's drawing in the open format of a general-purpose EDA
// suite: board/NAME.kicad_sch, which has a box for every sheet, board/NAME_SHEET.kicad_sch
// for each of them, and board/NAME.lib, the models that a simulation of the drawing takes.
// A finished board goes in, text comes out. Symbols are our own and stand in the files, so
// that no library is needed. The project's file and the layout are the user's: nothing
// here writes over them.
//
// The one invariant: what the suite finds connected in these files is what the board's
// netlist connects.
//
// Read first: Emit.
package kicad

import (
	"fmt"

	"bandwright/compiler"
	"bandwright/compiler/drawing"
)

// project is what the files of one board share.
type project struct {
	build  *compiler.Build
	stem   string // of file names, and the project's name
	uuid   string // of the root
	bought map[string][]column
	// from is the sheet that a node comes from which goes from sheet to sheet: the first
	// that has it and shows no way.
	from      map[string]string
	sources   map[string]source   // by node
	rails     map[string]float64  // by node
	feeds     map[string]bool     // terminals that the supply comes in at
	selectors map[string]selector // by the reference of a pole
	models    map[string]model
	marks     int // how many symbols are rails or the ground
}

// source is what drives the board at a node. A reference has to end with a digit here.
type source struct {
	ref   string
	volts float64
}

// Emit is the drawing of a build's board; nothing where the spec has none.
func Emit(b *compiler.Build) ([]compiler.File, error) {
	if b.Board == nil {
		return nil, nil
	}
	sheets, err := drawing.Draw(b.Board, b.Settings)
	if err != nil {
		return nil, err
	}
	return emit(b, sheets), nil
}

// emit writes the sheets of a drawing.
func emit(b *compiler.Build, sheets []drawing.Sheet) []compiler.File {
	p := &project{build: b, stem: b.Spec.Name, uuid: id(b.Spec.Name), bought: bought(b), from: map[string]string{},
		sources: map[string]source{}, selectors: selectors(b), models: map[string]model{}, rails: map[string]float64{}, feeds: map[string]bool{}}
	nodes, volts := b.Board.Sources()
	for i, n := range nodes {
		p.sources[n] = source{fmt.Sprintf("V%d", i+1), volts[i]}
	}
	for _, d := range sheets {
		for _, l := range d.Labels {
			if _, known := p.from[l.Node]; !known && l.Kind == drawing.Port && d.Way == "" {
				p.from[l.Node] = d.Name
			}
		}
	}
	for i := range sheets {
		p.supply(&sheets[i])
	}
	files := []compiler.File{{Name: "board/" + p.stem + ".kicad_sch", Data: p.root(sheets)}}
	for i := range sheets {
		d := &sheets[i]
		s := &sheet{project: p, name: d.Name, path: "/" + p.uuid + "/" + id(p.stem, "sheet", d.Name)}
		files = append(files, compiler.File{Name: "board/" + p.file(d.Name), Data: s.drawn(d)})
	}
	return append(files,
		compiler.File{Name: "board/" + p.stem + ".lib", Data: p.subcircuits()})
}

// supply finds the rails, and the terminals on their sheet.
func (p *project) supply(d *drawing.Sheet) {
	rail := map[drawing.SymbolKind]float64{drawing.RailPlus: p.build.Spec.Board.SupplyV, drawing.RailMinus: -p.build.Spec.Board.SupplyV}
	found := false // the supply comes in where packages have their supply pins
	for _, x := range d.Symbols {
		if volts, is := rail[x.Kind]; is {
			p.rails[x.Pins[0].Node] = volts
		}
		found = found || x.Kind == drawing.SupplyUnit
	}
	for _, x := range d.Symbols {
		if found && x.Kind == drawing.Terminal {
			p.feeds[x.Ref] = true
		}
	}
}
