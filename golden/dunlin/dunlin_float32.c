/*
 * dunlin_float32.c: the loudspeaker filters of "dunlin", tables and code
 * Spec SHA-256 f8c37e765636524f76afc56730fc49a53da092a23530c7a6f16b91c253883514
 *
 * Compile this file with the program; dunlin_float32.h tells all about it.
 *
 * MISRA C:2012, deviations from required and advisory rules:
 *   2.2         sums and products with counts that are 0 or 1 in this program
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
#include "dunlin_float32.h"

#include <float.h>
#include <string.h>

/* (FLT_RADIX stands in float.h. A program that looks through this file without it goes on.) */
#if defined FLT_RADIX && (FLT_RADIX != 2 || FLT_MANT_DIG != 24)
#error "dunlin: float must be an IEEE 754 number of 32 bits here"
#endif
#if defined FLT_RADIX && (FLT_EVAL_METHOD != 0 && FLT_EVAL_METHOD != 16)
#error "dunlin: float must be computed as float; on a 32-bit x86 use -msse2 -mfpmath=sse"
#endif
#if defined __FAST_MATH__ || defined __ASSOCIATIVE_MATH__
#error "dunlin: compile without -ffast-math, -funsafe-math-optimizations, -fassociative-math"
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
#define DUNLIN_AS_WRITTEN
#elif defined __clang__ && __clang_major__ >= 13
#define DUNLIN_AS_WRITTEN _Pragma("clang fp contract(off) reassociate(off)")
#else
#define DUNLIN_AS_WRITTEN _Pragma("STDC FP_CONTRACT OFF")
#endif

/* To run at fewer rates, define DUNLIN_ONLY_ with the rate for each that shall stay. */
#if !(defined DUNLIN_ONLY_48000)
#define DUNLIN_ONLY_48000
#endif

/* Single samples have code of their own, which DUNLIN_NO_SINGLES leaves out: they are
 * blocks of one then. */

/* Loops stand in functions of their own. What runs rarely is compiled for size, and so is what runs
 * once a block and not in lanes: but not what alone calls the loops, rare to gcc then. */
#if defined __GNUC__
#define DUNLIN_NOINLINE __attribute__((noinline))
#define DUNLIN_COLD __attribute__((noinline, cold))
#define DUNLIN_INLINE inline __attribute__((always_inline)) /* at -Os, too */
#else
#define DUNLIN_NOINLINE
#define DUNLIN_COLD
#define DUNLIN_INLINE inline
#endif
#if defined __GNUC__ && (defined __SSE2__ || defined __aarch64__) && !defined DUNLIN_NO_LANES
#define DUNLIN_SMALL DUNLIN_NOINLINE
#else
#define DUNLIN_SMALL DUNLIN_COLD
#endif
#ifdef DUNLIN_NO_SINGLES
#define DUNLIN_BLOCKS DUNLIN_NOINLINE
#else
#define DUNLIN_BLOCKS DUNLIN_SMALL
#endif

#define DUNLIN_READY 0xe8ed2fbdu /* of this spec in this format */
#define DUNLIN_CHECK 0x8eeb7d77u
#define DUNLIN_TICK 32u /* samples between two looks at what is asked for */
#define DUNLIN_REST 128u /* and between two looks for sections that have come to rest */
#define DUNLIN_HISTORY 3 /* samples of the blocks before that stand in front of one */
/* dunlin_bits without the sign, << 1, of what is no sample. */
#define DUNLIN_GARBAGE 0xbf000000u
#if defined __GNUC__ && defined __arm__ && defined __ARM_FP
#define DUNLIN_SEVERAL /* registers that lie beside each other are moved in one instruction */
#endif

/* Words of a list, one a pass: where the row of its first section begins, which those of the others
 * follow, their kind (1 direct, 2 delta without b1 and b2, 3 delta)
 * and how many they are; 0 is the end. */
#define DUNLIN_ROW 0x7ffu
#define DUNLIN_HEAD 11 /* bits below */
#define DUNLIN_ONE_MORE (1u << 13)
#define DUNLIN_FULL 0x6000u /* from there on a pass takes no more */
#define DUNLIN_NONE 255u /* the alternative that changes nothing and has no row */

/* ---- tables --------------------------------------------------------------------------- */

#ifndef DUNLIN_NO_SINGLES
/* What a single sample finds in a row of the table of sections. */
typedef struct {
    float b0;
    float a1;
    float a2;
    float b1;
    float b2;
} dunlin_section_words;
#endif

typedef struct {
    unsigned char word; /* among the lists: that for its first alternative */
    unsigned char pick; /* of dunlin_pick_table: the alternative of every combination */
    unsigned char stride[DUNLIN_SETTINGS]; /* of each setting's choices */
} dunlin_switch_entry;

typedef struct {
    float gain; /* with the polarity as sign */
    unsigned char delay; /* samples that a way is late, the common part's too; there the longest */
    int8_t list; /* where the list of what always runs begins */
    int8_t from; /* the memory of that */
    int8_t split; /* of what settings pick, behind that of all that always runs */
    int8_t first; /* the first position of that */
    int8_t end; /* behind the last; what runs beside has memory from first on */
#ifndef DUNLIN_NO_SINGLES
    uint16_t forms; /* of what always runs, 2 bits a section, the first in the highest */
#endif
} dunlin_cascade_entry;

typedef struct {
    uint32_t rate_hz;
    const float *sections; /* rows of words */
    const uint16_t *lists; /* words for what settings pick, then the lists of what always runs */
    int16_t settle; /* samples that new sections run unheard */
    int16_t fade; /* samples of a fade */
    float step; /* 1 / fade */
    dunlin_cascade_entry cascade[1 + DUNLIN_WAYS]; /* common, then the ways */
} dunlin_rate_entry;

static const unsigned char dunlin_pick_table[2] = {
    255u, 0u
};

/* Which of the switches below each position is that settings change, at every rate. */
static const unsigned char dunlin_position_table[2] = {
    0u, 0u
};
static const dunlin_switch_entry dunlin_switch_table[1] = {
    { 0u, 0u, { 1u } }
};

/* b0, a1, a2, b1, b2 of every section, delta without b1 and b2: the first 3. Above each:
 * - rate, way and number;
 * - the line of the spec, and the frequency and Q that its poles ring at (those of a shelf lie
 *   beside the line's own). Lines of one way that are made together share their zeros: there it
 *   is the line whose poles these are, and the way where no line has them;
 * - form, and computed error in this format re the section's greatest gain. */
#ifdef DUNLIN_ONLY_48000
static const float dunlin_sections_48000[29] = {
    /* 48000 Hz, common 0: common[0] high-pass, poles at 70 Hz, Q 0.707; delta, -133 dB */
    0.9935417f, 0.012958228f, 8.341794e-05f,
    /* 48000 Hz, woofer 0: crossovers[0] low-pass, poles at 2.294 kHz, Q 0.706; delta, -141 dB */
    0.00041251452f, 0.41940963f, 0.072899245f, 0.012610228f, 0.07289208f,
    /* 48000 Hz, woofer 1: crossovers[0] low-pass, poles at 2.507 kHz, Q 0.713; delta, -141 dB */
    0.059544027f, 0.4544921f, 0.085531704f, 0.14656259f, 0.08553162f,
    /* 48000 Hz, woofer 2: ways.woofer.filters[0] peak, poles at 899.1 Hz, Q 1.24; delta, -146 dB */
    0.9894904f, 0.103526816f, 0.013200196f, 0.084878616f, 0.013200973f,
    /* 48000 Hz, tweeter 0: crossovers[0] high-pass, poles at 2.404 kHz, Q 0.694; delta, -144 dB */
    0.7977359f, 0.44371927f, 0.07898536f,
    /* 48000 Hz, tweeter 1: crossovers[0] high-pass, poles at 2.395 kHz, Q 0.721; delta, -145 dB */
    0.8038436f, 0.43179023f, 0.07907119f,
    /* 48000 Hz, woofer and tweeter: by choice; delta, -145 dB */
    /* placement shelf: common[1] low-shelf, poles at 196.2 Hz, Q 0.700 */
    0.9970946f, 0.03667817f, 0.00064781785f, 0.03077388f, 0.00045861996f
    /* placement stand: straight through */
};
static const uint16_t dunlin_lists_48000[7] = {
    14360u, 12288u, 0u, 30723u, 0u, 20498u, 0u
};
#endif

#ifdef DUNLIN_NO_SINGLES
#define DUNLIN_FORMS(forms)
#else
#define DUNLIN_FORMS(forms) , (forms)
#endif

static const dunlin_rate_entry dunlin_rate_table[] = {
#ifdef DUNLIN_ONLY_48000
    { 48000u, dunlin_sections_48000, dunlin_lists_48000, 1120, 480, 0.0020833334f, {
        { 1.0f, 3u, 1, 0, 6, 0, 0 DUNLIN_FORMS(0x8000u) }, /* common */
        { 1.0f, 0u, 3, 1, 6, 0, 1 DUNLIN_FORMS(0xfc00u) }, /* woofer */
        { 0.70794576f, 3u, 5, 4, 7, 1, 2 DUNLIN_FORMS(0xa000u) } /* tweeter */
    } },
#endif
};

#define DUNLIN_RATES ((int32_t)(sizeof dunlin_rate_table / sizeof dunlin_rate_table[0]))

const char dunlin_placement_names[DUNLIN_PLACEMENT_CHOICES][6] = {
    "stand",
    "shelf"
};

/* ---- filters -------------------------------------------------------------------------- */

/* The bits of x: without the sign they grow with its size. */
static inline uint32_t dunlin_bits(float x)
{
    uint32_t bits;

    (void)memcpy(&bits, &x, sizeof bits);
    return bits;
}

/* A sample of 32 bits, -2^31 to 2^31 - 1, re full scale. */
static inline float dunlin_from_int32(int32_t x)
{
    return (float)x * (float)(1.0 / 2147483648.0);
}

/* The nearest sample of 32 bits, limited to what there is. */
static inline int32_t dunlin_to_int32(float x)
{
    const float scaled = x * (float)2147483648.0;
    const float above = scaled > (float)-2147483648.0 ? scaled : (float)-2147483648.0;
    const float inside = above < (float)2147483647.0 ? above : (float)0;
    const int32_t whole = (int32_t)inside;
    const float rest = inside - (float)whole;
    const int32_t near = whole + (int32_t)(rest + rest); /* 1 from a half on */

    return above < (float)2147483647.0 ? near : INT32_MAX;
}

#ifdef DUNLIN_SEVERAL
/* Words of the table, and what sections remember, go into registers beside each other, and back,
 * in one instruction; nothing is computed there. */
static DUNLIN_INLINE void dunlin_first(const float **from, float *to)
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

static DUNLIN_INLINE void dunlin_first_states(const dunlin_memory *m, dunlin_memory *is)
{
    register float p_0 __asm__("s6");
    register float q_0 __asm__("s7");

    __asm__("vldmia %2, {s6-s7}"
            : "=t"(p_0), "=t"(q_0)
            : "r"(m), "m"(m[0]));
    is[0].p = p_0;
    is[0].q = q_0;
}

static DUNLIN_INLINE void dunlin_keep_first(dunlin_memory *m, const dunlin_memory *is)
{
    register float p_0 __asm__("s6");
    register float q_0 __asm__("s7");

    p_0 = is[0].p;
    q_0 = is[0].q;
    __asm__("vstmia %1, {s6-s7}"
            : "=m"(m[0])
            : "r"(m), "t"(p_0), "t"(q_0));
}

static DUNLIN_INLINE void dunlin_words_2(const float *from, float *to)
{
    register float word_0 __asm__("s14");
    register float word_1 __asm__("s15");

    __asm__("vldmia %2, {s14-s15}"
            : "=t"(word_0), "=t"(word_1)
            : "r"(from), "m"(from[0]), "m"(from[1]));
    to[0] = word_0;
    to[1] = word_1;
}

static DUNLIN_INLINE void dunlin_words_12(const float *from, float *to)
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

static DUNLIN_INLINE void dunlin_states_2(const dunlin_memory *m, dunlin_memory *is)
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

static DUNLIN_INLINE void dunlin_keep_states_2(dunlin_memory *m, const dunlin_memory *is)
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

static DUNLIN_INLINE void dunlin_words_3(const float *from, float *to)
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

static DUNLIN_INLINE void dunlin_states_1(const dunlin_memory *m, dunlin_memory *is)
{
    register float p_0 __asm__("s8");
    register float q_0 __asm__("s9");

    __asm__("vldmia %2, {s8-s9}"
            : "=t"(p_0), "=t"(q_0)
            : "r"(m), "m"(m[0]));
    is[0].p = p_0;
    is[0].q = q_0;
}

static DUNLIN_INLINE void dunlin_keep_states_1(dunlin_memory *m, const dunlin_memory *is)
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
 * in registers. Those that begin no list have no gain; an empty list is the gain alone. n is not 0.
 * What returns is where the next list begins. */
static DUNLIN_NOINLINE const uint16_t * dunlin_run_list(const float *table,
        const uint16_t *list, dunlin_memory *m, float gain, const float *from, float *to, int n)
{
    DUNLIN_AS_WRITTEN
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
        const float *w = &table[word & DUNLIN_ROW];
        const unsigned int head = word >> DUNLIN_HEAD;
        float *at = to;
#ifdef DUNLIN_SEVERAL
        float first[3];
        dunlin_memory is;

        dunlin_first(&w, first);
        dunlin_first_states(m, &is);
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
#ifdef DUNLIN_SEVERAL
            float words[2];

            dunlin_words_2(w, words);
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
        case 15u: { /* delta, 3 */
#ifdef DUNLIN_SEVERAL
            float words[12];
            dunlin_memory more[2];

            dunlin_words_12(w, words);
            dunlin_states_2(&m[1], more);
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
#ifdef DUNLIN_SEVERAL
            more[0].p = p_1;
            more[0].q = q_1;
            more[1].p = p_2;
            more[1].q = q_2;
            dunlin_keep_states_2(&m[1], more);
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
        case 10u: { /* delta without b1 and b2, 2 */
#ifdef DUNLIN_SEVERAL
            float words[3];
            dunlin_memory more[1];

            dunlin_words_3(w, words);
            dunlin_states_1(&m[1], more);
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
                const float x = gain * *from;
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
#ifdef DUNLIN_SEVERAL
            more[0].p = p_1;
            more[0].q = q_1;
            dunlin_keep_states_1(&m[1], more);
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
#ifdef DUNLIN_SEVERAL
        is.p = p_0;
        is.q = q_0;
        dunlin_keep_first(m, &is);
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

/* What ways hear late stands in front of now: the last samples of the blocks before, as many as the
 * longest delay has. */
static void dunlin_recall(const dunlin_rate_entry *rate, const dunlin_channel_state *ch,
        float *now)
{
    const int span = (int)rate->cascade[0].delay;
    const int k = (int)ch->delay_at;

    (void)memcpy(&now[-span], &ch->delay[k], (size_t)(span - k) * sizeof *now);
    (void)memcpy(&now[-k], ch->delay, (size_t)k * sizeof *now);
}

/* The last of n samples of now are remembered, and what is in front of them, the oldest first. */
static void dunlin_remember(const dunlin_rate_entry *rate, dunlin_channel_state *ch,
        const float *now, int n)
{
    const int span = (int)rate->cascade[0].delay;

    (void)memcpy(ch->delay, &now[n - span], (size_t)span * sizeof *now);
    ch->delay_at = 0u;
}

/* n samples of a fade, from its sample from on: from io to other, or where there is no other from
 * silence to io; way is 1, or -1 to go back. */
static DUNLIN_COLD void dunlin_fade(float *io, const float *other, float step,
        int32_t from, int32_t way, int n)
{
    DUNLIN_AS_WRITTEN
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
static DUNLIN_COLD uint16_t *dunlin_make_list(const dunlin_rate_entry *rate,
        const dunlin_channel_state *ch, int c, uint16_t *list)
{
    const dunlin_cascade_entry *cascade = &rate->cascade[c];
    uint16_t *next = list;
    unsigned int follows = 0u; /* the word of the row behind the last one, of the same form */
    int k;
    int i;

    for (k = cascade->first; k < cascade->end; k++) {
        const dunlin_switch_entry *choices = &dunlin_switch_table[dunlin_position_table[k]];
        unsigned int pick = choices->pick;
        unsigned int alternative;

        for (i = 0; i < DUNLIN_SETTINGS; i++) {
            pick += (unsigned int)choices->stride[i] * ch->chosen[i];
        }
        alternative = dunlin_pick_table[pick];
        if (alternative != DUNLIN_NONE) {
            const unsigned int word = rate->lists[choices->word + alternative];

            if (word == follows && next != list && next[-1] < DUNLIN_FULL) { /* one more */
                next[-1] = (uint16_t)(next[-1] + DUNLIN_ONE_MORE);
            } else {
                *next = (uint16_t)word;
                next++;
            }
            follows = word + ((word >> DUNLIN_HEAD & 3u) == 2u ? 3u : 5u);
        }
    }
    *next = 0u;
    return next + 1;
}

/* What cascade c goes over to while a setting changes, over n samples: io, behind what always
 * runs, -> beside. */
static DUNLIN_COLD void dunlin_run_beside(const dunlin_rate_entry *rate,
        dunlin_channel_state *ch, int c, const float *io, float *beside, int n)
{
    const dunlin_cascade_entry *cascade = &rate->cascade[c];
    uint16_t list[DUNLIN_SWITCHES + 1];
    (void)dunlin_make_list(rate, ch, c, list);
    (void)dunlin_run_list(rate->sections, list, &ch->then[cascade->first],
        1.0f, io, beside, n);
}

/* Gain and sections of cascade c over n samples, from -> io. What returns is where
 * the list of what settings pick begins of the next one. */
static inline const uint16_t * dunlin_run_cascade(const dunlin_rate_entry *rate,
        dunlin_channel_state *ch, int c, const uint16_t *picked,
        const float *from, float *io, float *beside, int n)
{
    const dunlin_cascade_entry *cascade = &rate->cascade[c];

    (void)dunlin_run_list(rate->sections, &rate->lists[cascade->list], &ch->now[cascade->from],
        cascade->gain, from, io, n);
    if (ch->change >= 0 && cascade->end > cascade->first) {
        dunlin_run_beside(rate, ch, c, io, beside, n);
    }
    return *picked == 0u ? picked + 1
        : dunlin_run_list(rate->sections, picked, &ch->now[cascade->split],
            1.0f, io, io, n);
}

/* The common part over n samples of one channel: in[i] -> now[i].
 * What returns are the samples before garbage. */
static int dunlin_run_common(const dunlin_rate_entry *rate, dunlin_channel_state *ch,
        const float *in, float *now, int n)
{
    DUNLIN_AS_WRITTEN
    uint32_t sizes = 0u;
    int good = n;
    int i;

    if (ch->fresh != 0u || ch->dead != 0u) {
        good = 0;
    }
    for (i = 0; i < good; i++) {
        sizes |= dunlin_bits(in[i]);
    }
    if ((sizes << 1) >= DUNLIN_GARBAGE) { /* perhaps */
        good = 0;
        while (good < n && (dunlin_bits(in[good]) << 1) < DUNLIN_GARBAGE) {
            good++;
        }
        if (good < n) {
            ch->dead = 1u;
            ch->calm = 0u;
        }
    }
    dunlin_recall(rate, ch, now);
    if (good > 0) {
        (void)dunlin_run_list(rate->sections, &rate->lists[rate->cascade[0].list],
            &ch->now[rate->cascade[0].from], rate->cascade[0].gain, in, now, good);
    }
    return good;
}

/* A way that is not calm: fades, and silence behind good samples. */
static DUNLIN_COLD void dunlin_shade(const dunlin_rate_entry *rate,
        const dunlin_channel_state *ch, const dunlin_cascade_entry *cascade,
        float *io, const float *beside, int good, int n)
{
    int heard = good;
    int i;
    if (ch->change >= rate->settle && cascade->end > cascade->first) {
        dunlin_fade(io, beside, rate->step, ch->change - rate->settle, 1, good);
    }
    if (ch->step != 0) {
        dunlin_fade(io, NULL, rate->step, ch->open, ch->step, good);
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
static void dunlin_run_ways(const dunlin_rate_entry *rate, dunlin_channel_state *ch,
        const float *now, int good, float *const *out, int at, int n)
{
    float beside[DUNLIN_TICK];
    const uint16_t *picked = &ch->list[1]; /* behind that of the common part, which is empty */
    int c;

    for (c = 1; c <= DUNLIN_WAYS; c++) {
        const dunlin_cascade_entry *cascade = &rate->cascade[c];
        float *io = &out[c - 1][at];
        const float *from = &now[-(int)cascade->delay];

        if (good > 0) {
            picked = dunlin_run_cascade(rate, ch, c, picked, from, io, beside, good);
        }
        if (ch->calm == 0u) {
            dunlin_shade(rate, ch, &rate->cascade[c], io, beside, good, n);
        }
    }
    if (ch->calm == 0u) {
        if (ch->change >= 0) {
            ch->change = (int16_t)(ch->change + n);
        }
        ch->open = (int16_t)(ch->open + (ch->step * n));
    }
    dunlin_remember(rate, ch, now, good);
}

/* n samples of one channel, none beyond a tick: in[i] -> out[way][at + i]. */
static DUNLIN_NOINLINE void dunlin_run_block(const dunlin_rate_entry *rate, dunlin_channel_state *ch,
        const float *in, float *const *out, int at, int n)
{
    float block[DUNLIN_HISTORY + (int)DUNLIN_TICK];
    float *const now = &block[DUNLIN_HISTORY];
    int good;
    good = dunlin_run_common(rate, ch, in, now, n);
    dunlin_run_ways(rate, ch, now, good, out, at, n);
}

#ifndef DUNLIN_NO_SINGLES

/* Where there is DUNLIN_SEVERAL, words go from memory into registers beside each other, and back,
 * in one instruction; nothing is computed there. */
/* A row of 3 words, and the next row is next. */
static DUNLIN_INLINE void dunlin_row_3(const float **w, dunlin_section_words *row)
{
#ifdef DUNLIN_SEVERAL
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
static DUNLIN_INLINE void dunlin_row_5(const float **w, dunlin_section_words *row)
{
#ifdef DUNLIN_SEVERAL
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
static inline dunlin_memory dunlin_load_0(const dunlin_memory *m)
{
#ifdef DUNLIN_SEVERAL
    register float p __asm__("s2");
    register float q __asm__("s3");
    dunlin_memory is;

    __asm__("vldmia %2, {s2-s3}" : "=t"(p), "=t"(q) : "r"(m), "m"(*m));
    is.p = p;
    is.q = q;
    return is;
#else
    return *m;
#endif
}

/* What it shall remember, and the next section is next. */
static inline void dunlin_keep_0(dunlin_memory **m, dunlin_memory is)
{
#ifdef DUNLIN_SEVERAL
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
/* A row of the table. */
static DUNLIN_COLD const float *dunlin_row_at(const dunlin_rate_entry *rate,
        unsigned int row)
{
    return &rate->sections[row];
}

/* One sample of a channel that is calm: x -> out[way][0].
 * What always runs of all cascades stands in the order in which it runs, rows as well as memory. */
static inline void dunlin_step(const dunlin_rate_entry *rate,
        dunlin_channel_state *ch_0, float x_0,
        float *const *out_0)
{
    DUNLIN_AS_WRITTEN
    const dunlin_cascade_entry *cascade = &rate->cascade[0];
    const dunlin_cascade_entry *stop = &rate->cascade[DUNLIN_WAYS];
    const float *w = rate->sections;
    dunlin_memory *m_0 = ch_0->now;
    const uint16_t *picked = ch_0->list;
    const float *always = w; /* the next row of what always runs, while others are picked */
    const int at = (int)ch_0->delay_at;
    const int span = (int)rate->cascade[0].delay;
    float now_0;
    float *to_0 = &now_0;

    x_0 = cascade->gain * x_0;
    for (;;) {
        uint32_t forms = (uint32_t)cascade->forms << 16;
        uint16_t some = cascade->forms;

        for (;;) {
            unsigned int word;

            if (some != 0u) {
                do {
                    dunlin_section_words row;
                    dunlin_memory is_0 = dunlin_load_0(m_0);

                    if (forms >= 0xc0000000u) { /* delta */
                        dunlin_row_5(&w, &row);
                        const float b1x_0 = row.b1 * x_0;
                        const float b2x_0 = row.b2 * x_0;
                        const float y_0 = row.b0 * x_0 + is_0.p;
                        is_0.p = is_0.p + ((is_0.q + b1x_0) - row.a1 * y_0);
                        is_0.q = (is_0.q + b2x_0) - row.a2 * y_0;
                        x_0 = y_0;
                    } else { /* delta without b1 and b2 */
                        dunlin_row_3(&w, &row);
                        const float y_0 = row.b0 * x_0 + is_0.p;
                        is_0.p = is_0.p + (is_0.q - row.a1 * y_0);
                        is_0.q = is_0.q - row.a2 * y_0;
                        x_0 = y_0;
                    }
                    dunlin_keep_0(&m_0, is_0);
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
                stop = cascade;
                always = w;
            }
            w = dunlin_row_at(rate, word & DUNLIN_ROW);
            forms = ((word >> DUNLIN_HEAD & 3u) * 0x55555555u) << (32u - ((word >> 13) * 2u));
            some = 1u;
        }
        *to_0 = x_0;
        if (cascade == stop) {
            stop = &rate->cascade[DUNLIN_WAYS];
            if (cascade == stop) {
                break;
            }
            w = always;
            m_0 = &ch_0->now[cascade[1].from];
        }
        cascade++;
        to_0 = *out_0;
        out_0++;
        x_0 = now_0;
        if (cascade->delay > 0u) {
            int before = at - (int)cascade->delay;

            if (before < 0) {
                before += span;
            }
            x_0 = ch_0->delay[before];
        }
        x_0 = cascade->gain * x_0;
    }
    ch_0->delay[at] = now_0;
    ch_0->delay_at = (unsigned char)(at + 1 < span ? at + 1 : 0);
}


#endif

/* Samples side by side, in the words of the filters or of 32 bits, and a channel's own. */
typedef struct dunlin_frames dunlin_frames;
struct dunlin_frames {
    const float *in;
    float *out;
    const int32_t *in32; /* where they are wide */
    int32_t *out32;
    int wide;
#ifndef DUNLIN_NO_SINGLES
    dunlin_state *s;
#endif
    /* Takes samples through their filters: by a pointer, so that programs without frames are
     * linked without it. */
    int (*through)(dunlin_frames *f, const dunlin_rate_entry *rate,
        dunlin_channel_state *ch, int k, int n, int apart);
    const float *ins[DUNLIN_CHANNELS];
    float *outs[DUNLIN_CHANNELS * DUNLIN_WAYS];
    float from[DUNLIN_TICK];
    float to[DUNLIN_WAYS][DUNLIN_TICK];
};
/* ---- lanes ---------------------------------------------------------------------------- */

/* Where the compiler has vectors, the ways of all channels go through their sections side by side;
 * those that have no more go through sections that change nothing, to the bit. The same operations
 * in the same order give the same bits. Words and states of the ways stand in lanes of the state as
 * long as no channel fades, so that a single sample costs nothing to get there; what the channels
 * themselves remember of their ways is out of date then. */
#if defined __GNUC__ && (defined __SSE2__ || defined __aarch64__) && !defined DUNLIN_NO_LANES
#define DUNLIN_LANES 4 /* in a vector */
#define DUNLIN_GROUPS 1 /* vectors that hold all lanes */
#define DUNLIN_DEEP 6 /* sections of a lane, with those that a last pass has too many */
#define DUNLIN_LONG 64 /* the most samples at once */
#define DUNLIN_SAVING 3 /* half sections that one of all lanes has to stand for */

/* So that the loops over n samples are ones over one sample elsewhere. */
#define DUNLIN_ALWAYS __attribute__((always_inline))

typedef float dunlin_lanes __attribute__((vector_size(16)));
typedef int32_t dunlin_marks __attribute__((vector_size(16)));
typedef float dunlin_short __attribute__((vector_size(16)));
typedef int32_t dunlin_short_marks __attribute__((vector_size(16)));

/* Words of two vectors in another order. */
#if defined __clang__ || __GNUC__ >= 12
#define DUNLIN_SHUFFLE(a, b, ...) __builtin_shufflevector(a, b, __VA_ARGS__)
#else
#define DUNLIN_SHUFFLE(a, b, ...) __builtin_shuffle(a, b, (dunlin_short_marks){ __VA_ARGS__ })
#endif

/* Lanes of b where those of the mask are negative, otherwise of a, in one instruction. */
#if defined __SSE4_1__ && defined __has_builtin
#if __has_builtin(__builtin_ia32_blendvps)
#define DUNLIN_BLEND(a, b, mask) __builtin_ia32_blendvps(a, b, mask)
#endif
#endif

/* Loops that clang leaves as they stand. */
#ifdef __clang__
#define DUNLIN_ROLLED _Pragma("clang loop unroll(disable)")
#else
#define DUNLIN_ROLLED
#endif

/* Vectors, and each lane of them. */
typedef union {
    dunlin_lanes all;
    float one[DUNLIN_LANES];
} dunlin_lane_words;

typedef union {
    dunlin_marks all;
    int32_t one[DUNLIN_LANES];
} dunlin_lane_marks;

/* Section k of every lane. */
typedef struct {
    dunlin_lane_words word[7]; /* b0, b1, b2, a1, a2, p, q */
    dunlin_lane_marks keep; /* all ones in a lane in the delta form, otherwise 0 */
    dunlin_lane_words zero; /* -0, which adds nothing, to the bit, in all others */
    dunlin_lane_words none; /* -0 in a lane that has no such section, otherwise 0 */
} dunlin_lane_section;

/* Lanes beside each other in one vector. */
typedef struct {
    dunlin_lane_section section[DUNLIN_DEEP];
    dunlin_lane_words gain;
    int32_t count[DUNLIN_LANES]; /* sections of each */
    /* Which one begins at a section: how many it takes, and 8 times the form; 0: the end. */
    unsigned char pass[DUNLIN_DEEP + 1];
    unsigned char alone[DUNLIN_DEEP + 1]; /* the same for a single sample, with 32 times the form */
} dunlin_lane_group;

/* All that the state keeps room for. */
typedef struct __attribute__((may_alias)) {
    dunlin_lane_group group[DUNLIN_GROUPS];
} dunlin_lane_store;

/* There is room for it, wherever in the state a whole vector begins. */
typedef char dunlin_lane_room[
    sizeof(dunlin_lane_store) + 16u <= sizeof(((dunlin_state *)0)->lanes) ? 1 : -1];

/* Where that begins, in bytes. */
static inline unsigned int dunlin_lanes_begin(const dunlin_state *s)
{
    return (16u - (unsigned int)((uintptr_t)s->lanes % 16u)) % 16u;
}

/* It, where lanes have been there since. */
static inline dunlin_lane_group *dunlin_lane_groups_at(dunlin_state *s)
{
    unsigned char *const room = (unsigned char *)s->lanes;

    return ((dunlin_lane_store *)(void *)&room[s->lanes_at])->group;
}

/* That of a state, which may have been copied to where whole vectors begin elsewhere. */
static inline dunlin_lane_group *dunlin_lane_groups(dunlin_state *s)
{
    unsigned char *const room = (unsigned char *)s->lanes;
    const unsigned int at = dunlin_lanes_begin(s);

    if (at != s->lanes_at) {
        (void)memmove(&room[at], &room[s->lanes_at], sizeof(dunlin_lane_store));
        s->lanes_at = (unsigned char)at;
    }
    return dunlin_lane_groups_at(s);
}

/* A state in lanes of the delta form, and -0 in all others. */
#ifdef DUNLIN_BLEND
static const dunlin_lanes dunlin_nothing = {
    -0.0f,
    -0.0f,
    -0.0f,
    -0.0f,
};
#define DUNLIN_BACK(state, s) \
    DUNLIN_BLEND(dunlin_nothing, state, (dunlin_lanes)(s).keep.all)
#else
#define DUNLIN_BACK(state, s) \
    ((dunlin_lanes)(((dunlin_marks)(state) & (s).keep.all) | (dunlin_marks)(s).zero.all))
#endif

/* Words stay in memory: there is no room for all in registers, and copies gain nothing. */
static inline DUNLIN_ALWAYS void dunlin_lanes_delta_3(dunlin_lane_section *s,
        dunlin_lane_words *io, int n)
{
    DUNLIN_AS_WRITTEN
    dunlin_lanes p_0 = s[0].word[5].all;
    dunlin_lanes q_0 = s[0].word[6].all;
    dunlin_lanes p_1 = s[1].word[5].all;
    dunlin_lanes q_1 = s[1].word[6].all;
    dunlin_lanes p_2 = s[2].word[5].all;
    dunlin_lanes q_2 = s[2].word[6].all;
    int i;

    for (i = 0; i < n; i++) {
        const dunlin_lanes x = io[i].all;
        const dunlin_lanes y_0 = s[0].word[0].all * x + p_0;
        const dunlin_lanes y_1 = s[1].word[0].all * y_0 + p_1;
        p_0 = p_0 + ((q_0 + s[0].word[1].all * x) - s[0].word[3].all * y_0);
        q_0 = (q_0 + s[0].word[2].all * x) - s[0].word[4].all * y_0;
        const dunlin_lanes y_2 = s[2].word[0].all * y_1 + p_2;
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

static inline DUNLIN_ALWAYS void dunlin_lanes_delta_5(dunlin_lane_section *s,
        dunlin_lane_words *io, int n)
{
    DUNLIN_AS_WRITTEN
    dunlin_lanes p_0 = s[0].word[5].all;
    dunlin_lanes q_0 = s[0].word[6].all;
    dunlin_lanes p_1 = s[1].word[5].all;
    dunlin_lanes q_1 = s[1].word[6].all;
    dunlin_lanes p_2 = s[2].word[5].all;
    dunlin_lanes q_2 = s[2].word[6].all;
    dunlin_lanes p_3 = s[3].word[5].all;
    dunlin_lanes q_3 = s[3].word[6].all;
    dunlin_lanes p_4 = s[4].word[5].all;
    dunlin_lanes q_4 = s[4].word[6].all;
    int i;

    for (i = 0; i < n; i++) {
        const dunlin_lanes x = io[i].all;
        const dunlin_lanes y_0 = s[0].word[0].all * x + p_0;
        const dunlin_lanes y_1 = s[1].word[0].all * y_0 + p_1;
        p_0 = p_0 + ((q_0 + s[0].word[1].all * x) - s[0].word[3].all * y_0);
        q_0 = (q_0 + s[0].word[2].all * x) - s[0].word[4].all * y_0;
        const dunlin_lanes y_2 = s[2].word[0].all * y_1 + p_2;
        p_1 = p_1 + ((q_1 + s[1].word[1].all * y_0) - s[1].word[3].all * y_1);
        q_1 = (q_1 + s[1].word[2].all * y_0) - s[1].word[4].all * y_1;
        const dunlin_lanes y_3 = s[3].word[0].all * y_2 + p_3;
        p_2 = p_2 + ((q_2 + s[2].word[1].all * y_1) - s[2].word[3].all * y_2);
        q_2 = (q_2 + s[2].word[2].all * y_1) - s[2].word[4].all * y_2;
        const dunlin_lanes y_4 = s[4].word[0].all * y_3 + p_4;
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

static inline DUNLIN_ALWAYS void dunlin_lanes_ragged_3(dunlin_lane_section *s,
        dunlin_lane_words *io, int n)
{
    DUNLIN_AS_WRITTEN
    dunlin_lanes p_0 = s[0].word[5].all;
    dunlin_lanes q_0 = s[0].word[6].all;
    dunlin_lanes p_1 = s[1].word[5].all;
    dunlin_lanes q_1 = s[1].word[6].all;
    dunlin_lanes p_2 = s[2].word[5].all;
    dunlin_lanes q_2 = s[2].word[6].all;
    int i;

    for (i = 0; i < n; i++) {
        const dunlin_lanes x = io[i].all;
        const dunlin_lanes y_0 = s[0].word[0].all * x + p_0;
        const dunlin_lanes y_1 = s[1].word[0].all * y_0 + p_1;
        p_0 = DUNLIN_BACK(p_0, s[0]) + ((q_0 + s[0].word[1].all * x) - s[0].word[3].all * y_0);
        p_0 = (dunlin_lanes)((dunlin_marks)p_0 | (dunlin_marks)s[0].none.all);
        q_0 = (DUNLIN_BACK(q_0, s[0]) + s[0].word[2].all * x) - s[0].word[4].all * y_0;
        const dunlin_lanes y_2 = s[2].word[0].all * y_1 + p_2;
        p_1 = DUNLIN_BACK(p_1, s[1]) + ((q_1 + s[1].word[1].all * y_0) - s[1].word[3].all * y_1);
        p_1 = (dunlin_lanes)((dunlin_marks)p_1 | (dunlin_marks)s[1].none.all);
        q_1 = (DUNLIN_BACK(q_1, s[1]) + s[1].word[2].all * y_0) - s[1].word[4].all * y_1;
        p_2 = DUNLIN_BACK(p_2, s[2]) + ((q_2 + s[2].word[1].all * y_1) - s[2].word[3].all * y_2);
        p_2 = (dunlin_lanes)((dunlin_marks)p_2 | (dunlin_marks)s[2].none.all);
        q_2 = (DUNLIN_BACK(q_2, s[2]) + s[2].word[2].all * y_1) - s[2].word[4].all * y_2;
        io[i].all = y_2;
    }
    s[0].word[5].all = p_0;
    s[0].word[6].all = q_0;
    s[1].word[5].all = p_1;
    s[1].word[6].all = q_1;
    s[2].word[5].all = p_2;
    s[2].word[6].all = q_2;
}

static inline DUNLIN_ALWAYS void dunlin_lanes_ragged_5(dunlin_lane_section *s,
        dunlin_lane_words *io, int n)
{
    DUNLIN_AS_WRITTEN
    dunlin_lanes p_0 = s[0].word[5].all;
    dunlin_lanes q_0 = s[0].word[6].all;
    dunlin_lanes p_1 = s[1].word[5].all;
    dunlin_lanes q_1 = s[1].word[6].all;
    dunlin_lanes p_2 = s[2].word[5].all;
    dunlin_lanes q_2 = s[2].word[6].all;
    dunlin_lanes p_3 = s[3].word[5].all;
    dunlin_lanes q_3 = s[3].word[6].all;
    dunlin_lanes p_4 = s[4].word[5].all;
    dunlin_lanes q_4 = s[4].word[6].all;
    int i;

    for (i = 0; i < n; i++) {
        const dunlin_lanes x = io[i].all;
        const dunlin_lanes y_0 = s[0].word[0].all * x + p_0;
        const dunlin_lanes y_1 = s[1].word[0].all * y_0 + p_1;
        p_0 = DUNLIN_BACK(p_0, s[0]) + ((q_0 + s[0].word[1].all * x) - s[0].word[3].all * y_0);
        p_0 = (dunlin_lanes)((dunlin_marks)p_0 | (dunlin_marks)s[0].none.all);
        q_0 = (DUNLIN_BACK(q_0, s[0]) + s[0].word[2].all * x) - s[0].word[4].all * y_0;
        const dunlin_lanes y_2 = s[2].word[0].all * y_1 + p_2;
        p_1 = DUNLIN_BACK(p_1, s[1]) + ((q_1 + s[1].word[1].all * y_0) - s[1].word[3].all * y_1);
        p_1 = (dunlin_lanes)((dunlin_marks)p_1 | (dunlin_marks)s[1].none.all);
        q_1 = (DUNLIN_BACK(q_1, s[1]) + s[1].word[2].all * y_0) - s[1].word[4].all * y_1;
        const dunlin_lanes y_3 = s[3].word[0].all * y_2 + p_3;
        p_2 = DUNLIN_BACK(p_2, s[2]) + ((q_2 + s[2].word[1].all * y_1) - s[2].word[3].all * y_2);
        p_2 = (dunlin_lanes)((dunlin_marks)p_2 | (dunlin_marks)s[2].none.all);
        q_2 = (DUNLIN_BACK(q_2, s[2]) + s[2].word[2].all * y_1) - s[2].word[4].all * y_2;
        const dunlin_lanes y_4 = s[4].word[0].all * y_3 + p_4;
        p_3 = DUNLIN_BACK(p_3, s[3]) + ((q_3 + s[3].word[1].all * y_2) - s[3].word[3].all * y_3);
        p_3 = (dunlin_lanes)((dunlin_marks)p_3 | (dunlin_marks)s[3].none.all);
        q_3 = (DUNLIN_BACK(q_3, s[3]) + s[3].word[2].all * y_2) - s[3].word[4].all * y_3;
        p_4 = DUNLIN_BACK(p_4, s[4]) + ((q_4 + s[4].word[1].all * y_3) - s[4].word[3].all * y_4);
        p_4 = (dunlin_lanes)((dunlin_marks)p_4 | (dunlin_marks)s[4].none.all);
        q_4 = (DUNLIN_BACK(q_4, s[4]) + s[4].word[2].all * y_3) - s[4].word[4].all * y_4;
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
static inline DUNLIN_ALWAYS int dunlin_lane_pass(unsigned int pass,
        dunlin_lane_section *s, dunlin_lane_words *io, int n)
{
    switch (pass) {
    case 19u:
        dunlin_lanes_delta_3(s, io, n);
        break;
    case 21u:
        dunlin_lanes_delta_5(s, io, n);
        break;
    case 35u:
        dunlin_lanes_ragged_3(s, io, n);
        break;
    case 37u:
        dunlin_lanes_ragged_5(s, io, n);
        break;
    default:
        break;
    }
    return (int)(pass % 8u);
}

/* A single sample of every lane, io, through a group's sections. */
static inline DUNLIN_ALWAYS void dunlin_lane_alone(dunlin_lane_group *group, dunlin_lanes *io)
{
    DUNLIN_AS_WRITTEN
    dunlin_lanes x = *io;
    dunlin_lane_section *s = group->section;
    const unsigned char *run;

    for (run = group->alone; *run != 0u; run++) {
        unsigned int left = (unsigned int)*run % 32u;

        switch (*run / 32u) {
        case 2u: /* delta */
            DUNLIN_ROLLED
            for (; left > 4u; left -= 5u) {
                dunlin_lanes p_0 = s[0].word[5].all;
                dunlin_lanes q_0 = s[0].word[6].all;
                const dunlin_lanes y_0 = s[0].word[0].all * x + p_0;
                dunlin_lanes p_1 = s[1].word[5].all;
                dunlin_lanes q_1 = s[1].word[6].all;
                const dunlin_lanes y_1 = s[1].word[0].all * y_0 + p_1;
                p_0 = p_0 + ((q_0 + s[0].word[1].all * x) - s[0].word[3].all * y_0);
                s[0].word[5].all = p_0;
                q_0 = (q_0 + s[0].word[2].all * x) - s[0].word[4].all * y_0;
                s[0].word[6].all = q_0;
                dunlin_lanes p_2 = s[2].word[5].all;
                dunlin_lanes q_2 = s[2].word[6].all;
                const dunlin_lanes y_2 = s[2].word[0].all * y_1 + p_2;
                p_1 = p_1 + ((q_1 + s[1].word[1].all * y_0) - s[1].word[3].all * y_1);
                s[1].word[5].all = p_1;
                q_1 = (q_1 + s[1].word[2].all * y_0) - s[1].word[4].all * y_1;
                s[1].word[6].all = q_1;
                dunlin_lanes p_3 = s[3].word[5].all;
                dunlin_lanes q_3 = s[3].word[6].all;
                const dunlin_lanes y_3 = s[3].word[0].all * y_2 + p_3;
                p_2 = p_2 + ((q_2 + s[2].word[1].all * y_1) - s[2].word[3].all * y_2);
                s[2].word[5].all = p_2;
                q_2 = (q_2 + s[2].word[2].all * y_1) - s[2].word[4].all * y_2;
                s[2].word[6].all = q_2;
                dunlin_lanes p_4 = s[4].word[5].all;
                dunlin_lanes q_4 = s[4].word[6].all;
                const dunlin_lanes y_4 = s[4].word[0].all * y_3 + p_4;
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
            DUNLIN_ROLLED
            for (; left != 0u; left--) {
                dunlin_lanes p_0 = s[0].word[5].all;
                dunlin_lanes q_0 = s[0].word[6].all;
                const dunlin_lanes y_0 = s[0].word[0].all * x + p_0;
                p_0 = p_0 + ((q_0 + s[0].word[1].all * x) - s[0].word[3].all * y_0);
                s[0].word[5].all = p_0;
                q_0 = (q_0 + s[0].word[2].all * x) - s[0].word[4].all * y_0;
                s[0].word[6].all = q_0;
                x = y_0;
                s += 1;
            }
            break;
        case 4u: /* ragged */
            DUNLIN_ROLLED
            for (; left > 4u; left -= 5u) {
                dunlin_lanes p_0 = s[0].word[5].all;
                dunlin_lanes q_0 = s[0].word[6].all;
                const dunlin_lanes y_0 = s[0].word[0].all * x + p_0;
                dunlin_lanes p_1 = s[1].word[5].all;
                dunlin_lanes q_1 = s[1].word[6].all;
                const dunlin_lanes y_1 = s[1].word[0].all * y_0 + p_1;
                p_0 = DUNLIN_BACK(p_0, s[0]) + ((q_0 + s[0].word[1].all * x) - s[0].word[3].all
                    * y_0);
                p_0 = (dunlin_lanes)((dunlin_marks)p_0 | (dunlin_marks)s[0].none.all);
                s[0].word[5].all = p_0;
                q_0 = (DUNLIN_BACK(q_0, s[0]) + s[0].word[2].all * x) - s[0].word[4].all * y_0;
                s[0].word[6].all = q_0;
                dunlin_lanes p_2 = s[2].word[5].all;
                dunlin_lanes q_2 = s[2].word[6].all;
                const dunlin_lanes y_2 = s[2].word[0].all * y_1 + p_2;
                p_1 = DUNLIN_BACK(p_1, s[1]) + ((q_1 + s[1].word[1].all * y_0) -
                    s[1].word[3].all * y_1);
                p_1 = (dunlin_lanes)((dunlin_marks)p_1 | (dunlin_marks)s[1].none.all);
                s[1].word[5].all = p_1;
                q_1 = (DUNLIN_BACK(q_1, s[1]) + s[1].word[2].all * y_0) - s[1].word[4].all * y_1;
                s[1].word[6].all = q_1;
                dunlin_lanes p_3 = s[3].word[5].all;
                dunlin_lanes q_3 = s[3].word[6].all;
                const dunlin_lanes y_3 = s[3].word[0].all * y_2 + p_3;
                p_2 = DUNLIN_BACK(p_2, s[2]) + ((q_2 + s[2].word[1].all * y_1) -
                    s[2].word[3].all * y_2);
                p_2 = (dunlin_lanes)((dunlin_marks)p_2 | (dunlin_marks)s[2].none.all);
                s[2].word[5].all = p_2;
                q_2 = (DUNLIN_BACK(q_2, s[2]) + s[2].word[2].all * y_1) - s[2].word[4].all * y_2;
                s[2].word[6].all = q_2;
                dunlin_lanes p_4 = s[4].word[5].all;
                dunlin_lanes q_4 = s[4].word[6].all;
                const dunlin_lanes y_4 = s[4].word[0].all * y_3 + p_4;
                p_3 = DUNLIN_BACK(p_3, s[3]) + ((q_3 + s[3].word[1].all * y_2) -
                    s[3].word[3].all * y_3);
                p_3 = (dunlin_lanes)((dunlin_marks)p_3 | (dunlin_marks)s[3].none.all);
                s[3].word[5].all = p_3;
                q_3 = (DUNLIN_BACK(q_3, s[3]) + s[3].word[2].all * y_2) - s[3].word[4].all * y_3;
                s[3].word[6].all = q_3;
                p_4 = DUNLIN_BACK(p_4, s[4]) + ((q_4 + s[4].word[1].all * y_3) -
                    s[4].word[3].all * y_4);
                p_4 = (dunlin_lanes)((dunlin_marks)p_4 | (dunlin_marks)s[4].none.all);
                s[4].word[5].all = p_4;
                q_4 = (DUNLIN_BACK(q_4, s[4]) + s[4].word[2].all * y_3) - s[4].word[4].all * y_4;
                s[4].word[6].all = q_4;
                x = y_4;
                s += 5;
            }
            DUNLIN_ROLLED
            for (; left != 0u; left--) {
                dunlin_lanes p_0 = s[0].word[5].all;
                dunlin_lanes q_0 = s[0].word[6].all;
                const dunlin_lanes y_0 = s[0].word[0].all * x + p_0;
                p_0 = DUNLIN_BACK(p_0, s[0]) + ((q_0 + s[0].word[1].all * x) - s[0].word[3].all
                    * y_0);
                p_0 = (dunlin_lanes)((dunlin_marks)p_0 | (dunlin_marks)s[0].none.all);
                s[0].word[5].all = p_0;
                q_0 = (DUNLIN_BACK(q_0, s[0]) + s[0].word[2].all * x) - s[0].word[4].all * y_0;
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
static DUNLIN_NOINLINE void dunlin_lane_passes(dunlin_lane_group *group, dunlin_lane_words *x, int n)
{
    int k = 0;

    while (group->pass[k] != 0u) {
        k += dunlin_lane_pass(group->pass[k], &group->section[k], x, n);
    }
}

/* The sections of a list in lane l, from number k on, with what they remember. */
static int dunlin_lane_fill(const float *table, const uint16_t *list,
        const dunlin_memory *m, dunlin_lane_group *group, int l, int k)
{
    for (; *list != 0u; list++) {
        const float *w = &table[*list & DUNLIN_ROW];
        const unsigned int length = (((unsigned int)*list >> DUNLIN_HEAD & 3u) == 2u ? 3u : 5u);
        const int delta = ((unsigned int)*list >> DUNLIN_HEAD & 3u) != 1u ? 1 : 0;
        unsigned int left = (unsigned int)*list >> 13;

        for (; left > 0u; left--) {
            dunlin_lane_section *to = &group->section[k];
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
static inline const uint16_t *dunlin_behind(const uint16_t *list)
{
    while (*list != 0u) {
        list++;
    }
    return list + 1;
}

/* A lane's sections; behind its last one some that change nothing. */
static void dunlin_lane_enter(const dunlin_rate_entry *rate, const dunlin_channel_state *ch, int way,
        dunlin_lane_group *group, int l)
{
    const dunlin_cascade_entry *cascade = &rate->cascade[way];
    const uint16_t *picked = ch->list;
    int i;
    int k = dunlin_lane_fill(rate->sections, &rate->lists[cascade->list],
        &ch->now[cascade->from], group, l, 0);
    for (i = 0; i < way; i++) {
        picked = dunlin_behind(picked);
    }
    k = dunlin_lane_fill(rate->sections, picked, &ch->now[cascade->split], group, l, k);
    group->count[l] = k;
    group->gain.one[l] = cascade->gain;
    for (; k < DUNLIN_DEEP; k++) {
        dunlin_lane_section *to = &group->section[k];
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
static unsigned int dunlin_lane_forms(const dunlin_lane_group *group, int from, int sections,
        int least)
{
    unsigned int forms = 0u;
    int l;

    for (l = 0; l < DUNLIN_LANES * sections; l++) {
        const int k = from + l / DUNLIN_LANES;

        forms |= group->section[k].keep.one[l % DUNLIN_LANES] == 0 ? 1u : 2u;
    }
    return from + sections > least ? 4u : forms;
}

/* How single samples take a group's sections: those of one form in a row at once, with others
 * that follow where going along costs less than beginning anew. */
static void dunlin_lane_plan_alone(dunlin_lane_group *group, int least, int most)
{
    /* Operations of each form that direct ones do without. */
    static const int dunlin_lane_more[] = { 0, 0, 1, 5, 6 };
    unsigned char *run = group->alone;
    unsigned int form = 0u;
    int count = 0;
    int k = 0;

    (void)memset(group->alone, 0, sizeof group->alone);
    while (k < most) {
        const unsigned int next = dunlin_lane_forms(group, k, 1, least);
        const unsigned int any = form | next;
        const unsigned int both = any < 4u ? any : 4u;
        int n = 1;
        int cost;

        while (n < 31 && k + n < most
                && dunlin_lane_forms(group, k + n, 1, least) == next) {
            n++;
        }
        cost = count * (dunlin_lane_more[both] - dunlin_lane_more[form])
            + n * (dunlin_lane_more[both] - dunlin_lane_more[next]);
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
static int dunlin_lane_plan(dunlin_lane_group *group)
{
    int least = group->count[0];
    int most = least;
    int k;
    int l;

    for (l = 1; l < DUNLIN_LANES; l++) {
        least = group->count[l] < least ? group->count[l] : least;
        most = group->count[l] > most ? group->count[l] : most;
    }
    (void)memset(group->pass, 0, sizeof group->pass);
    for (k = 0; k < most;) {
        const int left = most - k;
        const int sections = left > 3 && left != 6 ? 5 : 3;
        const unsigned int forms = dunlin_lane_forms(group, k, sections, least);

        group->pass[k] = (unsigned char)(forms * 8u + (unsigned int)sections);
        k += sections;
    }
    dunlin_lane_plan_alone(group, least, most);
    return most;
}

/* How many lanes of a group there are. */
static int dunlin_lanes_used(int group)
{
    const int left = DUNLIN_CHANNELS * DUNLIN_WAYS - group * DUNLIN_LANES;

    return left < DUNLIN_LANES ? left : DUNLIN_LANES;
}

/* All ways begin to run in lanes where that saves anything. */
static DUNLIN_COLD void dunlin_enter_lanes(dunlin_state *s)
{
    const dunlin_rate_entry *rate = &dunlin_rate_table[s->rate];
    dunlin_lane_group *group = dunlin_lane_groups(s);
    int all = 0;
    int most = 0;
    int k;
    int l;

    for (k = 0; k < DUNLIN_GROUPS; k++) {
        const int used = dunlin_lanes_used(k);
        int longest;

        for (l = 0; l < DUNLIN_LANES; l++) { /* what is not used does as the first */
            const int lane = k * DUNLIN_LANES + (l < used ? l : 0);

            dunlin_lane_enter(rate, &s->channel[lane / DUNLIN_WAYS], 1 + lane % DUNLIN_WAYS,
                &group[k], l);
            all += l < used ? (int)group[k].count[l] : 0;
        }
        longest = dunlin_lane_plan(&group[k]);
        most += longest;
    }
    s->laned = 2 * all > DUNLIN_SAVING * most ? 1u : 2u;
}

/* What the ways remember goes back to where it belongs. */
static DUNLIN_COLD void dunlin_leave_lanes(dunlin_state *s)
{
    const dunlin_rate_entry *rate = &dunlin_rate_table[s->rate];
    const dunlin_lane_group *group = dunlin_lane_groups(s);
    int lane;
    int k;

    for (lane = 0; lane < DUNLIN_CHANNELS * DUNLIN_WAYS && s->laned == 1u; lane++) {
        const dunlin_lane_group *from = &group[lane / DUNLIN_LANES];
        const dunlin_cascade_entry *cascade = &rate->cascade[1 + lane % DUNLIN_WAYS];
        dunlin_memory *m = &s->channel[lane / DUNLIN_WAYS].now[cascade->from];
        const int last = lane % DUNLIN_WAYS == DUNLIN_WAYS - 1 ? 1 : 0;
        const int fixed = (last != 0 ? rate->cascade[0].split : cascade[1].from) - cascade->from;

        for (k = 0; k < from->count[lane % DUNLIN_LANES]; k++) {
            if (k == fixed) {
                m = &s->channel[lane / DUNLIN_WAYS].now[cascade->split];
            }
            m->p = from->section[k].word[5].one[lane % DUNLIN_LANES];
            m->q = from->section[k].word[6].one[lane % DUNLIN_LANES];
            m++;
        }
    }
    s->laned = 0u;
}

/* Sections in lanes come to rest like others. */
static DUNLIN_COLD void dunlin_rest_lanes(dunlin_state *s)
{
    const dunlin_lanes above_p = {
        5.421011e-20f,
        5.421011e-20f,
        5.421011e-20f,
        5.421011e-20f,
    };
    const dunlin_lanes below_p = {
        -5.421011e-20f,
        -5.421011e-20f,
        -5.421011e-20f,
        -5.421011e-20f,
    };
    const dunlin_lanes above_q = {
        5.421011e-20f,
        5.421011e-20f,
        5.421011e-20f,
        5.421011e-20f,
    };
    const dunlin_lanes below_q = {
        -5.421011e-20f,
        -5.421011e-20f,
        -5.421011e-20f,
        -5.421011e-20f,
    };
    dunlin_lane_group *group = dunlin_lane_groups(s);
    int k;

    for (k = 0; k < DUNLIN_GROUPS * DUNLIN_DEEP; k++) {
        dunlin_lane_section *at = &group[k / DUNLIN_DEEP].section[k % DUNLIN_DEEP];
        const dunlin_lanes p = at->word[5].all;
        const dunlin_lanes q = at->word[6].all;
        const dunlin_marks tiny = (p < above_p) & (p > below_p) & (q < above_q) & (q > below_q);
        at->word[5].all = (dunlin_lanes)(((dunlin_marks)p & ~tiny) | (dunlin_marks)at->none.all);
        at->word[6].all = (dunlin_lanes)(((dunlin_marks)q & ~tiny) | (dunlin_marks)at->none.all);
    }
}

/* 1 where no channel fades or is silent. */
static int dunlin_calm(const dunlin_state *s)
{
    int c;

    for (c = 0; c < DUNLIN_CHANNELS; c++) {
        if (s->channel[c].calm == 0u) {
            return 0;
        }
    }
    return 1;
}

/* Turns a square of words about: word i of v[k] becomes word k of v[i]. */
static inline void dunlin_turn(dunlin_short *v)
{
    const dunlin_short v1_0 = DUNLIN_SHUFFLE(v[0], v[2], 0, 4, 1, 5);
    const dunlin_short v1_1 = DUNLIN_SHUFFLE(v[0], v[2], 2, 6, 3, 7);
    const dunlin_short v1_2 = DUNLIN_SHUFFLE(v[1], v[3], 0, 4, 1, 5);
    const dunlin_short v1_3 = DUNLIN_SHUFFLE(v[1], v[3], 2, 6, 3, 7);
    const dunlin_short v2_0 = DUNLIN_SHUFFLE(v1_0, v1_2, 0, 4, 1, 5);
    const dunlin_short v2_1 = DUNLIN_SHUFFLE(v1_0, v1_2, 2, 6, 3, 7);
    const dunlin_short v2_2 = DUNLIN_SHUFFLE(v1_1, v1_3, 0, 4, 1, 5);
    const dunlin_short v2_3 = DUNLIN_SHUFFLE(v1_1, v1_3, 2, 6, 3, 7);
    v[0] = v2_0;
    v[1] = v2_1;
    v[2] = v2_2;
    v[3] = v2_3;
}

/* Where the samples begin that a way hears. */
static const float *dunlin_lane_from(const dunlin_rate_entry *rate, int way,
        const float *now)
{
    const int delay = (int)rate->cascade[1 + way].delay;

    return &now[-delay];
}

/* What a lane hears of a single sample of the channels' common parts. */
static inline DUNLIN_ALWAYS float dunlin_lane_hears(const dunlin_state *s,
        const dunlin_rate_entry *rate, int lane, const float *now)
{
    const unsigned int late = 0x2u; /* a bit for each way that is late at some rate */
    const dunlin_channel_state *const ch = &s->channel[lane / DUNLIN_WAYS];
    const int way = lane % DUNLIN_WAYS;

    if ((late >> way & 1u) != 0u && rate->cascade[1 + way].delay > 0u) {
        const int k = (int)ch->delay_at - (int)rate->cascade[1 + way].delay;

        return ch->delay[k < 0 ? k + (int)rate->cascade[0].delay : k];
    }
    return now[lane / DUNLIN_WAYS];
}

/* The channels' common parts times gain -> x of lanes from on; what is not used gets what the first
 * does. */
static void dunlin_lane_inputs(const dunlin_rate_entry *rate, const dunlin_lane_words *gains, int from, int used,
        float (*common)[DUNLIN_HISTORY + DUNLIN_LONG], dunlin_lane_words *x, int n)
{
    DUNLIN_AS_WRITTEN
    const int lane_0 = from;
    const float *from_0 = dunlin_lane_from(rate, lane_0 % DUNLIN_WAYS,
        &common[lane_0 / DUNLIN_WAYS][DUNLIN_HISTORY]);
    const int lane_1 = 1 < used ? from + 1 : from;
    const float *from_1 = dunlin_lane_from(rate, lane_1 % DUNLIN_WAYS,
        &common[lane_1 / DUNLIN_WAYS][DUNLIN_HISTORY]);
    const int lane_2 = 2 < used ? from + 2 : from;
    const float *from_2 = dunlin_lane_from(rate, lane_2 % DUNLIN_WAYS,
        &common[lane_2 / DUNLIN_WAYS][DUNLIN_HISTORY]);
    const int lane_3 = 3 < used ? from + 3 : from;
    const float *from_3 = dunlin_lane_from(rate, lane_3 % DUNLIN_WAYS,
        &common[lane_3 / DUNLIN_WAYS][DUNLIN_HISTORY]);
    int i;

    for (i = 0; i < n; i++) {
        {
            dunlin_lanes gain;
            const dunlin_lanes all = { from_0[i], from_1[i], from_2[i], from_3[i] };

            (void)memcpy(&gain, &gains->one[0], sizeof gain);
            {
                const dunlin_lanes scaled = gain * all;
                x[i].all = scaled;
            }
        }
    }
}

/* x of lanes from on -> out. */
static void dunlin_lane_outputs(const dunlin_lane_words *x, int used, float *const *out,
        int at, int n)
{
    float spare[DUNLIN_LONG]; /* of lanes that are not used */
    int l;

    for (l = 0; l < used; l += 4) {
        float *to_0 = l + 0 < used ? &out[l + 0][at] : spare;
        float *to_1 = l + 1 < used ? &out[l + 1][at] : spare;
        float *to_2 = l + 2 < used ? &out[l + 2][at] : spare;
        float *to_3 = l + 3 < used ? &out[l + 3][at] : spare;
        int i;

        for (i = 0; i < n - 4 + 1; i += 4) {
            dunlin_short v[4];

            (void)memcpy(&v[0], &x[i + 0].one[l], sizeof v[0]);
            (void)memcpy(&v[1], &x[i + 1].one[l], sizeof v[1]);
            (void)memcpy(&v[2], &x[i + 2].one[l], sizeof v[2]);
            (void)memcpy(&v[3], &x[i + 3].one[l], sizeof v[3]);
            dunlin_turn(v);
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
static void dunlin_lane_give(const dunlin_frames *f, const dunlin_lane_words *x, int from, int used,
        int at, int n)
{
    int k = (at * DUNLIN_CHANNELS * DUNLIN_WAYS) + from;
    int i;
    int l;

    for (i = 0; i < n; i++) {
        if (used == DUNLIN_LANES) {
            if (f->wide != 0) {
                for (l = 0; l < DUNLIN_LANES; l++) {
                    f->out32[k + l] = dunlin_to_int32(x[i].one[l]);
                }
            } else {
                (void)memcpy(&f->out[k], &x[i], sizeof x[i]);
            }
        } else {
            for (l = 0; l < used; l++) {
                if (f->wide != 0) {
                    f->out32[k + l] = dunlin_to_int32(x[i].one[l]);
                } else {
                    f->out[k + l] = x[i].one[l];
                }
            }
        }
        k += DUNLIN_CHANNELS * DUNLIN_WAYS;
    }
}

/* The ways of a group's lanes, so many from on: in common[channel] -> out, or frames. */
static void dunlin_run_lanes(const dunlin_rate_entry *rate, dunlin_lane_group *group, int from, int used,
        float (*common)[DUNLIN_HISTORY + DUNLIN_LONG], float *const *out, const dunlin_frames *f, int at, int n)
{
    dunlin_lane_words x[DUNLIN_LONG];

    dunlin_lane_inputs(rate, &group->gain, from, used, common, x, n);
    dunlin_lane_passes(group, x, n);
    if (f != NULL) {
        dunlin_lane_give(f, x, from, used, at, n);
    } else {
        dunlin_lane_outputs(x, used, &out[from], at, n);
    }
}

/* n samples of a channel times the first gain: in -> now. What returns is not less than the size of
 * the greatest. */
static inline uint32_t dunlin_lane_take(float gain, const float *in, float *now, int n)
{
    DUNLIN_AS_WRITTEN
    uint32_t sizes = 0u;
    int i;

    for (i = 0; i < n; i++) {
        const float all = in[i];

        sizes |= dunlin_bits(all);
        const float scaled = gain * all;
        now[i] = scaled;
    }
    return sizes << 1;
}

/* A channel's common part where there is more than the gain: in -> now. */
static void dunlin_lane_common(const dunlin_rate_entry *rate, dunlin_channel_state *ch,
        const float *in, float *now, int n)
{
    const dunlin_cascade_entry *cascade = &rate->cascade[0];

    if (rate->lists[cascade->list] != 0u) {
        (void)dunlin_run_list(rate->sections, &rate->lists[cascade->list], &ch->now[cascade->from], cascade->gain, in, now, n);
    }
}

/* A single sample through the sections of a list. */
static inline DUNLIN_ALWAYS void dunlin_lane_list(const float *table, const uint16_t *list,
        dunlin_memory *m_0, float *io_0)
{
    DUNLIN_AS_WRITTEN
    float x_0 = *io_0;

    for (; *list != 0u; list++) {
        const float *w = &table[*list & DUNLIN_ROW];
        unsigned int left = (unsigned int)*list >> 13;

        switch ((unsigned int)*list >> DUNLIN_HEAD & 3u) {
        case 3u: /* delta */
            do {
                const float b0 = w[0];
                const float b1 = w[3];
                const float b2 = w[4];
                const float a1 = w[1];
                const float a2 = w[2];
                float p_0 = m_0->p;
                float q_0 = m_0->q;
                const float y_0 = b0 * x_0 + p_0;
                p_0 = p_0 + ((q_0 + b1 * x_0) - a1 * y_0);
                q_0 = (q_0 + b2 * x_0) - a2 * y_0;
                m_0->p = p_0;
                m_0->q = q_0;
                x_0 = y_0;
                m_0++;
                w += 5;
                left--;
            } while (left != 0u);
            break;
        case 2u: /* delta without b1 and b2 */
            do {
                const float b0 = w[0];
                const float a1 = w[1];
                const float a2 = w[2];
                float p_0 = m_0->p;
                float q_0 = m_0->q;
                const float y_0 = b0 * x_0 + p_0;
                p_0 = p_0 + (q_0 - a1 * y_0);
                q_0 = q_0 - a2 * y_0;
                m_0->p = p_0;
                m_0->q = q_0;
                x_0 = y_0;
                m_0++;
                w += 3;
                left--;
            } while (left != 0u);
            break;
        default:
            /* there are no others */
            break;
        }
    }
    *io_0 = x_0;
}

/* One sample of all channels, number at, or one frame. What returns is 1, or 0 where one may be
 * garbage: then nothing has happened. */
static inline DUNLIN_ALWAYS int dunlin_lane_sample(dunlin_state *s, const dunlin_rate_entry *rate,
        dunlin_lane_group *group, const float *const *in, float *const *out,
        const dunlin_frames *f, int framed, int at)
{
    DUNLIN_AS_WRITTEN
    float now[DUNLIN_CHANNELS];
    uint32_t size = 0u;
    int c;
    int g;

    if (framed == 0) {
        for (c = 0; c < DUNLIN_CHANNELS; c++) {
            now[c] = in[c][at];
        }
    } else if (f->wide == 0) {
        (void)memcpy(now, &f->in[at * DUNLIN_CHANNELS], sizeof now);
    } else {
        int k = at * DUNLIN_CHANNELS;

        for (c = 0; c < DUNLIN_CHANNELS; c++) {
            now[c] = dunlin_from_int32(f->in32[k]);
            k++;
        }
    }
    for (c = 0; c < DUNLIN_CHANNELS; c++) {
        size |= dunlin_lane_take(rate->cascade[0].gain, &now[c], &now[c], 1);
    }
    if (size >= DUNLIN_GARBAGE) {
        return 0;
    }
    for (c = 0; c < DUNLIN_CHANNELS; c += 1) {
        const dunlin_cascade_entry *const common = &rate->cascade[0];
        dunlin_channel_state *const ch = &s->channel[c];

        dunlin_lane_list(rate->sections, &rate->lists[common->list], &ch->now[common->from],
            &now[c]);
    }
    for (g = 0; g < DUNLIN_GROUPS; g++) {
        const int used = dunlin_lanes_used(g);
        const dunlin_lane_words *gains = &group[g].gain;
        const int lane_0 = g * DUNLIN_LANES;
        const float x_0 = dunlin_lane_hears(s, rate, lane_0, now);
        const int lane_1 = (1 < used ? 1 : 0) + g * DUNLIN_LANES;
        const float x_1 = dunlin_lane_hears(s, rate, lane_1, now);
        const int lane_2 = (2 < used ? 2 : 0) + g * DUNLIN_LANES;
        const float x_2 = dunlin_lane_hears(s, rate, lane_2, now);
        const int lane_3 = (3 < used ? 3 : 0) + g * DUNLIN_LANES;
        const float x_3 = dunlin_lane_hears(s, rate, lane_3, now);
        dunlin_lane_words x;
        {
            dunlin_lanes gain;
            const dunlin_lanes all = { x_0, x_1, x_2, x_3 };

            (void)memcpy(&gain, &gains->one[0], sizeof gain);
            {
                const dunlin_lanes scaled = gain * all;
                x.all = scaled;
            }
        }
        if (framed != 0) {
            dunlin_lane_alone(&group[g], &x.all);
            dunlin_lane_give(f, &x, g * DUNLIN_LANES, used, at, 1);
        } else {
            float *const *to = &out[g * DUNLIN_LANES];
            dunlin_lanes y = x.all;

            dunlin_lane_alone(&group[g], &y);
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
    for (c = 0; c < DUNLIN_CHANNELS; c++) {
        dunlin_channel_state *const ch = &s->channel[c];
        const int next = (int)ch->delay_at;

        if (rate->cascade[0].delay > 0u) {
            ch->delay[next] = now[c];
            ch->delay_at = (unsigned char)(next + 1 < (int)rate->cascade[0].delay ? next + 1 : 0);
        }
    }
    return 1;
}

/* The same of samples, and of frames. */
static DUNLIN_NOINLINE int dunlin_step_lanes(dunlin_state *s, const dunlin_rate_entry *rate,
        dunlin_lane_group *group, const float *const *in, float *const *out, int at)
{
    return dunlin_lane_sample(s, rate, group, in, out, NULL, 0, at);
}

static DUNLIN_NOINLINE int dunlin_step_frame(dunlin_state *s, const dunlin_rate_entry *rate,
        dunlin_lane_group *group, const dunlin_frames *f, int at)
{
    return dunlin_lane_sample(s, rate, group, NULL, NULL, f, 1, at);
}

/* n samples of all channels, from number at on: in -> out, or from where they begin -> frames. What
 * returns is 1, or 0 where one may be garbage. */
static DUNLIN_NOINLINE int dunlin_block_lanes(dunlin_state *s, const dunlin_rate_entry *rate,
        const float *const *in, float *const *out, const dunlin_frames *f, int at, int n)
{
    dunlin_lane_group *group = dunlin_lane_groups(s);
    float common[DUNLIN_CHANNELS][DUNLIN_HISTORY + DUNLIN_LONG];
    const int begin = f == NULL ? at : 0;
    uint32_t size = 0u;
    int k;

    for (k = 0; k < DUNLIN_CHANNELS; k++) {
        size |= dunlin_lane_take(rate->cascade[0].gain, &in[k][begin], &common[k][DUNLIN_HISTORY], n);
    }
    if (size >= DUNLIN_GARBAGE) {
        return 0;
    }
    for (k = 0; k < DUNLIN_CHANNELS; k++) {
        dunlin_lane_common(rate, &s->channel[k], &in[k][begin], &common[k][DUNLIN_HISTORY], n);
        dunlin_recall(rate, &s->channel[k], &common[k][DUNLIN_HISTORY]);
    }
    for (k = 0; k < DUNLIN_GROUPS; k++) {
        dunlin_run_lanes(rate, &group[k], k * DUNLIN_LANES, dunlin_lanes_used(k), common, out, f, at, n);
    }
    for (k = 0; k < DUNLIN_CHANNELS; k++) {
        dunlin_remember(rate, &s->channel[k], &common[k][DUNLIN_HISTORY], n);
    }
    return 1;
}

/* n frames, from number at on. What returns is 1, or 0 where one may have garbage. */
static DUNLIN_NOINLINE int dunlin_frame_lanes(dunlin_state *s, const dunlin_rate_entry *rate,
        const dunlin_frames *f, int at, int n)
{
    float now[DUNLIN_CHANNELS][DUNLIN_LONG];
    const float *in[DUNLIN_CHANNELS];
    int c;
    int i;

    for (c = 0; c < DUNLIN_CHANNELS; c++) {
        int k = (at * DUNLIN_CHANNELS) + c;

        in[c] = now[c];
        for (i = 0; i < n; i++) {
            now[c][i] = f->wide != 0 ? dunlin_from_int32(f->in32[k]) : f->in[k];
            k += DUNLIN_CHANNELS;
        }
    }
    return dunlin_block_lanes(s, rate, in, NULL, f, at, n);
}

/* Runs all channels where none fades or is silent, no sample may be garbage, and lanes are
 * faster: n samples at least, all at most. What returns is how many there were; 0: none, and the
 * channels have what belongs to them. */
static inline int dunlin_run_calm(dunlin_state *s, const dunlin_rate_entry *rate,
        const float *const *in, float *const *out, const dunlin_frames *f, int at, int n, int all)
{
    int good;

    if (s->laned == 0u && dunlin_calm(s) != 0) {
        dunlin_enter_lanes(s);
    }
    if (s->laned != 1u) {
        return 0;
    }
    if (s->count % DUNLIN_TICK == 0u && all > n) { /* nothing is asked for, so that it may go on */
        const int left = (int)(DUNLIN_REST - s->count);

        n = left < DUNLIN_LONG ? left : DUNLIN_LONG;
        n = all < n ? all : n;
    }
    if (n == 1) {
        dunlin_lane_group *const group = dunlin_lane_groups(s);

        good = f != NULL ? dunlin_step_frame(s, rate, group, f, at)
            : dunlin_step_lanes(s, rate, group, in, out, at);
    } else if (f != NULL) {
        good = dunlin_frame_lanes(s, rate, f, at, n);
    } else {
        good = dunlin_block_lanes(s, rate, in, out, NULL, at, n);
    }
    if (good == 0) {
        dunlin_leave_lanes(s);
        return 0;
    }
    return n;
}
#endif


/* ---- what happens at ticks ------------------------------------------------------------ */

/* The lists of all cascades, one behind the other. */
static DUNLIN_COLD void dunlin_make_lists(const dunlin_rate_entry *rate, dunlin_channel_state *ch)
{
    uint16_t *next = ch->list;
    int c;

    for (c = 0; c <= DUNLIN_WAYS; c++) {
        next = dunlin_make_list(rate, ch, c, next);
    }
}

/* Settings at a tick: a change that is over is what runs, and one that is asked for begins. */
static void dunlin_change_settings(const dunlin_rate_entry *rate, dunlin_channel_state *ch,
        const volatile unsigned char *asked)
{
    if (ch->change == rate->settle + rate->fade) {
        /* all cascades' stand behind each other, here as there */
        (void)memcpy(&ch->now[rate->cascade[0].split], ch->then,
            (size_t)rate->cascade[DUNLIN_WAYS].end * sizeof ch->then[0]);
        dunlin_make_lists(rate, ch);
        ch->change = -1;
    }
    if (ch->change < 0) {
        unsigned int differ = 0u;
        int k;

        for (k = 0; k < DUNLIN_SETTINGS; k++) {
            const unsigned char wanted = asked[k];

            differ |= (unsigned int)wanted ^ ch->chosen[k];
            ch->chosen[k] = wanted;
        }
        if (ch->fresh != 0u) {
            dunlin_make_lists(rate, ch);
        } else if (differ != 0u) {
            (void)memset(ch->then, 0, sizeof ch->then);
            ch->change = 0;
        } else {
            /* as before */
        }
    }
}

/* Sections in which next to nothing is left come to rest, everywhere at the same sample. */
static DUNLIN_COLD void dunlin_rest(dunlin_memory *m, int sections)
{
    int k;

#if defined __clang__ /* gathers and scatters take longer */
#pragma clang loop vectorize(disable)
#endif
    for (k = 0; k < sections; k++) {
        if ((dunlin_bits(m[k].p) << 1) < 0x3f000000u
                && (dunlin_bits(m[k].q) << 1) < 0x3f000000u) {
            m[k].p = 0.0f;
            m[k].q = 0.0f;
        }
    }
}

/* What is asked of a channel, between two samples. */
static void dunlin_tick_channel(const dunlin_rate_entry *rate, dunlin_channel_state *ch,
        const volatile unsigned char *asked)
{
    const int32_t fade = rate->fade;
    const int mute = (int)asked[DUNLIN_MUTE];

    dunlin_change_settings(rate, ch, asked);
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

/* What is due of all channels. */
static DUNLIN_COLD void dunlin_tick(dunlin_state *s, const dunlin_rate_entry *rate)
{
    int c;

    for (c = 0; c < DUNLIN_CHANNELS; c++) {
        dunlin_channel_state *ch = &s->channel[c];

        dunlin_tick_channel(rate, ch, s->asked[c]);
        if (s->count == 0u) {
            dunlin_rest(ch->now, DUNLIN_POSITIONS);
            dunlin_rest(ch->then, DUNLIN_THEN); /* idle ones, too */
        }
    }
#ifdef DUNLIN_LANES
    if (dunlin_calm(s) == 0) {
        dunlin_leave_lanes(s);
    } else if (s->count == 0u && s->laned == 1u) {
        dunlin_rest_lanes(s);
    } else {
        /* nothing is due in lanes */
    }
#endif
}

/* Of n samples those before the next tick; what is due before them is done. */
static int dunlin_begin(dunlin_state *s, const dunlin_rate_entry *rate, int n)
{
    const uint32_t into = s->count % DUNLIN_TICK;
    const int left = (int)(DUNLIN_TICK - into);

    if (into == 0u) {
        dunlin_tick(s, rate);
    }
    return n < left ? n : left;
}

/* ---- the interface -------------------------------------------------------------------- */

/* The rate that a state runs at; NULL where init did not leave it behind. */
static inline const dunlin_rate_entry *dunlin_rate_here(const dunlin_state *s)
{
    return s->ready != DUNLIN_READY || s->check != DUNLIN_CHECK || s->rate < 0
            || s->rate >= DUNLIN_RATES ? NULL : &dunlin_rate_table[s->rate];
}

static DUNLIN_NOINLINE const dunlin_rate_entry *dunlin_rate_of(const dunlin_state *s)
{
    return dunlin_rate_here(s);
}

/* 1 also for a channel that does not exist. */
static DUNLIN_COLD int dunlin_refuse_channel(const dunlin_state *s, int channel)
{
    return channel < 0 || channel >= DUNLIN_CHANNELS || dunlin_rate_of(s) == NULL ? 1 : 0;
}

/* Asks a channel for a choice of one of its settings, or for silence. */
static DUNLIN_COLD int dunlin_ask(dunlin_state *s, int channel, int what, unsigned int choice)
{
    static const unsigned char dunlin_choices[DUNLIN_MUTE + 1] = { 2u, 2u };

    if (choice >= dunlin_choices[what] || dunlin_refuse_channel(s, channel) != 0) {
        return 1;
    }
    s->asked[channel][what] = (unsigned char)choice;
    return 0;
}

/* What was asked for. */
static DUNLIN_COLD int dunlin_asked(const dunlin_state *s, int channel, int what)
{
    return dunlin_refuse_channel(s, channel) != 0 ? -1 : (int)s->asked[channel][what];
}

/* Silence in one channel. */
static DUNLIN_COLD void dunlin_silence(dunlin_channel_state *ch)
{

    (void)memset(ch, 0, sizeof *ch);
    ch->change = -1;
    ch->fresh = 1u;
}

/* In all of them. */
static DUNLIN_COLD void dunlin_silence_all(dunlin_state *s)
{
    int c;

    for (c = 0; c < DUNLIN_CHANNELS; c++) {
        dunlin_silence(&s->channel[c]);
    }
    s->count = 0u;
#ifdef DUNLIN_LANES
    s->laned = 0u;
#endif
}

/* Starts at a rate; 1 where there is no such. */
static DUNLIN_COLD int dunlin_start(dunlin_state *s, uint32_t rate_hz)
{
    int32_t i;

    for (i = 0; i < DUNLIN_RATES; i++) {
        if (dunlin_rate_table[i].rate_hz == rate_hz) {
            s->rate = i;
            dunlin_silence_all(s);
            return 0;
        }
    }
    return 1;
}

int dunlin_set_rate(dunlin_state *s, uint32_t rate_hz)
{
    return dunlin_rate_of(s) == NULL ? 1 : dunlin_start(s, rate_hz);
}

int dunlin_init(dunlin_state *s, uint32_t rate_hz)
{
    (void)memset(s, 0, sizeof *s);
    if (dunlin_start(s, rate_hz) != 0) {
        return 1;
    }
    s->ready = DUNLIN_READY;
    s->check = DUNLIN_CHECK;
    return 0;
}

void dunlin_reset(dunlin_state *s)
{
    if (dunlin_rate_of(s) != NULL) {
        dunlin_silence_all(s);
    }
}

int dunlin_reset_channel(dunlin_state *s, int channel)
{
    if (dunlin_refuse_channel(s, channel) != 0) {
        return 1;
    }
#ifdef DUNLIN_LANES
    dunlin_leave_lanes(s);
#endif
    dunlin_silence(&s->channel[channel]);
    return 0;
}

int dunlin_set_placement(dunlin_state *s, int channel, enum dunlin_placement choice)
{
    return dunlin_ask(s, channel, 0, (unsigned int)choice);
}

int dunlin_get_placement(const dunlin_state *s, int channel)
{
    return dunlin_asked(s, channel, 0);
}

int dunlin_mute(dunlin_state *s, int channel, int on)
{
    return dunlin_ask(s, channel, DUNLIN_MUTE, on != 0 ? 1u : 0u);
}

int dunlin_muted(const dunlin_state *s, int channel)
{
    return dunlin_asked(s, channel, DUNLIN_MUTE);
}

int dunlin_garbage(const dunlin_state *s, int channel)
{
    return dunlin_refuse_channel(s, channel) != 0 ? -1 : (int)s->channel[channel].dead;
}

/* n samples of all channels: in -> out, or from frames to frames. */
static DUNLIN_BLOCKS int dunlin_run_all(dunlin_state *s, const float *const *in,
        float *const *out, dunlin_frames *f, int n)
{
    const dunlin_rate_entry *const rate = dunlin_rate_of(s);
    int done = 0;

    if (n < 0 || rate == NULL) {
        return 1;
    }
    while (done < n) {
        const int chunk = dunlin_begin(s, rate, n - done);
        int c;
#ifdef DUNLIN_LANES
        const int together = dunlin_run_calm(s, rate, in, out, f, done, chunk, n - done);

        if (together > 0) {
            s->count = (s->count + (uint32_t)together) % DUNLIN_REST;
            done += together;
            continue;
        }
#endif
        for (c = 0; c < DUNLIN_CHANNELS; c++) {
            dunlin_channel_state *const ch = &s->channel[c];

            if (f != NULL) {
                (void)f->through(f, rate, ch, (done * DUNLIN_CHANNELS) + c, chunk,
                    DUNLIN_CHANNELS);
            } else {
                dunlin_run_block(rate, ch, &in[c][done], &out[c * DUNLIN_WAYS], done, chunk);
            }
        }
        s->count = (s->count + (uint32_t)chunk) % DUNLIN_REST;
        done += chunk;
    }
    return 0;
}

#ifdef DUNLIN_LANES
/* A single sample of all channels, or a frame where there are frames, in lanes where nothing is due
 * before it. What returns is 1, or 0: nothing has happened. */
static inline int dunlin_run_alone(dunlin_state *s, const float *const *in,
        float *const *out, const dunlin_frames *f)
{
    const dunlin_rate_entry *const rate = dunlin_rate_here(s);
    dunlin_lane_group *group;
    int good;

    if (rate == NULL || s->laned != 1u || s->count % DUNLIN_TICK == 0u
            || s->lanes_at != dunlin_lanes_begin(s)) {
        return 0;
    }
    group = dunlin_lane_groups_at(s);
    good = f != NULL ? dunlin_step_frame(s, rate, group, f, 0)
        : dunlin_step_lanes(s, rate, group, in, out, 0);
    s->count = (s->count + (uint32_t)good) % DUNLIN_REST;
    return good;
}
#endif

#ifndef DUNLIN_NO_SINGLES
/* One sample of all channels: one that is calm goes through sections one by one. */
static DUNLIN_NOINLINE int dunlin_run_one(dunlin_state *s, const float *const *in,
        float *const *out)
{
    const dunlin_rate_entry *const rate = dunlin_rate_of(s);
    int c;

    if (rate == NULL) {
        return 1;
    }
    (void)dunlin_begin(s, rate, 1);
#ifdef DUNLIN_LANES
    if (dunlin_run_calm(s, rate, in, out, NULL, 0, 1, 1) > 0) {
        s->count = (s->count + 1u) % DUNLIN_REST;
        return 0;
    }
#endif
    s->count = (s->count + 1u) % DUNLIN_REST;
    for (c = 0; c < DUNLIN_CHANNELS; c++) {
        dunlin_channel_state *const ch = &s->channel[c];
        const float x = *in[c];

        if (ch->calm != 0u && (dunlin_bits(x) << 1) < DUNLIN_GARBAGE) {
            dunlin_step(rate, ch, x, &out[c * DUNLIN_WAYS]);
        } else {
            dunlin_run_block(rate, ch, in[c], &out[c * DUNLIN_WAYS], 0, 1);
        }
    }
    return 0;
}

#endif

int dunlin_run(dunlin_state *s, const float *const *in, float *const *out, int n)
{
#ifdef DUNLIN_LANES
    if (n == 1 && dunlin_run_alone(s, in, out, NULL) != 0) {
        return 0;
    }
#endif
#ifndef DUNLIN_NO_SINGLES
    if (n == 1) {
        return dunlin_run_one(s, in, out);
    }
#endif
    return dunlin_run_all(s, in, out, NULL, n);
}

/* n samples so many apart, from number k on, of a channel, or without a channel one of each. */
static DUNLIN_SMALL int dunlin_through(dunlin_frames *f, const dunlin_rate_entry *rate,
        dunlin_channel_state *ch, int k, int n, int apart)
{
    int at = k;
    int i;
    int w;

    for (i = 0; i < n; i++) {
        f->from[i] = f->wide != 0 ? dunlin_from_int32(f->in32[at]) : f->in[at];
        at += apart;
    }
#ifndef DUNLIN_NO_SINGLES
    if (ch == NULL) {
        if (dunlin_run_one(f->s, f->ins, f->outs) != 0) {
            return 1;
        }
    } else
#endif
    {
        dunlin_run_block(rate, ch, f->from, f->outs, 0, n);
    }
    at = k * DUNLIN_WAYS;
    for (i = 0; i < n; i++) {
        for (w = 0; w < DUNLIN_WAYS; w++) {
            if (f->wide != 0) {
                f->out32[at + w] = dunlin_to_int32(f->to[w][i]);
            } else {
                f->out[at + w] = f->to[w][i];
            }
        }
        at += apart * DUNLIN_WAYS;
    }
    return 0;
}

/* n frames. */
static DUNLIN_SMALL int dunlin_run_side_by_side(dunlin_state *s, dunlin_frames *f, int n)
{
    int beside = 1; /* channels in a row of to */
    int k = 0;
    int c;
    int w;

#ifdef DUNLIN_LANES
    if (n == 1 && dunlin_run_alone(s, NULL, NULL, f) != 0) {
        return 0;
    }
#endif
#ifndef DUNLIN_NO_SINGLES
    f->s = s;
    if (n == 1) {
        beside = DUNLIN_CHANNELS;
    }
#endif
    for (c = 0; c < beside; c++) {
        f->ins[c] = &f->from[c];
        for (w = 0; w < DUNLIN_WAYS; w++) {
            f->outs[k] = &f->to[w][c];
            k++;
        }
    }
#ifndef DUNLIN_NO_SINGLES
    if (n == 1) {
        return dunlin_through(f, NULL, NULL, 0, DUNLIN_CHANNELS, 1);
    }
#endif
    f->through = dunlin_through;
    return dunlin_run_all(s, NULL, NULL, f, n);
}

int dunlin_run_frames(dunlin_state *s, const float *in, float *out, int n)
{
    dunlin_frames f;

    f.in = in;
    f.out = out;
    f.wide = 0;
    return dunlin_run_side_by_side(s, &f, n);
}

int dunlin_run_frames_int32(dunlin_state *s, const int32_t *in, int32_t *out, int n)
{
    dunlin_frames f;

    f.in32 = in;
    f.out32 = out;
    f.wide = 1;
    return dunlin_run_side_by_side(s, &f, n);
}

#undef DUNLIN_AS_WRITTEN
#if defined __GNUC__ && !defined __clang__
#pragma GCC pop_options
#endif
