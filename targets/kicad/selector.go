package kicad

import (
	"fmt"
	"strconv"
	"strings"

	"bandwright/compiler"
	"bandwright/compiler/board"
	"bandwright/compiler/drawing"
	"bandwright/compiler/netlist"
)

// A selector is one part whose poles are units, wherever their sheets are. The pin of a pole is
// its letter, and those of its throws that letter with the selector's position: throws that
// lead to the same node have their pins at one place. Positions without a contact have none.

// selector is a pole of one: unit is which, from 1.
type selector struct {
	of   board.Selector
	unit int
}

// selectors are the board's by the references of their poles.
func selectors(b *compiler.Build) map[string]selector {
	out := map[string]selector{}
	for _, s := range b.Board.Selectors() {
		for k, p := range s.Poles {
			out[p.Position.Selector] = selector{s, k + 1}
		}
	}
	return out
}

// pinOf is the pin of a pole, or with a position that of its throw there.
func pinOf(pole, position int) string {
	pin := board.Letters(pole)
	if position > 0 {
		pin += strconv.Itoa(position)
	}
	return pin
}

// entry is the symbol of a selector.
func (s selector) entry() entry {
	e := entry{name: "selector-" + s.of.Ref}
	for i, p := range s.of.Poles {
		throws, _ := p.Position.Throws()
		shape := drawing.ShapeOf(drawing.Selector, len(throws))
		var pins []drawing.ShapePin
		for k, t := range throws {
			for _, at := range t.At {
				x := shape.Pins[k]
				x.Number, x.Name = pinOf(i, at), strconv.Itoa(at)
				pins = append(pins, x)
			}
		}
		pole := shape.Pins[len(throws)]
		pole.Number = pinOf(i, 0)
		shape.Pins = append(pins, pole)
		e.units = append(e.units, shape)
	}
	return e
}

// model is that of a selector whose parameter is its position, 1 for the first.
func (s selector) model() model {
	m := model{name: "selector_" + s.of.Ref, first: "position=1"}
	for i, p := range s.of.Poles {
		throws, _ := p.Position.Throws()
		pole := pinOf(i, 0)
		for _, t := range throws {
			var any []string
			for _, at := range t.At {
				m.pins = append(m.pins, pinOf(i, at))
				any = append(any, fmt.Sprintf("position==%d", at))
			}
			// The pins of one throw are joined outside.
			m.lines = append(m.lines, fmt.Sprintf("R%s pin%s pin%s {(%s) ? %s : %s}", pinOf(i, t.At[0]), pinOf(i, t.At[0]), pole, strings.Join(any, " || "),
				netlist.Number(board.ClosedOhm), netlist.Number(board.OpenOhm)))
		}
		m.pins = append(m.pins, pole)
	}
	for _, p := range m.pins {
		m.nodes = append(m.nodes, "pin"+p)
	}
	return m
}

// fields are what has to be ordered.
func (s selector) fields() []column {
	out := []column{{"poles", strconv.Itoa(len(s.of.Poles))}, {"positions", strconv.Itoa(s.of.Positions)}}
	if s.of.BreaksFirst() {
		out = append(out, column{"contacts", "break before make"})
	}
	return out
}
