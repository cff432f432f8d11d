package number

import (
	"math"
	"math/cmplx"
	"math/rand"
	"testing"

	"bandwright/biquad"
)

// A Butterworth-type high-pass in powers of 1/(z-1) has b1 = b2 = 0; the same
// section arriving in the direct form brings rounding dust instead.
func TestQuantiseSnapsDust(t *testing.T) {
	f := format("float32")
	for _, rate := range []float64{44100, 192000, 768000} {
		d := highPass(20, 0.7071, rate)
		exact, dusty := f.rounded(d, biquad.Delta), f.rounded(d.To(biquad.Direct), biquad.Delta)
		for _, q := range []biquad.Digital{exact, dusty} {
			if q.B[1] != 0 || q.B[2] != 0 {
				t.Errorf("%g Hz: b = %g", rate, q.B)
			}
			if q.A[1] == 0 || q.A[2] == 0 {
				t.Errorf("%g Hz: a = %g", rate, q.A)
			}
		}
	}
	// A shelf a hundredth of a hertz high keeps its b2, small as dust though it is.
	if q := f.rounded(lowShelf(0.01, 0.7, 3, 768000), biquad.Delta); q.B[2] == 0 {
		t.Error("a genuine small coefficient was snapped to zero")
	}
	// A quarter of the rate: the direct form's a1 is zero.
	if q := f.rounded(lowPass(12000, 0.7071, 48000), biquad.Direct); q.A[1] != 0 {
		t.Errorf("a1 = %g at a quarter of the rate", q.A[1])
	}
}

// Every coefficient is a word, all alternatives share the form, the section is
// stable, and the reported coefficient error is what a plain evaluation on a
// dense grid shows.
func TestQuantiseRandomSlots(t *testing.T) {
	// The plain evaluation subtracts two responses near one, in float64.
	const plainDB, agreeDB = -180, 0.3
	r := rand.New(rand.NewSource(3))
	for _, f := range Formats {
		for i := range 200 {
			rate := []float64{8000, 48000, 96000, 192000, 768000}[i%5]
			slot := biquad.Slot[biquad.Digital]{}
			for range 1 + r.Intn(3) {
				slot.Alt = append(slot.Alt, randomSection(r, rate))
			}
			q := f.Quantise(slot, rate)
			e := q.Error
			plain := float64(-600)
			for k, d := range q.Alt {
				if d.Form != e.Form || d.A[0] != 1 {
					t.Fatalf("alternative %d is %+v, the position's form is %s", k, d, e.Form)
				}
				if f.inWords(d) != d {
					t.Fatalf("%s: %+v is not in words", f.Name, d)
				}
				if d.PoleMargin() <= 0 {
					t.Fatalf("%s: %+v is not stable", f.Name, d)
				}
				plain = math.Max(plain, plainChange(slot.Alt[k], d, rate))
			}
			if f.Name == "float32" && plain > plainDB && e.CoefficientDB > plain+agreeDB && len(q.Alt) == 1 {
				t.Errorf("%+v: coefficient error %.2f dB, plain evaluation %.2f dB", slot.Alt, e.CoefficientDB, plain)
			}
			if len(q.Alt) == 1 && plain > plainDB && e.CoefficientDB < plain-agreeDB {
				t.Errorf("%+v: coefficient error %.2f dB, plain evaluation %.2f dB", slot.Alt, e.CoefficientDB, plain)
			}
		}
	}
}

func plainChange(ideal, q biquad.Digital, rate float64) float64 {
	var change, peak float64
	for i := range 4000 {
		hz := math.Exp2(math.Log2(rate/2) * float64(i) / 3999)
		p := biquad.PointAt(hz, rate)
		change = math.Max(change, cmplx.Abs(q.At(p)-ideal.At(p)))
		peak = math.Max(peak, cmplx.Abs(ideal.At(p)))
	}
	return biquad.GainDB(change / peak)
}

// The form with the least worst error is chosen, and the others are reported.
func TestQuantiseChoosesTheForm(t *testing.T) {
	f := format("float32")
	low, high := lowPass(30, 0.7071, 48000), highPass(18000, 0.7071, 48000)
	for _, c := range []struct {
		alt  []biquad.Digital
		want biquad.Form
	}{
		{[]biquad.Digital{low}, biquad.Delta},
		{[]biquad.Digital{high}, biquad.Direct},
		{[]biquad.Digital{low, high}, biquad.Delta}, // the low corner suffers more
		{[]biquad.Digital{biquad.Through(biquad.Delta)}, biquad.Direct},
		{[]biquad.Digital{biquad.Through(biquad.Direct), low}, biquad.Delta},
	} {
		q := f.Quantise(biquad.Slot[biquad.Digital]{Alt: c.alt}, 48000)
		e := q.Error
		if e.Form != c.want || q.Alt[0].Form != c.want {
			t.Errorf("%v: %s, want %s", c.alt, e.Form, c.want)
		}
		for _, p := range e.Passed {
			if p.TotalDB < e.TotalDB {
				t.Errorf("%s at %.1f dB was passed over for %s at %.1f dB", p.Form, p.TotalDB, e.Form, e.TotalDB)
			}
		}
	}
	// A third form is a matter of the row alone.
	f.Forms = []biquad.Form{biquad.Delta, biquad.Direct, biquad.Mirrored}
	q := f.Quantise(biquad.Fixed(lowPass(21000, 0.7071, 44100)), 44100)
	e := q.Error
	if e.Form != biquad.Mirrored || len(e.Passed) != 2 || q.Alt[0].PoleMargin() <= 0 {
		t.Errorf("low-pass close to half the rate: %s (%+v)", e.Form, e)
	}
}

// Where rounding moves a pole out, another form is taken; where there is none,
// the poles are pulled in.
func TestQuantiseStaysStable(t *testing.T) {
	f := format("float32")
	edge := lowPass(25, 2e5, 192000)
	if direct := f.rounded(edge, biquad.Direct); direct.PoleMargin() > 0 {
		t.Fatal("the test section is stable in the direct form")
	}
	q := f.Quantise(biquad.Fixed(edge), 192000)
	e := q.Error
	if e.Form != biquad.Delta || q.Alt[0].PoleMargin() <= 0 || len(e.Passed) != 1 || !e.Passed[0].Unstable {
		t.Errorf("got %+v, %+v", q.Alt[0], e)
	}
	f.Forms = []biquad.Form{biquad.Direct}
	q = f.Quantise(biquad.Slot[biquad.Digital]{Alt: []biquad.Digital{biquad.Through(biquad.Delta), edge}}, 192000)
	e = q.Error
	if !e.Pulled || q.Alt[1].PoleMargin() <= 0 || q.Alt[0].B[0] != 1 {
		t.Errorf("got %+v, %+v", q.Alt, e)
	}
	for _, v := range []float64{e.CoefficientDB, e.RoundOffDB, e.TotalDB} {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			t.Errorf("error without a number: %+v", e)
		}
	}
}

func TestSystemGains(t *testing.T) {
	ideal := switchedSystem(48000)
	ideal.Common.Gain = 0.3
	const inputGain = 0.501187
	for _, f := range Formats {
		s := f.System(ideal, inputGain, 48000)
		for _, slot := range s.Path(1).Slots {
			if slot.Error.TotalDB >= 0 {
				t.Errorf("%s: %v has no error", f.Name, slot.From)
			}
		}
		// The word is found again from what the system holds. Half a unit of
		// float64 is lost by the division.
		word := f.Round(math.Ldexp(0.3*inputGain, -f.GuardBits))
		if got := f.InputWord(s, inputGain); math.Abs(got/word-1) > epsilon {
			t.Errorf("%s: input word %.17g, want %.17g", f.Name, got, word)
		}
		for i, w := range s.Ways {
			if w.Gain != f.Round(ideal.Ways[i].Gain) || f.WayWord(w) != w.Gain*ideal.Ways[i].Polarity {
				t.Errorf("%s: gain of %s is %g", f.Name, w.Name, w.Gain)
			}
		}
		if s.Ways[1].DelayS != ideal.Ways[1].DelayS || len(ideal.Common.Slots) != len(s.Common.Slots) {
			t.Errorf("%s: the delay changed", f.Name)
		}
	}
}

func BenchmarkSystem(b *testing.B) {
	s := switchedSystem(48000)
	f := format("float32")
	for b.Loop() {
		f.System(s, 1, 48000)
	}
}
