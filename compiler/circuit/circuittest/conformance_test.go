package circuittest

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"strings"
	"testing"

	"bandwright/compiler/circuit"
	"bandwright/compiler/netlist"
	"bandwright/compiler/nodal"
)

// What every row of circuit.Topologies must satisfy, whatever it is:
//
//	part values ──closed form──→ N(s)/D(s) ══ nodal (ideal op-amp) ══ ngspice
//	     ↑                           ║
//	     └───── inverse design ── section
//
// and with the real op-amp nodal ══ ngspice for response, noise and offset.

const (
	// closedIsNodal allows for the rounding of both, where a notch or a high Q
	// leaves little of large terms.
	closedIsNodal = 1e-10
	// idealIsSpice holds for the response with ideal op-amps: ngspice solves in
	// double precision without refinement.
	idealIsSpice = 2e-6
	// realIsSpice, noiseIsSpice, offsetIsSpice: both sides solve the same linear
	// equations; the Boltzmann constants differ by 2e-7.
	realIsSpice = 1e-7
	// Relative differences count down to audible, 80 dB below the input: under
	// it the output is a small difference of large currents, and ngspice
	// refines no solution.
	audible       = 1e-4
	noiseIsSpice  = 1e-5
	offsetIsSpice = 1e-6
	// designIsSection: the inverse design goes through square roots.
	designIsSection = 1e-9
	// sensitivityIsDifference: fourth-order differences of steps of 1e-3.
	sensitivityIsDifference = 1e-6
)

const samples = 10 // random sets of parts of each topology

// solved is a stage's response at its output at the frequencies, by nodal
// analysis.
func solved(t *testing.T, c *netlist.Circuit, hz []float64) (*nodal.Solver, []complex128) {
	t.Helper()
	s, err := nodal.New(c, hz[0])
	if err != nil {
		t.Fatal(err)
	}
	out, _ := c.Find("out")
	h := make([]complex128, len(hz))
	for i, f := range hz {
		if err := s.At(f); err != nil {
			t.Fatal(err)
		}
		h[i] = s.Voltage(out)
	}
	return s, h
}

func TestClosedFormIsTheTemplate(t *testing.T) {
	rng := rand.New(rand.NewPCG(6, 1))
	var jobs []Job
	var what []*circuit.Topology
	var values [][]float64
	for _, top := range circuit.Topologies {
		for range samples {
			v := anyParts(rng, top)
			jobs = append(jobs, Job{Circuit: top.Alone(v, netlist.OpAmp{Ideal: true}), Out: "out", AC: "dec 3 1 100k"})
			what, values = append(what, top), append(values, v)
		}
	}
	worstNodal, worstSpice := 0.0, 0.0
	for i, a := range Run(t, jobs) {
		closed := what[i].Closed(values[i])
		_, h := solved(t, jobs[i].Circuit, a.ACHz)
		for k, f := range a.ACHz {
			want := closed.At(2 * math.Pi * f)
			size := cmplx.Abs(want)
			e, es := cmplx.Abs(h[k]-want)/size, cmplx.Abs(a.AC[k]-want)/size
			if !(e <= closedIsNodal) {
				t.Errorf("%s %v at %g Hz: closed form %v, nodal %v (%.2g)", what[i].Name, values[i], f, want, h[k], e)
			}
			if !(es <= idealIsSpice) {
				t.Errorf("%s %v at %g Hz: closed form %v, ngspice %v (%.2g)", what[i].Name, values[i], f, want, a.AC[k], es)
			}
			worstNodal, worstSpice = math.Max(worstNodal, e), math.Max(worstSpice, es)
		}
	}
	t.Logf("%d stages: closed form against nodal %.1e, against ngspice %.1e", len(jobs), worstNodal, worstSpice)
}

// A batch evaluates them half a million times.
func TestClosedFormsAllocateNothing(t *testing.T) {
	rng := rand.New(rand.NewPCG(6, 1))
	var sum circuit.Ratio
	for _, top := range circuit.Topologies {
		v := anyParts(rng, top)
		if n := testing.AllocsPerRun(10, func() { sum = top.Closed(v) }); n > 0 {
			t.Errorf("%s allocates %g times", top.Name, n)
		}
		if sum.D.Degree() == 0 && sum.N.Degree() > 0 {
			t.Errorf("%s has zeros and no poles: %v", top.Name, sum)
		}
	}
}

func TestRealOpAmpIsNgspice(t *testing.T) {
	rng := rand.New(rand.NewPCG(6, 2))
	var jobs []Job
	var what []*circuit.Topology
	for _, top := range circuit.Topologies {
		for range samples {
			m := audio
			m.GainBandwidthHz = between(rng, 1e6, 50e6)
			m.OutputOhm = []float64{0, between(rng, 10, 300)}[rng.IntN(2)]
			jobs = append(jobs, Job{Circuit: top.Alone(anyParts(rng, top), m), Out: "out", AC: "dec 3 1 100k", Noise: "dec 1 10 100k", OP: true})
			what = append(what, top)
		}
	}
	var worst [3]float64
	for i, a := range Run(t, jobs) {
		c := jobs[i].Circuit
		out, _ := c.Find("out")
		s, h := solved(t, c, a.ACHz)
		for k, f := range a.ACHz {
			if e := cmplx.Abs(h[k]-a.AC[k]) / math.Max(cmplx.Abs(h[k]), audible); !(e <= realIsSpice) {
				t.Errorf("%s at %g Hz: nodal %v, ngspice %v (%.2g)", what[i].Name, f, h[k], a.AC[k], e)
			} else {
				worst[0] = math.Max(worst[0], e)
			}
		}
		for k, f := range a.NoiseHz {
			if err := s.At(f); err != nil {
				t.Fatal(err)
			}
			n, err := s.Noise(out, TemperatureK, nil)
			if err != nil {
				t.Fatal(err)
			}
			if e := math.Abs(n/a.Noise[k] - 1); !(e <= noiseIsSpice) {
				t.Errorf("%s at %g Hz: noise %g, ngspice %g (%.2g)", what[i].Name, f, n, a.Noise[k], e)
			} else {
				worst[1] = math.Max(worst[1], e)
			}
		}
		o, err := s.Offsets(out)
		if err != nil {
			t.Errorf("%s: %v", what[i].Name, err)
			continue
		}
		if e := math.Abs(o.Nominal - a.OP); !(e <= offsetIsSpice*math.Max(1, math.Abs(o.Nominal))) {
			t.Errorf("%s: offset %g, ngspice %g", what[i].Name, o.Nominal, a.OP)
		} else {
			worst[2] = math.Max(worst[2], e)
		}
		if o.Worst < math.Abs(o.Nominal)*(1-1e-9) {
			t.Errorf("%s: the worst offset %g is below the nominal %g", what[i].Name, o.Worst, o.Nominal)
		}
	}
	t.Logf("%d stages against ngspice: response %.1e, noise %.1e, offset %.1e V", len(jobs), worst[0], worst[1], worst[2])
}

func TestSensitivitiesAreDifferences(t *testing.T) {
	rng := rand.New(rand.NewPCG(6, 3))
	worst := 0.0
	for _, top := range circuit.Topologies {
		c := top.Alone(anyParts(rng, top), audio)
		out, _ := c.Find("out")
		s, err := nodal.New(c, 1)
		if err != nil {
			t.Fatal(top.Name, err)
		}
		dst := make([]complex128, len(c.Parts()))
		for _, f := range []float64{30, 500, 8000} {
			h := func() complex128 {
				if err := s.At(f); err != nil {
					t.Fatal(err)
				}
				return s.Voltage(out)
			}
			centre := h()
			if err := s.Sensitivities(dst, out); err != nil {
				t.Fatal(err)
			}
			for i, p := range c.Parts() {
				if p.Kind > netlist.Capacitor {
					continue
				}
				// Central differences of steps x and 2x, without their second order.
				diff := func(x float64) complex128 {
					set := func(v float64) complex128 {
						if err := s.Set(i, v); err != nil {
							t.Fatal(err)
						}
						return h()
					}
					up, down := set(p.Value*math.Exp2(x)), set(p.Value*math.Exp2(-x))
					set(p.Value)
					return cmplx.Log(up/down) / complex(2*x*math.Ln2, 0)
				}
				const step = 1e-3
				want := (4*diff(step) - diff(2*step)) / 3
				e := cmplx.Abs(dst[i]-want) / math.Max(1, cmplx.Abs(want))
				if !(e <= sensitivityIsDifference) {
					t.Errorf("%s at %g Hz: sensitivity to %s %v, by differences %v", top.Name, f, p.Ref, dst[i], want)
				}
				worst = math.Max(worst, e)
			}
			if back := h(); back != centre {
				t.Errorf("%s: changing parts and back changes the response", top.Name)
			}
		}
	}
	t.Logf("worst difference %.1e", worst)
}

// designs calls f with random sections that the topology claims to realise,
// and with the values of its design.
func designs(t *testing.T, top *circuit.Topology, n int, f func(p circuit.Proposal)) {
	rng := rand.New(rand.NewPCG(6, 4))
	wide := means
	wide.Ohm, wide.Farad = circuit.Range{From: 10, To: 10e6}, circuit.Range{From: 10e-12, To: 10e-6}
	wide.OpAmp = netlist.OpAmp{Ideal: true}
	for _, shape := range top.Realises {
		done := 0
		for range 40 * n {
			s := anySection(rng, shape, top.MaxQ)
			p := top.Propose(s, wide)
			if p.Asked.Shape != shape {
				t.Fatalf("%s: a sample of %v reads as %v", top.Name, shape, p.Asked.Shape)
			}
			if p.Values == nil {
				continue // the topology refuses: a gain or a Q that it cannot have
			}
			f(p)
			if done++; done == n {
				break
			}
		}
		if done < n {
			p := top.Propose(anySection(rng, shape, top.MaxQ), wide)
			t.Errorf("%s claims to realise a %v, and did so %d times (%s)", top.Name, shape, done, p.Reason)
		}
	}
}

func TestInverseDesignGivesTheSection(t *testing.T) {
	worst := 0.0
	for _, top := range circuit.Topologies {
		designs(t, top, 10, func(p circuit.Proposal) {
			h, s := top.Closed(p.Values), p.Asked.Section()
			if sign := p.Level < 0; sign != top.Inverts {
				t.Errorf("%s: level %g, inverts: %v", top.Name, p.Level, top.Inverts)
			}
			if !top.LevelFixed && math.Abs(math.Abs(p.Level)-1) > designIsSection {
				t.Errorf("%s: level %g for a %v of Q %g", top.Name, p.Level, p.Asked.Shape, p.Asked.Q)
			}
			peak := 0.0
			for x := -8.0; x <= 8; x++ {
				peak = math.Max(peak, cmplx.Abs(s.At(p.Asked.W*math.Exp2(x/2))))
			}
			for x := -8.0; x <= 8; x++ {
				w := p.Asked.W * math.Exp2(x/2)
				want := s.At(w) * complex(p.Level, 0)
				e := cmplx.Abs(h.At(w)-want) / math.Abs(p.Level) / math.Max(cmplx.Abs(s.At(w)), 1e-3*peak)
				if !(e <= designIsSection) {
					t.Errorf("%s of a %v (Q %g): design gives %v at %g Hz, section × level is %v (%.2g)", top.Name, p.Asked.Shape, p.Asked.Q, h.At(w), w/(2*math.Pi), want, e)
				}
				worst = math.Max(worst, e)
			}
		})
	}
	t.Logf("worst difference %.1e", worst)
}

// A designed stage with a real op-amp must not oscillate: no natural frequency
// in the right half plane. Response alone would not show it.
func TestDesignedStagesAreStable(t *testing.T) {
	for _, top := range circuit.Topologies {
		designs(t, top, 3, func(p circuit.Proposal) {
			s, err := nodal.New(top.Alone(p.Values, audio), 1)
			if err != nil {
				t.Fatal(top.Name, err)
			}
			poles, err := s.Poles()
			if err != nil {
				t.Fatal(top.Name, err)
			}
			if len(poles) < p.Asked.Order {
				t.Errorf("%s: %d poles for a section of order %d", top.Name, len(poles), p.Asked.Order)
			}
			for _, z := range poles {
				if real(z) >= 0 {
					t.Errorf("%s oscillates: pole %v with parts %v (%v, Q %g)", top.Name, z, p.Values, p.Asked.Shape, p.Asked.Q)
				}
			}
		})
	}
}

// Every row says what a reader needs, and its table entries hang together.
func TestRowsAreComplete(t *testing.T) {
	seen := map[string]bool{}
	covered := map[circuit.Shape]int{}
	for _, top := range circuit.Topologies {
		if seen[top.Name] || top.Name == "" || strings.ToLower(top.Name) != top.Name || strings.Contains(top.Name, " ") {
			t.Errorf("%q is no good name", top.Name)
		}
		seen[top.Name] = true
		if found, ok := circuit.ByName(top.Name); !ok || found != top {
			t.Errorf("%s cannot be found", top.Name)
		}
		if len(top.Doc) < 40 || !strings.HasSuffix(top.Doc, ".") || top.Source == "" {
			t.Errorf("%s: doc or source missing", top.Name)
		}
		if len(top.Realises) == 0 || top.Closed == nil || top.Design == nil || top.OpAmps() == 0 {
			t.Errorf("%s is not complete", top.Name)
		}
		refs := map[string]bool{}
		nodes := map[string]bool{}
		for _, e := range top.Template {
			if refs[e.Ref] {
				t.Errorf("%s has two %s", top.Name, e.Ref)
			}
			refs[e.Ref] = true
			for _, n := range e.Nodes {
				nodes[n] = true
			}
			if want := map[netlist.Kind]string{netlist.Resistor: "R", netlist.Capacitor: "C", netlist.Amplifier: "U"}[e.Kind]; !strings.HasPrefix(e.Ref, want) {
				t.Errorf("%s: %s is a %v", top.Name, e.Ref, e.Kind)
			}
		}
		if !nodes["in"] || !nodes["out"] || nodes["in_n"] != top.Balanced {
			t.Errorf("%s: its ends are not in, out", top.Name)
		}
		for _, f := range top.Free {
			if f.Doc == "" || f.Try == nil || f.Unit != "" && !refs[f.Name] {
				t.Errorf("%s: free choice %q", top.Name, f.Name)
			}
		}
		for _, s := range top.Realises {
			covered[s]++
		}
	}
	for s := range circuit.Shapes {
		if covered[s] == 0 {
			t.Errorf("no topology realises a %v", s)
		}
	}
	// What the board promises: alternatives that differ in kind.
	for shape, want := range map[circuit.Shape][]string{
		circuit.LowPass2:  {"sallen-key-low-pass", "multiple-feedback-low-pass", "state-variable-low-pass"},
		circuit.HighPass2: {"sallen-key-high-pass", "multiple-feedback-high-pass", "state-variable-high-pass"},
		circuit.Notch2:    {"fliege", "bainter", "twin-t", "sum-with-band-pass"},
		circuit.Shift2:    {"bridged-t", "tow-thomas", "sum-with-low-pass", "low-pass-in-feedback", "sum-with-high-pass", "high-pass-in-feedback"},
		circuit.LowShelf1: {"low-boost", "inverting-low-shelf"}, circuit.HighShelf1: {"high-boost", "inverting-high-shelf"},
		circuit.AllPass1: {"lagging-all-pass", "leading-all-pass"}, circuit.AllPass2: {"sum-with-band-pass", "fliege"},
	} {
		for _, name := range want {
			if top, ok := circuit.ByName(name); !ok || !top.Can(shape) {
				t.Errorf("%s does not realise a %v", name, shape)
			}
		}
	}
}
