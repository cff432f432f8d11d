package compiler

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"

	"bandwright/biquad"
	"bandwright/biquad/discretize"
	"bandwright/compiler/batch"
	"bandwright/compiler/board"
	"bandwright/compiler/digital"
	"bandwright/compiler/parallel"
	"bandwright/compiler/promise"
	"bandwright/compiler/verify"
	"bandwright/compiler/words"
)

// Subject is the Build's prototype as what realisations are judged by.
func (w *Wanted) Subject() *verify.Subject {
	s := &verify.Subject{Settings: w.Settings, Prototype: verify.NewIdeal(w.Prototype), AllAxes: w.Prototype.Axes()}
	var ways []biquad.Cascade[biquad.Analog]
	least, most := math.Inf(1), 0.0
	for k, x := range w.Prototype.Ways {
		s.Ways = append(s.Ways, x.Name)
		s.WayAxes = append(s.WayAxes, biquad.Axes(w.Prototype.Path(k)))
		ways = append(ways, x.Cascade)
		least, most = math.Min(least, x.DelayS), math.Max(most, x.DelayS)
	}
	s.SplitAxes, s.SpreadS = biquad.Axes(ways...), most-least
	return s
}

// judged is what was found of some realisations.
type judged struct {
	figures  []verify.Figures
	findings []verify.Finding
	dither   bool // is what breaks the promise on noise
}

// judgeDigital holds every digital realisation against the promises.
func (b *Build) judgeDigital(ctx context.Context) judged {
	s, terms := b.Subject(), b.Promises.Terms()
	each := make([]judged, len(b.Digital))
	parallel.Each(len(b.Digital), func(i int) {
		each[i].figures, each[i].findings = verify.Judge(ctx, s, b.Realisation(b.Digital[i]), terms)
		if !b.extent.unadvised {
			b.adviseDigital(ctx, i, &each[i])
		}
	})
	if !b.extent.unadvised {
		b.adviseRounding(ctx, each)
		b.adviseMethod(ctx, each)
	}
	var out judged
	for i, v := range each {
		out.figures = append(out.figures, v.figures...)
		if b.Digital[i].Asked {
			out.findings = append(out.findings, v.findings...)
		}
	}
	return out
}

// adviseDigital says what would keep what a realisation, number i, breaks by itself.
func (b *Build) adviseDigital(ctx context.Context, i int, found *judged) {
	if b.Digital[i].Laid != nil {
		b.adviseLaid(ctx, &b.Digital[i], found.findings)
	}
	found.dither = b.adviseDither(ctx, b.Digital[i], found.findings)
	b.adviseHeadroom(ctx, b.Digital[i], found.findings)
}

// judgeBoard holds the board against the promises, or says that there is none.
func (b *Build) judgeBoard(ctx context.Context, noBoard []board.Obstacle) (out judged) {
	switch {
	case len(noBoard) > 0:
		out.findings = []verify.Finding{promise.NoBoard(board.RealisationName, len(noBoard), noBoard[0].Right+": "+noBoard[0].Message)}
	case b.Board != nil:
		out.figures, out.findings = verify.Judge(ctx, b.BoardSubject(), batch.Built{Board: b.Board, Batch: b.Batch}, b.Promises.Terms())
		if !b.extent.unadvised {
			b.sayIdealRises(out.findings)
			b.adviseBatch(ctx, out.findings)
		}
	}
	return out
}

// leastRiseDB is what an ideal has to rise above the band to be told of it.
const leastRiseDB = 0.1

// sayIdealRises adds to findings on ways that rise above the band by how much the ideal does so itself, at the same frequency: no
// other board is better than that.
func (b *Build) sayIdealRises(findings []verify.Finding) {
	for i := range findings {
		f := &findings[i]
		way := b.wayOf(f)
		if f.Promise != promise.BoardPeak.Name || f.Kept || way < 0 {
			continue
		}
		path, h := b.Prototype.Path(way), make([]complex128, 1)
		level := func(hz float64) float64 {
			biquad.AnalogAt(h, path, f.C, []float64{hz})
			return biquad.DB(h[0])
		}
		most := math.Inf(-1)
		for _, hz := range append(biquad.Octaves(b.Promises.LowHz, b.Promises.HighHz, 48), b.Promises.HighHz) {
			most = math.Max(most, level(hz))
		}
		rises := level(f.AtHz) - most
		if !(rises >= leastRiseDB) {
			continue
		}
		f.Note = strings.TrimPrefix(f.Note+"; the ideal itself is "+words.Level(rises, "dB")+" there, re its greatest in the band", "; ")
		if rises > f.Limit {
			f.Remedy = "no board does, as the ideal is above that itself: change the filters, or " + f.Remedy
		}
	}
}

// Realisations are those that promises were judged of.
func (b *Build) Realisations() []verify.Realisation {
	var out []verify.Realisation
	for _, d := range b.Digital {
		out = append(out, b.Realisation(d))
	}
	if b.Board != nil {
		out = append(out, batch.Built{Board: b.Board, Batch: b.Batch})
	}
	return out
}

// Realisation is one of the digital systems as something that promises can be
// held against.
func (w *Wanted) Realisation(d Digital) verify.Realisation {
	lo, hi := noiseBand(d.RateHz)
	from, to, _ := w.Promises.Band(d.RateHz)
	band := discretize.Band{LowHz: from, HighHz: to, FloorDB: w.Promises.DownToDB}
	return digital.New(d.Name(), d.System, d.RateHz, d.CommonDelayS, digital.Traits{
		Gain: d.InputGain, Limited: d.Format.GuardBits > 0 || d.Laid != nil, Notes: d.Notes,
		Noise: func(way int) func(verify.Combination) float64 {
			if d.Laid != nil {
				return d.Laid.Chains[way].NewNoise(d.RateHz, lo, hi).DBFS
			}
			return d.Format.NewNoise(d.System, way, d.InputGain, d.RateHz, lo, hi).DBFS
		},
		Audit: func(way int) discretize.Audit {
			return discretize.AuditWay(w.Prototype.Path(way), d.System.Path(way), d.RateHz, band, len(w.Settings))
		},
	})
}

// NoiseSpectrum is the noise of a way over frequency (Hz) in one combination after another, not at once: decibels re the mean
// square of a full-scale sine in each hertz, by number.Noise; nil of a layout, whose noise is known as a whole.
func (d Digital) NoiseSpectrum(way int) func(verify.Combination) (hz, dbfs []float64) {
	if d.Laid != nil {
		return nil
	}
	lo, hi := noiseBand(d.RateHz)
	return d.Format.NewNoise(d.System, way, d.InputGain, d.RateHz, lo, hi).Spectrum
}

// noiseBand (Hz) is that of noise figures, whatever the promises' band.
func noiseBand(rateHz float64) (lo, hi float64) { return 20, math.Min(20000, verify.TopOfRate*rateHz) }

// mostCombinations is up to how many combinations of settings a way's board is
// analysed in all of them. A board takes 10 ms a combination.
const mostCombinations = 64

// BoardSubject is Subject with the combinations that a board is analysed in.
func (w *Wanted) BoardSubject() *verify.Subject {
	s := w.Subject()
	if all := biquad.Count(s.AllAxes); all > mostCombinations {
		s.Only = w.sample(s)
		s.Note = fmt.Sprintf("analysed in %d of %d combinations: all of a way with at most %d, otherwise each choice alone and the extremes",
			len(s.Only), all, mostCombinations)
	}
	return s
}

// sample are the combinations that stand for all: those of every way that has
// few, each choice by itself, and for every way the loudest choices together
// and the quietest.
func (w *Wanted) sample(s *verify.Subject) []verify.Combination {
	var out []verify.Combination
	seen := map[string]bool{}
	add := func(c verify.Combination) {
		if c = slices.Clone(c); !seen[string(c)] {
			seen[string(c)] = true
			out = append(out, c)
		}
	}
	add(make(verify.Combination, len(w.Settings)))
	for _, axes := range s.WayAxes {
		if biquad.Count(axes) <= mostCombinations {
			biquad.Each(axes, len(w.Settings), add)
		}
	}
	for _, ax := range s.AllAxes {
		for k := range ax.Choices {
			c := make(verify.Combination, len(w.Settings))
			c[ax.Setting] = uint8(k)
			add(c)
		}
	}
	for way, axes := range s.WayAxes {
		least, most := make(verify.Combination, len(w.Settings)), make(verify.Combination, len(w.Settings))
		for _, ax := range axes {
			low, high := math.Inf(1), math.Inf(-1)
			for k := range ax.Choices {
				c := make(verify.Combination, len(w.Settings))
				c[ax.Setting] = uint8(k)
				level := w.meanLevel(way, c)
				if level < low {
					low, least[ax.Setting] = level, uint8(k)
				}
				if level > high {
					high, most[ax.Setting] = level, uint8(k)
				}
			}
		}
		add(least)
		add(most)
	}
	return out
}

// meanLevel is a way's mean level in dB over the band, a third of an octave
// apart.
func (w *Wanted) meanLevel(way int, c verify.Combination) float64 {
	hz := biquad.OctavesBelow(w.Promises.LowHz, w.Promises.HighHz, 3)
	h := make([]complex128, len(hz))
	biquad.AnalogAt(h, w.Prototype.Path(way), c, hz)
	sum := 0.0
	for _, v := range h {
		sum += biquad.DB(v)
	}
	return sum / float64(len(hz))
}
