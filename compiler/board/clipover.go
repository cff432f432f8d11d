package board

import (
	"math"

	"bandwright/compiler/verify"
)

// ClipOver is over frequency (Hz, over the board's band) the least sine at the input (V RMS) with which an op-amp on a
// way's path, common stages included, runs out of swing, of output current or of slew rate in case c; +Inf where none
// ever does. It fails where the board's equations have no solution.
func (b *Board) ClipOver(c verify.Case) (hz, inputV []float64, err error) {
	l := b.newLook(c)
	for i, f := range l.grid {
		if err := l.at(f); err != nil {
			return nil, nil, err
		}
		most := strain{}
		for k := range l.amps {
			for by := range Limit(limits) {
				most.share = math.Max(most.share, l.shares[k][by][i])
			}
		}
		v := math.Inf(1)
		if most.share > 0 {
			v = most.clipV()
		}
		inputV = append(inputV, v)
	}
	return l.grid, inputV, nil
}
