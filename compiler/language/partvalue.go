package language

import "strings"

// PartValue reads the value of a resistor or capacitor, such as `470 nF`, as a spec
// writes one: in ohm or farad, and which of the two. The fault, without a place, says
// what is wrong with a text that is none.
func PartValue(text string) (value float64, dim Dim, fault *Fault) {
	value, dim, fault = single(text, Type{Dims: []Dim{Resistance, Capacitance}, Open: true}, "the value of a part", "470 nF")
	if fault != nil {
		fault.Message = strings.Replace(fault.Message, "a value of the value", "the value", 1)
	}
	return value, dim, fault
}

// Quantity reads one of a dimension from least to most (in its unit), such as `48 kHz`, as a
// spec writes it; name says what it is, for the fault, which has no place.
func Quantity(text, name, example string, dim Dim, least, most float64) (float64, *Fault) {
	x, _, fault := single(text, Type{Dims: []Dim{dim}, Min: least, Max: most}, name, example)
	return x, fault
}

// single reads one scalar.
func single(text string, t Type, name, example string) (float64, Dim, *Fault) {
	w := walker{reader: &reader{}}
	v := w.scalar(&node{shape: scalar, text: text}, &t, holder{name: name, example: example})
	if v == nil {
		return 0, "", &w.faults[0]
	}
	return v.Number, v.Dim, nil
}
