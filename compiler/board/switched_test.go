package board_test

import (
	"fmt"
	"math"
	"math/cmplx"
	"os"
	"slices"
	"strings"
	"testing"

	"bandwright/biquad"
	"bandwright/compiler"
	"bandwright/compiler/board"
	"bandwright/compiler/circuit"
)

// switchedSpec is a trim of nine steps, six cuts and two shelves that settings switch.
func switchedSpec(t testing.TB) *compiler.Build { return specOf(t, "switched") }

// specOf is a spec of testdata.
func specOf(t testing.TB, name string) *compiler.Build {
	t.Helper()
	if made[name] == nil {
		src, err := os.ReadFile("testdata/" + name + ".yaml")
		if err != nil {
			t.Fatal(err)
		}
		made[name] = build(t, string(src))
	}
	return made[name]
}

// opAmps counts the op-amps of a board's stages.
func opAmps(b *board.Board) int {
	n := 0
	for _, c := range b.Chains() {
		for _, s := range c.Built() {
			n += s.Topology.OpAmps()
		}
	}
	return n
}

// How many op-amps the stages take, and how many they took when a setting picked whole
// stages, or for tones a filter for each strength.
func TestOpAmpsOfSwitchedBoards(t *testing.T) {
	for _, k := range []struct {
		name      string
		now, then int
	}{
		{"switched", 18, 27}, {"summed", 12, 17}, {"pairs", 11, 17}, {"tones", 10, 18}, {"slopes", 6, 14}, {"heron", 27, 32}, {"dabchick", 13, 17}, {"bittern", 53, 53},
	} {
		var b *compiler.Build
		if _, err := os.Stat("testdata/" + k.name + ".yaml"); err == nil {
			b = specOf(t, k.name)
		} else {
			b = shipped(t, k.name)
		}
		if n := opAmps(b.Board); n != k.now {
			t.Errorf("%s: %d op-amps, on record %d, %d with whole stages", k.name, n, k.now, k.then)
		}
	}
}

// The nine steps are one stage with one op-amp, the cuts are one stage each.
func TestSettingsSwitchElements(t *testing.T) {
	b := switchedSpec(t).Board
	var elements, whole []string
	for i := range b.Ways[0].Positions {
		p := &b.Ways[0].Positions[i]
		switch s := p.Switched(); {
		case p.Selector == "":
		case s == nil:
			whole = append(whole, p.From[0])
		default:
			elements = append(elements, s.From)
			if strings.Contains(s.From, "gain") && s.Topology.OpAmps() != 1 {
				t.Errorf("the trim takes %d op-amps", s.Topology.OpAmps())
			}
		}
	}
	if len(elements) != 9 || len(whole) > 1 {
		t.Errorf("elements of %v, whole stages for %v", elements, whole)
	}
}

// Positions of several filters are sums of one op-amp more than filters, each with one pole of as
// many throws, whose contacts break nothing. A peak up and down, and none, has one filter for both and
// three throws, which are two op-amps' outputs and the ground.
func TestSettingsSwitchSums(t *testing.T) {
	b := specOf(t, "summed").Board
	filters := []int{2, 1, 4}
	selectors := b.Selectors()
	if len(selectors) != len(filters) {
		t.Fatal(selectors)
	}
	for i := range selectors {
		s := &selectors[i]
		p := s.Poles[0].Position
		body := p.Switched()
		throws, _ := p.Throws()
		if filters[i] == 1 {
			if body == nil || body.Topology.Name != circuit.SwitchedPairName || body.Topology.OpAmps() != 2 || len(throws) != 3 || !s.BreaksFirst() {
				t.Errorf("%s: %v, throws %v, breaks first %v", s.Ref, p.From, throws, s.BreaksFirst())
			}
			continue
		}
		if body == nil || body.Topology.Name != circuit.SwitchedSumName || body.Topology.OpAmps() != filters[i]+1 || len(throws) != filters[i] || s.BreaksFirst() {
			t.Errorf("%s: %v, throws %v, breaks first %v", s.Ref, p.From, throws, s.BreaksFirst())
		}
	}
}

// Strengths of one tone control are one stage of two op-amps each, with a throw for every one and none for flat,
// at taps of resistors, so that the selector need not break before it makes.
func TestSettingsSwitchTaps(t *testing.T) {
	b := specOf(t, "tones").Board
	throws := map[string]int{"bass": 4, "treble": 4, "presence": 2}
	selectors := b.Selectors()
	for i := range selectors {
		s := &selectors[i]
		name := s.Settings(specOf(t, "tones").Settings)[0]
		body := s.Poles[0].Position.Switched()
		at, _ := s.Poles[0].Position.Throws()
		if want := throws[name]; want > 0 && (body == nil || body.Topology.Name != circuit.TappedFilterName || body.Topology.OpAmps() != 2 || len(at) != want || s.BreaksFirst()) {
			t.Errorf("%s: throws %v, breaks first %v", name, at, s.BreaksFirst())
		}
	}
	if len(selectors) != 4 {
		t.Errorf("%d selectors", len(selectors))
	}
}

// In each position of each selector the board is within what is promised of the prototype,
// level and polarity included, and every state by itself is its own closed form.
func TestEveryPositionIsRight(t *testing.T) {
	for _, name := range []string{"switched", "summed", "pairs", "tones"} {
		everyPositionIsRight(t, specOf(t, name))
	}
}

func everyPositionIsRight(t *testing.T, b *compiler.Build) {
	hz := biquad.Octaves(20, 20e3, 6)
	for _, c := range eachChoice(b) {
		is, want := make([]complex128, len(hz)), make([]complex128, len(hz))
		b.Board.On(hz).Response(is, 0, c)
		b.Subject().Prototype.On(hz).Response(want, 0, c)
		for i := range hz {
			if e := biquad.GainDB(cmplx.Abs(is[i] / want[i])); math.Abs(e) > 0.1 {
				t.Errorf("%v: %.3f dB at %g Hz", c, e, hz[i])
			}
			if e := cmplx.Phase(is[i] / want[i]); math.Abs(e) > 0.3 {
				t.Errorf("%v: %.2f rad at %g Hz", c, e, hz[i])
			}
		}
		s, _ := b.Board.Solver(c)
		for _, f := range hz[:len(hz)/2] { // where op-amps have all the gain that they need
			if err := s.At(f); err != nil {
				t.Fatal(err)
			}
			for i := range b.Board.Ways[0].Positions {
				p := &b.Board.Ways[0].Positions[i]
				for _, x := range p.Alt[p.Index(c)].Stages {
					h, closed := s.Voltage(b.Board.Node(x.Out))/s.Voltage(b.Board.Node(x.In)), x.Topology.Closed(x.Values).At(2*math.Pi*f)
					if cmplx.Abs(h/closed-1) > 1e-3 {
						t.Errorf("%v: %s at %g Hz is %v, its closed form %v", c, x.From, f, h, closed)
					}
				}
			}
		}
	}
}

// eachChoice is the default combination and every other choice by itself, and all last ones.
func eachChoice(b *compiler.Build) []biquad.Combination {
	last := make(biquad.Combination, len(b.Settings))
	out := []biquad.Combination{slices.Clone(last)}
	for i, s := range b.Settings {
		for k := 1; k < len(s.Choices); k++ {
			c := make(biquad.Combination, len(b.Settings))
			c[i] = uint8(k)
			out = append(out, c)
		}
		last[i] = uint8(len(s.Choices) - 1)
	}
	return append(out, last)
}

// A shelf or a peak of 0 dB, of either order, is a wire, by itself and as a choice of a setting: the board is that of a spec
// without the line.
func TestFiltersOfNothingAreWires(t *testing.T) {
	const up = "low-shelf: {at: 300 Hz, gain: 6 dB, when: {tone: up}}"
	without := fmt.Sprint(build(t, unjudged(little("settings: {tone: [flat, up]}\n", "{"+up+"}", ""))).Board.Bins())
	for _, flat := range []string{
		"low-shelf: {at: 300 Hz, gain: 0 dB, order: 1}", "high-shelf: {at: 3 kHz, gain: 0 dB, order: 1, when: {tone: flat}}",
		"low-shelf: {at: 300 Hz, gain: 0 dB, when: {tone: flat}}", "peak: {at: 1 kHz, gain: 0 dB, q: 2}",
	} {
		b := build(t, unjudged(little("settings: {tone: [flat, up]}\n", "{"+flat+"}, {"+up+"}", "")))
		if b.Board == nil {
			t.Errorf("%s: no board: %v", flat, b.Findings)
		} else if got := fmt.Sprint(b.Board.Bins()); got != without {
			t.Errorf("%s: %s, want %s", flat, got, without)
		}
	}
	wish := build(t, unjudged(little("", "{peak: {at: 1 kHz, gain: 0 dB, q: 2, topology: tow-thomas}}", "")))
	if wish.Board == nil || len(wish.Board.Bins()) == 0 {
		t.Errorf("with a topology: %+v", wish.Findings)
	}
}
