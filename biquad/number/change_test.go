package number

import (
	"math"
	"slices"
	"testing"

	"bandwright/biquad"
)

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
		"high-pass":            {highPass(25, 0.7, rateHz), highPass(40, 1.2, rateHz)},
		"inverted":             {through, {B: [3]float64{-1}, A: [3]float64{1}}},
	}
}

// changing is a system of a position that a setting changes, before a low-pass in
// its way.
func changing(f Format, pair [2]biquad.Digital, rateHz float64) biquad.System[biquad.Digital] {
	s := one(pair[0])
	s.Common.Slots[0] = f.Quantise(biquad.Slot[biquad.Digital]{
		Alt: []biquad.Digital{pair[0], pair[1]},
		By:  []biquad.Axis{{Setting: 0, Choices: 2}}, Pick: []uint8{0, 1},
	}, rateHz)
	for range 2 {
		s.Ways[0].Slots = append(s.Ways[0].Slots, f.Quantise(biquad.Fixed(lowPass(260, 0.7071, rateHz)), rateHz))
	}
	return s
}

// sine is so many samples of a full-scale sine, in words.
func sine(f Format, hz, rateHz float64, n int) []float64 {
	x := make([]float64, n)
	for i := range x {
		x[i] = f.Round(math.Sin(2 * math.Pi * hz * float64(i) / rateHz))
	}
	return x
}

// aboveDB is the peak of what lies above 1 kHz of a signal behind sample from: a
// high-pass of the fourth order finds it.
func aboveDB(x []float64, rateHz float64, from int) float64 {
	s := one(highPass(1000, 0.54, rateHz))
	s.Common.Slots = append(s.Common.Slots, biquad.Fixed(highPass(1000, 1.31, rateHz)))
	peak := 0.0
	for i, v := range format("float64").NewMachine(s, 1, rateHz, 1e-3, nil).Run(x)[0] {
		if i >= from {
			peak = math.Max(peak, math.Abs(v))
		}
	}
	return biquad.GainDB(peak)
}

// clickLimitDB is what a change, a mute or a start may put out above 1 kHz, re the
// full-scale sine of 60 Hz that goes in.
const clickLimitDB = -80

func TestChangesDoNotClick(t *testing.T) {
	f := format("float32")
	for _, rateHz := range []float64{44100, 192000} {
		for name, pair := range switchCases(rateHz) {
			if name == "inverted" {
				continue // old and new differ by twice the signal: 6 dB more
			}
			s := changing(f, pair, rateHz)
			s.Ways[0].Slots = nil
			m := f.NewMachine(s, 1, rateHz, fadeS, []int{2})
			lead := SettleSamples(s) + 4*FadeSamples(fadeS, rateHz)
			x := sine(f, 60, rateHz, 6*lead)
			y := m.Run(x[:lead])[0]
			for i, act := range []func(){
				func() { m.Set(biquad.Combination{1}) }, func() { m.Set(biquad.Combination{0}); m.Mute(true) },
				func() { m.Mute(false) }, func() { m.Mute(true); m.Mute(false) },
			} {
				act()
				y = append(y, m.Run(x[(i+1)*lead : (i+2)*lead])[0]...)
			}
			if db := aboveDB(y, rateHz, 0); db > clickLimitDB {
				t.Errorf("%s at %g kHz: %.1f dB above 1 kHz", name, rateHz/1000, db)
			}
			// Teeth: without a fade it would be heard.
			m.Set(biquad.Combination{0})
			m.Reset()
			if db := aboveDB(append(y[:lead], m.Run(x[:lead])[0]...), rateHz, 0); db < -40 {
				t.Errorf("%s at %g kHz: a reset puts %.1f dB above 1 kHz", name, rateHz/1000, db)
			}
		}
	}
}

// A steady tone of any frequency is nowhere louder during a change than before or
// after it, in any order of changes and mutes, though a low-pass follows.
func TestChangesAreNotLouder(t *testing.T) {
	const rateHz = 48000.0
	f := format("float64")
	for name, pair := range switchCases(rateHz) {
		s := changing(f, pair, rateHz)
		fade, settle := FadeSamples(fadeS, rateHz), SettleSamples(s)
		for _, hz := range []float64{30, 100, 250, 1000, 10000} {
			peaks := map[uint8]float64{}
			for _, choice := range []uint8{0, 1} {
				m := f.NewMachine(s, 1, rateHz, fadeS, []int{2})
				m.Set(biquad.Combination{choice})
				y := m.Run(sine(f, hz, rateHz, 3*settle+9600))[0]
				for _, v := range y[len(y)-4800:] {
					peaks[choice] = math.Max(peaks[choice], math.Abs(v))
				}
			}
			limit := 1.001 * math.Max(peaks[0], peaks[1])
			m := f.NewMachine(s, 1, rateHz, fadeS, []int{2})
			m.Mute(true) // the filters settle unheard
			x := sine(f, hz, rateHz, 20*settle+20*fade)
			m.Run(x[:2*settle+fade])
			m.Mute(false)
			at := 2*settle + fade
			for i := 0; at < len(x)-1000; i++ {
				m.Set(biquad.Combination{uint8(i+1) % 2})
				n := 1 + i*i*97%(settle+fade)
				n = min(n, len(x)-at)
				for k, v := range m.Run(x[at : at+n])[0] {
					if math.Abs(v) > limit {
						t.Fatalf("%s, %g Hz: sample %d is %g, the louder of before and after %g", name, hz, at+k, v, limit)
					}
				}
				if i%7 == 3 {
					m.Mute(i%2 == 0)
				}
				at += n
			}
		}
	}
}

// After a change the output is, to the bit, that of a machine that had the choice
// all along, once both have forgotten how they began: the memory has room for no
// more than 60 dB below what settles.
func TestChangesArrive(t *testing.T) {
	const rateHz = 48000.0
	f := format("float64")
	for name, pair := range switchCases(rateHz) {
		s := changing(f, pair, rateHz)
		n := 3*SettleSamples(s) + 2*FadeSamples(fadeS, rateHz)
		x := sine(f, 123, rateHz, 2*n)
		m, other := f.NewMachine(s, 1, rateHz, fadeS, []int{2}), f.NewMachine(s, 1, rateHz, fadeS, []int{2})
		other.Set(biquad.Combination{1})
		m.Run(x[:7])
		m.Set(biquad.Combination{1})
		y, z := m.Run(x[7:])[0], other.Run(x)[0][7:]
		for i := n; i < len(y); i++ {
			if math.Abs(y[i]-z[i]) > 1e-9 {
				t.Fatalf("%s: sample %d is %g, with the choice from the start %g", name, i, y[i], z[i])
			}
		}
	}
}

// Of an impulse no more than settledTo is left after the samples that new sections
// settle for; with half of them more is.
func TestSettling(t *testing.T) {
	const rateHz = 48000.0
	f := format("float64")
	for name, pair := range switchCases(rateHz) {
		s := changing(f, pair, rateHz)
		n := SettleSamples(s)
		for choice := range pair {
			sections := []biquad.Digital{s.Common.Slots[0].Alt[choice]} // what stands last
			h := make([]float64, 4*n+1000)
			h[0] = 1
			for _, d := range sections {
				d = d.To(biquad.Delta)
				var p, q float64
				for i, x := range h {
					y := d.B[0]*x + p
					p += q + d.B[1]*x - d.A[1]*y
					q += d.B[2]*x - d.A[2]*y
					h[i] = y
				}
			}
			tail := 0.0
			for i := len(h) - 1; i >= max(n, 1); i-- {
				tail += math.Abs(h[i])
			}
			if tail > settledTo {
				t.Errorf("%s, choice %d: %.3g is left after %d samples", name, choice, tail, n)
			}
		}
	}
}

// A constant under a setting is exact, and one that changes nothing changes no bit.
func TestConstantsHoldNothing(t *testing.T) {
	const rateHz = 48000.0
	f := format("float32")
	s := changing(f, [2]biquad.Digital{lowShelf(60, 0.7, 6, rateHz), biquad.Through(biquad.Delta)}, rateHz)
	s.Ways[0].Slots = nil
	m := f.NewMachine(s, 1, rateHz, fadeS, []int{2})
	settle, fade := SettleSamples(s), FadeSamples(fadeS, rateHz)
	x := sine(f, 80, rateHz, settle+fade+Tick+5000)
	m.Run(x[:fade+3])
	m.Set(biquad.Combination{1})
	for i, v := range m.Run(x)[0] {
		if i >= settle+fade+Tick && v != x[i] {
			t.Fatalf("sample %d: %g in, %g out", i, x[i], v)
		}
	}
}

// Sections come to an exact rest after the input does.
func TestSilenceIsExact(t *testing.T) {
	const rateHz = 48000.0
	for _, f := range Formats {
		for _, d := range samples() {
			if d.rateHz != rateHz {
				continue
			}
			s := one(d.d)
			s.Common.Slots[0] = f.Quantise(s.Common.Slots[0], rateHz)
			m := f.NewMachine(s, 1, rateHz, fadeS, nil)
			m.Run(sine(f, 100, rateHz, 2000))
			n := 8000 + 10*SettleSamples(changing(f, [2]biquad.Digital{d.d, biquad.Through(biquad.Direct)}, rateHz))
			y := m.Run(make([]float64, n))[0]
			last := 0
			for i, v := range y {
				if v != 0 {
					last = i
				}
			}
			if last >= n-RestEvery {
				t.Errorf("%s, %s: %g is left after %d samples of silence", f.Name, d.name, y[last], last)
			}
		}
	}
}

// What is left of a sound is cleared before it is subnormal, which takes some processors a hundred times as long: always where a
// section's states fall by up to 2.9 dB a sample, as 2⁻⁶⁴ falls to 2⁻¹²⁶ in RestEvery samples then; in others a few are.
func TestSilenceIsNotSubnormal(t *testing.T) {
	const rateHz, slow, few = 48000.0, 0.716, 64
	f := format("float32")
	for _, d := range samples() {
		if d.rateHz != rateHz {
			continue
		}
		s := one(d.d)
		s.Common.Slots[0] = f.Quantise(s.Common.Slots[0], rateHz)
		for _, phase := range []int{0, 37, 90} {
			m := f.NewMachine(s, 1, rateHz, fadeS, nil)
			m.Run(sine(f, 100, rateHz, 2000+phase))
			states := m.simulation.(*channel[float32])
			found, left := 0, true
			for n := 0; left && n < 1_000_000; n++ {
				out := m.Run([]float64{0})[0]
				left = false
				for _, v := range append(slices.Clone(states.cascades[0].now[0].r[states.words:][:states.states]), float32(out[0])) {
					left = left || v != 0
					if v != 0 && math.Abs(float64(v)) < 0x1p-126 {
						found++
					}
				}
			}
			if allowed := few * len(f.Kernel.States); found > allowed || found > 0 && 1-d.d.PoleMargin() >= slow {
				t.Errorf("%s: %d words are subnormal", d.name, found)
			}
		}
	}
}

// A sample that is none mutes from that sample on until a reset; full scale times
// a million does not.
func TestGarbageMutes(t *testing.T) {
	const rateHz = 48000.0
	for _, f := range Formats {
		for _, bad := range []float64{math.NaN(), math.Inf(1), math.Inf(-1), 1e25, -1e25} {
			if f.C.Size.Name == "" {
				continue // every word is a sample
			}
			m := f.NewMachine(one(peak(400, 1, 4, rateHz)), 1, rateHz, fadeS, nil)
			x := sine(f, 400, rateHz, 3000)
			x[900], x[1000] = 1e6, bad
			y := m.Run(x)[0]
			for i, v := range y {
				if (v == 0) != (i < 1 || i >= 1000) {
					t.Fatalf("%s, %g: sample %d is %g", f.Name, bad, i, v)
				}
			}
			if !m.Garbage() {
				t.Errorf("%s, %g: is not told", f.Name, bad)
			}
			m.Reset()
			if y := m.Run(sine(f, 400, rateHz, 3000))[0]; y[2999] == 0 || m.Garbage() {
				t.Errorf("%s, %g: a reset does not end it", f.Name, bad)
			}
		}
	}
}

// To ask again for what is there, or to ask for something else and back before
// anything looks, changes nothing.
func TestSettingAgainIsNothing(t *testing.T) {
	const rateHz = 48000.0
	for _, f := range Formats {
		s := changing(f, [2]biquad.Digital{lowShelf(60, 0.7, 6, rateHz), lowShelf(200, 0.7, -3, rateHz)}, rateHz)
		once, again := f.NewMachine(s, 1, rateHz, fadeS, []int{2}), f.NewMachine(s, 1, rateHz, fadeS, []int{2})
		settle := SettleSamples(s)
		for i, n := range []int{0, 1, 40, 1, 1, 1, settle, 1000, 40} {
			c := biquad.Combination{uint8(i / 3 % 2)}
			once.Set(c)
			again.Set(c)
			again.Set(biquad.Combination{1 - c[0]})
			again.Mute(true)
			again.Mute(false)
			again.Set(c)
			x := sine(f, 100, rateHz, n)
			a, b := once.Run(x)[0], again.Run(x)[0]
			for k := range a {
				if a[k] != b[k] {
					t.Fatalf("%s, step %d: sample %d differs", f.Name, i, k)
				}
			}
		}
	}
}
