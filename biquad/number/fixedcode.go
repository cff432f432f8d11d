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
		"UP", strconv.FormatInt(1<<drop, 10), "HALF", strconv.FormatInt((1<<drop)/2, 10), "DROP", strconv.Itoa(drop), "BACK", strconv.FormatInt(1<<(63-drop), 10),
	).Replace
	taken, from, to := takenWhole, fromWhole, toWhole
	if s.bits < 32 {
		taken, from, to = takenShort, fromShort, toShort
	}
	c := C{
		Type:      word32,
		Blocks:    asAtO2,
		Sample:    asInLine,
		Sampled:   "#pragma GCC pop_options",
		After:     asBeforeO2,
		Pass:      1,
		Turn:      2,
		FullScale: float64(s.full()),
		Tiny:      still,
		Includes:  []string{"string.h"},
		Bits:      func(x float64) uint64 { return uint64(uint32(s.nearest(x))) },
		Functions: []CFunction{
			{"times", timesInC}, {"narrow", narrowInC}, {"scale", scaleInC}, {"widen", widenInC},
			{"high", highInC}, {"part", partInC}, {"twos", stepsInC("twos", 2)}, {"eights", stepsInC("eights", 8)}, {"taken", named(taken)}, {"limited", s.inGiven(limitedToSample)}, {"given", s.inGiven(s.givenText())},
		},
		// Registers that stay free are those that compilers keep for frames and for data by an address in a register.
		Several: CSeveral{
			When: "defined __GNUC__ && !defined __clang__ && defined __thumb2__", Load: "ldmia", Store: "stmia", LoadBelow: "ldmdb", StoreBelow: "stmdb", Register: "r", Constraint: "r",
			States: []int{0, 1, 2, 3, 4, 5, 14}, Words: []int{10, 11, 12, 14},
		},
		FromInt32: CFunction{"from_int32", named(from)},
		ToInt32:   CFunction{"to_int32", named(to)},
		Precision: fmt.Sprintf("fixed point, %d-bit samples", s.bits),
		Rounding:  "y rounded (times and sums are exact in 64 bits)",
		Meaning: "Words of the table are whole numbers with H = (b0 + b1*t + b2*t^2) / (1 - m1*t - m2*t^2): in the direct form " +
			"t = 1/z and 2^27 stands for 1; with error feedback t = 1/z and 2^29 stands for 1, and m1 is kept as one less than it is; in the delta " +
			"forms, which keep low corners accurate, t = 1/(z - 1) and 2^31 stands for 1, in the wide one and in the numerator of the deep one 2^29, and " +
			"b2 and m2 are another 2^32 / slope larger. narrow(v) is the whole number nearest to v / 2^27, of two the greater, high(v) the greatest up " +
			"to v / 2^32, twos(v) and eights(v) are that times 2 and 8. Gains have powers of two that numerators take back, so that levels inside fill the words.",
		Samples: fmt.Sprintf("A sample is a whole number from -%d to %d.", s.full(), s.full()-1),
		Overflow: fmt.Sprintf("Outputs beyond full scale are limited to it. Inside, %d bits of every word stay free above full scale: no input, "+
			"whatever its wave, makes a sum overflow in any setting (L1 norm at every node).", s.guard),
	}
	if s.dither > 0 {
		c.Functions = append(c.Functions, CFunction{"stirred", stirredInC}, CFunction{"dithered", s.ditheredInC()})
	}
	return c
}

// givenText is given, for samples with fewer bits than words or as many.
func (s container) givenText() string {
	if s.dropped() > 0 {
		return givenDown
	}
	return givenUp
}

// inGiven puts numbers into a text of given's.
func (s container) inGiven(text string) string {
	drop, full, times := s.dropped(), s.full(), ""
	if drop < 0 {
		full, times = full>>-drop, fmt.Sprintf(" * %d", 1<<-drop)
	}
	return strings.NewReplacer("LEAST", strconv.FormatInt(-full, 10), "MOST", strconv.FormatInt(full-1, 10), "BELOW", strconv.FormatInt(full, 10), "BOTH", strconv.FormatInt(2*full, 10), "TIMES", times,
		"HALF", strconv.FormatInt(1<<max(0, drop-1), 10), "DROP", strconv.Itoa(drop)).Replace(text)
}

const (
	asAtO2 = `#if defined __GNUC__ && !defined __clang__
#pragma GCC push_options
#if defined __OPTIMIZE__ && !defined __OPTIMIZE_SIZE__
#pragma GCC optimize("O2") /* at -O3 it would grow, and gain nothing */
#endif
#endif`
	asInLine = `#pragma GCC push_options
/* What is done ahead would need more registers than there are. */
#pragma GCC optimize("no-schedule-insns")`
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

const highInC = `/* The greatest whole number that is no more than v / 2^32. */
static inline int32_t STEM_high(int64_t v)
{
    const uint32_t word = (uint32_t)((uint64_t)v >> 32);
    int32_t out;

    (void)memcpy(&out, &word, sizeof out);
    return out;
}`

const partInC = `/* The product of words of which one has 32 bits behind the point. */
static inline int32_t STEM_part(int32_t a, int32_t b)
{
    return STEM_high(STEM_times(a, b) + 2147483648);
}`

// stepsInC is high times a step.
func stepsInC(name string, step int) string {
	return strings.NewReplacer("NAME", name, "STEP", strconv.Itoa(step)).Replace(
		`/* That times STEP. */
static inline int32_t STEM_NAME(int64_t v)
{
    return STEM_high(v) * STEP;
}`)
}

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

const (
	takenWhole = `/* A sample as a word. */
static inline int32_t STEM_taken(int32_t v)
{
    return v;
}`
	takenShort = `/* A sample, limited to BITS bits, as a word. */
static inline int32_t STEM_taken(int32_t v)
{
    const int32_t out = v > LAST ? LAST : v;

    return (out < -FULL ? -FULL : out) * UP;
}`
	limitedToSample = `/* The nearest whole number from LEAST to MOST. */
static inline int32_t STEM_limited(int32_t v)
{
    int32_t out = v;

    if (((uint32_t)v + BELOWu) >= BOTHu) {
        out = v < 0 ? LEAST : MOST;
    }
    return out;
}`
	givenUp = `/* A word as a sample, limited. */
static inline int32_t STEM_given(int32_t v)
{
    return STEM_limited(v)TIMES;
}`
	givenDown = `/* The sample nearest to a word, of two the greater, limited. (There is room above a word.) */
static inline int32_t STEM_given(int32_t v)
{
    const int32_t up = v + HALF;

    return STEM_limited(up < 0 ? -1 - ((-1 - up) >> DROP) : up >> DROP);
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
