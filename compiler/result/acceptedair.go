package result

import (
	"fmt"
	"math"
	"math/cmplx"

	"bandwright/biquad"
	"bandwright/compiler"
	"bandwright/compiler/acoustic"
	"bandwright/compiler/words"
)

// AcceptedDrivers is what a file of a measured response made of a way's drivers, as a spec does
// not hold it: on the axis at 1 m for 1 V at the terminals, dB re 20 µPa to the hundredth
// and degrees to the tenth, from the lowest frequency so many in each octave, over the range of the file.
type AcceptedDrivers struct {
	Way       string    `json:"way"`
	File      string    `json:"file"`
	FromHz    float64   `json:"from_hz"`
	PerOctave int       `json:"per_octave"`
	DB        []float64 `json:"db"`
	Deg       []float64 `json:"deg"`
}

// acceptedDrivers are the measured responses of a build.
func acceptedDrivers(b *compiler.Build) (out []AcceptedDrivers) {
	if b.Air == nil {
		return nil
	}
	for k, w := range b.Air.Ways {
		source, measured := w.Source.(*acoustic.Axis)
		if !measured {
			continue
		}
		x := AcceptedDrivers{Way: w.Name, File: b.Spec.Ways[k].Driver.Response.Name, PerOctave: acoustic.PerOctave}
		low, high := source.Covers()
		const beside = 1 + 1.0/acoustic.PerOctave // the file's ends lie between two frequencies
		for _, f := range b.Air.Hz[:len(b.Air.Hz)-1] {
			if f*beside < low || f > high*beside {
				continue
			}
			if x.DB == nil {
				x.FromHz = words.Round(f, 6)
			}
			p := source.At(f)
			x.DB = append(x.DB, step(biquad.DB(p/acoustic.ReferencePa), 100))
			x.Deg = append(x.Deg, step(cmplx.Phase(p)*180/math.Pi, 10))
		}
		if x.DB != nil {
			out = append(out, x)
		}
	}
	return out
}

// Source is the response at the frequencies of a System; outside of its range it is as at
// the nearer end.
func (x *AcceptedDrivers) Source() acoustic.Source {
	top := len(x.DB) - 1
	return &acoustic.Axis{Low: x.FromHz, High: x.FromHz * math.Exp2(float64(top)/float64(x.PerOctave)), At: func(f float64) complex128 {
		i := min(max(int(math.Round(float64(x.PerOctave)*math.Log2(f/x.FromHz))), 0), top)
		return cmplx.Rect(biquad.FromDB(x.DB[i])*acoustic.ReferencePa, x.Deg[i]*math.Pi/180)
	}}
}

// Measured is what the result holds of a way's measured response, nil for none.
func (a *Accepted) Measured(way string) *AcceptedDrivers {
	for i := range a.Drivers {
		if x := &a.Drivers[i]; x.Way == way {
			return x
		}
	}
	return nil
}

// check says what of a measured response could not be listened to.
func (x *AcceptedDrivers) check() error {
	if !(x.FromHz > 0) || x.PerOctave < 1 || len(x.DB) == 0 || len(x.DB) != len(x.Deg) {
		return fmt.Errorf("the measured response of `%s` needs `from_hz`, `per_octave`, and `db` and `deg` of one length: accept the spec again", x.Way)
	}
	return nil
}
