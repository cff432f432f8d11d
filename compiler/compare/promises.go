package compare

import (
	"fmt"
	"math"
	"slices"

	"bandwright/compiler/promise"
	"bandwright/compiler/result"
)

// promises adds what is now broken or kept again, the worst realisation of each
// promise and way.
func (c *comparison) promises() {
	type group struct {
		worst result.AcceptedFinding
		n     int
	}
	var groups []group
	for _, n := range c.new.Findings {
		was := c.calledBefore(n.Way)
		i := slices.IndexFunc(c.old.Findings, func(o result.AcceptedFinding) bool {
			return o.Promise == n.Promise && o.Realisation == n.Realisation && o.Way == was
		})
		if i < 0 && n.Kept || i >= 0 && c.old.Findings[i].Kept == n.Kept {
			continue
		}
		g := slices.IndexFunc(groups, func(g group) bool {
			return g.worst.Promise == n.Promise && g.worst.Way == n.Way && g.worst.Kept == n.Kept
		})
		switch {
		case g < 0:
			groups = append(groups, group{n, 1})
			continue
		case promise.Worse(n.Promise, n.Worst, groups[g].worst.Worst):
			groups[g].worst = n
		}
		groups[g].n++
	}
	for _, g := range groups {
		w := g.worst
		who := w.Way
		if who == "" {
			who = "every way"
		}
		text := fmt.Sprintf("%s: the promise %s is kept again", who, w.Promise)
		if !w.Kept {
			unit := promise.UnitOf(w.Promise)
			text = fmt.Sprintf("%s: the promise %s is now broken, %s where %s is promised", who, w.Promise, unit.Beside(w.Worst, w.Limit), unit.Limit(w.Limit))
			if w.AtHz > 0 {
				text += ", at " + hertz(w.AtHz)
			}
		}
		text += " (" + w.Realisation
		if g.n > 1 {
			text += fmt.Sprintf(" and %d more", g.n-1)
		}
		c.add(Change{Kind: OfPromise, Way: w.Way, AtHz: w.AtHz, Beyond: !w.Kept, Sentence: text + ")", missed: math.Abs(w.Worst - w.Limit)})
	}
}
