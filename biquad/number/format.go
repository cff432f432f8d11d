// Package number holds the number formats: how words are rounded, in which
// form a section is kept, what the arithmetic adds in noise, and a bit-true
// simulation of the kernel that the C target emits.
//
// Ideal digital sections come in, sections whose coefficients are exactly the
// words of the format go out. The one invariant: what a Machine computes is,
// bit for bit, what the emitted C computes, as both read one Kernel.
//
// Each format is one row of Formats. Read first: Format, Kernel, Quantise,
// Machine.
package number

import (
	"slices"

	"bandwright/biquad"
)

// Format is one row of the table of number formats.
type Format struct {
	Name string // as in the spec: "float32"
	Doc  string // one sentence
	// Forms are the forms that a section may be kept in; the first is
	// preferred where computed errors are equal.
	Forms []biquad.Form
	// Round is the constant nearest to x, a gain or a coefficient, as a float64.
	Round func(x float64) float64
	// Stored is how a file of samples keeps one without loss.
	Stored Stored
	// UnitRoundOff is half the distance between 1 and the next word; rounding
	// tells what the roundings of a section amount to.
	UnitRoundOff float64
	rounding     rounding
	// EnoughDB is the computed error (dB) below which a section stays in the earlier
	// of two forms; 0 where the lesser error always counts.
	EnoughDB float64
	// GuardBits are those of a fixed-point word that stay free above full scale; 0 of
	// floating point.
	GuardBits int
	fixed
	// Kernel is what is computed, C how C writes it.
	Kernel Kernel
	C      C

	// What the arithmetic in a type of the host's gives: see described.

	// Literal is a constant as C reads it back exactly, Literals the words of a
	// section's row in the order of Kernel.Words.
	Literal  func(x float64) string
	Literals func(r Row) []string
	// simulate builds the bit-true simulation of one channel, at rest.
	simulate func(f Format, s biquad.System[biquad.Digital], inputGain, rateHz, fadeS float64) simulation
}

// Stored is a word of a file of samples: integers, full scale just beyond the largest, or
// floating point, full scale 1.
type Stored struct {
	Bits  int
	Float bool
}

// fixed is what only fixed-point formats have. Where a function is nil, every
// coefficient is Round's, and large enough.
type fixed struct {
	// section is one with the nearest words as coefficients; tooLarge reports that they are beyond words.
	section  func(biquad.Digital) biquad.Digital
	tooLarge func(biquad.Digital) bool
	// most is the largest gain; 0 where every number is one.
	most float64
	// fitted is the format with so many GuardBits.
	fitted func(guardBits int) Format
	// dithered is the format with dither at words of so many bits.
	dithered func(bits int) Format
	// Dither is those bits; 0 without.
	Dither int
}

// C is how C writes a format. In its texts STEM and UPPER stand for the
// header's name, as it is and in capitals.
type C struct {
	Type CType // of a word
	// Pass is how many sections a loop takes at once, as many as processors keep in registers
	// with their words; 0 for three. Turn is how many samples a turn of that loop takes, 0 for
	// one: with two, no state has to be moved from one register to another.
	Pass, Turn int
	// FullScale is the C number that stands for a sample of 1.
	FullScale float64
	// Round is the function that C applies to the result of every operator;
	// empty where the operator itself rounds.
	Round string
	// Tiny is the size below which all states of a section count as none.
	Tiny float64
	// Size gives as a uint32_t bits of which the last 31 grow with the size of a
	// sample; from Garbage on it is none. Without a name where every word is a sample.
	Size    CFunction
	Garbage uint32
	// Bits are those that C has in memory for the word nearest to x re full scale, as an
	// unsigned number of the type's size.
	Bits func(x float64) uint64
	// FromInt32 and ToInt32 make samples of those of 32 bits, and back.
	FromInt32, ToInt32 CFunction
	// Several is how some processors move several words in one instruction.
	Several CSeveral
	// Functions are those that the kernel's programs call, and Round.
	Functions []CFunction
	// Includes are the standard headers that Before needs besides stdint.h.
	Includes []string
	// Before stands in front of everything, After behind it, Within in every
	// function that has sums of products. They refuse machines that compute
	// otherwise, and hold the compiler to the arithmetic as it is written.
	Before, Within, After string
	// Blocks stands in front of the loops, Sample and Sampled around what takes single samples where there is
	// Several: what compilers are told of them.
	Blocks, Sample, Sampled string

	// For the header's reader: the arithmetic in a few words ("single
	// precision"); how the formula of a section is rounded, and what it means;
	// what a sample may be; what becomes of outputs beyond full scale.
	Precision, Rounding, Meaning, Samples, Overflow string
}

// CType is a type of C.
type CType struct {
	Name  string
	Bytes int
}

// CSeveral is how words that stand side by side in memory go into registers that do, and back, in one
// instruction, for compilers that take assembly as gcc writes it; without When there is no such.
type CSeveral struct {
	When        string // the preprocessor's condition
	Load, Store string // instructions: of an address, written back, and a list of registers
	Register    string // the name of one, before its number
	Constraint  string // of one
	First       int    // the first of those that are used
	Passes      CPasses
	// Of whole numbers, whose registers hold addresses as well: those for what a section remembers and makes, and
	// for words of its row, in order; and Load and Store of what stands in front of the address, which stays.
	States, Words         []int
	LoadBelow, StoreBelow string
}

// CPasses are the registers from which on passes have what they move at once: the words and states that all passes begin
// with, and the states and words of a pass's others.
type CPasses struct{ First, FirstStates, States, Words int }

// CFunction is a function of the header's own: STEM_Name, and its definition.
type CFunction struct{ Name, Text string }

// host is the types of the host that words are computed in.
type host interface{ float32 | float64 | int64 }

// arithmetic is a format's operations in a type of the host's. The operators
// of the programs are the type's own.
type arithmetic[V host] struct {
	word   func(x float64) V // of a constant
	sample func(x float64) V // the nearest to x re full scale
	value  func(v V) float64 // of a sample
	row    func(r Row) []V   // in the order of Kernel.Words
	round  func(v V) V       // of every operator's result; nil where the type itself rounds
	// size is those 31 bits of C.Size; nil where that has no name.
	size  func(v V) uint32
	calls map[string]call[V] // the functions that programs call
	// natively is a section's program in the host's own operations; nil where there are none
	// that do the same, which what it returns may be too.
	natively func(k Kernel, form biquad.Form) func(r []V, x V) V
	// literal is a word as C reads it back exactly.
	literal func(v V) string
}

// call is a function of one or two words; one word is given twice.
type call[V host] func(a, b V) V

// described is the row f, its functions filled in from its arithmetic.
func described[V host](f Format, a arithmetic[V]) Format {
	f.Kernel.Words, f.Kernel.States = f.typed(f.Kernel.Words), f.typed(f.Kernel.States)
	run := compiled(f.Kernel, a)
	f.Literal = func(x float64) string { return a.literal(a.word(x)) }
	f.Literals = func(r Row) []string {
		var out []string
		for _, v := range a.row(r) {
			out = append(out, a.literal(v))
		}
		return out
	}
	f.simulate = run.channel
	return f
}

func (f Format) typed(vs []Variable) []Variable {
	vs = slices.Clone(vs)
	for i := range vs {
		if vs[i].Type.Name == "" {
			vs[i].Type = f.C.Type
		}
	}
	return vs
}
