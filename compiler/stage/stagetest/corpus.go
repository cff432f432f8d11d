package stagetest

import (
	"encoding/json"
	"os"
	"strconv"
	"strings"
	"testing"

	"bandwright/biquad"
)

// CorpusStage is one of golden/published/stage_corpus.json: 30 invented stages.
type CorpusStage struct {
	ID       string
	Kind     string // of filter
	Topology string // our name
	figures  any
}

// Figure is what the corpus has at a dotted path, such as "from.q"; 0 where it has none.
func (s *CorpusStage) Figure(path string) float64 { return number(s.figures, path) }

// Section is the stage's section.
func (s *CorpusStage) Section() biquad.Analog { return Section(s.Kind, s.Figure) }

// topologies are the corpus's words for topologies, by the kind of filter: our names.
var topologies = map[string]string{
	"low-pass sallen-key": "sallen-key-low-pass", "high-pass sallen-key": "sallen-key-high-pass",
	"low-pass multiple-feedback": "multiple-feedback-low-pass", "high-pass multiple-feedback": "multiple-feedback-high-pass",
	"low-pass any": "rc-low-pass", "high-pass any": "rc-high-pass", "low-shelf any": "low-boost", "high-shelf any": "high-cut",
	"low-shelf inverting-shelf": "inverting-low-shelf", "pole-shift bridged-t": "bridged-t", "all-pass any": "lagging-all-pass",
	"all-pass sum-with-band-pass": "sum-with-band-pass", "peak sum-with-band-pass": "sum-with-band-pass",
	"peak band-pass-in-feedback": "band-pass-in-feedback", "notch sum-with-band-pass": "sum-with-band-pass",
}

// Corpus reads the corpus from a file.
func Corpus(t testing.TB, path string) []CorpusStage {
	t.Helper()
	raw, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	var c struct{ Stages []map[string]any }
	if err := json.Unmarshal(raw, &c); err != nil {
		t.Fatal(err)
	}
	var out []CorpusStage
	for _, m := range c.Stages {
		s := CorpusStage{ID: m["id"].(string)}
		for kind, v := range m {
			if kind == "id" || kind == "topology" {
				continue
			}
			s.Kind, s.figures = kind, v
			topology, known := topologies[kind+" "+m["topology"].(string)]
			if !known {
				t.Fatalf("%s: no topology for %s %s", s.ID, kind, m["topology"])
			}
			s.Topology = topology
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
