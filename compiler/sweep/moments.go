package sweep

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/dsp/fourier"

	"bandwright/compiler/words"
)

const (
	// goneShare is the level, of that before it, below which a sweep is gone.
	goneShare = 0.1
	// goneTurn is the part of a turn that a sine is below goneShare for at a time, arcsin(0.1)/π, with room.
	goneTurn = 0.08
	// fewestSamples are as many as a level is told by, beside a turn.
	fewestSamples = 8
	// preS (s) is how long before the greatest of a response its answer to a moment of the sweep may begin: converters
	// ring before it, and of a way that is low the greatest comes late.
	preS = 0.03
	// momentS (s) is the shortest time that is looked at by itself; at low frequencies it is a turn, as what distorts does
	// so once a turn. loudMoment is how much louder a moment is at least than those around it, and roundOff how loud beside the
	// recording there.
	momentS, loudMoment, roundOff = 0.0005, 4.0, 2e-5
	// aloud is how loud a recording is (RMS, of its peak) where moments are looked for: where it is not, nothing is measured.
	aloud = 0.01
	// mostMoments is how many places are lost samples: what comes more often, as the spikes of a rectifier do, is noise.
	mostMoments = 6
	// beginShare and endShare are from which multiple of the lowest frequency of a reference up to which part of its highest
	// moments are looked for, and no later than twice preS before its end: where it begins and ends it has sound that is not divided by.
	beginShare, endShare = 3.0, 0.8
	// harmless is the part by which a moment moves what is measured below which that is told and refuses nothing: 0.03 dB.
	harmless = 0.003
	// turnsRead are how many times a sweep crosses zero at least where its frequency is read.
	turnsRead = 9
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

// frequency is that of a sweep (Hz) at each sample, by where it crosses zero, and where it is at its level.
func frequency(sweep []float64, rateHz float64) (hz func(at int) float64, first, last int) {
	const around = 0.002 // s
	first, last = active(sweep)
	var crossed []int
	for i := first + 1; i <= last; i++ {
		if (sweep[i] < 0) != (sweep[i-1] < 0) {
			crossed = append(crossed, i)
		}
	}
	half := int(around * rateHz)
	return func(at int) float64 {
		from, _ := slices.BinarySearch(crossed, at-half)
		to, _ := slices.BinarySearch(crossed, at+half)
		if to-from < turnsRead {
			middle, _ := slices.BinarySearch(crossed, at)
			from, to = max(0, middle-turnsRead/2), min(len(crossed), middle+turnsRead/2)
		}
		if to-from < 2 {
			return 1 // no sweep
		}
		return float64(to-1-from) / 2 * rateHz / float64(crossed[to-1]-crossed[from])
	}, first, last
}

// moment is a part of a recording, by samples, that holds what is no answer to the sweep, where nothing around it does.
type moment struct {
	from, to int
	hz       float64 // of the sweep then
	loud     float64 // of what is no answer there, RMS, differenced
}

// beside is what a recording holds beside the answer of anything linear to the reference, differenced, as what begins at
// once is short then, and hum is quiet. What answers has its whole time behind the greatest of the impulse response, and
// little before it: what is heard of a frequency before the sweep comes to it is no answer.
func (t *Take) beside() []float64 {
	fft := fourier.NewFFT(t.fft)
	bins := fft.Coefficients(nil, t.gated(make([]float64, t.fft), t.impulse, t.top, preS))
	for i, h := range bins {
		hz := float64(i) * t.RateHz / float64(t.fft)
		bins[i] = (t.got[i] - h*t.played[i]) * complex(0, 2*math.Sin(math.Pi*hz/t.RateHz)*t.taper(hz)/float64(t.fft))
	}
	return fft.Sequence(nil, bins)[:len(t.recorded)]
}

// moments finds them, the earliest first.
func (t *Take) moments() (all []moment) {
	e, heard := energiesOf(t.beside()), energiesOf(t.recorded)
	frequency, first, last := frequency(t.reference, t.RateHz)
	late, begins := int(math.Round(t.DelayS*t.RateHz)), t.begins()
	peak := 0.0
	for _, v := range t.recorded {
		peak = math.Max(peak, math.Abs(v))
	}
	for i := first; i < last-int(2*preS*t.RateHz); {
		hz, at := frequency(i), i+late
		n := max(int(momentS*t.RateHz), int(t.RateHz/hz))
		if i += max(1, n/4); hz < t.LowHz*beginShare || at < begins {
			continue
		} else if hz > t.HighHz*endShare {
			break
		}
		var around []float64
		for k := 4; k <= 12; k++ {
			for _, o := range []int{at - k*n, at + k*n} {
				if o >= 0 && o+n <= len(t.recorded) {
					around = append(around, e.level(o, n))
				}
			}
		}
		slices.Sort(around)
		if level := heard.level(at-8*n, 16*n); level < aloud*peak || len(around) < 9 || e.level(at, n) < math.Max(loudMoment*around[len(around)/2], roundOff*level) {
			continue
		}
		if k := len(all) - 1; k >= 0 && at <= all[k].to+4*n {
			all[k].to, all[k].loud = at+n, math.Max(all[k].loud, e.level(at, n))
			continue
		}
		all = append(all, moment{from: at, to: at + n, hz: hz, loud: e.level(at, n)})
	}
	return all
}

// lost says where, while the sweep plays, samples were lost or put in, or for how long there is nothing but noise, or that
// something else was heard for a moment.
func (t *Take) lost() []Trouble {
	all := t.moments()
	if len(all) == 0 || len(all) > 2*mostMoments {
		return nil
	}
	first, last := all[0], all[len(all)-1]
	e, turn := energiesOf(t.recorded), int(t.RateHz/first.hz)
	level := max(e.level(first.from-2*turn-fewestSamples, turn+fewestSamples), e.level(last.to+turn, turn+fewestSamples))
	at := func(sample int) string {
		return fmt.Sprintf("about %s from its start, where its sweep is at %s", words.Seconds(words.Round(float64(sample)/t.RateHz, 3)), words.Hz(words.Round(first.hz, 2)))
	}
	if from, long := t.gone(first.from, last.to+turn, level*goneShare*math.Sqrt2); float64(long) > goneTurn*t.RateHz/first.hz+3 {
		return []Trouble{{Message: fmt.Sprintf("it has a gap: %s, nothing but noise is heard for %s", at(from), words.Seconds(words.Round(float64(long)/t.RateHz, 2))),
			Right: "record it again, with larger buffers", Spoiled: true}}
	}
	// A step J of a signal A moves what is measured where it is by J/(pi f A) over the time that the sweep stays there.
	stays := math.Sqrt(math.Max(t.octaveS, 0) / math.Ln2 / first.hz)
	moved := first.loud * math.Sqrt(float64(first.to-first.from)) / math.Max(math.Sqrt2*level*math.Pi*first.hz*stays, 1e-12)
	return []Trouble{{Message: fmt.Sprintf("for a moment it holds what is no answer to the sweep: %s", at(first.from)),
		Right: "samples were lost or put in there, or something else was heard: record it again, with larger buffers", Spoiled: !(moved < harmless)}}
}

// begins is the sample of the recording at which the sweep is at half of its level first: before that it is silent, or begins softly.
func (t *Take) begins() int {
	peak := 0.0
	for _, v := range t.reference {
		peak = math.Max(peak, math.Abs(v))
	}
	first := slices.IndexFunc(t.reference, func(v float64) bool { return math.Abs(v) > peak/2 })
	return first + int(math.Round(t.DelayS*t.RateHz))
}

// gone is where, between two samples or from before the first on, a recording is below a level for longest, and for how
// many samples.
func (t *Take) gone(from, to int, level float64) (at, most int) {
	quiet := func(i int) bool { return i >= 0 && i < len(t.recorded) && math.Abs(t.recorded[i]) < level }
	for quiet(from - 1) {
		from--
	}
	for i, run := from, 0; i < to; i++ {
		if run++; !quiet(i) {
			run = 0
		}
		if run > most {
			at, most = i+1-run, run
		}
	}
	return at, most
}
