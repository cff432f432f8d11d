package batch_test

import (
	"math"
	"testing"

	"bandwright/compiler/board"
	"bandwright/compiler/netlist"
)

// spreadOf is the standard deviation (dB) of the level at hz of a stage whose parts
// deviate by their tolerances, uniformly: 8.686·√(Σ(S·t)²/3) for sensitivities S of the
// magnitude.
func spreadOf(sensitivities, tolerances []float64) float64 {
	v := 0.0
	for i, s := range sensitivities {
		v += s * s * tolerances[i] * tolerances[i] / 3
	}
	return 20 / math.Ln10 * math.Sqrt(v)
}

// rcSensitivities are those of |1/(1+jx)| to R and C, x = f/f0.
func rcSensitivities(x float64) []float64 {
	s := -x * x / (1 + x*x)
	return []float64{s, s}
}

// sallenKeySensitivities are those of a unity-gain low-pass's magnitude to R1, R2, C1
// (feedback) and C2, by the sensitivities of its natural frequency and Q as textbooks
// print them (S of w0: -1/2 each; S of Q: ±(R2-R1)/(2(R1+R2)), 1/2, -1/2), and of the
// magnitude to both: with x = w/w0 and |D|² = (1-x²)²+(x/Q)²,
// S to w0 = (2x²(x²-1) + (x/Q)²)/|D|², S to Q = (x/Q)²/|D|².
func sallenKeySensitivities(r1, r2, c1, c2, hz float64) []float64 {
	w0 := 1 / math.Sqrt(r1*r2*c1*c2)
	q := math.Sqrt(r1*r2*c1*c2) / (c2 * (r1 + r2))
	x := 2 * math.Pi * hz / w0
	d := (1-x*x)*(1-x*x) + x*x/(q*q)
	toW0, toQ := (2*x*x*(x*x-1)+x*x/(q*q))/d, x*x/(q*q)/d
	skew := (r2 - r1) / (2 * (r1 + r2))
	return []float64{-toW0/2 + toQ*skew, -toW0/2 - toQ*skew, -toW0/2 + toQ/2, -toW0/2 - toQ/2}
}

// The spread of an RC and of a Sallen-Key stage is what the published formulas for
// their sensitivities say: of the parts told, of the place told, and of the boards
// themselves.
func TestPublishedSpreads(t *testing.T) {
	const off = 0.02 // relative: tuned by what second order there is, and the boards' number
	for _, c := range []struct {
		filter, topology string
		formula          func(values []float64, hz float64) []float64
	}{
		{"{low-pass: {at: 1 kHz, family: butterworth, order: 1, topology: rc-low-pass}}", "rc-low-pass", func(v []float64, hz float64) []float64 {
			return rcSensitivities(2 * math.Pi * hz * v[0] * v[1])
		}},
		{"{low-pass: {at: 1 kHz, q: 1.3, topology: sallen-key-low-pass}}", "sallen-key-low-pass", func(v []float64, hz float64) []float64 {
			return sallenKeySensitivities(v[0], v[1], v[2], v[3], hz)
		}},
	} {
		b := build(t, little(c.filter, "resistors: {tolerance: 0.5 %}, capacitors: {tolerance: 2.5 %}, op-amp: {gain-bandwidth: 1000 MHz}"))
		var at *board.Stage
		for _, s := range b.Board.Ways[0].Stages() {
			if s.Topology.Name == c.topology {
				at = s
			}
		}
		if at == nil {
			t.Fatalf("no %s", c.topology)
		}
		var tolerances []float64
		for _, e := range at.Topology.Parts() {
			tolerances = append(tolerances, map[netlist.Kind]float64{netlist.Resistor: 0.005, netlist.Capacitor: 0.025}[e.Kind])
		}
		row := b.Batch.Rows[0]
		// The input's follower has no parts, and the build-out and bias resistors add
		// nothing to speak of.
		s := c.formula(at.Values, row.Widest.Hz)
		if want := spreadOf(s, tolerances); math.Abs(row.Widest.DB/want-1) > 0.002 {
			t.Errorf("%s: sigma %g dB at %g Hz, want %g", c.topology, row.Widest.DB, row.Widest.Hz, want)
		}
		// What the stage was chosen by, at some frequencies of its own.
		if math.Abs(at.SpreadDB/row.Widest.DB-1) > 0.1 {
			t.Errorf("%s: the choice of stages reckons with %g dB", c.topology, at.SpreadDB)
		}
		byRef := map[string]float64{}
		for i, p := range at.Placed()[:len(s)] {
			byRef[p.Ref] = s[i]
		}
		for i, m := range row.Matters[:len(s)] {
			if want := 20 / math.Ln10 * byRef[m.Ref] / 100; math.Abs(m.DBPerPercent-want) > 1e-4 {
				t.Errorf("%s part %d %s: %g dB per %%, want %g", c.topology, i, m.Ref, m.DBPerPercent, want)
			}
		}
		// The boards themselves, at 1 kHz.
		j := judge(t, b)
		u, n, hz, k := j.Unit(), 4000, 0.0, 0
		for i, f := range j.Hz {
			if math.Abs(f-1000) < math.Abs(hz-1000) {
				hz, k = f, i
			}
		}
		sum, square := 0.0, 0.0
		for i := range n {
			u.Set(j.Scaled(i, 1))
			h := u.Way(0, 0)[k]
			db := 20 * math.Log10(math.Hypot(real(h), imag(h)))
			sum, square = sum+db, square+db*db
		}
		sigma := math.Sqrt(square/float64(n) - sum*sum/float64(n*n))
		if want := spreadOf(c.formula(at.Values, hz), tolerances); math.Abs(sigma/want-1) > 3/math.Sqrt(2*float64(n))+off/2 {
			t.Errorf("%s: boards at %g Hz have sigma %g dB, want %g", c.topology, hz, sigma, want)
		}
	}
}
