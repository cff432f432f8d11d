// Command bandwright compiles the spec of an active loudspeaker into verified
// digital filters and boards. It is the only place that touches the disk: specs are read
// here, artefacts written here, and what happened becomes an exit code.
//
// Read first: Grammar, run; each verb has its own file.
package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"runtime/debug"
	"strings"
	"syscall"

	"github.com/alecthomas/kong"

	"bandwright/biquad/number"
	"bandwright/compiler/words"
	"bandwright/targets"
)

// The exit codes.
const (
	exitKept    = 0 // every promise is kept
	exitBroken  = 1 // a promise is broken, or a regression; everything is written all the same
	exitRefused = 2 // bad spec or usage; nothing is written
	exitFailed  = 3 // disk, permission or an interruption; nothing is written
)

// Grammar is the command line.
type Grammar struct {
	Compile    Compile    `cmd:"" help:"Compile a spec: write all artefacts, print what is kept and what is broken."`
	Check      Check      `cmd:"" help:"Check specs against their promises and accepted results. For continuous integration."`
	Diff       Diff       `cmd:"" help:"Describe what changed between two specs, accepted results or NAME.json, of any kind each."`
	Hold       Hold       `cmd:"" help:"Write the board as it is laid out, or tell what a lost value would change."`
	Explain    Explain    `cmd:"" help:"Show how every filter is realised, in digital sections or op-amp stages, or what faults of a board do."`
	Render     Render     `cmd:"" help:"Play a recording through the digital filters, bit for bit, into a file a way and their sum."`
	Stimulus   Stimulus   `cmd:"" help:"Write the sweep that a finished unit is measured with."`
	Suggest    Suggest    `cmd:"" help:"Look for the fewest filters that bring a way to a target."`
	New        New        `cmd:"" help:"Write a spec to start from, with comments and invented data."`
	Schema     Schema     `cmd:"" help:"Print the spec language as a JSON Schema, for editors."`
	Completion Completion `cmd:"" help:"Print a completion script for a shell."`
	Version    Version    `cmd:"" help:"Print the version of the program and of the spec language."`
	Help       Help       `cmd:"" help:"Show the help of the program or of a command."`

	ShowVersion versionFlag `name:"version" help:"Print the version, as the command does."`
}

const description = `Compiles the spec of an active loudspeaker's crossovers and equalisers into digital filters, a board ` +
	`of op-amp stages, or both (the blocks ` + "`digital` and `board`" + ` of the spec: one is enough), verifies them against the ideal, ` +
	`and reports the error of each way.

Examples:

    bandwright compile specs/heron.yaml -o build/heron
    bandwright check specs/*.yaml

Exit codes: 0 all promises kept; 1 a promise broken, or a regression (all files are written); ` +
	`2 bad spec or usage; 3 system error: disk, permission, interruption. With 2 and 3 nothing is written ` +
	`and earlier output is unchanged.`

// console is where a verb prints.
type console struct {
	out io.Writer
	err *os.File
}

// outcome is an error with the exit code that it means. An empty text prints
// nothing: the verb has said it all.
type outcome struct {
	code int
	text string
}

func (o outcome) Error() string { return o.text }

func refused(format string, args ...any) error {
	return outcome{exitRefused, fmt.Sprintf(format, args...)}
}

func failed(format string, args ...any) error {
	return outcome{exitFailed, fmt.Sprintf(format, args...)}
}

// errInterrupted is what a cancelled context becomes.
var errInterrupted = outcome{exitFailed, "interrupted; nothing was written"}

func main() {
	// A run takes some 30 MB for seconds: collecting at five times what is in use
	// instead of twice costs memory that nobody misses, and saves a tenth of the time.
	if os.Getenv("GOGC") == "" {
		debug.SetGCPercent(400)
	}
	// The signals stay caught to the end: one that comes after everything is
	// in place must not make the exit code deny it.
	ctx, _ := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	os.Exit(run(ctx, os.Args[1:]))
}

// run parses the command line and runs its verb.
func run(ctx context.Context, args []string) int {
	var g Grammar
	parser, err := kong.New(&g,
		kong.Name("bandwright"),
		kong.Description(description),
		kong.ConfigureHelp(kong.HelpOptions{Compact: true, WrapUpperBound: helpWidth}),
		kong.Vars{"groups": strings.Join(targets.Groups(), ", "), "formats": words.List(formatNames())},
	)
	if err != nil {
		return answer(err)
	}
	verb, err := parser.Parse(args)
	if err != nil {
		return answer(refused("%s (`%s --help` shows how)", usage(err), commandOf(err)))
	}
	verb.BindTo(ctx, (*context.Context)(nil))
	return answer(verb.Run(console{os.Stdout, os.Stderr}))
}

// formatNames are the number formats.
func formatNames() []string {
	var out []string
	for _, f := range number.Formats {
		out = append(out, f.Name)
	}
	return out
}

// helpWidth is where help text wraps at the latest.
const helpWidth = 100

// usage is a usage error in words for people: kong calls the end of the line
// by the name of its token, and numbers by the types of programs.
func usage(err error) string {
	text := err.Error()
	for kind, noun := range map[string]string{": expected a valid 64 bit int but got ": "a whole number", ": expected a float but got ": "a number"} {
		if flag, got, found := strings.Cut(text, kind); found {
			got = strings.Trim(strings.TrimSuffix(got, " (string)"), `"`)
			return flag + " takes " + noun + ", not " + code(got)
		}
	}
	if flag, _, found := strings.Cut(text, `: expected string value but got "EOL"`); found {
		return flag + " needs a value"
	}
	return text
}

// commandOf is the command whose help answers a usage error.
func commandOf(err error) string {
	var parse *kong.ParseError
	if errors.As(err, &parse) && parse.Context != nil {
		if n := parse.Context.Selected(); n != nil {
			return n.FullPath()
		}
	}
	return "bandwright"
}

// answer prints an error on one line and returns its exit code.
func answer(err error) int {
	if err == nil {
		return exitKept
	}
	if errors.Is(err, context.Canceled) {
		err = errInterrupted
	}
	code := exitFailed
	var o outcome
	if errors.As(err, &o) {
		code = o.code
	}
	if text := err.Error(); text != "" {
		fmt.Fprintln(os.Stderr, "bandwright: "+text)
	}
	return code
}
