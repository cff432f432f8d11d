package discretize

import (
	"math"

	"bandwright/biquad"
)

// maxDelayOrder bounds the all-pass order of a fractional delay. Order 8 stays
// within half a degree of the ideal up to about a third of the rate; beyond,
// the phase promise is judged with what remains.
const maxDelayOrder = 8

// sameSample is how close to a whole number of samples a delay counts as one:
// far above the rounding of seconds × rate, far below what can be heard or
// measured.
const sameSample = 1e-9

// mostEarly is how far below its order an all-pass's delay may lie (samples):
// order n is stable down to n-1, with a margin that shrinks to nothing there.
const mostEarly = 0.8

// splitDelay turns a pure delay in samples into whole samples and all-pass
// sections for the rest: as few as keep the phase within limit (rad) up to
// phaseTo (rad per sample), none where whole samples do.
func splitDelay(samples, phaseTo, limit float64) (whole int, sections []biquad.Digital) {
	near := math.Round(samples)
	if math.Abs(samples-near) < sameSample || math.Abs(samples-near)*phaseTo <= limit {
		return int(near), nil
	}
	best, bestErr := 1, math.Inf(1)
	for n := 1; n <= maxDelayOrder && (n == 1 || float64(n) <= samples+mostEarly); n++ {
		_, d := thiranPart(samples, n)
		if e := phaseError(thiran(d, n), d, phaseTo); e < bestErr {
			best, bestErr = n, e
		}
		if bestErr <= limit {
			break
		}
	}
	w, d := thiranPart(samples, best)
	return w, allPassSections(thiran(d, best))
}

// thiranPart gives order n the delay nearest to n samples, the most accurate
// for its order, and leaves whole samples.
func thiranPart(samples float64, n int) (whole int, d float64) {
	w := max(0, math.Round(samples-float64(n)))
	return int(w), samples - w
}

// thiran is the denominator 1 + a1·z⁻¹ + … of the all-pass of order n whose
// group delay at zero frequency is d samples and maximally flat; stable for
// d > n-1. J.-P. Thiran, Recursive digital filters with maximally flat group
// delay, IEEE Trans. Circuit Theory 18(6), 1971.
func thiran(d float64, n int) []float64 {
	a := make([]float64, n+1)
	binomial := 1.0
	for k := 0; k <= n; k++ {
		v := binomial
		if k%2 == 1 {
			v = -v
		}
		for i := 0; i <= n; i++ {
			v *= (d - float64(n-i)) / (d - float64(n-k-i))
		}
		a[k] = v
		binomial = binomial * float64(n-k) / float64(k+1)
	}
	return a
}

// phaseError is the greatest deviation (rad) of the all-pass from a delay of d
// samples up to w (rad per sample).
func phaseError(a []float64, d, w float64) float64 {
	const steps = 64
	worst := 0.0
	for i := 1; i <= steps; i++ {
		wi := w * float64(i) / steps
		var re, im float64
		for k, v := range a {
			s, c := math.Sincos(float64(k) * wi)
			re += float64(v * c)
			im -= float64(v * s)
		}
		// An all-pass z⁻ⁿ·A(1/z)/A(z) lags by n·ω + 2·arg A.
		lag := float64(len(a)-1)*wi + 2*math.Atan2(im, re)
		worst = max(worst, math.Abs(math.Remainder(lag-d*wi, 2*math.Pi)))
	}
	return worst
}

// allPassSections factors the all-pass with denominator a into sections.
func allPassSections(a []float64) []biquad.Digital {
	ascending := make([]float64, len(a)) // of z
	for k, v := range a {
		ascending[len(a)-1-k] = v
	}
	roots, err := biquad.Roots(ascending)
	if err != nil {
		panic("discretize: " + err.Error()) // the coefficients are ours and finite
	}
	var out []biquad.Digital
	var real1 []float64
	for _, r := range roots {
		switch {
		case imag(r) > 0:
			m := real(r)*real(r) + imag(r)*imag(r)
			out = append(out, allPass(-2*real(r), m))
		case imag(r) == 0:
			real1 = append(real1, real(r))
		}
	}
	for ; len(real1) > 1; real1 = real1[2:] {
		out = append(out, allPass(-real1[0]-real1[1], real1[0]*real1[1]))
	}
	if len(real1) == 1 {
		out = append(out, biquad.Digital{Form: biquad.Direct,
			B: [3]float64{-real1[0], 1}, A: [3]float64{1, -real1[0]}})
	}
	return out
}

func allPass(a1, a2 float64) biquad.Digital {
	return biquad.Digital{Form: biquad.Direct, B: [3]float64{a2, a1, 1}, A: [3]float64{1, a1, a2}}
}
