// Package verify holds realisations against the prototype and against what is
// demanded of them: a realisation, the ideal and demands come in; figures,
// findings and a verdict go out. It finds true maxima, in every combination of
// settings.
//
// The one invariant: it knows no promise by its name and no realisation by its
// kind. What is demanded arrives as Demands, and a realisation is asked what it
// can do by the small interfaces beside Realisation.
//
// Read first: Realisation, Quantity, Demand, Judge.
package verify

import (
	"context"

	"bandwright/biquad"
)

// Combination is one choice for every setting.
type Combination = biquad.Combination

// Realisation is anything with a response that promises can be held against:
// the ideal itself, a digital system, a board, a measurement. What else it can
// do it says by the interfaces below; one that has none of them is judged by
// its response alone.
type Realisation interface {
	// Name is how findings call it: "digital 48 kHz float32".
	Name() string
	// On prepares responses at the frequencies hz (Hz). The result is for one
	// goroutine; On itself may be called by several.
	On(hz []float64) Responder
	// Near prepares responses at a few frequencies (Hz), to be asked for in one
	// combination. The result is for one goroutine.
	Near(hz []float64) Responder
	// Landmarks are places where a way's response changes quickly. The search
	// for maxima looks there as well as on its grid.
	Landmarks(way int) []Landmark
	// CommonDelayS says how much later every way is than its prototype (s).
	CommonDelayS() float64
}

// Landmark is the frequency of a pole, a zero or a corner (Hz), with the Q that
// says how narrow it is; infinite for a zero on the frequency axis.
type Landmark struct{ Hz, Q float64 }

// Responder writes the complex response of a way (input to output, common
// filters and polarity included) in one combination, one element a frequency.
type Responder interface {
	Response(dst []complex128, way int, c Combination)
}

// Direct is a Responder that works each response out when it is asked for.
type Direct func(dst []complex128, way int, c Combination)

// Response implements Responder.
func (d Direct) Response(dst []complex128, way int, c Combination) { d(dst, way, c) }

// Spanned is a realisation that is known between two frequencies (Hz) only, as what was
// measured.
type Spanned interface {
	SpanHz() (low, high float64)
}

// Sampled is a realisation that samples: its response ends at half the rate.
type Sampled interface {
	RateHz() float64
}

// FullScale is a realisation whose outputs have a greatest level.
type FullScale interface {
	Sampled
	// InputGain (linear) stands before it, outside every comparison.
	InputGain() float64
	// BoundDBFS is the greatest level of a way's output for any input inside full
	// scale (dB re full scale).
	BoundDBFS(way int, c Combination) float64
}

// Strays is a realisation whose response hangs, further down than DownToDB (dB,
// < 0, re a way's peak), on more than what it is made of: it is judged no
// further.
type Strays interface {
	DownToDB() float64
}

// Meter is a realisation that can be read beside its response.
type Meter interface {
	// Reads are the quantities that it has readings of.
	Reads() []*Quantity
	// Readings are those of each case in turn, none where it has no solution.
	// Cases come way by way.
	Readings(ctx context.Context, cases []Case) [][]Reading
}

// Case is a way in one combination, without one for what no setting changes.
type Case struct {
	Way int
	C   Combination
}

// Reading is a quantity in one case, at a frequency where one belongs to it.
type Reading struct {
	Of          *Quantity
	Value, AtHz float64
	// Broken of Combinations break what is demanded, where the realisation has
	// looked at them itself.
	Broken, Combinations int
	// C and With are the combination that a batch's reading is found in; nil where none
	// belongs to it.
	C    Combination
	With []Choice
	Note string // a restriction that the reader must know, or ""
}

// Batched is a realisation that is built many times, no two units alike.
type Batched interface {
	// OfBatch are the readings of a batch, of all ways and their sum together.
	OfBatch() []Reading
}

// Limited is a realisation that knows what holds it back.
type Limited interface {
	// Limits says, of a broken finding on a quantity of a way (len(ways) for the
	// sum), what held the realisation back and what would bring it nearer, each
	// "" where it does not know.
	Limits(q *Quantity, way int, f Finding) (cause, remedy string)
}
