/*
 * k_weighting_float32.c: the loudspeaker filters of "k_weighting", tables and code
 * Spec SHA-256 29e1ef5e82e76c1e77f1dd7279d7a5b11a20f993805dabaca2663d1272037fd4
 *
 * Compile this file with the program; k_weighting_float32.h tells all about it.
 *
 * MISRA C:2012, deviations from required and advisory rules:
 *   8.9         tables beside what they belong to
 *   10.3, 10.8  int, int32_t and uint32_t meet where the values are small and known
 *   12.1        products in sums without parentheses: as the formulas are written
 *   12.2, 18.4  words of lists are shifted, and pointers step through lists and frames
 *   14.1        none: a loop's counter is a pointer to a sample, which checkers take for the sample
 *   15.5        what is refused returns at once
 *   17.8        pointers and counts that a function steps through are its parameters
 *   2.4, 2.5    tags and macros that only some programs use
 *   20.5        #undef, so that nothing is left behind
 *   20.9, 21.15 names that a compiler defines or not; memcpy from a number to its bits
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

/* Loops stand in functions of their own; what runs rarely is compiled for size. */
#if defined __GNUC__
#define K_WEIGHTING_NOINLINE __attribute__((noinline))
#define K_WEIGHTING_COLD __attribute__((noinline, cold))
#else
#define K_WEIGHTING_NOINLINE
#define K_WEIGHTING_COLD
#endif

#define K_WEIGHTING_READY 0xa01cc705u /* of this spec in this format */
#define K_WEIGHTING_CHECK 0xd84e52efu
#define K_WEIGHTING_TICK 32u /* samples between two looks at what is asked for */
#define K_WEIGHTING_REST 256u /* and between two looks for sections that have come to rest */
#define K_WEIGHTING_SIZE 0x7fffffffu /* what k_weighting_bits has of a sample's size */
#define K_WEIGHTING_GARBAGE 0x5f800000u /* size of what is no sample */

/* Words of a list, one a pass: the row of its first section, which those of the others follow,
 * their kind (1 direct, 2 delta, 3 delta without b1 and b2)
 * and how many they are; 0 is the end. */
#define K_WEIGHTING_ROW 0x7ffu
#define K_WEIGHTING_HEAD 11 /* bits below */

/* ---- tables --------------------------------------------------------------------------- */

typedef struct {
    float b0;
    float b1;
    float b2;
    float a1;
    float a2;
} k_weighting_section_words;

typedef struct {
    float gain; /* with the polarity as sign */
    int8_t list; /* where the list of what always runs begins */
    int8_t from; /* the memory of that */
} k_weighting_cascade_entry;

typedef struct {
    uint32_t rate_hz;
    const k_weighting_section_words *sections;
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
static const k_weighting_section_words k_weighting_sections_48000[2] = {
    /* 48000 Hz, weighted 0: ways.weighted.filters[1] high-pass, poles at 38.14 Hz, Q 0.500; */
    /* delta, -133 dB */
    { 0.9950299f, 0.0f, 0.0f, 0.009952545f, 2.4795532e-05f },
    /* 48000 Hz, weighted 1: ways.weighted.filters[0] rational, poles at 1.689 kHz, Q 0.710; */
    /* delta, -145 dB */
    { 1.5351249f, 0.37855354f, 0.04182148f, 0.30934072f, 0.04182148f }
};
static const uint16_t k_weighting_lists_48000[3] = {
    0u, 20480u, 0u
};
#endif

static const k_weighting_rate_entry k_weighting_rate_table[] = {
#ifdef K_WEIGHTING_ONLY_48000
    { 48000u, k_weighting_sections_48000, k_weighting_lists_48000, 480, 0.0020833334f, {
        { 0.56234133f, 0, 0 }, /* common */
        { 1.0049949f, 1, 0 } /* weighted */
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
    int32_t out = INT32_MIN;

    if (scaled >= (float)2147483647.0) {
        out = INT32_MAX;
    } else if (scaled > (float)-2147483648.0) {
        float rest;

        out = (int32_t)scaled;
        rest = scaled - (float)out;
        out += (int32_t)(rest + rest); /* 1 from a half on */
    } else {
        /* the least there is */
    }
    return out;
}

/* gain times n samples, and the sections of a list over them: from -> to, which may be the same.
 * Each pass takes samples through up to 2 sections of one form; between them everything is
 * in registers. Those that begin no list have no gain; an empty list is the gain alone. */
static K_WEIGHTING_NOINLINE void k_weighting_run_list(const k_weighting_section_words *table,
        const uint16_t *list, k_weighting_memory *m, float gain, const float *from, float *to, int n)
{
    K_WEIGHTING_AS_WRITTEN
    const float *const end = &to[n];
    unsigned int word = *list;

    if (n == 0) {
        return;
    }
    if (word == 0u) {
        while (to != end) {
            *to = gain * *from;
            from++;
            to++;
        }
        return;
    }
    do {
        const k_weighting_section_words *const w = &table[word & K_WEIGHTING_ROW];
        const unsigned int head = word >> K_WEIGHTING_HEAD;
        float *at = to;
        const float b0_0 = w[0].b0;
        const float b1_0 = w[0].b1;
        const float b2_0 = w[0].b2;
        const float a1_0 = w[0].a1;
        const float a2_0 = w[0].a2;
        float p_0 = m[0].p;
        float q_0 = m[0].q;

        switch (head) {
        case 10u: { /* delta, 2 */
            const float b0_1 = w[1].b0;
            const float b1_1 = w[1].b1;
            const float b2_1 = w[1].b2;
            const float a1_1 = w[1].a1;
            const float a2_1 = w[1].a2;
            float p_1 = m[1].p;
            float q_1 = m[1].q;

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
            m[1].p = p_1;
            m[1].q = q_1;
            break;
        }
        default:
            /* there are no others */
            break;
        }
        m[0].p = p_0;
        m[0].q = q_0;
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
static inline void k_weighting_run_cascade(const k_weighting_rate_entry *rate, k_weighting_channel_state *ch,
        int c, const float *from, float *io, int n)
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
    if ((sizes & K_WEIGHTING_SIZE) >= K_WEIGHTING_GARBAGE) { /* perhaps */
        good = 0;
        while (good < n && (k_weighting_bits(in[good]) & K_WEIGHTING_SIZE) < K_WEIGHTING_GARBAGE) {
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

        k_weighting_run_cascade(rate, ch, c, now, io, good);
        if (ch->calm == 0u) {
            k_weighting_shade(rate, ch, io, good, n);
        }
    }
    if (ch->calm == 0u) {
        ch->open = (int16_t)(ch->open + (ch->step * n));
    }
}

/* One sample of a channel that is calm, section by section: sample -> out[way][at]. */
static K_WEIGHTING_NOINLINE void k_weighting_step_channel(const k_weighting_rate_entry *rate, k_weighting_channel_state *ch,
        float sample, float *const *out, int at)
{
    K_WEIGHTING_AS_WRITTEN
    const k_weighting_cascade_entry *cascade = &rate->cascade[0];
    float now = sample;
    int c;

    for (c = 0; c <= K_WEIGHTING_WAYS; c++) {
        const float gain = cascade->gain;
        const uint16_t *list = &rate->lists[cascade->list];
        k_weighting_memory *m = &ch->now[cascade->from];
        float x = now;
        x = gain * x;
        {
            unsigned int word = *list;

            while (word != 0u) {
                const k_weighting_section_words *w = &rate->sections[word & K_WEIGHTING_ROW];
                unsigned int left = word >> 13;
                { /* delta */
                    do {
                        const float b0 = w->b0;
                        const float b1 = w->b1;
                        const float b2 = w->b2;
                        const float a1 = w->a1;
                        const float a2 = w->a2;
                        float p = m->p;
                        float q = m->q;

                        const float y = b0 * x + p;
                        p = p + ((q + b1 * x) - a1 * y);
                        q = (q + b2 * x) - a2 * y;
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
        const float *in, float *const *out, int at, int n)
{
    float now[K_WEIGHTING_TICK];
    int good;
    good = k_weighting_run_common(rate, ch, in, now, n);
    k_weighting_run_ways(rate, ch, now, good, out, at, n);
}

/* The same; one sample goes section by section. */
static void k_weighting_step_or_block(const k_weighting_rate_entry *rate, k_weighting_channel_state *ch,
        const float *in, float *const *out, int at, int n)
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
#define K_WEIGHTING_LANES 8 /* in a vector */
#define K_WEIGHTING_GROUPS 1 /* vectors that hold all lanes */
#define K_WEIGHTING_SHORT 16 /* the fewest samples at once */
#define K_WEIGHTING_LONG 64 /* the most samples at once */
#if defined __AVX__
#define K_WEIGHTING_SAVING 2 /* sections that one of all lanes has to stand for */
#else
#define K_WEIGHTING_SAVING 4
#endif

typedef float k_weighting_lanes __attribute__((vector_size(32)));
typedef int32_t k_weighting_marks __attribute__((vector_size(32)));
typedef float k_weighting_short __attribute__((vector_size(16)));
typedef int32_t k_weighting_short_marks __attribute__((vector_size(16)));

/* Words of two vectors in another order. */
#if defined __clang__ || __GNUC__ >= 12
#define K_WEIGHTING_SHUFFLE(a, b, ...) __builtin_shufflevector(a, b, __VA_ARGS__)
#else
#define K_WEIGHTING_SHUFFLE(a, b, ...) __builtin_shuffle(a, b, (k_weighting_short_marks){ __VA_ARGS__ })
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
    k_weighting_lane_marks zero; /* -0.0, which adds nothing, to the bit, in all others */
    k_weighting_lane_marks none; /* -0.0 in a lane that has no such section, otherwise 0 */
} k_weighting_lane_section;

/* What lanes run. */
typedef struct {
    k_weighting_lane_marks code[K_WEIGHTING_POSITIONS + 5]; /* list words, one a section; then 0 */
    k_weighting_memory *memory[K_WEIGHTING_LANES]; /* of the first section, which those of all others follow */
    int count[K_WEIGHTING_LANES];
    int least; /* of the counts */
    int most;
} k_weighting_lane_plan;

/* Words stay in memory: there is no room for all in registers, and copies gain nothing. */
static K_WEIGHTING_NOINLINE void k_weighting_lanes_delta_3(k_weighting_lane_section *s, k_weighting_lane_words *io, int n)
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

static K_WEIGHTING_NOINLINE void k_weighting_lanes_delta_5(k_weighting_lane_section *s, k_weighting_lane_words *io, int n)
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

static K_WEIGHTING_NOINLINE void k_weighting_lanes_ragged_3(k_weighting_lane_section *s, k_weighting_lane_words *io, int n)
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
        p_0 = (k_weighting_lanes)(((k_weighting_marks)p_0 & s[0].keep.all) | s[0].zero.all) +
            ((q_0 + s[0].word[1].all * x) - s[0].word[3].all * y_0);
        p_0 = (k_weighting_lanes)((k_weighting_marks)p_0 | s[0].none.all);
        q_0 = ((k_weighting_lanes)(((k_weighting_marks)q_0 & s[0].keep.all) | s[0].zero.all) +
            s[0].word[2].all * x) - s[0].word[4].all * y_0;
        const k_weighting_lanes y_2 = s[2].word[0].all * y_1 + p_2;
        p_1 = (k_weighting_lanes)(((k_weighting_marks)p_1 & s[1].keep.all) | s[1].zero.all) +
            ((q_1 + s[1].word[1].all * y_0) - s[1].word[3].all * y_1);
        p_1 = (k_weighting_lanes)((k_weighting_marks)p_1 | s[1].none.all);
        q_1 = ((k_weighting_lanes)(((k_weighting_marks)q_1 & s[1].keep.all) | s[1].zero.all) +
            s[1].word[2].all * y_0) - s[1].word[4].all * y_1;
        p_2 = (k_weighting_lanes)(((k_weighting_marks)p_2 & s[2].keep.all) | s[2].zero.all) +
            ((q_2 + s[2].word[1].all * y_1) - s[2].word[3].all * y_2);
        p_2 = (k_weighting_lanes)((k_weighting_marks)p_2 | s[2].none.all);
        q_2 = ((k_weighting_lanes)(((k_weighting_marks)q_2 & s[2].keep.all) | s[2].zero.all) +
            s[2].word[2].all * y_1) - s[2].word[4].all * y_2;
        io[i].all = y_2;
    }
    s[0].word[5].all = p_0;
    s[0].word[6].all = q_0;
    s[1].word[5].all = p_1;
    s[1].word[6].all = q_1;
    s[2].word[5].all = p_2;
    s[2].word[6].all = q_2;
}

static K_WEIGHTING_NOINLINE void k_weighting_lanes_ragged_5(k_weighting_lane_section *s, k_weighting_lane_words *io, int n)
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
        p_0 = (k_weighting_lanes)(((k_weighting_marks)p_0 & s[0].keep.all) | s[0].zero.all) +
            ((q_0 + s[0].word[1].all * x) - s[0].word[3].all * y_0);
        p_0 = (k_weighting_lanes)((k_weighting_marks)p_0 | s[0].none.all);
        q_0 = ((k_weighting_lanes)(((k_weighting_marks)q_0 & s[0].keep.all) | s[0].zero.all) +
            s[0].word[2].all * x) - s[0].word[4].all * y_0;
        const k_weighting_lanes y_2 = s[2].word[0].all * y_1 + p_2;
        p_1 = (k_weighting_lanes)(((k_weighting_marks)p_1 & s[1].keep.all) | s[1].zero.all) +
            ((q_1 + s[1].word[1].all * y_0) - s[1].word[3].all * y_1);
        p_1 = (k_weighting_lanes)((k_weighting_marks)p_1 | s[1].none.all);
        q_1 = ((k_weighting_lanes)(((k_weighting_marks)q_1 & s[1].keep.all) | s[1].zero.all) +
            s[1].word[2].all * y_0) - s[1].word[4].all * y_1;
        const k_weighting_lanes y_3 = s[3].word[0].all * y_2 + p_3;
        p_2 = (k_weighting_lanes)(((k_weighting_marks)p_2 & s[2].keep.all) | s[2].zero.all) +
            ((q_2 + s[2].word[1].all * y_1) - s[2].word[3].all * y_2);
        p_2 = (k_weighting_lanes)((k_weighting_marks)p_2 | s[2].none.all);
        q_2 = ((k_weighting_lanes)(((k_weighting_marks)q_2 & s[2].keep.all) | s[2].zero.all) +
            s[2].word[2].all * y_1) - s[2].word[4].all * y_2;
        const k_weighting_lanes y_4 = s[4].word[0].all * y_3 + p_4;
        p_3 = (k_weighting_lanes)(((k_weighting_marks)p_3 & s[3].keep.all) | s[3].zero.all) +
            ((q_3 + s[3].word[1].all * y_2) - s[3].word[3].all * y_3);
        p_3 = (k_weighting_lanes)((k_weighting_marks)p_3 | s[3].none.all);
        q_3 = ((k_weighting_lanes)(((k_weighting_marks)q_3 & s[3].keep.all) | s[3].zero.all) +
            s[3].word[2].all * y_2) - s[3].word[4].all * y_3;
        p_4 = (k_weighting_lanes)(((k_weighting_marks)p_4 & s[4].keep.all) | s[4].zero.all) +
            ((q_4 + s[4].word[1].all * y_3) - s[4].word[3].all * y_4);
        p_4 = (k_weighting_lanes)((k_weighting_marks)p_4 | s[4].none.all);
        q_4 = ((k_weighting_lanes)(((k_weighting_marks)q_4 & s[4].keep.all) | s[4].zero.all) +
            s[4].word[2].all * y_3) - s[4].word[4].all * y_4;
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

/* Sections of all lanes, 5 or 3, in these forms; 0: some lanes have none. */
static void k_weighting_lane_pass(k_weighting_lane_section *s, int sections, unsigned int forms,
        k_weighting_lane_words *io, int n)
{
    if (forms == 2u) {
        if (sections == 5) {
            k_weighting_lanes_delta_5(s, io, n);
        } else {
            k_weighting_lanes_delta_3(s, io, n);
        }
    } else {
        if (sections == 5) {
            k_weighting_lanes_ragged_5(s, io, n);
        } else {
            k_weighting_lanes_ragged_3(s, io, n);
        }
    }
}

/* The sections of a list, one by one, behind k others of a lane. */
static int k_weighting_unfold(const uint16_t *list, k_weighting_lane_plan *plan, int l, int k)
{
    unsigned int word = *list;

    while (word != 0u) {
        plan->code[k].one[l] = (int32_t)word;
        plan->code[k + 1].one[l] = (int32_t)(word + 1u);
        k += (int)(word >> 13);
        list++;
        word = *list;
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

/* The channels' common parts -> x of lanes from on; what is not used gets what the first does.
 * Behind n they have zeros up to a whole vector. */
static void k_weighting_lane_inputs(const k_weighting_rate_entry *rate, int from, int used,
        float (*common)[K_WEIGHTING_LONG], k_weighting_lane_words *x, int n)
{
    K_WEIGHTING_AS_WRITTEN
    int l;

    for (l = 0; l < K_WEIGHTING_LANES; l += 4) {
        const int lane_0 = l + 0 < used ? from + l + 0 : from;
        const float *from_0 = common[lane_0 / K_WEIGHTING_WAYS];
        const int lane_1 = l + 1 < used ? from + l + 1 : from;
        const float *from_1 = common[lane_1 / K_WEIGHTING_WAYS];
        const int lane_2 = l + 2 < used ? from + l + 2 : from;
        const float *from_2 = common[lane_2 / K_WEIGHTING_WAYS];
        const int lane_3 = l + 3 < used ? from + l + 3 : from;
        const float *from_3 = common[lane_3 / K_WEIGHTING_WAYS];
        const k_weighting_short gain = {
            rate->cascade[1 + lane_0 % K_WEIGHTING_WAYS].gain,
            rate->cascade[1 + lane_1 % K_WEIGHTING_WAYS].gain,
            rate->cascade[1 + lane_2 % K_WEIGHTING_WAYS].gain,
            rate->cascade[1 + lane_3 % K_WEIGHTING_WAYS].gain,
        };
        int i;

        for (i = 0; i < n; i += 4) {
            k_weighting_short v[4];

            (void)memcpy(&v[0], &from_0[i], sizeof v[0]);
            (void)memcpy(&v[1], &from_1[i], sizeof v[1]);
            (void)memcpy(&v[2], &from_2[i], sizeof v[2]);
            (void)memcpy(&v[3], &from_3[i], sizeof v[3]);
            k_weighting_turn(v);
            {
                const k_weighting_short all = v[0];
                const k_weighting_short scaled = gain * all;
                (void)memcpy(&x[i + 0].one[l], &scaled, sizeof scaled);
            }
            {
                const k_weighting_short all = v[1];
                const k_weighting_short scaled = gain * all;
                (void)memcpy(&x[i + 1].one[l], &scaled, sizeof scaled);
            }
            {
                const k_weighting_short all = v[2];
                const k_weighting_short scaled = gain * all;
                (void)memcpy(&x[i + 2].one[l], &scaled, sizeof scaled);
            }
            {
                const k_weighting_short all = v[3];
                const k_weighting_short scaled = gain * all;
                (void)memcpy(&x[i + 3].one[l], &scaled, sizeof scaled);
            }
        }
    }
}

/* How many lanes of a group there are. */
static int k_weighting_lanes_used(int group)
{
    const int left = K_WEIGHTING_CHANNELS * K_WEIGHTING_WAYS - group * K_WEIGHTING_LANES;

    return left < K_WEIGHTING_LANES ? left : K_WEIGHTING_LANES;
}

/* What lanes from on run; what is not used does as the first. What returns are all sections. */
static int k_weighting_lane_plan_of(k_weighting_state *s, int from, int used, k_weighting_lane_plan *plan)
{
    const k_weighting_rate_entry *rate = &k_weighting_rate_table[s->rate];
    int all = 0;
    int l;
    int k;

    plan->least = K_WEIGHTING_POSITIONS;
    plan->most = 0;
    for (l = 0; l < K_WEIGHTING_LANES; l++) {
        const int lane = l < used ? from + l : from;
        const int way = 1 + lane % K_WEIGHTING_WAYS;
        const k_weighting_cascade_entry *cascade = &rate->cascade[way];
        k_weighting_channel_state *ch = &s->channel[lane / K_WEIGHTING_WAYS];

        k = k_weighting_unfold(&rate->lists[cascade->list], plan, l, 0);
        plan->memory[l] = &ch->now[cascade->from];
        plan->count[l] = k;
        all += l < used ? k : 0;
        plan->least = k < plan->least ? k : plan->least;
        plan->most = k > plan->most ? k : plan->most;
    }
    for (l = 0; l < K_WEIGHTING_LANES; l++) {
        for (k = plan->count[l]; k < plan->most + 5 - 1; k++) {
            plan->code[k].one[l] = 0;
        }
    }
    return all;
}

/* Section k of every lane. What returns has a bit for each of the forms among them: 1 direct, 2
 * delta. */
static unsigned int k_weighting_lane_load(const k_weighting_section_words *table,
        const k_weighting_lane_plan *plan, int k, k_weighting_lane_section *to)
{
    static const k_weighting_section_words straight = { 1.0f, 0.0f, 0.0f, 0.0f, 0.0f };
    static const k_weighting_memory nothing = { -0.0f, -0.0f };
    const k_weighting_short zeros = { -0.0f, -0.0f, -0.0f, -0.0f };
    const k_weighting_short_marks sign = (k_weighting_short_marks)zeros;
    const int32_t bit = 2 << K_WEIGHTING_HEAD; /* of both kinds in the delta form */
    const k_weighting_short_marks delta = { bit, bit, bit, bit };
    int32_t some = 0;
    int32_t each = bit;
    int l;

    for (l = 0; l < K_WEIGHTING_LANES; l += 4) {
        const int32_t code_0 = plan->code[k].one[l + 0];
        const k_weighting_section_words *w_0 = code_0 != 0
            ? &table[(unsigned int)code_0 & K_WEIGHTING_ROW] : &straight;
        const k_weighting_memory *m_0 = code_0 != 0 ? &plan->memory[l + 0][k] : &nothing;
        const int32_t code_1 = plan->code[k].one[l + 1];
        const k_weighting_section_words *w_1 = code_1 != 0
            ? &table[(unsigned int)code_1 & K_WEIGHTING_ROW] : &straight;
        const k_weighting_memory *m_1 = code_1 != 0 ? &plan->memory[l + 1][k] : &nothing;
        const int32_t code_2 = plan->code[k].one[l + 2];
        const k_weighting_section_words *w_2 = code_2 != 0
            ? &table[(unsigned int)code_2 & K_WEIGHTING_ROW] : &straight;
        const k_weighting_memory *m_2 = code_2 != 0 ? &plan->memory[l + 2][k] : &nothing;
        const int32_t code_3 = plan->code[k].one[l + 3];
        const k_weighting_section_words *w_3 = code_3 != 0
            ? &table[(unsigned int)code_3 & K_WEIGHTING_ROW] : &straight;
        const k_weighting_memory *m_3 = code_3 != 0 ? &plan->memory[l + 3][k] : &nothing;
        k_weighting_short v[4];
        k_weighting_short_marks code;
        k_weighting_short_marks marks;

        (void)memcpy(&code, &plan->code[k].one[l], sizeof code);
        marks = (k_weighting_short_marks)((code & delta) == delta);
        (void)memcpy(&to->keep.one[l], &marks, sizeof marks);
        marks = ~marks & sign;
        (void)memcpy(&to->zero.one[l], &marks, sizeof marks);
        marks = (k_weighting_short_marks)(code == (code ^ code)) & sign;
        (void)memcpy(&to->none.one[l], &marks, sizeof marks);
        some |= code_0 | code_1 | code_2 | code_3;
        each &= code_0 & code_1 & code_2 & code_3;
        (void)memcpy(&v[0], &w_0->b0, sizeof v[0]);
        (void)memcpy(&v[1], &w_1->b0, sizeof v[1]);
        (void)memcpy(&v[2], &w_2->b0, sizeof v[2]);
        (void)memcpy(&v[3], &w_3->b0, sizeof v[3]);
        k_weighting_turn(v);
        (void)memcpy(&to->word[0].one[l], &v[0], sizeof v[0]);
        (void)memcpy(&to->word[1].one[l], &v[1], sizeof v[1]);
        (void)memcpy(&to->word[2].one[l], &v[2], sizeof v[2]);
        (void)memcpy(&to->word[3].one[l], &v[3], sizeof v[3]);
        const k_weighting_short row_4_0 = { w_0->a2, m_0->p, m_0->q };
        v[0] = row_4_0;
        const k_weighting_short row_4_1 = { w_1->a2, m_1->p, m_1->q };
        v[1] = row_4_1;
        const k_weighting_short row_4_2 = { w_2->a2, m_2->p, m_2->q };
        v[2] = row_4_2;
        const k_weighting_short row_4_3 = { w_3->a2, m_3->p, m_3->q };
        v[3] = row_4_3;
        k_weighting_turn(v);
        (void)memcpy(&to->word[4].one[l], &v[0], sizeof v[0]);
        (void)memcpy(&to->word[5].one[l], &v[1], sizeof v[1]);
        (void)memcpy(&to->word[6].one[l], &v[2], sizeof v[2]);
    }
    return ((some & bit) != 0 ? 2u : 0u) | ((each & bit) == 0 ? 1u : 0u);
}

/* The states of section k back to where they belong. */
static void k_weighting_lane_store(const k_weighting_lane_plan *plan, int k, const k_weighting_lane_section *from)
{
    k_weighting_memory spare; /* of lanes that have no such section */
    int l;

    for (l = 0; l < K_WEIGHTING_LANES; l += 4) {
        k_weighting_short p;
        k_weighting_short q;
        k_weighting_memory *m_0 = k < plan->count[l + 0] ? &plan->memory[l + 0][k] : &spare;
        k_weighting_memory *m_1 = k < plan->count[l + 1] ? &plan->memory[l + 1][k] : &spare;
        k_weighting_memory *m_2 = k < plan->count[l + 2] ? &plan->memory[l + 2][k] : &spare;
        k_weighting_memory *m_3 = k < plan->count[l + 3] ? &plan->memory[l + 3][k] : &spare;
        k_weighting_short pairs;

        (void)memcpy(&p, &from->word[5].one[l], sizeof p);
        (void)memcpy(&q, &from->word[6].one[l], sizeof q);
        pairs = K_WEIGHTING_SHUFFLE(p, q, 0, 4, 1, 5);
        (void)memcpy(m_0, &pairs, sizeof *m_0);
        (void)memcpy(m_1, (const float *)&pairs + 2, sizeof *m_1);
        pairs = K_WEIGHTING_SHUFFLE(p, q, 2, 6, 3, 7);
        (void)memcpy(m_2, &pairs, sizeof *m_2);
        (void)memcpy(m_3, (const float *)&pairs + 2, sizeof *m_3);
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

/* The ways of so many lanes from on: in common[channel] -> out. */
static void k_weighting_run_lanes(k_weighting_state *s, const k_weighting_lane_plan *plan, int from, int used,
        float (*common)[K_WEIGHTING_LONG], float *const *out, int at, int n)
{
    const k_weighting_rate_entry *rate = &k_weighting_rate_table[s->rate];
    k_weighting_lane_section section[5];
    k_weighting_lane_words x[K_WEIGHTING_LONG];
    int sections;
    int k;

    k_weighting_lane_inputs(rate, from, used, common, x, n);
    for (k = 0; k < plan->most; k += sections) {
        const int left = plan->most - k;
        unsigned int forms = 0u;
        int j;

        sections = left > 3 && left != 6 ? 5 : 3;
        for (j = 0; j < sections; j++) {
            forms |= k_weighting_lane_load(rate->sections, plan, k + j, &section[j]);
        }
        k_weighting_lane_pass(section, sections, k + sections > plan->least ? 0u : forms, x, n);
        for (j = 0; j < sections; j++) {
            k_weighting_lane_store(plan, k + j, &section[j]);
        }
    }
    k_weighting_lane_outputs(x, used, &out[from], at, n);
}

/* n samples of a channel times the first gain: in -> now, 4 at once, and zeros up to a whole
 * vector. What returns is not less than the size of the greatest. */
static uint32_t k_weighting_lane_take(const k_weighting_rate_entry *rate, const float *in,
        float *now, int n)
{
    K_WEIGHTING_AS_WRITTEN
    const float one = rate->cascade[0].gain;
    const k_weighting_short gain = { one, one, one, one };
    k_weighting_short_marks marks = { 0, 0, 0, 0 };
    k_weighting_short all;
    uint32_t sizes = 0u;
    int i;

    for (i = 0; i < n; i += 4) {
        const int left = n - i;

        if (left < 4) {
            const k_weighting_short none = { 0.0f, 0.0f, 0.0f, 0.0f };

            all = none;
            (void)memcpy(&all, &in[i], (size_t)left * sizeof *in);
        } else {
            (void)memcpy(&all, &in[i], sizeof all);
        }
        marks |= (k_weighting_short_marks)all;
        const k_weighting_short scaled = gain * all;
        (void)memcpy(&now[i], &scaled, sizeof scaled);
    }
    all = (k_weighting_short)marks;
    for (i = 0; i < 4; i++) {
        sizes |= k_weighting_bits(all[i]);
    }
    return sizes & K_WEIGHTING_SIZE;
}

/* A channel's common part where there is more than the gain: in -> now. */
static void k_weighting_lane_common(const k_weighting_rate_entry *rate, k_weighting_channel_state *ch,
        const float *in, float *now, int n)
{
    const k_weighting_cascade_entry *cascade = &rate->cascade[0];

    if (rate->lists[cascade->list] != 0u) {
        k_weighting_run_cascade(rate, ch, 0, in, now, n);
    }
}

/* Runs all channels where none fades or is silent, no sample may be garbage, and lanes are
 * faster: n samples at least, all at most. What returns is how many there were; 0: none. */
static int k_weighting_run_calm(k_weighting_state *s, const float *const *in,
        float *const *out, int at, int n, int all)
{
    const k_weighting_rate_entry *rate = &k_weighting_rate_table[s->rate];
    k_weighting_lane_plan plan[K_WEIGHTING_GROUPS];
    float common[K_WEIGHTING_CHANNELS][K_WEIGHTING_LONG];
    int most = 0;
    int sum = 0;
    int k;

    if (n < K_WEIGHTING_SHORT || k_weighting_calm(s) == 0) {
        return 0;
    }
    for (k = 0; k < K_WEIGHTING_GROUPS; k++) {
        sum += k_weighting_lane_plan_of(s, k * K_WEIGHTING_LANES, k_weighting_lanes_used(k), &plan[k]);
        most = plan[k].most > most ? plan[k].most : most;
    }
    if (sum <= K_WEIGHTING_SAVING * most * K_WEIGHTING_GROUPS) {
        return 0;
    }
    if (s->count % K_WEIGHTING_TICK == 0u) { /* nothing is asked for, so that it may go on */
        const int left = (int)(K_WEIGHTING_REST - s->count);

        n = left < K_WEIGHTING_LONG ? left : K_WEIGHTING_LONG;
        n = all < n ? all : n;
    }
    for (k = 0; k < K_WEIGHTING_CHANNELS; k++) {
        if (k_weighting_lane_take(rate, &in[k][at], common[k], n) >= K_WEIGHTING_GARBAGE) {
            return 0;
        }
    }
    for (k = 0; k < K_WEIGHTING_CHANNELS; k++) {
        k_weighting_lane_common(rate, &s->channel[k], &in[k][at], common[k], n);
    }
    for (k = 0; k < K_WEIGHTING_GROUPS; k++) {
        k_weighting_run_lanes(s, &plan[k], k * K_WEIGHTING_LANES, k_weighting_lanes_used(k), common, out, at, n);
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
        if ((k_weighting_bits(m[k].p) & K_WEIGHTING_SIZE) < 0xd800000u
                && (k_weighting_bits(m[k].q) & K_WEIGHTING_SIZE) < 0xd800000u) {
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
    const float *in;
    float *out;
    const int32_t *in32; /* where they are wide */
    int32_t *out32;
    int wide;
    float from[K_WEIGHTING_TICK];
    float to[K_WEIGHTING_WAYS][K_WEIGHTING_TICK];
} k_weighting_frames;

/* Takes n samples of a channel from frames: of all channels', from number k on. */
static K_WEIGHTING_NOINLINE void k_weighting_take(k_weighting_frames *f, int k, int n)
{
    int i;

    for (i = 0; i < n; i++) {
        f->from[i] = f->wide != 0 ? k_weighting_from_int32(f->in32[k]) : f->in[k];
        k += K_WEIGHTING_CHANNELS;
    }
}

/* Gives those of its ways back: the first of all channels' is number k. */
static K_WEIGHTING_NOINLINE void k_weighting_give(const k_weighting_frames *f, int k, int n)
{
    int i;
    int w;

    for (i = 0; i < n; i++) {
        for (w = 0; w < K_WEIGHTING_WAYS; w++) {
            if (f->wide != 0) {
                f->out32[k + w] = k_weighting_to_int32(f->to[w][i]);
            } else {
                f->out[k + w] = f->to[w][i];
            }
        }
        k += K_WEIGHTING_CHANNELS * K_WEIGHTING_WAYS;
    }
}

/* n samples of all channels: in -> out. Where there are frames, these are where their samples stand
 * meanwhile. */
static K_WEIGHTING_NOINLINE int k_weighting_run_all(k_weighting_state *s, const float *const *in,
        float *const *out, k_weighting_frames *f, int n)
{
    const k_weighting_rate_entry *rate;
    int done = 0;

    if (n < 0 || k_weighting_refuse(s) != 0) {
        return 1;
    }
    rate = &k_weighting_rate_table[s->rate];
    while (done < n) {
        const int chunk = k_weighting_begin(s, n - done);
        int c;
#ifdef K_WEIGHTING_LANES
        const int together = f == NULL ? k_weighting_run_calm(s, in, out, done, chunk, n - done) : 0;

        if (together > 0) {
            s->count = (s->count + (uint32_t)together) % K_WEIGHTING_REST;
            done += together;
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

int k_weighting_run(k_weighting_state *s, const float *const *in, float *const *out, int n)
{
    return k_weighting_run_all(s, in, out, NULL, n);
}

/* n frames. */
static K_WEIGHTING_NOINLINE int k_weighting_run_side_by_side(k_weighting_state *s, k_weighting_frames *f, int n)
{
    const float *in[K_WEIGHTING_CHANNELS];
    float *out[K_WEIGHTING_CHANNELS * K_WEIGHTING_WAYS];
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
