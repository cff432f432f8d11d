package main

import (
	"bytes"
	"context"
	"io/fs"
	"path"
	"time"
)

// revisionFolder is a folder of a revision as a file system that is read alone: a
// name in it is read as git shows what stands behind prefix.
type revisionFolder struct {
	ctx    context.Context
	prefix string // "REVISION:" and the path, with the slash behind it
}

// Open reads a file of the revision; folders cannot be listed.
func (r revisionFolder) Open(name string) (fs.File, error) {
	if !fs.ValidPath(name) || name == "." {
		return nil, &fs.PathError{Op: "open", Path: name, Err: fs.ErrInvalid}
	}
	data, err := ofRevision(r.ctx, r.prefix+name)
	if o, is := err.(outcome); is && o.code == exitRefused {
		err = fs.ErrNotExist
	}
	if err != nil {
		return nil, &fs.PathError{Op: "open", Path: name, Err: err}
	}
	return &revisionFile{bytes.NewReader(data), path.Base(name)}, nil
}

// revisionFile is an open file of a revision, and what is known of it.
type revisionFile struct {
	*bytes.Reader
	name string
}

func (f *revisionFile) Close() error               { return nil }
func (f *revisionFile) Stat() (fs.FileInfo, error) { return f, nil }
func (f *revisionFile) Name() string               { return f.name }
func (f *revisionFile) Mode() fs.FileMode          { return 0o444 }
func (f *revisionFile) ModTime() time.Time         { return time.Time{} }
func (f *revisionFile) IsDir() bool                { return false }
func (f *revisionFile) Sys() any                   { return nil }
