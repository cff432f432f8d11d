package stage

import (
	"fmt"
	"math"
	"math/cmplx"
	"runtime"
	"slices"
	"strings"
	"testing"

	"bandwright/biquad"
	"bandwright/compiler/circuit"
	"bandwright/compiler/netlist"
	"bandwright/compiler/nodal"
	"bandwright/compiler/stage/stagetest"
)

// sections has one of every shape that a topology realises.
func sections() []biquad.Analog {
	w := 2 * math.Pi * 800
	second := func(b0, b1, b2, q float64) biquad.Analog {
		return biquad.Analog{W0: w, Keep: w, B: [3]float64{b0, b1, b2}, A: [3]float64{1, 1 / q, 1}}
	}
	first := func(b0, b1 float64) biquad.Analog {
		return biquad.Analog{W0: w, Keep: w, B: [3]float64{b0, b1}, A: [3]float64{1, 1}}
	}
	return []biquad.Analog{
		biquad.Constant(1), biquad.Constant(0.6), biquad.Constant(1.7),
		first(1, 0), first(1.6, 0), first(0, 1), first(0, 1.6), first(2.5, 1), first(1, 2.5), first(1, -1),
		second(1, 0, 0, stagetest.Q7), second(0, 0, 1, stagetest.Q7), second(0, 1/1.5, 0, 1.5), second(0, 1.2/1.5, 0, 1.5),
		second(1, 0, 1, 2), second(2, 0, 1, 2), second(1, 0, 2, 2), second(1, -1/0.8, 1, 0.8),
		second(1, 0.3, 1, 1.5), second(1, 1.5, 1, 1.5), second(4, 1.6, 1, stagetest.Q7), second(1, 0.4, 0.3, 1), second(0, 0.5, 1, 1),
		second(0.5, 1, 1, stagetest.Q7),
	}
}

// responseTolerance (dB) is the rounding of two ways to one response.
const responseTolerance = 1e-6

// Every topology but the balanced ones can be chosen; what is chosen is in stock,
// and its error is that of its netlist, by nodal analysis with ideal op-amps.
func TestEveryTopologyIsChosen(t *testing.T) {
	b := corpusBench("E24", "E6")
	b.Band = Band{FromHz: 20, ToHz: 20e3, DownDB: 40}
	done := map[string]bool{}
	for _, s := range sections() {
		all, no, err := b.Candidates(s, nil, 3, Behind{})
		if err != nil {
			t.Fatal(err)
		}
		count := map[*circuit.Topology]int{}
		for i, c := range all {
			done[c.Topology.Name] = true
			count[c.Topology]++
			inStock(t, b, c)
			if i > 0 && c.Score < all[i-1].Score {
				t.Errorf("%v: the score %g comes after %g", s, c.Score, all[i-1].Score)
			}
			if got := netlistError(t, b, c); math.Abs(got-c.ErrorDB) > responseTolerance {
				t.Errorf("%s: the error is %.9f dB, by nodal analysis %.9f dB", c.Topology.Name, c.ErrorDB, got)
			}
		}
		for topology, n := range count {
			if n > 3 {
				t.Errorf("%s: %d choices, not 3", topology.Name, n)
			}
		}
		if len(count)+len(no) != len(circuit.Topologies) {
			t.Errorf("%d topologies are choices and %d refused, of %d", len(count), len(no), len(circuit.Topologies))
		}
		for _, r := range no {
			if r.Reason == "" {
				t.Errorf("%s is refused without a reason", r.Topology.Name)
			}
		}
	}
	for _, topology := range circuit.Topologies {
		if done[topology.Name] == topology.Balanced {
			t.Errorf("%s: chosen is %v", topology.Name, done[topology.Name])
		}
	}
}

// netlistError is the error of a choice from its netlist, on a grid of the
// test's own: ideal op-amps, the magnitude where it is within the band's DownDB
// of its peak, 30 dB for notches, or 8.686·|H/H0-1| of all-passes.
func netlistError(t *testing.T, b *Bench, c Candidate) float64 {
	t.Helper()
	ask, err := circuit.Ask(c.Section)
	if err != nil {
		t.Fatal(err)
	}
	net := c.Topology.Alone(c.Values, netlist.OpAmp{Ideal: true})
	solver, err := nodal.New(net, b.Band.FromHz)
	if err != nil {
		t.Fatal(err)
	}
	out, _ := net.Find("out")
	var hz []float64
	for k := 0; b.Band.FromHz*math.Exp2(float64(k)/12) < b.Band.ToHz; k++ {
		hz = append(hz, b.Band.FromHz*math.Exp2(float64(k)/12))
	}
	hz = append(hz, b.Band.ToHz)
	if f := ask.W / (2 * math.Pi); f > b.Band.FromHz {
		hz = append(hz, f)
	}
	peak := 0.0
	for _, f := range hz {
		peak = math.Max(peak, cmplx.Abs(c.Section.At(2*math.Pi*f)))
	}
	down := b.Band.DownDB
	name := ask.Shape.String()
	if strings.Contains(name, "notch") {
		down = 30
	}
	worst := 0.0
	for _, f := range hz {
		want := c.Section.At(2 * math.Pi * f)
		if cmplx.Abs(want) < peak*math.Pow(10, -down/20) {
			continue
		}
		if err := solver.At(f); err != nil {
			t.Fatal(err)
		}
		e := solver.Voltage(out) / want / complex(c.Level, 0)
		db := math.Abs(20 * math.Log10(cmplx.Abs(e)))
		if strings.Contains(name, "all-pass") {
			db = 8.685889638 * cmplx.Abs(e-1)
		}
		worst = math.Max(worst, db)
	}
	return worst
}

// Resistors times k and capacitors divided by k leave every response as it is:
// of the stage that was chosen, and of the choice from a stock so scaled.
func TestScalingLeavesResponses(t *testing.T) {
	const k = 10 // both stocks then hold the same decimals
	b := corpusBench("E24", "E6")
	other := corpusBench("E24", "E6")
	other.Stock = Stock{Ohm: Values([]string{"E24"}, nil, 1e3*k, 100e3*k), ShuntOhm: Values([]string{"E24"}, nil, 150*k, 100e3*k),
		Farad: Values([]string{"E6"}, nil, 1e-9/k, 1e-6/k)}
	other.Means.Ohm = circuit.Range{From: 1e3 * k, To: 100e3 * k}
	other.Means.ShuntOhm *= k
	other.Means.Farad = circuit.Range{From: 1e-9 / k, To: 1e-6 / k}
	for _, s := range corpus(t) {
		found, _ := b.pool(s.topology, s.section, 1, perError, 0)
		c := found[0]
		scaled := slices.Clone(c.Values)
		for i, e := range c.Topology.Parts() {
			if e.Kind == netlist.Capacitor {
				scaled[i] /= k
			} else {
				scaled[i] *= k
			}
		}
		a := newWanted(s.section, c.Level, b.Band)
		if e := a.error(c.Topology.Closed(scaled), noLimit); math.Abs(e-c.ErrorDB) > responseTolerance {
			t.Errorf("%s: scaled values have an error of %g dB, not %g dB", s.id, e, c.ErrorDB)
		}
		// The lattice starts from comfortable impedances, so that only the exact
		// search has to find the same again.
		if !slices.ContainsFunc(exacts, func(x exact) bool { return x.topology == s.topology.Name }) {
			continue
		}
		again, _ := other.pool(s.topology, s.section, 1, perError, 0)
		if math.Abs(again[0].ErrorDB-c.ErrorDB) > responseTolerance {
			t.Errorf("%s: the scaled stock has a choice of %g dB, the stock itself of %g dB", s.id, again[0].ErrorDB, c.ErrorDB)
		}
	}
}

// The same call gives the same result, on one processor and on all.
func TestChoicesAreTheSameAgain(t *testing.T) {
	all := func() (out [][]Candidate) {
		b := corpusBench("E96", "E12")
		for _, s := range corpus(t)[:] {
			c, _, err := b.Candidates(s.section, []*circuit.Topology{s.topology}, 5, Behind{})
			if err != nil {
				t.Fatal(err)
			}
			out = append(out, c)
		}
		return out
	}
	first := fmt.Sprintf("%v", stripped(all()))
	was := runtime.GOMAXPROCS(1)
	second := fmt.Sprintf("%v", stripped(all()))
	runtime.GOMAXPROCS(was)
	if first != second {
		t.Error("two runs choose different values")
	}
}

// stripped leaves the numbers of choices.
func stripped(all [][]Candidate) (out []any) {
	for _, list := range all {
		for _, c := range list {
			out = append(out, c.Topology.Name, c.Values, c.Level, c.ErrorDB, c.Measures, c.Score)
		}
	}
	return out
}

// Textbook rounding takes the proposal and rounds each part in ratio.
func TestTextbook(t *testing.T) {
	b := corpusBench("E24", "E6")
	lowPass, _ := circuit.ByName("sallen-key-low-pass")
	s := stagetest.Pair("low-pass", 1000, stagetest.Q7)
	c, err := b.Textbook(lowPass, s)
	if err != nil {
		t.Fatal(err)
	}
	p := lowPass.Propose(s, b.Means)
	for i, e := range lowPass.Parts() {
		for _, v := range b.Stock.Of(e) {
			if math.Abs(math.Log(v/p.Values[i])) < math.Abs(math.Log(c.Values[i]/p.Values[i]))-1e-12 {
				t.Errorf("%s: %g is nearer to %g than %g", e.Ref, v, p.Values[i], c.Values[i])
			}
		}
	}
	if got := netlistErrorUnmasked(t, b, c); math.Abs(got-c.ErrorDB) > responseTolerance || !c.Measured {
		t.Errorf("the error is %g dB, by nodal analysis %g dB", c.ErrorDB, got)
	}
	if _, err := b.Textbook(lowPass, stagetest.Pair("low-pass", 1000, 5)); err == nil || !strings.Contains(err.Error(), "Q 5 is above 2") {
		t.Errorf("a Q of 5: %v", err)
	}
}

func netlistErrorUnmasked(t *testing.T, b *Bench, c Candidate) float64 {
	wide := *b
	wide.Band.DownDB = 200
	return netlistError(t, &wide, c)
}

// What cannot be is refused with words, whatever the input, and nothing panics.
func TestRefusals(t *testing.T) {
	good := corpusBench("E24", "E6")
	s := stagetest.Pair("low-pass", 1000, stagetest.Q7)
	bad := func(change func(*Bench)) *Bench {
		b := *good
		change(&b)
		return New(b.Stock, b.Means, b.Band)
	}
	for want, b := range map[string]*Bench{
		"no resistor":  bad(func(b *Bench) { b.Stock.Ohm = nil }),
		"no capacitor": bad(func(b *Bench) { b.Stock.Farad = nil }),
		"no band":      bad(func(b *Bench) { b.Band = Band{} }),
	} {
		if _, _, err := b.Candidates(s, nil, 1, Behind{}); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v", want, err)
		}
	}
	nan, inf := math.NaN(), math.Inf(1)
	for _, s := range []biquad.Analog{
		{}, {W0: nan}, {W0: 1, B: [3]float64{1}, A: [3]float64{1, -1, 1}}, {W0: 1, B: [3]float64{inf}, A: [3]float64{1}},
		{W0: 1, B: [3]float64{0, 0, 1}, A: [3]float64{1, 1}}, biquad.Constant(0), biquad.Constant(1e300), biquad.Constant(1e-300),
		stagetest.Pair("low-pass", 1e-9, 1), stagetest.Pair("low-pass", 1e12, 1), stagetest.Pair("high-pass", 1e12, 1), stagetest.Pair("notch", 1000, 1e9),
		{W0: 1e300, B: [3]float64{1, 1, 1}, A: [3]float64{1, 1, 2}}, {W0: 1e-300, B: [3]float64{1, 2, 1}, A: [3]float64{1, 1, 1}},
	} {
		all, no, err := good.Candidates(s, nil, 2, Behind{})
		if err != nil {
			t.Errorf("%v: %v", s, err)
		}
		for _, c := range all {
			if math.IsNaN(c.Score) || math.IsInf(c.Score, 0) || c.RealDB > 10*hopelessDB {
				t.Errorf("%v: %s has score %g and an error of %g dB", s, c.Topology.Name, c.Score, c.RealDB)
			}
		}
		for _, r := range no {
			if r.Reason == "" {
				t.Errorf("%v: %s is refused without a reason", s, r.Topology.Name)
			}
		}
	}
	// A stock of one value each still gives a gain, and refuses filters in words.
	one := bad(func(b *Bench) { b.Stock = Stock{Ohm: []float64{10e3}, Farad: []float64{10e-9}} })
	if all, _, err := one.Candidates(biquad.Constant(2), nil, 5, Behind{}); err != nil || len(all) == 0 || all[0].ErrorDB > responseTolerance {
		t.Errorf("a gain of 2 from equal resistors: %v %v", all, err)
	}
	if all, no, err := one.Candidates(stagetest.Pair("low-pass", 20, 2), nil, 5, Behind{}); err != nil || len(all) != 0 || len(no) != len(circuit.Topologies) {
		t.Errorf("a low-pass at 20 Hz from 10 kΩ and 10 nF: %v %v", all, err)
	}
}

// What the score is for, each seen at work.
func TestScoreSpeaksAgainst(t *testing.T) {
	b := corpusBench("E24", "E6")
	b.Band = Band{FromHz: 20, ToHz: 20e3, DownDB: 40}
	first := func(b *Bench, s biquad.Analog) Candidate {
		all, _, err := b.Candidates(s, nil, 1, Behind{})
		if err != nil || len(all) == 0 {
			t.Fatal("no choice", err)
		}
		return all[0]
	}
	if c := first(b, biquad.Constant(1)); c.Topology.Name != "follower" {
		t.Errorf("unity gain is a %s", c.Topology.Name)
	}
	// Polarity: nothing that inverts where something else does as well.
	if c := first(b, stagetest.Pair("low-pass", 1000, stagetest.Q7)); c.Level < 0 || c.Topology.OpAmps() != 1 {
		t.Errorf("a low-pass is a %s", c.Topology.Name)
	}
	// Load and noise: the same filter from small and from large resistors only.
	usual, rc := first(b, stagetest.Section("low-pass", func(k string) float64 { return map[string]float64{"at": 1000, "order": 1}[k] })), "rc-low-pass"
	topology, _ := circuit.ByName(rc)
	for _, c := range []struct {
		what string
		ohm  [2]float64
		cap  [2]float64
	}{
		{"small", [2]float64{100, 1000}, [2]float64{100e-9, 10e-6}},
		{"large", [2]float64{200e3, 2e6}, [2]float64{10e-12, 1e-9}},
	} {
		o := b.With(Stock{Ohm: Values([]string{"E24"}, nil, c.ohm[0], c.ohm[1]), Farad: Values([]string{"E6"}, nil, c.cap[0], c.cap[1])})
		o.Means.Ohm, o.Means.Farad = circuit.Range{From: c.ohm[0], To: c.ohm[1]}, circuit.Range{From: c.cap[0], To: c.cap[1]}
		all, _, err := o.Candidates(usual.Section, []*circuit.Topology{topology}, 1, Behind{})
		if err != nil || len(all) == 0 {
			t.Fatal("no choice", err)
		}
		if all[0].Score < usual.Score+0.5 {
			t.Errorf("%s resistors score %g, usual ones %g", c.what, all[0].Score, usual.Score)
		}
	}
	// The real op-amp: what it does to a peak of high Q is made up for by values.
	peak := stagetest.Shaped("peak", map[string]float64{"at": 9000, "q": 4, "gain": -9})
	topology, _ = circuit.ByName("sum-with-band-pass")
	all, _, err := b.Candidates(peak, []*circuit.Topology{topology}, 40, Behind{})
	if err != nil || len(all) == 0 {
		t.Fatal("no choice", err)
	}
	exact := all[0]
	for _, c := range all {
		if c.ErrorDB < exact.ErrorDB {
			exact = c
		}
	}
	if !(all[0].RealDB < exact.RealDB) {
		t.Errorf("with the real op-amp the first choice is %g dB off, the one that is best with an ideal one %g dB", all[0].RealDB, exact.RealDB)
	}
}

// A notch as a sum of a state-variable stage's outputs never rises above its input,
// but its high-pass output does, to Q/sqrt(1-1/(4Q²)): the peak of a second-order
// high-pass, by calculus from its magnitude.
func TestSwingInside(t *testing.T) {
	const q = 3.0
	b := corpusBench("E96", "E12")
	b.Band = Band{FromHz: 20, ToHz: 20e3}
	b.Means.OpAmp = netlist.OpAmp{Ideal: true}
	notch := biquad.Analog{W0: 2 * math.Pi * 700, Keep: 2 * math.Pi * 700, B: [3]float64{1, 0, 1}, A: [3]float64{1, 1 / q, 1}}
	sum, _ := circuit.ByName("state-variable-sum")
	all, no, err := b.Candidates(notch, []*circuit.Topology{sum}, 3, Behind{})
	if err != nil || len(all) == 0 {
		t.Fatal(no, err)
	}
	want := q / math.Sqrt(1-1/(4*q*q))
	for _, c := range all {
		// At 24 frequencies the peak itself is not hit, and values move it.
		if c.Swing < 0.9*want || c.Swing > 1.1*want {
			t.Errorf("an op-amp swings %.3f times the input, want about %.3f", c.Swing, want)
		}
		alike := c
		alike.Swing = 1
		if d := c.Score - again(alike); math.Abs(d-pointsPerSwing*math.Log2(c.Swing)) > 1e-6 {
			t.Errorf("a swing of %.3f costs %.3f points", c.Swing, d)
		}
	}
}

// again is the score of a candidate whose measures were changed, with nothing behind it.
func again(c Candidate) float64 {
	c.weigh(Behind{}.over(c.own.hz))
	return c.Score
}
