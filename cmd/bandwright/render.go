package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"slices"
	"strings"

	"bandwright/biquad"
	"bandwright/compiler"
	"bandwright/compiler/language"
	"bandwright/compiler/parallel"
	"bandwright/compiler/wave"
	"bandwright/compiler/words"
)

// Render is the verb that plays a recording through the filters into files.
type Render struct {
	Spec string `arg:"" name:"SPEC" help:"The spec, a YAML file with a digital block."`
	In   string `arg:"" name:"IN.wav" help:"The recording, a WAV file at one of the spec's sample rates. Each channel is filtered by itself."`

	Out    string   `short:"o" required:"" placeholder:"DIR" help:"Folder for the files, created if missing."`
	Format string   `placeholder:"FORMAT" help:"Number format of the arithmetic: ${formats}, or a layout of the spec. Without it the spec's first format, or layout where it has no format."`
	With   []string `placeholder:"SETTING=CHOICE" help:"Play with another choice of a setting than its first; may be given again, or with commas."`
}

// Help is printed below the flags.
func (Render) Help() string {
	return `Writes NAME_WAY.wav for each way, what the emitted C puts out bit for bit, and NAME_sum.wav, the sum of the ways in double precision, ` +
		`rounded once. As on the device the start fades in over digital.fade. The files are as long as the recording. RMS is re a sample of full scale: a full-scale sine has -3.01 dBFS. ` +
		`Earlier renders of the same spec are replaced, other files never.

Caution: the files have the level of the converters' outputs, and those of low ways are full of bass. Listen at a low level first; ` +
		`play the file of a way into no driver but its own.

Examples:

    bandwright render specs/heron.yaml music.wav -o listen
    bandwright render specs/heron.yaml music.wav -o listen --format float32 --with placement=wall`
}

// Run renders.
func (v Render) Run(ctx context.Context, con console) error {
	if v.Out == "" {
		return refused("-o needs the name of a folder")
	}
	src, err := read(ctx, v.Spec)
	if err != nil {
		return err
	}
	b, err := told(ctx, con, v.Spec, func(ctx context.Context) (*compiler.Build, []language.Fault, error) {
		return compiler.Filters(ctx, v.Spec, src, folderOf(v.Spec))
	})
	if err != nil {
		return err
	}
	if len(b.Digital) == 0 {
		return refused("%s has no `digital` block, so there are no digital filters to play through", v.Spec)
	}
	c, err := v.combination(b)
	if err != nil {
		return err
	}
	var in recording
	if err := interruptible(ctx, func() (err error) { in, err = openRecording(v.In); return err }); err != nil {
		return err
	}
	defer in.file.Close()
	d, err := v.filters(b, in.RateHz)
	if err != nil {
		return err
	}
	r := newRendering(b, d, c, in)
	if err := r.write(ctx, con, v.Out); err != nil {
		return err
	}
	return nil
}

// combination is the choices that the command line asks for.
func (v Render) combination(b *compiler.Build) (biquad.Combination, error) {
	return chosen(b, v.Spec, v.With)
}

// chosen is the combination of the choices of --with, for a spec in a file.
func chosen(b *compiler.Build, file string, choices []string) (biquad.Combination, error) {
	c := make(biquad.Combination, len(b.Settings))
	var names []string
	for _, s := range b.Settings {
		names = append(names, s.Name)
	}
	given := map[string]bool{}
	for _, with := range choices {
		name, choice, found := strings.Cut(with, "=")
		name, choice = strings.TrimSpace(name), strings.TrimSpace(choice)
		at := slices.Index(names, name)
		switch {
		case !found:
			return nil, refused("--with takes SETTING=CHOICE, not %s", code(with))
		case len(names) == 0:
			return nil, refused("--with %s: %s has no settings", with, file)
		case at < 0:
			return nil, refused("--with: %s has no setting %s; %s", file, code(name), meant(name, names))
		case given[name]:
			return nil, refused("--with names the setting %s twice", code(name))
		}
		given[name] = true
		k := slices.IndexFunc(b.Settings[at].Choices, func(c string) bool { return unspaced(c) == unspaced(choice) })
		if k < 0 {
			return nil, refused("--with: %s has no choice %s; %s", name, code(choice), meant(choice, b.Settings[at].Choices))
		}
		c[at] = uint8(k)
	}
	return c, nil
}

// unspaced is a choice as the shell may leave it, "-1.5 dB" as "-1.5dB".
func unspaced(choice string) string { return strings.ReplaceAll(choice, " ", "") }

// meant is what would be right instead of a name that does not exist.
func meant(name string, names []string) string {
	if near := language.Nearest(name, names); near != "" {
		return "did you mean " + code(near) + "?"
	}
	return "there are " + words.List(names)
}

// filters are those at a rate (Hz) and in the format that the command line asks for.
func (v Render) filters(b *compiler.Build, rateHz int) (*compiler.Digital, error) {
	format := v.Format
	if of := b.Spec.Digital; format == "" && len(of.Formats) > 0 {
		format = of.Formats[0]
	} else if format == "" {
		format = of.Layouts[0].Name
	}
	var rates, formats []string
	for i := range b.Digital {
		d := &b.Digital[i]
		if d.RateHz == float64(rateHz) && d.Format.Name == format {
			return d, nil
		}
		rates, formats = append(rates, words.Rate(d.RateHz)), append(formats, d.Format.Name)
	}
	if formats = words.Once(formats); !slices.Contains(formats, format) {
		return nil, refused("--format: %s has no filters in %s; %s", v.Spec, code(format), meant(format, formats))
	}
	return nil, refused("%s has %s, and %s has filters for %s: resample the recording, or add the rate to digital.rates",
		v.In, words.Rate(float64(rateHz)), v.Spec, words.List(words.Once(rates)))
}

// interruptible waits for work that may wait for a pipe, or for an interruption: then the
// work is left to end with the program.
func interruptible(ctx context.Context, work func() error) error {
	done := make(chan error, 1)
	go func() { done <- work() }()
	select {
	case <-ctx.Done():
		return errInterrupted
	case err := <-done:
		return err
	}
}

// recording is a WAV file that is open.
type recording struct {
	*wave.Reader
	file *os.File
	name string
}

// openRecording opens a recording and reads its head. What is wrong with the file is a
// slip of the user's.
func openRecording(name string) (recording, error) {
	f, err := os.Open(name)
	switch {
	case errors.Is(err, os.ErrNotExist):
		return recording{}, refused("there is no file %s", name)
	case err != nil:
		return recording{}, failed("cannot read %s: %v", name, reason(err))
	}
	if info, err := f.Stat(); err == nil && info.IsDir() {
		f.Close()
		return recording{}, refused("%s is a folder; name a WAV file in it", name)
	}
	r, err := wave.NewReader(f)
	if err != nil {
		f.Close()
		return recording{}, unreadable(name, err)
	}
	return recording{r, f, name}, nil
}

// unreadable is an error of package wave as an outcome.
func unreadable(name string, err error) error {
	var path *os.PathError
	if errors.As(err, &path) {
		return failed("cannot read %s: %v", name, path.Err)
	}
	return refused("%s cannot be rendered: %v", name, err)
}

// blockFrames is how many frames are rendered at once: a whole number of ticks, and far
// more work than it takes to start goroutines.
const blockFrames = 1 << 13

// player is the arithmetic of one channel.
type player interface {
	Run(in []float64) [][]float64
	Garbage() bool
}

// newPlayer is that of a channel of a realisation at rest, in a combination of settings.
func newPlayer(b *compiler.Build, d *compiler.Digital, with biquad.Combination, channel int) player {
	if d.Laid != nil {
		return newEnginePlayer(d.Laid, with)
	}
	choices := make([]int, len(b.Settings))
	for i, s := range b.Settings {
		choices[i] = len(s.Choices)
	}
	m := d.Format.NewMachine(d.System, d.InputGain, d.RateHz, b.Spec.Digital.FadeS, choices)
	m.OfChannel(channel)
	m.Set(with)
	return m
}

// rendering is a recording on its way through the filters.
type rendering struct {
	b        *compiler.Build
	d        *compiler.Digital
	with     biquad.Combination
	in       recording
	channels []player

	block   [][]float64   // [channel]
	outputs []output      // the ways, then the sum
	played  [][][]float64 // [channel][way]
	frames  int64
	limit   float64   // the largest sample of words that stop there; 0 of floating point
	stopped int64     // samples of the recording beyond full scale, which such words do not hold
	unread  int64     // samples that are no numbers, which such words play as silence
	dead    []int64   // by channel, the frame from which on garbage keeps it silent; -1 for none
	killed  []float64 // by channel, the sample of that frame
}

// output is one file.
type output struct {
	name  string // of the way, or "sum"
	file  *os.File
	wave  *wave.Writer
	block [][]float64
	peak  float64
	power float64 // sum of squares
	above int64   // samples beyond full scale, or, of words that stop there, at it
}

const sumName = "sum"

func newRendering(b *compiler.Build, d *compiler.Digital, with biquad.Combination, in recording) *rendering {
	r := &rendering{b: b, d: d, with: with, in: in}
	r.limit = r.largest()
	for c := range in.Channels {
		r.channels = append(r.channels, newPlayer(b, d, with, c))
		r.block = append(r.block, make([]float64, blockFrames))
		r.dead, r.killed = append(r.dead, -1), append(r.killed, 0)
	}
	r.played = make([][][]float64, in.Channels)
	for _, w := range b.Spec.Ways {
		r.outputs = append(r.outputs, output{name: w.Name})
	}
	r.outputs = append(r.outputs, output{name: sumName})
	for i := range r.outputs {
		r.outputs[i].block = make([][]float64, in.Channels)
	}
	return r
}

// file is the name of an output's file.
func (r *rendering) file(o *output) string { return r.b.Spec.Name + "_" + o.name + ".wav" }

// play renders the recording from its first to its last frame.
func (r *rendering) play(ctx context.Context, con console) error {
	line := startProgress(con.err, "rendering "+r.in.name)
	defer line.stop()
	for {
		n, err := r.in.Read(r.block)
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return unreadable(r.in.name, err)
		}
		r.through(n)
		for i := range r.outputs {
			if err := r.outputs[i].wave.Write(r.outputs[i].block); errors.Is(err, wave.ErrTooLong) {
				return refused("%s is too long: %v, and so would %s", r.in.name, err, r.file(&r.outputs[i]))
			} else if err != nil {
				return err
			}
		}
		r.frames += int64(n)
		if ctx.Err() != nil {
			return errInterrupted
		}
		if r.in.Frames > 0 {
			line.head(fmt.Sprintf("rendering %s: %d %%", r.in.name, 100*r.frames/r.in.Frames))
		}
	}
}

// through takes n frames through the filters of each channel, and adds the ways up.
func (r *rendering) through(n int) {
	if r.limit > 0 {
		r.received(n)
	}
	parallel.Each(len(r.channels), func(c int) {
		in := r.block[c][:n]
		r.played[c] = r.channels[c].Run(in)
		if r.dead[c] < 0 && r.channels[c].Garbage() {
			at := max(0, slices.IndexFunc(in, garbage))
			r.dead[c], r.killed[c] = r.frames+int64(at), in[at]
		}
	})
	sum := len(r.outputs) - 1
	for c := range r.channels {
		total := make([]float64, n)
		for w := range r.played[c] {
			r.outputs[w].block[c] = r.played[c][w]
			for i, y := range r.played[c][w] {
				total[i] += y
			}
		}
		if r.d.Laid == nil {
			for i := range total {
				total[i] = r.d.Format.Round(total[i])
			}
		}
		r.outputs[sum].block[c] = total
	}
	for i := range r.outputs {
		r.outputs[i].measure(r.limit)
	}
}

// garbage reports whether a sample is none: as the emitted code has it, from leastGarbage on.
func garbage(x float64) bool { return !(math.Abs(x) < leastGarbage) }

const leastGarbage = 1 << 64

// largest is the largest sample of the realisation's words, which stop there; 0 of floating point.
func (r *rendering) largest() float64 {
	bits := 0
	switch dither := r.b.Spec.Digital.Dither; {
	case r.d.Laid != nil:
		bits = r.d.Laid.Layout.Data
	case r.d.Format.Stored.Float:
		return 0
	case dither > 0:
		bits = dither
	default:
		bits = r.d.Format.Stored.Bits
	}
	return 1 - math.Ldexp(1, 1-bits)
}

// received counts of n frames of the recording what words that stop at full scale do not hold, and
// puts silence where there is no number.
func (r *rendering) received(n int) {
	for c := range r.block {
		for i, x := range r.block[c][:n] {
			switch {
			case math.IsNaN(x): // what becomes of it in a word would depend on the machine
				r.block[c][i] = 0
				r.unread++
			case math.Abs(x) > 1:
				r.stopped++
			}
		}
	}
}

// measure takes a block into the figures of an output, whose words stop at limit, if not 0.
func (o *output) measure(limit float64) {
	for _, c := range o.block {
		for _, y := range c {
			o.peak = math.Max(o.peak, math.Abs(y))
			o.power += y * y
			if math.Abs(y) > 1 || limit > 0 && (y >= limit || y <= -1) {
				o.above++
			}
		}
	}
}
