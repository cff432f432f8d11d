package verify

import (
	"slices"

	"bandwright/biquad"
)

// perOctave is the density of the search grid. Between its points, and around
// every landmark, the maximum is found by zooming in, so the density decides
// only which hump is taken for the highest.
const perOctave = 48

// around are the relative distances from a narrow landmark at which the search
// looks as well: a filter of Q 50 is 1 % wide and falls between grid points.
var around = []float64{1e-4, 3e-4, 1e-3, 2e-3, 4e-3, 7e-3}

// beyond are the same for a zero on the frequency axis: beside it one way passes
// every level, and the part of it in which the phase of both counts may be
// that narrow. It spans 40 dB, a factor of a hundred.
var beyond = []float64{3e-9, 1e-8, 1e-7, 1e-6, 1e-5}

// onAxisQ is the Q from which a zero is on the axis but for rounding.
const onAxisQ = 1e6

// narrowQ is the Q from which a landmark is narrow: at 10 its half-width is
// three steps of the grid.
const narrowQ = 10

// grid is a logarithmic grid from lo to hi (Hz) joined with the surroundings of
// the landmarks, ascending. Where that makes more than crowd points, landmarks
// crowd: those that are not narrow, and the surroundings of those that are, are
// left out where the grid is dense already.
func grid(lo, hi float64, landmarks []Landmark) []float64 {
	hz := append(biquad.OctavesBelow(lo, hi, perOctave), hi)
	add := func(f float64) {
		if f > lo && f < hi {
			hz = append(hz, f)
		}
	}
	for _, l := range landmarks {
		if l.Q >= narrowQ { // NaN, of a root at the origin, is not
			add(l.Hz)
		}
	}
	firm := len(hz)
	for _, l := range landmarks {
		if l.Q >= narrowQ {
			near := around
			if l.Q > onAxisQ {
				near = slices.Concat(beyond, around)
			}
			for _, d := range near {
				add(l.Hz * (1 - d))
				add(l.Hz * (1 + d))
			}
			continue
		}
		add(l.Hz)
	}
	if len(hz) > crowd {
		hz = append(hz[:firm], biquad.Ascending(hz[firm:], spaced)...)
	}
	return biquad.Ascending(hz, sameHz)
}

// crowd is the number of points from which landmarks crowd: a four-way of a
// dozen sections each has a quarter of that. Spaced is then how near to each
// other, relative, points need not be: a two-hundredth of an octave, a dozen
// points in the half-width of what is not narrow.
const (
	crowd  = 4000
	spaced = 1.0 / 256
)

// sameHz is how near (relative) frequencies are equal but for rounding.
const sameHz = 1e-9
