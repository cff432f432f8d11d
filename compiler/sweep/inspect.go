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
	// Spoiled tells that nothing can be made of it, Silent that nothing is in it but noise.
	Spoiled, Silent bool
}

const (
	// mostScale is the largest sample that may be one, re full scale.
	mostScale = 1e6
	// silentDBFS is a peak below which a recording holds nothing, quietDBFS one below which
	// converters' own noise comes near.
	silentDBFS, quietDBFS = -90.0, -65.0
	// clippedRun is how many neighbours at the very peak are no sine's, and clippedRuns how often
	// that has to be.
	clippedRun, clippedRuns = 3, 4
	// steepest is the step, re the peak, from which on equal samples behind it are no crest: a sine of 10 Hz that goes on
	// one per cent above full scale reaches it in steps twice as large at 48 kHz.
	steepest = 1e-4
	// edgeS (s) is how long silence has to be at either end.
	edgeS = 0.02
	// stuckRun is how many equal samples in a row, while the sweep plays, are a gap.
	stuckRun = 8
	// fewWords are as many words of a recording as are no step in it: the crest of a slow sine that is quiet is made of them.
	fewWords = 3.5
	// Hummed is the noise in a response (relative) from which on nothing was measured where nothing is meant to be heard.
	Hummed = 0.1
	// dangerous is what to do about a constant part of a recording.
	dangerous = "measure the DC there with a meter before a driver is connected, which it can destroy; where there is none, it is the recorder's own"
	// spoiledNoise and muchNoise are the noise in a response (relative) with which nothing, or
	// little, can be said: -10 and -40 dB.
	spoiledNoise, muchNoise = 0.316, 0.01
)

// Inspect says what is wrong with a recording before anything is made of it; the worst first,
// nothing where all is well.
func Inspect(reference, recorded []float64, rateHz float64) []Trouble {
	var out []Trouble
	spoiled := func(message, right string) []Trouble {
		return append(out, Trouble{Message: message, Right: right, Spoiled: true})
	}
	peak, least, most := 0.0, math.Inf(1), math.Inf(-1)
	for i, v := range recorded {
		if !(math.Abs(v) <= mostScale) {
			return spoiled(fmt.Sprintf("sample %d is %s", i+1, words.NoSample(v)), "save it again, with samples between -1 and 1, or record it again")
		}
		peak, least, most = math.Max(peak, math.Abs(v)), math.Min(least, v), math.Max(most, v)
	}
	mean := 0.0
	for _, v := range recorded {
		mean += v / float64(len(recorded))
	}
	first, last := active(reference)
	from, to := active(recorded)
	edge := int(edgeS * rateHz)
	loud := func(x []float64) bool { return len(x) > 0 && deviation(x) > peak/4 }
	switch played := float64(last-first) / rateHz; {
	case biquad.GainDB(math.Max((most-least)/2, 1e-12)) < silentDBFS: // a constant is no sound
		what, right := "its peak is", "is the right output connected, and the unit on, and not muted?"
		if biquad.GainDB(peak) >= silentDBFS {
			what, right = fmt.Sprintf("beside a constant of %s of full scale, all of it is", words.Three(mean)), dangerous+"; "+right
		}
		return append(out, Trouble{"it is silent: " + what + " below " + words.Level(silentDBFS, "dBFS"), right, true, true})
	case len(recorded) < last-first:
		return spoiled(fmt.Sprintf("it is %s long, and the sweep in the reference takes %s: the window is too short", words.Seconds(float64(len(recorded))/rateHz), words.Seconds(played)), "record from before the sweep to after it")
	case (loud(recorded[:min(edge, len(recorded))]) || loud(recorded[max(0, len(recorded)-edge):])) && !hums(recorded, rateHz, peak):
		return spoiled("sound goes on up to an end of it: the window is too short", "record from before the sweep to a second after it")
	}
	if n := clipped(recorded, peak); n >= clippedRuns {
		return spoiled(fmt.Sprintf("it is clipped: in %d places %d samples or more in a row are at its peak, %s", n, clippedRun, words.Level(biquad.GainDB(peak), "dBFS")), "play or record at a lower level")
	}
	if at, n := stuck(recorded, from, to, peak); n >= stuckRun {
		return spoiled(fmt.Sprintf("it has a gap: %d equal samples in a row, %s from its start", n, words.Seconds(float64(at)/rateHz)), "record it again, with larger buffers")
	}
	if db := biquad.GainDB(peak); db < quietDBFS {
		out = append(out, Trouble{Message: "it is quiet: its peak is " + words.Level(db, "dBFS"), Right: "record at a higher level"})
	}
	if math.Abs(mean) > peak/4 {
		out = append(out, Trouble{Message: fmt.Sprintf("it has a constant part, %s of full scale", words.Three(mean)), Right: dangerous})
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

// deviation is the standard deviation of samples.
func deviation(x []float64) float64 {
	mean, square := 0.0, 0.0
	for _, v := range x {
		mean += v / float64(len(x))
	}
	for _, v := range x {
		square += (v - mean) * (v - mean) / float64(len(x))
	}
	return math.Sqrt(square)
}

// clipped counts the places where so many samples in a row are at the peak, reached by a step: the
// crest of a slow sine has equal words in a row as well.
func clipped(x []float64, peak float64) (runs int) {
	step := math.Max(steepest*peak, fewWords*word(x))
	run := 0
	for i, v := range x {
		if math.Abs(v) < peak*(1-1e-6) {
			run = 0
			continue
		}
		if run == 0 && i > 0 && math.Abs(x[i-1]) > peak-step {
			continue
		}
		if run++; run == clippedRun {
			runs++
		}
	}
	return runs
}

// word is the least difference of neighbouring samples: one word of a converter's.
func word(x []float64) float64 {
	least := math.Inf(1)
	for i, v := range x[1:] {
		if d := math.Abs(v - x[i]); d > 0 {
			least = math.Min(least, d)
		}
	}
	return least
}

// stuck is the longest run of equal samples between two places that begins or ends with a step: the crest of a slow
// sine has equal words in a row as well.
func stuck(x []float64, from, to int, peak float64) (at, most int) {
	step := math.Max(0.03*peak, fewWords*word(x))
	run := 0
	for i := from + 1; i < to; i++ {
		if x[i] == x[i-1] {
			run++
			continue
		}
		begin := i - 1 - run
		if run > most && begin > from && (math.Abs(x[i]-x[i-1]) > step || math.Abs(x[begin]-x[begin-1]) > step) {
			at, most = begin, run
		}
		run = 0
	}
	return at, most + 1
}

// Inspect says what is wrong with a response, from lowHz to highHz. carries tells where what was recorded is meant to be
// heard: noise elsewhere, hum as a rule, is told and refuses nothing. nil stands for everywhere.
func (t *Take) Inspect(lowHz, highHz float64, carries func(hz float64) bool) []Trouble {
	var out []Trouble
	if !t.heard() {
		return append(out, Trouble{"nothing of the reference is heard in it", "is the right output connected, and the unit on, and not muted? Is it a recording of this sweep?", true, true})
	}
	if out = append(out, t.distorted()...); len(out) > 0 && out[0].Spoiled {
		return out
	}
	if out = append(out, t.lost()...); len(out) > 0 && out[len(out)-1].Spoiled {
		return out
	}
	if t.LowHz > lowHz*1.01 || t.HighHz < highHz*0.99 {
		out = append(out, Trouble{Message: fmt.Sprintf("the reference holds %s to %s only", words.Hz(t.LowHz), words.Hz(t.HighHz)), Right: "nothing is said beyond"})
	}
	within, beside := t.noisiest(biquad.Octaves(math.Max(lowHz, t.LowHz), math.Min(highHz, t.HighHz), 6), carries)
	if beside.noise > Hummed {
		out = append(out, Trouble{Message: fmt.Sprintf("it is noisy at %s, where nothing is meant to be heard, %s from what is measured there", words.Hz(beside.hz), words.Level(beside.db(), "dB")),
			Right: "hum, as a rule: nothing is judged by it there, and it may be of the desk or of the unit"})
	}
	if within.noise <= muchNoise || within.noise <= spoiledNoise && len(t.distorted()) > 0 { // harmonics would be taken for noise
		return out
	}
	noise := Trouble{Message: fmt.Sprintf("it is noisy: at %s noise is %s from what is measured", words.Hz(within.hz), words.Level(within.db(), "dB")), Spoiled: within.noise > spoiledNoise}
	if noise.Right = "play louder, or a longer sweep, away from hum"; !noise.Spoiled {
		noise.Right = "a longer or louder sweep measures with less"
		noise.Message += ", and moves the level there by about " + words.Short(math.Ceil(biquad.GainDB(1+t.peakNoise(within.hz))*10)/10) + " dB"
	}
	return append(out, noise)
}

// noisy is how much noise, as a part of what is measured, is at a frequency.
type noisy struct{ hz, noise float64 }

func (n noisy) db() float64 { return biquad.GainDB(math.Max(n.noise, 1e-9)) }

// noisiest looks at what is within 20 dB of the greatest that is more than noise: where what was recorded is meant to be
// heard, for the place with most noise beside what is measured; where it is not, for the loudest noise.
func (t *Take) noisiest(hz []float64, carries func(hz float64) bool) (within, beside noisy) {
	h, noise := t.Response(hz), t.Noise(hz)
	peak := 0.0
	for i, v := range h {
		if carries == nil || carries(hz[i]) || noise[i] < spoiledNoise {
			peak = math.Max(peak, biquad.Power(v))
		}
	}
	loudest := 0.0
	for i, n := range noise {
		power := biquad.Power(h[i])
		switch heard := carries == nil || carries(hz[i]); {
		case power <= peak/100:
		case heard && n > within.noise:
			within = noisy{t.loudest(hz[i]), n}
		case !heard && n > Hummed && n*n*power > loudest:
			beside, loudest = noisy{t.loudest(hz[i]), n}, n*n*power
		}
	}
	return within, beside
}

// loudest is where, in the third of an octave around hz (Hz), the noise is loudest: hum is in one place.
func (t *Take) loudest(hz float64) float64 {
	spacing := t.RateHz / float64(t.fft)
	from, to := t.third(hz)
	at, most := from, 0.0
	for i := from; i <= to; i++ {
		if p := math.Max(biquad.Power(t.rest[0][i]), biquad.Power(t.rest[1][i])); p > most {
			at, most = i, p
		}
	}
	return words.Round(float64(at)*spacing, 2)
}

// peakNoise is the noise at one frequency (Hz), as a part of what is measured there: hum is in one place, and much more of it
// there than over a third of an octave.
func (t *Take) peakNoise(hz float64) float64 {
	spacing := t.RateHz / float64(t.fft)
	i := min(max(1, int(math.Round(hz/spacing))), len(t.bins)-2)
	most := 0.0
	for k := i - 1; k <= i+1; k++ {
		most = math.Max(most, math.Max(biquad.Power(t.rest[0][k]), biquad.Power(t.rest[1][k]))/math.Max(biquad.Power(t.bins[k]), 1e-300))
	}
	return math.Sqrt(most)
}

// heard reports whether anything of the reference is in the recording: at some neighbouring frequencies
// there is much less noise than response.
func (t *Take) heard() bool {
	const little, neighbours = 0.2, 3
	run := 0
	for _, n := range t.Noise(biquad.Octaves(t.LowHz*2, t.HighHz/1.2, 6)) {
		if n > little {
			run = 0
			continue
		}
		if run++; run == neighbours {
			return true
		}
	}
	return false
}

const (
	// bandQ is of the band-passes by which Tempo looks at when a sweep passes an octave.
	bandQ = 4.0
	// unevenS (s) is how far from even a sweep may pass, and unevenShare how much slower or faster.
	unevenS, unevenShare = 0.015, 0.05
	// flat is how loud an octave is at least beside the loudest (-4 dB): on a slope a band-pass is loudest too early or
	// too late.
	flat = 0.63
)

// Tempo says whether a recording runs as the reference does: the sweep passes every octave in the same
// time. Where it is slower or faster rates were confused, where it is uneven samples were lost.
func Tempo(reference, recorded []float64, rateHz float64) []Trouble {
	var octaves, late []float64
	top := 0.0
	type passed struct{ at, level, own float64 }
	var all []passed
	for hz := 250.0; hz < 0.4*rateHz; hz *= 2 {
		own, level := passes(reference, hz, rateHz)
		at, is := passes(recorded, hz, rateHz)
		if level > 0 {
			all = append(all, passed{at - own, is, math.Log2(hz)})
			top = math.Max(top, is)
		}
	}
	for _, p := range all {
		if p.level > top*flat {
			octaves, late = append(octaves, p.own), append(late, p.at)
		}
	}
	if len(late) < 3 {
		return nil
	}
	slope, uneven := straight(octaves, late)
	first, _ := passes(reference, 500, rateHz)
	second, _ := passes(reference, 1000, rateHz)
	steady := uneven < 0.3*math.Abs(slope)*(octaves[len(octaves)-1]-octaves[0])
	switch share := slope / (second - first); {
	case uneven > unevenS && !steady:
		return []Trouble{{Message: fmt.Sprintf("the sweep runs unevenly in it, by %s: samples were lost or put in", words.Seconds(uneven)), Right: "record it again, with larger buffers", Spoiled: true}}
	case math.Abs(share) > unevenShare:
		return []Trouble{{Message: fmt.Sprintf("its sweep takes about %s times as long as the reference's: the sample rate is another than its head says, or than it was played at", words.Three(words.Round(1+share, 2))),
			Right: "play and record at one rate", Spoiled: true}}
	}
	return nil
}

// Cut says whether a recording of so many samples begins after, or ends before, the sweep passes what is between lowHz and
// highHz (Hz), by its delay and by when the reference passes them: half an octave below lowHz as well, which takes part in
// what is measured there.
func (t *Take) Cut(reference []float64, samples int, lowHz, highHz float64) []Trouble {
	low, high := math.Max(t.LowHz, lowHz/math.Sqrt2), math.Min(t.HighHz, highHz)
	const right = "the window is too short; record from before the sweep to a second after it"
	if at, level := passes(reference, low, t.RateHz); level > 0 && at+t.DelayS < 0 {
		return []Trouble{{Message: fmt.Sprintf("it begins when the sweep has passed %s already", words.Hz(words.Round(low, 2))), Right: right, Spoiled: true}}
	}
	if at, level := passes(reference, high, t.RateHz); level > 0 && at+t.DelayS > float64(samples)/t.RateHz {
		return []Trouble{{Message: fmt.Sprintf("it ends before the sweep passes %s", words.Hz(words.Round(high, 2))), Right: right, Spoiled: true}}
	}
	return nil
}

// passes is when (s) a frequency is loudest in samples, and how loud: behind a band-pass, whose own delay is
// the same for all.
func passes(x []float64, hz, rateHz float64) (at, level float64) {
	w := 2 * math.Pi * hz / rateHz
	alpha := math.Sin(w) / (2 * bandQ)
	b, a1, a2 := alpha/(1+alpha), -2*math.Cos(w)/(1+alpha), (1-alpha)/(1+alpha)
	var x1, x2, y1, y2, smooth float64
	slow := 1 - math.Exp2(-hz/bandQ/rateHz)
	for i, v := range x {
		y := b*(v-x2) - a1*y1 - a2*y2
		x2, x1, y2, y1 = x1, v, y1, y
		if smooth += slow * (y*y - smooth); smooth > level {
			at, level = float64(i)/rateHz, smooth
		}
	}
	return at, math.Sqrt(level)
}

// straight is the slope of the straight line through points, and how far the furthest is from it.
func straight(x, y []float64) (slope, furthest float64) {
	var mx, my, square float64
	for i := range x {
		mx, my = mx+x[i]/float64(len(x)), my+y[i]/float64(len(x))
	}
	for i := range x {
		slope, square = slope+(x[i]-mx)*(y[i]-my), square+(x[i]-mx)*(x[i]-mx)
	}
	slope /= square
	for i := range x {
		furthest = math.Max(furthest, math.Abs(y[i]-my-slope*(x[i]-mx)))
	}
	return slope, furthest
}
