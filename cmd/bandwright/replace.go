package main

import (
	"context"
	"errors"
	"os"
	"path/filepath"
)

// replace writes a file of dir, whole or not at all, and makes the folder where it is
// missing. Only a regular file is replaced.
func replace(ctx context.Context, dir, name string, data []byte) error {
	path := filepath.Join(dir, name)
	if err := os.MkdirAll(dir, 0o777); err != nil {
		return failed("cannot create %s: %v; nothing was written", dir, reason(err))
	}
	root, err := os.OpenRoot(dir)
	if err != nil {
		return failed("cannot write to %s: %v; nothing was written", dir, reason(err))
	}
	defer root.Close()
	if info, err := root.Lstat(name); err == nil && !info.Mode().IsRegular() {
		return failed("%s is not a regular file: it was not changed", path)
	}
	fresh := "." + name + ".new"
	err = root.WriteFile(fresh, data, 0o666)
	if err == nil && ctx.Err() != nil {
		err = errInterrupted
	}
	if err == nil {
		err = root.Rename(fresh, name)
	}
	if err != nil {
		root.Remove(fresh)
		if errors.Is(err, errInterrupted) {
			return err
		}
		return failed("cannot write %s: %v; nothing was written", path, reason(err))
	}
	return nil
}
