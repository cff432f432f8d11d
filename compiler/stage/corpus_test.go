package stage

import (
	"math"
	"testing"

	"bandwright/biquad"
	"bandwright/compiler/circuit"
	"bandwright/compiler/stage/stagetest"
)

// corpusStage is one of golden/published/stage_corpus.json: 30 invented stages.
type corpusStage struct {
	id       string
	section  biquad.Analog
	topology *circuit.Topology
}

func corpus(t testing.TB) []corpusStage {
	t.Helper()
	var out []corpusStage
	for _, s := range stagetest.Corpus(t, "../../golden/published/stage_corpus.json") {
		topology, found := circuit.ByName(s.Topology)
		if !found {
			t.Fatalf("%s: no topology %s", s.ID, s.Topology)
		}
		out = append(out, corpusStage{s.ID, s.Section(), topology})
	}
	return out
}

// corpusBench is the corpus's own measure and stock: 10 Hz to 20 kHz, 1 kΩ to
// 100 kΩ, shunt legs from 150 Ω, 1 nF to 1 µF.
func corpusBench(ohm, farad string) *Bench {
	return New(Stock{
		Ohm:      Values([]string{ohm}, nil, 1e3, 100e3),
		ShuntOhm: Values([]string{ohm}, nil, 150, 100e3),
		Farad:    Values([]string{farad}, nil, 1e-9, 1e-6),
	}, circuit.Means{
		Ohm: circuit.Range{From: 1e3, To: 100e3}, ShuntOhm: 150, Farad: circuit.Range{From: 1e-9, To: 1e-6},
		OpAmp: stagetest.OpAmp,
	}, Band{FromHz: 10, ToHz: 20e3})
}

// The record of the corpus: mean and largest error (dB) of textbook rounding and
// of the choice, by the corpus's own measure. Worse fails; better has to be
// recorded. limit is what the means must never exceed.
var record = []struct {
	ohm, farad                                        string
	textbook, worstTextbook, mean, worst, limit, done float64
}{
	{"E24", "E6", 0.48475, 4.00650, 0.05692, 0.26345, 0.062, 30},
	{"E24", "E12", 0.43674, 4.00650, 0.03139, 0.14903, 0.033, 30},
	{"E96", "E6", 0.15757, 1.26995, 0.01753, 0.04753, 0.019, 30},
	{"E96", "E12", 0.12728, 0.83348, 0.00789, 0.04753, 0.008, 30},
}

// recordStep is what the record is rounded to.
const recordStep = 1e-5

func TestCorpusRecord(t *testing.T) {
	all := corpus(t)
	for _, r := range record {
		b := corpusBench(r.ohm, r.farad)
		var textbook, worstTextbook, mean, worst, done float64
		for _, s := range all {
			hand, err := b.Textbook(s.topology, s.section)
			if err != nil {
				t.Errorf("%s: %v", s.id, err)
			}
			found, reason := b.pool(s.topology, s.section, 1, perError, 0)
			if reason != "" {
				t.Fatalf("%s: %s", s.id, reason)
			}
			inStock(t, b, found[0])
			inStock(t, b, hand)
			textbook += hand.ErrorDB / float64(len(all))
			mean += found[0].ErrorDB / float64(len(all))
			worstTextbook, worst = math.Max(worstTextbook, hand.ErrorDB), math.Max(worst, found[0].ErrorDB)
			done++
		}
		for _, c := range []struct {
			what      string
			got, want float64
		}{
			{"mean of textbook rounding", textbook, r.textbook}, {"worst of textbook rounding", worstTextbook, r.worstTextbook},
			{"mean", mean, r.mean}, {"worst", worst, r.worst}, {"stages", done, r.done},
		} {
			if math.Abs(c.got-c.want) > recordStep*0.6 {
				t.Errorf("%s/%s: the %s is %.5f, on record is %.5f", r.ohm, r.farad, c.what, c.got, c.want)
			}
		}
		if mean > r.limit {
			t.Errorf("%s/%s: the mean of %.4f dB is above %.3f dB", r.ohm, r.farad, mean, r.limit)
		}
	}
}

// inStock fails where a value cannot be bought.
func inStock(t testing.TB, b *Bench, c Candidate) {
	t.Helper()
	for i, e := range c.Topology.Parts() {
		if !b.Stock.Has(e, c.Values[i]) {
			t.Errorf("%s: %s = %g is not in stock", c.Topology.Name, e.Ref, c.Values[i])
		}
	}
}
