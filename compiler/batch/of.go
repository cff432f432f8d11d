package batch

import (
	"context"
	"math"

	"bandwright/compiler/board"
	"bandwright/compiler/language"
	"bandwright/compiler/netlist"
	"bandwright/compiler/progress"
	"bandwright/compiler/verify"
)

const (
	// Boards is how many are simulated, and triedBoards, the first of them, with parts
	// of other classes or other trimmers.
	Boards, triedBoards = 10000, 1000
	// assumedTrimDB is what trimmers can do where the spec has none and the report
	// tells what they would bring.
	assumedTrimDB = 1
	// ratedC is the temperature (°C) that values are given at.
	ratedC = 25
)

// alsoDB are the limits at which yields are told beside the promised one.
var alsoDB = [...]float64{0.5, 1}

// classes are the tolerances of capacitors whose yields are told.
var classes = [...]float64{0.01, 0.02, 0.05}

// Terms are what a batch is held to: from LowHz to HighHz, a Share (0 to 1) of all
// boards has every way and the sum within LimitDB of the prototype.
type Terms struct {
	LowHz, HighHz  float64
	LimitDB, Share float64
}

// Batch is what the boards of a batch are like.
type Batch struct {
	Terms
	Boards int
	// TrimDB is what each way's level trimmer can do; 0 for a board without. Trimmed
	// figures of a board without are those that it would have with trimmers of
	// AssumedTrimDB.
	TrimDB, AssumedTrimDB float64
	// Drifts tells that values move in use; then a board is judged as delivered, and
	// aged at its coldest and its warmest.
	Drifts bool
	Rows   []Row // of each way and, of several, the sum
	// Plain and Trimmed are the yields without and with level trim: at the promised
	// limit, then at others.
	Plain, Trimmed []Yield
	// Worst is the furthest board's place, in the row WorstRow.
	Worst    Place
	WorstRow int
	// Classes are the yields with capacitors of other tolerances, at the promised limit.
	Classes []Class
	// Rejections are those of a balanced input.
	Rejections []Rejection

	judge *judge
	lot   lot
}

// Row is a way or the sum of the ways.
type Row struct {
	Name           string
	Plain, Trimmed Percentiles
	// Within is what the promised share of the boards stays within, and Apart what the
	// same share of pairs of boards are apart from each other; both with trim where the
	// board has trimmers.
	Within, Apart Place
	Match         Percentiles // of pairs of boards
	// Highest and Lowest are the worst corners, without trim.
	Highest, Lowest Place
	// Widest is where the standard deviation, its DB, is greatest without trim; Matters
	// are the parts that make most of it.
	Widest  Place
	Matters []Matter
}

// Class is the yield with all capacitors of stages of one tolerance.
type Class struct {
	Tolerance      float64
	Plain, Trimmed Yield
}

// Of simulates a batch of a board, which a subject is the prototype of. It fails where
// the board's equations have no solution. What it returns is of no use where ctx is
// cancelled.
func Of(ctx context.Context, subject *verify.Subject, b *board.Board, t Terms) (*Batch, error) {
	j, err := newJudge(subject, b, t.LowHz, t.HighHz)
	if err != nil {
		return nil, err
	}
	x := &Batch{Terms: t, Boards: Boards, TrimDB: b.Spec.TrimDB, AssumedTrimDB: b.Spec.TrimDB, judge: j, lot: j.lotOf(b.Spec)}
	if x.AssumedTrimDB == 0 {
		x.AssumedTrimDB = assumedTrimDB
	}
	x.lot.trimDB, x.Drifts = x.AssumedTrimDB, !x.lot.drift.none()
	progress.Say(ctx, "simulating 10,000 boards")
	o := j.run(ctx, x.lot, x.TrimDB > 0)
	if ctx.Err() != nil {
		return nil, ctx.Err()
	}
	x.tell(o)
	for _, tolerance := range classes {
		c := Class{Tolerance: tolerance}
		c.Plain, c.Trimmed = x.try(ctx, j.capacitors(x.lot.tolerances, tolerance), x.AssumedTrimDB)
		x.Classes = append(x.Classes, c)
	}
	sens := j.sensitivities()
	for i, m := range j.matters(sens, x.lot.sigmas()) {
		x.Rows[i].Matters, x.Rows[i].Widest = m.parts, j.place(i, m.in, m.sigmaDB, j.Hz[m.at])
	}
	for i, c := range j.corners(ctx, b, sens, x.lot.bounds()) {
		p := j.place(c.row, c.in, c.db, c.hz)
		if i%2 == 0 {
			x.Rows[i/2].Highest = p
		} else {
			x.Rows[i/2].Lowest = p
		}
	}
	tried := x.lot
	tried.boards = triedBoards
	x.Rejections = j.rejections(b, tried)
	return x, nil
}

// tell puts the figures of what became of all boards.
func (x *Batch) tell(o *outcome) {
	j := x.judge
	judged := o.plain
	if x.TrimDB > 0 {
		judged = o.trimmed
	}
	for row := range o.rows {
		r := Row{Name: verify.SumName}
		if row < len(j.ways) {
			r.Name = j.subject.Ways[row]
		}
		at := func(all []reach) Place { return j.placed(row, all[rank(len(all), x.Share)]) }
		r.Plain, r.Trimmed = j.percentiles(row, ordered(o.plain, o.rows, row)), j.percentiles(row, ordered(o.trimmed, o.rows, row))
		r.Within = at(ordered(judged, o.rows, row))
		match := ordered(o.matched, o.rows, row)
		r.Match, r.Apart = j.percentiles(row, match), at(match)
		x.Rows = append(x.Rows, r)
	}
	for _, limit := range append([]float64{x.LimitDB}, alsoDB[:]...) {
		x.Plain, x.Trimmed = append(x.Plain, yield(o.plain, o.rows, limit)), append(x.Trimmed, yield(o.trimmed, o.rows, limit))
	}
	for row, r := range x.Rows {
		p := r.Plain.Worst
		if x.TrimDB > 0 {
			p = r.Trimmed.Worst
		}
		if math.Abs(p.DB) > math.Abs(x.Worst.DB) {
			x.Worst, x.WorstRow = p, row
		}
	}
}

// Yield is the one that the promise is about: with trim where the board has trimmers.
func (x *Batch) Yield() Yield {
	if x.TrimDB > 0 {
		return x.Trimmed[0]
	}
	return x.Plain[0]
}

// try is the yield at the promised limit, without and with trim, of the same boards
// with other tolerances.
func (x *Batch) try(ctx context.Context, tolerances []float64, trimDB float64) (plain, trimmed Yield) {
	l := x.lot
	l.boards, l.tolerances, l.trimDB = triedBoards, tolerances, trimDB
	o := x.judge.run(ctx, l, false)
	return yield(o.plain, o.rows, x.LimitDB), yield(o.trimmed, o.rows, x.LimitDB)
}

// capacitors are tolerances with all capacitors of stages at another one.
func (s *Simulator) capacitors(tolerances []float64, other float64) []float64 {
	out := append([]float64{}, tolerances...)
	for _, b := range s.blocks {
		for _, p := range b.parts {
			if p >= 0 && s.Parts[p].Kind == netlist.Capacitor {
				out[p] = other
			}
		}
	}
	return out
}

// lotOf is how a spec's boards are made and used.
func (s *Simulator) lotOf(b *language.Board) lot {
	l := lot{boards: Boards, normal: b.Normal}
	d := drift{coldK: b.ColdC - ratedC, hotK: b.HotC - ratedC}
	moves := false
	for _, p := range s.Parts {
		stock := b.Resistors
		if p.Kind == netlist.Capacitor {
			stock = b.Capacitors
		}
		moves = moves || stock.Tempco*d.warmest() > 0 || stock.Ageing > 0
		l.tolerances, d.tempco, d.ageing = append(l.tolerances, p.Tolerance), append(d.tempco, stock.Tempco), append(d.ageing, stock.Ageing)
	}
	if moves {
		l.drift = d
	}
	return l
}

// warmest is the greatest distance from the rated temperature (K).
func (d drift) warmest() float64 { return math.Max(math.Abs(d.coldK), math.Abs(d.hotK)) }

// sigmas are the standard deviations of all parts' values, relative.
func (l lot) sigmas() []float64 {
	out := make([]float64, len(l.tolerances))
	const ofUniform = 1.0 / 3 // variance over the square of the half width
	share := ofUniform
	if l.normal {
		share = 1.0 / 9
	}
	for i, t := range l.tolerances {
		v := share * t * t
		if !l.drift.none() {
			warm := l.drift.tempco[i] * l.drift.warmest()
			v += ofUniform * (l.drift.ageing[i]*l.drift.ageing[i] + warm*warm)
		}
		out[i] = math.Sqrt(v)
	}
	return out
}

// bounds are the ends of all parts' values.
func (l lot) bounds() bounds {
	var out bounds
	for i, t := range l.tolerances {
		most, least := 1+t, 1-t
		if !l.drift.none() {
			a, w := l.drift.ageing[i], l.drift.tempco[i]*l.drift.warmest()
			most, least = most*(1+a)*(1+w), least*(1-a)*(1-w)
		}
		out.most, out.least = append(out.most, most), append(out.least, least)
	}
	return out
}
