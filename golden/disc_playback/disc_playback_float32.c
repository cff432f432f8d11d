/*
 * disc_playback_float32.c: the loudspeaker filters of "disc_playback", tables and code
 * Spec SHA-256 ada0beb2583a954f69231574905413e5c83c45d1e6628a9c1fd53094bc33ef57
 *
 * Compile this file with the program; disc_playback_float32.h tells all about it.
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
#include "disc_playback_float32.h"

#include <float.h>
#include <string.h>

/* (FLT_RADIX stands in float.h. A program that looks through this file without it goes on.) */
#if defined FLT_RADIX && (FLT_RADIX != 2 || FLT_MANT_DIG != 24)
#error "disc_playback: float must be an IEEE 754 number of 32 bits here"
#endif
#if defined FLT_RADIX && (FLT_EVAL_METHOD != 0 && FLT_EVAL_METHOD != 16)
#error "disc_playback: float must be computed as float; on a 32-bit x86 use -msse2 -mfpmath=sse"
#endif
#if defined __FAST_MATH__ || defined __ASSOCIATIVE_MATH__
#error "disc_playback: compile without -ffast-math, -funsafe-math-optimizations, -fassociative-math"
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
#define DISC_PLAYBACK_AS_WRITTEN
#elif defined __clang__ && __clang_major__ >= 13
#define DISC_PLAYBACK_AS_WRITTEN _Pragma("clang fp contract(off) reassociate(off)")
#else
#define DISC_PLAYBACK_AS_WRITTEN _Pragma("STDC FP_CONTRACT OFF")
#endif

/* To run at fewer rates, define DISC_PLAYBACK_ONLY_ with the rate for each that shall stay. */
#if !(defined DISC_PLAYBACK_ONLY_44100 || defined DISC_PLAYBACK_ONLY_48000 || defined DISC_PLAYBACK_ONLY_96000)
#define DISC_PLAYBACK_ONLY_44100
#define DISC_PLAYBACK_ONLY_48000
#define DISC_PLAYBACK_ONLY_96000
#endif

/* Single samples have code of their own, which DISC_PLAYBACK_NO_SINGLES leaves out: they are
 * blocks of one then. */

/* Loops stand in functions of their own. What runs rarely is compiled for size, and so is what runs
 * once a block and not in lanes: but not what alone calls the loops, rare to gcc then. */
#if defined __GNUC__
#define DISC_PLAYBACK_NOINLINE __attribute__((noinline))
#define DISC_PLAYBACK_COLD __attribute__((noinline, cold))
#define DISC_PLAYBACK_INLINE inline __attribute__((always_inline)) /* at -Os, too */
#else
#define DISC_PLAYBACK_NOINLINE
#define DISC_PLAYBACK_COLD
#define DISC_PLAYBACK_INLINE inline
#endif
#if defined __GNUC__ && (defined __SSE2__ || defined __aarch64__) && !defined DISC_PLAYBACK_NO_LANES
#define DISC_PLAYBACK_SMALL DISC_PLAYBACK_NOINLINE
#else
#define DISC_PLAYBACK_SMALL DISC_PLAYBACK_COLD
#endif
#ifdef DISC_PLAYBACK_NO_SINGLES
#define DISC_PLAYBACK_BLOCKS DISC_PLAYBACK_NOINLINE
#else
#define DISC_PLAYBACK_BLOCKS DISC_PLAYBACK_SMALL
#endif

#define DISC_PLAYBACK_READY 0xa678fa39u /* of this spec in this format */
#define DISC_PLAYBACK_CHECK 0x5462ff76u
#define DISC_PLAYBACK_TICK 32u /* samples between two looks at what is asked for */
#define DISC_PLAYBACK_REST 128u /* and between two looks for sections that have come to rest */
/* disc_playback_bits without the sign, << 1, of what is no sample. */
#define DISC_PLAYBACK_GARBAGE 0xbf000000u
#if defined __GNUC__ && defined __arm__ && defined __ARM_FP
#define DISC_PLAYBACK_SEVERAL /* registers that lie beside each other are moved in one instruction */
#endif

/* Words of a list, one a pass: where the row of its first section begins, which those of the others
 * follow, their kind (1 direct, 2 delta without b1 and b2, 3 delta)
 * and how many they are; 0 is the end. */
#define DISC_PLAYBACK_ROW 0x7ffu
#define DISC_PLAYBACK_HEAD 11 /* bits below */
#define DISC_PLAYBACK_ONE_MORE (1u << 13)
#define DISC_PLAYBACK_FULL 0x6000u /* from there on a pass takes no more */
#define DISC_PLAYBACK_NONE 255u /* the alternative that changes nothing and has no row */

/* ---- tables --------------------------------------------------------------------------- */

#ifndef DISC_PLAYBACK_NO_SINGLES
/* What a single sample finds in a row of the table of sections. */
typedef struct {
    float b0;
    float b1;
    float b2;
    float a1;
    float a2;
} disc_playback_section_words;
#endif

typedef struct {
    unsigned char word; /* among the lists: that for its first alternative */
    unsigned char pick; /* of disc_playback_pick_table: the alternative of every combination */
    unsigned char stride[DISC_PLAYBACK_SETTINGS]; /* of each setting's choices */
} disc_playback_switch_entry;

typedef struct {
    float gain; /* with the polarity as sign */
    int8_t list; /* where the list of what always runs begins */
    int8_t from; /* the memory of that */
    int8_t split; /* of what settings pick, behind that of all that always runs */
    int8_t first; /* the first position of that */
    int8_t end; /* behind the last; what runs beside has memory from first on */
#ifndef DISC_PLAYBACK_NO_SINGLES
    uint16_t forms; /* of what always runs, 2 bits a section, the first in the highest */
#endif
} disc_playback_cascade_entry;

typedef struct {
    uint32_t rate_hz;
    const float *sections; /* rows of words */
    const uint16_t *lists; /* words for what settings pick, then the lists of what always runs */
    int16_t settle; /* samples that new sections run unheard */
    int16_t fade; /* samples of a fade */
    float step; /* 1 / fade */
    disc_playback_cascade_entry cascade[1 + DISC_PLAYBACK_WAYS]; /* common, then the ways */
} disc_playback_rate_entry;

static const unsigned char disc_playback_pick_table[2] = {
    255u, 0u
};

/* Which of the switches below each position is that settings change, at every rate. */
static const unsigned char disc_playback_position_table[1] = {
    0u
};
static const disc_playback_switch_entry disc_playback_switch_table[1] = {
    { 0u, 0u, { 1u } }
};

/* b0, b1, b2, a1, a2 of every section. Above each:
 * - rate, way and number;
 * - the line of the spec, and the frequency and Q that its poles ring at (those of a shelf lie
 *   beside the line's own). Lines of one way that are made together share their zeros: there it
 *   is the line whose poles these are, and the way where no line has them;
 * - form, and computed error in this format re the section's greatest gain. */
#ifdef DISC_PLAYBACK_ONLY_44100
static const float disc_playback_sections_44100[15] = {
    /* 44100 Hz, played 0: ways.played.filters[0] roots, poles at 2.123 kHz and 50.06 Hz; delta, */
    /* -131 dB */
    0.027365217f, 0.030880237f, 0.0019962825f, 0.26815274f, 0.0018551982f,
    /* 44100 Hz, played 1: ways.played, poles at half the rate; direct, -139 dB */
    8.443638f, 8.70955f, 1.9809726f, 0.91463906f, 0.16567874f,
    /* 44100 Hz, played 2: by choice; delta, -129 dB */
    /* amendment with: ways.played.filters[1] roots, poles at half the rate and 20.02 Hz */
    0.99857527f, 1.044116f, 0.0f, 1.048454f, 0.0029781256f
    /* amendment without: straight through */
};
static const uint16_t disc_playback_lists_44100[5] = {
    14346u, 0u, 14336u, 10245u, 0u
};
#endif

#ifdef DISC_PLAYBACK_ONLY_48000
static const float disc_playback_sections_48000[15] = {
    /* 48000 Hz, played 0: ways.played.filters[0] roots, poles at 2.122 kHz and 50.05 Hz; delta, */
    /* -131 dB */
    0.025663238f, 0.0285041f, 0.001704442f, 0.24908836f, 0.0015839477f,
    /* 48000 Hz, played 1: ways.played, poles at half the rate; direct, -138 dB */
    8.35414f, 7.4429793f, 1.4185193f, 0.76342225f, 0.10820985f,
    /* 48000 Hz, played 2: by choice; delta, -129 dB */
    /* amendment with: ways.played.filters[1] roots, poles at half the rate and 20.02 Hz */
    0.9986909f, 0.9986909f, 0.0f, 1.0026171f, 0.0026171142f
    /* amendment without: straight through */
};
static const uint16_t disc_playback_lists_48000[5] = {
    14346u, 0u, 14336u, 10245u, 0u
};
#endif

#ifdef DISC_PLAYBACK_ONLY_96000
static const float disc_playback_sections_96000[10] = {
    /* 96000 Hz, played 0: ways.played.filters[0] roots, poles at 2.129 kHz and 50.15 Hz; delta, */
    /* -128 dB */
    0.117073454f, 0.1342204f, 0.0042153713f, 0.13336505f, 0.0004262586f,
    /* 96000 Hz, played 1: by choice; delta, -126 dB */
    /* amendment with: ways.played.filters[1] roots, poles at 271.1 kHz and 20.02 Hz */
    0.9993452f, 0.9993451f, 0.0f, 1.0013094f, 0.0013094145f
    /* amendment without: straight through */
};
static const uint16_t disc_playback_lists_96000[4] = {
    14341u, 0u, 14336u, 0u
};
#endif

#ifdef DISC_PLAYBACK_NO_SINGLES
#define DISC_PLAYBACK_FORMS(forms)
#else
#define DISC_PLAYBACK_FORMS(forms) , (forms)
#endif

static const disc_playback_rate_entry disc_playback_rate_table[] = {
#ifdef DISC_PLAYBACK_ONLY_44100
    { 44100u, disc_playback_sections_44100, disc_playback_lists_44100, 7200, 448, 0.002232143f, {
        { 0.1f, 1, 0, 2, 0, 0 DISC_PLAYBACK_FORMS(0x0000u) }, /* common */
        { 1.0f, 2, 0, 2, 0, 1 DISC_PLAYBACK_FORMS(0xd000u) } /* played */
    } },
#endif
#ifdef DISC_PLAYBACK_ONLY_48000
    { 48000u, disc_playback_sections_48000, disc_playback_lists_48000, 7840, 480, 0.0020833334f, {
        { 0.1f, 1, 0, 2, 0, 0 DISC_PLAYBACK_FORMS(0x0000u) }, /* common */
        { 1.0f, 2, 0, 2, 0, 1 DISC_PLAYBACK_FORMS(0xd000u) } /* played */
    } },
#endif
#ifdef DISC_PLAYBACK_ONLY_96000
    { 96000u, disc_playback_sections_96000, disc_playback_lists_96000, 15648, 960, 0.0010416667f, {
        { 0.1f, 1, 0, 1, 0, 0 DISC_PLAYBACK_FORMS(0x0000u) }, /* common */
        { 1.0f, 2, 0, 1, 0, 1 DISC_PLAYBACK_FORMS(0xc000u) } /* played */
    } },
#endif
};

#define DISC_PLAYBACK_RATES ((int32_t)(sizeof disc_playback_rate_table / sizeof disc_playback_rate_table[0]))

const char disc_playback_amendment_names[DISC_PLAYBACK_AMENDMENT_CHOICES][8] = {
    "without",
    "with"
};

/* ---- filters -------------------------------------------------------------------------- */

/* The bits of x: without the sign they grow with its size. */
static inline uint32_t disc_playback_bits(float x)
{
    uint32_t bits;

    (void)memcpy(&bits, &x, sizeof bits);
    return bits;
}

/* A sample of 32 bits, -2^31 to 2^31 - 1, re full scale. */
static inline float disc_playback_from_int32(int32_t x)
{
    return (float)x * (float)(1.0 / 2147483648.0);
}

/* The nearest sample of 32 bits, limited to what there is. */
static inline int32_t disc_playback_to_int32(float x)
{
    const float scaled = x * (float)2147483648.0;
    const float above = scaled > (float)-2147483648.0 ? scaled : (float)-2147483648.0;
    const float inside = above < (float)2147483647.0 ? above : (float)0;
    const int32_t whole = (int32_t)inside;
    const float rest = inside - (float)whole;
    const int32_t near = whole + (int32_t)(rest + rest); /* 1 from a half on */

    return above < (float)2147483647.0 ? near : INT32_MAX;
}

#ifdef DISC_PLAYBACK_SEVERAL
/* Words of the table, and what sections remember, go into registers beside each other, and back,
 * in one instruction; nothing is computed there. */
static DISC_PLAYBACK_INLINE void disc_playback_first(const float **from, float *to)
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

static DISC_PLAYBACK_INLINE void disc_playback_first_states(const disc_playback_memory *m, disc_playback_memory *is)
{
    register float p_0 __asm__("s6");
    register float q_0 __asm__("s7");

    __asm__("vldmia %2, {s6-s7}"
            : "=t"(p_0), "=t"(q_0)
            : "r"(m), "m"(m[0]));
    is[0].p = p_0;
    is[0].q = q_0;
}

static DISC_PLAYBACK_INLINE void disc_playback_keep_first(disc_playback_memory *m, const disc_playback_memory *is)
{
    register float p_0 __asm__("s6");
    register float q_0 __asm__("s7");

    p_0 = is[0].p;
    q_0 = is[0].q;
    __asm__("vstmia %1, {s6-s7}"
            : "=m"(m[0])
            : "r"(m), "t"(p_0), "t"(q_0));
}
#endif

/* gain times n samples, and the sections of a list over them: from -> to, which may be the same.
 * Each pass takes samples through up to 1 sections of one form; between them everything is
 * in registers. Those that begin no list have no gain; an empty list is the gain alone. n is not 0.
 * What returns is where the next list begins. */
static DISC_PLAYBACK_NOINLINE const uint16_t * disc_playback_run_list(const float *table,
        const uint16_t *list, disc_playback_memory *m, float gain, const float *from, float *to, int n)
{
    DISC_PLAYBACK_AS_WRITTEN
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
        const float *w = &table[word & DISC_PLAYBACK_ROW];
        const unsigned int head = word >> DISC_PLAYBACK_HEAD;
        float *at = to;
#ifdef DISC_PLAYBACK_SEVERAL
        float first[5];
        disc_playback_memory is;

        disc_playback_first(&w, first);
        disc_playback_first_states(m, &is);
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
        case 5u: { /* direct, 1 */
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
        default:
            /* there are no others */
            break;
        }
#ifdef DISC_PLAYBACK_SEVERAL
        is.p = p_0;
        is.q = q_0;
        disc_playback_keep_first(m, &is);
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
static DISC_PLAYBACK_COLD void disc_playback_fade(float *io, const float *other, float step,
        int32_t from, int32_t way, int n)
{
    DISC_PLAYBACK_AS_WRITTEN
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
static DISC_PLAYBACK_COLD uint16_t *disc_playback_make_list(const disc_playback_rate_entry *rate,
        const disc_playback_channel_state *ch, int c, uint16_t *list)
{
    const disc_playback_cascade_entry *cascade = &rate->cascade[c];
    uint16_t *next = list;
    unsigned int follows = 0u; /* the word of the row behind the last one, of the same form */
    int k;
    int i;

    for (k = cascade->first; k < cascade->end; k++) {
        const disc_playback_switch_entry *choices = &disc_playback_switch_table[disc_playback_position_table[k]];
        unsigned int pick = choices->pick;
        unsigned int alternative;

        for (i = 0; i < DISC_PLAYBACK_SETTINGS; i++) {
            pick += (unsigned int)choices->stride[i] * ch->chosen[i];
        }
        alternative = disc_playback_pick_table[pick];
        if (alternative != DISC_PLAYBACK_NONE) {
            const unsigned int word = rate->lists[choices->word + alternative];

            if (word == follows && next != list && next[-1] < DISC_PLAYBACK_FULL) { /* one more */
                next[-1] = (uint16_t)(next[-1] + DISC_PLAYBACK_ONE_MORE);
            } else {
                *next = (uint16_t)word;
                next++;
            }
            follows = word + 5u;
        }
    }
    *next = 0u;
    return next + 1;
}

/* What cascade c goes over to while a setting changes, over n samples: io, behind what always
 * runs, -> beside. */
static DISC_PLAYBACK_COLD void disc_playback_run_beside(const disc_playback_rate_entry *rate,
        disc_playback_channel_state *ch, int c, const float *io, float *beside, int n)
{
    const disc_playback_cascade_entry *cascade = &rate->cascade[c];
    uint16_t list[DISC_PLAYBACK_SWITCHES + 1];
    (void)disc_playback_make_list(rate, ch, c, list);
    (void)disc_playback_run_list(rate->sections, list, &ch->then[cascade->first],
        1.0f, io, beside, n);
}

/* Gain and sections of cascade c over n samples, from -> io. What returns is where
 * the list of what settings pick begins of the next one. */
static inline const uint16_t * disc_playback_run_cascade(const disc_playback_rate_entry *rate,
        disc_playback_channel_state *ch, int c, const uint16_t *picked,
        const float *from, float *io, float *beside, int n)
{
    const disc_playback_cascade_entry *cascade = &rate->cascade[c];

    (void)disc_playback_run_list(rate->sections, &rate->lists[cascade->list], &ch->now[cascade->from],
        cascade->gain, from, io, n);
    if (ch->change >= 0 && cascade->end > cascade->first) {
        disc_playback_run_beside(rate, ch, c, io, beside, n);
    }
    return *picked == 0u ? picked + 1
        : disc_playback_run_list(rate->sections, picked, &ch->now[cascade->split],
            1.0f, io, io, n);
}

/* The common part over n samples of one channel: in[i] -> now[i].
 * What returns are the samples before garbage. */
static int disc_playback_run_common(const disc_playback_rate_entry *rate, disc_playback_channel_state *ch,
        const float *in, float *now, int n)
{
    DISC_PLAYBACK_AS_WRITTEN
    const float gain = rate->cascade[0].gain;
    uint32_t sizes = 0u;
    int good = n;
    int i;

    if (ch->fresh != 0u || ch->dead != 0u) {
        good = 0;
    }
    for (i = 0; i < good; i++) {
        sizes |= disc_playback_bits(in[i]);
        float x = in[i];
        now[i] = gain * x;
    }
    if ((sizes << 1) >= DISC_PLAYBACK_GARBAGE) { /* perhaps */
        good = 0;
        while (good < n && (disc_playback_bits(in[good]) << 1) < DISC_PLAYBACK_GARBAGE) {
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
static DISC_PLAYBACK_COLD void disc_playback_shade(const disc_playback_rate_entry *rate,
        const disc_playback_channel_state *ch, const disc_playback_cascade_entry *cascade,
        float *io, const float *beside, int good, int n)
{
    int heard = good;
    int i;
    if (ch->change >= rate->settle && cascade->end > cascade->first) {
        disc_playback_fade(io, beside, rate->step, ch->change - rate->settle, 1, good);
    }
    if (ch->step != 0) {
        disc_playback_fade(io, NULL, rate->step, ch->open, ch->step, good);
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
static void disc_playback_run_ways(const disc_playback_rate_entry *rate, disc_playback_channel_state *ch,
        const float *now, int good, float *const *out, int at, int n)
{
    float beside[DISC_PLAYBACK_TICK];
    const uint16_t *picked = &ch->list[1]; /* behind that of the common part, which is empty */
    int c;

    for (c = 1; c <= DISC_PLAYBACK_WAYS; c++) {
        float *io = &out[c - 1][at];

        if (good > 0) {
            picked = disc_playback_run_cascade(rate, ch, c, picked, now, io, beside, good);
        }
        if (ch->calm == 0u) {
            disc_playback_shade(rate, ch, &rate->cascade[c], io, beside, good, n);
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
static DISC_PLAYBACK_NOINLINE void disc_playback_run_block(const disc_playback_rate_entry *rate, disc_playback_channel_state *ch,
        const float *in, float *const *out, int at, int n)
{
    float now[DISC_PLAYBACK_TICK];
    int good;
    good = disc_playback_run_common(rate, ch, in, now, n);
    disc_playback_run_ways(rate, ch, now, good, out, at, n);
}

#ifndef DISC_PLAYBACK_NO_SINGLES

/* Where there is DISC_PLAYBACK_SEVERAL, words go from memory into registers beside each other, and back,
 * in one instruction; nothing is computed there. */
/* The words of a row, and the next row is next. */
static DISC_PLAYBACK_INLINE void disc_playback_row_5(const float **w, disc_playback_section_words *row)
{
#ifdef DISC_PLAYBACK_SEVERAL
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
static inline disc_playback_memory disc_playback_load_0(const disc_playback_memory *m)
{
#ifdef DISC_PLAYBACK_SEVERAL
    register float p __asm__("s2");
    register float q __asm__("s3");
    disc_playback_memory is;

    __asm__("vldmia %2, {s2-s3}" : "=t"(p), "=t"(q) : "r"(m), "m"(*m));
    is.p = p;
    is.q = q;
    return is;
#else
    return *m;
#endif
}

/* What it shall remember, and the next section is next. */
static inline void disc_playback_keep_0(disc_playback_memory **m, disc_playback_memory is)
{
#ifdef DISC_PLAYBACK_SEVERAL
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
static inline disc_playback_memory disc_playback_load_1(const disc_playback_memory *m)
{
#ifdef DISC_PLAYBACK_SEVERAL
    register float p __asm__("s4");
    register float q __asm__("s5");
    disc_playback_memory is;

    __asm__("vldmia %2, {s4-s5}" : "=t"(p), "=t"(q) : "r"(m), "m"(*m));
    is.p = p;
    is.q = q;
    return is;
#else
    return *m;
#endif
}

/* What it shall remember, and the next section is next. */
static inline void disc_playback_keep_1(disc_playback_memory **m, disc_playback_memory is)
{
#ifdef DISC_PLAYBACK_SEVERAL
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
static DISC_PLAYBACK_COLD const float *disc_playback_row_at(const disc_playback_rate_entry *rate,
        unsigned int row)
{
    return &rate->sections[row];
}

/* One sample of two channels that are calm and alike: x -> out[way][0].
 * What always runs of all cascades stands in the order in which it runs, rows as well as memory. */
static inline void disc_playback_step(const disc_playback_rate_entry *rate,
        disc_playback_channel_state *ch_0, disc_playback_channel_state *ch_1, float x_0, float x_1,
        float *const *out_0, float *const *out_1)
{
    DISC_PLAYBACK_AS_WRITTEN
    const disc_playback_cascade_entry *cascade = &rate->cascade[0];
    const disc_playback_cascade_entry *stop = &rate->cascade[DISC_PLAYBACK_WAYS];
    const float *w = rate->sections;
    disc_playback_memory *m_0 = ch_0->now;
    disc_playback_memory *m_1 = ch_1->now;
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
                    disc_playback_section_words row;
                    disc_playback_memory is_0 = disc_playback_load_0(m_0);
                    disc_playback_memory is_1 = disc_playback_load_1(m_1);

                    disc_playback_row_5(&w, &row);
                    if (forms >= 0xc0000000u) { /* delta */
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
                    } else { /* direct */
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
                    disc_playback_keep_0(&m_0, is_0);
                    disc_playback_keep_1(&m_1, is_1);
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
            w = disc_playback_row_at(rate, word & DISC_PLAYBACK_ROW);
            forms = ((word >> DISC_PLAYBACK_HEAD & 3u) * 0x55555555u) << (32u - ((word >> 13) * 2u));
            some = 1u;
        }
        *to_0 = x_0;
        *to_1 = x_1;
        if (cascade == stop) {
            stop = &rate->cascade[DISC_PLAYBACK_WAYS];
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
typedef struct disc_playback_frames disc_playback_frames;
struct disc_playback_frames {
    const float *in;
    float *out;
    const int32_t *in32; /* where they are wide */
    int32_t *out32;
    int wide;
#ifndef DISC_PLAYBACK_NO_SINGLES
    disc_playback_state *s;
#endif
    /* Takes samples through their filters: by a pointer, so that programs without frames are
     * linked without it. */
    int (*through)(disc_playback_frames *f, const disc_playback_rate_entry *rate,
        disc_playback_channel_state *ch, int k, int n, int apart);
    const float *ins[DISC_PLAYBACK_CHANNELS];
    float *outs[DISC_PLAYBACK_CHANNELS * DISC_PLAYBACK_WAYS];
    float from[DISC_PLAYBACK_TICK];
    float to[DISC_PLAYBACK_WAYS][DISC_PLAYBACK_TICK];
};
/* ---- lanes ---------------------------------------------------------------------------- */

/* Where the compiler has vectors, the ways of all channels go through their sections side by side;
 * those that have no more go through sections that change nothing, to the bit. The same operations
 * in the same order give the same bits. Words and states of the ways stand in lanes of the state as
 * long as no channel fades, so that a single sample costs nothing to get there; what the channels
 * themselves remember of their ways is out of date then. */
#if defined __GNUC__ && (defined __SSE2__ || defined __aarch64__) && !defined DISC_PLAYBACK_NO_LANES
#define DISC_PLAYBACK_LANES 4 /* in a vector */
#define DISC_PLAYBACK_GROUPS 1 /* vectors that hold all lanes */
#define DISC_PLAYBACK_DEEP 5 /* sections of a lane, with those that a last pass has too many */
#define DISC_PLAYBACK_LONG 64 /* the most samples at once */
#define DISC_PLAYBACK_SAVING 3 /* half sections that one of all lanes has to stand for */

/* So that the loops over n samples are ones over one sample elsewhere. */
#define DISC_PLAYBACK_ALWAYS __attribute__((always_inline))

typedef float disc_playback_lanes __attribute__((vector_size(16)));
typedef int32_t disc_playback_marks __attribute__((vector_size(16)));
typedef float disc_playback_short __attribute__((vector_size(16)));
typedef int32_t disc_playback_short_marks __attribute__((vector_size(16)));

/* Words of two vectors in another order. */
#if defined __clang__ || __GNUC__ >= 12
#define DISC_PLAYBACK_SHUFFLE(a, b, ...) __builtin_shufflevector(a, b, __VA_ARGS__)
#else
#define DISC_PLAYBACK_SHUFFLE(a, b, ...) __builtin_shuffle(a, b, (disc_playback_short_marks){ __VA_ARGS__ })
#endif

/* Lanes of b where those of the mask are negative, otherwise of a, in one instruction. */
#if defined __SSE4_1__ && defined __has_builtin
#if __has_builtin(__builtin_ia32_blendvps)
#define DISC_PLAYBACK_BLEND(a, b, mask) __builtin_ia32_blendvps(a, b, mask)
#endif
#endif

/* Loops that clang leaves as they stand. */
#ifdef __clang__
#define DISC_PLAYBACK_ROLLED _Pragma("clang loop unroll(disable)")
#else
#define DISC_PLAYBACK_ROLLED
#endif

/* Vectors, and each lane of them. */
typedef union {
    disc_playback_lanes all;
    float one[DISC_PLAYBACK_LANES];
} disc_playback_lane_words;

typedef union {
    disc_playback_marks all;
    int32_t one[DISC_PLAYBACK_LANES];
} disc_playback_lane_marks;

/* Section k of every lane. */
typedef struct {
    disc_playback_lane_words word[7]; /* b0, b1, b2, a1, a2, p, q */
    disc_playback_lane_marks keep; /* all ones in a lane in the delta form, otherwise 0 */
    disc_playback_lane_words zero; /* -0, which adds nothing, to the bit, in all others */
    disc_playback_lane_words none; /* -0 in a lane that has no such section, otherwise 0 */
} disc_playback_lane_section;

/* Lanes beside each other in one vector. */
typedef struct {
    disc_playback_lane_section section[DISC_PLAYBACK_DEEP];
    disc_playback_lane_words gain;
    int32_t count[DISC_PLAYBACK_LANES]; /* sections of each */
    /* Which one begins at a section: how many it takes, and 8 times the form; 0: the end. */
    unsigned char pass[DISC_PLAYBACK_DEEP + 1];
    unsigned char alone[DISC_PLAYBACK_DEEP + 1]; /* the same for a single sample, with 32 times the form */
} disc_playback_lane_group;

/* All that the state keeps room for. */
typedef struct __attribute__((may_alias)) {
    disc_playback_lane_group group[DISC_PLAYBACK_GROUPS];
} disc_playback_lane_store;

/* There is room for it, wherever in the state a whole vector begins. */
typedef char disc_playback_lane_room[
    sizeof(disc_playback_lane_store) + 16u <= sizeof(((disc_playback_state *)0)->lanes) ? 1 : -1];

/* Where that begins, in bytes. */
static inline unsigned int disc_playback_lanes_begin(const disc_playback_state *s)
{
    return (16u - (unsigned int)((uintptr_t)s->lanes % 16u)) % 16u;
}

/* It, where lanes have been there since. */
static inline disc_playback_lane_group *disc_playback_lane_groups_at(disc_playback_state *s)
{
    unsigned char *const room = (unsigned char *)s->lanes;

    return ((disc_playback_lane_store *)(void *)&room[s->lanes_at])->group;
}

/* That of a state, which may have been copied to where whole vectors begin elsewhere. */
static inline disc_playback_lane_group *disc_playback_lane_groups(disc_playback_state *s)
{
    unsigned char *const room = (unsigned char *)s->lanes;
    const unsigned int at = disc_playback_lanes_begin(s);

    if (at != s->lanes_at) {
        (void)memmove(&room[at], &room[s->lanes_at], sizeof(disc_playback_lane_store));
        s->lanes_at = (unsigned char)at;
    }
    return disc_playback_lane_groups_at(s);
}

/* A state in lanes of the delta form, and -0 in all others. */
#ifdef DISC_PLAYBACK_BLEND
static const disc_playback_lanes disc_playback_nothing = {
    -0.0f,
    -0.0f,
    -0.0f,
    -0.0f,
};
#define DISC_PLAYBACK_BACK(state, s) \
    DISC_PLAYBACK_BLEND(disc_playback_nothing, state, (disc_playback_lanes)(s).keep.all)
#else
#define DISC_PLAYBACK_BACK(state, s) \
    ((disc_playback_lanes)(((disc_playback_marks)(state) & (s).keep.all) | (disc_playback_marks)(s).zero.all))
#endif

/* Words stay in memory: there is no room for all in registers, and copies gain nothing. */
static inline DISC_PLAYBACK_ALWAYS void disc_playback_lanes_direct_3(disc_playback_lane_section *s,
        disc_playback_lane_words *io, int n)
{
    DISC_PLAYBACK_AS_WRITTEN
    disc_playback_lanes p_0 = s[0].word[5].all;
    disc_playback_lanes q_0 = s[0].word[6].all;
    disc_playback_lanes p_1 = s[1].word[5].all;
    disc_playback_lanes q_1 = s[1].word[6].all;
    disc_playback_lanes p_2 = s[2].word[5].all;
    disc_playback_lanes q_2 = s[2].word[6].all;
    int i;

    for (i = 0; i < n; i++) {
        const disc_playback_lanes x = io[i].all;
        const disc_playback_lanes y_0 = s[0].word[0].all * x + p_0;
        const disc_playback_lanes y_1 = s[1].word[0].all * y_0 + p_1;
        p_0 = (q_0 + s[0].word[1].all * x) - s[0].word[3].all * y_0;
        q_0 = s[0].word[2].all * x - s[0].word[4].all * y_0;
        const disc_playback_lanes y_2 = s[2].word[0].all * y_1 + p_2;
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

static inline DISC_PLAYBACK_ALWAYS void disc_playback_lanes_direct_5(disc_playback_lane_section *s,
        disc_playback_lane_words *io, int n)
{
    DISC_PLAYBACK_AS_WRITTEN
    disc_playback_lanes p_0 = s[0].word[5].all;
    disc_playback_lanes q_0 = s[0].word[6].all;
    disc_playback_lanes p_1 = s[1].word[5].all;
    disc_playback_lanes q_1 = s[1].word[6].all;
    disc_playback_lanes p_2 = s[2].word[5].all;
    disc_playback_lanes q_2 = s[2].word[6].all;
    disc_playback_lanes p_3 = s[3].word[5].all;
    disc_playback_lanes q_3 = s[3].word[6].all;
    disc_playback_lanes p_4 = s[4].word[5].all;
    disc_playback_lanes q_4 = s[4].word[6].all;
    int i;

    for (i = 0; i < n; i++) {
        const disc_playback_lanes x = io[i].all;
        const disc_playback_lanes y_0 = s[0].word[0].all * x + p_0;
        const disc_playback_lanes y_1 = s[1].word[0].all * y_0 + p_1;
        p_0 = (q_0 + s[0].word[1].all * x) - s[0].word[3].all * y_0;
        q_0 = s[0].word[2].all * x - s[0].word[4].all * y_0;
        const disc_playback_lanes y_2 = s[2].word[0].all * y_1 + p_2;
        p_1 = (q_1 + s[1].word[1].all * y_0) - s[1].word[3].all * y_1;
        q_1 = s[1].word[2].all * y_0 - s[1].word[4].all * y_1;
        const disc_playback_lanes y_3 = s[3].word[0].all * y_2 + p_3;
        p_2 = (q_2 + s[2].word[1].all * y_1) - s[2].word[3].all * y_2;
        q_2 = s[2].word[2].all * y_1 - s[2].word[4].all * y_2;
        const disc_playback_lanes y_4 = s[4].word[0].all * y_3 + p_4;
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

static inline DISC_PLAYBACK_ALWAYS void disc_playback_lanes_delta_3(disc_playback_lane_section *s,
        disc_playback_lane_words *io, int n)
{
    DISC_PLAYBACK_AS_WRITTEN
    disc_playback_lanes p_0 = s[0].word[5].all;
    disc_playback_lanes q_0 = s[0].word[6].all;
    disc_playback_lanes p_1 = s[1].word[5].all;
    disc_playback_lanes q_1 = s[1].word[6].all;
    disc_playback_lanes p_2 = s[2].word[5].all;
    disc_playback_lanes q_2 = s[2].word[6].all;
    int i;

    for (i = 0; i < n; i++) {
        const disc_playback_lanes x = io[i].all;
        const disc_playback_lanes y_0 = s[0].word[0].all * x + p_0;
        const disc_playback_lanes y_1 = s[1].word[0].all * y_0 + p_1;
        p_0 = p_0 + ((q_0 + s[0].word[1].all * x) - s[0].word[3].all * y_0);
        q_0 = (q_0 + s[0].word[2].all * x) - s[0].word[4].all * y_0;
        const disc_playback_lanes y_2 = s[2].word[0].all * y_1 + p_2;
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

static inline DISC_PLAYBACK_ALWAYS void disc_playback_lanes_delta_5(disc_playback_lane_section *s,
        disc_playback_lane_words *io, int n)
{
    DISC_PLAYBACK_AS_WRITTEN
    disc_playback_lanes p_0 = s[0].word[5].all;
    disc_playback_lanes q_0 = s[0].word[6].all;
    disc_playback_lanes p_1 = s[1].word[5].all;
    disc_playback_lanes q_1 = s[1].word[6].all;
    disc_playback_lanes p_2 = s[2].word[5].all;
    disc_playback_lanes q_2 = s[2].word[6].all;
    disc_playback_lanes p_3 = s[3].word[5].all;
    disc_playback_lanes q_3 = s[3].word[6].all;
    disc_playback_lanes p_4 = s[4].word[5].all;
    disc_playback_lanes q_4 = s[4].word[6].all;
    int i;

    for (i = 0; i < n; i++) {
        const disc_playback_lanes x = io[i].all;
        const disc_playback_lanes y_0 = s[0].word[0].all * x + p_0;
        const disc_playback_lanes y_1 = s[1].word[0].all * y_0 + p_1;
        p_0 = p_0 + ((q_0 + s[0].word[1].all * x) - s[0].word[3].all * y_0);
        q_0 = (q_0 + s[0].word[2].all * x) - s[0].word[4].all * y_0;
        const disc_playback_lanes y_2 = s[2].word[0].all * y_1 + p_2;
        p_1 = p_1 + ((q_1 + s[1].word[1].all * y_0) - s[1].word[3].all * y_1);
        q_1 = (q_1 + s[1].word[2].all * y_0) - s[1].word[4].all * y_1;
        const disc_playback_lanes y_3 = s[3].word[0].all * y_2 + p_3;
        p_2 = p_2 + ((q_2 + s[2].word[1].all * y_1) - s[2].word[3].all * y_2);
        q_2 = (q_2 + s[2].word[2].all * y_1) - s[2].word[4].all * y_2;
        const disc_playback_lanes y_4 = s[4].word[0].all * y_3 + p_4;
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

static inline DISC_PLAYBACK_ALWAYS void disc_playback_lanes_mixed_3(disc_playback_lane_section *s,
        disc_playback_lane_words *io, int n)
{
    DISC_PLAYBACK_AS_WRITTEN
    disc_playback_lanes p_0 = s[0].word[5].all;
    disc_playback_lanes q_0 = s[0].word[6].all;
    disc_playback_lanes p_1 = s[1].word[5].all;
    disc_playback_lanes q_1 = s[1].word[6].all;
    disc_playback_lanes p_2 = s[2].word[5].all;
    disc_playback_lanes q_2 = s[2].word[6].all;
    int i;

    for (i = 0; i < n; i++) {
        const disc_playback_lanes x = io[i].all;
        const disc_playback_lanes y_0 = s[0].word[0].all * x + p_0;
        const disc_playback_lanes y_1 = s[1].word[0].all * y_0 + p_1;
        p_0 = DISC_PLAYBACK_BACK(p_0, s[0]) + ((q_0 + s[0].word[1].all * x) - s[0].word[3].all *
            y_0);
        q_0 = (DISC_PLAYBACK_BACK(q_0, s[0]) + s[0].word[2].all * x) - s[0].word[4].all * y_0;
        const disc_playback_lanes y_2 = s[2].word[0].all * y_1 + p_2;
        p_1 = DISC_PLAYBACK_BACK(p_1, s[1]) + ((q_1 + s[1].word[1].all * y_0) - s[1].word[3].all
            * y_1);
        q_1 = (DISC_PLAYBACK_BACK(q_1, s[1]) + s[1].word[2].all * y_0) - s[1].word[4].all * y_1;
        p_2 = DISC_PLAYBACK_BACK(p_2, s[2]) + ((q_2 + s[2].word[1].all * y_1) - s[2].word[3].all
            * y_2);
        q_2 = (DISC_PLAYBACK_BACK(q_2, s[2]) + s[2].word[2].all * y_1) - s[2].word[4].all * y_2;
        io[i].all = y_2;
    }
    s[0].word[5].all = p_0;
    s[0].word[6].all = q_0;
    s[1].word[5].all = p_1;
    s[1].word[6].all = q_1;
    s[2].word[5].all = p_2;
    s[2].word[6].all = q_2;
}

static inline DISC_PLAYBACK_ALWAYS void disc_playback_lanes_mixed_5(disc_playback_lane_section *s,
        disc_playback_lane_words *io, int n)
{
    DISC_PLAYBACK_AS_WRITTEN
    disc_playback_lanes p_0 = s[0].word[5].all;
    disc_playback_lanes q_0 = s[0].word[6].all;
    disc_playback_lanes p_1 = s[1].word[5].all;
    disc_playback_lanes q_1 = s[1].word[6].all;
    disc_playback_lanes p_2 = s[2].word[5].all;
    disc_playback_lanes q_2 = s[2].word[6].all;
    disc_playback_lanes p_3 = s[3].word[5].all;
    disc_playback_lanes q_3 = s[3].word[6].all;
    disc_playback_lanes p_4 = s[4].word[5].all;
    disc_playback_lanes q_4 = s[4].word[6].all;
    int i;

    for (i = 0; i < n; i++) {
        const disc_playback_lanes x = io[i].all;
        const disc_playback_lanes y_0 = s[0].word[0].all * x + p_0;
        const disc_playback_lanes y_1 = s[1].word[0].all * y_0 + p_1;
        p_0 = DISC_PLAYBACK_BACK(p_0, s[0]) + ((q_0 + s[0].word[1].all * x) - s[0].word[3].all *
            y_0);
        q_0 = (DISC_PLAYBACK_BACK(q_0, s[0]) + s[0].word[2].all * x) - s[0].word[4].all * y_0;
        const disc_playback_lanes y_2 = s[2].word[0].all * y_1 + p_2;
        p_1 = DISC_PLAYBACK_BACK(p_1, s[1]) + ((q_1 + s[1].word[1].all * y_0) - s[1].word[3].all
            * y_1);
        q_1 = (DISC_PLAYBACK_BACK(q_1, s[1]) + s[1].word[2].all * y_0) - s[1].word[4].all * y_1;
        const disc_playback_lanes y_3 = s[3].word[0].all * y_2 + p_3;
        p_2 = DISC_PLAYBACK_BACK(p_2, s[2]) + ((q_2 + s[2].word[1].all * y_1) - s[2].word[3].all
            * y_2);
        q_2 = (DISC_PLAYBACK_BACK(q_2, s[2]) + s[2].word[2].all * y_1) - s[2].word[4].all * y_2;
        const disc_playback_lanes y_4 = s[4].word[0].all * y_3 + p_4;
        p_3 = DISC_PLAYBACK_BACK(p_3, s[3]) + ((q_3 + s[3].word[1].all * y_2) - s[3].word[3].all
            * y_3);
        q_3 = (DISC_PLAYBACK_BACK(q_3, s[3]) + s[3].word[2].all * y_2) - s[3].word[4].all * y_3;
        p_4 = DISC_PLAYBACK_BACK(p_4, s[4]) + ((q_4 + s[4].word[1].all * y_3) - s[4].word[3].all
            * y_4);
        q_4 = (DISC_PLAYBACK_BACK(q_4, s[4]) + s[4].word[2].all * y_3) - s[4].word[4].all * y_4;
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

static inline DISC_PLAYBACK_ALWAYS void disc_playback_lanes_ragged_3(disc_playback_lane_section *s,
        disc_playback_lane_words *io, int n)
{
    DISC_PLAYBACK_AS_WRITTEN
    disc_playback_lanes p_0 = s[0].word[5].all;
    disc_playback_lanes q_0 = s[0].word[6].all;
    disc_playback_lanes p_1 = s[1].word[5].all;
    disc_playback_lanes q_1 = s[1].word[6].all;
    disc_playback_lanes p_2 = s[2].word[5].all;
    disc_playback_lanes q_2 = s[2].word[6].all;
    int i;

    for (i = 0; i < n; i++) {
        const disc_playback_lanes x = io[i].all;
        const disc_playback_lanes y_0 = s[0].word[0].all * x + p_0;
        const disc_playback_lanes y_1 = s[1].word[0].all * y_0 + p_1;
        p_0 = DISC_PLAYBACK_BACK(p_0, s[0]) + ((q_0 + s[0].word[1].all * x) - s[0].word[3].all *
            y_0);
        p_0 = (disc_playback_lanes)((disc_playback_marks)p_0 | (disc_playback_marks)s[0].none.all);
        q_0 = (DISC_PLAYBACK_BACK(q_0, s[0]) + s[0].word[2].all * x) - s[0].word[4].all * y_0;
        const disc_playback_lanes y_2 = s[2].word[0].all * y_1 + p_2;
        p_1 = DISC_PLAYBACK_BACK(p_1, s[1]) + ((q_1 + s[1].word[1].all * y_0) - s[1].word[3].all
            * y_1);
        p_1 = (disc_playback_lanes)((disc_playback_marks)p_1 | (disc_playback_marks)s[1].none.all);
        q_1 = (DISC_PLAYBACK_BACK(q_1, s[1]) + s[1].word[2].all * y_0) - s[1].word[4].all * y_1;
        p_2 = DISC_PLAYBACK_BACK(p_2, s[2]) + ((q_2 + s[2].word[1].all * y_1) - s[2].word[3].all
            * y_2);
        p_2 = (disc_playback_lanes)((disc_playback_marks)p_2 | (disc_playback_marks)s[2].none.all);
        q_2 = (DISC_PLAYBACK_BACK(q_2, s[2]) + s[2].word[2].all * y_1) - s[2].word[4].all * y_2;
        io[i].all = y_2;
    }
    s[0].word[5].all = p_0;
    s[0].word[6].all = q_0;
    s[1].word[5].all = p_1;
    s[1].word[6].all = q_1;
    s[2].word[5].all = p_2;
    s[2].word[6].all = q_2;
}

static inline DISC_PLAYBACK_ALWAYS void disc_playback_lanes_ragged_5(disc_playback_lane_section *s,
        disc_playback_lane_words *io, int n)
{
    DISC_PLAYBACK_AS_WRITTEN
    disc_playback_lanes p_0 = s[0].word[5].all;
    disc_playback_lanes q_0 = s[0].word[6].all;
    disc_playback_lanes p_1 = s[1].word[5].all;
    disc_playback_lanes q_1 = s[1].word[6].all;
    disc_playback_lanes p_2 = s[2].word[5].all;
    disc_playback_lanes q_2 = s[2].word[6].all;
    disc_playback_lanes p_3 = s[3].word[5].all;
    disc_playback_lanes q_3 = s[3].word[6].all;
    disc_playback_lanes p_4 = s[4].word[5].all;
    disc_playback_lanes q_4 = s[4].word[6].all;
    int i;

    for (i = 0; i < n; i++) {
        const disc_playback_lanes x = io[i].all;
        const disc_playback_lanes y_0 = s[0].word[0].all * x + p_0;
        const disc_playback_lanes y_1 = s[1].word[0].all * y_0 + p_1;
        p_0 = DISC_PLAYBACK_BACK(p_0, s[0]) + ((q_0 + s[0].word[1].all * x) - s[0].word[3].all *
            y_0);
        p_0 = (disc_playback_lanes)((disc_playback_marks)p_0 | (disc_playback_marks)s[0].none.all);
        q_0 = (DISC_PLAYBACK_BACK(q_0, s[0]) + s[0].word[2].all * x) - s[0].word[4].all * y_0;
        const disc_playback_lanes y_2 = s[2].word[0].all * y_1 + p_2;
        p_1 = DISC_PLAYBACK_BACK(p_1, s[1]) + ((q_1 + s[1].word[1].all * y_0) - s[1].word[3].all
            * y_1);
        p_1 = (disc_playback_lanes)((disc_playback_marks)p_1 | (disc_playback_marks)s[1].none.all);
        q_1 = (DISC_PLAYBACK_BACK(q_1, s[1]) + s[1].word[2].all * y_0) - s[1].word[4].all * y_1;
        const disc_playback_lanes y_3 = s[3].word[0].all * y_2 + p_3;
        p_2 = DISC_PLAYBACK_BACK(p_2, s[2]) + ((q_2 + s[2].word[1].all * y_1) - s[2].word[3].all
            * y_2);
        p_2 = (disc_playback_lanes)((disc_playback_marks)p_2 | (disc_playback_marks)s[2].none.all);
        q_2 = (DISC_PLAYBACK_BACK(q_2, s[2]) + s[2].word[2].all * y_1) - s[2].word[4].all * y_2;
        const disc_playback_lanes y_4 = s[4].word[0].all * y_3 + p_4;
        p_3 = DISC_PLAYBACK_BACK(p_3, s[3]) + ((q_3 + s[3].word[1].all * y_2) - s[3].word[3].all
            * y_3);
        p_3 = (disc_playback_lanes)((disc_playback_marks)p_3 | (disc_playback_marks)s[3].none.all);
        q_3 = (DISC_PLAYBACK_BACK(q_3, s[3]) + s[3].word[2].all * y_2) - s[3].word[4].all * y_3;
        p_4 = DISC_PLAYBACK_BACK(p_4, s[4]) + ((q_4 + s[4].word[1].all * y_3) - s[4].word[3].all
            * y_4);
        p_4 = (disc_playback_lanes)((disc_playback_marks)p_4 | (disc_playback_marks)s[4].none.all);
        q_4 = (DISC_PLAYBACK_BACK(q_4, s[4]) + s[4].word[2].all * y_3) - s[4].word[4].all * y_4;
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
static inline DISC_PLAYBACK_ALWAYS int disc_playback_lane_pass(unsigned int pass,
        disc_playback_lane_section *s, disc_playback_lane_words *io, int n)
{
    switch (pass) {
    case 11u:
        disc_playback_lanes_direct_3(s, io, n);
        break;
    case 13u:
        disc_playback_lanes_direct_5(s, io, n);
        break;
    case 19u:
        disc_playback_lanes_delta_3(s, io, n);
        break;
    case 21u:
        disc_playback_lanes_delta_5(s, io, n);
        break;
    case 27u:
        disc_playback_lanes_mixed_3(s, io, n);
        break;
    case 29u:
        disc_playback_lanes_mixed_5(s, io, n);
        break;
    case 35u:
        disc_playback_lanes_ragged_3(s, io, n);
        break;
    case 37u:
        disc_playback_lanes_ragged_5(s, io, n);
        break;
    default:
        break;
    }
    return (int)(pass % 8u);
}

/* A single sample of every lane, io, through a group's sections. */
static inline DISC_PLAYBACK_ALWAYS void disc_playback_lane_alone(disc_playback_lane_group *group, disc_playback_lanes *io)
{
    DISC_PLAYBACK_AS_WRITTEN
    disc_playback_lanes x = *io;
    disc_playback_lane_section *s = group->section;
    const unsigned char *run;

    for (run = group->alone; *run != 0u; run++) {
        unsigned int left = (unsigned int)*run % 32u;

        switch (*run / 32u) {
        case 1u: /* direct */
            DISC_PLAYBACK_ROLLED
            for (; left > 4u; left -= 5u) {
                disc_playback_lanes p_0 = s[0].word[5].all;
                disc_playback_lanes q_0 = s[0].word[6].all;
                const disc_playback_lanes y_0 = s[0].word[0].all * x + p_0;
                disc_playback_lanes p_1 = s[1].word[5].all;
                disc_playback_lanes q_1 = s[1].word[6].all;
                const disc_playback_lanes y_1 = s[1].word[0].all * y_0 + p_1;
                p_0 = (q_0 + s[0].word[1].all * x) - s[0].word[3].all * y_0;
                s[0].word[5].all = p_0;
                q_0 = s[0].word[2].all * x - s[0].word[4].all * y_0;
                s[0].word[6].all = q_0;
                disc_playback_lanes p_2 = s[2].word[5].all;
                disc_playback_lanes q_2 = s[2].word[6].all;
                const disc_playback_lanes y_2 = s[2].word[0].all * y_1 + p_2;
                p_1 = (q_1 + s[1].word[1].all * y_0) - s[1].word[3].all * y_1;
                s[1].word[5].all = p_1;
                q_1 = s[1].word[2].all * y_0 - s[1].word[4].all * y_1;
                s[1].word[6].all = q_1;
                disc_playback_lanes p_3 = s[3].word[5].all;
                disc_playback_lanes q_3 = s[3].word[6].all;
                const disc_playback_lanes y_3 = s[3].word[0].all * y_2 + p_3;
                p_2 = (q_2 + s[2].word[1].all * y_1) - s[2].word[3].all * y_2;
                s[2].word[5].all = p_2;
                q_2 = s[2].word[2].all * y_1 - s[2].word[4].all * y_2;
                s[2].word[6].all = q_2;
                disc_playback_lanes p_4 = s[4].word[5].all;
                disc_playback_lanes q_4 = s[4].word[6].all;
                const disc_playback_lanes y_4 = s[4].word[0].all * y_3 + p_4;
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
            DISC_PLAYBACK_ROLLED
            for (; left != 0u; left--) {
                disc_playback_lanes p_0 = s[0].word[5].all;
                disc_playback_lanes q_0 = s[0].word[6].all;
                const disc_playback_lanes y_0 = s[0].word[0].all * x + p_0;
                p_0 = (q_0 + s[0].word[1].all * x) - s[0].word[3].all * y_0;
                s[0].word[5].all = p_0;
                q_0 = s[0].word[2].all * x - s[0].word[4].all * y_0;
                s[0].word[6].all = q_0;
                x = y_0;
                s += 1;
            }
            break;
        case 2u: /* delta */
            DISC_PLAYBACK_ROLLED
            for (; left > 4u; left -= 5u) {
                disc_playback_lanes p_0 = s[0].word[5].all;
                disc_playback_lanes q_0 = s[0].word[6].all;
                const disc_playback_lanes y_0 = s[0].word[0].all * x + p_0;
                disc_playback_lanes p_1 = s[1].word[5].all;
                disc_playback_lanes q_1 = s[1].word[6].all;
                const disc_playback_lanes y_1 = s[1].word[0].all * y_0 + p_1;
                p_0 = p_0 + ((q_0 + s[0].word[1].all * x) - s[0].word[3].all * y_0);
                s[0].word[5].all = p_0;
                q_0 = (q_0 + s[0].word[2].all * x) - s[0].word[4].all * y_0;
                s[0].word[6].all = q_0;
                disc_playback_lanes p_2 = s[2].word[5].all;
                disc_playback_lanes q_2 = s[2].word[6].all;
                const disc_playback_lanes y_2 = s[2].word[0].all * y_1 + p_2;
                p_1 = p_1 + ((q_1 + s[1].word[1].all * y_0) - s[1].word[3].all * y_1);
                s[1].word[5].all = p_1;
                q_1 = (q_1 + s[1].word[2].all * y_0) - s[1].word[4].all * y_1;
                s[1].word[6].all = q_1;
                disc_playback_lanes p_3 = s[3].word[5].all;
                disc_playback_lanes q_3 = s[3].word[6].all;
                const disc_playback_lanes y_3 = s[3].word[0].all * y_2 + p_3;
                p_2 = p_2 + ((q_2 + s[2].word[1].all * y_1) - s[2].word[3].all * y_2);
                s[2].word[5].all = p_2;
                q_2 = (q_2 + s[2].word[2].all * y_1) - s[2].word[4].all * y_2;
                s[2].word[6].all = q_2;
                disc_playback_lanes p_4 = s[4].word[5].all;
                disc_playback_lanes q_4 = s[4].word[6].all;
                const disc_playback_lanes y_4 = s[4].word[0].all * y_3 + p_4;
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
            DISC_PLAYBACK_ROLLED
            for (; left != 0u; left--) {
                disc_playback_lanes p_0 = s[0].word[5].all;
                disc_playback_lanes q_0 = s[0].word[6].all;
                const disc_playback_lanes y_0 = s[0].word[0].all * x + p_0;
                p_0 = p_0 + ((q_0 + s[0].word[1].all * x) - s[0].word[3].all * y_0);
                s[0].word[5].all = p_0;
                q_0 = (q_0 + s[0].word[2].all * x) - s[0].word[4].all * y_0;
                s[0].word[6].all = q_0;
                x = y_0;
                s += 1;
            }
            break;
        case 3u: /* mixed */
            DISC_PLAYBACK_ROLLED
            for (; left > 4u; left -= 5u) {
                disc_playback_lanes p_0 = s[0].word[5].all;
                disc_playback_lanes q_0 = s[0].word[6].all;
                const disc_playback_lanes y_0 = s[0].word[0].all * x + p_0;
                disc_playback_lanes p_1 = s[1].word[5].all;
                disc_playback_lanes q_1 = s[1].word[6].all;
                const disc_playback_lanes y_1 = s[1].word[0].all * y_0 + p_1;
                p_0 = DISC_PLAYBACK_BACK(p_0, s[0]) + ((q_0 + s[0].word[1].all * x) -
                    s[0].word[3].all * y_0);
                s[0].word[5].all = p_0;
                q_0 = (DISC_PLAYBACK_BACK(q_0, s[0]) + s[0].word[2].all * x) - s[0].word[4].all
                    * y_0;
                s[0].word[6].all = q_0;
                disc_playback_lanes p_2 = s[2].word[5].all;
                disc_playback_lanes q_2 = s[2].word[6].all;
                const disc_playback_lanes y_2 = s[2].word[0].all * y_1 + p_2;
                p_1 = DISC_PLAYBACK_BACK(p_1, s[1]) + ((q_1 + s[1].word[1].all * y_0) -
                    s[1].word[3].all * y_1);
                s[1].word[5].all = p_1;
                q_1 = (DISC_PLAYBACK_BACK(q_1, s[1]) + s[1].word[2].all * y_0) -
                    s[1].word[4].all * y_1;
                s[1].word[6].all = q_1;
                disc_playback_lanes p_3 = s[3].word[5].all;
                disc_playback_lanes q_3 = s[3].word[6].all;
                const disc_playback_lanes y_3 = s[3].word[0].all * y_2 + p_3;
                p_2 = DISC_PLAYBACK_BACK(p_2, s[2]) + ((q_2 + s[2].word[1].all * y_1) -
                    s[2].word[3].all * y_2);
                s[2].word[5].all = p_2;
                q_2 = (DISC_PLAYBACK_BACK(q_2, s[2]) + s[2].word[2].all * y_1) -
                    s[2].word[4].all * y_2;
                s[2].word[6].all = q_2;
                disc_playback_lanes p_4 = s[4].word[5].all;
                disc_playback_lanes q_4 = s[4].word[6].all;
                const disc_playback_lanes y_4 = s[4].word[0].all * y_3 + p_4;
                p_3 = DISC_PLAYBACK_BACK(p_3, s[3]) + ((q_3 + s[3].word[1].all * y_2) -
                    s[3].word[3].all * y_3);
                s[3].word[5].all = p_3;
                q_3 = (DISC_PLAYBACK_BACK(q_3, s[3]) + s[3].word[2].all * y_2) -
                    s[3].word[4].all * y_3;
                s[3].word[6].all = q_3;
                p_4 = DISC_PLAYBACK_BACK(p_4, s[4]) + ((q_4 + s[4].word[1].all * y_3) -
                    s[4].word[3].all * y_4);
                s[4].word[5].all = p_4;
                q_4 = (DISC_PLAYBACK_BACK(q_4, s[4]) + s[4].word[2].all * y_3) -
                    s[4].word[4].all * y_4;
                s[4].word[6].all = q_4;
                x = y_4;
                s += 5;
            }
            DISC_PLAYBACK_ROLLED
            for (; left != 0u; left--) {
                disc_playback_lanes p_0 = s[0].word[5].all;
                disc_playback_lanes q_0 = s[0].word[6].all;
                const disc_playback_lanes y_0 = s[0].word[0].all * x + p_0;
                p_0 = DISC_PLAYBACK_BACK(p_0, s[0]) + ((q_0 + s[0].word[1].all * x) -
                    s[0].word[3].all * y_0);
                s[0].word[5].all = p_0;
                q_0 = (DISC_PLAYBACK_BACK(q_0, s[0]) + s[0].word[2].all * x) - s[0].word[4].all
                    * y_0;
                s[0].word[6].all = q_0;
                x = y_0;
                s += 1;
            }
            break;
        case 4u: /* ragged */
            DISC_PLAYBACK_ROLLED
            for (; left > 4u; left -= 5u) {
                disc_playback_lanes p_0 = s[0].word[5].all;
                disc_playback_lanes q_0 = s[0].word[6].all;
                const disc_playback_lanes y_0 = s[0].word[0].all * x + p_0;
                disc_playback_lanes p_1 = s[1].word[5].all;
                disc_playback_lanes q_1 = s[1].word[6].all;
                const disc_playback_lanes y_1 = s[1].word[0].all * y_0 + p_1;
                p_0 = DISC_PLAYBACK_BACK(p_0, s[0]) + ((q_0 + s[0].word[1].all * x) -
                    s[0].word[3].all * y_0);
                p_0 = (disc_playback_lanes)((disc_playback_marks)p_0 |
                    (disc_playback_marks)s[0].none.all);
                s[0].word[5].all = p_0;
                q_0 = (DISC_PLAYBACK_BACK(q_0, s[0]) + s[0].word[2].all * x) - s[0].word[4].all
                    * y_0;
                s[0].word[6].all = q_0;
                disc_playback_lanes p_2 = s[2].word[5].all;
                disc_playback_lanes q_2 = s[2].word[6].all;
                const disc_playback_lanes y_2 = s[2].word[0].all * y_1 + p_2;
                p_1 = DISC_PLAYBACK_BACK(p_1, s[1]) + ((q_1 + s[1].word[1].all * y_0) -
                    s[1].word[3].all * y_1);
                p_1 = (disc_playback_lanes)((disc_playback_marks)p_1 |
                    (disc_playback_marks)s[1].none.all);
                s[1].word[5].all = p_1;
                q_1 = (DISC_PLAYBACK_BACK(q_1, s[1]) + s[1].word[2].all * y_0) -
                    s[1].word[4].all * y_1;
                s[1].word[6].all = q_1;
                disc_playback_lanes p_3 = s[3].word[5].all;
                disc_playback_lanes q_3 = s[3].word[6].all;
                const disc_playback_lanes y_3 = s[3].word[0].all * y_2 + p_3;
                p_2 = DISC_PLAYBACK_BACK(p_2, s[2]) + ((q_2 + s[2].word[1].all * y_1) -
                    s[2].word[3].all * y_2);
                p_2 = (disc_playback_lanes)((disc_playback_marks)p_2 |
                    (disc_playback_marks)s[2].none.all);
                s[2].word[5].all = p_2;
                q_2 = (DISC_PLAYBACK_BACK(q_2, s[2]) + s[2].word[2].all * y_1) -
                    s[2].word[4].all * y_2;
                s[2].word[6].all = q_2;
                disc_playback_lanes p_4 = s[4].word[5].all;
                disc_playback_lanes q_4 = s[4].word[6].all;
                const disc_playback_lanes y_4 = s[4].word[0].all * y_3 + p_4;
                p_3 = DISC_PLAYBACK_BACK(p_3, s[3]) + ((q_3 + s[3].word[1].all * y_2) -
                    s[3].word[3].all * y_3);
                p_3 = (disc_playback_lanes)((disc_playback_marks)p_3 |
                    (disc_playback_marks)s[3].none.all);
                s[3].word[5].all = p_3;
                q_3 = (DISC_PLAYBACK_BACK(q_3, s[3]) + s[3].word[2].all * y_2) -
                    s[3].word[4].all * y_3;
                s[3].word[6].all = q_3;
                p_4 = DISC_PLAYBACK_BACK(p_4, s[4]) + ((q_4 + s[4].word[1].all * y_3) -
                    s[4].word[3].all * y_4);
                p_4 = (disc_playback_lanes)((disc_playback_marks)p_4 |
                    (disc_playback_marks)s[4].none.all);
                s[4].word[5].all = p_4;
                q_4 = (DISC_PLAYBACK_BACK(q_4, s[4]) + s[4].word[2].all * y_3) -
                    s[4].word[4].all * y_4;
                s[4].word[6].all = q_4;
                x = y_4;
                s += 5;
            }
            DISC_PLAYBACK_ROLLED
            for (; left != 0u; left--) {
                disc_playback_lanes p_0 = s[0].word[5].all;
                disc_playback_lanes q_0 = s[0].word[6].all;
                const disc_playback_lanes y_0 = s[0].word[0].all * x + p_0;
                p_0 = DISC_PLAYBACK_BACK(p_0, s[0]) + ((q_0 + s[0].word[1].all * x) -
                    s[0].word[3].all * y_0);
                p_0 = (disc_playback_lanes)((disc_playback_marks)p_0 |
                    (disc_playback_marks)s[0].none.all);
                s[0].word[5].all = p_0;
                q_0 = (DISC_PLAYBACK_BACK(q_0, s[0]) + s[0].word[2].all * x) - s[0].word[4].all
                    * y_0;
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
static DISC_PLAYBACK_NOINLINE void disc_playback_lane_passes(disc_playback_lane_group *group, disc_playback_lane_words *x, int n)
{
    int k = 0;

    while (group->pass[k] != 0u) {
        k += disc_playback_lane_pass(group->pass[k], &group->section[k], x, n);
    }
}

/* The sections of a list in lane l, from number k on, with what they remember. */
static int disc_playback_lane_fill(const float *table, const uint16_t *list,
        const disc_playback_memory *m, disc_playback_lane_group *group, int l, int k)
{
    for (; *list != 0u; list++) {
        const float *w = &table[*list & DISC_PLAYBACK_ROW];
        const unsigned int length = 5u;
        const int delta = ((unsigned int)*list >> DISC_PLAYBACK_HEAD & 3u) != 1u ? 1 : 0;
        unsigned int left = (unsigned int)*list >> 13;

        for (; left > 0u; left--) {
            disc_playback_lane_section *to = &group->section[k];
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

/* Where the next list begins. */
static inline const uint16_t *disc_playback_behind(const uint16_t *list)
{
    while (*list != 0u) {
        list++;
    }
    return list + 1;
}

/* A lane's sections; behind its last one some that change nothing. */
static void disc_playback_lane_enter(const disc_playback_rate_entry *rate, const disc_playback_channel_state *ch, int way,
        disc_playback_lane_group *group, int l)
{
    const disc_playback_cascade_entry *cascade = &rate->cascade[way];
    const uint16_t *picked = ch->list;
    int i;
    int k = disc_playback_lane_fill(rate->sections, &rate->lists[cascade->list],
        &ch->now[cascade->from], group, l, 0);
    for (i = 0; i < way; i++) {
        picked = disc_playback_behind(picked);
    }
    k = disc_playback_lane_fill(rate->sections, picked, &ch->now[cascade->split], group, l, k);
    group->count[l] = k;
    group->gain.one[l] = cascade->gain;
    for (; k < DISC_PLAYBACK_DEEP; k++) {
        disc_playback_lane_section *to = &group->section[k];
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
static unsigned int disc_playback_lane_forms(const disc_playback_lane_group *group, int from, int sections,
        int least)
{
    unsigned int forms = 0u;
    int l;

    for (l = 0; l < DISC_PLAYBACK_LANES * sections; l++) {
        const int k = from + l / DISC_PLAYBACK_LANES;

        forms |= group->section[k].keep.one[l % DISC_PLAYBACK_LANES] == 0 ? 1u : 2u;
    }
    return from + sections > least ? 4u : forms;
}

/* How single samples take a group's sections: those of one form in a row at once, with others
 * that follow where going along costs less than beginning anew. */
static void disc_playback_lane_plan_alone(disc_playback_lane_group *group, int least, int most)
{
    /* Operations of each form that direct ones do without. */
    static const int disc_playback_lane_more[] = { 0, 0, 1, 5, 6 };
    unsigned char *run = group->alone;
    unsigned int form = 0u;
    int count = 0;
    int k = 0;

    (void)memset(group->alone, 0, sizeof group->alone);
    while (k < most) {
        const unsigned int next = disc_playback_lane_forms(group, k, 1, least);
        const unsigned int any = form | next;
        const unsigned int both = any < 4u ? any : 4u;
        int n = 1;
        int cost;

        while (n < 31 && k + n < most
                && disc_playback_lane_forms(group, k + n, 1, least) == next) {
            n++;
        }
        cost = count * (disc_playback_lane_more[both] - disc_playback_lane_more[form])
            + n * (disc_playback_lane_more[both] - disc_playback_lane_more[next]);
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
static int disc_playback_lane_plan(disc_playback_lane_group *group)
{
    int least = group->count[0];
    int most = least;
    int k;
    int l;

    for (l = 1; l < DISC_PLAYBACK_LANES; l++) {
        least = group->count[l] < least ? group->count[l] : least;
        most = group->count[l] > most ? group->count[l] : most;
    }
    (void)memset(group->pass, 0, sizeof group->pass);
    for (k = 0; k < most;) {
        const int left = most - k;
        const int sections = left > 3 && left != 6 ? 5 : 3;
        const unsigned int forms = disc_playback_lane_forms(group, k, sections, least);

        group->pass[k] = (unsigned char)(forms * 8u + (unsigned int)sections);
        k += sections;
    }
    disc_playback_lane_plan_alone(group, least, most);
    return most;
}

/* How many lanes of a group there are. */
static int disc_playback_lanes_used(int group)
{
    const int left = DISC_PLAYBACK_CHANNELS * DISC_PLAYBACK_WAYS - group * DISC_PLAYBACK_LANES;

    return left < DISC_PLAYBACK_LANES ? left : DISC_PLAYBACK_LANES;
}

/* All ways begin to run in lanes where that saves anything. */
static DISC_PLAYBACK_COLD void disc_playback_enter_lanes(disc_playback_state *s)
{
    const disc_playback_rate_entry *rate = &disc_playback_rate_table[s->rate];
    disc_playback_lane_group *group = disc_playback_lane_groups(s);
    int all = 0;
    int most = 0;
    int k;
    int l;

    for (k = 0; k < DISC_PLAYBACK_GROUPS; k++) {
        const int used = disc_playback_lanes_used(k);
        int longest;

        for (l = 0; l < DISC_PLAYBACK_LANES; l++) { /* what is not used does as the first */
            const int lane = k * DISC_PLAYBACK_LANES + (l < used ? l : 0);

            disc_playback_lane_enter(rate, &s->channel[lane / DISC_PLAYBACK_WAYS], 1 + lane % DISC_PLAYBACK_WAYS,
                &group[k], l);
            all += l < used ? (int)group[k].count[l] : 0;
        }
        longest = disc_playback_lane_plan(&group[k]);
        most += longest;
    }
    s->laned = 2 * all > DISC_PLAYBACK_SAVING * most ? 1u : 2u;
}

/* What the ways remember goes back to where it belongs. */
static DISC_PLAYBACK_COLD void disc_playback_leave_lanes(disc_playback_state *s)
{
    const disc_playback_rate_entry *rate = &disc_playback_rate_table[s->rate];
    const disc_playback_lane_group *group = disc_playback_lane_groups(s);
    int lane;
    int k;

    for (lane = 0; lane < DISC_PLAYBACK_CHANNELS * DISC_PLAYBACK_WAYS && s->laned == 1u; lane++) {
        const disc_playback_lane_group *from = &group[lane / DISC_PLAYBACK_LANES];
        const disc_playback_cascade_entry *cascade = &rate->cascade[1 + lane % DISC_PLAYBACK_WAYS];
        disc_playback_memory *m = &s->channel[lane / DISC_PLAYBACK_WAYS].now[cascade->from];
        const int last = lane % DISC_PLAYBACK_WAYS == DISC_PLAYBACK_WAYS - 1 ? 1 : 0;
        const int fixed = (last != 0 ? rate->cascade[0].split : cascade[1].from) - cascade->from;

        for (k = 0; k < from->count[lane % DISC_PLAYBACK_LANES]; k++) {
            if (k == fixed) {
                m = &s->channel[lane / DISC_PLAYBACK_WAYS].now[cascade->split];
            }
            m->p = from->section[k].word[5].one[lane % DISC_PLAYBACK_LANES];
            m->q = from->section[k].word[6].one[lane % DISC_PLAYBACK_LANES];
            m++;
        }
    }
    s->laned = 0u;
}

/* Sections in lanes come to rest like others. */
static DISC_PLAYBACK_COLD void disc_playback_rest_lanes(disc_playback_state *s)
{
    const disc_playback_lanes above_p = {
        5.421011e-20f,
        5.421011e-20f,
        5.421011e-20f,
        5.421011e-20f,
    };
    const disc_playback_lanes below_p = {
        -5.421011e-20f,
        -5.421011e-20f,
        -5.421011e-20f,
        -5.421011e-20f,
    };
    const disc_playback_lanes above_q = {
        5.421011e-20f,
        5.421011e-20f,
        5.421011e-20f,
        5.421011e-20f,
    };
    const disc_playback_lanes below_q = {
        -5.421011e-20f,
        -5.421011e-20f,
        -5.421011e-20f,
        -5.421011e-20f,
    };
    disc_playback_lane_group *group = disc_playback_lane_groups(s);
    int k;

    for (k = 0; k < DISC_PLAYBACK_GROUPS * DISC_PLAYBACK_DEEP; k++) {
        disc_playback_lane_section *at = &group[k / DISC_PLAYBACK_DEEP].section[k % DISC_PLAYBACK_DEEP];
        const disc_playback_lanes p = at->word[5].all;
        const disc_playback_lanes q = at->word[6].all;
        const disc_playback_marks tiny = (p < above_p) & (p > below_p) & (q < above_q) & (q > below_q);
        at->word[5].all = (disc_playback_lanes)(((disc_playback_marks)p & ~tiny) | (disc_playback_marks)at->none.all);
        at->word[6].all = (disc_playback_lanes)(((disc_playback_marks)q & ~tiny) | (disc_playback_marks)at->none.all);
    }
}

/* 1 where no channel fades or is silent. */
static int disc_playback_calm(const disc_playback_state *s)
{
    int c;

    for (c = 0; c < DISC_PLAYBACK_CHANNELS; c++) {
        if (s->channel[c].calm == 0u) {
            return 0;
        }
    }
    return 1;
}

/* Turns a square of words about: word i of v[k] becomes word k of v[i]. */
static inline void disc_playback_turn(disc_playback_short *v)
{
    const disc_playback_short v1_0 = DISC_PLAYBACK_SHUFFLE(v[0], v[2], 0, 4, 1, 5);
    const disc_playback_short v1_1 = DISC_PLAYBACK_SHUFFLE(v[0], v[2], 2, 6, 3, 7);
    const disc_playback_short v1_2 = DISC_PLAYBACK_SHUFFLE(v[1], v[3], 0, 4, 1, 5);
    const disc_playback_short v1_3 = DISC_PLAYBACK_SHUFFLE(v[1], v[3], 2, 6, 3, 7);
    const disc_playback_short v2_0 = DISC_PLAYBACK_SHUFFLE(v1_0, v1_2, 0, 4, 1, 5);
    const disc_playback_short v2_1 = DISC_PLAYBACK_SHUFFLE(v1_0, v1_2, 2, 6, 3, 7);
    const disc_playback_short v2_2 = DISC_PLAYBACK_SHUFFLE(v1_1, v1_3, 0, 4, 1, 5);
    const disc_playback_short v2_3 = DISC_PLAYBACK_SHUFFLE(v1_1, v1_3, 2, 6, 3, 7);
    v[0] = v2_0;
    v[1] = v2_1;
    v[2] = v2_2;
    v[3] = v2_3;
}

/* The channels' common parts times gain -> x of lanes from on; what is not used gets what the first
 * does. */
static void disc_playback_lane_inputs(const disc_playback_lane_words *gains, int from, int used,
        float (*common)[DISC_PLAYBACK_LONG], disc_playback_lane_words *x, int n)
{
    DISC_PLAYBACK_AS_WRITTEN
    const int lane_0 = from;
    const float *from_0 = common[lane_0 / DISC_PLAYBACK_WAYS];
    const int lane_1 = 1 < used ? from + 1 : from;
    const float *from_1 = common[lane_1 / DISC_PLAYBACK_WAYS];
    const int lane_2 = 2 < used ? from + 2 : from;
    const float *from_2 = common[lane_2 / DISC_PLAYBACK_WAYS];
    const int lane_3 = 3 < used ? from + 3 : from;
    const float *from_3 = common[lane_3 / DISC_PLAYBACK_WAYS];
    int i;

    for (i = 0; i < n; i++) {
        {
            disc_playback_lanes gain;
            const disc_playback_lanes all = { from_0[i], from_1[i], from_2[i], from_3[i] };

            (void)memcpy(&gain, &gains->one[0], sizeof gain);
            {
                const disc_playback_lanes scaled = gain * all;
                x[i].all = scaled;
            }
        }
    }
}

/* x of lanes from on -> out. */
static void disc_playback_lane_outputs(const disc_playback_lane_words *x, int used, float *const *out,
        int at, int n)
{
    float spare[DISC_PLAYBACK_LONG]; /* of lanes that are not used */
    int l;

    for (l = 0; l < used; l += 4) {
        float *to_0 = l + 0 < used ? &out[l + 0][at] : spare;
        float *to_1 = l + 1 < used ? &out[l + 1][at] : spare;
        float *to_2 = l + 2 < used ? &out[l + 2][at] : spare;
        float *to_3 = l + 3 < used ? &out[l + 3][at] : spare;
        int i;

        for (i = 0; i < n - 4 + 1; i += 4) {
            disc_playback_short v[4];

            (void)memcpy(&v[0], &x[i + 0].one[l], sizeof v[0]);
            (void)memcpy(&v[1], &x[i + 1].one[l], sizeof v[1]);
            (void)memcpy(&v[2], &x[i + 2].one[l], sizeof v[2]);
            (void)memcpy(&v[3], &x[i + 3].one[l], sizeof v[3]);
            disc_playback_turn(v);
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
static void disc_playback_lane_give(const disc_playback_frames *f, const disc_playback_lane_words *x, int from, int used,
        int at, int n)
{
    int k = (at * DISC_PLAYBACK_CHANNELS * DISC_PLAYBACK_WAYS) + from;
    int i;
    int l;

    for (i = 0; i < n; i++) {
        if (used == DISC_PLAYBACK_LANES) {
            if (f->wide != 0) {
                for (l = 0; l < DISC_PLAYBACK_LANES; l++) {
                    f->out32[k + l] = disc_playback_to_int32(x[i].one[l]);
                }
            } else {
                (void)memcpy(&f->out[k], &x[i], sizeof x[i]);
            }
        } else {
            for (l = 0; l < used; l++) {
                if (f->wide != 0) {
                    f->out32[k + l] = disc_playback_to_int32(x[i].one[l]);
                } else {
                    f->out[k + l] = x[i].one[l];
                }
            }
        }
        k += DISC_PLAYBACK_CHANNELS * DISC_PLAYBACK_WAYS;
    }
}

/* The ways of a group's lanes, so many from on: in common[channel] -> out, or frames. */
static void disc_playback_run_lanes(disc_playback_lane_group *group, int from, int used,
        float (*common)[DISC_PLAYBACK_LONG], float *const *out, const disc_playback_frames *f, int at, int n)
{
    disc_playback_lane_words x[DISC_PLAYBACK_LONG];

    disc_playback_lane_inputs(&group->gain, from, used, common, x, n);
    disc_playback_lane_passes(group, x, n);
    if (f != NULL) {
        disc_playback_lane_give(f, x, from, used, at, n);
    } else {
        disc_playback_lane_outputs(x, used, &out[from], at, n);
    }
}

/* n samples of a channel times the first gain: in -> now. What returns is not less than the size of
 * the greatest. */
static inline uint32_t disc_playback_lane_take(float gain, const float *in, float *now, int n)
{
    DISC_PLAYBACK_AS_WRITTEN
    uint32_t sizes = 0u;
    int i;

    for (i = 0; i < n; i++) {
        const float all = in[i];

        sizes |= disc_playback_bits(all);
        const float scaled = gain * all;
        now[i] = scaled;
    }
    return sizes << 1;
}

/* One sample of all channels, number at, or one frame. What returns is 1, or 0 where one may be
 * garbage: then nothing has happened. */
static inline DISC_PLAYBACK_ALWAYS int disc_playback_lane_sample(const disc_playback_rate_entry *rate,
        disc_playback_lane_group *group, const float *const *in, float *const *out,
        const disc_playback_frames *f, int framed, int at)
{
    DISC_PLAYBACK_AS_WRITTEN
    float now[DISC_PLAYBACK_CHANNELS];
    uint32_t size = 0u;
    int c;
    int g;

    if (framed == 0) {
        for (c = 0; c < DISC_PLAYBACK_CHANNELS; c++) {
            now[c] = in[c][at];
        }
    } else if (f->wide == 0) {
        (void)memcpy(now, &f->in[at * DISC_PLAYBACK_CHANNELS], sizeof now);
    } else {
        int k = at * DISC_PLAYBACK_CHANNELS;

        for (c = 0; c < DISC_PLAYBACK_CHANNELS; c++) {
            now[c] = disc_playback_from_int32(f->in32[k]);
            k++;
        }
    }
    for (c = 0; c < DISC_PLAYBACK_CHANNELS; c++) {
        size |= disc_playback_lane_take(rate->cascade[0].gain, &now[c], &now[c], 1);
    }
    if (size >= DISC_PLAYBACK_GARBAGE) {
        return 0;
    }
    for (g = 0; g < DISC_PLAYBACK_GROUPS; g++) {
        const int used = disc_playback_lanes_used(g);
        const disc_playback_lane_words *gains = &group[g].gain;
        const int lane_0 = g * DISC_PLAYBACK_LANES;
        const float x_0 = now[lane_0 / DISC_PLAYBACK_WAYS];
        const int lane_1 = (1 < used ? 1 : 0) + g * DISC_PLAYBACK_LANES;
        const float x_1 = now[lane_1 / DISC_PLAYBACK_WAYS];
        const int lane_2 = (2 < used ? 2 : 0) + g * DISC_PLAYBACK_LANES;
        const float x_2 = now[lane_2 / DISC_PLAYBACK_WAYS];
        const int lane_3 = (3 < used ? 3 : 0) + g * DISC_PLAYBACK_LANES;
        const float x_3 = now[lane_3 / DISC_PLAYBACK_WAYS];
        disc_playback_lane_words x;
        {
            disc_playback_lanes gain;
            const disc_playback_lanes all = { x_0, x_1, x_2, x_3 };

            (void)memcpy(&gain, &gains->one[0], sizeof gain);
            {
                const disc_playback_lanes scaled = gain * all;
                x.all = scaled;
            }
        }
        if (framed != 0) {
            disc_playback_lane_alone(&group[g], &x.all);
            disc_playback_lane_give(f, &x, g * DISC_PLAYBACK_LANES, used, at, 1);
        } else {
            float *const *to = &out[g * DISC_PLAYBACK_LANES];
            disc_playback_lanes y = x.all;

            disc_playback_lane_alone(&group[g], &y);
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
static DISC_PLAYBACK_NOINLINE int disc_playback_step_lanes(const disc_playback_rate_entry *rate,
        disc_playback_lane_group *group, const float *const *in, float *const *out, int at)
{
    return disc_playback_lane_sample(rate, group, in, out, NULL, 0, at);
}

static DISC_PLAYBACK_NOINLINE int disc_playback_step_frame(const disc_playback_rate_entry *rate,
        disc_playback_lane_group *group, const disc_playback_frames *f, int at)
{
    return disc_playback_lane_sample(rate, group, NULL, NULL, f, 1, at);
}

/* n samples of all channels, from number at on: in -> out, or from where they begin -> frames. What
 * returns is 1, or 0 where one may be garbage. */
static DISC_PLAYBACK_NOINLINE int disc_playback_block_lanes(disc_playback_state *s, const disc_playback_rate_entry *rate,
        const float *const *in, float *const *out, const disc_playback_frames *f, int at, int n)
{
    disc_playback_lane_group *group = disc_playback_lane_groups(s);
    float common[DISC_PLAYBACK_CHANNELS][DISC_PLAYBACK_LONG];
    const int begin = f == NULL ? at : 0;
    uint32_t size = 0u;
    int k;

    for (k = 0; k < DISC_PLAYBACK_CHANNELS; k++) {
        size |= disc_playback_lane_take(rate->cascade[0].gain, &in[k][begin], common[k], n);
    }
    if (size >= DISC_PLAYBACK_GARBAGE) {
        return 0;
    }
    for (k = 0; k < DISC_PLAYBACK_GROUPS; k++) {
        disc_playback_run_lanes(&group[k], k * DISC_PLAYBACK_LANES, disc_playback_lanes_used(k), common, out, f, at, n);
    }
    return 1;
}

/* n frames, from number at on. What returns is 1, or 0 where one may have garbage. */
static DISC_PLAYBACK_NOINLINE int disc_playback_frame_lanes(disc_playback_state *s, const disc_playback_rate_entry *rate,
        const disc_playback_frames *f, int at, int n)
{
    float now[DISC_PLAYBACK_CHANNELS][DISC_PLAYBACK_LONG];
    const float *in[DISC_PLAYBACK_CHANNELS];
    int c;
    int i;

    for (c = 0; c < DISC_PLAYBACK_CHANNELS; c++) {
        int k = (at * DISC_PLAYBACK_CHANNELS) + c;

        in[c] = now[c];
        for (i = 0; i < n; i++) {
            now[c][i] = f->wide != 0 ? disc_playback_from_int32(f->in32[k]) : f->in[k];
            k += DISC_PLAYBACK_CHANNELS;
        }
    }
    return disc_playback_block_lanes(s, rate, in, NULL, f, at, n);
}

/* Runs all channels where none fades or is silent, no sample may be garbage, and lanes are
 * faster: n samples at least, all at most. What returns is how many there were; 0: none, and the
 * channels have what belongs to them. */
static inline int disc_playback_run_calm(disc_playback_state *s, const disc_playback_rate_entry *rate,
        const float *const *in, float *const *out, const disc_playback_frames *f, int at, int n, int all)
{
    int good;

    if (s->laned == 0u && disc_playback_calm(s) != 0) {
        disc_playback_enter_lanes(s);
    }
    if (s->laned != 1u) {
        return 0;
    }
    if (s->count % DISC_PLAYBACK_TICK == 0u && all > n) { /* nothing is asked for, so that it may go on */
        const int left = (int)(DISC_PLAYBACK_REST - s->count);

        n = left < DISC_PLAYBACK_LONG ? left : DISC_PLAYBACK_LONG;
        n = all < n ? all : n;
    }
    if (n == 1) {
        disc_playback_lane_group *const group = disc_playback_lane_groups(s);

        good = f != NULL ? disc_playback_step_frame(rate, group, f, at)
            : disc_playback_step_lanes(rate, group, in, out, at);
    } else if (f != NULL) {
        good = disc_playback_frame_lanes(s, rate, f, at, n);
    } else {
        good = disc_playback_block_lanes(s, rate, in, out, NULL, at, n);
    }
    if (good == 0) {
        disc_playback_leave_lanes(s);
        return 0;
    }
    return n;
}
#endif


/* ---- what happens at ticks ------------------------------------------------------------ */

/* The lists of all cascades, one behind the other. */
static DISC_PLAYBACK_COLD void disc_playback_make_lists(const disc_playback_rate_entry *rate, disc_playback_channel_state *ch)
{
    uint16_t *next = ch->list;
    int c;

    for (c = 0; c <= DISC_PLAYBACK_WAYS; c++) {
        next = disc_playback_make_list(rate, ch, c, next);
    }
}

/* Settings at a tick: a change that is over is what runs, and one that is asked for begins. */
static void disc_playback_change_settings(const disc_playback_rate_entry *rate, disc_playback_channel_state *ch,
        const volatile unsigned char *asked)
{
    if (ch->change == rate->settle + rate->fade) {
        /* all cascades' stand behind each other, here as there */
        (void)memcpy(&ch->now[rate->cascade[0].split], ch->then,
            (size_t)rate->cascade[DISC_PLAYBACK_WAYS].end * sizeof ch->then[0]);
        disc_playback_make_lists(rate, ch);
        ch->change = -1;
    }
    if (ch->change < 0) {
        unsigned int differ = 0u;
        int k;

        for (k = 0; k < DISC_PLAYBACK_SETTINGS; k++) {
            const unsigned char wanted = asked[k];

            differ |= (unsigned int)wanted ^ ch->chosen[k];
            ch->chosen[k] = wanted;
        }
        if (ch->fresh != 0u) {
            disc_playback_make_lists(rate, ch);
        } else if (differ != 0u) {
            (void)memset(ch->then, 0, sizeof ch->then);
            ch->change = 0;
        } else {
            /* as before */
        }
    }
}

/* Sections in which next to nothing is left come to rest, everywhere at the same sample. */
static DISC_PLAYBACK_COLD void disc_playback_rest(disc_playback_memory *m, int sections)
{
    int k;

#if defined __clang__ /* gathers and scatters take longer */
#pragma clang loop vectorize(disable)
#endif
    for (k = 0; k < sections; k++) {
        if ((disc_playback_bits(m[k].p) << 1) < 0x3f000000u
                && (disc_playback_bits(m[k].q) << 1) < 0x3f000000u) {
            m[k].p = 0.0f;
            m[k].q = 0.0f;
        }
    }
}

/* What is asked of a channel, between two samples. */
static void disc_playback_tick_channel(const disc_playback_rate_entry *rate, disc_playback_channel_state *ch,
        const volatile unsigned char *asked)
{
    const int32_t fade = rate->fade;
    const int mute = (int)asked[DISC_PLAYBACK_MUTE];

    disc_playback_change_settings(rate, ch, asked);
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

#ifndef DISC_PLAYBACK_NO_SINGLES
/* Channels that may take single samples together. */
static void disc_playback_find_mates(disc_playback_state *s)
{
    int c;

    for (c = 0; c < DISC_PLAYBACK_CHANNELS - 1; c += 2) {
        disc_playback_channel_state *const ch = &s->channel[c];

        if (ch->calm != 0u && ch[1].calm != 0u
                && memcmp(ch->chosen, ch[1].chosen, sizeof ch->chosen) == 0) {
            ch->calm = 2u;
        }
    }
}
#endif

/* What is due of all channels. */
static DISC_PLAYBACK_COLD void disc_playback_tick(disc_playback_state *s, const disc_playback_rate_entry *rate)
{
    int c;

    for (c = 0; c < DISC_PLAYBACK_CHANNELS; c++) {
        disc_playback_channel_state *ch = &s->channel[c];

        disc_playback_tick_channel(rate, ch, s->asked[c]);
        if (s->count == 0u) {
            disc_playback_rest(ch->now, DISC_PLAYBACK_POSITIONS);
            disc_playback_rest(ch->then, DISC_PLAYBACK_THEN); /* idle ones, too */
        }
    }
#ifndef DISC_PLAYBACK_NO_SINGLES
    disc_playback_find_mates(s);
#endif
#ifdef DISC_PLAYBACK_LANES
    if (disc_playback_calm(s) == 0) {
        disc_playback_leave_lanes(s);
    } else if (s->count == 0u && s->laned == 1u) {
        disc_playback_rest_lanes(s);
    } else {
        /* nothing is due in lanes */
    }
#endif
}

/* Of n samples those before the next tick; what is due before them is done. */
static int disc_playback_begin(disc_playback_state *s, const disc_playback_rate_entry *rate, int n)
{
    const uint32_t into = s->count % DISC_PLAYBACK_TICK;
    const int left = (int)(DISC_PLAYBACK_TICK - into);

    if (into == 0u) {
        disc_playback_tick(s, rate);
    }
    return n < left ? n : left;
}

/* ---- the interface -------------------------------------------------------------------- */

/* The rate that a state runs at; NULL where init did not leave it behind. */
static inline const disc_playback_rate_entry *disc_playback_rate_here(const disc_playback_state *s)
{
    return s->ready != DISC_PLAYBACK_READY || s->check != DISC_PLAYBACK_CHECK || s->rate < 0
            || s->rate >= DISC_PLAYBACK_RATES ? NULL : &disc_playback_rate_table[s->rate];
}

static DISC_PLAYBACK_NOINLINE const disc_playback_rate_entry *disc_playback_rate_of(const disc_playback_state *s)
{
    return disc_playback_rate_here(s);
}

/* 1 also for a channel that does not exist. */
static DISC_PLAYBACK_COLD int disc_playback_refuse_channel(const disc_playback_state *s, int channel)
{
    return channel < 0 || channel >= DISC_PLAYBACK_CHANNELS || disc_playback_rate_of(s) == NULL ? 1 : 0;
}

/* Asks a channel for a choice of one of its settings, or for silence. */
static DISC_PLAYBACK_COLD int disc_playback_ask(disc_playback_state *s, int channel, int what, unsigned int choice)
{
    static const unsigned char disc_playback_choices[DISC_PLAYBACK_MUTE + 1] = { 2u, 2u };

    if (choice >= disc_playback_choices[what] || disc_playback_refuse_channel(s, channel) != 0) {
        return 1;
    }
    s->asked[channel][what] = (unsigned char)choice;
    return 0;
}

/* What was asked for. */
static DISC_PLAYBACK_COLD int disc_playback_asked(const disc_playback_state *s, int channel, int what)
{
    return disc_playback_refuse_channel(s, channel) != 0 ? -1 : (int)s->asked[channel][what];
}

/* Silence in one channel. */
static DISC_PLAYBACK_COLD void disc_playback_silence(disc_playback_channel_state *ch)
{

    (void)memset(ch, 0, sizeof *ch);
    ch->change = -1;
    ch->fresh = 1u;
}

/* In all of them. */
static DISC_PLAYBACK_COLD void disc_playback_silence_all(disc_playback_state *s)
{
    int c;

    for (c = 0; c < DISC_PLAYBACK_CHANNELS; c++) {
        disc_playback_silence(&s->channel[c]);
    }
    s->count = 0u;
#ifdef DISC_PLAYBACK_LANES
    s->laned = 0u;
#endif
}

/* Starts at a rate; 1 where there is no such. */
static DISC_PLAYBACK_COLD int disc_playback_start(disc_playback_state *s, uint32_t rate_hz)
{
    int32_t i;

    for (i = 0; i < DISC_PLAYBACK_RATES; i++) {
        if (disc_playback_rate_table[i].rate_hz == rate_hz) {
            s->rate = i;
            disc_playback_silence_all(s);
            return 0;
        }
    }
    return 1;
}

int disc_playback_set_rate(disc_playback_state *s, uint32_t rate_hz)
{
    return disc_playback_rate_of(s) == NULL ? 1 : disc_playback_start(s, rate_hz);
}

int disc_playback_init(disc_playback_state *s, uint32_t rate_hz)
{
    (void)memset(s, 0, sizeof *s);
    if (disc_playback_start(s, rate_hz) != 0) {
        return 1;
    }
    s->ready = DISC_PLAYBACK_READY;
    s->check = DISC_PLAYBACK_CHECK;
    return 0;
}

void disc_playback_reset(disc_playback_state *s)
{
    if (disc_playback_rate_of(s) != NULL) {
        disc_playback_silence_all(s);
    }
}

int disc_playback_reset_channel(disc_playback_state *s, int channel)
{
    if (disc_playback_refuse_channel(s, channel) != 0) {
        return 1;
    }
#ifdef DISC_PLAYBACK_LANES
    disc_playback_leave_lanes(s);
#endif
    disc_playback_silence(&s->channel[channel]);
    return 0;
}

int disc_playback_set_amendment(disc_playback_state *s, int channel, enum disc_playback_amendment choice)
{
    return disc_playback_ask(s, channel, 0, (unsigned int)choice);
}

int disc_playback_get_amendment(const disc_playback_state *s, int channel)
{
    return disc_playback_asked(s, channel, 0);
}

int disc_playback_mute(disc_playback_state *s, int channel, int on)
{
    return disc_playback_ask(s, channel, DISC_PLAYBACK_MUTE, on != 0 ? 1u : 0u);
}

int disc_playback_muted(const disc_playback_state *s, int channel)
{
    return disc_playback_asked(s, channel, DISC_PLAYBACK_MUTE);
}

int disc_playback_garbage(const disc_playback_state *s, int channel)
{
    return disc_playback_refuse_channel(s, channel) != 0 ? -1 : (int)s->channel[channel].dead;
}

/* n samples of all channels: in -> out, or from frames to frames. */
static DISC_PLAYBACK_BLOCKS int disc_playback_run_all(disc_playback_state *s, const float *const *in,
        float *const *out, disc_playback_frames *f, int n)
{
    const disc_playback_rate_entry *const rate = disc_playback_rate_of(s);
    int done = 0;

    if (n < 0 || rate == NULL) {
        return 1;
    }
    while (done < n) {
        const int chunk = disc_playback_begin(s, rate, n - done);
        int c;
#ifdef DISC_PLAYBACK_LANES
        const int together = disc_playback_run_calm(s, rate, in, out, f, done, chunk, n - done);

        if (together > 0) {
            s->count = (s->count + (uint32_t)together) % DISC_PLAYBACK_REST;
            done += together;
            continue;
        }
#endif
        for (c = 0; c < DISC_PLAYBACK_CHANNELS; c++) {
            disc_playback_channel_state *const ch = &s->channel[c];

            if (f != NULL) {
                (void)f->through(f, rate, ch, (done * DISC_PLAYBACK_CHANNELS) + c, chunk,
                    DISC_PLAYBACK_CHANNELS);
            } else {
                disc_playback_run_block(rate, ch, &in[c][done], &out[c * DISC_PLAYBACK_WAYS], done, chunk);
            }
        }
        s->count = (s->count + (uint32_t)chunk) % DISC_PLAYBACK_REST;
        done += chunk;
    }
    return 0;
}

#ifdef DISC_PLAYBACK_LANES
/* A single sample of all channels, or a frame where there are frames, in lanes where nothing is due
 * before it. What returns is 1, or 0: nothing has happened. */
static inline int disc_playback_run_alone(disc_playback_state *s, const float *const *in,
        float *const *out, const disc_playback_frames *f)
{
    const disc_playback_rate_entry *const rate = disc_playback_rate_here(s);
    disc_playback_lane_group *group;
    int good;

    if (rate == NULL || s->laned != 1u || s->count % DISC_PLAYBACK_TICK == 0u
            || s->lanes_at != disc_playback_lanes_begin(s)) {
        return 0;
    }
    group = disc_playback_lane_groups_at(s);
    good = f != NULL ? disc_playback_step_frame(rate, group, f, 0)
        : disc_playback_step_lanes(rate, group, in, out, 0);
    s->count = (s->count + (uint32_t)good) % DISC_PLAYBACK_REST;
    return good;
}
#endif

#ifndef DISC_PLAYBACK_NO_SINGLES
/* One sample of all channels: two that are calm and alike go through sections beside each other. */
static DISC_PLAYBACK_NOINLINE int disc_playback_run_one(disc_playback_state *s, const float *const *in,
        float *const *out)
{
    const disc_playback_rate_entry *const rate = disc_playback_rate_of(s);
    int c;

    if (rate == NULL) {
        return 1;
    }
    (void)disc_playback_begin(s, rate, 1);
#ifdef DISC_PLAYBACK_LANES
    if (disc_playback_run_calm(s, rate, in, out, NULL, 0, 1, 1) > 0) {
        s->count = (s->count + 1u) % DISC_PLAYBACK_REST;
        return 0;
    }
#endif
    s->count = (s->count + 1u) % DISC_PLAYBACK_REST;
    for (c = 0; c < DISC_PLAYBACK_CHANNELS; c += 2) {
        const int other = c + 1;
        disc_playback_channel_state *const ch = &s->channel[c];
        disc_playback_channel_state *const mate = &s->channel[other];
        const float x = *in[c];
        const float y = *in[other];

        if ((unsigned int)ch->calm + mate->calm > 2u /* alike, and both are calm still */
                && ((disc_playback_bits(x) | disc_playback_bits(y)) << 1) < DISC_PLAYBACK_GARBAGE) {
            disc_playback_step(rate, ch, mate, x, y, &out[c * DISC_PLAYBACK_WAYS], &out[other * DISC_PLAYBACK_WAYS]);
        } else {
            int k;

            for (k = c; k <= other; k++) {
                disc_playback_run_block(rate, &s->channel[k], in[k], &out[k * DISC_PLAYBACK_WAYS], 0, 1);
            }
        }
    }
    return 0;
}

#endif

int disc_playback_run(disc_playback_state *s, const float *const *in, float *const *out, int n)
{
#ifdef DISC_PLAYBACK_LANES
    if (n == 1 && disc_playback_run_alone(s, in, out, NULL) != 0) {
        return 0;
    }
#endif
#ifndef DISC_PLAYBACK_NO_SINGLES
    if (n == 1) {
        return disc_playback_run_one(s, in, out);
    }
#endif
    return disc_playback_run_all(s, in, out, NULL, n);
}

/* n samples so many apart, from number k on, of a channel, or without a channel one of each. */
static DISC_PLAYBACK_SMALL int disc_playback_through(disc_playback_frames *f, const disc_playback_rate_entry *rate,
        disc_playback_channel_state *ch, int k, int n, int apart)
{
    int at = k;
    int i;
    int w;

    for (i = 0; i < n; i++) {
        f->from[i] = f->wide != 0 ? disc_playback_from_int32(f->in32[at]) : f->in[at];
        at += apart;
    }
#ifndef DISC_PLAYBACK_NO_SINGLES
    if (ch == NULL) {
        if (disc_playback_run_one(f->s, f->ins, f->outs) != 0) {
            return 1;
        }
    } else
#endif
    {
        disc_playback_run_block(rate, ch, f->from, f->outs, 0, n);
    }
    at = k * DISC_PLAYBACK_WAYS;
    for (i = 0; i < n; i++) {
        for (w = 0; w < DISC_PLAYBACK_WAYS; w++) {
            if (f->wide != 0) {
                f->out32[at + w] = disc_playback_to_int32(f->to[w][i]);
            } else {
                f->out[at + w] = f->to[w][i];
            }
        }
        at += apart * DISC_PLAYBACK_WAYS;
    }
    return 0;
}

/* n frames. */
static DISC_PLAYBACK_SMALL int disc_playback_run_side_by_side(disc_playback_state *s, disc_playback_frames *f, int n)
{
    int beside = 1; /* channels in a row of to */
    int k = 0;
    int c;
    int w;

#ifdef DISC_PLAYBACK_LANES
    if (n == 1 && disc_playback_run_alone(s, NULL, NULL, f) != 0) {
        return 0;
    }
#endif
#ifndef DISC_PLAYBACK_NO_SINGLES
    f->s = s;
    if (n == 1) {
        beside = DISC_PLAYBACK_CHANNELS;
    }
#endif
    for (c = 0; c < beside; c++) {
        f->ins[c] = &f->from[c];
        for (w = 0; w < DISC_PLAYBACK_WAYS; w++) {
            f->outs[k] = &f->to[w][c];
            k++;
        }
    }
#ifndef DISC_PLAYBACK_NO_SINGLES
    if (n == 1) {
        return disc_playback_through(f, NULL, NULL, 0, DISC_PLAYBACK_CHANNELS, 1);
    }
#endif
    f->through = disc_playback_through;
    return disc_playback_run_all(s, NULL, NULL, f, n);
}

int disc_playback_run_frames(disc_playback_state *s, const float *in, float *out, int n)
{
    disc_playback_frames f;

    f.in = in;
    f.out = out;
    f.wide = 0;
    return disc_playback_run_side_by_side(s, &f, n);
}

int disc_playback_run_frames_int32(disc_playback_state *s, const int32_t *in, int32_t *out, int n)
{
    disc_playback_frames f;

    f.in32 = in;
    f.out32 = out;
    f.wide = 1;
    return disc_playback_run_side_by_side(s, &f, n);
}

#undef DISC_PLAYBACK_AS_WRITTEN
#if defined __GNUC__ && !defined __clang__
#pragma GCC pop_options
#endif
