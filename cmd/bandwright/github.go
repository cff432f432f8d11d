package main

import (
	"bytes"
	"cmp"
	"fmt"
	"slices"
	"strings"

	"bandwright/compiler/compare"
	"bandwright/compiler/language"
	"bandwright/compiler/verify"
	"bandwright/compiler/words"
)

// The levels of an annotation, the worst first, and as workflow commands call
// them.
const (
	asError = iota
	asWarning
	asNotice
)

var levels = []string{"error", "warning", "notice"}

// annotation is what is written beside a line of a spec.
type annotation struct {
	level, code, line int
	file              string
	texts             []string
}

// say adds a line to the message. The annotation takes the worst level, and
// stands at the first line of the spec that something of this level has.
func (a *annotation) say(level, line int, texts ...string) {
	if len(a.texts) == 0 || level < a.level {
		a.level, a.line = level, 0
	}
	if level == a.level && a.line == 0 {
		a.line = line
	}
	a.texts = append(a.texts, texts...)
}

// annotated is one annotation for all that there is to say of a spec, the worst
// first; without a text where nothing is wrong and nothing moved.
func (j judged) annotated(accepting bool) annotation {
	a := annotation{file: j.file, code: j.code(accepting)}
	for level, severity := range []language.Severity{language.Error, language.Warning} {
		if severity == language.Warning {
			j.annotateResult(&a, accepting)
		}
		for _, f := range j.faults {
			if f.Severity == severity {
				line, text := f.Pos.Line, f.Message+": "+f.Right
				if at := j.elsewhere(f); at != "" { // an annotation has one file, the spec
					line, text = 0, fmt.Sprintf("%s%d:%d: %s", at, f.Pos.Line, f.Pos.Col, text)
				}
				a.say(level, line, text)
			}
		}
	}
	if j.change != nil && len(j.change.Changes) > 0 && !j.regressed(accepting) {
		line := 0
		for _, x := range j.change.Changes {
			line = cmp.Or(line, x.Line)
		}
		a.say(asNotice, line, j.changeLines()...)
	}
	if !j.lined {
		a.line = 0
	}
	return a
}

// annotateResult says why the spec does not pass, beside its faults.
func (j judged) annotateResult(a *annotation, accepting bool) {
	faulty := slices.ContainsFunc(j.faults, func(f language.Fault) bool { return f.Severity == language.Error })
	if j.err != nil && j.err.Error() != "" && !faulty { // the error counts the faults
		a.say(asError, 0, j.err.Error())
	}
	if j.regressed(accepting) {
		line := 0
		for _, x := range j.change.Changes {
			if x.Beyond {
				line = cmp.Or(line, x.Line)
			}
		}
		a.say(asError, line, j.changeLines()...)
	}
	for _, x := range verify.VerdictOn(j.findings).Breaks {
		text := breach(x.Worst)
		if n := len(x.Findings); n > 1 {
			text += fmt.Sprintf("; broken in %d of %d realisations", n, x.Checks)
		}
		a.say(asError, 0, text)
	}
	for _, w := range j.wrong {
		a.say(asError, 0, w)
	}
}

// changeLines are the verdict on the changes and their sentences, unwrapped.
func (j judged) changeLines() []string {
	const unwrapped = 1 << 20
	return strings.Split(strings.TrimSpace(j.change.Text(unwrapped)), "\n")
}

// asGitHub is one workflow command a spec, the specs that fail first: only the
// first few annotations of a run are shown beside the files. Each has a
// screenful of lines.
func asGitHub(all []judged, accepting bool) ([]byte, error) {
	var notes []annotation
	for _, j := range all {
		if a := j.annotated(accepting); len(a.texts) > 0 {
			notes = append(notes, a)
		}
	}
	slices.SortStableFunc(notes, func(x, y annotation) int {
		return cmp.Or(cmp.Compare(x.level, y.level), cmp.Compare(y.code, x.code))
	})
	var out bytes.Buffer
	for _, a := range notes {
		place := "file=" + property.Replace(a.file)
		if a.line > 0 {
			place += fmt.Sprintf(",line=%d", a.line)
		}
		if n := len(a.texts) - compare.Screenful; n > 0 {
			a.texts = append(a.texts[:compare.Screenful:compare.Screenful], "and "+words.Count(n, "more line", "more lines"))
		}
		fmt.Fprintf(&out, "::%s %s::%s\n", levels[a.level], place, message.Replace(strings.Join(a.texts, "\n")))
	}
	return out.Bytes(), nil
}

// What must not stand as it is in a workflow command, and in its properties.
var (
	message  = strings.NewReplacer("%", "%25", "\r", "%0D", "\n", "%0A")
	property = strings.NewReplacer("%", "%25", "\r", "%0D", "\n", "%0A", ":", "%3A", ",", "%2C")
)
