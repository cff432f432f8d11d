package acoustic

import (
	"math"
	"testing"

	"bandwright/compiler/language"
)

// Paths, delays, angles and levels of first reflections against plane geometry: Pythagoras for
// lengths, the law of cosines for angles; a dipole's level is cosθ far below its first peak, a
// pressure source has none.
func TestReflections(t *testing.T) {
	dipole := mounted(t, woofer(), 1, "parallel", "dipole", Enclosure{PathM: 0.02})
	s := &System{Ways: []Way{{Name: "a", Source: dipole}, {Name: "b"}}}
	const listener, base, height, ear, ceiling, left, right, front, rear = 3.0, 2.0, 0.9, 1.2, 2.6, 0.5, 1.5, 0.4, 1.1
	r := &language.Room{ListenerM: listener, BaseM: base, HeightM: height, EarM: ear, CeilingM: ceiling, LeftM: left, RightM: right, FrontM: front, RearM: rear, ToListener: true}
	all := s.Reflections(r)
	if len(all) != 12 {
		t.Fatal(len(all))
	}
	floor := math.Hypot(listener, base/2) // on plan
	direct := math.Hypot(floor, ear-height)
	for _, want := range []struct {
		side, surface string
		across        float64 // to the right on plan, m, as the path goes
		along, up     float64
	}{
		{"left", "floor", 1, 3, -2.1},
		{"left", "ceiling", 1, 3, 2*ceiling - ear - height},
		{"left", "left wall", -2, 3, 0.3},         // 0.5 out, and 1.5 back to the middle
		{"left", "right wall", 1 + 2*2.5, 3, 0.3}, // the wall stands 2.5 right of the middle
		{"left", "front wall", 1, -(0.4*2 + 3), 0.3},
		{"left", "rear wall", 1, 3 + 2*1.1, 0.3},
		{"right", "floor", -1, 3, -2.1},
		{"right", "left wall", -(1 + 2*1.5), 3, 0.3},
		{"right", "right wall", 1.5*2 - 1 + 2, 3, 0.3},
		{"right", "rear wall", -1, 3 + 2*1.1, 0.3},
	} {
		found := false
		for _, f := range all {
			if f.Side != want.side || f.Surface != want.surface {
				continue
			}
			found = true
			path := math.Sqrt(want.across*want.across + want.along*want.along + want.up*want.up)
			near(t, want.side+" "+want.surface+": path", f.PathM, path, 1e-12)
			near(t, want.side+" "+want.surface+": delay", f.DelayS, (path-direct)/343, 1e-15)
			near(t, want.side+" "+want.surface+": distance", f.DistanceDB, 20*math.Log10(direct/path), 1e-12)
			// The axis points to the listener on plan.
			in := 1.0
			if want.side == "right" {
				in = -1
			}
			cos := func(x, y, z float64) float64 {
				opposite := (x-in)*(x-in) + (y-listener)*(y-listener) + z*z
				length := math.Sqrt(x*x + y*y + z*z)
				return (floor*floor + length*length - opposite) / (2 * floor * length)
			}
			c := cos(want.across, want.along, want.up)
			near(t, want.side+" "+want.surface+": angle", f.Degrees, math.Acos(c)*180/math.Pi, 1e-9)
			level := f.DistanceDB + 20*math.Log10(math.Abs(c)/cos(in, listener, ear-height))
			near(t, want.side+" "+want.surface+": level at 125 Hz", f.LevelDB[0][0], level, 0.08) // the piston itself takes 0.05
			if f.LevelDB[1] != nil {
				t.Error("a way without a driver has a level")
			}
		}
		if !found {
			t.Errorf("%+v is missing", want)
		}
	}
}

// Turned inwards by the angle at which the listener sits, loudspeakers are turned to the
// listener; only surfaces that are given reflect, and the floor.
func TestTurned(t *testing.T) {
	s := &System{Ways: []Way{{Name: "a", Source: mounted(t, woofer(), 1, "parallel", "sealed", Enclosure{VolumeM3: 0.03})}}}
	r := &language.Room{ListenerM: 3, BaseM: 2, HeightM: 1, EarM: 1, LeftM: 1, ToListener: true}
	to := s.Reflections(r)
	r.ToListener, r.TurnedDegrees = false, math.Atan2(1, 3)*180/math.Pi
	by := s.Reflections(r)
	if len(to) != 4 || len(by) != 4 {
		t.Fatal(len(to), len(by))
	}
	for i := range to {
		near(t, to[i].Side+" "+to[i].Surface, by[i].Degrees, to[i].Degrees, 1e-9)
	}
	near(t, "low down a closed box has no pattern", to[0].LevelDB[0][0], to[0].DistanceDB, 0.05)
	if high := to[1].LevelDB[0]; high[6] > high[0]-3 {
		t.Errorf("a woofer beams: %v", high)
	}
}
