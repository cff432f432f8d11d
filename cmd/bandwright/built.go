package main

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"slices"

	"bandwright/compiler"
	"bandwright/compiler/result"
	"bandwright/compiler/words"
)

// built holds what lies in dir against its index and against the build of a
// spec: everything that keeps it from being one run's output of this spec, in
// words; nothing where it is.
func built(ctx context.Context, dir string, b *compiler.Build) ([]string, error) {
	name := b.Spec.Name
	index := name + ".json"
	data, err := readBuilt(filepath.Join(dir, index))
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil, refused("no build found: there is no %s; `bandwright compile` writes it", filepath.Join(dir, index))
	case err != nil:
		return nil, failed("cannot read %s: %v", filepath.Join(dir, index), reason(err))
	}
	r, err := result.Read(data)
	if err != nil {
		return []string{fmt.Sprintf("%s: %v", filepath.Join(dir, index), err)}, nil
	}
	var wrong []string
	if r.Name != name {
		wrong = append(wrong, fmt.Sprintf("%s is the index of %s", filepath.Join(dir, index), r.Name))
	}
	if r.SpecSHA256 != b.SHA256 {
		wrong = append(wrong, fmt.Sprintf("%s was built from another version of the spec: compile again", filepath.Join(dir, index)))
	}
	for _, file := range slices.Sorted(maps.Keys(r.Files)) {
		if ctx.Err() != nil {
			return nil, errInterrupted
		}
		path := filepath.Join(dir, filepath.FromSlash(file))
		if !filepath.IsLocal(filepath.FromSlash(file)) {
			wrong = append(wrong, fmt.Sprintf("%s lists %q, which is outside of its folder", index, file))
			continue
		}
		data, err := readBuilt(path)
		if errors.Is(err, fs.ErrNotExist) {
			wrong = append(wrong, fmt.Sprintf("%s is missing: %s lists it", path, index))
			continue
		}
		if err != nil {
			return nil, failed("cannot read %s: %v", path, reason(err))
		}
		if sum := sha256.Sum256(data); hex.EncodeToString(sum[:]) != r.Files[file] {
			wrong = append(wrong, fmt.Sprintf("%s differs from the file that %s lists: it was edited, or a run was killed between two files", path, index))
		}
	}
	return wrong, nil
}

func readBuilt(path string) ([]byte, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	return io.ReadAll(io.LimitReader(f, indexLimit))
}

// builtText is what is said of a folder that was looked at.
func builtText(dir string, wrong []string) string {
	if len(wrong) == 0 {
		return "built: " + dir + " holds all files of one run of this spec\n"
	}
	text := "BUILT FILES DIFFER: " + words.Count(len(wrong), "fault", "faults") + " in " + dir + "; `bandwright compile` writes all files again\n"
	for _, w := range wrong {
		text += "* " + w + "\n"
	}
	return text
}
