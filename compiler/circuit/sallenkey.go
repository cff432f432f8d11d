package circuit

import (
	"fmt"
	"math"
)

const sallenKeySource = "IRE Trans. Circuit Theory 2 (1955) 74-85"

// leak is the caution of stages whose feedback capacitor hands the input to the
// output once the op-amp no longer holds it.
func leak(_ Asked, v []float64, m Means) []string {
	if r1 := v[0]; r1 < 100*m.OpAmp.OutputOhm && !m.OpAmp.Ideal {
		return []string{fmt.Sprintf("R1 of %s is below 100 times the op-amp's output resistance: the stopband is limited to about %.0f dB",
			withUnit(r1, "ohm"), 20*math.Log10(m.OpAmp.OutputOhm/(r1+m.OpAmp.OutputOhm)))}
	}
	return nil
}

// equalValueGain is the choice of amplifier gain, 0 for the one that equal
// values ask for.
func equalValueGain(doc string) Free {
	return aRatio("K", doc, 0, 1.25, 1.5, 2)
}
