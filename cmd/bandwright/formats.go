package main

import (
	"encoding/json"
	"fmt"
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
			out = append(out, fmt.Sprintf("%s%d:%d: %s: %s", j.elsewhere(f), f.Pos.Line, f.Pos.Col, f.Message, f.Right))
		}
	}
	if text := j.err.Error(); text != "" {
		out = append(out, text)
	}
	return strings.Join(out, "\n")
}

// elsewhere is "FILE:" where a fault is not in the spec but in a file that it names.
func (j judged) elsewhere(f language.Fault) string {
	if f.File == j.file {
		return ""
	}
	return f.File + ":"
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
		for _, f := range j.findings {
			if !f.Kept {
				o.Broken = append(o.Broken, breach(f))
			}
		}
		if o.Name = j.name; o.Name == "" && j.change != nil {
			o.Name = j.change.Name
		}
		out.Specs = append(out.Specs, o)
	}
	text, err := json.MarshalIndent(out, "", " ")
	return append(text, '\n'), err
}
