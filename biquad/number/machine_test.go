package number

import (
	"math"
	"math/cmplx"
	"math/rand"
	"slices"
	"testing"

	"github.com/mjibson/go-dsp/fft"

	"bandwright/biquad"
)

// go-dsp's FFT of the simulated impulse response against the response of the
// quantised coefficients: every way in every combination.
func TestMachineImpulseResponse(t *testing.T) {
	const rateHz, n = 48000.0, 1 << 16
	for _, f := range Formats {
		s := f.System(switchedSystem(rateHz), 0.5, rateHz)
		m := f.NewMachine(s, 0.5, rateHz, []int{3, 2})
		impulse := make([]float64, n)
		impulse[0] = 1
		biquad.Each(s.Axes(), 2, func(c biquad.Combination) {
			m.Reset()
			if !m.Set(c) {
				t.Fatalf("%v refused", c)
			}
			out := m.Run(impulse)
			for w := range s.Ways {
				spectrum := fft.FFTReal(out[w])
				var hz []float64
				for i := 1; i < n/2; i++ {
					hz = append(hz, float64(i)*rateHz/n)
				}
				want := make([]complex128, len(hz))
				biquad.OnDigital(s.Path(w), rateHz, hz).Response(want, c)
				var sum, worst float64
				for i := range want {
					e := cmplx.Abs(spectrum[i+1] - 0.5*want[i])
					sum += e * e
					worst = math.Max(worst, e)
				}
				// The mean square over frequency is the energy of the error. An
				// impulse meets every node with less than the worst sine does,
				// whose noise (re a mean square of 1/2) is the computed floor.
				floor := biquad.FromDB(NewNoise(f, s.Path(w), 0.5, rateHz, 1, rateHz/2).DBFS(c))
				const margin = 1.5 // modelDB's average over a path, and the FFT's own rounding
				limit := margin * floor
				// Short words may never let the states decay. The true response is
				// over by half time; what goes on was there before as well.
				var held float64
				for _, v := range out[w][n/2:] {
					held += 2 * v * v
				}
				limit += math.Sqrt(held)
				if f.Name == "float64" {
					// The evaluation of the coefficients and the FFT round as
					// much as the kernel does.
					limit += 1e-12
				}
				if rms := math.Sqrt(sum / float64(len(hz))); rms > limit || rms == 0 {
					t.Errorf("%s, way %d, settings %v: off by %.3g RMS, limit %.3g (worst %.3g)", f.Name, w, c, rms, limit, worst)
				}
			}
		})
	}
}

// Block splits do not matter, and neither does what ran before a reset.
func TestMachineReset(t *testing.T) {
	r := rand.New(rand.NewSource(8))
	in := make([]float64, 400)
	for i := range in {
		in[i] = 2*r.Float64() - 1
	}
	for _, f := range Formats {
		s := f.System(switchedSystem(48000), 1, 48000)
		m := f.NewMachine(s, 1, 48000, []int{3, 2})
		whole := m.Run(in)
		m.Set(biquad.Combination{2, 1})
		m.Run(in)
		m.Set(biquad.Combination{0, 0})
		m.Reset()
		first, rest := m.Run(in[:7]), m.Run(in[7:])
		for w := range whole {
			for i, v := range append(first[w], rest[w]...) {
				if v != whole[w][i] {
					t.Fatalf("%s: sample %d differs", f.Name, i)
				}
			}
		}
		for _, bad := range []biquad.Combination{{3, 0}, {0, 2}, {0}, {0, 0, 0}} {
			if m.Set(bad) {
				t.Errorf("%v was accepted", bad)
			}
		}
	}
}

// switchCases are pairs of alternatives that a setting may go between.
func switchCases(rateHz float64) map[string][2]biquad.Digital {
	through := biquad.Through(biquad.Delta)
	return map[string][2]biquad.Digital{
		"shelf to shelf":       {lowShelf(210, 0.7, -3, rateHz), lowShelf(240, 0.7, -6, rateHz)},
		"shelf to through":     {lowShelf(210, 0.7, -3, rateHz), through},
		"through to shelf":     {through, lowShelf(240, 0.7, -6, rateHz)},
		"peak to first order":  {peak(400, 1, 4, rateHz), firstOrder(100, 0.7, rateHz)},
		"first order to peak":  {firstOrder(100, 0.7, rateHz), peak(400, 1, 4, rateHz)},
		"gain to gain":         {through, {B: [3]float64{biquad.FromDB(-1.5)}, A: [3]float64{1}}},
		"first order to other": {firstOrder(100, 0.7, rateHz), firstOrder(100, 0.5, rateHz)},
	}
}

// After a switch the output is what a direct-form-I section with the new
// coefficients gives that takes over the last two inputs and outputs: an
// independent recurrence, in float64.
func TestSwitchEqualsDirectFormI(t *testing.T) {
	// Both recurrences round differently; the poles at 100 Hz collect that.
	const tolerance = 1e-11
	const rateHz, before, after = 48000.0, 1000, 2000
	f := format("float64")
	for name, pair := range switchCases(rateHz) {
		for _, form := range []biquad.Form{biquad.Delta, biquad.Direct, biquad.Mirrored} {
			f.Forms = []biquad.Form{form}
			slot := f.Quantise(biquad.Slot[biquad.Digital]{
				Alt: []biquad.Digital{pair[0], pair[1]},
				By:  []biquad.Axis{{Setting: 0, Choices: 2}}, Pick: []uint8{0, 1},
			}, rateHz)
			s := one(pair[0])
			s.Common.Slots[0] = slot
			m := f.NewMachine(s, 1, rateHz, []int{2})
			in := make([]float64, before+after)
			for i := range in {
				in[i] = math.Sin(0.008*float64(i)) + 0.1*math.Sin(0.3*float64(i))
			}
			got := m.Run(in[:before])[0]
			m.Set(biquad.Combination{1})
			got = append(got, m.Run(in[before:])[0]...)

			want := make([]float64, len(in))
			for i := range in {
				d := glided(pair[0], rateHz)
				if i >= before+settling {
					d = glided(pair[1], rateHz)
				}
				want[i] = d.B[0] * in[i]
				for k := 1; k <= 2 && k <= i; k++ {
					want[i] += d.B[k]*in[i-k] - d.A[k]*want[i-k]
				}
			}
			for i := range want {
				if math.Abs(got[i]-want[i]) > tolerance {
					t.Errorf("%s, %s: sample %d is %.15g, direct form I gives %.15g", name, form, i-before, got[i], want[i])
					break
				}
			}
		}
	}
}

// glided is a section in the direct form, a constant with the pole and zero
// that the kernel gives it.
func glided(d biquad.Digital, rateHz float64) biquad.Digital {
	if d.Order() == 0 {
		r := GlideStep(rateHz) - 1
		return biquad.Digital{B: [3]float64{d.B[0], d.B[0] * r}, A: [3]float64{1, r}}
	}
	return d.To(biquad.Direct)
}

// A constant under a setting is exact from a reset on, and after a switch what
// the section before left fades away and never comes back: a form with an
// integrator in it must not hold anything.
func TestConstantsHoldNothing(t *testing.T) {
	const rateHz = 48000.0
	f := format("float32")
	slot := f.Quantise(biquad.Slot[biquad.Digital]{
		Alt: []biquad.Digital{lowShelf(60, 0.7, 6, rateHz), biquad.Through(biquad.Delta)},
		By:  []biquad.Axis{{Setting: 0, Choices: 2}}, Pick: []uint8{0, 1},
	}, rateHz)
	if form := slot.Error.Form; form != biquad.Delta {
		t.Fatalf("the position is kept %s", form)
	}
	s := one(slot.Alt[0])
	s.Common.Slots[0] = slot
	m := f.NewMachine(s, 1, rateHz, []int{2})
	in := make([]float64, 5000)
	for i := range in {
		in[i] = f.Round(math.Sin(0.01 * float64(i)))
	}
	m.Set(biquad.Combination{1})
	for i, v := range m.Run(in)[0] {
		if v != in[i] {
			t.Fatalf("sample %d after the reset: %g in, %g out", i, in[i], v)
		}
	}
	m.Reset()
	m.Set(biquad.Combination{0})
	m.Run(in)
	m.Set(biquad.Combination{1})
	m.Run(in)
	for i, v := range m.Run(in)[0] {
		if math.Abs(v-in[i]) > f.UnitRoundOff {
			t.Fatalf("sample %d long after the switch: %g in, %g out", i, in[i], v)
		}
	}
	silence := m.Run(make([]float64, 100000))[0]
	if v := silence[len(silence)-1]; math.Abs(v) > 1e-40 {
		t.Errorf("%g left after two seconds of silence", v)
	}
}

const (
	// joltLimitDB is how much a switch may put out above 1 kHz, where a jolt is
	// heard as a click, against a full-scale 60 Hz sine, itself 98 dB down
	// there: 1.2 × the worst pair measured. What is left is the new section's
	// own settling.
	joltLimitDB = -39
	// joltGainDB is what keeping the state must be better than clearing it by.
	joltGainDB = 9
	// stepLimitDB is the same for the greatest departure of one sample from
	// the straight line through the two before it. Second-order sections go on
	// in value and slope (-63 dB and better at 48 kHz), first-order ones and
	// constants in value.
	stepLimitDB = -47
	// stepGainDB is what keeping the state must gain on that.
	stepGainDB = 20
)

func TestSwitchJolt(t *testing.T) {
	f := format("float32")
	for _, rateHz := range []float64{48000, 192000} {
		for name, pair := range switchCases(rateHz) {
			slot := f.Quantise(biquad.Slot[biquad.Digital]{
				Alt: []biquad.Digital{pair[0], pair[1]},
				By:  []biquad.Axis{{Setting: 0, Choices: 2}}, Pick: []uint8{0, 1},
			}, rateHz)
			s := one(pair[0])
			s.Common.Slots[0] = slot
			var remap, reset, step, resetStep float64 = -600, -600, -600, -600
			for phase := range 16 {
				j, s1 := jolt(f, s, rateHz, float64(phase)/16, false)
				k, s2 := jolt(f, s, rateHz, float64(phase)/16, true)
				remap, step = math.Max(remap, j), math.Max(step, s1)
				reset, resetStep = math.Max(reset, k), math.Max(resetStep, s2)
			}
			t.Logf("%s at %g kHz: %.1f dB (%.1f dB with the state cleared), step %.1f dB (%.1f dB)", name, rateHz/1000, remap, reset, step, resetStep)
			if remap > joltLimitDB || remap > reset-joltGainDB || step > stepLimitDB || step > resetStep-stepGainDB {
				t.Errorf("%s at %g kHz: a jolt of %.1f dB, step %.1f dB; with the state cleared %.1f dB", name, rateHz/1000, remap, step, reset)
			}
		}
	}
}

// jolt is the peak above 1 kHz of the output around a switch, and the greatest
// step, both in dB re the 60 Hz sine.
func jolt(f Format, s biquad.System[biquad.Digital], rateHz, phase float64, reset bool) (highDB, stepDB float64) {
	n := int(rateHz / 10)
	in := make([]float64, 2*n)
	for i := range in {
		in[i] = f.Round(math.Sin(2 * math.Pi * (phase + 60*float64(i)/rateHz)))
	}
	m := f.NewMachine(s, 1, rateHz, []int{2})
	out := m.Run(in[:n])[0]
	if reset {
		m.Reset()
	}
	m.Set(biquad.Combination{1})
	out = append(out, m.Run(in[n:])[0]...)
	high := one(highPass(1000, 0.54, rateHz))
	high.Ways[0].Slots = []biquad.Slot[biquad.Digital]{biquad.Fixed(highPass(1000, 1.31, rateHz))}
	var peak, step float64
	for i, v := range format("float64").NewMachine(high, 1, rateHz, nil).Run(out)[0] {
		if i > n/2 {
			peak = math.Max(peak, math.Abs(v))
			step = math.Max(step, math.Abs(out[i]-2*out[i-1]+out[i-2]))
		}
	}
	return biquad.GainDB(peak), biquad.GainDB(step)
}

// To set the choices that are set already begins no switch, and leaves every
// output as it is, before the first sample, inside a switch and after it.
func TestSettingAgainIsNothing(t *testing.T) {
	const rateHz = 48000.0
	for _, f := range Formats {
		slot := f.Quantise(biquad.Slot[biquad.Digital]{
			Alt: []biquad.Digital{lowShelf(60, 0.7, 6, rateHz), lowShelf(200, 0.7, -3, rateHz)},
			By:  []biquad.Axis{{Setting: 0, Choices: 2}}, Pick: []uint8{0, 1},
		}, rateHz)
		s := one(slot.Alt[0])
		s.Common.Slots[0] = slot
		once, again := f.NewMachine(s, 1, rateHz, []int{2}), f.NewMachine(s, 1, rateHz, []int{2})
		for i, n := range []int{0, 1, 40, 1, 1, 1, 40} {
			c := biquad.Combination{uint8(i / 3 % 2)}
			once.Set(c)
			again.Set(c)
			again.Set(c)
			in := make([]float64, n)
			for k := range in {
				in[k] = f.Round(math.Sin(0.1 * float64(k+7*i)))
			}
			if !slices.Equal(once.Run(in)[0], again.Run(in)[0]) {
				t.Errorf("%s, step %d: the outputs differ", f.Name, i)
			}
		}
		again.Set(biquad.Combination{0})
		if left := remaining(again); left != 0 {
			t.Errorf("%s: setting again begins a switch of %d samples", f.Name, left)
		}
	}
}

// remaining is how many samples of a switch a machine has before it.
func remaining(m *Machine) int {
	switch c := m.simulation.(type) {
	case *channel[float32]:
		return c.left
	case *channel[float64]:
		return c.left
	case *channel[int64]:
		return c.left
	}
	panic("a simulation of another type")
}
