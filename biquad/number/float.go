package number

import (
	"math"
	"strconv"
	"strings"

	"bandwright/biquad"
)

// floating is the kernel in floating point: a section in powers of 1/(z-c) for
// c = 0, 1 and -1.
//
// Weight is 10u³ - 15u⁴ + 6u⁵, beside the raised cosine, (1 - cos πu)/2, but
// without the steps of its second derivative at both ends: they are what is
// heard of a fade far from the tone that is faded.
var floating = Kernel{
	Words:  []Variable{{Name: "b0"}, {Name: "b1"}, {Name: "b2"}, {Name: "a1"}, {Name: "a2"}},
	States: []Variable{{Name: "p"}, {Name: "q"}},
	Take:   Program{{To: "x", Is: "in"}},
	Give:   Program{{To: "out", Is: "x"}},
	Gain:   Program{{To: "x", Is: "gain*x"}},
	Sections: map[biquad.Form]Program{
		biquad.Direct: {
			{To: "y", Is: "b0*x + p"},
			{To: "p", Is: "(q + b1*x) - a1*y"},
			{To: "q", Is: "b2*x - a2*y"},
		},
		biquad.Delta: {
			{To: "y", Is: "b0*x + p"},
			{To: "p", Is: "p + ((q + b1*x) - a1*y)"},
			{To: "q", Is: "(q + b2*x) - a2*y"},
		},
		biquad.Mirrored: {
			{To: "y", Is: "b0*x + p"},
			{To: "p", Is: "((q + b1*x) - a1*y) - p"},
			{To: "q", Is: "(b2*x - q) - a2*y"},
		},
	},
	Bare: map[biquad.Form]Program{
		biquad.Delta: {
			{To: "y", Is: "b0*x + p"},
			{To: "p", Is: "p + (q - a1*y)"},
			{To: "q", Is: "q - a2*y"},
		},
	},
	Weight: Program{
		{To: "u", Is: "at*step"},
		{To: "w", Is: "((u*u)*u)*(u*(6*u - 15) + 10)"},
	},
	Mix:  Program{{To: "y", Is: "y + w*(z - y)"}},
	Fade: Program{{To: "y", Is: "w*y"}},
}

// tiny is 2⁻⁶⁴, 385 dB below full scale: so far above the least normal number of
// single precision, 2⁻¹²⁶, that products with words stay normal, and that a section whose
// states fall by 3 dB a sample is found before they get there.
const tiny = 1.0 / (1 << 32) / (1 << 32)

// native is the arithmetic of the host's own type T, of so many bits, whose
// constants C marks by a suffix.
func native[T float32 | float64](bits int, suffix string, size func(T) uint32) arithmetic[T] {
	word := func(x float64) T { return T(x) }
	return arithmetic[T]{
		word:     word,
		sample:   word,
		size:     size,
		natively: natively[T],
		value:    func(v T) float64 { return float64(v) },
		row:      func(r Row) []T { return []T{T(r.B0), T(r.B1), T(r.B2), T(r.A1), T(r.A2)} },
		literal:  func(v T) string { return decimal(float64(v), bits) + suffix },
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
func inFloating(t CType, precision, checks string, size sizing) C {
	return C{
		Type:      t,
		FullScale: 1,
		Tiny:      tiny,
		Size:      CFunction{"bits", size.text},
		Garbage:   size.garbage,
		Bits:      size.all,
		Includes:  []string{"float.h", "string.h"},
		Before:    checks + "\n\n" + asWritten,
		Within:    "UPPER_AS_WRITTEN",
		After:     asBefore,
		Precision: precision,
		Rounding:  "every product and sum rounded separately",
		FromInt32: CFunction{"from_int32", strings.ReplaceAll(fromInt32, "TYPE", t.Name)},
		ToInt32:   CFunction{"to_int32", strings.ReplaceAll(toInt32, "TYPE", t.Name)},
		Meaning: "with H = (b0 + b1*t + b2*t^2) / (1 + a1*t + a2*t^2), t = 1/z in the direct form, t = 1/(z - 1) in the " +
			"delta form, which keeps low corners accurate at short word lengths.",
		Samples:  "Full scale is -1 to 1.",
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
#if defined __OPTIMIZE__ && !defined __OPTIMIZE_SIZE__
#pragma GCC optimize("O2") /* at -O3 it would grow, and gain nothing */
#endif
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

// sizing is how C tells what is no sample.
type sizing struct {
	text    string
	garbage uint32
	all     func(x float64) uint64 // the bits of a word
}

// The exponent's bits come first, so that sizes are in the order of magnitudes;
// garbage begins at 2⁶⁴.
var (
	sizeOfSingle = sizing{`/* The bits of x: without the sign they grow with its size. */
static inline uint32_t STEM_bits(float x)
{
    uint32_t bits;

    (void)memcpy(&bits, &x, sizeof bits);
    return bits;
}`, 0x5f800000, func(x float64) uint64 { return uint64(math.Float32bits(float32(x))) }}
	sizeOfDouble = sizing{`/* The first bits of x: without the sign they grow with its size. */
static inline uint32_t STEM_bits(double x)
{
    uint64_t bits;

    (void)memcpy(&bits, &x, sizeof bits);
    return (uint32_t)(bits >> 32);
}`, 0x43f00000, math.Float64bits}
)

// singleSize and doubleSize are what they compute.
func singleSize(x float32) uint32 { return math.Float32bits(x) & 0x7fffffff }
func doubleSize(x float64) uint32 { return uint32(math.Float64bits(x)>>32) & 0x7fffffff }

const (
	fromInt32 = `/* A sample of 32 bits, -2^31 to 2^31 - 1, re full scale. */
static inline TYPE STEM_from_int32(int32_t x)
{
    return (TYPE)x * (TYPE)(1.0 / 2147483648.0);
}`
	toInt32 = `/* The nearest sample of 32 bits, limited to what there is. */
static inline int32_t STEM_to_int32(TYPE x)
{
    const TYPE scaled = x * (TYPE)2147483648.0;
    const TYPE above = scaled > (TYPE)-2147483648.0 ? scaled : (TYPE)-2147483648.0;
    const TYPE inside = above < (TYPE)2147483647.0 ? above : (TYPE)0;
    const int32_t whole = (int32_t)inside;
    const TYPE rest = inside - (TYPE)whole;
    const int32_t near = whole + (int32_t)(rest + rest); /* 1 from a half on */

    return above < (TYPE)2147483647.0 ? near : INT32_MAX;
}`
)
