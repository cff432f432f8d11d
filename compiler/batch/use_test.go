package batch_test

import (
	"math"
	"strings"
	"testing"

	"bandwright/compiler"
	"bandwright/compiler/batch"
	"bandwright/compiler/verify"
)

// row is a way of a little spec's batch.
func row(t testing.TB, filters, block string) batch.Row {
	t.Helper()
	return build(t, little(filters, block)).Batch.Rows[0]
}

// A gain is all level: two resistors set it, their spread is theirs, and a trimmer takes
// all of it away, up to what it can do.
func TestTrim(t *testing.T) {
	const filters, exact = "{gain: {by: 6 dB}}", "op-amp: {gain-bandwidth: 1000 MHz}, output: {build-out: 0}, input: {source-impedance: 0}, "
	plain := row(t, filters, exact+"resistors: {tolerance: 5 %}")
	// The gain 1+R2/R1 has the sensitivities ±(1-1/gain): at the worst corner
	// 1+(gain-1)·1.05/0.95.
	gain := math.Pow(10, 6.0/20)
	want := 20 * math.Log10((1+(gain-1)*1.05/0.95)/gain)
	if math.Abs(plain.Highest.DB-want) > 0.03 {
		t.Errorf("worst corner %.4f dB, want %.4f", plain.Highest.DB, want)
	}
	if worst := math.Abs(plain.Plain.Worst.DB); worst < 0.9*want || worst > plain.Highest.DB+0.03 {
		t.Errorf("the furthest of all boards is %.4f dB off, the worst corner %.4f", worst, want)
	}
	if worst := math.Abs(plain.Trimmed.Worst.DB); worst > 0.005 {
		t.Errorf("%.4f dB after trim", worst)
	}
	// 0.2 dB takes 0.2 dB away.
	small := build(t, little(filters, exact+"resistors: {tolerance: 5 %}, trim: 0.2 dB")).Batch
	if got := math.Abs(small.Rows[0].Plain.Worst.DB) - math.Abs(small.Rows[0].Trimmed.Worst.DB); math.Abs(got-0.2) > 0.005 {
		t.Errorf("a trimmer of 0.2 dB takes %.4f dB away", got)
	}
	if small.Within.DB != small.Rows[0].Trimmed.P95.DB {
		t.Error("a board with trimmers is judged after trim")
	}
}

// Values that drift widen the spread: temperature by the coefficient times the distance
// from 25 °C, ageing by itself; without a temperature a coefficient does nothing.
func TestDrift(t *testing.T) {
	const filters, tight = "{low-pass: {at: 1 kHz, family: butterworth, order: 1, topology: rc-low-pass}}", "op-amp: {gain-bandwidth: 1000 MHz}, resistors: {tolerance: 0.01 %}, "
	still := row(t, filters, tight+"capacitors: {tolerance: 0.01 %}")
	warm := row(t, filters, tight+"capacitors: {tolerance: 0.01 %, tempco: -1000 ppm/degC}, temperature: 0 degC to 65 degC")
	old := row(t, filters, tight+"capacitors: {tolerance: 0.01 %, ageing: 4 %}")
	both := row(t, filters, tight+"capacitors: {tolerance: 0.01 %, ageing: 4 %, tempco: 1000 ppm/K}, temperature: 0 degC to 65 degC")
	// Over the band, to 20 dB below its peak, the level moves by S = -x²/(1+x²) of the
	// capacitor's 40 K · 0.1 %/K: at most 0.99 of it.
	full := 20 * math.Log10(1/(1-0.04)) * 0.99
	for _, x := range []struct {
		what string
		row  batch.Row
		most float64
	}{{"at 65 °C", warm, full}, {"aged", old, full}, {"both", both, 2 * full}} {
		spread := math.Max(x.row.Highest.DB-still.Highest.DB, still.Lowest.DB-x.row.Lowest.DB)
		if math.Abs(spread/x.most-1) > 0.06 {
			t.Errorf("%s: the corner moves by %.4f dB, want %.4f", x.what, spread, x.most)
		}
		if worst := math.Abs(x.row.Plain.Worst.DB); worst < 0.85*x.most || worst > math.Max(x.row.Highest.DB, -x.row.Lowest.DB) {
			t.Errorf("%s: the furthest of 10,000 is %.4f dB off", x.what, worst)
		}
	}
	if ratio := both.Widest.DB / old.Widest.DB; math.Abs(ratio-math.Sqrt2) > 0.03 {
		t.Errorf("two drifts of the same size have %.3f times the sigma of one, want √2", ratio)
	}
	b, faults := compile(t, little(filters, "capacitors: {tempco: 1000 ppm/K}"))
	if len(faults) != 1 || !strings.Contains(faults[0].Message, "`tempco` has no effect") {
		t.Errorf("%v", faults)
	}
	if b.Batch.Drifts {
		t.Error("a temperature coefficient without a temperature drifts")
	}
}

// Two boards are as far apart as independent boards are: a level of one part with the
// standard deviation s differs by √2·s.
func TestPairs(t *testing.T) {
	r := row(t, "{gain: {by: 20 dB}}", "resistors: {tolerance: 5 %}, op-amp: {gain-bandwidth: 1000 MHz}, distribution: normal")
	if ratio := r.Match.P50.DB / math.Abs(r.Plain.P50.DB); math.Abs(ratio-math.Sqrt2) > 0.08 {
		t.Errorf("half of the pairs are within %.3f times what half of the boards are within", ratio)
	}
}

// Published: a difference amplifier of 1 % resistors rejects at least 34 dB, half of
// them 48 dB; of 0.1 % 54 and 68 dB.
func TestRejection(t *testing.T) {
	for _, x := range []struct {
		tolerance     string
		least, middle float64
	}{{"1 %", 34, 48}, {"0.1 %", 54, 68}} {
		b := build(t, little("", "input: {balanced: true, source-impedance: 0}, resistors: {tolerance: "+x.tolerance+"}"))
		for _, r := range b.Batch.Rejections {
			if r.Worst < x.least || r.Worst > x.least+3 || math.Abs(r.P50-x.middle) > 1 || !(r.P50 > r.P95 && r.P95 > r.P99 && r.P99 >= r.Worst) {
				t.Errorf("%s at %g Hz: %+v", x.tolerance, r.Hz, r)
			}
		}
		if len(b.Batch.Rejections) != 2 {
			t.Errorf("%d frequencies", len(b.Batch.Rejections))
		}
	}
	if r := build(t, little("", "")).Batch.Rejections; r != nil {
		t.Errorf("an input that is not balanced has %v", r)
	}
}

// A broken yield says what would keep it, and each advice does; a limit that is off is
// judged by nothing.
func TestAdvice(t *testing.T) {
	const filters = "{high-pass: {at: 100 Hz, q: 2}}, {low-pass: {at: 3 kHz, q: 2}}"
	find := func(b *compiler.Build, promise string) *verify.Finding {
		for i, f := range b.Findings {
			if f.Promise == promise {
				return &b.Findings[i]
			}
		}
		return nil
	}
	loose := little(filters, "capacitors: {tolerance: 10 %}")
	b := build(t, loose)
	spread, yield := find(b, "board-spread"), find(b, "board-yield")
	if spread.Kept || yield.Kept || yield.Worst >= 0.95 {
		t.Fatalf("%+v\n%+v", spread, yield)
	}
	for _, f := range []*verify.Finding{spread, yield} {
		advice := strings.Split(f.Remedy, ", or ")
		if len(advice) < 2 || !strings.HasPrefix(advice[0], "board.capacitors.tolerance: ") || !strings.HasPrefix(advice[len(advice)-1], "allow promise."+f.Promise+": ") {
			t.Fatal(f.Remedy)
		}
		class := strings.TrimPrefix(advice[0], "board.capacitors.tolerance: ")
		if better := find(build(t, strings.Replace(loose, "tolerance: 10 %", "tolerance: "+class, 1)), f.Promise); !better.Kept {
			t.Errorf("%s does not do: %+v", advice[0], better)
		}
		allow := strings.TrimPrefix(advice[len(advice)-1], "allow promise.")
		if allowed := find(build(t, loose+"promise: {"+allow+"}\n"), f.Promise); allowed != nil && !allowed.Kept {
			t.Errorf("%s does not do: %+v", allow, allowed)
		}
	}
	b = build(t, loose+"promise: {board-spread: off}\n")
	if b.Batch != nil || find(b, "board-spread") != nil || find(b, "board-yield") != nil {
		t.Error("a batch that nothing is promised of is judged")
	}
	b = build(t, loose+"promise: {board-spread: off, board-match: 0.2 dB}\n")
	if f := find(b, "board-match"); f == nil || f.Kept || !strings.Contains(f.Remedy, "nothing tried does") || find(b, "board-yield") != nil {
		t.Errorf("%+v", f)
	}
	// 1 uF into 600 ohm is a corner at 265 Hz: no tolerance mends that.
	b = build(t, little(filters, "output: {load: 600 ohm, coupling: 1 uF}"))
	for _, promise := range []string{"board-spread", "board-yield"} {
		if f := find(b, promise); f.Kept || !strings.Contains(f.Remedy, "dB off already: mend board-magnitude first, or allow") {
			t.Errorf("%+v", f)
		}
	}
	b = build(t, loose+"promise: {board-yield: off, board-spread: 0.5 dB}\n")
	if f := find(b, "board-spread"); f == nil || f.Kept || !strings.Contains(f.Note, "95 % of 10000 boards") || find(b, "board-yield") != nil {
		t.Errorf("%+v", f)
	}
}
