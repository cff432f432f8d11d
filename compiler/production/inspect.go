package production

import (
	"cmp"
	"slices"

	"bandwright/compiler/batch"
)

// Inspected is a part to measure before it is fitted.
type Inspected struct {
	batch.Matter
	// Row is the way, or the sum, whose spread it makes most of.
	Row string
	// Low and High are the ends of its tolerance (ohm or farad).
	Low, High float64
}

const (
	// mostShare is how much of a row's variance the parts of it that are measured make, as
	// far as there are so many, and leastShare what a part makes at least.
	mostShare, leastShare = 0.5, 0.05
)

// Inspect lists the parts whose own tolerance makes most of the spread of a batch, those
// with the greatest share first.
func Inspect(x *batch.Batch) []Inspected {
	var out []Inspected
	for _, row := range x.Rows {
		share := 0.0
		for _, m := range row.Matters {
			if share >= mostShare || m.Share < leastShare {
				break
			}
			share += m.Share
			k := slices.IndexFunc(out, func(i Inspected) bool { return i.Ref == m.Ref })
			n := Inspected{m, row.Name, m.Value * (1 - m.Tolerance), m.Value * (1 + m.Tolerance)}
			switch {
			case k < 0:
				out = append(out, n)
			case out[k].Share < m.Share:
				out[k] = n
			}
		}
	}
	slices.SortStableFunc(out, func(a, b Inspected) int { return cmp.Compare(b.Share, a.Share) })
	return out
}
