package main

import (
	"context"
	"fmt"

	"bandwright/targets/explain"
)

// Explain is the verb that says what every filter became.
type Explain struct {
	Spec string `arg:"" name:"SPEC" help:"The spec, a YAML file."`
	Way  string `arg:"" optional:"" name:"WAY" help:"Only this way, with the common filters."`

	Faults bool `xor:"what" help:"For a service manual, what a missing or shorted part does at the outputs, stage by stage, with test points and selector positions."`
	Board  bool `xor:"what" help:"The op-amp stages instead: those that were chosen and why, and those that could be."`
}

// Help is printed below the arguments.
func (Explain) Help() string {
	return `For each filter: its analog poles and zeros with their Q, and the gain at both
ends. For each rate and format: the sections that realise it, by which method
and why, in which form, and at what error. With --board instead: the op-amp stages that were chosen, each
with target and actual figures, parts and reason; for each section the topologies that apply to it, with ideal part values,
and why the others do not; and small changes of the spec that would save op-amps, each tried. Nothing is written.

Examples:

    bandwright explain specs/heron.yaml
    bandwright explain specs/heron.yaml treble
    bandwright explain --board specs/heron.yaml mid
    bandwright explain --faults specs/heron.yaml`
}

// Run explains a spec. Broken promises do not matter here: the exit code is 0.
func (v Explain) Run(ctx context.Context, con console) error {
	b, err := load(ctx, con, v.Spec)
	if err != nil {
		return err
	}
	write := explain.Text
	switch {
	case v.Board:
		write = explain.Board
	case v.Faults:
		write = explain.Faults
	}
	text, err := write(b, v.Way)
	if err != nil {
		return refused("%s: %v", v.Spec, err)
	}
	_, err = fmt.Fprint(con.out, text)
	if err != nil {
		return failed("%v", err)
	}
	return nil
}
