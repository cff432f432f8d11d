package diagnosis

import (
	"math"
	"math/cmplx"
	"slices"
	"sync"

	"bandwright/biquad"
	"bandwright/compiler/batch"
	"bandwright/compiler/board"
	"bandwright/compiler/netlist"
	"bandwright/compiler/nodal"
	"bandwright/compiler/parallel"
	"bandwright/compiler/verify"
)

// Bench is a board as it is looked at in one combination of settings: made once, then asked
// about as many units as there are. It may be used by several goroutines.
type Bench struct {
	Conditions
	C     verify.Combination
	Parts []batch.Part

	subject      *verify.Subject
	board        *board.Board // nil of what has no parts
	bought       *batch.Purchase
	ways         []int // that are looked at
	index        []int // of each part in a solver
	hz           []float64
	nominal      [][]complex128 // by column and frequency
	peaks        []float64      // of these, by column
	ports        []port
	places       []place // where something is looked at
	share        float64 // variance over the square of the tolerance
	amps         [][]complex128
	faults       []Fault
	covariance   [][]float64 // without noise
	slopes       [][]float64 // by part
	alternatives []Alternative

	mu   sync.Mutex
	made map[string]*Bench // for other combinations
	each *Bench            // with a delay of each way
}

// Alternative is another thing that the unit may be altogether: in another position of its
// settings, at another rate, without a section.
type Alternative struct {
	Text string
	// C is the combination that it is in; nil where that is the one that was said.
	C verify.Combination
	// H are the responses, by way looked at and frequency of the bench.
	H [][]complex128

	stage bool // is bypassed: a unit that is otherwise connected as said
}

// port is all that there is to know of single parts at one frequency.
type port struct {
	out, across, z []complex128
	reach          [][]complex128 // by way looked at
}

// place is one way at one frequency.
type place struct {
	way, column, f int // the way, its column among those looked at, and the frequency by index
	floor          float64
}

// opAmpSpread is the standard deviation of op-amps' gain-bandwidth: data sheets give
// typical values.
const opAmpSpread = 0.15

// NewBench prepares a board, which a subject is the prototype of, for measurements of some
// ways in one combination; bought is which class every part is bought in, nil where all
// come in one. It fails where the board's equations have no solution.
func NewBench(subject *verify.Subject, b *board.Board, bought *batch.Purchase, ways []int, c verify.Combination, under Conditions) (*Bench, error) {
	x, err := newBench(subject, b, bought, ways, c, under)
	if err != nil {
		return nil, err
	}
	if err := x.stick(); err != nil {
		return nil, err
	}
	responder := b.On(x.hz)
	for _, other := range combinations(subject) {
		if !slices.Equal(other, c) {
			x.alternatives = append(x.alternatives, Alternative{C: other, H: x.respond(responder, other)})
		}
	}
	without, err := x.bypassed()
	if err != nil {
		return nil, err
	}
	x.alternatives = append(x.alternatives, without...)
	return x, nil
}

// newBench is NewBench without alternatives.
func newBench(subject *verify.Subject, b *board.Board, bought *batch.Purchase, ways []int, c verify.Combination, under Conditions) (*Bench, error) {
	x := &Bench{Conditions: under, C: c, subject: subject, board: b, bought: bought, ways: ways, share: 1.0 / 3}
	if b.Spec.Normal {
		x.share = 1.0 / 9
	}
	sim, err := batch.NewSimulator(&verify.Subject{Settings: subject.Settings, Ways: subject.Ways, WayAxes: subject.WayAxes,
		AllAxes: subject.AllAxes, Prototype: subject.Prototype, Only: []verify.Combination{c}}, b, []float64{1000})
	if err != nil {
		return nil, err
	}
	x.Parts = sim.Parts
	for i := range x.Parts {
		if p, ok := bought.Of(x.Parts[i].Ref); ok {
			x.Parts[i].Tolerance = p.Class().Tolerance
		}
		x.index = append(x.index, b.PartIndex(x.Parts[i].Ref))
	}
	x.hz = biquad.Octaves(under.LowHz, under.HighHz, perOctave)
	if err := x.look(); err != nil {
		return nil, err
	}
	x.faults = x.listFaults()
	x.covariance = x.covarianceOf(nil)
	x.slopes = x.slope()
	return x, nil
}

// slope is what each part does to the first order.
func (x *Bench) slope() [][]float64 {
	m := len(x.places)
	out := make([][]float64, len(x.Parts))
	for p := range out {
		s := make([]float64, len(x.covariance))
		for i, at := range x.places {
			v := x.sensitivity(at, p, nil)
			if s[i] = real(v); x.Phased {
				s[m+i] = imag(v)
			}
		}
		out[p] = s
	}
	return out
}

// NewPlain prepares what has no parts that deviate, such as a digital system, which
// responds as r does.
func NewPlain(subject *verify.Subject, r verify.Realisation, ways []int, c verify.Combination, under Conditions, others func(hz []float64) []Alternative) *Bench {
	x := &Bench{Conditions: under, C: c, subject: subject, ways: ways, hz: biquad.Octaves(under.LowHz, under.HighHz, perOctave)}
	responder := r.On(x.hz)
	x.settle(x.respond(responder, c))
	x.covariance = x.covarianceOf(nil)
	for _, other := range combinations(subject) {
		if !slices.Equal(other, c) {
			x.alternatives = append(x.alternatives, Alternative{C: other, H: x.respond(responder, other)})
		}
	}
	x.alternatives = append(x.alternatives, others(x.hz)...)
	return x
}

// combinations are those of all settings that the board is analysed in, each once.
func combinations(s *verify.Subject) []verify.Combination {
	var out []verify.Combination
	if s.Only != nil {
		return s.Only
	}
	biquad.Each(s.AllAxes, len(s.Settings), func(c verify.Combination) { out = append(out, slices.Clone(c)) })
	return out
}

// respond are the responses of the ways looked at in a combination, by column and frequency.
func (x *Bench) respond(r verify.Responder, c verify.Combination) [][]complex128 {
	var out [][]complex128
	for _, w := range x.ways {
		h := make([]complex128, len(x.hz))
		r.Response(h, w, c)
		out = append(out, h)
	}
	return out
}

// settle takes the nominal responses, and where they are high enough to be looked at.
func (x *Bench) settle(nominal [][]complex128) {
	x.nominal = nominal
	for column, w := range x.ways {
		peak := 0.0
		for _, h := range nominal[column] {
			peak = math.Max(peak, cmplx.Abs(h))
		}
		x.peaks = append(x.peaks, peak)
		for f, h := range nominal[column] {
			if cmplx.Abs(h) > peak*biquad.FromDB(downToDB) {
				x.places = append(x.places, place{w, column, f, peak * biquad.FromDB(floorDB)})
			}
		}
	}
}

// look solves the board at every frequency.
func (x *Bench) look() error {
	x.ports = make([]port, len(x.hz))
	x.amps = make([][]complex128, len(x.hz)*len(x.ways))
	solver, outs := x.board.Solver(x.C)
	failed := make([]error, len(x.hz))
	parallel.Each(len(x.hz), func(i int) {
		failed[i] = x.lookAt(i, solver.Clone(), outs)
	})
	for _, err := range failed {
		if err != nil {
			return err
		}
	}
	nominal := make([][]complex128, len(x.ways))
	for column := range x.ways {
		for _, p := range x.ports {
			nominal[column] = append(nominal[column], p.out[column])
		}
	}
	x.settle(nominal)
	return nil
}

// lookAt solves it at one.
func (x *Bench) lookAt(i int, s *nodal.Solver, outs []netlist.Node) error {
	if err := s.At(x.hz[i]); err != nil {
		return err
	}
	var t nodal.Ports
	all := make([]complex128, x.board.PartCount())
	for column, w := range x.ways {
		if err := s.Ports(&t, outs[w], x.index); err != nil {
			return err
		}
		p := &x.ports[i]
		if column == 0 {
			p.across, p.z = slices.Clone(t.Across), slices.Clone(t.Z)
		}
		p.out, p.reach = append(p.out, t.Out), append(p.reach, slices.Clone(t.Reach))
		if err := s.Sensitivities(all, outs[w]); err != nil {
			return err
		}
		var amps []complex128
		for k, part := range x.board.Circuit(x.C).Parts() {
			if part.Kind == netlist.Amplifier && k < len(all) {
				amps = append(amps, all[k])
			}
		}
		x.amps[column*len(x.hz)+i] = amps
	}
	return nil
}

// admittance of a part at a frequency (S), with so many times its value.
func (x *Bench) admittance(part, f int, factor float64) complex128 {
	p := &x.Parts[part]
	if p.Kind == netlist.Resistor {
		return complex(1/(p.Value*factor), 0)
	}
	return complex(0, 2*math.Pi*x.hz[f]*p.Value*factor)
}

// shortS is the admittance of a short (S): a bridge of solder, some 50 milliohms.
const shortS = 20.0

// change is by how much a fault makes a part's admittance greater.
func (x *Bench) change(part, f int, factor float64) complex128 {
	own := x.admittance(part, f, 1)
	switch {
	case factor == gone:
		return -own
	case factor == bridged:
		return complex(shortS, 0)
	}
	return x.admittance(part, f, factor) - own
}

// response is the board's with a fault, at a place; 0 of a way that an op-amp at a rail silences.
func (x *Bench) response(at place, fault *Fault) complex128 {
	if fault.silences(at.column) {
		return 0
	}
	p := &x.ports[at.f]
	n := len(x.Parts)
	reach := p.reach[at.column]
	a := fault.parts[0]
	ya := x.change(a, at.f, fault.factors[0])
	sa := ya / (1 + ya*p.z[a*n+a])
	out := p.out[at.column] - reach[a]*sa*p.across[a]
	if b := fault.parts[1]; b >= 0 {
		// What the second sees with the first changed (W. Hager, SIAM Review 31, 1989).
		yb := x.change(b, at.f, fault.factors[1])
		across := p.across[b] - p.z[b*n+a]*sa*p.across[a]
		towards := reach[b] - reach[a]*sa*p.z[a*n+b]
		zbb := p.z[b*n+b] - p.z[b*n+a]*sa*p.z[a*n+b]
		out -= towards * yb / (1 + yb*zbb) * across
	}
	return out
}

// sensitivity is d ln(response) over d ln(value) of a part with a fault of one or two parts, at a
// place; finite where that is silent. Of exchanged parts the second counts as nominal.
func (x *Bench) sensitivity(at place, part int, fault *Fault) complex128 {
	p := &x.ports[at.f]
	n := len(x.Parts)
	reach := p.reach[at.column]
	across, towards, out, factor := p.across[part], reach[part], p.out[at.column], 1.0
	if fault != nil {
		out = x.response(at, fault)
		a := fault.parts[0]
		ya := x.change(a, at.f, fault.factors[0])
		sa := ya / (1 + ya*p.z[a*n+a])
		across -= p.z[part*n+a] * sa * p.across[a]
		towards -= reach[a] * sa * p.z[a*n+part]
		for i, other := range fault.parts {
			if other == part {
				factor = fault.factors[i]
			}
		}
		if factor == gone || factor == bridged {
			return 0
		}
	}
	y := x.admittance(part, at.f, factor)
	ds := -towards * y * across * cmplx.Conj(out) / complex(biquad.Power(out)+at.floor*at.floor*1e-6, 0) // over d ln(admittance)
	if x.Parts[part].Kind == netlist.Resistor {
		return -ds
	}
	return ds
}
