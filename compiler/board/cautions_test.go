package board_test

import (
	"slices"
	"strings"
	"testing"

	"bandwright/compiler/board"
	"bandwright/compiler/netlist"
)

// cautious is a case of one row of the table of cautions: of the first board it is said,
// in words that start and go on so, and of the second it is not.
type cautious struct {
	row            string
	says           []string // parts of the sentence, in their order: what, where and number, what to do
	filters, board string
	// instead, or where it is "" the same, stands in the second board.
	otherFilters, otherBoard string
	way, otherWay            string
	settings                 string
	stock                    string // rows of capacitors of a stock file, instead of filters and board
	otherStock               string
}

const rumbleFree = "{high-pass: {family: butterworth, order: 2, at: 25 Hz}}"

var cautiousBoards = []cautious{
	{row: "input match", filters: rumbleFree, board: "input: {balanced: true}", otherBoard: "input: {balanced: true}, resistors: {tolerance: 0.1 %}",
		says: []string{"the match of its four resistors limits", "34 dB at least with 1 %", "fit resistors of 0.1 %"}},
	{row: "corner of the RF filter", filters: rumbleFree, board: "input: {rf-filter: 100 kHz}", otherBoard: "input: {rf-filter: 280 kHz}",
		// 20/102 of the corner: 10·lg(1 + 0.196²); a quarter of 0.1 dB is left at 264 kHz.
		says: []string{"the RF filter reaches down into the band", "input (-0.1", " dB at 20 kHz)", "raise `input.rf-filter` to 270 kHz"}},
	{row: "clamp diodes", filters: rumbleFree, board: "input: {protection: clamp-diodes}", otherBoard: "input: {rf-filter: 300 kHz}",
		says: []string{"clamp diodes lead a fault at the input into the rails", "input (21 mA for each 10 V beyond a rail)", "10 nA through 100 kohm are 1 mV of DC", "take types of low leakage"}},
	{row: "no protection of drivers", filters: rumbleFree, board: "output: {mute: relay}", otherBoard: "output: {mute: none}",
		says: []string{"a mute keeps turn-on thumps from the power amplifiers and does not protect drivers", "12 V at the node `mute`, 12 mA for each relay, opens them", "keep DC protection"}},
	{row: "depth of the mute", filters: rumbleFree, board: "output: {mute: transistor}", otherBoard: "output: {mute: transistor, build-out: 330 ohm}",
		// 100 and 10 ohm twice: 131, 42 dB.
		says: []string{"a muted output is less than 60 dB down", "outputs (42 dB)", "raise `output.build-out` to 330 ohm"}},
	{row: "current into the mute", filters: rumbleFree, board: "output: {mute: relay}", otherBoard: "output: {mute: relay, build-out: 300 ohm}",
		says: []string{"a muted op-amp works into its build-out resistor alone", "only (29 mA peak)", "raise `output.build-out` to 300 ohm"}},
	{row: "swing at mute transistors", filters: rumbleFree, board: "output: {mute: transistor, build-out: 1 kohm}, supply: 7 V, op-amp: {swing: 6 V}, input: {level: 2.4 V}",
		otherBoard: "output: {mute: transistor, build-out: 1 kohm}, supply: 9 V, op-amp: {swing: 6 V}, input: {level: 2.4 V}",
		says:       []string{"the transistors of the mute begin to conduct at negative peaks", "only (", " V peak, and they stop below 3 V)", "write `mute: relay`"}},
	{row: "build-out", filters: rumbleFree, board: "output: {build-out: 10 ohm}", otherBoard: "output: {build-out: 47 ohm}",
		says: []string{"an output with less than 47 ohm in series", "outputs (10 ohm)", "raise `output.build-out`"}},
	{row: "DC-coupled outputs", filters: rumbleFree, otherBoard: "output: {coupling: 10 uF}",
		says: []string{"the outputs are DC-coupled", "at most only (", " mV)", "set `output.coupling`"}},
	{row: "type of coupling capacitors", filters: rumbleFree, board: "input: {coupling: 4.7 uF}", otherBoard: "input: {coupling: 100 nF}",
		says: []string{"electrolytic and class 2 ceramic", "input (4.7 uF)", "use film or bipolar types"}},
	{row: "break before make", settings: "settings: {cut: [small, large]}\n",
		filters:      rumbleFree + ", {low-pass: {at: 8 kHz, family: butterworth, order: 1, when: {cut: large}}}",
		otherFilters: rumbleFree + ", {peak: {at: 1 kHz, q: 1, gain: -4 dB, when: {cut: large}}}",
		says:         []string{"makes before it breaks", "S", "use break-before-make types"}},
	{row: "many contacts", settings: "settings: {room: [small, large]}\n",
		filters:      rumbleFree + strings.Repeat(", {peak: {at: 1 kHz, q: 1, gain: -1 dB, when: {room: large}}}", 5),
		otherFilters: rumbleFree + strings.Repeat(", {peak: {at: 1 kHz, q: 1, gain: -1 dB, when: {room: large}}}", 4),
		says:         []string{"more than 4 poles or 12 positions", "S1 (5 poles of 2 positions)", "stack wafers on one shaft"}},
	{row: "selectors of several settings", settings: "settings: {room: [small, large], floor: [wood, stone]}\n",
		filters:      rumbleFree + ", {peak: {at: 1 kHz, q: 1, gain: -1 dB, when: {room: large, floor: stone}}}",
		otherFilters: rumbleFree + ", {peak: {at: 1 kHz, q: 1, gain: -1 dB, when: {room: large}}}, {peak: {at: 2 kHz, q: 1, gain: -1 dB, when: {floor: stone}}}",
		says:         []string{"a selector that several settings work", "S1 (4 positions)", "put each filter under one setting"}},
	{row: "noise gain", filters: rumbleFree + ", {peak: {at: 300 Hz, q: 4, gain: 12 dB, topology: band-pass-in-feedback}}",
		otherFilters: rumbleFree + ", {peak: {at: 300 Hz, q: 1, gain: 6 dB, topology: band-pass-in-feedback}}",
		says:         []string{"noise gain above 10", "only stage ", "(band-pass-in-feedback, ", "take an op-amp with less voltage noise"}},
	{row: "gain-bandwidth", filters: rumbleFree + ", {peak: {at: 4 kHz, q: 3, gain: 6 dB}}", board: "op-amp: {gain-bandwidth: 1 MHz}", otherBoard: "op-amp: {gain-bandwidth: 50 MHz}",
		says: []string{"the op-amp's gain-bandwidth moves the response", "only stage ", " dB)", "take one of "}},
	{row: "input impedance", filters: "{low-pass: {family: butterworth, order: 2, at: 2 kHz}}, " + rumbleFree,
		board: "resistors: {to: 1.2 kohm, from: 100 ohm}, capacitors: {to: 47 uF}", otherBoard: "resistors: {from: 3.3 kohm}",
		says: []string{"an input impedance below 2 kohm", "only stage", "ohm)", "raise `resistors.from`"}},
	{row: "leak", filters: "{low-pass: {family: butterworth, order: 2, at: 1 kHz, topology: sallen-key-low-pass}}",
		board: "capacitors: {from: 47 nF}", otherBoard: "capacitors: {from: 47 nF}, op-amp: {output-resistance: 5 ohm}",
		says: []string{"signal leaks past the op-amp", "only stage", "kohm, about -3", "as a whole the ways go no further down than only (-", "raise `resistors.from`"}},
	{row: "topology", filters: "{high-pass: {family: butterworth, order: 2, at: 100 Hz, topology: multiple-feedback-high-pass}}",
		otherFilters: "{high-pass: {family: butterworth, order: 2, at: 100 Hz, topology: sallen-key-high-pass}}",
		says:         []string{"an input with a capacitor loads the stage before it", "only stage", "nF)", "name another `topology`"}},
	{row: "notch depth", filters: "{notch: {at: 1 kHz, q: 1.5}}, " + rumbleFree, otherBoard: "resistors: {tolerance: 0.05 %}, capacitors: {tolerance: 0.05 %}",
		says: []string{"tolerances of 1 % (R) and 2 % (C) at most limit the depth of a notch", "only stage", " dB at worst, -", " usually", "40 dB at worst take 0.", " % (R) and ", "or a trimmer"}},
	{row: "thermal noise", filters: "{low-pass: {family: butterworth, order: 2, at: 2 kHz}}, " + rumbleFree, board: "resistors: {from: 47 kohm, to: 470 kohm}", otherBoard: "resistors: {to: 22 kohm}, capacitors: {to: 1 uF}",
		says: []string{"resistors above 22 kohm are noisy", "only stage", " kohm, ", " % of the noise power of only", "lower `resistors.to`"}},
	{row: "dielectric", stock: ceramicRows, otherStock: filmRows, says: []string{"X7R in c.csv", "C", "distorts in the signal path", "list film or class 1 ceramic"}},
	{row: "voltage rating", stock: strings.ReplaceAll(filmRows, "63 V", "10 V"), otherStock: filmRows,
		says: []string{"rated 10 V in c.csv, below the rails of ±12 V", "C", "list parts of a higher rating"}},
	{row: "not in the stock file", stock: filmRows, otherFilters: rumbleFree, says: []string{"r.csv does not list", "100 ohm for R", "add what is bought there"}},
	{row: "clipping", filters: "{peak: {at: 8 kHz, q: 1, gain: 12 dB}}, " + rumbleFree, board: "op-amp: {swing: 10 V}", otherBoard: "op-amp: {swing: 14 V}",
		says: []string{"an op-amp clips below the full input level", "2 V would make it swing 1", "the limit is 10 V", "lower `input.level` to 1."}},
	{row: "common-mode range", filters: rumbleFree, board: "op-amp: {common-mode: 2 V}", otherBoard: "op-amp: {common-mode: 3 V}",
		says: []string{"the common-mode range of an op-amp is exceeded", "U", "the limit is 2 V", "lower `input.level` to 1.4 V"}},
	{row: "slew rate", filters: rumbleFree, board: "op-amp: {slew-rate: 0.3 V/us}", otherBoard: "op-amp: {slew-rate: 0.4 V/us}",
		says: []string{"the slew rate is too low", "U", "needs 0.35", "the op-amp has 0.3", "lower `input.level` to 1.6 V, or take an op-amp with 0.36 V/us"}},
	{row: "output current", filters: rumbleFree, board: "input: {level: 8 V}, output: {load: 600 ohm, build-out: 100 ohm}", otherBoard: "input: {level: 8 V}",
		// 11.3 V peak on 600 ohm, as the loss in the build-out is made up for: 18.9 mA, and the feedback.
		says: []string{"an op-amp has to give more than 40 % of its `output-current`", "U", " of only stage ", " (20", " mA peak at ", "80 % of the op-amp's 25 mA", "lower `input.level` to 3.9 V"}},
	{row: "high rails", filters: rumbleFree, board: "supply: 24 V", otherBoard: "supply: 24 V, op-amp: {supply-range: 5 V to 30 V}",
		says: []string{"most op-amps stand no more than ±18 V, and the rails are ±24 V", "`op-amp.supply-range`"}},
	{row: "bias current", filters: rumbleFree, board: "op-amp: {bias-current: 0.005 mA}", otherBoard: "op-amp: {bias-current: 1 nA}",
		says: []string{"bias currents through resistors", "only (", " mV, most of it from U", "take an op-amp with `bias-current` of "}},
	{row: "multiplied offset", filters: "{low-shelf: {at: 200 Hz, gain: 22 dB}}", otherFilters: "{low-shelf: {at: 200 Hz, gain: 6 dB}}",
		says: []string{"gain at low frequencies multiplies an op-amp's offset", "only (that of U", " times, ", "place a high-pass behind it"}},
	{row: "boost without a rumble filter", filters: "{low-shelf: {at: 50 Hz, gain: 6 dB}}",
		// What the sentence asks for is enough.
		otherFilters: "{low-shelf: {at: 50 Hz, gain: 6 dB}}, {high-pass: {family: butterworth, order: 2, at: 15 Hz}}",
		says:         []string{"a boost of low frequencies without a high-pass", "only (+5.", "at 10 Hz)", "add `high-pass` of the second order at 15 Hz"}},
	{row: "passes DC", filters: "{peak: {at: 1 kHz, q: 1, gain: -3 dB}}", otherFilters: "{peak: {at: 1 kHz, q: 1, gain: -3 dB}}, " + rumbleFree,
		says: []string{"no filter blocks DC in the lowest way", "only (0 dB at 0 Hz)", "a high-pass below the band"}},
	{row: "inverted output", filters: rumbleFree, way: ", polarity: inverted", otherWay: ", polarity: normal",
		says: []string{"an odd number of inverting stages", "only (1 inverting stage)", "check the polarity"}},
	{row: "few values bound", filters: "{low-pass: {at: 900 Hz, q: 0.8}}", board: "few-values: 0.3 dB", otherBoard: "few-values: 0.1 dB",
		says: []string{"`board.few-values` is not used up", "0.3 dB wished, but `promise.sum` of 0.1 dB binds", "allow the promise more"}},
	{row: "few values", filters: "{low-pass: {at: 900 Hz, q: 0.8}}, {high-pass: {at: 80 Hz, q: 1.1}}", board: "few-values: 0.001 dB, resistors: {series: E6}, capacitors: {series: E3}",
		otherBoard: "resistors: {series: E6}, capacitors: {series: E3}", says: []string{"`board.few-values` has no effect", "the initial values are not all within 0.001 dB", "allow more, or write `few-values: off`"}},
}

// Every row of the table is said of a board that gives cause for it, with place, number
// and remedy, once, and not of one that does not.
func TestCautions(t *testing.T) {
	seen := []string{"DC path"} // no board of ours is without: TestDCPath
	for _, k := range cautiousBoards {
		seen = append(seen, k.row)
		t.Run(strings.ReplaceAll(k.row, " ", "-"), func(t *testing.T) {
			said := func(filters, board, way string) []string {
				spec := strings.Replace(little(k.settings, filters, way), "promise: {magnitude: off", "promise: {magnitude: off, board-magnitude: off, crossover-sum: off, phase: off", 1)
				b := build(t, unjudged(strings.Replace(spec, "board: {}", "board: {"+board+"}", 1)))
				if b.Board == nil {
					t.Fatalf("no board: %+v", b.Findings)
				}
				return b.Board.Cautions
			}
			of := func(all []string) (out []string) {
				for _, c := range all {
					if strings.Contains(c, k.says[0]) {
						out = append(out, c)
					}
				}
				return out
			}
			or := func(a, b string) string {
				if a == "" {
					return b
				}
				return a
			}
			stocked := func(rows string) []string {
				all, _ := cautioned(t, rows)
				return strings.Split(all, "\n")
			}
			var all, others []string
			if k.stock != "" {
				all = stocked(k.stock)
			} else {
				all = said(k.filters, k.board, k.way)
			}
			if k.otherStock != "" {
				others = stocked(k.otherStock)
			} else {
				others = said(or(k.otherFilters, k.filters), or(k.otherBoard, k.board), or(k.otherWay, k.way))
			}
			mine := of(all)
			if len(mine) != 1 {
				t.Fatalf("said %d times: %q", len(mine), strings.Join(all, "\n"))
			}
			t.Log(mine[0])
			rest := mine[0]
			for _, part := range k.says {
				at := strings.Index(rest, part)
				if at < 0 {
					t.Fatalf("%q misses %q", mine[0], part)
				}
				rest = rest[at+len(part):]
			}
			if other := of(others); len(other) > 0 {
				t.Errorf("said of the other board as well: %q", other)
			}
		})
	}
	names := board.CautionNames()
	slices.Sort(names)
	slices.Sort(seen)
	if !slices.Equal(names, seen) {
		t.Errorf("the table has %q,\ntried are %q", names, seen)
	}
}

// A + input behind a capacitor alone has no DC path; a resistor gives it one.
func TestDCPath(t *testing.T) {
	said := func(bias bool) string {
		c := netlist.New()
		c.Source("Vin", "in", "0", 1)
		c.Capacitor("C1", "in", "plus", 1e-6)
		if bias {
			c.Resistor("R1", "plus", "0", 100e3)
		}
		c.OpAmp("U1", "plus", "out", "out", netlist.OpAmp{GainBandwidthHz: 10e6, OpenLoopGain: 1e5, OutputOhm: 50, BiasA: 1e-9})
		text, err := board.DCPath(c)
		if err != nil {
			t.Fatal(err)
		}
		return text
	}
	if got := said(false); got != "no direct current reaches a node, plus and out: put 100 kohm from the op-amp's input there to ground" {
		t.Errorf("without a resistor: %q", got)
	}
	if got := said(true); got != "" {
		t.Errorf("with one: %q", got)
	}
}
