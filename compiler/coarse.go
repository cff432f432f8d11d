package compiler

import (
	"fmt"
	"math"
	"math/cmplx"
	"slices"
	"strings"

	"bandwright/biquad"
	"bandwright/biquad/number"
	"bandwright/compiler/language"
	"bandwright/compiler/words"
)

// coarse warns of sections that words of fixed point do not hold as well as nearly all of them: a narrow filter
// at a low frequency and a high rate. One warning a spec, of the worst, which says how many there are.
func (b *Build) coarse() []language.Fault {
	var worst biquad.Slot[biquad.Digital]
	var of Digital
	most, count := number.CoarseDB, 0
	for _, d := range b.Digital {
		if !d.Asked || d.Format.GuardBits == 0 {
			continue
		}
		for _, s := range slots(d) {
			db := d.Format.OffDB(s.Error)
			if db > number.CoarseDB {
				count++
			}
			if db > most {
				most, worst, of = db, s, d
			}
		}
	}
	if count == 0 {
		return nil
	}
	more := ""
	if count > 1 {
		more = fmt.Sprintf(", the worst of %d that are more than %s off", count, words.Level(number.CoarseDB, "dB"))
	}
	poles := ""
	if at := worst.Alt[0].To(biquad.Delta).Poles(); len(at) > 0 {
		poles = " with poles at " + words.Hz(cmplx.Abs(cmplx.Log(at[0]))*of.RateHz/(2*math.Pi))
	}
	message := fmt.Sprintf("in the words of `%s` at %s a section%s is %s off, re its greatest gain%s", of.Format.Name, words.Rate(of.RateHz), poles, words.Level(most, "dB"), more)
	return []language.Fault{b.Spec.Fault(language.Warning, b.place(worst.From), message, b.finer(of, most))}
}

// finer is what is known of other words than those of a realisation with a coarse section.
func (b *Build) finer(of Digital, most float64) string {
	right := "rounding is in all figures, and judged by the promises"
	for _, d := range b.Digital {
		if d.Format.Name == number.Reference && d.RateHz == of.RateHz {
			worst := slices.MaxFunc(slots(d), func(x, y biquad.Slot[biquad.Digital]) int {
				return int(1e3 * (x.Error.TotalDB - y.Error.TotalDB))
			})
			if worst.Error.TotalDB < most {
				right += fmt.Sprintf("; in `%s` the worst section is %s off", d.Format.Name, words.Level(worst.Error.TotalDB, "dB"))
			}
		}
	}
	return right
}

// slots are all positions of a realisation.
func slots(d Digital) []biquad.Slot[biquad.Digital] {
	out := slices.Clone(d.System.Common.Slots)
	for _, w := range d.System.Ways {
		out = append(out, w.Slots...)
	}
	return out
}

// place is where in the spec the first of the lines stands that a position realises.
func (b *Build) place(from []string) language.Pos {
	for _, label := range from {
		for _, l := range b.Spec.Filters() {
			if l.Label() == label {
				return l.Pos
			}
		}
		for _, w := range b.Spec.Ways {
			if strings.HasPrefix(label+".", "ways."+w.Name+".") {
				return w.Pos
			}
		}
	}
	return b.Spec.Digital.Pos
}
