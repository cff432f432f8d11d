/*
 * dabchick_float32.c: the loudspeaker filters of "dabchick", tables and code
 * Spec SHA-256 e9e3a6613886ac7f14945f19e9061166695aa6e43386e7818311cf29d7257624
 *
 * Compile this file with the program; dabchick_float32.h tells all about it.
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

/* Loops stand in functions of their own; what runs rarely is compiled for size. */
#if defined __GNUC__
#define DABCHICK_NOINLINE __attribute__((noinline))
#define DABCHICK_COLD __attribute__((noinline, cold))
#else
#define DABCHICK_NOINLINE
#define DABCHICK_COLD
#endif

#define DABCHICK_READY 0x15d86656u /* of this spec in this format */
#define DABCHICK_CHECK 0xe8704686u
#define DABCHICK_TICK 32u /* samples between two looks at what is asked for */
#define DABCHICK_REST 256u /* and between two looks for sections that have come to rest */
#define DABCHICK_SIZE 0x7fffffffu /* what dabchick_bits has of a sample's size */
#define DABCHICK_GARBAGE 0x5f800000u /* size of what is no sample */

/* Words of a list, one a pass: the row of its first section, which those of the others follow,
 * their kind (1 direct, 2 delta, 3 delta without b1 and b2)
 * and how many they are; 0 is the end. */
#define DABCHICK_ROW 0x7ffu
#define DABCHICK_HEAD 11 /* bits below */
#define DABCHICK_ONE_MORE (1u << 13)
#define DABCHICK_FULL 0x6000u /* from there on a pass takes no more */
#define DABCHICK_NONE 255u /* the alternative that changes nothing and has no row */

/* ---- tables --------------------------------------------------------------------------- */

typedef struct {
    float b0;
    float b1;
    float b2;
    float a1;
    float a2;
} dabchick_section_words;

typedef struct {
    unsigned char word; /* among the lists: that for its first alternative */
    unsigned char pick; /* of dabchick_pick_table: the alternative of every combination */
    unsigned char stride[DABCHICK_SETTINGS]; /* of each setting's choices */
} dabchick_switch_entry;

typedef struct {
    float gain; /* with the polarity as sign */
    int8_t list; /* where the list of what always runs begins */
    int8_t from; /* the memory of that */
    int8_t split; /* of what settings pick, which is behind it */
    int8_t first; /* the first position of that */
    int8_t end; /* behind the last; what runs beside has memory from first on */
} dabchick_cascade_entry;

typedef struct {
    uint32_t rate_hz;
    const dabchick_section_words *sections;
    const uint16_t *lists; /* of what always runs, then words for what settings pick */
    const unsigned char *positions; /* that settings change: which of switches */
    const dabchick_switch_entry *switches;
    int16_t settle; /* samples that new sections run unheard */
    int16_t fade; /* samples of a fade */
    float step; /* 1 / fade */
    dabchick_cascade_entry cascade[1 + DABCHICK_WAYS]; /* common, then the ways */
} dabchick_rate_entry;

static const unsigned char dabchick_pick_table[2] = {
    255u, 0u
};

/* b0, b1, b2, a1, a2 of every section. Above each:
 * - rate, way and number;
 * - the line of the spec, and the frequency and Q that its poles ring at (those of a shelf lie
 *   beside the line's own). Lines of one way that are made together share their zeros: there it
 *   is the line whose poles these are, and the way where no line has them;
 * - form, and computed error in this format re the section's greatest gain. */
#ifdef DABCHICK_ONLY_44100
static const dabchick_section_words dabchick_sections_44100[8] = {
    /* 44100 Hz, bass 0: ways.bass.filters[0] high-pass, poles at 38.2 Hz, Q 0.915; delta, -129 */
    /* dB */
    { 0.99798745f, 0.0f, 0.0f, 0.0059593916f, 2.9534838e-05f },
    /* 44100 Hz, bass 1: ways.bass.filters[1] pole-shift, poles at 48.37 Hz, Q 0.678; delta, -132 */
    /* dB */
    { 0.3562156f, 0.006359267f, 6.2101884e-05f, 0.01016776f, 4.7254456e-05f },
    /* 44100 Hz, bass 2: ways.bass, poles at 2.934 kHz and 1.919 kHz; delta, -144 dB */
    { 0.08951898f, 0.76431453f, 0.08164716f, 0.58086807f, 0.08173255f },
    /* 44100 Hz, bass 3: ways.bass.filters[2] high-shelf, poles at 524.3 Hz and half the rate; */
    /* direct, -141 dB */
    { 0.17248504f, 0.113550596f, 0.007663513f, -0.49159077f, -0.40501547f },
    /* 44100 Hz, bass and treble: by choice; delta, -143 dB */
    /* desk on-desk: common[0] low-shelf, poles at 201.9 Hz, Q 0.600 */
    { 0.995093f, 0.037699983f, 0.00050995767f, 0.04763044f, 0.00080822565f },
    /* desk none: straight through */
    /* 44100 Hz, bass and treble: by choice; delta, -144 dB */
    /* desk on-desk: common[1] peak, poles at 165 Hz, Q 0.980 */
    { 0.99754846f, 0.019367622f, 0.0005460529f, 0.024240945f, 0.0005460514f },
    /* desk none: straight through */
    /* 44100 Hz, treble 0: ways.treble, poles at 2.781 kHz and 2.102 kHz; delta, -145 dB */
    { 0.71579736f, 0.0f, 0.0f, 0.58588773f, 0.08464863f },
    /* 44100 Hz, treble 1: ways.treble.filters[0] peak, poles at 3.046 kHz, Q 1.51; delta, -141 */
    /* dB */
    { 0.98196125f, 0.3760135f, 0.16307606f, 0.41125718f, 0.16114338f }
};
static const uint16_t dabchick_lists_44100[8] = {
    0u, 28672u, 10243u, 0u, 20486u, 0u, 12292u, 12293u
};
static const unsigned char dabchick_positions_44100[4] = {
    0u, 1u, 0u, 1u
};
static const dabchick_switch_entry dabchick_switches_44100[2] = {
    { 6u, 0u, { 1u } },
    { 7u, 0u, { 1u } }
};
#endif

#ifdef DABCHICK_ONLY_48000
static const dabchick_section_words dabchick_sections_48000[8] = {
    /* 48000 Hz, bass 0: ways.bass.filters[0] high-pass, poles at 38.07 Hz, Q 0.905; delta, -129 */
    /* dB */
    { 1.0399431f, 0.0f, 0.0f, 0.005518213f, 2.4769524e-05f },
    /* 48000 Hz, bass 1: ways.bass.filters[1] pole-shift, poles at 48.09 Hz, Q 0.693; delta, -132 */
    /* dB */
    { 0.34060982f, 0.005559539f, 4.935103e-05f, 0.009085191f, 3.9453917e-05f },
    /* 48000 Hz, bass 2: ways.bass, poles at 2.691 kHz and 2.126 kHz; delta, -142 dB */
    { 0.6501383f, 0.7479975f, 0.072050005f, 0.5397742f, 0.07210961f },
    /* 48000 Hz, bass 3: ways.bass.filters[2] high-shelf, poles at 546.5 Hz and half the rate; */
    /* direct, -140 dB */
    { 0.020377662f, 0.16419217f, 0.07971389f, -0.5804306f, -0.32632822f },
    /* 48000 Hz, bass and treble: by choice; delta, -143 dB */
    /* desk on-desk: common[0] low-shelf, poles at 201.9 Hz, Q 0.600 */
    { 0.99548936f, 0.034667306f, 0.000431324f, 0.043786027f, 0.0006836009f },
    /* desk none: straight through */
    /* 48000 Hz, bass and treble: by choice; delta, -142 dB */
    /* desk on-desk: common[1] peak, poles at 165 Hz, Q 0.980 */
    { 0.99774617f, 0.017770221f, 0.0004613747f, 0.022251884f, 0.0004613739f },
    /* desk none: straight through */
    /* 48000 Hz, treble 0: ways.treble, poles at 2.698 kHz and 2.156 kHz; delta, -144 dB */
    { 0.7351705f, 0.0f, 0.0f, 0.5433511f, 0.0731407f },
    /* 48000 Hz, treble 1: ways.treble.filters[0] peak, poles at 3.065 kHz, Q 1.49; delta, -139 */
    /* dB */
    { 0.9825967f, 0.34028324f, 0.14047423f, 0.37487736f, 0.13930376f }
};
static const uint16_t dabchick_lists_48000[8] = {
    0u, 28672u, 10243u, 0u, 20486u, 0u, 12292u, 12293u
};
static const unsigned char dabchick_positions_48000[4] = {
    0u, 1u, 0u, 1u
};
static const dabchick_switch_entry dabchick_switches_48000[2] = {
    { 6u, 0u, { 1u } },
    { 7u, 0u, { 1u } }
};
#endif

#ifdef DABCHICK_ONLY_96000
static const dabchick_section_words dabchick_sections_96000[8] = {
    /* 96000 Hz, bass 0: ways.bass.filters[0] high-pass, poles at 38 Hz, Q 0.900; delta, -126 dB */
    { 1.0267818f, 0.0f, 0.0f, 0.0027665077f, 6.176902e-06f },
    /* 96000 Hz, bass 1: ways.bass.filters[1] pole-shift, poles at 47.99 Hz, Q 0.700; delta, -129 */
    /* dB */
    { 0.34332886f, 0.002794517f, 1.2392858e-05f, 0.00448479f, 9.843115e-06f },
    /* 96000 Hz, bass 2: crossovers[0] low-pass, poles at 2.4 kHz, Q 0.500; delta, -144 dB */
    { 0.39813948f, 0.39862758f, 0.02112122f, 0.29067558f, 0.02113836f },
    /* 96000 Hz, bass 3: ways.bass.filters[2] high-shelf, poles at half the rate and 556.6 Hz; */
    /* delta, -136 dB */
    { 0.0090059815f, 0.09538867f, 0.10443356f, 1.0637755f, 0.036773995f },
    /* 96000 Hz, bass and treble: by choice; delta, -142 dB */
    /* desk on-desk: common[0] low-shelf, poles at 202 Hz, Q 0.600 */
    { 0.9977392f, 0.017417189f, 0.00010903799f, 0.021962626f, 0.00017281354f },
    /* desk none: straight through */
    /* 96000 Hz, bass and treble: by choice; delta, -140 dB */
    /* desk on-desk: common[1] peak, poles at 165 Hz, Q 0.980 */
    { 0.99886984f, 0.008817816f, 0.00011598216f, 0.011070941f, 0.000115982155f },
    /* desk none: straight through */
    /* 96000 Hz, treble 0: ways.treble.filters[0] peak, poles at 3.099 kHz, Q 1.47; delta, -138 */
    /* dB */
    { 0.9752739f, 0.14474614f, 0.03774747f, 0.16725418f, 0.038282007f },
    /* 96000 Hz, treble 1: crossovers[0] high-pass, poles at 2.458 kHz and 2.344 kHz; delta, -145 */
    /* dB */
    { 0.8688451f, 0.0f, 0.0f, 0.29084924f, 0.021138212f }
};
static const uint16_t dabchick_lists_96000[8] = {
    0u, 14336u, 28673u, 0u, 20486u, 0u, 12292u, 12293u
};
static const unsigned char dabchick_positions_96000[4] = {
    0u, 1u, 0u, 1u
};
static const dabchick_switch_entry dabchick_switches_96000[2] = {
    { 6u, 0u, { 1u } },
    { 7u, 0u, { 1u } }
};
#endif

static const dabchick_rate_entry dabchick_rate_table[] = {
#ifdef DABCHICK_ONLY_44100
    { 44100u, dabchick_sections_44100, dabchick_lists_44100, dabchick_positions_44100,
      dabchick_switches_44100, 1824, 448, 0.002232143f, {
        { 0.3548134f, 0, 0, 0, 0, 0 }, /* common */
        { 0.70794576f, 1, 0, 4, 0, 2 }, /* bass */
        { -0.56234133f, 4, 6, 8, 2, 4 } /* treble */
    } },
#endif
#ifdef DABCHICK_ONLY_48000
    { 48000u, dabchick_sections_48000, dabchick_lists_48000, dabchick_positions_48000,
      dabchick_switches_48000, 1984, 480, 0.0020833334f, {
        { 0.3548134f, 0, 0, 0, 0, 0 }, /* common */
        { 0.70794576f, 1, 0, 4, 0, 2 }, /* bass */
        { -0.56234133f, 4, 6, 8, 2, 4 } /* treble */
    } },
#endif
#ifdef DABCHICK_ONLY_96000
    { 96000u, dabchick_sections_96000, dabchick_lists_96000, dabchick_positions_96000,
      dabchick_switches_96000, 3968, 960, 0.0010416667f, {
        { 0.3548134f, 0, 0, 0, 0, 0 }, /* common */
        { 0.70794576f, 1, 0, 4, 0, 2 }, /* bass */
        { -0.56234133f, 4, 6, 8, 2, 4 } /* treble */
    } },
#endif
};

#define DABCHICK_RATES ((int32_t)(sizeof dabchick_rate_table / sizeof dabchick_rate_table[0]))

const char *const dabchick_desk_names[DABCHICK_DESK_CHOICES] = {
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
 * Each pass takes samples through up to 3 sections of one form; between them everything is
 * in registers. A list without any is the gain alone. */
static DABCHICK_NOINLINE void dabchick_run_list(const dabchick_section_words *table,
        const uint16_t *list, dabchick_memory *m, float gain, const float *from, float *to, int n)
{
    DABCHICK_AS_WRITTEN
    unsigned int head = (unsigned int)*list >> DABCHICK_HEAD;
    int i;

    do {
        const dabchick_section_words *const w = &table[*list & DABCHICK_ROW];

        switch (head) {
        case 5u: { /* direct, 1 */
            const float b0_0 = w[0].b0;
            const float b1_0 = w[0].b1;
            const float b2_0 = w[0].b2;
            const float a1_0 = w[0].a1;
            const float a2_0 = w[0].a2;
            float p_0 = m[0].p;
            float q_0 = m[0].q;

            for (i = 0; i < n; i++) {
                const float x = gain * from[i];
                const float y_0 = b0_0 * x + p_0;
                p_0 = (q_0 + b1_0 * x) - a1_0 * y_0;
                q_0 = b2_0 * x - a2_0 * y_0;
                to[i] = y_0;
            }
            m[0].p = p_0;
            m[0].q = q_0;
            break;
        }
        case 6u: { /* delta, 1 */
            const float b0_0 = w[0].b0;
            const float b1_0 = w[0].b1;
            const float b2_0 = w[0].b2;
            const float a1_0 = w[0].a1;
            const float a2_0 = w[0].a2;
            float p_0 = m[0].p;
            float q_0 = m[0].q;

            for (i = 0; i < n; i++) {
                const float x = gain * from[i];
                const float y_0 = b0_0 * x + p_0;
                p_0 = p_0 + ((q_0 + b1_0 * x) - a1_0 * y_0);
                q_0 = (q_0 + b2_0 * x) - a2_0 * y_0;
                to[i] = y_0;
            }
            m[0].p = p_0;
            m[0].q = q_0;
            break;
        }
        case 10u: { /* delta, 2 */
            const float b0_0 = w[0].b0;
            const float b1_0 = w[0].b1;
            const float b2_0 = w[0].b2;
            const float a1_0 = w[0].a1;
            const float a2_0 = w[0].a2;
            float p_0 = m[0].p;
            float q_0 = m[0].q;
            const float b0_1 = w[1].b0;
            const float b1_1 = w[1].b1;
            const float b2_1 = w[1].b2;
            const float a1_1 = w[1].a1;
            const float a2_1 = w[1].a2;
            float p_1 = m[1].p;
            float q_1 = m[1].q;

            for (i = 0; i < n; i++) {
                const float x = gain * from[i];
                const float y_0 = b0_0 * x + p_0;
                p_0 = p_0 + ((q_0 + b1_0 * x) - a1_0 * y_0);
                q_0 = (q_0 + b2_0 * x) - a2_0 * y_0;
                const float y_1 = b0_1 * y_0 + p_1;
                p_1 = p_1 + ((q_1 + b1_1 * y_0) - a1_1 * y_1);
                q_1 = (q_1 + b2_1 * y_0) - a2_1 * y_1;
                to[i] = y_1;
            }
            m[0].p = p_0;
            m[0].q = q_0;
            m[1].p = p_1;
            m[1].q = q_1;
            break;
        }
        case 14u: { /* delta, 3 */
            const float b0_0 = w[0].b0;
            const float b1_0 = w[0].b1;
            const float b2_0 = w[0].b2;
            const float a1_0 = w[0].a1;
            const float a2_0 = w[0].a2;
            float p_0 = m[0].p;
            float q_0 = m[0].q;
            const float b0_1 = w[1].b0;
            const float b1_1 = w[1].b1;
            const float b2_1 = w[1].b2;
            const float a1_1 = w[1].a1;
            const float a2_1 = w[1].a2;
            float p_1 = m[1].p;
            float q_1 = m[1].q;
            const float b0_2 = w[2].b0;
            const float b1_2 = w[2].b1;
            const float b2_2 = w[2].b2;
            const float a1_2 = w[2].a1;
            const float a2_2 = w[2].a2;
            float p_2 = m[2].p;
            float q_2 = m[2].q;

            for (i = 0; i < n; i++) {
                const float x = gain * from[i];
                const float y_0 = b0_0 * x + p_0;
                p_0 = p_0 + ((q_0 + b1_0 * x) - a1_0 * y_0);
                q_0 = (q_0 + b2_0 * x) - a2_0 * y_0;
                const float y_1 = b0_1 * y_0 + p_1;
                p_1 = p_1 + ((q_1 + b1_1 * y_0) - a1_1 * y_1);
                q_1 = (q_1 + b2_1 * y_0) - a2_1 * y_1;
                const float y_2 = b0_2 * y_1 + p_2;
                p_2 = p_2 + ((q_2 + b1_2 * y_1) - a1_2 * y_2);
                q_2 = (q_2 + b2_2 * y_1) - a2_2 * y_2;
                to[i] = y_2;
            }
            m[0].p = p_0;
            m[0].q = q_0;
            m[1].p = p_1;
            m[1].q = q_1;
            m[2].p = p_2;
            m[2].q = q_2;
            break;
        }
        case 7u: { /* delta without b1 and b2, 1 */
            const float b0_0 = w[0].b0;
            const float a1_0 = w[0].a1;
            const float a2_0 = w[0].a2;
            float p_0 = m[0].p;
            float q_0 = m[0].q;

            for (i = 0; i < n; i++) {
                const float x = gain * from[i];
                const float y_0 = b0_0 * x + p_0;
                p_0 = p_0 + (q_0 - a1_0 * y_0);
                q_0 = q_0 - a2_0 * y_0;
                to[i] = y_0;
            }
            m[0].p = p_0;
            m[0].q = q_0;
            break;
        }
        default:
            for (i = 0; i < n; i++) {
                to[i] = gain * from[i];
            }
            break;
        }
        from = to;
        gain = 1.0f;
        m += head >> 2;
        if (head != 0u) {
            list++;
            head = (unsigned int)*list >> DABCHICK_HEAD;
        }
    } while (head != 0u);
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

/* The list of what the choices pick, of cascade c. */
static DABCHICK_COLD void dabchick_make_list(const dabchick_rate_entry *rate,
        const dabchick_channel_state *ch, int c, uint16_t *list)
{
    const dabchick_cascade_entry *cascade = &rate->cascade[c];
    uint16_t *head = list;
    uint16_t *next = list;
    unsigned int last = 0u;
    int k;
    int i;

    for (k = cascade->first; k < cascade->end; k++) {
        const dabchick_switch_entry *choices = &rate->switches[rate->positions[k]];
        unsigned int pick = choices->pick;
        unsigned int alternative;

        for (i = 0; i < DABCHICK_SETTINGS; i++) {
            pick += (unsigned int)choices->stride[i] * ch->chosen[i];
        }
        alternative = dabchick_pick_table[pick];
        if (alternative != DABCHICK_NONE) {
            const unsigned int word = rate->lists[choices->word + alternative];

            if (word == last + 1u && *head < DABCHICK_FULL) { /* the next row, of the same form */
                *head = (uint16_t)(*head + DABCHICK_ONE_MORE);
            } else {
                head = next;
                *next = (uint16_t)word;
                next++;
            }
            last = word;
        }
    }
    *next = 0u;
}

/* Gain and sections of cascade c over n samples, from -> io, and while a setting changes those that
 * it goes over to. */
static DABCHICK_NOINLINE void dabchick_run_cascade(const dabchick_rate_entry *rate, dabchick_channel_state *ch,
        int c, const float *from, float *io, float *beside, int n)
{
    const dabchick_section_words *table = rate->sections;
    const dabchick_cascade_entry *cascade = &rate->cascade[c];
    const int both = ch->change >= 0 && cascade->end > cascade->first ? 1 : 0;

    dabchick_run_list(table, &rate->lists[cascade->list], &ch->now[cascade->from], cascade->gain,
        from, io, n);
    if (both != 0) {
        uint16_t list[DABCHICK_SWITCHES + 1];
        dabchick_make_list(rate, ch, c, list);
        dabchick_run_list(table, list, &ch->then[cascade->first], 1.0f,
            io, beside, n);
    }
    if (cascade->end > cascade->first && ch->list[cascade->first + c] != 0u) {
        dabchick_run_list(table, &ch->list[cascade->first + c], &ch->now[cascade->split], 1.0f,
            io, io, n);
    }
}

/* The common part over n samples of one channel: in[i] -> now[i].
 * What returns are the samples before garbage. */
static int dabchick_run_common(const dabchick_rate_entry *rate, dabchick_channel_state *ch,
        const float *in, float *now, int n)
{
    DABCHICK_AS_WRITTEN
    uint32_t sizes = 0u;
    int good = n;
    int i;

    if (ch->fresh != 0u || ch->dead != 0u) {
        good = 0;
    }
    for (i = 0; i < good; i++) {
        sizes |= dabchick_bits(in[i]);
    }
    if ((sizes & DABCHICK_SIZE) >= DABCHICK_GARBAGE) { /* perhaps */
        for (i = 0; i < good; i++) {
            if ((dabchick_bits(in[i]) & DABCHICK_SIZE) >= DABCHICK_GARBAGE) {
                good = i;
                ch->dead = 1u;
                ch->calm = 0u;
            }
        }
    }
    dabchick_run_cascade(rate, ch, 0, in, now, NULL, good);
    return good;
}

/* The ways over n samples of one channel: good samples of now -> out[way][at + i], then silence. */
static void dabchick_run_ways(const dabchick_rate_entry *rate, dabchick_channel_state *ch,
        const float *now, int good, float *const *out, int at, int n)
{
    float beside[DABCHICK_TICK];
    int c;
    int i;

    for (c = 1; c <= DABCHICK_WAYS; c++) {
        const dabchick_cascade_entry *cascade = &rate->cascade[c];
        float *io = &out[c - 1][at];
        int heard = good;
        dabchick_run_cascade(rate, ch, c, now, io, beside, good);
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
    if (ch->change >= 0) {
        ch->change = (int16_t)(ch->change + n);
    }
    ch->open = (int16_t)(ch->open + (ch->step * n));
}

/* One sample of a channel that is calm, section by section: sample -> out[way][at]. */
static DABCHICK_NOINLINE void dabchick_step_channel(const dabchick_rate_entry *rate, dabchick_channel_state *ch,
        float sample, float *const *out, int at)
{
    DABCHICK_AS_WRITTEN
    const dabchick_cascade_entry *cascade = &rate->cascade[0];
    float now = sample;
    int c;

    for (c = 0; c <= DABCHICK_WAYS; c++) {
        const float gain = cascade->gain;
        const uint16_t *list = &rate->lists[cascade->list];
        const uint16_t *next = &ch->list[cascade->first + c]; /* whose memory is behind */
        dabchick_memory *m = &ch->now[cascade->from];
        float x = now;
        x = gain * x;
        while (list != NULL) {
            unsigned int word = *list;

            while (word != 0u) {
                const dabchick_section_words *w = &rate->sections[word & DABCHICK_ROW];
                unsigned int left = word >> 13;
                if ((word >> DABCHICK_HEAD & 3u) == 1u) { /* direct */
                    do {
                        const float b0 = w->b0;
                        const float b1 = w->b1;
                        const float b2 = w->b2;
                        const float a1 = w->a1;
                        const float a2 = w->a2;
                        float p = m->p;
                        float q = m->q;

                        const float y = b0 * x + p;
                        p = (q + b1 * x) - a1 * y;
                        q = b2 * x - a2 * y;
                        x = y;
                        m->p = p;
                        m->q = q;
                        w++;
                        m++;
                        left--;
                    } while (left != 0u);
                } else if ((word >> DABCHICK_HEAD & 3u) == 2u) { /* delta */
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
                } else { /* delta without b1 and b2 */
                    do {
                        const float b0 = w->b0;
                        const float a1 = w->a1;
                        const float a2 = w->a2;
                        float p = m->p;
                        float q = m->q;

                        const float y = b0 * x + p;
                        p = p + (q - a1 * y);
                        q = q - a2 * y;
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
            list = next;
            next = NULL;
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
static DABCHICK_NOINLINE void dabchick_run_block(const dabchick_rate_entry *rate, dabchick_channel_state *ch,
        const float *in, float *const *out, int at, int n)
{
    float now[DABCHICK_TICK];
    int good;

    good = dabchick_run_common(rate, ch, in, now, n);
    dabchick_run_ways(rate, ch, now, good, out, at, n);
}

/* The same; one sample goes section by section. */
static void dabchick_step_or_block(const dabchick_rate_entry *rate, dabchick_channel_state *ch,
        const float *in, float *const *out, int at, int n)
{
    if (n == 1 && ch->calm != 0u && (dabchick_bits(in[0]) & DABCHICK_SIZE) < DABCHICK_GARBAGE) {
        dabchick_step_channel(rate, ch, in[0], out, at);
    } else {
        dabchick_run_block(rate, ch, in, out, at, n);
    }
}

/* ---- lanes ---------------------------------------------------------------------------- */

/* Where the compiler has vectors, the ways of all channels go through their sections side by side;
 * those that have no more go through sections that change nothing, to the bit. The same operations
 * in the same order give the same bits. DABCHICK_NO_LANES leaves this out. */
#if defined __GNUC__ && (defined __SSE2__ || defined __aarch64__) && !defined DABCHICK_NO_LANES
#define DABCHICK_LANES 8 /* in a vector */
#define DABCHICK_SHORT 16 /* the fewest samples at once */
#define DABCHICK_LONG 64 /* the most samples at once */
#if defined __AVX__
#define DABCHICK_SAVING 2 /* sections that one of all lanes has to stand for */
#else
#define DABCHICK_SAVING 4
#endif

typedef float dabchick_lanes __attribute__((vector_size(32)));
typedef int32_t dabchick_marks __attribute__((vector_size(32)));

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
    dabchick_lane_words b0;
    dabchick_lane_words b1;
    dabchick_lane_words b2;
    dabchick_lane_words a1;
    dabchick_lane_words a2;
    dabchick_lane_words p;
    dabchick_lane_words q;
    dabchick_lane_marks keep; /* all ones in a lane in the delta form, otherwise 0 */
    dabchick_lane_marks none; /* -0.0 in a lane that has no such section, otherwise 0 */
} dabchick_lane_section;

/* A section of one lane. */
typedef struct {
    const dabchick_section_words *words;
    dabchick_memory *memory;
    int32_t keep; /* as in a section of every lane */
} dabchick_lane_entry;

static DABCHICK_NOINLINE void dabchick_lanes_direct_3(dabchick_lane_section *s, dabchick_lane_words *io, int n)
{
    DABCHICK_AS_WRITTEN
    const dabchick_lanes b0_0 = s[0].b0.all;
    const dabchick_lanes b1_0 = s[0].b1.all;
    const dabchick_lanes b2_0 = s[0].b2.all;
    const dabchick_lanes a1_0 = s[0].a1.all;
    const dabchick_lanes a2_0 = s[0].a2.all;
    dabchick_lanes p_0 = s[0].p.all;
    dabchick_lanes q_0 = s[0].q.all;
    const dabchick_lanes b0_1 = s[1].b0.all;
    const dabchick_lanes b1_1 = s[1].b1.all;
    const dabchick_lanes b2_1 = s[1].b2.all;
    const dabchick_lanes a1_1 = s[1].a1.all;
    const dabchick_lanes a2_1 = s[1].a2.all;
    dabchick_lanes p_1 = s[1].p.all;
    dabchick_lanes q_1 = s[1].q.all;
    const dabchick_lanes b0_2 = s[2].b0.all;
    const dabchick_lanes b1_2 = s[2].b1.all;
    const dabchick_lanes b2_2 = s[2].b2.all;
    const dabchick_lanes a1_2 = s[2].a1.all;
    const dabchick_lanes a2_2 = s[2].a2.all;
    dabchick_lanes p_2 = s[2].p.all;
    dabchick_lanes q_2 = s[2].q.all;
    int i;

    for (i = 0; i < n; i++) {
        const dabchick_lanes x = io[i].all;
        const dabchick_lanes y_0 = b0_0 * x + p_0;
        p_0 = (q_0 + b1_0 * x) - a1_0 * y_0;
        q_0 = b2_0 * x - a2_0 * y_0;
        const dabchick_lanes y_1 = b0_1 * y_0 + p_1;
        p_1 = (q_1 + b1_1 * y_0) - a1_1 * y_1;
        q_1 = b2_1 * y_0 - a2_1 * y_1;
        const dabchick_lanes y_2 = b0_2 * y_1 + p_2;
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

static DABCHICK_NOINLINE void dabchick_lanes_direct_5(dabchick_lane_section *s, dabchick_lane_words *io, int n)
{
    DABCHICK_AS_WRITTEN
    const dabchick_lanes b0_0 = s[0].b0.all;
    const dabchick_lanes b1_0 = s[0].b1.all;
    const dabchick_lanes b2_0 = s[0].b2.all;
    const dabchick_lanes a1_0 = s[0].a1.all;
    const dabchick_lanes a2_0 = s[0].a2.all;
    dabchick_lanes p_0 = s[0].p.all;
    dabchick_lanes q_0 = s[0].q.all;
    const dabchick_lanes b0_1 = s[1].b0.all;
    const dabchick_lanes b1_1 = s[1].b1.all;
    const dabchick_lanes b2_1 = s[1].b2.all;
    const dabchick_lanes a1_1 = s[1].a1.all;
    const dabchick_lanes a2_1 = s[1].a2.all;
    dabchick_lanes p_1 = s[1].p.all;
    dabchick_lanes q_1 = s[1].q.all;
    const dabchick_lanes b0_2 = s[2].b0.all;
    const dabchick_lanes b1_2 = s[2].b1.all;
    const dabchick_lanes b2_2 = s[2].b2.all;
    const dabchick_lanes a1_2 = s[2].a1.all;
    const dabchick_lanes a2_2 = s[2].a2.all;
    dabchick_lanes p_2 = s[2].p.all;
    dabchick_lanes q_2 = s[2].q.all;
    const dabchick_lanes b0_3 = s[3].b0.all;
    const dabchick_lanes b1_3 = s[3].b1.all;
    const dabchick_lanes b2_3 = s[3].b2.all;
    const dabchick_lanes a1_3 = s[3].a1.all;
    const dabchick_lanes a2_3 = s[3].a2.all;
    dabchick_lanes p_3 = s[3].p.all;
    dabchick_lanes q_3 = s[3].q.all;
    const dabchick_lanes b0_4 = s[4].b0.all;
    const dabchick_lanes b1_4 = s[4].b1.all;
    const dabchick_lanes b2_4 = s[4].b2.all;
    const dabchick_lanes a1_4 = s[4].a1.all;
    const dabchick_lanes a2_4 = s[4].a2.all;
    dabchick_lanes p_4 = s[4].p.all;
    dabchick_lanes q_4 = s[4].q.all;
    int i;

    for (i = 0; i < n; i++) {
        const dabchick_lanes x = io[i].all;
        const dabchick_lanes y_0 = b0_0 * x + p_0;
        p_0 = (q_0 + b1_0 * x) - a1_0 * y_0;
        q_0 = b2_0 * x - a2_0 * y_0;
        const dabchick_lanes y_1 = b0_1 * y_0 + p_1;
        p_1 = (q_1 + b1_1 * y_0) - a1_1 * y_1;
        q_1 = b2_1 * y_0 - a2_1 * y_1;
        const dabchick_lanes y_2 = b0_2 * y_1 + p_2;
        p_2 = (q_2 + b1_2 * y_1) - a1_2 * y_2;
        q_2 = b2_2 * y_1 - a2_2 * y_2;
        const dabchick_lanes y_3 = b0_3 * y_2 + p_3;
        p_3 = (q_3 + b1_3 * y_2) - a1_3 * y_3;
        q_3 = b2_3 * y_2 - a2_3 * y_3;
        const dabchick_lanes y_4 = b0_4 * y_3 + p_4;
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

static DABCHICK_NOINLINE void dabchick_lanes_delta_3(dabchick_lane_section *s, dabchick_lane_words *io, int n)
{
    DABCHICK_AS_WRITTEN
    const dabchick_lanes b0_0 = s[0].b0.all;
    const dabchick_lanes b1_0 = s[0].b1.all;
    const dabchick_lanes b2_0 = s[0].b2.all;
    const dabchick_lanes a1_0 = s[0].a1.all;
    const dabchick_lanes a2_0 = s[0].a2.all;
    dabchick_lanes p_0 = s[0].p.all;
    dabchick_lanes q_0 = s[0].q.all;
    const dabchick_lanes b0_1 = s[1].b0.all;
    const dabchick_lanes b1_1 = s[1].b1.all;
    const dabchick_lanes b2_1 = s[1].b2.all;
    const dabchick_lanes a1_1 = s[1].a1.all;
    const dabchick_lanes a2_1 = s[1].a2.all;
    dabchick_lanes p_1 = s[1].p.all;
    dabchick_lanes q_1 = s[1].q.all;
    const dabchick_lanes b0_2 = s[2].b0.all;
    const dabchick_lanes b1_2 = s[2].b1.all;
    const dabchick_lanes b2_2 = s[2].b2.all;
    const dabchick_lanes a1_2 = s[2].a1.all;
    const dabchick_lanes a2_2 = s[2].a2.all;
    dabchick_lanes p_2 = s[2].p.all;
    dabchick_lanes q_2 = s[2].q.all;
    int i;

    for (i = 0; i < n; i++) {
        const dabchick_lanes x = io[i].all;
        const dabchick_lanes y_0 = b0_0 * x + p_0;
        p_0 = p_0 + ((q_0 + b1_0 * x) - a1_0 * y_0);
        q_0 = (q_0 + b2_0 * x) - a2_0 * y_0;
        const dabchick_lanes y_1 = b0_1 * y_0 + p_1;
        p_1 = p_1 + ((q_1 + b1_1 * y_0) - a1_1 * y_1);
        q_1 = (q_1 + b2_1 * y_0) - a2_1 * y_1;
        const dabchick_lanes y_2 = b0_2 * y_1 + p_2;
        p_2 = p_2 + ((q_2 + b1_2 * y_1) - a1_2 * y_2);
        q_2 = (q_2 + b2_2 * y_1) - a2_2 * y_2;
        io[i].all = y_2;
    }
    s[0].p.all = p_0;
    s[0].q.all = q_0;
    s[1].p.all = p_1;
    s[1].q.all = q_1;
    s[2].p.all = p_2;
    s[2].q.all = q_2;
}

static DABCHICK_NOINLINE void dabchick_lanes_delta_5(dabchick_lane_section *s, dabchick_lane_words *io, int n)
{
    DABCHICK_AS_WRITTEN
    const dabchick_lanes b0_0 = s[0].b0.all;
    const dabchick_lanes b1_0 = s[0].b1.all;
    const dabchick_lanes b2_0 = s[0].b2.all;
    const dabchick_lanes a1_0 = s[0].a1.all;
    const dabchick_lanes a2_0 = s[0].a2.all;
    dabchick_lanes p_0 = s[0].p.all;
    dabchick_lanes q_0 = s[0].q.all;
    const dabchick_lanes b0_1 = s[1].b0.all;
    const dabchick_lanes b1_1 = s[1].b1.all;
    const dabchick_lanes b2_1 = s[1].b2.all;
    const dabchick_lanes a1_1 = s[1].a1.all;
    const dabchick_lanes a2_1 = s[1].a2.all;
    dabchick_lanes p_1 = s[1].p.all;
    dabchick_lanes q_1 = s[1].q.all;
    const dabchick_lanes b0_2 = s[2].b0.all;
    const dabchick_lanes b1_2 = s[2].b1.all;
    const dabchick_lanes b2_2 = s[2].b2.all;
    const dabchick_lanes a1_2 = s[2].a1.all;
    const dabchick_lanes a2_2 = s[2].a2.all;
    dabchick_lanes p_2 = s[2].p.all;
    dabchick_lanes q_2 = s[2].q.all;
    const dabchick_lanes b0_3 = s[3].b0.all;
    const dabchick_lanes b1_3 = s[3].b1.all;
    const dabchick_lanes b2_3 = s[3].b2.all;
    const dabchick_lanes a1_3 = s[3].a1.all;
    const dabchick_lanes a2_3 = s[3].a2.all;
    dabchick_lanes p_3 = s[3].p.all;
    dabchick_lanes q_3 = s[3].q.all;
    const dabchick_lanes b0_4 = s[4].b0.all;
    const dabchick_lanes b1_4 = s[4].b1.all;
    const dabchick_lanes b2_4 = s[4].b2.all;
    const dabchick_lanes a1_4 = s[4].a1.all;
    const dabchick_lanes a2_4 = s[4].a2.all;
    dabchick_lanes p_4 = s[4].p.all;
    dabchick_lanes q_4 = s[4].q.all;
    int i;

    for (i = 0; i < n; i++) {
        const dabchick_lanes x = io[i].all;
        const dabchick_lanes y_0 = b0_0 * x + p_0;
        p_0 = p_0 + ((q_0 + b1_0 * x) - a1_0 * y_0);
        q_0 = (q_0 + b2_0 * x) - a2_0 * y_0;
        const dabchick_lanes y_1 = b0_1 * y_0 + p_1;
        p_1 = p_1 + ((q_1 + b1_1 * y_0) - a1_1 * y_1);
        q_1 = (q_1 + b2_1 * y_0) - a2_1 * y_1;
        const dabchick_lanes y_2 = b0_2 * y_1 + p_2;
        p_2 = p_2 + ((q_2 + b1_2 * y_1) - a1_2 * y_2);
        q_2 = (q_2 + b2_2 * y_1) - a2_2 * y_2;
        const dabchick_lanes y_3 = b0_3 * y_2 + p_3;
        p_3 = p_3 + ((q_3 + b1_3 * y_2) - a1_3 * y_3);
        q_3 = (q_3 + b2_3 * y_2) - a2_3 * y_3;
        const dabchick_lanes y_4 = b0_4 * y_3 + p_4;
        p_4 = p_4 + ((q_4 + b1_4 * y_3) - a1_4 * y_4);
        q_4 = (q_4 + b2_4 * y_3) - a2_4 * y_4;
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

static DABCHICK_NOINLINE void dabchick_lanes_mixed_3(dabchick_lane_section *s, dabchick_lane_words *io, int n)
{
    DABCHICK_AS_WRITTEN
    const int32_t bit = INT32_MIN;
    const dabchick_marks sign = { bit, bit, bit, bit, bit, bit, bit, bit };
    const dabchick_lanes b0_0 = s[0].b0.all;
    const dabchick_lanes b1_0 = s[0].b1.all;
    const dabchick_lanes b2_0 = s[0].b2.all;
    const dabchick_lanes a1_0 = s[0].a1.all;
    const dabchick_lanes a2_0 = s[0].a2.all;
    dabchick_lanes p_0 = s[0].p.all;
    dabchick_lanes q_0 = s[0].q.all;
    const dabchick_marks keep_0 = s[0].keep.all;
    const dabchick_marks zero_0 = ~keep_0 & sign; /* -0.0: what adds nothing, to the bit */
    const dabchick_marks none_0 = s[0].none.all;
    const dabchick_lanes b0_1 = s[1].b0.all;
    const dabchick_lanes b1_1 = s[1].b1.all;
    const dabchick_lanes b2_1 = s[1].b2.all;
    const dabchick_lanes a1_1 = s[1].a1.all;
    const dabchick_lanes a2_1 = s[1].a2.all;
    dabchick_lanes p_1 = s[1].p.all;
    dabchick_lanes q_1 = s[1].q.all;
    const dabchick_marks keep_1 = s[1].keep.all;
    const dabchick_marks zero_1 = ~keep_1 & sign; /* -0.0: what adds nothing, to the bit */
    const dabchick_marks none_1 = s[1].none.all;
    const dabchick_lanes b0_2 = s[2].b0.all;
    const dabchick_lanes b1_2 = s[2].b1.all;
    const dabchick_lanes b2_2 = s[2].b2.all;
    const dabchick_lanes a1_2 = s[2].a1.all;
    const dabchick_lanes a2_2 = s[2].a2.all;
    dabchick_lanes p_2 = s[2].p.all;
    dabchick_lanes q_2 = s[2].q.all;
    const dabchick_marks keep_2 = s[2].keep.all;
    const dabchick_marks zero_2 = ~keep_2 & sign; /* -0.0: what adds nothing, to the bit */
    const dabchick_marks none_2 = s[2].none.all;
    int i;

    for (i = 0; i < n; i++) {
        const dabchick_lanes x = io[i].all;
        const dabchick_lanes y_0 = b0_0 * x + p_0;
        p_0 = (dabchick_lanes)(((dabchick_marks)p_0 & keep_0) | zero_0) + ((q_0 + b1_0 * x) -
            a1_0 * y_0);
        p_0 = (dabchick_lanes)((dabchick_marks)p_0 | none_0);
        q_0 = ((dabchick_lanes)(((dabchick_marks)q_0 & keep_0) | zero_0) + b2_0 * x) - a2_0 * y_0;
        const dabchick_lanes y_1 = b0_1 * y_0 + p_1;
        p_1 = (dabchick_lanes)(((dabchick_marks)p_1 & keep_1) | zero_1) + ((q_1 + b1_1 * y_0) -
            a1_1 * y_1);
        p_1 = (dabchick_lanes)((dabchick_marks)p_1 | none_1);
        q_1 = ((dabchick_lanes)(((dabchick_marks)q_1 & keep_1) | zero_1) + b2_1 * y_0) - a2_1 * y_1;
        const dabchick_lanes y_2 = b0_2 * y_1 + p_2;
        p_2 = (dabchick_lanes)(((dabchick_marks)p_2 & keep_2) | zero_2) + ((q_2 + b1_2 * y_1) -
            a1_2 * y_2);
        p_2 = (dabchick_lanes)((dabchick_marks)p_2 | none_2);
        q_2 = ((dabchick_lanes)(((dabchick_marks)q_2 & keep_2) | zero_2) + b2_2 * y_1) - a2_2 * y_2;
        io[i].all = y_2;
    }
    s[0].p.all = p_0;
    s[0].q.all = q_0;
    s[1].p.all = p_1;
    s[1].q.all = q_1;
    s[2].p.all = p_2;
    s[2].q.all = q_2;
}

static DABCHICK_NOINLINE void dabchick_lanes_mixed_5(dabchick_lane_section *s, dabchick_lane_words *io, int n)
{
    DABCHICK_AS_WRITTEN
    const int32_t bit = INT32_MIN;
    const dabchick_marks sign = { bit, bit, bit, bit, bit, bit, bit, bit };
    const dabchick_lanes b0_0 = s[0].b0.all;
    const dabchick_lanes b1_0 = s[0].b1.all;
    const dabchick_lanes b2_0 = s[0].b2.all;
    const dabchick_lanes a1_0 = s[0].a1.all;
    const dabchick_lanes a2_0 = s[0].a2.all;
    dabchick_lanes p_0 = s[0].p.all;
    dabchick_lanes q_0 = s[0].q.all;
    const dabchick_marks keep_0 = s[0].keep.all;
    const dabchick_marks zero_0 = ~keep_0 & sign; /* -0.0: what adds nothing, to the bit */
    const dabchick_marks none_0 = s[0].none.all;
    const dabchick_lanes b0_1 = s[1].b0.all;
    const dabchick_lanes b1_1 = s[1].b1.all;
    const dabchick_lanes b2_1 = s[1].b2.all;
    const dabchick_lanes a1_1 = s[1].a1.all;
    const dabchick_lanes a2_1 = s[1].a2.all;
    dabchick_lanes p_1 = s[1].p.all;
    dabchick_lanes q_1 = s[1].q.all;
    const dabchick_marks keep_1 = s[1].keep.all;
    const dabchick_marks zero_1 = ~keep_1 & sign; /* -0.0: what adds nothing, to the bit */
    const dabchick_marks none_1 = s[1].none.all;
    const dabchick_lanes b0_2 = s[2].b0.all;
    const dabchick_lanes b1_2 = s[2].b1.all;
    const dabchick_lanes b2_2 = s[2].b2.all;
    const dabchick_lanes a1_2 = s[2].a1.all;
    const dabchick_lanes a2_2 = s[2].a2.all;
    dabchick_lanes p_2 = s[2].p.all;
    dabchick_lanes q_2 = s[2].q.all;
    const dabchick_marks keep_2 = s[2].keep.all;
    const dabchick_marks zero_2 = ~keep_2 & sign; /* -0.0: what adds nothing, to the bit */
    const dabchick_marks none_2 = s[2].none.all;
    const dabchick_lanes b0_3 = s[3].b0.all;
    const dabchick_lanes b1_3 = s[3].b1.all;
    const dabchick_lanes b2_3 = s[3].b2.all;
    const dabchick_lanes a1_3 = s[3].a1.all;
    const dabchick_lanes a2_3 = s[3].a2.all;
    dabchick_lanes p_3 = s[3].p.all;
    dabchick_lanes q_3 = s[3].q.all;
    const dabchick_marks keep_3 = s[3].keep.all;
    const dabchick_marks zero_3 = ~keep_3 & sign; /* -0.0: what adds nothing, to the bit */
    const dabchick_marks none_3 = s[3].none.all;
    const dabchick_lanes b0_4 = s[4].b0.all;
    const dabchick_lanes b1_4 = s[4].b1.all;
    const dabchick_lanes b2_4 = s[4].b2.all;
    const dabchick_lanes a1_4 = s[4].a1.all;
    const dabchick_lanes a2_4 = s[4].a2.all;
    dabchick_lanes p_4 = s[4].p.all;
    dabchick_lanes q_4 = s[4].q.all;
    const dabchick_marks keep_4 = s[4].keep.all;
    const dabchick_marks zero_4 = ~keep_4 & sign; /* -0.0: what adds nothing, to the bit */
    const dabchick_marks none_4 = s[4].none.all;
    int i;

    for (i = 0; i < n; i++) {
        const dabchick_lanes x = io[i].all;
        const dabchick_lanes y_0 = b0_0 * x + p_0;
        p_0 = (dabchick_lanes)(((dabchick_marks)p_0 & keep_0) | zero_0) + ((q_0 + b1_0 * x) -
            a1_0 * y_0);
        p_0 = (dabchick_lanes)((dabchick_marks)p_0 | none_0);
        q_0 = ((dabchick_lanes)(((dabchick_marks)q_0 & keep_0) | zero_0) + b2_0 * x) - a2_0 * y_0;
        const dabchick_lanes y_1 = b0_1 * y_0 + p_1;
        p_1 = (dabchick_lanes)(((dabchick_marks)p_1 & keep_1) | zero_1) + ((q_1 + b1_1 * y_0) -
            a1_1 * y_1);
        p_1 = (dabchick_lanes)((dabchick_marks)p_1 | none_1);
        q_1 = ((dabchick_lanes)(((dabchick_marks)q_1 & keep_1) | zero_1) + b2_1 * y_0) - a2_1 * y_1;
        const dabchick_lanes y_2 = b0_2 * y_1 + p_2;
        p_2 = (dabchick_lanes)(((dabchick_marks)p_2 & keep_2) | zero_2) + ((q_2 + b1_2 * y_1) -
            a1_2 * y_2);
        p_2 = (dabchick_lanes)((dabchick_marks)p_2 | none_2);
        q_2 = ((dabchick_lanes)(((dabchick_marks)q_2 & keep_2) | zero_2) + b2_2 * y_1) - a2_2 * y_2;
        const dabchick_lanes y_3 = b0_3 * y_2 + p_3;
        p_3 = (dabchick_lanes)(((dabchick_marks)p_3 & keep_3) | zero_3) + ((q_3 + b1_3 * y_2) -
            a1_3 * y_3);
        p_3 = (dabchick_lanes)((dabchick_marks)p_3 | none_3);
        q_3 = ((dabchick_lanes)(((dabchick_marks)q_3 & keep_3) | zero_3) + b2_3 * y_2) - a2_3 * y_3;
        const dabchick_lanes y_4 = b0_4 * y_3 + p_4;
        p_4 = (dabchick_lanes)(((dabchick_marks)p_4 & keep_4) | zero_4) + ((q_4 + b1_4 * y_3) -
            a1_4 * y_4);
        p_4 = (dabchick_lanes)((dabchick_marks)p_4 | none_4);
        q_4 = ((dabchick_lanes)(((dabchick_marks)q_4 & keep_4) | zero_4) + b2_4 * y_3) - a2_4 * y_4;
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
static void dabchick_lane_pass(dabchick_lane_section *s, int sections, unsigned int forms,
        dabchick_lane_words *io, int n)
{
    if (forms == 1u) {
        if (sections == 5) {
            dabchick_lanes_direct_5(s, io, n);
        } else {
            dabchick_lanes_direct_3(s, io, n);
        }
    } else if (forms == 2u) {
        if (sections == 5) {
            dabchick_lanes_delta_5(s, io, n);
        } else {
            dabchick_lanes_delta_3(s, io, n);
        }
    } else {
        if (sections == 5) {
            dabchick_lanes_mixed_5(s, io, n);
        } else {
            dabchick_lanes_mixed_3(s, io, n);
        }
    }
}

/* The sections of a list, one by one. */
static int dabchick_unfold(const dabchick_section_words *table, const uint16_t *list,
        dabchick_memory *m, dabchick_lane_entry *entry)
{
    unsigned int head = (unsigned int)*list >> DABCHICK_HEAD;
    int k = 0;

    while (head != 0u) {
        const unsigned int count = head >> 2;
        unsigned int j;

        for (j = 0u; j < count; j++) {
            entry[k].words = &table[(*list & DABCHICK_ROW) + j];
            entry[k].memory = &m[j];
            entry[k].keep = (head & 3u) == 1u ? 0 : -1;
            k++;
        }
        list++;
        m += count;
        head = (unsigned int)*list >> DABCHICK_HEAD;
    }
    return k;
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

/* How many sections a list has. */
static int dabchick_length(const uint16_t *list)
{
    unsigned int head = (unsigned int)*list >> DABCHICK_HEAD;
    int k = 0;

    while (head != 0u) {
        k += (int)(head >> 2);
        list++;
        head = (unsigned int)*list >> DABCHICK_HEAD;
    }
    return k;
}

/* 1 where the ways have so many sections that lanes are faster. */
static int dabchick_even(const dabchick_state *s)
{
    const dabchick_rate_entry *rate = &dabchick_rate_table[s->rate];
    const int groups = (DABCHICK_CHANNELS * DABCHICK_WAYS + DABCHICK_LANES - 1) / DABCHICK_LANES;
    int most = 0;
    int sum = 0;
    int c;
    int w;

    for (c = 0; c < DABCHICK_CHANNELS; c++) {
        for (w = 1; w <= DABCHICK_WAYS; w++) {
            const dabchick_cascade_entry *cascade = &rate->cascade[w];
            const int count = dabchick_length(&rate->lists[cascade->list])
                + dabchick_length(&s->channel[c].list[cascade->first + w]);

            most = count > most ? count : most;
            sum += count;
        }
    }
    return sum > DABCHICK_SAVING * most * groups ? 1 : 0;
}

/* What goes into lanes from on: x[i] of the channels' common parts. */
static void dabchick_lane_inputs(const dabchick_rate_entry *rate, int from,
        float (*common)[DABCHICK_LONG], dabchick_lane_words *x, int n)
{
    DABCHICK_AS_WRITTEN
    const int last = from + DABCHICK_LANES < DABCHICK_CHANNELS * DABCHICK_WAYS
        ? (from + DABCHICK_LANES - 1) / DABCHICK_WAYS : DABCHICK_CHANNELS - 1;
    dabchick_lane_words gains;
    int c;
    int l;
    int i;

    for (l = 0; l < DABCHICK_LANES; l++) {
        gains.one[l] = rate->cascade[1 + ((from + l) % DABCHICK_WAYS)].gain;
    }
    for (c = from / DABCHICK_WAYS; c <= last; c++) {
        const dabchick_lanes gain = gains.all;
        dabchick_lane_marks own; /* all ones in this channel's lanes */

        for (l = 0; l < DABCHICK_LANES; l++) {
            own.one[l] = (from + l) / DABCHICK_WAYS == c ? -1 : 0;
        }
        for (i = 0; i < n; i++) {
            const float now = common[c][i];
            const dabchick_lanes all = { now, now, now, now, now, now, now, now };
            const dabchick_lanes scaled = gain * all;
            dabchick_marks bits = (dabchick_marks)scaled & own.all;

            if (c > from / DABCHICK_WAYS) {
                bits |= (dabchick_marks)x[i].all;
            }
            x[i].all = (dabchick_lanes)bits;
        }
    }
}

/* What lanes from on run, and how many sections each has; what is not used does as the first. */
static int dabchick_lane_entries(dabchick_state *s, int from, int used,
        dabchick_lane_entry (*entry)[DABCHICK_POSITIONS], int *count)
{
    const dabchick_rate_entry *rate = &dabchick_rate_table[s->rate];
    int most = 0;
    int l;

    for (l = 0; l < DABCHICK_LANES; l++) {
        const int lane = l < used ? from + l : from;
        const int way = 1 + lane % DABCHICK_WAYS;
        const dabchick_cascade_entry *cascade = &rate->cascade[way];
        dabchick_channel_state *ch = &s->channel[lane / DABCHICK_WAYS];

        count[l] = dabchick_unfold(rate->sections, &rate->lists[cascade->list],
            &ch->now[cascade->from], entry[l]);
        count[l] += dabchick_unfold(rate->sections, &ch->list[cascade->first + way],
            &ch->now[cascade->split], &entry[l][count[l]]);
        most = count[l] > most ? count[l] : most;
    }
    return most;
}

/* The ways of lanes from on: in common[channel] -> out. */
static void dabchick_run_lanes(dabchick_state *s, int from, float (*common)[DABCHICK_LONG],
        float *const *out, int at, int n)
{
    static const dabchick_section_words straight = { 1.0f, 0.0f, 0.0f, 0.0f, 0.0f };
    dabchick_memory nothing = { -0.0f, -0.0f };
    const dabchick_lane_entry none = { &straight, &nothing, 0 };
    const dabchick_rate_entry *rate = &dabchick_rate_table[s->rate];
    const int all = DABCHICK_CHANNELS * DABCHICK_WAYS - from;
    const int used = all < DABCHICK_LANES ? all : DABCHICK_LANES;
    dabchick_lane_entry entry[DABCHICK_LANES][DABCHICK_POSITIONS];
    dabchick_lane_section section[5];
    dabchick_lane_words x[DABCHICK_LONG];
    int count[DABCHICK_LANES];
    const int most = dabchick_lane_entries(s, from, used, entry, count);
    int sections;
    int k;
    int l;
    int i;

    dabchick_lane_inputs(rate, from, common, x, n);
    for (k = 0; k < most; k += sections) {
        unsigned int forms = 0u;
        int j;

        sections = most - k > 3 && most - k != 6 ? 5 : 3;
        for (j = 0; j < sections; j++) {
            dabchick_lane_section *const v = &section[j];

            for (l = 0; l < DABCHICK_LANES; l++) {
                const dabchick_lane_entry *const e = k + j < count[l] ? &entry[l][k + j] : &none;

                v->b0.one[l] = e->words->b0;
                v->b1.one[l] = e->words->b1;
                v->b2.one[l] = e->words->b2;
                v->a1.one[l] = e->words->a1;
                v->a2.one[l] = e->words->a2;
                v->p.one[l] = e->memory->p;
                v->q.one[l] = e->memory->q;
                v->keep.one[l] = e->keep;
                v->none.one[l] = e == &none ? INT32_MIN : 0;
                forms |= e == &none ? 3u : e->keep == 0 ? 1u : 2u;
            }
        }
        dabchick_lane_pass(section, sections, forms, x, n);
        for (l = 0; l < used; l++) {
            for (j = 0; j < sections && k + j < count[l]; j++) {
                entry[l][k + j].memory->p = section[j].p.one[l];
                entry[l][k + j].memory->q = section[j].q.one[l];
            }
        }
    }
    for (l = 0; l < used; l++) {
        float *io = &out[from + l][at];

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
static void dabchick_run_calm(dabchick_state *s, const float *const *in,
        float *const *out, int at, int n)
{
    const dabchick_rate_entry *rate = &dabchick_rate_table[s->rate];
    float common[DABCHICK_CHANNELS][DABCHICK_LONG];
    int good[DABCHICK_CHANNELS];
    int least = n;
    int c;

    for (c = 0; c < DABCHICK_CHANNELS; c++) {
        good[c] = dabchick_run_common(rate, &s->channel[c], &in[c][at], common[c], n);
        least = good[c] < least ? good[c] : least;
    }
    if (least < n) { /* garbage */
        for (c = 0; c < DABCHICK_CHANNELS; c++) {
            dabchick_run_ways(rate, &s->channel[c], common[c], good[c],
                &out[c * DABCHICK_WAYS], at, n);
        }
        return;
    }
    for (c = 0; c < DABCHICK_CHANNELS * DABCHICK_WAYS; c += DABCHICK_LANES) {
        dabchick_run_lanes(s, c, common, out, at, n);
    }
}
#endif

/* ---- what happens at ticks ------------------------------------------------------------ */

/* The lists of all cascades. */
static DABCHICK_COLD void dabchick_make_lists(const dabchick_rate_entry *rate, dabchick_channel_state *ch)
{
    int c;

    for (c = 0; c <= DABCHICK_WAYS; c++) {
        dabchick_make_list(rate, ch, c, &ch->list[rate->cascade[c].first + c]);
    }
}

/* Settings at a tick: a change that is over is what runs, and one that is asked for begins. */
static void dabchick_change_settings(const dabchick_rate_entry *rate, dabchick_channel_state *ch,
        const volatile unsigned char *asked)
{
    int k;

    if (ch->change == rate->settle + rate->fade) {
        int c;

        for (c = 0; c <= DABCHICK_WAYS; c++) {
            const dabchick_cascade_entry *cascade = &rate->cascade[c];

            for (k = cascade->first; k < cascade->end; k++) {
                ch->now[cascade->split + k - cascade->first] = ch->then[k];
            }
        }
        dabchick_make_lists(rate, ch);
        ch->change = -1;
    }
    if (ch->change < 0) {
        int differ = 0;

        for (k = 0; k < DABCHICK_SETTINGS; k++) {
            const unsigned char wanted = asked[k];

            if (wanted != ch->chosen[k]) {
                ch->chosen[k] = wanted;
                differ = 1;
            }
        }
        if (ch->fresh != 0u) {
            dabchick_make_lists(rate, ch);
        } else if (differ != 0) {
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

    for (k = 0; k < sections; k++) {
        if (m[k].p < 7.888609e-31f && m[k].p > -7.888609e-31f
                && m[k].q < 7.888609e-31f && m[k].q > -7.888609e-31f) {
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
    dabchick_change_settings(rate, ch, asked);
    ch->fresh = 0u;
    if (ch->open == 0) {
        ch->step = asked[DABCHICK_MUTE] != 0u ? 0 : 1;
    } else if (ch->open == fade) {
        ch->step = asked[DABCHICK_MUTE] != 0u ? -1 : 0;
    } else {
        /* a fade goes on to its end */
    }
    ch->calm = ch->open == fade && ch->step == 0 && ch->dead == 0u && ch->change < 0 ? 1u : 0u;
}

/* What is due of all channels. */
static DABCHICK_COLD void dabchick_tick(dabchick_state *s)
{
    int c;

    for (c = 0; c < DABCHICK_CHANNELS; c++) {
        dabchick_channel_state *ch = &s->channel[c];

        dabchick_tick_channel(&dabchick_rate_table[s->rate], ch, s->asked[c]);
        if (s->count == 0u) {
            dabchick_rest(ch->now, DABCHICK_POSITIONS);
            dabchick_rest(ch->then, DABCHICK_THEN);
        }
    }
}

/* Of n samples those before the next tick; what is due before them is done. */
static int dabchick_begin(dabchick_state *s, int n)
{
    const uint32_t into = s->count % DABCHICK_TICK;
    const int left = (int)(DABCHICK_TICK - into);

    if (into == 0u) {
        dabchick_tick(s);
    }
    return n < left ? n : left;
}

/* ---- the interface -------------------------------------------------------------------- */

/* 1 for a state that init did not leave behind. */
static DABCHICK_NOINLINE int dabchick_refuse(const dabchick_state *s)
{
    return s->ready != DABCHICK_READY || s->check != DABCHICK_CHECK || s->rate < 0
            || s->rate >= DABCHICK_RATES ? 1 : 0;
}

/* 1 also for a channel that does not exist. */
static DABCHICK_COLD int dabchick_refuse_channel(const dabchick_state *s, int channel)
{
    return channel < 0 || channel >= DABCHICK_CHANNELS ? 1 : dabchick_refuse(s);
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
static void dabchick_silence_all(dabchick_state *s)
{
    int c;

    for (c = 0; c < DABCHICK_CHANNELS; c++) {
        dabchick_silence(&s->channel[c]);
    }
    s->count = 0u;
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
    return dabchick_refuse(s) != 0 ? 1 : dabchick_start(s, rate_hz);
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
    if (dabchick_refuse(s) == 0) {
        dabchick_silence_all(s);
    }
}

int dabchick_reset_channel(dabchick_state *s, int channel)
{
    if (dabchick_refuse_channel(s, channel) != 0) {
        return 1;
    }
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

/* Samples side by side, in the words of the filters or of 32 bits, and a channel's own. */
typedef struct {
    const float *in;
    float *out;
    const int32_t *in32; /* where there is no in */
    int32_t *out32;
    float from[DABCHICK_TICK];
    float to[DABCHICK_WAYS][DABCHICK_TICK];
} dabchick_frames;

/* Takes n samples of a channel from frames: of all channels', from number k on. */
static void dabchick_take(dabchick_frames *f, int k, int n)
{
    int i;

    for (i = 0; i < n; i++) {
        f->from[i] = f->in != NULL ? f->in[k] : dabchick_from_int32(f->in32[k]);
        k += DABCHICK_CHANNELS;
    }
}

/* Gives those of its ways back: the first of all channels' is number k. */
static void dabchick_give(const dabchick_frames *f, int k, int n)
{
    int i;
    int w;

    for (i = 0; i < n; i++) {
        for (w = 0; w < DABCHICK_WAYS; w++) {
            if (f->out != NULL) {
                f->out[k + w] = f->to[w][i];
            } else {
                f->out32[k + w] = dabchick_to_int32(f->to[w][i]);
            }
        }
        k += DABCHICK_CHANNELS * DABCHICK_WAYS;
    }
}

/* n samples of all channels: in -> out. Where there are frames, these are where their samples stand
 * meanwhile. */
static DABCHICK_NOINLINE int dabchick_run_all(dabchick_state *s, const float *const *in,
        float *const *out, dabchick_frames *f, int n)
{
    const dabchick_rate_entry *rate;
    int done = 0;

    if (n < 0 || dabchick_refuse(s) != 0) {
        return 1;
    }
    rate = &dabchick_rate_table[s->rate];
    while (done < n) {
        int chunk = dabchick_begin(s, n - done);
        int c;
#ifdef DABCHICK_LANES
        if (f == NULL && chunk >= DABCHICK_SHORT && dabchick_calm(s) != 0 && dabchick_even(s) != 0) {
            if (s->count % DABCHICK_TICK == 0u) { /* nothing is asked for, so that it may go on */
                const int left = (int)(DABCHICK_REST - s->count);

                chunk = left < DABCHICK_LONG ? left : DABCHICK_LONG;
                chunk = n - done < chunk ? n - done : chunk;
            }
            dabchick_run_calm(s, in, out, done, chunk);
            s->count = (s->count + (uint32_t)chunk) % DABCHICK_REST;
            done += chunk;
            continue;
        }
#endif
        for (c = 0; c < DABCHICK_CHANNELS; c++) {
            const int at = f == NULL ? done : 0;
            const int k = (done * DABCHICK_CHANNELS) + c;

            if (f != NULL) {
                dabchick_take(f, k, chunk);
            }
            dabchick_step_or_block(rate, &s->channel[c], &in[c][at], &out[c * DABCHICK_WAYS], at, chunk);
            if (f != NULL) {
                dabchick_give(f, k * DABCHICK_WAYS, chunk);
            }
        }
        s->count = (s->count + (uint32_t)chunk) % DABCHICK_REST;
        done += chunk;
    }
    return 0;
}

int dabchick_run(dabchick_state *s, const float *const *in, float *const *out, int n)
{
    return dabchick_run_all(s, in, out, NULL, n);
}

/* n frames. */
static DABCHICK_NOINLINE int dabchick_run_side_by_side(dabchick_state *s, dabchick_frames *f, int n)
{
    const float *in[DABCHICK_CHANNELS];
    float *out[DABCHICK_CHANNELS * DABCHICK_WAYS];
    int c;
    int w;

    for (c = 0; c < DABCHICK_CHANNELS; c++) {
        in[c] = f->from;
        for (w = 0; w < DABCHICK_WAYS; w++) {
            out[(c * DABCHICK_WAYS) + w] = f->to[w];
        }
    }
    return dabchick_run_all(s, in, out, f, n);
}

int dabchick_run_frames(dabchick_state *s, const float *in, float *out, int n)
{
    dabchick_frames f;

    f.in = in;
    f.out = out;
    f.in32 = NULL;
    f.out32 = NULL;
    return dabchick_run_side_by_side(s, &f, n);
}

int dabchick_run_frames_int32(dabchick_state *s, const int32_t *in, int32_t *out, int n)
{
    dabchick_frames f;

    f.in = NULL;
    f.out = NULL;
    f.in32 = in;
    f.out32 = out;
    return dabchick_run_side_by_side(s, &f, n);
}

#undef DABCHICK_AS_WRITTEN
#if defined __GNUC__ && !defined __clang__
#pragma GCC pop_options
#endif
