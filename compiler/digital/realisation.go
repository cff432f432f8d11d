// Package digital holds a digital system as a realisation that promises are
// judged of: quantised cascades at one rate come in, responses and readings go
// out.
package digital

import (
	"context"
	"math"

	"bandwright/biquad"
	"bandwright/biquad/discretize"
	"bandwright/compiler/verify"
)

// Realisation is a digital system at one rate as verify.Realisation.
type Realisation struct {
	name   string
	rateHz float64
	delayS float64
	paths  []biquad.Cascade[biquad.Digital]
	Traits
	audits map[int]discretize.Audit
}

// Traits are what a digital system has beside its response. A nil function is
// of what nobody asks for.
type Traits struct {
	Gain float64 // at the input, linear, outside every comparison with the prototype
	// Limited says that outputs beyond full scale are limited to it.
	Limited bool
	// Noise is the noise floor at a way's output (dBFS) in one combination.
	Noise func(way int) func(verify.Combination) float64
	// Audit is a way's safety.
	Audit func(way int) discretize.Audit
	// Notes say for each way where the method had to fall back, "" where not.
	Notes []string
}

// New prepares a digital system for judging. commonDelayS is the common delay
// that its method declares (s).
func New(name string, s biquad.System[biquad.Digital], rateHz, commonDelayS float64, t Traits) *Realisation {
	r := &Realisation{name: name, rateHz: rateHz, delayS: commonDelayS, Traits: t, audits: map[int]discretize.Audit{}}
	for k := range s.Ways {
		r.paths = append(r.paths, s.Path(k))
	}
	return r
}

// Name is as findings call the realisation.
func (r *Realisation) Name() string { return r.name }

// CommonDelayS is what the method declared (s).
func (r *Realisation) CommonDelayS() float64 { return r.delayS }

// RateHz implements verify.Sampled.
func (r *Realisation) RateHz() float64 { return r.rateHz }

// InputGain implements verify.FullScale.
func (r *Realisation) InputGain() float64 { return r.Gain }

// BoundDBFS implements verify.FullScale by the L1 norm of the impulse response.
func (r *Realisation) BoundDBFS(way int, c verify.Combination) float64 {
	return biquad.GainDB(r.Gain * math.Abs(biquad.L1(r.paths[way], c)))
}

// On prepares the responses at hz (Hz), each below half the rate.
func (r *Realisation) On(hz []float64) verify.Responder {
	return verify.EachWay(len(r.paths), func(way int) *biquad.Responder { return biquad.OnDigital(r.paths[way], r.rateHz, hz) })
}

// Near prepares the responses at a few frequencies hz (Hz), each below half the
// rate.
func (r *Realisation) Near(hz []float64) verify.Responder {
	return verify.Direct(func(dst []complex128, way int, c verify.Combination) {
		biquad.DigitalAt(dst, r.paths[way], c, r.rateHz, hz)
	})
}

// Landmarks are a way's poles and zeros.
func (r *Realisation) Landmarks(way int) []verify.Landmark {
	var out []verify.Landmark
	for _, s := range r.paths[way].Slots {
		for _, d := range s.Alt {
			for _, z := range append(d.Poles(), d.Zeros()...) {
				if w := math.Atan2(imag(z), real(z)); w > 0 {
					out = append(out, verify.Landmark{Hz: w / (2 * math.Pi) * r.rateHz, Q: w / (2 * math.Abs(1-math.Hypot(real(z), imag(z))))})
				}
			}
		}
	}
	return out
}

// Reads implements verify.Meter.
func (r *Realisation) Reads() []*verify.Quantity {
	out := []*verify.Quantity{verify.PoleMargin, verify.Latency, verify.Sections}
	if r.Noise != nil {
		out = append(out, verify.Noise)
	}
	if r.Audit != nil {
		out = append(out, verify.Excess)
	}
	return out
}

// Readings implements verify.Meter. It is for one goroutine.
func (r *Realisation) Readings(_ context.Context, cases []verify.Case) [][]verify.Reading {
	out := make([][]verify.Reading, len(cases))
	var noise func(verify.Combination) float64
	for i, c := range cases {
		switch {
		case c.C == nil:
			out[i], noise = r.ofWay(c.Way), nil
		case r.Noise != nil:
			if noise == nil { // one way after another is asked for: one is kept at a time
				noise = r.Noise(c.Way)
			}
			out[i] = []verify.Reading{{Of: verify.Noise, Value: noise(c.C)}}
		}
	}
	return out
}

// ofWay is what no setting changes of a way.
func (r *Realisation) ofWay(way int) []verify.Reading {
	path := r.paths[way]
	margin := 1.0
	for _, s := range path.Slots {
		for _, d := range s.Alt {
			margin = math.Min(margin, d.PoleMargin())
		}
	}
	out := []verify.Reading{{Of: verify.PoleMargin, Value: margin}, {Of: verify.Sections, Value: float64(len(path.Slots))},
		{Of: verify.Latency, Value: path.DelayS + math.Max(0, r.delayS)}}
	if r.Audit != nil {
		a := r.Audit(way)
		r.audits[way] = a
		at := a.UltrasonicHz
		if a.StopBandDB > a.UltrasonicDB {
			at = a.StopBandHz
		}
		out = append(out, verify.Reading{Of: verify.Excess, Value: a.ExcessDB(), AtHz: at, Broken: a.Unsafe, Combinations: a.Of, Note: r.note(way)})
	}
	return out
}

// note is where the method had to fall back in a way.
func (r *Realisation) note(way int) string {
	if way < len(r.Notes) {
		return r.Notes[way]
	}
	return ""
}

// Limits implements verify.Limited.
func (r *Realisation) Limits(q *verify.Quantity, way int, f verify.Finding) (cause, remedy string) {
	switch q {
	case verify.Noise:
		return "", "use a wider number format"
	case verify.Latency:
		if r.paths[way].DelayS > 0 {
			return "", "shorten the way's delay"
		}
		return "", ""
	case verify.PoleMargin:
		return "", "the format cannot represent a pole this close to the unit circle: use a wider number format, a lower rate or a higher corner"
	case verify.Excess:
		return "", r.audits[way].Violations() + ": use a higher rate or another method"
	case verify.Peak:
		if r.Limited {
			return "outputs of this format saturate at full scale: what is above is clipped", ""
		}
		return "", "" // what helps is tried where whole realisations are judged anew
	}
	return r.note(way), "" // other methods, formats and rates are tried where whole realisations are judged anew
}

var _ interface {
	verify.FullScale
	verify.Meter
	verify.Limited
} = (*Realisation)(nil)
