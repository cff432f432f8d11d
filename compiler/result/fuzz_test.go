package result

import (
	"strings"
	"testing"
)

// FuzzReadAccepted: whatever stands in an accepted result, reading it gives an
// error or something that can be compared with a good one, both ways, without
// a panic or a number that is none.
func FuzzReadAccepted(f *testing.F) {
	good := &Accepted{Accepted: 1, Name: "wren", Settings: []Setting{{"cloth", []string{"none", "woven"}}},
		Digital: []Reached{{RateHz: 48000, Format: reference, Common: Chain{Gain: 1, Polarity: 1}, Ways: []Chain{
			{Way: "low", Gain: 0.5, Polarity: 1, Coefficients: []Words9{
				{Position: 0, Filter: "ways.low.filters[0]", Form: "direct", B: []float64{0.5, 0.5, 0}, A: []float64{1, 0, 0}, When: map[string][]string{"cloth": {"none"}}},
			}},
			{Way: "high", Gain: 1, Polarity: -1},
		}}},
		Spec: strings.Split("bandwright: 1\nname: wren\nsettings: {cloth: [none, woven]}\nways: {low: {}, high: {gain: -1 dB}}\ndigital: {rates: [48 kHz], formats: [float64]}", "\n"),
	}
	data, err := good.Bytes()
	if err != nil {
		f.Fatal(err)
	}
	f.Add(string(data))
	f.Add(strings.Replace(string(data), `"gain": 1`, `"gain": 1e308`, -1))
	f.Add(strings.Replace(string(data), "-1 dB", "-2 dB", 1))
	f.Add(strings.Replace(string(data), `[1, 0, 0]`, `[1, -1, 0]`, 1))
	f.Add(`{"accepted": 1, "name": "x", "digital": [{"rate_hz": 1e-300, "format": "float64", "ways": [{"way": "low"}]}]}`)
	f.Add(`{"accepted": 1, "name": "x", "settings": [{"name": "cloth", "choices": ["x"]}], "responses": [{"rate_hz": 48000, "hz": [1], "rows": [{"way": "x"}]}]}`)
	f.Add(`{"accepted": 1, "name": "x", "digital": [{"rate_hz": 100}]}`)
	f.Add(`{"accepted": 1, "name": "x", "digital": [{"rate_hz": 100, "ways": [{"way": "a"}, {"way": "a"}]}]}`)
	f.Fuzz(func(t *testing.T, text string) {
		a, err := ReadAccepted([]byte(text))
		if err != nil {
			return
		}
		for _, c := range []*Comparison{Compare(good, a), Compare(a, good), Compare(a, a)} {
			said := c.Text(100)
			for _, bad := range []string{"NaN", "Inf"} {
				if strings.Contains(said, bad) && !strings.Contains(text, bad) {
					t.Errorf("%s", said)
				}
			}
			if _, err := pretty(c, 100); err != nil {
				t.Error(err)
			}
		}
	})
}
