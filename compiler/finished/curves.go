package finished

import (
	"slices"

	"bandwright/compiler"
	"bandwright/compiler/production"
	"bandwright/compiler/promise"
	"bandwright/compiler/verify"
)

// Build is what the units are of.
func (d *Desk) Build() *compiler.Build { return d.b }

// Measured is a unit as a realisation of the ways that were measured, level and delay taken out as
// in its result.
func (d *Desk) Measured(u Unit, r *Result) verify.Realisation { return d.measured(u, r.Diagnosis) }

// Wanted is the prototype of the ways that were measured.
func (d *Desk) Wanted() verify.Realisation { return picked{d.ideal, d.Ways} }

// Limits are those of the production test of a board, of each way that was measured (by its place among
// them), in the settings that it was measured in; nil where the test has none of them.
func (d *Desk) Limits() [][]production.Point {
	if d.plan == nil {
		return nil
	}
	out := make([][]production.Point, len(d.Ways))
	for i := range d.plan.Tests {
		t := &d.plan.Tests[i]
		if k := slices.Index(d.Ways, t.Way); k >= 0 && out[k] == nil && d.tested(t) {
			out[k] = d.within(t)
		}
	}
	return out
}

// within are the points of a test that units were measured at.
func (d *Desk) within(t *production.Test) []production.Point {
	const slack = 1e-9
	return slices.DeleteFunc(slices.Clone(t.Points), func(p production.Point) bool { return p.Hz < d.LowHz*(1-slack) || p.Hz > d.HighHz*(1+slack) })
}

// Allowed is how far units may be off as built (dB); 0 where the spec allows anything.
func (d *Desk) Allowed() float64 {
	if l := d.b.Promises.Limit(&promise.AsBuilt); l.On {
		return l.Value
	}
	return 0
}
