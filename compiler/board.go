package compiler

import (
	"context"
	"math"

	"bandwright/biquad"
	"bandwright/compiler/batch"
	"bandwright/compiler/board"
	"bandwright/compiler/circuit"
	"bandwright/compiler/language"
	"bandwright/compiler/netlist"
	"bandwright/compiler/promise"
)

// Means is what the stages of a spec's board may be built from.
func Means(b *language.Board) circuit.Means {
	return circuit.Means{
		Ohm:      circuit.Range{From: b.Resistors.From, To: b.Resistors.To},
		ShuntOhm: b.ShuntOhm,
		Farad:    circuit.Range{From: b.Capacitors.From, To: b.Capacitors.To},
		OpAmp: netlist.OpAmp{
			GainBandwidthHz: b.OpAmp.GainBandwidthHz,
			OpenLoopGain:    biquad.FromDB(b.OpAmp.OpenLoopDB),
			OutputOhm:       b.OpAmp.OutputOhm,
			VoltageNoise:    b.OpAmp.VoltageNoise,
			CurrentNoise:    b.OpAmp.CurrentNoise,
			VoltageCornerHz: b.OpAmp.VoltageCornerHz,
			CurrentCornerHz: b.OpAmp.CurrentCornerHz,
			OffsetV:         b.OpAmp.OffsetV,
			BiasA:           b.OpAmp.BiasA,
			SwingV:          b.OpAmp.SwingV,
			CommonModeV:     b.OpAmp.CommonModeV,
			SlewVPerS:       b.OpAmp.SlewVPerS,
			OutputA:         b.OpAmp.OutputA,
		},
	}
}

// simulate is what a batch of the board is like; nil where nothing is promised of it,
// and where its equations have no solution, which no promise about its response
// survives.
func (w *Wanted) simulate(ctx context.Context, b *board.Board) *batch.Batch {
	if b == nil || !w.batched() {
		return nil
	}
	made, err := batch.Of(ctx, w.BoardSubject(), b, batch.Terms{LowHz: w.Promises.LowHz, HighHz: w.Promises.HighHz,
		LimitDB: w.Promises.Goal(&promise.BoardSpread), Share: w.Promises.Goal(&promise.BoardYield), Verdict: w.extent.enough})
	if err != nil {
		return nil
	}
	return made
}

// buildBoard makes the board that the spec asks for. The board is nil where none
// is asked for, and where none could be made: then the problems say why.
func buildBoard(ctx context.Context, b *Wanted) (*board.Board, []board.Obstacle, []language.Fault) {
	if b.Spec.Board == nil {
		var faults []language.Fault
		for _, l := range b.Spec.Filters() {
			if l.Topology != "" {
				faults = append(faults, b.Spec.Fault(language.Warning, l.TopologyPos, "`topology` has no effect: this spec has no `board`", "add a `board`, or leave `topology` out"))
			}
		}
		return nil, nil, faults
	}
	j := b.job()
	places := map[string]language.Pos{}
	for _, l := range b.Spec.Filters() {
		places[l.Label()] = l.Pos
		if l.Topology != "" {
			places[l.Label()] = l.TopologyPos
		}
	}
	if j.Planner == nil {
		j.Planner = board.NewPlanner(j)
	}
	made, problems := board.Make(ctx, j)
	if made != nil && made.Kept != nil && (made.Kept.AskedAnew || made.Kept.Count() > 0) {
		made = b.loosened(ctx, j, made)
	}
	if made != nil && j.FewRoom {
		made = b.orExact(ctx, j, made)
	}
	var faults []language.Fault
	var noBoard []board.Obstacle
	for _, p := range problems {
		at, known := places[p.From]
		if !known {
			at = b.Spec.Board.Pos
		}
		if p.Wish {
			faults = append(faults, b.Spec.Fault(language.Error, at, p.Message, p.Right))
			continue
		}
		// The digital realisation stands without a board: a finding says that
		// there is none, and a warning why. An analog product is nothing without it.
		if b.Spec.Digital != nil {
			p.Right += ", or leave `board` out"
		}
		faults = append(faults, b.Spec.Fault(language.Warning, at, "no board was built: "+p.Message, p.Right))
		noBoard = append(noBoard, p)
	}
	return made, noBoard, faults
}

// job is what the board has to do.
func (w *Wanted) job() board.Job {
	j := board.Job{System: w.Prototype, Wishes: map[string]string{}, Spec: w.Spec.Board, Means: Means(w.Spec.Board),
		LowHz: w.Promises.LowHz, HighHz: w.Promises.HighHz,
		Cases:     w.BoardSubject().Cases(),
		DelayToHz: w.phaseTop(w.Promises.LowHz, w.Promises.HighHz)}
	goals := goalsOf(w)
	j.DelayRad = goals.DelayDeg * math.Pi / 180
	j.LimitDB, j.SumLimitDB = w.Promises.Goal(&promise.BoardMagnitude), goals.SumDB
	j.PhaseRad = goals.PhaseDeg * math.Pi / 180
	j.SumOff = !w.Promises.Limit(&promise.Sum).On
	w.fewWithin(&j)
	for _, s := range w.Settings {
		j.Choices = append(j.Choices, len(s.Choices))
	}
	for _, l := range w.Spec.Filters() {
		if l.Topology != "" {
			j.Wishes[l.Label()] = l.Topology
		}
	}
	j.Planner = w.planner
	j.Held, j.Anew, j.Without, j.Says = w.Held, w.Holding.Anew, w.Holding.Without, w.says()
	return j
}
