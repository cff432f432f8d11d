// Package compare says what became of an accepted result: two results come in,
// sentences go out, each with what moved, where, by how much, and which line of
// the spec did it.
//
// The specs that both results hold are compared as trees, led by what the
// grammar says of each key (difference.go). The prototype of the old spec with
// one edit alone against the old one gives that line's sentence (causes.go). What
// the realisations moved beside that is the method's, or Bandwright's own
// (realisations.go, board.go). The one invariant: whatever differs between two
// results is told, or is round-off.
//
// Read first: Results, difference.
package compare

import (
	"fmt"
	"math"

	"bandwright/biquad"
	"bandwright/compiler"
	"bandwright/compiler/language"
	"bandwright/compiler/promise"
	"bandwright/compiler/result"
	"bandwright/compiler/words"
)

// Kinds of Change, in the order of their sentences where nothing in decibels
// tells them apart.
const (
	OfOffer        = "offer"        // a setting, way, rate, format or promise that is gone or weaker
	OfPromise      = "promise"      // one that is now broken, or kept again
	OfResponse     = "response"     // what one line of the spec does to a way or the sum
	OfInteraction  = "interaction"  // what several lines do only together
	OfAir          = "air"          // what a line about drivers and amplifiers does in the air
	OfRealisation  = "realisation"  // what no line does to the prototype
	OfFigure       = "figure"       // noise, headroom, latency, sections
	OfPart         = "part"         // of a board
	OfText         = "text"         // a line that changes no response
	OfCoefficients = "coefficients" // how many sections have other words, in one sentence
)

// Change is one sentence, with its numbers.
type Change struct {
	Kind string  `json:"kind"`
	Way  string  `json:"way,omitempty"`
	DB   float64 `json:"db"` // of the way; for delay, polarity and phase of the sum
	AtHz float64 `json:"at_hz"`
	// Setting are the choices that DB is at beside the defaults; null for none.
	Setting  map[string]string `json:"setting"`
	Causes   []string          `json:"causes"` // dotted paths of the spec
	Line     int               `json:"line,omitempty"`
	Beyond   bool              `json:"beyond"` // the tolerances
	Sentence string            `json:"sentence"`

	missed float64 // by how much a promise is broken, in its unit: only for the order
}

// Tolerances are the spec's regression block.
type Tolerances struct {
	MagnitudeDB float64 `json:"magnitude_db"`
	PhaseDeg    float64 `json:"phase_deg"`
	DelayS      float64 `json:"delay_s"`
}

func (t Tolerances) String() string {
	return words.Exact(t.MagnitudeDB) + " dB, " + words.Exact(t.PhaseDeg) + " deg or " + words.Exact(words.Round(t.DelayS*1e6, 9)) + " us"
}

// Comparison is what became of an accepted result.
type Comparison struct {
	Name       string     `json:"name"`
	Tolerances Tolerances `json:"tolerances"`
	// Regression says that something moved beyond the tolerances, a promise
	// broke, or what was offered is gone.
	Regression bool `json:"regression"`
	// Changes are sorted: what is gone or broken, then the largest in dB.
	Changes []Change `json:"changes"`
	// Totals are all changes of a way together, where several lines add up.
	Totals []string `json:"totals"`
	// MadeBy says that two versions of the program made the two results; "" where that is
	// not so, or not known.
	MadeBy string `json:"made_by,omitempty"`
}

// comparison is a Comparison while it is made.
type comparison struct {
	scope
	old, new *result.Accepted
	out      *Comparison
	// difference is that of the specs, and edits are its lines; nil where a spec
	// is not known or means nothing without the other's lines.
	difference *difference
	edits      []edit
	// from and to are the prototypes, a and b their responses, total the moves of
	// these.
	from, to *compiler.Wanted
	a, b     *responses
	total    []move
	several  bool // edits of one way
	was      listened
}

// Results says in sentences what changed from one accepted result to another,
// and which lines of the spec did it.
func Results(old, new *result.Accepted) *Comparison {
	c := &comparison{old: old, new: new, out: &Comparison{Name: new.Name, Changes: []Change{}, Totals: []string{}}}
	if old.MadeBy != new.MadeBy && old.MadeBy != "" && new.MadeBy != "" {
		c.out.MadeBy = fmt.Sprintf("made by two versions of Bandwright: %s before, %s now", old.MadeBy, new.MadeBy)
	}
	before, after := parsed(old), parsed(new)
	if before != nil && after != nil {
		before = c.called(before, after)
	}
	terms := after
	if terms == nil {
		terms, _ = language.Parse("", []byte(usualTerms), compiler.Language())
	}
	r, p := terms.Regression, promise.Read(terms)
	c.tol = Tolerances{r.Get("magnitude").Number, r.Get("phase").Number, r.Get("delay").Number}
	c.out.Tolerances, c.downTo = c.tol, p.DownToDB
	if before != nil && after != nil {
		c.prototypes(before, after)
	}
	c.share()
	low, high := math.Min(p.LowHz, usualLowHz), math.Max(p.HighHz, usualHighHz)
	if before != nil {
		was := promise.Read(before)
		low, high = math.Min(low, was.LowHz), math.Max(high, was.HighHz)
	}
	c.hz = biquad.Octaves(low, high, scopePerOctave, c.narrow()...)
	if c.difference != nil {
		c.causes()
	} else {
		c.files()
	}
	c.realisations()
	c.promises()
	c.costs()
	c.parts()
	c.coefficients()
	c.board()
	if c.several && !c.out.Regression {
		c.out.Totals = append(c.out.Totals, "nothing moved beyond "+c.tol.String())
	}
	c.sort()
	return c.out
}

// called is the old spec with the new one's names of settings and choices, as the old result has them from now on.
func (c *comparison) called(before, after *language.Spec) *language.Spec {
	names, told := newNames(before.Tree, after.Tree)
	s, _ := language.FromTree(inNewNames(before.Tree, names), compiler.Language())
	if s == nil {
		return before
	}
	c.old, c.edits = c.old.Called(names), told
	return s
}

// usualTerms is a spec whose tolerances and promises hold for a result of which
// none is known.
const usualTerms = "{bandwright: 1, name: x, ways: {x: {}}, digital: {rates: [48 kHz], formats: [float64]}}"

// parsed is an accepted result's spec, nil where it is not known or this
// version no longer takes it.
func parsed(a *result.Accepted) *language.Spec {
	s, _ := language.Parse(a.Name, a.SpecText(), compiler.Language())
	return s
}

// prototypes are those of both specs, in joint settings.
func (c *comparison) prototypes(before, after *language.Spec) {
	d := newDifference(before, after, compiler.Language())
	c.edits = append(c.edits, d.edits()...)
	from, to := d.prototype(func(edit) bool { return false }), d.prototype(func(edit) bool { return true })
	if from != nil && to != nil {
		c.difference, c.from, c.to = d, from, to
	}
}

func (c *comparison) add(x Change) {
	if x.Causes == nil {
		x.Causes = []string{}
	}
	c.out.Regression = c.out.Regression || x.Beyond
	c.out.Changes = append(c.out.Changes, x)
}
