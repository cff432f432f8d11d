package main

import (
	"errors"
	"slices"

	"bandwright/biquad"
	"bandwright/compiler/sweep"
)

// carried is the share of the power at its peak, in the prototype and the settings of the units, below which a way is not
// meant to be heard: 40 dB, as in the test of finished boards.
const carried = 1e-4

// carries tells where a way is meant to be heard.
func (d *desk) carries(way int) func(hz float64) bool {
	path := d.b.Prototype.Path(way)
	powers := func(hz []float64) []float64 {
		h, out := make([]complex128, len(hz)), make([]float64, len(hz))
		biquad.AnalogAt(h, path, d.with, hz)
		for i, v := range h {
			out[i] = biquad.Power(v)
		}
		return out
	}
	low, high := d.band()
	least := slices.Max(powers(biquad.Octaves(low, high, 12))) * carried
	return func(hz float64) bool { return powers([]float64{hz})[0] >= least }
}

// take deconvolves a recording, or says what is wrong with it; carries tells where it is meant to be heard.
func (d *desk) take(name string, reference, x []float64, rate float64, carries func(hz float64) bool) (*sweep.Take, error) {
	troubles := sweep.Inspect(reference, x, rate)
	if len(troubles) == 0 || !troubles[len(troubles)-1].Spoiled {
		t, err := sweep.Deconvolve(reference, x, rate)
		if err != nil {
			return nil, refused("%s: %v", d.Reference, err)
		}
		low, high := d.band()
		more := t.Inspect(low, high, carries)
		if n := len(more); n == 0 || !more[n-1].Spoiled {
			heard := slices.DeleteFunc(biquad.Octaves(low, high, 12), func(hz float64) bool { return !carries(hz) })
			more = append(more, t.Cut(reference, len(x), heard[0], heard[len(heard)-1])...)
		}
		if n := len(more); n == 0 || !more[n-1].Spoiled {
			more = append(more, sweep.Tempo(reference, x, rate)...)
		}
		if n := len(more); n == 0 || !more[n-1].Spoiled {
			for _, p := range append(troubles, more...) {
				d.note("%s: %s; %s", name, p.Message, p.Right)
			}
			return t, nil
		}
		troubles = more
	}
	p := troubles[len(troubles)-1]
	if p.Silent {
		return nil, errSilentWay
	}
	return nil, refused("%s: %s; %s", name, p.Message, p.Right)
}

// errSilentWay is what a recording of nothing is, which is an error where all are.
var errSilentWay = errors.New("silent")
