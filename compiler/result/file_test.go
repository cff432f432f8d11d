package result

import (
	"bytes"
	"encoding/json"
	"math"
	"reflect"
	"strings"
	"testing"

	"bandwright/biquad"
	"bandwright/biquad/number"
	"bandwright/compiler"
	"bandwright/compiler/design"
	"bandwright/compiler/language"
	"bandwright/compiler/promise"
	"bandwright/compiler/verify"
	"bandwright/compiler/words"
)

// build is a small build by hand: one setting, a common filter under it, two
// ways, one of them inverted and late.
func build() *compiler.Build {
	shelf := biquad.Digital{Form: biquad.Delta, B: [3]float64{1.5, 0.25, 0.125}, A: [3]float64{1, 0.5, 0.0625}}
	first := biquad.Digital{B: [3]float64{0.5, 0.5}, A: [3]float64{1, 0}}
	worst := verify.Extreme{Known: true, Value: -7.5, AtHz: 19800, With: []verify.Choice{{Setting: "grille", Choice: "woven"}}}
	return &compiler.Build{
		Wanted: compiler.Wanted{
			Spec:     &language.Spec{Name: "wren", Title: `A "two-way" <test> & more`, Revision: "A\\1"},
			Settings: []verify.Setting{{Name: "grille", Choices: []string{"none", "woven"}}},
			Promises: promise.Promises{Extent: verify.Extent{LowHz: 20, HighHz: 20000, DownToDB: -60}}.With(&promise.Magnitude, promise.Limit{On: true, Value: 0.1}),
			Design: design.Design{Sums: []design.CrossoverSum{{Compensation: "none", Extremes: design.Extremes{LowDB: -0.5, LowHz: 300, HighDB: 1e-15}, Chosen: true}},
				Pairs: []design.PairSum{{Lower: "low", Upper: "high", Extremes: design.Extremes{LowDB: -120, LowHz: 300}}}},
		},
		SHA256: strings.Repeat("ab", 32),
		Inputs: map[string]string{"parts/film.csv": strings.Repeat("ab", 32)},
		Digital: []compiler.Digital{{
			RateHz: 48000, Format: number.Format{Name: "float32"}, Asked: true, Method: "bilinear",
			CommonDelayS: 1e-7, InputGain: 0.5,
			System: biquad.System[biquad.Digital]{
				Common: biquad.Cascade[biquad.Digital]{Gain: 1, Slots: []biquad.Slot[biquad.Digital]{{
					From: []string{"without it", "common[0] high-shelf"}, Alt: []biquad.Digital{biquad.Through(biquad.Delta), shelf},
					By: []biquad.Axis{{Setting: 0, Choices: 2}}, Pick: []uint8{0, 1}, Error: biquad.SectionError{TotalDB: -120},
				}}},
				Ways: []biquad.Way[biquad.Digital]{
					{Name: "low", Polarity: 1, Cascade: biquad.Cascade[biquad.Digital]{Gain: 0.75, Slots: []biquad.Slot[biquad.Digital]{
						{From: []string{"crossovers[0].low low-pass", "crossovers[0].low low-pass"}, Alt: []biquad.Digital{first}, Error: biquad.SectionError{TotalDB: -130}},
					}}},
					{Name: "high", Polarity: -1, Cascade: biquad.Cascade[biquad.Digital]{Gain: 1, DelayS: 3.0 / 48000}},
				},
			},
		}},
		Findings: []verify.Finding{{
			Promise: "magnitude", Realisation: "digital 48 kHz float32", Way: "low", With: worst.With,
			Limit: 0.1, Worst: 7.5, Unit: words.DB, AtHz: 19800, Broken: 1, Of: 2, Remedy: "Use a higher rate.",
		}},
		Figures:  []verify.Figures{{Realisation: "digital 48 kHz float32", Way: "low", Magnitude: worst, PoleMargin: 0.5, Sections: 2}},
		Warnings: []language.Fault{{Severity: language.Warning, File: "somewhere/wren.yaml", Pos: language.Pos{Line: 3, Col: 5}, Message: "odd", Right: "even"}},
	}
}

// Every field that another tool may rely on, under its name and with its
// meaning, told by reading the file as that tool would.
func TestFile(t *testing.T) {
	data, err := Of(build()).Bytes()
	if err != nil {
		t.Fatal(err)
	}
	var got any
	if err := json.Unmarshal(data, &got); err != nil {
		t.Fatal(err)
	}
	var want any
	const file = `{
	"bandwright": 1, "name": "wren", "title": "A \"two-way\" <test> & more", "revision": "A\\1", "spec_sha256": "SHA",
	"inputs": {"parts/film.csv": "SHA"}, "files": {},
	"settings": [{"name": "grille", "choices": ["none", "woven"]}],
	"promises": {"band_hz": [20, 20000], "down_to_db": -60, "magnitude_db": 0.1, "phase_deg": null, "sum_db": null,
		"noise_dbfs": null, "headroom_db": null, "latency_s": null},
	"digital": [{"rate_hz": 48000, "format": "float32", "asked": true, "method": "bilinear", "common_delay_s": 1e-7, "input_gain": 0.5,
		"common": {"gain": 1, "delay_samples": 0, "sections": [
			{"position": 0, "filter": "without it", "when": {"grille": ["none"]},
				"b": [1, 0, 0], "a": [1, 0, 0], "feedback": [0, 0], "form": "delta", "words": {"b": [1, 0, 0], "a": [1, 0, 0]}, "error_db": -120},
			{"position": 0, "filter": "common[0] high-shelf", "when": {"grille": ["woven"]},
				"b": [1.5, -2.75, 1.375], "a": [1, -1.5, 0.5625], "feedback": [1.5, -0.5625],
				"form": "delta", "words": {"b": [1.5, 0.25, 0.125], "a": [1, 0.5, 0.0625]}, "error_db": -120}]},
		"ways": [
			{"way": "low", "gain": 0.75, "polarity": 1, "delay_samples": 0, "sections": [
				{"position": 0, "filter": "crossovers[0].low low-pass", "when": null,
					"b": [0.5, 0.5, 0], "a": [1, 0, 0], "feedback": [0, 0], "form": "direct", "words": {"b": [0.5, 0.5, 0], "a": [1, 0, 0]}, "error_db": -130}]},
			{"way": "high", "gain": 1, "polarity": -1, "delay_samples": 3, "sections": []}]}],
	"crossover_sums": [{"phase_compensation": "none", "low_db": -0.5, "low_hz": 300, "high_db": 0, "high_hz": 0, "chosen": true}],
	"crossover_pairs": [{"lower": "low", "upper": "high", "low_db": -120, "low_hz": 300, "high_db": 0, "high_hz": 0}],
	"findings": [{"promise": "magnitude", "realisation": "digital 48 kHz float32", "way": "low", "setting": {"grille": "woven"},
		"limit": 0.1, "worst": 7.5, "unit": "dB", "at_hz": 19800, "kept": false, "broken": 1, "of": 2, "remedy": "Use a higher rate."}],
	"figures": [{"realisation": "digital 48 kHz float32", "way": "low",
		"magnitude_db": {"value": -7.5, "at_hz": 19800, "setting": {"grille": "woven"}}, "top_octave_db": null, "phase_deg": null,
		"group_delay_s": null, "peak_dbfs": null, "l1_dbfs": 0, "noise_dbfs": null, "pole_margin": 0.5, "latency_s": 0, "sections": 2}],
	"warnings": [{"line": 3, "column": 5, "message": "odd", "right": "even"}]}`
	if err := json.Unmarshal([]byte(strings.ReplaceAll(file, "SHA", strings.Repeat("ab", 32))), &want); err != nil {
		t.Fatal(err)
	}
	if !reflect.DeepEqual(got, want) {
		t.Errorf("got\n%s\nwant\n%s", data, file)
	}
	if bytes.Contains(data, []byte("-0,")) || bytes.Contains(data, []byte("-0]")) {
		t.Errorf("a negative zero:\n%s", data)
	}
	if bytes.Contains(data, []byte("somewhere")) {
		t.Error("an artefact must not hold a path")
	}
}

func TestReadTakesWhatBytesGives(t *testing.T) {
	r := Of(build())
	r.Files["wren.h"] = "00"
	data, err := r.Bytes()
	if err != nil {
		t.Fatal(err)
	}
	back, err := Read(data)
	if err != nil {
		t.Fatal(err)
	}
	again, err := back.Bytes()
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(data, again) {
		t.Errorf("first\n%s\nthen\n%s", data, again)
	}
	var compact, plain bytes.Buffer
	if err := json.Compact(&compact, data); err != nil {
		t.Fatal(err)
	}
	enc := json.NewEncoder(&plain)
	enc.SetEscapeHTML(false)
	if err := enc.Encode(r); err != nil {
		t.Fatal(err)
	}
	if got, want := compact.String(), strings.ReplaceAll(strings.TrimSpace(plain.String()), "[-0,-0]", "[0,0]"); got != want {
		t.Errorf("the layout changed more than white space:\n%s\n%s", got, want)
	}
	for _, line := range strings.Split(string(data), "\n") {
		if strings.HasSuffix(line, " ") {
			t.Errorf("trailing space: %q", line)
		}
	}
}

func TestReadRefuses(t *testing.T) {
	for _, text := range []string{"", "[]", "{}", `{"name": "x"}`, `{"bandwright": 2, "name": "x"}`, `{"bandwright": 1}`, `{"bandwright": 1, "name": "x"`} {
		if _, err := Read([]byte(text)); err == nil {
			t.Errorf("%q was accepted", text)
		}
	}
	if _, err := Read([]byte(`{"bandwright": 1, "name": "x", "of_a_later_day": {"a": [1]}}`)); err != nil {
		t.Errorf("an added key must not matter: %v", err)
	}
}

func TestBytesRefusesWhatIsNotANumber(t *testing.T) {
	b := build()
	b.Digital[0].InputGain = math.Inf(1)
	if _, err := Of(b).Bytes(); err == nil {
		t.Error("an infinity was written")
	}
}
