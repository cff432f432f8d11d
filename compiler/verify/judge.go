package verify

import (
	"fmt"
	"math"
	"slices"

	"bandwright/biquad"
	"bandwright/compiler/words"
)

// TopOfRate is the highest part of a sampling rate that promises reach: above
// it converters' own filters act and no realisation is held to anything.
const TopOfRate = 0.46

// fromHz is where levels are looked at for headroom, whatever band says (Hz).
const fromHz = 1

// Band is the band that promises hold in at a rate (Hz; 0 for none), and
// whether the rate cut it short.
func (p Promises) Band(rateHz float64) (lo, hi float64, cut bool) {
	if rateHz > 0 && p.HighHz > TopOfRate*rateHz {
		return p.LowHz, TopOfRate * rateHz, true
	}
	return p.LowHz, p.HighHz, false
}

// Judge holds a realisation against the promises: figures per way and for the
// sum, and a finding per promise and way.
func Judge(s *Subject, r Realisation, p Promises) ([]Figures, []Finding) {
	b, _ := r.(*Biquads)
	rate := 0.0
	if b != nil {
		rate = b.rateHz
	}
	lo, hi, cut := p.Band(rate)
	j := judge{s: s, r: r, b: b, p: p}
	if cut {
		j.note = fmt.Sprintf("judged up to %s, 0.46 of the rate", words.Hz(hi))
	}
	var marks []Landmark
	for w := range s.Ways {
		marks = append(marks, s.Prototype.Landmarks(w)...)
		marks = append(marks, r.Landmarks(w)...)
	}
	j.magnitude = "magnitude"
	hz := denser(grid(lo, hi, marks), s.SpreadS, len(s.Ways))
	j.response(newSearch(s, r, ascending(append(hz, s.dips(r, hz, len(marks))...))), hi)
	if b != nil {
		j.levels(newSearch(s, r, grid(fromHz, 0.4999*rate, marks)))
		j.arithmetic()
	}
	return j.figures, j.findings
}

// JudgeBoard holds a board against the promises: board-magnitude in place of
// magnitude, phase and sum, down to BoardDownToDB.
func JudgeBoard(s *Subject, r Realisation, p Promises) ([]Figures, []Finding) {
	p.MagnitudeDB, p.DownToDB = p.BoardMagnitudeDB, BoardDownToDB
	j := judge{s: s, r: r, p: p, magnitude: "board-magnitude", note: s.Note}
	var marks []Landmark
	for w := range s.Ways {
		marks = append(marks, s.Prototype.Landmarks(w)...)
		marks = append(marks, r.Landmarks(w)...)
	}
	hz := denser(grid(p.LowHz, p.HighHz, marks), s.SpreadS, len(s.Ways))
	j.response(newSearch(s, r, ascending(append(hz, s.dips(r, hz, len(marks))...))), p.HighHz)
	if c, ok := r.(Circuit); ok {
		j.electric(c)
	}
	return j.figures, j.findings
}

type judge struct {
	s    *Subject
	r    Realisation
	b    *Biquads // nil unless digital
	p    Promises
	note string
	// magnitude is the promise that the ways' magnitude is held to.
	magnitude string
	figures   []Figures
	findings  []Finding
}

// response judges what the prototype defines: magnitude, phase, group delay
// and the sum.
func (j *judge) response(se *search, hi float64) {
	n := len(j.s.Ways)
	type perWay struct{ mag, top, phase, delay *tally }
	var ways []perWay
	for w := range n {
		m := magnitudeOf(w, j.s.WayAxes[w], j.p.DownToDB)
		t := perWay{
			mag:   se.add(m, j.p.MagnitudeDB),
			top:   se.add(topOctaveOf(m, hi/2), Limit{}),
			delay: se.add(groupDelayOf(w, j.s.WayAxes[w]), Limit{}),
		}
		if n > 1 {
			t.phase = se.add(phaseOf(w, n, j.s.AllAxes, j.p.DownToDB), j.p.PhaseDeg)
		}
		ways = append(ways, t)
	}
	var sum *tally
	if n > 1 {
		sum = se.add(sumOf(n, j.s.AllAxes, j.p.DownToDB), j.p.SumDB)
	}
	se.run()
	for w, t := range ways {
		f := Figures{Realisation: j.r.Name(), Way: j.s.Ways[w]}
		f.Magnitude = j.judged(se, t.mag, j.magnitude, "dB", f.Way)
		f.TopOctave = j.extreme(se, t.top)
		f.GroupDelay = j.extreme(se, t.delay)
		if t.phase != nil {
			f.Phase = j.judged(se, t.phase, "phase", "deg", f.Way)
		}
		j.figures = append(j.figures, f)
	}
	if sum != nil {
		f := Figures{Realisation: j.r.Name(), Way: SumName}
		f.Magnitude = j.judged(se, sum, "sum", "dB", SumName)
		j.figures = append(j.figures, f)
	}
}

// SumName stands where a way's name would for what belongs to the sum.
const SumName = "sum"

// extreme is a tally's maximum without a promise.
func (j *judge) extreme(se *search, t *tally) Extreme {
	w, _ := se.worst(t)
	return j.place(w, t.axes)
}

func (j *judge) place(w found, axes []biquad.Axis) Extreme {
	if !w.ok {
		return Extreme{}
	}
	return Extreme{Known: true, Value: w.value, AtHz: w.hz, Setting: j.s.choices(axes, w.c)}
}

// judged is a tally's maximum, with a finding where the promise is on.
func (j *judge) judged(se *search, t *tally, promise, unit, way string) Extreme {
	w, broken := se.worst(t)
	e := j.place(w, t.axes)
	if t.limit.On {
		f := j.finding(promise, unit, way, e)
		f.Limit, f.Worst = t.limit.Value, math.Abs(w.value)
		f.Kept, f.Broken, f.Of = broken == 0, broken, t.count
		if !w.ok {
			f.Note = "nothing to judge: no frequency belongs to this promise here"
		}
		j.add(f)
	}
	return e
}

func (j *judge) finding(promise, unit, way string, e Extreme) Finding {
	set := e.Setting
	if set == nil {
		set = []Choice{}
	}
	return Finding{Promise: promise, Realisation: j.r.Name(), Way: way, Unit: unit,
		Setting: set, AtHz: e.AtHz, Note: j.note}
}

func (j *judge) add(f Finding) {
	if !f.Kept {
		f.Remedy = remedy(j, f)
	}
	j.findings = append(j.findings, f)
}

// levels judges the headroom: the output's level for a full-scale sine at any
// frequency below half the rate.
func (j *judge) levels(se *search) {
	se.levels = true
	var peaks []*tally
	for w := range j.s.Ways {
		peaks = append(peaks, se.add(peakOf(w, j.s.WayAxes[w], j.b.traits.InputGain), Limit{}))
	}
	se.run()
	for w, t := range peaks {
		top, _ := se.worst(t)
		top.value -= lowestDB
		e := j.place(top, t.axes)
		f := &j.figures[w]
		f.Peak = e
		f.L1DBFS = biquad.GainDB(j.b.traits.InputGain * math.Abs(biquad.L1(j.b.paths[w], top.c)))
		if !j.p.HeadroomDB.On {
			continue
		}
		limit := 0 - j.p.HeadroomDB.Value
		g := j.finding("headroom", "dBFS", f.Way, e)
		g.Note = ""
		g.Limit, g.Worst, g.Of = limit, top.value, t.count
		for _, cs := range t.each {
			if len(cs) > 0 && cs[0].estimate-lowestDB > limit+sameLevel {
				g.Broken++
			}
		}
		if g.Kept = top.value <= limit+sameLevel; !g.Kept {
			g.Broken = max(g.Broken, 1)
		} else {
			g.Broken = 0
		}
		j.add(g)
	}
}

// sameLevel (dB) keeps the rounding of a gain of exactly one from breaking a
// headroom of exactly zero: 1e-6 dB is a ten-millionth of full scale.
const sameLevel = 1e-6

// arithmetic judges noise, stability and latency.
func (j *judge) arithmetic() {
	for w := range j.s.Ways {
		f := &j.figures[w]
		f.PoleMargin = j.b.poleMargin(w)
		f.Sections = len(j.b.paths[w].Slots)
		f.LatencyS = j.b.paths[w].DelayS + math.Max(0, j.b.delayS)
		st := j.finding("stability", "1-|z|", f.Way, Extreme{})
		st.Note = ""
		st.Worst, st.Kept, st.Of = f.PoleMargin, f.PoleMargin > 0, 1
		if !st.Kept {
			st.Broken = 1
		}
		j.add(st)
		if j.b.traits.NoiseDBFS != nil {
			j.noise(w, f)
		}
		if j.p.LatencyS.On {
			l := j.finding("latency", "s", f.Way, Extreme{})
			l.Note = ""
			l.Limit, l.Worst, l.Of = j.p.LatencyS.Value, f.LatencyS, 1
			if l.Kept = l.Worst <= l.Limit; !l.Kept {
				l.Broken = 1
			}
			j.add(l)
		}
	}
}

func (j *judge) noise(w int, f *Figures) {
	axes := j.s.WayAxes[w]
	n := Finding{}
	biquad.Each(axes, len(j.s.Settings), func(c Combination) {
		v := j.b.traits.NoiseDBFS(w, c)
		n.Of++
		if j.p.NoiseDBFS.On && v > j.p.NoiseDBFS.Value {
			n.Broken++
		}
		if !f.NoiseDBFS.Known || v > f.NoiseDBFS.Value {
			f.NoiseDBFS = Extreme{Known: true, Value: v, Setting: j.s.choices(axes, slices.Clone(c))}
		}
	})
	if !j.p.NoiseDBFS.On {
		return
	}
	g := j.finding("noise", "dBFS", f.Way, f.NoiseDBFS)
	g.Note = ""
	g.Limit, g.Worst, g.Broken, g.Of = j.p.NoiseDBFS.Value, f.NoiseDBFS.Value, n.Broken, n.Of
	g.Kept = n.Broken == 0
	j.add(g)
}
