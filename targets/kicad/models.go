package kicad

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"bandwright/compiler/board"
	"bandwright/compiler/drawing"
	"bandwright/compiler/netlist"
)

// A simulation of the drawing takes resistors and capacitors at their exact values, and
// packages, selectors and the supply from a file of models beside it.

// temperatureK is where ngspice stands by itself, 27 °C.
const temperatureK = 300.15

// simulated are the fields that say what a simulation takes a symbol for.
func (p *project) simulated(x *drawing.Symbol) []column {
	device := func(kind, params string) []column {
		return []column{{"Sim.Device", kind}, {"Sim.Params", params}}
	}
	switch x.Kind {
	case drawing.Resistor, drawing.Link, drawing.Trimmer:
		return device("R", "r="+netlist.Number(x.Amount))
	case drawing.Capacitor, drawing.Electrolytic:
		return device("C", "c="+netlist.Number(x.Amount))
	case drawing.Source:
		return append(device("V", "dc=0 ac="+netlist.Number(p.sources[x.Pins[0].Node].volts)), column{"Sim.Type", "DC"})
	case drawing.OpAmp, drawing.SupplyUnit:
		return p.modelled(packageModel(x.Units), "")
	case drawing.Selector:
		return p.modelled(p.selectors[x.Ref].model(), "position=1")
	case drawing.Diode:
		return p.modelled(model{name: "diode", nodes: []string{"anode", "cathode"}, pins: pinsOf(x), lines: []string{"D1 anode cathode clamp", netlist.Model(netlist.Diode)}}, "")
	case drawing.Transistor:
		return p.modelled(model{name: "transistor", nodes: []string{"drain", "gate", "source"}, pins: pinsOf(x), lines: []string{"J1 drain gate source depletion", netlist.Model(netlist.Transistor)}}, "")
	case drawing.Relay:
		return p.modelled(relayModel(x), "")
	case drawing.Terminal:
		if m, fed := p.supplyModel(x); fed {
			return p.modelled(m, "")
		}
	}
	return []column{{"Sim.Enable", "0"}}
}

// model is a subcircuit that a symbol stands for.
type model struct {
	name  string
	nodes []string
	pins  []string // the number of the symbol's pin at each node
	first string   // further words on its first line
	lines []string
}

// modelled are the fields of a symbol that stands for a model, which goes into the file.
func (p *project) modelled(m model, params string) []column {
	p.models[m.name] = m
	var pins []string
	for i, n := range m.nodes {
		pins = append(pins, m.pins[i]+"="+n)
	}
	out := []column{{"Sim.Device", "SUBCKT"}, {"Sim.Library", p.stem + ".lib"}, {"Sim.Name", m.name}, {"Sim.Pins", strings.Join(pins, " ")}}
	if params != "" {
		out = append(out, column{"Sim.Params", params})
	}
	return out
}

// packageModel is that of n op-amps. Their output takes no current from the rails.
func packageModel(n int) model {
	m := model{name: fmt.Sprintf("op_amp_%d", n)}
	e := packageOf(n)
	for i, s := range e.units[:n] {
		unit := []string{fmt.Sprint("plus", i+1), fmt.Sprint("minus", i+1), fmt.Sprint("out", i+1)}
		m.nodes = append(m.nodes, unit...)
		for _, p := range s.Pins {
			m.pins = append(m.pins, p.Number)
		}
		m.lines = append(m.lines, fmt.Sprintf("Xamp%d %s op_amp", i+1, strings.Join(unit, " ")))
	}
	m.nodes = append(m.nodes, "rail_plus", "rail_minus")
	for _, p := range e.units[n].Pins {
		m.pins = append(m.pins, p.Number)
	}
	return m
}

// relayModel is that of a contact which is open while its coil has more than half of its
// voltage. A resistor stands for it: switches keep their first state in an .ac analysis.
func relayModel(x *drawing.Symbol) model {
	return model{name: "relay", nodes: []string{"a", "b", "coil_plus", "coil_minus"}, pins: pinsOf(x), lines: []string{
		fmt.Sprintf("R1 a b r='v(coil_plus,coil_minus)>%s ? %s : %s'", netlist.Number(netlist.CoilV/2.0), netlist.Number(netlist.OpenOhm), netlist.Number(netlist.ClosedOhm)),
		"R2 coil_plus coil_minus " + netlist.Number(netlist.CoilOhm),
	}}
}

// pinsOf are the numbers of a symbol's pins.
func pinsOf(x *drawing.Symbol) []string {
	var out []string
	for _, p := range x.Pins {
		out = append(out, p.Number)
	}
	return out
}

// supplyModel stands for the supply at the terminal of a rail, and for what opens the
// mutes at theirs; false of other terminals.
func (p *project) supplyModel(x *drawing.Symbol) (model, bool) {
	at := x.Pins[0].Node
	volts, name := p.rails[at], "supply_plus"
	switch {
	case at == board.MuteControl:
		volts, name = p.build.Board.MuteV(), "mute_control"
	case volts < 0:
		name = "supply_minus"
	}
	return model{name: name, nodes: []string{"pin1"}, pins: pinsOf(x), lines: []string{"V1 pin1 0 DC " + netlist.Number(volts)}}, volts != 0
}

// subcircuits is the file of models.
func (p *project) subcircuits() []byte {
	var w strings.Builder
	line := func(format string, args ...any) { fmt.Fprintf(&w, format+"\n", args...) }
	line("* %s, models to simulate the drawing with", p.stem)
	line("* spec SHA-256 %s", p.build.SHA256)
	w.WriteString(netlist.Subcircuit("op_amp", p.build.Board.OpAmp, temperatureK))
	for _, name := range slices.Sorted(maps.Keys(p.models)) {
		m := p.models[name]
		line("%s", strings.TrimSpace(".subckt "+name+" "+strings.Join(m.nodes, " ")+" "+m.first))
		for _, l := range m.lines {
			line("%s", l)
		}
		line(".ends")
	}
	return []byte(w.String())
}
