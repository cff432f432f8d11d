package drawing_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"bandwright/biquad"
	"bandwright/compiler/board"
	"bandwright/compiler/circuit"
	"bandwright/compiler/drawing"
	"bandwright/compiler/drawing/drawingtest"
	"bandwright/compiler/language"
	"bandwright/compiler/netlist"
	"bandwright/compiler/stage"
	"bandwright/compiler/verify"
)

// bench makes boards by hand: stages one behind the other, every part fitted but those
// that are left out.
type bench struct {
	numbers, amps map[int]int // of stages and op-amps, by block
	packages      []board.Package
	per           int
}

func newBench(per int) *bench { return &bench{numbers: map[int]int{}, amps: map[int]int{}, per: per} }

// stage is one of a topology with values of five letters, from one node.
func (b *bench) stage(block int, name, in string, without ...string) *board.Stage {
	t, _ := circuit.ByName(name)
	return b.of(block, t, in, without...)
}

// of is stage of a topology.
func (b *bench) of(block int, t *circuit.Topology, in string, without ...string) *board.Stage {
	b.numbers[block]++
	n := b.numbers[block]
	s := &board.Stage{Block: block, Number: n, From: "ways.low filters[0] peak", In: in, InN: strings.TrimSuffix(in, "_p") + "_n", Out: fmt.Sprintf("s%d%02d", block, n)}
	s.Candidate = stage.Candidate{Topology: t}
	count := map[netlist.Kind]int{}
	for _, e := range t.Template {
		count[e.Kind]++
		switch {
		case e.Kind == netlist.Amplifier:
			s.Refs = append(s.Refs, b.amp(block))
			continue
		case slices.Contains(without, e.Ref):
			s.Refs, s.Values = append(s.Refs, ""), append(s.Values, 0)
			continue
		}
		letter, value := "R", 12.34e3
		if e.Kind == netlist.Capacitor {
			letter, value = "C", 68.25e-9
		}
		s.Refs = append(s.Refs, fmt.Sprintf("%s%d%02d%02d", letter, block, n, count[e.Kind]))
		s.Values = append(s.Values, value)
	}
	return s
}

// amp is the next op-amp of a block.
func (b *bench) amp(block int) string {
	n, k := b.amps[block]/b.per, b.amps[block]%b.per
	b.amps[block]++
	ref := fmt.Sprintf("U%d%02d", block, n+1)
	if k == 0 {
		p := board.Package{Ref: ref}
		for i := range b.per {
			p.Spare = append(p.Spare, unitName(ref, i, b.per))
		}
		b.packages = append(b.packages, p)
	}
	last := slices.IndexFunc(b.packages, func(p board.Package) bool { return p.Ref == ref })
	p := &b.packages[last]
	p.Units, p.Spare = append(p.Units, p.Spare[0]), p.Spare[1:]
	return unitName(ref, k, b.per)
}

func unitName(ref string, k, per int) string {
	if per == 1 {
		return ref
	}
	return ref + string(rune('A'+k))
}

// fixed is a position with one alternative.
func fixed(in string, s ...*board.Stage) board.Position {
	p := board.Position{Slot: biquad.Fixed(board.Alternative{Stages: s, Out: in}, ""), In: in, Out: in}
	if len(s) > 0 {
		p.Out = s[len(s)-1].Out
		p.Alt[0].Out = p.Out
	}
	return p
}

// board is one with an input stage and one way of the positions.
func (b *bench) board(input *board.Stage, ends, more []board.Part, positions ...board.Position) *board.Board {
	at := input.Out
	if n := len(positions); n > 0 {
		at = positions[n-1].Out
	}
	out := append([]board.Part{
		{Ref: "R20001", Kind: netlist.Resistor, Value: 100, Use: board.BuildOut, A: at, B: "out_low_b"},
		{Ref: "C20001", Kind: netlist.Capacitor, Value: 22e-6, Use: board.Coupling, A: "out_low_b", B: "out_low"},
		{Ref: "R20002", Kind: netlist.Resistor, Value: 100e3, Use: board.Discharge, A: "out_low", B: "0"},
		{Ref: "R20003", Kind: netlist.Resistor, Value: 10e3, Use: board.Load, A: "out_low", B: "0", Outside: true},
	}, more...)
	x := &board.Board{
		Spec:   &language.Board{SupplyV: 15, DecouplingF: 100e-9, Input: language.BoardInput{Balanced: input.Topology.Balanced}},
		OpAmp:  netlist.OpAmp{Ideal: true},
		Common: board.Chain{Block: 1, Positions: []board.Position{fixed(input.In, input)}, Ends: ends, In: input.In, Out: input.Out},
		Ways: []board.Way{{Name: "low", Chain: board.Chain{Block: 2, Positions: positions, Ends: out,
			In: input.Out, Out: "out_low"}}},
		Packages: b.packages,
	}
	for _, p := range b.packages {
		n := p.Ref[1:]
		x.Supply = append(x.Supply, board.Part{Ref: "CP" + n, Kind: netlist.Capacitor, Value: 100e-9, Use: board.Decoupling, A: board.PlusRail, B: "0"},
			board.Part{Ref: "CN" + n, Kind: netlist.Capacitor, Value: 100e-9, Use: board.Decoupling, A: "0", B: board.MinusRail})
	}
	return x
}

// legs are the parts of an input, one leg or two.
func legs(balanced, source bool) []board.Part {
	var out []board.Part
	for i, leg := range []string{"_p", "_n"} {
		if !balanced {
			leg = ""
		}
		at := "vin" + leg
		add := func(p board.Part) { out = append(out, p) }
		if source {
			add(board.Part{Ref: fmt.Sprintf("R1000%d", 2*i+1), Kind: netlist.Resistor, Value: 50, Use: board.SourceResistance, A: at, B: "in" + leg, Outside: true})
			add(board.Part{Ref: fmt.Sprintf("C1000%d", i+1), Kind: netlist.Capacitor, Value: 10e-6, Use: board.Coupling, A: "in" + leg, B: "inc" + leg})
			at = "inc" + leg
		}
		add(board.Part{Ref: fmt.Sprintf("R1000%d", 2*i+2), Kind: netlist.Resistor, Value: 100e3, Use: board.Bias, A: at, B: "0"})
		if !balanced {
			break
		}
	}
	return out
}

// check draws and judges.
func check(t *testing.T, what string, b *board.Board, settings []verify.Setting) []drawing.Sheet {
	t.Helper()
	sheets, err := drawing.Draw(b, settings)
	if err != nil {
		t.Errorf("%s: %v", what, err)
		return nil
	}
	for _, fault := range drawingtest.Faults(b, sheets) {
		t.Errorf("%s: %s", what, fault)
	}
	return sheets
}

// Every topology alone on a board, with all parts and without each that may be left out.
func TestEveryTopologyIsDrawn(t *testing.T) {
	for _, top := range circuit.Topologies {
		leave := [][]string{nil}
		for _, e := range top.Parts() {
			if e.Optional {
				leave = append(leave, []string{e.Ref})
			}
		}
		for _, without := range leave {
			b := newBench(2)
			if top.Balanced {
				input := b.stage(1, top.Name, "inc_p")
				check(t, top.Name, b.board(input, legs(true, true), nil), nil)
				continue
			}
			input := b.stage(1, "follower", "vin")
			own := b.stage(2, top.Name, input.Out, without...)
			check(t, fmt.Sprint(top.Name, " without ", without), b.board(input, legs(false, false), nil, fixed(input.Out, own)), nil)
		}
	}
}

// Every stage of which a selector switches an element, with the states in either order, and
// strings of resistors with few and many taps.
func TestSwitchedStagesAreDrawn(t *testing.T) {
	draw := func(what string, sw *circuit.Switched, order ...int) {
		b := newBench(2)
		input := b.stage(1, "follower", "vin")
		body := b.of(2, sw.Topology, input.Out)
		body.Switches = true
		p := board.Position{Selector: "S201", In: input.Out, Out: body.Out}
		choices := []string{}
		for k, at := range order {
			s := *body
			s.Candidate.Topology, s.Body, s.Switches, s.Throw = sw.States[at].Topology, body, false, sw.States[at].Throw
			p.Alt = append(p.Alt, board.Alternative{Stages: []*board.Stage{&s}, Out: body.Out})
			p.Pick = append(p.Pick, uint8(k))
			choices = append(choices, fmt.Sprint(k, " dB"))
		}
		p.By = []biquad.Axis{{Setting: 0, Choices: len(order)}}
		check(t, what, b.board(input, legs(false, false), nil, p), []verify.Setting{{Name: "trim", Choices: choices}})
	}
	for _, top := range circuit.Topologies {
		if top.Opens != "" {
			draw(top.Name, top.Opened(), 0, 1)
			draw(top.Name, top.Opened(), 1, 0)
		}
	}
	low := biquad.Analog{W0: 1000, B: [3]float64{2, 2, 1}, A: [3]float64{1, 1.5, 1}}
	high := biquad.Analog{W0: 1000, B: [3]float64{1, 2, 2}, A: [3]float64{1, 1.5, 1}}
	peak := biquad.Analog{W0: 1000, B: [3]float64{1, 2, 1}, A: [3]float64{1, 1, 1}}
	inverse := func(s biquad.Analog) biquad.Analog { s.A, s.B = s.B, s.A; return s }
	for what, sections := range map[string][]biquad.Analog{
		"sum of low shelves":   {low, inverse(low)},
		"sum fed back":         {inverse(high), inverse(low)},
		"sum fed back first":   {peak, low, peak, high},
		"sum of all":           {low, peak, high, inverse(low), inverse(peak), inverse(high)},
		"sum fed forward last": {inverse(low), inverse(low), inverse(peak)},
	} {
		var order, flat []int
		for i := range sections {
			order = append(order, (i+1)%len(sections))
		}
		flat = append([]int{len(sections)}, order...)
		draw(what, circuit.SwitchedSum(sections), order...)
		draw(what+", or none", circuit.SwitchedSum(sections), flat...)
	}
	for what, one := range map[string]biquad.Analog{"low shelf": low, "high shelf": high, "peak": peak} {
		pair := []biquad.Analog{inverse(one), one}
		for _, order := range [][]int{{0, 1, 2}, {2, 0, 1}, {1, 2, 0}} {
			draw("pair of a "+what+", or none", circuit.SwitchedPair(pair, true), order...)
		}
		draw("pair of a "+what, circuit.SwitchedPair(pair, false), 0, 1)
		draw("pair of a "+what, circuit.SwitchedPair(pair, false), 1, 0)
	}
	falling := biquad.Analog{W0: 1000, B: [3]float64{2, 1}, A: [3]float64{1, 1}}
	rising := biquad.Analog{W0: 1000, B: [3]float64{1, 2}, A: [3]float64{1, 1}}
	for what, one := range map[string]biquad.Analog{"low shelf": low, "high shelf": high, "peak": peak, "falling shelf": falling, "rising shelf": rising} {
		of := circuit.TappedFilter
		if one.Order() == 1 {
			of = circuit.TappedShelf
		}
		more := one
		for k := range more.B {
			more.B[k] += 0.5 * (one.B[k] - one.A[k])
		}
		two := []biquad.Analog{one, more}
		draw("taps of two of a "+what, of.Stage(two), 0, 1)
		four := []biquad.Analog{one, more, inverse(one), inverse(more)}
		draw("taps of a "+what+", or none", of.Stage(four), 4, 0, 1, 2, 3)
		draw("taps of a "+what, of.Stage(four), 1, 0, 2, 3)
	}
	for _, parts := range []int{0, 1, 2, 3} {
		for _, n := range []int{2, 3, 12} {
			var order []int
			for i := range n {
				order = append(order, (i+1)%n)
			}
			draw(fmt.Sprint(n, " taps, ", parts, " parts more"), circuit.TappedOf(n, n+1+parts), order...)
		}
	}
}

// A chain that no paper is wide enough for continues in rows; three alternatives, one of
// them a wire, stand before a selector with a bleed; four op-amps a package.
func TestChainsAndSelectors(t *testing.T) {
	b := newBench(4)
	input := b.stage(1, "follower", "inc")
	var positions []board.Position
	at := input.Out
	for k := range 30 {
		p := fixed(at, b.stage(2, circuit.Topologies[10+k%15].Name, at))
		positions = append(positions, p)
		at = p.Out
	}
	choice := board.Position{Selector: "S231", In: at, Out: "p231"}
	first := b.stage(2, "bridged-t", at)
	second := b.stage(2, "inverting-gain", first.Out)
	third := b.stage(2, "fliege", at)
	choice.Slot = biquad.Slot[board.Alternative]{Alt: []board.Alternative{{Out: at}, {Stages: []*board.Stage{first, second}, Out: second.Out}, {Stages: []*board.Stage{third}, Out: third.Out}},
		By: []biquad.Axis{{Setting: 0, Choices: 2}, {Setting: 1, Choices: 2}}, Pick: []uint8{0, 0, 1, 2}}
	positions = append(positions, choice)
	bleed := board.Part{Ref: "R20004", Kind: netlist.Resistor, Value: 100e3, Use: board.Bleed, Of: "S231", A: "p231", B: "0"}
	x := b.board(input, legs(false, true), []board.Part{bleed}, positions...)
	x.Ways[0].Name = "low-way-of-a-long-name"
	settings := []verify.Setting{{Name: "place-in-the-listening-room", Choices: []string{"free", "wall"}}, {Name: "grille", Choices: []string{"none", "woven"}}}
	sheets := check(t, "a long chain", x, settings)
	rows := 0
	for _, l := range sheets[1].Labels {
		if l.Kind == drawing.Local {
			rows++
		}
	}
	if rows < 4 || sheets[1].Paper == "A4" {
		t.Errorf("%d ends of rows on %s", rows, sheets[1].Paper)
	}
	want := "S231 position 1 and 2: place-in-the-listening-room free and grille none, or place-in-the-listening-room free and grille woven"
	if !slices.ContainsFunc(sheets[1].Texts, func(x drawing.Text) bool { return x.S == want }) {
		t.Errorf("no text %q", want)
	}
	x.Ways[0].Positions = slices.Repeat(positions[:1], 0)
	x.Ways[0].Ends = []board.Part{
		{Ref: "R20001", Kind: netlist.Resistor, Value: 1e-3, Use: board.Wire, A: input.Out, B: "out_low", Outside: true},
		{Ref: "R20002", Kind: netlist.Resistor, Value: 10e3, Use: board.Load, A: "out_low", B: "0", Outside: true},
	}
	for i := range x.Packages { // what the way had is spare now
		p := &x.Packages[i]
		if p.Ref != "U101" {
			p.Units, p.Spare = nil, p.All()
		}
	}
	check(t, "a plain wire", x, settings)
}

// An RF filter, clamp diodes, either mute and bulk capacitors.
func TestWhatProtects(t *testing.T) {
	for _, mute := range []language.Mute{language.RelayMute, language.TransistorMute} {
		b := newBench(2)
		input := b.stage(1, "buffered-difference-amplifier", "inc_p")
		var ends []board.Part
		n := 0
		for _, leg := range []string{"_p", "_n"} {
			add := func(letter string, p board.Part) {
				n++
				p.Ref = fmt.Sprintf("%s100%02d", letter, n)
				ends = append(ends, p)
			}
			add("R", board.Part{Kind: netlist.Resistor, Value: 50, Use: board.SourceResistance, A: "vin" + leg, B: "in" + leg, Outside: true})
			add("R", board.Part{Kind: netlist.Resistor, Value: 470, Use: board.SeriesResistance, A: "in" + leg, B: "inf" + leg})
			add("C", board.Part{Kind: netlist.Capacitor, Value: 1e-9, Use: board.RFFilter, A: "inf" + leg, B: "0"})
			add("D", board.Part{Kind: netlist.Diode, Use: board.Clamp, A: "inf" + leg, B: board.PlusRail})
			add("D", board.Part{Kind: netlist.Diode, Use: board.Clamp, A: board.MinusRail, B: "inf" + leg})
			add("C", board.Part{Kind: netlist.Capacitor, Value: 22e-6, Use: board.Coupling, A: "inf" + leg, B: "inc" + leg})
			add("R", board.Part{Kind: netlist.Resistor, Value: 100e3, Use: board.Bias, A: "inc" + leg, B: "0"})
		}
		x := b.board(input, ends, nil)
		x.Spec.Output.Mute = mute
		out := x.Ways[0].Ends
		if mute == language.RelayMute {
			out = append(out, board.Part{Ref: "K20001", Kind: netlist.Contact, Use: board.Muting, A: "out_low", B: "0", Control: board.MuteControl},
				board.Part{Ref: "D20001", Kind: netlist.Diode, Use: board.Flyback, A: "0", B: board.MuteControl})
		} else {
			out[0].A = "out_low_m"
			out = append(out, board.Part{Ref: "R20005", Kind: netlist.Resistor, Value: 100, Use: board.BuildOut, A: input.Out, B: "out_low_m"},
				board.Part{Ref: "R20006", Kind: netlist.Resistor, Value: 100e3, Use: board.Gate, A: board.MuteControl, B: "out_low_g"},
				board.Part{Ref: "Q20001", Kind: netlist.Transistor, Use: board.Muting, A: "out_low_m", B: "0", Control: "out_low_g"},
				board.Part{Ref: "Q20002", Kind: netlist.Transistor, Use: board.Muting, A: "out_low", B: "0", Control: "out_low_g"})
		}
		x.Ways[0].Ends = out
		x.Supply = append(x.Supply, board.Part{Ref: "CP100", Kind: netlist.Capacitor, Value: 47e-6, Use: board.Bulk, A: board.PlusRail, B: "0"},
			board.Part{Ref: "CN100", Kind: netlist.Capacitor, Value: 47e-6, Use: board.Bulk, A: "0", B: board.MinusRail})
		check(t, fmt.Sprint("mute ", mute), x, nil)
	}
}

// The judge finds what it is for.
func TestJudgeBites(t *testing.T) {
	b := newBench(1)
	input := b.stage(1, "buffered-difference-amplifier", "inc_p")
	x := b.board(input, legs(true, true), nil, fixed(input.Out, b.stage(2, "sallen-key-low-pass", input.Out)))
	for what, spoil := range map[string]func(s *drawing.Sheet){
		"a lost wire":     func(s *drawing.Sheet) { s.Wires = s.Wires[1:] },
		"a lost part":     func(s *drawing.Sheet) { s.Symbols = s.Symbols[1:] },
		"a part twice":    func(s *drawing.Sheet) { s.Symbols = append(s.Symbols, s.Symbols[0]) },
		"a lost mark":     func(s *drawing.Sheet) { s.Junctions = s.Junctions[1:] },
		"a lost label":    func(s *drawing.Sheet) { s.Labels = nil },
		"another name":    func(s *drawing.Sheet) { s.Labels[0].Node = "x" },
		"a turned part":   func(s *drawing.Sheet) { s.Symbols[0].Turn = 2 },
		"another value":   func(s *drawing.Sheet) { s.Symbols[0].Amount *= 1.01 },
		"a text on a row": func(s *drawing.Sheet) { s.Texts[0].At = s.Symbols[0].Place(drawing.Fine{}) },
		"a wire across": func(s *drawing.Sheet) {
			s.Wires = append(s.Wires, drawing.Wire{From: drawing.Point{X: 10, Y: 60}, To: drawing.Point{X: 200, Y: 60}})
		},
		"a small paper": func(s *drawing.Sheet) { s.Size.X = 60 },
	} {
		sheets, err := drawing.Draw(x, nil)
		if err != nil {
			t.Fatal(err)
		}
		spoil(&sheets[1])
		if drawingtest.Faults(x, sheets) == nil {
			t.Errorf("%s is not found", what)
		}
	}
}

// Values are written as IEC 60062 has it.
func TestCodes(t *testing.T) {
	b := newBench(2)
	input := b.stage(1, "follower", "vin")
	s := b.stage(2, "inverting-low-pass", input.Out)
	x := b.board(input, legs(false, false), nil, fixed(input.Out, s))
	for _, c := range []struct {
		at    int
		value float64
		want  string
	}{{0, 2050, "2k05"}, {0, 100, "100R"}, {0, 4.7, "4R7"}, {0, 1e6, "1M"}, {2, 4.7e-9, "4n7"}, {2, 22e-6, "22u"}, {2, 680e-12, "680p"}} {
		s.Values[c.at] = c.value
		sheets, err := drawing.Draw(x, nil)
		if err != nil {
			t.Fatal(err)
		}
		for _, y := range sheets[1].Symbols {
			if y.Ref == s.Refs[c.at] && y.ValueAt.S != c.want {
				t.Errorf("%g is written %s, want %s", c.value, y.ValueAt.S, c.want)
			}
		}
	}
}
