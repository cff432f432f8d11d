package compare

import (
	"encoding/json"
	"strings"
	"testing"

	"bandwright/compiler/result"
)

// FuzzReadAccepted: whatever stands in an accepted result, reading it gives an
// error or something that can be compared with a good one, both ways, without
// a panic or a number that is none.
func FuzzReadAccepted(f *testing.F) {
	good := &result.Accepted{Accepted: result.AcceptedVersion, Name: "wren", Settings: []result.Setting{{Name: "grille", Choices: []string{"none", "woven"}}},
		Digital: []result.AcceptedDigital{{RateHz: 48000, Format: result.Reference, Common: result.AcceptedChain{Gain: 1, Polarity: 1}, Ways: []result.AcceptedChain{
			{Way: "low", Gain: 0.5, Polarity: 1, Coefficients: []result.AcceptedSection{
				{Position: 0, Filter: "ways.low.filters[0]", Form: "direct", B: []float64{0.5, 0.5, 0}, A: []float64{1, 0, 0}, When: map[string][]string{"grille": {"none"}}},
			}},
			{Way: "high", Gain: 1, Polarity: -1},
		}}},
		Spec: strings.Split("bandwright: 1\nname: wren\nsettings: {grille: [none, woven]}\nways: {low: {}, high: {gain: -1 dB}}\ndigital: {rates: [48 kHz], formats: [float64]}", "\n"),
	}
	part := func(text string) (p result.AcceptedPart) {
		if err := p.UnmarshalText([]byte(text)); err != nil {
			f.Fatal(err)
		}
		return p
	}
	good.Board = &result.AcceptedBoard{Packages: 1, OpAmps: 1, DistinctValues: 2,
		OpAmp:   result.AcceptedOpAmp{GainBandwidthHz: 1e7, OpenLoopGain: 1e5, OutputOhm: 50},
		Outside: []result.AcceptedPart{part("Vin in 0 1"), part("R10001 out_low 0 10000"), part("R10002 out_high 0 10000")},
		Ends:    []result.AcceptedPart{part("R20002 out_low c 231.75/500")},
		Stages: []result.AcceptedStage{{Where: "low", Stage: 1, Topology: "rc-low-pass", Filter: "ways.low.filters[0]", Parts: []result.AcceptedPart{part("R20101 in a 10000"), part("C20101 a 0 1e-8")},
			OpAmps: []result.AcceptedPart{part("U201A a b b")}}},
		Contacts: &result.AcceptedContacts{ClosedOhm: 0.05, OpenOhm: 1e10, List: []result.AcceptedContact{
			{Part: part("S201_1 in out_low"), Closed: []map[string][]string{{"grille": {"none"}}}}, {Part: part("S201_2 b out_low"), Closed: []map[string][]string{{"grille": {"woven"}}}},
			{Part: part("S301_1 in out_high"), Closed: []map[string][]string{nil}}}},
		Outputs: []result.AcceptedOutput{{Way: "low", Node: "out_low"}, {Way: "high", Node: "out_high"}}}
	data, err := good.Bytes()
	if err != nil {
		f.Fatal(err)
	}
	if back, err := result.ReadAccepted(data); err != nil || back.Board.Ends[0].String() != "500 ohm trimmer" {
		f.Fatal("a trimmer that is not read back: ", err)
	}
	f.Add(string(data))
	f.Add(strings.Replace(string(data), `"gain": 1`, `"gain": 1e308`, -1))
	f.Add(strings.Replace(string(data), "-1 dB", "-2 dB", 1))
	f.Add(strings.Replace(string(data), `[1, 0, 0]`, `[1, -1, 0]`, 1))
	f.Add(strings.Replace(string(data), "R20101 in a 10000", "R20101 in a 1e-320", 1))
	f.Add(strings.Replace(string(data), "231.75/500", "231.75/1e-9", 1))
	f.Add(strings.Replace(string(data), "R20101 in a", "R20101 in elsewhere", 1))
	f.Add(strings.Replace(string(data), "U201A a b b", "U201A a b in", 1))
	f.Add(strings.Replace(string(data), `"open_ohm": 10000000000`, `"open_ohm": 0.01`, 1))
	f.Add(strings.Replace(string(data), "-1 dB", "1e300 dB", 1))
	f.Add(`{"accepted": 2, "name": "x", "digital": [{"rate_hz": 1e-300, "format": "float64", "ways": [{"way": "low"}]}]}`)
	f.Add(`{"accepted": 2, "name": "x", "settings": [{"name": "grille", "choices": ["x"]}], "responses": [{"rate_hz": 48000, "hz": [1], "rows": [{"way": "x"}]}]}`)
	f.Add(`{"accepted": 2, "name": "x", "digital": [{"rate_hz": 100}]}`)
	f.Add(`{"accepted": 2, "name": "x", "digital": [{"rate_hz": 100, "ways": [{"way": "a"}, {"way": "a"}]}]}`)
	if _, err := good.Board.Responses([]map[string]string{{"grille": "none"}}, []float64{100, 1000}); err != nil {
		f.Fatal(err)
	}
	f.Fuzz(func(t *testing.T, text string) {
		a, err := result.ReadAccepted([]byte(text))
		if err != nil {
			return
		}
		for _, c := range []*Comparison{Results(good, a), Results(a, good), Results(a, a)} {
			said := c.Text(100)
			for _, bad := range []string{"NaN", "Inf"} {
				if strings.Contains(said, bad) && !strings.Contains(text, bad) {
					t.Errorf("%s", said)
				}
			}
			if _, err := json.Marshal(c); err != nil {
				t.Error(err)
			}
		}
	})
}
