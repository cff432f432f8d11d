/*
 * a_weighting_float32.c: the loudspeaker filters of "a_weighting", tables and code
 * Spec SHA-256 586ddc2e7bfba0c537e7adf995975c582ba12a8e1321cb9998a02ca317388236
 *
 * Compile this file with the program; a_weighting_float32.h tells all about it.
 *
 * MISRA C:2012, deviations from required and advisory rules:
 *   2.2         sums and products with counts that are 0 or 1 in this program
 *   8.9         tables beside what they belong to
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
 */
#include "a_weighting_float32.h"

#include <float.h>
#include <string.h>

/* (FLT_RADIX stands in float.h. A program that looks through this file without it goes on.) */
#if defined FLT_RADIX && (FLT_RADIX != 2 || FLT_MANT_DIG != 24)
#error "a_weighting: float must be an IEEE 754 number of 32 bits here"
#endif
#if defined FLT_RADIX && (FLT_EVAL_METHOD != 0 && FLT_EVAL_METHOD != 16)
#error "a_weighting: float must be computed as float; on a 32-bit x86 use -msse2 -mfpmath=sse"
#endif
#if defined __FAST_MATH__ || defined __ASSOCIATIVE_MATH__
#error "a_weighting: compile without -ffast-math, -funsafe-math-optimizations, -fassociative-math"
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
#define A_WEIGHTING_AS_WRITTEN
#elif defined __clang__ && __clang_major__ >= 13
#define A_WEIGHTING_AS_WRITTEN _Pragma("clang fp contract(off) reassociate(off)")
#else
#define A_WEIGHTING_AS_WRITTEN _Pragma("STDC FP_CONTRACT OFF")
#endif

/* To run at fewer rates, define A_WEIGHTING_ONLY_ with the rate for each that shall stay. */
#if !(defined A_WEIGHTING_ONLY_48000 || defined A_WEIGHTING_ONLY_96000)
#define A_WEIGHTING_ONLY_48000
#define A_WEIGHTING_ONLY_96000
#endif

/* Single samples have code of their own, which A_WEIGHTING_NO_SINGLES leaves out: they are
 * blocks of one then. */

/* Loops stand in functions of their own. What runs rarely is compiled for size, and so is what runs
 * once a block: but not what alone calls the loops, rare to gcc then. */
#if defined __GNUC__
#define A_WEIGHTING_NOINLINE __attribute__((noinline))
#define A_WEIGHTING_COLD __attribute__((noinline, cold))
#define A_WEIGHTING_INLINE inline __attribute__((always_inline)) /* at -Os, too */
#else
#define A_WEIGHTING_NOINLINE
#define A_WEIGHTING_COLD
#define A_WEIGHTING_INLINE inline
#endif
#define A_WEIGHTING_SMALL A_WEIGHTING_COLD
#ifdef A_WEIGHTING_NO_SINGLES
#define A_WEIGHTING_BLOCKS A_WEIGHTING_NOINLINE
#else
#define A_WEIGHTING_BLOCKS A_WEIGHTING_SMALL
#endif

#define A_WEIGHTING_READY 0x4ae76e97u /* of this spec in this format */
#define A_WEIGHTING_CHECK 0xad74e2a5u
#define A_WEIGHTING_TICK 32u /* samples between two looks at what is asked for */
#define A_WEIGHTING_REST 128u /* and between two looks for sections that have come to rest */
/* a_weighting_bits without the sign, << 1, of what is no sample. */
#define A_WEIGHTING_GARBAGE 0xbf000000u
#if defined __GNUC__ && defined __arm__ && defined __ARM_FP
#define A_WEIGHTING_SEVERAL /* registers that lie beside each other are moved in one instruction */
#endif

/* Words of a list, one a pass: where the row of its first section begins, which those of the others
 * follow, their kind (1 direct, 2 delta without b1 and b2, 3 delta)
 * and how many they are; 0 is the end. */
#define A_WEIGHTING_ROW 0x7ffu
#define A_WEIGHTING_HEAD 11 /* bits below */

/* ---- tables --------------------------------------------------------------------------- */

#ifndef A_WEIGHTING_NO_SINGLES
/* What a single sample finds in a row of the table of sections. */
typedef struct {
    float b0;
    float a1;
    float a2;
    float b1;
    float b2;
} a_weighting_section_words;
#endif

typedef struct {
    float gain; /* with the polarity as sign */
    int8_t list; /* where the list of what always runs begins */
    int8_t from; /* the memory of that */
#ifndef A_WEIGHTING_NO_SINGLES
    uint16_t forms; /* of what always runs, 2 bits a section, the first in the highest */
#endif
} a_weighting_cascade_entry;

typedef struct {
    uint32_t rate_hz;
    const float *sections; /* rows of words */
    const uint16_t *lists; /* of what always runs */
    int16_t fade; /* samples of a fade */
    float step; /* 1 / fade */
    a_weighting_cascade_entry cascade[1 + A_WEIGHTING_WAYS]; /* common, then the ways */
} a_weighting_rate_entry;

/* b0, a1, a2, b1, b2 of every section, delta without b1 and b2: the first 3. Above each:
 * - rate, way and number;
 * - the line of the spec, and the frequency and Q that its poles ring at (those of a shelf lie
 *   beside the line's own). Lines of one way that are made together share their zeros: there it
 *   is the line whose poles these are, and the way where no line has them;
 * - form, and computed error in this format re the section's greatest gain. */
#ifdef A_WEIGHTING_ONLY_48000
static const float a_weighting_sections_48000[11] = {
    /* 48000 Hz, weighted 0: ways.weighted, poles at 8.758 kHz and 1.015 kHz; delta, -141 dB */
    0.5198005f, 0.8066502f, 0.08489408f, 0.7794902f, 0.08719182f,
    /* 48000 Hz, weighted 1: ways.weighted.filters[0] roots, poles at 733.3 Hz and 104.7 Hz; */
    /* delta, -143 dB */
    0.9866142f, 0.10513892f, 0.0012457964f,
    /* 48000 Hz, weighted 2: ways.weighted, poles at 27.51 Hz and 14.4 Hz; delta, -130 dB */
    1.1582614f, 0.0054780934f, 6.7702827e-06f
};
static const uint16_t a_weighting_lists_48000[4] = {
    0u, 14336u, 20485u, 0u
};
#endif

#ifdef A_WEIGHTING_ONLY_96000
static const float a_weighting_sections_96000[15] = {
    /* 96000 Hz, weighted 0: ways.weighted.filters[0] roots, poles at 737.8 Hz and 107.7 Hz; */
    /* delta, -141 dB */
    1.0141838f, 0.054165754f, 0.00033101684f, 0.0f, 0.0f,
    /* 96000 Hz, weighted 1: ways.weighted.filters[0] roots, poles at 12.17 kHz, Q 0.500; delta, */
    /* -142 dB */
    0.24598362f, 1.0982077f, 0.30165622f, 0.5624498f, 0.31466013f,
    /* 96000 Hz, weighted 2: ways.weighted.filters[0] roots, poles at 20.6 Hz, Q 0.500; delta, */
    /* -127 dB */
    1.1560403f, 0.0026945279f, 1.815329e-06f, 0.0f, 0.0f
};
static const uint16_t a_weighting_lists_96000[3] = {
    0u, 30720u, 0u
};
#endif

#ifdef A_WEIGHTING_NO_SINGLES
#define A_WEIGHTING_FORMS(forms)
#else
#define A_WEIGHTING_FORMS(forms) , (forms)
#endif

static const a_weighting_rate_entry a_weighting_rate_table[] = {
#ifdef A_WEIGHTING_ONLY_48000
    { 48000u, a_weighting_sections_48000, a_weighting_lists_48000, 480, 0.0020833334f, {
        { 0.7943282f, 0, 0 A_WEIGHTING_FORMS(0x0000u) }, /* common */
        { 1.0f, 1, 0 A_WEIGHTING_FORMS(0xe800u) } /* weighted */
    } },
#endif
#ifdef A_WEIGHTING_ONLY_96000
    { 96000u, a_weighting_sections_96000, a_weighting_lists_96000, 960, 0.0010416667f, {
        { 0.7943282f, 0, 0 A_WEIGHTING_FORMS(0x0000u) }, /* common */
        { 1.0f, 1, 0 A_WEIGHTING_FORMS(0xfc00u) } /* weighted */
    } },
#endif
};

#define A_WEIGHTING_RATES ((int32_t)(sizeof a_weighting_rate_table / sizeof a_weighting_rate_table[0]))

/* ---- filters -------------------------------------------------------------------------- */

/* The bits of x: without the sign they grow with its size. */
static inline uint32_t a_weighting_bits(float x)
{
    uint32_t bits;

    (void)memcpy(&bits, &x, sizeof bits);
    return bits;
}

/* A sample of 32 bits, -2^31 to 2^31 - 1, re full scale. */
static inline float a_weighting_from_int32(int32_t x)
{
    return (float)x * (float)(1.0 / 2147483648.0);
}

/* The nearest sample of 32 bits, limited to what there is. */
static inline int32_t a_weighting_to_int32(float x)
{
    const float scaled = x * (float)2147483648.0;
    const float above = scaled > (float)-2147483648.0 ? scaled : (float)-2147483648.0;
    const float inside = above < (float)2147483647.0 ? above : (float)0;
    const int32_t whole = (int32_t)inside;
    const float rest = inside - (float)whole;
    const int32_t near = whole + (int32_t)(rest + rest); /* 1 from a half on */

    return above < (float)2147483647.0 ? near : INT32_MAX;
}

#ifdef A_WEIGHTING_SEVERAL
/* Words of the table, and what sections remember, go into registers beside each other, and back,
 * in one instruction; nothing is computed there. */
static A_WEIGHTING_INLINE void a_weighting_first(const float **from, float *to)
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

static A_WEIGHTING_INLINE void a_weighting_first_states(const a_weighting_memory *m, a_weighting_memory *is)
{
    register float p_0 __asm__("s6");
    register float q_0 __asm__("s7");

    __asm__("vldmia %2, {s6-s7}"
            : "=t"(p_0), "=t"(q_0)
            : "r"(m), "m"(m[0]));
    is[0].p = p_0;
    is[0].q = q_0;
}

static A_WEIGHTING_INLINE void a_weighting_keep_first(a_weighting_memory *m, const a_weighting_memory *is)
{
    register float p_0 __asm__("s6");
    register float q_0 __asm__("s7");

    p_0 = is[0].p;
    q_0 = is[0].q;
    __asm__("vstmia %1, {s6-s7}"
            : "=m"(m[0])
            : "r"(m), "t"(p_0), "t"(q_0));
}

static A_WEIGHTING_INLINE void a_weighting_words_2(const float *from, float *to)
{
    register float word_0 __asm__("s14");
    register float word_1 __asm__("s15");

    __asm__("vldmia %2, {s14-s15}"
            : "=t"(word_0), "=t"(word_1)
            : "r"(from), "m"(from[0]), "m"(from[1]));
    to[0] = word_0;
    to[1] = word_1;
}

static A_WEIGHTING_INLINE void a_weighting_words_12(const float *from, float *to)
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

static A_WEIGHTING_INLINE void a_weighting_states_2(const a_weighting_memory *m, a_weighting_memory *is)
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

static A_WEIGHTING_INLINE void a_weighting_keep_states_2(a_weighting_memory *m, const a_weighting_memory *is)
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

static A_WEIGHTING_INLINE void a_weighting_words_3(const float *from, float *to)
{
    register float word_0 __asm__("s14");
    register float word_1 __asm__("s15");
    register float word_2 __asm__("s16");

    __asm__("vldmia %3, {s14-s16}"
            : "=t"(word_0), "=t"(word_1), "=t"(word_2)
            : "r"(from), "m"(from[0]), "m"(from[1]), "m"(from[2]));
    to[0] = word_0;
    to[1] = word_1;
    to[2] = word_2;
}

static A_WEIGHTING_INLINE void a_weighting_states_1(const a_weighting_memory *m, a_weighting_memory *is)
{
    register float p_0 __asm__("s8");
    register float q_0 __asm__("s9");

    __asm__("vldmia %2, {s8-s9}"
            : "=t"(p_0), "=t"(q_0)
            : "r"(m), "m"(m[0]));
    is[0].p = p_0;
    is[0].q = q_0;
}

static A_WEIGHTING_INLINE void a_weighting_keep_states_1(a_weighting_memory *m, const a_weighting_memory *is)
{
    register float p_0 __asm__("s8");
    register float q_0 __asm__("s9");

    p_0 = is[0].p;
    q_0 = is[0].q;
    __asm__("vstmia %1, {s8-s9}"
            : "=m"(m[0])
            : "r"(m), "t"(p_0), "t"(q_0));
}
#endif

/* gain times n samples, and the sections of a list over them: from -> to, which may be the same.
 * Each pass takes samples through up to 3 sections of one form; between them everything is
 * in registers. Those that begin no list have no gain; an empty list is the gain alone. n is not 0. */
static A_WEIGHTING_NOINLINE void a_weighting_run_list(const float *table,
        const uint16_t *list, a_weighting_memory *m, float gain, const float *from, float *to, int n)
{
    A_WEIGHTING_AS_WRITTEN
    const float *const end = &to[n];
    unsigned int word = *list;

    if (word == 0u) {
        do {
            *to = gain * *from;
            from++;
            to++;
        } while (to != end);
        return;
    }
    do {
        const float *w = &table[word & A_WEIGHTING_ROW];
        const unsigned int head = word >> A_WEIGHTING_HEAD;
        float *at = to;
#ifdef A_WEIGHTING_SEVERAL
        float first[3];
        a_weighting_memory is;

        a_weighting_first(&w, first);
        a_weighting_first_states(m, &is);
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
        case 7u: { /* delta, 1 */
#ifdef A_WEIGHTING_SEVERAL
            float words[2];

            a_weighting_words_2(w, words);
            const float b1_0 = words[0];
            const float b2_0 = words[1];
#else
            const float b1_0 = w[3];
            const float b2_0 = w[4];
#endif

            do {
                const float x = gain * *from;
                const float y_0 = b0_0 * x + p_0;
                p_0 = p_0 + ((q_0 + b1_0 * x) - a1_0 * y_0);
                q_0 = (q_0 + b2_0 * x) - a2_0 * y_0;
                *at = y_0;
                from++;
                at++;
            } while (at != end);
            break;
        }
        case 15u: { /* delta, 3 */
#ifdef A_WEIGHTING_SEVERAL
            float words[12];
            a_weighting_memory more[2];

            a_weighting_words_12(w, words);
            a_weighting_states_2(&m[1], more);
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
#ifdef A_WEIGHTING_SEVERAL
            more[0].p = p_1;
            more[0].q = q_1;
            more[1].p = p_2;
            more[1].q = q_2;
            a_weighting_keep_states_2(&m[1], more);
#else
            m[1].p = p_1;
            m[1].q = q_1;
            m[2].p = p_2;
            m[2].q = q_2;
#endif
            break;
        }
        case 10u: { /* delta without b1 and b2, 2 */
#ifdef A_WEIGHTING_SEVERAL
            float words[3];
            a_weighting_memory more[1];

            a_weighting_words_3(w, words);
            a_weighting_states_1(&m[1], more);
            const float b0_1 = words[0];
            const float a1_1 = words[1];
            const float a2_1 = words[2];
            float p_1 = more[0].p;
            float q_1 = more[0].q;
#else
            const float b0_1 = w[3];
            const float a1_1 = w[4];
            const float a2_1 = w[5];
            float p_1 = m[1].p;
            float q_1 = m[1].q;
#endif

            do {
                const float x = *from;
                const float y_0 = b0_0 * x + p_0;
                p_0 = p_0 + (q_0 - a1_0 * y_0);
                q_0 = q_0 - a2_0 * y_0;
                const float y_1 = b0_1 * y_0 + p_1;
                p_1 = p_1 + (q_1 - a1_1 * y_1);
                q_1 = q_1 - a2_1 * y_1;
                *at = y_1;
                from++;
                at++;
            } while (at != end);
#ifdef A_WEIGHTING_SEVERAL
            more[0].p = p_1;
            more[0].q = q_1;
            a_weighting_keep_states_1(&m[1], more);
#else
            m[1].p = p_1;
            m[1].q = q_1;
#endif
            break;
        }
        default:
            /* there are no others */
            break;
        }
#ifdef A_WEIGHTING_SEVERAL
        is.p = p_0;
        is.q = q_0;
        a_weighting_keep_first(m, &is);
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
}

/* n samples of a fade, from its sample from on: from
 * silence to io; way is 1, or -1 to go back. */
static A_WEIGHTING_COLD void a_weighting_fade(float *io, float step,
        int32_t from, int32_t way, int n)
{
    A_WEIGHTING_AS_WRITTEN
    int i;

    for (i = 0; i < n; i++) {
        const float at = (float)(from + (way * i));
        const float u = at * step;
        const float w = ((u * u) * u) * (u * (6.0f * u - 15.0f) + 10.0f);
        io[i] = w * io[i];
    }
}

/* Gain and sections of cascade c over n samples, from -> io. */
static inline void a_weighting_run_cascade(const a_weighting_rate_entry *rate,
        a_weighting_channel_state *ch, int c, const float *from, float *io, int n)
{
    const a_weighting_cascade_entry *cascade = &rate->cascade[c];

    a_weighting_run_list(rate->sections, &rate->lists[cascade->list], &ch->now[cascade->from],
        cascade->gain, from, io, n);
}

/* The common part over n samples of one channel: in[i] -> now[i].
 * What returns are the samples before garbage. */
static int a_weighting_run_common(const a_weighting_rate_entry *rate, a_weighting_channel_state *ch,
        const float *in, float *now, int n)
{
    A_WEIGHTING_AS_WRITTEN
    const float gain = rate->cascade[0].gain;
    uint32_t sizes = 0u;
    int good = n;
    int i;

    if (ch->fresh != 0u || ch->dead != 0u) {
        good = 0;
    }
    for (i = 0; i < good; i++) {
        sizes |= a_weighting_bits(in[i]);
        float x = in[i];
        now[i] = gain * x;
    }
    if ((sizes << 1) >= A_WEIGHTING_GARBAGE) { /* perhaps */
        good = 0;
        while (good < n && (a_weighting_bits(in[good]) << 1) < A_WEIGHTING_GARBAGE) {
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
static A_WEIGHTING_COLD void a_weighting_shade(const a_weighting_rate_entry *rate,
        const a_weighting_channel_state *ch, float *io, int good, int n)
{
    int heard = good;
    int i;
    if (ch->step != 0) {
        a_weighting_fade(io, rate->step, ch->open, ch->step, good);
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
static void a_weighting_run_ways(const a_weighting_rate_entry *rate, a_weighting_channel_state *ch,
        const float *now, int good, float *const *out, int at, int n)
{
    int c;

    for (c = 1; c <= A_WEIGHTING_WAYS; c++) {
        float *io = &out[c - 1][at];

        if (good > 0) {
            a_weighting_run_cascade(rate, ch, c, now, io, good);
        }
        if (ch->calm == 0u) {
            a_weighting_shade(rate, ch, io, good, n);
        }
    }
    if (ch->calm == 0u) {
        ch->open = (int16_t)(ch->open + (ch->step * n));
    }
}

/* n samples of one channel, none beyond a tick: in[i] -> out[way][at + i]. */
static A_WEIGHTING_NOINLINE void a_weighting_run_block(const a_weighting_rate_entry *rate, a_weighting_channel_state *ch,
        const float *in, float *const *out, int at, int n)
{
    float now[A_WEIGHTING_TICK];
    int good;
    good = a_weighting_run_common(rate, ch, in, now, n);
    a_weighting_run_ways(rate, ch, now, good, out, at, n);
}

#ifndef A_WEIGHTING_NO_SINGLES

/* Where there is A_WEIGHTING_SEVERAL, words go from memory into registers beside each other, and back,
 * in one instruction; nothing is computed there. */
/* A row of 3 words, and the next row is next. */
static A_WEIGHTING_INLINE void a_weighting_row_3(const float **w, a_weighting_section_words *row)
{
#ifdef A_WEIGHTING_SEVERAL
    register float b0 __asm__("s4");
    register float a1 __asm__("s5");
    register float a2 __asm__("s6");

    __asm__("vldmia %0!, {s4-s6}"
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
static A_WEIGHTING_INLINE void a_weighting_row_5(const float **w, a_weighting_section_words *row)
{
#ifdef A_WEIGHTING_SEVERAL
    register float b0 __asm__("s4");
    register float a1 __asm__("s5");
    register float a2 __asm__("s6");
    register float b1 __asm__("s7");
    register float b2 __asm__("s8");

    __asm__("vldmia %0!, {s4-s8}"
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

/* What a section of the channel remembers. */
static inline a_weighting_memory a_weighting_load_0(const a_weighting_memory *m)
{
#ifdef A_WEIGHTING_SEVERAL
    register float p __asm__("s2");
    register float q __asm__("s3");
    a_weighting_memory is;

    __asm__("vldmia %2, {s2-s3}" : "=t"(p), "=t"(q) : "r"(m), "m"(*m));
    is.p = p;
    is.q = q;
    return is;
#else
    return *m;
#endif
}

/* What it shall remember, and the next section is next. */
static inline void a_weighting_keep_0(a_weighting_memory **m, a_weighting_memory is)
{
#ifdef A_WEIGHTING_SEVERAL
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
/* One sample of a channel that is calm: x -> out[way][0].
 * What always runs of all cascades stands in the order in which it runs, rows as well as memory. */
static inline void a_weighting_step(const a_weighting_rate_entry *rate,
        a_weighting_channel_state *ch_0, float x_0,
        float *const *out_0)
{
    A_WEIGHTING_AS_WRITTEN
    const a_weighting_cascade_entry *cascade = &rate->cascade[0];
    const a_weighting_cascade_entry *const stop = &rate->cascade[A_WEIGHTING_WAYS];
    const float *w = rate->sections;
    a_weighting_memory *m_0 = ch_0->now;
    float now_0;
    float *to_0 = &now_0;

    x_0 = cascade->gain * x_0;
    for (;;) {
        uint32_t forms = (uint32_t)cascade->forms << 16;
        const uint16_t some = cascade->forms;

            if (some != 0u) {
                do {
                    a_weighting_section_words row;
                    a_weighting_memory is_0 = a_weighting_load_0(m_0);

                    if (forms >= 0xc0000000u) { /* delta */
                        a_weighting_row_5(&w, &row);
                        const float b1x_0 = row.b1 * x_0;
                        const float b2x_0 = row.b2 * x_0;
                        const float y_0 = row.b0 * x_0 + is_0.p;
                        is_0.p = is_0.p + ((is_0.q + b1x_0) - row.a1 * y_0);
                        is_0.q = (is_0.q + b2x_0) - row.a2 * y_0;
                        x_0 = y_0;
                    } else { /* delta without b1 and b2 */
                        a_weighting_row_3(&w, &row);
                        const float y_0 = row.b0 * x_0 + is_0.p;
                        is_0.p = is_0.p + (is_0.q - row.a1 * y_0);
                        is_0.q = is_0.q - row.a2 * y_0;
                        x_0 = y_0;
                    }
                    a_weighting_keep_0(&m_0, is_0);
                    forms <<= 2;
                } while (forms != 0u);
            }
        *to_0 = x_0;
        if (cascade == stop) {
            break;
        }
        cascade++;
        to_0 = *out_0;
        out_0++;
        x_0 = now_0;
        x_0 = cascade->gain * x_0;
    }
}


#endif

/* Samples side by side, in the words of the filters or of 32 bits, and a channel's own. */
typedef struct a_weighting_frames a_weighting_frames;
struct a_weighting_frames {
    const float *in;
    float *out;
    const int32_t *in32; /* where they are wide */
    int32_t *out32;
    int wide;
#ifndef A_WEIGHTING_NO_SINGLES
    a_weighting_state *s;
#endif
    /* Takes samples through their filters: by a pointer, so that programs without frames are
     * linked without it. */
    int (*through)(a_weighting_frames *f, const a_weighting_rate_entry *rate,
        a_weighting_channel_state *ch, int k, int n, int apart);
    const float *ins[A_WEIGHTING_CHANNELS];
    float *outs[A_WEIGHTING_CHANNELS * A_WEIGHTING_WAYS];
    float from[A_WEIGHTING_TICK];
    float to[A_WEIGHTING_WAYS][A_WEIGHTING_TICK];
};
/* ---- what happens at ticks ------------------------------------------------------------ */

/* Sections in which next to nothing is left come to rest, everywhere at the same sample. */
static A_WEIGHTING_COLD void a_weighting_rest(a_weighting_memory *m, int sections)
{
    int k;

#if defined __clang__ /* gathers and scatters take longer */
#pragma clang loop vectorize(disable)
#endif
    for (k = 0; k < sections; k++) {
        if ((a_weighting_bits(m[k].p) << 1) < 0x3f000000u
                && (a_weighting_bits(m[k].q) << 1) < 0x3f000000u) {
            m[k].p = 0.0f;
            m[k].q = 0.0f;
        }
    }
}

/* What is asked of a channel, between two samples. */
static void a_weighting_tick_channel(const a_weighting_rate_entry *rate, a_weighting_channel_state *ch,
        const volatile unsigned char *asked)
{
    const int32_t fade = rate->fade;
    const int mute = (int)asked[A_WEIGHTING_MUTE];

    ch->fresh = 0u;
    if (ch->open == 0) {
        ch->step = (int8_t)(1 - mute);
    } else if (ch->open == fade) {
        ch->step = (int8_t)-mute;
    } else {
        /* a fade goes on to its end */
    }
    ch->calm = ch->open == fade && ch->step == 0 && ch->dead == 0u ? 1u : 0u;
}

/* What is due of all channels. */
static A_WEIGHTING_COLD void a_weighting_tick(a_weighting_state *s, const a_weighting_rate_entry *rate)
{
    int c;

    for (c = 0; c < A_WEIGHTING_CHANNELS; c++) {
        a_weighting_channel_state *ch = &s->channel[c];

        a_weighting_tick_channel(rate, ch, s->asked[c]);
        if (s->count == 0u) {
            a_weighting_rest(ch->now, A_WEIGHTING_POSITIONS);
        }
    }
}

/* Of n samples those before the next tick; what is due before them is done. */
static int a_weighting_begin(a_weighting_state *s, const a_weighting_rate_entry *rate, int n)
{
    const uint32_t into = s->count % A_WEIGHTING_TICK;
    const int left = (int)(A_WEIGHTING_TICK - into);

    if (into == 0u) {
        a_weighting_tick(s, rate);
    }
    return n < left ? n : left;
}

/* ---- the interface -------------------------------------------------------------------- */

/* The rate that a state runs at; NULL where init did not leave it behind. */
static A_WEIGHTING_NOINLINE const a_weighting_rate_entry *a_weighting_rate_of(const a_weighting_state *s)
{
    return s->ready != A_WEIGHTING_READY || s->check != A_WEIGHTING_CHECK || s->rate < 0
            || s->rate >= A_WEIGHTING_RATES ? NULL : &a_weighting_rate_table[s->rate];
}

/* 1 also for a channel that does not exist. */
static A_WEIGHTING_COLD int a_weighting_refuse_channel(const a_weighting_state *s, int channel)
{
    return channel < 0 || channel >= A_WEIGHTING_CHANNELS || a_weighting_rate_of(s) == NULL ? 1 : 0;
}

/* Asks a channel for a choice of one of its settings, or for silence. */
static A_WEIGHTING_COLD int a_weighting_ask(a_weighting_state *s, int channel, int what, unsigned int choice)
{
    static const unsigned char a_weighting_choices[A_WEIGHTING_MUTE + 1] = { 2u };

    if (choice >= a_weighting_choices[what] || a_weighting_refuse_channel(s, channel) != 0) {
        return 1;
    }
    s->asked[channel][what] = (unsigned char)choice;
    return 0;
}

/* What was asked for. */
static A_WEIGHTING_COLD int a_weighting_asked(const a_weighting_state *s, int channel, int what)
{
    return a_weighting_refuse_channel(s, channel) != 0 ? -1 : (int)s->asked[channel][what];
}

/* Silence in one channel. */
static A_WEIGHTING_COLD void a_weighting_silence(a_weighting_channel_state *ch)
{

    (void)memset(ch, 0, sizeof *ch);
    ch->fresh = 1u;
}

/* In all of them. */
static A_WEIGHTING_COLD void a_weighting_silence_all(a_weighting_state *s)
{
    int c;

    for (c = 0; c < A_WEIGHTING_CHANNELS; c++) {
        a_weighting_silence(&s->channel[c]);
    }
    s->count = 0u;
}

/* Starts at a rate; 1 where there is no such. */
static A_WEIGHTING_COLD int a_weighting_start(a_weighting_state *s, uint32_t rate_hz)
{
    int32_t i;

    for (i = 0; i < A_WEIGHTING_RATES; i++) {
        if (a_weighting_rate_table[i].rate_hz == rate_hz) {
            s->rate = i;
            a_weighting_silence_all(s);
            return 0;
        }
    }
    return 1;
}

int a_weighting_set_rate(a_weighting_state *s, uint32_t rate_hz)
{
    return a_weighting_rate_of(s) == NULL ? 1 : a_weighting_start(s, rate_hz);
}

int a_weighting_init(a_weighting_state *s, uint32_t rate_hz)
{
    (void)memset(s, 0, sizeof *s);
    if (a_weighting_start(s, rate_hz) != 0) {
        return 1;
    }
    s->ready = A_WEIGHTING_READY;
    s->check = A_WEIGHTING_CHECK;
    return 0;
}

void a_weighting_reset(a_weighting_state *s)
{
    if (a_weighting_rate_of(s) != NULL) {
        a_weighting_silence_all(s);
    }
}

int a_weighting_reset_channel(a_weighting_state *s, int channel)
{
    if (a_weighting_refuse_channel(s, channel) != 0) {
        return 1;
    }
    a_weighting_silence(&s->channel[channel]);
    return 0;
}

int a_weighting_mute(a_weighting_state *s, int channel, int on)
{
    return a_weighting_ask(s, channel, A_WEIGHTING_MUTE, on != 0 ? 1u : 0u);
}

int a_weighting_muted(const a_weighting_state *s, int channel)
{
    return a_weighting_asked(s, channel, A_WEIGHTING_MUTE);
}

int a_weighting_garbage(const a_weighting_state *s, int channel)
{
    return a_weighting_refuse_channel(s, channel) != 0 ? -1 : (int)s->channel[channel].dead;
}

/* n samples of all channels: in -> out, or from frames to frames. */
static A_WEIGHTING_BLOCKS int a_weighting_run_all(a_weighting_state *s, const float *const *in,
        float *const *out, a_weighting_frames *f, int n)
{
    const a_weighting_rate_entry *const rate = a_weighting_rate_of(s);
    int done = 0;

    if (n < 0 || rate == NULL) {
        return 1;
    }
    while (done < n) {
        const int chunk = a_weighting_begin(s, rate, n - done);
        int c;
        for (c = 0; c < A_WEIGHTING_CHANNELS; c++) {
            a_weighting_channel_state *const ch = &s->channel[c];

            if (f != NULL) {
                (void)f->through(f, rate, ch, (done * A_WEIGHTING_CHANNELS) + c, chunk,
                    A_WEIGHTING_CHANNELS);
            } else {
                a_weighting_run_block(rate, ch, &in[c][done], &out[c * A_WEIGHTING_WAYS], done, chunk);
            }
        }
        s->count = (s->count + (uint32_t)chunk) % A_WEIGHTING_REST;
        done += chunk;
    }
    return 0;
}

#ifndef A_WEIGHTING_NO_SINGLES
/* One sample of all channels: one that is calm goes through sections one by one. */
static A_WEIGHTING_NOINLINE int a_weighting_run_one(a_weighting_state *s, const float *const *in,
        float *const *out)
{
    const a_weighting_rate_entry *const rate = a_weighting_rate_of(s);
    int c;

    if (rate == NULL) {
        return 1;
    }
    (void)a_weighting_begin(s, rate, 1);
    s->count = (s->count + 1u) % A_WEIGHTING_REST;
    for (c = 0; c < A_WEIGHTING_CHANNELS; c++) {
        a_weighting_channel_state *const ch = &s->channel[c];
        const float x = *in[c];

        if (ch->calm != 0u && (a_weighting_bits(x) << 1) < A_WEIGHTING_GARBAGE) {
            a_weighting_step(rate, ch, x, &out[c * A_WEIGHTING_WAYS]);
        } else {
            a_weighting_run_block(rate, ch, in[c], &out[c * A_WEIGHTING_WAYS], 0, 1);
        }
    }
    return 0;
}

#endif

int a_weighting_run(a_weighting_state *s, const float *const *in, float *const *out, int n)
{
#ifndef A_WEIGHTING_NO_SINGLES
    if (n == 1) {
        return a_weighting_run_one(s, in, out);
    }
#endif
    return a_weighting_run_all(s, in, out, NULL, n);
}

/* n samples so many apart, from number k on, of a channel, or without a channel one of each. */
static A_WEIGHTING_SMALL int a_weighting_through(a_weighting_frames *f, const a_weighting_rate_entry *rate,
        a_weighting_channel_state *ch, int k, int n, int apart)
{
    int at = k;
    int i;
    int w;

    for (i = 0; i < n; i++) {
        f->from[i] = f->wide != 0 ? a_weighting_from_int32(f->in32[at]) : f->in[at];
        at += apart;
    }
#ifndef A_WEIGHTING_NO_SINGLES
    if (ch == NULL) {
        if (a_weighting_run_one(f->s, f->ins, f->outs) != 0) {
            return 1;
        }
    } else
#endif
    {
        a_weighting_run_block(rate, ch, f->from, f->outs, 0, n);
    }
    at = k * A_WEIGHTING_WAYS;
    for (i = 0; i < n; i++) {
        for (w = 0; w < A_WEIGHTING_WAYS; w++) {
            if (f->wide != 0) {
                f->out32[at + w] = a_weighting_to_int32(f->to[w][i]);
            } else {
                f->out[at + w] = f->to[w][i];
            }
        }
        at += apart * A_WEIGHTING_WAYS;
    }
    return 0;
}

/* n frames. */
static A_WEIGHTING_SMALL int a_weighting_run_side_by_side(a_weighting_state *s, a_weighting_frames *f, int n)
{
    int beside = 1; /* channels in a row of to */
    int k = 0;
    int c;
    int w;
#ifndef A_WEIGHTING_NO_SINGLES
    f->s = s;
    if (n == 1) {
        beside = A_WEIGHTING_CHANNELS;
    }
#endif
    for (c = 0; c < beside; c++) {
        f->ins[c] = &f->from[c];
        for (w = 0; w < A_WEIGHTING_WAYS; w++) {
            f->outs[k] = &f->to[w][c];
            k++;
        }
    }
#ifndef A_WEIGHTING_NO_SINGLES
    if (n == 1) {
        return a_weighting_through(f, NULL, NULL, 0, A_WEIGHTING_CHANNELS, 1);
    }
#endif
    f->through = a_weighting_through;
    return a_weighting_run_all(s, NULL, NULL, f, n);
}

int a_weighting_run_frames(a_weighting_state *s, const float *in, float *out, int n)
{
    a_weighting_frames f;

    f.in = in;
    f.out = out;
    f.wide = 0;
    return a_weighting_run_side_by_side(s, &f, n);
}

int a_weighting_run_frames_int32(a_weighting_state *s, const int32_t *in, int32_t *out, int n)
{
    a_weighting_frames f;

    f.in32 = in;
    f.out32 = out;
    f.wide = 1;
    return a_weighting_run_side_by_side(s, &f, n);
}

#undef A_WEIGHTING_AS_WRITTEN
#if defined __GNUC__ && !defined __clang__
#pragma GCC pop_options
#endif
