package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"io/fs"
	"os"
	"os/exec"
	"path"
	"strings"
)

// content is what a name of the command line stands for: a file, or where there
// is none of the name a file of a revision, REVISION:PATH as git has it. file is
// the path alone, folder where the files are that a spec there names.
func content(ctx context.Context, name string) (file string, data []byte, folder fs.FS, err error) {
	at := strings.LastIndex(name, ":")
	if _, missing := os.Stat(name); missing == nil || at < 0 || strings.HasPrefix(name, "-") {
		data, err = readUpTo(ctx, name, indexLimit)
		return name, data, folderOf(name), err
	}
	data, err = ofRevision(ctx, name)
	file = name[at+1:]
	return file, data, revisionFolder{ctx, name[:len(name)-len(path.Base(file))]}, err
}

// ofRevision is a file of a revision as git shows it.
func ofRevision(ctx context.Context, name string) ([]byte, error) {
	var errs bytes.Buffer
	cmd := exec.CommandContext(ctx, "git", "--no-pager", "show", "--no-textconv", name)
	cmd.Stderr = &errs
	cmd.Env = append(os.Environ(), "LC_ALL=C")
	data, err := cmd.Output()
	switch said := strings.TrimPrefix(strings.Join(strings.Fields(errs.String()), " "), "fatal: "); {
	case ctx.Err() != nil:
		return nil, errInterrupted
	case errors.Is(err, exec.ErrNotFound):
		return nil, refused("there is no file %s, and git, which could find it in a revision, is not installed", name)
	case err != nil && said != "":
		return nil, refused("there is no file %s, and git finds none in a revision: %s", name, said)
	case err != nil:
		return nil, failed("git show %s: %v", name, err)
	case bytes.HasPrefix(data, []byte("tree "+name+"\n")):
		return nil, refused("%s is a folder; name a file in it", name)
	}
	return data, nil
}

// fileKind is what a file holds.
type fileKind int

const (
	isSpec     fileKind = iota
	isAccepted          // NAME.accepted.json
	isBuilt             // NAME.json
)

// kindOf tells files by what is in them: results are JSON with keys that a spec
// does not have. One that is past reading, such as a merge left open, is told by
// how it begins.
func kindOf(data []byte) fileKind {
	var keys map[string]json.RawMessage
	if json.Unmarshal(data, &keys) == nil {
		switch {
		case keys["accepted"] != nil:
			return isAccepted
		case keys["spec_sha256"] != nil:
			return isBuilt
		}
		return isSpec
	}
	begins := strings.Join(strings.Fields(string(data[:min(len(data), 80)])), "")
	switch {
	case strings.HasPrefix(begins, `{"accepted":`):
		return isAccepted
	case strings.HasPrefix(begins, `{"bandwright":`):
		return isBuilt
	}
	return isSpec
}
