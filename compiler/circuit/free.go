package circuit

import "math"

// usual resistances (ohm) for choices that only set an impedance level.
const usualOhm = 10e3

// e6 are the values of the E6 series (IEC 60063) in one decade: free capacitors
// are taken from it, as every stock has them; resistors follow from the design,
// unrounded.
var e6 = [...]float64{1, 1.5, 2.2, 3.3, 4.7, 6.8}

// capacitors lists the E6 capacitors of the stock's range.
func capacitors(_ Asked, m Means) []float64 {
	var out []float64
	for decade := 1e-12; decade < 1e-2; decade *= 10 {
		for _, v := range e6 {
			// Decades are rounded to the shortest decimal, so that 4.7 nF is 4.7e-9.
			if f := tidy(v * decade); f >= m.Farad.From*(1-same) && f <= m.Farad.To*(1+same) {
				out = append(out, f)
			}
		}
	}
	return out
}

// aCapacitor is a capacitor to choose.
func aCapacitor(ref, doc string) Free {
	return Free{Name: ref, Unit: "F", Doc: doc, Try: capacitors}
}

// aLevel is a resistor to choose that sets an impedance level only.
func aLevel(ref, doc string) Free {
	return Free{Name: ref, Unit: "ohm", Doc: doc, Try: func(Asked, Means) []float64 { return []float64{usualOhm} }}
}

// aLevelFor is aLevel where another resistor is a multiple of the chosen one: the
// usual value where both are in range, else the one that brings the other there.
func aLevelFor(ref, doc string, multiple func(Asked) float64) Free {
	return Free{Name: ref, Unit: "ohm", Doc: doc, Try: func(a Asked, m Means) []float64 {
		const inside = 0.8 // of the range, so that rounding stays in it
		k := multiple(a)
		switch {
		case !(k > 0) || bad(k):
		case k*usualOhm > m.Ohm.To:
			return []float64{math.Max(m.Ohm.From, inside*m.Ohm.To/k)}
		case k*usualOhm < m.Ohm.From:
			return []float64{math.Min(m.Ohm.To, m.Ohm.From/(inside*k))}
		}
		return []float64{usualOhm}
	}}
}

// aDivider is the upper resistor of a divider whose lower one may be far above it, or far below.
var aDivider = Free{Name: "RA", Unit: "ohm", Doc: "impedance level of the divider: RA", Try: func(_ Asked, m Means) []float64 {
	var out []float64
	for _, ohm := range [...]float64{3.3e3, 10e3, 1e3} {
		if ohm >= m.Ohm.From && ohm <= m.Ohm.To {
			out = append(out, ohm)
		}
	}
	return out
}}

// aRatio is a plain number to choose.
func aRatio(name, doc string, try ...float64) Free {
	return Free{Name: name, Doc: doc, Try: func(Asked, Means) []float64 { return try }}
}

// anOrder is the choice between the two solutions of a quadratic equation.
func anOrder(doc string) Free {
	return aRatio("order", doc+": 1 the larger first, -1 the smaller first", 1, -1)
}

// inOrder picks by the choice of anOrder.
func inOrder(choice, large, small float64) (first, second float64) {
	if choice < 0 {
		return small, large
	}
	return large, small
}
