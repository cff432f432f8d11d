package circuit

import (
	"errors"
	"fmt"
)

const multipleFeedbackSource = "Op Amps for Everyone, 5th ed., Newnes 2018, chapter 16"

// bandPassTemplate is the multiple-feedback band-pass between two nodes.
func bandPassTemplate(in, out, amp string) []Element {
	return []Element{
		r("R1", in, "a"), r("R2", "a", "0").shunt().optional(), r("R3", "b", out), c("C1", "a", out), c("C2", "a", "b"), u(amp, "0", "b", out),
	}
}

// bandPassClosed gives b and the denominator for R1, R2, R3, C1, C2.
func bandPassClosed(v []float64) (b float64, d Polynomial) {
	r1, r2, r3, c1, c2 := v[0], v[1], v[2], v[3], v[4]
	rp := 1 / (1/r1 + siemens(r2))
	return c2 * r3 * rp / r1, Polynomial{1, rp * (c1 + c2), rp * r3 * c1 * c2}
}

// bandPassDesign finds R1, R2, R3 for the centre w (rad/s), Q and the peak
// gain.
func bandPassDesign(w, q, peak, c1, c2 float64) ([]float64, error) {
	if c2 > c1*(1+same) {
		return nil, errors.New("C2 should not exceed C1: noise gain")
	}
	r1 := q / (w * c1 * peak)
	g2 := w*q*(c1+c2) - 1/r1
	if g2 < -same/r1 {
		return nil, fmt.Errorf("a peak gain of %.3g is above Q²(1+C2/C1) = %.3g", peak, q*q*(1+c2/c1))
	}
	if g2 < same/r1 {
		g2 = 0
	}
	return []float64{r1, ohms(g2), q * (c1 + c2) / (w * c1 * c2), c1, c2}, nil
}
