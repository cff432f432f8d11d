package verify

import (
	"context"
	"fmt"

	"bandwright/biquad"
	"bandwright/compiler/words"
)

// levelsFromHz is where levels are looked at, whatever the band (Hz), and
// levelsToRate up to which part of a rate.
const (
	levelsFromHz = 1
	levelsToRate = 0.4999
)

// Judge holds a realisation to what is demanded of it: figures per way and, of
// several ways, for the sum; and a finding per demand and way, over all
// combinations of settings. Both are nil where ctx is cancelled.
func Judge(ctx context.Context, s *Subject, r Realisation, t Terms) ([]Figures, []Finding) {
	rate := 0.0
	if x, ok := r.(Sampled); ok {
		rate = x.RateHz()
	}
	lo, hi, cut := t.Band(rate)
	j := newJudge(ctx, s, r, t)
	j.highHz = hi
	var marks []Landmark
	for w := range s.Ways {
		marks = append(marks, s.Prototype.Landmarks(w)...)
		marks = append(marks, r.Landmarks(w)...)
	}
	hz := denser(grid(lo, hi, marks), s.SpreadS, len(s.Ways))
	note := s.Note
	if cut {
		note = fmt.Sprintf("checked up to %s, %s of the rate", words.Hz(hi), words.Exact(TopOfRate))
	}
	j.seek(newSearch(s, r, biquad.Ascending(append(hz, s.dips(r, hz, len(marks))...), sameHz)), note, func(int, Combination) {})
	if x, ok := r.(FullScale); ok {
		se := newSearch(s, r, grid(levelsFromHz, levelsToRate*rate, marks))
		se.levels = true
		j.seek(se, "", func(way int, c Combination) { j.figures[way].L1DBFS = x.BoundDBFS(way, c) })
	}
	if m, ok := r.(Meter); ok {
		j.read(m)
	}
	if x, ok := r.(Batched); ok {
		j.readBatch(x)
	}
	if ctx.Err() != nil {
		return nil, nil
	}
	return j.figures, j.findings
}

// newJudge prepares figures without values, and picks the demands that the realisation
// can be held to.
func newJudge(ctx context.Context, s *Subject, r Realisation, t Terms) *judge {
	j := &judge{ctx: ctx, s: s, r: r, downToDB: t.DownToDB}
	if x, ok := r.(Strays); ok {
		j.downToDB = x.DownToDB()
	}
	for _, d := range t.Demands {
		if d.MeasuredOf(r) {
			j.demands = append(j.demands, d)
		}
	}
	for _, name := range s.Ways {
		j.figures = append(j.figures, Figures{Realisation: r.Name(), Way: name})
	}
	if len(s.Ways) > 1 {
		j.figures = append(j.figures, Figures{Realisation: r.Name(), Way: SumName})
	}
	return j
}

type judge struct {
	ctx      context.Context
	s        *Subject
	r        Realisation
	highHz   float64
	downToDB float64
	demands  []Demand  // those that the realisation can be held to
	figures  []Figures // of each way, then of the sum where there are several
	findings []Finding
}

// on are the demands on a quantity.
func (j *judge) on(q *Quantity) []Demand {
	var out []Demand
	for _, d := range j.demands {
		if d.Of == q {
			out = append(out, d)
		}
	}
	return out
}

// seek finds the worst of what is a function of frequency: the realisation's own
// levels, or all else. found is called with the combination of each.
func (j *judge) seek(se *search, note string, found func(row int, c Combination)) {
	type wanted struct {
		row int
		q   *Quantity
		t   *tally
		d   *Demand // nil for a figure that nothing is demanded of
	}
	var all []wanted
	for i := range j.figures {
		for _, q := range sought {
			if q.level != se.levels {
				continue
			}
			m, ok := q.over(j, i)
			if !ok {
				continue
			}
			demands := j.on(q)
			for k := range demands {
				d := &demands[k]
				all = append(all, wanted{i, q, se.add(m, bound{true, d.Limit + d.Slack - m.zero}), d})
			}
			if demands == nil {
				all = append(all, wanted{i, q, se.add(m, bound{}), nil})
			}
		}
	}
	se.run(j.ctx)
	if j.ctx.Err() != nil {
		return
	}
	worst := se.worstOfEach()
	for i, x := range all {
		w, broken := worst[i].found, worst[i].broken
		var e Extreme
		if w.ok {
			e = Extreme{Known: true, Value: w.value + x.t.zero, AtHz: w.hz, With: j.s.choices(x.t.axes, w.c), C: w.c}
		}
		x.q.keep(&j.figures[x.row], e)
		found(x.row, w.c)
		if x.d == nil {
			continue
		}
		why := note
		if !w.ok {
			why = "not checked: no frequency lies in this promise's range"
		}
		j.find(x.d, x.row, e, broken, x.t.count, why)
	}
}

// read judges what the realisation is read for.
func (j *judge) read(m Meter) {
	cases := j.s.Cases()
	readings := m.Readings(j.ctx, cases)
	for _, quantities := range read {
		for way := range j.s.Ways {
			for _, q := range quantities {
				j.reading(way, q, cases, readings)
			}
		}
	}
}

// reading judges one quantity of one way.
func (j *judge) reading(way int, q *Quantity, cases []Case, readings [][]Reading) {
	var worst Extreme
	note := ""
	demands := j.on(q)
	broken, of := make([]int, len(demands)), 0
	for i, c := range cases {
		if c.Way != way {
			continue
		}
		for _, x := range readings[i] {
			if x.Of != q {
				continue
			}
			if !worst.Known || q.worse(x.Value, worst.Value) {
				worst = Extreme{Known: true, Value: x.Value, AtHz: x.AtHz}
				if note = x.Note; c.C != nil {
					worst.With, worst.C, note = j.s.choices(j.s.WayAxes[way], c.C), c.C, j.s.Note
				}
			}
			of += max(1, x.Combinations)
			for k, d := range demands {
				switch {
				case x.Combinations > 0:
					broken[k] += x.Broken
				case d.breaks(d.counted(j.r, x.Value)):
					broken[k]++
				}
			}
		}
	}
	if !worst.Known {
		return
	}
	if q.keep != nil {
		q.keep(&j.figures[way], worst)
	}
	for k := range demands {
		j.find(&demands[k], way, worst, broken[k], of, note)
	}
}

// JudgeBatch are the findings on a batch alone.
func JudgeBatch(s *Subject, r Realisation, t Terms) []Finding {
	j := newJudge(context.Background(), s, r, t)
	if x, ok := r.(Batched); ok {
		j.readBatch(x)
	}
	return j.findings
}

// readBatch judges what a batch's units are read for.
func (j *judge) readBatch(x Batched) {
	all := len(j.figures) // together
	for _, q := range units {
		for _, r := range x.OfBatch() {
			if r.Of != q {
				continue
			}
			note := r.Note
			if j.s.Note != "" {
				note += "; " + j.s.Note
			}
			for _, d := range j.on(q) {
				broken := 0
				if d.breaks(d.counted(j.r, r.Value)) {
					broken = 1
				}
				j.find(&d, all, Extreme{Known: true, Value: r.Value, AtHz: r.AtHz, With: r.With, C: r.C}, broken, 1, note)
			}
		}
	}
}

// find adds what has become of a demand.
func (j *judge) find(d *Demand, row int, e Extreme, broken, of int, note string) {
	way := "" // all together
	if row < len(j.figures) {
		way = j.figures[row].Way
	}
	f := Finding{Promise: d.Name, About: d.About, Realisation: j.r.Name(), Way: way, With: e.With, C: e.C, Limit: d.Limit, Worst: d.counted(j.r, e.Value),
		Unit: d.Unit, LessIsWorse: d.LessIsWorse, AtLeast: d.AtLeast, AtHz: e.AtHz, Kept: broken == 0, Broken: broken, Of: of, Note: note}
	if f.With == nil {
		f.With = []Choice{}
	}
	switch {
	case f.About != "":
	case way == SumName:
		f.About = d.Name + " of the sum of the ways"
	default:
		f.About = d.Name + " of " + way
	}
	if !f.Kept {
		j.explain(d, row, &f)
	}
	j.findings = append(j.findings, f)
}

// explain adds to a broken finding what held the realisation back, and what
// would mend it.
func (j *judge) explain(d *Demand, row int, f *Finding) {
	if x, ok := j.r.(Limited); ok {
		cause, remedy := x.Limits(d.Of, row, *f)
		if f.Note != "" && cause != "" {
			cause = "; " + cause
		}
		f.Note += cause
		f.Remedy = remedy
	}
	if d.Loosened == nil {
		return
	}
	if f.Remedy != "" {
		f.Remedy += ", or "
	}
	f.Remedy += "allow promise." + d.Name + ": " + d.Loosened(f.Worst)
}
