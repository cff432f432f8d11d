package assign

import (
	"math"
	"testing"
)

// An exchange finds the best pair of choices of two stages: no choice is passed over by a
// glance that would have been better. All pairs are tried; the limits go from none to ones
// that nothing keeps, and some choices are too many changes.
func TestExchangeFindsTheBestPair(t *testing.T) {
	moved := 0
	for seed := range uint64(40) {
		p := drawn(seed, 5, 25, 9)
		for s := range p.Tables {
			for c := range p.Tables[s].Choices {
				p.Tables[s].Changes = append(p.Tables[s].Changes, c%4)
			}
		}
		b, err := p.prepare()
		if err != nil {
			t.Fatal(err)
		}
		start := make([]int, len(p.Tables))
		fresh := func() *arrangement {
			a := b.arrange(start, b.lists(), p.PointDB)
			a.most = int(seed) % 7 // 0: any
			if limit := 0.1 * float64(seed%5); limit > 0 {
				a.limit(Limits{limit, limit / 2})
			} else {
				a.watch(0, len(a.watched))
				a.refresh()
			}
			return a
		}
		for _, pair := range fresh().pairs() {
			i, j := pair[0], pair[1]
			all := fresh()
			spare, best := all.spare(i, j), all.cost
			for c := range p.Tables[i].Choices {
				for d := range p.Tables[j].Choices {
					if b.tables[i].changes(c)+b.tables[j].changes(d) > spare {
						continue
					}
					all.pick[i], all.pick[j] = c, d
					all.refresh()
					best = math.Min(best, all.cost)
				}
			}
			a := fresh()
			before := a.cost
			if a.exchange(i, j) {
				moved++
			}
			if a.cost > best+2*scoreStep || a.cost > before {
				t.Errorf("seed %d, stages %d and %d: %.9f, then %.9f; the best is %.9f", seed, i, j, before, a.cost, best)
			}
		}
	}
	if moved < 100 {
		t.Errorf("only %d exchanges found anything", moved)
	}
}
