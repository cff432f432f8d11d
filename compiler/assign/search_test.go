package assign

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"reflect"
	"runtime"
	"testing"
)

// drawn is a problem of two ways that sum, of stages of their own each, with a stage
// before both. Errors are drawn, and every choice is made of two of so many values.
func drawn(seed uint64, stages, choices, values int) Problem {
	r := rand.New(rand.NewPCG(seed, 1))
	const frequencies = 6
	p := Problem{Frequencies: frequencies, PointDB: 0.005, Paths: []Path{{Way: 0, Stages: []int{0}}, {Way: 1, Stages: []int{0}}}, Sums: []Sum{{Paths: []int{0, 1}}}}
	for n := range p.Paths {
		for k := range frequencies {
			level := math.Exp2(float64(k) - 2.5)
			if n == 1 {
				level = 1 / level
			}
			p.Paths[n].Want = append(p.Paths[n].Want, complex(level/(1+level), 0))
			p.Paths[n].PerRad = append(p.Paths[n].PerRad, 0.5)
		}
	}
	for i := range stages {
		t := Table{Points: make([]float64, choices)}
		for c := range choices {
			e := newErrors(frequencies)
			for k := range frequencies {
				e.DB[k], e.Rad[k] = 0.2*r.NormFloat64(), 0.02*r.NormFloat64()
			}
			t.Choices, t.Values = append(t.Choices, e), append(t.Values, []int{r.IntN(values), r.IntN(values)})
			t.Points[c] = 3 * r.Float64()
		}
		p.Tables = append(p.Tables, t)
		if i > 0 {
			p.Paths[i%2].Stages = append(p.Paths[i%2].Stages, i)
		}
	}
	return p
}

// worst works out a pick's errors (dB) anew: of each way, and of the sum.
func worst(p Problem, pick []int) (ways [2]float64, sum float64) {
	for k := range p.Frequencies {
		var got, want complex128
		for n, path := range p.Paths {
			var db, rad float64
			for _, s := range path.Stages {
				db, rad = db+p.Tables[s].Choices[pick[s]].DB[k], rad+p.Tables[s].Choices[pick[s]].Rad[k]
			}
			ways[n] = max(ways[n], math.Abs(db), math.Abs(rad)*path.PerRad[k])
			got += path.Want[k] * cmplx.Rect(math.Pow(10, db/20), rad)
			want += path.Want[k]
		}
		sum = max(sum, math.Abs(20*math.Log10(cmplx.Abs(got/want))))
	}
	return ways, sum
}

// eachPick calls f with every pick there is.
func eachPick(p Problem, f func(pick []int)) {
	pick := make([]int, len(p.Tables))
	for {
		f(pick)
		i := 0
		for ; i < len(pick); i++ {
			if pick[i]++; pick[i] < len(p.Tables[i].Choices) {
				break
			}
			pick[i] = 0
		}
		if i == len(pick) {
			return
		}
	}
}

// What Search ends with cannot be bettered by any two stages of one way, and is close to
// the best of all, by trying all.
func TestSearchAgainstAll(t *testing.T) {
	const (
		series = 1e-4 // dB: what the series for the sum leaves out
		seeds  = 20
		best   = 19 // of them end with the best of all: fewer fail, more have to be recorded
	)
	found := 0
	for seed := range uint64(seeds) {
		p := drawn(seed, 5, 6, 8)
		plan, err := Search(p, make([]int, len(p.Tables)))
		if err != nil {
			t.Fatal(err)
		}
		cost := func(pick []int) float64 {
			ways, sum := worst(p, pick)
			total := ways[0] + ways[1] + sum
			for s, c := range pick {
				total += p.PointDB * p.Tables[s].Points[c]
			}
			return total
		}
		ways, sum := worst(p, plan.Pick)
		if math.Abs(plan.PathDB[0]-ways[0])+math.Abs(plan.PathDB[1]-ways[1])+math.Abs(plan.SumDB[0]-sum) > 1e-9 {
			t.Errorf("seed %d: the plan tells %v and %v, its errors are %v and %v", seed, plan.PathDB, plan.SumDB, ways, sum)
		}
		is, least := cost(plan.Pick), math.Inf(1)
		eachPick(p, func(pick []int) {
			c := cost(pick)
			least = math.Min(least, c)
			var moved []int
			for s := range pick {
				if pick[s] != plan.Pick[s] {
					moved = append(moved, s)
				}
			}
			// Stage 0 is in both ways, the others are in one by turns.
			if n := len(moved); c < is-series && (n == 1 || n == 2 && (moved[0] == 0 || moved[0]%2 == moved[1]%2)) {
				t.Errorf("seed %d: %v costs %.6f, %v of the plan %.6f", seed, pick, c, plan.Pick, is)
			}
		})
		if is < least+series {
			found++
		}
	}
	if found != best {
		t.Errorf("the best of all is found %d times of %d, on record: %d", found, seeds, best)
	}
}

// Fewest keeps the limits and what there is of other things, with about as few values as
// there can be, by trying all.
func TestFewestAgainstAll(t *testing.T) {
	const (
		seeds = 20
		best  = 19 // of them end with the fewest of all: fewer fail, more have to be recorded
	)
	limits := Limits{PathDB: 0.5, SumDB: 0.5}
	distinct := func(p Problem, pick []int) int {
		seen := map[int]bool{}
		for s, c := range pick {
			for _, v := range p.Tables[s].Values[c] {
				seen[v] = true
			}
		}
		return len(seen)
	}
	found, tried := 0, 0
	for seed := range uint64(seeds) {
		p := drawn(seed, 5, 6, 8)
		// Half of all picks may not be afforded.
		costs := func(s, c int) []float64 { return []float64{0.4 * float64((3*s+5*c)%7) / 6, 0} }
		within := func(pick []int, part float64) bool {
			ways, sum := worst(p, pick)
			cost := 0.0
			for s, c := range pick {
				cost += costs(s, c)[0]
			}
			return max(ways[0], ways[1]) <= part*limits.PathDB && sum <= part*limits.SumDB && cost <= 1
		}
		var first []int
		least := math.MaxInt
		eachPick(p, func(pick []int) {
			if !within(pick, nearShare) {
				return
			}
			if first == nil {
				first = append(first, pick...)
			}
			least = min(least, distinct(p, pick))
		})
		if first == nil {
			continue // nothing to begin with
		}
		tried++
		solve := func() [][]int {
			// Stages 1 and 3 are in one way, 2 and 4 in the other.
			picks, err := Fewest(p, Few{Pick: first, Limits: limits, Kin: []int{0, 1, 2, 1, 2}, Costs: costs})
			if err != nil {
				t.Fatal(err)
			}
			return picks
		}
		picks := solve()
		if last := picks[len(picks)-1]; !reflect.DeepEqual(last, first) {
			t.Errorf("seed %d: %v is the last pick, not %v", seed, last, first)
		}
		for i, pick := range picks {
			// Sums are estimated to the first order.
			if ways, _ := worst(p, pick); max(ways[0], ways[1]) > limits.PathDB || distinct(p, pick) > distinct(p, first) || i > 0 && distinct(p, pick) < distinct(p, picks[i-1]) {
				t.Errorf("seed %d: %v is not within the limits, has more values than %v, or fewer than one before", seed, pick, first)
			}
		}
		for _, pick := range picks {
			if within(pick, 1) {
				if distinct(p, pick) <= least {
					found++
				}
				break
			}
		}
		was := runtime.GOMAXPROCS(1)
		again := solve()
		runtime.GOMAXPROCS(was)
		if !reflect.DeepEqual(picks, again) {
			t.Errorf("seed %d: %v, and %v on one processor", seed, picks, again)
		}
	}
	if found != best {
		t.Errorf("the fewest values are found %d times of %d, on record: %d", found, tried, best)
	}
}

// What a search begins with is not lost: where that has the fewest values of all, by trying all, so has
// what it ends with.
func TestFewestGoesOn(t *testing.T) {
	limits := Limits{PathDB: 0.5, SumDB: 0.5}
	tried := 0
	for seed := range uint64(20) {
		p := drawn(seed, 5, 6, 8)
		values := func(pick []int) int {
			seen := map[int]bool{}
			for s, c := range pick {
				for _, v := range p.Tables[s].Values[c] {
					seen[v] = true
				}
			}
			return len(seen)
		}
		var most, least []int
		eachPick(p, func(pick []int) {
			// Sums are estimated to the first order.
			if ways, sum := worst(p, pick); max(ways[0], ways[1]) > nearShare*limits.PathDB || sum > 0.95*nearShare*limits.SumDB {
				return
			}
			if most == nil || values(pick) > values(most) {
				most = append([]int(nil), pick...)
			}
			if least == nil || values(pick) < values(least) {
				least = append([]int(nil), pick...)
			}
		})
		if most == nil {
			continue
		}
		tried++
		idle := p
		idle.Idle = func() bool { return true } // it has what it begins with
		picks, err := Fewest(idle, Few{Pick: most, Limits: limits, Begin: [][]int{most, least}})
		if err != nil || !reflect.DeepEqual(picks[0], least) && values(picks[0]) > values(least) || !reflect.DeepEqual(picks[len(picks)-1], most) {
			t.Errorf("seed %d: %v, begun with %v and %v: %v", seed, picks, most, least, err)
		}
		if picks, err = Fewest(p, Few{Pick: most, Limits: limits, Begin: [][]int{least}}); err != nil || values(picks[0]) > values(least) {
			t.Errorf("seed %d: %v, begun with %v: %v", seed, picks, least, err)
		}
	}
	if tried < 15 {
		t.Errorf("%d problems were tried", tried)
	}
}

// Of two stages that share a choice each counts in its own paths, their values once, and values that
// are in use anyway cost nothing: as few as can be, by trying all.
func TestFewestOfSharedChoices(t *testing.T) {
	limits := Limits{PathDB: 0.5, SumDB: 0.5}
	inUse := []int{0, 1}
	distinct := func(p Problem, pick []int) int {
		seen := map[int]bool{0: true, 1: true}
		for _, s := range []int{0, 1} {
			for _, v := range p.Tables[s].Values[pick[s]] {
				seen[v] = true
			}
		}
		return len(seen)
	}
	compared := 0
	for seed := range uint64(12) {
		p := drawn(seed, 3, 8, 9)
		// One way in two settings: stage 1 and stage 2 are two states of one stage.
		p.Paths[0].Stages, p.Paths[1].Stages, p.Paths[1].Way, p.Sums = []int{0, 1}, []int{0, 2}, 0, nil
		var first []int
		least := math.MaxInt
		for a := range 8 {
			for b := range 8 {
				pick := []int{a, b, b}
				if ways, _ := worst(p, pick); max(ways[0], ways[1]) > nearShare*limits.PathDB {
					continue
				}
				if first == nil {
					first = pick
				}
				least = min(least, distinct(p, pick))
			}
		}
		if first == nil {
			continue
		}
		compared++
		picks, err := Fewest(p, Few{Pick: first, Limits: limits, Follows: []int{0, 1, 1}, InUse: inUse})
		if err != nil {
			t.Fatal(err)
		}
		ways, _ := worst(p, picks[0])
		if got := picks[0]; got[1] != got[2] || max(ways[0], ways[1]) > limits.PathDB || distinct(p, got) != least {
			t.Errorf("seed %d: %v has %d values and %v dB; there are %d", seed, got, distinct(p, got), ways, least)
		}
	}
	if compared < 6 {
		t.Errorf("%d problems can be solved: too few to tell", compared)
	}
}

// Pairs of kin that cancel are all pairs whose errors do, by trying all.
func TestPairsThatCancel(t *testing.T) {
	p := drawn(7, 5, 40, 8)
	b, err := p.prepare()
	if err != nil {
		t.Fatal(err)
	}
	limits := Limits{PathDB: 0.15, SumDB: 0.15}
	g := b.ground(Few{Pick: make([]int, 5), Limits: limits, Kin: []int{0, 1, 2, 1, 1}})
	if len(g.pairs) != 1 || g.pairs[0].i != 3 || g.pairs[0].j != 1 {
		t.Fatalf("%d pairs of kin: stages 3 and 1 alone are in the same way", len(g.pairs))
	}
	listed := map[[2]int32]bool{}
	for _, x := range g.pairs[0].choices {
		listed[x] = true
	}
	want := 0
	for c, e := range p.Tables[3].Choices {
		for d, f := range p.Tables[1].Choices {
			most := 0.0
			for k := range e.DB {
				most = max(most, math.Abs(e.DB[k]+f.DB[k]))
			}
			is := most <= cancelling*limits.PathDB
			if is {
				want++
			}
			if listed[[2]int32{int32(c), int32(d)}] != is {
				t.Errorf("choices %d and %d add up to %.4f dB: listed %v", c, d, most, !is)
			}
		}
	}
	if want < 3 {
		t.Errorf("%d pairs cancel: too few to tell", want)
	}
}
