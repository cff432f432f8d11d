package diagnosis

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"
)

// honest holds likelihoods to being shares of one.
func honest(t testing.TB, d *Diagnosis) {
	t.Helper()
	sum := d.Nothing + d.Other
	for i := range d.Hypotheses {
		sum += d.Hypotheses[i].Likelihood
	}
	if math.Abs(sum-1) > 1e-9 {
		t.Errorf("likelihoods add up to %g: %+v", sum, d)
	}
}

// Two faults at once, each of which moves a response by a dB or more, are called one only where one and some
// tolerances make the same of the board; else no hypothesis is told to be likely.
func TestTwoFaults(t *testing.T) {
	u := benched(t, "dabchick")
	r := rand.New(rand.NewPCG(21, 6))
	told := 0
	const cases = 12
	for range cases {
		factors := u.factors(r)
		for drawn := 0; drawn < 2; {
			if _, parts, of := u.drawn(r); u.moves(of, parts) >= 1 {
				of(factors)
				drawn++
			}
		}
		d, err := u.bench.Diagnose(u.measure(t, factors, r))
		if err != nil {
			t.Fatal(err)
		}
		honest(t, d)
		s, n := u.bench.Sentences(d), float64(len(u.bench.covariance))
		if !d.Unexplained() {
			if q := d.Hypotheses[0].square; q > n+8*math.Sqrt(2*n)+20 {
				t.Errorf("%v, whose square is %g of %g figures", s, q, n)
			}
			continue
		}
		told++
		if !strings.HasPrefix(s[0], "none of what is looked for explains the measurement, likelihood ") || len(s) != 2 ||
			!strings.HasPrefix(s[1], "the nearest: ") || !strings.Contains(s[1], "likelihood < 0.1 %") && d.Hypotheses[0].Likelihood < 0.001 {
			t.Errorf("%q", s)
		}
	}
	if told < cases/2 {
		t.Errorf("%d of %d boards with two faults are called unexplained", told, cases)
	}
	t.Logf("%d of %d unexplained", told, cases)
}

// One part with one other value is one thing, whichever way it was found; other parts, values and kinds are others.
func TestOneValueIsToldOnce(t *testing.T) {
	of := func(kind Kind, factor float64, parts ...string) *Hypothesis {
		return &Hypothesis{Kind: kind, Factor: factor, Parts: parts}
	}
	found := of(Off, 9.97, "C1")
	for _, c := range []struct {
		other *Hypothesis
		want  bool
	}{
		{of(TenTimes, 10, "C1"), true}, {of(Off, 9.97, "C1"), true},
		{of(Off, 1.2, "C1"), false}, {of(Tenth, 0.1, "C1"), false}, {of(TenTimes, 10, "C2"), false},
		{of(Missing, gone, "C1"), false}, {of(Exchanged, 9.97, "C1", "C2"), false}, {&Hypothesis{}, false},
	} {
		if got := found.again(c.other); got != c.want || c.other.again(found) != c.want {
			t.Errorf("%+v: %v", c.other, got)
		}
	}
}
