// Package compiler is the straight line from a spec's bytes to a Build. READ
// THIS FIRST: Compile is the architecture.
//
// Bytes come in; a Build or faults go out. Nothing here touches the disk, the
// clock or the environment. The one invariant: every stage is a function from
// values to values, and a Build is what they returned.
package compiler

import (
	"context"
	"io/fs"
	"slices"

	"bandwright/compiler/acoustic"
	"bandwright/compiler/batch"
	"bandwright/compiler/board"
	"bandwright/compiler/design"
	"bandwright/compiler/grammar"
	"bandwright/compiler/language"
	"bandwright/compiler/parallel"
	"bandwright/compiler/progress"
	"bandwright/compiler/promise"
	"bandwright/compiler/verify"
)

// Wanted is what a spec asks for, before anything is realised.
type Wanted struct {
	Spec *language.Spec
	// Settings are the spec's settings in order; a Combination indexes them.
	Settings []verify.Setting
	Promises promise.Promises
	// Held is the board as it is laid out, nil for none, and Holding what is asked of it.
	Held    *language.Held
	Holding Holding
	extent  extent // what is left out
	// planner has what was worked out for other boards of the same stock, op-amps and band; nil for nothing.
	planner *board.Planner
	weighed *weighed // keeps the board that was judged last before it was taken, nil where none is kept
	// Acoustics are the drivers and amplifiers, nil where the spec has no driver.
	Acoustics *acoustic.System
	// Design has the prototype, the ideal that everything is judged by.
	design.Design
}

// Build is everything that a compilation made.
type Build struct {
	Wanted
	SHA256 string // of the spec's bytes, lower-case hexadecimal
	// Inputs has the SHA-256 of every file that the spec names, by its name.
	Inputs map[string]string
	// Digital has one realisation per rate and format, rates in the spec's
	// order, float64 first at each rate.
	Digital []Digital
	// Board is the realisation by op-amp stages; nil for a spec without one and
	// where none could be made.
	Board *board.Board
	// Batch is what boards are like with the tolerances of their parts; nil without a
	// board, and where nothing is promised of it.
	Batch *batch.Batch
	// Air is what drivers and amplifiers make of it, nil where the spec has no driver.
	Air      *Air
	Findings []verify.Finding
	Figures  []verify.Figures
	// Warnings are the faults that did not stop the compilation.
	Warnings []language.Fault
	// Before is the accepted result that reports compare with, as its file holds it; nil for
	// none. No stage looks at it: whoever asks for reports puts it here.
	Before []byte
}

// Compile turns a spec's bytes into a Build: parse, resolve and design, then side by
// side discretise, quantise and verify, and build the board and verify it. Emit (package targets)
// comes after it. file is the name that diagnostics use, folder the spec's own, where
// the files are that it names; nil where none can be read. Faults may come with a
// Build (warnings) or without one (at least one is an error). The error is of
// a cancelled context, which is looked at between the stages and in the outer
// loops of those that can take long, or of a method that failed. A long stage says
// what it does by package progress.
func Compile(ctx context.Context, file string, src []byte, folder fs.FS) (*Build, []language.Fault, error) {
	return CompileHolding(ctx, file, src, folder, Holding{})
}

// CompileHolding is Compile with something else asked of the board that the spec holds.
func CompileHolding(ctx context.Context, file string, src []byte, folder fs.FS, h Holding) (*Build, []language.Fault, error) {
	return compile(ctx, source{file, src, folder}, h, extent{})
}

// Verdict is Compile for the findings alone: of a batch as many boards are simulated as it
// takes to see whether what is promised is kept, and nothing that only a report tells.
func Verdict(ctx context.Context, file string, src []byte, folder fs.FS) (*Build, []language.Fault, error) {
	return compile(ctx, source{file, src, folder}, Holding{}, extent{enough: true, unplayed: true})
}

// Findings is Compile for what becomes of the promises alone: what would keep a broken one is not
// looked for, nor what breaks it, and changes of settings are not simulated.
func Findings(ctx context.Context, file string, src []byte, folder fs.FS) (*Build, []language.Fault, error) {
	return compile(ctx, source{file, src, folder}, Holding{}, extent{unadvised: true, unplayed: true})
}

// extent is what a compilation leaves out, as whoever asks for it does not look at that.
type extent struct {
	enough     bool // of a batch as many boards are simulated as the verdict takes
	unadvised  bool // no advice on broken promises
	unplayed   bool // changes of settings are not simulated
	unradiated bool // no sound to all sides, of which nothing is promised
}

// Filters is Compile for the digital side alone: nothing is judged, no board is built.
func Filters(ctx context.Context, file string, src []byte, folder fs.FS) (*Build, []language.Fault, error) {
	from := source{file, src, folder}
	w, inputs, faults := wanted(from, Holding{})
	if w == nil {
		return nil, faults, nil
	}
	made, err := discretise(ctx, w)
	if err != nil {
		return nil, faults, err
	}
	laid, more := w.layOut(made)
	if faults = append(faults, more...); anyError(more) {
		return nil, faults, nil
	}
	digital := append(quantise(w.Spec.Digital, made), laid...)
	return &Build{Wanted: *w, SHA256: sha256Of(from.text), Inputs: inputs, Digital: digital, Warnings: faults}, faults, nil
}

// source is a spec's bytes, the name that diagnostics use, and its folder.
type source struct {
	file   string
	text   []byte
	folder fs.FS
}

// compile is the line.
func compile(ctx context.Context, from source, h Holding, x extent) (*Build, []language.Fault, error) {
	w, inputs, faults := wanted(from, h)
	if w == nil {
		return nil, faults, nil
	}
	w.extent = x
	b := &Build{Wanted: *w, SHA256: sha256Of(from.text), Inputs: inputs, Warnings: faults}
	more, err := b.realise(ctx)
	if err != nil {
		return nil, faults, err
	}
	if b.Warnings = append(faults, more...); anyError(more) {
		return nil, b.Warnings, nil
	}
	return b, b.Warnings, nil
}

// realise makes everything that is wanted and judges it.
func (b *Build) realise(ctx context.Context) ([]language.Fault, error) {
	// What one has to do with the other is the prototype alone: they are made side by side.
	var byDigital, byBoard judged
	var failed error
	var ofDigital, ofBoard []language.Fault
	parallel.Together(
		func() { byDigital, ofDigital, failed = b.realiseDigital(ctx) },
		func() { byBoard, ofBoard = b.realiseBoard(ctx) })
	if failed == nil {
		failed = ctx.Err()
	}
	more := append(ofDigital, ofBoard...)
	if failed != nil || anyError(more) {
		return more, failed
	}
	b.Figures = append(byDigital.figures, byBoard.figures...)
	b.Findings = slices.Concat(b.Promises.Crossovers(&b.Design), byDigital.findings, byBoard.findings)
	air, inAir := b.hear(ctx)
	b.Air = air
	b.Findings = append(b.Findings, inAir...)
	b.advise(ctx)
	b.adviseAir(ctx, b.Findings[len(b.Findings)-len(inAir):])
	return more, nil
}

// realiseDigital makes the digital realisations, holds them against the promises and
// simulates changes of settings.
func (b *Build) realiseDigital(ctx context.Context) (judged, []language.Fault, error) {
	progress.Say(ctx, "making the digital filters")
	made, err := discretise(ctx, &b.Wanted)
	if err != nil {
		return judged{}, nil, err
	}
	laid, faults := b.layOut(made)
	if anyError(faults) {
		return judged{}, faults, nil
	}
	b.Digital = append(quantise(b.Spec.Digital, made), laid...)
	faults = append(faults, b.coarse()...)
	out := b.judgeDigital(ctx)
	if !b.extent.unplayed && ctx.Err() == nil {
		addChanges(b)
	}
	return out, faults, nil
}

// realiseBoard builds the board, simulates a batch of it and holds both against the
// promises. Nothing is judged where a fault is an error.
func (b *Build) realiseBoard(ctx context.Context) (judged, []language.Fault) {
	made, noBoard, faults := buildBoard(ctx, &b.Wanted)
	if anyError(faults) || ctx.Err() != nil {
		return judged{}, faults
	}
	b.Board = made
	b.Batch = b.simulate(ctx, made)
	progress.Say(ctx, "checking the promises")
	return b.judgeBoard(ctx, noBoard), faults
}

// wanted is what a spec asks for, with the files that it names and their hashes; nil
// where it cannot be made, with the faults that say why.
func wanted(from source, h Holding) (*Wanted, map[string]string, []language.Fault) {
	s, faults := language.Parse(from.file, from.text, Language())
	if s == nil {
		return nil, nil, faults
	}
	inputs, more := readInputs(s, from.folder, h)
	more = append(more, s.ReadStocks()...)
	if faults = append(faults, more...); anyError(more) {
		return nil, nil, faults
	}
	w, more := Prototype(s)
	faults = append(faults, more...)
	if w == nil {
		return nil, nil, faults
	}
	w.Acoustics, more = w.inAir()
	if faults = append(faults, more...); anyError(more) {
		return nil, nil, faults
	}
	w.Holding = h
	if w.Held, more = readHeld(s, h); anyError(more) {
		return nil, nil, append(faults, more...)
	}
	return w, inputs, slices.Concat(faults, more, w.unusedClasses(), w.unusedDither())
}

// Prototype is what a spec asks for; nil where it means nothing, with the
// faults that say why.
func Prototype(s *language.Spec) (*Wanted, []language.Fault) {
	w := &Wanted{Spec: s, Settings: settings(s), Promises: promise.Read(s)}
	d, faults := design.New(s, w.Promises.LowHz, w.Promises.HighHz)
	if d == nil {
		return nil, faults
	}
	w.Design = *d
	return w, faults
}

// Language is the spec language.
func Language() language.Tables { return grammar.Language() }

// settings are a spec's settings as findings name them.
func settings(s *language.Spec) []verify.Setting {
	var out []verify.Setting
	for _, set := range s.Settings {
		v := verify.Setting{Name: set.Name}
		for _, c := range set.Choices {
			v.Choices = append(v.Choices, c.Text)
		}
		out = append(out, v)
	}
	return out
}

// anyError reports whether a fault ends the compilation.
func anyError(faults []language.Fault) bool {
	for _, f := range faults {
		if f.Severity == language.Error {
			return true
		}
	}
	return false
}
