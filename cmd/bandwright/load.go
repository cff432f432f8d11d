package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"syscall"

	"bandwright/compiler"
	"bandwright/compiler/language"
	"bandwright/compiler/words"
	"bandwright/targets"
)

// readLimit (bytes) keeps an endless file from filling the memory. The parser
// refuses what is longer than its own, lower limit, and says so.
const readLimit = 1 << 20

// load reads and compiles a spec and prints its faults. An error has been
// turned into an exit code; faults that are errors leave it without text.
func load(ctx context.Context, con console, file string) (*compiler.Build, error) {
	src, err := read(ctx, file)
	if err != nil {
		return nil, err
	}
	return told(ctx, con, file, func(ctx context.Context) (*compiler.Build, []language.Fault, error) {
		return compiler.Compile(ctx, file, src, folderOf(file))
	})
}

// folderOf is the folder of a spec, where the files are that it names.
func folderOf(file string) fs.FS { return os.DirFS(filepath.Dir(file)) }

// told compiles a spec and prints its faults, and on a terminal what is being done.
func told(ctx context.Context, con console, file string, run compilation) (*compiler.Build, error) {
	line := startProgress(con.err, "compiling "+file)
	b, faults, err := awaited(line.in(ctx, ""), file, run)
	line.stop()
	for _, f := range faults {
		fmt.Fprintln(con.err, f)
	}
	return b, err
}

// compile turns a spec into a Build for its findings, without a word: the faults are the
// caller's to print.
func compile(ctx context.Context, file string, src []byte, folder fs.FS) (*compiler.Build, []language.Fault, error) {
	return awaited(ctx, file, func(ctx context.Context) (*compiler.Build, []language.Fault, error) {
		return compiler.Verdict(ctx, file, src, folder)
	})
}

// compilation makes a Build of a spec.
type compilation func(context.Context) (*compiler.Build, []language.Fault, error)

// awaited runs a compilation and turns its errors into exit codes.
func awaited(ctx context.Context, file string, run compilation) (*compiler.Build, []language.Fault, error) {
	var err error
	var b *compiler.Build
	var faults []language.Fault
	over := make(chan struct{})
	// The compiler looks for an interruption between its stages; whoever
	// presses the keys waits for none of them.
	go func() {
		defer close(over)
		if b, faults, err = run(ctx); b != nil && err == nil {
			if more := targets.Faults(b); len(more) > 0 {
				b, faults = nil, append(faults, more...)
			}
		}
	}()
	select {
	case <-ctx.Done():
		return nil, nil, errInterrupted
	case <-over:
	}
	var in []string // the files of the errors
	for _, f := range faults {
		if f.Severity == language.Error {
			in = append(in, f.File)
		}
	}
	switch {
	case ctx.Err() != nil:
		return nil, nil, errInterrupted
	case err != nil:
		return nil, faults, failed("%s: %v", file, err)
	case b == nil:
		return nil, faults, refused("%s in %s", words.Count(len(in), "error", "errors"), words.List(words.Once(in)))
	}
	return b, faults, nil
}

// read is the file's bytes. A missing file or a folder is a slip in the
// command line; everything else that goes wrong is the machine's.
func read(ctx context.Context, file string) ([]byte, error) { return readUpTo(ctx, file, readLimit) }

// readUpTo is read of a file that may have so many bytes.
func readUpTo(ctx context.Context, file string, limit int64) ([]byte, error) {
	type answer struct {
		data []byte
		err  error
	}
	// Reading from a pipe may wait forever, so an interruption must not wait
	// for the reading to end.
	got := make(chan answer, 1)
	go func() {
		f, err := os.Open(file)
		if err != nil {
			got <- answer{nil, err}
			return
		}
		defer f.Close()
		data, err := io.ReadAll(io.LimitReader(f, limit))
		got <- answer{data, err}
	}()
	select {
	case <-ctx.Done():
		return nil, errInterrupted
	case a := <-got:
		if a.err == nil {
			return a.data, nil
		}
		if errors.Is(a.err, fs.ErrNotExist) || errors.Is(a.err, syscall.ENOTDIR) {
			return nil, refused("there is no file %s", file)
		}
		if info, err := os.Stat(file); err == nil && info.IsDir() {
			return nil, refused("%s is a folder; name a file in it", file)
		}
		return nil, failed("cannot read %s: %v", file, reason(a.err))
	}
}

// reason is an error without the operation and path that the os package put
// before it: the message names the path that the user knows.
func reason(err error) error {
	var path *fs.PathError
	if errors.As(err, &path) {
		return path.Err
	}
	var link *os.LinkError
	if errors.As(err, &link) {
		return link.Err
	}
	return err
}
