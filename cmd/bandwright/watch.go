package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"bandwright/compiler"
	"bandwright/compiler/language"
)

// lookEvery is how often the files are looked at. A save is taken up when it looks the same after settled, so
// that a file that is being written is not read.
const lookEvery, settled = 20 * time.Millisecond, 10 * time.Millisecond

// stamp is what shows that a file was saved.
type stamp struct {
	size    int64
	changed time.Time
	is      bool
}

// stamps are those of files.
func stamps(files []string) map[string]stamp {
	out := map[string]stamp{}
	for _, f := range files {
		if i, err := os.Stat(f); err == nil {
			out[f] = stamp{i.Size(), i.ModTime(), true}
		} else {
			out[f] = stamp{}
		}
	}
	return out
}

// same reports whether two looks at the same files agree.
func (s stamp) same(o stamp) bool {
	return s.size == o.size && s.is == o.is && s.changed.Equal(o.changed)
}

func agree(a, b map[string]stamp) bool {
	for f, s := range a {
		if !s.same(b[f]) {
			return false
		}
	}
	return len(a) == len(b)
}

// watch compiles until it is interrupted, which is its good end: once now, and again whenever the
// spec, a file that it names or the accepted result was saved. What ends one compilation does not end the watch, but for a
// folder that cannot be written when nothing was yet.
func (c Compile) watch(ctx context.Context, con console) error {
	var stand *lectern
	if c.Serve {
		d, err := newLectern(ctx)
		if err != nil {
			return failed("the page cannot be shown: %v", reason(err))
		}
		stand = d
		fmt.Fprintf(con.out, "report.html is shown at %s on this machine only\n", d.url())
	}
	var show func([]compiler.File)
	if stand != nil {
		show = func(report []compiler.File) { stand.show(report, nil) }
	}
	names := []string{c.Spec}
	for first := true; ; first = false {
		seen := stamps(names)
		inputs, told, err := c.again(ctx, con, show)
		if errors.Is(err, errInterrupted) {
			return nil
		}
		var o outcome
		if first && errors.As(err, &o) && o.code == exitFailed {
			return err
		}
		if err != nil && err.Error() != "" {
			fmt.Fprintln(con.err, "bandwright: "+err.Error())
			told = append(told, err.Error())
		}
		if inputs != nil {
			next := append([]string{c.Spec}, inputs...)
			if !slices.Equal(next, names) {
				for f, s := range stamps(next) {
					if _, known := seen[f]; !known {
						seen[f] = s
					}
				}
				names = next
			}
		}
		if stand != nil {
			stand.show(nil, told)
		}
		fmt.Fprintf(con.out, "watching %s\n", strings.Join(names, ", "))
		if !saved(ctx, names, seen) {
			return nil
		}
	}
}

// saved waits until a file differs from what was seen and two looks at it agree; false where ctx ends first.
func saved(ctx context.Context, names []string, seen map[string]stamp) bool {
	before, wait := seen, settled
	for {
		select {
		case <-ctx.Done():
			return false
		case <-time.After(wait):
		}
		now := stamps(names)
		wait = lookEvery
		if !agree(now, restricted(seen, names)) {
			if agree(now, before) {
				return true
			}
			wait = settled
		}
		before = now
	}
}

// restricted are the stamps of some files.
func restricted(all map[string]stamp, names []string) map[string]stamp {
	out := map[string]stamp{}
	for _, n := range names {
		out[n] = all[n]
	}
	return out
}

// again compiles and writes once. The inputs are the files that the spec names, nil where it cannot be
// read; what is told are its faults.
func (c Compile) again(ctx context.Context, con console, show func([]compiler.File)) (inputs, told []string, err error) {
	src, err := read(ctx, c.Spec)
	if err != nil {
		return nil, nil, err
	}
	line := startProgress(con.err, "compiling "+c.Spec)
	b, faults, err := awaited(line.in(ctx, ""), c.Spec, func(ctx context.Context) (*compiler.Build, []language.Fault, error) {
		return compiler.Compile(ctx, c.Spec, src, folderOf(c.Spec))
	})
	line.stop()
	for _, f := range faults {
		fmt.Fprintln(con.err, f)
		if b == nil {
			told = append(told, f.Error())
		}
	}
	if err != nil {
		return nil, told, err
	}
	for name := range b.Inputs {
		if fs.ValidPath(name) {
			inputs = append(inputs, filepath.Join(filepath.Dir(c.Spec), filepath.FromSlash(name)))
		}
	}
	if c.Against != "" {
		path, _ := acceptedFile(c.Against, b.Spec.Name)
		inputs = append(inputs, path)
	}
	slices.Sort(inputs)
	return append([]string{}, inputs...), told, c.put(ctx, con, b, show)
}
