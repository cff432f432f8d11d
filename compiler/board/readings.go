package board

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"
	"strconv"

	"bandwright/biquad"
	"bandwright/compiler/language"
	"bandwright/compiler/netlist"
	"bandwright/compiler/parallel"
	"bandwright/compiler/verify"
	"bandwright/compiler/words"
)

const (
	// noiseFromHz and noiseToHz are what noise is summed over, as that of numbers is.
	noiseFromHz, noiseToHz = 20.0, 20e3
	// roomK (K) is the temperature of noise figures, 27 °C as circuit simulators have
	// it.
	roomK = 300.15
)

// InputV is the level (V RMS) that the input is made for in a case: the greatest of all
// where the way does not depend on the setting that has levels.
func (b *Board) InputV(c verify.Case) float64 {
	l := b.Spec.Input.Level
	if l.By >= 0 && !slices.Contains(b.Common.Settings(), l.By) && !slices.Contains(b.Ways[c.Way].Settings(), l.By) {
		return l.In(nil)
	}
	return l.In(c.C)
}

// DownToDB implements verify.Strays.
func (b *Board) DownToDB() float64 { return -downDB }

// Reads implements verify.Meter.
func (b *Board) Reads() []*verify.Quantity {
	return []*verify.Quantity{verify.NoiseV, verify.NoiseAV, verify.Offset, verify.Clip, verify.Overdrive, verify.PeakAbove}
}

// Readings implements verify.Meter: noise and DC offset at each way's output, and
// the sine at the input with which the first op-amp of the way, common stages
// included, reaches its swing, its output current or its slew rate.
func (b *Board) Readings(ctx context.Context, cases []verify.Case) [][]verify.Reading {
	out := make([][]verify.Reading, len(cases))
	above := b.aboveBand(cases)
	together := byCombination(cases)
	parallel.Each(len(together), func(k int) {
		if ctx.Err() != nil {
			return
		}
		b.rest(cases, together[k])
		for _, i := range together[k] {
			out[i] = b.readings(cases[i], above.grid, above.levels[i])
		}
	})
	return out
}

// readings are those of one case; none where its equations have no solution, which
// no promise about its response survives. levels are the way's above the band.
func (b *Board) readings(c verify.Case, grid, levels []float64) []verify.Reading {
	rest, err := b.AtRest(c)
	if err != nil {
		return nil
	}
	all := []verify.Reading{{Of: verify.NoiseV, Value: rest.NoiseV}, {Of: verify.NoiseAV, Value: rest.NoiseAV}, {Of: verify.Offset, Value: rest.OffsetV}}
	x, err := b.strained(c)
	if err != nil {
		return nil
	}
	above, err := b.peakAbove(c, x, grid, levels)
	if err != nil {
		return nil
	}
	if first := x.clip(); first.share > 0 {
		v := first.clipV()
		all = append(all, verify.Reading{Of: verify.Clip, Value: v, AtHz: first.hz},
			verify.Reading{Of: verify.Overdrive, Value: biquad.GainDB(b.InputV(c) / v), AtHz: first.hz})
	}
	return append(all, above)
}

// Rest is what a way's output has with the input at rest: noise (V RMS) from 20 Hz to
// 20 kHz, flat and A-weighted, and the DC voltage (V, of either sign) with every offset and
// bias current at its worst.
type Rest struct{ NoiseV, NoiseAV, OffsetV float64 }

// AtRest is that of a case, worked out once. It fails where the equations have no solution.
func (b *Board) AtRest(c verify.Case) (Rest, error) {
	if known, ok := b.wiring.rests.Load(strainKey(c)); ok {
		return known.(Rest), nil
	}
	rests, err := b.resting(c.C, c.Way)
	if err != nil {
		return Rest{}, err
	}
	b.wiring.rests.Store(strainKey(c), rests[0])
	return rests[0], nil
}

// rest works out those of some cases of one combination, by index, which share the
// solutions. Those without one are left to AtRest, to say so.
func (b *Board) rest(cases []verify.Case, which []int) {
	var ways []int
	for _, i := range which {
		ways = append(ways, cases[i].Way)
	}
	rests, err := b.resting(cases[which[0]].C, ways...)
	if err != nil {
		return
	}
	for n, i := range which {
		b.wiring.rests.Store(strainKey(cases[i]), rests[n])
	}
}

// resting is Rest for some ways in one combination.
func (b *Board) resting(c verify.Combination, ways ...int) ([]Rest, error) {
	s, outs := b.wiring.in(c), make([]netlist.Node, len(ways))
	for n, way := range ways {
		outs[n] = b.wiring.outs[way]
	}
	flat, weighted, err := s.IntegratedNoise(outs, roomK, noiseFromHz, noiseToHz)
	if err != nil {
		return nil, err
	}
	rests := make([]Rest, len(ways))
	for n, out := range outs {
		offset, err := s.Offsets(out)
		if err != nil {
			return nil, err
		}
		rests[n] = Rest{flat[n], weighted[n], offset.Worst}
	}
	return rests, nil
}

// Limits implements verify.Limited.
func (b *Board) Limits(q *verify.Quantity, way int, f verify.Finding) (cause, remedy string) {
	switch q {
	case verify.Offset:
		// Offsets add up, so that a share of each is that share of the sum; and no
		// direct current passes a capacitor.
		return "", fmt.Sprintf("couple the outputs: board.output.coupling: %s, or use an op-amp with %s times less offset and bias-current",
			words.Part(b.couplingF(), "F"), words.Short(math.Ceil(f.Worst/f.Limit*10)/10))
	case verify.PeakAbove, verify.Magnitude, verify.Phase:
		return b.blame(way, f), ""
	case verify.Overdrive:
		return b.overdriven(verify.Case{Way: way, C: f.C}, f)
	}
	return "", "" // whoever can build another board tries what would help
}

// overdriven says which op-amp clips, and what would keep it from that. Levels are
// proportional to the input's; the tenth of a decibel is for rounding.
func (b *Board) overdriven(c verify.Case, f verify.Finding) (cause, remedy string) {
	x, err := b.strained(c)
	if err != nil {
		return "", ""
	}
	first := x.clip()
	more := biquad.FromDB(math.Ceil((f.Worst-f.Limit)*10+1) / 10)
	level := words.Part(twoDigits(b.InputV(c)/more, math.Floor), "V")
	remedy = "board.input.level: " + level
	if setting := b.Spec.Input.Level.For(c.C); setting != "" {
		remedy = fmt.Sprintf("board.input.level of %s with %s", level, setting)
	}
	raised := func(x float64) float64 { return twoDigits(x*more, math.Ceil) }
	switch first.by {
	case OfSwing:
		// A swing is below the rails, and no advice asks for more than op-amps are made for.
		if swing := raised(b.OpAmp.SwingV); swing < cmp.Or(b.Spec.OpAmp.RailHighV, language.MostRailV) {
			remedy += fmt.Sprintf(", or op-amps that swing %s (board.op-amp.swing) on the supply for it", words.Part(swing, "V"))
		}
	case OfCurrent:
		remedy += fmt.Sprintf(", or op-amps that give %s (board.op-amp.output-current)", words.Part(raised(b.OpAmp.OutputA), "A"))
	case OfSlew:
		remedy += fmt.Sprintf(", or op-amps with %s V/us (board.op-amp.slew-rate)", words.Short(raised(b.OpAmp.SlewVPerS)/1e6))
	}
	return fmt.Sprintf("the %s of %s, %s, node %s, is too small", first.by, first.at.Ref, first.at.of.where(), b.node(first.at)), remedy
}

// node is the name of the node that an op-amp's output is at.
func (b *Board) node(a *amplifier) string { return b.wiring.circuit.Name(a.Nodes[2]) }

// twoDigits rounds a positive value to two significant digits by floor or ceiling.
func twoDigits(v float64, round func(float64) float64) float64 {
	ten := int(math.Floor(math.Log10(v))) - 1
	digits := round(v / biquad.FromDB(20*float64(ten)))
	out, _ := strconv.ParseFloat(fmt.Sprintf("%.0fe%d", digits, ten), 64) // no error: digits are
	return out
}

var _ interface {
	verify.Strays
	verify.Meter
	verify.Limited
} = (*Board)(nil)
