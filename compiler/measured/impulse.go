package measured

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"math"
	"math/bits"
	"math/cmplx"

	"bandwright/biquad"
	"bandwright/compiler/language"
	"bandwright/compiler/wave"
	"bandwright/compiler/words"
)

const (
	leastFrames = 256     // of an impulse response
	mostScale   = 1e9     // re full scale: no sample is larger
	mostFrames  = 1 << 20 // 5 s at 192 kHz and more
	silentDB    = -120    // re full scale: a greatest sample below it is silence
	// tailDB is how far below its greatest sample the last sixteenth of an impulse response
	// has to be, as the greatest sample there.
	tailDB = -20
	// upTo of half the sampling rate is believed: above it every converter filters.
	upTo = 0.92
)

// impulse reads an impulse response. What it returns means something only where there is
// no fault.
func (r *reader) impulse(data []byte) *Response {
	out := &Response{file: r.file, phased: true}
	x, rate := r.samples(data)
	if len(r.faults) > 0 {
		return out
	}
	peak := greatest(x)
	if r.poor(x, peak, rate); len(r.faults) > 0 {
		return out
	}
	out.delayS = float64(peak) / rate
	// Turned around so that its greatest sample is the first: then neighbouring lines of the
	// spectrum differ little in phase, whatever the delay.
	n := 1 << bits.Len(uint(2*len(x)-1))
	h := make([]complex128, n)
	for i, v := range x {
		h[((i-peak)%n+n)%n] = complex(v, 0)
	}
	fft(h)
	first := (n + len(x) - 1) / len(x) // one period within the file
	rad := 0.0
	for k := first; k <= int(upTo*float64(n/2)); k++ {
		phase := cmplx.Phase(h[k])
		if k == first {
			rad = phase
		} else {
			rad += math.Remainder(phase-rad, 2*math.Pi)
		}
		out.points = append(out.points, point{math.Log(float64(k) * rate / float64(n)), max(biquad.DB(h[k]), -mostDB), rad})
	}
	from, to := out.Span()
	out.note("%s is an impulse response of %s at %s: it says nothing below %s, of which it holds no whole period, and above %s", r.file, words.Seconds(float64(len(x))/rate), words.Rate(rate), words.Hz(from), words.Hz(to))
	return out
}

// samples are those of the file, and their rate in Hz.
func (r *reader) samples(data []byte) ([]float64, float64) {
	whole := func(message, right string) ([]float64, float64) {
		r.fault(language.Pos{}, message, right)
		return nil, 0
	}
	f, err := wave.NewReader(bytes.NewReader(data))
	if err != nil {
		return whole("the file cannot be read: "+err.Error(), "save the impulse response as a WAV file with one channel")
	}
	if f.Channels != 1 {
		return whole(fmt.Sprintf("the file has %d channels", f.Channels), "an impulse response has one: save each way's by itself")
	}
	if f.RateHz < 8000 || f.RateHz > 2*mostHz {
		return whole(fmt.Sprintf("its sampling rate is %d Hz", f.RateHz), "8 kHz to 2 MHz are read")
	}
	var out []float64
	block := [][]float64{make([]float64, 1<<14)}
	for len(out) <= mostFrames {
		n, err := f.Read(block)
		out = append(out, block[0][:n]...)
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return whole("the file is damaged: "+err.Error(), "save it again")
		}
	}
	for i, v := range out {
		if !(math.Abs(v) <= mostScale) {
			return whole(fmt.Sprintf("sample %d is %s", i+1, words.NoSample(v)), "save the impulse response again, with samples below 1e9")
		}
	}
	switch {
	case len(out) > mostFrames:
		return whole(fmt.Sprintf("the file has more than %d samples", mostFrames), "cut it behind the impulse response")
	case len(out) < leastFrames:
		return whole(fmt.Sprintf("the file has %s, fewer than %d", words.Count(len(out), "sample", "samples"), leastFrames), "save the impulse response up to where it has died away")
	}
	return out, float64(f.RateHz)
}

// beforePeakS and behindPeakS (s) are around its peak where half of an impulse response is at least.
const beforePeakS, behindPeakS = 0.1, 0.5

// poor refuses an impulse response, at a rate in Hz, that says too little.
func (r *reader) poor(x []float64, peak int, rate float64) {
	most := math.Abs(x[peak])
	near, all := 0.0, 0.0
	for i, v := range x {
		if all += v * v; i > peak-int(beforePeakS*rate) && i < peak+int(behindPeakS*rate) {
			near += v * v
		}
	}
	end := x[len(x)-len(x)/16:]
	at := language.Pos{}
	switch last := math.Abs(end[greatest(end)]); {
	case biquad.GainDB(most) < silentDB:
		r.fault(at, fmt.Sprintf("the file is silent: its greatest sample is below %d dB of full scale", silentDB), "save the impulse response at its level")
	case len(x)-peak < leastFrames/2:
		r.fault(at, fmt.Sprintf("the greatest sample is number %d of %d: too few follow", peak+1, len(x)), "save the impulse response up to where it has died away")
	case near < all/2:
		r.fault(at, "its sound is spread over seconds: it is no impulse response", "save the impulse response; is it the recording of a sweep? Then `check --measured` takes what was played as --reference")
	case biquad.GainDB(last/most) > tailDB:
		r.fault(at, fmt.Sprintf("the impulse response has not died away at its end: the last sixteenth is only %s dB below its greatest sample", words.Three(-biquad.GainDB(last/most))),
			"save more of it; is it an impulse response, or the recording that one is made of?")
	}
}

// greatest is where the greatest sample is.
func greatest(x []float64) int {
	at := 0
	for i, v := range x {
		if math.Abs(v) > math.Abs(x[at]) {
			at = i
		}
	}
	return at
}

// fft turns 2^n samples into their spectrum, in place (J. W. Cooley, J. W. Tukey, 1965).
func fft(x []complex128) {
	n := len(x)
	shift := bits.UintSize - bits.TrailingZeros(uint(n))
	for i := range x {
		if j := int(bits.Reverse(uint(i)) >> shift); i < j {
			x[i], x[j] = x[j], x[i]
		}
	}
	turns := make([]complex128, n/2)
	for i := range turns {
		turns[i] = polar(1, -2*math.Pi*float64(i)/float64(n))
	}
	for size := 2; size <= n; size *= 2 {
		half, step := size/2, n/size
		for at := 0; at < n; at += size {
			for i := range half {
				a, b := x[at+i], x[at+i+half]*turns[i*step]
				x[at+i], x[at+i+half] = a+b, a-b
			}
		}
	}
}
