/*
 * a_weighting_float32.h: the loudspeaker filters of "a_weighting" in single precision
 *
 * A-weighting for sound level measurement (IEC 61672-1)
 * Revision 1
 * Spec SHA-256 586ddc2e7bfba0c537e7adf995975c582ba12a8e1321cb9998a02ca317388236
 *
 * WHAT IT DOES
 * One input channel becomes 1 way. Every input sample passes the common filters once;
 * each way then applies its gain with its polarity, its delay and its own filters:
 *
 *   out[A_WEIGHTING_WAY_WEIGHTED]: weighted, 0 dB, normal polarity, sections: 3
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
 *   static a_weighting_state filters;                 all the memory there is
 *   a_weighting_init(&filters, 48000);                the rate in Hz: 48000 or 96000
 *   a_weighting_run(&filters, channel, in, out, n);   channel 0
 *   a_weighting_reset(&filters);                      silence in every state and delay
 *
 * All but reset return 0, or 1 for something that does not exist: a rate, channel or choice, or
 * a state that was not initialised. Then nothing was done, and run wrote nothing: mute.
 * n is any number of samples from 0 up; splitting them into blocks in another way does not
 * change a bit. in may be the same array as one of out. Full scale is -1 to 1. Feed finite
 * numbers: a NaN stays in the state until the next reset. Different state structs may be used
 * at the same time. Calls on one struct may not interrupt each other: a set call from the main
 * loop has to wait while run works in an interrupt. The state takes 28 bytes.
 *
 * LEVELS
 * The input is attenuated by 2 dB (times 0.794328), the headroom for what the filters boost.
 * Give it back behind the converters: 2 dB of make-up gain. Floating-point outputs are not
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
#ifndef A_WEIGHTING_FLOAT32_H
#define A_WEIGHTING_FLOAT32_H

#ifdef A_WEIGHTING_FORMAT
#error "a_weighting: include the header of one number format only; another one came before this"
#endif
#define A_WEIGHTING_FORMAT "float32"
#define A_WEIGHTING_SPEC_SHA256 "586ddc2e7bfba0c537e7adf995975c582ba12a8e1321cb9998a02ca317388236"

#include <float.h>
#include <stdint.h>

#if FLT_RADIX != 2 || FLT_MANT_DIG != 24
#error "a_weighting: float must be an IEEE 754 number of 32 bits here"
#endif
#if FLT_EVAL_METHOD != 0 && FLT_EVAL_METHOD != 16
#error "a_weighting: float must be computed as float; on a 32-bit x86 use -msse2 -mfpmath=sse"
#endif
#ifdef __FAST_MATH__
#error "a_weighting: -ffast-math reorders the filters' arithmetic; compile without it"
#endif

/* No product may be fused with a sum, whatever the compiler's own setting is: every compiler
 * and processor then gives the same bits. (clang's -ffp-contract=fast ignores this.) */
#if defined __GNUC__ && !defined __clang__
#pragma GCC push_options
#pragma GCC optimize("fp-contract=off")
#define A_WEIGHTING_NO_FUSING
#else
#define A_WEIGHTING_NO_FUSING _Pragma("STDC FP_CONTRACT OFF")
#endif

#define A_WEIGHTING_CHANNELS 1
#define A_WEIGHTING_WAYS 1
#define A_WEIGHTING_RATES 2
#define A_WEIGHTING_POSITIONS 3 /* the most sections of a channel at one rate */
#define A_WEIGHTING_BLOCK 32 /* samples that pass at a time; any number gives the same bits */

/* The outputs, in the order of out. */
enum a_weighting_way_index {
    A_WEIGHTING_WAY_WEIGHTED = 0
};

/* ---- state ---------------------------------------------------------------------------- */

typedef struct {
    float p[A_WEIGHTING_POSITIONS];
    float q[A_WEIGHTING_POSITIONS];
} a_weighting_channel_state;

typedef struct {
    a_weighting_channel_state channel[A_WEIGHTING_CHANNELS];
    int rate; /* 1 + row of a_weighting_rate_table; 0: not initialised */
} a_weighting_state;

/* ---- tables --------------------------------------------------------------------------- */

typedef struct {
    float c;
    float b0;
    float b1;
    float b2;
    float a1;
    float a2;
} a_weighting_section_words;

typedef struct {
    float gain; /* with the polarity as sign */
    int from; /* its positions: from <= k < to */
    int to;
} a_weighting_cascade_entry;

typedef struct {
    uint32_t rate_hz;
    int first; /* position 0 in a_weighting_section_table */
    a_weighting_cascade_entry cascade[1 + A_WEIGHTING_WAYS]; /* common, then the ways */
} a_weighting_rate_entry;

/* c, b0, b1, b2, a1, a2 of every section. Beside each: the spec line that it realises, its
 * form, and its computed error in this format, re the section's greatest gain. */
static const a_weighting_section_words a_weighting_section_table[6] = {
    /* 48000 Hz, weighted 0: ways.weighted; delta form, -141 dB */
    { 1.0f, 0.5198005f, 0.7794902f, 0.08719182f, 0.8066502f, 0.08489408f },
    /* 48000 Hz, weighted 1: ways.weighted; delta form, -143 dB */
    { 1.0f, 0.9866142f, 0.0f, 0.0f, 0.10513892f, 0.0012457964f },
    /* 48000 Hz, weighted 2: ways.weighted; delta form, -130 dB */
    { 1.0f, 1.1582614f, 0.0f, 0.0f, 0.0054780934f, 6.7702827e-06f },
    /* 96000 Hz, weighted 0: ways.weighted; delta form, -141 dB */
    { 1.0f, 1.0141838f, 0.0f, 0.0f, 0.054165754f, 0.00033101684f },
    /* 96000 Hz, weighted 1: ways.weighted; delta form, -142 dB */
    { 1.0f, 0.24598362f, 0.5624498f, 0.31466013f, 1.0982077f, 0.30165622f },
    /* 96000 Hz, weighted 2: ways.weighted; delta form, -127 dB */
    { 1.0f, 1.1560403f, 0.0f, 0.0f, 0.0026945279f, 1.815329e-06f }
};

static const a_weighting_rate_entry a_weighting_rate_table[A_WEIGHTING_RATES] = {
    { 48000u, 0, {
        { 0.7943282f, 0, 0 }, /* common */
        { 1.0f, 0, 3 } /* weighted */
    } },
    { 96000u, 3, {
        { 0.7943282f, 0, 0 }, /* common */
        { 1.0f, 0, 3 } /* weighted */
    } }
};

/* ---- filters -------------------------------------------------------------------------- */

/* One section over n samples, in place. */
static inline void a_weighting_run_section(const a_weighting_section_words *words, float *p_state,
        float *q_state, float *io, int n)
{
    A_WEIGHTING_NO_FUSING
    const a_weighting_section_words k = *words;
    float p = *p_state;
    float q = *q_state;
    int i;

    for (i = 0; i < n; i++) {
        const float x = io[i];
        const float y = k.b0 * x + p;
        p = k.c * p + ((q + k.b1 * x) - k.a1 * y);
        q = (k.c * q + k.b2 * x) - k.a2 * y;
        io[i] = y;
    }
    *p_state = p;
    *q_state = q;
}

/* Cascade number c over n samples, in place: gain, sections. */
static inline void a_weighting_run_cascade(const a_weighting_rate_entry *rate, int c,
        a_weighting_channel_state *channel, float *io, int n)
{
    const a_weighting_cascade_entry *cascade = &rate->cascade[c];
    int i;
    int k;

    for (i = 0; i < n; i++) {
        io[i] = cascade->gain * io[i];
    }
    for (k = cascade->from; k < cascade->to; k++) {
        a_weighting_run_section(&a_weighting_section_table[rate->first + k], &channel->p[k],
            &channel->q[k], io, n);
    }
}

/* ---- the interface -------------------------------------------------------------------- */

/* Silence in every state and delay line of every channel. */
static inline void a_weighting_reset(a_weighting_state *s)
{
    int c;
    int i;

    for (c = 0; c < A_WEIGHTING_CHANNELS; c++) {
        a_weighting_channel_state *ch = &s->channel[c];

        for (i = 0; i < A_WEIGHTING_POSITIONS; i++) {
            ch->p[i] = 0.0f;
            ch->q[i] = 0.0f;
        }
    }
}

/* Makes the state ready for a sampling rate. */
static inline int a_weighting_init(a_weighting_state *s, uint32_t rate_hz)
{
    int i;

    s->rate = 0;
    for (i = 0; i < A_WEIGHTING_RATES; i++) {
        if (a_weighting_rate_table[i].rate_hz == rate_hz) {
            s->rate = i + 1;
        }
    }
    a_weighting_reset(s);
    return s->rate > 0 ? 0 : 1;
}

/* Filters n samples of one channel: in[i] -> out[way][i]. in may be the same array as one of
 * out; otherwise no two may overlap. */
static inline int a_weighting_run(a_weighting_state *s, int channel, const float *in,
        float *const out[A_WEIGHTING_WAYS], int n)
{
    float common[A_WEIGHTING_BLOCK];
    float way[A_WEIGHTING_BLOCK];
    const a_weighting_rate_entry *rate;
    a_weighting_channel_state *ch;
    int done = 0;

    if (s->rate < 1 || channel < 0 || channel >= A_WEIGHTING_CHANNELS || n < 0) {
        return 1;
    }
    rate = &a_weighting_rate_table[s->rate - 1];
    ch = &s->channel[channel];
    while (done < n) {
        int block = n - done;
        int w;
        int i;

        if (block > A_WEIGHTING_BLOCK) {
            block = A_WEIGHTING_BLOCK;
        }
        for (i = 0; i < block; i++) {
            common[i] = in[done + i];
        }
        a_weighting_run_cascade(rate, 0, ch, common, block);
        for (w = 0; w < A_WEIGHTING_WAYS; w++) {
            for (i = 0; i < block; i++) {
                way[i] = common[i];
            }
            a_weighting_run_cascade(rate, 1 + w, ch, way, block);
            for (i = 0; i < block; i++) {
                out[w][done + i] = way[i];
            }
        }
        done += block;
    }
    return 0;
}

#undef A_WEIGHTING_NO_FUSING
#if defined __GNUC__ && !defined __clang__
#pragma GCC pop_options
#endif

#endif
