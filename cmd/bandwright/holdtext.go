package main

import (
	"fmt"
	"math"
	"strings"

	"bandwright/compiler"
	"bandwright/compiler/board"
	"bandwright/compiler/language"
	"bandwright/compiler/netlist"
	"bandwright/compiler/verify"
	"bandwright/compiler/words"
)

// paragraph collects lines that fit the page.
type paragraph struct{ lines []string }

func (p *paragraph) add(text string) { p.wrap(text, "") }

func (p *paragraph) item(text string) { p.wrap(text, "* ") }

func (p *paragraph) wrap(text, first string) {
	p.lines = append(p.lines, words.Wrap(text, first, "  ", summaryWidth)...)
}

func (p *paragraph) String() string { return strings.Join(p.lines, "\n") + "\n" }

// said is what became of a board that was written, or that was left as it is.
func (v Hold) said(b *compiler.Build, held *language.Held, file string, same bool) string {
	var p paragraph
	before, _ := language.ParseHeld(file, b.Spec.Board.Held.Text, compiler.Language())
	k := b.Board.Kept
	switch {
	case before == nil:
		p.add(fmt.Sprintf("the board of %s: %s", b.Spec.Name, size(held)))
		p.few(b)
	case k == nil:
		p.add("the whole board was chosen anew: " + differing(before, held, nil))
		p.few(b)
	case v.Anew:
		p.add(words.List(v.Ways) + " chosen anew: " + differing(before, held, v.Ways))
		p.add("of the other stages " + rest(k))
	case k.Count() == 0 && k.Ends == nil:
		p.add("the board stands as held: no part changed")
	default:
		p.add(k.Head())
	}
	if k != nil {
		for _, text := range k.Lines() {
			p.item(text)
		}
	}
	p.broken(b)
	if same {
		p.add(file + " says so already: it was not touched")
	} else {
		p.add("wrote " + file)
	}
	return p.String()
}

// few says how many different values a board has that was laid out with few.
func (p *paragraph) few(b *compiler.Build) {
	if text := b.FewSaid(); text != "" {
		if exact, _ := b.Board.Reduced(); b.Spec.Board.FewUnsaid && b.Board.DistinctValues() < exact {
			text += "; it is not the board that the spec has without `held`: where that one is built already, set `few-values: off` and call `hold` with --anew"
		}
		p.item(text)
	}
}

// rest says what became of the stages that were not chosen anew.
func rest(k *board.Kept) string {
	if n := k.Count(); n > 0 {
		return words.Count(n, "part", "parts") + " changed"
	}
	return "no part changed"
}

// differing says how many parts of some chains, of all where none is named, are others
// than before.
func differing(before, now *language.Held, chains []string) string {
	was := before.Parts(chains)
	all := now.Parts(chains)
	same := 0
	for ref, value := range all {
		if was[ref] == value {
			same++
		}
	}
	return fmt.Sprintf("%d of %s are others", len(all)-same, words.Count(len(all), "resistor and capacitor", "resistors and capacitors"))
}

// size counts what a board is built of.
func size(h *language.Held) string {
	stages := 0
	for _, c := range h.Chains() {
		for _, place := range c.Places {
			for _, a := range place.Alternatives {
				stages += len(a)
			}
		}
	}
	return words.Count(stages, "stage", "stages") + ", " + words.Count(len(h.Parts(nil)), "resistor and capacitor", "resistors and capacitors")
}

// broken says which promises the board breaks.
func (p *paragraph) broken(b *compiler.Build) {
	breaks := verify.VerdictOn(ofBoard(b)).Breaks
	for i, x := range breaks {
		if i == breaksShown {
			p.item(fmt.Sprintf("and %d more", len(breaks)-breaksShown))
			break
		}
		text := "BROKEN: " + x.Worst.Head() + ": " + x.Worst.Where()
		if x.Worst.Remedy != "" {
			text += "; to keep it: " + x.Worst.Remedy
		}
		p.item(text)
	}
}

// hits are the parts of a board that have a value that is gone, by what has them.
type hits []struct {
	where, refs string
	around      bool // of an input, an output or a selector
}

// hit finds them.
func hit(b *board.Board, gone []board.Value) (out hits) {
	add := func(where string, refs []string, around bool) {
		if refs != nil {
			out = append(out, struct {
				where, refs string
				around      bool
			}{where, words.List(refs), around})
		}
	}
	lost := func(kind netlist.Kind, value float64) bool {
		for _, g := range gone {
			if g.Kind == kind && g.Value == value {
				return true
			}
		}
		return false
	}
	for _, c := range b.Chains() {
		for _, s := range c.Built() {
			var refs []string
			for _, p := range s.Placed() {
				if lost(p.Kind, p.Value) {
					refs = append(refs, p.Ref)
				}
			}
			add(fmt.Sprintf("%s stage %d", b.NameOf(c), s.Number), refs, false)
		}
		for _, p := range c.Ends {
			if !p.Outside && lost(p.Kind, p.Value) {
				add(fmt.Sprintf("%s, %s", b.NameOf(c), p.Use), []string{p.Ref}, true)
			}
		}
	}
	return out
}

// withoutText says what happens to a board when values are gone: now and then.
func withoutText(now, then *compiler.Build, gone []board.Value, hits hits) string {
	var p paragraph
	var values []string
	for _, g := range gone {
		values = append(values, g.String())
	}
	list := words.List(values)
	if len(hits) == 0 {
		p.add("no part of the board is " + strings.Join(values, " or ") + ": nothing changes")
		return p.String()
	}
	p.add(fmt.Sprintf("without %s these have to change:", list))
	around := false
	for _, h := range hits {
		p.item(h.where + ": " + h.refs)
		around = around || h.around
	}
	if around {
		p.add("around the stages nothing is chosen here: coupling, build-out and trim are what the spec says; other parts may be changed by hand in the file that holds the board")
	}
	p.lines = append(p.lines, "")
	k := then.Board.Kept
	if n := k.Count(); n > 0 {
		p.add(fmt.Sprintf("the fewest changes: %s, %d stay", words.Count(n, "part", "parts"), k.Parts))
	} else {
		p.add("no part of a stage changes")
	}
	for _, text := range k.Lines() {
		p.item(text)
	}
	p.lines = append(p.lines, "")
	p.lines = append(p.lines, costs(now, then)...)
	p.lines = append(p.lines, "")
	p.add(fmt.Sprintf("different values in stages: %d now, %d then", now.Board.DistinctValues(), then.Board.DistinctValues()))
	p.broken(then)
	p.add("nothing was written")
	return p.String()
}

// costs is a table of what each way of a board has now and then.
func costs(now, then *compiler.Build) []string {
	var t words.Table
	t.Row("way", "error now", "then", "noise now", "then")
	before, after := verify.Of(now.Figures, now.Board.Name()), verify.Of(then.Figures, then.Board.Name())
	for i, f := range before {
		if i >= len(after) {
			break
		}
		g := after[i]
		t.Row(f.Way, value(f.Magnitude, words.DB), value(g.Magnitude, words.DB), dBu(f.NoiseV), dBu(g.NoiseV))
	}
	return t.Lines("", summaryWidth)
}

// dBu is a noise voltage in a table.
func dBu(e verify.Extreme) string {
	if !e.Known {
		return "-"
	}
	return words.Exact(math.Round(verify.DBu(e.Value)*10)/10) + " dBu"
}
