package biquad

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
