package acoustic

import (
	"encoding/csv"
	"encoding/json"
	"math"
	"math/cmplx"
	"os"
	"strconv"
	"strings"
	"testing"

	"bandwright/biquad"
)

// published is a file of published check values; the sources stand in it.
func published(t *testing.T, name string) []byte {
	t.Helper()
	data, err := os.ReadFile("../../golden/published/" + name)
	if err != nil {
		t.Fatal(err)
	}
	return data
}

// facts are those of acoustics.json that are looked at here.
type facts struct {
	Piston struct {
		Index []struct {
			KA float64 `json:"ka"`
			DB float64 `json:"DI_db_baffle"`
		} `json:"directivity_index_in_baffle"`
	}
	Monopole struct {
		Rho    float64
		Values []struct {
			Sd   float64 `json:"Sd_cm2"`
			X    float64 `json:"x_peak_mm"`
			F, R float64
			Full float64 `json:"spl_4pi_db"`
			Half float64 `json:"spl_2pi_db"`
		}
	}
	Dipole struct {
		Model struct {
			D    float64 `json:"D_m"`
			Axis []struct {
				F, DB float64
				Re    float64 `json:"db_re_single_source"`
			} `json:"on_axis_vs_one_source"`
			Peak float64 `json:"first_peak_hz"`
			Null float64 `json:"first_null_hz"`
		} `json:"two_point_model"`
		Finite []struct {
			KD float64 `json:"kD"`
			DB float64 `json:"DI_db"`
		} `json:"finite_spacing_DI"`
		Pattern []struct {
			Angle float64 `json:"angle_deg"`
			DB    float64
		}
	}
	Box struct {
		Worked struct {
			Recomputed struct {
				Fs, Qts, Fc, Qtc, F3 float64
				VasL                 float64 `json:"Vas_l"`
				VbL                  float64 `json:"Vb_l"`
			}
		}
	} `json:"closed_box"`
}

func read(t *testing.T) (f facts) {
	t.Helper()
	if err := json.Unmarshal(published(t, "acoustics.json"), &f); err != nil {
		t.Fatal(err)
	}
	return f
}

func near(t *testing.T, what string, got, want, within float64) {
	t.Helper()
	if !(math.Abs(got-want) <= within) {
		t.Errorf("%s: %.9g, want %.9g within %.1g", what, got, want, within)
	}
}

// woofer is an invented driver.
func woofer() Parameters {
	return Parameters{ResonanceHz: 29, QElectrical: 0.46, QMechanical: 5.1, MassKg: 0.048, AreaM2: 0.034, CoilOhm: 5.6, ExcursionM: 8e-3}
}

func made(t *testing.T, p Parameters) Driver {
	t.Helper()
	d, problems := p.Driver()
	if len(problems) > 0 {
		t.Fatal(problems)
	}
	return d
}

func mounted(t *testing.T, p Parameters, count int, wiring, mounting string, e Enclosure) *Mounted {
	t.Helper()
	w, ok := WiringNamed(wiring)
	m, known := MountingNamed(mounting)
	if !ok || !known {
		t.Fatal(wiring, mounting)
	}
	return Mount(made(t, p), count, w, m, e)
}

// The table of piston_directivity.csv: scipy's and mpmath's J1.
func TestPistonAgainstTable(t *testing.T) {
	r := csv.NewReader(strings.NewReader(string(published(t, "piston_directivity.csv"))))
	r.Comment = '#'
	rows, err := r.ReadAll()
	if err != nil || len(rows) < 20 {
		t.Fatal(err, len(rows))
	}
	for _, row := range rows[1:] {
		x, _ := strconv.ParseFloat(row[0], 64)
		want, err := strconv.ParseFloat(row[1], 64)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "2J1(x)/x at "+row[0], pistonAt(x), want, 1e-14)
	}
	// At 30.2 degrees a cone of 8 cm radius has lost 6 dB of 3 kHz (acoustics.json, recomputed by mpmath).
	near(t, "3 kHz at 30.2047 degrees", biquad.GainDB(Piston(0.08, 3000, 30.2047)), -6, 2e-5)
	near(t, "ka at BeamsHz", KA(0.08, BeamsHz(0.08)), 1, 1e-12)
	for _, x := range []float64{1e-9, 0.999e-4, 1.001e-4} {
		near(t, "2J1(x)/x near 0", pistonAt(x), 1-x*x/8, 1e-15)
	}
}

// A piston in an infinite baffle, DI of the whole sphere, and the closed form
// (ka)²/(1 - J1(2ka)/ka) with the half space's factor 2.
func TestPistonDirectivityIndex(t *testing.T) {
	f := read(t)
	p := woofer()
	m := mounted(t, p, 1, "parallel", "baffle", Enclosure{})
	for _, v := range f.Piston.Index {
		hz := v.KA * SpeedOfSound / (2 * math.Pi * m.RadiusM())
		near(t, "DI at ka "+strconv.FormatFloat(v.KA, 'g', -1, 64), DirectivityDB(m, hz), v.DB, 1e-5)
	}
	for _, ka := range []float64{7.3, 15, 20} {
		want := 10 * math.Log10(ka*ka/(1-math.J1(2*ka)/ka))
		near(t, "DI in closed form", DirectivityDB(m, ka*SpeedOfSound/(2*math.Pi*m.RadiusM())), want, 1e-6)
	}
}

// Level from volume displacement, p = ρ·Sd·x·(2πf)²/(4πr·√2), in full and half space.
func TestLevelFromDisplacement(t *testing.T) {
	for _, v := range read(t).Monopole.Values {
		p := woofer()
		p.AreaM2 = v.Sd * 1e-4
		for mounting, want := range map[string]float64{"sealed": v.Full, "baffle": v.Half} {
			m := mounted(t, p, 1, "parallel", mounting, Enclosure{VolumeM3: 0.02})
			volts := v.X * 1e-3 / cmplx.Abs(m.Excursion(v.F)) // peak, that moves the cone so far
			pa := volts / math.Sqrt2 * cmplx.Abs(m.Pressure(v.F, 0)) / v.R
			got := 20*math.Log10(pa/ReferencePa) + 20*math.Log10(1.2/Density) // the table's air has 1.2 kg/m³
			near(t, mounting, got, want, 1e-4)
		}
	}
}

// A closed box is the second-order high-pass s²/(s² + s·wc/Qtc + wc²) with
// fc = fs·√(1 + Vas/Vb) and Qtc = Qts·√(1 + Vas/Vb) (Small 1972), its level that of the
// acceleration Bl/(Re·Mms): at any frequency, in a wall for any count and wiring.
func TestClosedBoxIsHighPass(t *testing.T) {
	w := read(t).Box.Worked.Recomputed
	for _, c := range []struct {
		count  int
		wiring string
		volts  float64 // of each driver
	}{{1, "parallel", 1}, {2, "parallel", 1}, {3, "series", 1. / 3}, {4, "series-parallel", 0.5}} {
		p := Parameters{ResonanceHz: w.Fs, QTotal: w.Qts, QMechanical: 4.2, VolumeM3: w.VasL * 1e-3, AreaM2: 0.022, CoilOhm: 5.6}
		m := mounted(t, p, c.count, c.wiring, "sealed", Enclosure{VolumeM3: w.VbL * 1e-3 * float64(c.count)})
		hz, q, ok := m.Resonance()
		if !ok {
			t.Fatal("a closed box has a resonance")
		}
		near(t, "fc", hz, w.Fc, 5e-5)
		near(t, "Qtc", q, w.Qtc, 5e-6)
		d := m.Driver
		n := float64(c.count)
		level := Density * d.AreaM2 * n / (4 * math.Pi) * c.volts * d.ForceFactor / (d.CoilOhm * d.MassKg)
		f3 := 0.0
		for f := 5.0; f < 300; f *= 1.07 {
			s := complex(0, f/hz)
			want := complex(level, 0) * s * s / (s*s + s/complex(q, 0) + 1) * complex(m.piston(f, 0), 0)
			if got := m.Pressure(f, 0); cmplx.Abs(got-want) > 1e-12*cmplx.Abs(want) {
				t.Fatalf("%d %s, %g Hz: %v, want %v", c.count, c.wiring, f, got, want)
			}
		}
		for f := 10.0; f < 100; f += 1e-4 {
			if cmplx.Abs(m.Pressure(f, 0)) > level*math.Sqrt(0.5) {
				f3 = f
				break
			}
		}
		near(t, "f3", f3, w.F3, 2e-4)
		// What the amplifier sees at the resonance is Re + (Bl)²/Rms, as wired.
		z := cmplx.Abs(m.Impedance(hz))
		wired := map[string]float64{"parallel": 1 / n, "series": n, "series-parallel": 1}[c.wiring]
		near(t, "impedance at resonance", z, wired*(d.CoilOhm+d.ForceFactor*d.ForceFactor/d.Damping), 1e-9)
		near(t, "impedance at DC", real(m.Impedance(1e-3)), wired*d.CoilOhm, 1e-6)
		near(t, "excursion towards DC", cmplx.Abs(m.Excursion(1e-3)), cmplx.Abs(m.Excursion(0)), 1e-8*cmplx.Abs(m.Excursion(0)))
	}
}

// Two point sources of opposite sign: level re one of them, first peak c/2D, first null
// c/D, 6 dB an octave, cosθ, and 10·lg 3 = 4.7712 dB.
func TestDipole(t *testing.T) {
	f := read(t).Dipole
	p := woofer()
	p.AreaM2 = 1e-6 // no piston's own pattern
	p.MassKg = 1e-4
	m := mounted(t, p, 1, "parallel", "dipole", Enclosure{PathM: f.Model.D})
	one := mounted(t, p, 1, "parallel", "sealed", Enclosure{VolumeM3: 1e9})
	re := func(hz float64) float64 { return biquad.DB(m.Pressure(hz, 0) / one.Pressure(hz, 0)) }
	for _, v := range f.Model.Axis {
		near(t, "re one source", re(v.F), v.Re, 1e-5)
	}
	near(t, "peak", re(f.Model.Peak), 20*math.Log10(2), 1e-9)
	if got := re(f.Model.Null); got > -250 {
		t.Errorf("the first null is %g dB", got)
	}
	for hz := 0.05; hz < 0.4; hz *= 2 { // 6 + 12 dB an octave far below the driver's resonance
		near(t, "dipole's slope", re(2*hz)-re(hz), 20*math.Log10(2), 1e-4)
		near(t, "slope of all", biquad.DB(m.Pressure(2*hz, 0)/m.Pressure(hz, 0)), 60*math.Log10(2), 0.01)
	}
	near(t, "slope far below", biquad.DB(m.Pressure(0.02, 0)/m.Pressure(0.01, 0)), 60*math.Log10(2), 1e-4)
	for _, v := range f.Pattern {
		near(t, "pattern", biquad.DB(m.Pressure(1, v.Angle)/m.Pressure(1, 0)), v.DB, 1e-4)
		near(t, "pattern to the rear", biquad.DB(m.Pressure(1, 180-v.Angle)/m.Pressure(1, 0)), v.DB, 1e-4)
	}
	for _, v := range f.Finite {
		near(t, "DI", DirectivityDB(m, v.KD*SpeedOfSound/(2*math.Pi*f.Model.D)), v.DB, 2e-5)
	}
	near(t, "10 lg 3", DirectivityDB(m, 0.1), 10*math.Log10(3), 1e-4)
	// The phase of the sum with the rear: 1 - exp(-jkD).
	k := 2 * math.Pi * 97 * f.Model.D / SpeedOfSound
	s, c := math.Sincos(k)
	if got := m.Pressure(97, 0) / one.Pressure(97, 0); cmplx.Abs(got-complex(1-c, s)) > 1e-6 {
		t.Errorf("phase of the dipole: %v", got)
	}
}

// A vented box without losses is the fourth-order high-pass of H. F. Olson's and
// R. H. Small's circuit: s⁴ over a polynomial of α = Vas/Vb, h = fb/fs (Small, Vented-Box
// Loudspeaker Systems, J. Audio Eng. Soc. 21, 1973), here with T0 = 1/√(ws·wb):
// s⁴ws⁻²wb⁻² / (s⁴/(ws²wb²) + s³/(wb²wsQ) + s²((α+1)/wb² + 1/ws²) + s/(Q·ws) + 1).
func TestVentedBox(t *testing.T) {
	p := woofer()
	m := mounted(t, p, 1, "parallel", "vented", Enclosure{VolumeM3: 0.06, TuningHz: 31, PortQ: 1e12})
	d := m.Driver
	ws, wb, q := 2*math.Pi*d.ResonanceHz(), 2*math.Pi*31, d.QTotal()
	alpha := stiffness * d.AreaM2 * d.AreaM2 * d.Compliance / 0.06
	level := Density * d.AreaM2 / (4 * math.Pi) * d.ForceFactor / (d.CoilOhm * d.MassKg)
	for f := 5.0; f < 400; f *= 1.1 {
		s := complex(0, 2*math.Pi*f)
		c := func(x float64) complex128 { return complex(x, 0) }
		n := s * s * s * s * c(1/(ws*ws*wb*wb))
		want := c(level) * n / (n + s*s*s*c(1/(wb*wb*ws*q)) + s*s*c((alpha+1)/(wb*wb)+1/(ws*ws)) + s*c(1/(ws*q)) + 1)
		if got := m.Pressure(f, 0); cmplx.Abs(got-want) > 1e-10*cmplx.Abs(want) {
			t.Fatalf("%g Hz: %v, want %v", f, got, want)
		}
	}
	if still := cmplx.Abs(m.Excursion(31)); still > 1e-12 {
		t.Errorf("the cone moves %g m/V at the tuning of a port without losses", still)
	}
	lossy := mounted(t, p, 1, "parallel", "vented", Enclosure{VolumeM3: 0.06, TuningHz: 31, PortQ: 20})
	if a, b := cmplx.Abs(lossy.Pressure(31, 0)), cmplx.Abs(m.Pressure(31, 0)); !(a < b*0.99) {
		t.Errorf("losses leave %g of %g Pa", a, b)
	}
	if _, _, ok := m.Resonance(); ok {
		t.Error("a vented box has one resonance")
	}
}

// The step: free space at the bottom, twice the pressure at the top, 3.01 dB at
// k·width/2 = 1; DI 0 and 3.01 dB; nothing behind a wall.
func TestBaffleStep(t *testing.T) {
	p := woofer()
	p.AreaM2, p.MassKg = 1e-6, 1e-4
	m := mounted(t, p, 1, "parallel", "sealed", Enclosure{VolumeM3: 1e9, WidthM: 0.3})
	free := mounted(t, p, 1, "parallel", "sealed", Enclosure{VolumeM3: 1e9})
	wall := mounted(t, p, 1, "parallel", "baffle", Enclosure{})
	at := SpeedOfSound / (math.Pi * 0.3)
	for _, v := range []struct{ hz, db, index float64 }{{0.1, 0, 0}, {at, 10 * math.Log10(2), math.NaN()}, {2e5, 20 * math.Log10(2), 10 * math.Log10(2)}} {
		near(t, "step", biquad.DB(m.Pressure(v.hz, 0)/free.Pressure(v.hz, 0)), v.db, 2e-4)
		if !math.IsNaN(v.index) && v.hz < 1e4 {
			near(t, "DI", DirectivityDB(m, v.hz), v.index, 2e-3)
		}
	}
	near(t, "wall", biquad.DB(wall.Pressure(100, 0)/mounted(t, p, 1, "parallel", "sealed", Enclosure{VolumeM3: 1e9}).Pressure(100, 0)), 20*math.Log10(2), 1e-6)
	if got := cmplx.Abs(wall.Pressure(100, 135)); got != 0 {
		t.Errorf("%g Pa behind a wall", got)
	}
	near(t, "DI of a wall", DirectivityDB(wall, 100), 10*math.Log10(2), 1e-6)
}

// The coil's inductance: with the cone held by its mass, Z becomes Re + jωLe, and the
// pressure falls by Re/|Re + jωLe|.
func TestCoilInductance(t *testing.T) {
	p := woofer()
	with := p
	with.CoilH = 1.2e-3
	a, b := mounted(t, with, 1, "parallel", "sealed", Enclosure{VolumeM3: 0.038}), mounted(t, p, 1, "parallel", "sealed", Enclosure{VolumeM3: 0.038})
	for _, hz := range []float64{5000, 20000} {
		w := 2 * math.Pi * hz
		bl := a.Driver.ForceFactor
		coil := complex(p.CoilOhm, w*with.CoilH-bl*bl/(w*p.MassKg)) // the mass stands as a capacitance
		near(t, "impedance", cmplx.Abs(a.Impedance(hz)), cmplx.Abs(coil), 2e-4)
		near(t, "pressure", cmplx.Abs(a.Pressure(hz, 0)/b.Pressure(hz, 0)), cmplx.Abs(b.Impedance(hz))/cmplx.Abs(coil), 1e-5)
	}
}

// Every consistent set of one driver makes the same driver; what is given twice and
// disagrees is told with its arithmetic.
func TestParameterSets(t *testing.T) {
	d := made(t, woofer())
	vas := stiffness * d.AreaM2 * d.AreaM2 * d.Compliance
	base := Parameters{AreaM2: d.AreaM2, CoilOhm: d.CoilOhm}
	suspension := []func(p *Parameters){
		func(p *Parameters) { p.ResonanceHz, p.MassKg = 29, d.MassKg },
		func(p *Parameters) { p.ResonanceHz, p.Compliance = 29, d.Compliance },
		func(p *Parameters) { p.ResonanceHz, p.VolumeM3 = 29, vas },
		func(p *Parameters) { p.MassKg, p.Compliance = d.MassKg, d.Compliance },
		func(p *Parameters) { p.MassKg, p.VolumeM3 = d.MassKg, vas },
		func(p *Parameters) {
			p.ResonanceHz, p.MassKg, p.Compliance, p.VolumeM3 = 29, d.MassKg, d.Compliance, vas
		},
	}
	motor := []func(p *Parameters){
		func(p *Parameters) { p.QElectrical, p.QMechanical = 0.46, 5.1 },
		func(p *Parameters) { p.QTotal, p.QMechanical = d.QTotal(), 5.1 },
		func(p *Parameters) { p.QTotal, p.QElectrical = d.QTotal(), 0.46 },
		func(p *Parameters) { p.QTotal, p.ForceFactor = d.QTotal(), d.ForceFactor },
		func(p *Parameters) { p.QTotal, p.Damping = d.QTotal(), d.Damping },
		func(p *Parameters) { p.ForceFactor, p.Damping = d.ForceFactor, d.Damping },
		func(p *Parameters) { p.ForceFactor, p.QMechanical = d.ForceFactor, 5.1 },
		func(p *Parameters) { p.QElectrical, p.Damping, p.QTotal = 0.46, d.Damping, 0.42 },
	}
	for _, s := range suspension {
		for _, m := range motor {
			p := base
			s(&p)
			m(&p)
			got := made(t, p)
			for _, v := range [][2]float64{{got.MassKg, d.MassKg}, {got.Compliance, d.Compliance}, {got.Damping, d.Damping}, {got.ForceFactor, d.ForceFactor}} {
				if math.Abs(v[0]/v[1]-1) > 1e-9 {
					t.Errorf("%+v makes %+v", p, got)
				}
			}
		}
	}
}

func TestInconsistentParameters(t *testing.T) {
	for want, change := range map[string]func(p *Parameters){
		"`compliance` of 0.9 mm/N does not fit the rest: 1/((2π·29 Hz)²·48 g) = 0.627 mm/N":                               func(p *Parameters) { p.Compliance = 0.9e-3 },
		"`compliance-volume` of 60 l does not fit the rest: 1.204 kg/m3·(343 m/s)²·(340 cm2)²/((2π·29 Hz)²·48 g) = 103 l": func(p *Parameters) { p.VolumeM3 = 0.06 },
		"`force-factor` of 14 T m does not fit the rest: √(2π·29 Hz·48 g·5.6 ohm/0.46) = 10.3 T m":                        func(p *Parameters) { p.ForceFactor = 14 },
		"`damping` of 1 kg/s does not fit the rest: 2π·29 Hz·48 g/5.1 = 1.71 kg/s":                                        func(p *Parameters) { p.Damping = 1 },
		"`q-total` of 0.6 does not fit the rest: 1/(1/0.46 + 1/5.1) = 0.422":                                              func(p *Parameters) { p.QTotal = 0.6 },
		"`q-total` of 0.5 is not below `q-electrical` of 0.46, but 1/q-total = 1/q-electrical + 1/q-mechanical":           func(p *Parameters) { p.QMechanical, p.QTotal = 0, 0.5 },
		"nothing says what damps the driver mechanically":                                                                 func(p *Parameters) { p.QMechanical = 0 },
		"nothing says how strong the driver's motor is":                                                                   func(p *Parameters) { p.QElectrical = 0 },
		"nothing says how strong the driver's motor is, nor what damps it":                                                func(p *Parameters) { p.QElectrical, p.QMechanical = 0, 0 },
		"the driver needs two of `resonance`, `moving-mass` and a compliance, and has one":                                func(p *Parameters) { p.MassKg = 0 },
		"`compliance-volume` of 60 l does not fit the rest: 1.204 kg/m3·(343 m/s)²·(340 cm2)²·0.627 mm/N = 103 l":         func(p *Parameters) { p.Compliance, p.VolumeM3 = 0.627e-3, 0.06 },
	} {
		p := woofer()
		change(&p)
		_, problems := p.Driver()
		if len(problems) != 1 || problems[0].Message != want || problems[0].Right == "" {
			t.Errorf("%q\nwanted %q", problems, want)
		}
	}
}
