// Package compiler is the straight line from a spec's bytes to a Build. READ
// THIS FIRST: the list of stages below is the architecture.
//
// Bytes come in; a Build or faults go out. Nothing here touches the disk, the
// clock or the environment: files that a spec names come through an fs.FS. The
// one invariant: each stage only adds to the Build and reads what the stages
// before it added.
package compiler

import (
	"bandwright/biquad"
	"bandwright/biquad/discretize"
	"bandwright/biquad/number"
	"bandwright/compiler/board"
	"bandwright/compiler/language"
	"bandwright/compiler/verify"
)

// Build is everything that a compilation made.
type Build struct {
	Spec   *language.Spec
	SHA256 string // of the spec's bytes, lower-case hexadecimal
	// Settings are the spec's settings in order; a Combination indexes them.
	Settings []verify.Setting
	// Prototype is the ideal that everything is judged by.
	Prototype biquad.System[biquad.Analog]
	Sum       []CrossoverSum // what the crossovers alone sum to
	// Digital has one realisation per rate and format, rates in the spec's
	// order, float64 first at each rate.
	Digital []Digital
	// Board is the realisation by op-amp stages; nil for a spec without one.
	Board    *board.Board
	Promises verify.Promises
	Findings []verify.Finding
	Figures  []verify.Figures
	// Warnings are the faults that did not stop the compilation.
	Warnings []language.Fault

	ideals ideals // resolve → design
	// The method of each position of the prototype, "" for the spec's:
	// design → realise.
	commonMethods []string
	wayMethods    [][]string
	unbuilt       []board.Problem   // realise → verify: why there is no board
	made          []discretize.Made // realise → quantise, one a rate
}

// Digital is one digital realisation.
type Digital struct {
	RateHz float64
	Format number.Format
	// Asked is false for the float64 reference that the spec did not ask for.
	Asked  bool
	Method string
	// CommonDelayS says how much later every way is than its prototype (s).
	CommonDelayS float64
	// InputGain (linear) is the attenuation of digital.headroom, outside every
	// comparison. The kernel's first multiplication is by
	// Format.Round(InputGain × System.Common.Gain).
	InputGain float64
	// System has coefficients that are exactly the words of the format.
	System biquad.System[biquad.Digital]
	// CommonErrors and WayErrors are the computed error of every position in
	// its chosen form, parallel to the slots.
	CommonErrors []number.SectionError
	WayErrors    [][]number.SectionError
	// CommonHow and WayHow say in a few words how every position was realised,
	// parallel to the slots.
	CommonHow []string
	WayHow    [][]string
	// Notes say, for each way, where the method had to fall back; "" where not.
	Notes []string
}

// DelaySamples is a cascade's pure delay in whole samples.
func (d Digital) DelaySamples(c biquad.Cascade[biquad.Digital]) int {
	return int(c.DelayS*d.RateHz + 0.5)
}

// CrossoverSum is what the crossover filters alone sum to, in the chosen
// polarities, over the band: least and greatest level in dB.
type CrossoverSum struct {
	Compensation  string // none, all-pass or exact
	LowDB, HighDB float64
	Chosen        bool // the spec's own phase-compensation
}
