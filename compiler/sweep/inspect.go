package sweep

import (
	"fmt"
	"math"

	"bandwright/biquad"
	"bandwright/compiler/words"
)

// Trouble is what is wrong with a recording, and what would be right.
type Trouble struct {
	Message, Right string
	// Spoiled tells that nothing can be made of it.
	Spoiled bool
}

const (
	// silentDBFS is a peak below which a recording holds nothing, quietDBFS one below which
	// converters' own noise comes near.
	silentDBFS, quietDBFS = -90.0, -65.0
	// clippedRun is how many neighbours at the very peak are no sine's, and clippedRuns how often
	// that has to be.
	clippedRun, clippedRuns = 3, 4
	// edgeS (s) is how long silence has to be at either end.
	edgeS = 0.02
	// stuckRun is how many equal samples in a row, while the sweep plays, are a gap.
	stuckRun = 24
	// spoiledNoise and muchNoise are the noise in a response (relative) with which nothing, or
	// little, can be said: -10 and -40 dB.
	spoiledNoise, muchNoise = 0.316, 0.01
	// compact is how much of an impulse response's energy has to lie together.
	compact = 0.5
)

// Inspect says what is wrong with a recording before anything is made of it; the worst first,
// nothing where all is well.
func Inspect(reference, recorded []float64, rateHz float64) []Trouble {
	var out []Trouble
	spoiled := func(message, right string) []Trouble { return append(out, Trouble{message, right, true}) }
	peak := 0.0
	for i, v := range recorded {
		if math.IsNaN(v) || math.Abs(v) > 1e6 {
			return spoiled(fmt.Sprintf("sample %d is not a number, or beyond all measure", i+1), "record it again")
		}
		peak = math.Max(peak, math.Abs(v))
	}
	first, last := active(reference)
	from, to := active(recorded)
	edge := int(edgeS * rateHz)
	switch played := float64(last-first) / rateHz; {
	case biquad.GainDB(math.Max(peak, 1e-12)) < silentDBFS:
		return spoiled("it is silent: its peak is below "+words.Level(silentDBFS, "dBFS"), "is the right output connected, and the unit on, and not muted?")
	case len(recorded) < last-first:
		return spoiled(fmt.Sprintf("it is %s long, and the sweep in the reference takes %s: the window is too short", words.Seconds(float64(len(recorded))/rateHz), words.Seconds(played)), "record from before the sweep to after it")
	case from < edge || to >= len(recorded)-edge:
		return spoiled("sound goes on up to an end of it: the window is too short", "record from before the sweep to a second after it")
	}
	if n := clipped(recorded, peak); n >= clippedRuns {
		return spoiled(fmt.Sprintf("it is clipped: in %d places %d samples or more in a row are at its peak, %s", n, clippedRun, words.Level(biquad.GainDB(peak), "dBFS")), "play or record at a lower level")
	}
	if at, n := stuck(recorded, from, to); n >= stuckRun {
		return spoiled(fmt.Sprintf("it has a gap: %d equal samples in a row, %s from its start", n, words.Seconds(float64(at)/rateHz)), "record it again, with larger buffers")
	}
	if db := biquad.GainDB(peak); db < quietDBFS {
		out = append(out, Trouble{Message: "it is quiet: its peak is " + words.Level(db, "dBFS"), Right: "record at a higher level"})
	}
	mean := 0.0
	for _, v := range recorded {
		mean += v / float64(len(recorded))
	}
	if math.Abs(mean) > peak/4 {
		out = append(out, Trouble{Message: fmt.Sprintf("it has a constant part, %s of full scale", words.Three(mean)), Right: "record through an input that blocks DC"})
	}
	return out
}

// active is where samples are above a hundredth of the greatest, from the first to the last: a sweep at its
// level.
func active(x []float64) (first, last int) {
	peak := 0.0
	for _, v := range x {
		peak = math.Max(peak, math.Abs(v))
	}
	first = -1
	for i, v := range x {
		if math.Abs(v) > peak/100 {
			if first < 0 {
				first = i
			}
			last = i
		}
	}
	return max(first, 0), last
}

// clipped counts the places where so many samples in a row are at the peak.
func clipped(x []float64, peak float64) (runs int) {
	run := 0
	for _, v := range x {
		if math.Abs(v) < peak*(1-1e-6) {
			run = 0
			continue
		}
		if run++; run == clippedRun {
			runs++
		}
	}
	return runs
}

// stuck is the longest run of equal samples between two places.
func stuck(x []float64, from, to int) (at, most int) {
	run := 0
	for i := from + 1; i < to; i++ {
		if x[i] != x[i-1] {
			run = 0
			continue
		}
		if run++; run > most {
			at, most = i-run, run
		}
	}
	return at, most + 1
}

// Inspect says what is wrong with a response, from lowHz to highHz.
func (t *Take) Inspect(lowHz, highHz float64) []Trouble {
	var out []Trouble
	if t.Compact < compact {
		return append(out, Trouble{"no sweep like the reference's is in it: clocks or rates differ, or it is another sweep", "play and record with the same interface, at the same rate", true})
	}
	if t.LowHz > lowHz*1.01 || t.HighHz < highHz*0.99 {
		out = append(out, Trouble{Message: fmt.Sprintf("the reference holds %s to %s only", words.Hz(t.LowHz), words.Hz(t.HighHz)), Right: "nothing is said beyond"})
	}
	hz := biquad.Octaves(math.Max(lowHz, t.LowHz), math.Min(highHz, t.HighHz), 6)
	h, peak := t.Response(hz), 0.0
	for _, v := range h {
		peak = math.Max(peak, biquad.Power(v))
	}
	worst, at := 0.0, 0.0
	for i, n := range t.Noise(hz) {
		if biquad.Power(h[i]) > peak/100 && n > worst {
			worst, at = n, hz[i]
		}
	}
	switch text := fmt.Sprintf("it is noisy: at %s noise is %s from what is measured", words.Hz(at), words.Level(biquad.GainDB(math.Max(worst, 1e-9)), "dB")); {
	case worst > spoiledNoise:
		out = append(out, Trouble{text, "play louder, or a longer sweep, away from hum", true})
	case worst > muchNoise:
		out = append(out, Trouble{Message: text, Right: "a longer or louder sweep measures with less"})
	}
	return out
}

// Stretches are by how much recordings are stretched whose rates were confused.
var stretches = []float64{48.0 / 44.1, 44.1 / 48, 2, 0.5, 96 / 44.1, 44.1 / 96}

// Stretched is by how much a recording is stretched against the reference, 1 where by nothing that
// confused rates explain.
func Stretched(reference, recorded []float64, rateHz float64) float64 {
	best, most := 1.0, compact
	for _, s := range stretches {
		longer := make([]float64, int(float64(len(reference))*s))
		for i := range longer {
			x := float64(i) / s
			k := int(x)
			if k+1 < len(reference) {
				longer[i] = reference[k] + (reference[k+1]-reference[k])*(x-float64(k))
			}
		}
		if t, err := Deconvolve(longer, recorded, rateHz); err == nil && t.Compact > most {
			best, most = s, t.Compact
		}
	}
	return best
}
