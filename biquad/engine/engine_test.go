package engine

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"math/big"
	"math/rand/v2"
	"os/exec"
	"strings"
	"testing"

	"bandwright/biquad"
)

const rateHz = 48000

// lowPass, highPass and peak are sections of the W3C Audio EQ Cookbook (W3C Working Group
// Note, 8 June 2021).
func lowPass(hz, q float64) biquad.Digital {
	w := 2 * math.Pi * hz / rateHz
	a := math.Sin(w) / (2 * q)
	c := 1 - math.Cos(w)
	return over(1+a, c/2, c, c/2, -2*math.Cos(w), 1-a)
}

func highPass(hz, q float64) biquad.Digital {
	w := 2 * math.Pi * hz / rateHz
	a := math.Sin(w) / (2 * q)
	c := 1 + math.Cos(w)
	return over(1+a, c/2, -c, c/2, -2*math.Cos(w), 1-a)
}

func peak(hz, q, gainDB float64) biquad.Digital {
	w := 2 * math.Pi * hz / rateHz
	a, g := math.Sin(w)/(2*q), math.Sqrt(biquad.FromDB(gainDB))
	return over(1+a/g, 1+a*g, -2*math.Cos(w), 1-a*g, -2*math.Cos(w), 1-a/g)
}

func over(a0, b0, b1, b2, a1, a2 float64) biquad.Digital {
	return biquad.Digital{B: [3]float64{b0 / a0, b1 / a0, b2 / a0}, A: [3]float64{1, a1 / a0, a2 / a0}}
}

// path is a chain with a boost in front that a cut undoes, and a switched peak.
func path() biquad.Cascade[biquad.Digital] {
	return biquad.Cascade[biquad.Digital]{Gain: -0.7, DelayS: 10.0 / rateHz, Slots: []biquad.Slot[biquad.Digital]{
		biquad.Fixed(highPass(40, 0.7), "high-pass"),
		biquad.Fixed(peak(300, 2, 12), "boost"),
		{From: []string{"a", "b"}, Alt: []biquad.Digital{biquad.Through(biquad.Direct), peak(90, 1, 4)}, By: []biquad.Axis{{Setting: 0, Choices: 2}}, Pick: []uint8{0, 1}},
		biquad.Fixed(peak(300, 2, -12), "cut"),
		biquad.Fixed(lowPass(2000, 0.7), "low-pass"),
	}}
}

func engines() []Engine {
	return []Engine{
		{Word: 28, Fraction: 23, Data: 24, Accumulator: 56, Form: direct1},
		{Word: 24, Fraction: 22, Data: 24, Accumulator: 50, Form: transposed2, Nearest: true},
		{Word: 32, Fraction: 29, Data: 32, Accumulator: 72, Form: direct1, Nearest: true, Sequence: SequenceByName("quietest")},
		{Word: 32, Fraction: 28, Data: 48, Accumulator: 80, Form: transposed2, Sequence: SequenceByName("truest")},
	}
}

// made is a chain that has to be possible.
func made(t *testing.T, e Engine) *Chain {
	t.Helper()
	c, refusal := New(e, path(), 1, rateHz, 1)
	if refusal != nil {
		t.Fatal(refusal.Reason)
	}
	return c
}

// The integers of Python, which have no width, compute the same samples from the
// equations, written out there again; for noise beyond full scale too.
func TestPythonComputesTheSame(t *testing.T) {
	type job struct {
		Word, Fraction, Data, Accumulator int
		Form                              string
		Nearest                           bool
		Words                             []Words
		In, Out                           []int64
	}
	var jobs []job
	rng := rand.New(rand.NewPCG(1, 2))
	for _, e := range engines() {
		c := made(t, e)
		for choice := range 2 {
			j := job{e.Word, e.Fraction, e.Data, e.Accumulator, e.Form.Name, e.Nearest, nil, nil, nil}
			for i := range c.Positions {
				p := &c.Positions[i]
				j.Words = append(j.Words, p.Alt[p.Index(biquad.Combination{uint8(choice)})])
			}
			for i := range 1500 {
				x := 2*rng.Float64() - 1
				switch {
				case i > 1200:
					x = 0
				case i > 600: // as loud as can be, for long
					x = math.Copysign(1, x+0.8*math.Sin(2*math.Pi*300*float64(i)/rateHz))
				}
				j.In = append(j.In, e.Sample(x))
			}
			j.Out = append(j.Out, j.In...)
			c.NewMachine(biquad.Combination{uint8(choice)}).Run(j.Out)
			jobs = append(jobs, j)
		}
	}
	in, err := json.Marshal(jobs)
	if err != nil {
		t.Fatal(err)
	}
	run := exec.Command("python3", "-c", `
import json, sys
def wrap(v, n): return (v + (1 << n - 1)) % (1 << n) - (1 << n - 1)
for j in json.load(sys.stdin):
    A, F, D = j["Accumulator"], j["Fraction"], j["Data"]
    def down(s):
        if j["Nearest"]: s = wrap(s + (1 << F - 1), A)
        return max(-(1 << D - 1), min((1 << D - 1) - 1, s >> F))
    x = list(j["In"])
    for b0, b1, b2, a1, a2 in j["Words"]:
        x1 = x2 = y1 = y2 = s1 = s2 = 0
        for n, v in enumerate(x):
            if j["Form"] == "direct-1":
                y = down(wrap(b0*v + b1*x1 + b2*x2 - a1*y1 - a2*y2, A))
                x2, x1, y2, y1 = x1, v, y1, y
            else:
                y = down(wrap(b0*v + s1, A))
                s1, s2 = wrap(s2 + b1*v - a1*y, A), wrap(b2*v - a2*y, A)
            x[n] = y
    bad = [n for n, (p, q) in enumerate(zip(x, j["Out"])) if p != q]
    print(j["Form"], j["Word"], "differs at %d: %d, %d" % (bad[0], x[bad[0]], j["Out"][bad[0]]) if bad else "same", min(x), max(x))
`)
	run.Stdin = bytes.NewReader(in)
	out, err := run.CombinedOutput()
	if err != nil {
		t.Fatalf("python3 (Debian package python3): %v\n%s", err, out)
	}
	if n := strings.Count(string(out), "same"); n != len(jobs) {
		t.Errorf("%d of %d the same:\n%s", n, len(jobs), out)
	}
}

// The integers of 128 bits are those of math/big.
func TestWide(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	whole := func(w wide) *big.Int {
		v := new(big.Int).Lsh(big.NewInt(w.high), 64)
		return v.Add(v, new(big.Int).SetUint64(w.low))
	}
	for range 20000 {
		a, b := int64(rng.Uint64())>>rng.IntN(64), int64(rng.Uint64())>>rng.IntN(64)
		c, d := int64(rng.Uint64())>>rng.IntN(64), int64(rng.Uint64())>>(1+rng.IntN(63))
		n := 1 + rng.IntN(127)
		w := times(a, b)
		want := new(big.Int).Mul(big.NewInt(a), big.NewInt(b))
		if whole(w).Cmp(want) != 0 {
			t.Fatalf("%d·%d: %v", a, b, whole(w))
		}
		w = times(a, b>>1).plus(times(c>>1, d))
		want.Mul(big.NewInt(a), big.NewInt(b>>1))
		want.Add(want, new(big.Int).Mul(big.NewInt(c>>1), big.NewInt(d)))
		if whole(w).Cmp(want) != 0 {
			t.Fatalf("a sum: %v, want %v", whole(w), want)
		}
		if got, want := whole(w.shifted(n)), new(big.Int).Rsh(want, uint(n)); got.Cmp(want) != 0 {
			t.Fatalf("%v >> %d: %v", whole(w), n, got)
		}
		half := new(big.Int).Lsh(big.NewInt(1), uint(n-1))
		mod := new(big.Int).Lsh(half, 1)
		wrap := new(big.Int).Add(want, half)
		wrap.Mod(wrap, mod).Sub(wrap, half)
		if got := whole(w.wrapped(n)); got.Cmp(wrap) != 0 {
			t.Fatalf("%v in %d bits: %v, want %v", want, n, got, wrap)
		}
		if n <= 64 {
			top := new(big.Int).Sub(half, big.NewInt(1))
			limit := new(big.Int).Set(want)
			if limit.Cmp(top) > 0 {
				limit.Set(top)
			} else if low := new(big.Int).Neg(half); limit.Cmp(low) < 0 {
				limit.Set(low)
			}
			if got := w.limited(n); limit.Cmp(big.NewInt(got)) != 0 {
				t.Fatalf("%v limited to %d bits: %d, want %v", want, n, got, limit)
			}
		}
	}
}

// The words amount to the path: with many bits behind the point the responses agree in
// every combination, gain, polarity and delay included.
func TestPathIsTheFilters(t *testing.T) {
	for _, s := range Sequences {
		pathIsTheFilters(t, Engine{Word: 40, Fraction: 37, Data: 32, Accumulator: 96, Form: direct1, Sequence: s})
	}
}

func pathIsTheFilters(t *testing.T, e Engine) {
	const inputGain = 0.5
	c, refusal := New(e, path(), inputGain, rateHz, 1)
	if refusal != nil {
		t.Fatal(refusal.Reason)
	}
	hz := biquad.Spaced(20, 20000, 200)
	want, got := make([]complex128, len(hz)), make([]complex128, len(hz))
	for choice := range 2 {
		comb := biquad.Combination{uint8(choice)}
		biquad.DigitalAt(want, path(), comb, rateHz, hz)
		biquad.DigitalAt(got, c.Path(inputGain, rateHz), comb, rateHz, hz)
		for i := range hz {
			if d := math.Hypot(real(got[i]-want[i]), imag(got[i]-want[i])); d > 1e-5*math.Hypot(real(want[i]), imag(want[i])) {
				t.Errorf("choice %d, %g Hz: %v, want %v", choice, hz[i], got[i], want[i])
			}
		}
	}
}

// No input within full scale clips inside the chain, the one that is worst for each
// position included: the reversed signs of its impulse response.
func TestNothingInsideClips(t *testing.T) {
	for _, e := range engines() {
		c := made(t, e)
		for i, db := range c.BoundDBFS[:len(c.BoundDBFS)-1] {
			if db > 1e-6 {
				t.Errorf("%s of %d bits: position %d reaches %.4f dBFS", e.Form.Name, e.Word, i, db)
			}
		}
		full := int64(1)<<(e.Data-1) - 1
		for last := range c.Positions[:len(c.Positions)-1] {
			part := *c
			part.Positions = c.Positions[:last+1]
			const n = 1 << 14
			h := make([]int64, n)
			h[0] = full / 2
			comb := biquad.Combination{1}
			part.NewMachine(comb).Run(h)
			x := make([]int64, n)
			for i := range x {
				x[i] = full
				if h[n-1-i] < 0 {
					x[i] = -full
				}
			}
			part.NewMachine(comb).Run(x)
			for i, y := range x {
				if y > full-1 || y < -full {
					t.Fatalf("%s of %d bits: position %d is at its limit at sample %d", e.Form.Name, e.Word, last, i)
				}
			}
			if top := x[n-1]; float64(top) < 0.5*float64(full)*biquad.FromDB(c.BoundDBFS[last]) {
				t.Errorf("position %d: the worst input reaches %d of %d", last, top, full)
			}
		}
	}
}

// What an engine cannot hold is refused with the section and what it takes.
func TestRefusals(t *testing.T) {
	for _, c := range []struct {
		e    Engine
		want string
	}{
		{Engine{Word: 24, Fraction: 23, Data: 24, Accumulator: 64, Form: direct1}, "a1 of high-pass is -1.993, and words of 24 bits with 23 behind the point stay below 1"},
		{Engine{Word: 16, Fraction: 10, Data: 24, Accumulator: 64, Form: direct1}, "with 10 bits behind the point high-pass would not be stable"},
		{Engine{Word: 28, Fraction: 23, Data: 24, Accumulator: 47, Form: direct1}, "an accumulator of 47 bits may wrap in high-pass"},
	} {
		got, refusal := New(c.e, path(), 1, rateHz, 1)
		if refusal == nil {
			t.Errorf("%+v: %d positions", c.e, len(got.Positions))
		} else if !strings.Contains(refusal.Reason, c.want) {
			t.Errorf("%s; want %s", refusal.Reason, c.want)
		}
	}
	// Where the accumulator is just wide enough no sum wraps, for the worst samples.
	e := Engine{Word: 28, Fraction: 23, Data: 24, Accumulator: 51, Form: direct1}
	a := made(t, e)
	b := *a
	b.Accumulator = 96
	x := make([]int64, 4000)
	rng := rand.New(rand.NewPCG(5, 6))
	for i := range x {
		x[i] = e.Sample(math.Copysign(1, rng.Float64()-0.5))
	}
	y := append([]int64{}, x...)
	a.NewMachine(biquad.Combination{0}).Run(x)
	b.NewMachine(biquad.Combination{0}).Run(y)
	if fmt.Sprint(x) != fmt.Sprint(y) {
		t.Error("an accumulator that was not refused wraps")
	}
}
