// Package netlist emits board/NAME.cir, the whole board as a SPICE netlist that
// ngspice runs as it stands: one source vin of 1 V, an output node out_WAY for
// each way, and a parameter set_SETTING for each setting, which holds the index
// of its choice. A finished board goes in, text comes out. The one invariant:
// the parts are those that the board was judged by.
//
// Read first: Emit.
package netlist

import (
	"fmt"
	"strings"

	"bandwright/compiler"
	"bandwright/compiler/board"
	parts "bandwright/compiler/netlist"
	"bandwright/compiler/words"
)

// temperatureK is where ngspice stands by itself, 27 °C.
const temperatureK = 300.15

// width is the greatest length of a comment, in characters.
const width = 100

// Emit is the netlist of a build's board; nothing where the spec has none.
func Emit(b *compiler.Build) ([]compiler.File, error) {
	if b.Board == nil {
		return nil, nil
	}
	c := parts.New()
	b.Board.OnBoard(c)
	if err := c.Check(); err != nil {
		return nil, err
	}
	var w writer
	w.line("* %s", title(b))
	w.comment("spec SHA-256 " + b.SHA256)
	w.comment("Every part of the board at its nominal value. out_WAY is a way's output, across its load.")
	if len(b.Settings) > 0 {
		w.comment("Settings: set each parameter to the index of a choice, 0 for the first.")
	}
	for _, s := range b.Settings {
		var list []string
		for i, choice := range s.Choices {
			list = append(list, fmt.Sprintf("%d %s", i, choice))
		}
		w.comment(s.Name + ": " + strings.Join(list, ", "))
		w.line(".param %s=0", parameter(s.Name))
	}
	w.line("")
	w.outside(b)
	w.line("")
	w.line("* on the board")
	w.stages(b, parts.SPICE(c, temperatureK))
	w.contacts(b)
	w.line("")
	var out []string
	for _, way := range b.Board.Ways {
		out = append(out, fmt.Sprintf("vdb(%s) vp(%s)", way.Out, way.Out))
	}
	w.line(".ac dec 20 %s %s", parts.Number(b.Promises.LowHz), parts.Number(b.Promises.HighHz))
	w.line(".print ac %s", strings.Join(out, " "))
	w.line(".end")
	return []compiler.File{{Name: "board/" + b.Spec.Name + ".cir", Data: []byte(w.text.String())}}, nil
}

// contacts writes those of each selector, pole by pole: each is named by the pole and by the
// first position that it is closed in.
func (w *writer) contacts(b *compiler.Build) {
	all := b.Board.Contacts()
	for _, s := range b.Board.Selectors() {
		w.comment(fmt.Sprintf("selector %s, %s: %s", s.Ref, s.String(), s.Words(b.Settings)))
		for _, p := range s.Poles {
			w.comment(b.Board.Works(p))
			for _, k := range all {
				if k.Position == p.Position {
					w.line("R%s %s %s {%s ? %s : %s}", k.Ref, k.A, k.B, closed(b, k), parts.Number(board.ClosedOhm), parts.Number(board.OpenOhm))
				}
			}
		}
	}
}

// outside writes what is no part of the board: the source, the supply, the control of the
// mutes and what follows each output.
func (w *writer) outside(b *compiler.Build) {
	w.line("* outside the board")
	w.line("vin vin 0 DC 0 AC 1")
	nodes, volts := b.Board.Sources()
	for i, n := range nodes {
		if n != "vin" {
			w.line("E%s %s 0 vin 0 %s", n, n, parts.Number(volts[i]))
		}
	}
	w.line(".param supply=%s", parts.Number(b.Spec.Board.SupplyV))
	w.line("V%s %s 0 DC {supply}", board.PlusRail, board.PlusRail)
	w.line("V%s %s 0 DC {-supply}", board.MinusRail, board.MinusRail)
	if v := b.Board.MuteV(); v != 0 {
		w.comment("The control of the mutes gives so many volts to play, 0 V with mute=1 or without supply.")
		w.line(".param mute=0")
		w.line("V%s %s 0 DC {(mute==0 && supply>0) ? %s : 0}", board.MuteControl, board.MuteControl, parts.Number(v))
	}
	c := parts.New()
	b.Board.Outside(c)
	w.text.WriteString(parts.SPICE(c, temperatureK))
}

func title(b *compiler.Build) string {
	s := b.Spec.Name + ", board"
	if b.Spec.Revision != "" {
		s += ", revision " + b.Spec.Revision
	}
	return s
}

// parameter is the SPICE parameter of a setting.
func parameter(setting string) string { return "set_" + strings.ReplaceAll(setting, "-", "_") }

// closed is the condition under which a contact is closed.
func closed(b *compiler.Build, k board.Contact) string {
	p := k.Position
	var any []string
	for _, choices := range p.Choices(k.Alt) {
		var all []string
		for a, choice := range choices {
			all = append(all, fmt.Sprintf("%s==%d", parameter(b.Settings[p.By[a].Setting].Name), choice))
		}
		any = append(any, "("+strings.Join(all, " && ")+")")
	}
	if any == nil {
		return "(0==1)"
	}
	return "(" + strings.Join(any, " || ") + ")"
}

type writer struct{ text strings.Builder }

func (w *writer) line(format string, args ...any) { fmt.Fprintf(&w.text, format+"\n", args...) }

func (w *writer) comment(s string) {
	for _, l := range words.Wrap(s, "* ", "*   ", width) {
		w.line("%s", l)
	}
}

// stages writes the element lines with a comment before each stage.
func (w *writer) stages(b *compiler.Build, lines string) {
	heads := map[string]string{} // by the first reference of a stage
	for _, c := range b.Board.Chains() {
		for _, s := range c.Built() {
			for _, ref := range s.Refs {
				if ref != "" {
					heads[ref] = fmt.Sprintf("%d.%02d %s: %s", s.Block, s.Number, s.Topology.Name, s.From)
					break
				}
			}
		}
		for _, p := range c.Ends {
			if p.Outside {
				continue
			}
			heads[p.Ref] = "input"
			if c != &b.Board.Common {
				heads[p.Ref] = fmt.Sprintf("output of %s", b.Board.NameOf(c))
			}
			break
		}
	}
	for _, p := range b.Board.Supply[:min(1, len(b.Board.Supply))] {
		heads[p.Ref] = "supply: " + board.PlusRail + " and " + board.MinusRail
	}
	trimmers := w.trimmed(b.Board)
	for l := range strings.Lines(lines) {
		name, _, _ := strings.Cut(l, " ")
		if h, ok := heads[reference(name)]; ok {
			w.line("* %s", words.Cut(h, width-2))
		}
		w.text.WriteString(trimmers.Replace(l))
	}
}

// trimmed makes parameters of the trimmers, and has them stand in their lines.
func (w *writer) trimmed(b *board.Board) *strings.Replacer {
	var pairs []string
	for _, way := range b.Ways {
		for _, p := range way.Ends {
			if p.Use != board.Trim {
				continue
			}
			if pairs == nil {
				w.comment(fmt.Sprintf("Trimmers of %s: the part of it that is in series, 0 to 1, for the level in the middle.", words.Stock(p.TrackOhm, "ohm")))
			}
			name := "trim" + strings.TrimPrefix(way.Out, "out")
			w.line(".param %s=%s", name, parts.Number(p.Value/p.TrackOhm))
			line := p.Ref + " " + strings.ToLower(p.A+" "+p.B) + " "
			pairs = append(pairs, line+parts.Number(p.Value)+"\n", fmt.Sprintf("%s{%s*%s}\n", line, name, parts.Number(p.TrackOhm)))
		}
	}
	return strings.NewReplacer(pairs...)
}

// reference is that of an element line: SPICE wants another letter before some.
func reference(name string) string {
	for _, x := range []string{"XU", "RK", "JQ"} {
		if strings.HasPrefix(name, x) {
			return name[1:]
		}
	}
	return name
}
