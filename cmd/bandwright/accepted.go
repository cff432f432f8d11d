package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"slices"

	"bandwright/compiler/compare"
	"bandwright/compiler/progress"
	"bandwright/compiler/result"
)

// acceptedEnding is the ending of accepted results.
const acceptedEnding = ".accepted.json"

// readAccepted is the accepted result of a name in a folder. One that is
// missing or past reading is refused: without it nothing can be checked.
func readAccepted(ctx context.Context, dir, name string) (*result.Accepted, error) {
	path, is := acceptedFile(dir, name)
	if !is {
		return nil, refused("nothing was accepted yet: there is no %s; `--accept` writes it", path)
	}
	a, err := openAccepted(ctx, path)
	if err == nil && a.Name != name {
		return nil, refused("%s is the accepted result of %s", path, a.Name)
	}
	return a, err
}

// acceptedFile is where the accepted result of a name lies in a folder, and whether there is one.
func acceptedFile(dir, name string) (path string, is bool) {
	path = filepath.Join(dir, name+acceptedEnding)
	_, err := os.Stat(path)
	return path, !errors.Is(err, fs.ErrNotExist)
}

func openAccepted(ctx context.Context, path string) (*result.Accepted, error) {
	data, err := read(ctx, path)
	if err != nil {
		return nil, err
	}
	a, err := result.ReadAccepted(data)
	if err != nil {
		return nil, refused("%s: %v", path, err)
	}
	return a, nil
}

// compared is what became of an accepted result. Specs of which every line
// changed take their time, and an interruption does not wait for it.
func compared(ctx context.Context, old, new *result.Accepted) (*compare.Comparison, error) {
	progress.Say(ctx, "comparing")
	over := make(chan *compare.Comparison, 1)
	go func() { over <- compare.Results(old, new) }()
	select {
	case <-ctx.Done():
		return nil, errInterrupted
	case c := <-over:
		return c, nil
	}
}

// accept writes a result into dir, whole or not at all. A file that says the
// same, to the last spelling of its spec, is left as it is: round-off of
// another machine makes no difference to commit.
func accept(ctx context.Context, dir string, before, now *result.Accepted, change *compare.Comparison) (note string, err error) {
	path := filepath.Join(dir, now.Name+acceptedEnding)
	if before != nil && len(change.Changes) == 0 && slices.Equal(before.Spec, now.Spec) && before.SpecFile == now.SpecFile && maps.Equal(before.Inputs, now.Inputs) {
		return path + " is unchanged", nil
	}
	data, err := now.Bytes()
	if err != nil {
		return "", failed("%v", err)
	}
	if err := replace(ctx, dir, now.Name+acceptedEnding, data); err != nil {
		return "", err
	}
	return fmt.Sprintf("accepted: wrote %s", path), nil
}
