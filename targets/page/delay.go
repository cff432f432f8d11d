package page

import (
	"html/template"
	"math"

	"bandwright/compiler/words"
)

var delayChapter = Chapter{Name: "delay", Title: "Group delay",
	Says: func(p *Paper) string {
		x, way, made, _, ok := p.worst(ofDelay, false)
		if !ok {
			return ""
		}
		return p.atWorst("What is played is nowhere later or earlier than wanted by more than", words.Second.Measured(math.Abs(x.Value)), x, way, made)
	},
	Body: func(p *Paper) template.HTML {
		d := drawing{name: "Group delay of each way", says: "With each way's own delay, where its level is within 40 dB of its peak."}
		e := drawing{name: "Error of group delay", says: "After the common delay, within 20 dB of each way's peak. At low frequencies it is large in time and small in phase."}
		for way := range p.curves.ways {
			d.strips = append(d.strips, p.delays(way))
			e.strips = append(e.strips, p.departures(delayErrorKind, way, ofDelay, 1e6, "\u00b5s"))
		}
		return p.draw(d) + p.draw(e) + p.table(ofDelay, p.curves.ways)
	},
}

// delays is the strip of a way's group delay, in ms or us.
func (p *Paper) delays(way int) strip {
	s := strip{kind: delayKind, name: p.nameOf(way), way: way, unit: "ms", scale: 1e3, lines: p.lines(delayKind, way, true)}
	low, high := 0.0, 0.0
	for i, v := range s.lines[0].y {
		if !math.IsNaN(v) {
			low, high = math.Min(low, v), math.Max(high, p.curves.ideal[way][delayQ].most(i))
		}
	}
	if (high-low)*1e3 < 1 {
		s.unit, s.scale = "\u00b5s", 1e6
	}
	span := math.Max(high-low, 1e-6) * s.scale
	s.low, s.high, s.step = low*s.scale-span*0.06, high*s.scale+span*0.08, nice(span/2.6)
	return s
}
