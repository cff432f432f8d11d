/*
 * pipit_float32.c: the loudspeaker filters of "pipit", tables and code
 * Spec SHA-256 4eae535d87d6de68631765ffcaa2606f86dbf6bf82c80c9bf5fe841db6e2b4f7
 *
 * Compile this file with the program; pipit_float32.h tells all about it.
 *
 * MISRA C:2012, deviations from required and advisory rules:
 *   2.2         sums and products with counts that are 0 or 1 in this program
 *   5.5         without lanes init has another name, so that files that disagree do not link
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
 * and in lanes, samples side by side, which are compiled for hosts alone:
 *   2.2, 2.3    lanes are counted from 0; types that only some vectors, or only sizes, need
 *   10.3, 10.6  marks are what comparisons of vectors give; lengths are small
 *   11.4, 11.5  room for vectors begins at a multiple of their size
 *   14.2        a step of a loop takes as many sections as are left of its kind
 *   19.2        a vector and its samples share their bytes
 */
#include "pipit_float32.h"

#include <float.h>
#include <string.h>

/* (FLT_RADIX stands in float.h. A program that looks through this file without it goes on.) */
#if defined FLT_RADIX && (FLT_RADIX != 2 || FLT_MANT_DIG != 24)
#error "pipit: float must be an IEEE 754 number of 32 bits here"
#endif
#if defined FLT_RADIX && (FLT_EVAL_METHOD != 0 && FLT_EVAL_METHOD != 16)
#error "pipit: float must be computed as float; on a 32-bit x86 use -msse2 -mfpmath=sse"
#endif
#if defined __FAST_MATH__ || defined __ASSOCIATIVE_MATH__
#error "pipit: compile without -ffast-math, -funsafe-math-optimizations, -fassociative-math"
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
#define PIPIT_AS_WRITTEN
#elif defined __clang__ && __clang_major__ >= 13
#define PIPIT_AS_WRITTEN _Pragma("clang fp contract(off) reassociate(off)")
#else
#define PIPIT_AS_WRITTEN _Pragma("STDC FP_CONTRACT OFF")
#endif

/* To run at fewer rates, define PIPIT_ONLY_ with the rate for each that shall stay. */
#if !(defined PIPIT_ONLY_48000)
#define PIPIT_ONLY_48000
#endif

/* Single samples have code of their own, which PIPIT_NO_SINGLES leaves out: they are
 * blocks of one then. */

/* Loops stand in functions of their own. What runs rarely is compiled for size, and so is what runs
 * once a block and not in lanes: but not what alone calls the loops, rare to gcc then. */
#if defined __GNUC__
#define PIPIT_NOINLINE __attribute__((noinline))
#define PIPIT_COLD __attribute__((noinline, cold))
#define PIPIT_INLINE inline __attribute__((always_inline)) /* at -Os, too */
#else
#define PIPIT_NOINLINE
#define PIPIT_COLD
#define PIPIT_INLINE inline
#endif
#if defined __GNUC__ && (defined __SSE2__ || defined __aarch64__) && !defined PIPIT_NO_LANES
#define PIPIT_SMALL PIPIT_NOINLINE
#else
#define PIPIT_SMALL PIPIT_COLD
#endif
#ifdef PIPIT_NO_SINGLES
#define PIPIT_BLOCKS PIPIT_NOINLINE
#else
#define PIPIT_BLOCKS PIPIT_SMALL
#endif

#define PIPIT_READY 0x44736cc6u /* of this spec in this format */
#define PIPIT_CHECK 0x3653ade3u
#define PIPIT_TICK 32u /* samples between two looks at what is asked for */
#define PIPIT_REST 128u /* and between two looks for sections that have come to rest */
/* pipit_bits without the sign, << 1, of what is no sample. */
#define PIPIT_GARBAGE 0xbf000000u
#if defined __GNUC__ && defined __arm__ && defined __ARM_FP
#define PIPIT_SEVERAL /* registers that lie beside each other are moved in one instruction */
#endif

/* Words of a list, one a pass: where the row of its first section begins, which those of the others
 * follow, their kind (1 direct, 2 delta without b1 and b2, 3 delta)
 * and how many they are; 0 is the end. */
#define PIPIT_ROW 0x7ffu
#define PIPIT_HEAD 11 /* bits below */

/* ---- tables --------------------------------------------------------------------------- */

#ifndef PIPIT_NO_SINGLES
/* What a single sample finds in a row of the table of sections. */
typedef struct {
    float b0;
    float a1;
    float a2;
    float b1;
    float b2;
} pipit_section_words;
#endif

typedef struct {
    float gain; /* with the polarity as sign */
    int8_t list; /* where the list of what always runs begins */
    int8_t from; /* the memory of that */
#ifndef PIPIT_NO_SINGLES
    uint16_t forms; /* of what always runs, 2 bits a section, the first in the highest */
#endif
} pipit_cascade_entry;

typedef struct {
    uint32_t rate_hz;
    const float *sections; /* rows of words */
    const uint16_t *lists; /* of what always runs */
    int16_t fade; /* samples of a fade */
    float step; /* 1 / fade */
    pipit_cascade_entry cascade[1 + PIPIT_WAYS]; /* common, then the ways */
} pipit_rate_entry;

/* b0, a1, a2, b1, b2 of every section, delta without b1 and b2: the first 3. Above each:
 * - rate, way and number;
 * - the line of the spec, and the frequency and Q that its poles ring at (those of a shelf lie
 *   beside the line's own). Lines of one way that are made together share their zeros: there it
 *   is the line whose poles these are, and the way where no line has them;
 * - form, and computed error in this format re the section's greatest gain. */
#ifdef PIPIT_ONLY_48000
static const float pipit_sections_48000[18] = {
    /* 48000 Hz, bass 0: ways.bass, poles at half the rate; direct, -142 dB */
    0.85570353f, 0.50530154f, 0.040754214f, 0.61074203f, 0.079618566f,
    /* 48000 Hz, bass 1: crossovers[0] low-pass, poles at 2.598 kHz, Q 0.500; delta, -140 dB */
    0.010615783f, 0.576385f, 0.083152056f, 0.09461055f, 0.08327174f,
    /* 48000 Hz, bass 2: ways.bass.filters[0] high-pass, poles at 45 Hz, Q 0.800; delta, -130 dB */
    0.99485755f, 0.0073698647f, 3.4570516e-05f, 0.0f, 0.0f,
    /* 48000 Hz, treble 0: crossovers[0] high-pass, poles at 2.803 kHz and 2.418 kHz; delta, -146 */
    /* dB */
    0.71975106f, 0.57842946f, 0.083325826f
};
static const uint16_t pipit_lists_48000[6] = {
    0u, 10240u, 22533u, 0u, 12303u, 0u
};
#endif

#ifdef PIPIT_NO_SINGLES
#define PIPIT_FORMS(forms)
#else
#define PIPIT_FORMS(forms) , (forms)
#endif

static const pipit_rate_entry pipit_rate_table[] = {
#ifdef PIPIT_ONLY_48000
    { 48000u, pipit_sections_48000, pipit_lists_48000, 480, 0.0020833334f, {
        { 1.0f, 0, 0 PIPIT_FORMS(0x0000u) }, /* common */
        { 0.7943282f, 1, 0 PIPIT_FORMS(0x7c00u) }, /* bass */
        { -0.5011872f, 4, 3 PIPIT_FORMS(0x8000u) } /* treble */
    } },
#endif
};

#define PIPIT_RATES ((int32_t)(sizeof pipit_rate_table / sizeof pipit_rate_table[0]))

/* ---- filters -------------------------------------------------------------------------- */

/* The bits of x: without the sign they grow with its size. */
static inline uint32_t pipit_bits(float x)
{
    uint32_t bits;

    (void)memcpy(&bits, &x, sizeof bits);
    return bits;
}

/* A sample of 32 bits, -2^31 to 2^31 - 1, re full scale. */
static inline float pipit_from_int32(int32_t x)
{
    return (float)x * (float)(1.0 / 2147483648.0);
}

/* The nearest sample of 32 bits, limited to what there is. */
static inline int32_t pipit_to_int32(float x)
{
    const float scaled = x * (float)2147483648.0;
    const float above = scaled > (float)-2147483648.0 ? scaled : (float)-2147483648.0;
    const float inside = above < (float)2147483647.0 ? above : (float)0;
    const int32_t whole = (int32_t)inside;
    const float rest = inside - (float)whole;
    const int32_t near = whole + (int32_t)(rest + rest); /* 1 from a half on */

    return above < (float)2147483647.0 ? near : INT32_MAX;
}

#ifdef PIPIT_SEVERAL
/* Words of the table, and what sections remember, go into registers beside each other, and back,
 * in one instruction; nothing is computed there. */
static PIPIT_INLINE void pipit_first(const float **from, float *to)
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

static PIPIT_INLINE void pipit_first_states(const pipit_memory *m, pipit_memory *is)
{
    register float p_0 __asm__("s6");
    register float q_0 __asm__("s7");

    __asm__("vldmia %2, {s6-s7}"
            : "=t"(p_0), "=t"(q_0)
            : "r"(m), "m"(m[0]));
    is[0].p = p_0;
    is[0].q = q_0;
}

static PIPIT_INLINE void pipit_keep_first(pipit_memory *m, const pipit_memory *is)
{
    register float p_0 __asm__("s6");
    register float q_0 __asm__("s7");

    p_0 = is[0].p;
    q_0 = is[0].q;
    __asm__("vstmia %1, {s6-s7}"
            : "=m"(m[0])
            : "r"(m), "t"(p_0), "t"(q_0));
}

static PIPIT_INLINE void pipit_words_2(const float *from, float *to)
{
    register float word_0 __asm__("s14");
    register float word_1 __asm__("s15");

    __asm__("vldmia %2, {s14-s15}"
            : "=t"(word_0), "=t"(word_1)
            : "r"(from), "m"(from[0]), "m"(from[1]));
    to[0] = word_0;
    to[1] = word_1;
}

static PIPIT_INLINE void pipit_words_7(const float *from, float *to)
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

static PIPIT_INLINE void pipit_states_1(const pipit_memory *m, pipit_memory *is)
{
    register float p_0 __asm__("s8");
    register float q_0 __asm__("s9");

    __asm__("vldmia %2, {s8-s9}"
            : "=t"(p_0), "=t"(q_0)
            : "r"(m), "m"(m[0]));
    is[0].p = p_0;
    is[0].q = q_0;
}

static PIPIT_INLINE void pipit_keep_states_1(pipit_memory *m, const pipit_memory *is)
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
 * Each pass takes samples through up to 2 sections of one form; between them everything is
 * in registers. Those that begin no list have no gain; an empty list is the gain alone. n is not 0. */
static PIPIT_NOINLINE void pipit_run_list(const float *table,
        const uint16_t *list, pipit_memory *m, float gain, const float *from, float *to, int n)
{
    PIPIT_AS_WRITTEN
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
        const float *w = &table[word & PIPIT_ROW];
        const unsigned int head = word >> PIPIT_HEAD;
        float *at = to;
#ifdef PIPIT_SEVERAL
        float first[3];
        pipit_memory is;

        pipit_first(&w, first);
        pipit_first_states(m, &is);
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
#ifdef PIPIT_SEVERAL
            float words[2];

            pipit_words_2(w, words);
            const float b1_0 = words[0];
            const float b2_0 = words[1];
#else
            const float b1_0 = w[3];
            const float b2_0 = w[4];
#endif

            do {
                const float x = gain * *from;
                const float y_0 = b0_0 * x + p_0;
                p_0 = (q_0 + b1_0 * x) - a1_0 * y_0;
                q_0 = b2_0 * x - a2_0 * y_0;
                *at = y_0;
                from++;
                at++;
            } while (at != end);
            break;
        }
        case 11u: { /* delta, 2 */
#ifdef PIPIT_SEVERAL
            float words[7];
            pipit_memory more[1];

            pipit_words_7(w, words);
            pipit_states_1(&m[1], more);
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
                const float x = *from;
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
#ifdef PIPIT_SEVERAL
            more[0].p = p_1;
            more[0].q = q_1;
            pipit_keep_states_1(&m[1], more);
#else
            m[1].p = p_1;
            m[1].q = q_1;
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
#ifdef PIPIT_SEVERAL
        is.p = p_0;
        is.q = q_0;
        pipit_keep_first(m, &is);
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
static PIPIT_COLD void pipit_fade(float *io, float step,
        int32_t from, int32_t way, int n)
{
    PIPIT_AS_WRITTEN
    int i;

    for (i = 0; i < n; i++) {
        const float at = (float)(from + (way * i));
        const float u = at * step;
        const float w = ((u * u) * u) * (u * (6.0f * u - 15.0f) + 10.0f);
        io[i] = w * io[i];
    }
}

/* Gain and sections of cascade c over n samples, from -> io. */
static inline void pipit_run_cascade(const pipit_rate_entry *rate,
        pipit_channel_state *ch, int c, const float *from, float *io, int n)
{
    const pipit_cascade_entry *cascade = &rate->cascade[c];

    pipit_run_list(rate->sections, &rate->lists[cascade->list], &ch->now[cascade->from],
        cascade->gain, from, io, n);
}

/* The common part over n samples of one channel: in[i] -> now[i].
 * What returns are the samples before garbage. */
static int pipit_run_common(const pipit_rate_entry *rate, pipit_channel_state *ch,
        const float *in, float *now, int n)
{
    PIPIT_AS_WRITTEN
    const float gain = rate->cascade[0].gain;
    uint32_t sizes = 0u;
    int good = n;
    int i;

    if (ch->fresh != 0u || ch->dead != 0u) {
        good = 0;
    }
    for (i = 0; i < good; i++) {
        sizes |= pipit_bits(in[i]);
        float x = in[i];
        now[i] = gain * x;
    }
    if ((sizes << 1) >= PIPIT_GARBAGE) { /* perhaps */
        good = 0;
        while (good < n && (pipit_bits(in[good]) << 1) < PIPIT_GARBAGE) {
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
static PIPIT_COLD void pipit_shade(const pipit_rate_entry *rate,
        const pipit_channel_state *ch, float *io, int good, int n)
{
    int heard = good;
    int i;
    if (ch->step != 0) {
        pipit_fade(io, rate->step, ch->open, ch->step, good);
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
static void pipit_run_ways(const pipit_rate_entry *rate, pipit_channel_state *ch,
        const float *now, int good, float *const *out, int at, int n)
{
    int c;

    for (c = 1; c <= PIPIT_WAYS; c++) {
        float *io = &out[c - 1][at];

        if (good > 0) {
            pipit_run_cascade(rate, ch, c, now, io, good);
        }
        if (ch->calm == 0u) {
            pipit_shade(rate, ch, io, good, n);
        }
    }
    if (ch->calm == 0u) {
        ch->open = (int16_t)(ch->open + (ch->step * n));
    }
}

/* n samples of one channel, none beyond a tick: in[i] -> out[way][at + i]. */
static PIPIT_NOINLINE void pipit_run_block(const pipit_rate_entry *rate, pipit_channel_state *ch,
        const float *in, float *const *out, int at, int n)
{
    float now[PIPIT_TICK];
    int good;
    good = pipit_run_common(rate, ch, in, now, n);
    pipit_run_ways(rate, ch, now, good, out, at, n);
}

#ifndef PIPIT_NO_SINGLES

/* Where there is PIPIT_SEVERAL, words go from memory into registers beside each other, and back,
 * in one instruction; nothing is computed there. */
/* A row of 3 words, and the next row is next. */
static PIPIT_INLINE void pipit_row_3(const float **w, pipit_section_words *row)
{
#ifdef PIPIT_SEVERAL
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
static PIPIT_INLINE void pipit_row_5(const float **w, pipit_section_words *row)
{
#ifdef PIPIT_SEVERAL
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
static inline pipit_memory pipit_load_0(const pipit_memory *m)
{
#ifdef PIPIT_SEVERAL
    register float p __asm__("s2");
    register float q __asm__("s3");
    pipit_memory is;

    __asm__("vldmia %2, {s2-s3}" : "=t"(p), "=t"(q) : "r"(m), "m"(*m));
    is.p = p;
    is.q = q;
    return is;
#else
    return *m;
#endif
}

/* What it shall remember, and the next section is next. */
static inline void pipit_keep_0(pipit_memory **m, pipit_memory is)
{
#ifdef PIPIT_SEVERAL
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
static inline void pipit_step(const pipit_rate_entry *rate,
        pipit_channel_state *ch_0, float x_0,
        float *const *out_0)
{
    PIPIT_AS_WRITTEN
    const pipit_cascade_entry *cascade = &rate->cascade[0];
    const pipit_cascade_entry *const stop = &rate->cascade[PIPIT_WAYS];
    const float *w = rate->sections;
    pipit_memory *m_0 = ch_0->now;
    float now_0;
    float *to_0 = &now_0;

    x_0 = cascade->gain * x_0;
    for (;;) {
        uint32_t forms = (uint32_t)cascade->forms << 16;
        const uint16_t some = cascade->forms;

            if (some != 0u) {
                do {
                    pipit_section_words row;
                    pipit_memory is_0 = pipit_load_0(m_0);

                    if (forms >= 0xc0000000u) { /* delta */
                        pipit_row_5(&w, &row);
                        const float b1x_0 = row.b1 * x_0;
                        const float b2x_0 = row.b2 * x_0;
                        const float y_0 = row.b0 * x_0 + is_0.p;
                        is_0.p = is_0.p + ((is_0.q + b1x_0) - row.a1 * y_0);
                        is_0.q = (is_0.q + b2x_0) - row.a2 * y_0;
                        x_0 = y_0;
                    } else if (forms >= 0x80000000u) { /* delta without b1 and b2 */
                        pipit_row_3(&w, &row);
                        const float y_0 = row.b0 * x_0 + is_0.p;
                        is_0.p = is_0.p + (is_0.q - row.a1 * y_0);
                        is_0.q = is_0.q - row.a2 * y_0;
                        x_0 = y_0;
                    } else { /* direct */
                        pipit_row_5(&w, &row);
                        const float b1x_0 = row.b1 * x_0;
                        const float b2x_0 = row.b2 * x_0;
                        const float y_0 = row.b0 * x_0 + is_0.p;
                        is_0.p = (is_0.q + b1x_0) - row.a1 * y_0;
                        is_0.q = b2x_0 - row.a2 * y_0;
                        x_0 = y_0;
                    }
                    pipit_keep_0(&m_0, is_0);
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
typedef struct pipit_frames pipit_frames;
struct pipit_frames {
    const float *in;
    float *out;
    const int32_t *in32; /* where they are wide */
    int32_t *out32;
    int wide;
#ifndef PIPIT_NO_SINGLES
    pipit_state *s;
#endif
    /* Takes samples through their filters: by a pointer, so that programs without frames are
     * linked without it. */
    int (*through)(pipit_frames *f, const pipit_rate_entry *rate,
        pipit_channel_state *ch, int k, int n, int apart);
    const float *ins[PIPIT_CHANNELS];
    float *outs[PIPIT_CHANNELS * PIPIT_WAYS];
    float from[PIPIT_TICK];
    float to[PIPIT_WAYS][PIPIT_TICK];
};
/* ---- lanes ---------------------------------------------------------------------------- */

/* Where the compiler has vectors, the ways of all channels go through their sections side by side;
 * those that have no more go through sections that change nothing, to the bit. The same operations
 * in the same order give the same bits. Words and states of the ways stand in lanes of the state as
 * long as no channel fades, so that a single sample costs nothing to get there; what the channels
 * themselves remember of their ways is out of date then. */
#if defined __GNUC__ && (defined __SSE2__ || defined __aarch64__) && !defined PIPIT_NO_LANES
#define PIPIT_LANES 4 /* in a vector */
#define PIPIT_GROUPS 1 /* vectors that hold all lanes */
#define PIPIT_DEEP 5 /* sections of a lane, with those that a last pass has too many */
#define PIPIT_LONG 64 /* the most samples at once */
#define PIPIT_SAVING 3 /* half sections that one of all lanes has to stand for */

/* So that the loops over n samples are ones over one sample elsewhere. */
#define PIPIT_ALWAYS __attribute__((always_inline))

typedef float pipit_lanes __attribute__((vector_size(16)));
typedef int32_t pipit_marks __attribute__((vector_size(16)));
typedef float pipit_short __attribute__((vector_size(16)));
typedef int32_t pipit_short_marks __attribute__((vector_size(16)));

/* Words of two vectors in another order. */
#if defined __clang__ || __GNUC__ >= 12
#define PIPIT_SHUFFLE(a, b, ...) __builtin_shufflevector(a, b, __VA_ARGS__)
#else
#define PIPIT_SHUFFLE(a, b, ...) __builtin_shuffle(a, b, (pipit_short_marks){ __VA_ARGS__ })
#endif

/* Lanes of b where those of the mask are negative, otherwise of a, in one instruction. */
#if defined __SSE4_1__ && defined __has_builtin
#if __has_builtin(__builtin_ia32_blendvps)
#define PIPIT_BLEND(a, b, mask) __builtin_ia32_blendvps(a, b, mask)
#endif
#endif

/* Loops that clang leaves as they stand. */
#ifdef __clang__
#define PIPIT_ROLLED _Pragma("clang loop unroll(disable)")
#else
#define PIPIT_ROLLED
#endif

/* Vectors, and each lane of them. */
typedef union {
    pipit_lanes all;
    float one[PIPIT_LANES];
} pipit_lane_words;

typedef union {
    pipit_marks all;
    int32_t one[PIPIT_LANES];
} pipit_lane_marks;

/* Section k of every lane. */
typedef struct {
    pipit_lane_words word[7]; /* b0, b1, b2, a1, a2, p, q */
    pipit_lane_marks keep; /* all ones in a lane in the delta form, otherwise 0 */
    pipit_lane_words zero; /* -0, which adds nothing, to the bit, in all others */
    pipit_lane_words none; /* -0 in a lane that has no such section, otherwise 0 */
} pipit_lane_section;

/* Lanes beside each other in one vector. */
typedef struct {
    pipit_lane_section section[PIPIT_DEEP];
    pipit_lane_words gain;
    int32_t count[PIPIT_LANES]; /* sections of each */
    /* Which one begins at a section: how many it takes, and 8 times the form; 0: the end. */
    unsigned char pass[PIPIT_DEEP + 1];
    unsigned char alone[PIPIT_DEEP + 1]; /* the same for a single sample, with 32 times the form */
} pipit_lane_group;

/* All that the state keeps room for. */
typedef struct __attribute__((may_alias)) {
    pipit_lane_group group[PIPIT_GROUPS];
} pipit_lane_store;

/* There is room for it, wherever in the state a whole vector begins. */
typedef char pipit_lane_room[
    sizeof(pipit_lane_store) + 16u <= sizeof(((pipit_state *)0)->lanes) ? 1 : -1];

/* Where that begins, in bytes. */
static inline unsigned int pipit_lanes_begin(const pipit_state *s)
{
    return (16u - (unsigned int)((uintptr_t)s->lanes % 16u)) % 16u;
}

/* It, where lanes have been there since. */
static inline pipit_lane_group *pipit_lane_groups_at(pipit_state *s)
{
    unsigned char *const room = (unsigned char *)s->lanes;

    return ((pipit_lane_store *)(void *)&room[s->lanes_at])->group;
}

/* That of a state, which may have been copied to where whole vectors begin elsewhere. */
static inline pipit_lane_group *pipit_lane_groups(pipit_state *s)
{
    unsigned char *const room = (unsigned char *)s->lanes;
    const unsigned int at = pipit_lanes_begin(s);

    if (at != s->lanes_at) {
        (void)memmove(&room[at], &room[s->lanes_at], sizeof(pipit_lane_store));
        s->lanes_at = (unsigned char)at;
    }
    return pipit_lane_groups_at(s);
}

/* A state in lanes of the delta form, and -0 in all others. */
#ifdef PIPIT_BLEND
static const pipit_lanes pipit_nothing = {
    -0.0f,
    -0.0f,
    -0.0f,
    -0.0f,
};
#define PIPIT_BACK(state, s) \
    PIPIT_BLEND(pipit_nothing, state, (pipit_lanes)(s).keep.all)
#else
#define PIPIT_BACK(state, s) \
    ((pipit_lanes)(((pipit_marks)(state) & (s).keep.all) | (pipit_marks)(s).zero.all))
#endif

/* Words stay in memory: there is no room for all in registers, and copies gain nothing. */
static inline PIPIT_ALWAYS void pipit_lanes_direct_3(pipit_lane_section *s,
        pipit_lane_words *io, int n)
{
    PIPIT_AS_WRITTEN
    pipit_lanes p_0 = s[0].word[5].all;
    pipit_lanes q_0 = s[0].word[6].all;
    pipit_lanes p_1 = s[1].word[5].all;
    pipit_lanes q_1 = s[1].word[6].all;
    pipit_lanes p_2 = s[2].word[5].all;
    pipit_lanes q_2 = s[2].word[6].all;
    int i;

    for (i = 0; i < n; i++) {
        const pipit_lanes x = io[i].all;
        const pipit_lanes y_0 = s[0].word[0].all * x + p_0;
        const pipit_lanes y_1 = s[1].word[0].all * y_0 + p_1;
        p_0 = (q_0 + s[0].word[1].all * x) - s[0].word[3].all * y_0;
        q_0 = s[0].word[2].all * x - s[0].word[4].all * y_0;
        const pipit_lanes y_2 = s[2].word[0].all * y_1 + p_2;
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

static inline PIPIT_ALWAYS void pipit_lanes_direct_5(pipit_lane_section *s,
        pipit_lane_words *io, int n)
{
    PIPIT_AS_WRITTEN
    pipit_lanes p_0 = s[0].word[5].all;
    pipit_lanes q_0 = s[0].word[6].all;
    pipit_lanes p_1 = s[1].word[5].all;
    pipit_lanes q_1 = s[1].word[6].all;
    pipit_lanes p_2 = s[2].word[5].all;
    pipit_lanes q_2 = s[2].word[6].all;
    pipit_lanes p_3 = s[3].word[5].all;
    pipit_lanes q_3 = s[3].word[6].all;
    pipit_lanes p_4 = s[4].word[5].all;
    pipit_lanes q_4 = s[4].word[6].all;
    int i;

    for (i = 0; i < n; i++) {
        const pipit_lanes x = io[i].all;
        const pipit_lanes y_0 = s[0].word[0].all * x + p_0;
        const pipit_lanes y_1 = s[1].word[0].all * y_0 + p_1;
        p_0 = (q_0 + s[0].word[1].all * x) - s[0].word[3].all * y_0;
        q_0 = s[0].word[2].all * x - s[0].word[4].all * y_0;
        const pipit_lanes y_2 = s[2].word[0].all * y_1 + p_2;
        p_1 = (q_1 + s[1].word[1].all * y_0) - s[1].word[3].all * y_1;
        q_1 = s[1].word[2].all * y_0 - s[1].word[4].all * y_1;
        const pipit_lanes y_3 = s[3].word[0].all * y_2 + p_3;
        p_2 = (q_2 + s[2].word[1].all * y_1) - s[2].word[3].all * y_2;
        q_2 = s[2].word[2].all * y_1 - s[2].word[4].all * y_2;
        const pipit_lanes y_4 = s[4].word[0].all * y_3 + p_4;
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

static inline PIPIT_ALWAYS void pipit_lanes_delta_3(pipit_lane_section *s,
        pipit_lane_words *io, int n)
{
    PIPIT_AS_WRITTEN
    pipit_lanes p_0 = s[0].word[5].all;
    pipit_lanes q_0 = s[0].word[6].all;
    pipit_lanes p_1 = s[1].word[5].all;
    pipit_lanes q_1 = s[1].word[6].all;
    pipit_lanes p_2 = s[2].word[5].all;
    pipit_lanes q_2 = s[2].word[6].all;
    int i;

    for (i = 0; i < n; i++) {
        const pipit_lanes x = io[i].all;
        const pipit_lanes y_0 = s[0].word[0].all * x + p_0;
        const pipit_lanes y_1 = s[1].word[0].all * y_0 + p_1;
        p_0 = p_0 + ((q_0 + s[0].word[1].all * x) - s[0].word[3].all * y_0);
        q_0 = (q_0 + s[0].word[2].all * x) - s[0].word[4].all * y_0;
        const pipit_lanes y_2 = s[2].word[0].all * y_1 + p_2;
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

static inline PIPIT_ALWAYS void pipit_lanes_delta_5(pipit_lane_section *s,
        pipit_lane_words *io, int n)
{
    PIPIT_AS_WRITTEN
    pipit_lanes p_0 = s[0].word[5].all;
    pipit_lanes q_0 = s[0].word[6].all;
    pipit_lanes p_1 = s[1].word[5].all;
    pipit_lanes q_1 = s[1].word[6].all;
    pipit_lanes p_2 = s[2].word[5].all;
    pipit_lanes q_2 = s[2].word[6].all;
    pipit_lanes p_3 = s[3].word[5].all;
    pipit_lanes q_3 = s[3].word[6].all;
    pipit_lanes p_4 = s[4].word[5].all;
    pipit_lanes q_4 = s[4].word[6].all;
    int i;

    for (i = 0; i < n; i++) {
        const pipit_lanes x = io[i].all;
        const pipit_lanes y_0 = s[0].word[0].all * x + p_0;
        const pipit_lanes y_1 = s[1].word[0].all * y_0 + p_1;
        p_0 = p_0 + ((q_0 + s[0].word[1].all * x) - s[0].word[3].all * y_0);
        q_0 = (q_0 + s[0].word[2].all * x) - s[0].word[4].all * y_0;
        const pipit_lanes y_2 = s[2].word[0].all * y_1 + p_2;
        p_1 = p_1 + ((q_1 + s[1].word[1].all * y_0) - s[1].word[3].all * y_1);
        q_1 = (q_1 + s[1].word[2].all * y_0) - s[1].word[4].all * y_1;
        const pipit_lanes y_3 = s[3].word[0].all * y_2 + p_3;
        p_2 = p_2 + ((q_2 + s[2].word[1].all * y_1) - s[2].word[3].all * y_2);
        q_2 = (q_2 + s[2].word[2].all * y_1) - s[2].word[4].all * y_2;
        const pipit_lanes y_4 = s[4].word[0].all * y_3 + p_4;
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

static inline PIPIT_ALWAYS void pipit_lanes_mixed_3(pipit_lane_section *s,
        pipit_lane_words *io, int n)
{
    PIPIT_AS_WRITTEN
    pipit_lanes p_0 = s[0].word[5].all;
    pipit_lanes q_0 = s[0].word[6].all;
    pipit_lanes p_1 = s[1].word[5].all;
    pipit_lanes q_1 = s[1].word[6].all;
    pipit_lanes p_2 = s[2].word[5].all;
    pipit_lanes q_2 = s[2].word[6].all;
    int i;

    for (i = 0; i < n; i++) {
        const pipit_lanes x = io[i].all;
        const pipit_lanes y_0 = s[0].word[0].all * x + p_0;
        const pipit_lanes y_1 = s[1].word[0].all * y_0 + p_1;
        p_0 = PIPIT_BACK(p_0, s[0]) + ((q_0 + s[0].word[1].all * x) - s[0].word[3].all * y_0);
        q_0 = (PIPIT_BACK(q_0, s[0]) + s[0].word[2].all * x) - s[0].word[4].all * y_0;
        const pipit_lanes y_2 = s[2].word[0].all * y_1 + p_2;
        p_1 = PIPIT_BACK(p_1, s[1]) + ((q_1 + s[1].word[1].all * y_0) - s[1].word[3].all * y_1);
        q_1 = (PIPIT_BACK(q_1, s[1]) + s[1].word[2].all * y_0) - s[1].word[4].all * y_1;
        p_2 = PIPIT_BACK(p_2, s[2]) + ((q_2 + s[2].word[1].all * y_1) - s[2].word[3].all * y_2);
        q_2 = (PIPIT_BACK(q_2, s[2]) + s[2].word[2].all * y_1) - s[2].word[4].all * y_2;
        io[i].all = y_2;
    }
    s[0].word[5].all = p_0;
    s[0].word[6].all = q_0;
    s[1].word[5].all = p_1;
    s[1].word[6].all = q_1;
    s[2].word[5].all = p_2;
    s[2].word[6].all = q_2;
}

static inline PIPIT_ALWAYS void pipit_lanes_mixed_5(pipit_lane_section *s,
        pipit_lane_words *io, int n)
{
    PIPIT_AS_WRITTEN
    pipit_lanes p_0 = s[0].word[5].all;
    pipit_lanes q_0 = s[0].word[6].all;
    pipit_lanes p_1 = s[1].word[5].all;
    pipit_lanes q_1 = s[1].word[6].all;
    pipit_lanes p_2 = s[2].word[5].all;
    pipit_lanes q_2 = s[2].word[6].all;
    pipit_lanes p_3 = s[3].word[5].all;
    pipit_lanes q_3 = s[3].word[6].all;
    pipit_lanes p_4 = s[4].word[5].all;
    pipit_lanes q_4 = s[4].word[6].all;
    int i;

    for (i = 0; i < n; i++) {
        const pipit_lanes x = io[i].all;
        const pipit_lanes y_0 = s[0].word[0].all * x + p_0;
        const pipit_lanes y_1 = s[1].word[0].all * y_0 + p_1;
        p_0 = PIPIT_BACK(p_0, s[0]) + ((q_0 + s[0].word[1].all * x) - s[0].word[3].all * y_0);
        q_0 = (PIPIT_BACK(q_0, s[0]) + s[0].word[2].all * x) - s[0].word[4].all * y_0;
        const pipit_lanes y_2 = s[2].word[0].all * y_1 + p_2;
        p_1 = PIPIT_BACK(p_1, s[1]) + ((q_1 + s[1].word[1].all * y_0) - s[1].word[3].all * y_1);
        q_1 = (PIPIT_BACK(q_1, s[1]) + s[1].word[2].all * y_0) - s[1].word[4].all * y_1;
        const pipit_lanes y_3 = s[3].word[0].all * y_2 + p_3;
        p_2 = PIPIT_BACK(p_2, s[2]) + ((q_2 + s[2].word[1].all * y_1) - s[2].word[3].all * y_2);
        q_2 = (PIPIT_BACK(q_2, s[2]) + s[2].word[2].all * y_1) - s[2].word[4].all * y_2;
        const pipit_lanes y_4 = s[4].word[0].all * y_3 + p_4;
        p_3 = PIPIT_BACK(p_3, s[3]) + ((q_3 + s[3].word[1].all * y_2) - s[3].word[3].all * y_3);
        q_3 = (PIPIT_BACK(q_3, s[3]) + s[3].word[2].all * y_2) - s[3].word[4].all * y_3;
        p_4 = PIPIT_BACK(p_4, s[4]) + ((q_4 + s[4].word[1].all * y_3) - s[4].word[3].all * y_4);
        q_4 = (PIPIT_BACK(q_4, s[4]) + s[4].word[2].all * y_3) - s[4].word[4].all * y_4;
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

static inline PIPIT_ALWAYS void pipit_lanes_ragged_3(pipit_lane_section *s,
        pipit_lane_words *io, int n)
{
    PIPIT_AS_WRITTEN
    pipit_lanes p_0 = s[0].word[5].all;
    pipit_lanes q_0 = s[0].word[6].all;
    pipit_lanes p_1 = s[1].word[5].all;
    pipit_lanes q_1 = s[1].word[6].all;
    pipit_lanes p_2 = s[2].word[5].all;
    pipit_lanes q_2 = s[2].word[6].all;
    int i;

    for (i = 0; i < n; i++) {
        const pipit_lanes x = io[i].all;
        const pipit_lanes y_0 = s[0].word[0].all * x + p_0;
        const pipit_lanes y_1 = s[1].word[0].all * y_0 + p_1;
        p_0 = PIPIT_BACK(p_0, s[0]) + ((q_0 + s[0].word[1].all * x) - s[0].word[3].all * y_0);
        p_0 = (pipit_lanes)((pipit_marks)p_0 | (pipit_marks)s[0].none.all);
        q_0 = (PIPIT_BACK(q_0, s[0]) + s[0].word[2].all * x) - s[0].word[4].all * y_0;
        const pipit_lanes y_2 = s[2].word[0].all * y_1 + p_2;
        p_1 = PIPIT_BACK(p_1, s[1]) + ((q_1 + s[1].word[1].all * y_0) - s[1].word[3].all * y_1);
        p_1 = (pipit_lanes)((pipit_marks)p_1 | (pipit_marks)s[1].none.all);
        q_1 = (PIPIT_BACK(q_1, s[1]) + s[1].word[2].all * y_0) - s[1].word[4].all * y_1;
        p_2 = PIPIT_BACK(p_2, s[2]) + ((q_2 + s[2].word[1].all * y_1) - s[2].word[3].all * y_2);
        p_2 = (pipit_lanes)((pipit_marks)p_2 | (pipit_marks)s[2].none.all);
        q_2 = (PIPIT_BACK(q_2, s[2]) + s[2].word[2].all * y_1) - s[2].word[4].all * y_2;
        io[i].all = y_2;
    }
    s[0].word[5].all = p_0;
    s[0].word[6].all = q_0;
    s[1].word[5].all = p_1;
    s[1].word[6].all = q_1;
    s[2].word[5].all = p_2;
    s[2].word[6].all = q_2;
}

static inline PIPIT_ALWAYS void pipit_lanes_ragged_5(pipit_lane_section *s,
        pipit_lane_words *io, int n)
{
    PIPIT_AS_WRITTEN
    pipit_lanes p_0 = s[0].word[5].all;
    pipit_lanes q_0 = s[0].word[6].all;
    pipit_lanes p_1 = s[1].word[5].all;
    pipit_lanes q_1 = s[1].word[6].all;
    pipit_lanes p_2 = s[2].word[5].all;
    pipit_lanes q_2 = s[2].word[6].all;
    pipit_lanes p_3 = s[3].word[5].all;
    pipit_lanes q_3 = s[3].word[6].all;
    pipit_lanes p_4 = s[4].word[5].all;
    pipit_lanes q_4 = s[4].word[6].all;
    int i;

    for (i = 0; i < n; i++) {
        const pipit_lanes x = io[i].all;
        const pipit_lanes y_0 = s[0].word[0].all * x + p_0;
        const pipit_lanes y_1 = s[1].word[0].all * y_0 + p_1;
        p_0 = PIPIT_BACK(p_0, s[0]) + ((q_0 + s[0].word[1].all * x) - s[0].word[3].all * y_0);
        p_0 = (pipit_lanes)((pipit_marks)p_0 | (pipit_marks)s[0].none.all);
        q_0 = (PIPIT_BACK(q_0, s[0]) + s[0].word[2].all * x) - s[0].word[4].all * y_0;
        const pipit_lanes y_2 = s[2].word[0].all * y_1 + p_2;
        p_1 = PIPIT_BACK(p_1, s[1]) + ((q_1 + s[1].word[1].all * y_0) - s[1].word[3].all * y_1);
        p_1 = (pipit_lanes)((pipit_marks)p_1 | (pipit_marks)s[1].none.all);
        q_1 = (PIPIT_BACK(q_1, s[1]) + s[1].word[2].all * y_0) - s[1].word[4].all * y_1;
        const pipit_lanes y_3 = s[3].word[0].all * y_2 + p_3;
        p_2 = PIPIT_BACK(p_2, s[2]) + ((q_2 + s[2].word[1].all * y_1) - s[2].word[3].all * y_2);
        p_2 = (pipit_lanes)((pipit_marks)p_2 | (pipit_marks)s[2].none.all);
        q_2 = (PIPIT_BACK(q_2, s[2]) + s[2].word[2].all * y_1) - s[2].word[4].all * y_2;
        const pipit_lanes y_4 = s[4].word[0].all * y_3 + p_4;
        p_3 = PIPIT_BACK(p_3, s[3]) + ((q_3 + s[3].word[1].all * y_2) - s[3].word[3].all * y_3);
        p_3 = (pipit_lanes)((pipit_marks)p_3 | (pipit_marks)s[3].none.all);
        q_3 = (PIPIT_BACK(q_3, s[3]) + s[3].word[2].all * y_2) - s[3].word[4].all * y_3;
        p_4 = PIPIT_BACK(p_4, s[4]) + ((q_4 + s[4].word[1].all * y_3) - s[4].word[3].all * y_4);
        p_4 = (pipit_lanes)((pipit_marks)p_4 | (pipit_marks)s[4].none.all);
        q_4 = (PIPIT_BACK(q_4, s[4]) + s[4].word[2].all * y_3) - s[4].word[4].all * y_4;
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
static inline PIPIT_ALWAYS int pipit_lane_pass(unsigned int pass,
        pipit_lane_section *s, pipit_lane_words *io, int n)
{
    switch (pass) {
    case 11u:
        pipit_lanes_direct_3(s, io, n);
        break;
    case 13u:
        pipit_lanes_direct_5(s, io, n);
        break;
    case 19u:
        pipit_lanes_delta_3(s, io, n);
        break;
    case 21u:
        pipit_lanes_delta_5(s, io, n);
        break;
    case 27u:
        pipit_lanes_mixed_3(s, io, n);
        break;
    case 29u:
        pipit_lanes_mixed_5(s, io, n);
        break;
    case 35u:
        pipit_lanes_ragged_3(s, io, n);
        break;
    case 37u:
        pipit_lanes_ragged_5(s, io, n);
        break;
    default:
        break;
    }
    return (int)(pass % 8u);
}

/* A single sample of every lane, io, through a group's sections. */
static inline PIPIT_ALWAYS void pipit_lane_alone(pipit_lane_group *group, pipit_lanes *io)
{
    PIPIT_AS_WRITTEN
    pipit_lanes x = *io;
    pipit_lane_section *s = group->section;
    const unsigned char *run;

    for (run = group->alone; *run != 0u; run++) {
        unsigned int left = (unsigned int)*run % 32u;

        switch (*run / 32u) {
        case 1u: /* direct */
            PIPIT_ROLLED
            for (; left > 4u; left -= 5u) {
                pipit_lanes p_0 = s[0].word[5].all;
                pipit_lanes q_0 = s[0].word[6].all;
                const pipit_lanes y_0 = s[0].word[0].all * x + p_0;
                pipit_lanes p_1 = s[1].word[5].all;
                pipit_lanes q_1 = s[1].word[6].all;
                const pipit_lanes y_1 = s[1].word[0].all * y_0 + p_1;
                p_0 = (q_0 + s[0].word[1].all * x) - s[0].word[3].all * y_0;
                s[0].word[5].all = p_0;
                q_0 = s[0].word[2].all * x - s[0].word[4].all * y_0;
                s[0].word[6].all = q_0;
                pipit_lanes p_2 = s[2].word[5].all;
                pipit_lanes q_2 = s[2].word[6].all;
                const pipit_lanes y_2 = s[2].word[0].all * y_1 + p_2;
                p_1 = (q_1 + s[1].word[1].all * y_0) - s[1].word[3].all * y_1;
                s[1].word[5].all = p_1;
                q_1 = s[1].word[2].all * y_0 - s[1].word[4].all * y_1;
                s[1].word[6].all = q_1;
                pipit_lanes p_3 = s[3].word[5].all;
                pipit_lanes q_3 = s[3].word[6].all;
                const pipit_lanes y_3 = s[3].word[0].all * y_2 + p_3;
                p_2 = (q_2 + s[2].word[1].all * y_1) - s[2].word[3].all * y_2;
                s[2].word[5].all = p_2;
                q_2 = s[2].word[2].all * y_1 - s[2].word[4].all * y_2;
                s[2].word[6].all = q_2;
                pipit_lanes p_4 = s[4].word[5].all;
                pipit_lanes q_4 = s[4].word[6].all;
                const pipit_lanes y_4 = s[4].word[0].all * y_3 + p_4;
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
            PIPIT_ROLLED
            for (; left != 0u; left--) {
                pipit_lanes p_0 = s[0].word[5].all;
                pipit_lanes q_0 = s[0].word[6].all;
                const pipit_lanes y_0 = s[0].word[0].all * x + p_0;
                p_0 = (q_0 + s[0].word[1].all * x) - s[0].word[3].all * y_0;
                s[0].word[5].all = p_0;
                q_0 = s[0].word[2].all * x - s[0].word[4].all * y_0;
                s[0].word[6].all = q_0;
                x = y_0;
                s += 1;
            }
            break;
        case 2u: /* delta */
            PIPIT_ROLLED
            for (; left > 4u; left -= 5u) {
                pipit_lanes p_0 = s[0].word[5].all;
                pipit_lanes q_0 = s[0].word[6].all;
                const pipit_lanes y_0 = s[0].word[0].all * x + p_0;
                pipit_lanes p_1 = s[1].word[5].all;
                pipit_lanes q_1 = s[1].word[6].all;
                const pipit_lanes y_1 = s[1].word[0].all * y_0 + p_1;
                p_0 = p_0 + ((q_0 + s[0].word[1].all * x) - s[0].word[3].all * y_0);
                s[0].word[5].all = p_0;
                q_0 = (q_0 + s[0].word[2].all * x) - s[0].word[4].all * y_0;
                s[0].word[6].all = q_0;
                pipit_lanes p_2 = s[2].word[5].all;
                pipit_lanes q_2 = s[2].word[6].all;
                const pipit_lanes y_2 = s[2].word[0].all * y_1 + p_2;
                p_1 = p_1 + ((q_1 + s[1].word[1].all * y_0) - s[1].word[3].all * y_1);
                s[1].word[5].all = p_1;
                q_1 = (q_1 + s[1].word[2].all * y_0) - s[1].word[4].all * y_1;
                s[1].word[6].all = q_1;
                pipit_lanes p_3 = s[3].word[5].all;
                pipit_lanes q_3 = s[3].word[6].all;
                const pipit_lanes y_3 = s[3].word[0].all * y_2 + p_3;
                p_2 = p_2 + ((q_2 + s[2].word[1].all * y_1) - s[2].word[3].all * y_2);
                s[2].word[5].all = p_2;
                q_2 = (q_2 + s[2].word[2].all * y_1) - s[2].word[4].all * y_2;
                s[2].word[6].all = q_2;
                pipit_lanes p_4 = s[4].word[5].all;
                pipit_lanes q_4 = s[4].word[6].all;
                const pipit_lanes y_4 = s[4].word[0].all * y_3 + p_4;
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
            PIPIT_ROLLED
            for (; left != 0u; left--) {
                pipit_lanes p_0 = s[0].word[5].all;
                pipit_lanes q_0 = s[0].word[6].all;
                const pipit_lanes y_0 = s[0].word[0].all * x + p_0;
                p_0 = p_0 + ((q_0 + s[0].word[1].all * x) - s[0].word[3].all * y_0);
                s[0].word[5].all = p_0;
                q_0 = (q_0 + s[0].word[2].all * x) - s[0].word[4].all * y_0;
                s[0].word[6].all = q_0;
                x = y_0;
                s += 1;
            }
            break;
        case 3u: /* mixed */
            PIPIT_ROLLED
            for (; left > 4u; left -= 5u) {
                pipit_lanes p_0 = s[0].word[5].all;
                pipit_lanes q_0 = s[0].word[6].all;
                const pipit_lanes y_0 = s[0].word[0].all * x + p_0;
                pipit_lanes p_1 = s[1].word[5].all;
                pipit_lanes q_1 = s[1].word[6].all;
                const pipit_lanes y_1 = s[1].word[0].all * y_0 + p_1;
                p_0 = PIPIT_BACK(p_0, s[0]) + ((q_0 + s[0].word[1].all * x) - s[0].word[3].all *
                    y_0);
                s[0].word[5].all = p_0;
                q_0 = (PIPIT_BACK(q_0, s[0]) + s[0].word[2].all * x) - s[0].word[4].all * y_0;
                s[0].word[6].all = q_0;
                pipit_lanes p_2 = s[2].word[5].all;
                pipit_lanes q_2 = s[2].word[6].all;
                const pipit_lanes y_2 = s[2].word[0].all * y_1 + p_2;
                p_1 = PIPIT_BACK(p_1, s[1]) + ((q_1 + s[1].word[1].all * y_0) - s[1].word[3].all
                    * y_1);
                s[1].word[5].all = p_1;
                q_1 = (PIPIT_BACK(q_1, s[1]) + s[1].word[2].all * y_0) - s[1].word[4].all * y_1;
                s[1].word[6].all = q_1;
                pipit_lanes p_3 = s[3].word[5].all;
                pipit_lanes q_3 = s[3].word[6].all;
                const pipit_lanes y_3 = s[3].word[0].all * y_2 + p_3;
                p_2 = PIPIT_BACK(p_2, s[2]) + ((q_2 + s[2].word[1].all * y_1) - s[2].word[3].all
                    * y_2);
                s[2].word[5].all = p_2;
                q_2 = (PIPIT_BACK(q_2, s[2]) + s[2].word[2].all * y_1) - s[2].word[4].all * y_2;
                s[2].word[6].all = q_2;
                pipit_lanes p_4 = s[4].word[5].all;
                pipit_lanes q_4 = s[4].word[6].all;
                const pipit_lanes y_4 = s[4].word[0].all * y_3 + p_4;
                p_3 = PIPIT_BACK(p_3, s[3]) + ((q_3 + s[3].word[1].all * y_2) - s[3].word[3].all
                    * y_3);
                s[3].word[5].all = p_3;
                q_3 = (PIPIT_BACK(q_3, s[3]) + s[3].word[2].all * y_2) - s[3].word[4].all * y_3;
                s[3].word[6].all = q_3;
                p_4 = PIPIT_BACK(p_4, s[4]) + ((q_4 + s[4].word[1].all * y_3) - s[4].word[3].all
                    * y_4);
                s[4].word[5].all = p_4;
                q_4 = (PIPIT_BACK(q_4, s[4]) + s[4].word[2].all * y_3) - s[4].word[4].all * y_4;
                s[4].word[6].all = q_4;
                x = y_4;
                s += 5;
            }
            PIPIT_ROLLED
            for (; left != 0u; left--) {
                pipit_lanes p_0 = s[0].word[5].all;
                pipit_lanes q_0 = s[0].word[6].all;
                const pipit_lanes y_0 = s[0].word[0].all * x + p_0;
                p_0 = PIPIT_BACK(p_0, s[0]) + ((q_0 + s[0].word[1].all * x) - s[0].word[3].all *
                    y_0);
                s[0].word[5].all = p_0;
                q_0 = (PIPIT_BACK(q_0, s[0]) + s[0].word[2].all * x) - s[0].word[4].all * y_0;
                s[0].word[6].all = q_0;
                x = y_0;
                s += 1;
            }
            break;
        case 4u: /* ragged */
            PIPIT_ROLLED
            for (; left > 4u; left -= 5u) {
                pipit_lanes p_0 = s[0].word[5].all;
                pipit_lanes q_0 = s[0].word[6].all;
                const pipit_lanes y_0 = s[0].word[0].all * x + p_0;
                pipit_lanes p_1 = s[1].word[5].all;
                pipit_lanes q_1 = s[1].word[6].all;
                const pipit_lanes y_1 = s[1].word[0].all * y_0 + p_1;
                p_0 = PIPIT_BACK(p_0, s[0]) + ((q_0 + s[0].word[1].all * x) - s[0].word[3].all *
                    y_0);
                p_0 = (pipit_lanes)((pipit_marks)p_0 | (pipit_marks)s[0].none.all);
                s[0].word[5].all = p_0;
                q_0 = (PIPIT_BACK(q_0, s[0]) + s[0].word[2].all * x) - s[0].word[4].all * y_0;
                s[0].word[6].all = q_0;
                pipit_lanes p_2 = s[2].word[5].all;
                pipit_lanes q_2 = s[2].word[6].all;
                const pipit_lanes y_2 = s[2].word[0].all * y_1 + p_2;
                p_1 = PIPIT_BACK(p_1, s[1]) + ((q_1 + s[1].word[1].all * y_0) - s[1].word[3].all
                    * y_1);
                p_1 = (pipit_lanes)((pipit_marks)p_1 | (pipit_marks)s[1].none.all);
                s[1].word[5].all = p_1;
                q_1 = (PIPIT_BACK(q_1, s[1]) + s[1].word[2].all * y_0) - s[1].word[4].all * y_1;
                s[1].word[6].all = q_1;
                pipit_lanes p_3 = s[3].word[5].all;
                pipit_lanes q_3 = s[3].word[6].all;
                const pipit_lanes y_3 = s[3].word[0].all * y_2 + p_3;
                p_2 = PIPIT_BACK(p_2, s[2]) + ((q_2 + s[2].word[1].all * y_1) - s[2].word[3].all
                    * y_2);
                p_2 = (pipit_lanes)((pipit_marks)p_2 | (pipit_marks)s[2].none.all);
                s[2].word[5].all = p_2;
                q_2 = (PIPIT_BACK(q_2, s[2]) + s[2].word[2].all * y_1) - s[2].word[4].all * y_2;
                s[2].word[6].all = q_2;
                pipit_lanes p_4 = s[4].word[5].all;
                pipit_lanes q_4 = s[4].word[6].all;
                const pipit_lanes y_4 = s[4].word[0].all * y_3 + p_4;
                p_3 = PIPIT_BACK(p_3, s[3]) + ((q_3 + s[3].word[1].all * y_2) - s[3].word[3].all
                    * y_3);
                p_3 = (pipit_lanes)((pipit_marks)p_3 | (pipit_marks)s[3].none.all);
                s[3].word[5].all = p_3;
                q_3 = (PIPIT_BACK(q_3, s[3]) + s[3].word[2].all * y_2) - s[3].word[4].all * y_3;
                s[3].word[6].all = q_3;
                p_4 = PIPIT_BACK(p_4, s[4]) + ((q_4 + s[4].word[1].all * y_3) - s[4].word[3].all
                    * y_4);
                p_4 = (pipit_lanes)((pipit_marks)p_4 | (pipit_marks)s[4].none.all);
                s[4].word[5].all = p_4;
                q_4 = (PIPIT_BACK(q_4, s[4]) + s[4].word[2].all * y_3) - s[4].word[4].all * y_4;
                s[4].word[6].all = q_4;
                x = y_4;
                s += 5;
            }
            PIPIT_ROLLED
            for (; left != 0u; left--) {
                pipit_lanes p_0 = s[0].word[5].all;
                pipit_lanes q_0 = s[0].word[6].all;
                const pipit_lanes y_0 = s[0].word[0].all * x + p_0;
                p_0 = PIPIT_BACK(p_0, s[0]) + ((q_0 + s[0].word[1].all * x) - s[0].word[3].all *
                    y_0);
                p_0 = (pipit_lanes)((pipit_marks)p_0 | (pipit_marks)s[0].none.all);
                s[0].word[5].all = p_0;
                q_0 = (PIPIT_BACK(q_0, s[0]) + s[0].word[2].all * x) - s[0].word[4].all * y_0;
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
static PIPIT_NOINLINE void pipit_lane_passes(pipit_lane_group *group, pipit_lane_words *x, int n)
{
    int k = 0;

    while (group->pass[k] != 0u) {
        k += pipit_lane_pass(group->pass[k], &group->section[k], x, n);
    }
}

/* The sections of a list in lane l, from number k on, with what they remember. */
static int pipit_lane_fill(const float *table, const uint16_t *list,
        const pipit_memory *m, pipit_lane_group *group, int l, int k)
{
    for (; *list != 0u; list++) {
        const float *w = &table[*list & PIPIT_ROW];
        const unsigned int length = (((unsigned int)*list >> PIPIT_HEAD & 3u) == 2u ? 3u : 5u);
        const int delta = ((unsigned int)*list >> PIPIT_HEAD & 3u) != 1u ? 1 : 0;
        unsigned int left = (unsigned int)*list >> 13;

        for (; left > 0u; left--) {
            pipit_lane_section *to = &group->section[k];
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

/* A lane's sections; behind its last one some that change nothing. */
static void pipit_lane_enter(const pipit_rate_entry *rate, const pipit_channel_state *ch, int way,
        pipit_lane_group *group, int l)
{
    const pipit_cascade_entry *cascade = &rate->cascade[way];
    int k = pipit_lane_fill(rate->sections, &rate->lists[cascade->list],
        &ch->now[cascade->from], group, l, 0);
    group->count[l] = k;
    group->gain.one[l] = cascade->gain;
    for (; k < PIPIT_DEEP; k++) {
        pipit_lane_section *to = &group->section[k];
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
static unsigned int pipit_lane_forms(const pipit_lane_group *group, int from, int sections,
        int least)
{
    unsigned int forms = 0u;
    int l;

    for (l = 0; l < PIPIT_LANES * sections; l++) {
        const int k = from + l / PIPIT_LANES;

        forms |= group->section[k].keep.one[l % PIPIT_LANES] == 0 ? 1u : 2u;
    }
    return from + sections > least ? 4u : forms;
}

/* How single samples take a group's sections: those of one form in a row at once, with others
 * that follow where going along costs less than beginning anew. */
static void pipit_lane_plan_alone(pipit_lane_group *group, int least, int most)
{
    /* Operations of each form that direct ones do without. */
    static const int pipit_lane_more[] = { 0, 0, 1, 5, 6 };
    unsigned char *run = group->alone;
    unsigned int form = 0u;
    int count = 0;
    int k = 0;

    (void)memset(group->alone, 0, sizeof group->alone);
    while (k < most) {
        const unsigned int next = pipit_lane_forms(group, k, 1, least);
        const unsigned int any = form | next;
        const unsigned int both = any < 4u ? any : 4u;
        int n = 1;
        int cost;

        while (n < 31 && k + n < most
                && pipit_lane_forms(group, k + n, 1, least) == next) {
            n++;
        }
        cost = count * (pipit_lane_more[both] - pipit_lane_more[form])
            + n * (pipit_lane_more[both] - pipit_lane_more[next]);
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
static int pipit_lane_plan(pipit_lane_group *group)
{
    int least = group->count[0];
    int most = least;
    int k;
    int l;

    for (l = 1; l < PIPIT_LANES; l++) {
        least = group->count[l] < least ? group->count[l] : least;
        most = group->count[l] > most ? group->count[l] : most;
    }
    (void)memset(group->pass, 0, sizeof group->pass);
    for (k = 0; k < most;) {
        const int left = most - k;
        const int sections = left > 3 && left != 6 ? 5 : 3;
        const unsigned int forms = pipit_lane_forms(group, k, sections, least);

        group->pass[k] = (unsigned char)(forms * 8u + (unsigned int)sections);
        k += sections;
    }
    pipit_lane_plan_alone(group, least, most);
    return most;
}

/* How many lanes of a group there are. */
static int pipit_lanes_used(int group)
{
    const int left = PIPIT_CHANNELS * PIPIT_WAYS - group * PIPIT_LANES;

    return left < PIPIT_LANES ? left : PIPIT_LANES;
}

/* All ways begin to run in lanes where that saves anything. */
static PIPIT_COLD void pipit_enter_lanes(pipit_state *s)
{
    const pipit_rate_entry *rate = &pipit_rate_table[s->rate];
    pipit_lane_group *group = pipit_lane_groups(s);
    int all = 0;
    int most = 0;
    int k;
    int l;

    for (k = 0; k < PIPIT_GROUPS; k++) {
        const int used = pipit_lanes_used(k);
        int longest;

        for (l = 0; l < PIPIT_LANES; l++) { /* what is not used does as the first */
            const int lane = k * PIPIT_LANES + (l < used ? l : 0);

            pipit_lane_enter(rate, &s->channel[lane / PIPIT_WAYS], 1 + lane % PIPIT_WAYS,
                &group[k], l);
            all += l < used ? (int)group[k].count[l] : 0;
        }
        longest = pipit_lane_plan(&group[k]);
        most += longest;
    }
    s->laned = 2 * all > PIPIT_SAVING * most ? 1u : 2u;
}

/* What the ways remember goes back to where it belongs. */
static PIPIT_COLD void pipit_leave_lanes(pipit_state *s)
{
    const pipit_rate_entry *rate = &pipit_rate_table[s->rate];
    const pipit_lane_group *group = pipit_lane_groups(s);
    int lane;
    int k;

    for (lane = 0; lane < PIPIT_CHANNELS * PIPIT_WAYS && s->laned == 1u; lane++) {
        const pipit_lane_group *from = &group[lane / PIPIT_LANES];
        const pipit_cascade_entry *cascade = &rate->cascade[1 + lane % PIPIT_WAYS];
        pipit_memory *m = &s->channel[lane / PIPIT_WAYS].now[cascade->from];

        for (k = 0; k < from->count[lane % PIPIT_LANES]; k++) {
            m->p = from->section[k].word[5].one[lane % PIPIT_LANES];
            m->q = from->section[k].word[6].one[lane % PIPIT_LANES];
            m++;
        }
    }
    s->laned = 0u;
}

/* Sections in lanes come to rest like others. */
static PIPIT_COLD void pipit_rest_lanes(pipit_state *s)
{
    const pipit_lanes above_p = {
        5.421011e-20f,
        5.421011e-20f,
        5.421011e-20f,
        5.421011e-20f,
    };
    const pipit_lanes below_p = {
        -5.421011e-20f,
        -5.421011e-20f,
        -5.421011e-20f,
        -5.421011e-20f,
    };
    const pipit_lanes above_q = {
        5.421011e-20f,
        5.421011e-20f,
        5.421011e-20f,
        5.421011e-20f,
    };
    const pipit_lanes below_q = {
        -5.421011e-20f,
        -5.421011e-20f,
        -5.421011e-20f,
        -5.421011e-20f,
    };
    pipit_lane_group *group = pipit_lane_groups(s);
    int k;

    for (k = 0; k < PIPIT_GROUPS * PIPIT_DEEP; k++) {
        pipit_lane_section *at = &group[k / PIPIT_DEEP].section[k % PIPIT_DEEP];
        const pipit_lanes p = at->word[5].all;
        const pipit_lanes q = at->word[6].all;
        const pipit_marks tiny = (p < above_p) & (p > below_p) & (q < above_q) & (q > below_q);
        at->word[5].all = (pipit_lanes)(((pipit_marks)p & ~tiny) | (pipit_marks)at->none.all);
        at->word[6].all = (pipit_lanes)(((pipit_marks)q & ~tiny) | (pipit_marks)at->none.all);
    }
}

/* 1 where no channel fades or is silent. */
static int pipit_calm(const pipit_state *s)
{
    int c;

    for (c = 0; c < PIPIT_CHANNELS; c++) {
        if (s->channel[c].calm == 0u) {
            return 0;
        }
    }
    return 1;
}

/* Turns a square of words about: word i of v[k] becomes word k of v[i]. */
static inline void pipit_turn(pipit_short *v)
{
    const pipit_short v1_0 = PIPIT_SHUFFLE(v[0], v[2], 0, 4, 1, 5);
    const pipit_short v1_1 = PIPIT_SHUFFLE(v[0], v[2], 2, 6, 3, 7);
    const pipit_short v1_2 = PIPIT_SHUFFLE(v[1], v[3], 0, 4, 1, 5);
    const pipit_short v1_3 = PIPIT_SHUFFLE(v[1], v[3], 2, 6, 3, 7);
    const pipit_short v2_0 = PIPIT_SHUFFLE(v1_0, v1_2, 0, 4, 1, 5);
    const pipit_short v2_1 = PIPIT_SHUFFLE(v1_0, v1_2, 2, 6, 3, 7);
    const pipit_short v2_2 = PIPIT_SHUFFLE(v1_1, v1_3, 0, 4, 1, 5);
    const pipit_short v2_3 = PIPIT_SHUFFLE(v1_1, v1_3, 2, 6, 3, 7);
    v[0] = v2_0;
    v[1] = v2_1;
    v[2] = v2_2;
    v[3] = v2_3;
}

/* The channels' common parts times gain -> x of lanes from on; what is not used gets what the first
 * does. */
static void pipit_lane_inputs(const pipit_lane_words *gains, int from, int used,
        float (*common)[PIPIT_LONG], pipit_lane_words *x, int n)
{
    PIPIT_AS_WRITTEN
    const int lane_0 = from;
    const float *from_0 = common[lane_0 / PIPIT_WAYS];
    const int lane_1 = 1 < used ? from + 1 : from;
    const float *from_1 = common[lane_1 / PIPIT_WAYS];
    const int lane_2 = 2 < used ? from + 2 : from;
    const float *from_2 = common[lane_2 / PIPIT_WAYS];
    const int lane_3 = 3 < used ? from + 3 : from;
    const float *from_3 = common[lane_3 / PIPIT_WAYS];
    int i;

    for (i = 0; i < n; i++) {
        {
            pipit_lanes gain;
            const pipit_lanes all = { from_0[i], from_1[i], from_2[i], from_3[i] };

            (void)memcpy(&gain, &gains->one[0], sizeof gain);
            {
                const pipit_lanes scaled = gain * all;
                x[i].all = scaled;
            }
        }
    }
}

/* x of lanes from on -> out. */
static void pipit_lane_outputs(const pipit_lane_words *x, int used, float *const *out,
        int at, int n)
{
    float spare[PIPIT_LONG]; /* of lanes that are not used */
    int l;

    for (l = 0; l < used; l += 4) {
        float *to_0 = l + 0 < used ? &out[l + 0][at] : spare;
        float *to_1 = l + 1 < used ? &out[l + 1][at] : spare;
        float *to_2 = l + 2 < used ? &out[l + 2][at] : spare;
        float *to_3 = l + 3 < used ? &out[l + 3][at] : spare;
        int i;

        for (i = 0; i < n - 4 + 1; i += 4) {
            pipit_short v[4];

            (void)memcpy(&v[0], &x[i + 0].one[l], sizeof v[0]);
            (void)memcpy(&v[1], &x[i + 1].one[l], sizeof v[1]);
            (void)memcpy(&v[2], &x[i + 2].one[l], sizeof v[2]);
            (void)memcpy(&v[3], &x[i + 3].one[l], sizeof v[3]);
            pipit_turn(v);
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
static void pipit_lane_give(const pipit_frames *f, const pipit_lane_words *x, int from, int used,
        int at, int n)
{
    int k = (at * PIPIT_CHANNELS * PIPIT_WAYS) + from;
    int i;
    int l;

    for (i = 0; i < n; i++) {
        if (used == PIPIT_LANES) {
            if (f->wide != 0) {
                for (l = 0; l < PIPIT_LANES; l++) {
                    f->out32[k + l] = pipit_to_int32(x[i].one[l]);
                }
            } else {
                (void)memcpy(&f->out[k], &x[i], sizeof x[i]);
            }
        } else {
            for (l = 0; l < used; l++) {
                if (f->wide != 0) {
                    f->out32[k + l] = pipit_to_int32(x[i].one[l]);
                } else {
                    f->out[k + l] = x[i].one[l];
                }
            }
        }
        k += PIPIT_CHANNELS * PIPIT_WAYS;
    }
}

/* The ways of a group's lanes, so many from on: in common[channel] -> out, or frames. */
static void pipit_run_lanes(pipit_lane_group *group, int from, int used,
        float (*common)[PIPIT_LONG], float *const *out, const pipit_frames *f, int at, int n)
{
    pipit_lane_words x[PIPIT_LONG];

    pipit_lane_inputs(&group->gain, from, used, common, x, n);
    pipit_lane_passes(group, x, n);
    if (f != NULL) {
        pipit_lane_give(f, x, from, used, at, n);
    } else {
        pipit_lane_outputs(x, used, &out[from], at, n);
    }
}

/* n samples of a channel times the first gain: in -> now. What returns is not less than the size of
 * the greatest. */
static inline uint32_t pipit_lane_take(float gain, const float *in, float *now, int n)
{
    PIPIT_AS_WRITTEN
    uint32_t sizes = 0u;
    int i;

    for (i = 0; i < n; i++) {
        const float all = in[i];

        sizes |= pipit_bits(all);
        const float scaled = gain * all;
        now[i] = scaled;
    }
    return sizes << 1;
}

/* One sample of all channels, number at, or one frame. What returns is 1, or 0 where one may be
 * garbage: then nothing has happened. */
static inline PIPIT_ALWAYS int pipit_lane_sample(const pipit_rate_entry *rate,
        pipit_lane_group *group, const float *const *in, float *const *out,
        const pipit_frames *f, int framed, int at)
{
    PIPIT_AS_WRITTEN
    float now[PIPIT_CHANNELS];
    uint32_t size = 0u;
    int c;
    int g;

    if (framed == 0) {
        for (c = 0; c < PIPIT_CHANNELS; c++) {
            now[c] = in[c][at];
        }
    } else if (f->wide == 0) {
        (void)memcpy(now, &f->in[at * PIPIT_CHANNELS], sizeof now);
    } else {
        int k = at * PIPIT_CHANNELS;

        for (c = 0; c < PIPIT_CHANNELS; c++) {
            now[c] = pipit_from_int32(f->in32[k]);
            k++;
        }
    }
    for (c = 0; c < PIPIT_CHANNELS; c++) {
        size |= pipit_lane_take(rate->cascade[0].gain, &now[c], &now[c], 1);
    }
    if (size >= PIPIT_GARBAGE) {
        return 0;
    }
    for (g = 0; g < PIPIT_GROUPS; g++) {
        const int used = pipit_lanes_used(g);
        const pipit_lane_words *gains = &group[g].gain;
        const int lane_0 = g * PIPIT_LANES;
        const float x_0 = now[lane_0 / PIPIT_WAYS];
        const int lane_1 = (1 < used ? 1 : 0) + g * PIPIT_LANES;
        const float x_1 = now[lane_1 / PIPIT_WAYS];
        const int lane_2 = (2 < used ? 2 : 0) + g * PIPIT_LANES;
        const float x_2 = now[lane_2 / PIPIT_WAYS];
        const int lane_3 = (3 < used ? 3 : 0) + g * PIPIT_LANES;
        const float x_3 = now[lane_3 / PIPIT_WAYS];
        pipit_lane_words x;
        {
            pipit_lanes gain;
            const pipit_lanes all = { x_0, x_1, x_2, x_3 };

            (void)memcpy(&gain, &gains->one[0], sizeof gain);
            {
                const pipit_lanes scaled = gain * all;
                x.all = scaled;
            }
        }
        if (framed != 0) {
            pipit_lane_alone(&group[g], &x.all);
            pipit_lane_give(f, &x, g * PIPIT_LANES, used, at, 1);
        } else {
            float *const *to = &out[g * PIPIT_LANES];
            pipit_lanes y = x.all;

            pipit_lane_alone(&group[g], &y);
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
static PIPIT_NOINLINE int pipit_step_lanes(const pipit_rate_entry *rate,
        pipit_lane_group *group, const float *const *in, float *const *out, int at)
{
    return pipit_lane_sample(rate, group, in, out, NULL, 0, at);
}

static PIPIT_NOINLINE int pipit_step_frame(const pipit_rate_entry *rate,
        pipit_lane_group *group, const pipit_frames *f, int at)
{
    return pipit_lane_sample(rate, group, NULL, NULL, f, 1, at);
}

/* n samples of all channels, from number at on: in -> out, or from where they begin -> frames. What
 * returns is 1, or 0 where one may be garbage. */
static PIPIT_NOINLINE int pipit_block_lanes(pipit_state *s, const pipit_rate_entry *rate,
        const float *const *in, float *const *out, const pipit_frames *f, int at, int n)
{
    pipit_lane_group *group = pipit_lane_groups(s);
    float common[PIPIT_CHANNELS][PIPIT_LONG];
    const int begin = f == NULL ? at : 0;
    uint32_t size = 0u;
    int k;

    for (k = 0; k < PIPIT_CHANNELS; k++) {
        size |= pipit_lane_take(rate->cascade[0].gain, &in[k][begin], common[k], n);
    }
    if (size >= PIPIT_GARBAGE) {
        return 0;
    }
    for (k = 0; k < PIPIT_GROUPS; k++) {
        pipit_run_lanes(&group[k], k * PIPIT_LANES, pipit_lanes_used(k), common, out, f, at, n);
    }
    return 1;
}

/* n frames, from number at on. What returns is 1, or 0 where one may have garbage. */
static PIPIT_NOINLINE int pipit_frame_lanes(pipit_state *s, const pipit_rate_entry *rate,
        const pipit_frames *f, int at, int n)
{
    float now[PIPIT_CHANNELS][PIPIT_LONG];
    const float *in[PIPIT_CHANNELS];
    int c;
    int i;

    for (c = 0; c < PIPIT_CHANNELS; c++) {
        int k = (at * PIPIT_CHANNELS) + c;

        in[c] = now[c];
        for (i = 0; i < n; i++) {
            now[c][i] = f->wide != 0 ? pipit_from_int32(f->in32[k]) : f->in[k];
            k += PIPIT_CHANNELS;
        }
    }
    return pipit_block_lanes(s, rate, in, NULL, f, at, n);
}

/* Runs all channels where none fades or is silent, no sample may be garbage, and lanes are
 * faster: n samples at least, all at most. What returns is how many there were; 0: none, and the
 * channels have what belongs to them. */
static inline int pipit_run_calm(pipit_state *s, const pipit_rate_entry *rate,
        const float *const *in, float *const *out, const pipit_frames *f, int at, int n, int all)
{
    int good;

    if (s->laned == 0u && pipit_calm(s) != 0) {
        pipit_enter_lanes(s);
    }
    if (s->laned != 1u) {
        return 0;
    }
    if (s->count % PIPIT_TICK == 0u && all > n) { /* nothing is asked for, so that it may go on */
        const int left = (int)(PIPIT_REST - s->count);

        n = left < PIPIT_LONG ? left : PIPIT_LONG;
        n = all < n ? all : n;
    }
    if (n == 1) {
        pipit_lane_group *const group = pipit_lane_groups(s);

        good = f != NULL ? pipit_step_frame(rate, group, f, at)
            : pipit_step_lanes(rate, group, in, out, at);
    } else if (f != NULL) {
        good = pipit_frame_lanes(s, rate, f, at, n);
    } else {
        good = pipit_block_lanes(s, rate, in, out, NULL, at, n);
    }
    if (good == 0) {
        pipit_leave_lanes(s);
        return 0;
    }
    return n;
}
#endif


/* ---- what happens at ticks ------------------------------------------------------------ */

/* Sections in which next to nothing is left come to rest, everywhere at the same sample. */
static PIPIT_COLD void pipit_rest(pipit_memory *m, int sections)
{
    int k;

#if defined __clang__ /* gathers and scatters take longer */
#pragma clang loop vectorize(disable)
#endif
    for (k = 0; k < sections; k++) {
        if ((pipit_bits(m[k].p) << 1) < 0x3f000000u
                && (pipit_bits(m[k].q) << 1) < 0x3f000000u) {
            m[k].p = 0.0f;
            m[k].q = 0.0f;
        }
    }
}

/* What is asked of a channel, between two samples. */
static void pipit_tick_channel(const pipit_rate_entry *rate, pipit_channel_state *ch,
        const volatile unsigned char *asked)
{
    const int32_t fade = rate->fade;
    const int mute = (int)asked[PIPIT_MUTE];

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
static PIPIT_COLD void pipit_tick(pipit_state *s, const pipit_rate_entry *rate)
{
    int c;

    for (c = 0; c < PIPIT_CHANNELS; c++) {
        pipit_channel_state *ch = &s->channel[c];

        pipit_tick_channel(rate, ch, s->asked[c]);
        if (s->count == 0u) {
            pipit_rest(ch->now, PIPIT_POSITIONS);
        }
    }
#ifdef PIPIT_LANES
    if (pipit_calm(s) == 0) {
        pipit_leave_lanes(s);
    } else if (s->count == 0u && s->laned == 1u) {
        pipit_rest_lanes(s);
    } else {
        /* nothing is due in lanes */
    }
#endif
}

/* Of n samples those before the next tick; what is due before them is done. */
static int pipit_begin(pipit_state *s, const pipit_rate_entry *rate, int n)
{
    const uint32_t into = s->count % PIPIT_TICK;
    const int left = (int)(PIPIT_TICK - into);

    if (into == 0u) {
        pipit_tick(s, rate);
    }
    return n < left ? n : left;
}

/* ---- the interface -------------------------------------------------------------------- */

/* The rate that a state runs at; NULL where init did not leave it behind. */
static inline const pipit_rate_entry *pipit_rate_here(const pipit_state *s)
{
    return s->ready != PIPIT_READY || s->check != PIPIT_CHECK || s->rate < 0
            || s->rate >= PIPIT_RATES ? NULL : &pipit_rate_table[s->rate];
}

static PIPIT_NOINLINE const pipit_rate_entry *pipit_rate_of(const pipit_state *s)
{
    return pipit_rate_here(s);
}

/* 1 also for a channel that does not exist. */
static PIPIT_COLD int pipit_refuse_channel(const pipit_state *s, int channel)
{
    return channel < 0 || channel >= PIPIT_CHANNELS || pipit_rate_of(s) == NULL ? 1 : 0;
}

/* Asks a channel for a choice of one of its settings, or for silence. */
static PIPIT_COLD int pipit_ask(pipit_state *s, int channel, int what, unsigned int choice)
{
    static const unsigned char pipit_choices[PIPIT_MUTE + 1] = { 2u };

    if (choice >= pipit_choices[what] || pipit_refuse_channel(s, channel) != 0) {
        return 1;
    }
    s->asked[channel][what] = (unsigned char)choice;
    return 0;
}

/* What was asked for. */
static PIPIT_COLD int pipit_asked(const pipit_state *s, int channel, int what)
{
    return pipit_refuse_channel(s, channel) != 0 ? -1 : (int)s->asked[channel][what];
}

/* Silence in one channel. */
static PIPIT_COLD void pipit_silence(pipit_channel_state *ch)
{

    (void)memset(ch, 0, sizeof *ch);
    ch->fresh = 1u;
}

/* In all of them. */
static PIPIT_COLD void pipit_silence_all(pipit_state *s)
{
    int c;

    for (c = 0; c < PIPIT_CHANNELS; c++) {
        pipit_silence(&s->channel[c]);
    }
    s->count = 0u;
#ifdef PIPIT_LANES
    s->laned = 0u;
#endif
}

/* Starts at a rate; 1 where there is no such. */
static PIPIT_COLD int pipit_start(pipit_state *s, uint32_t rate_hz)
{
    int32_t i;

    for (i = 0; i < PIPIT_RATES; i++) {
        if (pipit_rate_table[i].rate_hz == rate_hz) {
            s->rate = i;
            pipit_silence_all(s);
            return 0;
        }
    }
    return 1;
}

int pipit_set_rate(pipit_state *s, uint32_t rate_hz)
{
    return pipit_rate_of(s) == NULL ? 1 : pipit_start(s, rate_hz);
}

int pipit_init(pipit_state *s, uint32_t rate_hz)
{
    (void)memset(s, 0, sizeof *s);
    if (pipit_start(s, rate_hz) != 0) {
        return 1;
    }
    s->ready = PIPIT_READY;
    s->check = PIPIT_CHECK;
    return 0;
}

void pipit_reset(pipit_state *s)
{
    if (pipit_rate_of(s) != NULL) {
        pipit_silence_all(s);
    }
}

int pipit_reset_channel(pipit_state *s, int channel)
{
    if (pipit_refuse_channel(s, channel) != 0) {
        return 1;
    }
#ifdef PIPIT_LANES
    pipit_leave_lanes(s);
#endif
    pipit_silence(&s->channel[channel]);
    return 0;
}

int pipit_mute(pipit_state *s, int channel, int on)
{
    return pipit_ask(s, channel, PIPIT_MUTE, on != 0 ? 1u : 0u);
}

int pipit_muted(const pipit_state *s, int channel)
{
    return pipit_asked(s, channel, PIPIT_MUTE);
}

int pipit_garbage(const pipit_state *s, int channel)
{
    return pipit_refuse_channel(s, channel) != 0 ? -1 : (int)s->channel[channel].dead;
}

/* n samples of all channels: in -> out, or from frames to frames. */
static PIPIT_BLOCKS int pipit_run_all(pipit_state *s, const float *const *in,
        float *const *out, pipit_frames *f, int n)
{
    const pipit_rate_entry *const rate = pipit_rate_of(s);
    int done = 0;

    if (n < 0 || rate == NULL) {
        return 1;
    }
    while (done < n) {
        const int chunk = pipit_begin(s, rate, n - done);
        int c;
#ifdef PIPIT_LANES
        const int together = pipit_run_calm(s, rate, in, out, f, done, chunk, n - done);

        if (together > 0) {
            s->count = (s->count + (uint32_t)together) % PIPIT_REST;
            done += together;
            continue;
        }
#endif
        for (c = 0; c < PIPIT_CHANNELS; c++) {
            pipit_channel_state *const ch = &s->channel[c];

            if (f != NULL) {
                (void)f->through(f, rate, ch, (done * PIPIT_CHANNELS) + c, chunk,
                    PIPIT_CHANNELS);
            } else {
                pipit_run_block(rate, ch, &in[c][done], &out[c * PIPIT_WAYS], done, chunk);
            }
        }
        s->count = (s->count + (uint32_t)chunk) % PIPIT_REST;
        done += chunk;
    }
    return 0;
}

#ifdef PIPIT_LANES
/* A single sample of all channels, or a frame where there are frames, in lanes where nothing is due
 * before it. What returns is 1, or 0: nothing has happened. */
static inline int pipit_run_alone(pipit_state *s, const float *const *in,
        float *const *out, const pipit_frames *f)
{
    const pipit_rate_entry *const rate = pipit_rate_here(s);
    pipit_lane_group *group;
    int good;

    if (rate == NULL || s->laned != 1u || s->count % PIPIT_TICK == 0u
            || s->lanes_at != pipit_lanes_begin(s)) {
        return 0;
    }
    group = pipit_lane_groups_at(s);
    good = f != NULL ? pipit_step_frame(rate, group, f, 0)
        : pipit_step_lanes(rate, group, in, out, 0);
    s->count = (s->count + (uint32_t)good) % PIPIT_REST;
    return good;
}
#endif

#ifndef PIPIT_NO_SINGLES
/* One sample of all channels: one that is calm goes through sections one by one. */
static PIPIT_NOINLINE int pipit_run_one(pipit_state *s, const float *const *in,
        float *const *out)
{
    const pipit_rate_entry *const rate = pipit_rate_of(s);
    int c;

    if (rate == NULL) {
        return 1;
    }
    (void)pipit_begin(s, rate, 1);
#ifdef PIPIT_LANES
    if (pipit_run_calm(s, rate, in, out, NULL, 0, 1, 1) > 0) {
        s->count = (s->count + 1u) % PIPIT_REST;
        return 0;
    }
#endif
    s->count = (s->count + 1u) % PIPIT_REST;
    for (c = 0; c < PIPIT_CHANNELS; c++) {
        pipit_channel_state *const ch = &s->channel[c];
        const float x = *in[c];

        if (ch->calm != 0u && (pipit_bits(x) << 1) < PIPIT_GARBAGE) {
            pipit_step(rate, ch, x, &out[c * PIPIT_WAYS]);
        } else {
            pipit_run_block(rate, ch, in[c], &out[c * PIPIT_WAYS], 0, 1);
        }
    }
    return 0;
}

#endif

int pipit_run(pipit_state *s, const float *const *in, float *const *out, int n)
{
#ifdef PIPIT_LANES
    if (n == 1 && pipit_run_alone(s, in, out, NULL) != 0) {
        return 0;
    }
#endif
#ifndef PIPIT_NO_SINGLES
    if (n == 1) {
        return pipit_run_one(s, in, out);
    }
#endif
    return pipit_run_all(s, in, out, NULL, n);
}

/* n samples so many apart, from number k on, of a channel, or without a channel one of each. */
static PIPIT_SMALL int pipit_through(pipit_frames *f, const pipit_rate_entry *rate,
        pipit_channel_state *ch, int k, int n, int apart)
{
    int at = k;
    int i;
    int w;

    for (i = 0; i < n; i++) {
        f->from[i] = f->wide != 0 ? pipit_from_int32(f->in32[at]) : f->in[at];
        at += apart;
    }
#ifndef PIPIT_NO_SINGLES
    if (ch == NULL) {
        if (pipit_run_one(f->s, f->ins, f->outs) != 0) {
            return 1;
        }
    } else
#endif
    {
        pipit_run_block(rate, ch, f->from, f->outs, 0, n);
    }
    at = k * PIPIT_WAYS;
    for (i = 0; i < n; i++) {
        for (w = 0; w < PIPIT_WAYS; w++) {
            if (f->wide != 0) {
                f->out32[at + w] = pipit_to_int32(f->to[w][i]);
            } else {
                f->out[at + w] = f->to[w][i];
            }
        }
        at += apart * PIPIT_WAYS;
    }
    return 0;
}

/* n frames. */
static PIPIT_SMALL int pipit_run_side_by_side(pipit_state *s, pipit_frames *f, int n)
{
    int beside = 1; /* channels in a row of to */
    int k = 0;
    int c;
    int w;

#ifdef PIPIT_LANES
    if (n == 1 && pipit_run_alone(s, NULL, NULL, f) != 0) {
        return 0;
    }
#endif
#ifndef PIPIT_NO_SINGLES
    f->s = s;
    if (n == 1) {
        beside = PIPIT_CHANNELS;
    }
#endif
    for (c = 0; c < beside; c++) {
        f->ins[c] = &f->from[c];
        for (w = 0; w < PIPIT_WAYS; w++) {
            f->outs[k] = &f->to[w][c];
            k++;
        }
    }
#ifndef PIPIT_NO_SINGLES
    if (n == 1) {
        return pipit_through(f, NULL, NULL, 0, PIPIT_CHANNELS, 1);
    }
#endif
    f->through = pipit_through;
    return pipit_run_all(s, NULL, NULL, f, n);
}

int pipit_run_frames(pipit_state *s, const float *in, float *out, int n)
{
    pipit_frames f;

    f.in = in;
    f.out = out;
    f.wide = 0;
    return pipit_run_side_by_side(s, &f, n);
}

int pipit_run_frames_int32(pipit_state *s, const int32_t *in, int32_t *out, int n)
{
    pipit_frames f;

    f.in32 = in;
    f.out32 = out;
    f.wide = 1;
    return pipit_run_side_by_side(s, &f, n);
}

#undef PIPIT_AS_WRITTEN
#if defined __GNUC__ && !defined __clang__
#pragma GCC pop_options
#endif
