package sweep

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/dsp/fourier"

	"bandwright/compiler/words"
)

const (
	// goneShare is the level, of that on either side, below which a sweep is gone.
	goneShare = 0.1
	// goneTurns are how many of its turns, and goneS how long (s), a sweep is gone for at least: it goes for less where it meets
	// an echo of its own. edgeTurns are how many turns it takes at most to go and to come back: no filter is as quick where an
	// octave of the sweep has octaveTurns.
	goneTurns, goneS, edgeTurns, octaveTurns = 3, 1e-3, 2, 10
	// fewestSamples are as many as a level is told by.
	fewestSamples = 8
	// mostGaps is how many places are gaps: sound that goes more often has met its own echo.
	mostGaps = 3
	// momentS (s) is what a moment lasts, and momentShare how much of all that is no answer to the sweep is in it at least.
	momentS, momentShare = 0.1, 0.8
)

// energies are the sums of the squares of samples from the first on: one more than there are samples.
type energies []float64

func energiesOf(x []float64) energies {
	out := make(energies, len(x)+1)
	for i, v := range x {
		out[i+1] = out[i] + v*v
	}
	return out
}

// level is the RMS of n samples from one on, 0 beyond the ends.
func (e energies) level(from, n int) float64 {
	to := min(from+n, len(e)-1)
	if from = max(from, 0); from >= to {
		return 0
	}
	return math.Sqrt(math.Max(0, e[to]-e[from]) / float64(to-from))
}

// turns are how many samples a turn of a sweep takes (by where it crosses zero), at each sample, and where it is at its
// level.
func turns(sweep []float64, rateHz float64) (samples func(at int) int, first, last int) {
	const around = 0.005 // s
	first, last = active(sweep)
	crossed := make([]int, len(sweep)+1)
	for i := range sweep {
		crossed[i+1] = crossed[i]
		if i > 0 && (sweep[i] < 0) != (sweep[i-1] < 0) {
			crossed[i+1]++
		}
	}
	half := int(around * rateHz)
	return func(at int) int {
		from, to := max(first, at-half), min(last, at+half)
		if from >= to || crossed[to] == crossed[from] {
			return 2 * half
		}
		return max(fewestSamples, 2*(to-from)/(crossed[to]-crossed[from]))
	}, first, last
}

// gap says where, while the sweep plays, there is nothing but noise for a while: samples that never came. It needs no
// silence, as the search for equal samples does.
func (t *Take) gap() []Trouble {
	samples, first, last := turns(t.reference, t.RateHz)
	late := int(math.Round(t.DelayS * t.RateHz))
	e := energiesOf(t.recorded)
	loud := 0.0
	for i := first; i < last; i += fewestSamples {
		loud = math.Max(loud, e.level(i+late, samples(i)))
	}
	at, long, gaps := 0, 0, 0
	for i := first; i < last; {
		n := samples(i)
		before := e.level(i+late-(edgeTurns+1)*n, n)
		if float64(n*octaveTurns) > t.octaveS*t.RateHz || before < goneShare*loud || e.level(i+late, n) > goneShare*before {
			i += max(1, n/4)
			continue
		}
		end := i
		for end < last && e.level(end+late, n) <= goneShare*before {
			end += max(1, n/4)
		}
		end += n - max(1, n/4) // the last window that is silent ends there
		m := samples(end)
		if after := e.level(end+late+edgeTurns*m, m); end-i >= max(goneTurns*n, int(goneS*t.RateHz)) && end < last && e.level(i+late, end-i) < goneShare*after {
			if gaps++; gaps == 1 {
				at, long = i+late, end-i
			}
		}
		i = end + edgeTurns*m
	}
	if gaps == 0 || gaps > mostGaps {
		return nil
	}
	return []Trouble{{Message: fmt.Sprintf("it has a gap: about %s from its start the sweep is gone for %s, and noise is all that is there",
		words.Seconds(words.Round(float64(at)/t.RateHz, 3)), words.Seconds(words.Round(float64(long)/t.RateHz, 2))), Right: "record it again, with larger buffers", Spoiled: true}}
}

// moment is when (s), while the sweep plays, nearly all of what a recording holds beside the answer to it is heard; false
// where that is no single moment.
func (t *Take) moment() (s float64, ok bool) {
	fft := fourier.NewFFT(t.fft)
	padded := make([]float64, t.fft)
	copy(padded, t.reference)
	answer := fft.Coefficients(nil, padded)
	for i, b := range t.bins {
		answer[i] *= b
	}
	padded = fft.Sequence(padded, answer)
	clear(padded[len(t.recorded):])
	for i, v := range t.recorded {
		padded[i] = v - padded[i]/float64(t.fft)
	}
	e := energiesOf(t.tapered(fft, padded))
	n := int(momentS * t.RateHz)
	at, most := 0, 0.0
	for i := 0; i < len(t.recorded); i += max(1, n/8) {
		if v := e[min(i+n, len(e)-1)] - e[i]; v > most {
			at, most = i, v
		}
	}
	first, last := active(t.reference)
	s = (float64(at) + float64(n)/2) / t.RateHz
	return s, most > momentShare*e[len(t.recorded)] && s > float64(first)/t.RateHz+t.DelayS && s < float64(last)/t.RateHz+t.DelayS
}

// tapered are samples with what lies outside of what the reference holds taken out.
func (t *Take) tapered(fft *fourier.FFT, x []float64) []float64 {
	bins := fft.Coefficients(nil, x)
	for i := range bins {
		bins[i] *= complex(t.taper(float64(i)*t.RateHz/float64(t.fft))/float64(t.fft), 0)
	}
	return fft.Sequence(x, bins)
}
