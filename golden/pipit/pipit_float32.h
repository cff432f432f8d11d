/*
 * pipit_float32.h: the loudspeaker filters of "pipit" in single precision
 *
 * Pipit, the least a two-way needs (invented)
 * Spec SHA-256 4eae535d87d6de68631765ffcaa2606f86dbf6bf82c80c9bf5fe841db6e2b4f7
 *
 * WHAT IT DOES
 * One input channel becomes 2 ways. Every input sample passes the common filters once;
 * each way then applies its gain with its polarity, its delay and its own filters:
 *
 *   out[PIPIT_WAY_BASS]: bass, -2 dB, normal polarity, sections: 3
 *   out[PIPIT_WAY_TREBLE]: treble, -6 dB, inverted polarity, sections: 1
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
 *   static pipit_state filters;                 all the memory there is
 *   pipit_init(&filters, 48000);                the rate in Hz: 48000
 *   pipit_run(&filters, channel, in, out, n);   channel 0
 *   pipit_reset(&filters);                      silence in every state and delay
 *
 * All but reset return 0, or 1 for something that does not exist: a rate, channel or choice, or
 * a state that was not initialised. Then nothing was done, and run wrote nothing: mute.
 * n is any number of samples from 0 up; splitting them into blocks in another way does not
 * change a bit. in may be the same array as one of out. Full scale is -1 to 1. Feed finite
 * numbers: a NaN stays in the state until the next reset. Different state structs may be used
 * at the same time. Calls on one struct may not interrupt each other: a set call from the main
 * loop has to wait while run works in an interrupt. The state takes 36 bytes.
 *
 * LEVELS
 * The input is not attenuated: what the filters boost above full scale leaves them above full
 * scale. Floating-point outputs are not limited: limit them before they are cut to a
 * converter's words.
 *
 * CAUTION
 * - Signals at full level can destroy drivers in an instant, and hearing with them. Start with
 *   the level turned down, and with protection in series with a tweeter.
 * - Check that the outputs stay muted at power-up, at reset and whenever a call returns 1.
 * - Check which way reaches which amplifier before anything is loud: the wrong one sends bass
 *   to a treble driver.
 * - Where mains voltage is involved, follow local codes; that work is for licensed people.
 */
#ifndef PIPIT_FLOAT32_H
#define PIPIT_FLOAT32_H

#ifdef PIPIT_FORMAT
#error "pipit: include the header of one number format only; another one came before this"
#endif
#define PIPIT_FORMAT "float32"
#define PIPIT_SPEC_SHA256 "4eae535d87d6de68631765ffcaa2606f86dbf6bf82c80c9bf5fe841db6e2b4f7"

#include <float.h>
#include <stdint.h>

#if FLT_RADIX != 2 || FLT_MANT_DIG != 24
#error "pipit: float must be an IEEE 754 number of 32 bits here"
#endif
#if FLT_EVAL_METHOD != 0 && FLT_EVAL_METHOD != 16
#error "pipit: float must be computed as float; on a 32-bit x86 use -msse2 -mfpmath=sse"
#endif
#ifdef __FAST_MATH__
#error "pipit: -ffast-math reorders the filters' arithmetic; compile without it"
#endif

/* No product may be fused with a sum, whatever the compiler's own setting is: every compiler
 * and processor then gives the same bits. (clang's -ffp-contract=fast ignores this.) */
#if defined __GNUC__ && !defined __clang__
#pragma GCC push_options
#pragma GCC optimize("fp-contract=off")
#define PIPIT_NO_FUSING
#else
#define PIPIT_NO_FUSING _Pragma("STDC FP_CONTRACT OFF")
#endif

#define PIPIT_CHANNELS 1
#define PIPIT_WAYS 2
#define PIPIT_RATES 1
#define PIPIT_POSITIONS 4 /* the most sections of a channel at one rate */
#define PIPIT_BLOCK 32 /* samples that pass at a time; any number gives the same bits */

/* The outputs, in the order of out. */
enum pipit_way_index {
    PIPIT_WAY_BASS = 0,
    PIPIT_WAY_TREBLE = 1
};

/* ---- state ---------------------------------------------------------------------------- */

typedef struct {
    float p[PIPIT_POSITIONS];
    float q[PIPIT_POSITIONS];
} pipit_channel_state;

typedef struct {
    pipit_channel_state channel[PIPIT_CHANNELS];
    int rate; /* 1 + row of pipit_rate_table; 0: not initialised */
} pipit_state;

/* ---- tables --------------------------------------------------------------------------- */

typedef struct {
    float c;
    float b0;
    float b1;
    float b2;
    float a1;
    float a2;
} pipit_section_words;

typedef struct {
    float gain; /* with the polarity as sign */
    int from; /* its positions: from <= k < to */
    int to;
} pipit_cascade_entry;

typedef struct {
    uint32_t rate_hz;
    int first; /* position 0 in pipit_section_table */
    pipit_cascade_entry cascade[1 + PIPIT_WAYS]; /* common, then the ways */
} pipit_rate_entry;

/* c, b0, b1, b2, a1, a2 of every section. Beside each: the spec line that it realises, its
 * form, and its computed error in this format, re the section's greatest gain. */
static const pipit_section_words pipit_section_table[4] = {
    /* 48000 Hz, bass 0: ways.bass; direct form, -142 dB */
    { 0.0f, 0.85570353f, 0.61074203f, 0.079618566f, 0.50530154f, 0.040754214f },
    /* 48000 Hz, bass 1: ways.bass; delta form, -140 dB */
    { 1.0f, 0.010615783f, 0.09461055f, 0.08327174f, 0.576385f, 0.083152056f },
    /* 48000 Hz, bass 2: ways.bass; delta form, -130 dB */
    { 1.0f, 0.99485755f, 0.0f, 0.0f, 0.0073698647f, 3.4570516e-05f },
    /* 48000 Hz, treble 0: crossovers[0] high-pass; delta form, -146 dB */
    { 1.0f, 0.71975106f, 0.0f, 0.0f, 0.57842946f, 0.083325826f }
};

static const pipit_rate_entry pipit_rate_table[PIPIT_RATES] = {
    { 48000u, 0, {
        { 1.0f, 0, 0 }, /* common */
        { 0.7943282f, 0, 3 }, /* bass */
        { -0.5011872f, 3, 4 } /* treble */
    } }
};

/* ---- filters -------------------------------------------------------------------------- */

/* One section over n samples, in place. */
static inline void pipit_run_section(const pipit_section_words *words, float *p_state,
        float *q_state, float *io, int n)
{
    PIPIT_NO_FUSING
    const pipit_section_words k = *words;
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
static inline void pipit_run_cascade(const pipit_rate_entry *rate, int c,
        pipit_channel_state *channel, float *io, int n)
{
    const pipit_cascade_entry *cascade = &rate->cascade[c];
    int i;
    int k;

    for (i = 0; i < n; i++) {
        io[i] = cascade->gain * io[i];
    }
    for (k = cascade->from; k < cascade->to; k++) {
        pipit_run_section(&pipit_section_table[rate->first + k], &channel->p[k],
            &channel->q[k], io, n);
    }
}

/* ---- the interface -------------------------------------------------------------------- */

/* Silence in every state and delay line of every channel. */
static inline void pipit_reset(pipit_state *s)
{
    int c;
    int i;

    for (c = 0; c < PIPIT_CHANNELS; c++) {
        pipit_channel_state *ch = &s->channel[c];

        for (i = 0; i < PIPIT_POSITIONS; i++) {
            ch->p[i] = 0.0f;
            ch->q[i] = 0.0f;
        }
    }
}

/* Makes the state ready for a sampling rate. */
static inline int pipit_init(pipit_state *s, uint32_t rate_hz)
{
    int i;

    s->rate = 0;
    for (i = 0; i < PIPIT_RATES; i++) {
        if (pipit_rate_table[i].rate_hz == rate_hz) {
            s->rate = i + 1;
        }
    }
    pipit_reset(s);
    return s->rate > 0 ? 0 : 1;
}

/* Filters n samples of one channel: in[i] -> out[way][i]. in may be the same array as one of
 * out; otherwise no two may overlap. */
static inline int pipit_run(pipit_state *s, int channel, const float *in,
        float *const out[PIPIT_WAYS], int n)
{
    float common[PIPIT_BLOCK];
    float way[PIPIT_BLOCK];
    const pipit_rate_entry *rate;
    pipit_channel_state *ch;
    int done = 0;

    if (s->rate < 1 || channel < 0 || channel >= PIPIT_CHANNELS || n < 0) {
        return 1;
    }
    rate = &pipit_rate_table[s->rate - 1];
    ch = &s->channel[channel];
    while (done < n) {
        int block = n - done;
        int w;
        int i;

        if (block > PIPIT_BLOCK) {
            block = PIPIT_BLOCK;
        }
        for (i = 0; i < block; i++) {
            common[i] = in[done + i];
        }
        pipit_run_cascade(rate, 0, ch, common, block);
        for (w = 0; w < PIPIT_WAYS; w++) {
            for (i = 0; i < block; i++) {
                way[i] = common[i];
            }
            pipit_run_cascade(rate, 1 + w, ch, way, block);
            for (i = 0; i < block; i++) {
                out[w][done + i] = way[i];
            }
        }
        done += block;
    }
    return 0;
}

#undef PIPIT_NO_FUSING
#if defined __GNUC__ && !defined __clang__
#pragma GCC pop_options
#endif

#endif
