package values

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"bandwright/biquad"
	"bandwright/compiler/assign"
	"bandwright/compiler/circuit"
	"bandwright/compiler/netlist"
	"bandwright/compiler/parallel"
	"bandwright/compiler/stage"
	"bandwright/compiler/stage/stagetest"
)

// many is how many candidates of each stage the joint choice has here.
const many = 200

// invented is a four-way of the test's own: LR4 at 210 Hz, 860 Hz and 4.3 kHz;
// a rumble filter before the ways split.
func invented() (common []biquad.Analog, ways [][]biquad.Analog) {
	lr := func(kind string, hz float64) []biquad.Analog {
		return []biquad.Analog{stagetest.Pair(kind, hz, stagetest.Q7), stagetest.Pair(kind, hz, stagetest.Q7)}
	}
	join := func(lists ...[]biquad.Analog) (out []biquad.Analog) {
		for _, l := range lists {
			out = append(out, l...)
		}
		return out
	}
	common = []biquad.Analog{stagetest.Pair("high-pass", 17, stagetest.Q7), stagetest.Shaped("high-shelf", map[string]float64{"at": 8000, "order": 1, "gain": -1.5})}
	return common, [][]biquad.Analog{
		join([]biquad.Analog{
			stagetest.Shaped("pole-shift", map[string]float64{"from.at": 61, "from.q": 1.05, "to.at": 31, "to.q": 0.68}),
			stagetest.Shaped("peak", map[string]float64{"at": 105, "q": 2.1, "gain": -3.5}),
			biquad.Constant(biquad.FromDB(-4)),
		}, lr("low-pass", 210)),
		join(lr("high-pass", 210), []biquad.Analog{
			stagetest.Shaped("peak", map[string]float64{"at": 620, "q": 1.6, "gain": 2.5}),
			biquad.Constant(biquad.FromDB(-2)),
		}, lr("low-pass", 860)),
		join(lr("high-pass", 860), []biquad.Analog{
			stagetest.Shaped("low-shelf", map[string]float64{"at": 1600, "order": 1, "gain": 3}),
			biquad.Constant(biquad.FromDB(1.5)),
		}, lr("low-pass", 4300)),
		join(lr("high-pass", 4300), []biquad.Analog{
			stagetest.Shaped("high-shelf", map[string]float64{"at": 9000, "order": 1, "gain": 4}),
			biquad.Constant(biquad.FromDB(3)),
		}),
	}
}

// fourWay is the invented four-way as a problem, each section with the topology
// of the best score, beside its textbook stages.
func fourWay(t testing.TB, b *stage.Bench) (p Problem, hand []stage.Candidate) {
	t.Helper()
	common, ways := invented()
	grid := biquad.Octaves(20, 20e3, 8, 31, 61, 105, 210, 620, 860, 1600, 4300, 9000)
	var hz []float64
	for _, k := range stage.CoarseToFine(len(grid), -1) {
		hz = append(hz, grid[k])
	}
	p.At = b.At(hz)
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
		p.Paths = append(p.Paths, assign.Path{Way: w, Stages: append(slices.Clone(before), number(list)...)})
		if w > 0 {
			p.Sums = append(p.Sums, assign.Sum{Pair: w - 1, Paths: []int{w - 1, w}})
		}
	}
	p.Stages, hand = make([][]stage.Candidate, len(asked)), make([]stage.Candidate, len(asked))
	err := parallel.Try(len(asked), func(i int) error {
		best, _, err := b.Candidates(asked[i], plain(), 1, stage.Behind{})
		if err != nil || len(best) == 0 {
			return fmt.Errorf("no choice for %v: %v", asked[i], err)
		}
		topology := best[0].Topology
		if p.Stages[i], _, err = b.Candidates(asked[i], []*circuit.Topology{topology}, many, stage.Behind{}); err != nil {
			return err
		}
		hand[i], err = b.Textbook(topology, asked[i])
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	want(&p)
	return p, hand
}

// want makes the product of its sections what every path wants.
func want(p *Problem) {
	for n := range p.Paths {
		path := &p.Paths[n]
		path.Want = make([]complex128, len(p.At.Hz))
		for k, f := range p.At.Hz {
			path.Want[k] = 1
			for _, s := range path.Stages {
				path.Want[k] *= p.Stages[s][0].Section.At(2 * math.Pi * f)
			}
		}
	}
}

// alone is a problem with one choice a stage.
func alone(p Problem, all []stage.Candidate) Problem {
	p.Stages = nil
	for _, c := range all {
		p.Stages = append(p.Stages, []stage.Candidate{c})
	}
	return p
}

// both are equal limits of paths and sums (dB).
func both(db float64) assign.Limits { return assign.Limits{PathDB: db, SumDB: db} }

// boardBench is E24 and E6 with a usual op-amp.
func boardBench() *stage.Bench { return benchWith(stagetest.OpAmp) }

func benchWith(op netlist.OpAmp) *stage.Bench {
	return stage.New(stage.Stock{
		Ohm:      stage.Values([]string{"E24"}, nil, 1e3, 100e3),
		ShuntOhm: stage.Values([]string{"E24"}, nil, 150, 100e3),
		Farad:    stage.Values([]string{"E6"}, nil, 1e-9, 1e-6),
	}, circuit.Means{
		Ohm: circuit.Range{From: 1e3, To: 100e3}, ShuntOhm: 150, Farad: circuit.Range{From: 1e-9, To: 1e-6}, OpAmp: op,
	}, stage.Band{FromHz: 20, ToHz: 20e3, DownDB: 40})
}

// The invented four-way: all candidates, the joint choice, few values.
func BenchmarkFourWay(b *testing.B) {
	p, _ := fourWay(b, boardBench())
	joint, err := Joint(p)
	if err != nil {
		b.Fatal(err)
	}
	b.Run("candidates", func(b *testing.B) {
		for b.Loop() {
			fourWay(b, boardBench())
		}
	})
	b.Run("joint", func(b *testing.B) {
		for b.Loop() {
			if _, err := Joint(p); err != nil {
				b.Fatal(err)
			}
		}
	})
	b.Run("consolidate", func(b *testing.B) {
		for b.Loop() {
			if _, _, err := Few(p, joint, both(0.1)); err != nil {
				b.Fatal(err)
			}
		}
	})
}

// plain are the topologies that a board is first chosen from: none that saves op-amps at a price.
func plain() []*circuit.Topology {
	return slices.DeleteFunc(slices.Clone(circuit.Topologies), func(t *circuit.Topology) bool { return t.Saves })
}
