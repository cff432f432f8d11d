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
	// verdictBoards, the first of all, are enough where it is clear by them whether the
	// promised share is kept.
	verdictBoards = 2000
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
	// Verdict asks for the figures of the promises alone, with as many boards as that
	// takes: no worst corners, parts that matter, classes and rejections.
	Verdict bool
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
	// Within is what the promised share of boards stays within, every way and the sum, and
	// Furthest the furthest board; Apart is what the same share of pairs of boards are
	// apart from each other. All are with trim where the board has trimmers.
	Within, Furthest, Apart RowPlace
	// Classes are the yields with capacitors of other tolerances, at the promised limit.
	Classes []Class
	// Rejections are those of a balanced input.
	Rejections []Rejection
	// Purchase is which class every part is bought in; nil where all come in one.
	Purchase *Purchase

	judge *judge
	lot   lot
}

// Row is a way or the sum of the ways.
type Row struct {
	Name           string
	Plain, Trimmed Percentiles
	Match          Percentiles // of pairs of boards, with trim where the board has trimmers
	// Highest and Lowest are the worst corners, without trim.
	Highest, Lowest Place
	// Widest is where the standard deviation, its DB, is greatest without trim; Matters
	// are the parts that make most of it.
	Widest  Place
	Matters []Matter
	// Spreads are the standard deviations in every combination of settings that the row is judged
	// in, the default one first.
	Spreads []Spread
}

// RowPlace is a deviation of a way or of the sum.
type RowPlace struct {
	Row string
	Place
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
	x := &Batch{Terms: t, Boards: Boards, TrimDB: b.Spec.TrimDB, AssumedTrimDB: b.Spec.TrimDB, judge: j}
	if x.AssumedTrimDB == 0 {
		x.AssumedTrimDB = assumedTrimDB
	}
	if b.Spec.Resistors.InClasses() || b.Spec.Capacitors.InClasses() {
		progress.Say(ctx, "choosing the tolerance of each part")
		x.Purchase = j.purchase(ctx, b.Spec, t)
	}
	x.lot = j.lotOf(b.Spec)
	x.lot.trimDB, x.Drifts = x.AssumedTrimDB, !x.lot.drift.none()
	if t.Verdict {
		return x, x.decide(ctx)
	}
	progress.Say(ctx, "simulating 10,000 boards")
	x.tell(j.run(ctx, x.lot, x.pairs()))
	for _, tolerance := range classes {
		l := x.lot
		l.boards, l.tolerances = triedBoards, j.tolerances(x.lot, netlist.Capacitor, func(float64) float64 { return tolerance })
		o := j.run(ctx, l, unpaired)
		x.Classes = append(x.Classes, Class{tolerance, yield(o.plain, o.rows, x.LimitDB), yield(o.trimmed, o.rows, x.LimitDB)})
	}
	if ctx.Err() != nil {
		return nil, ctx.Err()
	}
	sens := j.sensitivities()
	for i, m := range j.matters(sens, x.lot.sigmas()) {
		x.Rows[i].Matters, x.Rows[i].Spreads, x.Rows[i].Widest = m.parts, m.spreads, j.place(i, m.in, m.sigmaDB, j.Hz[m.at])
	}
	for i, c := range j.corners(ctx, b, sens, x.lot.bounds()) {
		p := j.place(c.row, c.in, c.db, c.hz)
		if i%2 == 0 {
			x.Rows[i/2].Highest = p
		} else {
			x.Rows[i/2].Lowest = p
		}
	}
	x.Rejections = j.rejections(b)
	return x, nil
}

// decide simulates as many boards as it takes to see on which side of the promise the
// yield is, with its confidence, and at most all of them.
func (x *Batch) decide(ctx context.Context) error {
	progress.Say(ctx, "simulating boards")
	few := *x
	few.Boards, few.lot.boards = verdictBoards, verdictBoards
	few.tell(few.judge.run(ctx, few.lot, few.pairs()))
	if y := few.Yield(); y.Low > x.Share || y.High < x.Share {
		*x = few
	} else {
		x.tell(x.judge.run(ctx, x.lot, x.pairs()))
	}
	return ctx.Err()
}

// tell puts the figures of what became of all boards.
func (x *Batch) tell(o *outcome) {
	j := x.judge
	for row := range o.rows {
		x.Rows = append(x.Rows, Row{Name: j.name(row), Match: j.percentiles(row, ordered(o.matched, o.rows, row)),
			Plain: j.percentiles(row, ordered(o.plain, o.rows, row)), Trimmed: j.percentiles(row, ordered(o.trimmed, o.rows, row))})
	}
	judged := o.plain
	if x.TrimDB > 0 {
		judged = o.trimmed
	}
	last := func(all []reach, share float64) RowPlace {
		r := all[rank(len(all), share)]
		return RowPlace{j.name(int(r.row)), j.placed(int(r.row), r)}
	}
	boards := ordered(together(judged, o.rows), 1, 0)
	x.Within, x.Furthest = last(boards, x.Share), last(boards, 1)
	x.Apart = last(ordered(together(o.matched, o.rows), 1, 0), x.Share)
	for _, limit := range append([]float64{x.LimitDB}, alsoDB[:]...) {
		x.Plain, x.Trimmed = append(x.Plain, yield(o.plain, o.rows, limit)), append(x.Trimmed, yield(o.trimmed, o.rows, limit))
	}
}

// pairs is how two boards are compared.
func (x *Batch) pairs() pairs {
	if x.TrimDB > 0 {
		return afterTrim
	}
	return untrimmed
}

// name is what a row is called.
func (j *judge) name(row int) string {
	if row < len(j.ways) {
		return j.subject.Ways[row]
	}
	return verify.SumName
}

// Yield is the one that the promise is about: with trim where the board has trimmers.
func (x *Batch) Yield() Yield {
	if x.TrimDB > 0 {
		return x.Trimmed[0]
	}
	return x.Plain[0]
}

// Change is what a spec could say otherwise of its batch; 0 leaves as it is.
type Change struct {
	// Resistors and Capacitors are tolerances that those of stages keep at most.
	Resistors, Capacitors float64
	TrimDB                float64
}

// With is what the same boards are like with a change: their yields and percentiles,
// nothing else.
func (x *Batch) With(ctx context.Context, c Change) *Batch {
	out := &Batch{Terms: x.Terms, Boards: x.Boards, TrimDB: x.TrimDB, AssumedTrimDB: x.AssumedTrimDB, Drifts: x.Drifts, judge: x.judge, lot: x.lot}
	if c.TrimDB > 0 {
		out.TrimDB, out.AssumedTrimDB, out.lot.trimDB = c.TrimDB, c.TrimDB, c.TrimDB
	}
	limit := func(kind netlist.Kind, most float64) {
		if most > 0 {
			out.lot.tolerances = x.judge.tolerances(out.lot, kind, func(t float64) float64 { return min(t, most) })
		}
	}
	limit(netlist.Resistor, c.Resistors)
	limit(netlist.Capacitor, c.Capacitors)
	out.tell(x.judge.run(ctx, out.lot, out.pairs()))
	return out
}

// tolerances are those of a lot with others for one kind of parts of stages.
func (s *Simulator) tolerances(l lot, kind netlist.Kind, other func(float64) float64) []float64 {
	out := append([]float64{}, l.tolerances...)
	for _, b := range s.blocks {
		for _, p := range b.parts {
			if p >= 0 && s.Parts[p].Kind == kind {
				out[p] = other(out[p])
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
		moves = moves || p.Tempco*d.warmest() > 0 || p.Ageing > 0
		l.tolerances, d.tempco, d.ageing = append(l.tolerances, p.Tolerance), append(d.tempco, p.Tempco), append(d.ageing, p.Ageing)
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
