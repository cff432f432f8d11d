package batch_test

import (
	"math"
	"math/cmplx"
	"testing"

	"bandwright/biquad"
)

// No board of parts at the ends of their tolerances is further off than the worst
// corner: small boards, all signs, every frequency, by nodal analysis.
func TestWorstCorner(t *testing.T) {
	const rounding = 1e-3 // dB: a corner is sought at frequencies between those looked at here, too
	for _, filters := range []string{
		"{low-pass: {at: 1 kHz, q: 1.3, topology: sallen-key-low-pass}}",
		"{high-pass: {at: 80 Hz, q: 0.9}}, {low-pass: {at: 3 kHz, family: butterworth, order: 1}}",
		"{low-pass: {at: 700 Hz, q: 0.7, topology: multiple-feedback-low-pass}}",
		"{peak: {at: 500 Hz, q: 1.5, gain: -6 dB}}",
	} {
		b := build(t, little(filters, "capacitors: {tolerance: 10 %}, input: {source-impedance: 0}, output: {build-out: 0}"))
		j := judge(t, b)
		if len(j.Parts) > 12 {
			t.Fatalf("%s: %d parts are too many to try all signs", filters, len(j.Parts))
		}
		solver, outs := b.Board.Solver(make(biquad.Combination, 0))
		want := make([]complex128, len(j.Hz))
		b.Subject().Prototype.On(j.Hz).Response(want, 0, make(biquad.Combination, 0))
		peak := 0.0
		for _, h := range want {
			peak = math.Max(peak, cmplx.Abs(h))
		}
		most, least := math.Inf(-1), math.Inf(1)
		for signs := range 1 << len(j.Parts) {
			for i, p := range j.Parts {
				v := 1 - p.Tolerance
				if signs>>i&1 == 1 {
					v = 1 + p.Tolerance
				}
				if err := solver.Set(b.Board.PartIndex(p.Ref), p.Value*v); err != nil {
					t.Fatal(err)
				}
			}
			for i, hz := range j.Hz {
				if cmplx.Abs(want[i]) < peak/10 {
					continue
				}
				if err := solver.At(hz); err != nil {
					t.Fatal(err)
				}
				db := biquad.GainDB(cmplx.Abs(solver.Voltage(outs[0]) / want[i]))
				most, least = math.Max(most, db), math.Min(least, db)
			}
		}
		r := b.Batch.Rows[0]
		if r.Highest.DB < most-rounding || r.Highest.DB > most+0.05 || r.Lowest.DB > least+rounding || r.Lowest.DB < least-0.05 {
			t.Errorf("%s: corners %+.4f and %+.4f dB, all signs %+.4f and %+.4f", filters, r.Highest.DB, r.Lowest.DB, most, least)
		}
		if worst := math.Abs(r.Plain.Worst.DB); worst > math.Max(r.Highest.DB, -r.Lowest.DB) {
			t.Errorf("%s: a board is %g dB off, beyond the worst corner", filters, worst)
		}
		t.Logf("%d parts: corners %+.4f and %+.4f dB, all signs %+.4f and %+.4f; worst board %+.3f", len(j.Parts), r.Highest.DB, r.Lowest.DB, most, least, r.Plain.Worst.DB)
	}
}
