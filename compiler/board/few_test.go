package board_test

import (
	"math"
	"math/cmplx"
	"runtime"
	"slices"
	"strings"
	"testing"

	"bandwright/biquad"
	"bandwright/compiler"
	"bandwright/compiler/board"
)

// fewRecord is how many different values a board has with the wish below, and without
// it: fewer have to be recorded, more fail.
var fewRecord = []struct {
	name       string
	few, usual int
}{
	{"heron", 23, 47},    // E96 and E12
	{"dabchick", 16, 24}, // E96 with E24, and E12
	{"bittern", 26, 45},  // E24 and E6
}

const fewWithin = 0.1 // dB, of every way and sum in all combinations of settings

// What few values may cost more than the same board without the wish, by nodal analysis of
// both: values.Few reckons with estimates, so that a little more is let pass.
const (
	noiseMoreDB     = 1.1
	offsetMore      = 1.21
	offsetLeast     = 1e-3 // V: less does not matter
	capacitanceMore = 1.2
	ownMoreDB       = 0.41
)

// costsLittle holds few values to that.
func costsLittle(t *testing.T, name string, few, plain *compiler.Build) {
	t.Helper()
	compared := 0
	for i, f := range few.Figures {
		p := plain.Figures[i]
		if f.Realisation != board.RealisationName || f.Way == "sum" {
			continue
		}
		compared++
		if f.Way != p.Way || f.NoiseV.Value <= 0 || 20*math.Log10(f.NoiseV.Value/p.NoiseV.Value) > noiseMoreDB {
			t.Errorf("%s, %s: noise of %g V, without the wish %g V", name, f.Way, f.NoiseV.Value, p.NoiseV.Value)
		}
		if v := math.Abs(f.OffsetV.Value); v > max(offsetLeast, offsetMore*math.Abs(p.OffsetV.Value)) {
			t.Errorf("%s, %s: DC of %g V, without the wish %g V", name, f.Way, v, p.OffsetV.Value)
		}
	}
	if compared != len(few.Board.Ways) {
		t.Errorf("%s: %d ways were compared", name, compared)
	}
	sums := [2]float64{}
	for n, b := range []*board.Board{few.Board, plain.Board} {
		for _, c := range b.Chains() {
			for _, s := range c.Built() {
				sum, _ := s.Capacitance()
				sums[n] += sum
			}
		}
	}
	if sums[0] > capacitanceMore*sums[1] {
		t.Errorf("%s: capacitors of %g F, without the wish %g F", name, sums[0], sums[1])
	}
	for n, c := range few.Board.Chains() {
		before := plain.Board.Chains()[n].Stages()
		for i, s := range c.Stages() {
			if s.Topology.Name != before[i].Topology.Name || s.ErrorDB > before[i].ErrorDB+ownMoreDB {
				t.Errorf("%s, %s: an error of its own of %.3f dB, without the wish %.3f dB", name, s.From, s.ErrorDB, before[i].ErrorDB)
			}
		}
	}
}

func TestFewValues(t *testing.T) {
	for _, r := range fewRecord {
		b := build(t, strings.Replace(source(t, r.name), "\nboard:", "\nboard:\n  few-values: 0.1 dB\n #", 1))
		checks := 0
		for _, f := range b.Findings {
			if f.Realisation != board.RealisationName {
				continue
			}
			if !ofDrivers[f.Promise] {
				checks++
			}
			if !f.Kept || (f.Promise == "board-magnitude" || f.Promise == "sum") && f.Worst > fewWithin {
				t.Errorf("%s: %+v", r.name, f)
			}
			t.Logf("%s, %s of %s: %.4f", r.name, f.Promise, f.Way, f.Worst)
		}
		if want := 5*len(b.Board.Ways) + 3; checks != want {
			t.Errorf("%s: %d findings, want %d", r.name, checks, want)
		}
		costsLittle(t, r.name, b, shipped(t, r.name))
		if n := b.Board.DistinctValues(); n != r.few {
			t.Errorf("%s: %d different values, on record: %d", r.name, n, r.few)
		}
		if n := shipped(t, r.name).Board.DistinctValues(); n != r.usual {
			t.Errorf("%s: %d different values without the wish, on record: %d", r.name, n, r.usual)
		}
	}
}

// What the choice of values reckons with, stages by themselves at some frequencies, is
// what the whole board does at its true maxima, delays and their all-passes included.
func TestChoiceForeseesTheBoard(t *testing.T) {
	const apart = 0.004 // dB
	for _, name := range boards {
		b := shipped(t, name)
		j := board.Job{System: b.Prototype, Spec: b.Spec.Board, Means: compiler.Means(b.Spec.Board), LowHz: b.Promises.LowHz, HighHz: b.Promises.HighHz}
		for _, s := range b.Settings {
			j.Choices = append(j.Choices, len(s.Choices))
		}
		way, sum, err := b.Board.Foreseen(j)
		if err != nil {
			t.Fatal(err)
		}
		is := 0.0
		for _, f := range b.Findings {
			if f.Realisation == board.RealisationName && f.Promise == "board-magnitude" {
				is = max(is, f.Worst)
			}
		}
		isSum := worstPair(b)
		t.Logf("%s: ways %.4f dB, foreseen %.4f; sum %.4f, foreseen %.4f", name, is, way, isSum, sum)
		if math.Abs(way-is) > apart || math.Abs(sum-isSum) > apart || is == 0 {
			t.Errorf("%s: ways %.4f dB, foreseen %.4f; sum %.4f, foreseen %.4f", name, is, way, isSum, sum)
		}
	}
}

// worstPair is how far (dB) the sum of a way and its lower neighbour is from what is wanted, at the
// worst, within 40 dB of its peak and where the two do not cancel by more than 20 dB: by nodal
// analysis, in every combination. The sum of all ways is not that: what two of them lack far below
// a third is lost in it.
func worstPair(b *compiler.Build) float64 {
	hz := biquad.Octaves(b.Promises.LowHz, b.Promises.HighHz, 48)
	var axes []biquad.Axis
	for i, s := range b.Settings {
		axes = append(axes, biquad.Axis{Setting: i, Choices: len(s.Choices)})
	}
	worst := 0.0
	ways := len(b.Board.Ways)
	biquad.Each(axes, len(b.Settings), func(c biquad.Combination) {
		is, want := make([][]complex128, ways), make([][]complex128, ways)
		for w := range ways {
			is[w], want[w] = make([]complex128, len(hz)), make([]complex128, len(hz))
			b.Board.On(hz).Response(is[w], w, c)
			b.Subject().Prototype.On(hz).Response(want[w], w, c)
		}
		for w := 1; w < ways; w++ {
			sum := func(h [][]complex128, i int) float64 { return biquad.GainDB(cmplx.Abs(h[w][i] + h[w-1][i])) }
			peak := math.Inf(-1)
			for i := range hz {
				peak = max(peak, sum(want, i))
			}
			for i := range hz {
				magnitudes := biquad.GainDB(cmplx.Abs(want[w][i]) + cmplx.Abs(want[w-1][i]))
				if sum(want, i) > max(peak-40, magnitudes-20) {
					worst = max(worst, math.Abs(sum(is, i)-sum(want, i)))
				}
			}
		}
	})
	return worst
}

// The same few values on one processor and on three.
func TestFewValuesOnAnyProcessors(t *testing.T) {
	var first []board.Bin
	for i, processors := range []int{1, 3} {
		defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(processors))
		b := build(t, strings.Replace(little("settings: {seat: [near, far]}\n", "{low-pass: {at: 900 Hz, q: 0.8}}, {high-pass: {at: 80 Hz, q: 1.1}}, {peak: {at: 300 Hz, q: 2, gain: 3 dB, when: {seat: far}}}", ""),
			"board: {}", "board: {few-values: 0.1 dB}", 1))
		bins := b.Board.Bins()
		if i == 0 {
			first = bins
			continue
		}
		if !slices.EqualFunc(bins, first, func(x, y board.Bin) bool {
			return x.Kind == y.Kind && x.Value == y.Value && slices.Equal(x.Refs, y.Refs)
		}) {
			t.Errorf("%v, then %v", first, bins)
		}
	}
}

// A wish that the stock has no values for is said, and changes no value.
func TestFewValuesOutOfReach(t *testing.T) {
	with := func(few string) *compiler.Build {
		return build(t, `bandwright: 1
name: coarse
ways:
  only: {filters: [{low-pass: {at: 900 Hz, q: 0.8}}, {high-pass: {at: 80 Hz, q: 1.1}}]}
digital: {rates: [48 kHz], formats: [float32], method: bilinear}
promise: {magnitude: off, board-magnitude: off}
board: {`+few+`resistors: {series: E6}, capacitors: {series: E3}}
`)
	}
	plain, wish := with("").Board, with("few-values: 0.001 dB, ").Board
	if plain.DistinctValues() != wish.DistinctValues() {
		t.Errorf("%d values become %d", plain.DistinctValues(), wish.DistinctValues())
	}
	says := func(b *board.Board) bool {
		return strings.Contains(strings.Join(b.Cautions, "\n"), "`board.few-values` has no effect: the initial values are not all within 0.001 dB")
	}
	if !says(wish) || says(plain) {
		t.Errorf("with the wish: %q\nwithout: %q", wish.Cautions, plain.Cautions)
	}
}

// A promise that is off binds no wish: with the sum's a wish beyond the usual 0.1 dB is
// granted, and what a tighter one of a way allows is not exceeded.
func TestFewValuesKeepPromisesOnly(t *testing.T) {
	with := func(promise, few string) *compiler.Build {
		return build(t, `bandwright: 1
name: pair
ways:
  low: {filters: [{peak: {at: 300 Hz, q: 2, gain: -3 dB}}, {high-pass: {at: 60 Hz, q: 0.9}}]}
  high: {gain: -2 dB}
crossovers: [{between: [low, high], family: LR, order: 4, at: 1.9 kHz}]
digital: {rates: [48 kHz], formats: [float32], method: bilinear}
promise: {magnitude: off, phase: off, `+promise+`}
board: {few-values: `+few+`, resistors: {series: E24}, capacitors: {series: E6}}
`)
	}
	worst := func(b *compiler.Build) (way, sum float64) {
		for _, f := range b.Figures {
			if f.Realisation == board.RealisationName && f.Way == "sum" {
				sum = math.Abs(f.Magnitude.Value)
			} else if f.Realisation == board.RealisationName {
				way = max(way, math.Abs(f.Magnitude.Value))
			}
		}
		return way, sum
	}
	loose := with("sum: off, board-magnitude: 0.6 dB", "0.5 dB")
	way, sum := worst(loose)
	if strings.Contains(strings.Join(loose.Board.Cautions, "\n"), "few-values` has no effect") || sum < 0.1 || way > 0.5 || sum > 0.5 {
		t.Errorf("%.3f dB, sum %.3f: %q", way, sum, loose.Board.Cautions)
	}
	tight := with("sum: off, board-magnitude: 0.1 dB", "0.5 dB")
	if way, _ := worst(tight); way > 0.1 || tight.Board.DistinctValues() <= loose.Board.DistinctValues() {
		t.Errorf("%.3f dB with %d values; within 0.5 dB %d", way, tight.Board.DistinctValues(), loose.Board.DistinctValues())
	}
}
