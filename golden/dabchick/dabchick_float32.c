/*
 * dabchick_float32.c: the loudspeaker filters of "dabchick", tables and code
 * Spec SHA-256 e9e3a6613886ac7f14945f19e9061166695aa6e43386e7818311cf29d7257624
 *
 * Compile this file with the program; dabchick_float32.h tells all about it.
 *
 * MISRA C:2012, deviations from required and advisory rules:
 *   5.5         without lanes init has another name, so that files that disagree do not link
 *   8.9         tables beside what they belong to
 *   9.3         names that are shorter than the longest of their setting end in zeros
 *   10.8        int, int32_t and uint32_t meet where the values are small and known
 *   12.1        products in sums without parentheses: as the formulas are written
 *   12.2, 18.4  words of lists are shifted, and pointers step through lists and frames
 *   14.1        none: a loop's counter is a pointer to a sample, which checkers take for the sample
 *   15.5        what is refused returns at once
 *   17.8        pointers and counts that a function steps through are its parameters
 *   2.4, 2.5    tags and macros that only some programs use
 *   2.7         parameters that only assembly reads, which has functions of its own
 *   20.5        #undef, so that nothing is left behind
 *   20.9, 21.15 names that a compiler defines or not; memcpy from a number to its bits
 * and in lanes, samples side by side, which are compiled for hosts alone:
 *   2.2, 2.3    lanes are counted from 0; types that only some vectors, or only sizes, need
 *   10.3, 10.6  marks are what comparisons of vectors give; lengths are small
 *   11.4, 11.5  room for vectors begins at a multiple of their size
 *   14.2        a step of a loop takes as many sections as are left of its kind
 *   19.2        a vector and its samples share their bytes
 */
#include "dabchick_float32.h"

#include <float.h>
#include <string.h>

/* (FLT_RADIX stands in float.h. A program that looks through this file without it goes on.) */
#if defined FLT_RADIX && (FLT_RADIX != 2 || FLT_MANT_DIG != 24)
#error "dabchick: float must be an IEEE 754 number of 32 bits here"
#endif
#if defined FLT_RADIX && (FLT_EVAL_METHOD != 0 && FLT_EVAL_METHOD != 16)
#error "dabchick: float must be computed as float; on a 32-bit x86 use -msse2 -mfpmath=sse"
#endif
#if defined __FAST_MATH__ || defined __ASSOCIATIVE_MATH__
#error "dabchick: compile without -ffast-math, -funsafe-math-optimizations, -fassociative-math"
#endif

/* No product may be fused with a sum and no sum reordered, whatever the compiler's own setting
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
#define DABCHICK_AS_WRITTEN
#elif defined __clang__ && __clang_major__ >= 13
#define DABCHICK_AS_WRITTEN _Pragma("clang fp contract(off) reassociate(off)")
#else
#define DABCHICK_AS_WRITTEN _Pragma("STDC FP_CONTRACT OFF")
#endif

/* To run at fewer rates, define DABCHICK_ONLY_ with the rate for each that shall stay. */
#if !(defined DABCHICK_ONLY_44100 || defined DABCHICK_ONLY_48000 || defined DABCHICK_ONLY_96000)
#define DABCHICK_ONLY_44100
#define DABCHICK_ONLY_48000
#define DABCHICK_ONLY_96000
#endif

/* Single samples have code of their own, which DABCHICK_NO_SINGLES leaves out: they are
 * blocks of one then. */

/* Loops stand in functions of their own. What runs rarely is compiled for size, and so is what runs
 * once a block and not in lanes: but not what alone calls the loops, rare to gcc then. */
#if defined __GNUC__
#define DABCHICK_NOINLINE __attribute__((noinline))
#define DABCHICK_COLD __attribute__((noinline, cold))
#define DABCHICK_INLINE inline __attribute__((always_inline)) /* at -Os, too */
#else
#define DABCHICK_NOINLINE
#define DABCHICK_COLD
#define DABCHICK_INLINE inline
#endif
#if defined __GNUC__ && (defined __SSE2__ || defined __aarch64__) && !defined DABCHICK_NO_LANES
#define DABCHICK_SMALL DABCHICK_NOINLINE
#else
#define DABCHICK_SMALL DABCHICK_COLD
#endif
#ifdef DABCHICK_NO_SINGLES
#define DABCHICK_BLOCKS DABCHICK_NOINLINE
#else
#define DABCHICK_BLOCKS DABCHICK_SMALL
#endif

#define DABCHICK_READY 0x15d86656u /* of this spec in this format */
#define DABCHICK_CHECK 0xe8704686u
#define DABCHICK_TICK 32u /* samples between two looks at what is asked for */
#define DABCHICK_REST 128u /* and between two looks for sections that have come to rest */
/* dabchick_bits without the sign, << 1, of what is no sample. */
#define DABCHICK_GARBAGE 0xbf000000u
#if defined __GNUC__ && defined __arm__ && defined __ARM_FP
#define DABCHICK_SEVERAL /* registers that lie beside each other are moved in one instruction */
#endif

/* Words of a list, one a pass: where the row of its first section begins, which those of the others
 * follow, their kind (1 direct, 2 delta without b1 and b2, 3 delta)
 * and how many they are; 0 is the end. */
#define DABCHICK_ROW 0x7ffu
#define DABCHICK_HEAD 11 /* bits below */
#define DABCHICK_ONE_MORE (1u << 13)
#define DABCHICK_FULL 0x6000u /* from there on a pass takes no more */
#define DABCHICK_NONE 255u /* the alternative that changes nothing and has no row */

/* ---- tables --------------------------------------------------------------------------- */

#ifndef DABCHICK_NO_SINGLES
/* What a single sample finds in a row of the table of sections. */
typedef struct {
    float b0;
    float a1;
    float a2;
    float b1;
    float b2;
} dabchick_section_words;
#endif

typedef struct {
    unsigned char word; /* among the lists: that for its first alternative */
    unsigned char pick; /* of dabchick_pick_table: the alternative of every combination */
    unsigned char stride[DABCHICK_SETTINGS]; /* of each setting's choices */
} dabchick_switch_entry;

typedef struct {
    float gain; /* with the polarity as sign */
    int8_t list; /* where the list of what always runs begins */
    int8_t from; /* the memory of that */
    int8_t split; /* of what settings pick, behind that of all that always runs */
    int8_t first; /* the first position of that */
    int8_t end; /* behind the last; what runs beside has memory from first on */
#ifndef DABCHICK_NO_SINGLES
    uint16_t forms; /* of what always runs, 2 bits a section, the first in the highest */
#endif
} dabchick_cascade_entry;

typedef struct {
    uint32_t rate_hz;
    const float *sections; /* rows of words */
    const uint16_t *lists; /* words for what settings pick, then the lists of what always runs */
    int16_t settle; /* samples that new sections run unheard */
    int16_t fade; /* samples of a fade */
    float step; /* 1 / fade */
    dabchick_cascade_entry cascade[1 + DABCHICK_WAYS]; /* common, then the ways */
} dabchick_rate_entry;

static const unsigned char dabchick_pick_table[2] = {
    255u, 0u
};

/* Which of the switches below each position is that settings change, at every rate. */
static const unsigned char dabchick_position_table[4] = {
    0u, 1u, 0u, 1u
};
static const dabchick_switch_entry dabchick_switch_table[2] = {
    { 0u, 0u, { 1u } },
    { 1u, 0u, { 1u } }
};

/* b0, a1, a2, b1, b2 of every section, delta without b1 and b2: the first 3. Above each:
 * - rate, way and number;
 * - the line of the spec, and the frequency and Q that its poles ring at (those of a shelf lie
 *   beside the line's own). Lines of one way that are made together share their zeros: there it
 *   is the line whose poles these are, and the way where no line has them;
 * - form, and computed error in this format re the section's greatest gain. */
#ifdef DABCHICK_ONLY_44100
static const float dabchick_sections_44100[40] = {
    /* 44100 Hz, bass 0: ways.bass.filters[0] high-pass, poles at 38.2 Hz, Q 0.915; delta, -129 */
    /* dB */
    0.99798745f, 0.0059593916f, 2.9534838e-05f, 0.0f, 0.0f,
    /* 44100 Hz, bass 1: ways.bass.filters[1] pole-shift, poles at 48.37 Hz, Q 0.678; delta, -132 */
    /* dB */
    0.3562156f, 0.01016776f, 4.7254456e-05f, 0.006359267f, 6.2101884e-05f,
    /* 44100 Hz, bass 2: ways.bass, poles at 2.934 kHz and 1.919 kHz; delta, -144 dB */
    0.08951898f, 0.58086807f, 0.08173255f, 0.76431453f, 0.08164716f,
    /* 44100 Hz, bass 3: ways.bass.filters[2] high-shelf, poles at 524.3 Hz and half the rate; */
    /* direct, -141 dB */
    0.17248504f, -0.49159077f, -0.40501547f, 0.113550596f, 0.007663513f,
    /* 44100 Hz, treble 0: ways.treble, poles at 2.781 kHz and 2.102 kHz; delta, -145 dB */
    0.71579736f, 0.58588773f, 0.08464863f, 0.0f, 0.0f,
    /* 44100 Hz, treble 1: ways.treble.filters[0] peak, poles at 3.046 kHz, Q 1.51; delta, -141 */
    /* dB */
    0.98196125f, 0.41125718f, 0.16114338f, 0.3760135f, 0.16307606f,
    /* 44100 Hz, bass and treble: by choice; delta, -143 dB */
    /* desk on-desk: common[0] low-shelf, poles at 201.9 Hz, Q 0.600 */
    0.995093f, 0.04763044f, 0.00080822565f, 0.037699983f, 0.00050995767f,
    /* desk none: straight through */
    /* 44100 Hz, bass and treble: by choice; delta, -144 dB */
    /* desk on-desk: common[1] peak, poles at 165 Hz, Q 0.980 */
    0.99754846f, 0.024240945f, 0.0005460514f, 0.019367622f, 0.0005460529f
    /* desk none: straight through */
};
static const uint16_t dabchick_lists_44100[8] = {
    14366u, 14371u, 0u, 30720u, 10255u, 0u, 22548u, 0u
};
#endif

#ifdef DABCHICK_ONLY_48000
static const float dabchick_sections_48000[40] = {
    /* 48000 Hz, bass 0: ways.bass.filters[0] high-pass, poles at 38.07 Hz, Q 0.905; delta, -129 */
    /* dB */
    1.0399431f, 0.005518213f, 2.4769524e-05f, 0.0f, 0.0f,
    /* 48000 Hz, bass 1: ways.bass.filters[1] pole-shift, poles at 48.09 Hz, Q 0.693; delta, -132 */
    /* dB */
    0.34060982f, 0.009085191f, 3.9453917e-05f, 0.005559539f, 4.935103e-05f,
    /* 48000 Hz, bass 2: ways.bass, poles at 2.691 kHz and 2.126 kHz; delta, -142 dB */
    0.6501383f, 0.5397742f, 0.07210961f, 0.7479975f, 0.072050005f,
    /* 48000 Hz, bass 3: ways.bass.filters[2] high-shelf, poles at 546.5 Hz and half the rate; */
    /* direct, -140 dB */
    0.020377662f, -0.5804306f, -0.32632822f, 0.16419217f, 0.07971389f,
    /* 48000 Hz, treble 0: ways.treble, poles at 2.698 kHz and 2.156 kHz; delta, -144 dB */
    0.7351705f, 0.5433511f, 0.0731407f, 0.0f, 0.0f,
    /* 48000 Hz, treble 1: ways.treble.filters[0] peak, poles at 3.065 kHz, Q 1.49; delta, -139 */
    /* dB */
    0.9825967f, 0.37487736f, 0.13930376f, 0.34028324f, 0.14047423f,
    /* 48000 Hz, bass and treble: by choice; delta, -143 dB */
    /* desk on-desk: common[0] low-shelf, poles at 201.9 Hz, Q 0.600 */
    0.99548936f, 0.043786027f, 0.0006836009f, 0.034667306f, 0.000431324f,
    /* desk none: straight through */
    /* 48000 Hz, bass and treble: by choice; delta, -142 dB */
    /* desk on-desk: common[1] peak, poles at 165 Hz, Q 0.980 */
    0.99774617f, 0.022251884f, 0.0004613739f, 0.017770221f, 0.0004613747f
    /* desk none: straight through */
};
static const uint16_t dabchick_lists_48000[8] = {
    14366u, 14371u, 0u, 30720u, 10255u, 0u, 22548u, 0u
};
#endif

#ifdef DABCHICK_ONLY_96000
static const float dabchick_sections_96000[38] = {
    /* 96000 Hz, bass 0: ways.bass.filters[0] high-pass, poles at 38 Hz, Q 0.900; delta, -126 dB */
    1.0267818f, 0.0027665077f, 6.176902e-06f,
    /* 96000 Hz, bass 1: ways.bass.filters[1] pole-shift, poles at 47.99 Hz, Q 0.700; delta, -129 */
    /* dB */
    0.34332886f, 0.00448479f, 9.843115e-06f, 0.002794517f, 1.2392858e-05f,
    /* 96000 Hz, bass 2: crossovers[0] low-pass, poles at 2.4 kHz, Q 0.500; delta, -144 dB */
    0.39813948f, 0.29067558f, 0.02113836f, 0.39862758f, 0.02112122f,
    /* 96000 Hz, bass 3: ways.bass.filters[2] high-shelf, poles at half the rate and 556.6 Hz; */
    /* delta, -136 dB */
    0.0090059815f, 1.0637755f, 0.036773995f, 0.09538867f, 0.10443356f,
    /* 96000 Hz, treble 0: ways.treble.filters[0] peak, poles at 3.099 kHz, Q 1.47; delta, -138 */
    /* dB */
    0.9752739f, 0.16725418f, 0.038282007f, 0.14474614f, 0.03774747f,
    /* 96000 Hz, treble 1: crossovers[0] high-pass, poles at 2.458 kHz and 2.344 kHz; delta, -145 */
    /* dB */
    0.8688451f, 0.29084924f, 0.021138212f, 0.0f, 0.0f,
    /* 96000 Hz, bass and treble: by choice; delta, -142 dB */
    /* desk on-desk: common[0] low-shelf, poles at 202 Hz, Q 0.600 */
    0.9977392f, 0.021962626f, 0.00017281354f, 0.017417189f, 0.00010903799f,
    /* desk none: straight through */
    /* 96000 Hz, bass and treble: by choice; delta, -140 dB */
    /* desk on-desk: common[1] peak, poles at 165 Hz, Q 0.980 */
    0.99886984f, 0.011070941f, 0.000115982155f, 0.008817816f, 0.00011598216f
    /* desk none: straight through */
};
static const uint16_t dabchick_lists_96000[8] = {
    14364u, 14369u, 0u, 12288u, 30723u, 0u, 22546u, 0u
};
#endif

#ifdef DABCHICK_NO_SINGLES
#define DABCHICK_FORMS(forms)
#else
#define DABCHICK_FORMS(forms) , (forms)
#endif

static const dabchick_rate_entry dabchick_rate_table[] = {
#ifdef DABCHICK_ONLY_44100
    { 44100u, dabchick_sections_44100, dabchick_lists_44100, 1824, 448, 0.002232143f, {
        { 0.3548134f, 2, 0, 6, 0, 0 DABCHICK_FORMS(0x0000u) }, /* common */
        { 0.70794576f, 3, 0, 6, 0, 2 DABCHICK_FORMS(0xfd00u) }, /* bass */
        { -0.56234133f, 6, 4, 8, 2, 4 DABCHICK_FORMS(0xf000u) } /* treble */
    } },
#endif
#ifdef DABCHICK_ONLY_48000
    { 48000u, dabchick_sections_48000, dabchick_lists_48000, 1984, 480, 0.0020833334f, {
        { 0.3548134f, 2, 0, 6, 0, 0 DABCHICK_FORMS(0x0000u) }, /* common */
        { 0.70794576f, 3, 0, 6, 0, 2 DABCHICK_FORMS(0xfd00u) }, /* bass */
        { -0.56234133f, 6, 4, 8, 2, 4 DABCHICK_FORMS(0xf000u) } /* treble */
    } },
#endif
#ifdef DABCHICK_ONLY_96000
    { 96000u, dabchick_sections_96000, dabchick_lists_96000, 3968, 960, 0.0010416667f, {
        { 0.3548134f, 2, 0, 6, 0, 0 DABCHICK_FORMS(0x0000u) }, /* common */
        { 0.70794576f, 3, 0, 6, 0, 2 DABCHICK_FORMS(0xbf00u) }, /* bass */
        { -0.56234133f, 6, 4, 8, 2, 4 DABCHICK_FORMS(0xf000u) } /* treble */
    } },
#endif
};

#define DABCHICK_RATES ((int32_t)(sizeof dabchick_rate_table / sizeof dabchick_rate_table[0]))

const char dabchick_desk_names[DABCHICK_DESK_CHOICES][8] = {
    "none",
    "on-desk"
};

/* ---- filters -------------------------------------------------------------------------- */

/* The bits of x: without the sign they grow with its size. */
static inline uint32_t dabchick_bits(float x)
{
    uint32_t bits;

    (void)memcpy(&bits, &x, sizeof bits);
    return bits;
}

/* A sample of 32 bits, -2^31 to 2^31 - 1, re full scale. */
static inline float dabchick_from_int32(int32_t x)
{
    return (float)x * (float)(1.0 / 2147483648.0);
}

/* The nearest sample of 32 bits, limited to what there is. */
static inline int32_t dabchick_to_int32(float x)
{
    const float scaled = x * (float)2147483648.0;
    const float above = scaled > (float)-2147483648.0 ? scaled : (float)-2147483648.0;
    const float inside = above < (float)2147483647.0 ? above : (float)0;
    const int32_t whole = (int32_t)inside;
    const float rest = inside - (float)whole;
    const int32_t near = whole + (int32_t)(rest + rest); /* 1 from a half on */

    return above < (float)2147483647.0 ? near : INT32_MAX;
}

#ifdef DABCHICK_SEVERAL
/* Words of the table, and what sections remember, go into registers beside each other, and back,
 * in one instruction; nothing is computed there. */
static DABCHICK_INLINE void dabchick_first(const float **from, float *to)
{
    register float word_0 __asm__("s1");
    register float word_1 __asm__("s2");
    register float word_2 __asm__("s3");

    __asm__("vldmia %0!, {s1-s3}"
            : "+r"(*from), "=t"(word_0), "=t"(word_1), "=t"(word_2)
            : "m"((*from)[0]), "m"((*from)[1]), "m"((*from)[2]));
    to[0] = word_0;
    to[1] = word_1;
    to[2] = word_2;
}

static DABCHICK_INLINE void dabchick_first_states(const dabchick_memory *m, dabchick_memory *is)
{
    register float p_0 __asm__("s6");
    register float q_0 __asm__("s7");

    __asm__("vldmia %2, {s6-s7}"
            : "=t"(p_0), "=t"(q_0)
            : "r"(m), "m"(m[0]));
    is[0].p = p_0;
    is[0].q = q_0;
}

static DABCHICK_INLINE void dabchick_keep_first(dabchick_memory *m, const dabchick_memory *is)
{
    register float p_0 __asm__("s6");
    register float q_0 __asm__("s7");

    p_0 = is[0].p;
    q_0 = is[0].q;
    __asm__("vstmia %1, {s6-s7}"
            : "=m"(m[0])
            : "r"(m), "t"(p_0), "t"(q_0));
}

static DABCHICK_INLINE void dabchick_words_2(const float *from, float *to)
{
    register float word_0 __asm__("s14");
    register float word_1 __asm__("s15");

    __asm__("vldmia %2, {s14-s15}"
            : "=t"(word_0), "=t"(word_1)
            : "r"(from), "m"(from[0]), "m"(from[1]));
    to[0] = word_0;
    to[1] = word_1;
}

static DABCHICK_INLINE void dabchick_words_7(const float *from, float *to)
{
    register float word_0 __asm__("s14");
    register float word_1 __asm__("s15");
    register float word_2 __asm__("s16");
    register float word_3 __asm__("s17");
    register float word_4 __asm__("s18");
    register float word_5 __asm__("s19");
    register float word_6 __asm__("s20");

    __asm__("vldmia %7, {s14-s20}"
            : "=t"(word_0), "=t"(word_1), "=t"(word_2), "=t"(word_3), "=t"(word_4), "=t"(word_5),
                "=t"(word_6)
            : "r"(from), "m"(from[0]), "m"(from[1]), "m"(from[2]), "m"(from[3]), "m"(from[4]),
                "m"(from[5]), "m"(from[6]));
    to[0] = word_0;
    to[1] = word_1;
    to[2] = word_2;
    to[3] = word_3;
    to[4] = word_4;
    to[5] = word_5;
    to[6] = word_6;
}

static DABCHICK_INLINE void dabchick_states_1(const dabchick_memory *m, dabchick_memory *is)
{
    register float p_0 __asm__("s8");
    register float q_0 __asm__("s9");

    __asm__("vldmia %2, {s8-s9}"
            : "=t"(p_0), "=t"(q_0)
            : "r"(m), "m"(m[0]));
    is[0].p = p_0;
    is[0].q = q_0;
}

static DABCHICK_INLINE void dabchick_keep_states_1(dabchick_memory *m, const dabchick_memory *is)
{
    register float p_0 __asm__("s8");
    register float q_0 __asm__("s9");

    p_0 = is[0].p;
    q_0 = is[0].q;
    __asm__("vstmia %1, {s8-s9}"
            : "=m"(m[0])
            : "r"(m), "t"(p_0), "t"(q_0));
}

static DABCHICK_INLINE void dabchick_words_12(const float *from, float *to)
{
    register float word_0 __asm__("s14");
    register float word_1 __asm__("s15");
    register float word_2 __asm__("s16");
    register float word_3 __asm__("s17");
    register float word_4 __asm__("s18");
    register float word_5 __asm__("s19");
    register float word_6 __asm__("s20");
    register float word_7 __asm__("s21");
    register float word_8 __asm__("s22");
    register float word_9 __asm__("s23");
    register float word_10 __asm__("s24");
    register float word_11 __asm__("s25");

    __asm__("vldmia %12, {s14-s25}"
            : "=t"(word_0), "=t"(word_1), "=t"(word_2), "=t"(word_3), "=t"(word_4), "=t"(word_5),
                "=t"(word_6), "=t"(word_7), "=t"(word_8), "=t"(word_9), "=t"(word_10), "=t"(word_11)
            : "r"(from), "m"(from[0]), "m"(from[1]), "m"(from[2]), "m"(from[3]), "m"(from[4]),
                "m"(from[5]), "m"(from[6]), "m"(from[7]), "m"(from[8]), "m"(from[9]), "m"(from[10]),
                "m"(from[11]));
    to[0] = word_0;
    to[1] = word_1;
    to[2] = word_2;
    to[3] = word_3;
    to[4] = word_4;
    to[5] = word_5;
    to[6] = word_6;
    to[7] = word_7;
    to[8] = word_8;
    to[9] = word_9;
    to[10] = word_10;
    to[11] = word_11;
}

static DABCHICK_INLINE void dabchick_states_2(const dabchick_memory *m, dabchick_memory *is)
{
    register float p_0 __asm__("s8");
    register float q_0 __asm__("s9");
    register float p_1 __asm__("s10");
    register float q_1 __asm__("s11");

    __asm__("vldmia %4, {s8-s11}"
            : "=t"(p_0), "=t"(q_0), "=t"(p_1), "=t"(q_1)
            : "r"(m), "m"(m[0]), "m"(m[1]));
    is[0].p = p_0;
    is[0].q = q_0;
    is[1].p = p_1;
    is[1].q = q_1;
}

static DABCHICK_INLINE void dabchick_keep_states_2(dabchick_memory *m, const dabchick_memory *is)
{
    register float p_0 __asm__("s8");
    register float q_0 __asm__("s9");
    register float p_1 __asm__("s10");
    register float q_1 __asm__("s11");

    p_0 = is[0].p;
    q_0 = is[0].q;
    p_1 = is[1].p;
    q_1 = is[1].q;
    __asm__("vstmia %2, {s8-s11}"
            : "=m"(m[0]), "=m"(m[1])
            : "r"(m), "t"(p_0), "t"(q_0), "t"(p_1), "t"(q_1));
}
#endif

/* gain times n samples, and the sections of a list over them: from -> to, which may be the same.
 * Each pass takes samples through up to 3 sections of one form; between them everything is
 * in registers. Those that begin no list have no gain; an empty list is the gain alone. n is not 0.
 * What returns is where the next list begins. */
static DABCHICK_NOINLINE const uint16_t * dabchick_run_list(const float *table,
        const uint16_t *list, dabchick_memory *m, float gain, const float *from, float *to, int n)
{
    DABCHICK_AS_WRITTEN
    const float *const end = &to[n];
    unsigned int word = *list;

    if (word == 0u) {
        do {
            *to = gain * *from;
            from++;
            to++;
        } while (to != end);
        return list + 1;
    }
    do {
        const float *w = &table[word & DABCHICK_ROW];
        const unsigned int head = word >> DABCHICK_HEAD;
        float *at = to;
#ifdef DABCHICK_SEVERAL
        float first[3];
        dabchick_memory is;

        dabchick_first(&w, first);
        dabchick_first_states(m, &is);
        const float b0_0 = first[0];
        const float a1_0 = first[1];
        const float a2_0 = first[2];
        float p_0 = is.p;
        float q_0 = is.q;
#else
        const float b0_0 = w[0];
        const float a1_0 = w[1];
        const float a2_0 = w[2];
        float p_0 = m[0].p;
        float q_0 = m[0].q;
#endif

        switch (head) {
        case 5u: { /* direct, 1 */
#ifdef DABCHICK_SEVERAL
            float words[2];

            dabchick_words_2(w, words);
            const float b1_0 = words[0];
            const float b2_0 = words[1];
#else
            const float b1_0 = w[3];
            const float b2_0 = w[4];
#endif

            do {
                const float x = *from;
                const float y_0 = b0_0 * x + p_0;
                p_0 = (q_0 + b1_0 * x) - a1_0 * y_0;
                q_0 = b2_0 * x - a2_0 * y_0;
                *at = y_0;
                from++;
                at++;
            } while (at != end);
            break;
        }
        case 7u: { /* delta, 1 */
#ifdef DABCHICK_SEVERAL
            float words[2];

            dabchick_words_2(w, words);
            const float b1_0 = words[0];
            const float b2_0 = words[1];
#else
            const float b1_0 = w[3];
            const float b2_0 = w[4];
#endif

            do {
                const float x = *from;
                const float y_0 = b0_0 * x + p_0;
                p_0 = p_0 + ((q_0 + b1_0 * x) - a1_0 * y_0);
                q_0 = (q_0 + b2_0 * x) - a2_0 * y_0;
                *at = y_0;
                from++;
                at++;
            } while (at != end);
            break;
        }
        case 11u: { /* delta, 2 */
#ifdef DABCHICK_SEVERAL
            float words[7];
            dabchick_memory more[1];

            dabchick_words_7(w, words);
            dabchick_states_1(&m[1], more);
            const float b1_0 = words[0];
            const float b2_0 = words[1];
            const float b0_1 = words[2];
            const float a1_1 = words[3];
            const float a2_1 = words[4];
            const float b1_1 = words[5];
            const float b2_1 = words[6];
            float p_1 = more[0].p;
            float q_1 = more[0].q;
#else
            const float b1_0 = w[3];
            const float b2_0 = w[4];
            const float b0_1 = w[5];
            const float b1_1 = w[8];
            const float b2_1 = w[9];
            const float a1_1 = w[6];
            const float a2_1 = w[7];
            float p_1 = m[1].p;
            float q_1 = m[1].q;
#endif

            do {
                const float x = gain * *from;
                const float y_0 = b0_0 * x + p_0;
                p_0 = p_0 + ((q_0 + b1_0 * x) - a1_0 * y_0);
                q_0 = (q_0 + b2_0 * x) - a2_0 * y_0;
                const float y_1 = b0_1 * y_0 + p_1;
                p_1 = p_1 + ((q_1 + b1_1 * y_0) - a1_1 * y_1);
                q_1 = (q_1 + b2_1 * y_0) - a2_1 * y_1;
                *at = y_1;
                from++;
                at++;
            } while (at != end);
#ifdef DABCHICK_SEVERAL
            more[0].p = p_1;
            more[0].q = q_1;
            dabchick_keep_states_1(&m[1], more);
#else
            m[1].p = p_1;
            m[1].q = q_1;
#endif
            break;
        }
        case 15u: { /* delta, 3 */
#ifdef DABCHICK_SEVERAL
            float words[12];
            dabchick_memory more[2];

            dabchick_words_12(w, words);
            dabchick_states_2(&m[1], more);
            const float b1_0 = words[0];
            const float b2_0 = words[1];
            const float b0_1 = words[2];
            const float a1_1 = words[3];
            const float a2_1 = words[4];
            const float b1_1 = words[5];
            const float b2_1 = words[6];
            const float b0_2 = words[7];
            const float a1_2 = words[8];
            const float a2_2 = words[9];
            const float b1_2 = words[10];
            const float b2_2 = words[11];
            float p_1 = more[0].p;
            float q_1 = more[0].q;
            float p_2 = more[1].p;
            float q_2 = more[1].q;
#else
            const float b1_0 = w[3];
            const float b2_0 = w[4];
            const float b0_1 = w[5];
            const float b1_1 = w[8];
            const float b2_1 = w[9];
            const float a1_1 = w[6];
            const float a2_1 = w[7];
            float p_1 = m[1].p;
            float q_1 = m[1].q;
            const float b0_2 = w[10];
            const float b1_2 = w[13];
            const float b2_2 = w[14];
            const float a1_2 = w[11];
            const float a2_2 = w[12];
            float p_2 = m[2].p;
            float q_2 = m[2].q;
#endif

            do {
                const float x = gain * *from;
                const float y_0 = b0_0 * x + p_0;
                p_0 = p_0 + ((q_0 + b1_0 * x) - a1_0 * y_0);
                q_0 = (q_0 + b2_0 * x) - a2_0 * y_0;
                const float y_1 = b0_1 * y_0 + p_1;
                p_1 = p_1 + ((q_1 + b1_1 * y_0) - a1_1 * y_1);
                q_1 = (q_1 + b2_1 * y_0) - a2_1 * y_1;
                const float y_2 = b0_2 * y_1 + p_2;
                p_2 = p_2 + ((q_2 + b1_2 * y_1) - a1_2 * y_2);
                q_2 = (q_2 + b2_2 * y_1) - a2_2 * y_2;
                *at = y_2;
                from++;
                at++;
            } while (at != end);
#ifdef DABCHICK_SEVERAL
            more[0].p = p_1;
            more[0].q = q_1;
            more[1].p = p_2;
            more[1].q = q_2;
            dabchick_keep_states_2(&m[1], more);
#else
            m[1].p = p_1;
            m[1].q = q_1;
            m[2].p = p_2;
            m[2].q = q_2;
#endif
            break;
        }
        case 6u: { /* delta without b1 and b2, 1 */
            do {
                const float x = gain * *from;
                const float y_0 = b0_0 * x + p_0;
                p_0 = p_0 + (q_0 - a1_0 * y_0);
                q_0 = q_0 - a2_0 * y_0;
                *at = y_0;
                from++;
                at++;
            } while (at != end);
            break;
        }
        default:
            /* there are no others */
            break;
        }
#ifdef DABCHICK_SEVERAL
        is.p = p_0;
        is.q = q_0;
        dabchick_keep_first(m, &is);
#else
        m[0].p = p_0;
        m[0].q = q_0;
#endif
        from = to;
        gain = 1.0f;
        m += head >> 2;
        list++;
        word = *list;
    } while (word != 0u);
    return list + 1;
}

/* n samples of a fade, from its sample from on: from io to other, or where there is no other from
 * silence to io; way is 1, or -1 to go back. */
static DABCHICK_COLD void dabchick_fade(float *io, const float *other, float step,
        int32_t from, int32_t way, int n)
{
    DABCHICK_AS_WRITTEN
    int i;

    for (i = 0; i < n; i++) {
        const float at = (float)(from + (way * i));
        const float u = at * step;
        const float w = ((u * u) * u) * (u * (6.0f * u - 15.0f) + 10.0f);

        if (other != NULL) {
            io[i] = io[i] + w * (other[i] - io[i]);
        } else {
            io[i] = w * io[i];
        }
    }
}

/* The list of what the choices pick, of cascade c. What returns is where the next one begins. */
static DABCHICK_COLD uint16_t *dabchick_make_list(const dabchick_rate_entry *rate,
        const dabchick_channel_state *ch, int c, uint16_t *list)
{
    const dabchick_cascade_entry *cascade = &rate->cascade[c];
    uint16_t *next = list;
    unsigned int follows = 0u; /* the word of the row behind the last one, of the same form */
    int k;
    int i;

    for (k = cascade->first; k < cascade->end; k++) {
        const dabchick_switch_entry *choices = &dabchick_switch_table[dabchick_position_table[k]];
        unsigned int pick = choices->pick;
        unsigned int alternative;

        for (i = 0; i < DABCHICK_SETTINGS; i++) {
            pick += (unsigned int)choices->stride[i] * ch->chosen[i];
        }
        alternative = dabchick_pick_table[pick];
        if (alternative != DABCHICK_NONE) {
            const unsigned int word = rate->lists[choices->word + alternative];

            if (word == follows && next != list && next[-1] < DABCHICK_FULL) { /* one more */
                next[-1] = (uint16_t)(next[-1] + DABCHICK_ONE_MORE);
            } else {
                *next = (uint16_t)word;
                next++;
            }
            follows = word + ((word >> DABCHICK_HEAD & 3u) == 2u ? 3u : 5u);
        }
    }
    *next = 0u;
    return next + 1;
}

/* What cascade c goes over to while a setting changes, over n samples: io, behind what always
 * runs, -> beside. */
static DABCHICK_COLD void dabchick_run_beside(const dabchick_rate_entry *rate,
        dabchick_channel_state *ch, int c, const float *io, float *beside, int n)
{
    const dabchick_cascade_entry *cascade = &rate->cascade[c];
    uint16_t list[DABCHICK_SWITCHES + 1];
    (void)dabchick_make_list(rate, ch, c, list);
    (void)dabchick_run_list(rate->sections, list, &ch->then[cascade->first],
        1.0f, io, beside, n);
}

/* Gain and sections of cascade c over n samples, from -> io. What returns is where
 * the list of what settings pick begins of the next one. */
static inline const uint16_t * dabchick_run_cascade(const dabchick_rate_entry *rate,
        dabchick_channel_state *ch, int c, const uint16_t *picked,
        const float *from, float *io, float *beside, int n)
{
    const dabchick_cascade_entry *cascade = &rate->cascade[c];

    (void)dabchick_run_list(rate->sections, &rate->lists[cascade->list], &ch->now[cascade->from],
        cascade->gain, from, io, n);
    if (ch->change >= 0 && cascade->end > cascade->first) {
        dabchick_run_beside(rate, ch, c, io, beside, n);
    }
    return *picked == 0u ? picked + 1
        : dabchick_run_list(rate->sections, picked, &ch->now[cascade->split],
            1.0f, io, io, n);
}

/* The common part over n samples of one channel: in[i] -> now[i].
 * What returns are the samples before garbage. */
static int dabchick_run_common(const dabchick_rate_entry *rate, dabchick_channel_state *ch,
        const float *in, float *now, int n)
{
    DABCHICK_AS_WRITTEN
    const float gain = rate->cascade[0].gain;
    uint32_t sizes = 0u;
    int good = n;
    int i;

    if (ch->fresh != 0u || ch->dead != 0u) {
        good = 0;
    }
    for (i = 0; i < good; i++) {
        sizes |= dabchick_bits(in[i]);
        float x = in[i];
        now[i] = gain * x;
    }
    if ((sizes << 1) >= DABCHICK_GARBAGE) { /* perhaps */
        good = 0;
        while (good < n && (dabchick_bits(in[good]) << 1) < DABCHICK_GARBAGE) {
            good++;
        }
        if (good < n) {
            ch->dead = 1u;
            ch->calm = 0u;
        }
    }
    return good;
}

/* A way that is not calm: fades, and silence behind good samples. */
static DABCHICK_COLD void dabchick_shade(const dabchick_rate_entry *rate,
        const dabchick_channel_state *ch, const dabchick_cascade_entry *cascade,
        float *io, const float *beside, int good, int n)
{
    int heard = good;
    int i;
    if (ch->change >= rate->settle && cascade->end > cascade->first) {
        dabchick_fade(io, beside, rate->step, ch->change - rate->settle, 1, good);
    }
    if (ch->step != 0) {
        dabchick_fade(io, NULL, rate->step, ch->open, ch->step, good);
    } else if (ch->open == 0) {
        heard = 0;
    } else {
        /* fully open */
    }
    for (i = heard; i < n; i++) {
        io[i] = 0.0f;
    }
}

/* The ways over n samples of one channel: good samples of now -> out[way][at + i], then silence. */
static void dabchick_run_ways(const dabchick_rate_entry *rate, dabchick_channel_state *ch,
        const float *now, int good, float *const *out, int at, int n)
{
    float beside[DABCHICK_TICK];
    const uint16_t *picked = &ch->list[1]; /* behind that of the common part, which is empty */
    int c;

    for (c = 1; c <= DABCHICK_WAYS; c++) {
        float *io = &out[c - 1][at];

        if (good > 0) {
            picked = dabchick_run_cascade(rate, ch, c, picked, now, io, beside, good);
        }
        if (ch->calm == 0u) {
            dabchick_shade(rate, ch, &rate->cascade[c], io, beside, good, n);
        }
    }
    if (ch->calm == 0u) {
        if (ch->change >= 0) {
            ch->change = (int16_t)(ch->change + n);
        }
        ch->open = (int16_t)(ch->open + (ch->step * n));
    }
}

/* n samples of one channel, none beyond a tick: in[i] -> out[way][at + i]. */
static DABCHICK_NOINLINE void dabchick_run_block(const dabchick_rate_entry *rate, dabchick_channel_state *ch,
        const float *in, float *const *out, int at, int n)
{
    float now[DABCHICK_TICK];
    int good;
    good = dabchick_run_common(rate, ch, in, now, n);
    dabchick_run_ways(rate, ch, now, good, out, at, n);
}

#ifndef DABCHICK_NO_SINGLES

/* Where there is DABCHICK_SEVERAL, words go from memory into registers beside each other, and back,
 * in one instruction; nothing is computed there. */
/* A row of 3 words, and the next row is next. */
static DABCHICK_INLINE void dabchick_row_3(const float **w, dabchick_section_words *row)
{
#ifdef DABCHICK_SEVERAL
    register float b0 __asm__("s6");
    register float a1 __asm__("s7");
    register float a2 __asm__("s8");

    __asm__("vldmia %0!, {s6-s8}"
            : "+r"(*w), "=t"(b0), "=t"(a1), "=t"(a2)
            : "m"((*w)[0]), "m"((*w)[1]), "m"((*w)[2]));
    row->b0 = b0;
    row->a1 = a1;
    row->a2 = a2;
#else
    row->b0 = (*w)[0];
    row->a1 = (*w)[1];
    row->a2 = (*w)[2];
    *w += 3;
#endif
}

/* A row of 5 words, and the next row is next. */
static DABCHICK_INLINE void dabchick_row_5(const float **w, dabchick_section_words *row)
{
#ifdef DABCHICK_SEVERAL
    register float b0 __asm__("s6");
    register float a1 __asm__("s7");
    register float a2 __asm__("s8");
    register float b1 __asm__("s9");
    register float b2 __asm__("s10");

    __asm__("vldmia %0!, {s6-s10}"
            : "+r"(*w), "=t"(b0), "=t"(a1), "=t"(a2), "=t"(b1), "=t"(b2)
            : "m"((*w)[0]), "m"((*w)[1]), "m"((*w)[2]), "m"((*w)[3]), "m"((*w)[4]));
    row->b0 = b0;
    row->a1 = a1;
    row->a2 = a2;
    row->b1 = b1;
    row->b2 = b2;
#else
    row->b0 = (*w)[0];
    row->a1 = (*w)[1];
    row->a2 = (*w)[2];
    row->b1 = (*w)[3];
    row->b2 = (*w)[4];
    *w += 5;
#endif
}

/* What a section of channel 0 of two remembers. */
static inline dabchick_memory dabchick_load_0(const dabchick_memory *m)
{
#ifdef DABCHICK_SEVERAL
    register float p __asm__("s2");
    register float q __asm__("s3");
    dabchick_memory is;

    __asm__("vldmia %2, {s2-s3}" : "=t"(p), "=t"(q) : "r"(m), "m"(*m));
    is.p = p;
    is.q = q;
    return is;
#else
    return *m;
#endif
}

/* What it shall remember, and the next section is next. */
static inline void dabchick_keep_0(dabchick_memory **m, dabchick_memory is)
{
#ifdef DABCHICK_SEVERAL
    register float p __asm__("s2");
    register float q __asm__("s3");

    p = is.p;
    q = is.q;
    __asm__("vstmia %0!, {s2-s3}" : "+r"(*m), "=m"(**m) : "t"(p), "t"(q));
#else
    **m = is;
    *m += 1;
#endif
}

/* What a section of channel 1 of two remembers. */
static inline dabchick_memory dabchick_load_1(const dabchick_memory *m)
{
#ifdef DABCHICK_SEVERAL
    register float p __asm__("s4");
    register float q __asm__("s5");
    dabchick_memory is;

    __asm__("vldmia %2, {s4-s5}" : "=t"(p), "=t"(q) : "r"(m), "m"(*m));
    is.p = p;
    is.q = q;
    return is;
#else
    return *m;
#endif
}

/* What it shall remember, and the next section is next. */
static inline void dabchick_keep_1(dabchick_memory **m, dabchick_memory is)
{
#ifdef DABCHICK_SEVERAL
    register float p __asm__("s4");
    register float q __asm__("s5");

    p = is.p;
    q = is.q;
    __asm__("vstmia %0!, {s4-s5}" : "+r"(*m), "=m"(**m) : "t"(p), "t"(q));
#else
    **m = is;
    *m += 1;
#endif
}
/* A row of the table. */
static DABCHICK_COLD const float *dabchick_row_at(const dabchick_rate_entry *rate,
        unsigned int row)
{
    return &rate->sections[row];
}

/* One sample of two channels that are calm and alike: x -> out[way][0].
 * What always runs of all cascades stands in the order in which it runs, rows as well as memory. */
static inline void dabchick_step(const dabchick_rate_entry *rate,
        dabchick_channel_state *ch_0, dabchick_channel_state *ch_1, float x_0, float x_1,
        float *const *out_0, float *const *out_1)
{
    DABCHICK_AS_WRITTEN
    const dabchick_cascade_entry *cascade = &rate->cascade[0];
    const dabchick_cascade_entry *stop = &rate->cascade[DABCHICK_WAYS];
    const float *w = rate->sections;
    dabchick_memory *m_0 = ch_0->now;
    dabchick_memory *m_1 = ch_1->now;
    const uint16_t *picked = ch_0->list;
    const float *always = w; /* the next row of what always runs, while others are picked */
    float now_0;
    float *to_0 = &now_0;
    float now_1;
    float *to_1 = &now_1;

    x_0 = cascade->gain * x_0;
    x_1 = cascade->gain * x_1;
    for (;;) {
        uint32_t forms = (uint32_t)cascade->forms << 16;
        uint16_t some = cascade->forms;

        for (;;) {
            unsigned int word;

            if (some != 0u) {
                do {
                    dabchick_section_words row;
                    dabchick_memory is_0 = dabchick_load_0(m_0);
                    dabchick_memory is_1 = dabchick_load_1(m_1);

                    if (forms >= 0xc0000000u) { /* delta */
                        dabchick_row_5(&w, &row);
                        const float b1x_0 = row.b1 * x_0;
                        const float b2x_0 = row.b2 * x_0;
                        const float y_0 = row.b0 * x_0 + is_0.p;
                        is_0.p = is_0.p + ((is_0.q + b1x_0) - row.a1 * y_0);
                        is_0.q = (is_0.q + b2x_0) - row.a2 * y_0;
                        const float b1x_1 = row.b1 * x_1;
                        const float b2x_1 = row.b2 * x_1;
                        const float y_1 = row.b0 * x_1 + is_1.p;
                        is_1.p = is_1.p + ((is_1.q + b1x_1) - row.a1 * y_1);
                        is_1.q = (is_1.q + b2x_1) - row.a2 * y_1;
                        x_0 = y_0;
                        x_1 = y_1;
                    } else if (forms >= 0x80000000u) { /* delta without b1 and b2 */
                        dabchick_row_3(&w, &row);
                        const float y_0 = row.b0 * x_0 + is_0.p;
                        is_0.p = is_0.p + (is_0.q - row.a1 * y_0);
                        is_0.q = is_0.q - row.a2 * y_0;
                        const float y_1 = row.b0 * x_1 + is_1.p;
                        is_1.p = is_1.p + (is_1.q - row.a1 * y_1);
                        is_1.q = is_1.q - row.a2 * y_1;
                        x_0 = y_0;
                        x_1 = y_1;
                    } else { /* direct */
                        dabchick_row_5(&w, &row);
                        const float b1x_0 = row.b1 * x_0;
                        const float b2x_0 = row.b2 * x_0;
                        const float y_0 = row.b0 * x_0 + is_0.p;
                        is_0.p = (is_0.q + b1x_0) - row.a1 * y_0;
                        is_0.q = b2x_0 - row.a2 * y_0;
                        const float b1x_1 = row.b1 * x_1;
                        const float b2x_1 = row.b2 * x_1;
                        const float y_1 = row.b0 * x_1 + is_1.p;
                        is_1.p = (is_1.q + b1x_1) - row.a1 * y_1;
                        is_1.q = b2x_1 - row.a2 * y_1;
                        x_0 = y_0;
                        x_1 = y_1;
                    }
                    dabchick_keep_0(&m_0, is_0);
                    dabchick_keep_1(&m_1, is_1);
                    forms <<= 2;
                } while (forms != 0u);
            }
            word = *picked;
            picked++;
            if (word == 0u) {
                break;
            }
            if (picked[-2] == 0u) { /* the first of a list */
                m_0 = &ch_0->now[cascade->split];
                m_1 = &ch_1->now[cascade->split];
                stop = cascade;
                always = w;
            }
            w = dabchick_row_at(rate, word & DABCHICK_ROW);
            forms = ((word >> DABCHICK_HEAD & 3u) * 0x55555555u) << (32u - ((word >> 13) * 2u));
            some = 1u;
        }
        *to_0 = x_0;
        *to_1 = x_1;
        if (cascade == stop) {
            stop = &rate->cascade[DABCHICK_WAYS];
            if (cascade == stop) {
                break;
            }
            w = always;
            m_0 = &ch_0->now[cascade[1].from];
            m_1 = &ch_1->now[cascade[1].from];
        }
        cascade++;
        to_0 = *out_0;
        out_0++;
        x_0 = now_0;
        to_1 = *out_1;
        out_1++;
        x_1 = now_1;
        x_0 = cascade->gain * x_0;
        x_1 = cascade->gain * x_1;
    }
}


#endif

/* Samples side by side, in the words of the filters or of 32 bits, and a channel's own. */
typedef struct dabchick_frames dabchick_frames;
struct dabchick_frames {
    const float *in;
    float *out;
    const int32_t *in32; /* where they are wide */
    int32_t *out32;
    int wide;
#ifndef DABCHICK_NO_SINGLES
    dabchick_state *s;
#endif
    /* Takes samples through their filters: by a pointer, so that programs without frames are
     * linked without it. */
    int (*through)(dabchick_frames *f, const dabchick_rate_entry *rate,
        dabchick_channel_state *ch, int k, int n, int apart);
    const float *ins[DABCHICK_CHANNELS];
    float *outs[DABCHICK_CHANNELS * DABCHICK_WAYS];
    float from[DABCHICK_TICK];
    float to[DABCHICK_WAYS][DABCHICK_TICK];
};
/* ---- lanes ---------------------------------------------------------------------------- */

/* Where the compiler has vectors, the ways of all channels go through their sections side by side;
 * those that have no more go through sections that change nothing, to the bit. The same operations
 * in the same order give the same bits. Words and states of the ways stand in lanes of the state as
 * long as no channel fades, so that a single sample costs nothing to get there; what the channels
 * themselves remember of their ways is out of date then. */
#if defined __GNUC__ && (defined __SSE2__ || defined __aarch64__) && !defined DABCHICK_NO_LANES
#define DABCHICK_LANES 4 /* in a vector */
#define DABCHICK_GROUPS 1 /* vectors that hold all lanes */
#define DABCHICK_DEEP 8 /* sections of a lane, with those that a last pass has too many */
#define DABCHICK_LONG 64 /* the most samples at once */
#define DABCHICK_SAVING 3 /* half sections that one of all lanes has to stand for */

/* So that the loops over n samples are ones over one sample elsewhere. */
#define DABCHICK_ALWAYS __attribute__((always_inline))

typedef float dabchick_lanes __attribute__((vector_size(16)));
typedef int32_t dabchick_marks __attribute__((vector_size(16)));
typedef float dabchick_short __attribute__((vector_size(16)));
typedef int32_t dabchick_short_marks __attribute__((vector_size(16)));

/* Words of two vectors in another order. */
#if defined __clang__ || __GNUC__ >= 12
#define DABCHICK_SHUFFLE(a, b, ...) __builtin_shufflevector(a, b, __VA_ARGS__)
#else
#define DABCHICK_SHUFFLE(a, b, ...) __builtin_shuffle(a, b, (dabchick_short_marks){ __VA_ARGS__ })
#endif

/* Lanes of b where those of the mask are negative, otherwise of a, in one instruction. */
#if defined __SSE4_1__ && defined __has_builtin
#if __has_builtin(__builtin_ia32_blendvps)
#define DABCHICK_BLEND(a, b, mask) __builtin_ia32_blendvps(a, b, mask)
#endif
#endif

/* Loops that clang leaves as they stand. */
#ifdef __clang__
#define DABCHICK_ROLLED _Pragma("clang loop unroll(disable)")
#else
#define DABCHICK_ROLLED
#endif

/* Vectors, and each lane of them. */
typedef union {
    dabchick_lanes all;
    float one[DABCHICK_LANES];
} dabchick_lane_words;

typedef union {
    dabchick_marks all;
    int32_t one[DABCHICK_LANES];
} dabchick_lane_marks;

/* Section k of every lane. */
typedef struct {
    dabchick_lane_words word[7]; /* b0, b1, b2, a1, a2, p, q */
    dabchick_lane_marks keep; /* all ones in a lane in the delta form, otherwise 0 */
    dabchick_lane_words zero; /* -0, which adds nothing, to the bit, in all others */
    dabchick_lane_words none; /* -0 in a lane that has no such section, otherwise 0 */
} dabchick_lane_section;

/* Lanes beside each other in one vector. */
typedef struct {
    dabchick_lane_section section[DABCHICK_DEEP];
    dabchick_lane_words gain;
    int32_t count[DABCHICK_LANES]; /* sections of each */
    /* Which one begins at a section: how many it takes, and 8 times the form; 0: the end. */
    unsigned char pass[DABCHICK_DEEP + 1];
    unsigned char alone[DABCHICK_DEEP + 1]; /* the same for a single sample, with 32 times the form */
} dabchick_lane_group;

/* All that the state keeps room for. */
typedef struct __attribute__((may_alias)) {
    dabchick_lane_group group[DABCHICK_GROUPS];
} dabchick_lane_store;

/* There is room for it, wherever in the state a whole vector begins. */
typedef char dabchick_lane_room[
    sizeof(dabchick_lane_store) + 16u <= sizeof(((dabchick_state *)0)->lanes) ? 1 : -1];

/* Where that begins, in bytes. */
static inline unsigned int dabchick_lanes_begin(const dabchick_state *s)
{
    return (16u - (unsigned int)((uintptr_t)s->lanes % 16u)) % 16u;
}

/* It, where lanes have been there since. */
static inline dabchick_lane_group *dabchick_lane_groups_at(dabchick_state *s)
{
    unsigned char *const room = (unsigned char *)s->lanes;

    return ((dabchick_lane_store *)(void *)&room[s->lanes_at])->group;
}

/* That of a state, which may have been copied to where whole vectors begin elsewhere. */
static inline dabchick_lane_group *dabchick_lane_groups(dabchick_state *s)
{
    unsigned char *const room = (unsigned char *)s->lanes;
    const unsigned int at = dabchick_lanes_begin(s);

    if (at != s->lanes_at) {
        (void)memmove(&room[at], &room[s->lanes_at], sizeof(dabchick_lane_store));
        s->lanes_at = (unsigned char)at;
    }
    return dabchick_lane_groups_at(s);
}

/* A state in lanes of the delta form, and -0 in all others. */
#ifdef DABCHICK_BLEND
static const dabchick_lanes dabchick_nothing = {
    -0.0f,
    -0.0f,
    -0.0f,
    -0.0f,
};
#define DABCHICK_BACK(state, s) \
    DABCHICK_BLEND(dabchick_nothing, state, (dabchick_lanes)(s).keep.all)
#else
#define DABCHICK_BACK(state, s) \
    ((dabchick_lanes)(((dabchick_marks)(state) & (s).keep.all) | (dabchick_marks)(s).zero.all))
#endif

/* Words stay in memory: there is no room for all in registers, and copies gain nothing. */
static inline DABCHICK_ALWAYS void dabchick_lanes_direct_3(dabchick_lane_section *s,
        dabchick_lane_words *io, int n)
{
    DABCHICK_AS_WRITTEN
    dabchick_lanes p_0 = s[0].word[5].all;
    dabchick_lanes q_0 = s[0].word[6].all;
    dabchick_lanes p_1 = s[1].word[5].all;
    dabchick_lanes q_1 = s[1].word[6].all;
    dabchick_lanes p_2 = s[2].word[5].all;
    dabchick_lanes q_2 = s[2].word[6].all;
    int i;

    for (i = 0; i < n; i++) {
        const dabchick_lanes x = io[i].all;
        const dabchick_lanes y_0 = s[0].word[0].all * x + p_0;
        const dabchick_lanes y_1 = s[1].word[0].all * y_0 + p_1;
        p_0 = (q_0 + s[0].word[1].all * x) - s[0].word[3].all * y_0;
        q_0 = s[0].word[2].all * x - s[0].word[4].all * y_0;
        const dabchick_lanes y_2 = s[2].word[0].all * y_1 + p_2;
        p_1 = (q_1 + s[1].word[1].all * y_0) - s[1].word[3].all * y_1;
        q_1 = s[1].word[2].all * y_0 - s[1].word[4].all * y_1;
        p_2 = (q_2 + s[2].word[1].all * y_1) - s[2].word[3].all * y_2;
        q_2 = s[2].word[2].all * y_1 - s[2].word[4].all * y_2;
        io[i].all = y_2;
    }
    s[0].word[5].all = p_0;
    s[0].word[6].all = q_0;
    s[1].word[5].all = p_1;
    s[1].word[6].all = q_1;
    s[2].word[5].all = p_2;
    s[2].word[6].all = q_2;
}

static inline DABCHICK_ALWAYS void dabchick_lanes_direct_5(dabchick_lane_section *s,
        dabchick_lane_words *io, int n)
{
    DABCHICK_AS_WRITTEN
    dabchick_lanes p_0 = s[0].word[5].all;
    dabchick_lanes q_0 = s[0].word[6].all;
    dabchick_lanes p_1 = s[1].word[5].all;
    dabchick_lanes q_1 = s[1].word[6].all;
    dabchick_lanes p_2 = s[2].word[5].all;
    dabchick_lanes q_2 = s[2].word[6].all;
    dabchick_lanes p_3 = s[3].word[5].all;
    dabchick_lanes q_3 = s[3].word[6].all;
    dabchick_lanes p_4 = s[4].word[5].all;
    dabchick_lanes q_4 = s[4].word[6].all;
    int i;

    for (i = 0; i < n; i++) {
        const dabchick_lanes x = io[i].all;
        const dabchick_lanes y_0 = s[0].word[0].all * x + p_0;
        const dabchick_lanes y_1 = s[1].word[0].all * y_0 + p_1;
        p_0 = (q_0 + s[0].word[1].all * x) - s[0].word[3].all * y_0;
        q_0 = s[0].word[2].all * x - s[0].word[4].all * y_0;
        const dabchick_lanes y_2 = s[2].word[0].all * y_1 + p_2;
        p_1 = (q_1 + s[1].word[1].all * y_0) - s[1].word[3].all * y_1;
        q_1 = s[1].word[2].all * y_0 - s[1].word[4].all * y_1;
        const dabchick_lanes y_3 = s[3].word[0].all * y_2 + p_3;
        p_2 = (q_2 + s[2].word[1].all * y_1) - s[2].word[3].all * y_2;
        q_2 = s[2].word[2].all * y_1 - s[2].word[4].all * y_2;
        const dabchick_lanes y_4 = s[4].word[0].all * y_3 + p_4;
        p_3 = (q_3 + s[3].word[1].all * y_2) - s[3].word[3].all * y_3;
        q_3 = s[3].word[2].all * y_2 - s[3].word[4].all * y_3;
        p_4 = (q_4 + s[4].word[1].all * y_3) - s[4].word[3].all * y_4;
        q_4 = s[4].word[2].all * y_3 - s[4].word[4].all * y_4;
        io[i].all = y_4;
    }
    s[0].word[5].all = p_0;
    s[0].word[6].all = q_0;
    s[1].word[5].all = p_1;
    s[1].word[6].all = q_1;
    s[2].word[5].all = p_2;
    s[2].word[6].all = q_2;
    s[3].word[5].all = p_3;
    s[3].word[6].all = q_3;
    s[4].word[5].all = p_4;
    s[4].word[6].all = q_4;
}

static inline DABCHICK_ALWAYS void dabchick_lanes_delta_3(dabchick_lane_section *s,
        dabchick_lane_words *io, int n)
{
    DABCHICK_AS_WRITTEN
    dabchick_lanes p_0 = s[0].word[5].all;
    dabchick_lanes q_0 = s[0].word[6].all;
    dabchick_lanes p_1 = s[1].word[5].all;
    dabchick_lanes q_1 = s[1].word[6].all;
    dabchick_lanes p_2 = s[2].word[5].all;
    dabchick_lanes q_2 = s[2].word[6].all;
    int i;

    for (i = 0; i < n; i++) {
        const dabchick_lanes x = io[i].all;
        const dabchick_lanes y_0 = s[0].word[0].all * x + p_0;
        const dabchick_lanes y_1 = s[1].word[0].all * y_0 + p_1;
        p_0 = p_0 + ((q_0 + s[0].word[1].all * x) - s[0].word[3].all * y_0);
        q_0 = (q_0 + s[0].word[2].all * x) - s[0].word[4].all * y_0;
        const dabchick_lanes y_2 = s[2].word[0].all * y_1 + p_2;
        p_1 = p_1 + ((q_1 + s[1].word[1].all * y_0) - s[1].word[3].all * y_1);
        q_1 = (q_1 + s[1].word[2].all * y_0) - s[1].word[4].all * y_1;
        p_2 = p_2 + ((q_2 + s[2].word[1].all * y_1) - s[2].word[3].all * y_2);
        q_2 = (q_2 + s[2].word[2].all * y_1) - s[2].word[4].all * y_2;
        io[i].all = y_2;
    }
    s[0].word[5].all = p_0;
    s[0].word[6].all = q_0;
    s[1].word[5].all = p_1;
    s[1].word[6].all = q_1;
    s[2].word[5].all = p_2;
    s[2].word[6].all = q_2;
}

static inline DABCHICK_ALWAYS void dabchick_lanes_delta_5(dabchick_lane_section *s,
        dabchick_lane_words *io, int n)
{
    DABCHICK_AS_WRITTEN
    dabchick_lanes p_0 = s[0].word[5].all;
    dabchick_lanes q_0 = s[0].word[6].all;
    dabchick_lanes p_1 = s[1].word[5].all;
    dabchick_lanes q_1 = s[1].word[6].all;
    dabchick_lanes p_2 = s[2].word[5].all;
    dabchick_lanes q_2 = s[2].word[6].all;
    dabchick_lanes p_3 = s[3].word[5].all;
    dabchick_lanes q_3 = s[3].word[6].all;
    dabchick_lanes p_4 = s[4].word[5].all;
    dabchick_lanes q_4 = s[4].word[6].all;
    int i;

    for (i = 0; i < n; i++) {
        const dabchick_lanes x = io[i].all;
        const dabchick_lanes y_0 = s[0].word[0].all * x + p_0;
        const dabchick_lanes y_1 = s[1].word[0].all * y_0 + p_1;
        p_0 = p_0 + ((q_0 + s[0].word[1].all * x) - s[0].word[3].all * y_0);
        q_0 = (q_0 + s[0].word[2].all * x) - s[0].word[4].all * y_0;
        const dabchick_lanes y_2 = s[2].word[0].all * y_1 + p_2;
        p_1 = p_1 + ((q_1 + s[1].word[1].all * y_0) - s[1].word[3].all * y_1);
        q_1 = (q_1 + s[1].word[2].all * y_0) - s[1].word[4].all * y_1;
        const dabchick_lanes y_3 = s[3].word[0].all * y_2 + p_3;
        p_2 = p_2 + ((q_2 + s[2].word[1].all * y_1) - s[2].word[3].all * y_2);
        q_2 = (q_2 + s[2].word[2].all * y_1) - s[2].word[4].all * y_2;
        const dabchick_lanes y_4 = s[4].word[0].all * y_3 + p_4;
        p_3 = p_3 + ((q_3 + s[3].word[1].all * y_2) - s[3].word[3].all * y_3);
        q_3 = (q_3 + s[3].word[2].all * y_2) - s[3].word[4].all * y_3;
        p_4 = p_4 + ((q_4 + s[4].word[1].all * y_3) - s[4].word[3].all * y_4);
        q_4 = (q_4 + s[4].word[2].all * y_3) - s[4].word[4].all * y_4;
        io[i].all = y_4;
    }
    s[0].word[5].all = p_0;
    s[0].word[6].all = q_0;
    s[1].word[5].all = p_1;
    s[1].word[6].all = q_1;
    s[2].word[5].all = p_2;
    s[2].word[6].all = q_2;
    s[3].word[5].all = p_3;
    s[3].word[6].all = q_3;
    s[4].word[5].all = p_4;
    s[4].word[6].all = q_4;
}

static inline DABCHICK_ALWAYS void dabchick_lanes_mixed_3(dabchick_lane_section *s,
        dabchick_lane_words *io, int n)
{
    DABCHICK_AS_WRITTEN
    dabchick_lanes p_0 = s[0].word[5].all;
    dabchick_lanes q_0 = s[0].word[6].all;
    dabchick_lanes p_1 = s[1].word[5].all;
    dabchick_lanes q_1 = s[1].word[6].all;
    dabchick_lanes p_2 = s[2].word[5].all;
    dabchick_lanes q_2 = s[2].word[6].all;
    int i;

    for (i = 0; i < n; i++) {
        const dabchick_lanes x = io[i].all;
        const dabchick_lanes y_0 = s[0].word[0].all * x + p_0;
        const dabchick_lanes y_1 = s[1].word[0].all * y_0 + p_1;
        p_0 = DABCHICK_BACK(p_0, s[0]) + ((q_0 + s[0].word[1].all * x) - s[0].word[3].all * y_0);
        q_0 = (DABCHICK_BACK(q_0, s[0]) + s[0].word[2].all * x) - s[0].word[4].all * y_0;
        const dabchick_lanes y_2 = s[2].word[0].all * y_1 + p_2;
        p_1 = DABCHICK_BACK(p_1, s[1]) + ((q_1 + s[1].word[1].all * y_0) - s[1].word[3].all * y_1);
        q_1 = (DABCHICK_BACK(q_1, s[1]) + s[1].word[2].all * y_0) - s[1].word[4].all * y_1;
        p_2 = DABCHICK_BACK(p_2, s[2]) + ((q_2 + s[2].word[1].all * y_1) - s[2].word[3].all * y_2);
        q_2 = (DABCHICK_BACK(q_2, s[2]) + s[2].word[2].all * y_1) - s[2].word[4].all * y_2;
        io[i].all = y_2;
    }
    s[0].word[5].all = p_0;
    s[0].word[6].all = q_0;
    s[1].word[5].all = p_1;
    s[1].word[6].all = q_1;
    s[2].word[5].all = p_2;
    s[2].word[6].all = q_2;
}

static inline DABCHICK_ALWAYS void dabchick_lanes_mixed_5(dabchick_lane_section *s,
        dabchick_lane_words *io, int n)
{
    DABCHICK_AS_WRITTEN
    dabchick_lanes p_0 = s[0].word[5].all;
    dabchick_lanes q_0 = s[0].word[6].all;
    dabchick_lanes p_1 = s[1].word[5].all;
    dabchick_lanes q_1 = s[1].word[6].all;
    dabchick_lanes p_2 = s[2].word[5].all;
    dabchick_lanes q_2 = s[2].word[6].all;
    dabchick_lanes p_3 = s[3].word[5].all;
    dabchick_lanes q_3 = s[3].word[6].all;
    dabchick_lanes p_4 = s[4].word[5].all;
    dabchick_lanes q_4 = s[4].word[6].all;
    int i;

    for (i = 0; i < n; i++) {
        const dabchick_lanes x = io[i].all;
        const dabchick_lanes y_0 = s[0].word[0].all * x + p_0;
        const dabchick_lanes y_1 = s[1].word[0].all * y_0 + p_1;
        p_0 = DABCHICK_BACK(p_0, s[0]) + ((q_0 + s[0].word[1].all * x) - s[0].word[3].all * y_0);
        q_0 = (DABCHICK_BACK(q_0, s[0]) + s[0].word[2].all * x) - s[0].word[4].all * y_0;
        const dabchick_lanes y_2 = s[2].word[0].all * y_1 + p_2;
        p_1 = DABCHICK_BACK(p_1, s[1]) + ((q_1 + s[1].word[1].all * y_0) - s[1].word[3].all * y_1);
        q_1 = (DABCHICK_BACK(q_1, s[1]) + s[1].word[2].all * y_0) - s[1].word[4].all * y_1;
        const dabchick_lanes y_3 = s[3].word[0].all * y_2 + p_3;
        p_2 = DABCHICK_BACK(p_2, s[2]) + ((q_2 + s[2].word[1].all * y_1) - s[2].word[3].all * y_2);
        q_2 = (DABCHICK_BACK(q_2, s[2]) + s[2].word[2].all * y_1) - s[2].word[4].all * y_2;
        const dabchick_lanes y_4 = s[4].word[0].all * y_3 + p_4;
        p_3 = DABCHICK_BACK(p_3, s[3]) + ((q_3 + s[3].word[1].all * y_2) - s[3].word[3].all * y_3);
        q_3 = (DABCHICK_BACK(q_3, s[3]) + s[3].word[2].all * y_2) - s[3].word[4].all * y_3;
        p_4 = DABCHICK_BACK(p_4, s[4]) + ((q_4 + s[4].word[1].all * y_3) - s[4].word[3].all * y_4);
        q_4 = (DABCHICK_BACK(q_4, s[4]) + s[4].word[2].all * y_3) - s[4].word[4].all * y_4;
        io[i].all = y_4;
    }
    s[0].word[5].all = p_0;
    s[0].word[6].all = q_0;
    s[1].word[5].all = p_1;
    s[1].word[6].all = q_1;
    s[2].word[5].all = p_2;
    s[2].word[6].all = q_2;
    s[3].word[5].all = p_3;
    s[3].word[6].all = q_3;
    s[4].word[5].all = p_4;
    s[4].word[6].all = q_4;
}

static inline DABCHICK_ALWAYS void dabchick_lanes_ragged_3(dabchick_lane_section *s,
        dabchick_lane_words *io, int n)
{
    DABCHICK_AS_WRITTEN
    dabchick_lanes p_0 = s[0].word[5].all;
    dabchick_lanes q_0 = s[0].word[6].all;
    dabchick_lanes p_1 = s[1].word[5].all;
    dabchick_lanes q_1 = s[1].word[6].all;
    dabchick_lanes p_2 = s[2].word[5].all;
    dabchick_lanes q_2 = s[2].word[6].all;
    int i;

    for (i = 0; i < n; i++) {
        const dabchick_lanes x = io[i].all;
        const dabchick_lanes y_0 = s[0].word[0].all * x + p_0;
        const dabchick_lanes y_1 = s[1].word[0].all * y_0 + p_1;
        p_0 = DABCHICK_BACK(p_0, s[0]) + ((q_0 + s[0].word[1].all * x) - s[0].word[3].all * y_0);
        p_0 = (dabchick_lanes)((dabchick_marks)p_0 | (dabchick_marks)s[0].none.all);
        q_0 = (DABCHICK_BACK(q_0, s[0]) + s[0].word[2].all * x) - s[0].word[4].all * y_0;
        const dabchick_lanes y_2 = s[2].word[0].all * y_1 + p_2;
        p_1 = DABCHICK_BACK(p_1, s[1]) + ((q_1 + s[1].word[1].all * y_0) - s[1].word[3].all * y_1);
        p_1 = (dabchick_lanes)((dabchick_marks)p_1 | (dabchick_marks)s[1].none.all);
        q_1 = (DABCHICK_BACK(q_1, s[1]) + s[1].word[2].all * y_0) - s[1].word[4].all * y_1;
        p_2 = DABCHICK_BACK(p_2, s[2]) + ((q_2 + s[2].word[1].all * y_1) - s[2].word[3].all * y_2);
        p_2 = (dabchick_lanes)((dabchick_marks)p_2 | (dabchick_marks)s[2].none.all);
        q_2 = (DABCHICK_BACK(q_2, s[2]) + s[2].word[2].all * y_1) - s[2].word[4].all * y_2;
        io[i].all = y_2;
    }
    s[0].word[5].all = p_0;
    s[0].word[6].all = q_0;
    s[1].word[5].all = p_1;
    s[1].word[6].all = q_1;
    s[2].word[5].all = p_2;
    s[2].word[6].all = q_2;
}

static inline DABCHICK_ALWAYS void dabchick_lanes_ragged_5(dabchick_lane_section *s,
        dabchick_lane_words *io, int n)
{
    DABCHICK_AS_WRITTEN
    dabchick_lanes p_0 = s[0].word[5].all;
    dabchick_lanes q_0 = s[0].word[6].all;
    dabchick_lanes p_1 = s[1].word[5].all;
    dabchick_lanes q_1 = s[1].word[6].all;
    dabchick_lanes p_2 = s[2].word[5].all;
    dabchick_lanes q_2 = s[2].word[6].all;
    dabchick_lanes p_3 = s[3].word[5].all;
    dabchick_lanes q_3 = s[3].word[6].all;
    dabchick_lanes p_4 = s[4].word[5].all;
    dabchick_lanes q_4 = s[4].word[6].all;
    int i;

    for (i = 0; i < n; i++) {
        const dabchick_lanes x = io[i].all;
        const dabchick_lanes y_0 = s[0].word[0].all * x + p_0;
        const dabchick_lanes y_1 = s[1].word[0].all * y_0 + p_1;
        p_0 = DABCHICK_BACK(p_0, s[0]) + ((q_0 + s[0].word[1].all * x) - s[0].word[3].all * y_0);
        p_0 = (dabchick_lanes)((dabchick_marks)p_0 | (dabchick_marks)s[0].none.all);
        q_0 = (DABCHICK_BACK(q_0, s[0]) + s[0].word[2].all * x) - s[0].word[4].all * y_0;
        const dabchick_lanes y_2 = s[2].word[0].all * y_1 + p_2;
        p_1 = DABCHICK_BACK(p_1, s[1]) + ((q_1 + s[1].word[1].all * y_0) - s[1].word[3].all * y_1);
        p_1 = (dabchick_lanes)((dabchick_marks)p_1 | (dabchick_marks)s[1].none.all);
        q_1 = (DABCHICK_BACK(q_1, s[1]) + s[1].word[2].all * y_0) - s[1].word[4].all * y_1;
        const dabchick_lanes y_3 = s[3].word[0].all * y_2 + p_3;
        p_2 = DABCHICK_BACK(p_2, s[2]) + ((q_2 + s[2].word[1].all * y_1) - s[2].word[3].all * y_2);
        p_2 = (dabchick_lanes)((dabchick_marks)p_2 | (dabchick_marks)s[2].none.all);
        q_2 = (DABCHICK_BACK(q_2, s[2]) + s[2].word[2].all * y_1) - s[2].word[4].all * y_2;
        const dabchick_lanes y_4 = s[4].word[0].all * y_3 + p_4;
        p_3 = DABCHICK_BACK(p_3, s[3]) + ((q_3 + s[3].word[1].all * y_2) - s[3].word[3].all * y_3);
        p_3 = (dabchick_lanes)((dabchick_marks)p_3 | (dabchick_marks)s[3].none.all);
        q_3 = (DABCHICK_BACK(q_3, s[3]) + s[3].word[2].all * y_2) - s[3].word[4].all * y_3;
        p_4 = DABCHICK_BACK(p_4, s[4]) + ((q_4 + s[4].word[1].all * y_3) - s[4].word[3].all * y_4);
        p_4 = (dabchick_lanes)((dabchick_marks)p_4 | (dabchick_marks)s[4].none.all);
        q_4 = (DABCHICK_BACK(q_4, s[4]) + s[4].word[2].all * y_3) - s[4].word[4].all * y_4;
        io[i].all = y_4;
    }
    s[0].word[5].all = p_0;
    s[0].word[6].all = q_0;
    s[1].word[5].all = p_1;
    s[1].word[6].all = q_1;
    s[2].word[5].all = p_2;
    s[2].word[6].all = q_2;
    s[3].word[5].all = p_3;
    s[3].word[6].all = q_3;
    s[4].word[5].all = p_4;
    s[4].word[6].all = q_4;
}

/* A pass, and how many sections it takes. */
static inline DABCHICK_ALWAYS int dabchick_lane_pass(unsigned int pass,
        dabchick_lane_section *s, dabchick_lane_words *io, int n)
{
    switch (pass) {
    case 11u:
        dabchick_lanes_direct_3(s, io, n);
        break;
    case 13u:
        dabchick_lanes_direct_5(s, io, n);
        break;
    case 19u:
        dabchick_lanes_delta_3(s, io, n);
        break;
    case 21u:
        dabchick_lanes_delta_5(s, io, n);
        break;
    case 27u:
        dabchick_lanes_mixed_3(s, io, n);
        break;
    case 29u:
        dabchick_lanes_mixed_5(s, io, n);
        break;
    case 35u:
        dabchick_lanes_ragged_3(s, io, n);
        break;
    case 37u:
        dabchick_lanes_ragged_5(s, io, n);
        break;
    default:
        break;
    }
    return (int)(pass % 8u);
}

/* A single sample of every lane, io, through a group's sections. */
static inline DABCHICK_ALWAYS void dabchick_lane_alone(dabchick_lane_group *group, dabchick_lanes *io)
{
    DABCHICK_AS_WRITTEN
    dabchick_lanes x = *io;
    dabchick_lane_section *s = group->section;
    const unsigned char *run;

    for (run = group->alone; *run != 0u; run++) {
        unsigned int left = (unsigned int)*run % 32u;

        switch (*run / 32u) {
        case 1u: /* direct */
            DABCHICK_ROLLED
            for (; left > 4u; left -= 5u) {
                dabchick_lanes p_0 = s[0].word[5].all;
                dabchick_lanes q_0 = s[0].word[6].all;
                const dabchick_lanes y_0 = s[0].word[0].all * x + p_0;
                dabchick_lanes p_1 = s[1].word[5].all;
                dabchick_lanes q_1 = s[1].word[6].all;
                const dabchick_lanes y_1 = s[1].word[0].all * y_0 + p_1;
                p_0 = (q_0 + s[0].word[1].all * x) - s[0].word[3].all * y_0;
                s[0].word[5].all = p_0;
                q_0 = s[0].word[2].all * x - s[0].word[4].all * y_0;
                s[0].word[6].all = q_0;
                dabchick_lanes p_2 = s[2].word[5].all;
                dabchick_lanes q_2 = s[2].word[6].all;
                const dabchick_lanes y_2 = s[2].word[0].all * y_1 + p_2;
                p_1 = (q_1 + s[1].word[1].all * y_0) - s[1].word[3].all * y_1;
                s[1].word[5].all = p_1;
                q_1 = s[1].word[2].all * y_0 - s[1].word[4].all * y_1;
                s[1].word[6].all = q_1;
                dabchick_lanes p_3 = s[3].word[5].all;
                dabchick_lanes q_3 = s[3].word[6].all;
                const dabchick_lanes y_3 = s[3].word[0].all * y_2 + p_3;
                p_2 = (q_2 + s[2].word[1].all * y_1) - s[2].word[3].all * y_2;
                s[2].word[5].all = p_2;
                q_2 = s[2].word[2].all * y_1 - s[2].word[4].all * y_2;
                s[2].word[6].all = q_2;
                dabchick_lanes p_4 = s[4].word[5].all;
                dabchick_lanes q_4 = s[4].word[6].all;
                const dabchick_lanes y_4 = s[4].word[0].all * y_3 + p_4;
                p_3 = (q_3 + s[3].word[1].all * y_2) - s[3].word[3].all * y_3;
                s[3].word[5].all = p_3;
                q_3 = s[3].word[2].all * y_2 - s[3].word[4].all * y_3;
                s[3].word[6].all = q_3;
                p_4 = (q_4 + s[4].word[1].all * y_3) - s[4].word[3].all * y_4;
                s[4].word[5].all = p_4;
                q_4 = s[4].word[2].all * y_3 - s[4].word[4].all * y_4;
                s[4].word[6].all = q_4;
                x = y_4;
                s += 5;
            }
            DABCHICK_ROLLED
            for (; left != 0u; left--) {
                dabchick_lanes p_0 = s[0].word[5].all;
                dabchick_lanes q_0 = s[0].word[6].all;
                const dabchick_lanes y_0 = s[0].word[0].all * x + p_0;
                p_0 = (q_0 + s[0].word[1].all * x) - s[0].word[3].all * y_0;
                s[0].word[5].all = p_0;
                q_0 = s[0].word[2].all * x - s[0].word[4].all * y_0;
                s[0].word[6].all = q_0;
                x = y_0;
                s += 1;
            }
            break;
        case 2u: /* delta */
            DABCHICK_ROLLED
            for (; left > 4u; left -= 5u) {
                dabchick_lanes p_0 = s[0].word[5].all;
                dabchick_lanes q_0 = s[0].word[6].all;
                const dabchick_lanes y_0 = s[0].word[0].all * x + p_0;
                dabchick_lanes p_1 = s[1].word[5].all;
                dabchick_lanes q_1 = s[1].word[6].all;
                const dabchick_lanes y_1 = s[1].word[0].all * y_0 + p_1;
                p_0 = p_0 + ((q_0 + s[0].word[1].all * x) - s[0].word[3].all * y_0);
                s[0].word[5].all = p_0;
                q_0 = (q_0 + s[0].word[2].all * x) - s[0].word[4].all * y_0;
                s[0].word[6].all = q_0;
                dabchick_lanes p_2 = s[2].word[5].all;
                dabchick_lanes q_2 = s[2].word[6].all;
                const dabchick_lanes y_2 = s[2].word[0].all * y_1 + p_2;
                p_1 = p_1 + ((q_1 + s[1].word[1].all * y_0) - s[1].word[3].all * y_1);
                s[1].word[5].all = p_1;
                q_1 = (q_1 + s[1].word[2].all * y_0) - s[1].word[4].all * y_1;
                s[1].word[6].all = q_1;
                dabchick_lanes p_3 = s[3].word[5].all;
                dabchick_lanes q_3 = s[3].word[6].all;
                const dabchick_lanes y_3 = s[3].word[0].all * y_2 + p_3;
                p_2 = p_2 + ((q_2 + s[2].word[1].all * y_1) - s[2].word[3].all * y_2);
                s[2].word[5].all = p_2;
                q_2 = (q_2 + s[2].word[2].all * y_1) - s[2].word[4].all * y_2;
                s[2].word[6].all = q_2;
                dabchick_lanes p_4 = s[4].word[5].all;
                dabchick_lanes q_4 = s[4].word[6].all;
                const dabchick_lanes y_4 = s[4].word[0].all * y_3 + p_4;
                p_3 = p_3 + ((q_3 + s[3].word[1].all * y_2) - s[3].word[3].all * y_3);
                s[3].word[5].all = p_3;
                q_3 = (q_3 + s[3].word[2].all * y_2) - s[3].word[4].all * y_3;
                s[3].word[6].all = q_3;
                p_4 = p_4 + ((q_4 + s[4].word[1].all * y_3) - s[4].word[3].all * y_4);
                s[4].word[5].all = p_4;
                q_4 = (q_4 + s[4].word[2].all * y_3) - s[4].word[4].all * y_4;
                s[4].word[6].all = q_4;
                x = y_4;
                s += 5;
            }
            DABCHICK_ROLLED
            for (; left != 0u; left--) {
                dabchick_lanes p_0 = s[0].word[5].all;
                dabchick_lanes q_0 = s[0].word[6].all;
                const dabchick_lanes y_0 = s[0].word[0].all * x + p_0;
                p_0 = p_0 + ((q_0 + s[0].word[1].all * x) - s[0].word[3].all * y_0);
                s[0].word[5].all = p_0;
                q_0 = (q_0 + s[0].word[2].all * x) - s[0].word[4].all * y_0;
                s[0].word[6].all = q_0;
                x = y_0;
                s += 1;
            }
            break;
        case 3u: /* mixed */
            DABCHICK_ROLLED
            for (; left > 4u; left -= 5u) {
                dabchick_lanes p_0 = s[0].word[5].all;
                dabchick_lanes q_0 = s[0].word[6].all;
                const dabchick_lanes y_0 = s[0].word[0].all * x + p_0;
                dabchick_lanes p_1 = s[1].word[5].all;
                dabchick_lanes q_1 = s[1].word[6].all;
                const dabchick_lanes y_1 = s[1].word[0].all * y_0 + p_1;
                p_0 = DABCHICK_BACK(p_0, s[0]) + ((q_0 + s[0].word[1].all * x) -
                    s[0].word[3].all * y_0);
                s[0].word[5].all = p_0;
                q_0 = (DABCHICK_BACK(q_0, s[0]) + s[0].word[2].all * x) - s[0].word[4].all * y_0;
                s[0].word[6].all = q_0;
                dabchick_lanes p_2 = s[2].word[5].all;
                dabchick_lanes q_2 = s[2].word[6].all;
                const dabchick_lanes y_2 = s[2].word[0].all * y_1 + p_2;
                p_1 = DABCHICK_BACK(p_1, s[1]) + ((q_1 + s[1].word[1].all * y_0) -
                    s[1].word[3].all * y_1);
                s[1].word[5].all = p_1;
                q_1 = (DABCHICK_BACK(q_1, s[1]) + s[1].word[2].all * y_0) - s[1].word[4].all * y_1;
                s[1].word[6].all = q_1;
                dabchick_lanes p_3 = s[3].word[5].all;
                dabchick_lanes q_3 = s[3].word[6].all;
                const dabchick_lanes y_3 = s[3].word[0].all * y_2 + p_3;
                p_2 = DABCHICK_BACK(p_2, s[2]) + ((q_2 + s[2].word[1].all * y_1) -
                    s[2].word[3].all * y_2);
                s[2].word[5].all = p_2;
                q_2 = (DABCHICK_BACK(q_2, s[2]) + s[2].word[2].all * y_1) - s[2].word[4].all * y_2;
                s[2].word[6].all = q_2;
                dabchick_lanes p_4 = s[4].word[5].all;
                dabchick_lanes q_4 = s[4].word[6].all;
                const dabchick_lanes y_4 = s[4].word[0].all * y_3 + p_4;
                p_3 = DABCHICK_BACK(p_3, s[3]) + ((q_3 + s[3].word[1].all * y_2) -
                    s[3].word[3].all * y_3);
                s[3].word[5].all = p_3;
                q_3 = (DABCHICK_BACK(q_3, s[3]) + s[3].word[2].all * y_2) - s[3].word[4].all * y_3;
                s[3].word[6].all = q_3;
                p_4 = DABCHICK_BACK(p_4, s[4]) + ((q_4 + s[4].word[1].all * y_3) -
                    s[4].word[3].all * y_4);
                s[4].word[5].all = p_4;
                q_4 = (DABCHICK_BACK(q_4, s[4]) + s[4].word[2].all * y_3) - s[4].word[4].all * y_4;
                s[4].word[6].all = q_4;
                x = y_4;
                s += 5;
            }
            DABCHICK_ROLLED
            for (; left != 0u; left--) {
                dabchick_lanes p_0 = s[0].word[5].all;
                dabchick_lanes q_0 = s[0].word[6].all;
                const dabchick_lanes y_0 = s[0].word[0].all * x + p_0;
                p_0 = DABCHICK_BACK(p_0, s[0]) + ((q_0 + s[0].word[1].all * x) -
                    s[0].word[3].all * y_0);
                s[0].word[5].all = p_0;
                q_0 = (DABCHICK_BACK(q_0, s[0]) + s[0].word[2].all * x) - s[0].word[4].all * y_0;
                s[0].word[6].all = q_0;
                x = y_0;
                s += 1;
            }
            break;
        case 4u: /* ragged */
            DABCHICK_ROLLED
            for (; left > 4u; left -= 5u) {
                dabchick_lanes p_0 = s[0].word[5].all;
                dabchick_lanes q_0 = s[0].word[6].all;
                const dabchick_lanes y_0 = s[0].word[0].all * x + p_0;
                dabchick_lanes p_1 = s[1].word[5].all;
                dabchick_lanes q_1 = s[1].word[6].all;
                const dabchick_lanes y_1 = s[1].word[0].all * y_0 + p_1;
                p_0 = DABCHICK_BACK(p_0, s[0]) + ((q_0 + s[0].word[1].all * x) -
                    s[0].word[3].all * y_0);
                p_0 = (dabchick_lanes)((dabchick_marks)p_0 | (dabchick_marks)s[0].none.all);
                s[0].word[5].all = p_0;
                q_0 = (DABCHICK_BACK(q_0, s[0]) + s[0].word[2].all * x) - s[0].word[4].all * y_0;
                s[0].word[6].all = q_0;
                dabchick_lanes p_2 = s[2].word[5].all;
                dabchick_lanes q_2 = s[2].word[6].all;
                const dabchick_lanes y_2 = s[2].word[0].all * y_1 + p_2;
                p_1 = DABCHICK_BACK(p_1, s[1]) + ((q_1 + s[1].word[1].all * y_0) -
                    s[1].word[3].all * y_1);
                p_1 = (dabchick_lanes)((dabchick_marks)p_1 | (dabchick_marks)s[1].none.all);
                s[1].word[5].all = p_1;
                q_1 = (DABCHICK_BACK(q_1, s[1]) + s[1].word[2].all * y_0) - s[1].word[4].all * y_1;
                s[1].word[6].all = q_1;
                dabchick_lanes p_3 = s[3].word[5].all;
                dabchick_lanes q_3 = s[3].word[6].all;
                const dabchick_lanes y_3 = s[3].word[0].all * y_2 + p_3;
                p_2 = DABCHICK_BACK(p_2, s[2]) + ((q_2 + s[2].word[1].all * y_1) -
                    s[2].word[3].all * y_2);
                p_2 = (dabchick_lanes)((dabchick_marks)p_2 | (dabchick_marks)s[2].none.all);
                s[2].word[5].all = p_2;
                q_2 = (DABCHICK_BACK(q_2, s[2]) + s[2].word[2].all * y_1) - s[2].word[4].all * y_2;
                s[2].word[6].all = q_2;
                dabchick_lanes p_4 = s[4].word[5].all;
                dabchick_lanes q_4 = s[4].word[6].all;
                const dabchick_lanes y_4 = s[4].word[0].all * y_3 + p_4;
                p_3 = DABCHICK_BACK(p_3, s[3]) + ((q_3 + s[3].word[1].all * y_2) -
                    s[3].word[3].all * y_3);
                p_3 = (dabchick_lanes)((dabchick_marks)p_3 | (dabchick_marks)s[3].none.all);
                s[3].word[5].all = p_3;
                q_3 = (DABCHICK_BACK(q_3, s[3]) + s[3].word[2].all * y_2) - s[3].word[4].all * y_3;
                s[3].word[6].all = q_3;
                p_4 = DABCHICK_BACK(p_4, s[4]) + ((q_4 + s[4].word[1].all * y_3) -
                    s[4].word[3].all * y_4);
                p_4 = (dabchick_lanes)((dabchick_marks)p_4 | (dabchick_marks)s[4].none.all);
                s[4].word[5].all = p_4;
                q_4 = (DABCHICK_BACK(q_4, s[4]) + s[4].word[2].all * y_3) - s[4].word[4].all * y_4;
                s[4].word[6].all = q_4;
                x = y_4;
                s += 5;
            }
            DABCHICK_ROLLED
            for (; left != 0u; left--) {
                dabchick_lanes p_0 = s[0].word[5].all;
                dabchick_lanes q_0 = s[0].word[6].all;
                const dabchick_lanes y_0 = s[0].word[0].all * x + p_0;
                p_0 = DABCHICK_BACK(p_0, s[0]) + ((q_0 + s[0].word[1].all * x) -
                    s[0].word[3].all * y_0);
                p_0 = (dabchick_lanes)((dabchick_marks)p_0 | (dabchick_marks)s[0].none.all);
                s[0].word[5].all = p_0;
                q_0 = (DABCHICK_BACK(q_0, s[0]) + s[0].word[2].all * x) - s[0].word[4].all * y_0;
                s[0].word[6].all = q_0;
                x = y_0;
                s += 1;
            }
            break;
        default:
            /* there are no others */
            break;
        }
    }
    *io = x;
}

/* The passes of a group over n samples of x. */
static DABCHICK_NOINLINE void dabchick_lane_passes(dabchick_lane_group *group, dabchick_lane_words *x, int n)
{
    int k = 0;

    while (group->pass[k] != 0u) {
        k += dabchick_lane_pass(group->pass[k], &group->section[k], x, n);
    }
}

/* The sections of a list in lane l, from number k on, with what they remember. */
static int dabchick_lane_fill(const float *table, const uint16_t *list,
        const dabchick_memory *m, dabchick_lane_group *group, int l, int k)
{
    for (; *list != 0u; list++) {
        const float *w = &table[*list & DABCHICK_ROW];
        const unsigned int length = (((unsigned int)*list >> DABCHICK_HEAD & 3u) == 2u ? 3u : 5u);
        const int delta = ((unsigned int)*list >> DABCHICK_HEAD & 3u) != 1u ? 1 : 0;
        unsigned int left = (unsigned int)*list >> 13;

        for (; left > 0u; left--) {
            dabchick_lane_section *to = &group->section[k];
            to->word[0].one[l] = w[0];
            to->word[1].one[l] = length > 3u ? w[3] : 0.0f;
            to->word[2].one[l] = length > 4u ? w[4] : 0.0f;
            to->word[3].one[l] = w[1];
            to->word[4].one[l] = w[2];
            to->word[5].one[l] = m->p;
            to->word[6].one[l] = m->q;
            to->keep.one[l] = delta != 0 ? -1 : 0;
            to->zero.one[l] = delta != 0 ? 0.0f : -0.0f;
            to->none.one[l] = 0.0f;
            w += length;
            m++;
            k++;
        }
    }
    return k;
}

/* Where the next list begins. */
static inline const uint16_t *dabchick_behind(const uint16_t *list)
{
    while (*list != 0u) {
        list++;
    }
    return list + 1;
}

/* A lane's sections; behind its last one some that change nothing. */
static void dabchick_lane_enter(const dabchick_rate_entry *rate, const dabchick_channel_state *ch, int way,
        dabchick_lane_group *group, int l)
{
    const dabchick_cascade_entry *cascade = &rate->cascade[way];
    const uint16_t *picked = ch->list;
    int i;
    int k = dabchick_lane_fill(rate->sections, &rate->lists[cascade->list],
        &ch->now[cascade->from], group, l, 0);
    for (i = 0; i < way; i++) {
        picked = dabchick_behind(picked);
    }
    k = dabchick_lane_fill(rate->sections, picked, &ch->now[cascade->split], group, l, k);
    group->count[l] = k;
    group->gain.one[l] = cascade->gain;
    for (; k < DABCHICK_DEEP; k++) {
        dabchick_lane_section *to = &group->section[k];
        to->word[0].one[l] = 1.0f;
        to->word[1].one[l] = 0.0f;
        to->word[2].one[l] = 0.0f;
        to->word[3].one[l] = 0.0f;
        to->word[4].one[l] = 0.0f;
        to->word[5].one[l] = -0.0f;
        to->word[6].one[l] = -0.0f;
        to->keep.one[l] = 0;
        to->zero.one[l] = -0.0f;
        to->none.one[l] = -0.0f;
    }
}

/* Forms of a group's sections from one on: 1 direct, 2 delta, 3 both; ragged where lanes end. */
static unsigned int dabchick_lane_forms(const dabchick_lane_group *group, int from, int sections,
        int least)
{
    unsigned int forms = 0u;
    int l;

    for (l = 0; l < DABCHICK_LANES * sections; l++) {
        const int k = from + l / DABCHICK_LANES;

        forms |= group->section[k].keep.one[l % DABCHICK_LANES] == 0 ? 1u : 2u;
    }
    return from + sections > least ? 4u : forms;
}

/* How single samples take a group's sections: those of one form in a row at once, with others
 * that follow where going along costs less than beginning anew. */
static void dabchick_lane_plan_alone(dabchick_lane_group *group, int least, int most)
{
    /* Operations of each form that direct ones do without. */
    static const int dabchick_lane_more[] = { 0, 0, 1, 5, 6 };
    unsigned char *run = group->alone;
    unsigned int form = 0u;
    int count = 0;
    int k = 0;

    (void)memset(group->alone, 0, sizeof group->alone);
    while (k < most) {
        const unsigned int next = dabchick_lane_forms(group, k, 1, least);
        const unsigned int any = form | next;
        const unsigned int both = any < 4u ? any : 4u;
        int n = 1;
        int cost;

        while (n < 31 && k + n < most
                && dabchick_lane_forms(group, k + n, 1, least) == next) {
            n++;
        }
        cost = count * (dabchick_lane_more[both] - dabchick_lane_more[form])
            + n * (dabchick_lane_more[both] - dabchick_lane_more[next]);
        if (count > 0 && (cost > 16 || count + n > 31)) {
            run++;
            count = 0;
        }
        form = count > 0 ? both : next;
        count += n;
        *run = (unsigned char)(form * 32u + (unsigned int)count);
        k += n;
    }
}

/* The passes of a group. What returns is how many sections the longest lane has. */
static int dabchick_lane_plan(dabchick_lane_group *group)
{
    int least = group->count[0];
    int most = least;
    int k;
    int l;

    for (l = 1; l < DABCHICK_LANES; l++) {
        least = group->count[l] < least ? group->count[l] : least;
        most = group->count[l] > most ? group->count[l] : most;
    }
    (void)memset(group->pass, 0, sizeof group->pass);
    for (k = 0; k < most;) {
        const int left = most - k;
        const int sections = left > 3 && left != 6 ? 5 : 3;
        const unsigned int forms = dabchick_lane_forms(group, k, sections, least);

        group->pass[k] = (unsigned char)(forms * 8u + (unsigned int)sections);
        k += sections;
    }
    dabchick_lane_plan_alone(group, least, most);
    return most;
}

/* How many lanes of a group there are. */
static int dabchick_lanes_used(int group)
{
    const int left = DABCHICK_CHANNELS * DABCHICK_WAYS - group * DABCHICK_LANES;

    return left < DABCHICK_LANES ? left : DABCHICK_LANES;
}

/* All ways begin to run in lanes where that saves anything. */
static DABCHICK_COLD void dabchick_enter_lanes(dabchick_state *s)
{
    const dabchick_rate_entry *rate = &dabchick_rate_table[s->rate];
    dabchick_lane_group *group = dabchick_lane_groups(s);
    int all = 0;
    int most = 0;
    int k;
    int l;

    for (k = 0; k < DABCHICK_GROUPS; k++) {
        const int used = dabchick_lanes_used(k);
        int longest;

        for (l = 0; l < DABCHICK_LANES; l++) { /* what is not used does as the first */
            const int lane = k * DABCHICK_LANES + (l < used ? l : 0);

            dabchick_lane_enter(rate, &s->channel[lane / DABCHICK_WAYS], 1 + lane % DABCHICK_WAYS,
                &group[k], l);
            all += l < used ? (int)group[k].count[l] : 0;
        }
        longest = dabchick_lane_plan(&group[k]);
        most += longest;
    }
    s->laned = 2 * all > DABCHICK_SAVING * most ? 1u : 2u;
}

/* What the ways remember goes back to where it belongs. */
static DABCHICK_COLD void dabchick_leave_lanes(dabchick_state *s)
{
    const dabchick_rate_entry *rate = &dabchick_rate_table[s->rate];
    const dabchick_lane_group *group = dabchick_lane_groups(s);
    int lane;
    int k;

    for (lane = 0; lane < DABCHICK_CHANNELS * DABCHICK_WAYS && s->laned == 1u; lane++) {
        const dabchick_lane_group *from = &group[lane / DABCHICK_LANES];
        const dabchick_cascade_entry *cascade = &rate->cascade[1 + lane % DABCHICK_WAYS];
        dabchick_memory *m = &s->channel[lane / DABCHICK_WAYS].now[cascade->from];
        const int last = lane % DABCHICK_WAYS == DABCHICK_WAYS - 1 ? 1 : 0;
        const int fixed = (last != 0 ? rate->cascade[0].split : cascade[1].from) - cascade->from;

        for (k = 0; k < from->count[lane % DABCHICK_LANES]; k++) {
            if (k == fixed) {
                m = &s->channel[lane / DABCHICK_WAYS].now[cascade->split];
            }
            m->p = from->section[k].word[5].one[lane % DABCHICK_LANES];
            m->q = from->section[k].word[6].one[lane % DABCHICK_LANES];
            m++;
        }
    }
    s->laned = 0u;
}

/* Sections in lanes come to rest like others. */
static DABCHICK_COLD void dabchick_rest_lanes(dabchick_state *s)
{
    const dabchick_lanes above_p = {
        5.421011e-20f,
        5.421011e-20f,
        5.421011e-20f,
        5.421011e-20f,
    };
    const dabchick_lanes below_p = {
        -5.421011e-20f,
        -5.421011e-20f,
        -5.421011e-20f,
        -5.421011e-20f,
    };
    const dabchick_lanes above_q = {
        5.421011e-20f,
        5.421011e-20f,
        5.421011e-20f,
        5.421011e-20f,
    };
    const dabchick_lanes below_q = {
        -5.421011e-20f,
        -5.421011e-20f,
        -5.421011e-20f,
        -5.421011e-20f,
    };
    dabchick_lane_group *group = dabchick_lane_groups(s);
    int k;

    for (k = 0; k < DABCHICK_GROUPS * DABCHICK_DEEP; k++) {
        dabchick_lane_section *at = &group[k / DABCHICK_DEEP].section[k % DABCHICK_DEEP];
        const dabchick_lanes p = at->word[5].all;
        const dabchick_lanes q = at->word[6].all;
        const dabchick_marks tiny = (p < above_p) & (p > below_p) & (q < above_q) & (q > below_q);
        at->word[5].all = (dabchick_lanes)(((dabchick_marks)p & ~tiny) | (dabchick_marks)at->none.all);
        at->word[6].all = (dabchick_lanes)(((dabchick_marks)q & ~tiny) | (dabchick_marks)at->none.all);
    }
}

/* 1 where no channel fades or is silent. */
static int dabchick_calm(const dabchick_state *s)
{
    int c;

    for (c = 0; c < DABCHICK_CHANNELS; c++) {
        if (s->channel[c].calm == 0u) {
            return 0;
        }
    }
    return 1;
}

/* Turns a square of words about: word i of v[k] becomes word k of v[i]. */
static inline void dabchick_turn(dabchick_short *v)
{
    const dabchick_short v1_0 = DABCHICK_SHUFFLE(v[0], v[2], 0, 4, 1, 5);
    const dabchick_short v1_1 = DABCHICK_SHUFFLE(v[0], v[2], 2, 6, 3, 7);
    const dabchick_short v1_2 = DABCHICK_SHUFFLE(v[1], v[3], 0, 4, 1, 5);
    const dabchick_short v1_3 = DABCHICK_SHUFFLE(v[1], v[3], 2, 6, 3, 7);
    const dabchick_short v2_0 = DABCHICK_SHUFFLE(v1_0, v1_2, 0, 4, 1, 5);
    const dabchick_short v2_1 = DABCHICK_SHUFFLE(v1_0, v1_2, 2, 6, 3, 7);
    const dabchick_short v2_2 = DABCHICK_SHUFFLE(v1_1, v1_3, 0, 4, 1, 5);
    const dabchick_short v2_3 = DABCHICK_SHUFFLE(v1_1, v1_3, 2, 6, 3, 7);
    v[0] = v2_0;
    v[1] = v2_1;
    v[2] = v2_2;
    v[3] = v2_3;
}

/* The channels' common parts times gain -> x of lanes from on; what is not used gets what the first
 * does. */
static void dabchick_lane_inputs(const dabchick_lane_words *gains, int from, int used,
        float (*common)[DABCHICK_LONG], dabchick_lane_words *x, int n)
{
    DABCHICK_AS_WRITTEN
    const int lane_0 = from;
    const float *from_0 = common[lane_0 / DABCHICK_WAYS];
    const int lane_1 = 1 < used ? from + 1 : from;
    const float *from_1 = common[lane_1 / DABCHICK_WAYS];
    const int lane_2 = 2 < used ? from + 2 : from;
    const float *from_2 = common[lane_2 / DABCHICK_WAYS];
    const int lane_3 = 3 < used ? from + 3 : from;
    const float *from_3 = common[lane_3 / DABCHICK_WAYS];
    int i;

    for (i = 0; i < n; i++) {
        {
            dabchick_lanes gain;
            const dabchick_lanes all = { from_0[i], from_1[i], from_2[i], from_3[i] };

            (void)memcpy(&gain, &gains->one[0], sizeof gain);
            {
                const dabchick_lanes scaled = gain * all;
                x[i].all = scaled;
            }
        }
    }
}

/* x of lanes from on -> out. */
static void dabchick_lane_outputs(const dabchick_lane_words *x, int used, float *const *out,
        int at, int n)
{
    float spare[DABCHICK_LONG]; /* of lanes that are not used */
    int l;

    for (l = 0; l < used; l += 4) {
        float *to_0 = l + 0 < used ? &out[l + 0][at] : spare;
        float *to_1 = l + 1 < used ? &out[l + 1][at] : spare;
        float *to_2 = l + 2 < used ? &out[l + 2][at] : spare;
        float *to_3 = l + 3 < used ? &out[l + 3][at] : spare;
        int i;

        for (i = 0; i < n - 4 + 1; i += 4) {
            dabchick_short v[4];

            (void)memcpy(&v[0], &x[i + 0].one[l], sizeof v[0]);
            (void)memcpy(&v[1], &x[i + 1].one[l], sizeof v[1]);
            (void)memcpy(&v[2], &x[i + 2].one[l], sizeof v[2]);
            (void)memcpy(&v[3], &x[i + 3].one[l], sizeof v[3]);
            dabchick_turn(v);
            (void)memcpy(&to_0[i], &v[0], sizeof v[0]);
            (void)memcpy(&to_1[i], &v[1], sizeof v[1]);
            (void)memcpy(&to_2[i], &v[2], sizeof v[2]);
            (void)memcpy(&to_3[i], &v[3], sizeof v[3]);
        }
        for (; i < n; i++) {
            to_0[i] = x[i].one[l + 0];
            to_1[i] = x[i].one[l + 1];
            to_2[i] = x[i].one[l + 2];
            to_3[i] = x[i].one[l + 3];
        }
    }
}

/* x of lanes from on -> frames, from frame number at on: there they stand in the same order. */
static void dabchick_lane_give(const dabchick_frames *f, const dabchick_lane_words *x, int from, int used,
        int at, int n)
{
    int k = (at * DABCHICK_CHANNELS * DABCHICK_WAYS) + from;
    int i;
    int l;

    for (i = 0; i < n; i++) {
        if (used == DABCHICK_LANES) {
            if (f->wide != 0) {
                for (l = 0; l < DABCHICK_LANES; l++) {
                    f->out32[k + l] = dabchick_to_int32(x[i].one[l]);
                }
            } else {
                (void)memcpy(&f->out[k], &x[i], sizeof x[i]);
            }
        } else {
            for (l = 0; l < used; l++) {
                if (f->wide != 0) {
                    f->out32[k + l] = dabchick_to_int32(x[i].one[l]);
                } else {
                    f->out[k + l] = x[i].one[l];
                }
            }
        }
        k += DABCHICK_CHANNELS * DABCHICK_WAYS;
    }
}

/* The ways of a group's lanes, so many from on: in common[channel] -> out, or frames. */
static void dabchick_run_lanes(dabchick_lane_group *group, int from, int used,
        float (*common)[DABCHICK_LONG], float *const *out, const dabchick_frames *f, int at, int n)
{
    dabchick_lane_words x[DABCHICK_LONG];

    dabchick_lane_inputs(&group->gain, from, used, common, x, n);
    dabchick_lane_passes(group, x, n);
    if (f != NULL) {
        dabchick_lane_give(f, x, from, used, at, n);
    } else {
        dabchick_lane_outputs(x, used, &out[from], at, n);
    }
}

/* n samples of a channel times the first gain: in -> now. What returns is not less than the size of
 * the greatest. */
static inline uint32_t dabchick_lane_take(float gain, const float *in, float *now, int n)
{
    DABCHICK_AS_WRITTEN
    uint32_t sizes = 0u;
    int i;

    for (i = 0; i < n; i++) {
        const float all = in[i];

        sizes |= dabchick_bits(all);
        const float scaled = gain * all;
        now[i] = scaled;
    }
    return sizes << 1;
}

/* One sample of all channels, number at, or one frame. What returns is 1, or 0 where one may be
 * garbage: then nothing has happened. */
static inline DABCHICK_ALWAYS int dabchick_lane_sample(const dabchick_rate_entry *rate,
        dabchick_lane_group *group, const float *const *in, float *const *out,
        const dabchick_frames *f, int framed, int at)
{
    DABCHICK_AS_WRITTEN
    float now[DABCHICK_CHANNELS];
    uint32_t size = 0u;
    int c;
    int g;

    if (framed == 0) {
        for (c = 0; c < DABCHICK_CHANNELS; c++) {
            now[c] = in[c][at];
        }
    } else if (f->wide == 0) {
        (void)memcpy(now, &f->in[at * DABCHICK_CHANNELS], sizeof now);
    } else {
        int k = at * DABCHICK_CHANNELS;

        for (c = 0; c < DABCHICK_CHANNELS; c++) {
            now[c] = dabchick_from_int32(f->in32[k]);
            k++;
        }
    }
    for (c = 0; c < DABCHICK_CHANNELS; c++) {
        size |= dabchick_lane_take(rate->cascade[0].gain, &now[c], &now[c], 1);
    }
    if (size >= DABCHICK_GARBAGE) {
        return 0;
    }
    for (g = 0; g < DABCHICK_GROUPS; g++) {
        const int used = dabchick_lanes_used(g);
        const dabchick_lane_words *gains = &group[g].gain;
        const int lane_0 = g * DABCHICK_LANES;
        const float x_0 = now[lane_0 / DABCHICK_WAYS];
        const int lane_1 = (1 < used ? 1 : 0) + g * DABCHICK_LANES;
        const float x_1 = now[lane_1 / DABCHICK_WAYS];
        const int lane_2 = (2 < used ? 2 : 0) + g * DABCHICK_LANES;
        const float x_2 = now[lane_2 / DABCHICK_WAYS];
        const int lane_3 = (3 < used ? 3 : 0) + g * DABCHICK_LANES;
        const float x_3 = now[lane_3 / DABCHICK_WAYS];
        dabchick_lane_words x;
        {
            dabchick_lanes gain;
            const dabchick_lanes all = { x_0, x_1, x_2, x_3 };

            (void)memcpy(&gain, &gains->one[0], sizeof gain);
            {
                const dabchick_lanes scaled = gain * all;
                x.all = scaled;
            }
        }
        if (framed != 0) {
            dabchick_lane_alone(&group[g], &x.all);
            dabchick_lane_give(f, &x, g * DABCHICK_LANES, used, at, 1);
        } else {
            float *const *to = &out[g * DABCHICK_LANES];
            dabchick_lanes y = x.all;

            dabchick_lane_alone(&group[g], &y);
            to[0][at] = y[0];
            if (1 < used) {
                to[1][at] = y[1];
            }
            if (2 < used) {
                to[2][at] = y[2];
            }
            if (3 < used) {
                to[3][at] = y[3];
            }
        }
    }
    return 1;
}

/* The same of samples, and of frames. */
static DABCHICK_NOINLINE int dabchick_step_lanes(const dabchick_rate_entry *rate,
        dabchick_lane_group *group, const float *const *in, float *const *out, int at)
{
    return dabchick_lane_sample(rate, group, in, out, NULL, 0, at);
}

static DABCHICK_NOINLINE int dabchick_step_frame(const dabchick_rate_entry *rate,
        dabchick_lane_group *group, const dabchick_frames *f, int at)
{
    return dabchick_lane_sample(rate, group, NULL, NULL, f, 1, at);
}

/* n samples of all channels, from number at on: in -> out, or from where they begin -> frames. What
 * returns is 1, or 0 where one may be garbage. */
static DABCHICK_NOINLINE int dabchick_block_lanes(dabchick_state *s, const dabchick_rate_entry *rate,
        const float *const *in, float *const *out, const dabchick_frames *f, int at, int n)
{
    dabchick_lane_group *group = dabchick_lane_groups(s);
    float common[DABCHICK_CHANNELS][DABCHICK_LONG];
    const int begin = f == NULL ? at : 0;
    uint32_t size = 0u;
    int k;

    for (k = 0; k < DABCHICK_CHANNELS; k++) {
        size |= dabchick_lane_take(rate->cascade[0].gain, &in[k][begin], common[k], n);
    }
    if (size >= DABCHICK_GARBAGE) {
        return 0;
    }
    for (k = 0; k < DABCHICK_GROUPS; k++) {
        dabchick_run_lanes(&group[k], k * DABCHICK_LANES, dabchick_lanes_used(k), common, out, f, at, n);
    }
    return 1;
}

/* n frames, from number at on. What returns is 1, or 0 where one may have garbage. */
static DABCHICK_NOINLINE int dabchick_frame_lanes(dabchick_state *s, const dabchick_rate_entry *rate,
        const dabchick_frames *f, int at, int n)
{
    float now[DABCHICK_CHANNELS][DABCHICK_LONG];
    const float *in[DABCHICK_CHANNELS];
    int c;
    int i;

    for (c = 0; c < DABCHICK_CHANNELS; c++) {
        int k = (at * DABCHICK_CHANNELS) + c;

        in[c] = now[c];
        for (i = 0; i < n; i++) {
            now[c][i] = f->wide != 0 ? dabchick_from_int32(f->in32[k]) : f->in[k];
            k += DABCHICK_CHANNELS;
        }
    }
    return dabchick_block_lanes(s, rate, in, NULL, f, at, n);
}

/* Runs all channels where none fades or is silent, no sample may be garbage, and lanes are
 * faster: n samples at least, all at most. What returns is how many there were; 0: none, and the
 * channels have what belongs to them. */
static inline int dabchick_run_calm(dabchick_state *s, const dabchick_rate_entry *rate,
        const float *const *in, float *const *out, const dabchick_frames *f, int at, int n, int all)
{
    int good;

    if (s->laned == 0u && dabchick_calm(s) != 0) {
        dabchick_enter_lanes(s);
    }
    if (s->laned != 1u) {
        return 0;
    }
    if (s->count % DABCHICK_TICK == 0u && all > n) { /* nothing is asked for, so that it may go on */
        const int left = (int)(DABCHICK_REST - s->count);

        n = left < DABCHICK_LONG ? left : DABCHICK_LONG;
        n = all < n ? all : n;
    }
    if (n == 1) {
        dabchick_lane_group *const group = dabchick_lane_groups(s);

        good = f != NULL ? dabchick_step_frame(rate, group, f, at)
            : dabchick_step_lanes(rate, group, in, out, at);
    } else if (f != NULL) {
        good = dabchick_frame_lanes(s, rate, f, at, n);
    } else {
        good = dabchick_block_lanes(s, rate, in, out, NULL, at, n);
    }
    if (good == 0) {
        dabchick_leave_lanes(s);
        return 0;
    }
    return n;
}
#endif


/* ---- what happens at ticks ------------------------------------------------------------ */

/* The lists of all cascades, one behind the other. */
static DABCHICK_COLD void dabchick_make_lists(const dabchick_rate_entry *rate, dabchick_channel_state *ch)
{
    uint16_t *next = ch->list;
    int c;

    for (c = 0; c <= DABCHICK_WAYS; c++) {
        next = dabchick_make_list(rate, ch, c, next);
    }
}

/* Settings at a tick: a change that is over is what runs, and one that is asked for begins. */
static void dabchick_change_settings(const dabchick_rate_entry *rate, dabchick_channel_state *ch,
        const volatile unsigned char *asked)
{
    if (ch->change == rate->settle + rate->fade) {
        /* all cascades' stand behind each other, here as there */
        (void)memcpy(&ch->now[rate->cascade[0].split], ch->then,
            (size_t)rate->cascade[DABCHICK_WAYS].end * sizeof ch->then[0]);
        dabchick_make_lists(rate, ch);
        ch->change = -1;
    }
    if (ch->change < 0) {
        unsigned int differ = 0u;
        int k;

        for (k = 0; k < DABCHICK_SETTINGS; k++) {
            const unsigned char wanted = asked[k];

            differ |= (unsigned int)wanted ^ ch->chosen[k];
            ch->chosen[k] = wanted;
        }
        if (ch->fresh != 0u) {
            dabchick_make_lists(rate, ch);
        } else if (differ != 0u) {
            (void)memset(ch->then, 0, sizeof ch->then);
            ch->change = 0;
        } else {
            /* as before */
        }
    }
}

/* Sections in which next to nothing is left come to rest, everywhere at the same sample. */
static DABCHICK_COLD void dabchick_rest(dabchick_memory *m, int sections)
{
    int k;

#if defined __clang__ /* gathers and scatters take longer */
#pragma clang loop vectorize(disable)
#endif
    for (k = 0; k < sections; k++) {
        if ((dabchick_bits(m[k].p) << 1) < 0x3f000000u
                && (dabchick_bits(m[k].q) << 1) < 0x3f000000u) {
            m[k].p = 0.0f;
            m[k].q = 0.0f;
        }
    }
}

/* What is asked of a channel, between two samples. */
static void dabchick_tick_channel(const dabchick_rate_entry *rate, dabchick_channel_state *ch,
        const volatile unsigned char *asked)
{
    const int32_t fade = rate->fade;
    const int mute = (int)asked[DABCHICK_MUTE];

    dabchick_change_settings(rate, ch, asked);
    ch->fresh = 0u;
    if (ch->open == 0) {
        ch->step = (int8_t)(1 - mute);
    } else if (ch->open == fade) {
        ch->step = (int8_t)-mute;
    } else {
        /* a fade goes on to its end */
    }
    ch->calm = ch->open == fade && ch->step == 0 && ch->dead == 0u && ch->change < 0 ? 1u : 0u;
}

#ifndef DABCHICK_NO_SINGLES
/* Channels that may take single samples together. */
static void dabchick_find_mates(dabchick_state *s)
{
    int c;

    for (c = 0; c < DABCHICK_CHANNELS - 1; c += 2) {
        dabchick_channel_state *const ch = &s->channel[c];

        if (ch->calm != 0u && ch[1].calm != 0u
                && memcmp(ch->chosen, ch[1].chosen, sizeof ch->chosen) == 0) {
            ch->calm = 2u;
        }
    }
}
#endif

/* What is due of all channels. */
static DABCHICK_COLD void dabchick_tick(dabchick_state *s, const dabchick_rate_entry *rate)
{
    int c;

    for (c = 0; c < DABCHICK_CHANNELS; c++) {
        dabchick_channel_state *ch = &s->channel[c];

        dabchick_tick_channel(rate, ch, s->asked[c]);
        if (s->count == 0u) {
            dabchick_rest(ch->now, DABCHICK_POSITIONS);
            dabchick_rest(ch->then, DABCHICK_THEN); /* idle ones, too */
        }
    }
#ifndef DABCHICK_NO_SINGLES
    dabchick_find_mates(s);
#endif
#ifdef DABCHICK_LANES
    if (dabchick_calm(s) == 0) {
        dabchick_leave_lanes(s);
    } else if (s->count == 0u && s->laned == 1u) {
        dabchick_rest_lanes(s);
    } else {
        /* nothing is due in lanes */
    }
#endif
}

/* Of n samples those before the next tick; what is due before them is done. */
static int dabchick_begin(dabchick_state *s, const dabchick_rate_entry *rate, int n)
{
    const uint32_t into = s->count % DABCHICK_TICK;
    const int left = (int)(DABCHICK_TICK - into);

    if (into == 0u) {
        dabchick_tick(s, rate);
    }
    return n < left ? n : left;
}

/* ---- the interface -------------------------------------------------------------------- */

/* The rate that a state runs at; NULL where init did not leave it behind. */
static inline const dabchick_rate_entry *dabchick_rate_here(const dabchick_state *s)
{
    return s->ready != DABCHICK_READY || s->check != DABCHICK_CHECK || s->rate < 0
            || s->rate >= DABCHICK_RATES ? NULL : &dabchick_rate_table[s->rate];
}

static DABCHICK_NOINLINE const dabchick_rate_entry *dabchick_rate_of(const dabchick_state *s)
{
    return dabchick_rate_here(s);
}

/* 1 also for a channel that does not exist. */
static DABCHICK_COLD int dabchick_refuse_channel(const dabchick_state *s, int channel)
{
    return channel < 0 || channel >= DABCHICK_CHANNELS || dabchick_rate_of(s) == NULL ? 1 : 0;
}

/* Asks a channel for a choice of one of its settings, or for silence. */
static DABCHICK_COLD int dabchick_ask(dabchick_state *s, int channel, int what, unsigned int choice)
{
    static const unsigned char dabchick_choices[DABCHICK_MUTE + 1] = { 2u, 2u };

    if (choice >= dabchick_choices[what] || dabchick_refuse_channel(s, channel) != 0) {
        return 1;
    }
    s->asked[channel][what] = (unsigned char)choice;
    return 0;
}

/* What was asked for. */
static DABCHICK_COLD int dabchick_asked(const dabchick_state *s, int channel, int what)
{
    return dabchick_refuse_channel(s, channel) != 0 ? -1 : (int)s->asked[channel][what];
}

/* Silence in one channel. */
static DABCHICK_COLD void dabchick_silence(dabchick_channel_state *ch)
{

    (void)memset(ch, 0, sizeof *ch);
    ch->change = -1;
    ch->fresh = 1u;
}

/* In all of them. */
static DABCHICK_COLD void dabchick_silence_all(dabchick_state *s)
{
    int c;

    for (c = 0; c < DABCHICK_CHANNELS; c++) {
        dabchick_silence(&s->channel[c]);
    }
    s->count = 0u;
#ifdef DABCHICK_LANES
    s->laned = 0u;
#endif
}

/* Starts at a rate; 1 where there is no such. */
static DABCHICK_COLD int dabchick_start(dabchick_state *s, uint32_t rate_hz)
{
    int32_t i;

    for (i = 0; i < DABCHICK_RATES; i++) {
        if (dabchick_rate_table[i].rate_hz == rate_hz) {
            s->rate = i;
            dabchick_silence_all(s);
            return 0;
        }
    }
    return 1;
}

int dabchick_set_rate(dabchick_state *s, uint32_t rate_hz)
{
    return dabchick_rate_of(s) == NULL ? 1 : dabchick_start(s, rate_hz);
}

int dabchick_init(dabchick_state *s, uint32_t rate_hz)
{
    (void)memset(s, 0, sizeof *s);
    if (dabchick_start(s, rate_hz) != 0) {
        return 1;
    }
    s->ready = DABCHICK_READY;
    s->check = DABCHICK_CHECK;
    return 0;
}

void dabchick_reset(dabchick_state *s)
{
    if (dabchick_rate_of(s) != NULL) {
        dabchick_silence_all(s);
    }
}

int dabchick_reset_channel(dabchick_state *s, int channel)
{
    if (dabchick_refuse_channel(s, channel) != 0) {
        return 1;
    }
#ifdef DABCHICK_LANES
    dabchick_leave_lanes(s);
#endif
    dabchick_silence(&s->channel[channel]);
    return 0;
}

int dabchick_set_desk(dabchick_state *s, int channel, enum dabchick_desk choice)
{
    return dabchick_ask(s, channel, 0, (unsigned int)choice);
}

int dabchick_get_desk(const dabchick_state *s, int channel)
{
    return dabchick_asked(s, channel, 0);
}

int dabchick_mute(dabchick_state *s, int channel, int on)
{
    return dabchick_ask(s, channel, DABCHICK_MUTE, on != 0 ? 1u : 0u);
}

int dabchick_muted(const dabchick_state *s, int channel)
{
    return dabchick_asked(s, channel, DABCHICK_MUTE);
}

int dabchick_garbage(const dabchick_state *s, int channel)
{
    return dabchick_refuse_channel(s, channel) != 0 ? -1 : (int)s->channel[channel].dead;
}

/* n samples of all channels: in -> out, or from frames to frames. */
static DABCHICK_BLOCKS int dabchick_run_all(dabchick_state *s, const float *const *in,
        float *const *out, dabchick_frames *f, int n)
{
    const dabchick_rate_entry *const rate = dabchick_rate_of(s);
    int done = 0;

    if (n < 0 || rate == NULL) {
        return 1;
    }
    while (done < n) {
        const int chunk = dabchick_begin(s, rate, n - done);
        int c;
#ifdef DABCHICK_LANES
        const int together = dabchick_run_calm(s, rate, in, out, f, done, chunk, n - done);

        if (together > 0) {
            s->count = (s->count + (uint32_t)together) % DABCHICK_REST;
            done += together;
            continue;
        }
#endif
        for (c = 0; c < DABCHICK_CHANNELS; c++) {
            dabchick_channel_state *const ch = &s->channel[c];

            if (f != NULL) {
                (void)f->through(f, rate, ch, (done * DABCHICK_CHANNELS) + c, chunk,
                    DABCHICK_CHANNELS);
            } else {
                dabchick_run_block(rate, ch, &in[c][done], &out[c * DABCHICK_WAYS], done, chunk);
            }
        }
        s->count = (s->count + (uint32_t)chunk) % DABCHICK_REST;
        done += chunk;
    }
    return 0;
}

#ifdef DABCHICK_LANES
/* A single sample of all channels, or a frame where there are frames, in lanes where nothing is due
 * before it. What returns is 1, or 0: nothing has happened. */
static inline int dabchick_run_alone(dabchick_state *s, const float *const *in,
        float *const *out, const dabchick_frames *f)
{
    const dabchick_rate_entry *const rate = dabchick_rate_here(s);
    dabchick_lane_group *group;
    int good;

    if (rate == NULL || s->laned != 1u || s->count % DABCHICK_TICK == 0u
            || s->lanes_at != dabchick_lanes_begin(s)) {
        return 0;
    }
    group = dabchick_lane_groups_at(s);
    good = f != NULL ? dabchick_step_frame(rate, group, f, 0)
        : dabchick_step_lanes(rate, group, in, out, 0);
    s->count = (s->count + (uint32_t)good) % DABCHICK_REST;
    return good;
}
#endif

#ifndef DABCHICK_NO_SINGLES
/* One sample of all channels: two that are calm and alike go through sections beside each other. */
static DABCHICK_NOINLINE int dabchick_run_one(dabchick_state *s, const float *const *in,
        float *const *out)
{
    const dabchick_rate_entry *const rate = dabchick_rate_of(s);
    int c;

    if (rate == NULL) {
        return 1;
    }
    (void)dabchick_begin(s, rate, 1);
#ifdef DABCHICK_LANES
    if (dabchick_run_calm(s, rate, in, out, NULL, 0, 1, 1) > 0) {
        s->count = (s->count + 1u) % DABCHICK_REST;
        return 0;
    }
#endif
    s->count = (s->count + 1u) % DABCHICK_REST;
    for (c = 0; c < DABCHICK_CHANNELS; c += 2) {
        const int other = c + 1;
        dabchick_channel_state *const ch = &s->channel[c];
        dabchick_channel_state *const mate = &s->channel[other];
        const float x = *in[c];
        const float y = *in[other];

        if ((unsigned int)ch->calm + mate->calm > 2u /* alike, and both are calm still */
                && ((dabchick_bits(x) | dabchick_bits(y)) << 1) < DABCHICK_GARBAGE) {
            dabchick_step(rate, ch, mate, x, y, &out[c * DABCHICK_WAYS], &out[other * DABCHICK_WAYS]);
        } else {
            int k;

            for (k = c; k <= other; k++) {
                dabchick_run_block(rate, &s->channel[k], in[k], &out[k * DABCHICK_WAYS], 0, 1);
            }
        }
    }
    return 0;
}

#endif

int dabchick_run(dabchick_state *s, const float *const *in, float *const *out, int n)
{
#ifdef DABCHICK_LANES
    if (n == 1 && dabchick_run_alone(s, in, out, NULL) != 0) {
        return 0;
    }
#endif
#ifndef DABCHICK_NO_SINGLES
    if (n == 1) {
        return dabchick_run_one(s, in, out);
    }
#endif
    return dabchick_run_all(s, in, out, NULL, n);
}

/* n samples so many apart, from number k on, of a channel, or without a channel one of each. */
static DABCHICK_SMALL int dabchick_through(dabchick_frames *f, const dabchick_rate_entry *rate,
        dabchick_channel_state *ch, int k, int n, int apart)
{
    int at = k;
    int i;
    int w;

    for (i = 0; i < n; i++) {
        f->from[i] = f->wide != 0 ? dabchick_from_int32(f->in32[at]) : f->in[at];
        at += apart;
    }
#ifndef DABCHICK_NO_SINGLES
    if (ch == NULL) {
        if (dabchick_run_one(f->s, f->ins, f->outs) != 0) {
            return 1;
        }
    } else
#endif
    {
        dabchick_run_block(rate, ch, f->from, f->outs, 0, n);
    }
    at = k * DABCHICK_WAYS;
    for (i = 0; i < n; i++) {
        for (w = 0; w < DABCHICK_WAYS; w++) {
            if (f->wide != 0) {
                f->out32[at + w] = dabchick_to_int32(f->to[w][i]);
            } else {
                f->out[at + w] = f->to[w][i];
            }
        }
        at += apart * DABCHICK_WAYS;
    }
    return 0;
}

/* n frames. */
static DABCHICK_SMALL int dabchick_run_side_by_side(dabchick_state *s, dabchick_frames *f, int n)
{
    int beside = 1; /* channels in a row of to */
    int k = 0;
    int c;
    int w;

#ifdef DABCHICK_LANES
    if (n == 1 && dabchick_run_alone(s, NULL, NULL, f) != 0) {
        return 0;
    }
#endif
#ifndef DABCHICK_NO_SINGLES
    f->s = s;
    if (n == 1) {
        beside = DABCHICK_CHANNELS;
    }
#endif
    for (c = 0; c < beside; c++) {
        f->ins[c] = &f->from[c];
        for (w = 0; w < DABCHICK_WAYS; w++) {
            f->outs[k] = &f->to[w][c];
            k++;
        }
    }
#ifndef DABCHICK_NO_SINGLES
    if (n == 1) {
        return dabchick_through(f, NULL, NULL, 0, DABCHICK_CHANNELS, 1);
    }
#endif
    f->through = dabchick_through;
    return dabchick_run_all(s, NULL, NULL, f, n);
}

int dabchick_run_frames(dabchick_state *s, const float *in, float *out, int n)
{
    dabchick_frames f;

    f.in = in;
    f.out = out;
    f.wide = 0;
    return dabchick_run_side_by_side(s, &f, n);
}

int dabchick_run_frames_int32(dabchick_state *s, const int32_t *in, int32_t *out, int n)
{
    dabchick_frames f;

    f.in32 = in;
    f.out32 = out;
    f.wide = 1;
    return dabchick_run_side_by_side(s, &f, n);
}

#undef DABCHICK_AS_WRITTEN
#if defined __GNUC__ && !defined __clang__
#pragma GCC pop_options
#endif
