package compiler

import (
	"fmt"
	"math"
	"slices"

	"bandwright/biquad"
	"bandwright/biquad/discretize"
	"bandwright/compiler/board"
	"bandwright/compiler/language"
	"bandwright/compiler/parallel"
	"bandwright/compiler/verify"
)

// Subject is the Build's prototype as what realisations are judged by.
func (b *Wanted) Subject() *verify.Subject {
	s := &verify.Subject{Settings: b.Settings, Prototype: verify.NewIdeal(b.Prototype), AllAxes: b.Prototype.Axes()}
	var ways []biquad.Cascade[biquad.Analog]
	least, most := math.Inf(1), 0.0
	for k, w := range b.Prototype.Ways {
		s.Ways = append(s.Ways, w.Name)
		s.WayAxes = append(s.WayAxes, biquad.Axes(b.Prototype.Path(k)))
		ways = append(ways, w.Cascade)
		least, most = math.Min(least, w.DelayS), math.Max(most, w.DelayS)
	}
	s.SplitAxes, s.SpreadS = biquad.Axes(ways...), most-least
	return s
}

// judge holds every realisation against the promises.
func judge(b *Build, noBoard []board.Problem) (figures []verify.Figures, findings []verify.Finding) {
	s := b.Subject()
	type verdict struct {
		figures  []verify.Figures
		findings []verify.Finding
	}
	out := make([]verdict, len(b.Digital))
	parallel.Each(len(b.Digital), func(i int) {
		d := b.Digital[i]
		out[i].figures, out[i].findings = verify.Judge(s, d.Realisation(), b.Promises)
		explained(out[i].findings, b, d)
		out[i].findings = append(out[i].findings, audits(b, d)...)
	})
	for i, v := range out {
		figures = append(figures, v.figures...)
		if b.Digital[i].Asked {
			findings = append(findings, v.findings...)
		}
	}
	ofBoard, more := judgeBoard(b, noBoard)
	return append(figures, ofBoard...), append(findings, more...)
}

// explained adds to what is broken of a way's response where its method had to
// fall back.
func explained(fs []verify.Finding, b *Build, d Digital) {
	for i := range fs {
		f := &fs[i]
		k := slices.IndexFunc(b.Spec.Ways, func(w language.Way) bool { return w.Name == f.Way })
		if f.Kept || k < 0 || d.Notes[k] == "" || f.Promise != "magnitude" && f.Promise != "phase" {
			continue
		}
		if f.Note != "" {
			f.Note += "; "
		}
		f.Note += d.Notes[k]
	}
}

// audits are the findings on safety that no error figure can replace.
func audits(b *Build, d Digital) []verify.Finding {
	var out []verify.Finding
	lo, hi, _ := b.Promises.Band(d.RateHz)
	band := discretize.Band{LowHz: lo, HighHz: hi, FloorDB: b.Promises.DownToDB}
	for k, w := range d.System.Ways {
		a := discretize.AuditWay(b.Prototype.Path(k), d.System.Path(k), d.RateHz, band, len(b.Settings))
		f := verify.Finding{Promise: "safety", Realisation: d.Name(), Way: w.Name, Setting: []verify.Choice{}, Unit: "dB",
			Limit: discretize.MostExcessDB, Worst: a.ExcessDB(), Kept: a.Safe(), Broken: a.Unsafe, Of: a.Of, Note: d.Notes[k]}
		if f.AtHz = a.UltrasonicHz; a.StopBandDB > a.UltrasonicDB {
			f.AtHz = a.StopBandHz
		}
		if !f.Kept {
			f.Remedy = a.Violations() + ": use a higher rate or another method"
		}
		out = append(out, f)
	}
	return out
}

// mostCombinations is up to how many combinations of settings a way's board is
// analysed in all of them. A board takes 10 ms a combination.
const mostCombinations = 64

// judgeBoard holds the board against the promises.
func judgeBoard(b *Build, noBoard []board.Problem) ([]verify.Figures, []verify.Finding) {
	if len(noBoard) > 0 {
		return nil, []verify.Finding{{Promise: "board", Realisation: board.RealisationName, Setting: []verify.Choice{},
			Unit: "filters", Worst: float64(len(noBoard)), Broken: 1, Of: 1,
			Note: "no board is made", Remedy: noBoard[0].Right + ": " + noBoard[0].Message}}
	}
	if b.Board == nil {
		return nil, nil
	}
	s := b.Subject()
	if all := biquad.Count(s.AllAxes); all > mostCombinations {
		s.Only = b.sample(s)
		s.Note = fmt.Sprintf("analysed in %d of %d combinations: ways with at most %d in all of theirs, of the others each choice by itself and the extremes",
			len(s.Only), all, mostCombinations)
	}
	return verify.JudgeBoard(s, b.Board, b.Promises)
}

// sample are the combinations that stand for all: those of every way that has
// few, each choice by itself, and for every way the loudest choices together
// and the quietest.
func (b *Build) sample(s *verify.Subject) []verify.Combination {
	var out []verify.Combination
	seen := map[string]bool{}
	add := func(c verify.Combination) {
		if c = slices.Clone(c); !seen[string(c)] {
			seen[string(c)] = true
			out = append(out, c)
		}
	}
	add(make(verify.Combination, len(b.Settings)))
	for _, axes := range s.WayAxes {
		if biquad.Count(axes) <= mostCombinations {
			biquad.Each(axes, len(b.Settings), add)
		}
	}
	for _, ax := range s.AllAxes {
		for k := range ax.Choices {
			c := make(verify.Combination, len(b.Settings))
			c[ax.Setting] = uint8(k)
			add(c)
		}
	}
	for way, axes := range s.WayAxes {
		least, most := make(verify.Combination, len(b.Settings)), make(verify.Combination, len(b.Settings))
		for _, ax := range axes {
			low, high := math.Inf(1), math.Inf(-1)
			for k := range ax.Choices {
				c := make(verify.Combination, len(b.Settings))
				c[ax.Setting] = uint8(k)
				level := b.meanLevel(way, c)
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
func (b *Build) meanLevel(way int, c verify.Combination) float64 {
	var hz []float64
	for f := b.Promises.LowHz; f < b.Promises.HighHz; f *= math.Exp2(1.0 / 3) {
		hz = append(hz, f)
	}
	h := make([]complex128, len(hz))
	biquad.AnalogAt(h, b.Prototype.Path(way), c, hz)
	sum := 0.0
	for _, v := range h {
		sum += biquad.DB(v)
	}
	return sum / float64(len(hz))
}
