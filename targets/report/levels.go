package report

import (
	"fmt"
	"slices"

	"bandwright/compiler"
	"bandwright/compiler/board"
	"bandwright/compiler/language"
	"bandwright/compiler/verify"
	"bandwright/compiler/words"
)

// plans are the level plans of each way in all cases, none of a case without a solution.
func plans(b *compiler.Build) [][]board.LevelPlan {
	out := make([][]board.LevelPlan, len(b.Board.Ways))
	for _, c := range b.BoardSubject().Cases() {
		if c.C == nil {
			continue
		}
		if p, err := b.Board.LevelPlan(c); err == nil {
			out[c.Way] = append(out[c.Way], p)
		}
	}
	return out
}

// clipping is a table of where each way clips first, in its worst setting.
func clipping(p *page, b *compiler.Build, all [][]board.LevelPlan) {
	t := words.Table{Names: 3}
	t.Row("output", "clips from", "op-amp", "stage", "by", "asked", "of", "at", "headroom")
	for k, w := range b.Board.Ways {
		if x, c, ok := least(all[k], func(board.Level) bool { return true }); ok {
			l := x.Stages[c]
			t.Row(w.Name, words.Volt.Measured(l.Clip.InputV), l.Clip.OpAmp, fmt.Sprintf("%s %d, %s", l.Chain, l.Number, language.KindIn(serves(l))),
				l.Clip.By.String(), amount(l.Clip.By, l.Clip.Asked), amount(l.Clip.By, l.Clip.Has), words.Hz(l.Clip.AtHz), margin(l))
		}
	}
	p.table(&t)
}

// least is the plan, and the stage of it, with the least margin of those stages.
func least(plans []board.LevelPlan, of func(board.Level) bool) (x board.LevelPlan, stage int, ok bool) {
	for _, p := range plans {
		for i, l := range p.Stages {
			if l.Clip.OpAmp != "" && of(l) && (!ok || l.Clip.MarginDB < x.Stages[stage].Clip.MarginDB) {
				x, stage, ok = p, i, true
			}
		}
	}
	return x, stage, ok
}

// margin is a stage's margin.
func margin(l board.Level) string { return fmt.Sprintf("%.1f dB", l.Clip.MarginDB) }

// amount is what an op-amp is asked for, or has.
func amount(by board.Limit, x float64) string {
	switch by {
	case board.OfCurrent:
		return words.Part(words.Round(x, 3), "A")
	case board.OfSlew:
		return words.Short(x/1e6) + " V/us"
	}
	return words.Part(words.Round(x, 3), "V")
}

// levelPlan is the voltages along each chain, in the setting that leaves its stages the
// least margin.
func levelPlan(p *page, b *compiler.Build, all [][]board.LevelPlan) {
	d := b.Board
	p.heading(fmt.Sprintf("Level plan: the greatest voltage of a sine of %s at the input, anywhere from %s to %s",
		d.Spec.Input.Level, words.Hz(b.Promises.LowHz), words.Hz(b.Promises.HighHz)))
	for k, chain := range d.Chains() {
		name := d.NameOf(chain)
		from := all
		if k > 0 {
			from = all[k-1 : k]
		}
		var x board.LevelPlan
		found := false
		for _, plans := range from {
			if y, i, ok := least(plans, func(l board.Level) bool { return l.Chain == name }); ok && (!found || y.Stages[i].Clip.MarginDB < lowest(x, name)) {
				x, found = y, true
			}
		}
		if !found && k > 0 && len(all[k-1]) > 0 { // a way without stages of its own
			x, found = all[k-1][0], true
		}
		if found {
			if k > 0 {
				p.line("")
			}
			chainLevels(p, b, x, k)
		}
	}
	text := "volts: RMS, at the stage's output. margin: to where the first of its op-amps clips, and by what."
	if len(b.Settings) > 0 {
		text += " Each chain in the setting that leaves its stages the least margin; noise in that which makes most of it, and the output's greatest level there."
	}
	p.line("")
	p.note(text)
}

// lowest is the least margin of a plan's stages in a chain.
func lowest(x board.LevelPlan, chain string) float64 {
	_, i, _ := least([]board.LevelPlan{x}, func(l board.Level) bool { return l.Chain == chain })
	return x.Stages[i].Clip.MarginDB
}

// chainLevels are the rows of one chain, the common stages as chain 0.
func chainLevels(p *page, b *compiler.Build, x board.LevelPlan, chain int) {
	d := b.Board
	name := d.NameOf(d.Chains()[chain])
	t := words.Table{Names: 1}
	t.Row(name, "", "volts", "at", "margin", "by", "at", "op-amp")
	if chain == 0 {
		t.Row("", "the source", words.Part(x.InputV, "V"))
	}
	for _, l := range x.Stages {
		if l.Chain != name {
			continue
		}
		db, by, hz := "-", "-", "-"
		if l.Clip.OpAmp != "" {
			db, by, hz = margin(l), l.Clip.By.String(), words.Hz(l.Clip.AtHz)
		}
		t.Row(fmt.Sprint(l.Number), serves(l), words.Volt.Measured(l.V), words.Hz(l.AtHz), db, by, hz, l.Clip.OpAmp)
	}
	if chain > 0 {
		t.Row("", "the output", words.Volt.Measured(x.OutV), words.Hz(x.OutHz))
	}
	p.table(&t)
	text := ""
	if s := choices(b, x.Case, chain); s != "" {
		text = "with " + s
	}
	if n := noiseBelow(b, chain-1); chain > 0 && n != "" {
		if text != "" {
			text += "; "
		}
		text += n
	}
	if text != "" {
		p.item(text, "    ", "    ")
	}
}

// choices are those of a case that the levels in a chain depend on.
func choices(b *compiler.Build, c verify.Case, chain int) string {
	if chain > 0 {
		return verify.Choices(b.BoardSubject().Choices(c))
	}
	by := b.Board.Common.Settings()
	if k := b.Board.Spec.Input.Level.By; k >= 0 {
		by = append(by, k)
	}
	slices.Sort(by)
	var out []verify.Choice
	for _, k := range slices.Compact(by) {
		out = append(out, verify.Choice{Setting: b.Settings[k].Name, Choice: b.Settings[k].Choices[c.C[k]]})
	}
	return verify.Choices(out)
}

// noiseBelow is a way's noise in its worst setting, below the greatest level there.
func noiseBelow(b *compiler.Build, way int) string {
	if way < 0 {
		return ""
	}
	for _, f := range verify.Of(b.Figures, board.RealisationName) {
		if f.Way != b.Board.Ways[way].Name || !(f.NoiseV.Value > 0) || f.NoiseV.C == nil {
			continue
		}
		x, err := b.Board.LevelPlan(verify.Case{Way: way, C: f.NoiseV.C})
		if err != nil || !(x.OutV > 0) {
			return ""
		}
		text := fmt.Sprintf("noise %.0f dB below the output", verify.DBu(x.OutV)-verify.DBu(f.NoiseV.Value))
		if s := verify.Choices(b.BoardSubject().Choices(x.Case)); s != "" {
			text += " in its worst setting"
		}
		return text
	}
	return ""
}

// supply is what the board takes from each rail.
func supply(p *page, b *compiler.Build, all [][]board.LevelPlan) {
	s := b.Board.Rails(b.BoardSubject().Cases())
	amp := b.Board.Spec.OpAmp
	rails := "+-" + words.Part(s.RailV, "V")
	p.heading("Supply, each of the two rails of " + rails)
	var t words.Table
	t.Row("", "current", "power", "")
	t.Row("at rest", words.Part(s.QuiescentA, "A"), words.Part(words.Round(s.QuiescentA*s.RailV, 3), "W"),
		fmt.Sprintf("%s of %s, spare ones included", words.Count(s.OpAmps, "op-amp", "op-amps"), words.Part(amp.SupplyA, "A")))
	if s.SignalA > 0 {
		where := "at " + words.Hz(s.AtHz)
		t.Row("with a sine, more", words.Part(words.Round(s.SignalA, 3), "A"), words.Part(words.Round(s.SignalA*s.RailV, 3), "W"),
			fmt.Sprintf("%s at the input %s, the worst", words.Part(b.Board.InputV(s.Case), "V"), where))
	}
	p.table(&t)
	text := "at rest: by `op-amp.supply-current`. With a sine: the mean of the half waves that all op-amps' outputs give, as class B stages take them"
	if c := s.Case.C; c != nil {
		if x := verify.Choices(b.BoardSubject().Choices(s.Case)); x != "" {
			text += ", with " + x
		}
	}
	if x, i, ok := least(slices.Concat(all...), func(board.Level) bool { return true }); ok && x.Stages[i].Clip.MarginDB < 0 {
		text += ", reckoned as if nothing clipped"
	}
	if amp.RailHighV > 0 {
		text += fmt.Sprintf(". The op-amp is made for rails of +-%s to +-%s (`op-amp.supply-range`)", words.Part(amp.RailLowV, "V"), words.Part(amp.RailHighV, "V"))
	}
	p.note(text + ".")
}

// serves is what a stage is there for: the lines of the spec that it realises.
func serves(l board.Level) string {
	if l.From == "" {
		return l.Role.String()
	}
	return l.From
}
