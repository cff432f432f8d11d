package diagnosis

import (
	"math"

	"bandwright/biquad"
	"bandwright/compiler/board"
	"bandwright/compiler/verify"
)

// Effect is what a part does that is missing or shorted.
type Effect struct {
	Ref   string
	Value float64 // ohm or farad
	Unit  string
	// Missing and Shorted are by way.
	Missing, Shorted []WayEffect
}

// WayEffect is what becomes of one way's output: the greatest change (dB) and where (Hz).
type WayEffect struct {
	DB, Hz float64
	// Silent tells that everywhere less than silentDB re the nominal output is left, All that the
	// change is the same at all frequencies, within a tenth of a dB.
	Silent, All bool
}

// silentDB is below which an output is called silent.
const silentDB = -40.0

// mostDB is the greatest loss that is told apart (dB).
const mostDB = 200.0

// Effects are what parts do, by reference, that are missing or shorted, to the outputs of a board in one
// combination, from lowHz to highHz. References that are no resistors or capacitors are left out. It fails
// where the board's equations have no solution.
func Effects(subject *verify.Subject, b *board.Board, c verify.Combination, lowHz, highHz float64) (map[string]Effect, error) {
	var ways []int
	for w := range b.Ways {
		ways = append(ways, w)
	}
	x, err := newBench(subject, b, nil, ways, c, Conditions{LowHz: lowHz, HighHz: highHz})
	if err != nil {
		return nil, err
	}
	out := map[string]Effect{}
	for i, p := range x.Parts {
		out[p.Ref] = Effect{p.Ref, p.Value, unitOf(p.Kind), x.effect(i, gone), x.effect(i, bridged)}
	}
	return out, nil
}

// effect is that of one fault, by way.
func (x *Bench) effect(part int, factor float64) []WayEffect {
	f := Fault{parts: [2]int{part, -1}, factors: [2]float64{factor, 1}}
	out := make([]WayEffect, len(x.ways))
	least, most := make([]float64, len(x.ways)), make([]float64, len(x.ways))
	for c := range out {
		out[c].Silent, least[c], most[c] = true, math.Inf(1), math.Inf(-1)
	}
	for i, at := range x.places {
		db := math.Max(-mostDB, biquad.DB(x.response(at, &f)/x.nominalAt(i, at)))
		e := &out[at.column]
		e.Silent = e.Silent && db < silentDB
		if math.Abs(db) > math.Abs(e.DB) {
			e.DB, e.Hz = db, x.hz[at.f]
		}
		least[at.column], most[at.column] = math.Min(least[at.column], db), math.Max(most[at.column], db)
	}
	for c := range out {
		out[c].All = most[c]-least[c] < 0.1
	}
	return out
}
