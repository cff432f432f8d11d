package main

import (
	"bytes"
	"context"
	"crypto/rand"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"

	"bandwright/compiler"
	"bandwright/compiler/result"
	"bandwright/targets/json"
)

// swap is a finished exchange of the folder's old artefacts for new ones,
// until done or undo ends it: the old ones still lie in the hidden stage.
type swap struct {
	folders []string // made for the output, outermost first
	root    *os.Root
	stage   string
	held    *os.File // the stage, locked as long as it is in use
	// back undoes, last first, what was done inside root so far.
	back []func()
	// kept are files of an earlier compile that are no longer made, but were
	// changed by somebody since.
	kept []string
}

// write puts the files into dir in three steps, so that dir holds the old set
// or the new one whatever goes wrong: write everything into a hidden folder
// inside dir; copy aside what will be replaced; rename one by one, the index
// NAME.json last. Only files that dir's NAME.json lists are replaced or, where
// they are no longer made, removed, and never through a symbolic link.
func write(ctx context.Context, dir, name string, files []compiler.File) (*swap, error) {
	s := &swap{}
	err := s.open(dir)
	if err == nil {
		err = s.exchange(ctx, name, files)
	}
	if err == nil {
		return s, nil
	}
	s.undo()
	var o outcome
	if errors.As(err, &o) {
		return nil, err
	}
	return nil, failed("cannot write to %s: %v; nothing was written", dir, reason(err))
}

// open makes dir where it is missing.
func (s *swap) open(dir string) error {
	var missing []string
	for d := filepath.Clean(dir); ; d = filepath.Dir(d) {
		if _, err := os.Lstat(d); err == nil || !errors.Is(err, fs.ErrNotExist) {
			break
		}
		missing = append(missing, d)
	}
	for i := len(missing) - 1; i >= 0; i-- {
		if err := os.Mkdir(missing[i], 0o777); err != nil {
			return err
		}
		s.folders = append(s.folders, missing[i])
	}
	if info, err := os.Stat(dir); err == nil && !info.IsDir() {
		return refused("%s is a file: -o needs a folder", dir)
	}
	root, err := os.OpenRoot(dir)
	s.root = root
	return err
}

func (s *swap) exchange(ctx context.Context, name string, files []compiler.File) error {
	old, err := s.earlier(name)
	if err != nil {
		return err
	}
	made := map[string]bool{}
	for _, f := range files {
		made[f.Name] = true
		if err := s.mayReplace(f, old); err != nil {
			return err
		}
	}
	if err := s.fill(ctx, files); err != nil {
		return err
	}
	if err := s.setAside(files); err != nil {
		return err
	}
	// From here on an interruption waits: renaming takes milliseconds, and the
	// caller undoes the whole.
	for i, f := range files {
		if i == len(files)-1 { // the index
			if err := s.clear(old, made); err != nil {
				return err
			}
		}
		if err := s.place(i, f.Name); err != nil {
			return err
		}
	}
	return nil
}

// earlier is what NAME.json says of the compile before this one, nil for a
// fresh folder. A folder holds the output of one spec, so the index of another
// one is an error.
func (s *swap) earlier(name string) (*result.Result, error) {
	entries, err := fs.ReadDir(s.root.FS(), ".")
	if err != nil {
		return nil, err
	}
	var old *result.Result
	for _, e := range entries {
		stem, isJSON := strings.CutSuffix(e.Name(), json.Name(""))
		if !isJSON || !e.Type().IsRegular() {
			continue
		}
		r := s.index(e.Name())
		switch {
		case r == nil || r.Name != stem || r.SpecSHA256 == "":
		case stem == name:
			old = r
		default:
			return nil, failed("%s holds the output of another spec, %s: choose another folder, or remove %s and "+
				"the files that it lists", s.root.Name(), stem, e.Name())
		}
	}
	return old, nil
}

// indexLimit (bytes) keeps somebody's large JSON file from being read whole.
const indexLimit = 64 << 20

// index reads a file as an index, nil where it is none.
func (s *swap) index(name string) *result.Result {
	f, err := s.root.Open(name)
	if err != nil {
		return nil
	}
	defer f.Close()
	data, err := io.ReadAll(io.LimitReader(f, indexLimit))
	if err != nil {
		return nil
	}
	r, err := result.Read(data)
	if err != nil {
		return nil
	}
	return r
}

// mayReplace says no where a file stands in the way that bandwright did not
// write.
func (s *swap) mayReplace(f compiler.File, old *result.Result) error {
	if !fs.ValidPath(f.Name) || f.Name == "." {
		return fmt.Errorf("an artefact must not be called %q", f.Name)
	}
	kind, err := s.kind(f.Name)
	switch {
	case err != nil:
		return err
	case kind == absent:
		return nil
	case kind == regular && old != nil && (f.Name == json.Name(old.Name) || old.Files[f.Name] != ""):
		return nil
	case kind == regular:
		if data, err := s.root.ReadFile(f.Name); err == nil && bytes.Equal(data, f.Data) {
			return nil
		}
	}
	return failed("%s exists and was not written by an earlier compile of this spec: move it, or choose another folder",
		path.Join(s.root.Name(), f.Name))
}

// kind is what stands under a name inside the folder.
type kind int

const (
	absent kind = iota
	regular
	other // a folder, a link, a device, or something below a link
)

// kind looks at a slash-separated name without following a link anywhere on
// the way.
func (s *swap) kind(name string) (kind, error) {
	parts := strings.Split(name, "/")
	for i := range parts {
		info, err := s.root.Lstat(filepath.FromSlash(strings.Join(parts[:i+1], "/")))
		switch {
		case errors.Is(err, fs.ErrNotExist):
			return absent, nil
		case err != nil:
			return other, err
		case i == len(parts)-1 && info.Mode().IsRegular():
			return regular, nil
		case i == len(parts)-1 || !info.IsDir():
			return other, nil
		}
	}
	return other, nil
}

// fill writes the new files into the hidden stage.
func (s *swap) fill(ctx context.Context, files []compiler.File) error {
	if err := s.makeStage(); err != nil {
		return err
	}
	err := savings(len(files), func(i int) error {
		if ctx.Err() != nil {
			return errInterrupted
		}
		return s.save(s.fresh(i), files[i].Data)
	})
	if err == nil && ctx.Err() != nil {
		return errInterrupted
	}
	return err
}

// atOnce is how many files are saved at once: each waits for the disk, which takes
// what has come together in one go.
const atOnce = 8

// savings saves n files; the error of the first that cannot be saved wins.
func savings(n int, save func(i int) error) error {
	var wg sync.WaitGroup
	places, errs := make(chan struct{}, atOnce), make([]error, n)
	for i := range n {
		places <- struct{}{}
		wg.Go(func() {
			errs[i] = save(i)
			<-places
		})
	}
	wg.Wait()
	for _, err := range errs {
		if err != nil {
			return err
		}
	}
	return nil
}

// makeStage makes the hidden stage, and locks it.
func (s *swap) makeStage() error {
	var random [6]byte
	rand.Read(random[:])
	stage := ".bandwright-" + hex.EncodeToString(random[:])
	if err := s.root.Mkdir(stage, 0o777); err != nil {
		return err
	}
	s.stage = stage
	if held, err := s.root.Open(stage); err == nil {
		s.held = held
		lock(held) // where there are no locks, nobody removes a stage but its run
	}
	return nil
}

// save writes a file down to the disk.
func (s *swap) save(name string, data []byte) error {
	f, err := s.root.Create(name)
	if err != nil {
		return err
	}
	_, err = f.Write(data)
	if err == nil {
		err = f.Sync()
	}
	if closing := f.Close(); err == nil {
		err = closing
	}
	return err
}

// fresh and aside are a new file's and its predecessor's names in the stage.
func (s *swap) fresh(i int) string { return filepath.Join(s.stage, "new"+strconv.Itoa(i)) }
func (s *swap) aside(i int) string { return filepath.Join(s.stage, "old"+strconv.Itoa(i)) }

// setAside copies what will be replaced, so that a rename never leaves the
// name without a file.
func (s *swap) setAside(files []compiler.File) error {
	return savings(len(files), func(i int) error {
		data, err := s.root.ReadFile(filepath.FromSlash(files[i].Name))
		if errors.Is(err, fs.ErrNotExist) {
			return nil
		}
		if err != nil {
			return err
		}
		return s.save(s.aside(i), data)
	})
}

// place moves new file i to its name.
func (s *swap) place(i int, name string) error {
	target := filepath.FromSlash(name)
	for _, d := range parents(name) {
		switch err := s.root.Mkdir(d, 0o777); {
		case err == nil:
			s.back = append(s.back, func() { s.root.Remove(d) })
		case !errors.Is(err, fs.ErrExist):
			return err
		}
	}
	if err := s.root.Rename(s.fresh(i), target); err != nil {
		return err
	}
	s.back = append(s.back, func() {
		if s.root.Rename(s.aside(i), target) != nil {
			s.root.Remove(target)
		}
	})
	return nil
}

// exchangeOne moves new file i to its name, after what stands there was moved aside:
// unlike setAside and place it copies nothing, for files that may be long.
func (s *swap) exchangeOne(i int, name string) error {
	err := s.root.Rename(name, s.aside(i))
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	if err == nil {
		s.back = append(s.back, func() { s.root.Rename(s.aside(i), name) })
	}
	if err := s.root.Rename(s.fresh(i), name); err != nil {
		return err
	}
	s.back = append(s.back, func() { s.root.Remove(name) })
	return nil
}

// parents are the folders above a slash-separated name, outermost first.
func parents(name string) []string {
	var out []string
	for i, c := range name {
		if c == '/' {
			out = append(out, filepath.FromSlash(name[:i]))
		}
	}
	return out
}

// clear moves away what the earlier compile made and this one does not.
func (s *swap) clear(old *result.Result, made map[string]bool) error {
	if old == nil {
		return nil
	}
	for _, name := range slices.Sorted(maps.Keys(old.Files)) {
		if made[name] || !fs.ValidPath(name) {
			continue
		}
		if k, err := s.kind(name); err != nil || k != regular {
			continue
		}
		target := filepath.FromSlash(name)
		data, err := s.root.ReadFile(target)
		if err != nil {
			return err
		}
		if has := sha256.Sum256(data); hex.EncodeToString(has[:]) != old.Files[name] {
			s.kept = append(s.kept, name)
			continue
		}
		aside := filepath.Join(s.stage, "gone"+strconv.Itoa(len(s.back)))
		if err := s.root.Rename(target, aside); err != nil {
			return err
		}
		s.back = append(s.back, func() { s.root.Rename(aside, target) })
	}
	return nil
}

// undo gives the folder back as it was. What cannot be undone is left: there
// is nobody to tell but the user, who already reads of the failure.
func (s *swap) undo() {
	for ; len(s.back) > 0; s.back = s.back[:len(s.back)-1] {
		s.back[len(s.back)-1]()
	}
	s.done()
	for ; len(s.folders) > 0; s.folders = s.folders[:len(s.folders)-1] {
		os.Remove(s.folders[len(s.folders)-1])
	}
}

// done removes the old files.
func (s *swap) done() {
	if s.root == nil {
		return
	}
	if s.stage != "" {
		s.root.RemoveAll(s.stage)
	}
	if s.held != nil {
		s.held.Close()
	}
	s.root.Close()
	s.root = nil
}
