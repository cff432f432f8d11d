package acoustic

import "math"

// Mounting is a row of the table of mountings: what stands around a driver.
type Mounting struct {
	Name, Doc string
	// Needs are the keys without which it means nothing; Takes may stand as well.
	Needs, Takes []string
	make         func(e Enclosure) surrounding
}

// Enclosure is what the keys of a mounting say, 0 for what is not given.
type Enclosure struct {
	VolumeM3 float64 // of the whole box, for all drivers of the way
	TuningHz float64 // of its port, the drivers at rest
	PortQ    float64 // of the port's losses at the tuning
	WidthM   float64 // of the baffle
	PathM    float64 // of a dipole: by how much the way from the rear is longer
}

// surrounding is what a mounting does to the cones and to the sound.
type surrounding interface {
	// box is the acoustic impedance behind the cones (Pa·s/m³) at w rad/s.
	box(w float64) complex128
	// leaves is the volume velocity that leaves the enclosure, re that of the cones.
	leaves(w float64) complex128
	// shape is the pressure re that of a monopole with that volume velocity in free space.
	shape(hz, degrees float64) complex128
}

// The keys of a mounting.
const (
	KeyVolume, KeyTuning, KeyPortQ = "volume", "tuning", "port-q"
	KeyWidth, KeyPath              = "baffle-width", "path-difference"
)

// Mountings are all that there are.
var Mountings = []Mounting{
	{Name: "sealed", Doc: "In a closed box of `volume`, in free space; with `baffle-width` its front is a baffle.",
		Needs: []string{KeyVolume}, Takes: []string{KeyWidth}, make: func(e Enclosure) surrounding { return sealed{step{widthM: e.WidthM}, e.VolumeM3} }},
	{Name: "vented", Doc: "In a box of `volume` with a port tuned to `tuning`.",
		Needs: []string{KeyVolume, KeyTuning}, Takes: []string{KeyPortQ, KeyWidth}, make: func(e Enclosure) surrounding {
			return vented{sealed{step{widthM: e.WidthM}, e.VolumeM3}, 2 * math.Pi * e.TuningHz, e.PortQ}
		}},
	{Name: "baffle", Doc: "In an infinite baffle, or in one of `baffle-width`; what is behind it does not load the cone and is not heard.",
		Takes: []string{KeyWidth}, make: func(e Enclosure) surrounding {
			return open{step{widthM: e.WidthM, wall: e.WidthM == 0}}
		}},
	{Name: "dipole", Doc: "Open to the back; sound from there comes later by `path-difference` and with the other sign.",
		Needs: []string{KeyPath}, make: func(e Enclosure) surrounding { return dipole{e.PathM} }},
}

// MountingNamed is a row of Mountings.
func MountingNamed(name string) (Mounting, bool) {
	for _, m := range Mountings {
		if m.Name == name {
			return m, true
		}
	}
	return Mounting{}, false
}

// step is a baffle of that width (m), 0 for none, or a wall without end. From full to half
// space the pressure on the axis doubles: a first-order shelf, 3 dB at k·width/2 = 1,
// that is c/(π·width). To the rear the same shelf falls from 1 to 0. A real edge ripples
// around that.
type step struct {
	widthM float64
	wall   bool
}

func (s step) shape(hz, degrees float64) complex128 {
	front := complex(1, 0)
	switch {
	case s.wall:
		front = 2
	case s.widthM > 0:
		w0 := 2 * SpeedOfSound / s.widthM
		p := complex(0, 2*math.Pi*hz/w0)
		front = 2 * (p + math.Sqrt2/2) / (p + math.Sqrt2)
	}
	switch {
	case degrees < 90:
		return front
	case degrees > 90:
		return 2 - front
	}
	return 1
}

// open is a baffle with nothing behind it.
type open struct{ step }

func (open) box(float64) complex128    { return 0 }
func (open) leaves(float64) complex128 { return 1 }

// sealed is a closed box: its air is a spring, ρc²/(jωV).
type sealed struct {
	step
	volumeM3 float64
}

func (s sealed) box(w float64) complex128 { return complex(0, -stiffness/(w*s.volumeM3)) }
func (sealed) leaves(float64) complex128  { return 1 }
func (s sealed) dcStiffness() float64     { return stiffness / s.volumeM3 }

// vented is a box with a port: the mass of the air in it resonates with the box at w0,
// and its losses are w0·mass/q. What leaves it is what leaves the port besides, in
// opposition below w0.
type vented struct {
	sealed
	w0, q float64
}

func (v vented) port(w float64) complex128 {
	mass := stiffness / (v.volumeM3 * v.w0 * v.w0)
	return complex(v.w0*mass/v.q, w*mass)
}

func (v vented) box(w float64) complex128 {
	c, p := v.sealed.box(w), v.port(w)
	return c * p / (c + p)
}

func (v vented) leaves(w float64) complex128 {
	c, p := v.sealed.box(w), v.port(w)
	return p / (c + p)
}

func (vented) dcStiffness() float64 { return 0 }

// dipole hears the rear with the other sign, later by its path difference on the axis
// and by the cosine of it elsewhere.
type dipole struct{ pathM float64 }

func (dipole) box(float64) complex128    { return 0 }
func (dipole) leaves(float64) complex128 { return 1 }

func (d dipole) shape(hz, degrees float64) complex128 {
	x := 2 * math.Pi * hz * d.pathM / SpeedOfSound * math.Cos(degrees*math.Pi/180)
	// 1 - exp(-jx) = 2j·sin(x/2)·exp(-jx/2), without the difference of near values.
	s, c := math.Sincos(x / 2)
	return complex(2*s*s, 2*s*c)
}

// Dipole reports whether the mounting radiates a figure of eight, and its path
// difference (m).
func (m *Mounted) Dipole() (pathM float64, ok bool) {
	d, ok := m.around.(dipole)
	return d.pathM, ok
}
