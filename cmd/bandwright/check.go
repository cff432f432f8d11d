package main

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"time"

	"bandwright/compiler"
	"bandwright/compiler/compare"
	"bandwright/compiler/finished"
	"bandwright/compiler/language"
	"bandwright/compiler/parallel"
	"bandwright/compiler/result"
	"bandwright/compiler/verify"
)

// Check is the verb that judges: promises, and what moved since a result was
// accepted.
type Check struct {
	Specs   []string `arg:"" name:"SPEC" help:"The specs, YAML files."`
	Against string   `placeholder:"DIR" help:"Folder of accepted results, NAME.accepted.json: say what changed since, and fail on a regression."`
	Accept  bool     `help:"Write the present results to the folder of --against, as accepted."`
	HTML    string   `name:"html" placeholder:"DIR" help:"With --against a folder for a page of each spec, NAME.html: before and after on one axis. With --measured the file of a page: each way measured over wanted, and what is likely wrong."`
	Built   string   `placeholder:"DIR" help:"Folder that compile wrote to: fail unless it holds all files of one run of this spec."`
	Format  string   `enum:"text,json,github,junit" default:"text" placeholder:"FORMAT" help:"text, json, github or junit. The default is text."`

	Finished
}

// Help is printed below the arguments.
func (Check) Help() string {
	return `The exit code is the highest of all specs: 0 all promises kept and no regression, 1 a promise broken, a ` +
		`regression or built files that differ, 2 a bad spec or none accepted, 3 a spec that cannot be read. One bad spec does not keep the others ` +
		`from being checked. The spec says how far a response may move: regression: {magnitude: 0.05 dB, phase: 0.5 deg, delay: 1 us}. Compared are the bands of both specs and at least ` +
		`20 Hz to 20 kHz. With --measured finished units are judged instead, by the promise as-built and the limits of their test, and what is ` +
		`likely wrong with them is told; as the sweep that they are measured with can destroy drivers and hearing, measure boards without loudspeakers. An accepted result whose spec was deleted, or given another name, is a regression of its own; specs that a call ` +
		`leaves out are not missed while their file is there.

Examples:

    bandwright check specs/*.yaml
    bandwright check specs/*.yaml --against accepted --accept
    bandwright check specs/*.yaml --against accepted
    bandwright check specs/heron.yaml --built build/heron
    bandwright check specs/heron.yaml --measured bass=b.txt,mid=m.txt,treble=t.txt --with placement=wall
    bandwright check specs/heron.yaml --measured units --reference loop.wav --html units.html`
}

// judged is what became of one spec. It holds no Build: those of many specs
// would fill the memory.
type judged struct {
	file     string
	lined    bool   // file is a spec: the lines of faults and changes are its own
	compiled bool   // false of diff and where err says why
	name     string // of a spec that was compiled
	findings []verify.Finding
	summary  string // for people
	faults   []language.Fault
	change   *compare.Comparison // nil without --against, or where nothing was accepted before
	note     string              // what --accept did
	built    string              // the folder of --built, "" where none was looked at
	wrong    []string            // what is wrong with it
	// unanswered says that this is no spec but an accepted result of one that is gone.
	unanswered bool
	units      []*finished.Result // those of --measured
	notes      []string           // on how they were measured
	err        error

	began                time.Time
	compiling, comparing time.Duration // what it took
}

// regressed reports a regression that is not being accepted.
func (j judged) regressed(accepting bool) bool {
	return j.unanswered || j.change != nil && j.change.Regression && !accepting
}

// code is the spec's exit code.
func (j judged) code(accepting bool) int {
	var o outcome
	switch {
	case errors.As(j.err, &o):
		return o.code
	case j.err != nil:
		return exitFailed
	case !verify.Kept(j.findings), len(j.wrong) > 0, j.regressed(accepting):
		return exitBroken
	}
	return exitKept
}

// Run checks every spec, whatever became of those before it.
func (c Check) Run(ctx context.Context, con console) error {
	if c.Accept && c.Against == "" {
		return refused("--accept needs `--against DIR`: the folder that accepted results go to")
	}
	if c.HTML != "" && c.Against == "" && len(c.Measured) == 0 {
		return refused("--html needs `--against DIR`, what the pages compare with, or `--measured WAY=FILE`")
	}
	if c.Built != "" && len(c.Specs) > 1 {
		return refused("--built takes one spec: its folder holds what one was compiled to")
	}
	if err := c.only(); err != nil {
		return err
	}
	code := exitKept
	var all []judged
	said := false
	take := func(j judged) error {
		if errors.Is(j.err, errInterrupted) {
			return j.err
		}
		all = append(all, j)
		code = max(code, j.code(c.Accept))
		if c.Format != "text" {
			return nil
		}
		err := c.print(con, j, said)
		said = true
		return err
	}
	judge := c.judgeAll
	if len(c.Measured) > 0 {
		judge = c.judgeFinished
	}
	if err := judge(ctx, con, take); err != nil {
		return err
	}
	lost, err := c.unanswered(ctx, all)
	if err != nil {
		return err
	}
	for _, j := range lost {
		if err := take(j); err != nil {
			return err
		}
	}
	if c.Format == "text" && len(all) > 1 {
		fmt.Fprintf(con.out, "\n%s\n", tally(len(c.Specs), all, c.Accept))
	}
	if c.Format != "text" {
		text, err := formats[c.Format](all, c.Accept)
		if err == nil {
			_, err = con.out.Write(text)
		}
		if err != nil {
			return failed("the result cannot be printed: %v", reason(err))
		}
	}
	if code != exitKept {
		return outcome{code: code}
	}
	return nil
}

// only refuses flags that do not go together.
func (c Check) only() error {
	switch {
	case len(c.Measured) == 0 && (c.Reference != "" || len(c.With) > 0 || c.As != "" || c.Level != "fit" || c.Delay != "fit"):
		return refused("--reference, --with, --as, --level and --delay say how units were measured: name them by `--measured WAY=FILE`")
	case len(c.Measured) > 0 && (c.Against != "" || c.Built != ""):
		return refused("--measured judges finished units, not what is compiled: leave --against and --built out")
	case len(c.Measured) > 0 && len(c.Specs) > 1:
		return refused("--measured takes one spec: that of the units")
	}
	return nil
}

// judgeFinished judges finished units of the one spec.
func (c Check) judgeFinished(ctx context.Context, con console, take func(judged) error) error {
	j, err := c.Finished.judge(ctx, con, c.Specs[0], c.HTML)
	if err != nil {
		j.err = err
	}
	return take(j)
}

// judgeAll judges the specs side by side and hands them over in their order.
// What is stored by name belongs to the first spec of a name, so the names are
// read in order before.
func (c Check) judgeAll(ctx context.Context, con console, take func(judged) error) error {
	line := startProgress(con.err, "checking")
	defer line.stop()
	owner := map[string]string{} // name → file
	done := 0
	if len(c.Specs) >= parallel.Workers() {
		ctx = parallel.Crowded(ctx)
	}
	return inOrder(len(c.Specs), func(i int) func() judged {
		j := judged{file: c.Specs[i], lined: true, began: time.Now()}
		var src []byte
		src, j.err = read(ctx, j.file)
		if name := nameOf(src); c.Against != "" && name != "" {
			if other, taken := owner[name]; taken {
				j.err = refused("%s and %s are both named %s: accepted results are stored by name", other, j.file, name)
			} else {
				owner[name] = j.file
			}
		}
		return func() judged {
			if j.err == nil {
				c.judge(line.in(ctx, j.file), &j, src)
			}
			return j
		}
	}, func(j judged) error {
		if done++; len(c.Specs) > 1 {
			line.head(fmt.Sprintf("checked %d of %d", done, len(c.Specs)))
		}
		var err error
		line.aside(func() { err = take(j) })
		return err
	})
}

// nameOf is the name of a spec, "" where it cannot be read.
func nameOf(src []byte) string {
	if s, _ := language.Parse("", src, compiler.Language()); s != nil {
		return s.Name
	}
	return ""
}

// judge compiles one spec and compares it with what was accepted.
func (c Check) judge(ctx context.Context, j *judged, src []byte) {
	var b *compiler.Build
	b, j.faults, j.err = compile(ctx, j.file, src, folderOf(j.file))
	if j.compiling = time.Since(j.began); j.err != nil {
		return
	}
	j.compiled, j.name, j.findings = true, b.Spec.Name, b.Findings
	j.summary = summary(b, "`bandwright compile` writes them all to report.txt")
	if c.Built != "" {
		if j.wrong, j.err = built(ctx, c.Built, b); j.err != nil {
			return
		}
		j.built = c.Built
	}
	if c.Against != "" {
		now, began := accepted(b), time.Now()
		now.SpecFile = seenFrom(c.Against, j.file)
		c.compare(ctx, j, now)
		j.comparing = time.Since(began)
	}
}

// compare says what moved since a result was accepted, and accepts the present
// one where that is wanted.
func (c Check) compare(ctx context.Context, j *judged, now *result.Accepted) {
	before, err := readAccepted(ctx, c.Against, j.name)
	var o outcome
	switch {
	case err == nil:
		if j.change, j.err = compared(ctx, before, now); j.err != nil {
			return
		}
		if c.HTML != "" {
			if j.err = writePage(ctx, filepath.Join(c.HTML, j.name+".html"), before, now, j.change); j.err != nil {
				return
			}
		}
	case c.Accept && errors.As(err, &o) && o.code == exitRefused: // none yet, or one that is past reading
	default:
		j.err = err
		return
	}
	if c.Accept {
		j.note, j.err = accept(ctx, c.Against, before, now, j.change)
	}
}

// print writes one spec's verdict for people.
func (c Check) print(con console, j judged, again bool) error {
	for _, f := range j.faults {
		fmt.Fprintln(con.err, f)
	}
	text, moved := j.summary, ""
	if j.change != nil {
		moved = j.change.Text(summaryWidth)
	}
	if j.regressed(c.Accept) { // what stops the build stands first
		if text != "" {
			moved += "\n"
		}
		text, moved = moved+text, ""
	}
	if j.built != "" {
		text += "\n" + builtText(j.built, j.wrong)
	}
	if moved != "" {
		text += "\n" + moved
	}
	if j.note != "" {
		text += "\n" + j.note + "\n"
	}
	if again && text != "" {
		text = "\n" + text
	}
	if _, err := con.out.Write([]byte(text)); err != nil {
		return failed("the summary cannot be printed: %v", reason(err))
	}
	if j.err != nil && j.err.Error() != "" {
		fmt.Fprintln(con.err, "bandwright: "+j.err.Error())
	}
	return nil
}
