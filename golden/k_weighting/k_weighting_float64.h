/*
 * k_weighting_float64.h: the loudspeaker filters of "k_weighting" in double precision
 *
 * K-weighting for loudness measurement (ITU-R BS.1770, Annex 1)
 * Revision 1
 * Spec SHA-256 29e1ef5e82e76c1e77f1dd7279d7a5b11a20f993805dabaca2663d1272037fd4
 *
 * WHAT IT DOES
 * One input channel becomes 1 way. Every input sample passes the common filters once;
 * each way then applies its gain with its polarity, its delay and its own filters:
 *
 *   out[K_WEIGHTING_WAY_WEIGHTED]: weighted, 0.043 dB, normal polarity, sections: 2
 *
 * Each filter is a section of first or second order that computes, in this order and with
 * every product and sum rounded by itself,
 *
 *   y = b0*x + p
 *   p = c*p + ((q + b1*x) - a1*y)        the feedback a1, a2 is SUBTRACTED
 *   q = (c*q + b2*x) - a2*y
 *
 * with H = (b0 + b1*t + b2*t^2) / (1 + a1*t + a2*t^2) and t = 1/(z - c). Rows with c = 0 are in
 * the direct form, t = 1/z; rows with c = 1 are in the delta form, which keeps low corners
 * accurate in short words. Nothing here is meant to be edited: change the spec instead.
 *
 * HOW TO USE IT
 *   static k_weighting_state filters;                 all the memory there is
 *   k_weighting_init(&filters, 48000);                the rate in Hz: 48000
 *   k_weighting_run(&filters, channel, in, out, n);   channel 0 to 1
 *   k_weighting_reset(&filters);                      silence in every state and delay
 *
 * All but reset return 0, or 1 for something that does not exist: a rate, channel or choice, or
 * a state that was not initialised. Then nothing was done, and run wrote nothing: mute.
 * n is any number of samples from 0 up; splitting them into blocks in another way does not
 * change a bit. in may be the same array as one of out. Full scale is -1 to 1. Feed finite
 * numbers: a NaN stays in the state until the next reset. Different state structs may be used
 * at the same time. Calls on one struct may not interrupt each other: a set call from the main
 * loop has to wait while run works in an interrupt. The state takes 72 bytes.
 *
 * LEVELS
 * The input is attenuated by 5 dB (times 0.562341), the headroom for what the filters boost.
 * Give it back behind the converters: 5 dB of make-up gain. Floating-point outputs are not
 * limited: limit them before they are cut to a converter's words.
 *
 * CAUTION
 * - Signals at full level can destroy drivers in an instant, and hearing with them. Start with
 *   the level turned down, and with protection in series with a tweeter.
 * - Check that the outputs stay muted at power-up, at reset and whenever a call returns 1.
 * - Check which way reaches which amplifier before anything is loud: the wrong one sends bass
 *   to a treble driver.
 * - Where mains voltage is involved, follow local codes; that work is for licensed people.
 */
#ifndef K_WEIGHTING_FLOAT64_H
#define K_WEIGHTING_FLOAT64_H

#ifdef K_WEIGHTING_FORMAT
#error "k_weighting: include the header of one number format only; another one came before this"
#endif
#define K_WEIGHTING_FORMAT "float64"
#define K_WEIGHTING_SPEC_SHA256 "29e1ef5e82e76c1e77f1dd7279d7a5b11a20f993805dabaca2663d1272037fd4"

#include <float.h>
#include <stdint.h>

#if FLT_RADIX != 2 || DBL_MANT_DIG != 53
#error "k_weighting: double must be an IEEE 754 number of 64 bits here"
#endif
#if FLT_EVAL_METHOD != 0 && FLT_EVAL_METHOD != 1 && FLT_EVAL_METHOD != 16
#error "k_weighting: double must be computed as double; on a 32-bit x86 use -msse2 -mfpmath=sse"
#endif
#ifdef __FAST_MATH__
#error "k_weighting: -ffast-math reorders the filters' arithmetic; compile without it"
#endif

/* No product may be fused with a sum, whatever the compiler's own setting is: every compiler
 * and processor then gives the same bits. (clang's -ffp-contract=fast ignores this.) */
#if defined __GNUC__ && !defined __clang__
#pragma GCC push_options
#pragma GCC optimize("fp-contract=off")
#define K_WEIGHTING_NO_FUSING
#else
#define K_WEIGHTING_NO_FUSING _Pragma("STDC FP_CONTRACT OFF")
#endif

#define K_WEIGHTING_CHANNELS 2
#define K_WEIGHTING_WAYS 1
#define K_WEIGHTING_RATES 1
#define K_WEIGHTING_POSITIONS 2 /* the most sections of a channel at one rate */
#define K_WEIGHTING_BLOCK 32 /* samples that pass at a time; any number gives the same bits */

/* The outputs, in the order of out. */
enum k_weighting_way_index {
    K_WEIGHTING_WAY_WEIGHTED = 0
};

/* ---- state ---------------------------------------------------------------------------- */

typedef struct {
    double p[K_WEIGHTING_POSITIONS];
    double q[K_WEIGHTING_POSITIONS];
} k_weighting_channel_state;

typedef struct {
    k_weighting_channel_state channel[K_WEIGHTING_CHANNELS];
    int rate; /* 1 + row of k_weighting_rate_table; 0: not initialised */
} k_weighting_state;

/* ---- tables --------------------------------------------------------------------------- */

typedef struct {
    double c;
    double b0;
    double b1;
    double b2;
    double a1;
    double a2;
} k_weighting_section_words;

typedef struct {
    double gain; /* with the polarity as sign */
    int from; /* its positions: from <= k < to */
    int to;
} k_weighting_cascade_entry;

typedef struct {
    uint32_t rate_hz;
    int first; /* position 0 in k_weighting_section_table */
    k_weighting_cascade_entry cascade[1 + K_WEIGHTING_WAYS]; /* common, then the ways */
} k_weighting_rate_entry;

/* c, b0, b1, b2,
 *  a1, a2 of every section. Beside each: the spec line that it realises, its
 * form, and its computed error in this format, re the section's greatest gain. */
static const k_weighting_section_words k_weighting_section_table[2] = {
    /* 48000 Hz, weighted 0: ways.weighted.filters[1] high-pass; direct form, -238 dB */
    { 0.0, 0.9950299263000474, -1.9900598526000948, 0.9950299263000474,
      -1.99004745483398, 0.99007225036621 },
    /* 48000 Hz, weighted 1: ways.weighted.filters[0] rational; direct form, -294 dB */
    { 0.0, 1.53512485958697, -2.6916961894063802, 1.19839281085285,
      -1.69065929318241, 0.73248077421585 }
};

static const k_weighting_rate_entry k_weighting_rate_table[K_WEIGHTING_RATES] = {
    { 48000u, 0, {
        { 0.5623413251903491, 0, 0 }, /* common */
        { 1.0049948987146884, 0, 2 } /* weighted */
    } }
};

/* ---- filters -------------------------------------------------------------------------- */

/* One section over n samples, in place. */
static inline void k_weighting_run_section(const k_weighting_section_words *words, double *p_state,
        double *q_state, double *io, int n)
{
    K_WEIGHTING_NO_FUSING
    const k_weighting_section_words k = *words;
    double p = *p_state;
    double q = *q_state;
    int i;

    for (i = 0; i < n; i++) {
        const double x = io[i];
        const double y = k.b0 * x + p;
        p = k.c * p + ((q + k.b1 * x) - k.a1 * y);
        q = (k.c * q + k.b2 * x) - k.a2 * y;
        io[i] = y;
    }
    *p_state = p;
    *q_state = q;
}

/* Cascade number c over n samples, in place: gain, sections. */
static inline void k_weighting_run_cascade(const k_weighting_rate_entry *rate, int c,
        k_weighting_channel_state *channel, double *io, int n)
{
    const k_weighting_cascade_entry *cascade = &rate->cascade[c];
    int i;
    int k;

    for (i = 0; i < n; i++) {
        io[i] = cascade->gain * io[i];
    }
    for (k = cascade->from; k < cascade->to; k++) {
        k_weighting_run_section(&k_weighting_section_table[rate->first + k], &channel->p[k],
            &channel->q[k], io, n);
    }
}

/* ---- the interface -------------------------------------------------------------------- */

/* Silence in every state and delay line of every channel. */
static inline void k_weighting_reset(k_weighting_state *s)
{
    int c;
    int i;

    for (c = 0; c < K_WEIGHTING_CHANNELS; c++) {
        k_weighting_channel_state *ch = &s->channel[c];

        for (i = 0; i < K_WEIGHTING_POSITIONS; i++) {
            ch->p[i] = 0.0;
            ch->q[i] = 0.0;
        }
    }
}

/* Makes the state ready for a sampling rate. */
static inline int k_weighting_init(k_weighting_state *s, uint32_t rate_hz)
{
    int i;

    s->rate = 0;
    for (i = 0; i < K_WEIGHTING_RATES; i++) {
        if (k_weighting_rate_table[i].rate_hz == rate_hz) {
            s->rate = i + 1;
        }
    }
    k_weighting_reset(s);
    return s->rate > 0 ? 0 : 1;
}

/* Filters n samples of one channel: in[i] -> out[way][i]. in may be the same array as one of
 * out; otherwise no two may overlap. */
static inline int k_weighting_run(k_weighting_state *s, int channel, const double *in,
        double *const out[K_WEIGHTING_WAYS], int n)
{
    double common[K_WEIGHTING_BLOCK];
    double way[K_WEIGHTING_BLOCK];
    const k_weighting_rate_entry *rate;
    k_weighting_channel_state *ch;
    int done = 0;

    if (s->rate < 1 || channel < 0 || channel >= K_WEIGHTING_CHANNELS || n < 0) {
        return 1;
    }
    rate = &k_weighting_rate_table[s->rate - 1];
    ch = &s->channel[channel];
    while (done < n) {
        int block = n - done;
        int w;
        int i;

        if (block > K_WEIGHTING_BLOCK) {
            block = K_WEIGHTING_BLOCK;
        }
        for (i = 0; i < block; i++) {
            common[i] = in[done + i];
        }
        k_weighting_run_cascade(rate, 0, ch, common, block);
        for (w = 0; w < K_WEIGHTING_WAYS; w++) {
            for (i = 0; i < block; i++) {
                way[i] = common[i];
            }
            k_weighting_run_cascade(rate, 1 + w, ch, way, block);
            for (i = 0; i < block; i++) {
                out[w][done + i] = way[i];
            }
        }
        done += block;
    }
    return 0;
}

#undef K_WEIGHTING_NO_FUSING
#if defined __GNUC__ && !defined __clang__
#pragma GCC pop_options
#endif

#endif
