/*
 * wagtail_q31.c: the loudspeaker filters of "wagtail", tables and code
 * Spec SHA-256 2ed3eabd1b2faac077ea3710ebe52ca82c615fc363ccb4393a0272918c09ba0e
 *
 * Compile this file with the program; wagtail_q31.h tells all about it.
 *
 * MISRA C:2012, deviations from required and advisory rules:
 *   2.2         sums and products with counts that are 0 or 1 in this program
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
 */
#include "wagtail_q31.h"

#include <string.h>

/* To run at fewer rates, define WAGTAIL_ONLY_ with the rate for each that shall stay. */
#if !(defined WAGTAIL_ONLY_48000)
#define WAGTAIL_ONLY_48000
#endif

/* Single samples have code of their own, which WAGTAIL_NO_SINGLES leaves out: they are
 * blocks of one then. */

/* Loops stand in functions of their own. What runs rarely is compiled for size, and so is what runs
 * once a block: but not what alone calls the loops, rare to gcc then. */
#if defined __GNUC__
#define WAGTAIL_NOINLINE __attribute__((noinline))
#define WAGTAIL_COLD __attribute__((noinline, cold))
#define WAGTAIL_INLINE inline __attribute__((always_inline)) /* at -Os, too */
#else
#define WAGTAIL_NOINLINE
#define WAGTAIL_COLD
#define WAGTAIL_INLINE inline
#endif
#define WAGTAIL_SMALL WAGTAIL_COLD
#ifdef WAGTAIL_NO_SINGLES
#define WAGTAIL_BLOCKS WAGTAIL_NOINLINE
#else
#define WAGTAIL_BLOCKS WAGTAIL_SMALL
#endif

#define WAGTAIL_READY 0xbcd1b416u /* of this spec in this format */
#define WAGTAIL_CHECK 0xc76c3306u
#define WAGTAIL_TICK 32u /* samples between two looks at what is asked for */
#define WAGTAIL_REST 128u /* and between two looks for sections that have come to rest */
#if defined __GNUC__ && !defined __clang__ && defined __thumb2__
#define WAGTAIL_SEVERAL /* registers that lie beside each other are moved in one instruction */
#endif

/* Words of a list, one a pass: where the row of its first section begins, which those of the others
 * follow, their kind (1 direct, 4 error-feedback, 5 delta, fine, 6 delta, wide, 7 delta, deep)
 * and how many they are; 0 is the end. */
#define WAGTAIL_ROW 0x3ffu
#define WAGTAIL_HEAD 10 /* bits below */
#define WAGTAIL_ONE_MORE (1u << 13)
#define WAGTAIL_FULL 0xe000u /* from there on a pass takes no more */
#define WAGTAIL_NONE 255u /* the alternative that changes nothing and has no row */

/* ---- tables --------------------------------------------------------------------------- */

#ifndef WAGTAIL_NO_SINGLES
/* What a single sample finds in a row of the table of sections. */
typedef struct {
    int32_t b0;
    int32_t b1;
    int32_t b2;
    int32_t m1;
    int32_t m2;
    int32_t slope;
} wagtail_section_words;
#endif

typedef struct {
    unsigned char word; /* among the lists: that for its first alternative */
    unsigned char pick; /* of wagtail_pick_table: the alternative of every combination */
    unsigned char stride[WAGTAIL_SETTINGS]; /* of each setting's choices */
} wagtail_switch_entry;

typedef struct {
    int32_t gain; /* with the polarity as sign */
    int8_t list; /* where the list of what always runs begins */
    int8_t from; /* the memory of that */
    int8_t split; /* of what settings pick, behind that of all that always runs */
    int8_t first; /* the first position of that */
    int8_t end; /* behind the last; what runs beside has memory from first on */
#ifndef WAGTAIL_NO_SINGLES
    uint16_t forms; /* of what always runs, 2 bits a section, the first in the highest */
#endif
} wagtail_cascade_entry;

typedef struct {
    uint32_t rate_hz;
    const int32_t *sections; /* rows of words */
    const uint16_t *lists; /* words for what settings pick, then the lists of what always runs */
    int16_t settle; /* samples that new sections run unheard */
    int16_t fade; /* samples of a fade */
    int32_t step; /* 1 / fade */
    wagtail_cascade_entry cascade[1 + WAGTAIL_WAYS]; /* common, then the ways */
} wagtail_rate_entry;

static const unsigned char wagtail_pick_table[2] = {
    255u, 0u
};

/* Which of the switches below each position is that settings change, at every rate. */
static const unsigned char wagtail_position_table[2] = {
    0u, 0u
};
static const wagtail_switch_entry wagtail_switch_table[1] = {
    { 0u, 0u, { 1u } }
};

/* b0, b1, b2, m1, m2, slope of every section, error-feedback: the first 5. Above each:
 * - rate, way and number;
 * - the line of the spec, and the frequency and Q that its poles ring at (those of a shelf lie
 *   beside the line's own). Lines of one way that are made together share their zeros: there it
 *   is the line whose poles these are, and the way where no line has them;
 * - form, and computed error in this format re the section's greatest gain. */
#ifdef WAGTAIL_ONLY_48000
static const int32_t wagtail_sections_48000[48] = {
    /* 48000 Hz, common 0: common[0] high-pass, poles at 32 Hz, Q 0.707; delta, -134 dB */
    1070566190, 0, 0, -12721321, -9617467, 16777216,
    /* 48000 Hz, bass 0: ways.bass.filters[1] peak, poles at 619.2 Hz, Q 1.25; error-feedback, */
    /* -119 dB */
    532882137, -1035521062, 506052774, 499671315, -503084743,
    /* 48000 Hz, bass 1: crossovers[0] low-pass, poles at 2.075 kHz, Q 0.712; error-feedback, */
    /* -125 dB */
    321552, 6633330, 25782244, 333825315, -366562480,
    /* 48000 Hz, bass 2: crossovers[0] low-pass, poles at 1.926 kHz, Q 0.706; error-feedback, */
    /* -124 dB */
    18569103, 6663664, -543796, 347066699, -375595373,
    /* 48000 Hz, bass 3: ways.bass.filters[0] pole-shift, poles at 44.98 Hz, Q 0.700; delta, -141 */
    /* dB */
    1240604119, 11032959, 10072848, -18054737, -9490361, 33554432,
    /* 48000 Hz, treble 0: crossovers[0] high-pass, poles at 1.985 kHz, Q 0.713; error-feedback, */
    /* -126 dB */
    499314202, -998628403, 499314202, 342649770, -372858720,
    /* 48000 Hz, treble 1: crossovers[0] high-pass, poles at 2.016 kHz, Q 0.701; error-feedback, */
    /* -125 dB */
    444969997, -889939994, 444969997, 337545689, -368529255,
    /* 48000 Hz, treble 2: ways.treble.filters[0] high-shelf, poles at 9.011 kHz, Q 0.689; */
    /* error-feedback, -115 dB */
    128660838, -82813007, 25839076, -222812115, -96906957,
    /* 48000 Hz, bass and treble: by choice; delta, -128 dB */
    /* placement shelf: common[1] low-shelf, poles at 202 Hz, Q 0.700 */
    534790140, 16037433, 29737206, -20266103, -47130290, 33554432
    /* placement stand: straight through */
};
static const uint16_t wagtail_lists_48000[8] = {
    14378u, 13312u, 0u, 28678u, 13333u, 0u, 28699u, 0u
};
#endif

#ifdef WAGTAIL_NO_SINGLES
#define WAGTAIL_FORMS(forms)
#else
#define WAGTAIL_FORMS(forms) , (forms)
#endif

static const wagtail_rate_entry wagtail_rate_table[] = {
#ifdef WAGTAIL_ONLY_48000
    { 48000u, wagtail_sections_48000, wagtail_lists_48000, 1088, 480, 279620, {
        { 33634106, 1, 0, 8, 0, 0 WAGTAIL_FORMS(0x8000u) }, /* common */
        { 268435456, 3, 1, 8, 0, 1 WAGTAIL_FORMS(0xfe00u) }, /* bass */
        { 380075499, 6, 5, 9, 1, 2 WAGTAIL_FORMS(0xfc00u) } /* treble */
    } },
#endif
};

#define WAGTAIL_RATES ((int32_t)(sizeof wagtail_rate_table / sizeof wagtail_rate_table[0]))

const char wagtail_placement_names[WAGTAIL_PLACEMENT_CHOICES][6] = {
    "stand",
    "shelf"
};

/* ---- filters -------------------------------------------------------------------------- */

/* The exact product. */
static inline int64_t wagtail_times(int32_t a, int32_t b)
{
    return (int64_t)a * b;
}

/* The whole number nearest to v / 2^27, of two the greater. */
static inline int32_t wagtail_narrow(int64_t v)
{
    return (int32_t)((int64_t)(((uint64_t)v + 0x8000000004000000u) >> 27) - 0x1000000000);
}

/* The product of words of which one has 27 bits behind the point. */
static inline int32_t wagtail_scale(int32_t a, int32_t b)
{
    return wagtail_narrow(wagtail_times(a, b));
}

/* A word in the place of a product. */
static inline int64_t wagtail_widen(int32_t v)
{
    return (int64_t)v * 134217728;
}

/* The greatest whole number that is no more than v / 2^32. */
static inline int32_t wagtail_high(int64_t v)
{
    const uint32_t word = (uint32_t)((uint64_t)v >> 32);
    int32_t out;

    (void)memcpy(&out, &word, sizeof out);
    return out;
}

/* The product of words of which one has 32 bits behind the point. */
static inline int32_t wagtail_part(int32_t a, int32_t b)
{
    return wagtail_high(wagtail_times(a, b) + 2147483648);
}

/* That times 2. */
static inline int32_t wagtail_twos(int64_t v)
{
    return wagtail_high(v) * 2;
}

/* That times 8. */
static inline int32_t wagtail_eights(int64_t v)
{
    return wagtail_high(v) * 8;
}

/* A sample as a word. */
static inline int32_t wagtail_taken(int32_t v)
{
    return v;
}

/* The next word of the dither's generator: xorshift, 32 bits. */
static inline uint32_t wagtail_stirred(uint32_t seed)
{
    uint32_t next = seed;

    next ^= next << 13;
    next ^= next >> 17;
    next ^= next << 5;
    return next;
}

/* A word as a sample whose first 24 bits count: the difference of the seed's first and last 8
 * bits is added, then it is the nearest, of two the greater, limited. */
static inline int32_t wagtail_dithered(int32_t v, uint32_t seed)
{
    const int64_t added = (int64_t)(seed >> 24) - (int64_t)(seed & 0xffu) + 128;
    const int64_t wide = ((int64_t)v * 4) + added;
    const int64_t near = (int64_t)(((uint64_t)wide + 0x8000000000000000u) >> 8) - 36028797018963968;
    int32_t out = -8388608;

    if (near > 8388607) {
        out = 8388607;
    } else if (near > -8388608) {
        out = (int32_t)near;
    } else {
        /* the least there is */
    }
    return out * 256;
}

/* A sample of 32 bits is one. */
static inline int32_t wagtail_from_int32(int32_t x)
{
    return x;
}

/* And one is a sample of 32 bits. */
static inline int32_t wagtail_to_int32(int32_t x)
{
    return x;
}

#if defined __GNUC__ && !defined __clang__
#pragma GCC push_options
#if defined __OPTIMIZE__ && !defined __OPTIMIZE_SIZE__
#pragma GCC optimize("O2") /* at -O3 it would grow, and gain nothing */
#endif
#endif

/* A section over n samples, in place: error-feedback. */
static WAGTAIL_NOINLINE void wagtail_run_error_feedback(const int32_t *w, wagtail_memory *m,
        int32_t *io, int n)
{
    const int32_t b0_0 = w[0];
    const int32_t b1_0 = w[1];
    const int32_t b2_0 = w[2];
    const int32_t m1_0 = w[3];
    const int32_t m2_0 = w[4];
    int64_t s_0 = m->s;
    int32_t x1_0 = m->x1;
    int32_t x2_0 = m->x2;
    int32_t y1_0 = m->y1;
    int32_t y2_0 = m->y2;
    int32_t *at = io;
    const int32_t *const end = io + n;

    if (((unsigned int)n % 2u) != 0u) {
        const int32_t x = *at;
        s_0 = ((((s_0 + wagtail_times(b1_0, x1_0)) + wagtail_times(m1_0, y1_0)) +
            wagtail_times(b2_0, x2_0)) + wagtail_times(b0_0, x)) + wagtail_times(m2_0, y2_0);
        const int32_t y_0 = wagtail_eights(s_0);
        x2_0 = x1_0;
        x1_0 = x;
        y2_0 = y1_0;
        y1_0 = y_0;
        *at = y_0;
        at++;
    }
    while (at != end) {
        {
            const int32_t x = at[0];
            s_0 = ((((s_0 + wagtail_times(b1_0, x1_0)) + wagtail_times(m1_0, y1_0)) +
                wagtail_times(b2_0, x2_0)) + wagtail_times(b0_0, x)) + wagtail_times(m2_0, y2_0);
            const int32_t y_0 = wagtail_eights(s_0);
            x2_0 = x1_0;
            x1_0 = x;
            y2_0 = y1_0;
            y1_0 = y_0;
            at[0] = y_0;
        }
        {
            const int32_t x = at[1];
            s_0 = ((((s_0 + wagtail_times(b1_0, x1_0)) + wagtail_times(m1_0, y1_0)) +
                wagtail_times(b2_0, x2_0)) + wagtail_times(b0_0, x)) + wagtail_times(m2_0, y2_0);
            const int32_t y_0 = wagtail_eights(s_0);
            x2_0 = x1_0;
            x1_0 = x;
            y2_0 = y1_0;
            y1_0 = y_0;
            at[1] = y_0;
        }
        at += 2;
    }
    m->s = s_0;
    m->x1 = x1_0;
    m->x2 = x2_0;
    m->y1 = y1_0;
    m->y2 = y2_0;
}

/* A section over n samples, in place: delta, fine. */
static WAGTAIL_NOINLINE void wagtail_run_delta_fine(const int32_t *w, wagtail_memory *m,
        int32_t *io, int n)
{
    const int32_t b0_0 = w[0];
    const int32_t b1_0 = w[1];
    const int32_t b2_0 = w[2];
    const int32_t m1_0 = w[3];
    const int32_t m2_0 = w[4];
    const int32_t slope_0 = w[5];
    int64_t q_0 = m->q;
    int64_t s_0 = m->s;
    int32_t x1_0 = m->x1;
    int32_t *at = io;
    const int32_t *const end = io + n;

    if (((unsigned int)n % 2u) != 0u) {
        const int32_t x = *at;
        int64_t s = s_0 + wagtail_times(b0_0, x - x1_0);
        const int32_t y_0 = wagtail_twos(s);
        s_0 = ((s + wagtail_times(m1_0, y_0)) + wagtail_times(b1_0, x)) + wagtail_times(slope_0,
            wagtail_high(q_0));
        q_0 = (q_0 + wagtail_times(b2_0, x)) + wagtail_times(m2_0, y_0);
        x1_0 = x;
        *at = y_0;
        at++;
    }
    while (at != end) {
        {
            const int32_t x = at[0];
            int64_t s = s_0 + wagtail_times(b0_0, x - x1_0);
            const int32_t y_0 = wagtail_twos(s);
            s_0 = ((s + wagtail_times(m1_0, y_0)) + wagtail_times(b1_0, x)) +
                wagtail_times(slope_0, wagtail_high(q_0));
            q_0 = (q_0 + wagtail_times(b2_0, x)) + wagtail_times(m2_0, y_0);
            x1_0 = x;
            at[0] = y_0;
        }
        {
            const int32_t x = at[1];
            int64_t s = s_0 + wagtail_times(b0_0, x - x1_0);
            const int32_t y_0 = wagtail_twos(s);
            s_0 = ((s + wagtail_times(m1_0, y_0)) + wagtail_times(b1_0, x)) +
                wagtail_times(slope_0, wagtail_high(q_0));
            q_0 = (q_0 + wagtail_times(b2_0, x)) + wagtail_times(m2_0, y_0);
            x1_0 = x;
            at[1] = y_0;
        }
        at += 2;
    }
    m->q = q_0;
    m->s = s_0;
    m->x1 = x1_0;
}

/* A section over n samples, in place: delta, wide. */
static WAGTAIL_NOINLINE void wagtail_run_delta_wide(const int32_t *w, wagtail_memory *m,
        int32_t *io, int n)
{
    const int32_t b0_0 = w[0];
    const int32_t b1_0 = w[1];
    const int32_t b2_0 = w[2];
    const int32_t m1_0 = w[3];
    const int32_t m2_0 = w[4];
    const int32_t slope_0 = w[5];
    int64_t q_0 = m->q;
    int64_t s_0 = m->s;
    int32_t x1_0 = m->x1;
    int32_t *at = io;
    const int32_t *const end = io + n;

    if (((unsigned int)n % 2u) != 0u) {
        const int32_t x = *at;
        int64_t s = s_0 + wagtail_times(b0_0, x - x1_0);
        const int32_t y_0 = wagtail_eights(s);
        s_0 = ((s + wagtail_times(m1_0, y_0)) + wagtail_times(b1_0, x)) + wagtail_times(slope_0,
            wagtail_high(q_0));
        q_0 = (q_0 + wagtail_times(b2_0, x)) + wagtail_times(m2_0, y_0);
        x1_0 = x;
        *at = y_0;
        at++;
    }
    while (at != end) {
        {
            const int32_t x = at[0];
            int64_t s = s_0 + wagtail_times(b0_0, x - x1_0);
            const int32_t y_0 = wagtail_eights(s);
            s_0 = ((s + wagtail_times(m1_0, y_0)) + wagtail_times(b1_0, x)) +
                wagtail_times(slope_0, wagtail_high(q_0));
            q_0 = (q_0 + wagtail_times(b2_0, x)) + wagtail_times(m2_0, y_0);
            x1_0 = x;
            at[0] = y_0;
        }
        {
            const int32_t x = at[1];
            int64_t s = s_0 + wagtail_times(b0_0, x - x1_0);
            const int32_t y_0 = wagtail_eights(s);
            s_0 = ((s + wagtail_times(m1_0, y_0)) + wagtail_times(b1_0, x)) +
                wagtail_times(slope_0, wagtail_high(q_0));
            q_0 = (q_0 + wagtail_times(b2_0, x)) + wagtail_times(m2_0, y_0);
            x1_0 = x;
            at[1] = y_0;
        }
        at += 2;
    }
    m->q = q_0;
    m->s = s_0;
    m->x1 = x1_0;
}

/* The sections of a list over n samples, in place, one after another.
 * What returns is where the next list begins. */
static WAGTAIL_NOINLINE const uint16_t * wagtail_run_list(const int32_t *table,
        const uint16_t *list, wagtail_memory *m, int32_t *io, int n)
{
    unsigned int head = (unsigned int)*list >> WAGTAIL_HEAD;

    while (head != 0u) {
        const int32_t *w = &table[*list & WAGTAIL_ROW];
        unsigned int left = head >> 3;

        do {
            switch (head & 7u) {
            case 4u:
                wagtail_run_error_feedback(w, m, io, n);
                w += 5;
                break;
            case 5u:
                wagtail_run_delta_fine(w, m, io, n);
                w += 6;
                break;
            case 6u:
                wagtail_run_delta_wide(w, m, io, n);
                w += 6;
                break;
            default:
                /* there are no others */
                break;
            }
            m++;
            left--;
        } while (left != 0u);
        list++;
        head = (unsigned int)*list >> WAGTAIL_HEAD;
    }
    return list + 1;
}

/* A cascade's gain: from -> to. */
static WAGTAIL_NOINLINE void wagtail_apply_gain(int32_t gain, const int32_t *from, int32_t *to, int n)
{
    int i = 0;
    const int32_t times = gain / 134217728;

    if (times * 134217728 == gain) { /* whole, as where only levels make it */
        for (; i < n; i++) {
            to[i] = from[i] * times;
        }
        return;
    }

    while (i < n - 3) {
        to[i] = wagtail_scale(gain, from[i]);
        i++;
        to[i] = wagtail_scale(gain, from[i]);
        i++;
        to[i] = wagtail_scale(gain, from[i]);
        i++;
        to[i] = wagtail_scale(gain, from[i]);
        i++;
    }
    while (i < n) {
        to[i] = wagtail_scale(gain, from[i]);
        i++;
    }
}

/* n samples of a fade, from its sample from on: from io to other, or where there is no other from
 * silence to io; way is 1, or -1 to go back. */
static WAGTAIL_COLD void wagtail_fade(int32_t *io, const int32_t *other, int32_t step,
        int32_t from, int32_t way, int n)
{
    int i;

    for (i = 0; i < n; i++) {
        const int32_t at = (int32_t)(from + (way * i));
        const int32_t u = at * step;
        const int32_t v = wagtail_scale(u, wagtail_scale(805306368, u) - 2013265920) + 1342177280;
        const int32_t w = wagtail_scale(wagtail_scale(wagtail_scale(u, u), u), v);

        if (other != NULL) {
            io[i] = wagtail_narrow((wagtail_widen(io[i]) + wagtail_times(w, other[i])) -
                wagtail_times(w, io[i]));
        } else {
            io[i] = wagtail_scale(w, io[i]);
        }
    }
}

/* The list of what the choices pick, of cascade c. What returns is where the next one begins. */
static WAGTAIL_COLD uint16_t *wagtail_make_list(const wagtail_rate_entry *rate,
        const wagtail_channel_state *ch, int c, uint16_t *list)
{
    const wagtail_cascade_entry *cascade = &rate->cascade[c];
    uint16_t *next = list;
    unsigned int follows = 0u; /* the word of the row behind the last one, of the same form */
    int k;
    int i;

    for (k = cascade->first; k < cascade->end; k++) {
        const wagtail_switch_entry *choices = &wagtail_switch_table[wagtail_position_table[k]];
        unsigned int pick = choices->pick;
        unsigned int alternative;

        for (i = 0; i < WAGTAIL_SETTINGS; i++) {
            pick += (unsigned int)choices->stride[i] * ch->chosen[i];
        }
        alternative = wagtail_pick_table[pick];
        if (alternative != WAGTAIL_NONE) {
            const unsigned int word = rate->lists[choices->word + alternative];

            if (word == follows && next != list && next[-1] < WAGTAIL_FULL) { /* one more */
                next[-1] = (uint16_t)(next[-1] + WAGTAIL_ONE_MORE);
            } else {
                *next = (uint16_t)word;
                next++;
            }
            follows = word + ((word >> WAGTAIL_HEAD & 7u) == 4u ? 5u : 6u);
        }
    }
    *next = 0u;
    return next + 1;
}

/* What cascade c goes over to while a setting changes, over n samples: io, behind what always
 * runs, -> beside. */
static WAGTAIL_COLD void wagtail_run_beside(const wagtail_rate_entry *rate,
        wagtail_channel_state *ch, int c, const int32_t *io, int32_t *beside, int n)
{
    const wagtail_cascade_entry *cascade = &rate->cascade[c];
    uint16_t list[WAGTAIL_SWITCHES + 1];
    (void)memcpy(beside, io, (size_t)n * sizeof *io);
    (void)wagtail_make_list(rate, ch, c, list);
    (void)wagtail_run_list(rate->sections, list, &ch->then[cascade->first],
        beside, n);
}

/* The sections of cascade c over n samples, in place. What returns is where
 * the list of what settings pick begins of the next one. */
static inline const uint16_t * wagtail_run_cascade(const wagtail_rate_entry *rate,
        wagtail_channel_state *ch, int c, const uint16_t *picked,
        int32_t *io, int32_t *beside, int n)
{
    const wagtail_cascade_entry *cascade = &rate->cascade[c];

    (void)wagtail_run_list(rate->sections, &rate->lists[cascade->list], &ch->now[cascade->from],
        io, n);
    if (ch->change >= 0 && cascade->end > cascade->first) {
        wagtail_run_beside(rate, ch, c, io, beside, n);
    }
    return *picked == 0u ? picked + 1
        : wagtail_run_list(rate->sections, picked, &ch->now[cascade->split],
            io, n);
}

/* The common part over n samples of one channel: in[i] -> now[i].
 * What returns are the samples before garbage. */
static int wagtail_run_common(const wagtail_rate_entry *rate, wagtail_channel_state *ch,
        const int32_t *in, int32_t *now, int n)
{
    const int32_t gain = rate->cascade[0].gain * 32;
    int good = n;
    int i;

    if (ch->fresh != 0u || ch->dead != 0u) {
        good = 0;
    }
    i = 0;
    while (i < good - 3) {
        {
            int32_t x = wagtail_taken(in[i]);
            now[i] = wagtail_part(gain, x);
            i++;
        }
        {
            int32_t x = wagtail_taken(in[i]);
            now[i] = wagtail_part(gain, x);
            i++;
        }
        {
            int32_t x = wagtail_taken(in[i]);
            now[i] = wagtail_part(gain, x);
            i++;
        }
        {
            int32_t x = wagtail_taken(in[i]);
            now[i] = wagtail_part(gain, x);
            i++;
        }
    }
    for (; i < good; i++) {
        int32_t x = wagtail_taken(in[i]);
        now[i] = wagtail_part(gain, x);
    }
    {
        (void)wagtail_run_list(rate->sections, &rate->lists[rate->cascade[0].list],
            &ch->now[rate->cascade[0].from], now, good);
    }
    return good;
}

/* A way that is not calm: fades, and silence behind good samples. What returns are those that
 * are heard. */
static WAGTAIL_COLD int wagtail_shade(const wagtail_rate_entry *rate,
        const wagtail_channel_state *ch, const wagtail_cascade_entry *cascade,
        int32_t *io, const int32_t *beside, int good, int n)
{
    int heard = good;
    int i;
    if (ch->change >= rate->settle && cascade->end > cascade->first) {
        wagtail_fade(io, beside, rate->step, ch->change - rate->settle, 1, good);
    }
    if (ch->step != 0) {
        wagtail_fade(io, NULL, rate->step, ch->open, ch->step, good);
    } else if (ch->open == 0) {
        heard = 0;
    } else {
        /* fully open */
    }
    for (i = heard; i < n; i++) {
        io[i] = 0;
    }
    return heard;
}

/* The ways over n samples of one channel: good samples of now -> out[way][at + i], then silence. */
static void wagtail_run_ways(const wagtail_rate_entry *rate, wagtail_channel_state *ch,
        const int32_t *now, int good, int32_t *const *out, int at, int n)
{
    int32_t beside[WAGTAIL_TICK];
    const uint16_t *picked = &ch->list[1]; /* behind that of the common part, which is empty */
    uint32_t seed;
    int c;
    int i;

    for (c = 1; c <= WAGTAIL_WAYS; c++) {
        const wagtail_cascade_entry *cascade = &rate->cascade[c];
        int32_t *io = &out[c - 1][at];
        int heard = good;

        {
            wagtail_apply_gain(cascade->gain, now, io, good);
            picked = wagtail_run_cascade(rate, ch, c, picked, io, beside, good);
        }
        if (ch->calm == 0u) {
            heard = wagtail_shade(rate, ch, &rate->cascade[c], io, beside, good, n);
        }
        seed = ch->seed[c - 1];
        for (i = 0; i < heard; i++) {
            seed = wagtail_stirred(seed);
            io[i] = wagtail_dithered(io[i], seed);
        }
        ch->seed[c - 1] = seed;
    }
    if (ch->calm == 0u) {
        if (ch->change >= 0) {
            ch->change = (int16_t)(ch->change + n);
        }
        ch->open = (int16_t)(ch->open + (ch->step * n));
    }
}

/* n samples of one channel, none beyond a tick: in[i] -> out[way][at + i]. */
static WAGTAIL_NOINLINE void wagtail_run_block(const wagtail_rate_entry *rate, wagtail_channel_state *ch,
        const int32_t *in, int32_t *const *out, int at, int n)
{
    int32_t now[WAGTAIL_TICK];
    int good;
    now[0] = 0; /* there may be no good sample, and gcc asks */
    good = wagtail_run_common(rate, ch, in, now, n);
    wagtail_run_ways(rate, ch, now, good, out, at, n);
}

#ifndef WAGTAIL_NO_SINGLES

#ifdef WAGTAIL_SEVERAL
#pragma GCC push_options
/* What is done ahead would need more registers than there are. */
#pragma GCC optimize("no-schedule-insns")
#endif

/* Where there is WAGTAIL_SEVERAL, words go from memory into registers, and back, in one instruction;
 * nothing is computed there. */
/* The first words of a row. */
static WAGTAIL_INLINE void wagtail_row_first(const int32_t **w, wagtail_section_words *row)
{
#ifdef WAGTAIL_SEVERAL
    register int32_t b0 __asm__("r10");
    register int32_t b1 __asm__("r11");

    __asm__("ldmia %0!, {r10, r11}"
            : "+r"(*w), "=r"(b0), "=r"(b1)
            : "m"((*w)[0]), "m"((*w)[1]));
    row->b0 = b0;
    row->b1 = b1;
#else
    row->b0 = (*w)[0];
    row->b1 = (*w)[1];
#endif
}
/* The others of a row of 5, behind a sum that needs only those, and the next row is next. */
static WAGTAIL_INLINE void wagtail_row_rest_5(const int32_t **w, wagtail_section_words *row,
        uint32_t behind)
{
#ifdef WAGTAIL_SEVERAL
    register int32_t b2 __asm__("r10");
    register int32_t m1 __asm__("r11");
    register int32_t m2 __asm__("r12");

    __asm__("ldmia %0!, {r10, r11, r12}"
            : "+r"(*w), "=r"(b2), "=r"(m1), "=r"(m2)
            : "m"((*w)[0]), "m"((*w)[1]), "m"((*w)[2]), "r"(behind));
    row->b2 = b2;
    row->m1 = m1;
    row->m2 = m2;
#else
    (void)behind;
    row->b2 = (*w)[2];
    row->m1 = (*w)[3];
    row->m2 = (*w)[4];
    *w += 5;
#endif
}

/* The others of a row of 6, behind a sum that needs only those, and the next row is next. */
static WAGTAIL_INLINE void wagtail_row_rest_6(const int32_t **w, wagtail_section_words *row,
        uint32_t behind)
{
#ifdef WAGTAIL_SEVERAL
    register int32_t b2 __asm__("r10");
    register int32_t m1 __asm__("r11");
    register int32_t m2 __asm__("r12");
    register int32_t slope __asm__("r14");

    __asm__("ldmia %0!, {r10, r11, r12, r14}"
            : "+r"(*w), "=r"(b2), "=r"(m1), "=r"(m2), "=r"(slope)
            : "m"((*w)[0]), "m"((*w)[1]), "m"((*w)[2]), "m"((*w)[3]), "r"(behind));
    row->b2 = b2;
    row->m1 = m1;
    row->m2 = m2;
    row->slope = slope;
#else
    (void)behind;
    row->b2 = (*w)[2];
    row->m1 = (*w)[3];
    row->m2 = (*w)[4];
    row->slope = (*w)[5];
    *w += 6;
#endif
}

/* What a section remembers, error-feedback, and the next section is next. */
static WAGTAIL_INLINE void wagtail_load_error_feedback(wagtail_memory **m, wagtail_memory *is)
{
#ifdef WAGTAIL_SEVERAL
    register int64_t s __asm__("r0");
    register int32_t x1 __asm__("r3");
    register int32_t x2 __asm__("r4");
    register int32_t y1 __asm__("r5");
    register int32_t y2 __asm__("r14");

    *m += 1;
    __asm__("" : "+r"(*m)); /* or compilers keep where it was as well */
    __asm__("ldmdb %5, {r0, r1, r3, r4, r5, r14}"
            : "=r"(s), "=r"(x1), "=r"(x2), "=r"(y1), "=r"(y2) : "r"(*m), "m"((*m)[-1]));
    is->s = s;
    is->x1 = x1;
    is->x2 = x2;
    is->y1 = y1;
    is->y2 = y2;
#else
    is->s = (*m)->s;
    is->x1 = (*m)->x1;
    is->x2 = (*m)->x2;
    is->y1 = (*m)->y1;
    is->y2 = (*m)->y2;
    *m += 1;
#endif
}

/* What the section before m shall remember. */
static WAGTAIL_INLINE void wagtail_keep_error_feedback(wagtail_memory **m, const wagtail_memory *is)
{
#ifdef WAGTAIL_SEVERAL
    register int64_t s __asm__("r0");
    register int32_t x1 __asm__("r2");
    register int32_t x2 __asm__("r3");
    register int32_t y1 __asm__("r4");
    register int32_t y2 __asm__("r5");

    s = is->s;
    x1 = is->x1;
    x2 = is->x2;
    y1 = is->y1;
    y2 = is->y2;
    __asm__("stmdb %1, {r0, r1, r2, r3, r4, r5}"
            : "+m"((*m)[-1]) : "r"(*m), "r"(s), "r"(x1), "r"(x2), "r"(y1), "r"(y2));
#else
    (*m)[-1].s = is->s;
    (*m)[-1].x1 = is->x1;
    (*m)[-1].x2 = is->x2;
    (*m)[-1].y1 = is->y1;
    (*m)[-1].y2 = is->y2;
#endif
}

/* What a section remembers, delta, fine. */
static WAGTAIL_INLINE void wagtail_load_delta_fine(wagtail_memory **m, wagtail_memory *is)
{
#ifdef WAGTAIL_SEVERAL
    register int64_t q __asm__("r0");
    register int64_t s __asm__("r2");
    register int32_t x1 __asm__("r5");

    __asm__("ldmia %3, {r0, r1, r2, r3, r5}"
            : "=r"(q), "=r"(s), "=r"(x1) : "r"(*m), "m"(**m));
    is->q = q;
    is->s = s;
    is->x1 = x1;
#else
    is->q = (*m)->q;
    is->s = (*m)->s;
    is->x1 = (*m)->x1;
#endif
}

/* What it shall remember, and the next section is next. */
static WAGTAIL_INLINE void wagtail_keep_delta_fine(wagtail_memory **m, const wagtail_memory *is)
{
#ifdef WAGTAIL_SEVERAL
    register int64_t q __asm__("r0");
    register int64_t s __asm__("r2");
    register int32_t x1 __asm__("r4");

    q = is->q;
    s = is->s;
    x1 = is->x1;
    __asm__("stmia %1, {r0, r1, r2, r3, r4}"
            : "+m"((*m)[0]) : "r"(*m), "r"(q), "r"(s), "r"(x1));
#else
    (*m)[0].q = is->q;
    (*m)[0].s = is->s;
    (*m)[0].x1 = is->x1;
#endif
    *m += 1;
}

/* What a section remembers, delta, wide. */
static WAGTAIL_INLINE void wagtail_load_delta_wide(wagtail_memory **m, wagtail_memory *is)
{
#ifdef WAGTAIL_SEVERAL
    register int64_t q __asm__("r0");
    register int64_t s __asm__("r2");
    register int32_t x1 __asm__("r5");

    __asm__("ldmia %3, {r0, r1, r2, r3, r5}"
            : "=r"(q), "=r"(s), "=r"(x1) : "r"(*m), "m"(**m));
    is->q = q;
    is->s = s;
    is->x1 = x1;
#else
    is->q = (*m)->q;
    is->s = (*m)->s;
    is->x1 = (*m)->x1;
#endif
}

/* What it shall remember, and the next section is next. */
static WAGTAIL_INLINE void wagtail_keep_delta_wide(wagtail_memory **m, const wagtail_memory *is)
{
#ifdef WAGTAIL_SEVERAL
    register int64_t q __asm__("r0");
    register int64_t s __asm__("r2");
    register int32_t x1 __asm__("r4");

    q = is->q;
    s = is->s;
    x1 = is->x1;
    __asm__("stmia %1, {r0, r1, r2, r3, r4}"
            : "+m"((*m)[0]) : "r"(*m), "r"(q), "r"(s), "r"(x1));
#else
    (*m)[0].q = is->q;
    (*m)[0].s = is->s;
    (*m)[0].x1 = is->x1;
#endif
    *m += 1;
}

/* One sample of a channel that is calm: *in -> *out[way]. What always runs of all cascades
 * stands in the order in which it runs, rows as well as memory. */
static WAGTAIL_NOINLINE void wagtail_step(const wagtail_rate_entry *rate, wagtail_channel_state *ch,
        const int32_t *in, int32_t *const *out)
{
    const wagtail_cascade_entry *cascade = &rate->cascade[0];
    const int32_t *w = rate->sections;
    wagtail_memory *m = ch->now;
    const uint16_t *picked = ch->list;
    int32_t now;
    int c;

    {
        now = wagtail_taken(*in);
    }
    for (c = 0; c <= WAGTAIL_WAYS; c++) {
        uint32_t forms;
        int32_t x;
        /* The next row of what always runs, and its memory, while others are picked. */
        const int32_t *always = NULL;
        wagtail_memory *here = m;

        forms = (uint32_t)cascade->forms << 16;
        x = wagtail_scale(cascade->gain, now);
        for (;;) {
            unsigned int word;
            do {
                if (forms >= 0xc0000000u) { /* error-feedback */
                    do {
                        wagtail_section_words row;
                        wagtail_memory is;

                        wagtail_load_error_feedback(&m, &is);
                        wagtail_row_first(&w, &row);
                        {
                            is.s = (is.s + wagtail_times(row.b1, is.x1)) + wagtail_times(row.b0, x);
                            wagtail_row_rest_5(&w, &row, (uint32_t)is.s);
                            is.s = ((is.s + wagtail_times(row.m1, is.y1)) +
                                wagtail_times(row.b2, is.x2)) + wagtail_times(row.m2, is.y2);
                            const int32_t y = wagtail_eights(is.s);
                            is.x2 = is.x1;
                            is.x1 = x;
                            is.y2 = is.y1;
                            is.y1 = y;
                            x = y;
                        }
                        wagtail_keep_error_feedback(&m, &is);
                        forms <<= 2;
                    } while (forms >= 0xc0000000u);
                }
                if (forms >= 0x80000000u && forms < 0xc0000000u) { /* delta, fine */
                    do {
                        wagtail_section_words row;
                        wagtail_memory is;

                        wagtail_load_delta_fine(&m, &is);
                        wagtail_row_first(&w, &row);
                        {
                            is.s = is.s + wagtail_times(row.b0, x - is.x1);
                            const int32_t y = wagtail_twos(is.s);
                            is.s = is.s + wagtail_times(row.b1, x);
                            wagtail_row_rest_6(&w, &row, (uint32_t)is.s);
                            is.s = (is.s + wagtail_times(row.slope, wagtail_high(is.q))) +
                                wagtail_times(row.m1, y);
                            is.q = (is.q + wagtail_times(row.b2, x)) + wagtail_times(row.m2, y);
                            is.x1 = x;
                            x = y;
                        }
                        wagtail_keep_delta_fine(&m, &is);
                        forms <<= 2;
                    } while (forms >= 0x80000000u && forms < 0xc0000000u);
                }
                if (forms != 0u && forms < 0x80000000u) { /* delta, wide */
                    do {
                        wagtail_section_words row;
                        wagtail_memory is;

                        wagtail_load_delta_wide(&m, &is);
                        wagtail_row_first(&w, &row);
                        {
                            is.s = is.s + wagtail_times(row.b0, x - is.x1);
                            const int32_t y = wagtail_eights(is.s);
                            is.s = is.s + wagtail_times(row.b1, x);
                            wagtail_row_rest_6(&w, &row, (uint32_t)is.s);
                            is.s = (is.s + wagtail_times(row.slope, wagtail_high(is.q))) +
                                wagtail_times(row.m1, y);
                            is.q = (is.q + wagtail_times(row.b2, x)) + wagtail_times(row.m2, y);
                            is.x1 = x;
                            x = y;
                        }
                        wagtail_keep_delta_wide(&m, &is);
                        forms <<= 2;
                    } while (forms != 0u && forms < 0x80000000u);
                }
            } while (forms != 0u);
            word = *picked;
            picked++;
            if (word == 0u) {
                break;
            }
            if (always == NULL) { /* the first of a list */
                always = w;
                here = m;
                m = &ch->now[cascade->split];
            }
            w = &rate->sections[word & WAGTAIL_ROW];
            forms = 1u;
            forms = (word >> WAGTAIL_HEAD & 7u) == 4u ? 3u : forms;
            forms = (word >> WAGTAIL_HEAD & 7u) == 5u ? 2u : forms;
            forms = (forms * 0x55555555u) << (32u - ((word >> 13) * 2u));
        }
        if (always != NULL) {
            w = always;
            m = here;
        }
        if (c == 0) {
            now = x;
        } else {
            uint32_t seed = ch->seed[c - 1];

            seed = wagtail_stirred(seed);
            *out[c - 1] = wagtail_dithered(x, seed);
            ch->seed[c - 1] = seed;
        }
        cascade++;
    }
}
#ifdef WAGTAIL_SEVERAL
#pragma GCC pop_options
#endif

#endif

/* Samples side by side, in the words of the filters or of 32 bits, and a channel's own. */
typedef struct wagtail_frames wagtail_frames;
struct wagtail_frames {
    const int32_t *in;
    int32_t *out;
    const int32_t *in32; /* where they are wide */
    int32_t *out32;
    int wide;
#ifndef WAGTAIL_NO_SINGLES
    wagtail_state *s;
#endif
    /* Takes samples through their filters: by a pointer, so that programs without frames are
     * linked without it. */
    int (*through)(wagtail_frames *f, const wagtail_rate_entry *rate,
        wagtail_channel_state *ch, int k, int n, int apart);
    const int32_t *ins[WAGTAIL_CHANNELS];
    int32_t *outs[WAGTAIL_CHANNELS * WAGTAIL_WAYS];
    int32_t from[WAGTAIL_TICK];
    int32_t to[WAGTAIL_WAYS][WAGTAIL_TICK];
};
/* ---- what happens at ticks ------------------------------------------------------------ */

/* The lists of all cascades, one behind the other. */
static WAGTAIL_COLD void wagtail_make_lists(const wagtail_rate_entry *rate, wagtail_channel_state *ch)
{
    uint16_t *next = ch->list;
    int c;

    for (c = 0; c <= WAGTAIL_WAYS; c++) {
        next = wagtail_make_list(rate, ch, c, next);
    }
}

/* Settings at a tick: a change that is over is what runs, and one that is asked for begins. */
static void wagtail_change_settings(const wagtail_rate_entry *rate, wagtail_channel_state *ch,
        const volatile unsigned char *asked)
{
    if (ch->change == rate->settle + rate->fade) {
        /* all cascades' stand behind each other, here as there */
        (void)memcpy(&ch->now[rate->cascade[0].split], ch->then,
            (size_t)rate->cascade[WAGTAIL_WAYS].end * sizeof ch->then[0]);
        wagtail_make_lists(rate, ch);
        ch->change = -1;
    }
    if (ch->change < 0) {
        unsigned int differ = 0u;
        int k;

        for (k = 0; k < WAGTAIL_SETTINGS; k++) {
            const unsigned char wanted = asked[k];

            differ |= (unsigned int)wanted ^ ch->chosen[k];
            ch->chosen[k] = wanted;
        }
        if (ch->fresh != 0u) {
            wagtail_make_lists(rate, ch);
        } else if (differ != 0u) {
            (void)memset(ch->then, 0, sizeof ch->then);
            ch->change = 0;
        } else {
            /* as before */
        }
    }
}

/* Sections in which next to nothing is left come to rest, everywhere at the same sample. */
static WAGTAIL_COLD void wagtail_rest(wagtail_memory *m, int sections)
{
    int k;

#if defined __clang__ /* gathers and scatters take longer */
#pragma clang loop vectorize(disable)
#endif
    for (k = 0; k < sections; k++) {
        if (m[k].q < 68719476736 && m[k].q > -68719476736
                && m[k].s < 17716740096 && m[k].s > -17716740096
                && m[k].x1 < 33 && m[k].x1 > -33
                && m[k].x2 < 33 && m[k].x2 > -33
                && m[k].y1 < 33 && m[k].y1 > -33
                && m[k].y2 < 33 && m[k].y2 > -33) {
            m[k].q = 0;
            m[k].s = 0;
            m[k].x1 = 0;
            m[k].x2 = 0;
            m[k].y1 = 0;
            m[k].y2 = 0;
        }
    }
}

/* What is asked of a channel, between two samples. */
static void wagtail_tick_channel(const wagtail_rate_entry *rate, wagtail_channel_state *ch,
        const volatile unsigned char *asked)
{
    const int32_t fade = rate->fade;
    const int mute = (int)asked[WAGTAIL_MUTE];

    wagtail_change_settings(rate, ch, asked);
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
static WAGTAIL_COLD void wagtail_tick(wagtail_state *s, const wagtail_rate_entry *rate)
{
    int c;

    for (c = 0; c < WAGTAIL_CHANNELS; c++) {
        wagtail_channel_state *ch = &s->channel[c];

        wagtail_tick_channel(rate, ch, s->asked[c]);
        if (s->count == 0u) {
            wagtail_rest(ch->now, WAGTAIL_POSITIONS);
            wagtail_rest(ch->then, WAGTAIL_THEN); /* idle ones, too */
        }
    }
}

/* Of n samples those before the next tick; what is due before them is done. */
static int wagtail_begin(wagtail_state *s, const wagtail_rate_entry *rate, int n)
{
    const uint32_t into = s->count % WAGTAIL_TICK;
    const int left = (int)(WAGTAIL_TICK - into);

    if (into == 0u) {
        wagtail_tick(s, rate);
    }
    return n < left ? n : left;
}

/* ---- the interface -------------------------------------------------------------------- */

/* The rate that a state runs at; NULL where init did not leave it behind. */
static WAGTAIL_NOINLINE const wagtail_rate_entry *wagtail_rate_of(const wagtail_state *s)
{
    return s->ready != WAGTAIL_READY || s->check != WAGTAIL_CHECK || s->rate < 0
            || s->rate >= WAGTAIL_RATES ? NULL : &wagtail_rate_table[s->rate];
}

/* 1 also for a channel that does not exist. */
static WAGTAIL_COLD int wagtail_refuse_channel(const wagtail_state *s, int channel)
{
    return channel < 0 || channel >= WAGTAIL_CHANNELS || wagtail_rate_of(s) == NULL ? 1 : 0;
}

/* Asks a channel for a choice of one of its settings, or for silence. */
static WAGTAIL_COLD int wagtail_ask(wagtail_state *s, int channel, int what, unsigned int choice)
{
    static const unsigned char wagtail_choices[WAGTAIL_MUTE + 1] = { 2u, 2u };

    if (choice >= wagtail_choices[what] || wagtail_refuse_channel(s, channel) != 0) {
        return 1;
    }
    s->asked[channel][what] = (unsigned char)choice;
    return 0;
}

/* What was asked for. */
static WAGTAIL_COLD int wagtail_asked(const wagtail_state *s, int channel, int what)
{
    return wagtail_refuse_channel(s, channel) != 0 ? -1 : (int)s->asked[channel][what];
}

/* Silence in one channel. */
static WAGTAIL_COLD void wagtail_silence(wagtail_channel_state *ch, int channel)
{
    int i;

    (void)memset(ch, 0, sizeof *ch);
    for (i = 0; i < WAGTAIL_WAYS; i++) {
        ch->seed[i] = 0x9e3779b9u * ((uint32_t)channel * WAGTAIL_WAYS + (uint32_t)i + 1u);
    }
    ch->change = -1;
    ch->fresh = 1u;
}

/* In all of them. */
static WAGTAIL_COLD void wagtail_silence_all(wagtail_state *s)
{
    int c;

    for (c = 0; c < WAGTAIL_CHANNELS; c++) {
        wagtail_silence(&s->channel[c], c);
    }
    s->count = 0u;
}

/* Starts at a rate; 1 where there is no such. */
static WAGTAIL_COLD int wagtail_start(wagtail_state *s, uint32_t rate_hz)
{
    int32_t i;

    for (i = 0; i < WAGTAIL_RATES; i++) {
        if (wagtail_rate_table[i].rate_hz == rate_hz) {
            s->rate = i;
            wagtail_silence_all(s);
            return 0;
        }
    }
    return 1;
}

int wagtail_set_rate(wagtail_state *s, uint32_t rate_hz)
{
    return wagtail_rate_of(s) == NULL ? 1 : wagtail_start(s, rate_hz);
}

int wagtail_init(wagtail_state *s, uint32_t rate_hz)
{
    (void)memset(s, 0, sizeof *s);
    if (wagtail_start(s, rate_hz) != 0) {
        return 1;
    }
    s->ready = WAGTAIL_READY;
    s->check = WAGTAIL_CHECK;
    return 0;
}

void wagtail_reset(wagtail_state *s)
{
    if (wagtail_rate_of(s) != NULL) {
        wagtail_silence_all(s);
    }
}

int wagtail_reset_channel(wagtail_state *s, int channel)
{
    if (wagtail_refuse_channel(s, channel) != 0) {
        return 1;
    }
    wagtail_silence(&s->channel[channel], channel);
    return 0;
}

int wagtail_set_placement(wagtail_state *s, int channel, enum wagtail_placement choice)
{
    return wagtail_ask(s, channel, 0, (unsigned int)choice);
}

int wagtail_get_placement(const wagtail_state *s, int channel)
{
    return wagtail_asked(s, channel, 0);
}

int wagtail_mute(wagtail_state *s, int channel, int on)
{
    return wagtail_ask(s, channel, WAGTAIL_MUTE, on != 0 ? 1u : 0u);
}

int wagtail_muted(const wagtail_state *s, int channel)
{
    return wagtail_asked(s, channel, WAGTAIL_MUTE);
}

int wagtail_garbage(const wagtail_state *s, int channel)
{
    return wagtail_refuse_channel(s, channel) != 0 ? -1 : (int)s->channel[channel].dead;
}

/* n samples of all channels: in -> out, or from frames to frames. */
static WAGTAIL_BLOCKS int wagtail_run_all(wagtail_state *s, const int32_t *const *in,
        int32_t *const *out, wagtail_frames *f, int n)
{
    const wagtail_rate_entry *const rate = wagtail_rate_of(s);
    int done = 0;

    if (n < 0 || rate == NULL) {
        return 1;
    }
    while (done < n) {
        const int chunk = wagtail_begin(s, rate, n - done);
        int c;
        for (c = 0; c < WAGTAIL_CHANNELS; c++) {
            wagtail_channel_state *const ch = &s->channel[c];

            if (f != NULL) {
                (void)f->through(f, rate, ch, (done * WAGTAIL_CHANNELS) + c, chunk,
                    WAGTAIL_CHANNELS);
            } else {
                wagtail_run_block(rate, ch, &in[c][done], &out[c * WAGTAIL_WAYS], done, chunk);
            }
        }
        s->count = (s->count + (uint32_t)chunk) % WAGTAIL_REST;
        done += chunk;
    }
    return 0;
}

#ifndef WAGTAIL_NO_SINGLES
/* One sample of all channels: one that is calm goes through sections one by one. */
static WAGTAIL_NOINLINE int wagtail_run_one(wagtail_state *s, const int32_t *const *in,
        int32_t *const *out)
{
    const wagtail_rate_entry *const rate = wagtail_rate_of(s);
    int c;

    if (rate == NULL) {
        return 1;
    }
    (void)wagtail_begin(s, rate, 1);
    s->count = (s->count + 1u) % WAGTAIL_REST;
    for (c = 0; c < WAGTAIL_CHANNELS; c++) {
        wagtail_channel_state *const ch = &s->channel[c];

        if (ch->calm != 0u) {
            wagtail_step(rate, ch, in[c], &out[c * WAGTAIL_WAYS]);
        } else {
            wagtail_run_block(rate, ch, in[c], &out[c * WAGTAIL_WAYS], 0, 1);
        }
    }
    return 0;
}

#endif

int wagtail_run(wagtail_state *s, const int32_t *const *in, int32_t *const *out, int n)
{
#ifndef WAGTAIL_NO_SINGLES
    if (n == 1) {
        return wagtail_run_one(s, in, out);
    }
#endif
    return wagtail_run_all(s, in, out, NULL, n);
}

/* n samples so many apart, from number k on, of a channel, or without a channel one of each. */
static WAGTAIL_SMALL int wagtail_through(wagtail_frames *f, const wagtail_rate_entry *rate,
        wagtail_channel_state *ch, int k, int n, int apart)
{
    int at = k;
    int i;
    int w;

    for (i = 0; i < n; i++) {
        f->from[i] = f->wide != 0 ? wagtail_from_int32(f->in32[at]) : f->in[at];
        at += apart;
    }
#ifndef WAGTAIL_NO_SINGLES
    if (ch == NULL) {
        if (wagtail_run_one(f->s, f->ins, f->outs) != 0) {
            return 1;
        }
    } else
#endif
    {
        wagtail_run_block(rate, ch, f->from, f->outs, 0, n);
    }
    at = k * WAGTAIL_WAYS;
    for (i = 0; i < n; i++) {
        for (w = 0; w < WAGTAIL_WAYS; w++) {
            if (f->wide != 0) {
                f->out32[at + w] = wagtail_to_int32(f->to[w][i]);
            } else {
                f->out[at + w] = f->to[w][i];
            }
        }
        at += apart * WAGTAIL_WAYS;
    }
    return 0;
}

/* n frames. */
static WAGTAIL_SMALL int wagtail_run_side_by_side(wagtail_state *s, wagtail_frames *f, int n)
{
    int beside = 1; /* channels in a row of to */
    int k = 0;
    int c;
    int w;
#ifndef WAGTAIL_NO_SINGLES
    f->s = s;
    if (n == 1) {
        beside = WAGTAIL_CHANNELS;
    }
#endif
    for (c = 0; c < beside; c++) {
        f->ins[c] = &f->from[c];
        for (w = 0; w < WAGTAIL_WAYS; w++) {
            f->outs[k] = &f->to[w][c];
            k++;
        }
    }
#ifndef WAGTAIL_NO_SINGLES
    if (n == 1) {
        return wagtail_through(f, NULL, NULL, 0, WAGTAIL_CHANNELS, 1);
    }
#endif
    f->through = wagtail_through;
    return wagtail_run_all(s, NULL, NULL, f, n);
}

int wagtail_run_frames(wagtail_state *s, const int32_t *in, int32_t *out, int n)
{
    wagtail_frames f;

    f.in = in;
    f.out = out;
    f.wide = 0;
    return wagtail_run_side_by_side(s, &f, n);
}

int wagtail_run_frames_int32(wagtail_state *s, const int32_t *in, int32_t *out, int n)
{
    wagtail_frames f;

    f.in32 = in;
    f.out32 = out;
    f.wide = 1;
    return wagtail_run_side_by_side(s, &f, n);
}

#if defined __GNUC__ && !defined __clang__
#pragma GCC pop_options
#endif
