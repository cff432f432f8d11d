package stage

import (
	"math"
	"math/cmplx"
	"slices"
	"testing"

	"bandwright/biquad"
	"bandwright/compiler/circuit"
)

// Every set of values of a small stock, against the string that is chosen: none has a
// smaller error by more than a value less is worth.
func TestTappedAgainstAllStrings(t *testing.T) {
	small := Stock{Ohm: Values([]string{"E12"}, nil, 1e3, 10e3), Farad: []float64{1e-8}}
	b := New(small, corpusBench("E24", "E6").Means, Band{FromHz: 20, ToHz: 20e3, DownDB: 40})
	for _, gains := range [][]float64{{1, 0.707}, {1, 0.8, 0.6}, {0.8, 0.5}} {
		s, v, worst := b.Tapped(gains, 10e3)
		if s == nil {
			t.Fatalf("%v: nothing", gains)
		}
		n := len(v) - 1 // the pole's stays
		least := math.Inf(1)
		w := append([]float64{}, v...)
		var try func(i int)
		try = func(i int) {
			if i < n {
				for _, x := range small.Ohm {
					w[i] = x
					try(i + 1)
				}
				return
			}
			sum := 0.0
			for _, x := range w[:n] {
				sum += x
			}
			if sum < 5e3 || sum > 20e3 { // what the string's noise and load allow
				return
			}
			e := 0.0
			for k, g := range gains {
				e = math.Max(e, math.Abs(biquad.GainDB(real(s.States[k].Closed(w).At(0))/g)))
			}
			least = math.Min(least, e)
		}
		try(0)
		t.Logf("%v: %.4f dB, the least of all %.4f dB", gains, worst, least)
		if worst > least+0.02 {
			t.Errorf("%v: %.4f dB with %v, and %.4f dB can be had", gains, worst, v, least)
		}
	}
}

// Nine steps of a decibel take one op-amp and a string of E24, and are within the error that
// a whole way may have.
func TestNineSteps(t *testing.T) {
	b := New(Stock{Ohm: Values([]string{"E24"}, nil, 1e3, 100e3), ShuntOhm: Values([]string{"E24"}, nil, 150, 100e3), Farad: []float64{1e-8}}, corpusBench("E24", "E6").Means,
		Band{FromHz: 20, ToHz: 20e3, DownDB: 40})
	var gains []float64
	for db := 4; db >= -4; db-- {
		gains = append(gains, biquad.FromDB(float64(db)))
	}
	s, v, worst := b.Tapped(gains, 100e3)
	if s == nil || worst > 0.03 || s.OpAmps() != 1 {
		t.Errorf("%.4f dB with %v", worst, v)
	}
	t.Logf("%.4f dB: %v", worst, v)
}

// An opened stage keeps its level in both positions, and every candidate of it does.
func TestOpenedKeepsItsLevel(t *testing.T) {
	b := corpusBench("E24", "E6")
	a := math.Pow(10, -4.0/40)
	cut := biquad.Analog{W0: 2 * math.Pi * 300, B: [3]float64{1, a / 2, 1}, A: [3]float64{1, 1 / (2 * a), 1}}
	all, err := b.Opened(cut, circuit.Topologies, 40, Behind{}, 0.04)
	if err != nil || len(all) < 2 {
		t.Fatalf("%d stages, %v", len(all), err)
	}
	for _, o := range all {
		if o.Off.RealDB > 0.006 || math.Abs(o.Off.Level-o.On.Level) > 1e-12 {
			t.Errorf("%s: off %.4f dB from level %g", o.Name, o.Off.RealDB, o.On.Level)
		}
		for _, c := range o.All {
			if e := math.Abs(biquad.GainDB(math.Abs(real(o.States[1].Closed(c.Values).At(0))))); e > 0.006 {
				t.Errorf("%s with %v: flat at %.4f dB", o.Name, c.Values, e)
			}
		}
	}
}

// Where a slow op-amp takes every set of values too far off that would be right with an ideal one, others make up for
// it, as flat when the element is open.
func TestOpenedWithSlowOpAmps(t *testing.T) {
	const mostDB = 0.04
	for _, k := range []struct{ hz, db, q float64 }{{9e3, 4, 5}, {9e3, -4, 5}, {12e3, 4, 0.7}} {
		b := toneBench()
		b.Means.OpAmp.GainBandwidthHz = 3e6
		s := cook("peak", k.hz, k.db, k.q)
		name := map[bool]string{true: "band-pass-in-feedback", false: "sum-with-band-pass"}[k.db > 0]
		only, _ := circuit.ByName(name)
		usual, _, err := b.Candidates(s, []*circuit.Topology{only}, 12, Behind{})
		if err != nil || slices.ContainsFunc(usual, func(c Candidate) bool { return c.RealDB <= mostDB }) {
			t.Errorf("%v: %v, the op-amp is no matter", k, err)
		}
		all, err := b.Opened(s, []*circuit.Topology{only}, 12, Behind{}, mostDB)
		if err != nil || len(all) != 1 || all[0].On.RealDB > mostDB || all[0].Off.RealDB > mostDB {
			t.Errorf("%v: %v, %d stages, within %g dB none", k, err, len(all), mostDB)
			continue
		}
		on := all[0].On
		if e := newWanted(s, on.Level, b.Band).error(only.Closed(on.Values), noLimit); e != on.ErrorDB || e < mostDB {
			t.Errorf("%v: %g dB with ideal op-amps, told as %g dB", k, e, on.ErrorDB)
		}
		t.Logf("%v: %.3f dB instead of %.3f dB", k, on.RealDB, usual[0].RealDB)
	}
}

// Of two shelves that one sum adds each has values in stock with which it is within the limit, by its
// closed form too, for hardly more points than the best stage by itself; the rest of its state is flat.
func TestSummed(t *testing.T) {
	b := corpusBench("E96", "E12")
	shelf := func(hz, db float64) biquad.Analog {
		a := math.Pow(10, db/40)
		return biquad.Analog{W0: 2 * math.Pi * hz, B: [3]float64{a * a, a * math.Sqrt(a) / 0.7, a}, A: [3]float64{1, math.Sqrt(a) / 0.7, a}}
	}
	sections := []biquad.Analog{shelf(210, -3), shelf(240, 6)}
	const mostDB = 0.05
	x, err := b.Summed(sections, 60, Behind{}, mostDB)
	if err != nil || x == nil || len(x.States) != 3 {
		t.Fatal(x, err)
	}
	n := len(x.Values)
	if x.Values[n-1] != x.Values[n-2] {
		t.Errorf("a sum of %g and %g ohm", x.Values[n-2], x.Values[n-1])
	}
	for i, e := range x.Parts() {
		if !slices.Contains(b.Stock.Of(e), x.Values[i]) {
			t.Errorf("%s of %g is not in stock", e.Ref, x.Values[i])
		}
	}
	for i, s := range sections {
		alone, err := b.Opened(s, []*circuit.Topology{circuit.SummedOf(s)}, 60, Behind{}, 0.04)
		if err != nil {
			t.Fatal(err)
		}
		own := x.States[i]
		// An op-amp, the parts of the other network, and what is lost with the common resistors.
		more := pointsPerOpAmp + 6*pointsPerPart + 3
		if own.RealDB > mostDB || own.Level != -1 || own.Score > alone[0].On.Score+more {
			t.Errorf("section %d: %.4f dB, %.2f points, %.2f by itself", i, own.RealDB, own.Score, alone[0].On.Score)
		}
		for hz := 20.0; hz < 20e3; hz *= 1.3 {
			h := x.Switched.States[i].Closed(x.Values).At(2 * math.Pi * hz)
			if e := biquad.GainDB(cmplx.Abs(h / s.At(2*math.Pi*hz))); math.Abs(e) > mostDB {
				t.Errorf("section %d: %.4f dB at %g Hz", i, e, hz)
			}
		}
	}
	if off := x.States[2]; off.RealDB > 0.006 {
		t.Errorf("without either: %.4f dB", off.RealDB)
	}
	if none, err := b.Summed(sections, 60, Behind{}, 1e-9); none != nil || err != nil {
		t.Error("a sum within 1e-9 dB", none, err)
	}
}

// A peak and its reciprocal have values in stock with which both are within the limit, by their closed
// forms too, and mirror each other; sections that are far from reciprocals have none.
func TestPaired(t *testing.T) {
	b := corpusBench("E96", "E12")
	bell := func(hz, db, q float64) biquad.Analog {
		a := math.Pow(10, db/40)
		return biquad.Analog{W0: 2 * math.Pi * hz, B: [3]float64{1, a / q, 1}, A: [3]float64{1, 1 / (a * q), 1}}
	}
	const mostDB = 0.05
	sections := []biquad.Analog{bell(800, 4, 1.2), bell(800, -4, 1.2)}
	x, err := b.Paired(sections, true, 60, Behind{}, mostDB)
	if err != nil || x == nil || len(x.States) != 3 {
		t.Fatal(x, err)
	}
	stocked(t, b, x.Parts(), x.Values)
	if x.WorstDB() > mostDB || x.States[2].RealDB > 0.006 {
		t.Errorf("the worst state is %.4f dB off, flat %.4f dB", x.WorstDB(), x.States[2].RealDB)
	}
	for hz := 20.0; hz < 20e3; hz *= 1.3 {
		w := 2 * math.Pi * hz
		for i, s := range sections {
			if e := biquad.GainDB(cmplx.Abs(x.Switched.States[i].Closed(x.Values).At(w) / s.At(w))); math.Abs(e) > mostDB {
				t.Errorf("section %d: %.4f dB at %g Hz", i, e, hz)
			}
		}
	}
	if x, err := b.Paired([]biquad.Analog{bell(800, 4, 1.2), bell(900, -4, 1.2)}, true, 60, Behind{}, mostDB); x != nil || err != nil {
		t.Error("a pair of what is none", x, err)
	}
	for _, v := range b.PairedSets(sections, x.Values, 40) {
		stocked(t, b, x.Parts(), v)
		if n := len(circuit.PairOf(sections).Parts()); v[n-3] != v[n-1] {
			t.Errorf("a sum of %g and %g ohm", v[n-3], v[n-1])
		}
	}
	// A line moves: the fewest parts do, and a value that is gone is in no part.
	moved := []biquad.Analog{bell(820, 4, 1.2), bell(820, -4, 1.2)}
	v := b.Repaired(moved, true, x.Values, 60, Behind{}, mostDB)
	if v == nil {
		t.Fatal("no values for a peak that moved")
	}
	changed := 0
	for i := range v {
		if v[i] != x.Values[i] {
			changed++
		}
	}
	if y, err := b.PairedWith(moved, true, v, Behind{}); err != nil || y.WorstDB() > mostDB || changed > 3 {
		t.Errorf("%d parts changed, %.4f dB off, %v", changed, y.WorstDB(), err)
	}
	gone := x.Values[len(circuit.PairOf(sections).Parts())-1]
	less := b.Stock
	less.Ohm = slices.DeleteFunc(slices.Clone(less.Ohm), func(ohm float64) bool { return ohm == gone })
	if v := b.With(less).Repaired(sections, true, x.Values, 60, Behind{}, mostDB); v == nil || slices.Contains(v, gone) {
		t.Errorf("without %g ohm: %v", gone, v)
	}
}
