package netlist_test

import (
	"math"
	"strings"
	"testing"

	"bandwright/biquad"
	"bandwright/compiler/circuit/circuittest"
	"bandwright/targets/netlist"
)

// TestNgspiceAgreesOnSteps plays a step into the emitted netlist: what ngspice finds over time is what the board's
// response gives, to 0.001 of the greatest output, the offsets' DC left out.
func TestNgspiceAgreesOnSteps(t *testing.T) {
	b := compile(t, "dabchick")
	files, err := netlist.Emit(b)
	if err != nil {
		t.Fatal(err)
	}
	var deck strings.Builder
	for l := range strings.Lines(strings.Replace(string(files[0].Data), "vin vin 0 DC 0 AC 1", "vin vin 0 PULSE(0 1 0 10n 10n 1 2)", 1)) {
		switch {
		case strings.HasPrefix(l, ".ac"):
			deck.WriteString(".save v(out_bass) v(out_treble)\n.options reltol=1e-5\n.tran 5u 30m 0 4u\n")
		case !strings.HasPrefix(l, ".print"):
			deck.WriteString(l)
		}
	}
	plots, err := circuittest.ReadRaw(ngspice(t, deck.String()))
	if err != nil {
		t.Fatal(err)
	}
	hz := biquad.StepHz()
	on, c := b.Board.On(hz), make(biquad.Combination, len(b.Settings))
	for k, way := range b.Board.Ways {
		h := make([]complex128, len(hz))
		on.Response(h, k, c)
		step, v := biquad.NewResponseStep(h), plots[0].Of(way.Out)
		if len(v) < 1000 {
			t.Fatalf("%d points of %s", len(v), way.Out)
		}
		greatest, most, where := 0.0, 0.0, 0.0
		for i, at := range plots[0].Scale {
			y := real(v[i] - v[0])
			greatest = math.Max(greatest, math.Abs(y))
			if off := math.Abs(y - step.At(at)); at >= 10e-6 && off > most {
				most, where = off, at
			}
		}
		t.Logf("%s: %.2g of %.3g off, %.3g ms after the step", way.Out, most, greatest, 1e3*where)
		if greatest < 0.3 || most > 1e-3*greatest {
			t.Errorf("%s: %.2g of %.3g off, %.3g ms after the step", way.Out, most, greatest, 1e3*where)
		}
	}
}
