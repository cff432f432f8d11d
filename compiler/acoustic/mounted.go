package acoustic

import "math"

// Wiring is a row of the table of wirings.
type Wiring struct {
	Name, Doc string
	// Counts reports whether so many drivers can be wired so.
	Counts func(n int) bool
	// Right says which numbers can.
	Right string
	// inSeries is how many of n share the volts.
	inSeries func(n int) int
}

// Wirings are all that there are, the default first.
var Wirings = []Wiring{
	{Name: "parallel", Doc: "All drivers have the amplifier's voltage.", Counts: func(int) bool { return true }, inSeries: func(int) int { return 1 }},
	{Name: "series", Doc: "The drivers share it.", Counts: func(int) bool { return true }, inSeries: func(n int) int { return n }},
	{Name: "series-parallel", Doc: "As many chains in parallel as each has drivers in series.",
		Counts: func(n int) bool { r := root(n); return n > 1 && r*r == n }, Right: "4, 9 or 16 drivers can be", inSeries: root},
}

func root(n int) int { return int(math.Round(math.Sqrt(float64(n)))) }

// WiringNamed is a row of Wirings.
func WiringNamed(name string) (Wiring, bool) {
	for _, w := range Wirings {
		if w.Name == name {
			return w, true
		}
	}
	return Wiring{}, false
}

// Mounted is a driver, or several alike, in a mounting: a Source of which everything is
// known. Several are in one place: they add up in phase in every direction.
type Mounted struct {
	Driver Driver
	count  float64
	series float64
	around surrounding
	radius float64
}

// Mount puts so many drivers into a mounting.
func Mount(d Driver, count int, w Wiring, m Mounting, e Enclosure) *Mounted {
	return &Mounted{Driver: d, count: float64(count), series: float64(w.inSeries(count)), around: m.make(e), radius: RadiusM(d.AreaM2)}
}

// mechanical is the impedance of one cone with its share of the box (kg/s), at w > 0.
func (m *Mounted) mechanical(w float64) complex128 {
	d := &m.Driver
	own := complex(d.Damping, w*d.MassKg-1/(w*d.Compliance))
	return own + complex(d.AreaM2*d.AreaM2*m.count, 0)*m.around.box(w)
}

// one is the electrical impedance of one driver (ohm), Re + jωLe + (Bl)²/Zm.
func (m *Mounted) one(w float64) (electrical, mechanical complex128) {
	d := &m.Driver
	mechanical = m.mechanical(w)
	return complex(d.CoilOhm, w*d.CoilH) + complex(d.ForceFactor*d.ForceFactor, 0)/mechanical, mechanical
}

// Impedance implements Load.
func (m *Mounted) Impedance(hz float64) complex128 {
	z, _ := m.one(2 * math.Pi * hz)
	return z * complex(m.series*m.series/m.count, 0)
}

// Velocity of each cone (m/s for 1 V), u = Bl·V/(Z·Zm).
func (m *Mounted) Velocity(hz float64) complex128 {
	z, mechanical := m.one(2 * math.Pi * hz)
	return complex(m.Driver.ForceFactor/m.series, 0) / (z * mechanical)
}

// Excursion implements Moving.
func (m *Mounted) Excursion(hz float64) complex128 {
	if hz == 0 {
		return complex(m.Driver.ForceFactor/(m.series*m.Driver.CoilOhm*m.restoring()), 0)
	}
	return m.Velocity(hz) / complex(0, 2*math.Pi*hz)
}

// restoring is what pushes a cone back from where DC holds it (N/m): the suspension and
// what a box without a port adds for as long as it is tight.
func (m *Mounted) restoring() float64 {
	k := 1 / m.Driver.Compliance
	if s, ok := m.around.(interface{ dcStiffness() float64 }); ok {
		k += s.dcStiffness() * m.Driver.AreaM2 * m.Driver.AreaM2 * m.count
	}
	return k
}

// ExcursionM implements Moving.
func (m *Mounted) ExcursionM() float64 { return m.Driver.LimitM }

// Pressure implements Source: jωρ·Sd·u·n/(4π) at 1 m, times what the mounting and the
// piston make of it.
func (m *Mounted) Pressure(hz, degrees float64) complex128 {
	return m.onAxis(hz) * m.around.shape(hz, degrees) * complex(m.piston(hz, degrees), 0)
}

// onAxis is the pressure of a monopole in free space with what leaves the enclosure.
func (m *Mounted) onAxis(hz float64) complex128 {
	w := 2 * math.Pi * hz
	return complex(0, w*Density*m.Driver.AreaM2*m.count/(4*math.Pi)) * m.Velocity(hz) * m.around.leaves(w)
}

// piston is the directivity of each cone. Behind a box it is taken as to its side.
func (m *Mounted) piston(hz, degrees float64) float64 {
	if _, both := m.around.(dipole); degrees > 90 && !both {
		degrees = 90
	}
	return Piston(m.radius, hz, degrees)
}

// Directs implements Source.
func (m *Mounted) Directs() bool { return true }

// Covers implements Source.
func (m *Mounted) Covers() (lowHz, highHz float64) { return 0, math.Inf(1) }

// RadiusM is that of each cone as a piston.
func (m *Mounted) RadiusM() float64 { return m.radius }

// LowestResonanceHz is the resonance of the driver in its mounting, or of the driver alone where a port makes two of it.
func (m *Mounted) LowestResonanceHz() float64 {
	if hz, _, ok := m.Resonance(); ok {
		return hz
	}
	return 1 / (2 * math.Pi * math.Sqrt(m.Driver.MassKg*m.Driver.Compliance))
}

// Resonance is that of a driver in a box without a port, or in none: what a pole shift
// begins from, f0·√(1 + Vas/V) and the total Q times as much (R. H. Small, Closed-Box
// Loudspeaker Systems, J. Audio Eng. Soc. 20, 1972). ok is false with a port, whose
// response has four poles. The coil's inductance is left out.
func (m *Mounted) Resonance() (hz, q float64, ok bool) {
	if _, port := m.around.(vented); port {
		return 0, 0, false
	}
	d := &m.Driver
	w := math.Sqrt(m.restoring() / d.MassKg)
	return w / (2 * math.Pi), w * d.MassKg / (d.Damping + d.ForceFactor*d.ForceFactor/d.CoilOhm), true
}

var _ interface {
	Source
	Load
	Moving
} = (*Mounted)(nil)

// dcOhm is the resistance of all coils of the way together.
func (m *Mounted) dcOhm() float64 { return m.Driver.CoilOhm * m.series * m.series / m.count }
