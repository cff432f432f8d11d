package acoustic

import (
	"fmt"
	"math"

	"bandwright/compiler/words"
)

// Parameters are those of a driver as a data sheet or a measurement gives them, 0 for
// what is not given. Any consistent set is enough: two of resonance, moving mass and
// compliance, and for motor and losses a Q or what makes it.
type Parameters struct {
	ResonanceHz float64 // free air
	QElectrical float64
	QMechanical float64
	QTotal      float64
	MassKg      float64 // with the air that moves along
	Compliance  float64 // m/N, of the suspension
	VolumeM3    float64 // of air that is as compliant, for the area
	ForceFactor float64 // T·m
	Damping     float64 // kg/s, the suspension's mechanical resistance
	AreaM2      float64
	CoilOhm     float64 // DC
	CoilH       float64
	ExcursionM  float64 // to one side, peak
}

// Driver is a driver as the equations take it.
type Driver struct {
	MassKg, Compliance, Damping, ForceFactor float64
	AreaM2, CoilOhm, CoilH                   float64
	LimitM                                   float64 // of its excursion to one side, peak; 0 where nobody says
}

// agree is how far apart (relative) two values of one parameter may lie: data sheets
// round to two digits, and a force factor counts squared.
const agree = 0.05

// The keys of a driver that problems name.
const (
	keyResonance, keyMass, keyCompliance, keyVolume = "resonance", "moving-mass", "compliance", "compliance-volume"
	keyQE, keyQM, keyQT, keyBl, keyDamping          = "q-electrical", "q-mechanical", "q-total", "force-factor", "damping"
)

// Driver works the missing parameters out of those given. f0 = 1/(2π·√(Mms·Cms)),
// Vas = ρc²·Sd²·Cms, Qms = 2πf0·Mms/Rms, Qes = 2πf0·Mms·Re/(Bl)², 1/Qts = 1/Qms + 1/Qes
// (R. H. Small, J. Audio Eng. Soc. 20, 1972). What is given more than once has to agree
// within 5 %: the compliance and the damping are then what follows from the others.
func (p Parameters) Driver() (Driver, []Problem) {
	s := solver{p: p}
	s.suspension()
	if len(s.problems) == 0 {
		s.motor()
	}
	return s.d, s.problems
}

// solver fills in a driver.
type solver struct {
	p        Parameters
	d        Driver
	hz       float64 // the resonance
	problems []Problem
}

func (s *solver) problem(key, message, right string) {
	s.problems = append(s.problems, Problem{key, message, right})
}

// differs reports, at key, a given value that is not what follows from others. is
// says what it follows from, with the arithmetic.
func (s *solver) differs(key string, given, follows float64, is string, write func(float64) string) bool {
	if math.Abs(given/follows-1) <= agree {
		return false
	}
	s.problem(key, fmt.Sprintf("`%s` of %s does not fit the rest: %s = %s", key, write(given), is, write(follows)),
		fmt.Sprintf("write `%s: %s`, leave it out, or correct what it follows from", key, write(follows)))
	return true
}

func grams(kg float64) string       { return words.Short(kg*1e3) + " g" }
func litres(m3 float64) string      { return words.Short(m3*1e3) + " l" }
func perNewton(c float64) string    { return words.Short(c*1e3) + " mm/N" }
func tesla(bl float64) string       { return words.Short(bl) + " T m" }
func perSecond(r float64) string    { return words.Short(r) + " kg/s" }
func centimetres2(a float64) string { return words.Short(a*1e4) + " cm2" }

// suspension finds resonance, mass and compliance.
func (s *solver) suspension() {
	p := s.p
	s.d = Driver{AreaM2: p.AreaM2, CoilOhm: p.CoilOhm, CoilH: p.CoilH, LimitM: p.ExcursionM, Compliance: p.Compliance, MassKg: p.MassKg}
	s.hz = p.ResonanceHz
	if p.VolumeM3 > 0 {
		c := p.VolumeM3 / (stiffness * p.AreaM2 * p.AreaM2)
		if p.Compliance > 0 && s.differs(keyVolume, p.VolumeM3, p.Compliance*stiffness*p.AreaM2*p.AreaM2,
			fmt.Sprintf("1.204 kg/m3·(343 m/s)²·(%s)²·%s", centimetres2(p.AreaM2), perNewton(p.Compliance)), litres) {
			return
		}
		if s.d.Compliance == 0 {
			s.d.Compliance = c
		}
	}
	given := 0
	for _, x := range []float64{s.hz, s.d.MassKg, s.d.Compliance} {
		if x > 0 {
			given++
		}
	}
	switch {
	case given < 2:
		s.problem("", "the driver needs two of `resonance`, `moving-mass` and a compliance, and has "+[2]string{"none", "one"}[given],
			"give `resonance` and `moving-mass`, or one of them and `compliance` or `compliance-volume`")
		return
	case s.hz == 0:
		s.hz = 1 / (2 * math.Pi * math.Sqrt(s.d.MassKg*s.d.Compliance))
		return
	case s.d.MassKg == 0:
		s.d.MassKg = s.springs(s.d.Compliance)
		return
	case s.d.Compliance > 0:
		key, given, write := keyCompliance, p.Compliance, perNewton
		follows := s.springs(s.d.MassKg)
		is := fmt.Sprintf("1/((2π·%s)²·%s)", words.Hz(s.hz), grams(s.d.MassKg))
		if p.Compliance == 0 {
			area := stiffness * p.AreaM2 * p.AreaM2
			key, given, follows, write = keyVolume, p.VolumeM3, follows*area, litres
			is = fmt.Sprintf("1.204 kg/m3·(343 m/s)²·(%s)²/((2π·%s)²·%s)", centimetres2(p.AreaM2), words.Hz(s.hz), grams(s.d.MassKg))
		}
		if s.differs(key, given, follows, is, write) {
			return
		}
	}
	s.d.Compliance = s.springs(s.d.MassKg)
}

// springs is the compliance that a mass resonates with, or the mass that a compliance
// does: 1/((2πf0)²·x).
func (s *solver) springs(x float64) float64 {
	w := 2 * math.Pi * s.hz
	return 1 / (w * w * x)
}

// motor finds force factor and damping.
func (s *solver) motor() {
	p := s.p
	moving := 2 * math.Pi * s.hz * s.d.MassKg
	text := fmt.Sprintf("2π·%s·%s", words.Hz(s.hz), grams(s.d.MassKg))
	qm, qe := p.QMechanical, p.QElectrical
	if p.Damping > 0 {
		if qm > 0 && s.differs(keyDamping, p.Damping, moving/qm, text+"/"+words.Short(qm), perSecond) {
			return
		}
		if qm == 0 {
			qm = moving / p.Damping
		}
	}
	if p.ForceFactor > 0 {
		follows := 0.0
		if qe > 0 {
			follows = math.Sqrt(moving * p.CoilOhm / qe)
		}
		if qe > 0 && s.differs(keyBl, p.ForceFactor, follows, fmt.Sprintf("√(%s·%s ohm/%s)", text, words.Short(p.CoilOhm), words.Short(qe)), tesla) {
			return
		}
		qe = moving * p.CoilOhm / (p.ForceFactor * p.ForceFactor)
	}
	if qm, qe = s.total(qm, qe); len(s.problems) > 0 {
		return
	}
	s.d.Damping = moving / qm
	s.d.ForceFactor = math.Sqrt(moving * p.CoilOhm / qe)
}

// total brings the total Q in, which makes one of the two where the other is known.
func (s *solver) total(qm, qe float64) (float64, float64) {
	qt := s.p.QTotal
	switch {
	case qe == 0 && qm == 0:
		s.problem("", "nothing says how strong the driver's motor is, nor what damps it", "give two of `q-electrical` (or `force-factor`), `q-mechanical` (or `damping`) and `q-total`")
	case qt == 0 && qe == 0:
		s.problem("", "nothing says how strong the driver's motor is", "give `q-electrical`, `force-factor` or `q-total`")
	case qt == 0 && qm == 0:
		s.problem("", "nothing says what damps the driver mechanically", "give `q-mechanical`, `damping` or `q-total`")
	case qt == 0:
	case qe > 0 && qm > 0:
		s.differs(keyQT, qt, qe*qm/(qe+qm), fmt.Sprintf("1/(1/%s + 1/%s)", words.Short(qe), words.Short(qm)), words.Short)
	default:
		key, known := keyQE, qe
		if qm > 0 {
			key, known = keyQM, qm
		}
		if !(qt < known*(1-1e-6)) {
			s.problem(keyQT, fmt.Sprintf("`q-total` of %s is not below `%s` of %s, but 1/q-total = 1/q-electrical + 1/q-mechanical", words.Short(qt), key, words.Short(known)),
				fmt.Sprintf("it has to be less than %s", words.Short(known)))
			return qm, qe
		}
		other := 1 / (1/qt - 1/known)
		if key == keyQE {
			return other, qe
		}
		return qm, other
	}
	return qm, qe
}

// ResonanceHz is the resonance in free air, as are QElectrical and QMechanical.
func (d Driver) ResonanceHz() float64 { return 1 / (2 * math.Pi * math.Sqrt(d.MassKg*d.Compliance)) }

// QElectrical is the Q of the motor's damping alone.
func (d Driver) QElectrical() float64 {
	return 2 * math.Pi * d.ResonanceHz() * d.MassKg * d.CoilOhm / (d.ForceFactor * d.ForceFactor)
}

// QMechanical is the Q of the suspension's damping alone.
func (d Driver) QMechanical() float64 { return 2 * math.Pi * d.ResonanceHz() * d.MassKg / d.Damping }

// QTotal is the Q of both.
func (d Driver) QTotal() float64 {
	e, m := d.QElectrical(), d.QMechanical()
	return e * m / (e + m)
}

// RadiusM is that of a flat piston with the driver's area (m).
func RadiusM(areaM2 float64) float64 { return math.Sqrt(areaM2 / math.Pi) }
