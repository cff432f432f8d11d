/*
 * k_weighting_float32.c: the loudspeaker filters of "k_weighting", tables and code
 * Spec SHA-256 29e1ef5e82e76c1e77f1dd7279d7a5b11a20f993805dabaca2663d1272037fd4
 *
 * Compile this file with the program; k_weighting_float32.h tells all about it.
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
#include "k_weighting_float32.h"

#include <float.h>
#include <string.h>

/* (FLT_RADIX stands in float.h. A program that looks through this file without it goes on.) */
#if defined FLT_RADIX && (FLT_RADIX != 2 || FLT_MANT_DIG != 24)
#error "k_weighting: float must be an IEEE 754 number of 32 bits here"
#endif
#if defined FLT_RADIX && (FLT_EVAL_METHOD != 0 && FLT_EVAL_METHOD != 16)
#error "k_weighting: float must be computed as float; on a 32-bit x86 use -msse2 -mfpmath=sse"
#endif
#if defined __FAST_MATH__ || defined __ASSOCIATIVE_MATH__
#error "k_weighting: compile without -ffast-math, -funsafe-math-optimizations, -fassociative-math"
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
#define K_WEIGHTING_AS_WRITTEN
#elif defined __clang__ && __clang_major__ >= 13
#define K_WEIGHTING_AS_WRITTEN _Pragma("clang fp contract(off) reassociate(off)")
#else
#define K_WEIGHTING_AS_WRITTEN _Pragma("STDC FP_CONTRACT OFF")
#endif

/* To run at fewer rates, define K_WEIGHTING_ONLY_ with the rate for each that shall stay. */
#if !(defined K_WEIGHTING_ONLY_48000)
#define K_WEIGHTING_ONLY_48000
#endif

/* Single samples have code of their own, which K_WEIGHTING_NO_SINGLES leaves out: they are
 * blocks of one then. */

/* Loops stand in functions of their own. What runs rarely is compiled for size, and so is what runs
 * once a block and not in lanes: but not what alone calls the loops, rare to gcc then. */
#if defined __GNUC__
#define K_WEIGHTING_NOINLINE __attribute__((noinline))
#define K_WEIGHTING_COLD __attribute__((noinline, cold))
#define K_WEIGHTING_INLINE inline __attribute__((always_inline)) /* at -Os, too */
#else
#define K_WEIGHTING_NOINLINE
#define K_WEIGHTING_COLD
#define K_WEIGHTING_INLINE inline
#endif
#if defined __GNUC__ && (defined __SSE2__ || defined __aarch64__) && !defined K_WEIGHTING_NO_LANES
#define K_WEIGHTING_SMALL K_WEIGHTING_NOINLINE
#else
#define K_WEIGHTING_SMALL K_WEIGHTING_COLD
#endif
#ifdef K_WEIGHTING_NO_SINGLES
#define K_WEIGHTING_BLOCKS K_WEIGHTING_NOINLINE
#else
#define K_WEIGHTING_BLOCKS K_WEIGHTING_SMALL
#endif

#define K_WEIGHTING_READY 0xa01cc705u /* of this spec in this format */
#define K_WEIGHTING_CHECK 0xd84e52efu
#define K_WEIGHTING_TICK 32u /* samples between two looks at what is asked for */
#define K_WEIGHTING_REST 128u /* and between two looks for sections that have come to rest */
/* k_weighting_bits without the sign, << 1, of what is no sample. */
#define K_WEIGHTING_GARBAGE 0xbf000000u
#if defined __GNUC__ && defined __arm__ && defined __ARM_FP
#define K_WEIGHTING_SEVERAL /* registers that lie beside each other are moved in one instruction */
#endif

/* Words of a list, one a pass: where the row of its first section begins, which those of the others
 * follow, their kind (1 direct, 2 delta without b1 and b2, 3 delta)
 * and how many they are; 0 is the end. */
#define K_WEIGHTING_ROW 0x7ffu
#define K_WEIGHTING_HEAD 11 /* bits below */

/* ---- tables --------------------------------------------------------------------------- */

#ifndef K_WEIGHTING_NO_SINGLES
/* What a single sample finds in a row of the table of sections. */
typedef struct {
    float b0;
    float b1;
    float b2;
    float a1;
    float a2;
} k_weighting_section_words;
#endif

typedef struct {
    float gain; /* with the polarity as sign */
    int8_t list; /* where the list of what always runs begins */
    int8_t from; /* the memory of that */
#ifndef K_WEIGHTING_NO_SINGLES
    uint16_t forms; /* of what always runs, 1 bit a section, the first in the highest */
#endif
} k_weighting_cascade_entry;

typedef struct {
    uint32_t rate_hz;
    const float *sections; /* rows of words */
    const uint16_t *lists; /* of what always runs */
    int16_t fade; /* samples of a fade */
    float step; /* 1 / fade */
    k_weighting_cascade_entry cascade[1 + K_WEIGHTING_WAYS]; /* common, then the ways */
} k_weighting_rate_entry;

/* b0, b1, b2, a1, a2 of every section. Above each:
 * - rate, way and number;
 * - the line of the spec, and the frequency and Q that its poles ring at (those of a shelf lie
 *   beside the line's own). Lines of one way that are made together share their zeros: there it
 *   is the line whose poles these are, and the way where no line has them;
 * - form, and computed error in this format re the section's greatest gain. */
#ifdef K_WEIGHTING_ONLY_48000
static const float k_weighting_sections_48000[10] = {
    /* 48000 Hz, weighted 0: ways.weighted.filters[1] high-pass, poles at 38.14 Hz, Q 0.500; */
    /* delta, -133 dB */
    0.9950299f, 0.0f, 0.0f, 0.009952545f, 2.4795532e-05f,
    /* 48000 Hz, weighted 1: ways.weighted.filters[0] rational, poles at 1.689 kHz, Q 0.710; */
    /* delta, -145 dB */
    1.5351249f, 0.37855354f, 0.04182148f, 0.30934072f, 0.04182148f
};
static const uint16_t k_weighting_lists_48000[3] = {
    0u, 22528u, 0u
};
#endif

#ifdef K_WEIGHTING_NO_SINGLES
#define K_WEIGHTING_FORMS(forms)
#else
#define K_WEIGHTING_FORMS(forms) , (forms)
#endif

static const k_weighting_rate_entry k_weighting_rate_table[] = {
#ifdef K_WEIGHTING_ONLY_48000
    { 48000u, k_weighting_sections_48000, k_weighting_lists_48000, 480, 0.0020833334f, {
        { 0.56234133f, 0, 0 K_WEIGHTING_FORMS(0x0000u) }, /* common */
        { 1.0049949f, 1, 0 K_WEIGHTING_FORMS(0xc000u) } /* weighted */
    } },
#endif
};

#define K_WEIGHTING_RATES ((int32_t)(sizeof k_weighting_rate_table / sizeof k_weighting_rate_table[0]))

/* ---- filters -------------------------------------------------------------------------- */

/* The bits of x: without the sign they grow with its size. */
static inline uint32_t k_weighting_bits(float x)
{
    uint32_t bits;

    (void)memcpy(&bits, &x, sizeof bits);
    return bits;
}

/* A sample of 32 bits, -2^31 to 2^31 - 1, re full scale. */
static inline float k_weighting_from_int32(int32_t x)
{
    return (float)x * (float)(1.0 / 2147483648.0);
}

/* The nearest sample of 32 bits, limited to what there is. */
static inline int32_t k_weighting_to_int32(float x)
{
    const float scaled = x * (float)2147483648.0;
    const float above = scaled > (float)-2147483648.0 ? scaled : (float)-2147483648.0;
    const float inside = above < (float)2147483647.0 ? above : (float)0;
    const int32_t whole = (int32_t)inside;
    const float rest = inside - (float)whole;
    const int32_t near = whole + (int32_t)(rest + rest); /* 1 from a half on */

    return above < (float)2147483647.0 ? near : INT32_MAX;
}

#ifdef K_WEIGHTING_SEVERAL
/* Words of the table, and what sections remember, go into registers beside each other, and back,
 * in one instruction; nothing is computed there. */
static K_WEIGHTING_INLINE void k_weighting_first(const float **from, float *to)
{
    register float word_0 __asm__("s1");
    register float word_1 __asm__("s2");
    register float word_2 __asm__("s3");
    register float word_3 __asm__("s4");
    register float word_4 __asm__("s5");

    __asm__("vldmia %0!, {s1-s5}"
            : "+r"(*from), "=t"(word_0), "=t"(word_1), "=t"(word_2), "=t"(word_3), "=t"(word_4)
            : "m"((*from)[0]), "m"((*from)[1]), "m"((*from)[2]), "m"((*from)[3]), "m"((*from)[4]));
    to[0] = word_0;
    to[1] = word_1;
    to[2] = word_2;
    to[3] = word_3;
    to[4] = word_4;
}

static K_WEIGHTING_INLINE void k_weighting_first_states(const k_weighting_memory *m, k_weighting_memory *is)
{
    register float p_0 __asm__("s6");
    register float q_0 __asm__("s7");

    __asm__("vldmia %2, {s6-s7}"
            : "=t"(p_0), "=t"(q_0)
            : "r"(m), "m"(m[0]));
    is[0].p = p_0;
    is[0].q = q_0;
}

static K_WEIGHTING_INLINE void k_weighting_keep_first(k_weighting_memory *m, const k_weighting_memory *is)
{
    register float p_0 __asm__("s6");
    register float q_0 __asm__("s7");

    p_0 = is[0].p;
    q_0 = is[0].q;
    __asm__("vstmia %1, {s6-s7}"
            : "=m"(m[0])
            : "r"(m), "t"(p_0), "t"(q_0));
}

static K_WEIGHTING_INLINE void k_weighting_words_5(const float *from, float *to)
{
    register float word_0 __asm__("s14");
    register float word_1 __asm__("s15");
    register float word_2 __asm__("s16");
    register float word_3 __asm__("s17");
    register float word_4 __asm__("s18");

    __asm__("vldmia %5, {s14-s18}"
            : "=t"(word_0), "=t"(word_1), "=t"(word_2), "=t"(word_3), "=t"(word_4)
            : "r"(from), "m"(from[0]), "m"(from[1]), "m"(from[2]), "m"(from[3]), "m"(from[4]));
    to[0] = word_0;
    to[1] = word_1;
    to[2] = word_2;
    to[3] = word_3;
    to[4] = word_4;
}

static K_WEIGHTING_INLINE void k_weighting_states_1(const k_weighting_memory *m, k_weighting_memory *is)
{
    register float p_0 __asm__("s8");
    register float q_0 __asm__("s9");

    __asm__("vldmia %2, {s8-s9}"
            : "=t"(p_0), "=t"(q_0)
            : "r"(m), "m"(m[0]));
    is[0].p = p_0;
    is[0].q = q_0;
}

static K_WEIGHTING_INLINE void k_weighting_keep_states_1(k_weighting_memory *m, const k_weighting_memory *is)
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
static K_WEIGHTING_NOINLINE void k_weighting_run_list(const float *table,
        const uint16_t *list, k_weighting_memory *m, float gain, const float *from, float *to, int n)
{
    K_WEIGHTING_AS_WRITTEN
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
        const float *w = &table[word & K_WEIGHTING_ROW];
        const unsigned int head = word >> K_WEIGHTING_HEAD;
        float *at = to;
#ifdef K_WEIGHTING_SEVERAL
        float first[5];
        k_weighting_memory is;

        k_weighting_first(&w, first);
        k_weighting_first_states(m, &is);
        const float b0_0 = first[0];
        const float b1_0 = first[1];
        const float b2_0 = first[2];
        const float a1_0 = first[3];
        const float a2_0 = first[4];
        float p_0 = is.p;
        float q_0 = is.q;
#else
        const float b0_0 = w[0];
        const float b1_0 = w[1];
        const float b2_0 = w[2];
        const float a1_0 = w[3];
        const float a2_0 = w[4];
        float p_0 = m[0].p;
        float q_0 = m[0].q;
#endif

        switch (head) {
        case 11u: { /* delta, 2 */
#ifdef K_WEIGHTING_SEVERAL
            float words[5];
            k_weighting_memory more[1];

            k_weighting_words_5(w, words);
            k_weighting_states_1(&m[1], more);
            const float b0_1 = words[0];
            const float b1_1 = words[1];
            const float b2_1 = words[2];
            const float a1_1 = words[3];
            const float a2_1 = words[4];
            float p_1 = more[0].p;
            float q_1 = more[0].q;
#else
            const float b0_1 = w[5];
            const float b1_1 = w[6];
            const float b2_1 = w[7];
            const float a1_1 = w[8];
            const float a2_1 = w[9];
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
#ifdef K_WEIGHTING_SEVERAL
            more[0].p = p_1;
            more[0].q = q_1;
            k_weighting_keep_states_1(&m[1], more);
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
#ifdef K_WEIGHTING_SEVERAL
        is.p = p_0;
        is.q = q_0;
        k_weighting_keep_first(m, &is);
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
static K_WEIGHTING_COLD void k_weighting_fade(float *io, float step,
        int32_t from, int32_t way, int n)
{
    K_WEIGHTING_AS_WRITTEN
    int i;

    for (i = 0; i < n; i++) {
        const float at = (float)(from + (way * i));
        const float u = at * step;
        const float w = ((u * u) * u) * (u * (6.0f * u - 15.0f) + 10.0f);
        io[i] = w * io[i];
    }
}

/* Gain and sections of cascade c over n samples, from -> io. */
static inline void k_weighting_run_cascade(const k_weighting_rate_entry *rate,
        k_weighting_channel_state *ch, int c, const float *from, float *io, int n)
{
    const k_weighting_cascade_entry *cascade = &rate->cascade[c];

    k_weighting_run_list(rate->sections, &rate->lists[cascade->list], &ch->now[cascade->from],
        cascade->gain, from, io, n);
}

/* The common part over n samples of one channel: in[i] -> now[i].
 * What returns are the samples before garbage. */
static int k_weighting_run_common(const k_weighting_rate_entry *rate, k_weighting_channel_state *ch,
        const float *in, float *now, int n)
{
    K_WEIGHTING_AS_WRITTEN
    const float gain = rate->cascade[0].gain;
    uint32_t sizes = 0u;
    int good = n;
    int i;

    if (ch->fresh != 0u || ch->dead != 0u) {
        good = 0;
    }
    for (i = 0; i < good; i++) {
        sizes |= k_weighting_bits(in[i]);
        float x = in[i];
        now[i] = gain * x;
    }
    if ((sizes << 1) >= K_WEIGHTING_GARBAGE) { /* perhaps */
        good = 0;
        while (good < n && (k_weighting_bits(in[good]) << 1) < K_WEIGHTING_GARBAGE) {
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
static K_WEIGHTING_COLD void k_weighting_shade(const k_weighting_rate_entry *rate,
        const k_weighting_channel_state *ch, float *io, int good, int n)
{
    int heard = good;
    int i;
    if (ch->step != 0) {
        k_weighting_fade(io, rate->step, ch->open, ch->step, good);
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
static void k_weighting_run_ways(const k_weighting_rate_entry *rate, k_weighting_channel_state *ch,
        const float *now, int good, float *const *out, int at, int n)
{
    int c;

    for (c = 1; c <= K_WEIGHTING_WAYS; c++) {
        float *io = &out[c - 1][at];

        if (good > 0) {
            k_weighting_run_cascade(rate, ch, c, now, io, good);
        }
        if (ch->calm == 0u) {
            k_weighting_shade(rate, ch, io, good, n);
        }
    }
    if (ch->calm == 0u) {
        ch->open = (int16_t)(ch->open + (ch->step * n));
    }
}

/* n samples of one channel, none beyond a tick: in[i] -> out[way][at + i]. */
static K_WEIGHTING_NOINLINE void k_weighting_run_block(const k_weighting_rate_entry *rate, k_weighting_channel_state *ch,
        const float *in, float *const *out, int at, int n)
{
    float now[K_WEIGHTING_TICK];
    int good;
    good = k_weighting_run_common(rate, ch, in, now, n);
    k_weighting_run_ways(rate, ch, now, good, out, at, n);
}

#ifndef K_WEIGHTING_NO_SINGLES

/* Where there is K_WEIGHTING_SEVERAL, words go from memory into registers beside each other, and back,
 * in one instruction; nothing is computed there. */
/* The words of a row, and the next row is next. */
static K_WEIGHTING_INLINE void k_weighting_row_5(const float **w, k_weighting_section_words *row)
{
#ifdef K_WEIGHTING_SEVERAL
    register float b0 __asm__("s6");
    register float b1 __asm__("s7");
    register float b2 __asm__("s8");
    register float a1 __asm__("s9");
    register float a2 __asm__("s10");

    __asm__("vldmia %0!, {s6-s10}"
            : "+r"(*w), "=t"(b0), "=t"(b1), "=t"(b2), "=t"(a1), "=t"(a2)
            : "m"((*w)[0]), "m"((*w)[1]), "m"((*w)[2]), "m"((*w)[3]), "m"((*w)[4]));
    row->b0 = b0;
    row->b1 = b1;
    row->b2 = b2;
    row->a1 = a1;
    row->a2 = a2;
#else
    row->b0 = (*w)[0];
    row->b1 = (*w)[1];
    row->b2 = (*w)[2];
    row->a1 = (*w)[3];
    row->a2 = (*w)[4];
    *w += 5;
#endif
}

/* What a section of channel 0 of two remembers. */
static inline k_weighting_memory k_weighting_load_0(const k_weighting_memory *m)
{
#ifdef K_WEIGHTING_SEVERAL
    register float p __asm__("s2");
    register float q __asm__("s3");
    k_weighting_memory is;

    __asm__("vldmia %2, {s2-s3}" : "=t"(p), "=t"(q) : "r"(m), "m"(*m));
    is.p = p;
    is.q = q;
    return is;
#else
    return *m;
#endif
}

/* What it shall remember, and the next section is next. */
static inline void k_weighting_keep_0(k_weighting_memory **m, k_weighting_memory is)
{
#ifdef K_WEIGHTING_SEVERAL
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
static inline k_weighting_memory k_weighting_load_1(const k_weighting_memory *m)
{
#ifdef K_WEIGHTING_SEVERAL
    register float p __asm__("s4");
    register float q __asm__("s5");
    k_weighting_memory is;

    __asm__("vldmia %2, {s4-s5}" : "=t"(p), "=t"(q) : "r"(m), "m"(*m));
    is.p = p;
    is.q = q;
    return is;
#else
    return *m;
#endif
}

/* What it shall remember, and the next section is next. */
static inline void k_weighting_keep_1(k_weighting_memory **m, k_weighting_memory is)
{
#ifdef K_WEIGHTING_SEVERAL
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
/* One sample of two channels that are calm and alike: x -> out[way][0].
 * What always runs of all cascades stands in the order in which it runs, rows as well as memory. */
static inline void k_weighting_step(const k_weighting_rate_entry *rate,
        k_weighting_channel_state *ch_0, k_weighting_channel_state *ch_1, float x_0, float x_1,
        float *const *out_0, float *const *out_1)
{
    K_WEIGHTING_AS_WRITTEN
    const k_weighting_cascade_entry *cascade = &rate->cascade[0];
    const k_weighting_cascade_entry *const stop = &rate->cascade[K_WEIGHTING_WAYS];
    const float *w = rate->sections;
    k_weighting_memory *m_0 = ch_0->now;
    k_weighting_memory *m_1 = ch_1->now;
    float now_0;
    float *to_0 = &now_0;
    float now_1;
    float *to_1 = &now_1;

    x_0 = cascade->gain * x_0;
    x_1 = cascade->gain * x_1;
    for (;;) {
        uint32_t forms = (uint32_t)cascade->forms << 16;
        const uint16_t some = cascade->forms;

            if (some != 0u) {
                do {
                    k_weighting_section_words row;
                    k_weighting_memory is_0 = k_weighting_load_0(m_0);
                    k_weighting_memory is_1 = k_weighting_load_1(m_1);

                    k_weighting_row_5(&w, &row);
                    { /* delta */
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
                    }
                    k_weighting_keep_0(&m_0, is_0);
                    k_weighting_keep_1(&m_1, is_1);
                    forms <<= 1;
                } while (forms != 0u);
            }
        *to_0 = x_0;
        *to_1 = x_1;
        if (cascade == stop) {
            break;
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
typedef struct k_weighting_frames k_weighting_frames;
struct k_weighting_frames {
    const float *in;
    float *out;
    const int32_t *in32; /* where they are wide */
    int32_t *out32;
    int wide;
#ifndef K_WEIGHTING_NO_SINGLES
    k_weighting_state *s;
#endif
    /* Takes samples through their filters: by a pointer, so that programs without frames are
     * linked without it. */
    int (*through)(k_weighting_frames *f, const k_weighting_rate_entry *rate,
        k_weighting_channel_state *ch, int k, int n, int apart);
    const float *ins[K_WEIGHTING_CHANNELS];
    float *outs[K_WEIGHTING_CHANNELS * K_WEIGHTING_WAYS];
    float from[K_WEIGHTING_TICK];
    float to[K_WEIGHTING_WAYS][K_WEIGHTING_TICK];
};
/* ---- lanes ---------------------------------------------------------------------------- */

/* Where the compiler has vectors, the ways of all channels go through their sections side by side;
 * those that have no more go through sections that change nothing, to the bit. The same operations
 * in the same order give the same bits. Words and states of the ways stand in lanes of the state as
 * long as no channel fades, so that a single sample costs nothing to get there; what the channels
 * themselves remember of their ways is out of date then. */
#if defined __GNUC__ && (defined __SSE2__ || defined __aarch64__) && !defined K_WEIGHTING_NO_LANES
#define K_WEIGHTING_LANES 4 /* in a vector */
#define K_WEIGHTING_GROUPS 1 /* vectors that hold all lanes */
#define K_WEIGHTING_DEEP 4 /* sections of a lane, with those that a last pass has too many */
#define K_WEIGHTING_LONG 64 /* the most samples at once */
#define K_WEIGHTING_SAVING 3 /* half sections that one of all lanes has to stand for */

/* So that the loops over n samples are ones over one sample elsewhere. */
#define K_WEIGHTING_ALWAYS __attribute__((always_inline))

typedef float k_weighting_lanes __attribute__((vector_size(16)));
typedef int32_t k_weighting_marks __attribute__((vector_size(16)));
typedef float k_weighting_short __attribute__((vector_size(16)));
typedef int32_t k_weighting_short_marks __attribute__((vector_size(16)));

/* Words of two vectors in another order. */
#if defined __clang__ || __GNUC__ >= 12
#define K_WEIGHTING_SHUFFLE(a, b, ...) __builtin_shufflevector(a, b, __VA_ARGS__)
#else
#define K_WEIGHTING_SHUFFLE(a, b, ...) __builtin_shuffle(a, b, (k_weighting_short_marks){ __VA_ARGS__ })
#endif

/* Lanes of b where those of the mask are negative, otherwise of a, in one instruction. */
#if defined __SSE4_1__ && defined __has_builtin
#if __has_builtin(__builtin_ia32_blendvps)
#define K_WEIGHTING_BLEND(a, b, mask) __builtin_ia32_blendvps(a, b, mask)
#endif
#endif

/* Loops that clang leaves as they stand. */
#ifdef __clang__
#define K_WEIGHTING_ROLLED _Pragma("clang loop unroll(disable)")
#else
#define K_WEIGHTING_ROLLED
#endif

/* Vectors, and each lane of them. */
typedef union {
    k_weighting_lanes all;
    float one[K_WEIGHTING_LANES];
} k_weighting_lane_words;

typedef union {
    k_weighting_marks all;
    int32_t one[K_WEIGHTING_LANES];
} k_weighting_lane_marks;

/* Section k of every lane. */
typedef struct {
    k_weighting_lane_words word[7]; /* b0, b1, b2, a1, a2, p, q */
    k_weighting_lane_marks keep; /* all ones in a lane in the delta form, otherwise 0 */
    k_weighting_lane_words zero; /* -0, which adds nothing, to the bit, in all others */
    k_weighting_lane_words none; /* -0 in a lane that has no such section, otherwise 0 */
} k_weighting_lane_section;

/* Lanes beside each other in one vector. */
typedef struct {
    k_weighting_lane_section section[K_WEIGHTING_DEEP];
    k_weighting_lane_words gain;
    int32_t count[K_WEIGHTING_LANES]; /* sections of each */
    /* Which one begins at a section: how many it takes, and 8 times the form; 0: the end. */
    unsigned char pass[K_WEIGHTING_DEEP + 1];
    unsigned char alone[K_WEIGHTING_DEEP + 1]; /* the same for a single sample, with 32 times the form */
} k_weighting_lane_group;

/* All that the state keeps room for. */
typedef struct __attribute__((may_alias)) {
    k_weighting_lane_group group[K_WEIGHTING_GROUPS];
} k_weighting_lane_store;

/* There is room for it, wherever in the state a whole vector begins. */
typedef char k_weighting_lane_room[
    sizeof(k_weighting_lane_store) + 16u <= sizeof(((k_weighting_state *)0)->lanes) ? 1 : -1];

/* Where that begins, in bytes. */
static inline unsigned int k_weighting_lanes_begin(const k_weighting_state *s)
{
    return (16u - (unsigned int)((uintptr_t)s->lanes % 16u)) % 16u;
}

/* It, where lanes have been there since. */
static inline k_weighting_lane_group *k_weighting_lane_groups_at(k_weighting_state *s)
{
    unsigned char *const room = (unsigned char *)s->lanes;

    return ((k_weighting_lane_store *)(void *)&room[s->lanes_at])->group;
}

/* That of a state, which may have been copied to where whole vectors begin elsewhere. */
static inline k_weighting_lane_group *k_weighting_lane_groups(k_weighting_state *s)
{
    unsigned char *const room = (unsigned char *)s->lanes;
    const unsigned int at = k_weighting_lanes_begin(s);

    if (at != s->lanes_at) {
        (void)memmove(&room[at], &room[s->lanes_at], sizeof(k_weighting_lane_store));
        s->lanes_at = (unsigned char)at;
    }
    return k_weighting_lane_groups_at(s);
}

/* A state in lanes of the delta form, and -0 in all others. */
#ifdef K_WEIGHTING_BLEND
static const k_weighting_lanes k_weighting_nothing = {
    -0.0f,
    -0.0f,
    -0.0f,
    -0.0f,
};
#define K_WEIGHTING_BACK(state, s) \
    K_WEIGHTING_BLEND(k_weighting_nothing, state, (k_weighting_lanes)(s).keep.all)
#else
#define K_WEIGHTING_BACK(state, s) \
    ((k_weighting_lanes)(((k_weighting_marks)(state) & (s).keep.all) | (k_weighting_marks)(s).zero.all))
#endif

/* Words stay in memory: there is no room for all in registers, and copies gain nothing. */
static inline K_WEIGHTING_ALWAYS void k_weighting_lanes_delta_3(k_weighting_lane_section *s,
        k_weighting_lane_words *io, int n)
{
    K_WEIGHTING_AS_WRITTEN
    k_weighting_lanes p_0 = s[0].word[5].all;
    k_weighting_lanes q_0 = s[0].word[6].all;
    k_weighting_lanes p_1 = s[1].word[5].all;
    k_weighting_lanes q_1 = s[1].word[6].all;
    k_weighting_lanes p_2 = s[2].word[5].all;
    k_weighting_lanes q_2 = s[2].word[6].all;
    int i;

    for (i = 0; i < n; i++) {
        const k_weighting_lanes x = io[i].all;
        const k_weighting_lanes y_0 = s[0].word[0].all * x + p_0;
        const k_weighting_lanes y_1 = s[1].word[0].all * y_0 + p_1;
        p_0 = p_0 + ((q_0 + s[0].word[1].all * x) - s[0].word[3].all * y_0);
        q_0 = (q_0 + s[0].word[2].all * x) - s[0].word[4].all * y_0;
        const k_weighting_lanes y_2 = s[2].word[0].all * y_1 + p_2;
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

static inline K_WEIGHTING_ALWAYS void k_weighting_lanes_delta_5(k_weighting_lane_section *s,
        k_weighting_lane_words *io, int n)
{
    K_WEIGHTING_AS_WRITTEN
    k_weighting_lanes p_0 = s[0].word[5].all;
    k_weighting_lanes q_0 = s[0].word[6].all;
    k_weighting_lanes p_1 = s[1].word[5].all;
    k_weighting_lanes q_1 = s[1].word[6].all;
    k_weighting_lanes p_2 = s[2].word[5].all;
    k_weighting_lanes q_2 = s[2].word[6].all;
    k_weighting_lanes p_3 = s[3].word[5].all;
    k_weighting_lanes q_3 = s[3].word[6].all;
    k_weighting_lanes p_4 = s[4].word[5].all;
    k_weighting_lanes q_4 = s[4].word[6].all;
    int i;

    for (i = 0; i < n; i++) {
        const k_weighting_lanes x = io[i].all;
        const k_weighting_lanes y_0 = s[0].word[0].all * x + p_0;
        const k_weighting_lanes y_1 = s[1].word[0].all * y_0 + p_1;
        p_0 = p_0 + ((q_0 + s[0].word[1].all * x) - s[0].word[3].all * y_0);
        q_0 = (q_0 + s[0].word[2].all * x) - s[0].word[4].all * y_0;
        const k_weighting_lanes y_2 = s[2].word[0].all * y_1 + p_2;
        p_1 = p_1 + ((q_1 + s[1].word[1].all * y_0) - s[1].word[3].all * y_1);
        q_1 = (q_1 + s[1].word[2].all * y_0) - s[1].word[4].all * y_1;
        const k_weighting_lanes y_3 = s[3].word[0].all * y_2 + p_3;
        p_2 = p_2 + ((q_2 + s[2].word[1].all * y_1) - s[2].word[3].all * y_2);
        q_2 = (q_2 + s[2].word[2].all * y_1) - s[2].word[4].all * y_2;
        const k_weighting_lanes y_4 = s[4].word[0].all * y_3 + p_4;
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

static inline K_WEIGHTING_ALWAYS void k_weighting_lanes_ragged_3(k_weighting_lane_section *s,
        k_weighting_lane_words *io, int n)
{
    K_WEIGHTING_AS_WRITTEN
    k_weighting_lanes p_0 = s[0].word[5].all;
    k_weighting_lanes q_0 = s[0].word[6].all;
    k_weighting_lanes p_1 = s[1].word[5].all;
    k_weighting_lanes q_1 = s[1].word[6].all;
    k_weighting_lanes p_2 = s[2].word[5].all;
    k_weighting_lanes q_2 = s[2].word[6].all;
    int i;

    for (i = 0; i < n; i++) {
        const k_weighting_lanes x = io[i].all;
        const k_weighting_lanes y_0 = s[0].word[0].all * x + p_0;
        const k_weighting_lanes y_1 = s[1].word[0].all * y_0 + p_1;
        p_0 = K_WEIGHTING_BACK(p_0, s[0]) + ((q_0 + s[0].word[1].all * x) - s[0].word[3].all * y_0);
        p_0 = (k_weighting_lanes)((k_weighting_marks)p_0 | (k_weighting_marks)s[0].none.all);
        q_0 = (K_WEIGHTING_BACK(q_0, s[0]) + s[0].word[2].all * x) - s[0].word[4].all * y_0;
        const k_weighting_lanes y_2 = s[2].word[0].all * y_1 + p_2;
        p_1 = K_WEIGHTING_BACK(p_1, s[1]) + ((q_1 + s[1].word[1].all * y_0) - s[1].word[3].all *
            y_1);
        p_1 = (k_weighting_lanes)((k_weighting_marks)p_1 | (k_weighting_marks)s[1].none.all);
        q_1 = (K_WEIGHTING_BACK(q_1, s[1]) + s[1].word[2].all * y_0) - s[1].word[4].all * y_1;
        p_2 = K_WEIGHTING_BACK(p_2, s[2]) + ((q_2 + s[2].word[1].all * y_1) - s[2].word[3].all *
            y_2);
        p_2 = (k_weighting_lanes)((k_weighting_marks)p_2 | (k_weighting_marks)s[2].none.all);
        q_2 = (K_WEIGHTING_BACK(q_2, s[2]) + s[2].word[2].all * y_1) - s[2].word[4].all * y_2;
        io[i].all = y_2;
    }
    s[0].word[5].all = p_0;
    s[0].word[6].all = q_0;
    s[1].word[5].all = p_1;
    s[1].word[6].all = q_1;
    s[2].word[5].all = p_2;
    s[2].word[6].all = q_2;
}

static inline K_WEIGHTING_ALWAYS void k_weighting_lanes_ragged_5(k_weighting_lane_section *s,
        k_weighting_lane_words *io, int n)
{
    K_WEIGHTING_AS_WRITTEN
    k_weighting_lanes p_0 = s[0].word[5].all;
    k_weighting_lanes q_0 = s[0].word[6].all;
    k_weighting_lanes p_1 = s[1].word[5].all;
    k_weighting_lanes q_1 = s[1].word[6].all;
    k_weighting_lanes p_2 = s[2].word[5].all;
    k_weighting_lanes q_2 = s[2].word[6].all;
    k_weighting_lanes p_3 = s[3].word[5].all;
    k_weighting_lanes q_3 = s[3].word[6].all;
    k_weighting_lanes p_4 = s[4].word[5].all;
    k_weighting_lanes q_4 = s[4].word[6].all;
    int i;

    for (i = 0; i < n; i++) {
        const k_weighting_lanes x = io[i].all;
        const k_weighting_lanes y_0 = s[0].word[0].all * x + p_0;
        const k_weighting_lanes y_1 = s[1].word[0].all * y_0 + p_1;
        p_0 = K_WEIGHTING_BACK(p_0, s[0]) + ((q_0 + s[0].word[1].all * x) - s[0].word[3].all * y_0);
        p_0 = (k_weighting_lanes)((k_weighting_marks)p_0 | (k_weighting_marks)s[0].none.all);
        q_0 = (K_WEIGHTING_BACK(q_0, s[0]) + s[0].word[2].all * x) - s[0].word[4].all * y_0;
        const k_weighting_lanes y_2 = s[2].word[0].all * y_1 + p_2;
        p_1 = K_WEIGHTING_BACK(p_1, s[1]) + ((q_1 + s[1].word[1].all * y_0) - s[1].word[3].all *
            y_1);
        p_1 = (k_weighting_lanes)((k_weighting_marks)p_1 | (k_weighting_marks)s[1].none.all);
        q_1 = (K_WEIGHTING_BACK(q_1, s[1]) + s[1].word[2].all * y_0) - s[1].word[4].all * y_1;
        const k_weighting_lanes y_3 = s[3].word[0].all * y_2 + p_3;
        p_2 = K_WEIGHTING_BACK(p_2, s[2]) + ((q_2 + s[2].word[1].all * y_1) - s[2].word[3].all *
            y_2);
        p_2 = (k_weighting_lanes)((k_weighting_marks)p_2 | (k_weighting_marks)s[2].none.all);
        q_2 = (K_WEIGHTING_BACK(q_2, s[2]) + s[2].word[2].all * y_1) - s[2].word[4].all * y_2;
        const k_weighting_lanes y_4 = s[4].word[0].all * y_3 + p_4;
        p_3 = K_WEIGHTING_BACK(p_3, s[3]) + ((q_3 + s[3].word[1].all * y_2) - s[3].word[3].all *
            y_3);
        p_3 = (k_weighting_lanes)((k_weighting_marks)p_3 | (k_weighting_marks)s[3].none.all);
        q_3 = (K_WEIGHTING_BACK(q_3, s[3]) + s[3].word[2].all * y_2) - s[3].word[4].all * y_3;
        p_4 = K_WEIGHTING_BACK(p_4, s[4]) + ((q_4 + s[4].word[1].all * y_3) - s[4].word[3].all *
            y_4);
        p_4 = (k_weighting_lanes)((k_weighting_marks)p_4 | (k_weighting_marks)s[4].none.all);
        q_4 = (K_WEIGHTING_BACK(q_4, s[4]) + s[4].word[2].all * y_3) - s[4].word[4].all * y_4;
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
static inline K_WEIGHTING_ALWAYS int k_weighting_lane_pass(unsigned int pass,
        k_weighting_lane_section *s, k_weighting_lane_words *io, int n)
{
    switch (pass) {
    case 19u:
        k_weighting_lanes_delta_3(s, io, n);
        break;
    case 21u:
        k_weighting_lanes_delta_5(s, io, n);
        break;
    case 35u:
        k_weighting_lanes_ragged_3(s, io, n);
        break;
    case 37u:
        k_weighting_lanes_ragged_5(s, io, n);
        break;
    default:
        break;
    }
    return (int)(pass % 8u);
}

/* A single sample of every lane, io, through a group's sections. */
static inline K_WEIGHTING_ALWAYS void k_weighting_lane_alone(k_weighting_lane_group *group, k_weighting_lanes *io)
{
    K_WEIGHTING_AS_WRITTEN
    k_weighting_lanes x = *io;
    k_weighting_lane_section *s = group->section;
    const unsigned char *run;

    for (run = group->alone; *run != 0u; run++) {
        unsigned int left = (unsigned int)*run % 32u;

        switch (*run / 32u) {
        case 2u: /* delta */
            K_WEIGHTING_ROLLED
            for (; left > 4u; left -= 5u) {
                k_weighting_lanes p_0 = s[0].word[5].all;
                k_weighting_lanes q_0 = s[0].word[6].all;
                const k_weighting_lanes y_0 = s[0].word[0].all * x + p_0;
                k_weighting_lanes p_1 = s[1].word[5].all;
                k_weighting_lanes q_1 = s[1].word[6].all;
                const k_weighting_lanes y_1 = s[1].word[0].all * y_0 + p_1;
                p_0 = p_0 + ((q_0 + s[0].word[1].all * x) - s[0].word[3].all * y_0);
                s[0].word[5].all = p_0;
                q_0 = (q_0 + s[0].word[2].all * x) - s[0].word[4].all * y_0;
                s[0].word[6].all = q_0;
                k_weighting_lanes p_2 = s[2].word[5].all;
                k_weighting_lanes q_2 = s[2].word[6].all;
                const k_weighting_lanes y_2 = s[2].word[0].all * y_1 + p_2;
                p_1 = p_1 + ((q_1 + s[1].word[1].all * y_0) - s[1].word[3].all * y_1);
                s[1].word[5].all = p_1;
                q_1 = (q_1 + s[1].word[2].all * y_0) - s[1].word[4].all * y_1;
                s[1].word[6].all = q_1;
                k_weighting_lanes p_3 = s[3].word[5].all;
                k_weighting_lanes q_3 = s[3].word[6].all;
                const k_weighting_lanes y_3 = s[3].word[0].all * y_2 + p_3;
                p_2 = p_2 + ((q_2 + s[2].word[1].all * y_1) - s[2].word[3].all * y_2);
                s[2].word[5].all = p_2;
                q_2 = (q_2 + s[2].word[2].all * y_1) - s[2].word[4].all * y_2;
                s[2].word[6].all = q_2;
                k_weighting_lanes p_4 = s[4].word[5].all;
                k_weighting_lanes q_4 = s[4].word[6].all;
                const k_weighting_lanes y_4 = s[4].word[0].all * y_3 + p_4;
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
            K_WEIGHTING_ROLLED
            for (; left != 0u; left--) {
                k_weighting_lanes p_0 = s[0].word[5].all;
                k_weighting_lanes q_0 = s[0].word[6].all;
                const k_weighting_lanes y_0 = s[0].word[0].all * x + p_0;
                p_0 = p_0 + ((q_0 + s[0].word[1].all * x) - s[0].word[3].all * y_0);
                s[0].word[5].all = p_0;
                q_0 = (q_0 + s[0].word[2].all * x) - s[0].word[4].all * y_0;
                s[0].word[6].all = q_0;
                x = y_0;
                s += 1;
            }
            break;
        case 4u: /* ragged */
            K_WEIGHTING_ROLLED
            for (; left > 4u; left -= 5u) {
                k_weighting_lanes p_0 = s[0].word[5].all;
                k_weighting_lanes q_0 = s[0].word[6].all;
                const k_weighting_lanes y_0 = s[0].word[0].all * x + p_0;
                k_weighting_lanes p_1 = s[1].word[5].all;
                k_weighting_lanes q_1 = s[1].word[6].all;
                const k_weighting_lanes y_1 = s[1].word[0].all * y_0 + p_1;
                p_0 = K_WEIGHTING_BACK(p_0, s[0]) + ((q_0 + s[0].word[1].all * x) -
                    s[0].word[3].all * y_0);
                p_0 = (k_weighting_lanes)((k_weighting_marks)p_0 |
                    (k_weighting_marks)s[0].none.all);
                s[0].word[5].all = p_0;
                q_0 = (K_WEIGHTING_BACK(q_0, s[0]) + s[0].word[2].all * x) - s[0].word[4].all * y_0;
                s[0].word[6].all = q_0;
                k_weighting_lanes p_2 = s[2].word[5].all;
                k_weighting_lanes q_2 = s[2].word[6].all;
                const k_weighting_lanes y_2 = s[2].word[0].all * y_1 + p_2;
                p_1 = K_WEIGHTING_BACK(p_1, s[1]) + ((q_1 + s[1].word[1].all * y_0) -
                    s[1].word[3].all * y_1);
                p_1 = (k_weighting_lanes)((k_weighting_marks)p_1 |
                    (k_weighting_marks)s[1].none.all);
                s[1].word[5].all = p_1;
                q_1 = (K_WEIGHTING_BACK(q_1, s[1]) + s[1].word[2].all * y_0) - s[1].word[4].all
                    * y_1;
                s[1].word[6].all = q_1;
                k_weighting_lanes p_3 = s[3].word[5].all;
                k_weighting_lanes q_3 = s[3].word[6].all;
                const k_weighting_lanes y_3 = s[3].word[0].all * y_2 + p_3;
                p_2 = K_WEIGHTING_BACK(p_2, s[2]) + ((q_2 + s[2].word[1].all * y_1) -
                    s[2].word[3].all * y_2);
                p_2 = (k_weighting_lanes)((k_weighting_marks)p_2 |
                    (k_weighting_marks)s[2].none.all);
                s[2].word[5].all = p_2;
                q_2 = (K_WEIGHTING_BACK(q_2, s[2]) + s[2].word[2].all * y_1) - s[2].word[4].all
                    * y_2;
                s[2].word[6].all = q_2;
                k_weighting_lanes p_4 = s[4].word[5].all;
                k_weighting_lanes q_4 = s[4].word[6].all;
                const k_weighting_lanes y_4 = s[4].word[0].all * y_3 + p_4;
                p_3 = K_WEIGHTING_BACK(p_3, s[3]) + ((q_3 + s[3].word[1].all * y_2) -
                    s[3].word[3].all * y_3);
                p_3 = (k_weighting_lanes)((k_weighting_marks)p_3 |
                    (k_weighting_marks)s[3].none.all);
                s[3].word[5].all = p_3;
                q_3 = (K_WEIGHTING_BACK(q_3, s[3]) + s[3].word[2].all * y_2) - s[3].word[4].all
                    * y_3;
                s[3].word[6].all = q_3;
                p_4 = K_WEIGHTING_BACK(p_4, s[4]) + ((q_4 + s[4].word[1].all * y_3) -
                    s[4].word[3].all * y_4);
                p_4 = (k_weighting_lanes)((k_weighting_marks)p_4 |
                    (k_weighting_marks)s[4].none.all);
                s[4].word[5].all = p_4;
                q_4 = (K_WEIGHTING_BACK(q_4, s[4]) + s[4].word[2].all * y_3) - s[4].word[4].all
                    * y_4;
                s[4].word[6].all = q_4;
                x = y_4;
                s += 5;
            }
            K_WEIGHTING_ROLLED
            for (; left != 0u; left--) {
                k_weighting_lanes p_0 = s[0].word[5].all;
                k_weighting_lanes q_0 = s[0].word[6].all;
                const k_weighting_lanes y_0 = s[0].word[0].all * x + p_0;
                p_0 = K_WEIGHTING_BACK(p_0, s[0]) + ((q_0 + s[0].word[1].all * x) -
                    s[0].word[3].all * y_0);
                p_0 = (k_weighting_lanes)((k_weighting_marks)p_0 |
                    (k_weighting_marks)s[0].none.all);
                s[0].word[5].all = p_0;
                q_0 = (K_WEIGHTING_BACK(q_0, s[0]) + s[0].word[2].all * x) - s[0].word[4].all * y_0;
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
static K_WEIGHTING_NOINLINE void k_weighting_lane_passes(k_weighting_lane_group *group, k_weighting_lane_words *x, int n)
{
    int k = 0;

    while (group->pass[k] != 0u) {
        k += k_weighting_lane_pass(group->pass[k], &group->section[k], x, n);
    }
}

/* The sections of a list in lane l, from number k on, with what they remember. */
static int k_weighting_lane_fill(const float *table, const uint16_t *list,
        const k_weighting_memory *m, k_weighting_lane_group *group, int l, int k)
{
    for (; *list != 0u; list++) {
        const float *w = &table[*list & K_WEIGHTING_ROW];
        const unsigned int length = 5u;
        const int delta = ((unsigned int)*list >> K_WEIGHTING_HEAD & 3u) != 1u ? 1 : 0;
        unsigned int left = (unsigned int)*list >> 13;

        for (; left > 0u; left--) {
            k_weighting_lane_section *to = &group->section[k];
            to->word[0].one[l] = w[0];
            to->word[1].one[l] = w[1];
            to->word[2].one[l] = w[2];
            to->word[3].one[l] = w[3];
            to->word[4].one[l] = w[4];
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
static void k_weighting_lane_enter(const k_weighting_rate_entry *rate, const k_weighting_channel_state *ch, int way,
        k_weighting_lane_group *group, int l)
{
    const k_weighting_cascade_entry *cascade = &rate->cascade[way];
    int k = k_weighting_lane_fill(rate->sections, &rate->lists[cascade->list],
        &ch->now[cascade->from], group, l, 0);
    group->count[l] = k;
    group->gain.one[l] = cascade->gain;
    for (; k < K_WEIGHTING_DEEP; k++) {
        k_weighting_lane_section *to = &group->section[k];
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
static unsigned int k_weighting_lane_forms(const k_weighting_lane_group *group, int from, int sections,
        int least)
{
    unsigned int forms = 0u;
    int l;

    for (l = 0; l < K_WEIGHTING_LANES * sections; l++) {
        const int k = from + l / K_WEIGHTING_LANES;

        forms |= group->section[k].keep.one[l % K_WEIGHTING_LANES] == 0 ? 1u : 2u;
    }
    return from + sections > least ? 4u : forms;
}

/* How single samples take a group's sections: those of one form in a row at once, with others
 * that follow where going along costs less than beginning anew. */
static void k_weighting_lane_plan_alone(k_weighting_lane_group *group, int least, int most)
{
    /* Operations of each form that direct ones do without. */
    static const int k_weighting_lane_more[] = { 0, 0, 1, 5, 6 };
    unsigned char *run = group->alone;
    unsigned int form = 0u;
    int count = 0;
    int k = 0;

    (void)memset(group->alone, 0, sizeof group->alone);
    while (k < most) {
        const unsigned int next = k_weighting_lane_forms(group, k, 1, least);
        const unsigned int any = form | next;
        const unsigned int both = any < 4u ? any : 4u;
        int n = 1;
        int cost;

        while (n < 31 && k + n < most
                && k_weighting_lane_forms(group, k + n, 1, least) == next) {
            n++;
        }
        cost = count * (k_weighting_lane_more[both] - k_weighting_lane_more[form])
            + n * (k_weighting_lane_more[both] - k_weighting_lane_more[next]);
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
static int k_weighting_lane_plan(k_weighting_lane_group *group)
{
    int least = group->count[0];
    int most = least;
    int k;
    int l;

    for (l = 1; l < K_WEIGHTING_LANES; l++) {
        least = group->count[l] < least ? group->count[l] : least;
        most = group->count[l] > most ? group->count[l] : most;
    }
    (void)memset(group->pass, 0, sizeof group->pass);
    for (k = 0; k < most;) {
        const int left = most - k;
        const int sections = left > 3 && left != 6 ? 5 : 3;
        const unsigned int forms = k_weighting_lane_forms(group, k, sections, least);

        group->pass[k] = (unsigned char)(forms * 8u + (unsigned int)sections);
        k += sections;
    }
    k_weighting_lane_plan_alone(group, least, most);
    return most;
}

/* How many lanes of a group there are. */
static int k_weighting_lanes_used(int group)
{
    const int left = K_WEIGHTING_CHANNELS * K_WEIGHTING_WAYS - group * K_WEIGHTING_LANES;

    return left < K_WEIGHTING_LANES ? left : K_WEIGHTING_LANES;
}

/* All ways begin to run in lanes where that saves anything. */
static K_WEIGHTING_COLD void k_weighting_enter_lanes(k_weighting_state *s)
{
    const k_weighting_rate_entry *rate = &k_weighting_rate_table[s->rate];
    k_weighting_lane_group *group = k_weighting_lane_groups(s);
    int all = 0;
    int most = 0;
    int k;
    int l;

    for (k = 0; k < K_WEIGHTING_GROUPS; k++) {
        const int used = k_weighting_lanes_used(k);
        int longest;

        for (l = 0; l < K_WEIGHTING_LANES; l++) { /* what is not used does as the first */
            const int lane = k * K_WEIGHTING_LANES + (l < used ? l : 0);

            k_weighting_lane_enter(rate, &s->channel[lane / K_WEIGHTING_WAYS], 1 + lane % K_WEIGHTING_WAYS,
                &group[k], l);
            all += l < used ? (int)group[k].count[l] : 0;
        }
        longest = k_weighting_lane_plan(&group[k]);
        most += longest;
    }
    s->laned = 2 * all > K_WEIGHTING_SAVING * most ? 1u : 2u;
}

/* What the ways remember goes back to where it belongs. */
static K_WEIGHTING_COLD void k_weighting_leave_lanes(k_weighting_state *s)
{
    const k_weighting_rate_entry *rate = &k_weighting_rate_table[s->rate];
    const k_weighting_lane_group *group = k_weighting_lane_groups(s);
    int lane;
    int k;

    for (lane = 0; lane < K_WEIGHTING_CHANNELS * K_WEIGHTING_WAYS && s->laned == 1u; lane++) {
        const k_weighting_lane_group *from = &group[lane / K_WEIGHTING_LANES];
        const k_weighting_cascade_entry *cascade = &rate->cascade[1 + lane % K_WEIGHTING_WAYS];
        k_weighting_memory *m = &s->channel[lane / K_WEIGHTING_WAYS].now[cascade->from];

        for (k = 0; k < from->count[lane % K_WEIGHTING_LANES]; k++) {
            m->p = from->section[k].word[5].one[lane % K_WEIGHTING_LANES];
            m->q = from->section[k].word[6].one[lane % K_WEIGHTING_LANES];
            m++;
        }
    }
    s->laned = 0u;
}

/* Sections in lanes come to rest like others. */
static K_WEIGHTING_COLD void k_weighting_rest_lanes(k_weighting_state *s)
{
    const k_weighting_lanes above_p = {
        5.421011e-20f,
        5.421011e-20f,
        5.421011e-20f,
        5.421011e-20f,
    };
    const k_weighting_lanes below_p = {
        -5.421011e-20f,
        -5.421011e-20f,
        -5.421011e-20f,
        -5.421011e-20f,
    };
    const k_weighting_lanes above_q = {
        5.421011e-20f,
        5.421011e-20f,
        5.421011e-20f,
        5.421011e-20f,
    };
    const k_weighting_lanes below_q = {
        -5.421011e-20f,
        -5.421011e-20f,
        -5.421011e-20f,
        -5.421011e-20f,
    };
    k_weighting_lane_group *group = k_weighting_lane_groups(s);
    int k;

    for (k = 0; k < K_WEIGHTING_GROUPS * K_WEIGHTING_DEEP; k++) {
        k_weighting_lane_section *at = &group[k / K_WEIGHTING_DEEP].section[k % K_WEIGHTING_DEEP];
        const k_weighting_lanes p = at->word[5].all;
        const k_weighting_lanes q = at->word[6].all;
        const k_weighting_marks tiny = (p < above_p) & (p > below_p) & (q < above_q) & (q > below_q);
        at->word[5].all = (k_weighting_lanes)(((k_weighting_marks)p & ~tiny) | (k_weighting_marks)at->none.all);
        at->word[6].all = (k_weighting_lanes)(((k_weighting_marks)q & ~tiny) | (k_weighting_marks)at->none.all);
    }
}

/* 1 where no channel fades or is silent. */
static int k_weighting_calm(const k_weighting_state *s)
{
    int c;

    for (c = 0; c < K_WEIGHTING_CHANNELS; c++) {
        if (s->channel[c].calm == 0u) {
            return 0;
        }
    }
    return 1;
}

/* Turns a square of words about: word i of v[k] becomes word k of v[i]. */
static inline void k_weighting_turn(k_weighting_short *v)
{
    const k_weighting_short v1_0 = K_WEIGHTING_SHUFFLE(v[0], v[2], 0, 4, 1, 5);
    const k_weighting_short v1_1 = K_WEIGHTING_SHUFFLE(v[0], v[2], 2, 6, 3, 7);
    const k_weighting_short v1_2 = K_WEIGHTING_SHUFFLE(v[1], v[3], 0, 4, 1, 5);
    const k_weighting_short v1_3 = K_WEIGHTING_SHUFFLE(v[1], v[3], 2, 6, 3, 7);
    const k_weighting_short v2_0 = K_WEIGHTING_SHUFFLE(v1_0, v1_2, 0, 4, 1, 5);
    const k_weighting_short v2_1 = K_WEIGHTING_SHUFFLE(v1_0, v1_2, 2, 6, 3, 7);
    const k_weighting_short v2_2 = K_WEIGHTING_SHUFFLE(v1_1, v1_3, 0, 4, 1, 5);
    const k_weighting_short v2_3 = K_WEIGHTING_SHUFFLE(v1_1, v1_3, 2, 6, 3, 7);
    v[0] = v2_0;
    v[1] = v2_1;
    v[2] = v2_2;
    v[3] = v2_3;
}

/* The channels' common parts times gain -> x of lanes from on; what is not used gets what the first
 * does. */
static void k_weighting_lane_inputs(const k_weighting_lane_words *gains, int from, int used,
        float (*common)[K_WEIGHTING_LONG], k_weighting_lane_words *x, int n)
{
    K_WEIGHTING_AS_WRITTEN
    const int lane_0 = from;
    const float *from_0 = common[lane_0 / K_WEIGHTING_WAYS];
    const int lane_1 = 1 < used ? from + 1 : from;
    const float *from_1 = common[lane_1 / K_WEIGHTING_WAYS];
    const int lane_2 = 2 < used ? from + 2 : from;
    const float *from_2 = common[lane_2 / K_WEIGHTING_WAYS];
    const int lane_3 = 3 < used ? from + 3 : from;
    const float *from_3 = common[lane_3 / K_WEIGHTING_WAYS];
    int i;

    for (i = 0; i < n; i++) {
        {
            k_weighting_lanes gain;
            const k_weighting_lanes all = { from_0[i], from_1[i], from_2[i], from_3[i] };

            (void)memcpy(&gain, &gains->one[0], sizeof gain);
            {
                const k_weighting_lanes scaled = gain * all;
                x[i].all = scaled;
            }
        }
    }
}

/* x of lanes from on -> out. */
static void k_weighting_lane_outputs(const k_weighting_lane_words *x, int used, float *const *out,
        int at, int n)
{
    float spare[K_WEIGHTING_LONG]; /* of lanes that are not used */
    int l;

    for (l = 0; l < used; l += 4) {
        float *to_0 = l + 0 < used ? &out[l + 0][at] : spare;
        float *to_1 = l + 1 < used ? &out[l + 1][at] : spare;
        float *to_2 = l + 2 < used ? &out[l + 2][at] : spare;
        float *to_3 = l + 3 < used ? &out[l + 3][at] : spare;
        int i;

        for (i = 0; i < n - 4 + 1; i += 4) {
            k_weighting_short v[4];

            (void)memcpy(&v[0], &x[i + 0].one[l], sizeof v[0]);
            (void)memcpy(&v[1], &x[i + 1].one[l], sizeof v[1]);
            (void)memcpy(&v[2], &x[i + 2].one[l], sizeof v[2]);
            (void)memcpy(&v[3], &x[i + 3].one[l], sizeof v[3]);
            k_weighting_turn(v);
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
static void k_weighting_lane_give(const k_weighting_frames *f, const k_weighting_lane_words *x, int from, int used,
        int at, int n)
{
    int k = (at * K_WEIGHTING_CHANNELS * K_WEIGHTING_WAYS) + from;
    int i;
    int l;

    for (i = 0; i < n; i++) {
        if (used == K_WEIGHTING_LANES) {
            if (f->wide != 0) {
                for (l = 0; l < K_WEIGHTING_LANES; l++) {
                    f->out32[k + l] = k_weighting_to_int32(x[i].one[l]);
                }
            } else {
                (void)memcpy(&f->out[k], &x[i], sizeof x[i]);
            }
        } else {
            for (l = 0; l < used; l++) {
                if (f->wide != 0) {
                    f->out32[k + l] = k_weighting_to_int32(x[i].one[l]);
                } else {
                    f->out[k + l] = x[i].one[l];
                }
            }
        }
        k += K_WEIGHTING_CHANNELS * K_WEIGHTING_WAYS;
    }
}

/* The ways of a group's lanes, so many from on: in common[channel] -> out, or frames. */
static void k_weighting_run_lanes(k_weighting_lane_group *group, int from, int used,
        float (*common)[K_WEIGHTING_LONG], float *const *out, const k_weighting_frames *f, int at, int n)
{
    k_weighting_lane_words x[K_WEIGHTING_LONG];

    k_weighting_lane_inputs(&group->gain, from, used, common, x, n);
    k_weighting_lane_passes(group, x, n);
    if (f != NULL) {
        k_weighting_lane_give(f, x, from, used, at, n);
    } else {
        k_weighting_lane_outputs(x, used, &out[from], at, n);
    }
}

/* n samples of a channel times the first gain: in -> now. What returns is not less than the size of
 * the greatest. */
static inline uint32_t k_weighting_lane_take(float gain, const float *in, float *now, int n)
{
    K_WEIGHTING_AS_WRITTEN
    uint32_t sizes = 0u;
    int i;

    for (i = 0; i < n; i++) {
        const float all = in[i];

        sizes |= k_weighting_bits(all);
        const float scaled = gain * all;
        now[i] = scaled;
    }
    return sizes << 1;
}

/* One sample of all channels, number at, or one frame. What returns is 1, or 0 where one may be
 * garbage: then nothing has happened. */
static inline K_WEIGHTING_ALWAYS int k_weighting_lane_sample(const k_weighting_rate_entry *rate,
        k_weighting_lane_group *group, const float *const *in, float *const *out,
        const k_weighting_frames *f, int framed, int at)
{
    K_WEIGHTING_AS_WRITTEN
    float now[K_WEIGHTING_CHANNELS];
    uint32_t size = 0u;
    int c;
    int g;

    if (framed == 0) {
        for (c = 0; c < K_WEIGHTING_CHANNELS; c++) {
            now[c] = in[c][at];
        }
    } else if (f->wide == 0) {
        (void)memcpy(now, &f->in[at * K_WEIGHTING_CHANNELS], sizeof now);
    } else {
        int k = at * K_WEIGHTING_CHANNELS;

        for (c = 0; c < K_WEIGHTING_CHANNELS; c++) {
            now[c] = k_weighting_from_int32(f->in32[k]);
            k++;
        }
    }
    for (c = 0; c < K_WEIGHTING_CHANNELS; c++) {
        size |= k_weighting_lane_take(rate->cascade[0].gain, &now[c], &now[c], 1);
    }
    if (size >= K_WEIGHTING_GARBAGE) {
        return 0;
    }
    for (g = 0; g < K_WEIGHTING_GROUPS; g++) {
        const int used = k_weighting_lanes_used(g);
        const k_weighting_lane_words *gains = &group[g].gain;
        const int lane_0 = g * K_WEIGHTING_LANES;
        const float x_0 = now[lane_0 / K_WEIGHTING_WAYS];
        const int lane_1 = (1 < used ? 1 : 0) + g * K_WEIGHTING_LANES;
        const float x_1 = now[lane_1 / K_WEIGHTING_WAYS];
        const int lane_2 = (2 < used ? 2 : 0) + g * K_WEIGHTING_LANES;
        const float x_2 = now[lane_2 / K_WEIGHTING_WAYS];
        const int lane_3 = (3 < used ? 3 : 0) + g * K_WEIGHTING_LANES;
        const float x_3 = now[lane_3 / K_WEIGHTING_WAYS];
        k_weighting_lane_words x;
        {
            k_weighting_lanes gain;
            const k_weighting_lanes all = { x_0, x_1, x_2, x_3 };

            (void)memcpy(&gain, &gains->one[0], sizeof gain);
            {
                const k_weighting_lanes scaled = gain * all;
                x.all = scaled;
            }
        }
        if (framed != 0) {
            k_weighting_lane_alone(&group[g], &x.all);
            k_weighting_lane_give(f, &x, g * K_WEIGHTING_LANES, used, at, 1);
        } else {
            float *const *to = &out[g * K_WEIGHTING_LANES];
            k_weighting_lanes y = x.all;

            k_weighting_lane_alone(&group[g], &y);
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
static K_WEIGHTING_NOINLINE int k_weighting_step_lanes(const k_weighting_rate_entry *rate,
        k_weighting_lane_group *group, const float *const *in, float *const *out, int at)
{
    return k_weighting_lane_sample(rate, group, in, out, NULL, 0, at);
}

static K_WEIGHTING_NOINLINE int k_weighting_step_frame(const k_weighting_rate_entry *rate,
        k_weighting_lane_group *group, const k_weighting_frames *f, int at)
{
    return k_weighting_lane_sample(rate, group, NULL, NULL, f, 1, at);
}

/* n samples of all channels, from number at on: in -> out, or from where they begin -> frames. What
 * returns is 1, or 0 where one may be garbage. */
static K_WEIGHTING_NOINLINE int k_weighting_block_lanes(k_weighting_state *s, const k_weighting_rate_entry *rate,
        const float *const *in, float *const *out, const k_weighting_frames *f, int at, int n)
{
    k_weighting_lane_group *group = k_weighting_lane_groups(s);
    float common[K_WEIGHTING_CHANNELS][K_WEIGHTING_LONG];
    const int begin = f == NULL ? at : 0;
    uint32_t size = 0u;
    int k;

    for (k = 0; k < K_WEIGHTING_CHANNELS; k++) {
        size |= k_weighting_lane_take(rate->cascade[0].gain, &in[k][begin], common[k], n);
    }
    if (size >= K_WEIGHTING_GARBAGE) {
        return 0;
    }
    for (k = 0; k < K_WEIGHTING_GROUPS; k++) {
        k_weighting_run_lanes(&group[k], k * K_WEIGHTING_LANES, k_weighting_lanes_used(k), common, out, f, at, n);
    }
    return 1;
}

/* n frames, from number at on. What returns is 1, or 0 where one may have garbage. */
static K_WEIGHTING_NOINLINE int k_weighting_frame_lanes(k_weighting_state *s, const k_weighting_rate_entry *rate,
        const k_weighting_frames *f, int at, int n)
{
    float now[K_WEIGHTING_CHANNELS][K_WEIGHTING_LONG];
    const float *in[K_WEIGHTING_CHANNELS];
    int c;
    int i;

    for (c = 0; c < K_WEIGHTING_CHANNELS; c++) {
        int k = (at * K_WEIGHTING_CHANNELS) + c;

        in[c] = now[c];
        for (i = 0; i < n; i++) {
            now[c][i] = f->wide != 0 ? k_weighting_from_int32(f->in32[k]) : f->in[k];
            k += K_WEIGHTING_CHANNELS;
        }
    }
    return k_weighting_block_lanes(s, rate, in, NULL, f, at, n);
}

/* Runs all channels where none fades or is silent, no sample may be garbage, and lanes are
 * faster: n samples at least, all at most. What returns is how many there were; 0: none, and the
 * channels have what belongs to them. */
static inline int k_weighting_run_calm(k_weighting_state *s, const k_weighting_rate_entry *rate,
        const float *const *in, float *const *out, const k_weighting_frames *f, int at, int n, int all)
{
    int good;

    if (s->laned == 0u && k_weighting_calm(s) != 0) {
        k_weighting_enter_lanes(s);
    }
    if (s->laned != 1u) {
        return 0;
    }
    if (s->count % K_WEIGHTING_TICK == 0u && all > n) { /* nothing is asked for, so that it may go on */
        const int left = (int)(K_WEIGHTING_REST - s->count);

        n = left < K_WEIGHTING_LONG ? left : K_WEIGHTING_LONG;
        n = all < n ? all : n;
    }
    if (n == 1) {
        k_weighting_lane_group *const group = k_weighting_lane_groups(s);

        good = f != NULL ? k_weighting_step_frame(rate, group, f, at)
            : k_weighting_step_lanes(rate, group, in, out, at);
    } else if (f != NULL) {
        good = k_weighting_frame_lanes(s, rate, f, at, n);
    } else {
        good = k_weighting_block_lanes(s, rate, in, out, NULL, at, n);
    }
    if (good == 0) {
        k_weighting_leave_lanes(s);
        return 0;
    }
    return n;
}
#endif


/* ---- what happens at ticks ------------------------------------------------------------ */

/* Sections in which next to nothing is left come to rest, everywhere at the same sample. */
static K_WEIGHTING_COLD void k_weighting_rest(k_weighting_memory *m, int sections)
{
    int k;

#if defined __clang__ /* gathers and scatters take longer */
#pragma clang loop vectorize(disable)
#endif
    for (k = 0; k < sections; k++) {
        if ((k_weighting_bits(m[k].p) << 1) < 0x3f000000u
                && (k_weighting_bits(m[k].q) << 1) < 0x3f000000u) {
            m[k].p = 0.0f;
            m[k].q = 0.0f;
        }
    }
}

/* What is asked of a channel, between two samples. */
static void k_weighting_tick_channel(const k_weighting_rate_entry *rate, k_weighting_channel_state *ch,
        const volatile unsigned char *asked)
{
    const int32_t fade = rate->fade;
    const int mute = (int)asked[K_WEIGHTING_MUTE];

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

#ifndef K_WEIGHTING_NO_SINGLES
/* Channels that may take single samples together. */
static void k_weighting_find_mates(k_weighting_state *s)
{
    int c;

    for (c = 0; c < K_WEIGHTING_CHANNELS - 1; c += 2) {
        k_weighting_channel_state *const ch = &s->channel[c];

        if (ch->calm != 0u && ch[1].calm != 0u) {
            ch->calm = 2u;
        }
    }
}
#endif

/* What is due of all channels. */
static K_WEIGHTING_COLD void k_weighting_tick(k_weighting_state *s, const k_weighting_rate_entry *rate)
{
    int c;

    for (c = 0; c < K_WEIGHTING_CHANNELS; c++) {
        k_weighting_channel_state *ch = &s->channel[c];

        k_weighting_tick_channel(rate, ch, s->asked[c]);
        if (s->count == 0u) {
            k_weighting_rest(ch->now, K_WEIGHTING_POSITIONS);
        }
    }
#ifndef K_WEIGHTING_NO_SINGLES
    k_weighting_find_mates(s);
#endif
#ifdef K_WEIGHTING_LANES
    if (k_weighting_calm(s) == 0) {
        k_weighting_leave_lanes(s);
    } else if (s->count == 0u && s->laned == 1u) {
        k_weighting_rest_lanes(s);
    } else {
        /* nothing is due in lanes */
    }
#endif
}

/* Of n samples those before the next tick; what is due before them is done. */
static int k_weighting_begin(k_weighting_state *s, const k_weighting_rate_entry *rate, int n)
{
    const uint32_t into = s->count % K_WEIGHTING_TICK;
    const int left = (int)(K_WEIGHTING_TICK - into);

    if (into == 0u) {
        k_weighting_tick(s, rate);
    }
    return n < left ? n : left;
}

/* ---- the interface -------------------------------------------------------------------- */

/* The rate that a state runs at; NULL where init did not leave it behind. */
static inline const k_weighting_rate_entry *k_weighting_rate_here(const k_weighting_state *s)
{
    return s->ready != K_WEIGHTING_READY || s->check != K_WEIGHTING_CHECK || s->rate < 0
            || s->rate >= K_WEIGHTING_RATES ? NULL : &k_weighting_rate_table[s->rate];
}

static K_WEIGHTING_NOINLINE const k_weighting_rate_entry *k_weighting_rate_of(const k_weighting_state *s)
{
    return k_weighting_rate_here(s);
}

/* 1 also for a channel that does not exist. */
static K_WEIGHTING_COLD int k_weighting_refuse_channel(const k_weighting_state *s, int channel)
{
    return channel < 0 || channel >= K_WEIGHTING_CHANNELS || k_weighting_rate_of(s) == NULL ? 1 : 0;
}

/* Asks a channel for a choice of one of its settings, or for silence. */
static K_WEIGHTING_COLD int k_weighting_ask(k_weighting_state *s, int channel, int what, unsigned int choice)
{
    static const unsigned char k_weighting_choices[K_WEIGHTING_MUTE + 1] = { 2u };

    if (choice >= k_weighting_choices[what] || k_weighting_refuse_channel(s, channel) != 0) {
        return 1;
    }
    s->asked[channel][what] = (unsigned char)choice;
    return 0;
}

/* What was asked for. */
static K_WEIGHTING_COLD int k_weighting_asked(const k_weighting_state *s, int channel, int what)
{
    return k_weighting_refuse_channel(s, channel) != 0 ? -1 : (int)s->asked[channel][what];
}

/* Silence in one channel. */
static K_WEIGHTING_COLD void k_weighting_silence(k_weighting_channel_state *ch)
{

    (void)memset(ch, 0, sizeof *ch);
    ch->fresh = 1u;
}

/* In all of them. */
static K_WEIGHTING_COLD void k_weighting_silence_all(k_weighting_state *s)
{
    int c;

    for (c = 0; c < K_WEIGHTING_CHANNELS; c++) {
        k_weighting_silence(&s->channel[c]);
    }
    s->count = 0u;
#ifdef K_WEIGHTING_LANES
    s->laned = 0u;
#endif
}

/* Starts at a rate; 1 where there is no such. */
static K_WEIGHTING_COLD int k_weighting_start(k_weighting_state *s, uint32_t rate_hz)
{
    int32_t i;

    for (i = 0; i < K_WEIGHTING_RATES; i++) {
        if (k_weighting_rate_table[i].rate_hz == rate_hz) {
            s->rate = i;
            k_weighting_silence_all(s);
            return 0;
        }
    }
    return 1;
}

int k_weighting_set_rate(k_weighting_state *s, uint32_t rate_hz)
{
    return k_weighting_rate_of(s) == NULL ? 1 : k_weighting_start(s, rate_hz);
}

int k_weighting_init(k_weighting_state *s, uint32_t rate_hz)
{
    (void)memset(s, 0, sizeof *s);
    if (k_weighting_start(s, rate_hz) != 0) {
        return 1;
    }
    s->ready = K_WEIGHTING_READY;
    s->check = K_WEIGHTING_CHECK;
    return 0;
}

void k_weighting_reset(k_weighting_state *s)
{
    if (k_weighting_rate_of(s) != NULL) {
        k_weighting_silence_all(s);
    }
}

int k_weighting_reset_channel(k_weighting_state *s, int channel)
{
    if (k_weighting_refuse_channel(s, channel) != 0) {
        return 1;
    }
#ifdef K_WEIGHTING_LANES
    k_weighting_leave_lanes(s);
#endif
    k_weighting_silence(&s->channel[channel]);
    return 0;
}

int k_weighting_mute(k_weighting_state *s, int channel, int on)
{
    return k_weighting_ask(s, channel, K_WEIGHTING_MUTE, on != 0 ? 1u : 0u);
}

int k_weighting_muted(const k_weighting_state *s, int channel)
{
    return k_weighting_asked(s, channel, K_WEIGHTING_MUTE);
}

int k_weighting_garbage(const k_weighting_state *s, int channel)
{
    return k_weighting_refuse_channel(s, channel) != 0 ? -1 : (int)s->channel[channel].dead;
}

/* n samples of all channels: in -> out, or from frames to frames. */
static K_WEIGHTING_BLOCKS int k_weighting_run_all(k_weighting_state *s, const float *const *in,
        float *const *out, k_weighting_frames *f, int n)
{
    const k_weighting_rate_entry *const rate = k_weighting_rate_of(s);
    int done = 0;

    if (n < 0 || rate == NULL) {
        return 1;
    }
    while (done < n) {
        const int chunk = k_weighting_begin(s, rate, n - done);
        int c;
#ifdef K_WEIGHTING_LANES
        const int together = k_weighting_run_calm(s, rate, in, out, f, done, chunk, n - done);

        if (together > 0) {
            s->count = (s->count + (uint32_t)together) % K_WEIGHTING_REST;
            done += together;
            continue;
        }
#endif
        for (c = 0; c < K_WEIGHTING_CHANNELS; c++) {
            k_weighting_channel_state *const ch = &s->channel[c];

            if (f != NULL) {
                (void)f->through(f, rate, ch, (done * K_WEIGHTING_CHANNELS) + c, chunk,
                    K_WEIGHTING_CHANNELS);
            } else {
                k_weighting_run_block(rate, ch, &in[c][done], &out[c * K_WEIGHTING_WAYS], done, chunk);
            }
        }
        s->count = (s->count + (uint32_t)chunk) % K_WEIGHTING_REST;
        done += chunk;
    }
    return 0;
}

#ifdef K_WEIGHTING_LANES
/* A single sample of all channels, or a frame where there are frames, in lanes where nothing is due
 * before it. What returns is 1, or 0: nothing has happened. */
static inline int k_weighting_run_alone(k_weighting_state *s, const float *const *in,
        float *const *out, const k_weighting_frames *f)
{
    const k_weighting_rate_entry *const rate = k_weighting_rate_here(s);
    k_weighting_lane_group *group;
    int good;

    if (rate == NULL || s->laned != 1u || s->count % K_WEIGHTING_TICK == 0u
            || s->lanes_at != k_weighting_lanes_begin(s)) {
        return 0;
    }
    group = k_weighting_lane_groups_at(s);
    good = f != NULL ? k_weighting_step_frame(rate, group, f, 0)
        : k_weighting_step_lanes(rate, group, in, out, 0);
    s->count = (s->count + (uint32_t)good) % K_WEIGHTING_REST;
    return good;
}
#endif

#ifndef K_WEIGHTING_NO_SINGLES
/* One sample of all channels: two that are calm and alike go through sections beside each other. */
static K_WEIGHTING_NOINLINE int k_weighting_run_one(k_weighting_state *s, const float *const *in,
        float *const *out)
{
    const k_weighting_rate_entry *const rate = k_weighting_rate_of(s);
    int c;

    if (rate == NULL) {
        return 1;
    }
    (void)k_weighting_begin(s, rate, 1);
#ifdef K_WEIGHTING_LANES
    if (k_weighting_run_calm(s, rate, in, out, NULL, 0, 1, 1) > 0) {
        s->count = (s->count + 1u) % K_WEIGHTING_REST;
        return 0;
    }
#endif
    s->count = (s->count + 1u) % K_WEIGHTING_REST;
    for (c = 0; c < K_WEIGHTING_CHANNELS; c += 2) {
        const int other = c + 1;
        k_weighting_channel_state *const ch = &s->channel[c];
        k_weighting_channel_state *const mate = &s->channel[other];
        const float x = *in[c];
        const float y = *in[other];

        if ((unsigned int)ch->calm + mate->calm > 2u /* alike, and both are calm still */
                && ((k_weighting_bits(x) | k_weighting_bits(y)) << 1) < K_WEIGHTING_GARBAGE) {
            k_weighting_step(rate, ch, mate, x, y, &out[c * K_WEIGHTING_WAYS], &out[other * K_WEIGHTING_WAYS]);
        } else {
            int k;

            for (k = c; k <= other; k++) {
                k_weighting_run_block(rate, &s->channel[k], in[k], &out[k * K_WEIGHTING_WAYS], 0, 1);
            }
        }
    }
    return 0;
}

#endif

int k_weighting_run(k_weighting_state *s, const float *const *in, float *const *out, int n)
{
#ifdef K_WEIGHTING_LANES
    if (n == 1 && k_weighting_run_alone(s, in, out, NULL) != 0) {
        return 0;
    }
#endif
#ifndef K_WEIGHTING_NO_SINGLES
    if (n == 1) {
        return k_weighting_run_one(s, in, out);
    }
#endif
    return k_weighting_run_all(s, in, out, NULL, n);
}

/* n samples so many apart, from number k on, of a channel, or without a channel one of each. */
static K_WEIGHTING_SMALL int k_weighting_through(k_weighting_frames *f, const k_weighting_rate_entry *rate,
        k_weighting_channel_state *ch, int k, int n, int apart)
{
    int at = k;
    int i;
    int w;

    for (i = 0; i < n; i++) {
        f->from[i] = f->wide != 0 ? k_weighting_from_int32(f->in32[at]) : f->in[at];
        at += apart;
    }
#ifndef K_WEIGHTING_NO_SINGLES
    if (ch == NULL) {
        if (k_weighting_run_one(f->s, f->ins, f->outs) != 0) {
            return 1;
        }
    } else
#endif
    {
        k_weighting_run_block(rate, ch, f->from, f->outs, 0, n);
    }
    at = k * K_WEIGHTING_WAYS;
    for (i = 0; i < n; i++) {
        for (w = 0; w < K_WEIGHTING_WAYS; w++) {
            if (f->wide != 0) {
                f->out32[at + w] = k_weighting_to_int32(f->to[w][i]);
            } else {
                f->out[at + w] = f->to[w][i];
            }
        }
        at += apart * K_WEIGHTING_WAYS;
    }
    return 0;
}

/* n frames. */
static K_WEIGHTING_SMALL int k_weighting_run_side_by_side(k_weighting_state *s, k_weighting_frames *f, int n)
{
    int beside = 1; /* channels in a row of to */
    int k = 0;
    int c;
    int w;

#ifdef K_WEIGHTING_LANES
    if (n == 1 && k_weighting_run_alone(s, NULL, NULL, f) != 0) {
        return 0;
    }
#endif
#ifndef K_WEIGHTING_NO_SINGLES
    f->s = s;
    if (n == 1) {
        beside = K_WEIGHTING_CHANNELS;
    }
#endif
    for (c = 0; c < beside; c++) {
        f->ins[c] = &f->from[c];
        for (w = 0; w < K_WEIGHTING_WAYS; w++) {
            f->outs[k] = &f->to[w][c];
            k++;
        }
    }
#ifndef K_WEIGHTING_NO_SINGLES
    if (n == 1) {
        return k_weighting_through(f, NULL, NULL, 0, K_WEIGHTING_CHANNELS, 1);
    }
#endif
    f->through = k_weighting_through;
    return k_weighting_run_all(s, NULL, NULL, f, n);
}

int k_weighting_run_frames(k_weighting_state *s, const float *in, float *out, int n)
{
    k_weighting_frames f;

    f.in = in;
    f.out = out;
    f.wide = 0;
    return k_weighting_run_side_by_side(s, &f, n);
}

int k_weighting_run_frames_int32(k_weighting_state *s, const int32_t *in, int32_t *out, int n)
{
    k_weighting_frames f;

    f.in32 = in;
    f.out32 = out;
    f.wide = 1;
    return k_weighting_run_side_by_side(s, &f, n);
}

#undef K_WEIGHTING_AS_WRITTEN
#if defined __GNUC__ && !defined __clang__
#pragma GCC pop_options
#endif
