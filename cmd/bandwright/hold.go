package main

import (
	"bytes"
	"context"
	"fmt"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"

	"bandwright/compiler"
	"bandwright/compiler/board"
	"bandwright/compiler/language"
	"bandwright/compiler/netlist"
	"bandwright/compiler/verify"
	"bandwright/compiler/words"
)

// Hold is the verb that writes a board as it is laid out.
type Hold struct {
	Spec string   `arg:"" name:"SPEC" help:"The spec, a YAML file. Its board.held names the file that is written."`
	Ways []string `arg:"" optional:"" name:"WAY" help:"With --anew: only this way, or the common stages (common); more may follow."`

	Anew    bool     `help:"Choose the whole board anew, or the stages of the ways that are named."`
	Without []string `placeholder:"VALUE" help:"Tell what happens when a value, such as 470nF, can not be had any more; may be given again. Nothing is written."`
}

// Help is printed below the flags.
func (Hold) Help() string {
	return `A board whose spec names a file in board.held is used as that file has it: references, topologies and values stay, ` +
		`and a stage changes only where its filter changed and the held parts no longer keep the promises, or where the stock lost a part. ` +
		`Writes the file the first time, with few different values where the spec does not say otherwise in few-values, and again what changed since, with a sentence on each stage. A file that says the same already is not touched. ` +
		`Values may be edited by hand: they are judged, not changed back. With --without the exit code is 1 where the board would break a promise.

Examples:

    bandwright hold specs/heron.yaml
    bandwright hold specs/heron.yaml --anew bass
    bandwright hold specs/heron.yaml --without "150 nF" --without "34 kohm"`
}

// source is a spec that was read, and its folder.
type source struct {
	file   string
	text   []byte
	folder fs.FS
}

// Run writes the held board, or tells what happens without some values.
func (v Hold) Run(ctx context.Context, con console) error {
	text, err := read(ctx, v.Spec)
	if err != nil {
		return err
	}
	src := source{v.Spec, text, folderOf(v.Spec)}
	h, err := v.asked()
	if err != nil {
		return err
	}
	if err := v.holds(con, src); err != nil {
		return err
	}
	b, err := v.build(ctx, con, src, h)
	if err != nil {
		return err
	}
	if len(v.Without) > 0 {
		return v.tell(ctx, con, src, b)
	}
	return v.write(ctx, con, b)
}

// asked is what the command line asks of the board.
func (v Hold) asked() (compiler.Holding, error) {
	switch {
	case len(v.Ways) > 0 && !v.Anew:
		return compiler.Holding{}, refused("`%s`: a way is named only behind --anew, to choose its stages anew", v.Ways[0])
	case v.Anew && len(v.Without) > 0:
		return compiler.Holding{}, refused("--without tells what happens to the board that is held: leave --anew out")
	}
	return compiler.Holding{Absent: true, All: v.Anew && len(v.Ways) == 0, Anew: v.Ways}, nil
}

// holds refuses a spec that names no file for its board, and ways that it does not have.
// A spec with faults is left to the compiler.
func (v Hold) holds(con console, src source) error {
	s, _ := language.Parse(src.file, src.text, compiler.Language())
	if s == nil {
		return nil
	}
	line := code("held: boards/" + s.Name + extension)
	switch {
	case s.Board == nil:
		return refused("%s has no board to hold: add `board: {held: boards/%s%s}`", src.file, s.Name, extension)
	case s.Board.Held.Name == "":
		fmt.Fprintln(con.err, s.Fault(language.Error, s.Board.Pos, "the spec does not say which file holds its board", "add "+line+" to `board`"))
		return refused("1 error in %s", src.file)
	}
	chains := []string{"common"}
	for _, w := range s.Ways {
		chains = append(chains, w.Name)
	}
	for _, name := range v.Ways {
		if !slices.Contains(chains, name) {
			right := "there are " + words.List(chains)
			if near := language.Nearest(name, chains); near != "" {
				right = "did you mean " + code(near) + "?"
			}
			return refused("%s has no way %s; %s", src.file, code(name), right)
		}
	}
	return nil
}

// code is what a user may write.
func code(text string) string { return "`" + text + "`" }

// build compiles a spec that has to have a board.
func (v Hold) build(ctx context.Context, con console, src source, h compiler.Holding) (*compiler.Build, error) {
	b, err := told(ctx, con, src.file, func(ctx context.Context) (*compiler.Build, []language.Fault, error) {
		return compiler.CompileHolding(ctx, src.file, src.text, src.folder, h)
	})
	if err == nil && b.Board == nil {
		return nil, refused("no board can be built of %s, so there is nothing to hold: `bandwright check %s` says why", v.Spec, v.Spec)
	}
	return b, err
}

// write writes the file that holds the board, unless it says the same already.
func (v Hold) write(ctx context.Context, con console, b *compiler.Build) error {
	held := b.Hold()
	data := language.FormatHeld(held)
	name := b.Spec.Board.Held.Name
	file := filepath.Join(filepath.Dir(v.Spec), filepath.FromSlash(name))
	if back, faults := language.ParseHeld(file, data, compiler.Language()); back == nil {
		return failed("the board cannot be held: %s", faults[0].Message)
	}
	before := b.Spec.Board.Held.Text
	dir, base := filepath.Split(file)
	dir = filepath.Clean(dir)
	_, absent := os.Stat(dir)
	if !bytes.Equal(before, data) {
		if err := replace(ctx, dir, base, data); err != nil {
			return err
		}
	}
	if _, err := con.out.Write([]byte(v.said(b, held, file, bytes.Equal(before, data)))); err != nil {
		switch {
		case bytes.Equal(before, data):
		case before == nil:
			if os.Remove(file); absent != nil {
				os.Remove(dir)
			}
		default:
			replace(context.WithoutCancel(ctx), dir, base, before)
		}
		return failed("the result cannot be printed, and nothing was written: %v", reason(err))
	}
	if !verify.Kept(ofBoard(b)) {
		return outcome{code: exitBroken}
	}
	return nil
}

// ofBoard are the findings on the board.
func ofBoard(b *compiler.Build) []verify.Finding {
	return slices.DeleteFunc(slices.Clone(b.Findings), func(f verify.Finding) bool { return f.Realisation != b.Board.Name() })
}

// tell says what happens to a board when values can not be had any more.
func (v Hold) tell(ctx context.Context, con console, src source, now *compiler.Build) error {
	var gone []board.Value
	for _, text := range v.Without {
		value, dim, fault := language.PartValue(strings.TrimSpace(text))
		if fault != nil {
			return refused("--without: %s; %s", fault.Message, fault.Right)
		}
		kind := netlist.Resistor
		if dim == language.Capacitance {
			kind = netlist.Capacitor
		}
		if v := (board.Value{Kind: kind, Value: value}); !slices.Contains(gone, v) {
			gone = append(gone, v)
		}
	}
	then := now
	hits := hit(now.Board, gone)
	if len(hits) > 0 {
		// A board that is not written yet is held as it would be.
		src.folder = overlaid{src.folder, now.Spec.Board.Held.Name, language.FormatHeld(now.Hold())}
		var err error
		if then, err = v.build(ctx, con, src, compiler.Holding{Without: gone}); err != nil {
			return err
		}
	}
	if _, err := con.out.Write([]byte(withoutText(now, then, gone, hits))); err != nil {
		return failed("the result cannot be printed: %v", reason(err))
	}
	if !verify.Kept(ofBoard(then)) {
		return outcome{code: exitBroken}
	}
	return nil
}

// overlaid is a folder in which one file holds something else.
type overlaid struct {
	fs.FS
	name string
	data []byte
}

// Open opens a file of the folder.
func (o overlaid) Open(name string) (fs.File, error) {
	if name == o.name {
		return &revisionFile{bytes.NewReader(o.data), path.Base(name)}, nil
	}
	return o.FS.Open(name)
}
