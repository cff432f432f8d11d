package compare

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
	rank := map[string]int{OfOffer: 0, OfPromise: 0, OfResponse: 1, OfInteraction: 1, OfAir: 1, OfRealisation: 1, OfFigure: 2, OfPart: 3, OfText: 4, OfCoefficients: 5}
	slices.SortStableFunc(c.out.Changes, func(x, y Change) int {
		if d := cmp.Compare(rank[x.Kind], rank[y.Kind]); d != 0 {
			return d
		}
		if rank[x.Kind] > 0 {
			// Differences that only round-off decides leave the order of the file.
			return cmp.Compare(math.Round(math.Abs(y.DB)*1e3), math.Round(math.Abs(x.DB)*1e3))
		}
		switch {
		case x.Beyond && !y.Beyond:
			return -1
		case y.Beyond && !x.Beyond:
			return 1
		}
		return cmp.Compare(y.missed, x.missed)
	})
}

// Verdict is the comparison in one line.
func (c *Comparison) Verdict() string {
	n := c.marked()
	switch {
	case len(c.Changes) == 0:
		return c.Name + ": no change"
	case c.Regression && c.Tolerances == Tolerances{}: // nothing was left to compare with
		return fmt.Sprintf("%s: REGRESSION", c.Name)
	case c.Regression && n == 0:
		return fmt.Sprintf("%s: REGRESSION: the changes together exceed %s", c.Name, c.Tolerances)
	case c.Regression:
		return fmt.Sprintf("%s: REGRESSION: %d of %s to review (more than %s, or something removed)",
			c.Name, n, words.Count(len(c.Changes), "change", "changes"), c.Tolerances)
	}
	return fmt.Sprintf("%s: changed, nothing beyond %s", c.Name, c.Tolerances)
}

// marked is how many changes must not pass unseen.
func (c *Comparison) marked() (n int) {
	for _, x := range c.Changes {
		if x.Beyond {
			n++
		}
	}
	return n
}

// Text is the verdict and at most a screenful of sentences, the largest first,
// lines at most width characters wide. A sentence that must not pass unseen begins
// with "!", any other with "*".
func (c *Comparison) Text(width int) string {
	lines := words.Wrap(c.Verdict(), "", "  ", width)
	for i, x := range c.Changes {
		mark := "* "
		if x.Beyond {
			mark = "! "
		}
		if i == Screenful {
			lines = append(lines, fmt.Sprintf("* and %s", words.Count(len(c.Changes)-i, "more change", "more changes")))
			break
		}
		lines = append(lines, words.Wrap(x.Sentence, mark, "  ", width)...)
	}
	if len(c.Totals) > 0 {
		mark := ""
		if c.Regression && c.marked() == 0 {
			mark = "! "
		}
		lines = append(lines, words.Wrap(mark+"in all: "+strings.Join(c.Totals, "; "), "", "  ", width)...)
	}
	if c.MadeBy != "" {
		lines = append(lines, words.Wrap(c.MadeBy, "", "  ", width)...)
	}
	return strings.Join(lines, "\n") + "\n"
}

// some are at most so many texts and a count of the rest.
func some(texts []string, most int, one, many string) []string {
	if n := len(texts) - most; n > 0 {
		return append(slices.Clone(texts[:most]), words.Count(n, one, many))
	}
	return texts
}

// lines names lines of a spec, or what became of them.
func lines(said []string) string {
	const most = 3 // that one sentence names
	return words.List(some(said, most, "more line", "more lines"))
}
