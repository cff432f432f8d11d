package biquad

import "math"

// System is a whole loudspeaker: the cascade before the ways split and one
// cascade a way. System[Analog] is the prototype, System[Digital] one
// realisation at one rate in one number format.
type System[S Section] struct {
	Common Cascade[S]
	Ways   []Way[S]
}

// Way is one band of the loudspeaker. Its output is the common cascade, then
// gain × polarity × delay × its sections.
type Way[S Section] struct {
	Name     string
	Polarity float64 // 1, or -1 for inverted
	Cascade[S]
}

// Path is everything between the input and the output of way k, with the
// polarity in the gain.
func (s System[S]) Path(k int) Cascade[S] {
	p := Joined(s.Common, s.Ways[k].Cascade)
	p.Gain *= s.Ways[k].Polarity
	return p
}

// Axes returns the settings that the whole system depends on.
func (s System[S]) Axes() []Axis {
	cs := []Cascade[S]{s.Common}
	for _, w := range s.Ways {
		cs = append(cs, w.Cascade)
	}
	return Axes(cs...)
}

// NeighbourDB is how near in level (dB) a neighbouring way has to be for its
// phase to matter: a way 20 dB lower changes the sum by less than 1 dB.
const NeighbourDB = 20

// NeighbourMarginDB is how much nearer than withinDB (NeighbourDB, as a rule)
// the nearest in level of a way's neighbours is (dB): 0 or more where one lies
// within it, -Inf for a way that has no neighbour. Ways are counted as in
// System.Ways; apartDB is a neighbour's level less the way's own.
func NeighbourMarginDB(withinDB float64, way, ways int, apartDB func(neighbour int) float64) float64 {
	margin := math.Inf(-1)
	for _, n := range [2]int{way - 1, way + 1} {
		if n >= 0 && n < ways {
			margin = max(margin, withinDB-math.Abs(apartDB(n)))
		}
	}
	return margin
}
