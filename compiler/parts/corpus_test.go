package parts

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"

	"bandwright/biquad"
	"bandwright/compiler/circuit"
	"bandwright/compiler/netlist"
)

// stage is one of golden/published/stage_corpus.json: 30 invented stages.
type stage struct {
	id         string
	section    biquad.Analog
	topologies []*circuit.Topology
}

// wanted is the corpus's word for a topology, by the kind of filter: our names.
var wanted = map[string]string{
	"low-pass sallen-key": "sallen-key-low-pass", "high-pass sallen-key": "sallen-key-high-pass",
	"low-pass multiple-feedback": "multiple-feedback-low-pass", "high-pass multiple-feedback": "multiple-feedback-high-pass",
	"low-pass any": "rc-low-pass", "high-pass any": "rc-high-pass", "low-shelf any": "low-boost", "high-shelf any": "high-cut",
	"low-shelf inverting-shelf": "inverting-low-shelf", "pole-shift bridged-t": "bridged-t", "all-pass any": "lagging-all-pass",
	"all-pass sum-with-band-pass": "sum-with-band-pass", "peak sum-with-band-pass": "sum-with-band-pass",
	"peak band-pass-in-feedback": "band-pass-in-feedback", "notch sum-with-band-pass": "sum-with-band-pass",
}

// kinds are the corpus's kinds of filter as sections, p = s/w.
func kindSection(kind string, get func(string) float64) biquad.Analog {
	w, q := 2*math.Pi*get("at"), get("q")
	s := biquad.Analog{W0: w, Keep: w}
	rootA := biquad.FromDB(get("gain") / 2) // √(10^(gain/20))
	switch order := get("order"); {
	case kind == "pole-shift":
		w1, w2 := 2*math.Pi*get("from.at"), 2*math.Pi*get("to.at")
		s.W0, s.Keep = w2, w2
		r := w1 / w2
		s.B, s.A = [3]float64{r * r, r / get("from.q"), 1}, [3]float64{1, 1 / get("to.q"), 1}
	case kind == "low-pass" && order == 1:
		s.B, s.A = [3]float64{1}, [3]float64{1, 1}
	case kind == "high-pass" && order == 1:
		s.B, s.A = [3]float64{0, 1}, [3]float64{1, 1}
	case kind == "low-pass":
		s.B, s.A = [3]float64{1}, [3]float64{1, 1 / q, 1}
	case kind == "high-pass":
		s.B, s.A = [3]float64{0, 0, 1}, [3]float64{1, 1 / q, 1}
	case kind == "low-shelf":
		s.B, s.A = [3]float64{rootA, 1}, [3]float64{1 / rootA, 1}
	case kind == "high-shelf":
		s.B, s.A = [3]float64{1, rootA}, [3]float64{1, 1 / rootA}
	case kind == "all-pass" && order == 1:
		s.B, s.A = [3]float64{1, -1}, [3]float64{1, 1}
	case kind == "all-pass":
		s.B, s.A = [3]float64{1, -1 / q, 1}, [3]float64{1, 1 / q, 1}
	case kind == "notch":
		s.B, s.A = [3]float64{1, 0, 1}, [3]float64{1, 1 / q, 1}
	case kind == "peak":
		s.B, s.A = [3]float64{1, rootA / q, 1}, [3]float64{1, 1 / (rootA * q), 1}
	default:
		panic("the corpus has a kind that the test does not know: " + kind)
	}
	return s
}

func corpus(t testing.TB) []stage {
	t.Helper()
	raw, err := os.ReadFile("../../golden/published/stage_corpus.json")
	if err != nil {
		t.Fatal(err)
	}
	var c struct{ Stages []map[string]any }
	if err := json.Unmarshal(raw, &c); err != nil {
		t.Fatal(err)
	}
	var out []stage
	for _, m := range c.Stages {
		s := stage{id: m["id"].(string)}
		for kind, v := range m {
			if kind == "id" || kind == "topology" {
				continue
			}
			s.section = kindSection(kind, func(key string) float64 { return number(v, key) })
			name, known := wanted[kind+" "+m["topology"].(string)]
			topology, found := circuit.ByName(name)
			if !known || !found {
				t.Fatalf("%s: no topology for %s %s", s.id, kind, m["topology"])
			}
			s.topologies = []*circuit.Topology{topology}
		}
		out = append(out, s)
	}
	if len(out) != 30 {
		t.Fatalf("%d stages in the corpus, not 30", len(out))
	}
	return out
}

// number reads "95 Hz", "-3 dB" or a number at a dotted path; 0 for none.
func number(v any, path string) float64 {
	for _, key := range strings.Split(path, ".") {
		m, is := v.(map[string]any)
		if !is {
			return 0
		}
		v = m[key]
	}
	switch x := v.(type) {
	case float64:
		return x
	case string:
		f, err := strconv.ParseFloat(strings.Fields(x)[0], 64)
		if err == nil {
			return f
		}
	}
	return 0
}

// corpusBench is the corpus's own measure and stock: 10 Hz to 20 kHz, 1 kΩ to
// 100 kΩ, shunt legs from 150 Ω, 1 nF to 1 µF.
func corpusBench(ohm, farad string) *Bench {
	return &Bench{
		Stock: Stock{
			Ohm:      Values([]string{ohm}, nil, 1e3, 100e3),
			ShuntOhm: Values([]string{ohm}, nil, 150, 100e3),
			Farad:    Values([]string{farad}, nil, 1e-9, 1e-6),
		},
		Means: circuit.Means{
			Ohm: circuit.Range{From: 1e3, To: 100e3}, ShuntOhm: 150, Farad: circuit.Range{From: 1e-9, To: 1e-6},
			OpAmp: realOpAmp,
		},
		Band: Band{FromHz: 10, ToHz: 20e3},
	}
}

// realOpAmp is a usual one.
var realOpAmp = netlist.OpAmp{GainBandwidthHz: 10e6, OpenLoopGain: 316e3, OutputOhm: 50, VoltageNoise: 5e-9, CurrentNoise: 0.5e-12,
	OffsetV: 2e-3, BiasA: 100e-9, SwingV: 13, SlewVPerS: 10e6}

func TestTmp(t *testing.T) {
	for _, k := range [][2]string{{"E24", "E6"}, {"E24", "E12"}, {"E96", "E6"}, {"E96", "E12"}} {
		b := corpusBench(k[0], k[1]).ready()
		var sum, tsum float64
		for _, s := range corpus(t) {
			tb, err := b.Textbook(s.topologies[0], s.section)
			if err != nil {
				fmt.Println(s.id, err)
			}
			for _, n := range []int{1} {
				list, reason := b.pool(s.topologies[0], s.section, n, perError)
				if reason != "" {
					t.Error(s.id, reason)
					continue
				}
				if k[1] == "E6" && s.id > "c22" {
					fmt.Printf("%s %-28s textbook %.4f best %.5f %v\n", s.id, s.topologies[0].Name, tb.ErrorDB, list[0].ErrorDB, list[0].Values)
				}
				sum += list[0].ErrorDB
			}
			tsum += tb.ErrorDB
		}
		fmt.Println(k, tsum/30, sum/30)
	}
	_ = slices.Max[[]int]
}
