package stage

import (
	"math"
	"math/cmplx"
	"slices"

	"bandwright/biquad"
	"bandwright/compiler/circuit"
	"bandwright/compiler/netlist"
	"bandwright/compiler/nodal"
)

const (
	// realDownDB (dB) is how far down a response counts with the real op-amp where
	// the band says nothing: what leaks through below it is a matter of the
	// op-amp, not of values.
	realDownDB = 40
	// openInputOhm stands for an input that draws no current at all: an op-amp's +.
	openInputOhm = 1e12
	// measuredPoints is how many frequencies the real op-amp is looked at: its
	// part of the error changes slowly.
	measuredPoints = 24
	// roomK (K) is the temperature of noise figures, 27 °C as circuit simulators
	// have it.
	roomK = 300.15
)

// rig analyses one topology with the real op-amp, one set of values after
// another.
type rig struct {
	t             *circuit.Topology
	parts         []circuit.Element
	op            netlist.OpAmp
	lowest        float64
	fitted        []bool // of the present solver
	solver        *nodal.Solver
	index         []int // part i of the topology in the circuit
	out           netlist.Node
	source        int
	opAmps        []int
	driven        []netlist.Node // op-amps' outputs
	sensitivities []complex128   // of the response to each part of the circuit
}

func newRig(t *circuit.Topology, op netlist.OpAmp, lowestHz float64) *rig {
	return &rig{t: t, parts: t.Parts(), op: op, lowest: lowestHz}
}

// set puts values in place.
func (r *rig) set(v []float64) error {
	same := r.solver != nil
	for i := range v {
		same = same && r.fitted[i] == (v[i] != 0)
	}
	if !same {
		c := r.t.Alone(v, r.op)
		s, err := nodal.New(c, r.lowest)
		if err != nil {
			return err
		}
		r.solver, r.fitted, r.index, r.opAmps = s, make([]bool, len(v)), make([]int, len(v)), nil
		r.driven, r.sensitivities = nil, make([]complex128, len(c.Parts()))
		r.out, _ = c.Find("out")
		for i, p := range c.Parts() {
			switch p.Kind {
			case netlist.Source:
				r.source = i
			case netlist.Amplifier:
				r.opAmps = append(r.opAmps, i)
				r.driven = append(r.driven, p.Nodes[2])
			}
		}
		for i := range v {
			if r.fitted[i] = v[i] != 0; r.fitted[i] {
				r.index[i], _ = c.Part(r.parts[i].Ref)
			}
		}
		return nil
	}
	for i := range v {
		if v[i] != 0 {
			if err := r.solver.Set(r.index[i], v[i]); err != nil {
				return err
			}
		}
	}
	return nil
}

// at is the response and the input impedance at hz.
func (r *rig) at(hz float64) (h complex128, ohm float64, err error) {
	if err := r.solver.At(hz); err != nil {
		return 0, 0, err
	}
	ohm = math.Inf(1)
	if i := cmplx.Abs(r.solver.Current(r.source)); i > 0 {
		ohm = 1 / i
	}
	return r.solver.Voltage(r.out), ohm, nil
}

// swing is the largest magnitude of any op-amp's output where at was asked last, for
// 1 V at the input.
func (r *rig) swing() float64 {
	worst := 0.0
	for _, n := range r.driven {
		worst = math.Max(worst, cmplx.Abs(r.solver.Voltage(n)))
	}
	return worst
}

// amps is the largest current of any op-amp's output where at was asked last (A), for
// 1 V at the input.
func (r *rig) amps() float64 {
	worst := 0.0
	for _, u := range r.opAmps {
		worst = math.Max(worst, cmplx.Abs(r.solver.Current(u)))
	}
	return worst
}

// aim is what candidates of one topology, section and level are measured against.
type aim struct {
	*wanted
	peak   float64 // the largest magnitude wanted
	centre float64 // Hz: where noise gain is looked at
	noise  []float64
	gains  []float64 // behind it: 1
}

func newAim(c *Candidate, band Band) aim {
	a := aim{wanted: newWanted(c.Section, c.Level, band).thinned(measuredPoints), centre: 1000, noise: noiseHz(c.Section)}
	for _, h := range a.want {
		a.peak = math.Max(a.peak, cmplx.Abs(h))
	}
	if w, _ := c.Section.Natural(); w > 0 {
		a.centre = w / (2 * math.Pi)
	}
	a.gains = Behind{}.over(a.noise)
	return a
}

// Measure fills in what the real op-amp does and the score of candidates, of any topologies,
// with nothing behind them; neighbours of the same one share a solver.
func (b *Bench) Measure(all []Candidate) error {
	var r *rig
	var a aim
	band := b.Band
	if band.DownDB == 0 {
		band.DownDB = realDownDB
	}
	for n := range all {
		c := &all[n]
		if n == 0 || c.Topology != all[n-1].Topology {
			r = newRig(c.Topology, b.Means.OpAmp, band.FromHz)
		}
		if n == 0 || c.Topology != all[n-1].Topology || c.Section != all[n-1].Section || c.Level != all[n-1].Level {
			a = newAim(c, band)
		}
		if err := r.set(c.Values); err != nil {
			return err
		}
		if err := r.measure(c, a, band, b.Stock.Sigma); err != nil {
			return err
		}
		c.weigh(a.gains)
	}
	return nil
}

// measure fills in the measures of a candidate whose values are set.
func (r *rig) measure(c *Candidate, a aim, band Band, sigma func(netlist.Kind, float64) float64) error {
	c.Measures = Measures{InputOhm: openInputOhm, peak: a.peak}
	amps := 0.0
	look := func(hz float64) (complex128, error) {
		h, ohm, err := r.at(hz)
		c.InputOhm, c.Swing, amps = math.Min(c.InputOhm, ohm), math.Max(c.Swing, r.swing()), math.Max(amps, r.amps())
		return h, err
	}
	for i, w := range a.w {
		h, err := look(w / (2 * math.Pi))
		if err != nil {
			return err
		}
		e := math.Abs(biquad.GainDB(cmplx.Abs(h / a.want[i])))
		if a.phase {
			e = perNeper * cmplx.Abs(h/a.want[i]-1)
		}
		c.RealDB = math.Max(c.RealDB, e)
		if cmplx.Abs(h) >= spreadDown*a.peak {
			if err := r.spread(c, sigma); err != nil {
				return err
			}
		}
	}
	// The input is loaded, and op-amps swing, outside of the pass band too.
	for _, f := range [...]float64{band.FromHz, band.ToHz} {
		if _, err := look(f); err != nil {
			return err
		}
	}
	if c.DrivenOhm = openInputOhm; amps > 0 {
		c.DrivenOhm = math.Min(math.Max(c.Swing, 1)/amps, openInputOhm)
	}
	if err := r.capacitance(c); err != nil {
		return err
	}
	if err := r.noise(c, a.centre); err != nil {
		return err
	}
	var err error
	c.own, err = r.alone(a.noise)
	c.Measured = true
	return err
}

// The capacitance of an input is looked at where a load costs an op-amp phase margin: at
// nearGain of the gain-bandwidth, and at farGain of it what is no more than heavy times the
// op-amp's output resistance, which hides a large capacitor further up.
const (
	nearGain, farGain = 0.1, 0.01
	heavy             = 10
	// idealGainHz (Hz) is where op-amps without a gain-bandwidth are looked at.
	idealGainHz = 10e6
)

// capacitance fills in the capacitance at the input.
func (r *rig) capacitance(c *Candidate) error {
	top := r.op.GainBandwidthHz
	if r.op.Ideal || top == 0 {
		top = idealGainHz
	}
	for _, share := range [...]float64{nearGain, farGain} {
		_, ohm, err := r.at(share * top)
		if err != nil {
			return err
		}
		if share == nearGain || ohm < heavy*r.op.OutputOhm {
			// What flows out of the source's positive end is -Current.
			c.InputFarad = math.Max(c.InputFarad, -imag(r.solver.Current(r.source))/(2*math.Pi*share*top))
		}
	}
	return nil
}

// spreadDown (linear) is how far below its peak a response's level still counts where it
// differs from board to board: 20 dB, as far as boards are held to the prototype.
const spreadDown = 0.1

// spread takes the standard deviation of the level, at the frequency that was asked last,
// into account.
func (r *rig) spread(c *Candidate, sigma func(netlist.Kind, float64) float64) error {
	if sigma == nil {
		return nil
	}
	if err := r.solver.Sensitivities(r.sensitivities, r.out); err != nil {
		return err
	}
	variance := 0.0
	for i, v := range c.Values {
		if v != 0 {
			s := real(r.sensitivities[r.index[i]]) * sigma(r.parts[i].Kind, v)
			variance += s * s
		}
	}
	c.SpreadDB = math.Max(c.SpreadDB, perNeper*math.Sqrt(variance))
	return nil
}

// noise fills in the noise figures.
func (r *rig) noise(c *Candidate, hz float64) error {
	if _, _, err := r.at(hz); err != nil {
		return err
	}
	v, err := r.solver.Noise(r.out, roomK, nil)
	if err != nil {
		return err
	}
	c.NoiseV = v
	for _, u := range r.opAmps {
		g, err := r.solver.NoiseGain(r.out, u)
		if err != nil {
			return err
		}
		c.NoiseGain = math.Max(c.NoiseGain, cmplx.Abs(g))
	}
	return nil
}

// thinned is the response at about n of its frequencies, the first ones of its order.
func (a *wanted) thinned(n int) *wanted {
	if n >= len(a.w) {
		return a
	}
	return &wanted{w: a.w[:n], x: a.x[:n], want: a.want[:n], scale: a.scale[:n], phase: a.phase}
}

// lean is what a stage with ideal op-amps is to do instead of a, so that with the real one it does that: a over
// what the real op-amp makes of the values that are set, whose response with ideal ones is given. It changes little
// from one set of values to the next near by.
func (r *rig) lean(a *wanted, ideal circuit.Ratio) (*wanted, error) {
	to := *a
	to.want, to.scale = slices.Clone(a.want), slices.Clone(a.scale)
	for i, w := range a.w {
		h, _, err := r.at(w / (2 * math.Pi))
		if err != nil {
			return nil, err
		}
		drift := h / ideal.At(w)
		to.want[i] /= drift
		to.scale[i] *= float64(real(drift)*real(drift)) + float64(imag(drift)*imag(drift))
	}
	return &to, nil
}
