package netlist_test

import (
	"fmt"
	"math"
	"math/cmplx"
	"strings"
	"testing"

	"bandwright/biquad"
	"bandwright/compiler/acoustic"
	"bandwright/compiler/circuit/circuittest"
	"bandwright/targets/netlist"
)

// airIsSpice is how far pressure and excursion may be from ngspice's, relative.
const airIsSpice = 1e-6

// electromechanical is a driver behind an amplifier as an electrical circuit, velocity as
// current and force as voltage: coil, gyrator of the force factor, mass, damping, compliance
// and the box as another one. The velocity is the voltage of u_WAY.
func electromechanical(out *strings.Builder, way, in string, gain float64, d acoustic.Driver, boxCompliance float64) {
	p := func(format string, args ...any) {
		fmt.Fprintf(out, strings.ReplaceAll(format, "@", way)+"\n", args...)
	}
	p("Eamp_@ amp_@ 0 %s 0 %.17g", in, gain)
	p("Re_@ amp_@ a_@ %.17g", d.CoilOhm)
	last := "a_@"
	if d.CoilH > 0 {
		p("Le_@ a_@ b_@ %.17g", d.CoilH)
		last = "b_@"
	}
	p("Hback_@ "+last+" c_@ Vu_@ %.17g", d.ForceFactor)
	p("Vi_@ c_@ 0 0")
	p("Hforce_@ m0_@ 0 Vi_@ %.17g", d.ForceFactor)
	p("Lmass_@ m0_@ m1_@ %.17g", d.MassKg)
	p("Rms_@ m1_@ m2_@ %.17g", d.Damping)
	p("Cms_@ m2_@ m3_@ %.17g", d.Compliance)
	p("Rdc_@ m2_@ m3_@ 1e15")
	if boxCompliance > 0 {
		p("Cbox_@ m3_@ m4_@ %.17g", boxCompliance)
		p("Rbox_@ m3_@ m4_@ 1e15")
	} else {
		p("Rbox_@ m3_@ m4_@ 1e-9")
	}
	p("Vu_@ m4_@ 0 0")
	p("Hu_@ u_@ 0 Vu_@ 1")
}

// ngspice runs the emitted board of heron with its drivers behind it, as electromechanical
// circuits of the spec's own parameters: excursion and pressure of bass and mid are those
// that the report has.
func TestNgspiceAgreesOnDrivers(t *testing.T) {
	b := compile(t, "heron")
	files, err := netlist.Emit(b)
	if err != nil {
		t.Fatal(err)
	}
	var drivers strings.Builder
	const volume = 0.038
	for k, way := range b.Air.System.Ways[:2] {
		d := b.Drivers[k].Driver
		box := 0.0
		if k == 0 { // V/(ρc²·Sd²)
			box = volume / (1.204 * 343 * 343 * d.AreaM2 * d.AreaM2)
		}
		electromechanical(&drivers, way.Name, b.Board.Ways[k].Out, way.Gain, d, box)
	}
	deck := strings.Replace(string(files[0].Data), ".ac dec 20 20 20000", drivers.String()+".save v(u_bass) v(u_mid)\n.ac dec 20 5 20000", 1)
	var kept strings.Builder
	for l := range strings.Lines(deck) {
		if !strings.HasPrefix(l, ".print") {
			kept.WriteString(l)
		}
	}
	plots, err := circuittest.ReadRaw(ngspice(t, kept.String()))
	if err != nil {
		t.Fatal(err)
	}
	plot := plots[0]
	for k, count := range []float64{1, 2} {
		way := &b.Air.System.Ways[k]
		u := plot.Of("u_" + way.Name)
		if u == nil {
			t.Fatalf("ngspice has no velocity of %s among %v", way.Name, plot.Names)
		}
		h := make([]complex128, len(plot.Scale))
		b.Board.On(plot.Scale).Response(h, k, make(biquad.Combination, len(b.Settings)))
		moves, sounds := 0.0, 0.0
		for i, hz := range plot.Scale {
			s := complex(0, 2*math.Pi*hz)
			x := u[i] / s
			pressure := s * complex(1.204*b.Drivers[k].Driver.AreaM2*count/(4*math.Pi), 0) * u[i]
			if k == 1 { // the rear, 11 cm later with the other sign
				sin, cos := math.Sincos(2 * math.Pi * hz * 0.11 / 343)
				pressure *= 1 - complex(cos, -sin)
			}
			own := b.Drivers[k].Excursion(hz) * complex(way.Gain, 0) * h[i]
			moves = math.Max(moves, cmplx.Abs(own/x-1))
			heard := way.Pressure(hz, 0) * h[i]
			sounds = math.Max(sounds, cmplx.Abs(heard/pressure-1))
		}
		t.Logf("%s: excursion within %.1e, pressure within %.1e of ngspice at %d frequencies", way.Name, moves, sounds, len(h))
		if moves > airIsSpice || sounds > airIsSpice || len(h) < 60 {
			t.Errorf("%s: excursion is %.2g and pressure %.2g from ngspice's", way.Name, moves, sounds)
		}
	}
}
