package finished

import (
	"fmt"
	"math"
	"strings"

	"bandwright/compiler/diagnosis"
	"bandwright/compiler/verify"
	"bandwright/compiler/words"
)

// Head says what was measured of how many units, from where to where and set how.
func (d *Desk) Head(units int) string {
	head := fmt.Sprintf("%s, %s measured as %s, %s to %s", words.Count(units, "unit", "units"), words.List(d.Names()), d.of.Name(), words.Hz(d.LowHz), words.Hz(d.HighHz))
	if s := d.bench.Settings(); s != "" {
		head += "; " + s
	}
	return head
}

// Names are the ways that were measured.
func (d *Desk) Names() []string {
	var ways []string
	for _, w := range d.Ways {
		ways = append(ways, d.subject.Ways[w])
	}
	return ways
}

// Verdict is what became of all units, in a line.
func Verdict(all []*Result) string {
	if len(all) == 1 {
		return verify.VerdictOn(all[0].Findings).String()
	}
	if b := BatchOf(all); b.Kept < b.Units {
		return fmt.Sprintf("BROKEN: %d of %d units", b.Units-b.Kept, b.Units)
	}
	return fmt.Sprintf("KEPT: all %d units", len(all))
}

// Short says what the diagnosis is in a few words, with its likelihood.
func (r *Result) Short() string {
	switch {
	case !r.Found():
		return "nothing found, " + diagnosis.Percent(r.Nothing)
	case r.Unexplained() || len(r.Named) == 0:
		return "none of what is looked for, " + diagnosis.Percent(r.Other)
	}
	what, _, _ := strings.Cut(r.Named[0].What, ", ")
	return what + ", " + diagnosis.Percent(r.Named[0].Likelihood)
}

// Took says what level and delay were taken out of a measurement; "" where none.
func (d *Desk) Took(r *Result) string {
	var out []string
	if d.FitLevel {
		out = append(out, "the level, "+words.Level(r.LevelDB, "dB")+" beside the nominal one")
	}
	switch {
	case d.FitDelay && d.Phased && d.DelayEach:
		var each []string
		for i, name := range d.Names() {
			each = append(each, toNanosecond(r.DelaysS[i])+" of "+name)
		}
		out = append(out, "delays of "+words.List(each))
	case d.FitDelay && d.Phased:
		out = append(out, "a delay of "+toNanosecond(r.DelaysS[0]))
	}
	if out == nil {
		return ""
	}
	return "taken out of the measurement: " + strings.Join(out, ", and ")
}

// toNanosecond writes a fitted delay; what is less than half a nanosecond is the fit's own arithmetic.
func toNanosecond(s float64) string { return words.Seconds(math.Round(s*1e9) / 1e9) }

// Statistics says what units are like together.
func (b *Batch) Statistics() string {
	return fmt.Sprintf("half of the units are within %s of the prototype, all within %s; from the first to the last the level moved by %s, and each is %s off that",
		words.Error(b.MedianDB, "dB"), words.Error(b.WorstDB, "dB"), words.Level(b.DriftDB, "dB"), words.Error(math.Max(b.ScatterDB, words.Floor), "dB"))
}

// Nearest says which units are most alike, "" where none are left for a pair; all are those of the batch.
func (b *Batch) Nearest(all []*Result) string {
	var pairs []string
	for _, p := range b.Pairs {
		pairs = append(pairs, fmt.Sprintf("%s and %s (%s apart)", all[p.A].Unit, all[p.B].Unit, words.Error(p.ApartDB, "dB")))
	}
	if pairs == nil {
		return ""
	}
	return "left and right, the most alike first: " + strings.Join(pairs, ", ")
}
