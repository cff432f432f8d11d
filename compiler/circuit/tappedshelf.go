package circuit

import (
	"math"

	"bandwright/biquad"
)

// TappedShelfName is what held boards and artefacts call the stage of TappedShelf.
const TappedShelfName = "tapped-shelf"

// TappedShelfDoc is what documentation says of it.
const TappedShelfDoc = "An inverting amplifier into whose virtual ground a selector feeds a resistor and a capacitor from a tap of a string of resistors between the stage's input and output: several strengths of one first-order shelf, up and down, and flat, with one op-amp."

// TappedShelf makes shelves of the first order with one op-amp: as in TappedFilter, but what the tap
// feeds is an admittance Y that ends at the amplifier's virtual ground, and needs no op-amp of its own,
//
//	-(1+(1-t)·R·Y)/(1+t·R·Y).
//
// Y falls with frequency (R1, C1 to the ground, R2) or rises (R1, C1). With x = 1-2t a shelf of the strength
// A² has A² = (1+q·x)/(1-q·x), and its middle moves as √(1-q²x²) as long as Y is the same at every tap. What a
// tap has of resistance, t(1-t) of the string and most in the middle, makes up for that. In front of R1 it lowers
// the corner of what falls, as it has to. What rises needs the other direction: there Rh, below half of R,
// takes more of a tap's voltage in the middle. Rh also holds C1's end where the selector is open; what falls
// is held by R1 and R2.
var TappedShelf = &Taps{TappedShelfName, TappedShelfDoc, tappedShelfOf}

// tappedShelfOf is the kind of filter that makes a section in TappedShelf, and what the section is; nil for none.
func tappedShelfOf(s biquad.Analog) (*tappedKind, Asked) {
	a, err := Ask(s)
	if err != nil || a.Sign < 0 || a.Shape != LowShelf1 && a.Shape != HighShelf1 {
		return nil, a
	}
	switch {
	case near(a.N[1], 1):
		return &tappedFalling, a
	case near(a.N[0], 1):
		return &tappedRising, a
	}
	return nil, a
}

var tappedFalling = tappedKind{direct: true, parts: 3,
	template: func(in, sum, _ string) []Element {
		return []Element{r("R1", in, "a"), c("C1", "a", "0"), r("R2", "a", sum)}
	},
	picture: "R1 > 5,0\nC1 v 10,4\nR2 > 15,0\nwire in R1.1\nwire R1.2 R2.1\nwire 10,0 C1.1\ngnd C1.2\nwire R2.2 21,0\n",
	// The current into a virtual ground, per volt of the source.
	closed: func(v []float64, source float64) (Polynomial, Polynomial) {
		front := v[0] + source
		return Polynomial{1}, Polynomial{front + v[2], front * v[1] * v[2]}
	},
	strength: func(a Asked) float64 { return a.N[0] },
	startDirect: func(a Asked, tap, c1, leastOhm float64) ([]float64, float64) {
		// Half of Y's resistance P in front of C1 takes the least capacitance: P/R is what makes the strength,
		// and (P+t·R)/(C1·P²/4) the pole.
		p := (1 - tap - a.N[0]*tap) / (a.N[0] - 1)
		ohm := 4 * (p + tap) / (p * p * c1 * a.W)
		half := p * ohm / 2
		stringOhm := math.Max(half*startString, leastOhm)
		return []float64{half - stringOhm*tap*(1-tap), c1, half, ohm, ohm}, stringOhm
	},
}

var tappedRising = tappedKind{direct: true, parts: 2, holds: true,
	template: func(in, sum, _ string) []Element { return []Element{r("R1", in, "a"), c("C1", "a", sum)} },
	picture:  "R1 > 5,0\nC1 > 15,0\nwire in R1.1\nwire R1.2 C1.1\nwire C1.2 21,0\n",
	closed: func(v []float64, source float64) (Polynomial, Polynomial) {
		return Polynomial{0, v[1]}, Polynomial{1, v[1] * (v[0] + source)}
	},
	strength: func(a Asked) float64 { return a.N[1] / a.N[0] },
	startDirect: func(a Asked, tap, c1, leastOhm float64) ([]float64, float64) {
		// With g of a tap's voltage left by Rh, Y's resistance Q has Q/R of what makes the strength, and
		// 1/(C1·(Q+t·g·R)) is the pole. All is in parts of R, and a longer string comes with more of Rh.
		n, source := a.N[1], startString*tap*(1-tap)
		g := startHold / (startHold + source)
		q := g * (1 - tap - n*tap) / (n - 1)
		ohm := 1 / (c1 * a.W * (q + tap*g))
		long := math.Max(1, leastOhm/(startString*ohm))
		return []float64{(q - long*source*g) * ohm, c1, ohm, ohm, long * startHold * ohm}, long * startString * ohm
	},
}

const (
	// startString is the string that a search begins with, in parts of the resistance in front of C1 or of the
	// amplifier's: what makes up for the strengths of usual tone controls. startHold is Rh, in parts of the
	// amplifier's resistors.
	startString, startHold = 0.35, 0.15
)
