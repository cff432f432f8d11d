// Package promise is the closed table of promises: limits that a spec demands
// of every realisation. A row says how a spec writes the limit, which way is
// worse and what is stricter. The grammar, the defaults, NAME.json and the
// comparison of results loop over the table; nothing elsewhere asks for a
// promise by its name.
//
// To add a promise, write a file with its row and one line in All.
//
// Read first: All, Row.
package promise

import "bandwright/compiler/words"

// All are the promises, in the order of the spec language.
var All = []*Row{
	&Magnitude,
	&BoardMagnitude,
	&BoardNoise,
	&BoardHeadroom,
	&BoardDC,
	&BoardPeak,
	&BoardSpread,
	&BoardYield,
	&BoardMatch,
	&AsBuilt,
	&Phase,
	&Sum,
	&CrossoverSum,
	&AcousticSum,
	&Excursion,
	&Amplifier,
	&Pattern,
	&Stability,
	&Noise,
	&Headroom,
	&Latency,
	&Safety,
	&Board,
}

// ByName is the row of a promise, nil where there is none.
func ByName(name string) *Row {
	for _, r := range All {
		if r.Name == name {
			return r
		}
	}
	return nil
}

// UnitOf is the unit of a promise's findings, that of a plain number where this
// version has no such promise.
func UnitOf(name string) words.Unit {
	if r := ByName(name); r != nil {
		return r.Unit
	}
	return words.Plain
}

// Worse reports whether a figure of a promise is worse than another.
func Worse(name string, a, b float64) bool {
	if r := ByName(name); r != nil && r.LessIsWorse {
		return a < b
	}
	return a > b
}
