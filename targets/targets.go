// Package targets is the table of artefacts. A finished Build goes in, files
// come out; printers decide nothing and never judge. The one invariant: the
// same Build gives the same bytes, and the last file lists all the others.
//
// Read first: Target, All, Emit.
package targets

import (
	"fmt"
	"slices"

	"bandwright/compiler"
	"bandwright/compiler/language"
	"bandwright/compiler/parallel"
	"bandwright/targets/cheader"
	"bandwright/targets/json"
	"bandwright/targets/kicad"
	"bandwright/targets/layout"
	"bandwright/targets/limits"
	"bandwright/targets/netlist"
	"bandwright/targets/page"
	"bandwright/targets/parts"
	"bandwright/targets/report"
	"bandwright/targets/schematic"
	"bandwright/targets/selfcheck"
	"bandwright/targets/stages"
)

// Target is one row of the table: one kind of artefact.
type Target struct {
	// Name says which target, Group what --only calls it; targets of one group
	// are only useful together.
	Name, Group string
	Doc         string // one sentence
	// Exactly one of the two is set. Emit makes files from the build alone;
	// Index makes the file that lists the others, and is always made.
	Emit  func(*compiler.Build) ([]compiler.File, error)
	Index func(b *compiler.Build, made []compiler.File) (compiler.File, error)
	// faults are what in the spec keeps Emit from making files, nil where nothing can.
	faults func(*compiler.Build) []language.Fault

	takes int // some hundredths of a second of one processor; 0 of less than two
	// needs is what a spec has to ask for if this target, the first of its group, is to make a file, and has whether one
	// does; "" where every spec gets one.
	needs string
	has   func(*compiler.Build) bool
}

// All is every target, in the order that files are made. The index is last.
var All = []Target{
	{Name: "cheader", Group: "cheader", Emit: cheader.Emit, faults: cheader.Names, needs: "`digital.formats`", has: func(b *compiler.Build) bool { return realised(b, false) },
		Doc: "C headers for firmware, one a number format: tables, filters, settings"},
	{Name: "selfcheck", Group: "cheader", Emit: selfcheck.Emit, takes: 2,
		Doc: "NAME_FORMAT_selftest.c, run on the target: whether the filters compute there what the simulation does"},
	{Name: "layout", Group: "layout", Emit: layout.Emit, needs: "`digital.layouts`", has: func(b *compiler.Build) bool { return realised(b, true) },
		Doc: "NAME_LAYOUT.h, .txt or .bin, coefficients for engines that are not ours, one a layout of the spec"},
	{Name: "netlist", Group: "board", Emit: netlist.Emit, needs: "`board`", has: func(b *compiler.Build) bool { return b.Board != nil },
		Doc: "board/NAME.cir, the board as a SPICE netlist with settings as parameters"},
	{Name: "parts", Group: "board", Emit: parts.Emit,
		Doc: "board/NAME_parts.csv, what to buy for the board"},
	{Name: "limits", Group: "board", Emit: limits.Emit, takes: 20,
		Doc: "board/NAME_limits.csv, the test of every finished board: level, phase, DC and noise limits"},
	{Name: "stages", Group: "board", Emit: stages.Emit,
		Doc: "board/NAME_stages.csv, bring-up: gain, volts and DC of each stage at its own frequency"},
	{Name: "schematic", Group: "board", Emit: schematic.Emit,
		Doc: "board/NAME_SHEET.svg, the schematic: the input with the common stages, every way, the supply"},
	{Name: "kicad", Group: "board", Emit: kicad.Emit, takes: 2,
		Doc: "board/NAME.kicad_sch with a file for each sheet, the schematic to lay out and simulate"},
	{Name: "report", Group: "report", Emit: report.Emit,
		Doc: "report.txt, the error report for people"},
	{Name: "page", Group: "report", Emit: page.Emit, takes: 10,
		Doc: "report.html, the error report to look at, in one file"},
	{Name: "json", Group: "json", Index: json.Emit,
		Doc: "NAME.json for machines: every coefficient and figure, and the SHA-256 of the other files; always written"},
}

// Groups are the names that --only takes, each once, in the table's order.
func Groups() []string {
	var out []string
	for _, t := range All {
		if !slices.Contains(out, t.Group) {
			out = append(out, t.Group)
		}
	}
	return out
}

// realised tells that a spec asks for digital filters, in the words of other people's engines or in our own formats.
func realised(b *compiler.Build, laid bool) bool {
	return slices.ContainsFunc(b.Digital, func(d compiler.Digital) bool { return d.Asked && (d.Laid != nil) == laid })
}

// Lacking are those of some groups of which nothing is made, as the spec does not ask for it, each with what it would
// have to have: "board: the spec has no `board`".
func Lacking(b *compiler.Build, groups []string) []string {
	var out []string
	for _, t := range All {
		if t.needs != "" && slices.Contains(groups, t.Group) && !t.has(b) {
			out = append(out, t.Group+": the spec has no "+t.needs)
		}
	}
	return out
}

// Faults are what in a spec keeps any of its artefacts from being made, whichever are asked for: all errors, in the
// order of the spec.
func Faults(b *compiler.Build) []language.Fault {
	var out []language.Fault
	for _, t := range All {
		if t.faults != nil {
			out = append(out, t.faults(b)...)
		}
	}
	language.Sort(out)
	return out
}

// Emit makes the files of the groups asked for, all of them where groups is
// empty, and the index last. Names are unique and slash-separated.
func Emit(b *compiler.Build, groups []string) ([]compiler.File, error) {
	var files []compiler.File
	seen := map[string]string{}
	add := func(t Target, made ...compiler.File) error {
		for _, f := range made {
			if other, clash := seen[f.Name]; clash {
				return fmt.Errorf("targets %s and %s both make %s", other, t.Name, f.Name)
			}
			seen[f.Name] = t.Name
		}
		files = append(files, made...)
		return nil
	}
	wanted := func(t Target) bool { return t.Index == nil && (len(groups) == 0 || slices.Contains(groups, t.Group)) }
	made := make([][]compiler.File, len(All))
	begin := longestFirst()
	err := parallel.Try(len(All), func(n int) (err error) {
		i := begin[n]
		if t := All[i]; wanted(t) {
			if made[i], err = t.Emit(b); err != nil {
				return fmt.Errorf("target %s: %w", t.Name, err)
			}
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	for i, t := range All {
		if t.Index != nil {
			index, err := t.Index(b, files)
			if err != nil {
				return nil, fmt.Errorf("target %s: %w", t.Name, err)
			}
			made[i] = []compiler.File{index}
		}
		if err := add(t, made[i]...); err != nil {
			return nil, err
		}
	}
	return files, nil
}

// longestFirst are the targets by index in the order in which they are begun: those that take
// long and end in work for one processor first, so that the others are made beside them.
func longestFirst() []int {
	out := make([]int, len(All))
	for i := range out {
		out[i] = i
	}
	slices.SortStableFunc(out, func(a, b int) int { return All[b].takes - All[a].takes })
	return out
}
