/*
 * k_weighting_float64.c: the loudspeaker filters of "k_weighting", tables and code
 * Spec SHA-256 29e1ef5e82e76c1e77f1dd7279d7a5b11a20f993805dabaca2663d1272037fd4
 *
 * Compile this file with the program; k_weighting_float64.h tells all about it.
 *
 * MISRA C:2012, deviations from required and advisory rules:
 *   8.9         tables beside what they belong to
 *   10.3, 10.6, 10.8   int, int32_t and uint32_t meet where the values are small and known
 *   12.1        products in sums without parentheses: as the formulas are written
 *   12.2, 18.4  words of lists are shifted, and pointers step through lists and frames
 *   15.5        what is refused returns at once
 *   17.8        pointers and counts that a function steps through are its parameters
 *   2.4, 2.5    tags and macros that only some programs use
 *   20.5        #undef, so that nothing is left behind
 *   20.9, 21.15 names that a compiler defines or not; memcpy from a number to its bits
 */
#include "k_weighting_float64.h"

#include <float.h>
#include <string.h>

/* (FLT_RADIX stands in float.h. A program that looks through this file without it goes on.) */
#if defined FLT_RADIX && (FLT_RADIX != 2 || DBL_MANT_DIG != 53)
#error "k_weighting: double must be an IEEE 754 number of 64 bits here"
#endif
#if defined FLT_RADIX && (FLT_EVAL_METHOD != 0 && FLT_EVAL_METHOD != 1 && FLT_EVAL_METHOD != 16)
#error "k_weighting: double must be computed as double; on a 32-bit x86 use -msse2 -mfpmath=sse"
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

/* Loops stand in functions of their own; what runs rarely is compiled for size. */
#if defined __GNUC__
#define K_WEIGHTING_NOINLINE __attribute__((noinline))
#define K_WEIGHTING_COLD __attribute__((noinline, cold))
#else
#define K_WEIGHTING_NOINLINE
#define K_WEIGHTING_COLD
#endif

#define K_WEIGHTING_READY 0xcee21b99u /* of this spec in this format */
#define K_WEIGHTING_CHECK 0x7cc78d89u
#define K_WEIGHTING_TICK 32u /* samples between two looks at what is asked for */
#define K_WEIGHTING_REST 256u /* and between two looks for sections that have come to rest */
#define K_WEIGHTING_SIZE 0x7fffffffu /* what k_weighting_bits has of a sample's size */
#define K_WEIGHTING_GARBAGE 0x43f00000u /* size of what is no sample */

/* Words of a list, one a pass: the row of its first section, which those of the others follow,
 * their kind (1 direct, 2 delta, 3 delta without b1 and b2)
 * and how many they are; 0 is the end. */
#define K_WEIGHTING_ROW 0x7ffu
#define K_WEIGHTING_HEAD 11 /* bits below */

/* ---- tables --------------------------------------------------------------------------- */

typedef struct {
    double b0;
    double b1;
    double b2;
    double a1;
    double a2;
} k_weighting_section_words;

typedef struct {
    double gain; /* with the polarity as sign */
    int8_t list; /* where the list of what always runs begins */
    int8_t from; /* the memory of that */
} k_weighting_cascade_entry;

typedef struct {
    uint32_t rate_hz;
    const k_weighting_section_words *sections;
    const uint16_t *lists; /* of what always runs */
    int16_t fade; /* samples of a fade */
    double step; /* 1 / fade */
    k_weighting_cascade_entry cascade[1 + K_WEIGHTING_WAYS]; /* common, then the ways */
} k_weighting_rate_entry;

/* b0, b1, b2,
 *  a1, a2 of every section. Above each:
 * - rate, way and number;
 * - the line of the spec, and the frequency and Q that its poles ring at (those of a shelf lie
 *   beside the line's own). Lines of one way that are made together share their zeros: there it
 *   is the line whose poles these are, and the way where no line has them;
 * - form, and computed error in this format re the section's greatest gain. */
#ifdef K_WEIGHTING_ONLY_48000
static const k_weighting_section_words k_weighting_sections_48000[2] = {
    /* 48000 Hz, weighted 0: ways.weighted.filters[1] high-pass, poles at 38.14 Hz, Q 0.500; */
    /* direct, -238 dB */
    { 0.9950299263000474, -1.9900598526000948, 0.9950299263000474,
      -1.99004745483398, 0.99007225036621 },
    /* 48000 Hz, weighted 1: ways.weighted.filters[0] rational, poles at 1.689 kHz, Q 0.710; */
    /* direct, -294 dB */
    { 1.53512485958697, -2.6916961894063802, 1.19839281085285,
      -1.69065929318241, 0.73248077421585 }
};
static const uint16_t k_weighting_lists_48000[3] = {
    0u, 18432u, 0u
};
#endif

static const k_weighting_rate_entry k_weighting_rate_table[] = {
#ifdef K_WEIGHTING_ONLY_48000
    { 48000u, k_weighting_sections_48000, k_weighting_lists_48000, 480, 0.0020833333333333333, {
        { 0.5623413251903491, 0, 0 }, /* common */
        { 1.0049948987146884, 1, 0 } /* weighted */
    } },
#endif
};

#define K_WEIGHTING_RATES ((int32_t)(sizeof k_weighting_rate_table / sizeof k_weighting_rate_table[0]))

/* ---- filters -------------------------------------------------------------------------- */

/* The first bits of x: without the sign they grow with its size. */
static inline uint32_t k_weighting_bits(double x)
{
    uint64_t bits;

    (void)memcpy(&bits, &x, sizeof bits);
    return (uint32_t)(bits >> 32);
}

/* A sample of 32 bits, -2^31 to 2^31 - 1, re full scale. */
static inline double k_weighting_from_int32(int32_t x)
{
    return (double)x * (double)(1.0 / 2147483648.0);
}

/* The nearest sample of 32 bits, limited to what there is. */
static inline int32_t k_weighting_to_int32(double x)
{
    const double scaled = x * (double)2147483648.0;
    int32_t out = INT32_MIN;

    if (scaled >= (double)2147483647.0) {
        out = INT32_MAX;
    } else if (scaled > (double)-2147483648.0) {
        double rest;

        out = (int32_t)scaled;
        rest = scaled - (double)out;
        out += (int32_t)(rest + rest); /* 1 from a half on */
    } else {
        /* the least there is */
    }
    return out;
}

/* gain times n samples, and the sections of a list over them: from -> to, which may be the same.
 * Each pass takes samples through up to 2 sections of one form; between them everything is
 * in registers. A list without any is the gain alone. */
static K_WEIGHTING_NOINLINE void k_weighting_run_list(const k_weighting_section_words *table,
        const uint16_t *list, k_weighting_memory *m, double gain, const double *from, double *to, int n)
{
    K_WEIGHTING_AS_WRITTEN
    unsigned int head = (unsigned int)*list >> K_WEIGHTING_HEAD;
    int i;

    do {
        const k_weighting_section_words *const w = &table[*list & K_WEIGHTING_ROW];

        switch (head) {
        case 9u: { /* direct, 2 */
            const double b0_0 = w[0].b0;
            const double b1_0 = w[0].b1;
            const double b2_0 = w[0].b2;
            const double a1_0 = w[0].a1;
            const double a2_0 = w[0].a2;
            double p_0 = m[0].p;
            double q_0 = m[0].q;
            const double b0_1 = w[1].b0;
            const double b1_1 = w[1].b1;
            const double b2_1 = w[1].b2;
            const double a1_1 = w[1].a1;
            const double a2_1 = w[1].a2;
            double p_1 = m[1].p;
            double q_1 = m[1].q;

            for (i = 0; i < n; i++) {
                const double x = gain * from[i];
                const double y_0 = b0_0 * x + p_0;
                p_0 = (q_0 + b1_0 * x) - a1_0 * y_0;
                q_0 = b2_0 * x - a2_0 * y_0;
                const double y_1 = b0_1 * y_0 + p_1;
                p_1 = (q_1 + b1_1 * y_0) - a1_1 * y_1;
                q_1 = b2_1 * y_0 - a2_1 * y_1;
                to[i] = y_1;
            }
            m[0].p = p_0;
            m[0].q = q_0;
            m[1].p = p_1;
            m[1].q = q_1;
            break;
        }
        default:
            for (i = 0; i < n; i++) {
                to[i] = gain * from[i];
            }
            break;
        }
        from = to;
        gain = 1.0;
        m += head >> 2;
        if (head != 0u) {
            list++;
            head = (unsigned int)*list >> K_WEIGHTING_HEAD;
        }
    } while (head != 0u);
}

/* n samples of a fade, from its sample from on: from
 * silence to io; way is 1, or -1 to go back. */
static K_WEIGHTING_COLD void k_weighting_fade(double *io, double step,
        int32_t from, int32_t way, int n)
{
    K_WEIGHTING_AS_WRITTEN
    int i;

    for (i = 0; i < n; i++) {
        const double at = (double)(from + (way * i));
        const double u = at * step;
        const double w = ((u * u) * u) * (u * (6.0 * u - 15.0) + 10.0);
        io[i] = w * io[i];
    }
}

/* Gain and sections of cascade c over n samples, from -> io. */
static K_WEIGHTING_NOINLINE void k_weighting_run_cascade(const k_weighting_rate_entry *rate, k_weighting_channel_state *ch,
        int c, const double *from, double *io, int n)
{
    const k_weighting_section_words *table = rate->sections;
    const k_weighting_cascade_entry *cascade = &rate->cascade[c];

    k_weighting_run_list(table, &rate->lists[cascade->list], &ch->now[cascade->from], cascade->gain,
        from, io, n);
}

/* The common part over n samples of one channel: in[i] -> now[i].
 * What returns are the samples before garbage. */
static int k_weighting_run_common(const k_weighting_rate_entry *rate, k_weighting_channel_state *ch,
        const double *in, double *now, int n)
{
    K_WEIGHTING_AS_WRITTEN
    uint32_t sizes = 0u;
    int good = n;
    int i;

    if (ch->fresh != 0u || ch->dead != 0u) {
        good = 0;
    }
    for (i = 0; i < good; i++) {
        sizes |= k_weighting_bits(in[i]);
    }
    if ((sizes & K_WEIGHTING_SIZE) >= K_WEIGHTING_GARBAGE) { /* perhaps */
        for (i = 0; i < good; i++) {
            if ((k_weighting_bits(in[i]) & K_WEIGHTING_SIZE) >= K_WEIGHTING_GARBAGE) {
                good = i;
                ch->dead = 1u;
                ch->calm = 0u;
            }
        }
    }
    k_weighting_run_cascade(rate, ch, 0, in, now, good);
    return good;
}

/* The ways over n samples of one channel: good samples of now -> out[way][at + i], then silence. */
static void k_weighting_run_ways(const k_weighting_rate_entry *rate, k_weighting_channel_state *ch,
        const double *now, int good, double *const *out, int at, int n)
{
    int c;
    int i;

    for (c = 1; c <= K_WEIGHTING_WAYS; c++) {
        double *io = &out[c - 1][at];
        int heard = good;
        k_weighting_run_cascade(rate, ch, c, now, io, good);
        if (ch->step != 0) {
            k_weighting_fade(io, rate->step, ch->open, ch->step, good);
        } else if (ch->open == 0) {
            heard = 0;
        } else {
            /* fully open */
        }
        for (i = heard; i < n; i++) {
            io[i] = 0.0;
        }
    }
    ch->open = (int16_t)(ch->open + (ch->step * n));
}

/* One sample of a channel that is calm, section by section: sample -> out[way][at]. */
static K_WEIGHTING_NOINLINE void k_weighting_step_channel(const k_weighting_rate_entry *rate, k_weighting_channel_state *ch,
        double sample, double *const *out, int at)
{
    K_WEIGHTING_AS_WRITTEN
    const k_weighting_cascade_entry *cascade = &rate->cascade[0];
    double now = sample;
    int c;

    for (c = 0; c <= K_WEIGHTING_WAYS; c++) {
        const double gain = cascade->gain;
        const uint16_t *list = &rate->lists[cascade->list];
        k_weighting_memory *m = &ch->now[cascade->from];
        double x = now;
        x = gain * x;
        {
            unsigned int word = *list;

            while (word != 0u) {
                const k_weighting_section_words *w = &rate->sections[word & K_WEIGHTING_ROW];
                unsigned int left = word >> 13;
                { /* direct */
                    do {
                        const double b0 = w->b0;
                        const double b1 = w->b1;
                        const double b2 = w->b2;
                        const double a1 = w->a1;
                        const double a2 = w->a2;
                        double p = m->p;
                        double q = m->q;

                        const double y = b0 * x + p;
                        p = (q + b1 * x) - a1 * y;
                        q = b2 * x - a2 * y;
                        x = y;
                        m->p = p;
                        m->q = q;
                        w++;
                        m++;
                        left--;
                    } while (left != 0u);
                }
                list++;
                word = *list;
            }
        }
        if (c == 0) {
            now = x;
        } else {
            out[c - 1][at] = x;
        }
        cascade++;
    }
}

/* n samples of one channel, none beyond a tick: in[i] -> out[way][at + i]. */
static K_WEIGHTING_NOINLINE void k_weighting_run_block(const k_weighting_rate_entry *rate, k_weighting_channel_state *ch,
        const double *in, double *const *out, int at, int n)
{
    double now[K_WEIGHTING_TICK];
    int good;

    good = k_weighting_run_common(rate, ch, in, now, n);
    k_weighting_run_ways(rate, ch, now, good, out, at, n);
}

/* The same; one sample goes section by section. */
static void k_weighting_step_or_block(const k_weighting_rate_entry *rate, k_weighting_channel_state *ch,
        const double *in, double *const *out, int at, int n)
{
    if (n == 1 && ch->calm != 0u && (k_weighting_bits(in[0]) & K_WEIGHTING_SIZE) < K_WEIGHTING_GARBAGE) {
        k_weighting_step_channel(rate, ch, in[0], out, at);
    } else {
        k_weighting_run_block(rate, ch, in, out, at, n);
    }
}

/* ---- lanes ---------------------------------------------------------------------------- */

/* Where the compiler has vectors, the ways of all channels go through their sections side by side;
 * those that have no more go through sections that change nothing, to the bit. The same operations
 * in the same order give the same bits. K_WEIGHTING_NO_LANES leaves this out. */
#if defined __GNUC__ && (defined __SSE2__ || defined __aarch64__) && !defined K_WEIGHTING_NO_LANES
#define K_WEIGHTING_LANES 4 /* in a vector */
#define K_WEIGHTING_SHORT 16 /* the fewest samples at once */
#define K_WEIGHTING_LONG 64 /* the most samples at once */
#if defined __AVX__
#define K_WEIGHTING_SAVING 2 /* sections that one of all lanes has to stand for */
#else
#define K_WEIGHTING_SAVING 4
#endif

typedef double k_weighting_lanes __attribute__((vector_size(32)));
typedef int64_t k_weighting_marks __attribute__((vector_size(32)));

/* Vectors, and each lane of them. */
typedef union {
    k_weighting_lanes all;
    double one[K_WEIGHTING_LANES];
} k_weighting_lane_words;

typedef union {
    k_weighting_marks all;
    int64_t one[K_WEIGHTING_LANES];
} k_weighting_lane_marks;

/* Section k of every lane. */
typedef struct {
    k_weighting_lane_words b0;
    k_weighting_lane_words b1;
    k_weighting_lane_words b2;
    k_weighting_lane_words a1;
    k_weighting_lane_words a2;
    k_weighting_lane_words p;
    k_weighting_lane_words q;
    k_weighting_lane_marks keep; /* all ones in a lane in the delta form, otherwise 0 */
    k_weighting_lane_marks none; /* -0.0 in a lane that has no such section, otherwise 0 */
} k_weighting_lane_section;

/* A section of one lane. */
typedef struct {
    const k_weighting_section_words *words;
    k_weighting_memory *memory;
    int64_t keep; /* as in a section of every lane */
} k_weighting_lane_entry;

static K_WEIGHTING_NOINLINE void k_weighting_lanes_direct_3(k_weighting_lane_section *s, k_weighting_lane_words *io, int n)
{
    K_WEIGHTING_AS_WRITTEN
    const k_weighting_lanes b0_0 = s[0].b0.all;
    const k_weighting_lanes b1_0 = s[0].b1.all;
    const k_weighting_lanes b2_0 = s[0].b2.all;
    const k_weighting_lanes a1_0 = s[0].a1.all;
    const k_weighting_lanes a2_0 = s[0].a2.all;
    k_weighting_lanes p_0 = s[0].p.all;
    k_weighting_lanes q_0 = s[0].q.all;
    const k_weighting_lanes b0_1 = s[1].b0.all;
    const k_weighting_lanes b1_1 = s[1].b1.all;
    const k_weighting_lanes b2_1 = s[1].b2.all;
    const k_weighting_lanes a1_1 = s[1].a1.all;
    const k_weighting_lanes a2_1 = s[1].a2.all;
    k_weighting_lanes p_1 = s[1].p.all;
    k_weighting_lanes q_1 = s[1].q.all;
    const k_weighting_lanes b0_2 = s[2].b0.all;
    const k_weighting_lanes b1_2 = s[2].b1.all;
    const k_weighting_lanes b2_2 = s[2].b2.all;
    const k_weighting_lanes a1_2 = s[2].a1.all;
    const k_weighting_lanes a2_2 = s[2].a2.all;
    k_weighting_lanes p_2 = s[2].p.all;
    k_weighting_lanes q_2 = s[2].q.all;
    int i;

    for (i = 0; i < n; i++) {
        const k_weighting_lanes x = io[i].all;
        const k_weighting_lanes y_0 = b0_0 * x + p_0;
        p_0 = (q_0 + b1_0 * x) - a1_0 * y_0;
        q_0 = b2_0 * x - a2_0 * y_0;
        const k_weighting_lanes y_1 = b0_1 * y_0 + p_1;
        p_1 = (q_1 + b1_1 * y_0) - a1_1 * y_1;
        q_1 = b2_1 * y_0 - a2_1 * y_1;
        const k_weighting_lanes y_2 = b0_2 * y_1 + p_2;
        p_2 = (q_2 + b1_2 * y_1) - a1_2 * y_2;
        q_2 = b2_2 * y_1 - a2_2 * y_2;
        io[i].all = y_2;
    }
    s[0].p.all = p_0;
    s[0].q.all = q_0;
    s[1].p.all = p_1;
    s[1].q.all = q_1;
    s[2].p.all = p_2;
    s[2].q.all = q_2;
}

static K_WEIGHTING_NOINLINE void k_weighting_lanes_direct_5(k_weighting_lane_section *s, k_weighting_lane_words *io, int n)
{
    K_WEIGHTING_AS_WRITTEN
    const k_weighting_lanes b0_0 = s[0].b0.all;
    const k_weighting_lanes b1_0 = s[0].b1.all;
    const k_weighting_lanes b2_0 = s[0].b2.all;
    const k_weighting_lanes a1_0 = s[0].a1.all;
    const k_weighting_lanes a2_0 = s[0].a2.all;
    k_weighting_lanes p_0 = s[0].p.all;
    k_weighting_lanes q_0 = s[0].q.all;
    const k_weighting_lanes b0_1 = s[1].b0.all;
    const k_weighting_lanes b1_1 = s[1].b1.all;
    const k_weighting_lanes b2_1 = s[1].b2.all;
    const k_weighting_lanes a1_1 = s[1].a1.all;
    const k_weighting_lanes a2_1 = s[1].a2.all;
    k_weighting_lanes p_1 = s[1].p.all;
    k_weighting_lanes q_1 = s[1].q.all;
    const k_weighting_lanes b0_2 = s[2].b0.all;
    const k_weighting_lanes b1_2 = s[2].b1.all;
    const k_weighting_lanes b2_2 = s[2].b2.all;
    const k_weighting_lanes a1_2 = s[2].a1.all;
    const k_weighting_lanes a2_2 = s[2].a2.all;
    k_weighting_lanes p_2 = s[2].p.all;
    k_weighting_lanes q_2 = s[2].q.all;
    const k_weighting_lanes b0_3 = s[3].b0.all;
    const k_weighting_lanes b1_3 = s[3].b1.all;
    const k_weighting_lanes b2_3 = s[3].b2.all;
    const k_weighting_lanes a1_3 = s[3].a1.all;
    const k_weighting_lanes a2_3 = s[3].a2.all;
    k_weighting_lanes p_3 = s[3].p.all;
    k_weighting_lanes q_3 = s[3].q.all;
    const k_weighting_lanes b0_4 = s[4].b0.all;
    const k_weighting_lanes b1_4 = s[4].b1.all;
    const k_weighting_lanes b2_4 = s[4].b2.all;
    const k_weighting_lanes a1_4 = s[4].a1.all;
    const k_weighting_lanes a2_4 = s[4].a2.all;
    k_weighting_lanes p_4 = s[4].p.all;
    k_weighting_lanes q_4 = s[4].q.all;
    int i;

    for (i = 0; i < n; i++) {
        const k_weighting_lanes x = io[i].all;
        const k_weighting_lanes y_0 = b0_0 * x + p_0;
        p_0 = (q_0 + b1_0 * x) - a1_0 * y_0;
        q_0 = b2_0 * x - a2_0 * y_0;
        const k_weighting_lanes y_1 = b0_1 * y_0 + p_1;
        p_1 = (q_1 + b1_1 * y_0) - a1_1 * y_1;
        q_1 = b2_1 * y_0 - a2_1 * y_1;
        const k_weighting_lanes y_2 = b0_2 * y_1 + p_2;
        p_2 = (q_2 + b1_2 * y_1) - a1_2 * y_2;
        q_2 = b2_2 * y_1 - a2_2 * y_2;
        const k_weighting_lanes y_3 = b0_3 * y_2 + p_3;
        p_3 = (q_3 + b1_3 * y_2) - a1_3 * y_3;
        q_3 = b2_3 * y_2 - a2_3 * y_3;
        const k_weighting_lanes y_4 = b0_4 * y_3 + p_4;
        p_4 = (q_4 + b1_4 * y_3) - a1_4 * y_4;
        q_4 = b2_4 * y_3 - a2_4 * y_4;
        io[i].all = y_4;
    }
    s[0].p.all = p_0;
    s[0].q.all = q_0;
    s[1].p.all = p_1;
    s[1].q.all = q_1;
    s[2].p.all = p_2;
    s[2].q.all = q_2;
    s[3].p.all = p_3;
    s[3].q.all = q_3;
    s[4].p.all = p_4;
    s[4].q.all = q_4;
}

static K_WEIGHTING_NOINLINE void k_weighting_lanes_mixed_3(k_weighting_lane_section *s, k_weighting_lane_words *io, int n)
{
    K_WEIGHTING_AS_WRITTEN
    const int64_t bit = INT64_MIN;
    const k_weighting_marks sign = { bit, bit, bit, bit };
    const k_weighting_lanes b0_0 = s[0].b0.all;
    const k_weighting_lanes b1_0 = s[0].b1.all;
    const k_weighting_lanes b2_0 = s[0].b2.all;
    const k_weighting_lanes a1_0 = s[0].a1.all;
    const k_weighting_lanes a2_0 = s[0].a2.all;
    k_weighting_lanes p_0 = s[0].p.all;
    k_weighting_lanes q_0 = s[0].q.all;
    const k_weighting_marks keep_0 = s[0].keep.all;
    const k_weighting_marks zero_0 = ~keep_0 & sign; /* -0.0: what adds nothing, to the bit */
    const k_weighting_marks none_0 = s[0].none.all;
    const k_weighting_lanes b0_1 = s[1].b0.all;
    const k_weighting_lanes b1_1 = s[1].b1.all;
    const k_weighting_lanes b2_1 = s[1].b2.all;
    const k_weighting_lanes a1_1 = s[1].a1.all;
    const k_weighting_lanes a2_1 = s[1].a2.all;
    k_weighting_lanes p_1 = s[1].p.all;
    k_weighting_lanes q_1 = s[1].q.all;
    const k_weighting_marks keep_1 = s[1].keep.all;
    const k_weighting_marks zero_1 = ~keep_1 & sign; /* -0.0: what adds nothing, to the bit */
    const k_weighting_marks none_1 = s[1].none.all;
    const k_weighting_lanes b0_2 = s[2].b0.all;
    const k_weighting_lanes b1_2 = s[2].b1.all;
    const k_weighting_lanes b2_2 = s[2].b2.all;
    const k_weighting_lanes a1_2 = s[2].a1.all;
    const k_weighting_lanes a2_2 = s[2].a2.all;
    k_weighting_lanes p_2 = s[2].p.all;
    k_weighting_lanes q_2 = s[2].q.all;
    const k_weighting_marks keep_2 = s[2].keep.all;
    const k_weighting_marks zero_2 = ~keep_2 & sign; /* -0.0: what adds nothing, to the bit */
    const k_weighting_marks none_2 = s[2].none.all;
    int i;

    for (i = 0; i < n; i++) {
        const k_weighting_lanes x = io[i].all;
        const k_weighting_lanes y_0 = b0_0 * x + p_0;
        p_0 = (k_weighting_lanes)(((k_weighting_marks)p_0 & keep_0) | zero_0) + ((q_0 + b1_0 *
            x) - a1_0 * y_0);
        p_0 = (k_weighting_lanes)((k_weighting_marks)p_0 | none_0);
        q_0 = ((k_weighting_lanes)(((k_weighting_marks)q_0 & keep_0) | zero_0) + b2_0 * x) -
            a2_0 * y_0;
        const k_weighting_lanes y_1 = b0_1 * y_0 + p_1;
        p_1 = (k_weighting_lanes)(((k_weighting_marks)p_1 & keep_1) | zero_1) + ((q_1 + b1_1 *
            y_0) - a1_1 * y_1);
        p_1 = (k_weighting_lanes)((k_weighting_marks)p_1 | none_1);
        q_1 = ((k_weighting_lanes)(((k_weighting_marks)q_1 & keep_1) | zero_1) + b2_1 * y_0) -
            a2_1 * y_1;
        const k_weighting_lanes y_2 = b0_2 * y_1 + p_2;
        p_2 = (k_weighting_lanes)(((k_weighting_marks)p_2 & keep_2) | zero_2) + ((q_2 + b1_2 *
            y_1) - a1_2 * y_2);
        p_2 = (k_weighting_lanes)((k_weighting_marks)p_2 | none_2);
        q_2 = ((k_weighting_lanes)(((k_weighting_marks)q_2 & keep_2) | zero_2) + b2_2 * y_1) -
            a2_2 * y_2;
        io[i].all = y_2;
    }
    s[0].p.all = p_0;
    s[0].q.all = q_0;
    s[1].p.all = p_1;
    s[1].q.all = q_1;
    s[2].p.all = p_2;
    s[2].q.all = q_2;
}

static K_WEIGHTING_NOINLINE void k_weighting_lanes_mixed_5(k_weighting_lane_section *s, k_weighting_lane_words *io, int n)
{
    K_WEIGHTING_AS_WRITTEN
    const int64_t bit = INT64_MIN;
    const k_weighting_marks sign = { bit, bit, bit, bit };
    const k_weighting_lanes b0_0 = s[0].b0.all;
    const k_weighting_lanes b1_0 = s[0].b1.all;
    const k_weighting_lanes b2_0 = s[0].b2.all;
    const k_weighting_lanes a1_0 = s[0].a1.all;
    const k_weighting_lanes a2_0 = s[0].a2.all;
    k_weighting_lanes p_0 = s[0].p.all;
    k_weighting_lanes q_0 = s[0].q.all;
    const k_weighting_marks keep_0 = s[0].keep.all;
    const k_weighting_marks zero_0 = ~keep_0 & sign; /* -0.0: what adds nothing, to the bit */
    const k_weighting_marks none_0 = s[0].none.all;
    const k_weighting_lanes b0_1 = s[1].b0.all;
    const k_weighting_lanes b1_1 = s[1].b1.all;
    const k_weighting_lanes b2_1 = s[1].b2.all;
    const k_weighting_lanes a1_1 = s[1].a1.all;
    const k_weighting_lanes a2_1 = s[1].a2.all;
    k_weighting_lanes p_1 = s[1].p.all;
    k_weighting_lanes q_1 = s[1].q.all;
    const k_weighting_marks keep_1 = s[1].keep.all;
    const k_weighting_marks zero_1 = ~keep_1 & sign; /* -0.0: what adds nothing, to the bit */
    const k_weighting_marks none_1 = s[1].none.all;
    const k_weighting_lanes b0_2 = s[2].b0.all;
    const k_weighting_lanes b1_2 = s[2].b1.all;
    const k_weighting_lanes b2_2 = s[2].b2.all;
    const k_weighting_lanes a1_2 = s[2].a1.all;
    const k_weighting_lanes a2_2 = s[2].a2.all;
    k_weighting_lanes p_2 = s[2].p.all;
    k_weighting_lanes q_2 = s[2].q.all;
    const k_weighting_marks keep_2 = s[2].keep.all;
    const k_weighting_marks zero_2 = ~keep_2 & sign; /* -0.0: what adds nothing, to the bit */
    const k_weighting_marks none_2 = s[2].none.all;
    const k_weighting_lanes b0_3 = s[3].b0.all;
    const k_weighting_lanes b1_3 = s[3].b1.all;
    const k_weighting_lanes b2_3 = s[3].b2.all;
    const k_weighting_lanes a1_3 = s[3].a1.all;
    const k_weighting_lanes a2_3 = s[3].a2.all;
    k_weighting_lanes p_3 = s[3].p.all;
    k_weighting_lanes q_3 = s[3].q.all;
    const k_weighting_marks keep_3 = s[3].keep.all;
    const k_weighting_marks zero_3 = ~keep_3 & sign; /* -0.0: what adds nothing, to the bit */
    const k_weighting_marks none_3 = s[3].none.all;
    const k_weighting_lanes b0_4 = s[4].b0.all;
    const k_weighting_lanes b1_4 = s[4].b1.all;
    const k_weighting_lanes b2_4 = s[4].b2.all;
    const k_weighting_lanes a1_4 = s[4].a1.all;
    const k_weighting_lanes a2_4 = s[4].a2.all;
    k_weighting_lanes p_4 = s[4].p.all;
    k_weighting_lanes q_4 = s[4].q.all;
    const k_weighting_marks keep_4 = s[4].keep.all;
    const k_weighting_marks zero_4 = ~keep_4 & sign; /* -0.0: what adds nothing, to the bit */
    const k_weighting_marks none_4 = s[4].none.all;
    int i;

    for (i = 0; i < n; i++) {
        const k_weighting_lanes x = io[i].all;
        const k_weighting_lanes y_0 = b0_0 * x + p_0;
        p_0 = (k_weighting_lanes)(((k_weighting_marks)p_0 & keep_0) | zero_0) + ((q_0 + b1_0 *
            x) - a1_0 * y_0);
        p_0 = (k_weighting_lanes)((k_weighting_marks)p_0 | none_0);
        q_0 = ((k_weighting_lanes)(((k_weighting_marks)q_0 & keep_0) | zero_0) + b2_0 * x) -
            a2_0 * y_0;
        const k_weighting_lanes y_1 = b0_1 * y_0 + p_1;
        p_1 = (k_weighting_lanes)(((k_weighting_marks)p_1 & keep_1) | zero_1) + ((q_1 + b1_1 *
            y_0) - a1_1 * y_1);
        p_1 = (k_weighting_lanes)((k_weighting_marks)p_1 | none_1);
        q_1 = ((k_weighting_lanes)(((k_weighting_marks)q_1 & keep_1) | zero_1) + b2_1 * y_0) -
            a2_1 * y_1;
        const k_weighting_lanes y_2 = b0_2 * y_1 + p_2;
        p_2 = (k_weighting_lanes)(((k_weighting_marks)p_2 & keep_2) | zero_2) + ((q_2 + b1_2 *
            y_1) - a1_2 * y_2);
        p_2 = (k_weighting_lanes)((k_weighting_marks)p_2 | none_2);
        q_2 = ((k_weighting_lanes)(((k_weighting_marks)q_2 & keep_2) | zero_2) + b2_2 * y_1) -
            a2_2 * y_2;
        const k_weighting_lanes y_3 = b0_3 * y_2 + p_3;
        p_3 = (k_weighting_lanes)(((k_weighting_marks)p_3 & keep_3) | zero_3) + ((q_3 + b1_3 *
            y_2) - a1_3 * y_3);
        p_3 = (k_weighting_lanes)((k_weighting_marks)p_3 | none_3);
        q_3 = ((k_weighting_lanes)(((k_weighting_marks)q_3 & keep_3) | zero_3) + b2_3 * y_2) -
            a2_3 * y_3;
        const k_weighting_lanes y_4 = b0_4 * y_3 + p_4;
        p_4 = (k_weighting_lanes)(((k_weighting_marks)p_4 & keep_4) | zero_4) + ((q_4 + b1_4 *
            y_3) - a1_4 * y_4);
        p_4 = (k_weighting_lanes)((k_weighting_marks)p_4 | none_4);
        q_4 = ((k_weighting_lanes)(((k_weighting_marks)q_4 & keep_4) | zero_4) + b2_4 * y_3) -
            a2_4 * y_4;
        io[i].all = y_4;
    }
    s[0].p.all = p_0;
    s[0].q.all = q_0;
    s[1].p.all = p_1;
    s[1].q.all = q_1;
    s[2].p.all = p_2;
    s[2].q.all = q_2;
    s[3].p.all = p_3;
    s[3].q.all = q_3;
    s[4].p.all = p_4;
    s[4].q.all = q_4;
}

/* Sections of all lanes, 5 or 3: in a form of their own where all are in the same (1: some
 * are direct; 2: in the delta form). */
static void k_weighting_lane_pass(k_weighting_lane_section *s, int sections, unsigned int forms,
        k_weighting_lane_words *io, int n)
{
    if (forms == 1u) {
        if (sections == 5) {
            k_weighting_lanes_direct_5(s, io, n);
        } else {
            k_weighting_lanes_direct_3(s, io, n);
        }
    } else {
        if (sections == 5) {
            k_weighting_lanes_mixed_5(s, io, n);
        } else {
            k_weighting_lanes_mixed_3(s, io, n);
        }
    }
}

/* The sections of a list, one by one. */
static int k_weighting_unfold(const k_weighting_section_words *table, const uint16_t *list,
        k_weighting_memory *m, k_weighting_lane_entry *entry)
{
    unsigned int head = (unsigned int)*list >> K_WEIGHTING_HEAD;
    int k = 0;

    while (head != 0u) {
        const unsigned int count = head >> 2;
        unsigned int j;

        for (j = 0u; j < count; j++) {
            entry[k].words = &table[(*list & K_WEIGHTING_ROW) + j];
            entry[k].memory = &m[j];
            entry[k].keep = (head & 3u) == 1u ? 0 : -1;
            k++;
        }
        list++;
        m += count;
        head = (unsigned int)*list >> K_WEIGHTING_HEAD;
    }
    return k;
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

/* How many sections a list has. */
static int k_weighting_length(const uint16_t *list)
{
    unsigned int head = (unsigned int)*list >> K_WEIGHTING_HEAD;
    int k = 0;

    while (head != 0u) {
        k += (int)(head >> 2);
        list++;
        head = (unsigned int)*list >> K_WEIGHTING_HEAD;
    }
    return k;
}

/* 1 where the ways have so many sections that lanes are faster. */
static int k_weighting_even(const k_weighting_state *s)
{
    const k_weighting_rate_entry *rate = &k_weighting_rate_table[s->rate];
    const int groups = (K_WEIGHTING_CHANNELS * K_WEIGHTING_WAYS + K_WEIGHTING_LANES - 1) / K_WEIGHTING_LANES;
    int most = 0;
    int sum = 0;
    int c;
    int w;

    for (c = 0; c < K_WEIGHTING_CHANNELS; c++) {
        for (w = 1; w <= K_WEIGHTING_WAYS; w++) {
            const k_weighting_cascade_entry *cascade = &rate->cascade[w];
            const int count = k_weighting_length(&rate->lists[cascade->list]);

            most = count > most ? count : most;
            sum += count;
        }
    }
    return sum > K_WEIGHTING_SAVING * most * groups ? 1 : 0;
}

/* What goes into lanes from on: x[i] of the channels' common parts. */
static void k_weighting_lane_inputs(const k_weighting_rate_entry *rate, int from,
        double (*common)[K_WEIGHTING_LONG], k_weighting_lane_words *x, int n)
{
    K_WEIGHTING_AS_WRITTEN
    const int last = from + K_WEIGHTING_LANES < K_WEIGHTING_CHANNELS * K_WEIGHTING_WAYS
        ? (from + K_WEIGHTING_LANES - 1) / K_WEIGHTING_WAYS : K_WEIGHTING_CHANNELS - 1;
    k_weighting_lane_words gains;
    int c;
    int l;
    int i;

    for (l = 0; l < K_WEIGHTING_LANES; l++) {
        gains.one[l] = rate->cascade[1 + ((from + l) % K_WEIGHTING_WAYS)].gain;
    }
    for (c = from / K_WEIGHTING_WAYS; c <= last; c++) {
        const k_weighting_lanes gain = gains.all;
        k_weighting_lane_marks own; /* all ones in this channel's lanes */

        for (l = 0; l < K_WEIGHTING_LANES; l++) {
            own.one[l] = (from + l) / K_WEIGHTING_WAYS == c ? -1 : 0;
        }
        for (i = 0; i < n; i++) {
            const double now = common[c][i];
            const k_weighting_lanes all = { now, now, now, now };
            const k_weighting_lanes scaled = gain * all;
            k_weighting_marks bits = (k_weighting_marks)scaled & own.all;

            if (c > from / K_WEIGHTING_WAYS) {
                bits |= (k_weighting_marks)x[i].all;
            }
            x[i].all = (k_weighting_lanes)bits;
        }
    }
}

/* What lanes from on run, and how many sections each has; what is not used does as the first. */
static int k_weighting_lane_entries(k_weighting_state *s, int from, int used,
        k_weighting_lane_entry (*entry)[K_WEIGHTING_POSITIONS], int *count)
{
    const k_weighting_rate_entry *rate = &k_weighting_rate_table[s->rate];
    int most = 0;
    int l;

    for (l = 0; l < K_WEIGHTING_LANES; l++) {
        const int lane = l < used ? from + l : from;
        const int way = 1 + lane % K_WEIGHTING_WAYS;
        const k_weighting_cascade_entry *cascade = &rate->cascade[way];
        k_weighting_channel_state *ch = &s->channel[lane / K_WEIGHTING_WAYS];

        count[l] = k_weighting_unfold(rate->sections, &rate->lists[cascade->list],
            &ch->now[cascade->from], entry[l]);
        most = count[l] > most ? count[l] : most;
    }
    return most;
}

/* The ways of lanes from on: in common[channel] -> out. */
static void k_weighting_run_lanes(k_weighting_state *s, int from, double (*common)[K_WEIGHTING_LONG],
        double *const *out, int at, int n)
{
    static const k_weighting_section_words straight = { 1.0, 0.0, 0.0, 0.0, 0.0 };
    k_weighting_memory nothing = { -0.0, -0.0 };
    const k_weighting_lane_entry none = { &straight, &nothing, 0 };
    const k_weighting_rate_entry *rate = &k_weighting_rate_table[s->rate];
    const int all = K_WEIGHTING_CHANNELS * K_WEIGHTING_WAYS - from;
    const int used = all < K_WEIGHTING_LANES ? all : K_WEIGHTING_LANES;
    k_weighting_lane_entry entry[K_WEIGHTING_LANES][K_WEIGHTING_POSITIONS];
    k_weighting_lane_section section[5];
    k_weighting_lane_words x[K_WEIGHTING_LONG];
    int count[K_WEIGHTING_LANES];
    const int most = k_weighting_lane_entries(s, from, used, entry, count);
    int sections;
    int k;
    int l;
    int i;

    k_weighting_lane_inputs(rate, from, common, x, n);
    for (k = 0; k < most; k += sections) {
        unsigned int forms = 0u;
        int j;

        sections = most - k > 3 && most - k != 6 ? 5 : 3;
        for (j = 0; j < sections; j++) {
            k_weighting_lane_section *const v = &section[j];

            for (l = 0; l < K_WEIGHTING_LANES; l++) {
                const k_weighting_lane_entry *const e = k + j < count[l] ? &entry[l][k + j] : &none;

                v->b0.one[l] = e->words->b0;
                v->b1.one[l] = e->words->b1;
                v->b2.one[l] = e->words->b2;
                v->a1.one[l] = e->words->a1;
                v->a2.one[l] = e->words->a2;
                v->p.one[l] = e->memory->p;
                v->q.one[l] = e->memory->q;
                v->keep.one[l] = e->keep;
                v->none.one[l] = e == &none ? INT64_MIN : 0;
                forms |= e == &none ? 3u : e->keep == 0 ? 1u : 2u;
            }
        }
        k_weighting_lane_pass(section, sections, forms, x, n);
        for (l = 0; l < used; l++) {
            for (j = 0; j < sections && k + j < count[l]; j++) {
                entry[l][k + j].memory->p = section[j].p.one[l];
                entry[l][k + j].memory->q = section[j].q.one[l];
            }
        }
    }
    for (l = 0; l < used; l++) {
        double *io = &out[from + l][at];

        for (i = 0; i < n - 3; i += 4) {
            io[i] = x[i].one[l];
            io[i + 1] = x[i + 1].one[l];
            io[i + 2] = x[i + 2].one[l];
            io[i + 3] = x[i + 3].one[l];
        }
        for (; i < n; i++) {
            io[i] = x[i].one[l];
        }
    }
}

/* n samples of all channels, none of which fades or is silent. */
static void k_weighting_run_calm(k_weighting_state *s, const double *const *in,
        double *const *out, int at, int n)
{
    const k_weighting_rate_entry *rate = &k_weighting_rate_table[s->rate];
    double common[K_WEIGHTING_CHANNELS][K_WEIGHTING_LONG];
    int good[K_WEIGHTING_CHANNELS];
    int least = n;
    int c;

    for (c = 0; c < K_WEIGHTING_CHANNELS; c++) {
        good[c] = k_weighting_run_common(rate, &s->channel[c], &in[c][at], common[c], n);
        least = good[c] < least ? good[c] : least;
    }
    if (least < n) { /* garbage */
        for (c = 0; c < K_WEIGHTING_CHANNELS; c++) {
            k_weighting_run_ways(rate, &s->channel[c], common[c], good[c],
                &out[c * K_WEIGHTING_WAYS], at, n);
        }
        return;
    }
    for (c = 0; c < K_WEIGHTING_CHANNELS * K_WEIGHTING_WAYS; c += K_WEIGHTING_LANES) {
        k_weighting_run_lanes(s, c, common, out, at, n);
    }
}
#endif

/* ---- what happens at ticks ------------------------------------------------------------ */

/* Sections in which next to nothing is left come to rest, everywhere at the same sample. */
static K_WEIGHTING_COLD void k_weighting_rest(k_weighting_memory *m, int sections)
{
    int k;

    for (k = 0; k < sections; k++) {
        if (m[k].p < 7.888609052210118e-31 && m[k].p > -7.888609052210118e-31
                && m[k].q < 7.888609052210118e-31 && m[k].q > -7.888609052210118e-31) {
            m[k].p = 0.0;
            m[k].q = 0.0;
        }
    }
}

/* What is asked of a channel, between two samples. */
static void k_weighting_tick_channel(const k_weighting_rate_entry *rate, k_weighting_channel_state *ch,
        const volatile unsigned char *asked)
{
    const int32_t fade = rate->fade;
    ch->fresh = 0u;
    if (ch->open == 0) {
        ch->step = asked[K_WEIGHTING_MUTE] != 0u ? 0 : 1;
    } else if (ch->open == fade) {
        ch->step = asked[K_WEIGHTING_MUTE] != 0u ? -1 : 0;
    } else {
        /* a fade goes on to its end */
    }
    ch->calm = ch->open == fade && ch->step == 0 && ch->dead == 0u ? 1u : 0u;
}

/* What is due of all channels. */
static K_WEIGHTING_COLD void k_weighting_tick(k_weighting_state *s)
{
    int c;

    for (c = 0; c < K_WEIGHTING_CHANNELS; c++) {
        k_weighting_channel_state *ch = &s->channel[c];

        k_weighting_tick_channel(&k_weighting_rate_table[s->rate], ch, s->asked[c]);
        if (s->count == 0u) {
            k_weighting_rest(ch->now, K_WEIGHTING_POSITIONS);
        }
    }
}

/* Of n samples those before the next tick; what is due before them is done. */
static int k_weighting_begin(k_weighting_state *s, int n)
{
    const uint32_t into = s->count % K_WEIGHTING_TICK;
    const int left = (int)(K_WEIGHTING_TICK - into);

    if (into == 0u) {
        k_weighting_tick(s);
    }
    return n < left ? n : left;
}

/* ---- the interface -------------------------------------------------------------------- */

/* 1 for a state that init did not leave behind. */
static K_WEIGHTING_NOINLINE int k_weighting_refuse(const k_weighting_state *s)
{
    return s->ready != K_WEIGHTING_READY || s->check != K_WEIGHTING_CHECK || s->rate < 0
            || s->rate >= K_WEIGHTING_RATES ? 1 : 0;
}

/* 1 also for a channel that does not exist. */
static K_WEIGHTING_COLD int k_weighting_refuse_channel(const k_weighting_state *s, int channel)
{
    return channel < 0 || channel >= K_WEIGHTING_CHANNELS ? 1 : k_weighting_refuse(s);
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
static void k_weighting_silence_all(k_weighting_state *s)
{
    int c;

    for (c = 0; c < K_WEIGHTING_CHANNELS; c++) {
        k_weighting_silence(&s->channel[c]);
    }
    s->count = 0u;
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
    return k_weighting_refuse(s) != 0 ? 1 : k_weighting_start(s, rate_hz);
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
    if (k_weighting_refuse(s) == 0) {
        k_weighting_silence_all(s);
    }
}

int k_weighting_reset_channel(k_weighting_state *s, int channel)
{
    if (k_weighting_refuse_channel(s, channel) != 0) {
        return 1;
    }
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

/* Samples side by side, in the words of the filters or of 32 bits, and a channel's own. */
typedef struct {
    const double *in;
    double *out;
    const int32_t *in32; /* where there is no in */
    int32_t *out32;
    double from[K_WEIGHTING_TICK];
    double to[K_WEIGHTING_WAYS][K_WEIGHTING_TICK];
} k_weighting_frames;

/* Takes n samples of a channel from frames: of all channels', from number k on. */
static void k_weighting_take(k_weighting_frames *f, int k, int n)
{
    int i;

    for (i = 0; i < n; i++) {
        f->from[i] = f->in != NULL ? f->in[k] : k_weighting_from_int32(f->in32[k]);
        k += K_WEIGHTING_CHANNELS;
    }
}

/* Gives those of its ways back: the first of all channels' is number k. */
static void k_weighting_give(const k_weighting_frames *f, int k, int n)
{
    int i;
    int w;

    for (i = 0; i < n; i++) {
        for (w = 0; w < K_WEIGHTING_WAYS; w++) {
            if (f->out != NULL) {
                f->out[k + w] = f->to[w][i];
            } else {
                f->out32[k + w] = k_weighting_to_int32(f->to[w][i]);
            }
        }
        k += K_WEIGHTING_CHANNELS * K_WEIGHTING_WAYS;
    }
}

/* n samples of all channels: in -> out. Where there are frames, these are where their samples stand
 * meanwhile. */
static K_WEIGHTING_NOINLINE int k_weighting_run_all(k_weighting_state *s, const double *const *in,
        double *const *out, k_weighting_frames *f, int n)
{
    const k_weighting_rate_entry *rate;
    int done = 0;

    if (n < 0 || k_weighting_refuse(s) != 0) {
        return 1;
    }
    rate = &k_weighting_rate_table[s->rate];
    while (done < n) {
        int chunk = k_weighting_begin(s, n - done);
        int c;
#ifdef K_WEIGHTING_LANES
        if (f == NULL && chunk >= K_WEIGHTING_SHORT && k_weighting_calm(s) != 0 && k_weighting_even(s) != 0) {
            if (s->count % K_WEIGHTING_TICK == 0u) { /* nothing is asked for, so that it may go on */
                const int left = (int)(K_WEIGHTING_REST - s->count);

                chunk = left < K_WEIGHTING_LONG ? left : K_WEIGHTING_LONG;
                chunk = n - done < chunk ? n - done : chunk;
            }
            k_weighting_run_calm(s, in, out, done, chunk);
            s->count = (s->count + (uint32_t)chunk) % K_WEIGHTING_REST;
            done += chunk;
            continue;
        }
#endif
        for (c = 0; c < K_WEIGHTING_CHANNELS; c++) {
            const int at = f == NULL ? done : 0;
            const int k = (done * K_WEIGHTING_CHANNELS) + c;

            if (f != NULL) {
                k_weighting_take(f, k, chunk);
            }
            k_weighting_step_or_block(rate, &s->channel[c], &in[c][at], &out[c * K_WEIGHTING_WAYS], at, chunk);
            if (f != NULL) {
                k_weighting_give(f, k * K_WEIGHTING_WAYS, chunk);
            }
        }
        s->count = (s->count + (uint32_t)chunk) % K_WEIGHTING_REST;
        done += chunk;
    }
    return 0;
}

int k_weighting_run(k_weighting_state *s, const double *const *in, double *const *out, int n)
{
    return k_weighting_run_all(s, in, out, NULL, n);
}

/* n frames. */
static K_WEIGHTING_NOINLINE int k_weighting_run_side_by_side(k_weighting_state *s, k_weighting_frames *f, int n)
{
    const double *in[K_WEIGHTING_CHANNELS];
    double *out[K_WEIGHTING_CHANNELS * K_WEIGHTING_WAYS];
    int c;
    int w;

    for (c = 0; c < K_WEIGHTING_CHANNELS; c++) {
        in[c] = f->from;
        for (w = 0; w < K_WEIGHTING_WAYS; w++) {
            out[(c * K_WEIGHTING_WAYS) + w] = f->to[w];
        }
    }
    return k_weighting_run_all(s, in, out, f, n);
}

int k_weighting_run_frames(k_weighting_state *s, const double *in, double *out, int n)
{
    k_weighting_frames f;

    f.in = in;
    f.out = out;
    f.in32 = NULL;
    f.out32 = NULL;
    return k_weighting_run_side_by_side(s, &f, n);
}

int k_weighting_run_frames_int32(k_weighting_state *s, const int32_t *in, int32_t *out, int n)
{
    k_weighting_frames f;

    f.in = NULL;
    f.out = NULL;
    f.in32 = in;
    f.out32 = out;
    return k_weighting_run_side_by_side(s, &f, n);
}

#undef K_WEIGHTING_AS_WRITTEN
#if defined __GNUC__ && !defined __clang__
#pragma GCC pop_options
#endif
