package netlist_test

import (
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"bandwright/compiler"
	"bandwright/compiler/circuit/circuittest"
	"bandwright/compiler/nodal"
	"bandwright/compiler/verify"
	"bandwright/targets/netlist"
)

// noiseIsSpice is how far the noise of the figures may be from ngspice's, relative:
// what a sum over noisePoints a decade leaves.
const (
	noiseIsSpice = 1e-5
	noisePoints  = 1000
)

// The emitted file, run by ngspice with `.noise` in place of `.ac`, has the noise that
// the figures tell of every way, in the combination that they tell.
func TestNgspiceFindsTheNoise(t *testing.T) {
	for _, name := range []string{"heron", "dabchick", "bittern", "siskin"} {
		b := compile(t, name)
		files, err := netlist.Emit(b)
		if err != nil {
			t.Fatal(err)
		}
		deck, _, _ := strings.Cut(string(files[0].Data), "\n.ac ")
		deck = withoutDiodes.ReplaceAllString(deck, "")
		seen := 0
		for _, f := range b.Figures {
			if f.Realisation != b.Board.Name() || !f.NoiseV.Known {
				continue
			}
			seen++
			for _, x := range []struct {
				what     string
				setting  map[string]string
				got      float64
				weighted bool
			}{{"noise", settingOf(b, f.NoiseV.With), f.NoiseV.Value, false}, {"A-weighted noise", settingOf(b, f.NoiseAV.With), f.NoiseAV.Value, true}} {
				own := deck
				for _, s := range b.Settings {
					p := "set_" + strings.ReplaceAll(s.Name, "-", "_") + "="
					own = strings.Replace(own, p+"0\n", p+x.setting[s.Name]+"\n", 1)
				}
				want := noiseOf(t, fmt.Sprintf("%s\n.noise v(out_%s) vin dec %d 20 20000\n.end\n", own, f.Way, noisePoints), x.weighted)
				if e := math.Abs(x.got/want - 1); e > noiseIsSpice {
					t.Errorf("%s, %s: %s of %.6g V, ngspice finds %.6g", name, f.Way, x.what, x.got, want)
				}
			}
		}
		if seen != len(b.Board.Ways) {
			t.Errorf("%s: noise of %d ways", name, seen)
		}
	}
}

// withoutDiodes takes the clamp diodes out: they hold off some volts, and ngspice's shot noise
// of so small a current backwards is not a number.
var withoutDiodes = regexp.MustCompile(`(?m)^D\S+ .*\n`)

// settingOf is the index of each setting's choice, the default where none is told.
func settingOf(b *compiler.Build, told []verify.Choice) map[string]string {
	out := map[string]string{}
	for _, s := range b.Settings {
		out[s.Name] = "0"
		for _, c := range told {
			for k, choice := range s.Choices {
				if c.Setting == s.Name && c.Choice == choice {
					out[s.Name] = strconv.Itoa(k)
				}
			}
		}
	}
	return out
}

// noiseOf runs a deck and adds up the density that it prints, by trapezoids over the
// logarithm of frequency.
func noiseOf(t *testing.T, deck string, weighted bool) float64 {
	t.Helper()
	plots, err := circuittest.ReadRaw(ngspice(t, deck))
	if err != nil {
		t.Fatal(err)
	}
	densities := plots[0].Of("onoise_spectrum")
	if len(densities) != len(plots[0].Scale) {
		t.Fatalf("ngspice has no noise among %v", plots[0].Names)
	}
	sum, points := 0.0, 0
	var lastX, lastY float64
	for i, hz := range plots[0].Scale {
		density := real(densities[i])
		x, y := math.Log(hz), hz*density*density
		if weighted {
			a := nodal.AWeighting(hz)
			y *= a * a
		}
		if points > 0 {
			sum += (x - lastX) * (y + lastY) / 2
		}
		lastX, lastY = x, y
		points++
	}
	if points < 3*noisePoints {
		t.Fatalf("ngspice has %d points", points)
	}
	return math.Sqrt(sum)
}
