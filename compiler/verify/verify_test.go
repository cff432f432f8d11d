package verify_test

import (
	"context"
	"math"
	"math/cmplx"
	"strings"
	"testing"

	"bandwright/biquad"
	"bandwright/biquad/discretize"
	"bandwright/compiler/digital"
	"bandwright/compiler/promise"
	"bandwright/compiler/verify"
)

const rate = 48000.0

// lr4 are the squared Butterworth sections of order 4 (two of Q 1/√2) at hz.
func lr4(hz float64, high bool) []biquad.Slot[biquad.Analog] {
	w := 2 * math.Pi * hz
	s := biquad.Analog{W0: w, Keep: w, B: [3]float64{1}, A: [3]float64{1, math.Sqrt2, 1}}
	if high {
		s.B = [3]float64{0, 0, 1}
	}
	return []biquad.Slot[biquad.Analog]{biquad.Fixed(s, "x"), biquad.Fixed(s, "x")}
}

// twoWay is a crossover at hz with a switched high shelf in the treble.
func twoWay(hz float64) biquad.System[biquad.Analog] {
	w := 2 * math.Pi * 7000
	r := math.Sqrt(biquad.FromDB(3))
	shelf := biquad.Analog{W0: w, Keep: w, B: [3]float64{1, math.Sqrt(r) * math.Sqrt2, r}, A: [3]float64{1, math.Sqrt2 / math.Sqrt(r), 1 / r}}
	high := append(lr4(hz, true), biquad.Slot[biquad.Analog]{
		From: []string{"shelf", "shelf"}, Alt: []biquad.Analog{biquad.Constant(1), shelf},
		By: []biquad.Axis{{Setting: 1, Choices: 2}}, Pick: []uint8{0, 1}})
	return biquad.System[biquad.Analog]{
		Common: biquad.Cascade[biquad.Analog]{Gain: 1},
		Ways: []biquad.Way[biquad.Analog]{
			{Name: "low", Polarity: 1, Cascade: biquad.Cascade[biquad.Analog]{Gain: 0.8, Slots: lr4(hz, false)}},
			{Name: "high", Polarity: 1, Cascade: biquad.Cascade[biquad.Analog]{Gain: 0.5, DelayS: 2 / rate, Slots: high}},
		},
	}
}

func realised(t *testing.T, s biquad.System[biquad.Analog]) biquad.System[biquad.Digital] {
	t.Helper()
	method, _ := discretize.ByName("bilinear")
	m, err := method.Realise(context.Background(), discretize.Job{Prototype: s, RateHz: rate,
		Goals: discretize.Goals{DelayDeg: 0.5, DelayToHz: []float64{5000, 5000}}})
	if err != nil {
		t.Fatal(err)
	}
	return m.System
}

func subject(s biquad.System[biquad.Analog]) *verify.Subject {
	sub := &verify.Subject{Settings: []verify.Setting{{"unused", []string{"a", "b", "c"}}, {"shelf", []string{"off", "on"}}},
		Prototype: verify.NewIdeal(s), AllAxes: s.Axes(), SplitAxes: s.Axes()}
	for k, w := range s.Ways {
		sub.Ways = append(sub.Ways, w.Name)
		sub.WayAxes = append(sub.WayAxes, biquad.Axes(s.Path(k)))
	}
	return sub
}

// all is every promise that the tests look at, with these limits.
func all(mag, phase, sum float64) verify.Terms {
	p := promise.Promises{Extent: verify.Extent{LowHz: 20, HighHz: 20000, DownToDB: -60}}
	for row, limit := range map[*promise.Row]float64{&promise.Magnitude: mag, &promise.Phase: phase, &promise.Sum: sum, &promise.Headroom: 0, &promise.Latency: 0.001} {
		p = p.With(row, promise.Limit{On: true, Value: limit})
	}
	return p.Terms()
}

// The independent route: definitions in s and z⁻¹ on a dense grid, no shared
// search. It may miss the maximum by the square of its step, never exceed it.
func analogAt(c biquad.Cascade[biquad.Analog], pick int, f float64) complex128 {
	h := complex(c.Gain, 0) * cmplx.Rect(1, -2*math.Pi*f*c.DelayS)
	for _, s := range c.Slots {
		a := s.Alt[min(pick, len(s.Alt)-1)]
		p := complex(0, 2*math.Pi*f/a.W0)
		h *= (complex(a.B[0], 0) + complex(a.B[1], 0)*p + complex(a.B[2], 0)*p*p) / (complex(a.A[0], 0) + complex(a.A[1], 0)*p + complex(a.A[2], 0)*p*p)
	}
	return h
}

func digitalAt(c biquad.Cascade[biquad.Digital], pick int, f float64) complex128 {
	h := complex(c.Gain, 0) * cmplx.Rect(1, -2*math.Pi*f*c.DelayS)
	zi := cmplx.Rect(1, -2*math.Pi*f/rate)
	for _, s := range c.Slots {
		d := s.Alt[min(pick, len(s.Alt)-1)].To(biquad.Direct)
		h *= (complex(d.B[0], 0) + complex(d.B[1], 0)*zi + complex(d.B[2], 0)*zi*zi) / (1 + complex(d.A[1], 0)*zi + complex(d.A[2], 0)*zi*zi)
	}
	return h
}

const dense = 100000

func denseHz(i int) float64 { return 20 * math.Exp2(float64(i)/dense*math.Log2(1000)) }

// nearMaximum is what a dense grid of 1e-4 octaves can miss of a maximum (dB):
// at an edge of the domain the error's slope times the step.
const nearMaximum = 0.02

func TestMaximaAgainstDenseGrid(t *testing.T) {
	proto := twoWay(2300)
	dig := realised(t, proto)
	figures, findings := verify.Judge(context.Background(), subject(proto), digital.New("test", dig, rate, 0, digital.Traits{Gain: 1}), all(0.1, 5, 0.1))

	var mag, phase [2]float64
	sum := 0.0
	for pick := range 2 {
		var peak [2]float64
		for i := 0; i <= dense; i += 10 {
			for w := range 2 {
				peak[w] = math.Max(peak[w], cmplx.Abs(analogAt(proto.Path(w), pick, denseHz(i))))
			}
		}
		for i := 0; i <= dense; i++ {
			f := denseHz(i)
			var p, r [2]complex128
			for w := range 2 {
				p[w], r[w] = analogAt(proto.Path(w), pick, f), digitalAt(dig.Path(w), pick, f)
			}
			for w := range 2 {
				if cmplx.Abs(p[w]) < peak[w]*1e-3 {
					continue
				}
				mag[w] = math.Max(mag[w], math.Abs(20*math.Log10(cmplx.Abs(r[w])/cmplx.Abs(p[w]))))
				if q := cmplx.Abs(p[0]) / cmplx.Abs(p[1]); q <= 10 && q >= 0.1 {
					phase[w] = math.Max(phase[w], math.Abs(cmplx.Phase(r[w]/p[w]))*180/math.Pi)
				}
			}
			if ps := cmplx.Abs(p[0] + p[1]); ps > 0.1*(cmplx.Abs(p[0])+cmplx.Abs(p[1])) {
				sum = math.Max(sum, math.Abs(20*math.Log10(cmplx.Abs(r[0]+r[1])/ps)))
			}
		}
	}
	check := func(what string, got, brute float64) {
		t.Helper()
		if got < brute-1e-9 || got > brute+nearMaximum {
			t.Errorf("%s: found %.9g, the dense grid has %.9g", what, got, brute)
		}
	}
	for w := range 2 {
		check("magnitude of "+figures[w].Way, math.Abs(figures[w].Magnitude.Value), mag[w])
		check("phase of "+figures[w].Way, math.Abs(figures[w].Phase.Value), phase[w])
	}
	check("sum", math.Abs(figures[2].Magnitude.Value), sum)
	for _, f := range findings {
		if f.Promise == "magnitude" && f.Way == "high" && (f.Of != 2 || f.Kept) {
			t.Errorf("the treble of a bilinear crossover: %+v", f)
		}
		if f.Promise == "magnitude" && f.Way == "low" && (f.Of != 1 || len(f.With) != 0) {
			t.Errorf("the bass depends on no setting: %+v", f)
		}
		if f.Kept == (f.Remedy != "") {
			t.Errorf("a remedy belongs to what is broken: %+v", f)
		}
	}
}

// The figure is the value at the place: an independent evaluation there gives
// it back to 1e-9 dB.
func TestFiguresReproduceAtTheirPlace(t *testing.T) {
	proto := twoWay(2300)
	dig := realised(t, proto)
	figures, _ := verify.Judge(context.Background(), subject(proto), digital.New("test", dig, rate, 0, digital.Traits{Gain: 0.5}), all(1, 5, 0.1))
	for w, f := range figures[:2] {
		pick := 0
		for _, c := range f.Magnitude.With {
			if c.Choice == "on" {
				pick = 1
			}
		}
		p, r := analogAt(proto.Path(w), pick, f.Magnitude.AtHz), digitalAt(dig.Path(w), pick, f.Magnitude.AtHz)
		if want := 20 * math.Log10(cmplx.Abs(r)/cmplx.Abs(p)); math.Abs(want-f.Magnitude.Value) > 1e-9 {
			t.Errorf("%s: %.12g at %.9g Hz, evaluated there %.12g", f.Way, f.Magnitude.Value, f.Magnitude.AtHz, want)
		}
		pick = 0
		for _, c := range f.Peak.With {
			if c.Choice == "on" {
				pick = 1
			}
		}
		if want := 20 * math.Log10(0.5*cmplx.Abs(digitalAt(dig.Path(w), pick, f.Peak.AtHz))); math.Abs(want-f.Peak.Value) > 1e-9 {
			t.Errorf("%s peak: %.12g, evaluated %.12g", f.Way, f.Peak.Value, want)
		}
		if f.L1DBFS < f.Peak.Value {
			t.Errorf("%s: the bound %.3g dBFS is below the sine's level %.3g", f.Way, f.L1DBFS, f.Peak.Value)
		}
	}
}

// A narrow fault between grid points must be found: a pole pair of Q 300.
func TestNarrowFaultIsFound(t *testing.T) {
	w := 2 * math.Pi * 1234.567
	proto := biquad.System[biquad.Analog]{Common: biquad.Cascade[biquad.Analog]{Gain: 1},
		Ways: []biquad.Way[biquad.Analog]{{Name: "w", Polarity: 1, Cascade: biquad.Cascade[biquad.Analog]{Gain: 1}}}}
	wrong, err := discretize.Bilinear(biquad.Analog{W0: w, Keep: w, B: [3]float64{1, 2.0 / 300, 1}, A: [3]float64{1, 1.0 / 300, 1}}, rate)
	if err != nil {
		t.Fatal(err)
	}
	dig := biquad.System[biquad.Digital]{Common: biquad.Cascade[biquad.Digital]{Gain: 1},
		Ways: []biquad.Way[biquad.Digital]{{Name: "w", Polarity: 1, Cascade: biquad.Cascade[biquad.Digital]{Gain: 1, Slots: []biquad.Slot[biquad.Digital]{biquad.Fixed(wrong)}}}}}
	figures, _ := verify.Judge(context.Background(), subject(proto), digital.New("test", dig, rate, 0, digital.Traits{Gain: 1}), all(0.1, 5, 0.1))
	// 20·lg 2, at the pole's frequency, by the prewarping.
	if m := figures[0].Magnitude; math.Abs(m.Value-20*math.Log10(2)) > 1e-9 || math.Abs(m.AtHz-1234.567) > 1e-3 {
		t.Errorf("found %.9g dB at %.6f Hz", m.Value, m.AtHz)
	}
}

func TestDeclaredDelayIsTakenOut(t *testing.T) {
	proto := twoWay(500)
	dig := realised(t, proto)
	for w := range dig.Ways {
		dig.Ways[w].DelayS += 5 / rate
	}
	f, findings := verify.Judge(context.Background(), subject(proto), digital.New("late", dig, rate, 5/rate, digital.Traits{Gain: 1}), all(30, 2, 1))
	g, _ := verify.Judge(context.Background(), subject(proto), digital.New("not", realised(t, proto), rate, 0, digital.Traits{Gain: 1}), all(30, 2, 1))
	for w := range 2 {
		if math.Abs(f[w].Phase.Value-g[w].Phase.Value) > 1e-6 {
			t.Errorf("phase %g with the declared delay, %g without any", f[w].Phase.Value, g[w].Phase.Value)
		}
		if math.Abs(f[w].GroupDelay.Value-g[w].GroupDelay.Value) > 1e-9 {
			t.Errorf("group delay %g with the declared delay, %g without any", f[w].GroupDelay.Value, g[w].GroupDelay.Value)
		}
	}
	if want := 7/rate + 5/rate; math.Abs(f[1].LatencyS-want) > 1e-12 {
		t.Errorf("latency %g, want %g", f[1].LatencyS, want)
	}
	for _, x := range findings {
		if x.Promise == "latency" && !x.Kept {
			t.Errorf("%+v", x)
		}
	}
}

// Where the realisation has a zero that the prototype has not, the true error
// is infinite: the figure must stay finite and the promise broken.
func TestZeroOfTheRealisationStaysFinite(t *testing.T) {
	proto := biquad.System[biquad.Analog]{Common: biquad.Cascade[biquad.Analog]{Gain: 1},
		Ways: []biquad.Way[biquad.Analog]{{Name: "w", Polarity: 1, Cascade: biquad.Cascade[biquad.Analog]{Gain: 1}}}}
	th := 2 * math.Pi * 1000 / rate
	notch := biquad.Digital{Form: biquad.Direct, B: [3]float64{1, -2 * math.Cos(th), 1}, A: [3]float64{1}}
	dig := biquad.System[biquad.Digital]{Common: biquad.Cascade[biquad.Digital]{Gain: 1},
		Ways: []biquad.Way[biquad.Digital]{{Name: "w", Polarity: 1, Cascade: biquad.Cascade[biquad.Digital]{Gain: 1, Slots: []biquad.Slot[biquad.Digital]{biquad.Fixed(notch)}}}}}
	figures, findings := verify.Judge(context.Background(), subject(proto), digital.New("test", dig, rate, 0, digital.Traits{Gain: 1}), all(0.1, 5, 0.1))
	v := figures[0].Magnitude.Value
	if math.IsInf(v, 0) || math.IsNaN(v) || v > -100 {
		t.Errorf("error %g", v)
	}
	if findings[0].Kept {
		t.Error("kept")
	}
}

func TestBandIsCutAtLowRates(t *testing.T) {
	p := all(1, 5, 1)
	if _, hi, cut := p.Band(32000); !cut || hi != verify.TopOfRate*32000 {
		t.Errorf("%g %v", hi, cut)
	}
	proto := twoWay(500)
	_, findings := verify.Judge(context.Background(), subject(proto), digital.New("low", realised(t, proto), 32000, 0, digital.Traits{Gain: 1}), p)
	if !strings.Contains(findings[0].Note, "14.72 kHz") {
		t.Errorf("the finding does not say where it stopped: %+v", findings[0])
	}
}

// The greatest level is found beside one that has died away by hundreds of
// decibels: twelve low-pass sections at 20 Hz leave nothing at half the rate.
func TestPeakBesideNothing(t *testing.T) {
	w := 2 * math.Pi * 20
	low := biquad.Analog{W0: w, Keep: w, B: [3]float64{1}, A: [3]float64{1, math.Sqrt2, 1}}
	proto := biquad.System[biquad.Analog]{Common: biquad.Cascade[biquad.Analog]{Gain: 1},
		Ways: []biquad.Way[biquad.Analog]{{Name: "w", Polarity: 1, Cascade: biquad.Cascade[biquad.Analog]{Gain: 1}}}}
	for range 12 {
		proto.Ways[0].Slots = append(proto.Ways[0].Slots, biquad.Fixed(low))
	}
	figures, findings := verify.Judge(context.Background(), subject(proto), digital.New("test", realised(t, proto), rate, 0, digital.Traits{Gain: 0.5}), all(0.1, 5, 0.1))
	if p := figures[0].Peak.Value; math.Abs(p-20*math.Log10(0.5)) > 1e-3 {
		t.Errorf("peak %g dBFS, want the input gain's", p)
	}
	for _, f := range findings {
		if f.Promise == "headroom" && !f.Kept {
			t.Errorf("%+v", f)
		}
	}
}
