package main

import (
	bits "encoding/binary"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"math/cmplx"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"bandwright/biquad"
	"bandwright/compiler"
	"bandwright/compiler/sweep"
	"bandwright/compiler/wave"
)

// desked has a digital spec, the stimulus, and what its ways make of it by the program's own
// simulation.
func desked(t *testing.T) string {
	t.Helper()
	dir := place(t, "siskinet.yaml", siskinet)
	s := sweep.New(48000, 1, -12)
	data, err := waveFile(wave.Shape{RateHz: 48000, Channels: 1, Words: wave.Words{Bits: 24}}, "", [][]float64{s.Samples()})
	if err == nil {
		err = os.WriteFile(filepath.Join(dir, "sweep.wav"), data, 0o666)
	}
	if err != nil {
		t.Fatal(err)
	}
	expect(t, "render", bandwright(t, dir, "render", "siskinet.yaml", "sweep.wav", "-o", "out"), exitKept, "wrote")
	recordedOtherwise(t, dir, s.Samples())
	return dir
}

// recordedOtherwise writes the outputs of desked as they come from other desks: later, louder, all of them in one file.
func recordedOtherwise(t *testing.T, dir string, played []float64) {
	t.Helper()
	read := func(way string) []float64 {
		x, _, err := samples(t.Context(), filepath.Join(dir, "out", "siskinet_"+way+".wav"))
		if err != nil {
			t.Fatal(err)
		}
		return x
	}
	low, high := read("low"), read("high")
	r := rand.New(rand.NewPCG(1, 2))
	hiss := func(x []float64) []float64 { // -84 dBFS
		x = slices.Clone(x)
		for i := range x {
			x[i] += 6e-5 * r.NormFloat64()
		}
		return x
	}
	louder := make([]float64, len(high))
	for i, v := range high {
		louder[i] = v * biquad.FromDB(2)
	}
	cut := func(x []float64) []float64 { return append(make([]float64, 0, len(low)), x...)[:len(low)] }
	for name, channels := range map[string][][]float64{
		"late":  {append(make([]float64, 48), high...)},
		"later": {append(make([]float64, 9600), high...)},
		"loud":  {louder},
		"hiss":  {hiss(low), hiss(high)},
		"still": {hiss(make([]float64, len(high)))},
		"all":   {low, cut(high), cut(append(slices.Clone(played), make([]float64, len(low))...))},
	} {
		data, err := waveFile(wave.Shape{RateHz: 48000, Channels: len(channels), Words: wave.Words{Bits: 32, Float: true}}, "", channels)
		if err := errors.Join(err, os.WriteFile(filepath.Join(dir, name+".wav"), data, 0o666)); err != nil {
			t.Fatal(err)
		}
	}
}

var ofSiskinet = []string{"check", "siskinet.yaml", "--reference", "sweep.wav", "--as", "48 kHz float32", "--measured"}

// A recorded digital output is judged like any realisation, in every format of the answer; what is
// connected or set otherwise than said is found.
func TestMeasuredDigital(t *testing.T) {
	dir := desked(t)
	with := func(what ...string) []string { return append(append([]string{}, ofSiskinet...), what...) }
	expect(t, "as said", bandwright(t, dir, with("low=out/siskinet_low.wav,high=out/siskinet_high.wav")...), exitKept, "KEPT", "nothing found, likelihood > 99.9 %", "placement: free")
	expect(t, "late", bandwright(t, dir, with("low=out/siskinet_low.wav,high=late.wav")...), exitBroken, "late beside the others: high by 1.00 ms")
	expect(t, "each late", bandwright(t, dir, with("low=out/siskinet_low.wav,high=late.wav", "--delay", "each")...), exitKept, "KEPT", "nothing found", "delays of ")
	expect(t, "much later", bandwright(t, dir, with("low=out/siskinet_low.wav,high=later.wav")...), exitKept, "KEPT", "the ways were recorded at different moments")
	expect(t, "both of one file", bandwright(t, dir, "check", "siskinet.yaml", "--reference", "all.wav:3", "--as", "48 kHz float32", "--measured", "low=all.wav:1,high=all.wav:2"), exitKept, "KEPT", "nothing found")
	expect(t, "with noise", bandwright(t, dir, with("low=hiss.wav:1,high=hiss.wav:2")...), exitKept, "KEPT", "nothing found")
	expect(t, "without a way", bandwright(t, dir, with("low=hiss.wav:1,high=still.wav")...), exitBroken, "diagnosis: high is silent: muted, or not connected, likelihood > 99.9 %")
	expect(t, "without its filters", bandwright(t, dir, with("low=sweep.wav,high=sweep.wav")...), exitBroken, "diagnosis: no filter runs: every output is the input as it is, likelihood > 99.9 %")
	expect(t, "without those of a way", bandwright(t, dir, with("low=out/siskinet_low.wav,high=sweep.wav")...), exitBroken, "diagnosis: high is the input as it is: its filters do not run, likelihood > 99.9 %")
	expect(t, "without a file", bandwright(t, dir, with("low=,high=still.wav")...), exitRefused, "--measured takes WAY=FILE, and `low=` names no file")
	expect(t, "which channel", bandwright(t, dir, with("low=all.wav,high=all.wav:2")...), exitRefused, "all.wav has 3 channels: say which one is meant, as in `all.wav:1`")
	expect(t, "no such channel", bandwright(t, dir, with("low=all.wav:4,high=all.wav:2")...), exitRefused, "all.wav has no channel 4, it has 3")
	expect(t, "one way louder", bandwright(t, dir, with("low=out/siskinet_low.wav,high=loud.wav")...), exitBroken, "low is 2.00 dB too quiet beside high, or that as much too loud")
	expect(t, "one way", bandwright(t, dir, with("high=out/siskinet_high.wav")...), exitKept, "KEPT")
	expect(t, "exchanged", bandwright(t, dir, with("high=out/siskinet_low.wav,low=out/siskinet_high.wav")...), exitBroken, "BROKEN", "low and high are exchanged, likelihood > 99.9 %")
	expect(t, "set otherwise", bandwright(t, dir, with("low=out/siskinet_low.wav,high=out/siskinet_high.wav", "--with", "placement=wall")...), exitBroken, "diagnosis: placement is at free, not at wall")
	r := bandwright(t, dir, with("low=out/siskinet_low.wav,high=out/siskinet_high.wav", "--with", "trim=-1.5dB", "--format", "json")...)
	var got report
	if err := json.Unmarshal([]byte(r.out), &got); err != nil || r.code != exitBroken {
		t.Fatal(r.code, err, r.out)
	}
	if u := got.Specs[0].Units; len(u) != 1 || u[0].Kept || u[0].Nothing > 0.001 || len(u[0].Hypotheses) == 0 || !strings.HasPrefix(u[0].Hypotheses[0].What, "trim is at 0 dB") || u[0].Hypotheses[0].Likelihood < 0.99 {
		t.Errorf("%s", r.out)
	}
	expect(t, "junit", bandwright(t, dir, with("low=out/siskinet_low.wav,high=out/siskinet_low.wav", "--format", "junit")...), exitBroken, "<failure", "as-built")
}

// Hum of the mains is told and refuses nothing where the way is not meant to be heard, nor does it go into the sum, which
// without it is kept; where it is in what is judged the recording is refused.
func TestMeasuredThroughHum(t *testing.T) {
	dir := desked(t)
	for _, way := range []string{"low", "high"} {
		x, rate, err := samples(t.Context(), filepath.Join(dir, "out", "siskinet_"+way+".wav"))
		if err != nil {
			t.Fatal(err)
		}
		for i := range x { // -34 dBFS, and its third harmonic, as of a transformer
			at := 2 * math.Pi * float64(i) / float64(rate)
			x[i] += 0.02*math.Sin(50*at+1) + 0.004*math.Sin(150*at)
		}
		data, err := waveFile(wave.Shape{RateHz: rate, Channels: 1, Words: wave.Words{Bits: 24}}, "", [][]float64{x})
		if err := errors.Join(err, os.WriteFile(filepath.Join(dir, way+"_hum.wav"), data, 0o666)); err != nil {
			t.Fatal(err)
		}
	}
	with := func(what string) ran {
		return bandwright(t, dir, append(slices.Clone(ofSiskinet), what)...)
	}
	expect(t, "beside what is judged", with("low=out/siskinet_low.wav,high=high_hum.wav"), exitKept, "KEPT", "nothing found, likelihood > 99.9 %",
		"high_hum.wav: it is noisy at 50 Hz, where nothing is meant to be heard")
	expect(t, "one way", with("high=high_hum.wav"), exitKept, "KEPT", "where nothing is meant to be heard")
	expect(t, "in what is judged", with("low=low_hum.wav,high=high_hum.wav"), exitRefused, "low_hum.wav: it is noisy: at 50 Hz")
	expect(t, "exchanged as well", with("low=out/siskinet_high.wav,high=low_hum.wav"), exitBroken, "low and high are exchanged")
}

// A folder of units gets a line each, the batch, and pairs.
func TestMeasuredUnits(t *testing.T) {
	dir := place(t, "siskinet.yaml", siskinet)
	src := []byte(siskinet)
	b, _, err := compiler.Compile(t.Context(), "siskinet.yaml", src, nil)
	if err != nil {
		t.Fatal(err)
	}
	d := &b.Digital[0]
	hz := biquad.Octaves(18, 20200, 24)
	c := make(biquad.Combination, len(b.Settings))
	if err := os.Mkdir(filepath.Join(dir, "units"), 0o777); err != nil {
		t.Fatal(err)
	}
	r := rand.New(rand.NewPCG(1, 1))
	for unit := range 5 {
		for w, way := range b.Spec.Ways {
			h := make([]complex128, len(hz))
			biquad.DigitalAt(h, d.System.Path(w), c, d.RateHz, hz)
			var text strings.Builder
			for i, f := range hz {
				db := biquad.DB(h[i]) + 0.1*float64(unit) + 0.002*r.NormFloat64()
				if unit == 1 || unit == 3 {
					db += 0.02 * math.Sin(math.Log(f))
				}
				fmt.Fprintf(&text, "%.6g\t%.6f\t%.4f\n", f, db, cmplx.Phase(h[i])*180/math.Pi)
			}
			put(t, filepath.Join(dir, "units", fmt.Sprintf("%04d_%s.txt", unit+1, way.Name)), text.String())
		}
	}
	as := strings.TrimPrefix(d.Name(), "digital ")
	expect(t, "units", bandwright(t, dir, "check", "siskinet.yaml", "--measured", "units", "--as", as), exitKept,
		"KEPT: all 5 units", "0003", "the level moved by +0.40 dB", "0002 and 0004 (")
	put(t, filepath.Join(dir, "units", "0006_low.txt"), "20 0 0\n")
	expect(t, "a way less", bandwright(t, dir, "check", "siskinet.yaml", "--measured", "units", "--as", as), exitRefused, "high was measured of 0001 and not of 0006")
}

// playing reads samples of 32 bits and plays them through channel 0 of the emitted code.
const playing = `#include <stdio.h>
#include "siskinet_float32.h"
static siskinet_state s;
int main(void)
{
    float x[64], low[64], high[64], low2[64], high2[64], y[128];
    const float *in[2] = { x, x };
    float *out[4] = { low, high, low2, high2 };
    size_t n, i;
    siskinet_init(&s, 48000u);
    while ((n = fread(x, sizeof x[0], 64, stdin)) > 0) {
        siskinet_run(&s, in, out, (int)n);
        for (i = 0; i < n; i++) { y[2 * i] = low[i]; y[2 * i + 1] = high[i]; }
        fwrite(y, sizeof y[0], 2 * n, stdout);
    }
    return 0;
}
`

// The emitted C, run in a process and recorded, passes; with one coefficient changed it does not.
func TestMeasuredCode(t *testing.T) {
	dir := desked(t)
	expect(t, "compile", bandwright(t, dir, "compile", "siskinet.yaml", "-o", "build"), exitKept, "wrote")
	put(t, filepath.Join(dir, "build/player.c"), playing)
	s := sweep.New(48000, 1, -12).Samples()
	recorded := func() {
		t.Helper()
		cc := exec.Command("gcc", "-O2", "-o", "player", "player.c", "siskinet_float32.c")
		cc.Dir = filepath.Join(dir, "build")
		if out, err := cc.CombinedOutput(); err != nil {
			t.Fatalf("gcc: %v\n%s", err, out)
		}
		run := exec.Command("./player")
		run.Dir = cc.Dir
		run.Stdin = strings.NewReader(string(words32(s)))
		out, err := run.Output()
		if err != nil || len(out) != 8*len(s) {
			t.Fatal(len(out), err)
		}
		for k, way := range []string{"low", "high"} {
			y := make([]float64, len(s))
			for i := range y {
				y[i] = float32At(out, 2*i+k)
			}
			data, err := waveFile(wave.Shape{RateHz: 48000, Channels: 1, Words: wave.Words{Bits: 24}}, "", [][]float64{y})
			if err := errors.Join(err, os.WriteFile(filepath.Join(dir, way+".wav"), data, 0o666)); err != nil {
				t.Fatal(err)
			}
		}
	}
	args := append(append([]string{}, ofSiskinet...), "low=low.wav,high=high.wav")
	recorded()
	expect(t, "as emitted", bandwright(t, dir, args...), exitKept, "KEPT", "nothing found")
	code := filepath.Join(dir, "build/siskinet_float32.c")
	text, err := os.ReadFile(code)
	if err != nil {
		t.Fatal(err)
	}
	_, table, _ := strings.Cut(string(text), "siskinet_sections_48000[")
	row := strings.Trim(regexp.MustCompile(`(?m)^    -?[0-9][^/]*,$`).FindString(table), " ,")
	numbers := strings.Split(row, ", ")
	for _, c := range []struct {
		at    int
		level string
	}{{0, "0 dB"}, {1, "fit"}} { // a wrong b0 may be all level
		changed := append([]string{}, numbers...)
		var v float64
		if _, err := fmt.Sscan(strings.TrimSuffix(changed[c.at], "f"), &v); err != nil {
			t.Fatal(err)
		}
		changed[c.at] = fmt.Sprintf("%.9gf", v*1.03)
		put(t, code, strings.Replace(string(text), row, strings.Join(changed, ", "), 1))
		recorded()
		expect(t, "one coefficient", bandwright(t, dir, append(args, "--level", c.level)...), exitBroken, "BROKEN", "as-compiled")
	}
}

// words32 are samples as words of floating point.
func words32(x []float64) []byte {
	var out []byte
	for _, v := range x {
		out = bits.LittleEndian.AppendUint32(out, math.Float32bits(float32(v)))
	}
	return out
}

func float32At(b []byte, i int) float64 {
	return float64(math.Float32frombits(bits.LittleEndian.Uint32(b[4*i:])))
}

// printedFigure is a figure of a page: its value, where it stands in the answer for programs, and its text.
var printedFigure = regexp.MustCompile(`<data value="([^"]*)" data-of="([^"]*)">([^<]*)</data>`)

// The page of finished units has the figures of the answer for programs, of one unit and of several; it is written whole or
// not at all, and an earlier one stays where the new one cannot be written.
func TestMeasuredPage(t *testing.T) {
	dir := desked(t)
	if err := os.Mkdir(filepath.Join(dir, "units"), 0o777); err != nil {
		t.Fatal(err)
	}
	for unit := range 3 {
		for _, way := range []string{"low", "high"} {
			data, err := os.ReadFile(filepath.Join(dir, "out", "siskinet_"+way+".wav"))
			if err != nil {
				t.Fatal(err)
			}
			put(t, filepath.Join(dir, "units", fmt.Sprintf("%d_%s.wav", unit+1, way)), string(data))
		}
	}
	for _, c := range []struct {
		measured []string
		least    int
		code     int
	}{
		{[]string{"low=out/siskinet_low.wav,high=out/siskinet_high.wav", "--with", "placement=wall"}, 15, exitBroken},
		{[]string{"units"}, 40, exitKept},
	} {
		args := append(append(append([]string{}, ofSiskinet...), c.measured...), "--html", "pages/unit.html", "--format", "json")
		r := bandwright(t, dir, args...)
		var answer any
		if err := json.Unmarshal([]byte(r.out), &answer); err != nil || r.code != c.code {
			t.Fatal(r.code, err, r.out, r.err)
		}
		page, err := os.ReadFile(filepath.Join(dir, "pages", "unit.html"))
		if err != nil {
			t.Fatal(err)
		}
		figures := printedFigure.FindAllStringSubmatch(string(page), -1)
		for _, f := range figures {
			got, err := strconv.ParseFloat(f[1], 64)
			if want, ok := found(answer, f[2]).(float64); err != nil || !ok || got != want {
				t.Errorf("%s: %s on the page, %v in the answer", f[2], f[1], found(answer, f[2]))
			}
		}
		if len(figures) < c.least {
			t.Errorf("%d figures", len(figures))
		}
		if left, _ := filepath.Glob(filepath.Join(dir, "pages", "*")); len(left) != 1 {
			t.Errorf("left: %v", left)
		}
	}
	expect(t, "a folder in the way", bandwright(t, dir, append(append([]string{}, ofSiskinet...), "low=out/siskinet_low.wav", "--html", "units")...), exitFailed, "units is not a regular file: it was not changed")
	expect(t, "neither", bandwright(t, dir, "check", "siskinet.yaml", "--html", "x.html"), exitRefused, "--html needs `--against DIR`", "--measured")
}

// found is what stands at a place such as specs[0].units[1].level_db; nil where nothing does.
func found(v any, place string) any {
	for _, part := range strings.Split(strings.ReplaceAll(place, "[", ".["), ".") {
		switch x := v.(type) {
		case map[string]any:
			v = x[part]
		case []any:
			var i int
			if _, err := fmt.Sscanf(part, "[%d]", &i); err != nil || i >= len(x) {
				return nil
			}
			v = x[i]
		default:
			return nil
		}
	}
	return v
}
