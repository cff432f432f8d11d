package board_test

import (
	"fmt"
	"math"
	"testing"

	"bandwright/biquad"
	"bandwright/compiler"
	"bandwright/compiler/board"
	"bandwright/compiler/verify"
)

// sourced is a board with two sources, the second of which has 9 dB of gain.
func sourced(line, phone, opAmp string) string {
	return fmt.Sprintf(`bandwright: 1
name: sources
settings: {source: [line, phone], room: [large, small]}
ways:
  only: {filters: [{gain: {by: 9 dB, when: {source: phone}}}, {high-pass: {at: 30 Hz, q: 0.7}}]}
promise: {board-spread: off, board-yield: off}
board: {input: {level: {source: {phone: %s, line: %s}}}, op-amp: {%s}}
`, phone, line, opAmp)
}

func plan(t *testing.T, b *compiler.Build, c ...uint8) board.LevelPlan {
	t.Helper()
	p, err := b.Board.LevelPlan(verify.Case{C: c})
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// An input whose level goes by a setting has that of the case, in the plan and in the
// promise, of which the worse case is the finding's.
func TestLevelBySetting(t *testing.T) {
	for _, x := range []struct {
		line, phone float64
		worse       string
	}{{2, 0.7, "line"}, {2, 0.8, "phone"}} {
		b := build(t, sourced(fmt.Sprint(x.line, " V"), fmt.Sprint(x.phone, " V"), "per-package: 2"))
		a, z := plan(t, b, 0, 0), plan(t, b, 1, 0)
		if a.InputV != x.line || z.InputV != x.phone {
			t.Errorf("levels of %g and %g V", a.InputV, z.InputV)
		}
		// The way's high-pass and the gain that makes up for the output's resistors are the same.
		if r := z.OutV / a.OutV; math.Abs(r/(x.phone/x.line*biquad.FromDB(9))-1) > 0.01 {
			t.Errorf("%g V and %g V at the output", a.OutV, z.OutV)
		}
		// The source's 100 ohm on the input's 100 kohm lose 0.1 %.
		if v := a.Stages[0].V; math.Abs(v/x.line-1) > 2e-3 {
			t.Errorf("%g V behind the input stage", v)
		}
		worst := math.Max(-a.Stages[a.First].Clip.MarginDB, -z.Stages[z.First].Clip.MarginDB)
		found := false
		for _, f := range b.Findings {
			if f.Promise != "board-headroom" {
				continue
			}
			found = true
			if math.Abs(f.Worst-worst) > 1e-9 || len(f.With) != 1 || f.With[0].Choice != x.worse {
				t.Errorf("%g and %g V: %.6f dB with %v, want %.6f with %s", x.line, x.phone, f.Worst, f.With, worst, x.worse)
			}
		}
		if !found {
			t.Error("no finding")
		}
	}
}

// A way that does not depend on the setting is judged at the greatest of the levels.
func TestLevelOfAnotherSetting(t *testing.T) {
	b := build(t, `bandwright: 1
name: sources
settings: {source: [phone, line]}
ways: {only: {filters: [{high-pass: {at: 30 Hz, q: 0.7}}]}}
promise: {board-spread: off, board-yield: off}
board: {input: {level: {source: {phone: 0.7 V, line: 3 V}}}}
`)
	if p := plan(t, b, 0); p.InputV != 3 {
		t.Errorf("judged at %g V", p.InputV)
	}
}

// The three limits by the textbook. The input stage follows the input: 2πf times the peak
// at the band's end is the slew rate, the swing is its peak, and the output gives what load
// and build-out ask for, 600 and 100 ohm, and a little into its feedback.
func TestClipsByTheTextbook(t *testing.T) {
	first := func(opAmp, rest string) board.LevelPlan {
		return plan(t, build(t, fmt.Sprintf(`bandwright: 1
name: limits
ways: {only: {filters: [{high-pass: {at: 30 Hz, q: 0.7}}]}}
promise: {board-spread: off, board-yield: off}
board: {input: {level: 2 V, source-impedance: 0 ohm}, op-amp: {%s}%s}
`, opAmp, rest)))
	}
	p := first("slew-rate: 0.2 V/us", "")
	if c := p.Stages[0].Clip; c.By != board.OfSlew || math.Abs(c.InputV/(0.2e6/(2*math.Pi*20e3*math.Sqrt2))-1) > 1e-3 || math.Abs(c.AtHz/20e3-1) > 1e-9 || c.Has != 0.2e6 {
		t.Errorf("slew rate: %+v", c)
	}
	p = first("swing: 4 V", "")
	if c := p.Stages[0].Clip; c.By != board.OfSwing || math.Abs(c.InputV/(4/math.Sqrt2)-1) > 1e-3 || math.Abs(c.MarginDB-20*math.Log10(4/(2*math.Sqrt2))) > 0.01 {
		t.Errorf("swing: %+v", c)
	}
	p = first("output-current: 3 mA", ", output: {load: 600 ohm, build-out: 100 ohm}")
	last := p.Stages[len(p.Stages)-1]
	// What is lost in the build-out is given back before it: 2 V on the load.
	least := 2 * math.Sqrt2 / 600
	if c := last.Clip; p.First != len(p.Stages)-1 || c.By != board.OfCurrent || c.Asked < least || c.Asked > 1.2*least || math.Abs(c.InputV-2*c.Has/c.Asked) > 1e-9 {
		t.Errorf("output current: at least %g A asked, %+v", least, c)
	}
	if math.Abs(p.OutV-2) > 0.02 {
		t.Errorf("%g V at the output", p.OutV)
	}
}

// Whole packages are counted, and each rail gives every op-amp its current.
func TestSupply(t *testing.T) {
	b := build(t, sourced("2 V", "0.7 V", "per-package: 4, supply-current: 2.5 mA"))
	s := b.Board.Rails(b.BoardSubject().Cases())
	fitted := 4 * len(b.Board.Packages)
	if s.OpAmps != fitted || math.Abs(s.QuiescentA-2.5e-3*float64(fitted)) > 1e-12 || s.RailV != 15 {
		t.Errorf("%d packages: %+v", len(b.Board.Packages), s)
	}
	// At least the load's 10 kohm at 2 V, the mean of half waves.
	if least := 2 * math.Sqrt2 / 10.1e3 / math.Pi; s.SignalA < least || s.SignalA > 20*least {
		t.Errorf("the signal takes %g A", s.SignalA)
	}
}
