package diagnosis

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
)

// A stage that is bypassed is told, by its number: recordings of good boards with the closed form of the stage's topology, op-amps
// ideal, taken out. Of two stages that are the same, as those of some crossovers, either may be named first.
func TestBypassed(t *testing.T) {
	for name, every := range map[string]int{"dabchick": 1, "heron": 4} {
		u := benched(t, name)
		r := rand.New(rand.NewPCG(21, 7))
		n, told, first := 0, 0, 0
		for k, chain := range u.Board.Chains() {
			for i := range chain.Positions {
				p := &chain.Positions[i]
				for _, s := range p.Alt[p.Index(u.bench.C)].Stages {
					if s.InN != "" || s.Section.Order() == 0 {
						continue
					}
					if n++; n%every > 0 {
						continue
					}
					readings := u.measure(t, u.factors(r), r)
					for w := range readings {
						if at := readings[w].At; k == 0 || k-1 == w {
							readings[w].At = func(hz float64) complex128 {
								return at(hz) / s.Topology.Closed(s.Values).At(2*math.Pi*hz)
							}
						}
					}
					d, err := u.bench.Diagnose(readings)
					if err != nil {
						t.Fatal(err)
					}
					told++
					got := strings.Join(u.bench.Sentences(d), " ")
					if strings.Contains(got, fmt.Sprintf("stage %d of %s is bypassed", s.Number, u.Board.NameOf(chain))) {
						first++
					} else {
						t.Errorf("%s: stage %d of %s: %q", name, s.Number, u.Board.NameOf(chain), got)
					}
				}
			}
		}
		t.Logf("%s: %d of %d", name, first, told)
		if told < 3 || first < told {
			t.Errorf("%s: %d of %d stages that are bypassed are told", name, first, told)
		}
	}
}
