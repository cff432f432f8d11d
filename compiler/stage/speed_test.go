package stage

import (
	"testing"

	"bandwright/compiler/circuit"
	"bandwright/compiler/stage/stagetest"
)

// The best of one stage each, for the whole corpus.
func BenchmarkCorpus(b *testing.B) {
	all := corpus(b)
	for _, r := range record {
		b.Run(r.ohm+"_"+r.farad, func(b *testing.B) {
			bench := corpusBench(r.ohm, r.farad)
			for b.Loop() {
				for _, s := range all {
					bench.pool(s.topology, s.section, 1, perError, 0)
				}
			}
		})
	}
}

// Every topology for one section, the best of each measured.
func BenchmarkCandidates(b *testing.B) {
	for b.Loop() {
		if _, _, err := corpusBench("E24", "E6").Candidates(stagetest.Pair("low-pass", 210, stagetest.Q7), nil, 1, Behind{}); err != nil {
			b.Fatal(err)
		}
	}
}

// Many choices of one topology, as the joint choice needs them.
func BenchmarkManyCandidates(b *testing.B) {
	lowPass, _ := circuit.ByName("sallen-key-low-pass")
	for b.Loop() {
		if _, _, err := corpusBench("E24", "E6").Candidates(stagetest.Pair("low-pass", 210, stagetest.Q7), []*circuit.Topology{lowPass}, 200, Behind{}); err != nil {
			b.Fatal(err)
		}
	}
}
