package main

import (
	"io/fs"
	"path/filepath"
	"regexp"
)

// The names of a stage and of the files in it.
var (
	stageName  = regexp.MustCompile(`^\.bandwright-[0-9a-f]{12}$`)
	stagedName = regexp.MustCompile(`^(new|old|gone)[0-9]+$`)
)

// sweep removes the stages of runs that were killed. A run holds a lock on its
// stage, which ends with it whatever ends it; a stage that is locked, or that
// holds anything but what a run writes, stays. It is for the end of a run that
// succeeded: until then the old files in a stage may be the only ones.
func (s *swap) sweep() {
	entries, err := fs.ReadDir(s.root.FS(), ".")
	if err != nil {
		return
	}
	for _, e := range entries {
		if e.IsDir() && stageName.MatchString(e.Name()) && e.Name() != s.stage {
			s.remove(e.Name())
		}
	}
}

// remove removes one stage that nobody uses.
func (s *swap) remove(stage string) {
	d, err := s.root.Open(stage)
	if err != nil {
		return
	}
	defer d.Close()
	if !lock(d) {
		return
	}
	files, err := d.ReadDir(-1)
	if err != nil {
		return
	}
	for _, f := range files {
		if !f.Type().IsRegular() || !stagedName.MatchString(f.Name()) {
			return
		}
	}
	for _, f := range files {
		if s.root.Remove(filepath.Join(stage, f.Name())) != nil {
			return
		}
	}
	s.root.Remove(stage)
}
