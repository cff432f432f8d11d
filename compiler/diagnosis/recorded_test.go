package diagnosis

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"gonum.org/v1/gonum/dsp/fourier"

	"bandwright/biquad"
	"bandwright/compiler/sweep"
)

// tape is a simulated recording desk: the sweep, its spectrum, and a loop that is recorded once.
type tape struct {
	u      *unit
	loop   []float64
	played []complex128
	fft    *fourier.FFT
	hz     []float64 // where boards are solved
}

const tapeRate = 48000

func newTape(u *unit) *tape {
	s := sweep.New(tapeRate, 1, -20).Samples()
	n := 1 << 18
	padded := make([]float64, n)
	copy(padded, s)
	x := &tape{u: u, loop: rounded(s), fft: fourier.NewFFT(n), hz: biquad.Octaves(4, 0.5*tapeRate, 16)}
	x.played = x.fft.Coefficients(nil, padded)
	return x
}

// rounded is a recording in words of 24 bits.
func rounded(x []float64) []float64 {
	out := make([]float64, len(x))
	for i, v := range x {
		out[i] = math.RoundToEven(v*(1<<23)) / (1 << 23)
	}
	return out
}

// record plays the sweep through a board and makes readings of the recording: noise of -105 dBFS, a level and
// a moment of its own, drift from way to way, words of 24 bits.
func (x *tape) record(t testing.TB, factors []float64, r *rand.Rand) []Reading {
	for i, p := range x.u.bench.Parts {
		if err := x.u.solver.Set(x.u.bench.index[i], p.Value*factors[i]); err != nil {
			t.Fatal(err)
		}
	}
	h := make([][]complex128, len(x.u.outs))
	for _, f := range x.hz {
		if err := x.u.solver.At(f); err != nil {
			t.Fatal(err)
		}
		for w, o := range x.u.outs {
			h[w] = append(h[w], x.u.solver.Voltage(o))
		}
	}
	level, late := 4*(2*r.Float64()-1)-4, r.IntN(9000)
	n := len(x.played)*2 - 2
	var out []Reading
	for w := range h {
		g := complex(biquad.FromDB(level+0.01*r.NormFloat64()), 0)
		got := make([]complex128, len(x.played))
		for i := 1; i < len(got); i++ {
			got[i] = x.played[i] * x.between(h[w], float64(i)*tapeRate/float64(n)) * g
		}
		y := x.fft.Sequence(nil, got)
		recorded := make([]float64, late+len(x.loop))
		for i := range recorded {
			recorded[i] = 5.6e-6 * r.NormFloat64()
			if k := i - late; k >= 0 {
				recorded[i] += y[k] / float64(n)
			}
		}
		take, err := sweep.Deconvolve(x.loop, rounded(recorded), tapeRate)
		if err != nil {
			t.Fatal(err)
		}
		if x := take.Inspect(20, 20000, nil); len(x) > 0 && x[len(x)-1].Silent {
			out = append(out, Silence(w))
			continue
		}
		out = append(out, Reading{Way: w, LowHz: 20, HighHz: 20000, AboutS: take.DelayS, Noise: func(f float64) float64 { return take.Noise([]float64{f})[0] }, At: func(f float64) complex128 { return take.Response([]float64{f})[0] }})
	}
	return out
}

// between is a response between where it was solved: a cubic over the logarithm of frequency.
func (x *tape) between(h []complex128, hz float64) complex128 {
	u := math.Log2(math.Max(hz, x.hz[0])/x.hz[0]) * 16
	i := min(max(int(u), 1), len(h)-4)
	v := u - float64(i)
	w := [4]float64{-v * (v - 1) * (v - 2) / 6, (v + 1) * (v - 1) * (v - 2) / 2, -(v + 1) * v * (v - 2) / 2, (v + 1) * v * (v - 1) / 6}
	sum := complex128(0)
	for k, a := range w {
		sum += h[i-1+k] * complex(a, 0)
	}
	return sum
}

// recordings proves the diagnosis by recordings: so many boards with a fault, and as many good ones.
func recordings(t *testing.T, name string, n int) confusion {
	u := benched(t, name)
	x := newTape(u)
	r := rand.New(rand.NewPCG(21, 5))
	began := time.Now()
	defer func() { t.Logf("%s: %v", name, time.Since(began)) }()
	c := u.proves(t, n, r, func(factors []float64) []Reading { return x.record(t, factors, r) })
	found := 0
	for range n {
		d, err := u.bench.Diagnose(x.record(t, u.factors(r), r))
		if err != nil {
			t.Fatal(err)
		}
		if d.Found() {
			found++
			t.Logf("%s, good: %v", name, u.bench.Sentences(d))
		}
	}
	t.Logf("%s: %d of %d good boards diagnosed", name, found, n)
	if float64(found) > 0.01*float64(n) {
		t.Errorf("%s: %d of %d good boards are diagnosed", name, found, n)
	}
	return c
}

// A few boards are diagnosed by recordings of the sweep: the faulty part of each is among the first
// three. So few tell no share; that is held for three hundred by make soak.
func TestRecordings(t *testing.T) {
	if c := recordings(t, "dabchick", 8); c.three < c.cases || c.first < c.cases/2 {
		t.Errorf("%d of %d first, %d among three: %v", c.first, c.cases, c.three, c.misses)
	}
}

// One board of many ways, recorded as said and in another position of a setting: polarity, exchanged ways and the setting are
// found.
func TestRecordedStructures(t *testing.T) {
	u := benched(t, "bittern")
	x := newTape(u)
	r := rand.New(rand.NewPCG(21, 8))
	found := func(readings []Reading, want string) {
		t.Helper()
		d, err := u.bench.Diagnose(readings)
		if err != nil {
			t.Fatal(err)
		}
		if got := u.bench.Sentences(d)[0]; !d.Found() || !strings.HasPrefix(got, want) {
			t.Errorf("%q, want %q", got, want)
		}
	}
	good := x.record(t, u.factors(r), r)
	ways, last := u.bench.subject.Ways, len(good)-1
	inverted := slices.Clone(good)
	inverted[last].At = func(hz float64) complex128 { return -good[last].At(hz) }
	found(inverted, ways[last]+" has the wrong polarity, likelihood")
	swapped := slices.Clone(good)
	swapped[0].Way, swapped[last].Way = last, 0
	found(swapped, ways[0]+" and "+ways[last]+" are exchanged, likelihood")
	a := u.bench.alternatives[0]
	other := &unit{Build: u.Build, bench: u.bench}
	other.solver, other.outs = u.Board.Solver(a.C)
	x.u = other
	found(x.record(t, other.factors(r), r), u.bench.Sentence(&Hypothesis{C: a.C})+", likelihood")
}
