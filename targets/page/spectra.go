package page

import (
	"html/template"
	"math"
	"slices"

	"bandwright/biquad"
	"bandwright/compiler"
	"bandwright/compiler/parallel"
	"bandwright/compiler/verify"
)

// spectra draws the noise of the arithmetic in the realisation that is chosen.
func (p *Paper) spectra() template.HTML {
	asked, ways := p.asked(), len(p.curves.ways)
	all := make([]*own, len(asked)*ways)
	parallel.Each(len(all), func(i int) {
		d, way := asked[i/ways], i%ways
		if noise := d.NoiseSpectrum(way); noise != nil {
			all[i] = ownIn(biquad.Axes(d.System.Path(way)), len(p.Settings), noise)
		}
	})
	var out template.HTML
	for first, f := range asked { // a drawing a format, as some are far quieter than others
		if slices.IndexFunc(asked, func(d compiler.Digital) bool { return d.Format.Name == f.Format.Name }) != first {
			continue
		}
		d := drawing{name: "Spectrum of the noise", note: p.note(true), hidden: !p.shown(first), says: "Where the noise lies: noise in each hertz, dB re the mean square of a full-scale sine, with the sine going in that makes most of it."}
		var mades []int
		for way := range ways {
			l := line{made: first, class: "digital", name: "noise", shown: true}
			mades = nil
			for made, x := range asked {
				var o *own
				if x.Format.Name == f.Format.Name {
					o = all[made*ways+way]
					mades = append(mades, made)
				}
				l.own = append(l.own, o)
			}
			if slices.ContainsFunc(l.own, func(o *own) bool { return o != nil }) {
				d.strips = append(d.strips, ranged(strip{kind: "noise", name: p.nameOf(way), way: way, unit: "dB", scale: 1, lines: []line{l}}, 12))
			}
		}
		if d.mades = joined(mades); d.strips != nil {
			out += p.draw(d)
		}
	}
	if out == "" {
		return ""
	}
	return "<h3>Spectrum of the noise</h3>" + out
}

// clips draws from which level on each way of the board clips.
func (p *Paper) clips() template.HTML {
	d := drawing{name: "Where each way clips", note: p.note(false), says: "How far a sine at the input may lie above the input's level before the first op-amp on the way clips, at each frequency. " +
		"At the zero line the input's level itself would clip; where the line leaves the drawing there is more room than is drawn."}
	axes, settings := p.Subject().WayAxes, len(p.Settings)
	type over struct{ hz, db []float64 }
	var all []verify.Case
	for way := range p.curves.ways {
		for _, c := range combinations(axes[way], settings) {
			all = append(all, verify.Case{Way: way, C: c})
		}
	}
	found := make([]over, len(all))
	parallel.Each(len(all), func(i int) { found[i].hz, found[i].db = p.clipsOver(all[i]) })
	for way := range p.curves.ways {
		o := ownIn(axes[way], settings, func(biquad.Combination) (hz, db []float64) {
			hz, db, found = found[0].hz, found[0].db, found[1:]
			return hz, db
		})
		s := ranged(strip{kind: "clip", name: p.nameOf(way), way: way, unit: "dB", scale: 1, lines: []line{{made: wantedLine, class: "board", name: "clips", shown: true, own: []*own{o}}}}, 6)
		s.low = math.Min(s.low, -3)
		s.high = math.Min(s.high, s.low+45)
		if s.high-s.low > 30 {
			s.step = 12
		}
		d.strips = append(d.strips, s)
	}
	return "<h3>Where each way clips</h3>" + p.draw(d)
}

// clipsOver is from which level on a way clips in a case, over the input's level (dB); NaN where it never does, nothing of
// a case without a solution.
func (p *Paper) clipsOver(c verify.Case) (hz, db []float64) {
	hz, volts, err := p.Board.ClipOver(c)
	level := p.Board.InputV(c)
	if err != nil || !(level > 0) {
		return nil, nil
	}
	for _, v := range volts {
		y := math.NaN()
		if !math.IsInf(v, 0) {
			y = biquad.GainDB(v / level)
		}
		db = append(db, y)
	}
	return hz, db
}

// ranged is a strip that holds its first line in any settings, with labels at multiples of a step or of its double.
func ranged(s strip, step float64) strip {
	low, high := extremes(s.lines[0].own...)
	s.low, s.high, s.step = step*math.Floor(low/step-0.2), step*math.Ceil(high/step+0.2), step
	for s.high-s.low > 5*s.step {
		s.step *= 2
	}
	return s
}
