package parts

import (
	"testing"

	"bandwright/compiler/circuit"
)

// The best of one stage each, for the whole corpus.
func BenchmarkCorpus(b *testing.B) {
	all := corpus(b)
	for _, r := range record {
		b.Run(r.ohm+"_"+r.farad, func(b *testing.B) {
			bench := corpusBench(r.ohm, r.farad)
			for b.Loop() {
				for _, s := range all {
					bench.pool(s.topology, s.section, 1, perError)
				}
			}
		})
	}
}

// Every topology for one section, the best of each measured.
func BenchmarkCandidates(b *testing.B) {
	bench := boardBench()
	for b.Loop() {
		if _, _, err := bench.Candidates(pair("low-pass", 210, q7), nil, 1); err != nil {
			b.Fatal(err)
		}
	}
}

// Many choices of one topology, as the joint choice needs them.
func BenchmarkManyCandidates(b *testing.B) {
	bench := boardBench()
	lowPass, _ := circuit.ByName("sallen-key-low-pass")
	for b.Loop() {
		if _, _, err := bench.Candidates(pair("low-pass", 210, q7), []*circuit.Topology{lowPass}, MostCandidates); err != nil {
			b.Fatal(err)
		}
	}
}

// The invented four-way: all candidates, the joint choice, few values.
func BenchmarkFourWay(b *testing.B) {
	bench := boardBench()
	p, _ := fourWay(b, bench)
	joint, err := bench.Joint(p)
	if err != nil {
		b.Fatal(err)
	}
	b.Run("candidates", func(b *testing.B) {
		for b.Loop() {
			fourWay(b, bench)
		}
	})
	b.Run("joint", func(b *testing.B) {
		for b.Loop() {
			if _, err := bench.Joint(p); err != nil {
				b.Fatal(err)
			}
		}
	})
	b.Run("consolidate", func(b *testing.B) {
		for b.Loop() {
			if _, _, err := bench.Consolidate(p, joint, 0.1, 0.1); err != nil {
				b.Fatal(err)
			}
		}
	})
}
