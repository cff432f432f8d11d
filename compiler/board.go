package compiler

import (
	"fmt"
	"math"
	"slices"

	"bandwright/biquad"
	"bandwright/compiler/board"
	"bandwright/compiler/circuit"
	"bandwright/compiler/language"
	"bandwright/compiler/netlist"
	"bandwright/compiler/verify"
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
		},
	}
}

// mostCombinations is up to how many combinations of settings a way's board is
// analysed in all of them. A board takes 10 ms a combination.
const mostCombinations = 64

// buildBoard makes the board that the spec asks for.
func buildBoard(b *Build) []language.Fault {
	if b.Spec.Board == nil {
		var faults []language.Fault
		for _, l := range b.ideals.all() {
			if l.Topology != "" {
				faults = append(faults, b.Spec.Fault(language.Warning, l.TopologyPos, "`topology` changes nothing: this spec has no `board`", "add a `board`, or leave `topology` out"))
			}
		}
		return faults
	}
	j := board.Job{System: b.Prototype, Wishes: map[string]string{}, Spec: b.Spec.Board, Means: Means(b.Spec.Board),
		LowHz: b.Promises.LowHz, HighHz: b.Promises.HighHz,
		DelayToHz: phaseTop(b, b.Promises.LowHz, b.Promises.HighHz)}
	goals := goalsOf(b)
	j.DelayRad = goals.DelayDeg * math.Pi / 180
	j.LimitDB, j.SumLimitDB = defaultMagnitudeDB, goals.SumDB
	j.PhaseRad = goals.PhaseDeg * math.Pi / 180
	j.FewDB, j.FewSumDB = j.Spec.FewDB, j.Spec.FewDB
	if l := b.Promises.BoardMagnitudeDB; l.On {
		j.LimitDB, j.FewDB = l.Value, min(j.FewDB, l.Value)
	}
	if b.Promises.PhaseDeg.On {
		j.FewPhaseRad = j.PhaseRad
	}
	if l := b.Promises.SumDB; l.On {
		j.FewSumDB = min(j.FewSumDB, l.Value)
	}
	for _, s := range b.Settings {
		j.Choices = append(j.Choices, len(s.Choices))
	}
	places := map[string]language.Pos{}
	for _, l := range b.ideals.all() {
		places[l.Label()] = l.Pos
		if l.Topology != "" {
			j.Wishes[l.Label()] = l.Topology
			places[l.Label()] = l.TopologyPos
		}
	}
	made, problems := board.Make(j)
	var faults []language.Fault
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
		// there is none, and a warning why.
		faults = append(faults, b.Spec.Fault(language.Warning, at, "no board is made: "+p.Message, p.Right))
		b.unbuilt = append(b.unbuilt, p)
	}
	b.Board = made
	return faults
}

// judgeBoard holds the board against the promises.
func judgeBoard(b *Build) {
	if len(b.unbuilt) > 0 {
		b.Findings = append(b.Findings, verify.Finding{Promise: "board", Realisation: board.RealisationName, Setting: []verify.Choice{},
			Unit: "filters", Worst: float64(len(b.unbuilt)), Broken: 1, Of: 1,
			Note: "no board is made", Remedy: b.unbuilt[0].Right + ": " + b.unbuilt[0].Message})
	}
	if b.Board == nil {
		return
	}
	s := b.Subject()
	if all := biquad.Count(s.AllAxes); all > mostCombinations {
		s.Only = b.sample(s)
		s.Note = fmt.Sprintf("analysed in %d of %d combinations: ways with at most %d in all of theirs, of the others each choice by itself and the extremes",
			len(s.Only), all, mostCombinations)
	}
	figures, findings := verify.JudgeBoard(s, b.Board, b.Promises)
	b.Figures = append(b.Figures, figures...)
	b.Findings = append(b.Findings, findings...)
}

// sample are the combinations that stand for all: those of every way that has
// few, each choice by itself, and for every way the loudest choices together
// and the quietest.
func (b *Build) sample(s *verify.Subject) []verify.Combination {
	var out []verify.Combination
	seen := map[string]bool{}
	add := func(c verify.Combination) {
		if c = slices.Clone(c); !seen[string(c)] {
			seen[string(c)] = true
			out = append(out, c)
		}
	}
	add(make(verify.Combination, len(b.Settings)))
	for _, axes := range s.WayAxes {
		if biquad.Count(axes) <= mostCombinations {
			biquad.Each(axes, len(b.Settings), add)
		}
	}
	for _, ax := range s.AllAxes {
		for k := range ax.Choices {
			c := make(verify.Combination, len(b.Settings))
			c[ax.Setting] = uint8(k)
			add(c)
		}
	}
	for way, axes := range s.WayAxes {
		least, most := make(verify.Combination, len(b.Settings)), make(verify.Combination, len(b.Settings))
		for _, ax := range axes {
			low, high := math.Inf(1), math.Inf(-1)
			for k := range ax.Choices {
				c := make(verify.Combination, len(b.Settings))
				c[ax.Setting] = uint8(k)
				level := b.meanLevel(way, c)
				if level < low {
					low, least[ax.Setting] = level, uint8(k)
				}
				if level > high {
					high, most[ax.Setting] = level, uint8(k)
				}
			}
		}
		add(least)
		add(most)
	}
	return out
}

// meanLevel is a way's mean level in dB over the band, a third of an octave
// apart.
func (b *Build) meanLevel(way int, c verify.Combination) float64 {
	var hz []float64
	for f := b.Promises.LowHz; f < b.Promises.HighHz; f *= math.Exp2(1.0 / 3) {
		hz = append(hz, f)
	}
	h := make([]complex128, len(hz))
	biquad.AnalogAt(h, b.Prototype.Path(way), c, hz)
	sum := 0.0
	for _, v := range h {
		sum += biquad.DB(v)
	}
	return sum / float64(len(hz))
}
