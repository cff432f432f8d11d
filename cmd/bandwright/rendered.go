package main

import (
	"context"
	"errors"
	"fmt"
	"math"
	"strings"

	"bandwright/biquad"
	"bandwright/compiler/verify"
	"bandwright/compiler/wave"
	"bandwright/compiler/words"
)

// write renders into a folder, and says what came out.
func (r *rendering) write(ctx context.Context, con console, dir string) error {
	s := &swap{}
	err := s.open(dir)
	if err == nil {
		err = r.into(ctx, con, s)
	}
	for i := range r.outputs {
		if f := r.outputs[i].file; f != nil {
			f.Close()
		}
	}
	if err == nil {
		if _, printing := con.out.Write([]byte(r.said(dir))); printing != nil {
			err = failed("the summary cannot be printed, and nothing was written: %v", reason(printing))
		}
	}
	if err == nil {
		s.sweep()
		s.done()
		return nil
	}
	s.undo()
	var o outcome
	if errors.As(err, &o) {
		return err
	}
	return failed("cannot write to %s: %v; nothing was written", dir, reason(err))
}

// into renders into the stage of a swap, and then puts the files in place.
func (r *rendering) into(ctx context.Context, con console, s *swap) error {
	for i := range r.outputs {
		if err := r.mayReplace(s, r.file(&r.outputs[i])); err != nil {
			return err
		}
	}
	if err := s.makeStage(); err != nil {
		return err
	}
	for i := range r.outputs {
		if err := r.start(s, i); err != nil {
			return err
		}
	}
	if err := interruptible(ctx, func() error { return r.play(ctx, con) }); err != nil {
		return err
	}
	for i := range r.outputs {
		o := &r.outputs[i]
		err := o.wave.Close()
		if err == nil {
			err = o.file.Sync()
		}
		if err != nil {
			return err
		}
	}
	if ctx.Err() != nil {
		return errInterrupted
	}
	for i := range r.outputs {
		if err := s.exchangeOne(i, r.file(&r.outputs[i])); err != nil {
			return err
		}
	}
	return nil
}

// mark begins the comment in every file that this verb writes.
func (r *rendering) mark() string { return "bandwright render of " + r.b.Spec.Name + ", " }

// comment tells what a file is.
func (r *rendering) comment(o *output) string {
	text := r.mark() + o.name
	if revision := r.b.Spec.Revision; revision != "" {
		text += ", revision " + revision
	}
	text += ", spec " + r.b.SHA256 + ", " + r.d.Name()
	if c := r.choices(); c != "" {
		text += ", " + c
	}
	return strings.Map(func(c rune) rune {
		if c < ' ' || c > '~' {
			return '?'
		}
		return c
	}, text)
}

// choices are the settings that are played, "" where there are none.
func (r *rendering) choices() string {
	var out []verify.Choice
	for i, s := range r.b.Settings {
		out = append(out, verify.Choice{Setting: s.Name, Choice: s.Choices[r.with[i]]})
	}
	return verify.Choices(out)
}

// mayReplace says no where a file stands in the way that is no render of this spec.
func (r *rendering) mayReplace(s *swap, name string) error {
	kind, err := s.kind(name)
	if err != nil || kind == absent {
		return err
	}
	if kind == regular {
		f, err := s.root.Open(name)
		if err != nil {
			return err
		}
		defer f.Close()
		if w, err := wave.NewReader(f); err == nil && strings.HasPrefix(w.Comment, r.mark()) {
			return nil
		}
	}
	return failed("%s exists and is no earlier render of %s: move it, or choose another folder", name, r.b.Spec.Name)
}

// start opens output i in the stage.
func (r *rendering) start(s *swap, i int) error {
	o := &r.outputs[i]
	var err error
	if o.file, err = s.root.Create(s.fresh(i)); err != nil {
		return err
	}
	o.wave, err = wave.NewWriter(o.file, wave.Shape{
		RateHz: r.in.RateHz, Channels: r.in.Channels, Words: r.stored(),
	}, r.comment(o))
	return err
}

// stored is how the files keep samples without loss.
func (r *rendering) stored() wave.Words {
	if l := r.d.Laid; l != nil {
		for _, bits := range []int{16, 24, 32} {
			if l.Layout.Data <= bits {
				return wave.Words{Bits: bits}
			}
		}
		return wave.Words{Bits: 64, Float: true}
	}
	return wave.Words(r.d.Format.Stored)
}

// said is what the verb prints.
func (r *rendering) said(dir string) string {
	head := fmt.Sprintf("%s, %s", r.b.Spec.Name, r.d.Name())
	if c := r.choices(); c != "" {
		head += ", " + c
	}
	head += fmt.Sprintf("; %s, %s of %s", r.in.name, words.Count(r.in.Channels, "channel", "channels"), words.Seconds(float64(r.frames)/float64(r.in.RateHz)))
	lines := words.Wrap(head, "", "  ", summaryWidth)
	var t words.Table
	beyond := "above full scale"
	if r.limit > 0 {
		beyond = "at full scale, where it clips"
	}
	t.Row("", "peak", "RMS", beyond)
	var names []string
	for i := range r.outputs {
		o := &r.outputs[i]
		above := "none"
		if o.above > 0 {
			above = words.Count(int(o.above), "sample", "samples")
		}
		t.Row(o.name, dBFS(o.peak), dBFS(math.Sqrt(o.power/math.Max(1, float64(r.frames*int64(r.in.Channels))))), above)
		names = append(names, r.file(o))
	}
	lines = append(lines, t.Lines("  ", summaryWidth)...)
	if r.stopped > 0 {
		lines = append(lines, words.Wrap(fmt.Sprintf("the recording has %s above full scale, which %s stops there: lower its level", words.Count(int(r.stopped), "sample", "samples"), r.d.Format.Name), "", "  ", summaryWidth)...)
	}
	if r.unread > 0 {
		lines = append(lines, fmt.Sprintf("the recording has %s without a number, played as silence", words.Count(int(r.unread), "sample", "samples")))
	}
	for c, at := range r.dead {
		if at >= 0 {
			lines = append(lines, words.Wrap(r.silenced(c), "", "  ", summaryWidth)...)
		}
	}
	lines = append(lines, words.Wrap(fmt.Sprintf("wrote %s of %s to %s: %s", words.Count(len(names), "file", "files"), r.stored(),
		dir, strings.Join(names, ", ")), "", "  ", summaryWidth)...)
	lines = append(lines, words.Wrap("caution: listen at a low level first; play the file of a way into no driver but its own", "", "  ", summaryWidth)...)
	return strings.Join(lines, "\n") + "\n"
}

// silenced says which sample of the recording silenced a channel, and what would be right.
func (r *rendering) silenced(channel int) string {
	at, x := r.dead[channel], r.killed[channel]
	text := fmt.Sprintf("channel %d is silent from %s on: its sample %d is %s", channel+1, words.Seconds(float64(at)/float64(r.in.RateHz)), at+1, words.NoSample(x))
	if !math.IsNaN(x) && !math.IsInf(x, 0) {
		text += fmt.Sprintf(", and %s has no samples from %s times on", r.d.Format.Name, words.Three(leastGarbage))
	}
	return text + "; save the recording again, with samples between -1 and 1"
}

// dBFS is a linear level re full scale.
func dBFS(x float64) string {
	if x == 0 {
		return "silence"
	}
	return words.Level(biquad.DB(complex(x, 0)), "dBFS")
}
