package report

import (
	"fmt"
	"math"
	"strings"

	"bandwright/compiler"
	"bandwright/compiler/board"
	"bandwright/compiler/netlist"
	"bandwright/compiler/verify"
	"bandwright/compiler/words"
)

// boardRealisation is everything about the board.
func boardRealisation(p *page, b *compiler.Build) {
	d := b.Board
	if d == nil {
		return
	}
	p.heading("board, nominal parts and the real op-amp" + shift(d.DelayS))
	figures := verify.Of(b.Figures, board.RealisationName)
	departures(p, figures)
	p.line("")
	voltages(p, figures)
	p.line("")
	levels := plans(b)
	clipping(p, b, levels)
	worstSettings(p, figures)

	amps, spare := 0, 0
	for _, x := range d.Packages {
		amps += len(x.Units)
		spare += len(x.Spare)
	}
	resistors, capacitors, values := 0, 0, 0
	for _, x := range d.Bins() {
		if values++; x.Kind == netlist.Capacitor {
			capacitors += len(x.Refs)
		} else {
			resistors += len(x.Refs)
		}
	}
	text := fmt.Sprintf("%s of %s, %s in %s", words.Count(resistors+capacitors, "part", "parts"), words.Count(values, "value", "values"),
		words.Count(amps, "op-amp", "op-amps"), words.Count(len(d.Packages), "package", "packages"))
	if spare > 0 {
		text += fmt.Sprintf(", %d spare", spare)
	}
	p.note(text + ", on +-" + words.Part(d.Spec.SupplyV, "V") + "; input, output and supply parts: see the parts list")
	if d.Kept == nil && d.Spec.Held.Name == "" && d.Spec.FewUnsaid {
		p.note("this board is not held, and has the most exact values; when `bandwright hold` lays it out it looks for few different ones, which `explain --board` counts")
	}
	around(p, d)
	levelPlan(p, b, levels)
	supply(p, b, levels)
	spread(p, b)
	productionTest(p, b)
	selectors(p, b)
	dcSteps(p, b)
	held(p, b)
	p.heading("Notes on the board")
	for _, s := range d.Cautions {
		p.item(s, "  * ", "    ")
	}
}

// around tells what filters the input and mutes the outputs.
func around(p *page, d *board.Board) {
	if text := d.InputFilter(); text != "" {
		p.note("RF filter of the input: " + text)
	}
	var filter, whole []string
	for _, x := range d.Imbalance() {
		filter = append(filter, fmt.Sprintf("%s dB at %s", words.Short(words.Round(x.FilterDB, 3)), words.Hz(x.Hz)))
		whole = append(whole, fmt.Sprintf("%s dB", words.Short(words.Round(x.InputDB, 3))))
	}
	if filter != nil {
		p.note("common-mode rejection with tolerances at their worst signs: the RF filter's two legs alone " + words.List(filter) + ", the whole input " + words.List(whole))
	}
	if d.MuteV() != 0 {
		p.note(fmt.Sprintf("mute: %s, %s dB down; %s V at the node `%s` opens the outputs, and without a supply they are muted", d.Spec.Output.Mute,
			words.Short(words.Round(d.MuteDB(), 3)), words.Short(d.MuteV()), board.MuteControl))
	}
}

// voltages is what each way's circuit adds to the signal, and where it ends.
func voltages(p *page, figures []verify.Figures) {
	var t words.Table
	t.Row("output", "noise", "", "A-weighted", "", "DC offset")
	for _, f := range figures {
		if !f.NoiseV.Known {
			continue
		}
		volt := func(e verify.Extreme) string { return words.Volt.Measured(e.Value) }
		t.Row(f.Way, dBu(f.NoiseV.Value), volt(f.NoiseV), dBu(f.NoiseAV.Value), volt(f.NoiseAV), volt(f.OffsetV))
	}
	p.table(&t)
}

// dBu is a voltage in dBu.
func dBu(v float64) string {
	if !(v > 0) {
		return "none"
	}
	return words.Level(verify.DBu(v), "dBu")
}

// shift says by how much every way is later, where it is.
func shift(seconds float64) string {
	if seconds == 0 {
		return ""
	}
	side := "lag"
	if seconds < 0 {
		side = "lead"
	}
	return fmt.Sprintf("; all ways %s the prototype by %s, not counted as error", side, words.Seconds(math.Abs(seconds)))
}

// dcSteps says by how much DC changes with each setting.
func dcSteps(p *page, b *compiler.Build) {
	steps := b.Board.DCSteps(len(b.Settings))
	if len(steps) == 0 {
		return
	}
	p.heading("Steps of DC at a change of a setting, all others at their default")
	for _, s := range steps {
		set := b.Settings[s.Setting]
		p.item(fmt.Sprintf("%s, %s: at most %s from %s to %s, typically %s", s.Selector, set.Name, millivolts(s.WorstV),
			set.Choices[s.From], set.Choices[s.To], millivolts(s.TypicalV)), "  ", "    ")
	}
	p.item("at the selector; what follows lets a step pass as a thump even where it blocks DC; at most: every offset and bias current at its worst sign; typically: a third of each, adding as what is random does", "  ", "  ")
}

// millivolts is a step in mV, to a hundredth.
func millivolts(v float64) string {
	return words.Short(math.Round(1e5*v)/100) + " mV"
}

// selectors says what each selector stands for in its positions, and what its poles work.
func selectors(p *page, b *compiler.Build) {
	for i, x := range b.Board.Selectors() {
		if i == 0 {
			p.heading("Selectors and their positions")
		}
		p.item(fmt.Sprintf("%s, %s: %s", x.Ref, x.String(), x.Words(b.Settings)), "  ", "    ")
		var poles []string
		for _, pole := range x.Poles {
			poles = append(poles, b.Board.Works(pole))
		}
		p.item(strings.Join(poles, "; "), "    ", "    ")
	}
}
