// Package engine holds the arithmetic of other people's biquad engines: those that are
// part of a chip or of somebody's firmware, with registers for coefficients. A digital
// system and an engine's widths come in, the words for its registers go out, with what
// they amount to.
//
// The one invariant: what Run computes is, bit for bit, what an engine of that
// description computes. Read first: Engine, Chain, Run.
package engine

import (
	"math"
	"slices"
)

// Engine describes a biquad engine.
//
// A sample is an integer of Data bits, two's complement, with full scale at 2^(Data-1). A
// coefficient is one of Word bits, Fraction of them behind the point. Products are summed
// exactly in Accumulator bits, which wrap; a sum becomes a sample by leaving Fraction bits
// out, rounded as Nearest says, and stops at the largest and smallest sample.
type Engine struct {
	Word, Fraction int
	Data           int
	Accumulator    int
	Form           *Form
	// Nearest rounds a sum to the nearest sample, halves up; without it bits that do not
	// fit are left out, which rounds down.
	Nearest bool
	// Sequence is the order that sections are written in; nil for the first of Sequences.
	Sequence *Sequence
}

// Limits of an engine's widths, in bits.
const (
	LeastWord, MostWord               = 12, 40
	LeastData, MostData               = 12, 56
	LeastAccumulator, MostAccumulator = 24, 96
)

// Form is one way to compute a section.
type Form struct {
	Name, Doc string
	// Equations are the difference equations, a line each, with the arithmetic spelled out:
	// `down` for the change from a sum to a sample.
	Equations []string
	// States are the samples or sums that a section keeps; Sums reports that they are of
	// the accumulator's width.
	States []string
	Sums   bool
	step   func(e *Engine, s *section, x int64) int64
}

// Forms is every form.
var Forms = []*Form{direct1, transposed2}

// FormByName is the form of a name, nil for none.
func FormByName(name string) *Form {
	i := slices.IndexFunc(Forms, func(f *Form) bool { return f.Name == name })
	if i < 0 {
		return nil
	}
	return Forms[i]
}

// Step is the distance of two neighbouring coefficients.
func (e *Engine) Step() float64 { return math.Ldexp(1, -e.Fraction) }

// Range is the size that every coefficient stays below.
func (e *Engine) Range() float64 { return math.Ldexp(1, e.Word-1-e.Fraction) }

// word is the one nearest to a coefficient, and whether it fits.
func (e *Engine) word(c float64) (int64, bool) {
	w := math.RoundToEven(math.Ldexp(c, e.Fraction))
	most := math.Ldexp(1, e.Word-1)
	if !(w >= -most && w < most) {
		return 0, false
	}
	return int64(w), true
}

// value is a word as a number.
func (e *Engine) value(w int64) float64 { return math.Ldexp(float64(w), -e.Fraction) }

// Sample is the sample nearest to x, 1 being full scale.
func (e *Engine) Sample(x float64) int64 {
	full := math.Ldexp(1, e.Data-1)
	return int64(math.Max(-full, math.Min(full-1, math.RoundToEven(math.Ldexp(x, e.Data-1)))))
}

// down makes a sample of a sum.
func (e *Engine) down(sum wide) int64 {
	if e.Nearest && e.Fraction > 0 {
		sum = sum.plus(bit(e.Fraction - 1)).wrapped(e.Accumulator)
	}
	return sum.shifted(e.Fraction).limited(e.Data)
}

// summed adds a product to a sum, in the accumulator's width.
func (e *Engine) summed(sum wide, c, x int64) wide {
	return sum.plus(times(c, x)).wrapped(e.Accumulator)
}
