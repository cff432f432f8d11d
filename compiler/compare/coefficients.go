package compare

import (
	"fmt"
	"math"
	"slices"

	"bandwright/compiler/result"
	"bandwright/compiler/words"
)

// Fits of other machines agree to 1e-9; what is left of a zero stays below dust.
const (
	sameWord = 1e-6
	dust     = 1e-12
)

func differ(x, y float64) bool {
	return math.Abs(x-y) > sameWord*math.Max(math.Abs(x), math.Abs(y)) && math.Abs(x-y) > dust
}

// coefficients adds one sentence on all coefficients that changed. A section that is gone, or new, is one of them; where
// only the gain, the polarity or the delay of a chain changed one of its sections stands for that.
func (c *comparison) coefficients() {
	changed, all, beside := 0, 0, "the input gain changed"
	var rates, formats []string
	c.pairs(func(o, n *result.AcceptedDigital) {
		differs := differ(o.InputGain, n.InputGain)
		olds := append([]result.AcceptedChain{o.Common}, o.Ways...)
		for _, w := range append([]result.AcceptedChain{n.Common}, n.Ways...) {
			was := result.AcceptedChain{Gain: w.Gain, Polarity: w.Polarity, DelaySamples: w.DelaySamples}
			if k := slices.IndexFunc(olds, func(x result.AcceptedChain) bool { return x.Way == c.calledBefore(w.Way) }); k >= 0 {
				was = olds[k]
			}
			unlike := c.unlike(was, w)
			sections := max(len(was.Coefficients), len(w.Coefficients))
			if unlike > 0 && sections == 0 {
				beside = "a gain or a delay beside the sections changed"
			}
			differs, changed, all = differs || unlike > 0, changed+min(unlike, sections), all+sections
		}
		if differs {
			rates, formats = append(rates, words.Rate(n.RateHz)), append(formats, n.Format)
		}
	})
	if rates == nil {
		return
	}
	text := fmt.Sprintf("%d of %s changed coefficients", changed, words.Count(all, "section", "sections"))
	if changed == 0 {
		text = beside
	}
	text += fmt.Sprintf(", at %s in %s", words.List(words.Once(rates)), words.List(words.Once(formats)))
	told := slices.ContainsFunc(c.out.Changes, func(x Change) bool { return x.Kind == OfResponse || x.Kind == OfRealisation || x.Kind == OfInteraction })
	if !told {
		text += ", but no response by more than " + c.tol.String()
		if len(c.edits) == 0 && c.a != nil {
			text = "Bandwright itself: " + text
		}
	}
	c.add(Change{Kind: OfCoefficients, Sentence: text})
}

// unlike counts the sections of a chain that changed; a changed gain, polarity
// or delay of whole samples is one of them.
func (c *comparison) unlike(o, n result.AcceptedChain) int {
	count := 0
	if differ(o.Gain, n.Gain) || o.Polarity != n.Polarity || o.DelaySamples != n.DelaySamples {
		count++
	}
	olds := map[string]result.AcceptedSection{}
	for _, w := range o.Coefficients {
		if key, offered := c.place(w); offered {
			olds[key] = w
		}
	}
	news := 0
	for _, w := range n.Coefficients {
		key, offered := c.place(w)
		if !offered {
			continue
		}
		news++
		was, there := olds[key]
		if !there || was.Form != w.Form || slices.ContainsFunc([]int{0, 1, 2}, func(i int) bool {
			return differ(was.B[i], w.B[i]) || differ(was.A[i], w.A[i])
		}) {
			count++
		}
	}
	return count + max(0, len(olds)-news)
}

// place is the position of a section and its conditions, so far as both results
// have the settings and choices; false where it applies at none of them.
func (c *comparison) place(w result.AcceptedSection) (key string, offered bool) {
	when := map[string][]string{}
	for name, allowed := range w.When {
		both := c.both(name)
		if both == nil {
			when[name] = allowed // a setting that only one has
			continue
		}
		left := slices.DeleteFunc(slices.Clone(both), func(x string) bool { return !slices.Contains(allowed, x) })
		switch {
		case len(left) == 0:
			return "", false
		case len(left) < len(both):
			when[name] = left
		}
	}
	return fmt.Sprint(w.Position, when), true
}
