package prototype

import "bandwright/biquad"

// MaxOrder is the highest order of a low-pass, a high-pass and a rational.
const MaxOrder = 12

// Design is what a family needs to know of a low-pass or high-pass.
type Design struct {
	Order    int
	RippleDB float64 // passband ripple, dB > 0
	StopDB   float64 // stop-band attenuation, dB > 0
	ScaledBy string  // bessel: magnitude, delay or phase
}

// Family is one row of the table of low-pass alignments. Sections gives the
// low-pass at W0 = 1 rad/s as sections with W0 their own scale, a first-order
// one first, then in ascending Q; a high-pass is made from it by p → 1/p.
type Family struct {
	Name, Doc string
	// Also are other names and abbreviations of it, in lower case: not accepted,
	// but known to "did you mean".
	Also []string
	// Which keys of the filter the family uses, beyond at and order.
	UsesRipple, UsesStop, UsesScale, EvenOnly bool
	Sections                                  func(d Design) []biquad.Analog
}

// Families is every alignment, in the order that documentation lists them.
var Families = []Family{
	butterworth, bessel, lr, chebyshev, inverseChebyshev, elliptic, criticallyDamped,
}

// FamilyByName finds a family's row.
func FamilyByName(name string) (Family, bool) {
	for _, f := range Families {
		if f.Name == name {
			return f, true
		}
	}
	return Family{}, false
}
