package main

import (
	"encoding/json"
	"fmt"
	"strings"

	"bandwright/compiler/compare"
	"bandwright/compiler/finished"
	"bandwright/compiler/language"
	"bandwright/compiler/verify"
	"bandwright/compiler/words"
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
	Notes []string     `json:"notes,omitempty"` // on how they were measured
	// Batch is null but of several units.
	Batch *batchReport `json:"batch,omitempty"`
	// Compared is null without --against, and where nothing was accepted before.
	Compared *compare.Comparison `json:"compared"`
}

// unitReport is what became of one finished unit.
type unitReport struct {
	Unit string `json:"unit,omitempty"` // its name in a folder of several
	Kept bool   `json:"kept"`
	// WorstDB is the greatest error of a way or of the sum; LevelDB and DelayS, of each way that was measured, are what
	// was taken out of the measurement.
	WorstDB float64   `json:"worst_db"`
	LevelDB float64   `json:"level_db"`
	DelayS  []float64 `json:"delay_s"`
	// Nothing is the likelihood (0 to 1) that nothing is wrong.
	Nothing float64 `json:"nothing_likelihood"`
	// Ways are the figures of each way that was measured, and of their sum where all were, with phase.
	Ways []wayReport `json:"ways"`
	// Checks are what the unit was held to, one a promise and way.
	Checks []checkReport `json:"checks"`
	// Other is the likelihood that none of the hypotheses is right, and something else is wrong;
	// Unexplained: that is likelier than not.
	Other       float64 `json:"other_likelihood"`
	Unexplained bool    `json:"unexplained"`
	// Hypotheses are what may be wrong, the likeliest first.
	Hypotheses []hypothesisReport `json:"hypotheses"`
	Trims      []string           `json:"trims,omitempty"` // what would bring it nearer
}

// wayReport is how far a way is off; a figure that is not known is null.
type wayReport struct {
	Way       string       `json:"way"`
	Magnitude *worstReport `json:"magnitude_db"`
	Phase     *worstReport `json:"phase_deg"` // where a neighbour is near
}

// worstReport is a worst value and where it is.
type worstReport struct {
	Value float64 `json:"value"`
	AtHz  float64 `json:"at_hz"`
}

// checkReport is one check of a unit.
type checkReport struct {
	Promise string  `json:"promise"`
	Way     string  `json:"way"` // "" for all
	Limit   float64 `json:"limit"`
	Worst   float64 `json:"worst"`
	Unit    string  `json:"unit"`
	AtHz    float64 `json:"at_hz"` // 0 where no frequency belongs to it
	Kept    bool    `json:"kept"`
}

// batchReport is what several units are like together, in dB.
type batchReport struct {
	Kept    int          `json:"kept"`
	Units   int          `json:"units"`
	Median  float64      `json:"median_db"` // of the units' worst errors
	Worst   float64      `json:"worst_db"`
	Drift   float64      `json:"drift_db"`   // of level, from the first to the last
	Scatter float64      `json:"scatter_db"` // standard deviation of level from that
	Pairs   []pairReport `json:"pairs"`      // for left and right, the most alike first
	Left    []string     `json:"left"`       // units that no pair is left for
}

// pairReport is two units by name.
type pairReport struct {
	A     string  `json:"a"`
	B     string  `json:"b"`
	Apart float64 `json:"apart_db"` // at most
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
	worst := func(x verify.Extreme, unit words.Unit) *worstReport {
		if !x.Known {
			return nil
		}
		return &worstReport{unit.Floored(x.Value), x.AtHz}
	}
	for _, r := range j.units {
		u := unitReport{Unit: r.Unit, Kept: r.Kept(), WorstDB: words.DB.Floored(r.WorstDB()), LevelDB: r.LevelDB, DelayS: r.DelaysS, Nothing: r.Nothing,
			Other: r.Other, Unexplained: r.Unexplained(), Hypotheses: []hypothesisReport{}}
		for _, f := range r.Figures {
			u.Ways = append(u.Ways, wayReport{f.Way, worst(f.Magnitude, words.DB), worst(f.Phase, words.Deg)})
		}
		for _, f := range r.Findings {
			u.Checks = append(u.Checks, checkReport{f.Promise, f.Way, f.Limit, f.Unit.Floored(f.Worst), f.Unit.String(), f.AtHz, f.Kept})
		}
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

// batchOf is what several units are like together; nil of one, or none.
func batchOf(j judged) *batchReport {
	if len(j.units) < 2 {
		return nil
	}
	b := finished.BatchOf(j.units)
	out := &batchReport{b.Kept, b.Units, words.DB.Floored(b.MedianDB), words.DB.Floored(b.WorstDB), b.DriftDB, words.DB.Floored(b.ScatterDB), []pairReport{}, []string{}}
	for _, p := range b.Pairs {
		out.Pairs = append(out.Pairs, pairReport{j.units[p.A].Unit, j.units[p.B].Unit, words.DB.Floored(p.ApartDB)})
	}
	for _, i := range b.Left {
		out.Left = append(out.Left, j.units[i].Unit)
	}
	return out
}

func asJSON(all []judged, accepting bool) ([]byte, error) {
	out := report{Specs: []specReport{}}
	for _, j := range all {
		o := specReport{Spec: j.file, Exit: j.code(accepting), Problem: j.problem(), Broken: []string{}, Built: j.wrong, Units: unitsOf(j), Batch: batchOf(j), Notes: j.notes, Compared: j.change}
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
