package main

import (
	"bytes"
	"embed"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"syscall"

	"bandwright/compiler"
	"bandwright/compiler/language"
)

// New is the verb that writes a spec to start from.
type New struct {
	Name  string `arg:"" name:"NAME" help:"What the spec is called: a letter a–z, then letters, digits and underscores, with a folder before it if wanted."`
	Ways  int    `enum:"1,2,3,4" default:"2" placeholder:"N" help:"How many ways: 2, 3 or 4, or 1 for an equaliser without crossovers. The default is 2."`
	Board bool   `help:"Op-amp stages on a board instead of digital filters."`
	// Drivers are those of a two-way.
	Drivers bool `help:"A two-way that says what its drivers and amplifiers are, so that excursion, level and the sum in the air are judged."`
}

// Help is printed below the flags.
func (New) Help() string {
	return `Writes NAME.yaml, which compiles as it is. An existing file is never replaced.

Examples:

    bandwright new dunnock --ways 3
    bandwright new specs/redstart
    bandwright new wheatear --board
    bandwright new whinchat --drivers`
}

//go:embed starters
var starters embed.FS

// starter is the file for a number of ways, and what it is.
var starter = map[int]struct{ file, what string }{
	1: {"equaliser", "an equaliser"},
	2: {"two_way", "a two-way"},
	3: {"three_way", "a three-way"},
	4: {"four_way", "a four-way"},
}

// driverStarters is the folder of starters that have drivers.
const driverStarters = "drivers/"

// boardStarter is what a spec for op-amp stages has in place of the last blocks
// of a starter, from one of these lines on.
const boardStarter = "blocks/board"

var digitalBlocks = []string{"\n# promise:", "\ndigital:"}

// extension is the ending of a spec's file name.
const extension = ".yaml"

// Run writes the spec.
func (n New) Run(con console) error {
	path := strings.TrimSuffix(n.Name, extension) + extension
	text, err := n.started(strings.TrimSuffix(filepath.Base(path), extension))
	if err != nil {
		return err
	}
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o666)
	switch {
	case errors.Is(err, fs.ErrExist):
		return refused("%s exists already and was not changed: choose another name", path)
	case errors.Is(err, fs.ErrNotExist), errors.Is(err, syscall.ENOTDIR):
		return refused("there is no folder %s: create it first", filepath.Dir(path))
	case err != nil:
		return failed("cannot write %s: %v", path, reason(err))
	}
	_, err = f.WriteString(text)
	if closing := f.Close(); err == nil {
		err = closing
	}
	if err != nil {
		os.Remove(path)
		return failed("cannot write %s: %v; nothing was written", path, reason(err))
	}
	what := starter[n.Ways].what
	if n.Drivers {
		what += " with its drivers"
	}
	if n.Board {
		what += " of op-amp stages"
	}
	if _, err := fmt.Fprintf(con.out, "wrote %s, %s with invented data; compile it with\n    bandwright compile %s -o %s\n",
		path, what, path, strings.TrimSuffix(path, extension)); err != nil {
		os.Remove(path)
		return failed("the result cannot be printed, and nothing was written: %v", reason(err))
	}
	return nil
}

// started is the spec under a name, which has to be one that the language
// allows.
func (n New) started(name string) (string, error) {
	file := starter[n.Ways].file
	if n.Drivers {
		if n.Ways != 2 {
			return "", refused("there is a start with drivers for 2 ways, not for %d: leave --ways or --drivers out", n.Ways)
		}
		file = driverStarters + file
	}
	data, err := starters.ReadFile("starters/" + file + extension)
	if err != nil {
		return "", failed("%v", err)
	}
	if n.Board {
		board, err := starters.ReadFile("starters/" + boardStarter + extension)
		if err != nil {
			return "", failed("%v", err)
		}
		for _, block := range digitalBlocks {
			before, _, _ := bytes.Cut(data, []byte(block))
			data = before
		}
		data = slices.Concat(bytes.TrimRight(data, "\n"), []byte("\n\n"), board)
	}
	written := name
	if strings.Trim(strings.ToLower(name), "abcdefghijklmnopqrstuvwxyz0123456789_") != "" || name == "" {
		written = strconv.Quote(name) // so that it stays one value, whatever it is
	}
	text := strings.Replace(string(data), "name: starter", "name: "+written, 1)
	if s, faults := language.Parse(name, []byte(text), compiler.Language()); s == nil {
		return "", refused("%s; %s", faults[0].Message, faults[0].Right)
	}
	return text, nil
}
