package assign

import (
	"strings"
	"testing"
)

// What a problem must have.
func TestProblemsAreChecked(t *testing.T) {
	zero := Errors{DB: []float64{0, 0}, Rad: []float64{0, 0}}
	one := []complex128{1, 1}
	good := Problem{Frequencies: 2, Tables: []Table{{Choices: []Errors{zero}, Points: []float64{0}}},
		Paths: []Path{{Stages: []int{0}, Want: one}}, Sums: []Sum{{Paths: []int{0}}}}
	plan, err := Search(good, []int{0})
	if err != nil || len(plan.Pick) != 1 {
		t.Fatal(plan, err)
	}
	for want, change := range map[string]func(*Problem){
		"frequencies":            func(p *Problem) { p.Frequencies = 0 },
		"stage 0 has no choice":  func(p *Problem) { p.Tables = []Table{{}} },
		"passes a stage 7":       func(p *Problem) { p.Paths = []Path{{Stages: []int{7}, Want: one}} },
		"passes a stage -1":      func(p *Problem) { p.Paths = []Path{{Stages: []int{-1}, Want: one}} },
		"path 0 has a way":       func(p *Problem) { p.Paths = []Path{{Way: -1}} },
		"as many responses":      func(p *Problem) { p.Paths = []Path{{Want: one[:1]}} },
		"a path 3 that does not": func(p *Problem) { p.Sums = []Sum{{Paths: []int{3}}} },
		"sum 0 has a pair":       func(p *Problem) { p.Sums = []Sum{{Pair: -1}} },
	} {
		p := good
		change(&p)
		if _, err := Search(p, []int{0}); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v", want, err)
		}
	}
}
