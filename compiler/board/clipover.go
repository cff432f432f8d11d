package board

import (
	"math"

	"bandwright/compiler/verify"
)

// ClipOver is over frequency (Hz, over the board's band) the least sine at the input (V RMS) with which an op-amp on a
// way's path, common stages included, runs out of swing, of output current or of slew rate in case c; +Inf where none
// ever does. It fails where the board's equations have no solution.
func (b *Board) ClipOver(c verify.Case) (hz, inputV []float64, err error) {
	s, err := b.strained(c)
	if err != nil {
		return nil, nil, err
	}
	for _, share := range s.shares {
		v := math.Inf(1)
		if share > 0 {
			v = strain{share: share}.clipV()
		}
		inputV = append(inputV, v)
	}
	return s.grid, inputV, nil
}
