package circuit

import (
	"fmt"
	"math"
	"math/cmplx"
	"strconv"

	"bandwright/biquad"
	"bandwright/compiler/netlist"
	"bandwright/compiler/nodal"
)

// Range is from a smallest to a largest value.
type Range struct{ From, To float64 }

// Means is what stages may be built from.
type Means struct {
	Ohm      Range   // resistors
	ShuntOhm float64 // smallest resistor where the template allows a low one
	Farad    Range   // capacitors
	OpAmp    netlist.OpAmp
}

const (
	// worstGBW (dB) is the error of the response through the op-amp's finite
	// gain-bandwidth at which a stage no longer applies, and noticedGBW the one
	// that is worth a remark.
	worstGBW   = 1.0
	noticedGBW = 0.1
	// quietOhm is the largest resistor whose thermal noise passes without
	// remark: 19 nV/√Hz.
	quietOhm = 22e3
	// highNoiseGain is the noise gain that is worth a remark.
	highNoiseGain = 10
	// maxTried bounds the combinations of free choices.
	maxTried = 20000
)

// Proposal says whether and how a topology realises a section.
type Proposal struct {
	Topology *Topology
	Asked    Asked
	Applies  bool
	Reason   string // why it does not apply, in words
	// Free and Values are the choices made and the part values in the order of
	// Topology.Parts, unrounded. Where the stage does not apply they are those
	// that come nearest, or nil.
	Free, Values []float64
	// Level is the stage's response divided by the section's: negative where it
	// inverts, of magnitude 1 unless the level is fixed.
	Level float64
	// GBWErrorDB is the largest deviation from the ideal stage through the real
	// op-amp, a decade either side of the natural frequency, where the response
	// is within 40 dB of its peak.
	GBWErrorDB float64
	// NoiseGain is by how much the input noise voltage of the op-amp that works
	// hardest appears at the output, at the natural frequency.
	NoiseGain float64
	Cautions  []Caution
}

// Candidates asks every topology, in the order of the table. Balanced ones do
// not apply: they belong to the input of a board.
func Candidates(s biquad.Analog, m Means) []Proposal {
	out := make([]Proposal, len(Topologies))
	for i, t := range Topologies {
		if t.Balanced {
			out[i] = Proposal{Topology: t, Reason: "it takes a balanced signal"}
			continue
		}
		out[i] = t.Propose(s, m)
	}
	return out
}

// Propose designs the stage for a section with the best of its free choices,
// or says why it does not apply.
func (t *Topology) Propose(s biquad.Analog, m Means) Proposal {
	p := Proposal{Topology: t}
	no := func(format string, args ...any) Proposal {
		p.Applies, p.Reason = false, fmt.Sprintf(format, args...)
		return p
	}
	a, err := Ask(s)
	if err != nil {
		return no("%v", err)
	}
	p.Asked = a
	switch {
	case !t.Can(a.Shape):
		return no("it cannot make a %v", a.Shape)
	case a.Order == 2 && t.MaxQ > 0 && a.Q > t.MaxQ:
		return no("Q %.3g is above %.3g, where its response is too sensitive to every part", a.Q, t.MaxQ)
	}
	if reason := t.choose(&p, m); reason != "" {
		return no("%s", reason)
	}
	if err := t.judge(&p, m); err != nil {
		return no("%v", err)
	}
	if p.GBWErrorDB > worstGBW {
		return no("a gain-bandwidth of %s is too low at %s: the error would be %.2g dB",
			withUnit(m.OpAmp.GainBandwidthHz, "Hz"), withUnit(a.W/(2*math.Pi), "Hz"), p.GBWErrorDB)
	}
	p.Applies = true
	p.Cautions = t.cautions(&p, m)
	return p
}

// choose tries the free choices and keeps the values that fit best: inside
// the stock's range first, then near a comfortable impedance. It returns the
// reason where nothing fits.
func (t *Topology) choose(p *Proposal, m Means) string {
	lists := make([][]float64, len(t.Free))
	total := 1
	for i, f := range t.Free {
		lists[i] = f.Try(p.Asked, m)
		total = min(total*len(lists[i]), maxTried)
	}
	if total == 0 {
		return "the stock has no capacitor in the range"
	}
	best, refusal, reason := math.Inf(1), "", ""
	free := make([]float64, len(t.Free))
	parts := t.Parts()
	for n := range total {
		k := n
		for i := len(lists) - 1; i >= 0; i-- {
			free[i] = lists[i][k%len(lists[i])]
			k /= len(lists[i])
		}
		v, err := t.Design(p.Asked, free)
		if err != nil {
			if refusal == "" {
				refusal = err.Error()
			}
			continue
		}
		cost, outside := comfort(parts, v, m)
		if math.IsInf(cost, 1) && p.Values == nil {
			reason = outside
		}
		if cost < best*(1-same) {
			best, reason = cost, outside
			p.Free, p.Values = append([]float64{}, free...), v
		}
	}
	if p.Values == nil {
		if refusal == "" {
			refusal = reason
		}
		return refusal
	}
	p.Level = t.level(p.Asked, p.Values)
	return reason
}

// comfort is small for values near 10 kΩ and near each other, and large for
// values out of range, with the worst of them in words.
func comfort(parts []Element, v []float64, m Means) (cost float64, outside string) {
	const outOfRange = 1e3
	worst := 0.0
	for i, e := range parts {
		if v[i] == 0 && e.Optional {
			continue
		}
		lo, hi, unit, weight := m.Ohm.From, m.Ohm.To, "ohm", 1.0
		usual := usualOhm
		if e.Kind == netlist.Capacitor {
			lo, hi, unit, usual, weight = m.Farad.From, m.Farad.To, "F", 22e-9, 0.05
		} else if e.Shunt {
			lo = math.Min(lo, m.ShuntOhm)
		}
		if !(v[i] > 0) || bad(v[i]) {
			return math.Inf(1), e.Ref + " would not be positive"
		}
		l := math.Log2(v[i] / usual)
		cost += weight * l * l
		excess, side, limit := math.Log2(v[i]/hi), "above", hi
		if v[i] < lo {
			excess, side, limit = math.Log2(lo/v[i]), "below", lo
		}
		if excess > same {
			cost += outOfRange * (1 + excess)
			if excess > worst {
				worst = excess
				outside = fmt.Sprintf("%s would be %s, %s the stock's %s", e.Ref, withUnit(v[i], unit), side, withUnit(limit, unit))
			}
		}
	}
	return cost, outside
}

// level is the stage's response divided by the section's, taken where the
// section is largest.
func (t *Topology) level(a Asked, v []float64) float64 {
	s, h := a.Section(), t.Closed(v)
	var top, level float64
	for _, x := range [...]float64{0.01, 1, 100} {
		if g := s.At(a.W * x); cmplx.Abs(g) > top {
			top, level = cmplx.Abs(g), real(h.At(a.W*x)/g)
		}
	}
	return level
}

// centreHz is where a section does what it is there for: its natural frequency (Hz).
func (a Asked) centreHz() float64 {
	if a.Order == 0 {
		return 1000
	}
	return a.W / (2 * math.Pi)
}

// OpAmpErrorDB is the largest deviation (dB) of a stage with values v from itself with
// ideal op-amps, as in Proposal.GBWErrorDB. It fails where the stage has no solution.
func (t *Topology) OpAmpErrorDB(a Asked, v []float64, m netlist.OpAmp) (float64, error) {
	db, _, _, err := t.departs(a, v, m)
	return db, err
}

// departs is OpAmpErrorDB with the circuit that was analysed for it and its solver.
func (t *Topology) departs(a Asked, v []float64, m netlist.OpAmp) (db float64, c *netlist.Circuit, s *nodal.Solver, err error) {
	const below, points = 10, 33
	centre := a.centreHz()
	c = t.Alone(v, m)
	if s, err = nodal.New(c, centre/below); err != nil {
		return 0, nil, nil, err
	}
	out, _ := c.Find("out")
	ideal := t.Closed(v)
	var is, ought [points]float64
	peak := 0.0
	for i, hz := range biquad.Spaced(centre/below, centre*below, points) {
		if err := s.At(hz); err != nil {
			return 0, nil, nil, err
		}
		is[i], ought[i] = cmplx.Abs(s.Voltage(out)), cmplx.Abs(ideal.At(2*math.Pi*hz))
		peak = math.Max(peak, ought[i])
	}
	for i := range points {
		if ought[i] > 0.01*peak {
			db = math.Max(db, math.Abs(biquad.GainDB(is[i]/ought[i])))
		}
	}
	return db, c, s, nil
}

// judge analyses the stage with the real op-amp.
func (t *Topology) judge(p *Proposal, m Means) error {
	db, c, solver, err := t.departs(p.Asked, p.Values, m.OpAmp)
	if err != nil {
		return err
	}
	p.GBWErrorDB = db
	if err := solver.At(p.Asked.centreHz()); err != nil {
		return err
	}
	out, _ := c.Find("out")
	for i, part := range c.Parts() {
		if part.Kind == netlist.Amplifier {
			g, err := solver.NoiseGain(out, i)
			if err != nil {
				return err
			}
			p.NoiseGain = math.Max(p.NoiseGain, cmplx.Abs(g))
		}
	}
	return nil
}

// cautions are the remarks on a stage that applies.
func (t *Topology) cautions(p *Proposal, m Means) []Caution {
	var out []Caution
	if p.NoiseGain > highNoiseGain {
		out = append(out, Caution{Trait: Noisy, What: fmt.Sprintf("noise gain %.3g", p.NoiseGain)})
	}
	if p.GBWErrorDB > noticedGBW {
		out = append(out, Caution{What: fmt.Sprintf("the op-amp's finite gain-bandwidth moves the response by %.2g dB", p.GBWErrorDB)})
	}
	for i, e := range t.Parts() {
		if e.Kind == netlist.Resistor && p.Values[i] > quietOhm {
			out = append(out, Caution{What: fmt.Sprintf("%s of %s adds thermal noise of %.2g nV/rtHz", e.Ref, withUnit(p.Values[i], "ohm"),
				1e9*math.Sqrt(4*netlist.Boltzmann*300.15*p.Values[i]))})
		}
	}
	if t.Cautions != nil {
		out = append(out, t.Cautions(p.Asked, p.Values, m)...)
	}
	return out
}

// withUnit writes a value with three digits and a decimal prefix.
func withUnit(v float64, unit string) string {
	if v == 0 || bad(v) {
		return fmt.Sprintf("%g %s", v, unit)
	}
	prefixes := [...]string{"p", "n", "u", "m", "", "k", "M", "G"}
	k := 4
	for math.Abs(v) >= 999.5 && k < len(prefixes)-1 {
		v /= 1000
		k++
	}
	for math.Abs(v) < 0.9995 && k > 0 {
		v *= 1000
		k--
	}
	return strconv.FormatFloat(tidyTo(v, 3), 'f', -1, 64) + " " + prefixes[k] + unit
}

// tidy is the nearest number of 12 digits, to undo the rounding of a product
// of decimals.
func tidy(v float64) float64 { return tidyTo(v, 12) }

func tidyTo(v float64, digits int) float64 {
	x, err := strconv.ParseFloat(strconv.FormatFloat(v, 'g', digits, 64), 64)
	if err != nil {
		return v
	}
	return x
}
