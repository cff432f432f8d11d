package main

import (
	"fmt"
	"os"
	"runtime/debug"

	"github.com/alecthomas/kong"

	"bandwright/compiler"
	"bandwright/compiler/result"
)

// Version is the verb that says what this is.
type Version struct{}

// Help is printed below the flags.
func (Version) Help() string {
	return `Examples:

    bandwright version`
}

// Run prints the module's version as the Go tool recorded it.
func (Version) Run(con console) error {
	module := "(unknown)"
	if info, ok := debug.ReadBuildInfo(); ok && info.Main.Version != "" {
		module = info.Main.Version
	}
	if _, err := fmt.Fprintf(con.out, "bandwright %s\nspec language %d\n", module, result.Version); err != nil {
		return failed("the version cannot be printed: %v", reason(err))
	}
	return nil
}

// versionFlag is --version, which users try first.
type versionFlag bool

// BeforeReset prints what the verb prints, whatever else the command line says.
func (versionFlag) BeforeReset(app *kong.Kong) error {
	app.Exit(answer(Version{}.Run(console{os.Stdout, os.Stderr})))
	return nil
}

// accepted is what a build would be accepted as, made by this program.
func accepted(b *compiler.Build) *result.Accepted {
	a := result.Accept(b)
	info, _ := debug.ReadBuildInfo()
	a.MadeBy = programOf(info)
	return a
}

// programOf is the version of a program: that of its module, or where it was built from a
// working tree the revision of that, as far as the Go tool recorded either.
func programOf(info *debug.BuildInfo) string {
	const working, short = "(devel)", 12
	if info == nil {
		return ""
	}
	if v := info.Main.Version; v != "" && v != working {
		return v
	}
	out := "development build"
	for _, s := range info.Settings {
		if s.Key == "vcs.revision" {
			out += " " + s.Value[:min(short, len(s.Value))]
		}
	}
	return out
}
