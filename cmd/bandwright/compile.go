package main

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"bandwright/compiler"
	"bandwright/compiler/verify"
	"bandwright/compiler/words"
	"bandwright/targets"
	"bandwright/targets/page"
)

// Compile is the verb that writes artefacts.
type Compile struct {
	Spec string   `arg:"" name:"SPEC" help:"The spec, a YAML file."`
	Out  string   `short:"o" required:"" placeholder:"DIR" help:"Folder for the artefacts, created if missing. It holds the output of one spec."`
	Only []string `placeholder:"GROUP" help:"Make only these groups of artefacts, separated by commas: ${groups}. NAME.json is always written, and the folder then holds these files only."`

	Against string `placeholder:"DIR" help:"Folder of accepted results, NAME.accepted.json: report.html then tells what changed since, before and after."`

	Watch bool `help:"Stay, and compile again whenever the spec or a file that it names is saved. A mistake leaves the last good output."`
	Serve bool `help:"Watch, and show report.html to a browser on this machine, which turns the page over after each compile."`
}

// Help is printed below the flags.
func (Compile) Help() string {
	return `The artefacts carry the name that the spec gives. They replace those of an earlier compile of the same spec; ` +
		`files that bandwright did not write are never touched. Files that the spec names, such as the stock files of ` +
		`board.resistors and board.capacitors, are read from the spec's own folder or below it.

Examples:

    bandwright compile specs/heron.yaml -o build/heron
    bandwright compile specs/heron.yaml -o firmware/filters --only cheader
    bandwright compile specs/heron.yaml -o build/heron --against accepted
    bandwright compile specs/heron.yaml -o build/heron --serve`
}

// Run compiles, writes and prints the summary.
func (c Compile) Run(ctx context.Context, con console) error {
	if c.Out == "" {
		return refused("-o needs the name of a folder")
	}
	for _, g := range c.Only {
		if !slices.Contains(targets.Groups(), g) {
			return refused("--only does not take `%s`: it takes %s", g, words.List(targets.Groups()))
		}
	}
	if c.Against != "" && len(c.Only) > 0 && !slices.Contains(c.Only, "report") {
		return refused("--against is told in report.html: let --only take `report` too, or leave it out")
	}
	if c.Watch || c.Serve {
		return c.watch(ctx, con)
	}
	b, err := load(ctx, con, c.Spec)
	if err != nil {
		return err
	}
	return c.put(ctx, con, b, nil)
}

// put emits a build's artefacts, writes them and prints the summary. Whoever waits for the report is shown
// it first; show may be nil.
func (c Compile) put(ctx context.Context, con console, b *compiler.Build, show func([]compiler.File)) error {
	note, err := c.before(ctx, b)
	if err != nil {
		return err
	}
	if show != nil {
		report, err := page.Emit(b)
		if err != nil {
			return failed("%v", err)
		}
		show(report)
	}
	files, err := targets.Emit(b, c.Only)
	if err != nil {
		return failed("%v", err)
	}
	swap, err := write(ctx, c.Out, b.Spec.Name, files)
	if err != nil {
		return err
	}
	text := summary(b, "report.txt has them all") + "\n" + written(c.Out, files) + note
	for _, lacking := range targets.Lacking(b, c.Only) {
		text += "nothing was made for --only " + lacking + "\n"
	}
	for _, name := range swap.kept {
		text += fmt.Sprintf("%s is no longer made, but was edited: it was not deleted\n", name)
	}
	if _, err := con.out.Write([]byte(text)); err != nil {
		swap.undo()
		return failed("the summary cannot be printed, and nothing was written: %v", reason(err))
	}
	if ctx.Err() != nil {
		swap.undo()
		return errInterrupted
	}
	swap.sweep()
	swap.done()
	if !verify.Kept(b.Findings) {
		return outcome{code: exitBroken}
	}
	return nil
}

// before gives a build the accepted result that its report compares with, found as check finds it. That none was
// accepted yet is a line of the summary, and the report says so too.
func (c Compile) before(ctx context.Context, b *compiler.Build) (note string, err error) {
	if c.Against == "" {
		return "", nil
	}
	if path, is := acceptedFile(c.Against, b.Spec.Name); !is {
		return fmt.Sprintf("nothing was accepted yet: there is no %s\n", path), nil
	}
	a, err := readAccepted(ctx, c.Against, b.Spec.Name)
	if err != nil {
		return "", err
	}
	if b.Before, err = a.Bytes(); err != nil {
		return "", failed("%v", err)
	}
	return "", nil
}

// written names the files that are now in the folder.
func written(dir string, files []compiler.File) string {
	var names []string
	for _, f := range files {
		names = append(names, f.Name)
	}
	return strings.Join(words.Wrap(fmt.Sprintf("wrote %s to %s: %s",
		words.Count(len(files), "file", "files"), dir, strings.Join(names, ", ")), "", "  ", summaryWidth), "\n") + "\n"
}
