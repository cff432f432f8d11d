package stage

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"bandwright/biquad"
	"bandwright/compiler/circuit"
	"bandwright/compiler/netlist"
)

// cook is a shelf or a peak by the audio EQ cookbook's formulas, and with a 1 a shelf of the first order.
func cook(kind string, hz, db, q float64) biquad.Analog {
	a := math.Pow(10, db/40)
	r := math.Sqrt(a) / q
	switch kind {
	case "low shelf":
		return biquad.Analog{W0: 2 * math.Pi * hz, B: [3]float64{a * a, a * r, a}, A: [3]float64{1, r, a}}
	case "low shelf 1":
		return biquad.Analog{W0: 2 * math.Pi * hz, B: [3]float64{a, 1}, A: [3]float64{1 / a, 1}}
	case "high shelf 1":
		return biquad.Analog{W0: 2 * math.Pi * hz, B: [3]float64{1, a}, A: [3]float64{1, 1 / a}}
	case "high shelf":
		return biquad.Analog{W0: 2 * math.Pi * hz, B: [3]float64{a, a * r, a * a}, A: [3]float64{a, r, 1}}
	}
	return biquad.Analog{W0: 2 * math.Pi * hz, B: [3]float64{1, a / q, 1}, A: [3]float64{1, 1 / (a * q), 1}}
}

func strengths(kind string, hz float64, dbs ...float64) []biquad.Analog {
	var s []biquad.Analog
	for _, db := range dbs {
		s = append(s, cook(kind, hz, db, 0.7))
	}
	return s
}

func toneBench() *Bench {
	return New(Stock{Ohm: Values([]string{"E96"}, nil, 1e3, 100e3), Farad: Values([]string{"E12"}, nil, 1e-9, 470e-9)}, corpusBench("E24", "E6").Means,
		Band{FromHz: 20, ToHz: 20e3, DownDB: 40})
}

// One filter has every strength of usual tone controls within 0.04 dB with the real op-amp and parts in stock, with
// two op-amps, or one of the first order, near the top of the band and with slow op-amps as well, which take more than
// that by themselves.
func TestTappedFilters(t *testing.T) {
	tried := 0
	for _, k := range []struct {
		kind string
		hz   float64
		db   []float64
		gain float64 // the op-amp's gain-bandwidth, MHz
	}{
		{"low shelf", 120, []float64{3, 6, -3, -6}, 10}, {"low shelf", 10e3, []float64{3, 6, -3, -6}, 10},
		{"high shelf", 8e3, []float64{6, 3, -3, -6}, 3}, {"high shelf", 1e3, []float64{9, -9, 3, 6, -6, -3}, 10},
		{"peak", 60, []float64{4, 2, -2, -4, 0.5}, 10}, {"peak", 6e3, []float64{3, 6, -3, -6}, 3},
		{"low shelf 1", 120, []float64{3, 6, -3, -6}, 10}, {"low shelf 1", 3e3, []float64{-4, 4}, 3}, {"low shelf 1", 250, []float64{10, 5, -5, -10}, 10},
		{"high shelf 1", 5e3, []float64{6, 3, -3, -6}, 3}, {"high shelf 1", 1e3, []float64{-2, -4}, 10}, {"high shelf 1", 2e3, []float64{12, -12, 4, 8, -8, -4}, 10},
	} {
		b := toneBench()
		b.Means.OpAmp.GainBandwidthHz = k.gain * 1e6
		s := strengths(k.kind, k.hz, k.db...)
		for opAmps, of := range []*circuit.Taps{circuit.TappedShelf, circuit.TappedFilter} {
			if of.Stage(s) == nil {
				continue
			}
			tried++
			what := fmt.Sprintf("%s %v by a %s", k.kind, k.db, of.Name)
			x, err := b.Taps(of, s, Behind{}, 0.04)
			if err != nil || x == nil || x.OpAmps() != opAmps+1 || x.WorstDB() > 0.04 || len(x.States) != len(s)+1 {
				t.Errorf("%s: %v, %v", what, x, err)
				continue
			}
			with, leant := b.newTappedFilter(of, s, 1, 1, 0), 0.0
			ideal := with.error(x.Values, noLimit)
			err = with.lean(x.Values)
			for i, w := range with.want {
				leant = max(leant, w.thinned(measuredPoints).error(x.Switched.States[i].Closed(x.Values), noLimit))
			}
			worst := 0.0 // but for the flat state, which is not fitted
			for _, c := range x.States[:len(s)] {
				worst = max(worst, c.RealDB)
			}
			if err != nil || math.Abs(leant-worst) > 1e-6 {
				t.Errorf("%s: %v, %g dB, measured %g dB", what, err, leant, worst)
			}
			t.Logf("%s: %.3f dB, with ideal op-amps %.3f dB, %v", what, x.WorstDB(), ideal, x.Values)
			ra, rf, _ := of.Places(s)
			for i, e := range x.Parts() {
				list := b.Stock.Ohm
				if e.Kind == netlist.Capacitor {
					list = b.Stock.Farad
				}
				if !slices.Contains(list, x.Values[i]) {
					t.Errorf("%s: %s of %g is not in stock", what, e.Ref, x.Values[i])
				}
			}
			if x.Values[ra] != x.Values[rf] {
				t.Errorf("%s: %g and %g ohm are not equal", what, x.Values[ra], x.Values[rf])
			}
			if v := b.Retuned(of, s, x.Values, Behind{}, 0.04); v == nil {
				t.Errorf("%s is not tuned again", what)
			}
			if sets := b.TapsSets(of, s, x.Values, 50); len(sets) < 20 {
				t.Errorf("%s has %d other sets of values", what, len(sets))
			}
		}
	}
	if tried != 15 {
		t.Errorf("%d stages were tried", tried)
	}
	if x, _ := toneBench().Taps(circuit.TappedFilter, strengths("low shelf", 120, 3, 6), Behind{}, 1e-4); x != nil {
		t.Errorf("%g dB of 0.0001", x.WorstDB())
	}
}

// A fit finds what a filter was designed with: the response of random values near those of a design, from the design.
func TestFitsFindWhatThereIs(t *testing.T) {
	b := toneBench()
	s := strengths("high shelf", 2e3, 4, 2, -2, -4)
	x := b.newTappedFilter(circuit.TappedFilter, s, 1, 1, 0)
	v := x.start(4.7e-9, 4.7e-9)
	before := x.error(v, noLimit)
	x.fit(v, x.free())
	if after := x.error(v, noLimit); !(after < 0.03) || !(before > 5*after) {
		t.Errorf("%g dB, before %g dB", after, before)
	}
	// Any change of one part by 1 % makes the sum of squares larger: it is a minimum.
	square := func(v []float64) (sum float64) {
		for _, e := range x.residuals(v, x.free()) {
			sum += e * e
		}
		return sum
	}
	least := square(v)
	for _, i := range x.free() {
		for _, k := range []float64{0.99, 1.01} {
			w := slices.Clone(v)
			w[i] *= k
			if sum := square(w); sum < least*(1-1e-3) {
				t.Errorf("part %d times %g: %g, and %g was found", i, k, sum, least)
			}
		}
	}
}
