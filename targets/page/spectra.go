package page

import (
	"fmt"
	"html/template"
	"math"

	"bandwright/biquad"
	"bandwright/compiler"
	"bandwright/compiler/parallel"
	"bandwright/compiler/verify"
)

// spectra draws the noise of the arithmetic in every realisation, of which the chosen one is shown.
func (p *Paper) spectra() template.HTML {
	var asked []compiler.Digital
	for _, d := range p.Digital {
		if d.Asked {
			asked = append(asked, d)
		}
	}
	ways := len(p.curves.ways)
	type spectrum struct{ hz, db []float64 }
	all := make([]spectrum, len(asked)*ways)
	parallel.Each(len(all), func(i int) {
		all[i].hz, all[i].db = asked[i/ways].NoiseSpectrum(i%ways, make(biquad.Combination, len(p.Settings)))
	})
	var out template.HTML
	for made, d := range asked {
		e := drawing{name: "Spectrum of the noise", still: true, mades: fmt.Sprint(made), hidden: !p.shown(made), says: "Where the noise lies, at " + shortName(d) +
			" in the default settings: noise in each hertz, dB re the mean square of a full-scale sine, with the sine going in that makes most of it."}
		for way := range ways {
			if x := all[made*ways+way]; x.hz != nil {
				e.strips = append(e.strips, ranged(strip{kind: "noise", name: p.nameOf(way), way: way, unit: "dB", scale: 1,
					lines: []line{{made: made, class: "digital", name: "noise", y: x.db, hz: x.hz, shown: true}}}, 12))
			}
		}
		if e.strips != nil {
			out += p.draw(e)
		}
	}
	if out == "" {
		return ""
	}
	return "<h3>Spectrum of the noise</h3>" + out
}

// clips draws from which level on each way of the board clips.
func (p *Paper) clips() template.HTML {
	d := drawing{name: "Where each way clips", still: true, says: "How far a sine at the input may lie above the input's level before the first op-amp on the way clips, at each frequency, in the default settings. " +
		"At the zero line the input's level itself would clip; where the line leaves the drawing there is more room than is drawn."}
	for way := range p.curves.ways {
		c := verify.Case{Way: way, C: make(biquad.Combination, len(p.Settings))}
		hz, volts, err := p.Board.ClipOver(c)
		level := p.Board.InputV(c)
		if err != nil || !(level > 0) {
			continue
		}
		y := make([]float64, len(hz))
		for i, v := range volts {
			y[i] = math.NaN()
			if !math.IsInf(v, 0) {
				y[i] = biquad.GainDB(v / level)
			}
		}
		s := ranged(strip{kind: "clip", name: p.nameOf(way), way: way, unit: "dB", scale: 1, lines: []line{{made: wantedLine, class: "board", name: "clips", y: y, hz: hz, shown: true}}}, 6)
		s.low = math.Min(s.low, -3)
		s.high = math.Min(s.high, s.low+45)
		if s.high-s.low > 30 {
			s.step = 12
		}
		d.strips = append(d.strips, s)
	}
	if d.strips == nil {
		return ""
	}
	return "<h3>Where each way clips</h3>" + p.draw(d)
}

// ranged is a strip that holds its first line, with labels at multiples of a step or of its double.
func ranged(s strip, step float64) strip {
	low, high := math.Inf(1), math.Inf(-1)
	for _, v := range s.lines[0].y {
		if !math.IsNaN(v) && !math.IsInf(v, 0) {
			low, high = math.Min(low, v), math.Max(high, v)
		}
	}
	if low > high {
		low, high = 0, 0
	}
	s.low, s.high, s.step = step*math.Floor(low/step-0.2), step*math.Ceil(high/step+0.2), step
	for s.high-s.low > 5*s.step {
		s.step *= 2
	}
	return s
}
