package compiler

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"path"

	"bandwright/compiler/language"
)

// maxInput (bytes) is what a file that a spec names may have.
const maxInput = 1 << 20

// readInputs reads the files that a spec names, and returns the SHA-256 of each by
// its name. folder is the spec's own; where it is nil, no file can be read.
func readInputs(s *language.Spec, folder fs.FS, h Holding) (hashes map[string]string, faults []language.Fault) {
	hashes = map[string]string{}
	for _, in := range s.Inputs() {
		held := s.Board != nil && in == &s.Board.Held
		if held && h.absent(folder, in.Name) {
			continue
		}
		written := "a name is looked up in the spec's own folder: put the file there, or correct the name"
		if path.Base(in.Name) == in.Name {
			written = "a name is looked up in the spec's own folder: write it with its folders, such as `" + path.Join("parts", in.Name) + "`"
		}
		if held {
			written = "`bandwright hold " + s.File + "` writes it, and lays the board out"
		}
		text, message, right := readInput(s, folder, in.Name, written)
		if message != "" {
			faults = append(faults, s.Fault(language.Error, in.Pos, message, right))
			continue
		}
		in.Text, hashes[in.Name] = text, sha256Of(text)
	}
	return hashes, faults
}

// readInput is what a file holds that a spec names, or what is wrong with it and what
// would be right: absent, where there is neither the file nor one of almost its name.
func readInput(s *language.Spec, folder fs.FS, name, absent string) (text []byte, message, right string) {
	if folder == nil {
		return nil, fmt.Sprintf("the file `%s` cannot be read: the spec does not come from a folder", name), "compile a file"
	}
	// Asked before it is opened: opening a pipe could wait forever.
	info, err := fs.Stat(folder, name)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil, fmt.Sprintf("there is no file `%s` beside the spec", name), missing(s, folder, name, absent)
	case err == nil && info.IsDir():
		return nil, fmt.Sprintf("`%s` is a folder", name), "name a file in it"
	case err == nil && !info.Mode().IsRegular():
		return nil, fmt.Sprintf("`%s` is not a regular file", name), "name a file that can be read again and again"
	}
	if err == nil {
		text, err = readUpTo(folder, name, maxInput+1)
	}
	switch {
	case err != nil:
		return nil, fmt.Sprintf("the file `%s` cannot be read: %v", name, reason(err)), "make it readable"
	case len(text) > maxInput:
		return nil, fmt.Sprintf("the file `%s` has more than the %d MiB that a file beside a spec may have", name, maxInput>>20), "is it the right file?"
	}
	return text, "", ""
}

// readUpTo is the beginning of a file, so many bytes.
func readUpTo(folder fs.FS, name string, limit int64) ([]byte, error) {
	f, err := folder.Open(name)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	return io.ReadAll(io.LimitReader(f, limit))
}

// missing says which file may have been meant by one that is not there.
func missing(s *language.Spec, folder fs.FS, name, right string) string {
	dir := path.Dir(name)
	entries, err := fs.ReadDir(folder, dir)
	if err != nil {
		return right
	}
	var names []string
	for _, e := range entries {
		if file := path.Join(dir, e.Name()); s.Beside(file) != s.File { // the spec itself is not meant
			names = append(names, file)
		}
	}
	if meant := language.Nearest(name, names); meant != "" {
		return "did you mean `" + meant + "`?"
	}
	return right
}

// reason is an error without the operation and path that the message names already.
func reason(err error) error {
	var of *fs.PathError
	if errors.As(err, &of) {
		return of.Err
	}
	return err
}

// sha256Of is the SHA-256 of bytes, in lower-case hexadecimal.
func sha256Of(data []byte) string {
	hash := sha256.Sum256(data)
	return hex.EncodeToString(hash[:])
}
