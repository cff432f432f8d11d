package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"

	"bandwright/compiler/language"
	"bandwright/compiler/sweep"
	"bandwright/compiler/wave"
	"bandwright/compiler/words"
)

// Stimulus is the verb that writes what a finished unit is measured with.
type Stimulus struct {
	Out string `short:"o" required:"" placeholder:"FILE.wav" help:"The file to write."`

	Rate   string `default:"48 kHz" placeholder:"RATE" help:"Sample rate. The default is 48 kHz."`
	Length string `default:"5 s" placeholder:"TIME" help:"How long the sweep takes, 1 s to 60 s: a longer one measures with less noise. The default is 5 s."`
	Level  string `default:"-20 dBFS" placeholder:"LEVEL" help:"Level of the sine, where a full-scale one has 0 dBFS. The default is -20 dBFS."`
}

// Help is printed below the flags.
func (Stimulus) Help() string {
	return `Writes a sine that rises exponentially from 10 Hz to 24 kHz, or 0.49 of the rate, with a soft start and end, between 0.5 s and 1.5 s of silence: one channel of ` +
		`24 bits. Play it, record what comes out of each way from beginning to end at the same rate, and, for a reference, what comes back by a cable in the place of the unit; ` +
		"then `bandwright check SPEC --measured WAY=FILE --reference LOOP.wav`. " + `The file says in its comment what it is. An earlier stimulus is replaced, no other file is.

Caution: a sweep can destroy drivers and hearing. Measure boards without loudspeakers. A way with its driver: start from the lowest level, ` +
		`treble behind a protective capacitor, and never below its crossover at level.

Examples:

    bandwright stimulus -o sweep.wav
    bandwright stimulus -o sweep.wav --rate "96 kHz" --length "10 s" --level=-40dBFS`
}

// markStimulus begins the comment in every file that this verb writes.
const markStimulus = "bandwright stimulus: "

// Run writes the stimulus.
func (v Stimulus) Run(ctx context.Context, con console) error {
	s, err := v.sweep()
	if err != nil {
		return err
	}
	dir, base := filepath.Split(v.Out)
	if base == "" {
		return refused("-o needs the name of a file, not of a folder")
	}
	if err := mayReplaceStimulus(v.Out); err != nil {
		return err
	}
	comment := markStimulus + s.String() + ". " + sweep.Cautions
	data, err := waveFile(wave.Shape{RateHz: s.RateHz, Channels: 1, Words: wave.Words{Bits: 24}}, comment, [][]float64{s.Samples()})
	if err != nil {
		return failed("%v", err)
	}
	if err := replace(ctx, filepath.Clean(dir), base, data); err != nil {
		return err
	}
	lines := words.Wrap(fmt.Sprintf("wrote %s: %s", v.Out, s), "", "  ", summaryWidth)
	if s.LevelDBFS > sweep.DefaultDBFS {
		lines = append(lines, words.Wrap(fmt.Sprintf("caution: %s is %s above the usual level", words.Level(s.LevelDBFS, "dBFS"), words.Three(s.LevelDBFS-sweep.DefaultDBFS)+" dB"), "", "  ", summaryWidth)...)
	}
	lines = append(lines, words.Wrap(strings.Replace(sweep.Cautions, "CAUTION", "caution", 1), "", "  ", summaryWidth)...)
	if _, err := fmt.Fprintln(con.out, strings.Join(lines, "\n")); err != nil {
		return failed("the result cannot be printed: %v", reason(err))
	}
	return nil
}

// sweep is what the command line asks for.
func (v Stimulus) sweep() (sweep.Sweep, error) {
	rate, fault := language.Quantity(v.Rate, "`--rate`", "48 kHz", language.Frequency, sweep.LowestRate, sweep.HighestRate)
	if fault != nil {
		return sweep.Sweep{}, refused("%s; %s", fault.Message, fault.Right)
	}
	if rate != math.Trunc(rate) {
		return sweep.Sweep{}, refused("--rate %s is no whole number of Hz", v.Rate)
	}
	length, fault := language.Quantity(v.Length, "`--length`", "5 s", language.Time, sweep.ShortestS, sweep.LongestS)
	if fault != nil {
		return sweep.Sweep{}, refused("%s; %s", fault.Message, fault.Right)
	}
	level, fault := language.Quantity(v.Level, "`--level`", "-20 dBFS", language.FullScale, sweep.QuietestDBFS, sweep.LoudestDBFS)
	if fault != nil {
		return sweep.Sweep{}, refused("%s; %s", fault.Message, fault.Right)
	}
	return sweep.New(int(rate), length, level), nil
}

// mayReplaceStimulus says no where a file stands in the way that is no stimulus.
func mayReplaceStimulus(name string) error {
	f, err := os.Open(name)
	if errors.Is(err, os.ErrNotExist) {
		return nil
	}
	if err == nil {
		defer f.Close()
		if w, err := wave.NewReader(f); err == nil && strings.HasPrefix(w.Comment, markStimulus) {
			return nil
		}
	}
	return refused("%s exists and is no earlier stimulus: move it, or choose another name", name)
}

// waveFile is a file of samples in memory.
func waveFile(shape wave.Shape, comment string, channels [][]float64) ([]byte, error) {
	m := &memory{}
	w, err := wave.NewWriter(m, shape, comment)
	if err == nil {
		err = w.Write(channels)
	}
	if err == nil {
		err = w.Close()
	}
	return m.data, err
}

// memory is a file in memory.
type memory struct {
	data []byte
	at   int
}

func (m *memory) Write(b []byte) (int, error) {
	if more := m.at + len(b) - len(m.data); more > 0 {
		m.data = append(m.data, make([]byte, more)...)
	}
	copy(m.data[m.at:], b)
	m.at += len(b)
	return len(b), nil
}

func (m *memory) Seek(to int64, whence int) (int64, error) {
	if whence != io.SeekStart {
		return 0, errors.New("only from the start")
	}
	m.at = int(to)
	return to, nil
}
