// Package prototype turns filters into ideal analog sections. A checked filter
// comes in, well-scaled second-order sections with a gain and a pure delay go
// out. The one invariant: every section is stable and proper, with finite
// coefficients.
//
// Each kind is one file and one row of Kinds. Read first: Kind, Ideal.
package prototype

import (
	"bandwright/biquad"
	"bandwright/compiler/language"
)

// Ideal is what a filter is in theory.
type Ideal struct {
	Gain     float64 // linear, > 0: 1 unless the kind is a plain gain
	DelayS   float64 // s, ≥ 0
	Sections []biquad.Analog
}

// Problem is a fault in the meaning of a filter's arguments: which key, what
// is wrong, what would be right.
type Problem struct {
	Key            string // "" for the filter as a whole
	Message, Right string
}

// Kind is one row of the table.
type Kind struct {
	language.Kind
	// Ideal computes the prototype from arguments that the grammar accepted.
	// Problems are about meaning only: order against family, stability.
	Ideal func(args *language.Value) (Ideal, []Problem)
}

// Kinds is every filter kind, in the order that documentation lists them.
var Kinds = []Kind{
	lowPass, highPass, bandPass, notch, allPass, peak, lowShelf, highShelf,
	poleShift, dipoleLift, rational, roots, gain, delay,
}

// ByName finds a kind's row.
func ByName(name string) (Kind, bool) {
	for _, k := range Kinds {
		if k.Name == name {
			return k, true
		}
	}
	return Kind{}, false
}

// Rows is the grammar's part of every kind, for a language.Tables.
func Rows() []language.Kind {
	rows := make([]language.Kind, len(Kinds))
	for i, k := range Kinds {
		rows[i] = k.Kind
	}
	return rows
}
