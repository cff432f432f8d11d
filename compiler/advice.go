package compiler

import (
	"context"
	"fmt"
	"math"
	"slices"

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

// advise says of each promise that the board breaks what would keep it: the first
// change with which a board, built and judged anew, does. Where none does it says
// what was tried.
func (w *Wanted) advise(ctx context.Context, findings []verify.Finding) {
	for _, kind := range [][]*verify.Quantity{response, noise} {
		var broken []*verify.Finding
		for i := range findings {
			f := &findings[i]
			if r := promise.ByName(f.Promise); !f.Kept && r != nil && slices.Contains(kind, r.Of) {
				broken = append(broken, f)
			}
		}
		if broken != nil {
			w.try(ctx, kind, broken)
		}
	}
}

// try tries changes until each broken promise has one that keeps it.
func (w *Wanted) try(ctx context.Context, kind []*verify.Quantity, broken []*verify.Finding) {
	var tried []string
	for _, c := range changes {
		if c.helps[0] != kind[0] || len(broken) == 0 || ctx.Err() != nil {
			continue
		}
		block := *w.Spec.Board
		line := c.make(&block)
		if line == "" {
			continue
		}
		block.FewDB, block.FewPromised, block.FewUnsaid = 0, false, false // few values make no board better
		if line != exactValues && fewWritten(w.Spec.Board) {
			line += " with " + exactValues
		}
		progress.Say(ctx, "trying what would mend the board: "+c.what)
		found := w.judgedWith(ctx, &block)
		broken = slices.DeleteFunc(broken, func(b *verify.Finding) bool {
			keeps := slices.ContainsFunc(found, func(f verify.Finding) bool { return f.Promise == b.Promise && f.Way == b.Way && f.Kept })
			if keeps {
				b.Remedy = line + ", or " + b.Remedy
			}
			return keeps
		})
		if !slices.Contains(tried, c.what) {
			tried = append(tried, c.what)
		}
	}
	for _, b := range broken {
		b.Remedy = "nothing tried does (" + words.List(tried) + "): change the filters, or " + b.Remedy
	}
}

// judgedWith are the findings on a board that is built by another board block.
func (w *Wanted) judgedWith(ctx context.Context, block *language.Board) []verify.Finding {
	other, spec := *w, *w.Spec
	spec.Board, other.Spec = block, &spec
	made, _, _ := buildBoard(ctx, &other)
	if made == nil {
		return nil
	}
	_, found := verify.Judge(ctx, other.BoardSubject(), made, other.Promises.Terms())
	return found
}
