package netlist_test

import (
	"fmt"
	"math"
	"math/cmplx"
	"regexp"
	"strings"
	"testing"

	"bandwright/biquad"
	"bandwright/compiler/circuit/circuittest"
	"bandwright/targets/netlist"
)

// wren has all that may stand around the stages, with relays as mutes, and dunlin
// transistors.
const wren = `bandwright: 1
name: wren
settings: {sub-trim: [0 dB, -3 dB]}
ways:
  low:
    filters:
      - gain: {by: -3 dB, when: {sub-trim: -3 dB}}
  high: {}
crossovers:
  - {between: [low, high], family: LR, order: 4, at: 900 Hz}
board:
  bulk: 100 uF
  input: {balanced: true, coupling: 22 uF, rf-filter: 300 kHz, protection: clamp-diodes}
  output: {build-out: 100 ohm, mute: relay}
`

var dunlin = strings.NewReplacer("name: wren", "name: dunlin", "build-out: 100 ohm, mute: relay", "build-out: 470 ohm, coupling: 22 uF, mute: transistor").Replace(wren)

// linnet has trimmers.
var linnet = strings.NewReplacer("name: wren", "name: linnet", "  bulk: 100 uF\n", "  trim: 1 dB\n").Replace(wren)

// deck is the emitted netlist of a spec, with lines replaced.
func deck(t *testing.T, name string, replace ...string) string {
	t.Helper()
	files, err := netlist.Emit(compile(t, name))
	if err != nil || len(files) != 1 {
		t.Fatal(err)
	}
	text := string(files[0].Data)
	for i := 0; i < len(replace); i += 2 {
		if strings.Count(text, replace[i]) != 1 {
			t.Fatalf("%s: %q stands %d times", name, replace[i], strings.Count(text, replace[i]))
		}
		text = strings.Replace(text, replace[i], replace[i+1], 1)
	}
	return text
}

// A mute takes 60 dB and more away, at its control's will and where there is no supply;
// and a relay's contact, open, moves no response.
func TestMute(t *testing.T) {
	for _, name := range []string{"wren", "dunlin"} {
		b := compile(t, name)
		hz, open := simulate(t, deck(t, name), b)
		for _, change := range [][2]string{{".param mute=0\n", ".param mute=1\n"}, {".param supply=15\n", ".param supply=0\n"}} {
			_, muted := simulate(t, deck(t, name, change[0], change[1]), b)
			for w := range muted {
				least := math.Inf(1)
				for k := range hz {
					least = min(least, biquad.GainDB(cmplx.Abs(open[w][k])/cmplx.Abs(muted[w][k])))
				}
				t.Logf("%s, %s: %s is %.1f dB down", name, strings.TrimSpace(change[1]), b.Board.Ways[w].Name, least)
				if told := b.Board.MuteDB(); least < 60 || math.Abs(least-told) > 0.1 {
					t.Errorf("%s, %s: %s is %.2f dB down, and %.2f are told", name, change[1], b.Board.Ways[w].Name, least, told)
				}
			}
		}
	}
	b := compile(t, "wren")
	_, with := simulate(t, deck(t, "wren"), b)
	bare := regexp.MustCompile("(?m)^RK.00.*\n").ReplaceAllString(deck(t, "wren"), "")
	_, without := simulate(t, bare, b)
	for w := range with {
		for k := range with[w] {
			if d := cmplx.Abs(with[w][k]/without[w][k] - 1); d > 1e-7 {
				t.Fatalf("the open contact moves %s by %.1g", b.Board.Ways[w].Name, d)
			}
		}
	}
}

// Each leg of the input is an RC low-pass, of R with the source's half and the bias
// resistor behind the coupling capacitor, up to 10 MHz.
func TestRFFilterIsRC(t *testing.T) {
	b := compile(t, "wren")
	plots, err := circuittest.ReadRaw(ngspice(t, deck(t, "wren", ".ac dec 20 20 20000", ".ac dec 10 1000 1e7")))
	if err != nil {
		t.Fatal(err)
	}
	values := map[string]float64{}
	for _, p := range b.Board.Common.Ends {
		if strings.HasSuffix(p.A, "_p") {
			values[string(p.Use)] = p.Value
		}
	}
	r, c := values["source"]+values["series"], values["rf-filter"]
	if corner := 1 / (2 * math.Pi * r * c); math.Abs(corner/300e3-1) > 0.01 {
		t.Errorf("the corner is at %g Hz", corner)
	}
	for leg, sign := range map[string]float64{"inf_p": 0.5, "inf_n": -0.5} {
		v := plots[0].Of(leg)
		if len(v) == 0 || len(plots[0].Scale) != 41 {
			t.Fatalf("%d points of %s", len(v), leg)
		}
		for k, hz := range plots[0].Scale {
			s := complex(0, 2*math.Pi*hz)
			// Behind it stand the coupling capacitor, the bias resistor and two diodes of 2 pF.
			behind := 1/(s*complex(values["coupling"], 0)) + 1/(1/complex(values["bias"], 0)+s*4e-12)
			y := s*complex(c, 0) + 1/behind
			want := complex(sign, 0) / (1 + complex(r, 0)*y)
			if d := cmplx.Abs(v[k]/want - 1); d > 1e-6 {
				t.Errorf("%s at %g Hz: %v, want %v", leg, hz, v[k], want)
			}
		}
	}
}

// What is no part of the board stands apart, and what is one does not stand there.
func TestOutsideStandsApart(t *testing.T) {
	for _, name := range []string{"wren", "dunlin", "two_settings", "bittern"} {
		b := compile(t, name)
		_, rest, _ := strings.Cut(deck(t, name), "* outside the board\n")
		outside, board, found := strings.Cut(rest, "\n* on the board\n")
		if !found {
			t.Fatalf("%s has no two sections", name)
		}
		refs := func(text string) map[string]bool {
			out := map[string]bool{}
			for l := range strings.Lines(text) {
				out[strings.Fields(l + " -")[0]] = true
			}
			return out
		}
		out, on := refs(outside), refs(board)
		loads := 0
		for _, c := range b.Board.Chains() {
			for _, p := range c.Ends {
				line := map[byte]string{'Q': "J", 'K': "R"}[p.Ref[0]] + p.Ref
				if out[line] != p.Outside || on[line] == p.Outside {
					t.Errorf("%s: %s is outside: %v; it stands there: %v, and on the board: %v", name, p.Ref, p.Outside, out[line], on[line])
				}
				if p.Use == "load" {
					loads++
				}
			}
		}
		for _, p := range b.Board.Supply {
			if !on[p.Ref] {
				t.Errorf("%s: %s is not on the board", name, p.Ref)
			}
		}
		if loads != len(b.Board.Ways) || !out["vin"] || !out["Vvpos"] || !out["Vvneg"] {
			t.Errorf("%s: %s", name, fmt.Sprint(out))
		}
	}
}

// Trimmers are parameters: turned to their ends they move their way, and no other, by 1 dB
// and more.
func TestTrimParameters(t *testing.T) {
	b := compile(t, "linnet")
	_, middle := simulate(t, deck(t, "linnet"), b)
	lines := regexp.MustCompile(`(?m)^\.param trim_low=.*$`).FindAllString(deck(t, "linnet"), -1)
	if len(lines) != 1 {
		t.Fatalf("%q", lines)
	}
	for end, up := range map[string]bool{"0.000001": true, "1": false} {
		_, turned := simulate(t, deck(t, "linnet", lines[0]+"\n", ".param trim_low="+end+"\n"), b)
		for w, way := range turned {
			for k := range way {
				moved := biquad.DB(way[k] / middle[w][k])
				if w == 1 && math.Abs(moved) > 1e-6 || w == 0 && (moved > 0) != up || w == 0 && (math.Abs(moved) < 1 || math.Abs(moved) > 1.5) {
					t.Fatalf("%s at %s moves by %.3f dB", b.Board.Ways[w].Name, end, moved)
				}
			}
		}
	}
}
