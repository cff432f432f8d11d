package number

import (
	"fmt"
	"strconv"
	"strings"
)

// inFixed is how C writes a fixed-point format. No number below zero is shifted: what may be one
// is moved up by 2⁶³ before and back afterwards, or is turned.
func inFixed(s container) C {
	drop := 32 - s.bits
	named := strings.NewReplacer(
		"BITS", strconv.Itoa(s.bits), "FULL", strconv.FormatInt(s.full(), 10), "LAST", strconv.FormatInt(s.full()-1, 10),
		"UP", strconv.FormatInt(1<<drop, 10), "GUARD", strconv.FormatInt(1<<s.guard, 10),
		"HALF", strconv.FormatInt((1<<drop)/2, 10), "DROP", strconv.Itoa(drop), "BACK", strconv.FormatInt(1<<(63-drop), 10),
	).Replace
	taken, given, from, to := takenWhole, givenWhole, fromWhole, toWhole
	if s.bits < 32 {
		taken, given, from, to = takenShort, givenShort, fromShort, toShort
	}
	c := C{
		Type:      word32,
		Before:    asAtO2,
		After:     asBeforeO2,
		Pass:      1,
		Turn:      2,
		FullScale: float64(s.full()),
		Tiny:      stillWords,
		Bits:      func(x float64) uint64 { return uint64(uint32(s.nearest(x))) },
		Functions: []CFunction{
			{"times", timesInC}, {"narrow", narrowInC}, {"lower", lowerInC}, {"left", leftInC}, {"scale", scaleInC}, {"widen", widenInC},
			{"down4", downInC(4)}, {"down8", downInC(8)}, {"taken", named(taken)}, {"given", named(given)},
		},
		FromInt32: CFunction{"from_int32", named(from)},
		ToInt32:   CFunction{"to_int32", named(to)},
		Precision: fmt.Sprintf("fixed point, %d-bit samples", s.bits),
		Rounding:  "y alone rounded (times and sums are exact in 64 bits)",
		Meaning: fmt.Sprintf("Words of the table are whole numbers, 2^%d for 1, that of the k-th power of t another 2^(s*k) larger, with H = "+
			"(b0 + b1*t + b2*t^2) / (1 + a1*t + a2*t^2): t = 1/z in the direct form and in that with error feedback, t = 1/(z - 1) in the delta forms, "+
			"which keep low corners accurate; s is the 4 or 8 bits that these shift down by. narrow(v) is the whole number nearest to v / 2^%d, of two the greater, lower(v) the "+
			"greatest up to it and left(v) what that leaves out; down4(v) and down8(v) are the greatest whole numbers up to v / 16 and v / 256.", fraction, fraction),
		Samples: fmt.Sprintf("A sample is a whole number from -%d to %d.", s.full(), s.full()-1),
		Overflow: fmt.Sprintf("Outputs beyond full scale are limited to it. Inside, %d bits of every word stay free above full scale: no input, "+
			"whatever its wave, makes a sum overflow in any setting (L1 norm at every node).", s.guard),
	}
	if s.dither > 0 {
		c.Functions = append(c.Functions, CFunction{"stirred", stirredInC}, CFunction{"dithered", s.ditheredInC()})
	}
	return c
}

const (
	asAtO2 = `#if defined __GNUC__ && !defined __clang__
#pragma GCC push_options
#if defined __OPTIMIZE__ && !defined __OPTIMIZE_SIZE__
#pragma GCC optimize("O2") /* at -O3 it would grow, and gain nothing */
#endif
#endif`
	asBeforeO2 = `#if defined __GNUC__ && !defined __clang__
#pragma GCC pop_options
#endif`
)

const timesInC = `/* The exact product. */
static inline int64_t STEM_times(int32_t a, int32_t b)
{
    return (int64_t)a * b;
}`

const narrowInC = `/* The whole number nearest to v / 2^27, of two the greater. */
static inline int32_t STEM_narrow(int64_t v)
{
    return (int32_t)((int64_t)(((uint64_t)v + 0x8000000004000000u) >> 27) - 0x1000000000);
}`

const lowerInC = `/* The greatest whole number that is no more than v / 2^27. */
static inline int32_t STEM_lower(int64_t v)
{
    return (int32_t)(v < 0 ? -1 - ((-1 - v) >> 27) : v >> 27);
}`

const leftInC = `/* What that leaves out. */
static inline int64_t STEM_left(int64_t v)
{
    return (int64_t)((uint64_t)v & 0x7ffffffu);
}`

const scaleInC = `/* The product of words of which one has 27 bits behind the point. */
static inline int32_t STEM_scale(int32_t a, int32_t b)
{
    return STEM_narrow(STEM_times(a, b));
}`

const widenInC = `/* A word in the place of a product. */
static inline int64_t STEM_widen(int32_t v)
{
    return (int64_t)v * 134217728;
}`

// downInC is a shift down by so many bits. Only numbers from 0 up are shifted; compilers know
// what is meant.
func downInC(bits int) string {
	return strings.NewReplacer("BITS", strconv.Itoa(bits), "POWER", strconv.Itoa(1<<bits)).Replace(
		`/* The greatest whole number that is no more than v / POWER. */
static inline int64_t STEM_downBITS(int64_t v)
{
    return v < 0 ? -1 - ((-1 - v) >> BITS) : v >> BITS;
}`)
}

const (
	takenWhole = `/* A sample as a word. */
static inline int32_t STEM_taken(int32_t v)
{
    return v;
}`
	takenShort = `/* A sample, limited to BITS bits, as a word. */
static inline int32_t STEM_taken(int32_t v)
{
    int32_t out = v;

    if (v < -FULL) {
        out = -FULL;
    } else if (v > LAST) {
        out = LAST;
    } else {
        /* as it is */
    }
    return out * UP;
}`
	givenWhole = `/* A word as a sample, limited. */
static inline int32_t STEM_given(int32_t v)
{
    const int64_t wide = (int64_t)v * GUARD;
    int32_t out = INT32_MIN;

    if (wide > INT32_MAX) {
        out = INT32_MAX;
    } else if (wide > INT32_MIN) {
        out = (int32_t)wide;
    } else {
        /* the least there is */
    }
    return out;
}`
	givenShort = `/* The sample nearest to a word, of two the greater, limited. */
static inline int32_t STEM_given(int32_t v)
{
    const int64_t wide = ((int64_t)v * GUARD) + HALF;
    const int64_t near = (int64_t)(((uint64_t)wide + 0x8000000000000000u) >> DROP) - BACK;
    int32_t out = -FULL;

    if (near > LAST) {
        out = LAST;
    } else if (near > -FULL) {
        out = (int32_t)near;
    } else {
        /* the least there is */
    }
    return out;
}`
	fromWhole = `/* A sample of 32 bits is one. */
static inline int32_t STEM_from_int32(int32_t x)
{
    return x;
}`
	toWhole = `/* And one is a sample of 32 bits. */
static inline int32_t STEM_to_int32(int32_t x)
{
    return x;
}`
	fromShort = `/* The sample nearest to one of 32 bits, of two the greater, limited. */
static inline int32_t STEM_from_int32(int32_t x)
{
    const int64_t wide = (int64_t)x + HALF;
    const int64_t near = (int64_t)(((uint64_t)wide + 0x8000000000000000u) >> DROP) - BACK;

    return near > LAST ? LAST : (int32_t)near;
}`
	toShort = `/* A sample with 32 bits. */
static inline int32_t STEM_to_int32(int32_t x)
{
    return x * UP;
}`
)
