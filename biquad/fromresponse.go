package biquad

import (
	"math"
	"sync"
)

// The grid that a step is made from a response on: so many frequencies an octave between these (Hz), and so many times an
// octave from the first time on (s).
const (
	stepPerOctave  = 24
	stepOctaves    = 29
	stepFromHz     = 10.0 / 256
	timesPerOctave = 2 * stepPerOctave
	timeOctaves    = 16
	stepFromS      = 1.0 / (1 << 19)
	stepUnheard    = 3000.0 // rad, beyond which a hat holds so many turns that they cancel
)

// StepHz are the frequencies (Hz) at which NewResponseStep wants a response.
func StepHz() []float64 {
	out := make([]float64, stepPerOctave*stepOctaves+1)
	for k := range out {
		out[k] = stepFromHz * math.Exp2(float64(k)/stepPerOctave)
	}
	return out
}

// ResponseStep is what a system of which nothing but its response is known makes of a step from 0 to 1.
type ResponseStep struct{ y []float64 }

// NewResponseStep takes the response of a causal, stable system at StepHz. The step is the sine transform of the
// real part,
//
//	y(t) = 2/π ∫ Re H(ω) sin(ωt)/ω dω
//
// (A. Papoulis, The Fourier Integral and its Applications, 1962, section 10-2), with Re H over log ω joined by cubic
// convolution (R. G. Keys, IEEE Trans. ASSP 29, 1981): then the hat of every frequency gives the same function of ωt, and
// a table of it serves all. Below the grid Re H is constant. What responses turn by from one frequency to the next
// decides how near it comes: 0.001 of the step and better for filters up to a Q of 10 (fromresponse_test.go).
func NewResponseStep(h []complex128) *ResponseStep {
	s := &ResponseStep{y: make([]float64, timesPerOctave*timeOctaves)}
	const each = timesPerOctave / stepPerOctave
	hat, slope := stepHat()
	below := slope / (math.Exp2(1.0/stepPerOctave) - 1)
	re := make([]float64, len(h))
	for k, v := range h {
		re[k] = real(v)
	}
	// The sums of four times that follow each other grow side by side, as each waits for its last term.
	for j := 0; j < len(s.y); j += 4 {
		var sum [4]float64
		for i := range sum {
			x0 := 2 * math.Pi * stepFromHz * stepFromS * math.Exp2(float64(j+i)/timesPerOctave)
			sum[i] = float64(re[0] * x0 * below)
		}
		k, s0, s1, s2, s3 := 0, sum[0], sum[1], sum[2], sum[3]
		for ; k < len(re) && each*k+j+4 <= len(hat); k++ {
			v, part := re[k], hat[each*k+j:][:4]
			s0 += float64(v * part[0])
			s1 += float64(v * part[1])
			s2 += float64(v * part[2])
			s3 += float64(v * part[3])
		}
		for i, y := range [4]float64{s0, s1, s2, s3} {
			for k := k; k < len(re) && each*k+j+i < len(hat); k++ {
				y += float64(re[k] * hat[each*k+j+i])
			}
			s.y[j+i] = 2 / math.Pi * y
		}
	}
	return s
}

// At is the output so long (s) after the step, up to 0.1 s.
func (s *ResponseStep) At(seconds float64) float64 {
	if seconds <= 0 {
		return 0
	}
	v := timesPerOctave * math.Log2(seconds/stepFromS)
	if v <= 1 { // from nothing, in proportion
		return s.y[1] * seconds / (stepFromS * math.Exp2(1.0/timesPerOctave))
	}
	i := min(int(v), len(s.y)-3)
	t := min(v-float64(i), 1)
	y := 0.0
	for k := -1; k <= 2; k++ {
		y += float64(keys(t-float64(k)) * s.y[i+k])
	}
	return y
}

// keys is the kernel of cubic convolution.
func keys(t float64) float64 {
	switch t = math.Abs(t); {
	case t < 1:
		return 1 + float64(t*t*(1.5*t-2.5))
	case t < 2:
		return 2 + float64(t*(float64(t*(2.5-0.5*t))-4))
	}
	return 0
}

// stepHat has ∫ φ(v) sin(x·eᵛ) dv of the kernel over log ω, at x = ωt in steps of timesPerOctave an octave, from the least
// there is, and its slope at x = 0.
var stepHat = sync.OnceValues(hats)

// gauss are places and weights of Gauss and Legendre's rule of eight points on -1 to 1 (M. Abramowitz, I. Stegun, table
// 25.4), the positive half.
var gauss = [4][2]float64{{0.183434642495649805, 0.362683783378361983}, {0.525532409916328986, 0.313706645877887287},
	{0.796666477413626740, 0.222381034453374471}, {0.960289856497536232, 0.101228536290376259}}

func hats() (table []float64, moment float64) {
	const wide = math.Ln2 / stepPerOctave
	over := func(panels int, f func(grown float64) float64) float64 {
		sum, half := 0.0, 1/float64(2*panels)
		for p := range 4 * panels {
			middle := -2 + (2*float64(p)+1)*half
			for _, g := range gauss {
				for _, t := range [...]float64{middle - g[0]*half, middle + g[0]*half} {
					sum += float64(g[1] * half * wide * keys(t) * f(math.Exp2(t/stepPerOctave)))
				}
			}
		}
		return sum
	}
	moment = over(1, func(grown float64) float64 { return grown })
	for n := 0; ; n++ {
		x := 2 * math.Pi * stepFromHz * stepFromS * math.Exp2(float64(n)/timesPerOctave)
		if x > stepUnheard {
			return table, moment
		}
		if x < 1e-4 {
			table = append(table, moment*x)
			continue
		}
		table = append(table, over(1+int(x*wide/4), func(grown float64) float64 { return math.Sin(x * grown) }))
	}
}
