package golden

import (
	"fmt"
	"math"
	"slices"

	"bandwright/biquad"
	"bandwright/compiler/result"
)

const (
	changeCombinations = 64  // looked at, of those that there are
	changePoints       = 300 // frequencies, from 10 Hz to 0.49 of the rate
)

// change is the greatest difference of magnitude in dB between two
// realisations of a way, its frequency and its settings.
func change(a result.Digital, wa result.Way, b result.Digital, wb result.Way, settings []result.Setting) (db, hz float64, setting string) {
	var axes []biquad.Axis
	for i, s := range settings {
		axes = append(axes, biquad.Axis{Setting: i, Choices: len(s.Choices)})
	}
	n := 0
	biquad.Each(axes, len(settings), func(c biquad.Combination) {
		if n++; n > changeCombinations {
			return
		}
		choice := map[string]string{}
		text := ""
		for i, s := range settings {
			choice[s.Name] = s.Choices[c[i]]
			text += fmt.Sprintf(", %s: %s", s.Name, s.Choices[c[i]])
		}
		for i := range changePoints {
			f := 10 * math.Exp2(math.Log2(0.049*b.RateHz)*float64(i)/(changePoints-1))
			x := levelDB(a, wa, choice, f)
			y := levelDB(b, wb, choice, f)
			if d := math.Abs(x - y); d > db {
				db, hz, setting = d, f, text
			}
		}
	})
	return db, hz, setting
}

// levelDB is a way's magnitude, common sections included, as a tool that reads
// the file computes it: from the words, in their form's variable.
func levelDB(d result.Digital, w result.Way, choice map[string]string, hz float64) float64 {
	p := biquad.PointAt(hz, d.RateHz)
	h := complex(d.Common.Gain*w.Gain, 0)
	for _, sections := range [][]result.Section{d.Common.Sections, w.Sections} {
		for _, s := range sections {
			applies := true
			for setting, allowed := range s.When {
				applies = applies && slices.Contains(allowed, choice[setting])
			}
			if applies {
				form, _ := biquad.FormNamed(s.Form)
				h *= biquad.Digital{Form: form, B: s.Words.B, A: s.Words.A}.At(p)
			}
		}
	}
	return biquad.DB(h)
}
