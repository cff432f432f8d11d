package parts

import (
	"fmt"
	"math"
	"testing"
	"time"

	"bandwright/biquad"
	"bandwright/compiler/circuit"
)

func pair(kind string, hz, q float64) biquad.Analog {
	return kindSection(kind, func(key string) float64 {
		return map[string]float64{"at": hz, "q": q}[key]
	})
}

func shaped(kind string, keys map[string]float64) biquad.Analog {
	return kindSection(kind, func(key string) float64 { return keys[key] })
}

// q7 is the Q of the sections of an LR4.
const q7 = math.Sqrt2 / 2

// invented is a four-way of the test's own: LR4 at 210 Hz, 1.1 kHz and 4.3 kHz;
// a rumble filter before the ways split.
func invented() (common []biquad.Analog, ways [][]biquad.Analog) {
	lr := func(kind string, hz float64) []biquad.Analog {
		return []biquad.Analog{pair(kind, hz, q7), pair(kind, hz, q7)}
	}
	join := func(lists ...[]biquad.Analog) (out []biquad.Analog) {
		for _, l := range lists {
			out = append(out, l...)
		}
		return out
	}
	common = []biquad.Analog{pair("high-pass", 17, q7), shaped("high-shelf", map[string]float64{"at": 8000, "order": 1, "gain": -1.5})}
	return common, [][]biquad.Analog{
		join([]biquad.Analog{
			shaped("pole-shift", map[string]float64{"from.at": 61, "from.q": 1.05, "to.at": 31, "to.q": 0.68}),
			shaped("peak", map[string]float64{"at": 105, "q": 2.1, "gain": -3.5}),
			biquad.Constant(biquad.FromDB(-4)),
		}, lr("low-pass", 210)),
		join(lr("high-pass", 210), []biquad.Analog{
			shaped("peak", map[string]float64{"at": 620, "q": 1.6, "gain": 2.5}),
			biquad.Constant(biquad.FromDB(-2)),
		}, lr("low-pass", 1100)),
		join(lr("high-pass", 1100), []biquad.Analog{
			shaped("low-shelf", map[string]float64{"at": 1600, "order": 1, "gain": 3}),
			biquad.Constant(biquad.FromDB(1.5)),
		}, lr("low-pass", 4300)),
		join(lr("high-pass", 4300), []biquad.Analog{
			shaped("high-shelf", map[string]float64{"at": 9000, "order": 1, "gain": 4}),
			biquad.Constant(biquad.FromDB(3)),
		}),
	}
}

func fourWay(t testing.TB, b *Bench) (Problem, []Choice) {
	common, ways := invented()
	p := Problem{Hz: Grid(20, 20e3, 8, 17, 31, 61, 105, 210, 620, 1100, 1600, 4300, 9000)}
	var hand []Choice
	add := func(s biquad.Analog) int {
		best, _, err := b.Candidates(s, nil, 1)
		if err != nil {
			t.Fatal(err)
		}
		if len(best) == 0 {
			t.Fatal("no choice")
		}
		c, _, err := b.Candidates(s, []*circuit.Topology{best[0].Topology}, MostCandidates)
		if err != nil {
			t.Fatal(err)
		}
		h, err := b.Textbook(best[0].Topology, s)
		if err != nil {
			t.Fatal(err)
		}
		hand = append(hand, h)
		p.Stages = append(p.Stages, Stage{c})
		return len(p.Stages) - 1
	}
	var before []int
	for _, s := range common {
		before = append(before, add(s))
	}
	for w, sections := range ways {
		path := Path{Way: w, Stages: append([]int{}, before...)}
		for _, s := range sections {
			path.Stages = append(path.Stages, add(s))
		}
		p.Paths = append(p.Paths, path)
		if w > 0 {
			p.Sums = append(p.Sums, Sum{Pair: w - 1, Paths: []int{w - 1, w}})
		}
	}
	return p, hand
}

func TestTmpBoard(t *testing.T) {
	b := corpusBench("E24", "E6").ready()
	b.Band = Band{20, 20e3, 40}
	t0 := time.Now()
	p, hand := fourWay(t, b)
	fmt.Println("candidates", time.Since(t0))
	for i, s := range p.Stages {
		c := s.Candidates[0]
		fmt.Printf("%d %s n=%d score %.2f real %.3f ideal %.3f noise %.1f nV ng %.1f in %.0f level %.3f\n", i, c.Topology.Name, len(s.Candidates), c.Score, c.RealDB, c.ErrorDB, c.NoiseV*1e9, c.NoiseGain, c.InputOhm, c.Level)
	}
	ph := p
	ph.Stages = nil
	for _, h := range hand {
		ph.Stages = append(ph.Stages, Stage{[]Choice{h}})
	}
	show := func(name string, f func() (Plan, error)) Plan {
		t0 := time.Now()
		x, err := f()
		if err != nil {
			t.Fatal(err)
		}
		r, c := x.Distinct()
		fmt.Printf("%s %.4f sums %.4f %d %d %v\n", name, x.PathDB, x.SumDB, r, c, time.Since(t0))
		return x
	}
	show("hand", func() (Plan, error) { return b.Each(ph) })
	show("each", func() (Plan, error) { return b.Each(p) })
	show("joint", func() (Plan, error) { return b.Joint(p) })
}

func TestTmpCons(t *testing.T) {
	b := corpusBench("E24", "E6").ready()
	b.Band = Band{20, 20e3, 40}
	p, _ := fourWay(t, b)
	x, err := b.Joint(p)
	if err != nil {
		t.Fatal(err)
	}
	for _, lim := range []float64{0.1, 0.2} {
		t0 := time.Now()
		y, kept, err := b.Consolidate(p, x, lim, lim)
		r, c := y.Distinct()
		fmt.Println("cons", lim, kept, err, y.PathDB, y.SumDB, r, c, time.Since(t0))
	}
}
