package main

import (
	"context"
	"path/filepath"
	"time"

	"bandwright/compiler"
	"bandwright/compiler/compare"
	"bandwright/compiler/language"
	"bandwright/compiler/result"
	"bandwright/targets/page"
)

// Diff is the verb that says what changed.
type Diff struct {
	Old    string `arg:"" name:"OLD" help:"A spec, an accepted result or a NAME.json that compile wrote; a file, or REVISION:PATH of git."`
	New    string `arg:"" name:"NEW" help:"The same."`
	Format string `enum:"text,json,github,junit" default:"text" placeholder:"FORMAT" help:"text, json, github or junit. The default is text."`
	HTML   string `name:"html" placeholder:"FILE" help:"Write a page too, each way before and after on one axis, for who does not read specs."`
}

// Help is printed below the arguments.
func (Diff) Help() string {
	return `What moved, where, by how much and which line of the spec caused it, the largest first. The exit code is 1 where ` +
		`something moved beyond the tolerances of NEW, as in check --against. What a file is, is told by what is in it. ` +
		`A NAME.json does not hold its spec, so no line of it can be named. Nothing is written without --html. ` +
		`An analog and a digital version of one product are compared way by way.

Examples:

    bandwright diff old/heron.yaml specs/heron.yaml
    bandwright diff HEAD~1:specs/heron.yaml specs/heron.yaml
    bandwright diff accepted/heron.accepted.json specs/heron.yaml`
}

// side is one of the two that are compared.
type side struct {
	file   string // the path, without a revision
	spec   bool
	result *result.Accepted
}

// Run compares.
func (d Diff) Run(ctx context.Context, con console) error {
	var sides [2]side
	for i, name := range []string{d.Old, d.New} {
		var err error
		if sides[i], err = sideOf(ctx, con, name); err != nil {
			return err
		}
	}
	j := judged{file: sides[1].file, lined: sides[1].spec, began: time.Now()}
	line := startProgress(con.err, "comparing "+d.New)
	c, err := compared(ctx, sides[0].result, sides[1].result)
	line.stop()
	j.change, j.comparing = c, time.Since(j.began)
	if err != nil {
		return err
	}
	if d.HTML != "" {
		if err := writePage(ctx, d.HTML, sides[0].result, sides[1].result, c); err != nil {
			return err
		}
	}
	text := []byte(c.Text(summaryWidth))
	if d.Format != "text" {
		if text, err = formats[d.Format]([]judged{j}, false); err != nil {
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

// sideOf reads what a name of the command line stands for, and makes of it what
// can be compared.
func sideOf(ctx context.Context, con console, name string) (side, error) {
	file, data, folder, err := content(ctx, name)
	if err != nil {
		return side{}, err
	}
	switch kindOf(data) {
	case isAccepted:
		a, err := result.ReadAccepted(data)
		if err != nil {
			return side{}, refused("%s: %v", name, err)
		}
		return side{file, false, a}, nil
	case isBuilt:
		r, err := result.Read(data)
		if err != nil {
			return side{}, refused("%s: %v", name, err)
		}
		return side{file, false, result.FromResult(r, nil)}, nil
	}
	b, err := told(ctx, con, name, func(ctx context.Context) (*compiler.Build, []language.Fault, error) {
		return compiler.Findings(ctx, name, data, folder)
	})
	if err != nil {
		return side{}, err
	}
	return side{file, true, accepted(b)}, nil
}

// writePage writes the page of a comparison, whole or not at all.
func writePage(ctx context.Context, file string, old, new *result.Accepted, c *compare.Comparison) error {
	data, err := page.Between(old, new, c)
	if err != nil {
		return failed("the page cannot be drawn: %v", err)
	}
	return replace(ctx, filepath.Dir(file), filepath.Base(file), data)
}
