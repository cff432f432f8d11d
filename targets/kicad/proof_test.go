package kicad_test

import (
	"context"
	"fmt"
	"os"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"bandwright/compiler"
	"bandwright/compiler/board"
	"bandwright/compiler/drawing"
	"bandwright/compiler/netlist"
	"bandwright/targets/kicad"
)

// boards are the specs whose drawings are proven: all that ship with a board, and those
// of written.
var boards = []string{"bittern", "dabchick", "heron", "siskin", "two_settings", "odd_names", "relays", "transistors", "switched", "pairs", "tones"}

var written = map[string]string{"two_settings": twoSettings, "odd_names": oddNames, "relays": relays, "transistors": transistors}

// twoSettings has four op-amps in a package, no source resistance, no build-out and two
// settings at one selector.
const twoSettings = `bandwright: 1
name: two_settings
title: "A ${title} with \"marks\""
settings: {room-size: [small, large], floor: [wood, stone, carpet]}
ways:
  low-end:
    filters:
      - low-shelf: {at: 100 Hz, gain: 3 dB, order: 1, when: {room-size: large, floor: [wood, carpet]}}
      - low-shelf: {at: 100 Hz, gain: 5 dB, order: 1, when: {room-size: small}}
  high-end: {polarity: inverted}
crossovers:
  - {between: [low-end, high-end], family: LR, order: 2, at: 900 Hz}
board:
  input: {balanced: true, source-impedance: 0 ohm}
  output: {build-out: 0 ohm}
  op-amp: {per-package: 4, output-resistance: 0}
`

// oddNames has ways that are called as other sheets are, and one op-amp in a package.
const oddNames = `bandwright: 1
name: odd_names
ways:
  common: {filters: [{low-pass: {at: 300 Hz, q: 0.7, order: 2}}]}
  supply-2: {}
  supply: {filters: [{high-pass: {at: 300 Hz, family: butterworth, order: 1}}], gain: 2 dB}
board: {op-amp: {per-package: 1}}
`

// relays has all that may stand around the stages, and transistors mutes of those.
const relays = `bandwright: 1
name: relays
ways:
  low: {}
  high: {}
crossovers:
  - {between: [low, high], family: LR, order: 4, at: 900 Hz}
board:
  bulk: 100 uF
  trim: 1 dB
  input: {balanced: true, coupling: 22 uF, rf-filter: 300 kHz, protection: clamp-diodes}
  output: {build-out: 100 ohm, mute: relay}
`

var transistors = strings.NewReplacer("name: relays", "name: transistors", "build-out: 100 ohm, mute: relay", "build-out: 470 ohm, coupling: 22 uF, mute: transistor").Replace(relays)

// builds are those that tests have asked for; each is compiled once and read only.
var builds = map[string]*compiler.Build{}

func compile(t testing.TB, name string) *compiler.Build {
	t.Helper()
	if b := builds[name]; b != nil {
		return b
	}
	src := []byte(written[name])
	if len(src) == 0 {
		var err error
		folder := "../../specs/"
		if name == "switched" || name == "pairs" || name == "tones" { // elements of stages, taps, and what feeds a filter
			folder = "../../compiler/board/testdata/"
		}
		if src, err = os.ReadFile(folder + name + ".yaml"); err != nil {
			t.Fatal(err)
		}
	}
	b, faults, err := compiler.Compile(context.Background(), name, src, os.DirFS("../../specs"))
	if err != nil || b == nil || b.Board == nil {
		t.Fatal(name, err, faults)
	}
	builds[name] = b
	return b
}

// emitted writes a board's drawing into a folder.
func emitted(t *testing.T, name string) (b *compiler.Build, folder string) {
	t.Helper()
	b = compile(t, name)
	files, err := kicad.Emit(b)
	if err != nil {
		t.Fatal(name, err)
	}
	return b, write(t, files)
}

// The suite's own check of electrical rules finds no error and has no warning.
func TestRulesAreKept(t *testing.T) {
	for _, name := range boards {
		_, folder := emitted(t, name)
		if out, ok := check(t, folder, name); !ok {
			t.Errorf("%s: %s", name, out)
		}
	}
}

func check(t *testing.T, folder, name string) (report string, ok bool) {
	t.Helper()
	out, ok := run(t, folder, "sch", "erc", "--severity-error", "--severity-warning", "--exit-code-violations", "-o", "rules.txt", name+".kicad_sch")
	text, err := os.ReadFile(folder + "/rules.txt")
	if err != nil {
		t.Fatal(out, err)
	}
	return string(text), ok
}

// A wire to a pin that is missing breaks the rules, on every sheet.
func TestRulesFindAMissingWire(t *testing.T) {
	b := compile(t, "dabchick")
	for k := range draw(t, b) {
		sheets := draw(t, b)
		d := &sheets[k]
		i := lonely(d)
		if i < 0 {
			t.Fatalf("the sheet %s has no wire to a pin alone", d.Name)
		}
		d.Wires = append(d.Wires[:i:i], d.Wires[i+1:]...)
		if report, ok := check(t, write(t, kicad.EmitSheets(b, sheets)), "dabchick"); ok {
			t.Errorf("a wire of the sheet %s is missing, and the rules are kept: %s", d.Name, report)
		}
	}
}

func draw(t *testing.T, b *compiler.Build) []drawing.Sheet {
	t.Helper()
	sheets, err := drawing.Draw(b.Board, b.Settings)
	if err != nil {
		t.Fatal(err)
	}
	return sheets
}

// lonely is a wire that ends at a pin of a resistor where nothing else is, or, on sheets
// without, at one of a capacitor; -1 where there is none.
func lonely(d *drawing.Sheet) int {
	ends := map[drawing.Point]int{}
	for _, w := range d.Wires {
		ends[w.From]++
		ends[w.To]++
	}
	for _, x := range d.Symbols {
		for _, p := range x.Pins {
			for i, w := range d.Wires {
				if (w.From == p.At || w.To == p.At) && ends[p.At] == 1 && x.Ref != "" {
					return i
				}
			}
		}
	}
	return -1
}

// The netlist that the suite finds is ours: the same parts with the same values, and
// the same connections, whatever the nodes are called.
func TestNetlistIsTheBoards(t *testing.T) {
	for _, name := range boards {
		b, folder := emitted(t, name)
		for _, fault := range differences(b, export(t, folder, name)) {
			t.Errorf("%s: %s", name, fault)
		}
	}
}

// The comparison finds a part with another value, and two nodes that are exchanged.
func TestComparisonBites(t *testing.T) {
	b, folder := emitted(t, "dabchick")
	e := export(t, folder, "dabchick")
	for i := range e.Components {
		for k, f := range e.Components[i].Fields {
			if f.Name == "Sim.Params" && strings.HasPrefix(e.Components[i].Ref, "R2") {
				e.Components[i].Fields[k].Text = "r=123"
			}
		}
	}
	if differences(b, e) == nil {
		t.Error("another value is not found")
	}
	e = export(t, folder, "dabchick")
	for i := range e.Nets {
		for k := range e.Nets {
			if x, y := e.Nets[i].Nodes, e.Nets[k].Nodes; i < k && len(x) > 1 && len(y) > 1 {
				x[0], y[0] = y[0], x[0]
				if differences(b, e) == nil {
					t.Fatalf("an exchange between %s and %s is not found", e.Nets[i].Name, e.Nets[k].Name)
				}
				x[0], y[0] = y[0], x[0]
				break
			}
		}
	}
}

// differences says what is not the same in a board and in an exported netlist.
func differences(b *compiler.Build, e exported) (faults []string) {
	fault := func(format string, args ...any) { faults = append(faults, fmt.Sprintf(format, args...)) }
	nets := map[string]string{} // by reference and pin
	for _, n := range e.Nets {
		for _, p := range n.Nodes {
			nets[p.Ref+" "+p.Pin] = n.Name
		}
	}
	values := map[string]string{} // by reference
	for _, c := range e.Components {
		values[c.Ref] = ""
		for _, f := range c.Fields {
			if f.Name == "Sim.Params" {
				values[c.Ref] = f.Text
			}
		}
	}
	ours, theirs := map[string]string{}, map[string]string{} // the other's name of a node
	same := func(node, pin string) {
		net, ok := nets[pin]
		switch {
		case !ok:
			fault("%s is not connected", pin)
		case ours[node] == "" && theirs[net] == "":
			ours[node], theirs[net] = net, node
		case ours[node] != net || theirs[net] != node:
			fault("%s is at %s, and %s at %s is at %s", pin, net, ours[node], node, theirs[net])
		}
	}
	known := map[string]bool{}
	pins := pinsOf(b)
	c := netlist.New()
	b.Board.Parts(c)
	for _, p := range c.Parts() {
		if at, ok := pins[p.Ref]; ok {
			known[at.ref] = true
			for i, n := range p.Nodes {
				same(c.Name(n), at.ref+" "+at.pins[i])
			}
			continue
		}
		known[p.Ref] = true
		switch p.Kind {
		case netlist.Resistor, netlist.Capacitor:
			if _, at, _ := strings.Cut(values[p.Ref], "="); at != netlist.Number(p.Value) {
				fault("%s is %s, want %s", p.Ref, at, netlist.Number(p.Value))
			}
		case netlist.Transistor:
			same(c.Name(p.Nodes[2]), p.Ref+" 3")
		case netlist.Contact: // of a relay, whose coil leads to the ground
			same(c.Name(p.Nodes[2]), p.Ref+" 3")
			same("0", p.Ref+" 4")
		}
		same(c.Name(p.Nodes[0]), p.Ref+" 1")
		same(c.Name(p.Nodes[1]), p.Ref+" 2")
	}
	selectorPins(b, known, same)
	for _, p := range b.Board.Packages {
		rails := pins["rails "+p.Ref].pins
		same(board.PlusRail, p.Ref+" "+rails[0])
		same(board.MinusRail, p.Ref+" "+rails[1])
	}
	outside := regexp.MustCompile(`^(V|J)`)
	for ref := range values {
		if !known[ref] && !outside.MatchString(ref) {
			fault("%s is no part of the board", ref)
		}
	}
	return faults
}

// selectorPins calls same for the nodes of every contact and its pins, and notes selectors.
func selectorPins(b *compiler.Build, known map[string]bool, same func(node, pin string)) {
	for _, k := range b.Board.Contacts() {
		ref := strings.TrimRight(k.Position.Selector, "ABCDEFGHIJ")
		letter := "A"
		if known[ref] = true; ref != k.Position.Selector {
			letter = strings.TrimPrefix(k.Position.Selector, ref)
		}
		for i, pick := range k.Position.Pick { // all the positions that close it
			if int(pick) == k.Alt {
				same(strings.ToLower(k.A), fmt.Sprintf("%s %s%d", ref, letter, i+1))
			}
		}
		same(strings.ToLower(k.B), ref+" "+letter)
	}
}

// at is a unit of a package: its pins in the order of +, -, output.
type at struct {
	ref  string
	pins [3]string
}

// pinsOf are the pins of every op-amp, and of the supply of every package, as data
// sheets of packages with one, two and four op-amps have them.
func pinsOf(b *compiler.Build) map[string]at {
	layouts := map[int][][3]string{
		1: {{"3", "2", "6"}, {"7", "4"}},
		2: {{"3", "2", "1"}, {"5", "6", "7"}, {"8", "4"}},
		4: {{"3", "2", "1"}, {"5", "6", "7"}, {"10", "9", "8"}, {"12", "13", "14"}, {"4", "11"}},
	}
	per := b.Spec.Board.OpAmp.PerPackage
	out := map[string]at{}
	for _, p := range b.Board.Packages {
		for k := range per {
			ref := p.Ref
			if per > 1 {
				ref += string(rune('A' + k))
			}
			out[ref] = at{p.Ref, layouts[per][k]}
		}
		out["rails "+p.Ref] = at{p.Ref, layouts[per][per]}
	}
	return out
}

// The values that are drawn are those that are simulated.
func TestDrawnValues(t *testing.T) {
	b, folder := emitted(t, "heron")
	scale := map[string]string{"R": "", "k": "e3", "M": "e6", "p": "e-12", "n": "e-9", "u": "e-6", "m": "e-3"}
	code := regexp.MustCompile(`^(\d+)([RkMpnum])(\d*)$`)
	seen := 0
	for _, c := range export(t, folder, b.Spec.Name).Components {
		m := code.FindStringSubmatch(c.Value)
		if m == nil {
			continue
		}
		seen++
		drawn, err := strconv.ParseFloat(m[1]+"."+m[3]+"0"+scale[m[2]], 64)
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range c.Fields {
			if f.Name == "Sim.Params" && f.Text[2:] != netlist.Number(drawn) {
				t.Errorf("%s is drawn as %s and simulated with %s", c.Ref, c.Value, f.Text)
			}
		}
	}
	if seen < 50 {
		t.Errorf("only %d values were looked at", seen)
	}
}
