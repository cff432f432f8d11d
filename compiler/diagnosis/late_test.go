package diagnosis

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"bandwright/biquad"
	"bandwright/compiler/netlist"
	"bandwright/compiler/verify"
)

// wrong is a part with so many times its value; a bridge of 50 milliohms for 0.
func (u *unit) wrong(t *testing.T, r *rand.Rand, ref string, times float64) []float64 {
	t.Helper()
	factors := u.factors(r)
	for p := range factors {
		if u.bench.Parts[p].Ref == ref {
			if times == 0 {
				times = 0.05 / u.bench.Parts[p].Value
			}
			factors[p] *= times
			return factors
		}
	}
	t.Fatalf("no %s", ref)
	return nil
}

// Faults that turn phase so far that the delay is first estimated wrongly, that leave an op-amp at a rail, and that silence a way
// as many others do, are the first all the same. One at a rail would, without the rail, be a hundred decibels too loud: a way that
// is heard at such a level is no board with that fault.
func TestFarOff(t *testing.T) {
	for _, c := range []struct {
		board, ref string
		times      float64
	}{{"bittern", "R50501", 10}, {"bittern", "C50501", 0.1}, {"bittern", "R40302", 0}} {
		u := benched(t, c.board)
		r := rand.New(rand.NewPCG(21, 9))
		d, err := u.bench.Diagnose(u.measure(t, u.wrong(t, r, c.ref, c.times), r))
		if err != nil || !d.Found() || len(d.Hypotheses) == 0 || !d.Hypotheses[0].names([]string{c.ref}) || d.Hypotheses[0].Likelihood < 0.9 {
			t.Errorf("%s, %s: %v, %v", c.board, c.ref, u.bench.Sentences(d), err)
		}
	}
	u := benched(t, "heron")
	r := rand.New(rand.NewPCG(21, 9))
	factors := u.wrong(t, r, "R20304", 0)
	readings := newTape(u).record(t, factors, r)
	d, err := u.bench.Diagnose(readings)
	if err != nil || slices.ContainsFunc(d.Hypotheses, func(h Hypothesis) bool { return h.names([]string{"R20304"}) && h.Likelihood > 1e-6 }) {
		t.Errorf("%v, %v", u.bench.Sentences(d), err)
	}
	u.railed(t, readings, func(one []float64) { copy(one, factors) })
	d, err = u.bench.Diagnose(readings)
	told := strings.Join(u.bench.Sentences(d), "\n")
	if err != nil || !d.Found() || !d.Hypotheses[0].names([]string{"R20304"}) || !strings.Contains(told, "at a rail") {
		t.Errorf("%v, %v", told, err)
	}
}

// Ways that were recorded one after the other are told as such, not as a wrong part; where that was said nothing is found, and a
// wrong part all the same.
func TestRecordedApart(t *testing.T) {
	u := benched(t, "dabchick")
	x := u.bench
	under := x.Conditions
	under.DelayEach = true
	each, err := NewBench(x.subject, u.Board, u.Batch.Bought(), x.ways, x.C, under)
	if err != nil {
		t.Fatal(err)
	}
	under.FitDelay, under.DelayEach = false, false
	none, err := NewBench(x.subject, u.Board, u.Batch.Bought(), x.ways, x.C, under)
	if err != nil {
		t.Fatal(err)
	}
	r := rand.New(rand.NewPCG(21, 10))
	later := func(readings []Reading, way int, s float64) []Reading {
		out := slices.Clone(readings)
		at := out[way].At
		out[way].At = func(hz float64) complex128 { return at(hz) * biquad.Delay(hz, s) }
		out[way].AboutS += s
		return out
	}
	first := func(b *Bench, readings []Reading, want string) {
		t.Helper()
		d, err := b.Diagnose(readings)
		if err != nil {
			t.Fatal(err)
		}
		if got := b.Sentences(d)[0]; !strings.HasPrefix(got, want) {
			t.Errorf("%q, want %q", got, want)
		}
	}
	names := x.subject.Ways
	for _, s := range []float64{62.5e-6, 1.04e-3, 7e-3} {
		good := u.measure(t, u.factors(r), r)
		first(x, later(good, 1, s), "late beside the others: "+names[1]+" by ")
		first(x, later(good, 0, s), "late beside the others: "+names[0]+" by ")
		first(each, later(good, 1, s), "nothing found")
		first(each, later(u.measure(t, u.wrong(t, r, "C20402", 1.5), r), 1, s), "fits best: C20402 is ")
	}
	good := u.measure(t, u.factors(r), r)
	first(none, good, "late by ")
	inverted := later(good, 1, 1e-3)
	at := inverted[1].At
	inverted[1].At = func(hz float64) complex128 { return -at(hz) }
	first(each, inverted, names[1]+" has the wrong polarity")
}

// A fault with which an op-amp swings to its rails at the input's level, by nodal analysis of the board with it, is told with
// what would be heard of it; one with which none does is not.
func TestDrivenToTheRails(t *testing.T) {
	u := benched(t, "heron")
	x := u.bench
	volts := func(part int, times float64) (all []float64) {
		if err := u.solver.Set(x.index[part], x.Parts[part].Value*times); err != nil {
			t.Fatal(err)
		}
		for _, hz := range biquad.Octaves(x.LowHz, x.HighHz, 2) {
			if err := u.solver.At(hz); err != nil {
				t.Fatal(err)
			}
			for _, c := range u.Board.Chains() {
				for k := range c.Positions {
					p := &c.Positions[k]
					for _, stage := range p.Alt[p.Index(x.C)].Stages {
						all = append(all, 2*math.Sqrt2*cmplx.Abs(u.solver.Voltage(u.Board.Node(stage.Out)))) // of 2 V at the input
					}
				}
			}
		}
		return all
	}
	tried := map[bool]int{}
	var first, last Fault // one that does not, and one that does
	for i := range x.faults {
		f := x.faults[i]
		if f.Kind == Exchanged || f.stuck != 0 || tried[true] > 0 && tried[false] > 9 || tried[false] > 9 && x.refs(&f)[0] != "R40202" {
			continue
		}
		d := &Diagnosis{Hypotheses: []Hypothesis{{Kind: f.Kind, Parts: x.refs(&f), Likelihood: 1, fault: f}}}
		if err := x.drive(d); err != nil {
			t.Fatal(err)
		}
		part := f.parts[0]
		times := map[Kind]float64{Missing: 1e7, Shorted: 1e-7, TenTimes: 10, Tenth: 0.1}[f.Kind]
		if x.Parts[part].Kind == netlist.Capacitor && times != 10 && times != 0.1 {
			times = 1 / times
		}
		wrong, good := volts(part, times), volts(part, 1)
		swings := false
		for k, v := range wrong {
			swings = swings || v > u.Board.OpAmp.SwingV && biquad.GainDB(v/good[k]) > railDB
		}
		if tried[swings]++; swings {
			last = f
		} else {
			first = f
		}
		if said := x.Sentence(&d.Hypotheses[0]); strings.Contains(said, "swings to its rails at 2 V at the input") != swings {
			t.Errorf("%s: %v", said, swings)
		}
	}
	if tried[true] == 0 || tried[false] == 0 {
		t.Error(tried)
	}
	driven := Hypothesis{Kind: last.Kind, Parts: x.refs(&last), Likelihood: 0.8, fault: last}
	driven.Alike = []Hypothesis{{Kind: first.Kind, Parts: x.refs(&first), Likelihood: 0.1, fault: first}}
	d := &Diagnosis{Hypotheses: []Hypothesis{driven}}
	if err := x.drive(d); err != nil {
		t.Fatal(err)
	}
	if h := d.Hypotheses[0]; !h.names(x.refs(&first)) || h.Likelihood != 0.8 || len(h.Alike) != 1 || !h.Alike[0].names(x.refs(&last)) || h.Alike[0].Alike != nil {
		t.Errorf("%v", x.Sentences(d))
	}
}

// A level that is off is told as such, of all ways where the level means something.
func TestLouder(t *testing.T) {
	u := benched(t, "dabchick")
	x := u.bench
	d, err := NewBench(x.subject, u.Board, u.Batch.Bought(), x.ways, x.C, Conditions{FitDelay: true, Phased: true, LowHz: 20, HighHz: 20000})
	if err != nil {
		t.Fatal(err)
	}
	ideal := func(fit bool) *Bench {
		return NewPlain(x.subject, verify.NewIdeal(u.Prototype), x.ways, x.C, Conditions{FitLevel: fit, FitDelay: true, Phased: true, LowHz: 20, HighHz: 20000}, func([]float64) []Alternative { return nil })
	}
	plain, absolute, names := ideal(true), ideal(false), x.subject.Ways
	for _, c := range []struct {
		b    *Bench
		by   []float64
		want string
	}{
		{d, []float64{4.3, 4.3}, "every way is 4.30 dB too loud"},
		{d, []float64{-2, -2}, "every way is 2.00 dB too quiet"},
		{d, []float64{0, 0}, "nothing found"},
		{plain, []float64{0, 0}, "nothing found"},
		{plain, []float64{5, 5}, "nothing found"},
		{plain, []float64{5, 6.5}, names[0] + " is 1.50 dB too quiet beside " + names[1] + ", or that as much too loud: a gain of one of them; a level that means something would tell which, likelihood > 99.9 %"},
		{absolute, []float64{-1, 2}, names[0] + " is 1.00 dB too quiet and " + names[1] + " is 2.00 dB too loud: a gain of each, likelihood > 99.9 %"},
	} {
		var readings []Reading
		for w, by := range c.by {
			readings = append(readings, Reading{Way: w, LowHz: 20, HighHz: 20000, At: func(hz float64) complex128 {
				h := make([]complex128, 1)
				if c.b != d {
					verify.NewIdeal(u.Prototype).On([]float64{hz}).Response(h, w, x.C)
				} else {
					u.Board.On([]float64{hz}).Response(h, w, x.C)
				}
				return h[0] * complex(biquad.FromDB(by), 0)
			}})
		}
		got, err := c.b.Diagnose(readings)
		if err != nil || !strings.HasPrefix(c.b.Sentences(got)[0], c.want) {
			t.Errorf("%v: %v, %v", c.by, c.b.Sentences(got), err)
		}
	}
}
