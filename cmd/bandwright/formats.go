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
	// Units are the finished units of --measured.
	Units []unitReport `json:"units,omitempty"`
	// Compared is null without --against, and where nothing was accepted before.
	Compared *compare.Comparison `json:"compared"`
}

// unitReport is what became of one finished unit.
type unitReport struct {
	Unit string `json:"unit,omitempty"` // its name in a folder of several
	Kept bool   `json:"kept"`
	// WorstDB is the greatest error of a way or of the sum; LevelDB and DelayS are what was taken out of
	// the measurement.
	WorstDB float64 `json:"worst_db"`
	LevelDB float64 `json:"level_db"`
	DelayS  float64 `json:"delay_s"`
	// Nothing is the likelihood (0 to 1) that nothing is wrong.
	Nothing float64 `json:"nothing_likelihood"`
	// Other is the likelihood that none of the hypotheses is right, and something else is wrong;
	// Unexplained: that is likelier than not.
	Other       float64 `json:"other_likelihood"`
	Unexplained bool    `json:"unexplained"`
	// Hypotheses are what may be wrong, the likeliest first.
	Hypotheses []hypothesisReport `json:"hypotheses"`
	Trims      []string           `json:"trims,omitempty"` // what would bring it nearer
}

// hypothesisReport is one thing that may be wrong.
type hypothesisReport struct {
	What       string   `json:"what"`
	Likelihood float64  `json:"likelihood"`      // 0 to 1, with that of what is alike
	Parts      []string `json:"parts,omitempty"` // references
	// Alike are hypotheses that no measurement of these outputs tells from it.
	Alike []string `json:"alike,omitempty"`
}

// unitsOf are the finished units of a spec.
func unitsOf(j judged) []unitReport {
	var out []unitReport
	for _, r := range j.units {
		u := unitReport{Unit: r.Unit, Kept: r.Kept(), WorstDB: r.WorstDB(), LevelDB: r.LevelDB, DelayS: r.DelayS, Nothing: r.Nothing,
			Other: r.Other, Unexplained: r.Unexplained(), Hypotheses: []hypothesisReport{}}
		for _, h := range r.Named {
			u.Hypotheses = append(u.Hypotheses, hypothesisReport(h))
		}
		for _, t := range r.Trims {
			u.Trims = append(u.Trims, t.String())
		}
		out = append(out, u)
	}
	return out
}

func asJSON(all []judged, accepting bool) ([]byte, error) {
	out := report{Specs: []specReport{}}
	for _, j := range all {
		o := specReport{Spec: j.file, Exit: j.code(accepting), Problem: j.problem(), Broken: []string{}, Built: j.wrong, Units: unitsOf(j), Compared: j.change}
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
