package report

import (
	"fmt"
	"math"

	"bandwright/compiler"
	"bandwright/compiler/board"
	"bandwright/compiler/netlist"
	"bandwright/compiler/production"
	"bandwright/compiler/words"
)

// productionTest is how finished boards are tested, and what that cannot find.
func productionTest(p *page, b *compiler.Build) {
	d := b.Spec.Board
	p.heading("Testing boards: board/" + b.Spec.Name + "_limits.csv, and board/" + b.Spec.Name + "_stages.csv for the first one")
	generator := "a generator"
	if d.Input.Balanced {
		generator = "a balanced generator"
	}
	text := fmt.Sprintf("limits: the output with its load of %s, over %s of %s at the input's level or below, with nothing else connected, no loudspeaker and no amplifier. "+
		"All but one of a thousand simulated boards pass as delivered, at 25 degC; subtract what your instruments are uncertain by. ",
		words.Part(d.Output.LoadOhm, "ohm"), generator, words.Part(d.Input.SourceOhm, "ohm"))
	if v := b.Board.MuteV(); v != 0 {
		text += fmt.Sprintf("The node `%s` has %s V; with 0 V there every output is to be at least %s dB lower. ", board.MuteControl, words.Short(v), words.Short(math.Floor(b.Board.MuteDB()-3)))
	}
	if d.TrimDB > 0 {
		text += "First set each way's trimmer in the default settings, so that the greatest deviations up and down from the nominal levels are equal; " +
			"a board that needs more than the limits say has a fault. "
	}
	p.note(text + "DC and noise, 20 Hz to 20 kHz, are with the generator at 0 V; noise of 3 dB more than calculated passes.")
	p.note("what the limits cannot find: a wrong part that moves no level by more than the limits are wide, parts that make up for each other, " +
		"distortion, oscillation that stays small, bad joints that come and go, decoupling capacitors, and everything outside of the board.")
	inspection(p, b)
}

// inspection lists the parts to measure before they are fitted.
func inspection(p *page, b *compiler.Build) {
	if b.Batch == nil {
		return
	}
	parts := production.Inspect(b.Batch)
	if len(parts) == 0 {
		return
	}
	p.note("Parts that make most of the spread: measure some of each reel before they are fitted, with an instrument ten times better than the tolerance")
	var t words.Table
	t.Row("part", "value", "least", "most", "in", "makes", "1 % more of it")
	for _, x := range parts {
		unit := "ohm"
		if x.Kind == netlist.Capacitor {
			unit = "F"
		}
		t.Row(x.Ref, words.Stock(x.Value, unit), words.Part(x.Low, unit), words.Part(x.High, unit), x.Row,
			fmt.Sprintf("%.0f %%", 100*x.Share), fmt.Sprintf("%+.3f dB", x.DBPerPercent))
	}
	p.table(&t)
}
