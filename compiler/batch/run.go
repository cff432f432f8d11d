package batch

import (
	"context"

	"bandwright/compiler/parallel"
)

// lot is how a batch is made and used.
type lot struct {
	boards     int // even: boards are compared two by two
	normal     bool
	tolerances []float64 // of each part
	trimDB     float64   // what each way's trimmer can do
	drift      drift
}

// drift is how far values move in use, each part by itself: relative per kelvin
// and over the years, of each part; and the coldest and warmest board (K, from the
// temperature that values are given at).
type drift struct {
	tempco, ageing []float64
	coldK, hotK    float64
}

// none tells that nothing drifts.
func (d drift) none() bool { return d.tempco == nil && d.ageing == nil }

// outcome is what became of every board of a lot: by board and row, without trim and
// with it; and of two by two boards.
type outcome struct {
	boards, rows   int
	plain, trimmed []reach
	matched        []reach // as the judged ones are, without trim or with it
}

// inTurn is how many boards one worker makes in turn: even, and fixed, so that
// results do not hang on the number of processors.
const inTurn = 200

// pairs says whether boards are compared two by two, and how.
type pairs uint8

const (
	unpaired pairs = iota
	untrimmed
	afterTrim
)

// run simulates a lot. The outcome is of no use where ctx is cancelled.
func (j *judge) run(ctx context.Context, l lot, compare pairs) *outcome {
	rows := j.rows()
	o := &outcome{boards: l.boards, rows: rows, plain: make([]reach, l.boards*rows), trimmed: make([]reach, l.boards*rows)}
	if compare != unpaired {
		o.matched = make([]reach, l.boards/2*rows)
	}
	parallel.Each((l.boards+inTurn-1)/inTurn, func(chunk int) {
		w := j.worker(l)
		for n := chunk * inTurn; n < min(l.boards, (chunk+1)*inTurn); n++ {
			if ctx.Err() != nil {
				return
			}
			w.make(n)
			w.keep(o.plain[n*rows:(n+1)*rows], o.trimmed[n*rows:(n+1)*rows])
			if n%2 == 1 && compare != unpaired {
				for row := range rows {
					o.matched[n/2*rows+row] = j.apart(w.before, w.meter, row, compare == afterTrim)
				}
			}
			w.meter, w.before = w.before, w.meter
		}
	})
	return o
}

// worker makes one board after another.
type worker struct {
	*judge
	lot
	unit *Unit
	// meter is of this board as delivered, before of the one before it, and later
	// of this one in use.
	meter, before, later *meter
	drawn, deviations    []float64
	warm, aged           []float64
	// look is called with every state that a board is judged in; nil for nobody.
	look func(*meter)
}

func (j *judge) worker(l lot) *worker {
	n := len(j.Parts)
	return &worker{judge: j, lot: l, unit: j.Unit(), meter: j.meter(), before: j.meter(), later: j.meter(),
		drawn: make([]float64, n), deviations: make([]float64, n), warm: make([]float64, n), aged: make([]float64, n)}
}

// make makes a board and measures it: as delivered, where its trimmers are set, and
// where values drift also aged, at its coldest and its warmest.
func (w *worker) make(board int) {
	draw(w.drawn, board, asMade, w.normal)
	for i, z := range w.drawn {
		w.deviations[i] = z * w.tolerances[i]
	}
	m := w.meter
	m.begin()
	w.unit.Set(w.deviations)
	w.takeWays(w.unit, m)
	w.trim(m, w.trimDB)
	w.takeSums(w.unit, m)
	if w.look != nil {
		w.look(m)
	}
	if w.drift.none() {
		return
	}
	w.later.extremes, w.later.gains = m.extremes, m.gains
	draw(w.warm, board, byHeat, false)
	draw(w.aged, board, byAgeing, false)
	for _, kelvin := range [...]float64{w.drift.coldK, w.drift.hotK} {
		for i, z := range w.drawn {
			w.deviations[i] = (1+z*w.tolerances[i])*(1+w.aged[i]*w.drift.ageing[i])*(1+w.warm[i]*w.drift.tempco[i]*kelvin) - 1
		}
		w.unit.Set(w.deviations)
		w.takeWays(w.unit, w.later)
		w.takeSums(w.unit, w.later)
		if w.look != nil {
			w.look(w.later)
		}
	}
}

// keep puts what was measured.
func (w *worker) keep(plain, trimmed []reach) {
	m, ways := w.meter, len(w.ways)
	for k := range ways {
		plain[k], trimmed[k] = m.extremes[k].reach(1), m.extremes[k].reach(m.gains[k])
	}
	if w.rows() > ways {
		plain[ways], trimmed[ways] = m.extremes[ways].reach(1), m.extremes[ways+1].reach(1)
	}
}
