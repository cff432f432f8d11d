package main

import (
	"bytes"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"bandwright/compiler/wave"
)

// sweepFile reads a file of one channel.
func sweepFile(t *testing.T, path string) (*wave.Reader, []float64) {
	t.Helper()
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	r, err := wave.NewReader(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	x := [][]float64{make([]float64, r.Frames)}
	if n, err := r.Read(x); err != nil || n != int(r.Frames) {
		t.Fatal(n, err)
	}
	return r, x[0]
}

// The stimulus has the level, rate and length that are asked for, begins and ends softly,
// and says in file, help and output what it can do to drivers and ears.
func TestStimulus(t *testing.T) {
	dir := place(t, "other.wav", "mine")
	cautions := []string{"destroy drivers and hearing", "without loudspeakers", "start from the lowest level", "protective capacitor", "below its crossover"}
	r := bandwright(t, dir, "stimulus", "-o", "a/sweep.wav")
	expect(t, "written", r, exitKept, "wrote a/sweep.wav")
	said := strings.Join(strings.Fields(r.out), " ")
	file, x := sweepFile(t, filepath.Join(dir, "a/sweep.wav"))
	help := strings.Join(strings.Fields(bandwright(t, dir, "stimulus", "--help").out), " ")
	for _, c := range cautions {
		for where, text := range map[string]string{"output": said, "file": file.Comment, "help": help} {
			if !strings.Contains(text, c) {
				t.Errorf("the %s does not say %q: %s", where, c, text)
			}
		}
	}
	if file.RateHz != 48000 || file.Channels != 1 || file.Words != (wave.Words{Bits: 24}) || len(x) != 7*48000 {
		t.Errorf("%+v, %d frames", file.Shape, len(x))
	}
	peak, early, late := 0.0, 0.0, 0.0
	for i, v := range x {
		peak = math.Max(peak, math.Abs(v))
		switch at := float64(i) / 48000; {
		case at < 0.51:
			early = math.Max(early, math.Abs(v))
		case at > 5.499:
			late = math.Max(late, math.Abs(v))
		}
	}
	if math.Abs(20*math.Log10(peak)+20) > 0.01 || early > 0.0005 || late > 0.0005 {
		t.Errorf("peak %g, in the first 10 ms %g, in the last %g", peak, early, late)
	}
	expect(t, "again, louder", bandwright(t, dir, "stimulus", "-o", "a/sweep.wav", "--level=-6 dBFS", "--rate", "96 kHz", "--length", "2 s"), exitKept, "14.0 dB above the usual level")
	if file, x = sweepFile(t, filepath.Join(dir, "a/sweep.wav")); file.RateHz != 96000 || len(x) != 4*96000 {
		t.Errorf("%+v, %d frames", file.Shape, len(x))
	}
	before := tree(t, dir)
	for _, c := range []struct {
		args []string
		code int
		want string
	}{
		{[]string{"-o", "other.wav"}, exitRefused, "no earlier stimulus"},
		{[]string{"-o", "x.wav", "--level=-20 dB"}, exitRefused, "-20 dBFS"},
		{[]string{"-o", "x.wav", "--level=0 dBFS"}, exitRefused, "-1 dBFS"},
		{[]string{"-o", "x.wav", "--length", "1 h"}, exitRefused, "--length"},
		{[]string{"-o", "x.wav", "--rate", "48.0001 kHz"}, exitRefused, "whole number"},
		{[]string{"-o", "x/"}, exitRefused, "name of a file"},
	} {
		r := bandwright(t, dir, append([]string{"stimulus"}, c.args...)...)
		if r.code != c.code || !strings.Contains(r.err, c.want) {
			t.Errorf("%v: code %d: %s", c.args, r.code, r.err)
		}
	}
	same(t, "refused", dir, before)
}
