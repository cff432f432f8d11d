package verify

import (
	"math"

	"bandwright/compiler/words"
)

// TopOfRate is the highest part of a sampling rate that promises reach: above
// it converters' own filters act and no realisation is held to anything.
const TopOfRate = 0.46

// Extent is where responses are judged.
type Extent struct {
	LowHz, HighHz float64
	DownToDB      float64 // < 0: this far below a way's peak
}

// Band is the band at a sampling rate (Hz; 0 for none), and whether the rate cut
// it short.
func (e Extent) Band(rateHz float64) (lo, hi float64, cut bool) {
	if rateHz > 0 && e.HighHz > TopOfRate*rateHz {
		return e.LowHz, TopOfRate * rateHz, true
	}
	return e.LowHz, e.HighHz, false
}

// Promise is what verification has to know of a promise.
type Promise struct {
	Name  string
	About string // in words where not "Name of WAY"
	// Of is the quantity that is promised, Unit that of the promise.
	Of   *Quantity
	Unit words.Unit
	// In is a value of the quantity in the promise's unit; nil where that is its
	// own, as it is of what is sought over frequency.
	In func(r Realisation, value float64) float64
	// Applies says which realisations are held to the promise; nil for all that
	// the quantity can be measured of.
	Applies func(Realisation) bool
	// LessIsWorse: the figure has to be larger than the limit, such as a margin.
	LessIsWorse bool
	// AtLeast: of such a figure the limit itself is enough.
	AtLeast bool
	// Slack is how far beyond the limit is still the limit but for rounding.
	Slack float64
	// Loosened is the limit as a spec would have to write it for so bad a figure to
	// be allowed; nil where that is no advice.
	Loosened func(worst float64) string
}

// Demand is a promise with its limit, in the promise's unit.
type Demand struct {
	*Promise
	Limit float64
}

// Terms are what realisations are held to, and where.
type Terms struct {
	Extent
	Demands []Demand
}

// MeasuredOf reports whether a promise can be judged of a realisation.
func (p *Promise) MeasuredOf(r Realisation) bool {
	return p.Of != nil && p.Of.measured(r) && (p.Applies == nil || p.Applies(r))
}

// counted is a value of the quantity as the promise counts it.
func (p *Promise) counted(r Realisation, value float64) float64 {
	if p.Of.signed {
		value = math.Abs(value)
	}
	if p.In != nil {
		return p.In(r, value)
	}
	return value
}

// breaks reports whether a value, as the promise counts it, breaks the demand.
func (d Demand) breaks(counted float64) bool {
	if d.LessIsWorse {
		return counted < d.Limit || counted == d.Limit && !d.AtLeast
	}
	return counted > d.Limit+d.Slack
}
