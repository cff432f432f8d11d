package measured

import (
	"fmt"
	"math"
	"math/cmplx"
	"math/rand/v2"
	"os"
	"strings"
	"testing"

	"bandwright/compiler/wave"
)

// transfer is a textbook function of s = jf, poles and zeros in Hz.
type transfer func(f float64) complex128

// pair is a second-order low-pass's denominator 1 + s/(Q w0) + s²/w0².
func pair(f, at, q float64) complex128 {
	x := f / at
	return complex(1-x*x, x/q)
}

func highPass(at, q float64) transfer {
	return func(f float64) complex128 { return -complex(f*f/at/at, 0) / pair(f, at, q) }
}

func lowPass(at, q float64) transfer { return func(f float64) complex128 { return 1 / pair(f, at, q) } }

func firstHigh(at float64) transfer {
	return func(f float64) complex128 { return complex(0, f/at) / complex(1, f/at) }
}

// peak is the textbook's (1 + s A/Q + s²)/(1 + s/(A Q) + s²), A² its gain.
func peak(at, q, a float64) transfer {
	return func(f float64) complex128 { return pair(f, at, q/a) / pair(f, at, q*a) }
}

func product(t ...transfer) transfer {
	return func(f float64) complex128 {
		h := complex(1, 0)
		for _, x := range t {
			h *= x(f)
		}
		return h
	}
}

// written is a table of a response, so many points an octave; without degrees where
// phase is nil.
func written(from, to float64, perOctave int, h transfer, phase func(f float64) float64) string {
	var b strings.Builder
	n := int(math.Log2(to/from)*float64(perOctave) + 0.5)
	for i := range n + 1 {
		f := from * math.Pow(to/from, float64(i)/float64(n))
		fmt.Fprintf(&b, "%.6f %.8f", f, 20*math.Log10(cmplx.Abs(h(f))))
		if phase != nil {
			fmt.Fprintf(&b, " %.8f", phase(f))
		}
		b.WriteByte('\n')
	}
	return b.String()
}

func read(t *testing.T, text string) *Response {
	t.Helper()
	r, faults := Read("x.txt", []byte(text))
	if r == nil {
		t.Fatal(faults)
	}
	return r
}

func degrees(a, b complex128) float64 { return math.Abs(cmplx.Phase(a/b)) * 180 / math.Pi }

// The phase of minimum-phase systems from their level alone: within half a degree of the
// textbook's function everywhere in the span.
func TestMinimumPhase(t *testing.T) {
	for name, h := range map[string]transfer{
		"flat":                        func(float64) complex128 { return 0.3 },
		"second-order high-pass":      highPass(80, 0.7071),
		"closed box with a high Q":    highPass(60, 1.2),
		"closed box with a low Q":     highPass(60, 0.4),
		"fourth-order high-pass":      product(highPass(80, 0.7071), highPass(80, 0.7071)),
		"vented box":                  product(highPass(45, 0.6), highPass(38, 1.3)),
		"third-order band-pass":       product(highPass(100, 1), firstHigh(90), lowPass(5000, 0.8)),
		"sixth-order band-pass":       product(highPass(300, 0.7), highPass(250, 0.7), lowPass(4000, 0.7), lowPass(3000, 1)),
		"peak and dip":                product(highPass(70, 0.7), peak(500, 3, 1.5), peak(2500, 4, 0.6), lowPass(9000, 0.7)),
		"corner at the lowest point":  highPass(20, 0.7071),
		"corner at the highest point": lowPass(20000, 0.6),
		"steep, corners at both ends": product(highPass(25, 0.7071), highPass(25, 0.7071), lowPass(16000, 0.5), lowPass(18000, 0.9)),
		"eighth-order":                product(highPass(900, 0.51), highPass(900, 0.6), highPass(900, 0.9), highPass(900, 2.56), lowPass(15000, 0.7)),
		"coil and a resonance":        product(highPass(50, 0.5), lowPass(3000, 0.4), peak(7000, 4, 2)),
		"resonance of Q 10 at 7 kHz":  product(highPass(50, 0.5), lowPass(3000, 0.4), peak(7000, 5, 2)),
		"resonance of Q 10 at 9 kHz":  product(highPass(50, 0.5), lowPass(3000, 0.4), peak(9000, 5, 2)),
		"resonance of Q 10 at 14 kHz": product(highPass(50, 0.5), lowPass(3000, 0.4), peak(14000, 5, 2)),
		"low-pass of Q 10":            lowPass(9000, 10),
		"resonance near the low end":  product(highPass(70, 0.7), peak(40, 5, 2)),
	} {
		for _, perOctave := range []int{24, 48} {
			r := read(t, written(20, 20000, perOctave, h, nil))
			worst, at := 0.0, 0.0
			for i := range 1000 {
				f := 20 * math.Pow(1000, float64(i)/999)
				if d := degrees(r.At(f), h(f)); d > worst {
					worst, at = d, f
				}
			}
			t.Logf("%s, %d an octave: %.3f degrees at %.0f Hz; tails %d %d", name, perOctave, worst, at, r.minimum.low.order, r.minimum.high.order)
			if worst > 0.5 {
				t.Errorf("%s, %d an octave: %.2f degrees off at %.1f Hz", name, perOctave, worst, at)
			}
			if r.HasPhase() || len(r.Notes()) != 1 {
				t.Error(r.Notes())
			}
		}
	}
}

// Noise in the level turns the phase by about as much, and not further.
func TestMinimumPhaseOfNoise(t *testing.T) {
	for seed := range uint64(30) {
		chance := rand.New(rand.NewPCG(seed, 1))
		h := product(highPass(60, 0.8), lowPass(12000, 0.7))
		noisy := func(f float64) complex128 { return h(f) * complex(math.Pow(10, 0.1*chance.NormFloat64()/20), 0) }
		r := read(t, written(20, 20000, 48, noisy, nil))
		worst := 0.0
		for f := 30.0; f < 15000; f *= 1.02 {
			worst = max(worst, degrees(r.At(f), h(f)))
		}
		if worst > 6 {
			t.Errorf("seed %d: %.1f degrees from 0.1 dB of noise", seed, worst)
		}
		for f := 1.0; f < 1e5; f *= 1.1 {
			if h := r.At(f); !finite(h) || cmplx.Abs(h) > 1.2 {
				t.Fatalf("seed %d: %v at %v Hz", seed, h, f)
			}
		}
	}
}

// Beyond the points a response goes on as filters do.
func TestTails(t *testing.T) {
	h := product(highPass(50, 0.8), lowPass(8000, 0.6), lowPass(11000, 1))
	r := read(t, written(20, 20000, 24, h, func(f float64) float64 { return cmplx.Phase(h(f)) * 180 / math.Pi }))
	for _, f := range []float64{2, 5, 10, 19, 21000, 40000, 80000} {
		if db := 20 * math.Log10(cmplx.Abs(r.At(f)/h(f))); math.Abs(db) > 0.1 {
			t.Errorf("%v Hz: %.3f dB off", f, db)
		}
		if d := degrees(r.At(f), h(f)); d > 1 {
			t.Errorf("%v Hz: %.2f degrees off", f, d)
		}
	}
}

// However a table is written, it says the same: phases wrapped one way, the other, or
// running on; commas, tabs or spaces; comments and blank lines.
func TestWays(t *testing.T) {
	const delay = 0.4e-3
	h := func(f float64) complex128 { return highPass(100, 0.7)(f) * cmplx.Exp(complex(0, -2*math.Pi*f*delay)) }
	on := func(f float64) float64 { // as it runs on
		return cmplx.Phase(highPass(100, 0.7)(f))*180/math.Pi - 360*f*delay
	}
	tables := map[string]string{
		"running on":   written(20, 20000, 48, h, on),
		"within ±180":  written(20, 20000, 48, h, func(f float64) float64 { return math.Remainder(on(f), 360) }),
		"0 to 360":     written(20, 20000, 48, h, func(f float64) float64 { return math.Mod(math.Mod(on(f), 360)+360, 360) }),
		"with a start": "0 -300 0\n" + written(20, 20000, 48, h, on),
	}
	tables["commas"] = strings.ReplaceAll(tables["running on"], " ", ",")
	tables["commas and spaces"] = strings.ReplaceAll(tables["running on"], " ", ", ")
	tables["tabs"] = "\ufeff# Hz\tdB\tdegrees\r\n\r\n" + strings.ReplaceAll(strings.ReplaceAll(tables["running on"], " ", "\t"), "\n", " # on axis\r\n")
	for name, text := range tables {
		r := read(t, text)
		for f := 20.0; f < 20000; f *= 1.013 {
			if d := cmplx.Abs(r.At(f) - h(f)); d > 3e-3 {
				t.Errorf("%s: off by %v at %.0f Hz", name, d, f)
				break
			}
		}
		if from, to := r.Span(); math.Abs(from-20) > 1e-9 || math.Abs(to-20000) > 1e-9 || !r.HasPhase() {
			t.Error(name, from, to)
		}
	}
}

// Between points level and phase are straight over the logarithm of frequency.
func TestInterpolation(t *testing.T) {
	var b strings.Builder
	for i := range 12 {
		fmt.Fprintf(&b, "%d %d %d\n", 50<<i, 3*(i%2), -50*(i%2))
	}
	r := read(t, b.String())
	f := math.Sqrt(100 * 50) // between 0 dB, 0 degrees and 3 dB, -50 degrees
	want := cmplx.Rect(math.Pow(10, 1.5/20), -25*math.Pi/180)
	if got := r.At(f); cmplx.Abs(got-want) > 1e-12 {
		t.Errorf("%v instead of %v", got, want)
	}
}

// waved is a file of samples, 64-bit floating point unless bits are given.
func waved(t testing.TB, rate int, channels int, words wave.Words, x []float64) []byte {
	t.Helper()
	file, err := os.CreateTemp(t.TempDir(), "")
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	w, err := wave.NewWriter(file, wave.Shape{RateHz: rate, Channels: channels, Words: words}, "")
	if err != nil {
		t.Fatal(err)
	}
	c := make([][]float64, channels)
	for i := range c {
		c[i] = x
	}
	if err := w.Write(c); err != nil {
		t.Fatal(err)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	data, err := os.ReadFile(file.Name())
	if err != nil {
		t.Fatal(err)
	}
	return data
}

// decay is the impulse response of the analog low-pass 1/(1 + s/w), sampled: its z-transform
// is known in closed form.
func decay(n, delay int, a float64) []float64 {
	x := make([]float64, n)
	for i := delay; i < n; i++ {
		x[i] = 0.9 * math.Pow(a, float64(i-delay))
	}
	return x
}

// An impulse response is its z-transform.
func TestImpulse(t *testing.T) {
	const rate, delay, a = 48000, 137, 0.93
	want := func(f float64) complex128 {
		z := cmplx.Exp(complex(0, -2*math.Pi*f/rate))
		return 0.9 * cmplx.Pow(z, delay) / (1 - a*z)
	}
	for _, w := range []wave.Words{{Bits: 64, Float: true}, {Bits: 24}} {
		r, faults := Read("x.wav", waved(t, rate, 1, w, decay(4000, delay, a)))
		if r == nil {
			t.Fatal(faults)
		}
		from, to := r.Span()
		if from > 20 || to < 22000 || to > 24000 {
			t.Error(from, to)
		}
		for f := from; f < to; f *= 1.007 {
			if d := cmplx.Abs(r.At(f)-want(f)) / cmplx.Abs(want(f)); d > 5e-4 {
				t.Errorf("%v: off by %v at %.0f Hz", w, d, f)
				break
			}
		}
	}
}

// What a loudspeaker gives does not hang on how it was measured: drive, distance, and the time
// that sound takes for it count.
func TestSource(t *testing.T) {
	h := product(highPass(90, 0.8), lowPass(9000, 0.7))
	const offset = 0.03 // m that the driver sits behind the baffle
	spl := func(drive, distance, extra float64) transfer {
		return func(f float64) complex128 {
			travel := (distance+offset)/SoundMS + extra
			return h(f) * complex(drive/distance*0.5/ReferencePa, 0) * cmplx.Exp(complex(0, -2*math.Pi*f*travel))
		}
	}
	want := func(f, behind float64) complex128 {
		return 0.5 * h(f) * cmplx.Exp(complex(0, -2*math.Pi*f*behind/SoundMS))
	}
	for _, c := range []struct {
		Conditions
		extra, behind float64
	}{
		{Conditions{2.83, 1, true}, 0, offset},
		{Conditions{1, 0.5, true}, 0, offset},
		{Conditions{2.83, 2, false}, 0.7e-3, 0},
		{Conditions{2.83, 0.31, false}, -1.1e-3, 0},
	} {
		sound := spl(c.DriveV, c.DistanceM, c.extra)
		r := read(t, written(20, 20000, 480, sound, func(f float64) float64 {
			return cmplx.Phase(h(f))*180/math.Pi - 360*f*((c.DistanceM+offset)/SoundMS+c.extra)
		}))
		s := r.Under(c.Conditions)
		for f := 25.0; f < 16000; f *= 1.1 {
			if d := cmplx.Abs(s.At(f)/want(f, c.behind) - 1); d > 0.01 {
				t.Errorf("%+v: off by %v at %.0f Hz", c, d, f)
			}
		}
		if len(s.Notes()) != map[bool]int{true: 0, false: 1}[c.Absolute] {
			t.Error(s.Notes())
		}
	}
}

// A turned polarity stays turned.
func TestPolarity(t *testing.T) {
	h := product(highPass(90, 0.8), lowPass(9000, 0.7))
	r := read(t, written(20, 20000, 48, h, func(f float64) float64 { return cmplx.Phase(h(f))*180/math.Pi - 180 - 360*f*0.2e-3 }))
	s := r.Under(Conditions{DriveV: 1, DistanceM: 1})
	if d := degrees(s.At(1000), -h(1000)); d > 0.5 {
		t.Errorf("%v degrees", d)
	}
}
