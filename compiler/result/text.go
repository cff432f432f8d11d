package result

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"bandwright/compiler/words"
)

// Screenful is how many sentences Text gives before it counts the rest.
const Screenful = 20

// sort puts what is gone or broken first, then the largest change in dB, then
// figures and lines without a response, the coefficients last.
func (c *comparison) sort() {
	rank := map[string]int{OfOffer: 0, OfPromise: 0, OfResponse: 1, OfInteraction: 1, OfRealisation: 1, OfFigure: 2, OfPart: 3, OfText: 4, OfCoefficients: 5}
	slices.SortStableFunc(c.out.Changes, func(x, y Change) int {
		if d := cmp.Compare(rank[x.Kind], rank[y.Kind]); d != 0 {
			return d
		}
		if x.Kind == OfPromise || y.Kind == OfPromise || x.Kind == OfOffer {
			return cmp.Or(cmp.Compare(b2i(y.Beyond), b2i(x.Beyond)), cmp.Compare(y.missed, x.missed))
		}
		// Differences that only round-off decides leave the order of the file.
		return cmp.Compare(math.Round(math.Abs(y.DB)*1e3), math.Round(math.Abs(x.DB)*1e3))
	})
}

func b2i(b bool) int {
	if b {
		return 1
	}
	return 0
}

// Verdict is the comparison in one line.
func (c *Comparison) Verdict() string {
	switch {
	case len(c.Changes) == 0:
		return c.Name + ": no change"
	case c.Regression:
		n := 0
		for _, x := range c.Changes {
			n += b2i(x.Beyond)
		}
		if n == 0 {
			return fmt.Sprintf("%s: REGRESSION: together the changes are more than %s", c.Name, c.Tolerances)
		}
		return fmt.Sprintf("%s: REGRESSION: %d of %s must not pass unseen (more than %s, or something lost)",
			c.Name, n, words.Count(len(c.Changes), "change", "changes"), c.Tolerances)
	}
	return fmt.Sprintf("%s: changed, nothing beyond %s", c.Name, c.Tolerances)
}

// Text is the verdict and at most a screenful of sentences, the largest first,
// lines at most width characters wide.
func (c *Comparison) Text(width int) string {
	lines := words.Wrap(c.Verdict(), "", "  ", width)
	for i, x := range c.Changes {
		if i == Screenful {
			lines = append(lines, fmt.Sprintf("* and %s", words.Count(len(c.Changes)-i, "more change", "more changes")))
			break
		}
		lines = append(lines, words.Wrap(x.Sentence, "* ", "  ", width)...)
	}
	if len(c.Totals) > 0 {
		lines = append(lines, words.Wrap("in all: "+strings.Join(c.Totals, "; "), "", "  ", width)...)
	}
	return strings.Join(lines, "\n") + "\n"
}
