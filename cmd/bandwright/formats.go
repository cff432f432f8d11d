package main

import (
	"bytes"
	"encoding/json"
	"encoding/xml"
	"fmt"
	"strconv"
	"strings"

	"bandwright/compiler/compare"
	"bandwright/compiler/language"
	"bandwright/compiler/verify"
)

// formats are the ways in which check and diff answer machines.
var formats = map[string]func(all []judged, accepting bool) ([]byte, error){
	"json": asJSON, "github": asGitHub, "junit": asJUnit,
}

// problem is why a spec could not be judged; "" where it could.
func (j judged) problem() string {
	if j.err == nil {
		return ""
	}
	var out []string
	for _, f := range j.faults {
		if f.Severity == language.Error {
			out = append(out, fmt.Sprintf("%d:%d: %s: %s", f.Pos.Line, f.Pos.Col, f.Message, f.Right))
		}
	}
	if text := j.err.Error(); text != "" {
		out = append(out, text)
	}
	return strings.Join(out, "\n")
}

// breach is a finding in a sentence.
func breach(f verify.Finding) string {
	way := f.Way
	if way == "" {
		way = "every way"
	}
	text := fmt.Sprintf("%s, %s: the promise %s is broken: %s", f.Realisation, way, f.Promise, f.Where())
	if f.Remedy != "" {
		text += "; to keep it: " + f.Remedy
	}
	return text
}

// report is what check and diff print with --format json.
type report struct {
	Specs []specReport `json:"specs"`
}

// specReport is what became of one spec.
type specReport struct {
	Spec    string `json:"spec"`              // the file as it was given
	Name    string `json:"name,omitempty"`    // what the spec is called, where it can be read
	Exit    int    `json:"exit"`              // the exit code that this spec alone would give
	Problem string `json:"problem,omitempty"` // why it could not be checked
	// Broken are the promises that are not kept, a sentence each.
	Broken []string `json:"broken"`
	Built  []string `json:"built,omitempty"` // what is wrong with the files of --built
	// Compared is null without --against, and where nothing was accepted before.
	Compared *compare.Comparison `json:"compared"`
}

func asJSON(all []judged, accepting bool) ([]byte, error) {
	out := report{Specs: []specReport{}}
	for _, j := range all {
		o := specReport{Spec: j.file, Exit: j.code(accepting), Problem: j.problem(), Broken: []string{}, Built: j.wrong, Compared: j.change}
		if j.build != nil {
			for _, f := range j.build.Findings {
				if !f.Kept {
					o.Broken = append(o.Broken, breach(f))
				}
			}
		}
		switch {
		case j.build != nil:
			o.Name = j.build.Spec.Name
		case j.change != nil:
			o.Name = j.change.Name
		}
		out.Specs = append(out.Specs, o)
	}
	text, err := json.MarshalIndent(out, "", " ")
	return append(text, '\n'), err
}

// asGitHub is one workflow command a line: what is written beside the lines of
// the spec. A screenful of each spec, for the rest is not shown there either.
func asGitHub(all []judged, accepting bool) ([]byte, error) {
	var out bytes.Buffer
	say := func(level, file string, line int, text string) {
		place := "file=" + property.Replace(file)
		if line > 0 && strings.HasSuffix(file, extension) {
			place += fmt.Sprintf(",line=%d", line)
		}
		fmt.Fprintf(&out, "::%s %s::%s\n", level, place, message.Replace(text))
	}
	for _, j := range all {
		for _, f := range j.faults {
			level := "warning"
			if f.Severity == language.Error {
				level = "error"
			}
			say(level, j.file, f.Pos.Line, f.Message+": "+f.Right)
		}
		if j.err != nil && j.err.Error() != "" {
			say("error", j.file, 0, j.err.Error())
		}
		if j.build != nil {
			for _, f := range j.build.Findings {
				if !f.Kept {
					say("error", j.file, 0, breach(f))
				}
			}
		}
		for _, w := range j.wrong {
			say("error", j.file, 0, w)
		}
		if j.change == nil {
			continue
		}
		level := "notice"
		if j.change.Regression && !accepting {
			level = "error"
		}
		say(level, j.file, 0, j.change.Verdict())
		for i, x := range j.change.Changes {
			if i == compare.Screenful {
				break
			}
			level := "notice"
			if x.Beyond && !accepting {
				level = "error"
			}
			say(level, j.file, x.Line, x.Sentence)
		}
	}
	return out.Bytes(), nil
}

// What must not stand as it is in a workflow command, and in its properties.
var (
	message  = strings.NewReplacer("%", "%25", "\r", "%0D", "\n", "%0A")
	property = strings.NewReplacer("%", "%25", "\r", "%0D", "\n", "%0A", ":", "%3A", ",", "%2C")
)

type junitSuite struct {
	XMLName  xml.Name    `xml:"testsuite"`
	Name     string      `xml:"name,attr"`
	Tests    int         `xml:"tests,attr"`
	Failures int         `xml:"failures,attr"`
	Errors   int         `xml:"errors,attr"`
	Cases    []junitCase `xml:"testcase"`
}

type junitCase struct {
	Class   string      `xml:"classname,attr"`
	Name    string      `xml:"name,attr"`
	Failure *junitFault `xml:"failure"`
	Error   *junitFault `xml:"error"`
	Output  string      `xml:"system-out,omitempty"`
}

type junitFault struct {
	Message string `xml:"message,attr"`
	Text    string `xml:",chardata"`
}

// asJUnit is a suite a spec: a case for every check of a promise and one for
// what was accepted.
func asJUnit(all []judged, accepting bool) ([]byte, error) {
	var suites struct {
		XMLName xml.Name `xml:"testsuites"`
		Suites  []junitSuite
	}
	for _, j := range all {
		s := junitSuite{Name: j.file}
		add := func(c junitCase) {
			c.Class = j.file
			s.Tests++
			s.Failures += count(c.Failure)
			s.Errors += count(c.Error)
			s.Cases = append(s.Cases, c)
		}
		if j.err != nil {
			add(junitCase{Name: "spec", Error: &junitFault{"cannot be checked", j.problem()}})
		}
		if j.build != nil {
			for _, f := range j.build.Findings {
				c := junitCase{Name: strings.TrimSuffix(f.Promise+", "+f.Realisation+", "+f.Way, ", ")}
				if !f.Kept {
					c.Failure = &junitFault{f.Promise + " is broken", breach(f)}
				}
				add(c)
			}
		}
		if j.built != "" {
			c := junitCase{Name: "built files"}
			if len(j.wrong) > 0 {
				c.Failure = &junitFault{"the built files differ", builtText(j.built, j.wrong)}
			}
			add(c)
		}
		if j.change != nil {
			c := junitCase{Name: "accepted result"}
			if text := j.change.Text(summaryWidth); j.change.Regression && !accepting {
				c.Failure = &junitFault{strconv.Itoa(len(j.change.Changes)) + " changes", text}
			} else {
				c.Output = text
			}
			add(c)
		}
		suites.Suites = append(suites.Suites, s)
	}
	text, err := xml.MarshalIndent(suites, "", " ")
	return append([]byte(xml.Header), append(text, '\n')...), err
}

func count(f *junitFault) int {
	if f == nil {
		return 0
	}
	return 1
}
