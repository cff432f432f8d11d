package main

import (
	"bytes"
	"context"
	bits "encoding/binary"
	"errors"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"testing"
	"time"

	"bandwright/biquad"
	"bandwright/biquad/number"
	"bandwright/compiler"
	"bandwright/compiler/wave"
)

// siskinet is a two-way spec with a setting, in the formats given.
const siskinet = `bandwright: 1
name: siskinet
revision: C3
settings:
  placement: [free, wall]
  trim: [0 dB, -1.5 dB]
common:
  - high-pass: {family: butterworth, order: 2, at: 25 Hz}
ways:
  low:
    filters:
      - peak: {at: 80 Hz, q: 2, gain: 3 dB, when: {placement: wall}}
    gain: -3 dB
  high:
    filters:
      - gain: {by: -1.5 dB, when: {trim: -1.5 dB}}
    delay: 0.5 ms
    polarity: inverted
crossovers:
  - {between: [low, high], family: LR, order: 4, at: 1 kHz}
promise: {sum: off, magnitude: 3 dB, phase: off, crossover-sum: off}
digital:
  rates: [44.1 kHz, 48 kHz]
  formats: [float32, float64]
  method: bilinear
`

// recorded writes a WAV file; sample is that of a channel and frame.
func recorded(t *testing.T, path string, shape wave.Shape, sample func(channel, frame int) float64) {
	t.Helper()
	f, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	w, err := wave.NewWriter(f, shape, "")
	if err != nil {
		t.Fatal(err)
	}
	block := make([][]float64, shape.Channels)
	for at := 0; at < int(shape.Frames); at += 1 << 12 {
		n := min(1<<12, int(shape.Frames)-at)
		for c := range block {
			block[c] = make([]float64, n)
			for i := range block[c] {
				block[c][i] = sample(c, at+i)
			}
		}
		if err := w.Write(block); err != nil {
			t.Fatal(err)
		}
	}
	if err := errors.Join(w.Close(), f.Close()); err != nil {
		t.Fatal(err)
	}
}

// played reads a WAV file.
func played(t *testing.T, path string) (wave.Shape, [][]float64) {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r, err := wave.NewReader(f)
	if err != nil {
		t.Fatalf("%s: %v", path, err)
	}
	x := make([][]float64, r.Channels)
	for c := range x {
		x[c] = make([]float64, r.Frames)
	}
	if n, err := r.Read(x); err != nil || n != int(r.Frames) {
		t.Fatalf("%s: %d frames, %v", path, n, err)
	}
	return r.Shape, x
}

// noise is one of the same samples for the same place, up to half of full scale.
func noise(channel, frame int) float64 {
	x := uint64(channel)<<32 + uint64(frame) + 1
	x ^= x << 13
	x *= 0x9E3779B97F4A7C15
	x ^= x >> 29
	return float64(int16(x>>17)>>1) / (1 << 15)
}

// Rendered files are bit for bit what the emitted C puts out for the same recording,
// settings and rate; and the sum is theirs.
func TestRenderIsWhatTheCPlays(t *testing.T) {
	dir := place(t, "siskinet.yaml", siskinet)
	const frames = 20000 // two blocks and a rest
	recorded(t, filepath.Join(dir, "in.wav"), wave.Shape{RateHz: 44100, Channels: 2, Words: wave.Words{Bits: 16}, Frames: frames}, noise)
	expect(t, "compile", bandwright(t, dir, "compile", "siskinet.yaml", "-o", "c", "--only", "cheader"), exitKept)
	for _, format := range []string{"float32", "float64"} {
		expect(t, "render", bandwright(t, dir, "render", "siskinet.yaml", "in.wav", "-o", "out", "--format", format, "--with", "placement=wall,trim=-1.5dB"), exitKept,
			"placement: wall, trim: -1.5 dB", "2 channels", "above full scale", "caution")
		word := map[string]string{"float32": "float", "float64": "double"}[format]
		put(t, filepath.Join(dir, "c", "main.c"), fmt.Sprintf(`
#include <stdio.h>
#include "siskinet_%[1]s.h"
static siskinet_state s;
int main(void) {
    %[2]s x, y[SISKINET_WAYS];
    if (siskinet_init(&s, 44100) || siskinet_set_placement(&s, 0, SISKINET_PLACEMENT_WALL) || siskinet_set_trim(&s, 0, SISKINET_TRIM_MINUS_1_5_DB)) return 1;
    while (fread(&x, sizeof x, 1, stdin) == 1) {
        if (siskinet_run_frames(&s, &x, y, 1)) return 1;
        fwrite(y, sizeof y, 1, stdout);
    }
    return 0;
}
`, format, word))
		cc := exec.Command("gcc", "-std=c99", "-O2", "-o", "main", "main.c", "siskinet_"+format+".c")
		cc.Dir = filepath.Join(dir, "c")
		if out, err := cc.CombinedOutput(); err != nil {
			t.Fatalf("gcc (Debian package gcc): %v\n%s", err, out)
		}
		var ways [2][][]float64
		for w, name := range []string{"low", "high"} {
			shape, x := played(t, filepath.Join(dir, "out", "siskinet_"+name+".wav"))
			size := map[string]int{"float32": 32, "float64": 64}[format]
			if shape != (wave.Shape{RateHz: 44100, Channels: 2, Words: wave.Words{Bits: size, Float: true}, Frames: frames}) {
				t.Errorf("%s: %+v", name, shape)
			}
			ways[w] = x
		}
		_, sum := played(t, filepath.Join(dir, "out", "siskinet_sum.wav"))
		for c := range 2 {
			got := throughC(t, filepath.Join(dir, "c", "main"), format, c, frames)
			for i := range frames {
				a, b := ways[0][c][i], ways[1][c][i]
				if a != got[2*i] || b != got[2*i+1] {
					t.Fatalf("%s, channel %d, frame %d: rendered %g and %g, the C has %g and %g", format, c, i, a, b, got[2*i], got[2*i+1])
				}
				want := a + b
				if format == "float32" {
					want = float64(float32(want))
				}
				if sum[c][i] != want {
					t.Fatalf("%s, channel %d, frame %d: the sum is %g, want %g", format, c, i, sum[c][i], want)
				}
			}
		}
	}
}

// throughC is what the C program makes of a channel of noise, way by way.
func throughC(t *testing.T, program, format string, channel, frames int) []float64 {
	t.Helper()
	var in bytes.Buffer
	for i := range frames {
		if x := noise(channel, i); format == "float32" {
			bits.Write(&in, bits.LittleEndian, float32(x))
		} else {
			bits.Write(&in, bits.LittleEndian, x)
		}
	}
	run := exec.Command(program)
	run.Stdin = &in
	out, err := run.Output()
	if err != nil {
		t.Fatal(err)
	}
	got := make([]float64, 2*frames)
	if format == "float64" {
		err = bits.Read(bytes.NewReader(out), bits.LittleEndian, got)
	} else {
		words := make([]float32, len(got))
		err = bits.Read(bytes.NewReader(out), bits.LittleEndian, words)
		for i, v := range words {
			got[i] = float64(v)
		}
	}
	if err != nil {
		t.Fatal(err)
	}
	return got
}

// The figures printed are those of the files; garbage is told.
func TestRenderTells(t *testing.T) {
	dir := place(t, "wren.yaml", small("wren", loose, "float32"))
	shape := wave.Shape{RateHz: 48000, Channels: 2, Words: wave.Words{Bits: 32, Float: true}, Frames: 96000}
	recorded(t, filepath.Join(dir, "loud.wav"), shape, func(c, i int) float64 {
		switch {
		case c == 0 && i == 90000:
			return -1e30
		case c == 1 && i == 72000:
			return math.NaN()
		}
		return 2 * math.Sin(2*math.Pi*20*float64(i)/48000)
	})
	r := bandwright(t, dir, "render", "wren.yaml", "loud.wav", "-o", ".")
	expect(t, "loud", r, exitKept, "+6.02 dBFS", "channel 1 is silent from 1.88 s on: its sample 90001 is -1.00e30 times full scale, and float32", "has no samples from 1.84e19 times on; save",
		"channel 2 is silent from 1.50 s on: its sample 72001 is not a number; save")
	_, x := played(t, filepath.Join(dir, "wren_low.wav"))
	above := 0
	for _, c := range x {
		for _, y := range c {
			if math.Abs(y) > 1 {
				above++
			}
		}
	}
	expect(t, "loud", r, exitKept, fmt.Sprintf("%d samples", above))
	if x[1][72000] != 0 || x[1][71000] == 0 {
		t.Errorf("channel 2: %g before the garbage, %g at it", x[1][71000], x[1][72000])
	}
}

// A recorder that stopped before it wrote how long its file is loses nothing: what is rendered is what the whole file
// gives.
func TestRenderOfAStoppedRecorder(t *testing.T) {
	dir := place(t, "wren.yaml", small("wren", loose, "float32"))
	shape := wave.Shape{RateHz: 48000, Channels: 1, Words: wave.Words{Bits: 16}, Frames: 4800}
	recorded(t, filepath.Join(dir, "in.wav"), shape, noise)
	expect(t, "whole", bandwright(t, dir, "render", "wren.yaml", "in.wav", "-o", "whole"), exitKept)
	data, err := os.ReadFile(filepath.Join(dir, "in.wav"))
	if err != nil {
		t.Fatal(err)
	}
	head := strings.Index(string(data), "data") + 4
	for name, size := range map[string]string{"stopped": "\x00\x00\x00\x00", "piped": "\xFF\xFF\xFF\xFF"} {
		put(t, filepath.Join(dir, "in.wav"), string(data[:head])+size+string(data[head+4:]))
		expect(t, name, bandwright(t, dir, "render", "wren.yaml", "in.wav", "-o", name), exitKept)
		_, want := played(t, filepath.Join(dir, "whole/wren_low.wav"))
		if _, got := played(t, filepath.Join(dir, name, "wren_low.wav")); len(want[0]) != 4800 || !slices.Equal(got[0], want[0]) {
			t.Errorf("%s: %d frames, or others than the %d of the whole file", name, len(got[0]), len(want[0]))
		}
	}
}

// What cannot be rendered is refused, and nothing is written.
func TestRenderRefuses(t *testing.T) {
	dir := place(t, "wren.yaml", small("wren", loose, "float32"), "siskinet.yaml", siskinet, "note.wav", "no samples here", "taken/wren_low.wav", "mine",
		"board.yaml", "bandwright: 1\nname: board\nways:\n  low:\n    gain: -3 dB\nboard: {}\n")
	shape := wave.Shape{RateHz: 48000, Channels: 1, Words: wave.Words{Bits: 16}, Frames: 480}
	recorded(t, filepath.Join(dir, "in.wav"), shape, noise)
	shape.RateHz = 22050
	recorded(t, filepath.Join(dir, "slow.wav"), shape, noise)
	whole, err := os.ReadFile(filepath.Join(dir, "in.wav"))
	if err != nil {
		t.Fatal(err)
	}
	put(t, filepath.Join(dir, "cut.wav"), string(whole[:len(whole)-100]))
	head := strings.Index(string(whole), "data") + 4
	put(t, filepath.Join(dir, "none.wav"), string(whole[:head])+"\x00\x00\x00\x00")
	before := tree(t, dir)
	for _, c := range []struct {
		args string
		code int
		want string
	}{
		{"wren.yaml gone.wav -o out", exitRefused, "there is no file gone.wav"},
		{"wren.yaml taken -o out", exitRefused, "taken is a folder; name a WAV file in it"},
		{"wren.yaml note.wav -o out", exitRefused, "note.wav cannot be rendered: it is no RIFF file"},
		{"wren.yaml cut.wav -o out", exitRefused, "cut.wav cannot be rendered: it ends after 430 of 480 frames"},
		{"wren.yaml none.wav -o out", exitRefused, "none.wav cannot be rendered: it has no samples"},
		{"wren.yaml slow.wav -o out", exitRefused, "slow.wav has 22.05 kHz, and wren.yaml has filters for 48 kHz: resample"},
		{"wren.yaml in.wav -o out --format float64x", exitRefused, "has no filters in `float64x`; did you mean `float64`?"},
		{"wren.yaml in.wav -o out --with placement=wall", exitRefused, "wren.yaml has no settings"},
		{"siskinet.yaml in.wav -o out --with placment=wall", exitRefused, "has no setting `placment`; did you mean `placement`?"},
		{"siskinet.yaml in.wav -o out --with placement=wal", exitRefused, "placement has no choice `wal`; did you mean `wall`?"},
		{"siskinet.yaml in.wav -o out --with placement", exitRefused, "--with takes SETTING=CHOICE, not `placement`"},
		{"siskinet.yaml in.wav -o out --with placement=wall --with placement=free", exitRefused, "names the setting `placement` twice"},
		{"board.yaml in.wav -o out", exitRefused, "board.yaml has no `digital` block"},
		{"gone.yaml in.wav -o out", exitRefused, "there is no file gone.yaml"},
		{"wren.yaml in.wav -o taken", exitFailed, "wren_low.wav exists and is no earlier render of wren"},
		{"wren.yaml in.wav -o in.wav", exitRefused, "in.wav is a file"},
	} {
		expect(t, c.args, bandwright(t, dir, append([]string{"render"}, strings.Fields(c.args)...)...), c.code, c.want)
		same(t, c.args, dir, before)
	}
}

// A render replaces the one before it; an interrupted one leaves it.
func TestRenderAgain(t *testing.T) {
	dir := place(t, "wren.yaml", small("wren", loose, "float32"))
	shape := wave.Shape{RateHz: 48000, Channels: 1, Words: wave.Words{Bits: 24}, Frames: 4800}
	recorded(t, filepath.Join(dir, "in.wav"), shape, noise)
	expect(t, "first", bandwright(t, dir, "render", "wren.yaml", "in.wav", "-o", "out"), exitKept)
	first := tree(t, dir)
	recorded(t, filepath.Join(dir, "in.wav"), shape, func(c, i int) float64 { return -noise(c, i) })
	expect(t, "again", bandwright(t, dir, "render", "wren.yaml", "in.wav", "-o", "out"), exitKept)
	second := tree(t, dir)
	if first["out/wren_low.wav"] == second["out/wren_low.wav"] || len(first) != len(second) {
		t.Errorf("another recording gave %d files, and the same", len(second))
	}
	pipe := filepath.Join(dir, "pipe.wav")
	if err := syscall.Mkfifo(pipe, 0o644); err != nil {
		t.Fatal(err)
	}
	before := tree(t, dir)
	var errs bytes.Buffer
	cmd := exec.Command(binary, "render", "wren.yaml", "pipe.wav", "-o", "out")
	cmd.Dir, cmd.Stderr = dir, &errs
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	w, err := os.OpenFile(pipe, os.O_WRONLY, 0)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := w.WriteString(first["in.wav"][:2000]); err != nil {
		t.Fatal(err)
	}
	cmd.Process.Signal(os.Interrupt)
	cmd.Wait()
	w.Close()
	if cmd.ProcessState.ExitCode() != exitFailed || !strings.Contains(errs.String(), "interrupted") {
		t.Errorf("exit code %d, %s", cmd.ProcessState.ExitCode(), &errs)
	}
	same(t, "interrupted", dir, before)
}

// Long recordings take no more memory than short ones: 100 seconds of two channels would
// be 77 MB in double precision as they come in, and 154 MB as they go out.
func TestRenderInConstantMemory(t *testing.T) {
	dir := place(t, "wren.yaml", small("wren", loose, "float32"))
	recorded(t, filepath.Join(dir, "in.wav"), wave.Shape{RateHz: 48000, Channels: 2, Words: wave.Words{Bits: 16}, Frames: 100 * 48000},
		func(c, i int) float64 { return float64((i+c)%97-48) / 128 })
	cmd := exec.Command(binary, "render", "wren.yaml", "in.wav", "-o", "out")
	cmd.Dir = dir
	var out strings.Builder
	cmd.Stdout = &out
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	ended := make(chan error, 1)
	go func() { ended <- cmd.Wait() }()
	const allowed = 100 << 10
	if got := mostInUse(cmd.Process.Pid); got <= 0 || got > allowed {
		t.Errorf("%d KiB in use, at most %d expected", got, allowed)
	}
	if err := <-ended; err != nil || !strings.Contains(out.String(), "100 s") {
		t.Errorf("%v: %s", err, out.String())
	}
}

// mostInUse is the most memory that a process has in use until it ends (KiB), by proc(5).
// What wait(2) tells of it counts what this process had when it began the other.
func mostInUse(pid int) (most int) {
	for ; ; time.Sleep(5 * time.Millisecond) {
		text, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", pid))
		_, of, found := strings.Cut(string(text), "VmHWM:")
		if err != nil || !found {
			return most
		}
		fmt.Sscan(of, &most)
	}
}

// A layout plays as its engine does: what the chain of its words computes, behind the
// delay that stands outside.
func TestRenderOfALayout(t *testing.T) {
	text := strings.Replace(siskinet, "  method: bilinear\n", "  method: bilinear\n  layouts: [{name: rom, word: 30 bit, fraction: 25 bit, data: 24 bit, accumulator: 60 bit}]\n", 1)
	dir := place(t, "siskinet.yaml", text)
	const frames = 9000
	recorded(t, filepath.Join(dir, "in.wav"), wave.Shape{RateHz: 48000, Channels: 1, Words: wave.Words{Bits: 16}, Frames: frames}, noise)
	expect(t, "render", bandwright(t, dir, "render", "siskinet.yaml", "in.wav", "-o", "out", "--format", "rom"), exitKept, "digital 48 kHz rom", "24 bit")
	b, faults, err := compiler.Compile(context.Background(), "siskinet.yaml", []byte(text), nil)
	if b == nil {
		t.Fatal(faults, err)
	}
	i := slices.IndexFunc(b.Digital, func(d compiler.Digital) bool { return d.RateHz == 48000 && d.Laid != nil })
	for k, name := range []string{"low", "high"} {
		c := b.Digital[i].Laid.Chains[k]
		want := make([]int64, frames)
		for n := range want {
			want[n] = c.Sample(noise(0, n))
		}
		c.NewMachine(biquad.Combination{0, 0}).Run(want)
		shape, x := played(t, filepath.Join(dir, "out", "siskinet_"+name+".wav"))
		if shape.Words != (wave.Words{Bits: 24}) || (k == 1) != (c.DelaySamples == 24) {
			t.Errorf("%s: %v, %d samples of delay", name, shape.Words, c.DelaySamples)
		}
		for n, y := range x[0] {
			w := 0.0
			if n >= c.DelaySamples {
				w = float64(want[n-c.DelaySamples]) / (1 << 23)
			}
			if y != w {
				t.Fatalf("%s, frame %d: %g, want %g", name, n, y, w)
			}
		}
	}
}

// Every number format says how a file keeps its samples without loss.
func TestEveryFormatCanBeStored(t *testing.T) {
	dir := t.TempDir()
	for _, f := range number.Formats {
		path := filepath.Join(dir, f.Name+".wav")
		want := func(_, i int) float64 {
			x := f.Round(math.Sin(float64(i)))
			if full := f.C.FullScale; full > 1 { // samples are whole numbers
				x = math.Floor(x*full) / full
			}
			return x
		}
		shape := wave.Shape{RateHz: 48000, Channels: 1, Words: wave.Words(f.Stored), Frames: 1000}
		recorded(t, path, shape, want)
		got, x := played(t, path)
		if got != shape {
			t.Errorf("%s: %+v", f.Name, got)
		}
		for i, y := range x[0] {
			if y != want(0, i) {
				t.Fatalf("%s: %g came back as %g", f.Name, want(0, i), y)
			}
		}
	}
}
