package report

import (
	"fmt"
	"math"
	"strings"

	"bandwright/compiler"
	"bandwright/compiler/acoustic"
	"bandwright/compiler/words"
)

// roundedDB is what levels that are rounded down to a tenth may differ by for that alone.
const roundedDB = 0.15

// tighter tells of each way that holds to less in another realisation than in the
// prototype, with the one that holds to least.
func tighter(p *page, a *compiler.Air) {
	var out []string
	for k := range a.System.Ways {
		w := &a.System.Ways[k]
		was := holds(w, &a.Heard[0].Ways[k])
		least, where := was, ""
		for _, h := range a.Heard[1:] {
			if x := holds(w, &h.Ways[k]); x.least() < least.least() && x.least() < was.least()-roundedDB {
				least, where = x, h.Realisation
			}
		}
		if where != "" {
			out = append(out, fmt.Sprintf("%s in %s up to %s, in the prototype %s", w.Name, where, least, was))
		}
	}
	if out != nil {
		p.note("The prototype is not what holds to least; in the worst setting: " + strings.Join(out, "; ") + ".")
	}
}

// inHand are the least levels of any setting up to which a way is within its excursion and
// what its amplifier gives (dB re full scale); nil without a limit.
type inHand struct{ travel, amplifier *float64 }

func holds(w *acoustic.Way, h *acoustic.HeardWay) (out inHand) {
	less := func(x, y *float64) *float64 {
		if x == nil || y != nil && *y < *x {
			return y
		}
		return x
	}
	for _, s := range h.Settings {
		travel, amplifier := w.Holds(s)
		out = inHand{less(out.travel, travel), less(out.amplifier, amplifier)}
	}
	return out
}

// least is the level up to which both are kept; +Inf without a limit.
func (h inHand) least() float64 {
	db := math.Inf(1)
	for _, x := range []*float64{h.travel, h.amplifier} {
		if x != nil {
			db = math.Min(db, *x)
		}
	}
	return db
}

func (h inHand) String() string {
	var out []string
	if h.travel != nil {
		out = append(out, words.Level(*h.travel, "dB")+" by its excursion")
	}
	if h.amplifier != nil {
		out = append(out, words.Level(*h.amplifier, "dB")+" by its amplifier")
	}
	return words.List(out)
}
