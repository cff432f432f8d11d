package circuit

import (
	"fmt"
	"math"
)

// Caution is a remark on a stage.
type Caution struct {
	Trait  Trait
	What   string // what is so, the same of every stage that it is said of
	Number string // the figure that shows it, "" where there is none
	Remedy string // what to do
}

// String is the remark on one stage.
func (c Caution) String() string {
	if c.Number == "" {
		return c.What
	}
	return c.What + ", " + c.Number
}

// Trait says what a remark is about, where others know more of it than a stage by itself.
type Trait uint8

// The traits.
const (
	OfTheStage   Trait = iota // what the stage knows best
	Noisy                     // its noise gain
	Leaks                     // the op-amp lets signal through far above the corner
	MatchedDepth              // the depth of a notch hangs on the match of parts
)

// matchedDepth is the caution of notches that subtract.
var matchedDepth = Caution{Trait: MatchedDepth, What: "the match of resistors and capacitors limits the notch depth", Number: "40 dB for 1 %"}

// capacitive is the caution of stages with a capacitor at the input (F).
func capacitive(farad float64) Caution {
	return Caution{What: "an input with a capacitor loads the stage before it, whose op-amp may ring", Number: withUnit(farad, "F"),
		Remedy: "choose an op-amp that is stable with such a load, or name another `topology`"}
}

// leak is the caution of stages whose feedback capacitor hands the input to the
// output once the op-amp no longer holds it.
func leak(_ Asked, v []float64, m Means) []Caution {
	if r1 := v[0]; r1 < 100*m.OpAmp.OutputOhm && !m.OpAmp.Ideal {
		return []Caution{{Trait: Leaks, What: "R1 is below 100 times the op-amp's output resistance and limits the stopband",
			Number: fmt.Sprintf("%s, about %.0f dB", withUnit(r1, "ohm"), 20*math.Log10(m.OpAmp.OutputOhm/(r1+m.OpAmp.OutputOhm)))}}
	}
	return nil
}

// sharp is the caution of band-passes with one op-amp.
func sharp(q float64) []Caution {
	if q > 5 {
		return []Caution{{What: "a band-pass with one op-amp should have a Q of 5 at most", Number: fmt.Sprintf("Q %.3g", q),
			Remedy: "lower the Q, or name `topology: tow-thomas`"}}
	}
	return nil
}
