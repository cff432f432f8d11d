package main

import "context"

// Help is the verb that does what --help does.
type Help struct {
	Verb string `arg:"" optional:"" name:"COMMAND" help:"The command to show the help of."`
}

// Run shows the help and ends the program.
func (h Help) Run(ctx context.Context) error {
	args := []string{"--help"}
	if h.Verb != "" {
		args = []string{h.Verb, "--help"}
	}
	if code := run(ctx, args); code != exitKept {
		return outcome{code: code}
	}
	return nil
}
