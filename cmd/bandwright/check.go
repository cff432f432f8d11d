package main

import (
	"context"
	"errors"
	"fmt"
	"os"

	"bandwright/targets/report"
)

// Check is the verb that only judges.
type Check struct {
	Specs []string `arg:"" name:"SPEC" help:"The specs, YAML files."`
}

// Help is printed below the arguments.
func (Check) Help() string {
	return `The exit code is the greatest of all specs: 0 all promises kept, 1 a promise broken, 2 a bad spec, ` +
		`3 a spec that cannot be read. One bad spec does not keep the others from being checked.

Examples:

    bandwright check specs/heron.yaml
    bandwright check specs/*.yaml`
}

// Run checks every spec, whatever became of those before it.
func (c Check) Run(ctx context.Context, con console) error {
	code := exitKept
	for i, file := range c.Specs {
		if ctx.Err() != nil {
			return errInterrupted
		}
		b, err := load(ctx, con, file)
		var o outcome
		switch {
		case err == nil:
		case errors.As(err, &o) && !errors.Is(err, errInterrupted):
			code = max(code, o.code)
			if o.text != "" {
				fmt.Fprintln(os.Stderr, "bandwright: "+o.text)
			}
			continue
		default:
			return err
		}
		text := summary(b, "`bandwright compile` writes them all to report.txt")
		if i > 0 {
			text = "\n" + text
		}
		if _, err := con.out.Write([]byte(text)); err != nil {
			return failed("the summary cannot be printed: %v", reason(err))
		}
		if !report.Kept(b) {
			code = max(code, exitBroken)
		}
	}
	if code != exitKept {
		return outcome{code: code}
	}
	return nil
}
