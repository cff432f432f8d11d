package main

import (
	"errors"
	"fmt"
	"path/filepath"
	"runtime"
	"strings"
	"sync/atomic"
	"testing"
	"time"
)

// Results come in order, whichever work ends first; no more run at once than
// there are processors, and no more wait than may.
func TestInOrder(t *testing.T) {
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(3))
	const n = 500
	var busy, most, begun atomic.Int32
	first, second := make(chan struct{}), make(chan struct{}) // closed when 0 and 1 are at work: together
	next := 0
	err := inOrder(n, func(i int) func() int {
		if got := int(begun.Add(1)) - 1; got != i {
			t.Errorf("prepared %d as number %d", i, got)
		}
		return func() int {
			now := busy.Add(1)
			defer busy.Add(-1)
			for was := most.Load(); now > was && !most.CompareAndSwap(was, now); was = most.Load() {
			}
			switch i {
			case 0:
				close(first)
				<-second
			case 1:
				close(second)
				<-first
			}
			if i == 0 {
				for begun.Load() < mostAhead {
					time.Sleep(time.Millisecond)
				}
				time.Sleep(20 * time.Millisecond)
				if b := begun.Load(); b > mostAhead {
					t.Errorf("%d have begun while the first is at work", b)
				}
			}
			return i
		}
	}, func(i int) error {
		if i != next {
			t.Errorf("%d comes as number %d", i, next)
		}
		next++
		return nil
	})
	if err != nil || next != n || most.Load() < 2 || most.Load() > 3 {
		t.Errorf("%v; %d results, %d at once", err, next, most.Load())
	}
	stop := errors.New("stop")
	if err := inOrder(n, func(i int) func() int { return func() int { return i } }, func(i int) error {
		if i == 7 {
			return stop
		}
		return nil
	}); err != stop {
		t.Errorf("%v", err)
	}
}

// Many specs, some bad and two of one name, are told in the order of the
// arguments in every format, the same as one after another.
func TestManySpecs(t *testing.T) {
	var files, args []string
	for i := range 24 {
		name := fmt.Sprintf("wren%d", i)
		text := small(name, loose, "float32")
		switch {
		case i%7 == 3:
			text = "bandwright: 1\n"
		case i == 20:
			text = small("wren0", loose, "float32")
		case i%5 == 0:
			text = small(name, tight, "float32")
		}
		files, args = append(files, name+".yaml", text), append(args, name+".yaml")
	}
	dir := place(t, files...)
	expect(t, "accept", bandwright(t, dir, append([]string{"check", "--against", "accepted", "--accept"}, args...)...), exitRefused,
		"wren0.yaml and wren20.yaml are both named wren0")
	all := bandwright(t, dir, append([]string{"check", "--against", "accepted"}, args...)...)
	expect(t, "check", all, exitRefused)
	out, errs := "", ""
	for _, a := range args {
		if a == "wren20.yaml" {
			errs += "bandwright: wren0.yaml and wren20.yaml are both named wren0: accepted results are stored by name\n"
			continue
		}
		one := bandwright(t, dir, "check", "--against", "accepted", a)
		if one.out != "" && out != "" {
			out += "\n"
		}
		out, errs = out+one.out, errs+one.err
	}
	if out += "\n24 specs: 17 kept, 3 broken, 0 regressions, 4 not judged\n"; all.out != out {
		t.Errorf("together:\n%s\none after another:\n%s", all.out, out)
	}
	if all.err != errs {
		t.Errorf("together:\n%s\none after another:\n%s", all.err, errs)
	}
}

// github: one annotation a spec, none where nothing is wrong and nothing moved;
// lines of specs with any ending.
func TestAnnotations(t *testing.T) {
	dir := place(t, "kept.yml", small("kept", loose, "float32"), "broken.yml", small("broken", tight, "float32, float64"),
		"moved.yml", small("moved", loose, "float32"), "little.yml", small("little", loose, "float32"), "bad.yml", "bandwright: 1\nname: bad\nwas: it\n")
	specs := []string{"kept.yml", "little.yml", "broken.yml", "moved.yml"}
	bandwright(t, dir, append([]string{"check", "--against", "accepted", "--accept"}, specs...)...)
	put(t, filepath.Join(dir, "moved.yml"), strings.Replace(small("moved", loose, "float32"), "at: 200 Hz", "at: 210 Hz", 1))
	put(t, filepath.Join(dir, "little.yml"), strings.Replace(small("little", loose, "float32"), "at: 200 Hz", "at: 200.2 Hz", 1))
	r := bandwright(t, dir, append([]string{"check", "--against", "accepted", "--format", "github", "bad.yml"}, specs...)...)
	var got []string
	for line := range strings.Lines(r.out) {
		head, _, _ := strings.Cut(line[2:], "::")
		got = append(got, head)
	}
	if want := "error file=bad.yml,line=1; error file=broken.yml; error file=moved.yml,line=7; notice file=little.yml,line=7"; strings.Join(got, "; ") != want {
		t.Errorf("got  %s\nwant %s\n%s", strings.Join(got, "; "), want, r.out)
	}
	expect(t, "accepting", bandwright(t, dir, "check", "--against", "accepted", "--accept", "--format", "github", "moved.yml"), exitKept, "::notice file=moved.yml,line=7::")
}
