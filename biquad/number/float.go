package number

import (
	"strconv"
	"strings"
)

// floating is the kernel in floating point. One recurrence serves all forms: c
// is the form's own point, 1, 0 or -1.
//
// Resume: from y = b0·x + p of both samples follow the p that the row would
// have held then, from those its q, and running its recurrence over both
// samples gives the states now. A section of first order has no q.
var floating = Kernel{
	Words:  []Variable{{Name: "c"}, {Name: "b0"}, {Name: "b1"}, {Name: "b2"}, {Name: "a1"}, {Name: "a2"}},
	States: []Variable{{Name: "p"}, {Name: "q"}},
	Take:   Program{{To: "x", Is: "in"}},
	Give:   Program{{To: "out", Is: "x"}},
	Gain:   Program{{To: "x", Is: "gain*x"}},
	Section: Program{
		{To: "y", Is: "b0*x + p"},
		{To: "p", Is: "c*p + ((q + b1*x) - a1*y)", Note: "the feedback a1, a2 is SUBTRACTED"},
		{To: "q", Is: "(c*q + b2*x) - a2*y"},
	},
	Resume: Program{
		{To: "e2", Is: "y2 - b0*x2", Note: "p, two samples and one sample ago"},
		{To: "e1", Is: "y - b0*x"},
	},
	SecondOrderBy: []string{"b2", "a2"},
	ResumeSecond: Program{
		{To: "q", Is: "(e1 - c*e2) - (b1*x2 - a1*y2)"},
		{To: "q", Is: "(c*q + b2*x2) - a2*y2"},
		{To: "p", Is: "c*e1 + ((q + b1*x) - a1*y)"},
		{To: "q", Is: "(c*q + b2*x) - a2*y"},
	},
	ResumeFirst: Program{
		{To: "p", Is: "c*e1 + (b1*x - a1*y)"},
		{To: "q", Is: "0"},
	},
}

// native is the arithmetic of the host's own type T, of so many bits, whose
// constants C marks by a suffix.
func native[T float32 | float64](bits int, suffix string) arithmetic[T] {
	word := func(x float64) T { return T(x) }
	return arithmetic[T]{
		word:    word,
		sample:  word,
		value:   func(v T) float64 { return float64(v) },
		row:     func(r Row) []T { return []T{T(r.C), T(r.B0), T(r.B1), T(r.B2), T(r.A1), T(r.A2)} },
		literal: func(v T) string { return decimal(float64(v), bits) + suffix },
	}
}

// decimal is the shortest decimal that reads back as v, a floating-point number
// of so many bits, with a point or an exponent; -0 is 0.
func decimal(v float64, bits int) string {
	if v == 0 {
		v = 0 // never -0
	}
	s := strconv.FormatFloat(v, 'g', -1, bits)
	if !strings.ContainsAny(s, ".e") {
		s += ".0"
	}
	return s
}

// refusing is what C says to machines whose type t is another number, or is
// computed wider than it is itself: mantissa and evaluation are what the
// preprocessor must not find (C11 5.2.4.2.2; 16 concerns half precision only).
func refusing(t CType, mantissa, evaluation string) string {
	return strings.NewReplacer("TYPE", t.Name, "BITS", strconv.Itoa(8*t.Bytes), "MANTISSA", mantissa, "EVALUATION", evaluation).Replace(
		`/* (FLT_RADIX stands in float.h. A program that looks through this file without it goes on.) */
#if defined FLT_RADIX && (FLT_RADIX != 2 || MANTISSA)
#error "STEM: TYPE must be an IEEE 754 number of BITS bits here"
#endif
#if defined FLT_RADIX && (EVALUATION)
#error "STEM: TYPE must be computed as TYPE; on a 32-bit x86 use -msse2 -mfpmath=sse"
#endif
#if defined __FAST_MATH__ || defined __ASSOCIATIVE_MATH__
#error "STEM: compile without -ffast-math, -funsafe-math-optimizations, -fassociative-math"
#endif`)
}

// inFloating is how C writes a format in a floating-point type of its own. The
// machine is checked by a text of refusing.
func inFloating(t CType, precision, checks string) C {
	return C{
		Type:      t,
		FullScale: 1,
		Includes:  []string{"float.h"},
		Before:    checks + "\n\n" + asWritten,
		Within:    "UPPER_AS_WRITTEN",
		After:     asBefore,
		Macros:    []string{"AS_WRITTEN"},
		Precision: precision,
		Rounding:  "every product and sum rounded separately",
		Meaning: "with H = (b0 + b1*t + b2*t^2) / (1 + a1*t + a2*t^2) and t = 1/(z - c). Rows with c = 0 are in the direct " +
			"form, t = 1/z; rows with c = 1 are in the delta form, which keeps low corners accurate at short word lengths.",
		Samples:  "Full scale is -1 to 1. Inputs must be finite: a NaN stays in the state until the next reset.",
		Overflow: "Floating-point outputs are not limited: limit them before conversion to a converter's word length.",
	}
}

const (
	asWritten = `/* No product may be fused with a sum and no sum reordered, whatever the compiler's own setting
 * is: every compiler and processor then gives the same bits. What nothing here can refuse or
 * undo: clang's -ffp-contract=fast; -fassociative-math of clang before 13; a rounding mode other
 * than to nearest; and numbers below the least normal one that are flushed to zero, a mode of the
 * processor that gcc and clang turn on where -ffast-math, -Ofast or -funsafe-math-optimizations
 * is given to the link. */
#if defined __GNUC__ && !defined __clang__
#pragma GCC push_options
#pragma GCC optimize("fp-contract=off", "no-associative-math")
#define UPPER_AS_WRITTEN
#elif defined __clang__ && __clang_major__ >= 13
#define UPPER_AS_WRITTEN _Pragma("clang fp contract(off) reassociate(off)")
#else
#define UPPER_AS_WRITTEN _Pragma("STDC FP_CONTRACT OFF")
#endif`
	asBefore = `#undef UPPER_AS_WRITTEN
#if defined __GNUC__ && !defined __clang__
#pragma GCC pop_options
#endif`
)
