package board_test

import (
	"context"
	"fmt"
	"math"
	"math/cmplx"
	"regexp"
	"slices"
	"strings"
	"testing"

	"bandwright/biquad"
	"bandwright/compiler"
	"bandwright/compiler/netlist"
	"bandwright/compiler/nodal"
	"bandwright/compiler/verify"
	"bandwright/compiler/words"
)

// A sine at the clip level drives no op-amp of the whole board beyond its swing at any
// frequency, and one that is a thousandth larger drives one. All op-amps of the board
// belong to some way, so the least of the ways' levels is that of the board.
func TestClipLevels(t *testing.T) {
	for _, name := range boards {
		b := shipped(t, name)
		least, at := math.Inf(1), verify.Extreme{}
		for _, f := range b.Figures {
			if f.ClipV.Known && f.ClipV.Value < least {
				least, at = f.ClipV.Value, f.ClipV
			}
		}
		highest, where := 0.0, 0.0
		var axes []biquad.Axis
		for k, s := range b.Settings {
			axes = append(axes, biquad.Axis{Setting: k, Choices: len(s.Choices)})
		}
		biquad.Each(axes, len(b.Settings), func(c biquad.Combination) {
			circuit := b.Board.Circuit(c)
			s, err := nodal.New(circuit, 10)
			if err != nil {
				t.Fatal(err)
			}
			const perOctave = 48
			for k := range int(perOctave*math.Log2(1000)) + 1 {
				hz := 20 * math.Exp2(float64(k)/perOctave)
				if err := s.At(hz); err != nil {
					t.Fatal(err)
				}
				for _, p := range circuit.Parts() {
					if p.Kind == netlist.Amplifier && used(b, p.Ref, c) {
						if v := math.Sqrt2 * cmplx.Abs(s.Voltage(p.Nodes[2])) / p.Model.SwingV; v > highest {
							highest, where = v, hz
						}
					}
				}
			}
		})
		if over := least * highest; over > 1+1e-9 || over < 1-1e-3 {
			t.Errorf("%s: clips from %.6g V at %.5g Hz; on the grid from %.6g V at %.5g Hz", name, least, at.AtHz, 1/highest, where)
		}
	}
}

// used reports whether an op-amp passes signal in a combination.
func used(b *compiler.Build, ref string, c biquad.Combination) bool {
	for _, chain := range b.Board.Chains() {
		for i := range chain.Positions {
			x := &chain.Positions[i]
			for _, s := range x.Alt[x.Index(c)].Stages {
				if slices.Contains(s.Refs, ref) {
					return true
				}
			}
		}
	}
	return false
}

// An input that is too large breaks the headroom, and what the remedy says mends it.
// The filters are a gain: 2 V times 12 dB is 11.3 V peak, 1.1 dB above 10 V.
func TestBoardHeadroom(t *testing.T) {
	headroom := func(level, swing, more string) verify.Finding {
		b := build(t, fmt.Sprintf(`bandwright: 1
name: loud
ways:
  only: {filters: [{high-pass: {at: 30 Hz, q: 0.7}}], gain: 12 dB}
digital: {rates: [48 kHz], formats: [float32], method: bilinear, headroom: 13 dB}
board: {supply: 40 V, input: {level: %s}, op-amp: {swing: %s%s}}
`, level, swing, more))
		for _, f := range b.Findings {
			if f.Promise == "board-headroom" {
				return f
			}
		}
		t.Fatal("no finding")
		return verify.Finding{}
	}
	f := headroom("2 V", "10 V", "")
	// What the output's resistors lose is given back before them, and the high-pass
	// has lost its last 0.03 dB where the response is flat.
	if want := biquad.GainDB(2*math.Sqrt2/10) + 12; f.Kept || f.Worst < want-0.05 || f.Worst > want+0.15 {
		t.Errorf("%.4f dB above clipping, want %.4f: %+v", f.Worst, want, f)
	}
	advice := regexp.MustCompile(`^board\.input\.level: (\S+ m?V), or op-amps that swing (\S+ V) `).FindStringSubmatch(f.Remedy)
	if advice == nil {
		t.Fatal(f.Remedy)
	}
	if g := headroom(advice[1], "10 V", ""); !g.Kept {
		t.Errorf("at %s: %+v", advice[1], g)
	}
	if g := headroom("2 V", advice[2], ""); !g.Kept {
		t.Errorf("swinging %s: %+v", advice[2], g)
	}
	// What no board may have, or these op-amps are not made for, is no advice: 20 V times 12 dB is 113 V peak, and 15 V 84 V.
	for level, more := range map[string]string{"20 V": "", "15 V": ", supply-range: 5 V to 40 V"} {
		if g := headroom(level, "35 V", more); g.Kept || !regexp.MustCompile(`^board\.input\.level: (\S+ m?V)$`).MatchString(g.Remedy) {
			t.Errorf("%s%s: %+v", level, more, g)
		}
	}
	if g := headroom("7 V", "35 V", ", supply-range: 5 V to 50 V"); g.Kept || !strings.Contains(g.Remedy, "op-amps that swing 4") {
		t.Errorf("within what they are made for: %+v", g)
	}
}

// More noise than promised breaks the promise, and what the remedy says keeps it.
func TestBoardNoise(t *testing.T) {
	noise := func(promise string) (verify.Finding, bool) {
		b := build(t, `bandwright: 1
name: hiss
ways:
  only: {filters: [{low-pass: {at: 900 Hz, q: 0.8}}]}
digital: {rates: [48 kHz], formats: [float32], method: bilinear}
promise: {board-noise: `+promise+`}
board: {}
`)
		for _, f := range b.Findings {
			if f.Promise == "board-noise" {
				return f, true
			}
		}
		return verify.Finding{}, false
	}
	f, _ := noise("-120 dBu")
	if f.Kept || f.Unit != words.DBu {
		t.Fatalf("%+v", f)
	}
	_, text, _ := strings.Cut(f.Remedy, "promise.board-noise: ")
	if g, _ := noise(text); !g.Kept || g.Worst != f.Worst {
		t.Errorf("with %s: %+v", text, g)
	}
	if _, judged := noise("off"); judged {
		t.Error("judged without a promise")
	}
}

// What cases have in common is worked out once; each is read as if it were alone.
func TestReadingsTogether(t *testing.T) {
	const src = `bandwright: 1
name: pair
settings: {wall: [near, far], trim: [flat, less]}
common: [{low-shelf: {at: 200 Hz, gain: 3 dB, q: 0.6, when: {wall: far}}}]
ways:
  low: {filters: [{low-pass: {at: 900 Hz, q: 0.8}}]}
  high: {filters: [{high-pass: {at: 900 Hz, q: 0.8}}, {gain: {by: -2 dB, when: {trim: less}}}], gain: -3 dB}
digital: {rates: [48 kHz], formats: [float32], method: bilinear}
board: {}
`
	b, anew := build(t, src), build(t, src).Board
	cases, read := b.BoardSubject().Cases(), 0
	for i, together := range b.Board.Readings(context.Background(), cases) {
		alone := anew.Readings(context.Background(), cases[i:i+1])[0]
		if (cases[i].C == nil) != (alone == nil) || len(alone) != len(together) {
			t.Fatalf("%v: %v alone, %v together", cases[i], alone, together)
		}
		for k, x := range alone {
			read++
			if y := together[k]; x.Of != y.Of || math.Abs(x.Value-y.Value) > 1e-9*math.Abs(x.Value) || math.Abs(x.AtHz-y.AtHz) > 1e-5*x.AtHz {
				t.Errorf("%v: %+v alone, %+v together", cases[i], x, y)
			}
		}
	}
	if read != 6*(2+4) {
		t.Errorf("%d readings of 6 cases", read)
	}
}
