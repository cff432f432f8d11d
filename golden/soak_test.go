//go:build soak

package golden

import (
	"math"
	"os"
	"path/filepath"
	"regexp"
	"testing"

	"bandwright/biquad"
	"bandwright/compiler"
)

// soakSamples is how many samples of each fixed-point format go through the shipped specs.
const soakSamples = 100_000_000

// soakBlock is how many samples a signal lasts: beyond what the lowest corners take to settle.
const soakBlock = 1 << 17

// fixedPoint is a shipped spec with q31 and q23 instead of its own formats.
func fixedPoint(t *testing.T, name string) *compiler.Build {
	t.Helper()
	src, err := os.ReadFile(filepath.Join("..", "specs", name+".yaml"))
	if err != nil {
		t.Fatal(err)
	}
	text := regexp.MustCompile(`formats: \[[^\]]*\]`).ReplaceAll(src, []byte("formats: [q31, q23]"))
	text = regexp.MustCompile(`(?m)^board:(\n  .*)+`).ReplaceAll(text, nil) // the digital side alone
	path := filepath.Join(t.TempDir(), name+".yaml")
	write(t, path, text)
	b, _ := compile(t, path)
	return b
}

// Full-scale sines, squares, noise and the worst input of each way, 100 million samples of
// each format over the shipped specs, in all their settings in turn: the outputs stay beside those of
// float64, limited to full scale. Something inside that wraps would be off by full scale.
func TestNothingWrapsForLong(t *testing.T) {
	names := []string{"heron", "dabchick", "bittern", "wagtail"}
	for _, format := range []string{"q31", "q23"} {
		for _, name := range names {
			t.Run(name+" "+format, func(t *testing.T) {
				t.Parallel()
				b := fixedPoint(t, name)
				worst, run := 0.0, 0
				for signal := 0; run < soakSamples/len(names); signal++ {
					for i := range b.Digital {
						if d := &b.Digital[i]; d.Format.Name == format {
							worst = math.Max(worst, soaked(t, b, d, signal))
							run += soakBlock
						}
					}
				}
				t.Logf("%d samples, at most %.3g of full scale from float64", run, worst)
			})
		}
	}
}

// soaked runs one signal through a realisation and the float64 one of its rate, and returns
// how far they are apart.
func soaked(t *testing.T, b *compiler.Build, d *compiler.Digital, signal int) float64 {
	t.Helper()
	var real *compiler.Digital
	for i := range b.Digital {
		if x := &b.Digital[i]; x.RateHz == d.RateHz && x.Format.Name == "float64" {
			real = x
		}
	}
	var choices []int
	comb := make(biquad.Combination, len(b.Settings))
	for i, s := range b.Settings {
		choices = append(choices, len(s.Choices))
		comb[i] = uint8((signal / (i + 1)) % len(s.Choices))
	}
	in := soakSignal(real, comb, choices, signal)
	x := d.Format.NewMachine(d.System, d.InputGain, d.RateHz, b.Spec.Digital.FadeS, choices)
	y := real.Format.NewMachine(real.System, real.InputGain, real.RateHz, b.Spec.Digital.FadeS, choices)
	x.Set(comb)
	y.Set(comb)
	got, want := x.Run(in), y.Run(in)
	far := 0.0
	for k := range got {
		for n := range got[k] {
			far = math.Max(far, math.Abs(got[k][n]-math.Max(-1, math.Min(1, want[k][n]))))
		}
	}
	if far > 1e-3 {
		t.Errorf("%s, %v, signal %d: %g of full scale from float64", d.Name(), comb, signal, far)
	}
	return far
}

// soakSignal is signal number n at full scale: sines and squares from 5 Hz to near half the
// rate, noise of two values, and the worst input of a way.
func soakSignal(d *compiler.Digital, comb biquad.Combination, choices []int, n int) []float64 {
	x := make([]float64, soakBlock)
	hz := 5 * math.Exp2(math.Mod(float64(n)*0.6180339887, 1)*math.Log2(0.49*d.RateHz/5))
	switch n % 4 {
	case 0, 1:
		for i := range x {
			x[i] = math.Sin(2 * math.Pi * math.Mod(hz/d.RateHz*float64(i), 1))
			if n%4 == 1 {
				x[i] = math.Copysign(1, x[i])
			}
		}
	case 2:
		seed := uint32(n)
		for i := range x {
			seed = seed*1664525 + 1013904223
			x[i] = math.Copysign(1, float64(int32(seed)))
		}
	case 3: // the impulse response of a way, turned round, as signs
		m := d.Format.NewMachine(d.System, 1, d.RateHz, 1e-3, choices)
		m.Set(comb)
		const open = 1 << 10 // samples until the start has faded in
		m.Run(make([]float64, open))
		x[0] = 1
		ways := m.Run(x)
		h := ways[n/4%len(ways)]
		for i := range x {
			x[soakBlock-1-i] = math.Copysign(1, h[i])
		}
	}
	return x
}
