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
	good := &result.Accepted{Accepted: 1, Name: "wren", Settings: []result.Setting{{Name: "grille", Choices: []string{"none", "woven"}}},
		Digital: []result.AcceptedDigital{{RateHz: 48000, Format: result.Reference, Common: result.AcceptedChain{Gain: 1, Polarity: 1}, Ways: []result.AcceptedChain{
			{Way: "low", Gain: 0.5, Polarity: 1, Coefficients: []result.AcceptedSection{
				{Position: 0, Filter: "ways.low.filters[0]", Form: "direct", B: []float64{0.5, 0.5, 0}, A: []float64{1, 0, 0}, When: map[string][]string{"grille": {"none"}}},
			}},
			{Way: "high", Gain: 1, Polarity: -1},
		}}},
		Spec: strings.Split("bandwright: 1\nname: wren\nsettings: {grille: [none, woven]}\nways: {low: {}, high: {gain: -1 dB}}\ndigital: {rates: [48 kHz], formats: [float64]}", "\n"),
	}
	good.Board = &result.AcceptedBoard{Packages: 1, OpAmps: 1, DistinctValues: 2,
		Stages: []result.AcceptedStage{{Where: "low", Stage: 1, Topology: "follower", Filter: "ways.low gain", Parts: []result.AcceptedPart{{Ref: "R20101", Ohm: 1e4}, {Ref: "C20101", Farad: 1e-8}}}},
		Response: &result.Table{Hz: []float64{500, 1000, 2000}, Rows: []result.TableRow{
			{Way: "low", Setting: map[string]string{"grille": "none"}, DB: []float64{-6, -6, -7}, Deg: []float64{0, -10, -20}},
			{Way: "high", DB: []float64{-1, -1, -1}, Deg: []float64{180, 180, 180}},
		}}}
	data, err := good.Bytes()
	if err != nil {
		f.Fatal(err)
	}
	f.Add(string(data))
	f.Add(strings.Replace(string(data), `"gain": 1`, `"gain": 1e308`, -1))
	f.Add(strings.Replace(string(data), "-1 dB", "-2 dB", 1))
	f.Add(strings.Replace(string(data), `[1, 0, 0]`, `[1, -1, 0]`, 1))
	f.Add(strings.Replace(string(data), "R20101 10000", "R20101 1e-320", 1))
	f.Add(strings.Replace(string(data), "[-6, -6, -7]", "[-1000, 1000, 1000]", 1))
	f.Add(strings.Replace(string(data), "[500, 1000, 2000]", "[1e-300, 500, 1e9]", 1))
	f.Add(strings.Replace(string(data), "-1 dB", "1e300 dB", 1))
	f.Add(`{"accepted": 1, "name": "x", "digital": [{"rate_hz": 1e-300, "format": "float64", "ways": [{"way": "low"}]}]}`)
	f.Add(`{"accepted": 1, "name": "x", "settings": [{"name": "grille", "choices": ["x"]}], "responses": [{"rate_hz": 48000, "hz": [1], "rows": [{"way": "x"}]}]}`)
	f.Add(`{"accepted": 1, "name": "x", "digital": [{"rate_hz": 100}]}`)
	f.Add(`{"accepted": 1, "name": "x", "digital": [{"rate_hz": 100, "ways": [{"way": "a"}, {"way": "a"}]}]}`)
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
