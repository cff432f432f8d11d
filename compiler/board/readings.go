package board

import (
	"context"
	"fmt"
	"math"
	"strconv"

	"bandwright/biquad"
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

// InputV implements verify.Driven: the level (V RMS) that the input is made for.
func (b *Board) InputV() float64 { return b.Spec.Input.LevelV }

// DownToDB implements verify.Strays.
func (b *Board) DownToDB() float64 { return -downDB }

// Reads implements verify.Meter.
func (b *Board) Reads() []*verify.Quantity {
	return []*verify.Quantity{verify.NoiseV, verify.NoiseAV, verify.Offset, verify.Clip, verify.PeakAbove}
}

// Readings implements verify.Meter: noise and DC offset at each way's output, and
// the sine at the input with which the first op-amp of the way, common stages
// included, reaches its swing.
func (b *Board) Readings(ctx context.Context, cases []verify.Case) [][]verify.Reading {
	out := make([][]verify.Reading, len(cases))
	parallel.Each(len(cases), func(i int) {
		if c := cases[i]; c.C != nil && ctx.Err() == nil {
			out[i] = b.readings(c)
		}
	})
	return out
}

// readings are those of one case; none where its equations have no solution, which
// no promise about its response survives.
func (b *Board) readings(c verify.Case) []verify.Reading {
	s, out := b.wiring.in(c.C), b.wiring.outs[c.Way]
	flat, weighted, err := s.IntegratedNoise(out, roomK, noiseFromHz, noiseToHz)
	if err != nil {
		return nil
	}
	offset, err := s.Offsets(out)
	if err != nil {
		return nil
	}
	all := []verify.Reading{{Of: verify.NoiseV, Value: flat}, {Of: verify.NoiseAV, Value: weighted}, {Of: verify.Offset, Value: offset.Worst}}
	x, err := b.strained(c)
	if err != nil {
		return nil
	}
	if v := x.clipV(b.OpAmp); v > 0 {
		all = append(all, verify.Reading{Of: verify.Clip, Value: v, AtHz: x.swing.hz})
	}
	above, err := b.aboveBand(c)
	if err != nil {
		return nil
	}
	return append(all, above)
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
	case verify.Clip:
		// Levels are proportional to the input's; the tenth of a decibel is for rounding.
		more := biquad.FromDB(math.Ceil((f.Worst-f.Limit)*10+1) / 10)
		return "", fmt.Sprintf("board.input.level: %s, or op-amps that swing %s (board.op-amp.swing) on the supply for it",
			words.Part(twoDigits(b.InputV()/more, math.Floor), "V"), words.Part(twoDigits(b.OpAmp.SwingV*more, math.Ceil), "V"))
	}
	return "", "" // whoever can build another board tries what would help
}

// twoDigits rounds a positive value to two significant digits by floor or ceiling.
func twoDigits(v float64, round func(float64) float64) float64 {
	ten := int(math.Floor(math.Log10(v))) - 1
	digits := round(v / biquad.FromDB(20*float64(ten)))
	out, _ := strconv.ParseFloat(fmt.Sprintf("%.0fe%d", digits, ten), 64) // no error: digits are
	return out
}

var _ interface {
	verify.Driven
	verify.Strays
	verify.Meter
	verify.Limited
} = (*Board)(nil)
