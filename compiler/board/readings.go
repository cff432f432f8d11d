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

// Limits implements verify.Limited: what would help is tried by whoever can build another board.
func (b *Board) Limits(q *verify.Quantity, way int, f verify.Finding) (cause, remedy string) {
	switch q {
	case verify.PeakAbove, verify.Magnitude, verify.Phase:
		return b.blame(way, f), ""
	case verify.Overdrive:
		x, err := b.strained(verify.Case{Way: way, C: f.C})
		if err != nil {
			return "", ""
		}
		first := x.clip()
		return fmt.Sprintf("the %s of %s, %s, node %s, is too small", first.by, first.at.Ref, first.at.of.where(), b.node(first.at)), ""
	}
	return "", ""
}

// Remedy is one thing that a board's block could say otherwise, in words.
type Remedy struct {
	Text   string
	Change func(*language.Board)
}

// Remedies are what may keep a promise of a way that the board breaks.
func (b *Board) Remedies(q *verify.Quantity, way int, f verify.Finding) []Remedy {
	switch q {
	case verify.Offset:
		// Offsets add up, so that a share of each is that share of the sum; and no
		// direct current passes a capacitor.
		farad, less := b.couplingF(), math.Ceil(f.Worst/f.Limit*10)/10
		return []Remedy{
			{"couple the outputs: board.output.coupling: " + words.Part(farad, "F"), func(x *language.Board) { x.Output.CouplingF = farad }},
			{fmt.Sprintf("use an op-amp with %s times less offset and bias-current", words.Short(less)), func(x *language.Board) {
				x.OpAmp.OffsetV /= less
				x.OpAmp.BiasA /= less
			}},
		}
	case verify.Overdrive:
		return b.overdriven(verify.Case{Way: way, C: f.C}, f)
	}
	return nil
}

// overdriven is what would keep the op-amp that clips from that. Levels are
// proportional to the input's; the tenth of a decibel is for rounding.
func (b *Board) overdriven(c verify.Case, f verify.Finding) []Remedy {
	x, err := b.strained(c)
	if err != nil {
		return nil
	}
	first := x.clip()
	more := biquad.FromDB(math.Ceil((f.Worst-f.Limit)*10+1) / 10)
	v := twoDigits(b.InputV(c)/more, math.Floor)
	text := "board.input.level: " + words.Part(v, "V")
	if setting := b.Spec.Input.Level.For(c.C); setting != "" {
		text = fmt.Sprintf("board.input.level of %s with %s", words.Part(v, "V"), setting)
	}
	out := []Remedy{{text, func(x *language.Board) { x.Input.Level = x.Input.Level.With(c.C, v) }}}
	raised := func(x float64) float64 { return twoDigits(x*more, math.Ceil) }
	switch first.by {
	case OfSwing:
		// A swing is below the rails, and no advice asks for more than op-amps are made for.
		if swing := raised(b.OpAmp.SwingV); swing < cmp.Or(b.Spec.OpAmp.RailHighV, language.MostRailV) {
			out = append(out, Remedy{fmt.Sprintf("op-amps that swing %s (board.op-amp.swing) on the supply for it", words.Part(swing, "V")), func(x *language.Board) {
				x.SupplyV += math.Max(0, swing-x.OpAmp.SwingV)
				x.OpAmp.SwingV = swing
			}})
		}
	case OfCurrent:
		ampere := raised(b.OpAmp.OutputA)
		out = append(out, Remedy{fmt.Sprintf("op-amps that give %s (board.op-amp.output-current)", words.Part(ampere, "A")), func(x *language.Board) { x.OpAmp.OutputA = ampere }})
	case OfSlew:
		slew := raised(b.OpAmp.SlewVPerS)
		out = append(out, Remedy{fmt.Sprintf("op-amps with %s V/us (board.op-amp.slew-rate)", words.Short(slew/1e6)), func(x *language.Board) { x.OpAmp.SlewVPerS = slew }})
	}
	return out
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
