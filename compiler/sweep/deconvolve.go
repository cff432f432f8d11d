package sweep

import (
	"errors"
	"math"
	"math/cmplx"
	"slices"

	"gonum.org/v1/gonum/dsp/fourier"

	"bandwright/biquad"
)

// Take is a recording with what was played taken out: what lies between the two.
type Take struct {
	RateHz float64
	// LowHz and HighHz are between which the reference has enough of everything.
	LowHz, HighHz float64
	// DelayS is how much later the recording is than the reference (s), by the greatest
	// of their correlation.
	DelayS float64
	// Harmonics are the second and the third beside what is measured (dB); -Inf where they do not stand out.
	Harmonics [2]float64

	bins []complex128    // of the gated impulse response, from 0 Hz
	rest [2][]complex128 // of pieces as long, before it and behind it, where nothing but noise is
	fft  int

	reference, recorded []float64
	played, got         []complex128 // their spectra
	impulse             []float64    // the whole
	top                 int          // its greatest
	octaveS             float64      // that the sweep takes for an octave (s); not positive of what is no rising sweep
}

const (
	// pinkDB is how far below its greatest a reference's energy an octave may be for a
	// response to be told there: a sweep's is the same in every octave but for its fades.
	pinkDB = -25.0
	// beforeS and behindS are how much of the impulse response counts, before its greatest and
	// after it (s). Harmonics of the sweep lie further before it.
	beforeS, behindS = 0.25, 1.0
	// fades is the share of these at their ends that fades.
	fades = 0.25
	// floor is what is added to the reference's energy re its greatest, so that nothing is
	// divided by nothing: 200 dB below.
	floor = 1e-20
)

// Errors of Deconvolve; what is wrong with a recording beside them is told by Inspect.
var (
	ErrNoReference = errors.New("the reference is silent, or no sweep: it has to hold one octave of sound at least")
	ErrSilent      = errors.New("it is silent")
)

// Deconvolve finds the response between a reference, the stimulus as it was played or as
// a loop without the unit returned it, and the recording through the unit, both at one rate.
// The spectra are divided, noise and harmonics outside of the impulse response's time left
// out; between Take.LowHz and Take.HighHz that is exact but for these.
func Deconvolve(reference, recorded []float64, rateHz float64) (*Take, error) {
	for len(reference) > 0 && reference[len(reference)-1] == 0 {
		reference = reference[:len(reference)-1]
	}
	n := quick(len(reference) + len(recorded))
	fft := fourier.NewFFT(n)
	padded := make([]float64, n)
	copy(padded, reference)
	played := fft.Coefficients(nil, padded)
	clear(padded)
	copy(padded, recorded)
	got := fft.Coefficients(nil, padded)
	t := &Take{RateHz: rateHz, fft: n, reference: reference, recorded: recorded, played: played, got: slices.Clone(got)}
	if t.LowHz, t.HighHz = reach(played, rateHz/float64(n)); !(t.HighHz >= 2*t.LowHz) {
		return nil, ErrNoReference
	}
	t.octaveS = octaveS(played, rateHz/float64(n))
	most := 0.0
	for _, v := range played {
		most = math.Max(most, biquad.Power(v))
	}
	both := make([]complex128, len(got)) // the correlation, which noise disturbs least
	for i, v := range got {
		weight := t.taper(float64(i) * rateHz / float64(n))
		if got[i] = 0; weight > 0 {
			both[i] = v * cmplx.Conj(played[i]) * complex(weight, 0)
			got[i] = both[i] / complex(biquad.Power(played[i])+most*floor, 0)
		}
	}
	top, ok := t.greatest(fft.Sequence(padded, both))
	if !ok {
		return nil, ErrSilent
	}
	t.Harmonics = harmonics(fft.Sequence(nil, t.inside(got)), top, t.octaveS, rateHz)
	impulse := fft.Sequence(padded, got)
	for i := range impulse {
		impulse[i] /= float64(n)
	}
	t.impulse, t.top = impulse, top
	t.bins = fft.Coefficients(got, t.gated(make([]float64, n), impulse, top, beforeS))
	away := int((beforeS + behindS + 0.1) * rateHz)
	t.rest = [2][]complex128{fft.Coefficients(nil, t.gated(make([]float64, n), impulse, top-away, beforeS)), fft.Coefficients(nil, t.gated(make([]float64, n), impulse, top+away, beforeS))}
	return t, nil
}

// quick is the least length of at least n that a Fourier transform is quick with: a power of 2, or 3 or 5 times one.
func quick(n int) int {
	least := 1
	for least < n {
		least *= 2
	}
	for _, of := range []int{3, 5} {
		length := of
		for length < n {
			length *= 2
		}
		least = min(least, length)
	}
	return least
}

// reach is the band around its greatest third of an octave in which a spectrum, of
// bins so far apart (Hz), has energy.
func reach(spectrum []complex128, spacing float64) (lowHz, highHz float64) {
	const perOctave = 6
	var all, from []float64
	// The last band ends at half of the rate, however long the transform is.
	half := spacing * float64(len(spectrum)-1)
	for k := int(perOctave * math.Log2(float64(len(spectrum)-1)/4)); k > 0; k-- {
		hz := half * math.Exp2(-float64(k)/perOctave)
		sum := 0.0
		for i := int(math.Ceil(hz / spacing)); i < len(spectrum) && float64(i)*spacing < hz*math.Exp2(1.0/perOctave); i++ {
			sum += biquad.Power(spectrum[i])
		}
		all, from = append(all, sum), append(from, hz)
	}
	if len(all) == 0 {
		return 0, 0
	}
	top := 0
	for i, e := range all {
		if e > all[top] {
			top = i
		}
	}
	enough := all[top] * math.Exp2(pinkDB/10*math.Log2(10))
	low, high := top, top
	for low > 0 && all[low-1] > enough {
		low--
	}
	for high < len(all)-1 && all[high+1] > enough {
		high++
	}
	if all[top] == 0 {
		return 0, 0
	}
	return from[low], from[high] * math.Exp2(1.0/perOctave)
}

// taper is how much of a frequency is kept: all between the ends, less for an octave
// below and an eighth above.
func (t *Take) taper(hz float64) float64 {
	if hz <= 0 {
		return 0
	}
	return raised(1+math.Log2(hz/t.LowHz)) * raised(1+8*math.Log2(t.HighHz/hz))
}

// greatest finds the greatest of a correlation, which may have wrapped around;
// false where there is none.
func (t *Take) greatest(impulse []float64) (top int, ok bool) {
	for i, x := range impulse {
		if math.Abs(x) > math.Abs(impulse[top]) {
			top = i
		}
	}
	at := top
	if at > len(impulse)/2 {
		at -= len(impulse)
	}
	t.DelayS = float64(at) / t.RateHz
	return top, math.Abs(impulse[top]) > 0
}

// gated puts into dst, which is clear, what of an impulse response is near a sample, from so long (s) before it.
func (t *Take) gated(dst, impulse []float64, top int, fromS float64) []float64 {
	n := len(impulse)
	before, behind := int(fromS*t.RateHz), int(behindS*t.RateHz)
	for k := -min(before, n/2); k < min(behind, n/2); k++ {
		far := float64(k) / float64(behind)
		if k < 0 {
			far = float64(-k) / float64(before)
		}
		i := ((top+k)%n + n) % n
		dst[i] = impulse[i] * raised((1-far)/fades)
	}
	return dst
}

// Response is that between reference and recording at hz (Hz), between LowHz and HighHz,
// delay included.
func (t *Take) Response(hz []float64) []complex128 {
	out := make([]complex128, len(hz))
	spacing := t.RateHz / float64(t.fft)
	turn := func(i int) complex128 { // of the delay, which a straight line between bins knows nothing of
		return cmplx.Rect(1, 2*math.Pi*float64(i)*spacing*t.DelayS)
	}
	for k, f := range hz {
		x := f / spacing
		i := min(max(1, int(x)), len(t.bins)-3)
		out[k] = cubic([4]complex128{t.bins[i-1] * turn(i-1), t.bins[i] * turn(i), t.bins[i+1] * turn(i+1), t.bins[i+2] * turn(i+2)}, x-float64(i)) *
			cmplx.Rect(1, -2*math.Pi*f*t.DelayS)
	}
	return out
}

// cubic is the polynomial through four values at -1, 0, 1 and 2 (Lagrange), at x.
func cubic(v [4]complex128, x float64) complex128 {
	w := [4]float64{-x * (x - 1) * (x - 2) / 6, (x + 1) * (x - 1) * (x - 2) / 2, -(x + 1) * x * (x - 2) / 2, (x + 1) * x * (x - 1) / 6}
	sum := complex128(0)
	for i, a := range w {
		sum += v[i] * complex(a, 0)
	}
	return sum
}

// Noise is how much noise is in Response at hz (Hz), as a part of it (RMS, linear): what is
// where no impulse response is, over a third of an octave. Of what is before it and behind
// it that is the greater: a recording that ends soon after the sweep holds nothing behind
// high frequencies, and one that began just before it nothing before low ones.
func (t *Take) Noise(hz []float64) []float64 {
	out := make([]float64, len(hz))
	for k, f := range hz {
		var noise [2]float64
		signal := 0.0
		from, to := t.third(f)
		for i := from; i <= to; i++ {
			noise[0], noise[1], signal = noise[0]+biquad.Power(t.rest[0][i]), noise[1]+biquad.Power(t.rest[1][i]), signal+biquad.Power(t.bins[i])
		}
		out[k] = math.Sqrt(max(noise[0], noise[1]) / math.Max(signal, 1e-300))
	}
	return out
}

// third are the first and the last bin of the third of an octave around hz (Hz).
func (t *Take) third(hz float64) (from, to int) {
	spacing := t.RateHz / float64(t.fft)
	const half = 1.0 / 6 // octaves
	return max(1, int(hz*math.Exp2(-half)/spacing)), min(int(hz*math.Exp2(half)/spacing), len(t.bins)-1)
}
