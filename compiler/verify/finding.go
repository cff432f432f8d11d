package verify

import (
	"fmt"
	"strings"

	"bandwright/compiler/words"
)

// Setting is a setting's name and its choices as written.
type Setting struct {
	Name    string
	Choices []string
}

// Choice is one setting's choice in a finding.
type Choice struct{ Setting, Choice string }

// SumName stands where a way's name would for what belongs to the sum.
const SumName = "sum"

// Finding says whether one promise is kept by one realisation, for one way or
// for the sum, and by how much, in its worst combination of settings.
type Finding struct {
	Promise, Realisation string
	About                string      // what is promised, in words: "magnitude of mid"
	Way                  string      // "" for what belongs to all ways, "sum" for the sum
	With                 []Choice    // one of every setting that matters, in the worst combination
	C                    Combination // the same as indices; nil where no setting matters
	Limit, Worst         float64
	Unit                 words.Unit
	LessIsWorse          bool    // the figure has to be larger than the limit
	AtLeast              bool    // or, of such a figure, equal to it
	AtHz                 float64 // 0 where no frequency belongs to it
	Kept                 bool
	// Absent: there is no such realisation to judge, for Worst reasons.
	Absent     bool
	Broken, Of int    // combinations that break it, of how many
	Remedy     string // what to change; "" where kept
	Note       string // a restriction that the reader must know, or ""
}

// Absence is the finding that a realisation cannot be made, for so many
// reasons.
func Absence(promise, realisation string, unit words.Unit, reasons int, remedy string) Finding {
	return Finding{Promise: promise, About: "the " + realisation, Realisation: realisation, With: []Choice{}, Unit: unit,
		Worst: float64(reasons), Absent: true, Broken: 1, Of: 1, Note: "no " + realisation + " was built", Remedy: remedy}
}

// Head says what is promised and what is allowed: "magnitude of mid, 0.1 dB
// allowed".
func (f Finding) Head() string {
	switch {
	case f.Absent:
		return f.About + " cannot be built"
	case f.AtLeast:
		return f.About + ", at least " + f.Unit.Limit(f.Limit) + " demanded"
	case f.LessIsWorse:
		return f.About + ", must be above " + f.Unit.Limit(f.Limit)
	}
	return f.About + ", " + f.Unit.Limit(f.Limit) + " allowed"
}

// LimitText is the limit in a table: "0.1 dB", "> 0".
func (f Finding) LimitText() string {
	if f.AtLeast {
		return ">= " + f.Unit.Limit(f.Limit)
	}
	if f.LessIsWorse {
		return "> " + f.Unit.Limit(f.Limit)
	}
	return f.Unit.Limit(f.Limit)
}

// WorstText is the worst figure; of a broken promise it never reads like its limit.
func (f Finding) WorstText() string {
	if f.Kept {
		return f.Unit.Measured(f.Worst)
	}
	return f.Unit.Beside(f.Worst, f.Limit)
}

// Where says how much a finding is and where: "7.31 dB at 19.84 kHz, digital
// 48 kHz float32, with grille: woven (12 of 24 combinations)".
func (f Finding) Where() string {
	if f.Absent {
		return fmt.Sprintf("%s: %s", f.Note, words.Count(int(f.Worst), "reason, see the warnings", "reasons, see the warnings"))
	}
	s := f.WorstText()
	if f.AtHz > 0 {
		s += " at " + words.Hz(f.AtHz)
	}
	s += ", " + f.Realisation
	if len(f.With) > 0 {
		s += ", with " + Choices(f.With)
	}
	if f.Of > 1 {
		s += fmt.Sprintf(" (%d of %d combinations)", f.Broken, f.Of)
	}
	if f.Note != "" {
		s += "; " + f.Note
	}
	return s
}

// Choices reads "placement: wall, grille: none".
func Choices(cs []Choice) string {
	var out []string
	for _, c := range cs {
		out = append(out, c.Setting+": "+c.Choice)
	}
	return strings.Join(out, ", ")
}

// worse reports whether a finding of the same promise is further on the wrong
// side.
func (f Finding) worse(than Finding) bool {
	if f.LessIsWorse {
		return f.Worst < than.Worst
	}
	return f.Worst > than.Worst
}
