package compiler

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"

	"bandwright/compiler/board"
	"bandwright/compiler/language"
	"bandwright/compiler/progress"
	"bandwright/compiler/promise"
	"bandwright/compiler/verify"
	"bandwright/compiler/words"
)

// change is one thing that the board block could say otherwise. make makes it, and
// returns the line of the spec that does, "" where there is nothing to change.
type change struct {
	helps []*verify.Quantity
	what  string // in general words
	make  func(*language.Board) string
}

var (
	response = []*verify.Quantity{verify.Magnitude, verify.Phase, verify.Sum}
	noise    = []*verify.Quantity{verify.NoiseV}
)

// exactValues is the change that few values are taken back by.
const exactValues = "board.few-values: off"

// changes are tried one after another, the cheapest to build first.
var changes = []change{
	{response, "more values", func(b *language.Board) string {
		if !fewWritten(b) {
			return ""
		}
		return exactValues
	}},
	{response, "a higher corner of the RF filter", filtered(2)},
	{response, "a higher corner of the RF filter", filtered(5)},
	{response, "larger coupling capacitors", coupling(2.2)},
	{response, "larger coupling capacitors", coupling(10)},
	{response, "finer series", series("E96", "")},
	{response, "finer series", series("", "E24")},
	{response, "finer series", series("E96", "E24")},
	{response, "a faster op-amp", faster(3)},
	{response, "a faster op-amp", faster(10)},
	{response, "all of it together", func(b *language.Board) string {
		return joined(series("E96", "E24")(b), filtered(5)(b), coupling(10)(b), faster(10)(b))
	}},
	{noise, "smaller resistors", smaller(3)},
	{noise, "smaller resistors", smaller(10)},
	{noise, "a quieter op-amp", quieter(2)},
	{noise, "a quieter op-amp", quieter(5)},
	{noise, "both together", func(b *language.Board) string { return joined(smaller(10)(b), quieter(5)(b)) }},
}

// joined lists what there is to change.
func joined(parts ...string) string {
	return words.List(slices.DeleteFunc(parts, func(s string) bool { return s == "" }))
}

// coupling makes the coupling capacitors that there are so many times as large.
func coupling(times float64) func(*language.Board) string {
	return func(b *language.Board) string {
		larger := func(key string, v *float64) string {
			if *v == 0 {
				return ""
			}
			*v = twoDigits(*v * times)
			return fmt.Sprintf("%s: %s", key, words.Part(*v, "F"))
		}
		return joined(larger("board.input.coupling", &b.Input.CouplingF), larger("board.output.coupling", &b.Output.CouplingF))
	}
}

// filtered multiplies the corner of the input's RF filter.
func filtered(times float64) func(*language.Board) string {
	return func(b *language.Board) string {
		if b.Input.RFHz == 0 {
			return ""
		}
		b.Input.RFHz *= times
		return "board.input.rf-filter: " + words.Part(b.Input.RFHz, "Hz")
	}
}

// series takes resistors and capacitors of other series; "" leaves them.
func series(resistors, capacitors string) func(*language.Board) string {
	return func(b *language.Board) string {
		finer := func(key, name string, s *language.Stock) string {
			if name == "" || s.Values != nil || slices.Contains(s.Series, name) {
				return ""
			}
			s.Series = []string{name}
			return fmt.Sprintf("%s: %s", key, name)
		}
		return joined(finer("board.resistors.series", resistors, &b.Resistors), finer("board.capacitors.series", capacitors, &b.Capacitors))
	}
}

// faster multiplies the op-amp's gain-bandwidth.
func faster(times float64) func(*language.Board) string {
	return func(b *language.Board) string {
		b.OpAmp.GainBandwidthHz *= times
		return "board.op-amp.gain-bandwidth: " + words.Part(b.OpAmp.GainBandwidthHz, "Hz")
	}
}

// smaller divides the largest resistor of the stock.
func smaller(times float64) func(*language.Board) string {
	return func(b *language.Board) string {
		if b.Resistors.Values != nil || b.Resistors.To/times < 3*b.Resistors.From {
			return ""
		}
		b.Resistors.To = twoDigits(b.Resistors.To / times)
		return "board.resistors.to: " + words.Part(b.Resistors.To, "ohm")
	}
}

// quieter divides the op-amp's noise.
func quieter(times float64) func(*language.Board) string {
	return func(b *language.Board) string {
		b.OpAmp.VoltageNoise /= times
		b.OpAmp.CurrentNoise /= times
		return fmt.Sprintf("an op-amp with %s times less voltage-noise and current-noise", words.Short(times))
	}
}

// twoDigits rounds a positive value to two significant digits.
func twoDigits(v float64) float64 {
	unit := 1.0
	for v/unit >= 100 {
		unit *= 10
	}
	for v/unit < 10 {
		unit /= 10
	}
	return math.Round(v/unit) * unit
}

// piece is one thing that the board block could say otherwise, as it is advised.
type piece struct {
	text   string
	change func(*language.Board)
}

// boardAdvice is what is advised of one broken promise.
type boardAdvice struct {
	finding *verify.Finding
	pieces  []piece // each of which was tried and keeps it
}

// advise says of each promise that the board breaks what would keep it: changes with which a board, built and judged anew, does, and
// breaks none that was kept. Where none does it says what was tried. b.Findings has all findings.
func (b *Build) advise(ctx context.Context) {
	if b.Board == nil || b.extent.unadvised {
		return
	}
	all := b.remedies(ctx)
	for _, kind := range [][]*verify.Quantity{response, noise} {
		var broken []*verify.Finding
		for i := range b.Findings {
			f := &b.Findings[i]
			if r := promise.ByName(f.Promise); !f.Kept && f.Realisation == board.RealisationName && r != nil && slices.Contains(kind, r.Of) {
				broken = append(broken, f)
			}
		}
		if broken != nil {
			all = append(all, b.try(ctx, kind, broken)...)
		}
	}
	b.together(ctx, all)
	for _, a := range all {
		for i := len(a.pieces) - 1; i >= 0; i-- {
			a.finding.Remedy = strings.TrimSuffix(a.pieces[i].text+", or "+a.finding.Remedy, ", or ")
		}
	}
}

// remedies are the board's own, of promises that no change of a table is for, each tried by itself.
func (b *Build) remedies(ctx context.Context) (out []*boardAdvice) {
	tried := map[string][]verify.Finding{}
	for i := range b.Findings {
		f := &b.Findings[i]
		r, way := promise.ByName(f.Promise), b.wayOf(f)
		if f.Kept || f.Realisation != board.RealisationName || r == nil || way < 0 {
			continue
		}
		a, before, worse := &boardAdvice{finding: f}, []string(nil), ""
		for _, x := range b.Board.Remedies(r.Of, way, *f) {
			found, known := tried[x.Text]
			if !known {
				progress.Say(ctx, "trying "+x.Text)
				found = b.judgedWith(ctx, x.Change, []*verify.Finding{f})
				tried[x.Text] = found
			}
			before = append(before, x.Text)
			switch breaks := others(b.Findings, found); {
			case !kept(found, f):
			case breaks == "":
				a.pieces = append(a.pieces, piece{x.Text, x.Change})
			case worse == "":
				worse = wouldBreak(x.Text, breaks)
			}
		}
		if before != nil && a.pieces == nil {
			f.Remedy = noneDoes(before, worse, f.Remedy)
		}
		if a.pieces != nil {
			out = append(out, a)
		}
	}
	return out
}

// try tries changes until each broken promise has one that keeps it and breaks no other.
func (b *Build) try(ctx context.Context, kind []*verify.Quantity, broken []*verify.Finding) (out []*boardAdvice) {
	var tried []string
	worse := map[*verify.Finding]string{}
	for _, c := range changes {
		if c.helps[0] != kind[0] || len(broken) == 0 || ctx.Err() != nil {
			continue
		}
		line := c.make(copied(b.Spec.Board))
		if line == "" {
			continue
		}
		change := func(block *language.Board) {
			c.make(block)
			block.FewDB, block.FewPromised, block.FewUnsaid = 0, false, false // few values make no board better
		}
		if line != exactValues && fewWritten(b.Spec.Board) {
			line += " with " + exactValues
		}
		progress.Say(ctx, "trying what would mend the board: "+c.what)
		found := b.judgedWith(ctx, change, broken)
		breaks := others(b.Findings, found)
		broken = slices.DeleteFunc(broken, func(f *verify.Finding) bool {
			switch keeps := kept(found, f); {
			case keeps && breaks == "":
				out = append(out, &boardAdvice{f, []piece{{line, change}}})
				return true
			case keeps && worse[f] == "":
				worse[f] = wouldBreak(line, breaks)
			}
			return false
		})
		if !slices.Contains(tried, c.what) {
			tried = append(tried, c.what)
		}
	}
	for _, f := range broken {
		f.Remedy = noneDoes(tried, worse[f], f.Remedy)
	}
	return out
}

// wouldBreak says of what keeps a promise that it breaks others.
func wouldBreak(text, breaks string) string { return text + " would, and breaks or worsens " + breaks }

// noneDoes says that nothing of what was tried is advised; worse is what keeps the promise at another's cost, "" for nothing, and else
// the advice otherwise, which may be "".
func noneDoes(tried []string, worse, otherwise string) string {
	text := "nothing tried does (" + words.List(tried) + ")"
	if worse != "" {
		text = "nothing tried does without harm to another promise (" + words.List(tried) + "); " + worse
	}
	return strings.TrimSuffix(text+": change the filters, or "+otherwise, ", or ")
}

// copied is a board block that may be changed.
func copied(b *language.Board) *language.Board {
	out := *b
	return &out
}

// judgedWith are the findings on a board that is built by another board block, of its batch and in the air, too, where it keeps one
// of the promises in question; nil where none is built.
func (b *Build) judgedWith(ctx context.Context, change func(*language.Board), questions []*verify.Finding) []verify.Finding {
	spec := *b.Spec
	spec.Board = copied(b.Spec.Board)
	change(spec.Board)
	w := b.anew(&spec)
	if w == nil {
		return nil
	}
	other := Build{Wanted: *w}
	other.weighed = &weighed{}
	other.Board, _, _ = buildBoard(ctx, &other.Wanted)
	if other.Board == nil || ctx.Err() != nil {
		return nil
	}
	judged := other.weigh(ctx, other.Board)
	if !slices.ContainsFunc(questions, func(f *verify.Finding) bool { return kept(judged.findings, f) }) {
		return judged.findings
	}
	_, inAir := other.hear(ctx)
	return slices.Concat(judged.findings, other.weighBatch(ctx, judged), inAir)
}
