package page

import (
	"fmt"
	"html/template"
	"math"
	"slices"

	"bandwright/biquad"
	"bandwright/compiler"
	"bandwright/compiler/parallel"
	"bandwright/compiler/words"
)

// The time axis (ms), and after how many samples every second one is drawn, then every fourth, and so on.
const (
	firstMS = 0.01
	lastMS  = 50.0
	closeBy = 256 // times two
)

var timeChapter = Chapter{Name: "time", Title: "What a step makes of each way",
	Says: func(p *Paper) string {
		asked, all := p.asked(), p.allMoments()
		if asked == nil {
			return p.boardSays()
		}
		most, text := -1.0, fmt.Sprintf("The answers to a step and an impulse at %s.", words.Rate(asked[0].RateHz))
		for way, name := range p.curves.ways {
			t := &all[way].step
			for i, ms := range t.ms {
				if off := math.Abs(t.digital[i] - t.wanted[i]); ms >= firstMS && ms <= lastMS && off > most {
					most = off
					text = fmt.Sprintf("At %s no way's step is further from the wanted one than %s of the input's: %s, %s ms after it.", words.Rate(asked[0].RateHz), words.Three(off), name, words.Three(ms))
				}
			}
		}
		return text
	},
	Body: func(p *Paper) template.HTML {
		all := p.allMoments()
		says := "What comes out of each way after the input goes from 0 to 1 and stays: the thin band is what was wanted"
		if all != nil {
			says += ", the solid line the digital filter, from the words that it runs. The common delay is taken out; the step is half a sample before the first sample of 1. Within a sample no filter jumps: there the two may part"
		}
		step := drawing{name: "Step", axis: overTime(), note: p.note(all != nil), says: says + p.boardFrom() + "."}
		pulse := drawing{name: "Impulse", axis: overTime(), note: p.note(all != nil), says: "The same of an impulse, one sample long and of area 1: how fast the drawing above goes up. " +
			fmt.Sprintf("After %d samples it is a mean over two, after %d over four, and so on.", 2*closeBy, 4*closeBy)}
		boards := p.boardAnswers()
		for way := range p.curves.ways {
			if all == nil {
				step.strips = append(step.strips, p.alone(way, boards[way].step, p.wantedAnswers(way).step, ""))
				pulse.strips = append(pulse.strips, p.alone(way, boards[way].pulse, p.wantedAnswers(way).pulse, "1/ms"))
				continue
			}
			ofStep, ofPulse := p.reach(way)
			var of answers
			if boards != nil {
				of = boards[way]
			}
			step.strips = append(step.strips, p.overTime(way, all[way].step, ofStep, "", of.step))
			pulse.strips = append(pulse.strips, p.overTime(way, all[way].pulse, ofPulse, "1/ms", of.pulse))
		}
		return "<h3>Step</h3>" + p.draw(step) + "<h3>Impulse</h3>" + p.draw(pulse)
	},
}

// asked are the digital realisations that the spec asks for, in the order of those that are drawn.
func (p *Paper) asked() (out []compiler.Digital) {
	for _, d := range p.Digital {
		if d.Asked {
			out = append(out, d)
		}
	}
	return out
}

// allMoments are those of all ways of the first realisation.
func (p *Paper) allMoments() []moments {
	if asked := p.asked(); asked != nil && p.times == nil {
		p.times = make([]moments, len(p.curves.ways))
		parallel.Each(len(p.times), func(way int) { p.times[way] = p.moments(asked[0], way) })
	}
	return p.times
}

// timed are values over time.
type timed struct{ ms, wanted, digital []float64 }

// moments are the answers of a way to a step and to an impulse of area 1 (1/ms), at a rate.
type moments struct{ step, pulse timed }

// moments samples the answer to a step: every sample at first, then every second, and so on. Samples that are 1 from
// the first on stand for a step half a sample before.
func (p *Paper) moments(r compiler.Digital, way int) (m moments) {
	var c biquad.Combination = make([]uint8, len(p.Settings))
	analog, path := p.Prototype.Path(way), r.System.Path(way)
	delay := r.DelaySamples(path)
	early := r.CommonDelayS * r.RateHz // samples that the realisation is late by
	last := int(lastMS/1e3*r.RateHz+early) + 1
	y := make([]float64, last+1)
	if delay < len(y) {
		biquad.StepDigital(y[delay:], path, c)
	}
	want, whole := biquad.NewAnalogStep(analog, c)
	stand, before := 0.0, 0.0 // s that want is at; what came before the step
	for n, by := 0, 1; n <= last; n += by {
		for n >= closeBy*by*2 {
			by *= 2
		}
		t := (float64(n) + 0.5 - early) / r.RateHz
		if t <= 0 {
			before = y[n]
			continue
		}
		v := 0.0
		if at := t - analog.DelayS; whole && at > 0 {
			wait := at - stand
			if usual := float64(by) / r.RateHz; math.Abs(wait/usual-1) < 1e-9 { // the rounding of a difference is no other time
				wait = usual
			}
			want.Wait(wait)
			stand += wait
			v = want.Value()
		}
		if !whole {
			v = math.NaN()
		}
		m.step.add(1e3*t, v, y[n])
	}
	m.pulse = m.step.slope(1e3/r.RateHz, before)
	return m
}

func (t *timed) add(ms, wanted, digital float64) {
	t.ms, t.wanted, t.digital = append(t.ms, ms), append(t.wanted, wanted), append(t.digital, digital)
}

// slope is how fast a step's answer goes up, drawn where an impulse of one sample that begins with the step has its
// middle. digital is the sample before the first one.
func (t *timed) slope(sampleMS, digital float64) (out timed) {
	ms, wanted := t.ms[0]-sampleMS, 0.0
	for i := range t.ms {
		gap := t.ms[i] - ms
		out.add((t.ms[i]+ms+sampleMS)/2, (t.wanted[i]-wanted)/gap, (t.digital[i]-digital)/gap)
		ms, wanted, digital = t.ms[i], t.wanted[i], t.digital[i]
	}
	return out
}

// within is what lies between two times (ms).
func (t timed) within(lo, hi float64) timed {
	from, _ := slices.BinarySearch(t.ms, lo)
	to, _ := slices.BinarySearch(t.ms, hi)
	return timed{t.ms[from:to], t.wanted[from:to], t.digital[from:to]}
}

// overTime is a way's strip, which holds what there is in any settings.
func (p *Paper) overTime(way int, t timed, reach [2]float64, unit string, board *own) strip {
	s := strip{kind: timeKind, name: p.nameOf(way), way: way, unit: unit, scale: 1}
	t = t.within(firstMS, lastMS)
	for j, y := range [][]float64{t.wanted, t.digital} {
		name := []string{"wanted", "digital"}[j]
		l := line{made: wantedLine + j, class: name, name: name, hz: t.ms, y: y, shown: true}
		for made := range p.asked() {
			l.own = append(l.own, &own{run: &run{Of: name, Made: made, Way: way, Pulse: unit != ""}})
		}
		s.lines = append(s.lines, l)
		for _, v := range y {
			if !math.IsNaN(v) {
				reach[0], reach[1] = math.Min(reach[0], v), math.Max(reach[1], v)
			}
		}
	}
	if board != nil {
		low, high := extremes(board)
		reach[0], reach[1] = math.Min(reach[0], low), math.Max(reach[1], high)
		s.lines = append(s.lines, line{made: len(p.curves.made) - 1, class: "board", name: "board", hz: board.x[0], y: board.y[0], shown: true, own: []*own{board}})
	}
	s.between(reach[0], reach[1])
	return s
}

// between has a strip of answers hold what lies between two values.
func (s *strip) between(low, high float64) {
	if high == low {
		high = 1
	}
	s.step = rounder(below((high - low) / 2))
	room := 0.08 * (high - low)
	s.low, s.high = low-room, high+room
}

// overTime is the axis of time.
func overTime() *axis {
	return &axis{lo: firstMS, hi: lastMS, unit: "ms", tick: words.Exact}
}
