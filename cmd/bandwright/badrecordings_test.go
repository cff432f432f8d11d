package main

import (
	"bytes"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"bandwright/biquad"
	"bandwright/compiler"
	"bandwright/compiler/sweep"
	"bandwright/compiler/wave"
)

// badRecording is one that something is wrong with.
type badRecording struct {
	what  string
	shape wave.Shape
	of    func(x []float64) []float64 // made of a good one
	after func(file []byte) []byte    // done to the file
}

// quietly is a good recording with changed samples.
func quietly(of func(i int, v float64) float64) func(x []float64) []float64 {
	return func(x []float64) []float64 {
		for i, v := range x {
			x[i] = of(i, v)
		}
		return x
	}
}

func badRecordings() []badRecording {
	return slices.Concat(wrongRecordings(), hurtRecordings(), wrongFiles())
}

// hissing is noise of a seed, of 0 dBFS.
func hissing(seed uint64) func() float64 {
	return rand.New(rand.NewPCG(seed, 1)).NormFloat64
}

// wrongRecordings are those that were made wrongly.
func wrongRecordings() []badRecording {
	plain := wave.Shape{RateHz: 48000, Channels: 1, Words: wave.Words{Bits: 24}}
	other := plain
	other.RateHz = 44100
	some := hissing(1)
	return []badRecording{
		{"a good one", plain, nil, nil},
		{"silence", plain, quietly(func(int, float64) float64 { return 0 }), nil},
		{"a constant alone", plain, quietly(func(int, float64) float64 { return 0.5 }), nil},
		{"in words of 8 bits", wave.Shape{RateHz: 48000, Channels: 1, Words: wave.Words{Bits: 8}}, nil, nil},
		{"clipped", plain, quietly(func(_ int, v float64) float64 { return math.Max(-0.1, math.Min(0.1, v)) }), nil},
		{"clipped at full scale", plain, quietly(func(_ int, v float64) float64 { return math.Max(-1, math.Min(1, v*9)) }), nil},
		{"clipped at full scale, where it is slow", plain, quietly(func(i int, v float64) float64 {
			if i > 48000 {
				return v
			}
			return math.Max(-1, math.Min(1, v*10.3))
		}), nil},
		{"cut at its end", plain, func(x []float64) []float64 { return x[:80000] }, nil},
		{"cut at its end, behind the sweep's length", plain, func(x []float64) []float64 { return append(make([]float64, 60000), x[:100000]...) }, nil},
		{"begun in the sweep", plain, func(x []float64) []float64 { return x[60000:] }, nil},
		{"gap", plain, quietly(func(i int, v float64) float64 {
			if i > 70000 && i < 70100 {
				return 0
			}
			return v
		}), nil},
		{"stuck", plain, quietly(func(i int, v float64) float64 {
			if i > 70000 && i < 70064 {
				return 0.05
			}
			return v
		}), nil},
		{"lost samples", plain, func(x []float64) []float64 { return slices.Delete(x, 70000, 71500) }, nil},
		{"gap under noise", plain, quietly(func(i int, v float64) float64 {
			if i > 100000 && i < 100100 {
				v = 0
			}
			return v + 0.001*some()
		}), nil},
		{"long gap under noise", plain, quietly(func(i int, v float64) float64 {
			if i > 50000 && i < 70000 {
				v = 0
			}
			return v + 0.001*some()
		}), nil},
		{"few lost samples", plain, func(x []float64) []float64 { return slices.Delete(x, 50000, 50500) }, nil},
		{"noise of -20 dBFS", plain, quietly(func(_ int, v float64) float64 { return v*0.1 + 0.1*some() }), nil},
		{"noise of -60 dBFS", plain, quietly(func(_ int, v float64) float64 { return v + 0.001*some() }), nil},
		{"hum of 50 Hz", plain, quietly(func(i int, v float64) float64 { return v + 0.02*math.Sin(2*math.Pi*50*float64(i)/48000) }), nil},
		{"hum louder than the sweep", plain, quietly(func(i int, v float64) float64 { return v + 0.3*math.Sin(2*math.Pi*60*float64(i)/48000) }), nil},
		{"nothing but noise", plain, quietly(func(int, float64) float64 { return 0.05 * some() }), nil},
		{"quiet", plain, quietly(func(_ int, v float64) float64 { return v * 0.0012 }), nil},
		{"a constant part", plain, quietly(func(_ int, v float64) float64 { return v + 0.3 }), nil},
		{"another rate in its head", other, nil, nil},
		{"slower by 48/44.1", plain, func(x []float64) []float64 { return slower(x, 48/44.1) }, nil},
		{"twice as slow", plain, func(x []float64) []float64 { return slower(x, 2) }, nil},
	}
}

// hurtRecordings are those that something happened to for a moment, and those that only look so.
func hurtRecordings() []badRecording {
	plain := wave.Shape{RateHz: 48000, Channels: 1, Words: wave.Words{Bits: 24}}
	some := hissing(2)
	return []badRecording{
		{"ten lost samples", plain, func(x []float64) []float64 { return slices.Delete(x, 70000, 70010) }, nil},
		{"gap of ten samples", plain, quietly(func(i int, v float64) float64 {
			if i >= 90000 && i < 90010 {
				return 0
			}
			return v
		}), nil},
		{"gap of six samples under noise", plain, quietly(func(i int, v float64) float64 {
			if i >= 100000 && i < 100006 {
				v = 0
			}
			return v + 0.0001*some()
		}), nil},
		{"gap under noise at 47 Hz", plain, quietly(func(i int, v float64) float64 {
			if i >= 43000 && i < 43480 {
				v = 0
			}
			return v + 0.001*some()
		}), nil},
		{"a click of -80 dBFS", plain, quietly(func(i int, v float64) float64 {
			if i == 70000 {
				v += 0.0001
			}
			return v + 0.000001*some()
		}), nil},
		{"spikes of a rectifier", plain, quietly(func(i int, v float64) float64 {
			if i%480 < 3 {
				v += 0.001
			}
			return v + 0.00001*some()
		}), nil},
		{"distorted where it crosses zero", plain, quietly(func(_ int, v float64) float64 {
			return v - math.Max(-0.0005, math.Min(0.0005, v)) + 0.00001*some()
		}), nil},
		{"quiet, in few words", plain, quietly(func(_ int, v float64) float64 { return math.Round(v*0.0012*32768) / 32768 }), nil},
	}
}

// wrongFiles are files that are not as they should be.
func wrongFiles() []badRecording {
	plain := wave.Shape{RateHz: 48000, Channels: 1, Words: wave.Words{Bits: 24}}
	float := wave.Shape{RateHz: 48000, Channels: 1, Words: wave.Words{Bits: 32, Float: true}}
	stereo := plain
	stereo.Channels = 2
	return []badRecording{
		{"two channels", stereo, nil, nil},
		{"no number", float, quietly(func(i int, v float64) float64 {
			if i == 7777 {
				return math.NaN()
			}
			return v
		}), nil},
		{"a file cut short", plain, nil, func(b []byte) []byte { return b[:len(b)/2] }},
		{"a recorder that stopped: its head says 0 bytes", plain, nil, func(b []byte) []byte {
			copy(b[4:8], "\x00\x00\x00\x00")
			copy(b[bytes.Index(b, []byte("data"))+4:], "\x00\x00\x00\x00")
			return b
		}},
		{"nothing was recorded", plain, nil, func(b []byte) []byte {
			return append(b[:bytes.Index(b, []byte("data"))], "data\x00\x00\x00\x00"...)
		}},
		{"a head alone", plain, nil, func(b []byte) []byte { return b[:20] }},
		{"no WAVE", plain, nil, func([]byte) []byte { return []byte("20 0 0\n40 0 0\n") }},
		{"compressed", plain, nil, func(b []byte) []byte { b[20] = 85; return b }},
	}
}

// slower is played at a lower rate than it was recorded at.
func slower(x []float64, by float64) []float64 {
	out := make([]float64, int(float64(len(x)-1)*by))
	for i := range out {
		at := float64(i) / by
		k := int(at)
		out[i] = x[k] + (x[k+1]-x[k])*(at-float64(k))
	}
	return out
}

// What is wrong with a recording is told as it is accepted in testdata; -update writes it.
func TestBadRecordings(t *testing.T) {
	b, _, err := compiler.Filters(t.Context(), "siskinet.yaml", []byte(siskinet), nil)
	if err != nil {
		t.Fatal(err)
	}
	t.Chdir(t.TempDir())
	reference := sweep.New(48000, 2, -12).Samples()
	var text strings.Builder
	for _, c := range badRecordings() {
		x := slices.Clone(reference)
		if c.of != nil {
			x = c.of(x)
		}
		channels := slices.Repeat([][]float64{x}, c.shape.Channels)
		data, err := waveFile(c.shape, "", channels)
		if err != nil {
			t.Fatal(err)
		}
		if c.after != nil {
			data = c.after(data)
		}
		if err := os.WriteFile("unit.wav", data, 0o666); err != nil {
			t.Fatal(err)
		}
		d := &desk{b: b, with: make(biquad.Combination, len(b.Settings)), Finished: Finished{Reference: "loop.wav"}}
		r, _, err := d.reading(t.Context(), 0, "unit.wav", reference, 48000)
		fmt.Fprintf(&text, "%s:\n", c.what)
		switch {
		case err != nil:
			fmt.Fprintf(&text, "  refused: %v\n", err)
		case r.LowHz == 0:
			fmt.Fprintf(&text, "  a silent way\n")
		default:
			fmt.Fprintf(&text, "  read\n")
		}
		for _, n := range d.notes {
			fmt.Fprintf(&text, "  told: %s\n", n)
		}
	}
	accepted := filepath.Join(home, "testdata/badrecordings.txt")
	if *update {
		if err := os.WriteFile(accepted, []byte(text.String()), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	if want, err := os.ReadFile(accepted); err != nil || string(want) != text.String() {
		t.Errorf("%v, or another answer: look at it and run with -update\n%s", err, text.String())
	}
}

// home is the folder of the tests.
var home = func() string {
	dir, err := os.Getwd()
	if err != nil {
		panic(err)
	}
	return dir
}()
