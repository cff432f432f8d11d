package parts

import (
	"fmt"
	"math"
	"slices"
	"testing"

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

// fourWay is the invented four-way as a problem, each section with the topology
// of the best score, beside its textbook stages.
func fourWay(t testing.TB, b *Bench) (p Problem, hand []Choice) {
	t.Helper()
	common, ways := invented()
	p.Hz = Grid(20, 20e3, 8, 31, 61, 105, 210, 620, 1100, 1600, 4300, 9000)
	var asked []biquad.Analog
	number := func(list []biquad.Analog) (out []int) {
		for _, s := range list {
			out = append(out, len(asked))
			asked = append(asked, s)
		}
		return out
	}
	before := number(common)
	for w, list := range ways {
		p.Paths = append(p.Paths, Path{Way: w, Stages: append(slices.Clone(before), number(list)...)})
		if w > 0 {
			p.Sums = append(p.Sums, Sum{Pair: w - 1, Paths: []int{w - 1, w}})
		}
	}
	p.Stages, hand = make([]Stage, len(asked)), make([]Choice, len(asked))
	err := each(len(asked), func(i int) error {
		best, _, err := b.Candidates(asked[i], nil, 1)
		if err != nil || len(best) == 0 {
			return fmt.Errorf("no choice for %v: %v", asked[i], err)
		}
		topology := best[0].Topology
		if p.Stages[i].Candidates, _, err = b.Candidates(asked[i], []*circuit.Topology{topology}, MostCandidates); err != nil {
			return err
		}
		hand[i], err = b.Textbook(topology, asked[i])
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return p, hand
}

// alone is a problem with one choice a stage.
func alone(p Problem, all []Choice) Problem {
	p.Stages = nil
	for _, c := range all {
		p.Stages = append(p.Stages, Stage{[]Choice{c}})
	}
	return p
}

func boardBench() *Bench {
	b := corpusBench("E24", "E6")
	b.Band = Band{FromHz: 20, ToHz: 20e3, DownDB: 40}
	return b
}
