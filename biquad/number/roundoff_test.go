package number

import (
	"math"
	"strings"
	"testing"

	"bandwright/biquad"
)

const (
	// modelDB is how far the round-off model may be from one measurement: it
	// takes roundings as independent and mantissas as spread evenly, and at low
	// corners a sine's roundings repeat from sample to sample.
	modelDB = 5
	// passedModelDB is the same for forms that were not chosen: direct-form
	// words at low corners, whose errors repeat the most.
	passedModelDB = 7
	// modelMeanDB is the same for the mean of the absolute deviations.
	modelMeanDB = 2
	// sectionGoalDB is what a float32 section from 20 Hz up at rates to 192 kHz
	// may be off by in its chosen form: below the noise of 19-bit converters.
	// Resonances collect more noise, as the square root of their Q and more.
	sectionGoalDB   = -115
	resonanceGoalDB = -110
	// belowBand is how much more noise a sine below 20 Hz may make than the
	// worst audible one: a low-pass at 20 Hz has fallen by 3 dB there.
	belowBand = 4
)

// The model against a simulation of the arithmetic, in every form, the
// rejected ones too.
func TestRoundOffModelAgreesWithSimulation(t *testing.T) {
	f := format("float32")
	var sum float64
	var count int
	for _, n := range samples() {
		slot := f.Quantise(biquad.Fixed(n.d), n.rateHz)
		chosen := slot.Error
		goal := float64(sectionGoalDB)
		if strings.HasPrefix(n.name, "resonance") {
			goal = resonanceGoalDB
		}
		if chosen.TotalDB > goal {
			t.Errorf("%s: %s form is %.1f dB off, want %g", n.name, chosen.Form, chosen.TotalDB, goal)
		}
		for _, e := range append([]biquad.SectionError{chosen}, chosen.Passed...) {
			q := f.rounded(n.d, e.Form)
			if e.Form == chosen.Form && q != slot.Alt[0] {
				t.Fatalf("%s: not the section that Quantise made", n.name)
			}
			atHz, model, peak := worstSine(f, n.d, q, n.rateHz)
			got := biquad.GainDB(simulatedNoise(f, q, atHz, n.rateHz) / peak)
			limit := float64(modelDB)
			if e.Form != chosen.Form {
				limit = passedModelDB
			}
			if math.Abs(got-model) > limit {
				t.Errorf("%s, %s: model %.1f dB, simulation at %.1f Hz %.1f dB", n.name, e.Form, model, atHz, got)
			}
			sum += math.Abs(got - model)
			count++
			// What Quantise reports is the same model with the worst sine free.
			if e.RoundOffDB < model-1e-9 || e.RoundOffDB > model+belowBand {
				t.Errorf("%s, %s: reported %.2f dB, worst audible sine gives %.2f dB", n.name, e.Form, e.RoundOffDB, model)
			}
		}
	}
	if mean := sum / float64(count); mean > modelMeanDB {
		t.Errorf("the model is off by %.1f dB on average", mean)
	} else {
		t.Logf("%d sections and forms, mean deviation %.2f dB", count, mean)
	}
}

// worstSine is the frequency from 20 Hz to 0.49 of the rate whose sine makes
// the model's noise greatest, and that noise.
func worstSine(f Format, ideal, q biquad.Digital, rateHz float64) (hz, db, peak float64) {
	y, p, k := noiseNorms(q)
	var worst float64
	for _, at := range errorGrid(rateHz, ideal) {
		pt := biquad.PointAt(at, rateHz)
		peak = math.Max(peak, math.Sqrt(biquad.Power(ideal.At(pt))))
		s := f.rounding.sources(q, pt, q.At(pt))
		if v := s.y*y + s.p*p + s.q*k; v > worst && at >= 20 && at <= 0.49*rateHz {
			worst, hz = v, at
		}
	}
	return hz, biquad.GainDB(f.UnitRoundOff * math.Sqrt(f.rounding.power*worst) / peak), peak
}

// simulatedNoise is the RMS of what the format adds to a full-scale sine, over
// the sine's RMS: the same words and the same input in float64 are the truth.
func simulatedNoise(f Format, d biquad.Digital, hz, rateHz float64) float64 {
	const settle, count = 1 << 17, 1 << 15
	got, want := inBoth(f, one(d), hz, rateHz, settle+count, nil)
	var sum float64
	for i := settle; i < settle+count; i++ {
		sum += biquad.Power(complex(got[0][i]-want[0][i], 0))
	}
	return math.Sqrt(sum / count * 2)
}

// inBoth runs a sine through the format's kernel and float64's.
func inBoth(f Format, s biquad.System[biquad.Digital], hz, rateHz float64, n int, c biquad.Combination) (got, want [][]float64) {
	in := make([]float64, n)
	for i := range in {
		in[i] = f.Round(math.Sin(2 * math.Pi * math.Mod(hz/rateHz*float64(i), 1)))
	}
	choices := make([]int, len(c))
	for i := range choices {
		choices[i] = 256
	}
	x, y := f.NewMachine(s, 1, rateHz, fadeS, choices), format("float64").NewMachine(s, 1, rateHz, fadeS, choices)
	x.Set(c)
	y.Set(c)
	return x.Run(in), y.Run(in)
}

// What the model counts is what the kernel's program rounds: each operation of it
// worked on phasors, but for products by zero or a power of two and for sums
// with zero.
func TestRelativeSourcesAreTheKernels(t *testing.T) {
	const tolerance = 1e-9
	for _, n := range samples() {
		for _, form := range []biquad.Form{biquad.Direct, biquad.Delta, biquad.Mirrored} {
			d := n.d.To(form)
			for _, hz := range []float64{20, 300, 5000, 0.4 * n.rateHz} {
				pt := biquad.PointAt(hz, n.rateHz)
				r, h := rowOf(d), d.At(pt)
				at := map[string]complex128{
					"b0": complex(r.B0, 0), "b1": complex(r.B1, 0), "b2": complex(r.B2, 0),
					"a1": complex(r.A1, 0), "a2": complex(r.A2, 0), "x": 1,
				}
				if d.Order() > 0 {
					at["p"] = h - complex(r.B0, 0)
				}
				if d.Order() == 2 {
					at["q"] = (at["b2"] - at["a2"]*h) / fromOrigin(d.Form, pt)
				}
				got := map[string]float64{}
				for _, s := range floating.Section(r.Form) {
					at[s.To] = phasor(s.Tree(), at, func(power float64) { got[s.To] += power })
				}
				want := relativeSources(d, pt, d.At(pt))
				for node, w := range map[string]float64{"y": want.y, "p": want.p, "q": want.q} {
					if math.Abs(got[node]-w) > tolerance*w {
						t.Errorf("%s, %s, %g Hz: %g at %s, counted %g", n.name, form, hz, got[node], node, w)
					}
				}
			}
		}
	}
}

// phasor is the value of a tree; round gets the square of each that is rounded.
func phasor(n Node, at map[string]complex128, round func(power float64)) complex128 {
	if n.Op == "" {
		return at[n.Leaf]
	}
	a, b := phasor(n.Args[0], at, round), phasor(n.Args[1], at, round)
	exact := a == 0 || b == 0
	v := a - b
	switch n.Op {
	case "*":
		mantissa, _ := math.Frexp(math.Abs(real(a))) // the word comes first
		v, exact = a*b, exact || mantissa == 0.5
	case "+":
		v = a + b
	}
	if !exact {
		round(biquad.Power(v))
	}
	return v
}

// The closed-form norms against sums of squared impulse responses.
func TestNoiseNorms(t *testing.T) {
	// The sums are cut where the slowest section has decayed by 200 dB.
	const tolerance = 1e-9
	for _, form := range []biquad.Form{biquad.Direct, biquad.Delta, biquad.Mirrored} {
		for _, n := range samples() {
			if n.d.Poles() != nil && n.d.PoleMargin() < 1e-3 {
				continue
			}
			d := n.d.To(form)
			y, p, q := noiseNorms(d)
			for i, want := range []float64{y, p, q} {
				if i > d.Order() {
					continue
				}
				got := nodeEnergy(d, i)
				if math.Abs(got/want-1) > tolerance {
					t.Errorf("%s, %s, node %d: norm %.12g, sum %.12g", n.name, form, i, want, got)
				}
			}
		}
	}
}

// nodeEnergy adds a one to a node once and sums the squares of the output.
func nodeEnergy(d biquad.Digital, node int) float64 {
	r := rowOf(d)
	var p, q, sum float64
	for i := range 40000 {
		y := p
		var e [3]float64
		if i == 0 {
			e[node] = 1
		}
		y += e[0]
		sum += y * y
		p, q = float64(r.Form)*p+q-r.A1*y+e[1], float64(r.Form)*q-r.A2*y+e[2]
	}
	return sum
}
