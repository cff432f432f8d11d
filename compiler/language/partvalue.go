package language

// PartValue reads the value of a resistor or capacitor, such as `470 nF`, as a spec
// writes one: in ohm or farad, and which of the two. The fault, without a place, says
// what is wrong with a text that is none.
func PartValue(text string) (value float64, dim Dim, fault *Fault) {
	w := walker{reader: &reader{}}
	t := Type{Dims: []Dim{Resistance, Capacitance}, Open: true}
	v := w.scalar(&node{shape: scalar, text: text}, &t, holder{name: "the value of a part", example: "470 nF"})
	if v == nil {
		return 0, "", &w.faults[0]
	}
	return v.Number, v.Dim, nil
}
