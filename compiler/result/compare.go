package result

import (
	"bandwright/compiler"
	"bandwright/compiler/language"
)

// Kinds of Change, in the order of their sentences where nothing in decibels
// tells them apart.
const (
	OfOffer        = "offer"        // a setting, way, rate, format or promise that is gone or weaker
	OfPromise      = "promise"      // one that is now broken, or kept again
	OfResponse     = "response"     // what one line of the spec does to a way or the sum
	OfInteraction  = "interaction"  // what several lines do only together
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
}

// comparison is a Comparison while it is made.
type comparison struct {
	scope
	old, new *Accepted
	out      *Comparison
	edits    []edit
	// a and b are the prototypes, nil where a spec is not known.
	a, b *sheet
	// from and to are what they were made from.
	from, to *compiler.Wanted
}

// Compare says in sentences what changed from one accepted result to another,
// and which lines of the spec did it.
func Compare(old, new *Accepted) *Comparison {
	c := &comparison{old: old, new: new, out: &Comparison{Name: new.Name, Changes: []Change{}, Totals: []string{}}}
	before, after := parsed(old), parsed(new)
	c.tol = Tolerances{0.05, 0.5, 1e-6}
	c.downTo = -60
	band := [2]float64{20, 20000}
	if after != nil {
		r := after.Regression
		c.tol = Tolerances{r.Get("magnitude").Number, r.Get("phase").Number, r.Get("delay").Number}
		c.downTo = after.Promise.Get("down-to").Number
		v := after.Promise.Get("band")
		band = [2]float64{v.Number, v.High}
	}
	c.out.Tolerances = c.tol
	c.hz = grid(band[0], band[1], scopePerOctave)
	if before != nil && after != nil {
		c.causes(before, after)
	} else {
		c.unknown()
	}
	c.realisations()
	c.verdicts()
	c.figures()
	c.parts()
	c.coefficients()
	c.board()
	c.sort()
	return c.out
}

// parsed is an accepted result's spec, nil where it is not known or this
// version no longer takes it.
func parsed(a *Accepted) *language.Spec {
	if len(a.Spec) == 0 {
		return nil
	}
	s, _ := language.Parse(a.Name, a.source(), compiler.Language())
	return s
}

func (c *comparison) add(x Change) {
	if x.Causes == nil {
		x.Causes = []string{}
	}
	c.out.Regression = c.out.Regression || x.Beyond
	c.out.Changes = append(c.out.Changes, x)
}
