package main

import (
	"context"
	"strings"

	"bandwright/compiler/result"
)

// Diff is the verb that says what changed.
type Diff struct {
	Old    string `arg:"" name:"OLD" help:"A spec, or an accepted result."`
	New    string `arg:"" name:"NEW" help:"A spec, or an accepted result."`
	Format string `enum:"text,json,github,junit" default:"text" placeholder:"FORMAT" help:"text, json, github or junit. The default is text."`
}

// Help is printed below the arguments.
func (Diff) Help() string {
	return `What moved, where, by how much and which line of the spec caused it, the largest first. The exit code is 1 where ` +
		`something moved beyond the tolerances of NEW, as in check --against. Nothing is written.

Examples:

    bandwright diff old/heron.yaml specs/heron.yaml
    bandwright diff accepted/heron.accepted.json specs/heron.yaml`
}

// Run compares.
func (d Diff) Run(ctx context.Context, con console) error {
	var sides [2]*result.Accepted
	for i, path := range []string{d.Old, d.New} {
		var err error
		if strings.HasSuffix(path, ".json") {
			sides[i], err = openAccepted(ctx, path)
		} else if b, e := load(ctx, con, path); e != nil {
			err = e
		} else {
			sides[i] = result.Accept(b)
		}
		if err != nil {
			return err
		}
	}
	c, err := compared(ctx, con, sides[0], sides[1])
	if err != nil {
		return err
	}
	text := []byte(c.Text(summaryWidth))
	if d.Format != "text" {
		if text, err = formats[d.Format]([]judged{{file: d.New, change: c}}, false); err != nil {
			return failed("%v", err)
		}
	}
	if _, err := con.out.Write(text); err != nil {
		return failed("the result cannot be printed: %v", reason(err))
	}
	if c.Regression {
		return outcome{code: exitBroken}
	}
	return nil
}
