package number

import (
	"math"
	"math/rand"
	"testing"

	"bandwright/biquad"
)

// worstInput is full scale with the signs that make the output of a path greatest at its
// last sample: those of the impulse response turned round.
func worstInput(path []node, c biquad.Combination, n int) (in []float64, greatest float64) {
	h := make([]float64, n)
	var cascade biquad.Cascade[biquad.Digital]
	cascade.Gain = 1
	for _, p := range path {
		if p.slot == nil {
			cascade.Gain *= p.gain
			continue
		}
		cascade.Slots = append(cascade.Slots, *p.slot)
	}
	s := biquad.System[biquad.Digital]{Common: cascade, Ways: []biquad.Way[biquad.Digital]{{Polarity: 1, Cascade: biquad.Cascade[biquad.Digital]{Gain: 1}}}}
	choices := make([]int, len(c))
	for i := range choices {
		choices[i] = 256
	}
	// No fade: the impulse comes when the outputs are open.
	m := format("float64").NewMachine(s, 1, 48000, 1e-9, choices)
	m.Set(c)
	m.Run(make([]float64, Tick))
	h[0] = 1
	h = m.Run(h)[0]
	in = make([]float64, n)
	for i, v := range h {
		in[n-1-i] = math.Copysign(1, v)
		greatest += math.Abs(v)
	}
	return in, greatest
}

// The norms at every node against the greatest output of that very input, and that of
// the whole path against biquad.L1.
func TestReachesAreReached(t *testing.T) {
	const rateHz, n = 48000.0, 1 << 15
	s := format("float64").System(switchedSystem(rateHz), 1, rateHz)
	for k := range s.Ways {
		for _, c := range []biquad.Combination{{0, 0}, {2, 1}} {
			path, _ := pathOf(s, k, 1)
			each := norms(path, c)
			for i := range path {
				_, want := worstInput(path[:i+1], c, n)
				if math.Abs(each[i].Y/want-1) > 1e-5 {
					t.Errorf("way %d, node %d, %v: %g, the worst input makes %g", k, i, c, each[i].Y, want)
				}
			}
			if want := math.Abs(biquad.L1(s.Path(k), c)); math.Abs(each[len(each)-1].Y/want-1) > 1e-6 {
				t.Errorf("way %d, %v: %g, L1 %g", k, c, each[len(each)-1].Y, want)
			}
			for i, r := range Reaches(s, k, 1) {
				if r.Y < each[i].Y*(1-1e-6) {
					t.Errorf("way %d, node %d: bound %g, in %v it is %g", k, i, r.Y, c, each[i].Y)
				}
			}
		}
	}
}

// loudest is a system that rises far above full scale, in any order of its positions.
func loudest(rateHz float64) biquad.System[biquad.Digital] {
	s := switchedSystem(rateHz)
	s.Common.Slots = append(s.Common.Slots, biquad.Fixed(lowShelf(300, 0.7, 24, rateHz), "a boost"), biquad.Fixed(peak(3000, 4, 18, rateHz), "another"))
	return s
}

// Full-scale sines, squares, noise and the worst inputs never wrap, also while settings
// change: the fixed-point machine stays beside float64's, limited to full scale. With
// fewer guard bits than were found necessary the worst inputs do wrap.
func TestNothingWraps(t *testing.T) {
	const rateHz, n = 48000.0, 1 << 13
	f, systems := format("q31").Systems([]biquad.System[biquad.Digital]{loudest(rateHz)}, 1, []float64{rateHz})
	s := systems[0]
	if f.GuardBits < 4 {
		t.Fatalf("%d guard bits: the system is not loud", f.GuardBits)
	}
	inputs := [][]float64{}
	wave := func(of func(i int) float64) {
		x := make([]float64, n)
		for i := range x {
			x[i] = of(i)
		}
		inputs = append(inputs, x)
	}
	for _, hz := range []float64{25, 150, 3000, 17000} {
		wave(func(i int) float64 { return math.Sin(2 * math.Pi * hz / rateHz * float64(i)) })
		wave(func(i int) float64 { return math.Copysign(1, math.Sin(2*math.Pi*hz/rateHz*float64(i))) })
	}
	r := rand.New(rand.NewSource(4))
	wave(func(int) float64 { return 2*r.Float64() - 1 })
	wave(func(int) float64 { return -1 })
	for k := range s.Ways {
		path, _ := pathOf(s, k, 1)
		for i := 2; i < len(path); i += 2 {
			in, _ := worstInput(path[:i+1], biquad.Combination{2, 1}, n)
			inputs = append(inputs, in)
		}
	}
	off := func(f Format, s biquad.System[biquad.Digital]) (worst float64) {
		x, y := f.NewMachine(s, 1, rateHz, fadeS, []int{3, 2}), format("float64").NewMachine(s, 1, rateHz, fadeS, []int{3, 2})
		for i, in := range inputs {
			c := biquad.Combination{uint8(2 - i%3), uint8(1 - i/3%2)}
			if i >= 10 {
				c = biquad.Combination{2, 1} // what the worst inputs are made for
			}
			x.Set(c)
			y.Set(c)
			if i >= 10 { // from silence, open
				x.Reset()
				y.Reset()
				open := make([]float64, FadeSamples(fadeS, rateHz))
				x.Run(open)
				y.Run(open)
			}
			got, want := x.Run(in), y.Run(in)
			for k := range got {
				for j, v := range got[k] {
					worst = math.Max(worst, math.Abs(v-math.Max(-1, math.Min(1, want[k][j]))))
				}
			}
		}
		return worst
	}
	// All roundings as large as they can be, and no more.
	rounded := 0.0
	for k := range s.Ways {
		rounded = math.Max(rounded, biquad.FromDB(idleDBFS(f, s, k)))
	}
	if rounded > 1e-2 {
		t.Errorf("rounding may come to %g: the test proves nothing", rounded)
	}
	if e := off(f, s); e > rounded {
		t.Errorf("%d guard bits: off by %g", f.GuardBits, e)
	}
	// The system with the input's gain of one guard bit, in words that wrap as C's would.
	few := wrapping(f.fitted(1))
	if e := off(few, s); e < 0.1 {
		t.Errorf("with one guard bit off by %g only: the inputs prove nothing", e)
	}
}

// Gains and numerators beyond what a word holds become constants in front, and the
// response stays.
func TestLargeGainsAreKept(t *testing.T) {
	const rateHz = 48000.0
	s := one(biquad.Digital{B: [3]float64{300}, A: [3]float64{1}})
	s.Common.Slots = append(s.Common.Slots, biquad.Fixed(lowShelf(15000, 0.7, 30, rateHz)))
	s.Common.Gain, s.Ways[0].Gain = 40, 0.0001
	f, systems := format("q31").Systems([]biquad.System[biquad.Digital]{s}, 1, []float64{rateHz})
	got, want := make([]complex128, 3), make([]complex128, 3)
	hz := []float64{30, 3000, 20000}
	biquad.DigitalAt(got, systems[0].Path(0), nil, rateHz, hz)
	biquad.DigitalAt(want, s.Path(0), nil, rateHz, hz)
	for i := range got {
		if db := biquad.DB(got[i]) - biquad.DB(want[i]); math.Abs(db) > 1e-2 {
			t.Errorf("%g Hz: %.3f dB off", hz[i], db)
		}
	}
	for _, slot := range systems[0].Path(0).Slots {
		for _, d := range slot.Alt {
			if f.beyond(d) {
				t.Errorf("%+v is beyond a word", d)
			}
		}
	}
}

// wrapping is a fixed-point format whose words wrap as those of 32 bits do on most
// machines.
func wrapping(f Format) Format {
	calls := map[string]call[int64]{}
	x := container{bits: 32, guard: f.GuardBits}
	for name, of := range callsOf(x) {
		calls[name] = of
	}
	for _, name := range []string{"narrow", "high", "twos", "eights", "scale"} {
		of := calls[name]
		calls[name] = func(a, b int64) int64 { return int64(int32(of(a, b))) }
	}
	return described(f, inWords(x, calls))
}
