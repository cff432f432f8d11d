package main

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"slices"
	"strings"

	"bandwright/compiler"
	"bandwright/compiler/language"
	"bandwright/compiler/measured"
	"bandwright/compiler/prototype"
	"bandwright/compiler/suggest"
	"bandwright/compiler/words"
)

// Suggest is the verb that looks for filters.
type Suggest struct {
	Spec string `arg:"" name:"SPEC" help:"The spec, a YAML file."`
	Way  string `arg:"" optional:"" name:"WAY" help:"The way that filters are wanted for."`

	Corners bool `help:"Tell instead where each crossover may lie, by the excursion and the patterns of both ways."`

	Response string   `placeholder:"RESPONSE" help:"A measured response of the way's driver: Hz and dB as text, or an impulse response. The default is the spec's driver."`
	Target   []string `sep:"none" placeholder:"FILTER" help:"What the way shall become, as a filter of a spec; may be given again. Such as \"high-pass: {family: LR, order: 4, at: 2 kHz}\". The default is flat, before the crossovers."`
	From     string   `placeholder:"FREQ" help:"Where the range begins that counts. The default is where crossovers, or the target, with the way's own high- and low-passes are 15 dB down."`
	To       string   `placeholder:"FREQ" help:"Where it ends."`
	Within   string   `default:"1 dB" placeholder:"LEVEL" help:"Tolerance to either side, 0.05 dB to 12 dB. The default is 1 dB."`
	Boost    string   `default:"6 dB" placeholder:"LEVEL" help:"The most that all filters together may boost, 0 dB to 24 dB. The default is 6 dB."`
	HighestQ float64  `name:"highest-q" default:"6" placeholder:"Q" help:"The highest Q of a peak, 0.5 to 20. The default is 6."`
	Most     int      `default:"6" placeholder:"N" help:"The most filters, 1 to 10. The default is 6."`
	Write    bool     `help:"Write the first suggestion into the spec, behind the way's filters. Nothing else in the file changes."`
}

// Help is printed below the flags.
func (Suggest) Help() string {
	return `Prints them as lines of the spec, the best first: by what is left of the error, by boost, by sections. ` +
		`The way's own filters count with its driver, in the default settings; its high- and low-passes that bring it no nearer to the target are part of that. The level alone is looked at; measured ones are smoothed over a sixth of an octave, ` +
		`and what ripple is left does not get filters. Narrow nulls deeper than the boost allowed are told and not filled. ` +
		`The exit code is 1 where the tolerance is not kept; then nothing is written.

Caution: a boost takes excursion, power and headroom: 6 dB are twice the excursion and four times the power.

Examples:

    bandwright suggest specs/heron.yaml treble --response specs/responses/heron_treble.txt
    bandwright suggest specs/heron.yaml bass --from "30 Hz" --boost "9 dB" --write
    bandwright suggest specs/heron.yaml --corners`
}

// lowestQ is of peaks: a wider one is a shelf.
const lowestQ = 0.3

// Run prints suggestions, and writes the first.
func (v Suggest) Run(ctx context.Context, con console) error {
	text, err := read(ctx, v.Spec)
	if err != nil {
		return err
	}
	w, faults := compiler.Plan(v.Spec, text, folderOf(v.Spec))
	if err := v.told(con, w == nil, faults); err != nil {
		return err
	}
	if v.Corners {
		return v.corners(con, w)
	}
	q, err := v.question(ctx, con, w)
	if err != nil {
		return err
	}
	line := startProgress(con.err, "looking for filters")
	e, err := w.Equalise(line.in(ctx, ""), q)
	line.stop()
	switch {
	case errors.Is(err, context.Canceled):
		return errInterrupted
	case err != nil:
		return refused("%s: %v", v.Spec, err)
	}
	return v.answer(ctx, con, w, q, e)
}

// told prints faults; none is where nothing came of them.
func (v Suggest) told(con console, none bool, faults []language.Fault) error {
	n := 0
	for _, f := range faults {
		fmt.Fprintln(con.err, f)
		if f.Severity == language.Error {
			n++
		}
	}
	if none {
		return refused("%s in %s", words.Count(n, "error", "errors"), v.Spec)
	}
	return nil
}

// question is what the command line asks.
func (v Suggest) question(ctx context.Context, con console, w *compiler.Wanted) (compiler.Equalising, error) {
	var ways []string
	for _, x := range w.Spec.Ways {
		ways = append(ways, x.Name)
	}
	if v.Way == "" {
		return compiler.Equalising{}, refused("name the way that filters are wanted for: there are %s; or ask for --corners", words.List(ways))
	}
	q := compiler.Equalising{Way: slices.Index(ways, v.Way)}
	if q.Way < 0 {
		right := "there are " + words.List(ways)
		if near := language.Nearest(v.Way, ways); near != "" {
			right = "did you mean " + code(near) + "?"
		}
		return q, refused("%s has no way %s; %s", v.Spec, code(v.Way), right)
	}
	q.Wish = suggest.Wish{LowestQ: lowestQ, HighestQ: v.HighestQ, Most: v.Most, OneMore: true}
	for _, x := range []struct {
		to          *float64
		text, name  string
		example     string
		dim         language.Dim
		least, most float64
	}{
		{&q.Wish.FromHz, v.From, "`--from`", "200 Hz", language.Frequency, 5, 40e3},
		{&q.Wish.ToHz, v.To, "`--to`", "5 kHz", language.Frequency, 10, 80e3},
		{&q.Wish.WithinDB, v.Within, "`--within`", "1 dB", language.Level, 0.05, 12},
		{&q.Wish.BoostDB, v.Boost, "`--boost`", "6 dB", language.Level, 0, 24},
	} {
		if x.text == "" {
			continue
		}
		var fault *language.Fault
		if *x.to, fault = language.Quantity(x.text, x.name, x.example, x.dim, x.least, x.most); fault != nil {
			return q, refused("%s; %s", fault.Message, fault.Right)
		}
	}
	switch {
	case v.HighestQ < 0.5 || v.HighestQ > 20:
		return q, refused("--highest-q is from 0.5 to 20")
	case v.Most < 1 || v.Most > 10:
		return q, refused("--most is from 1 to 10")
	}
	for _, text := range v.Target {
		ideal, err := target(text)
		if err != nil {
			return q, err
		}
		q.Target = append(q.Target, ideal)
	}
	if v.Response == "" {
		return q, nil
	}
	data, err := read(ctx, v.Response)
	if err != nil {
		return q, err
	}
	r, faults := measured.Read(v.Response, data)
	for _, f := range faults {
		fmt.Fprintln(con.err, f)
	}
	if r == nil {
		return q, refused("%s in %s", words.Count(len(faults), "error", "errors"), v.Response)
	}
	q.Response = r
	return q, nil
}

// target reads a filter as a spec has it.
func target(text string) (prototype.Ideal, error) {
	if strings.TrimSpace(text) == "" {
		return prototype.Ideal{}, refused("--target needs a value")
	}
	if !strings.Contains(text, ":") { // nothing of a filter: its kind has a colon behind it
		return prototype.Ideal{}, refused("--target: %s is not a filter; it takes a kind with its values, such as `high-pass: {family: LR, order: 4, at: 2 kHz}`; the kinds are %s", code(text), words.List(kinds()))
	}
	spec := "bandwright: 1\nname: target\nways:\n  way:\n    filters:\n      - " + text + "\ndigital: {rates: [48 kHz], formats: [float32]}\n"
	s, faults := language.Parse("--target", []byte(spec), compiler.Language())
	for _, f := range faults {
		if f.Severity == language.Error {
			return prototype.Ideal{}, refused("--target: %s; %s", f.Message, f.Right)
		}
	}
	if s == nil || len(s.Ways) != 1 || len(s.Ways[0].Filters) != 1 {
		return prototype.Ideal{}, refused("--target %s is not one filter", code(text))
	}
	f := s.Ways[0].Filters[0]
	kind, _ := prototype.ByName(f.Kind)
	ideal, problems := kind.Ideal(f.Args)
	if len(problems) > 0 {
		return prototype.Ideal{}, refused("--target: %s; %s", problems[0].Message, problems[0].Right)
	}
	return ideal, nil
}

// kinds are those of filters.
func kinds() []string {
	var out []string
	for _, k := range compiler.Language().Kinds {
		out = append(out, k.Name)
	}
	return out
}

// answer prints what was found, and writes it where that is asked for.
func (v Suggest) answer(ctx context.Context, con console, w *compiler.Wanted, q compiler.Equalising, e *compiler.Equalised) error {
	best := e.Answers[0]
	var data []byte
	if v.Write && best.Kept && len(best.Lines) > 0 {
		var lines []string
		for _, l := range best.Lines {
			lines = append(lines, l.Text)
		}
		if data = w.Spec.Insert(q.Way, lines, compiler.Language()); data == nil {
			return refused("%s is written in a way that lines cannot be added to: paste them (without --write they are printed)", v.Spec)
		}
		if len(q.Target) > 0 && slices.ContainsFunc(w.Spec.Crossovers, func(x language.Crossover) bool { return x.Lower == q.Way || x.Upper == q.Way }) {
			return refused("%s has a crossover for %s, which would come on top of filters for a --target: remove it first", v.Spec, code(v.Way))
		}
	}
	if _, err := fmt.Fprint(con.out, suggestText(v, q, e, data != nil)); err != nil {
		return failed("the result cannot be printed: %v", reason(err))
	}
	if data != nil {
		dir, base := filepath.Split(v.Spec)
		if err := replace(ctx, filepath.Clean(dir), base, data); err != nil {
			return err
		}
	}
	if !best.Kept {
		return outcome{code: exitBroken}
	}
	return nil
}

// suggestText is what was found, in words.
func suggestText(v Suggest, q compiler.Equalising, e *compiler.Equalised, written bool) string {
	var b strings.Builder
	say := func(format string, args ...any) {
		for _, l := range words.Wrap(fmt.Sprintf(format, args...), "", "  ", summaryWidth) {
			b.WriteString(l + "\n")
		}
	}
	of := "the spec's driver"
	if q.Response != nil {
		of = v.Response
	}
	to := "flat, before the crossovers"
	if len(q.Target) > 0 {
		to = words.List(v.Target)
	}
	if len(e.Wanted) > 0 {
		to += own(e.Wanted, len(q.Target) == 0)
	}
	say("%s, %s to %s: %s, to be %s", v.Way, words.Hz(e.Wish.FromHz), words.Hz(e.Wish.ToHz), of, to)
	if q.Response != nil {
		for _, n := range q.Response.Notes() {
			if q.Response.HasPhase() { // the phase is not looked at
				say("%s", n)
			}
		}
	}
	say("now within ±%s dB, at worst at %s", words.Three(e.Before.ErrorDB), words.Hz(e.Before.ErrorHz))
	if e.WithinDB > e.Wish.WithinDB {
		say("ripple and noise of %s dB RMS do not let less than ±%s dB be told: that is looked for", words.Three(e.RippleDB), words.Three(e.WithinDB))
	}
	for _, n := range e.Nulls {
		say("not filled: a null of %s dB at %s (%s to %s): no filter makes up for what interference takes away", words.Three(n.DepthDB), words.Hz(n.Hz), words.Hz(n.FromHz), words.Hz(n.ToHz))
	}
	for i, a := range e.Answers {
		switch {
		case len(a.Lines) == 0 && a.Kept:
			say("nothing is needed")
			continue
		case len(a.Lines) == 0:
			say("no filters within these bounds make it better: allow more --boost, a narrower range, or a wider tolerance")
			continue
		}
		kept := ""
		if !a.Kept {
			kept = fmt.Sprintf("; ±%s dB is not kept by %s within these bounds: allow more --boost, a narrower range, or a wider tolerance", words.Three(e.WithinDB), words.Count(v.Most, "filter", "filters"))
		}
		b.WriteByte('\n')
		say("%d. %s: within ±%s dB, at worst at %s%s; %s%s", i+1, words.Count(len(a.Lines), "filter", "filters"), words.Three(a.ErrorDB), words.Hz(a.ErrorHz), kept, boosts(a), sections(a))
		for _, l := range a.Lines {
			b.WriteString("      - " + l.Text + "\n")
		}
	}
	if written {
		b.WriteByte('\n')
		say("written into %s: the first of them", v.Spec)
	}
	return b.String()
}

// own says that filters of the way are wanted beside the target.
func own(kinds []string, flat bool) string {
	n := map[string]int{}
	for _, k := range kinds {
		n[k]++
	}
	var parts []string
	for _, k := range words.Once(kinds) {
		if n[k] > 1 {
			k += "es"
		}
		parts = append(parts, k)
	}
	text := "its own " + words.List(parts)
	if flat {
		return " and " + text
	}
	return ", beside " + text
}

// boosts says what a suggestion boosts, and what that takes.
func boosts(a suggest.Answer) string {
	text := "no boost"
	if a.BoostDB >= 0.05 {
		text = fmt.Sprintf("boosts by up to %s dB, at %s", words.Three(a.BoostDB), words.Hz(a.BoostHz))
	}
	outside := a.OutsideDB >= a.BoostDB+0.5
	if outside {
		text += fmt.Sprintf(", outside of the range by up to %s dB, at %s", words.Three(a.OutsideDB), words.Hz(a.OutsideHz))
	}
	if a.BoostDB >= cautionDB && a.BoostHz < cautionHz || outside && a.OutsideDB >= cautionDB && a.OutsideHz < cautionHz {
		text += " (caution: excursion and power rise with it)"
	}
	return text
}

// Where a boost takes excursion that a driver may not have.
const (
	cautionDB = 3
	cautionHz = 300
)

func sections(a suggest.Answer) string {
	return "; " + words.Count(a.Sections, "biquad", "biquads")
}
