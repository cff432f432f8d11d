package explain

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"bandwright/biquad"
	"bandwright/compiler"
	"bandwright/compiler/board"
	"bandwright/compiler/diagnosis"
	"bandwright/compiler/netlist"
	"bandwright/compiler/production"
	"bandwright/compiler/verify"
	"bandwright/compiler/words"
)

// Faults writes, for a service manual, what a part that is missing or shorted does at the outputs, stage
// by stage, with the stage's test point; of one way with the common stages where way is not "". It fails
// without a board, and with a way that the spec has not.
func Faults(b *compiler.Build, way string) (string, error) {
	if err := known(b, way); err != nil {
		return "", err
	}
	if b.Board == nil {
		return "", fmt.Errorf("there is no board: add `board: {}`")
	}
	stages, err := production.Stages(b.BoardSubject(), b.Board, b.Promises.LowHz, b.Promises.HighHz)
	if err != nil {
		return "", err
	}
	e := &explainer{b: b}
	e.line("", "What a missing part (or an open joint) and a shorted one (a bridge of solder) do at the outputs: the greatest change of level, by nodal analysis of the board. "+
		"Beside each stage stands its test point: with the input's level at the input this voltage at the op-amp's output, with the input at rest no more DC. "+
		"At the rails is a way with an op-amp that stands at a rail, or swings between both.")
	e.line("", "caution: measure without loudspeakers; an output with DC, or one that is much louder, destroys a driver. Work on anything connected to the mains is for people qualified to do it.")
	for _, s := range b.Board.Selectors() {
		e.line("", s.Ref+", "+s.String()+": "+strings.Join(e.positions(&s), "; "))
	}
	known := map[string]map[string]diagnosis.Effect{}
	ends := map[string]bool{}
	for i := range stages {
		s := &stages[i]
		if way != "" && s.Chain != way && s.Chain != "common" {
			continue
		}
		effects, err := effectsIn(b, known, s.C)
		if err != nil {
			return "", err
		}
		e.stageFaults(s, effects)
		ends[s.Chain] = true
	}
	effects, err := effectsIn(b, known, make(verify.Combination, len(b.Settings)))
	if err != nil {
		return "", err
	}
	for _, c := range b.Board.Chains() {
		if name := b.Board.NameOf(c); ends[name] {
			var refs []string
			for _, p := range c.Ends {
				refs = append(refs, p.Ref)
			}
			e.partFaults(name+", inputs, outputs and selectors", refs, effects)
		}
	}
	return strings.TrimLeft(e.out.String(), "\n"), nil
}

// positions says what each position of a selector stands for.
func (e *explainer) positions(s *board.Selector) []string {
	var out []string
	biquad.Each(s.By, len(e.b.Settings), func(c biquad.Combination) {
		var with []string
		for _, ax := range s.By {
			set := e.b.Settings[ax.Setting]
			with = append(with, set.Name+" "+set.Choices[c[ax.Setting]])
		}
		out = append(out, fmt.Sprintf("position %d is %s", len(out)+1, strings.Join(with, ", ")))
	})
	return out
}

// effectsIn are those of all parts in a combination, worked out once.
func effectsIn(b *compiler.Build, known map[string]map[string]diagnosis.Effect, c verify.Combination) (map[string]diagnosis.Effect, error) {
	if _, ok := known[string(c)]; !ok {
		all, err := diagnosis.Effects(b.BoardSubject(), b.Board, c, b.Promises.LowHz, b.Promises.HighHz)
		if err != nil {
			return nil, err
		}
		known[string(c)] = all
	}
	return known[string(c)], nil
}

// stageFaults is one stage.
func (e *explainer) stageFaults(s *production.Stage, effects map[string]diagnosis.Effect) {
	head := fmt.Sprintf("%s stage %d, %s: test point %s, %s at %s, DC within %s", s.Chain, s.Number, s.Topology.Name, s.Pin,
		words.Part(words.Round(s.OutputV, 3), "V"), words.Hz(s.Hz), words.Part(words.Round(s.OffsetV, 2), "V"))
	if s.Selector != "" {
		head += fmt.Sprintf("; with %s at position %d", s.Selector, s.At)
	}
	var refs []string
	for _, p := range s.Placed() {
		if p.Kind != netlist.Amplifier {
			refs = append(refs, p.Ref)
		}
	}
	e.partFaults(head, refs, effects)
}

// partFaults is a line a part; parts of no effect stand together.
func (e *explainer) partFaults(head string, refs []string, effects map[string]diagnosis.Effect) {
	var lines, none []string
	for _, ref := range refs {
		x, ok := effects[ref]
		if !ok {
			continue
		}
		missing, shorted := e.effect(x.Missing), e.effect(x.Shorted)
		if missing == "" && shorted == "" {
			none = append(none, ref)
			continue
		}
		text := fmt.Sprintf("%s, %s:", ref, words.Part(x.Value, x.Unit))
		for _, of := range [][2]string{{" missing", missing}, {"; shorted", shorted}} {
			if of[1] == "" {
				of[1] = "nothing"
			}
			text += of[0] + " " + of[1]
		}
		lines = append(lines, text)
	}
	if lines == nil && none == nil {
		return
	}
	e.out.WriteString("\n")
	e.line("", head)
	for _, l := range lines {
		e.line("  ", l)
	}
	if none != nil {
		e.line("  ", "less than 0.1 dB, missing or shorted: "+strings.Join(none, ", "))
	}
}

// effect is what becomes of the outputs, in a few words; "" for nothing that matters.
func (e *explainer) effect(ways []diagnosis.WayEffect) string {
	var texts []string
	who := map[string][]string{}
	for w, x := range ways {
		text := "unchanged"
		switch {
		case x.Rails:
			text = "at the rails"
		case x.Silent:
			text = "silent"
		case math.Abs(x.DB) >= 0.1:
			if text = strconv.FormatFloat(x.DB, 'f', 1, 64) + " dB"; x.DB > 0 {
				text = "+" + text
			}
			if !x.All {
				text += " at " + words.Hz(words.Round(x.Hz, 2))
			}
		}
		if who[text] == nil {
			texts = append(texts, text)
		}
		who[text] = append(who[text], e.b.Spec.Ways[w].Name)
	}
	if len(texts) == 1 {
		if texts[0] == "unchanged" {
			return ""
		}
		if len(ways) > 1 {
			return "all " + texts[0]
		}
	}
	var out []string
	for _, t := range texts {
		if t != "unchanged" {
			out = append(out, strings.Join(who[t], " and ")+" "+t)
		}
	}
	return strings.Join(out, ", ")
}
