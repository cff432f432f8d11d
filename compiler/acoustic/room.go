package acoustic

import (
	"math"

	"bandwright/biquad"
	"bandwright/compiler/language"
	"bandwright/compiler/verify"
)

// RoomHz are where reflections are told.
var RoomHz = []float64{125, 250, 500, 1000, 2000, 4000, 8000}

// Reflection is what a surface of the room sends to the listener of a loudspeaker, once
// reflected, without loss: by its image source (J. B. Allen, D. A. Berkley, J. Acoust. Soc. Am. 65,
// 1979).
type Reflection struct {
	Side, Surface string
	PathM         float64
	DelayS        float64 // behind the direct sound
	Degrees       float64 // off the loudspeaker's axis, at which it leaves
	DistanceDB    float64 // re the direct sound, by distance alone
	// LevelDB is that of each way at RoomHz re its direct sound, by distance and by the way's
	// pattern; nil where the pattern is not known.
	LevelDB [][]float64
}

type vector [3]float64 // m, to the right, to the listener, up

func (a vector) to(b vector) vector { return vector{b[0] - a[0], b[1] - a[1], b[2] - a[2]} }

func (a vector) length() float64 { return math.Sqrt(a.dot(a)) }

func (a vector) dot(b vector) float64 { return a[0]*b[0] + a[1]*b[1] + a[2]*b[2] }

// degrees is the angle between two directions.
func (a vector) degrees(b vector) float64 {
	c := a.dot(b) / a.length() / b.length()
	return math.Acos(math.Max(-1, math.Min(1, c))) * 180 / math.Pi
}

// Reflections are those of the floor and of every surface that a room gives, of the left
// loudspeaker, then of the right one.
func (s *System) Reflections(r *language.Room) []Reflection {
	var out []Reflection
	ear := vector{0, r.ListenerM, r.EarM}
	for _, side := range []struct {
		name string
		sign float64
	}{{"left", -1}, {"right", 1}} {
		at := vector{side.sign * r.BaseM / 2, 0, r.HeightM}
		axis := vector{-at[0], r.ListenerM, 0}
		if !r.ToListener {
			sin, cos := math.Sincos(r.TurnedDegrees * math.Pi / 180)
			axis = vector{-side.sign * sin, cos, 0}
		}
		direct := at.to(ear)
		for _, x := range []struct {
			name  string
			known bool
			along int     // the coordinate that the surface is square to
			where float64 // the surface's
		}{
			{"floor", true, 2, 0},
			{"ceiling", r.CeilingM > 0, 2, r.CeilingM},
			{"left wall", r.LeftM > 0, 0, -r.BaseM/2 - r.LeftM},
			{"right wall", r.RightM > 0, 0, r.BaseM/2 + r.RightM},
			{"front wall", r.FrontM > 0, 1, -r.FrontM},
			{"rear wall", r.RearM > 0, 1, r.ListenerM + r.RearM},
		} {
			if !x.known {
				continue
			}
			image := ear // the listener's: from the loudspeaker the path has the same length, and its own direction
			image[x.along] = 2*x.where - ear[x.along]
			path := at.to(image)
			f := Reflection{Side: side.name, Surface: x.name, PathM: path.length(), DelayS: (path.length() - direct.length()) / SpeedOfSound,
				Degrees: axis.degrees(path), DistanceDB: 20 * math.Log10(direct.length()/path.length())}
			for k := range s.Ways {
				f.LevelDB = append(f.LevelDB, s.Ways[k].reflected(f, axis.degrees(direct)))
			}
			out = append(out, f)
		}
	}
	return out
}

// reflected is a way's level of a reflection, whose direct sound leaves at so many degrees.
func (w *Way) reflected(f Reflection, direct float64) []float64 {
	if w.Source == nil || !w.Source.Directs() {
		return nil
	}
	var out []float64
	for _, hz := range RoomHz {
		out = append(out, f.DistanceDB+w.offDB(hz, f.Degrees)-w.offDB(hz, direct))
	}
	return out
}

// LoudestAt is which way is loudest on the axis at each frequency, in a combination of a
// realisation.
func (s *System) LoudestAt(r verify.Realisation, c verify.Combination, hz []float64) []int {
	on := r.On(hz)
	out, most := make([]int, len(hz)), make([]float64, len(hz))
	for k := range s.Ways {
		h := make([]complex128, len(hz))
		on.Response(h, k, c)
		for i, f := range hz {
			if p := biquad.Power(h[i] * s.Ways[k].Pressure(f, 0)); p > most[i] {
				out[i], most[i] = k, p
			}
		}
	}
	return out
}
