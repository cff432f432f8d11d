/*
 * dabchick_float32.h: the loudspeaker filters of "dabchick" in single precision
 *
 * Dabchick, a small sealed two-way for desks (invented)
 * Revision A1
 * Spec SHA-256 5e02b2ee1c16b3352642ce6b96943986e953e1fdf6d89f92ccb53cba31b33b88
 *
 * WHAT IT DOES
 * One input channel becomes 2 ways. Every input sample passes the common filters once;
 * each way then applies its gain with its polarity, its delay and its own filters:
 *
 *   out[DABCHICK_WAY_BASS]: bass, -3 dB, normal polarity, sections: 4
 *   out[DABCHICK_WAY_TREBLE]: treble, -5 dB, inverted polarity, sections: 2
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
 *   static dabchick_state filters;                 all the memory there is
 *   dabchick_init(&filters, 44100);                the rate in Hz: 44100, 48000 or 96000
 *   dabchick_set_desk(&filters, channel, DABCHICK_DESK_NONE);
 *   dabchick_run(&filters, channel, in, out, n);   channel 0 to 1
 *   dabchick_reset(&filters);                      silence in every state and delay
 *
 * All but reset return 0, or 1 for something that does not exist: a rate, channel or choice, or
 * a state that was not initialised. Then nothing was done, and run wrote nothing: mute.
 * n is any number of samples from 0 up; splitting them into blocks in another way does not
 * change a bit. in may be the same array as one of out. Full scale is -1 to 1. Feed finite
 * numbers: a NaN stays in the state until the next reset. Different state structs may be used
 * at the same time. Calls on one struct may not interrupt each other: a set call from the main
 * loop has to wait while run works in an interrupt. The state takes 204 bytes.
 *
 * SETTINGS (per channel; the first choice applies after init; reset keeps them)
 *   desk
 *     DABCHICK_DESK_NONE      none
 *     DABCHICK_DESK_ON_DESK   on-desk
 * A set call may come between any two runs. The sections that change go over two samples later
 * and carry on from the last two inputs and outputs, so that there is no jolt.
 *
 * LEVELS
 * The input is attenuated by 9 dB (times 0.354813), the headroom for what the filters boost.
 * Give it back behind the converters: 9 dB of make-up gain. Floating-point outputs are not
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
#ifndef DABCHICK_FLOAT32_H
#define DABCHICK_FLOAT32_H

#ifdef DABCHICK_FORMAT
#error "dabchick: include the header of one number format only; another one came before this"
#endif
#define DABCHICK_FORMAT "float32"
#define DABCHICK_SPEC_SHA256 "5e02b2ee1c16b3352642ce6b96943986e953e1fdf6d89f92ccb53cba31b33b88"

#include <float.h>
#include <stdint.h>

#if FLT_RADIX != 2 || FLT_MANT_DIG != 24
#error "dabchick: float must be an IEEE 754 number of 32 bits here"
#endif
#if FLT_EVAL_METHOD != 0 && FLT_EVAL_METHOD != 16
#error "dabchick: float must be computed as float; on a 32-bit x86 use -msse2 -mfpmath=sse"
#endif
#ifdef __FAST_MATH__
#error "dabchick: -ffast-math reorders the filters' arithmetic; compile without it"
#endif

/* No product may be fused with a sum, whatever the compiler's own setting is: every compiler
 * and processor then gives the same bits. (clang's -ffp-contract=fast ignores this.) */
#if defined __GNUC__ && !defined __clang__
#pragma GCC push_options
#pragma GCC optimize("fp-contract=off")
#define DABCHICK_NO_FUSING
#else
#define DABCHICK_NO_FUSING _Pragma("STDC FP_CONTRACT OFF")
#endif

#define DABCHICK_CHANNELS 2
#define DABCHICK_WAYS 2
#define DABCHICK_RATES 3
#define DABCHICK_POSITIONS 8 /* the most sections of a channel at one rate */
#define DABCHICK_BLOCK 32 /* samples that pass at a time; any number gives the same bits */
#define DABCHICK_SETTINGS 1
#define DABCHICK_SWITCHED 2 /* the most positions with a choice at one rate */

/* The outputs, in the order of out. */
enum dabchick_way_index {
    DABCHICK_WAY_BASS = 0,
    DABCHICK_WAY_TREBLE = 1
};

/* desk */
enum dabchick_desk {
    DABCHICK_DESK_NONE = 0,
    DABCHICK_DESK_ON_DESK = 1
};

/* ---- state ---------------------------------------------------------------------------- */

typedef struct {
    float p[DABCHICK_POSITIONS];
    float q[DABCHICK_POSITIONS];
    float noted_x[DABCHICK_SWITCHED]; /* input and output of the first sample of a switch */
    float noted_y[DABCHICK_SWITCHED];
    uint16_t section[DABCHICK_POSITIONS]; /* the row of dabchick_section_table in use */
    unsigned char choice[DABCHICK_SETTINGS];
    unsigned char switching; /* samples to go with the old sections */
    unsigned char running; /* a sample has passed since the last reset */
} dabchick_channel_state;

typedef struct {
    dabchick_channel_state channel[DABCHICK_CHANNELS];
    int rate; /* 1 + row of dabchick_rate_table; 0: not initialised */
} dabchick_state;

/* ---- tables --------------------------------------------------------------------------- */

typedef struct {
    float c;
    float b0;
    float b1;
    float b2;
    float a1;
    float a2;
} dabchick_section_words;

typedef struct {
    uint16_t row; /* of dabchick_section_table: its first alternative */
    uint16_t pick; /* of dabchick_pick_table: the alternative of every combination */
    uint16_t switched; /* 0 for a fixed section, otherwise its number among the others */
    uint16_t stride[DABCHICK_SETTINGS]; /* of each setting's choices */
} dabchick_position_entry;

typedef struct {
    float gain; /* with the polarity as sign */
    int from; /* its positions: from <= k < to */
    int to;
} dabchick_cascade_entry;

typedef struct {
    uint32_t rate_hz;
    int first; /* position 0 in dabchick_position_table */
    dabchick_cascade_entry cascade[1 + DABCHICK_WAYS]; /* common, then the ways */
} dabchick_rate_entry;

/* c, b0, b1, b2, a1, a2 of every section. Beside each: the spec line that it realises, its
 * form, and its computed error in this format, re the section's greatest gain. A choice that
 * leaves a constant gain g has b1 = g*a1, exactly: what the section held before fades away
 * there, and the gain itself is untouched. */
static const dabchick_section_words dabchick_section_table[30] = {
    /* 44100 Hz, common 0: common[0] low-shelf; delta form, -143 dB */
    /* desk on-desk */
    { 1.0f, 0.995093f, 0.037699983f, 0.00050995767f, 0.04763044f, 0.00080822565f },
    { 1.0f, 1.0f, 0.00390625f, 0.0f, 0.00390625f, 0.0f }, /* desk none */
    /* 44100 Hz, common 1: common[1] peak; delta form, -144 dB */
    /* desk on-desk */
    { 1.0f, 0.99754846f, 0.019367622f, 0.0005460529f, 0.024240945f, 0.0005460514f },
    { 1.0f, 1.0f, 0.00390625f, 0.0f, 0.00390625f, 0.0f }, /* desk none */
    /* 44100 Hz, bass 0: ways.bass; delta form, -129 dB */
    { 1.0f, 0.99798745f, 0.0f, 0.0f, 0.0059593916f, 2.9534838e-05f },
    /* 44100 Hz, bass 1: ways.bass; delta form, -132 dB */
    { 1.0f, 0.3562156f, 0.006359267f, 6.2101884e-05f, 0.01016776f, 4.7254456e-05f },
    /* 44100 Hz, bass 2: ways.bass; delta form, -144 dB */
    { 1.0f, 0.08951898f, 0.76431453f, 0.08164716f, 0.58086807f, 0.08173255f },
    /* 44100 Hz, bass 3: ways.bass; direct form, -141 dB */
    { 0.0f, 0.17248504f, 0.113550596f, 0.007663513f, -0.49159077f, -0.40501547f },
    /* 44100 Hz, treble 0: ways.treble; delta form, -145 dB */
    { 1.0f, 0.71579736f, 0.0f, 0.0f, 0.58588773f, 0.08464863f },
    /* 44100 Hz, treble 1: ways.treble; delta form, -141 dB */
    { 1.0f, 0.98196125f, 0.3760135f, 0.16307606f, 0.41125718f, 0.16114338f },
    /* 48000 Hz, common 0: common[0] low-shelf; delta form, -143 dB */
    /* desk on-desk */
    { 1.0f, 0.99548936f, 0.034667306f, 0.000431324f, 0.043786027f, 0.0006836009f },
    { 1.0f, 1.0f, 0.00390625f, 0.0f, 0.00390625f, 0.0f }, /* desk none */
    /* 48000 Hz, common 1: common[1] peak; delta form, -142 dB */
    /* desk on-desk */
    { 1.0f, 0.99774617f, 0.017770221f, 0.0004613747f, 0.022251884f, 0.0004613739f },
    { 1.0f, 1.0f, 0.00390625f, 0.0f, 0.00390625f, 0.0f }, /* desk none */
    /* 48000 Hz, bass 0: ways.bass; delta form, -129 dB */
    { 1.0f, 1.0399431f, 0.0f, 0.0f, 0.005518213f, 2.4769524e-05f },
    /* 48000 Hz, bass 1: ways.bass; delta form, -132 dB */
    { 1.0f, 0.34060982f, 0.005559539f, 4.935103e-05f, 0.009085191f, 3.9453917e-05f },
    /* 48000 Hz, bass 2: ways.bass; delta form, -142 dB */
    { 1.0f, 0.6501383f, 0.7479975f, 0.072050005f, 0.5397742f, 0.07210961f },
    /* 48000 Hz, bass 3: ways.bass; direct form, -140 dB */
    { 0.0f, 0.020377662f, 0.16419217f, 0.07971389f, -0.5804306f, -0.32632822f },
    /* 48000 Hz, treble 0: ways.treble; delta form, -144 dB */
    { 1.0f, 0.7351705f, 0.0f, 0.0f, 0.5433511f, 0.0731407f },
    /* 48000 Hz, treble 1: ways.treble; delta form, -139 dB */
    { 1.0f, 0.9825967f, 0.34028324f, 0.14047423f, 0.37487736f, 0.13930376f },
    /* 96000 Hz, common 0: common[0] low-shelf; delta form, -142 dB */
    /* desk on-desk */
    { 1.0f, 0.9977392f, 0.017417189f, 0.00010903799f, 0.021962626f, 0.00017281354f },
    { 1.0f, 1.0f, 0.001953125f, 0.0f, 0.001953125f, 0.0f }, /* desk none */
    /* 96000 Hz, common 1: common[1] peak; delta form, -140 dB */
    /* desk on-desk */
    { 1.0f, 0.99886984f, 0.008817816f, 0.00011598216f, 0.011070941f, 0.000115982155f },
    { 1.0f, 1.0f, 0.001953125f, 0.0f, 0.001953125f, 0.0f }, /* desk none */
    /* 96000 Hz, bass 0: ways.bass; delta form, -126 dB */
    { 1.0f, 1.0267818f, 0.0f, 0.0f, 0.0027665077f, 6.176902e-06f },
    /* 96000 Hz, bass 1: ways.bass; delta form, -129 dB */
    { 1.0f, 0.34332886f, 0.002794517f, 1.2392858e-05f, 0.00448479f, 9.843115e-06f },
    /* 96000 Hz, bass 2: ways.bass; delta form, -144 dB */
    { 1.0f, 0.39813948f, 0.39862758f, 0.02112122f, 0.29067558f, 0.02113836f },
    /* 96000 Hz, bass 3: ways.bass; delta form, -136 dB */
    { 1.0f, 0.0090059815f, 0.09538867f, 0.10443356f, 1.0637755f, 0.036773995f },
    /* 96000 Hz, treble 0: ways.treble; delta form, -138 dB */
    { 1.0f, 0.9752739f, 0.14474614f, 0.03774747f, 0.16725418f, 0.038282007f },
    /* 96000 Hz, treble 1: ways.treble; delta form, -145 dB */
    { 1.0f, 0.8688451f, 0.0f, 0.0f, 0.29084924f, 0.021138212f }
};

static const unsigned char dabchick_pick_table[2] = {
    1u, 0u
};

static const dabchick_position_entry dabchick_position_table[24] = {
    { 0u, 0u, 1u, { 1u } },
    { 2u, 0u, 2u, { 1u } },
    { 4u, 1u, 0u, { 0u } },
    { 5u, 1u, 0u, { 0u } },
    { 6u, 1u, 0u, { 0u } },
    { 7u, 1u, 0u, { 0u } },
    { 8u, 1u, 0u, { 0u } },
    { 9u, 1u, 0u, { 0u } },
    { 10u, 0u, 1u, { 1u } },
    { 12u, 0u, 2u, { 1u } },
    { 14u, 1u, 0u, { 0u } },
    { 15u, 1u, 0u, { 0u } },
    { 16u, 1u, 0u, { 0u } },
    { 17u, 1u, 0u, { 0u } },
    { 18u, 1u, 0u, { 0u } },
    { 19u, 1u, 0u, { 0u } },
    { 20u, 0u, 1u, { 1u } },
    { 22u, 0u, 2u, { 1u } },
    { 24u, 1u, 0u, { 0u } },
    { 25u, 1u, 0u, { 0u } },
    { 26u, 1u, 0u, { 0u } },
    { 27u, 1u, 0u, { 0u } },
    { 28u, 1u, 0u, { 0u } },
    { 29u, 1u, 0u, { 0u } }
};

static const dabchick_rate_entry dabchick_rate_table[DABCHICK_RATES] = {
    { 44100u, 0, {
        { 0.3548134f, 0, 2 }, /* common */
        { 0.70794576f, 2, 6 }, /* bass */
        { -0.56234133f, 6, 8 } /* treble */
    } },
    { 48000u, 8, {
        { 0.3548134f, 0, 2 }, /* common */
        { 0.70794576f, 2, 6 }, /* bass */
        { -0.56234133f, 6, 8 } /* treble */
    } },
    { 96000u, 16, {
        { 0.3548134f, 0, 2 }, /* common */
        { 0.70794576f, 2, 6 }, /* bass */
        { -0.56234133f, 6, 8 } /* treble */
    } }
};

/* ---- filters -------------------------------------------------------------------------- */

/* One section over n samples, in place. */
static inline void dabchick_run_section(const dabchick_section_words *words, float *p_state,
        float *q_state, float *io, int n)
{
    DABCHICK_NO_FUSING
    const dabchick_section_words k = *words;
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

/* The row of a position's section under the choices of a channel. */
static inline uint16_t dabchick_find_section(const dabchick_position_entry *position,
        const dabchick_channel_state *channel)
{
    unsigned int pick = position->pick;
    int i;

    for (i = 0; i < DABCHICK_SETTINGS; i++) {
        pick += (unsigned int)position->stride[i] * channel->choice[i];
    }
    return (uint16_t)(position->row + dabchick_pick_table[pick]);
}

/* The two samples of a switch, after position k took x and gave y. The first is noted; the
 * second gives the new section the state that it would hold had it made these two outputs out
 * of these two inputs. */
static inline void dabchick_switch_section(const dabchick_position_entry *position,
        dabchick_channel_state *channel, int k, float x, float y)
{
    DABCHICK_NO_FUSING
    const int note = (int)position->switched - 1;
    const uint16_t section = dabchick_find_section(position, channel);

    if (channel->switching == 2u) {
        channel->noted_x[note] = x;
        channel->noted_y[note] = y;
    } else if (section != channel->section[k]) {
        const dabchick_section_words w = dabchick_section_table[section];
        const float x2 = channel->noted_x[note];
        const float y2 = channel->noted_y[note];
        const float e2 = y2 - w.b0 * x2; /* p, two samples and one sample ago */
        const float e1 = y - w.b0 * x;
        const int second_order = w.b2 < 0.0f || w.b2 > 0.0f || w.a2 < 0.0f || w.a2 > 0.0f;

        if (second_order) {
            float q = (e1 - w.c * e2) - (w.b1 * x2 - w.a1 * y2);
            q = (w.c * q + w.b2 * x2) - w.a2 * y2;
            channel->p[k] = w.c * e1 + ((q + w.b1 * x) - w.a1 * y);
            channel->q[k] = (w.c * q + w.b2 * x) - w.a2 * y;
        } else {
            channel->p[k] = w.c * e1 + (w.b1 * x - w.a1 * y);
            channel->q[k] = 0.0f;
        }
        channel->section[k] = section;
    } else {
        /* this position keeps its section */
    }
}

/* Cascade number c over n samples, in place: gain, sections. */
static inline void dabchick_run_cascade(const dabchick_rate_entry *rate, int c,
        dabchick_channel_state *channel, float *io, int n)
{
    const dabchick_cascade_entry *cascade = &rate->cascade[c];
    int i;
    int k;

    for (i = 0; i < n; i++) {
        io[i] = cascade->gain * io[i];
    }
    for (k = cascade->from; k < cascade->to; k++) {
        const dabchick_position_entry *position = &dabchick_position_table[rate->first + k];
        const float before = io[0];

        dabchick_run_section(&dabchick_section_table[channel->section[k]], &channel->p[k],
            &channel->q[k], io, n);
        if (channel->switching > 0u && position->switched > 0u) { /* n is 1 */
            dabchick_switch_section(position, channel, k, before, io[0]);
        }
    }
}

/* ---- the interface -------------------------------------------------------------------- */

/* Sections of a channel that stands still: the choices apply at once. */
static inline void dabchick_apply_choices(dabchick_state *s, int channel)
{
    const dabchick_rate_entry *rate = &dabchick_rate_table[s->rate - 1];
    dabchick_channel_state *ch = &s->channel[channel];
    const int to = rate->cascade[DABCHICK_WAYS].to;
    int k;

    for (k = 0; k < to; k++) {
        ch->section[k] = dabchick_find_section(&dabchick_position_table[rate->first + k], ch);
    }
}

/* Silence in every state and delay line of every channel. The settings stay. */
static inline void dabchick_reset(dabchick_state *s)
{
    int c;
    int i;

    for (c = 0; c < DABCHICK_CHANNELS; c++) {
        dabchick_channel_state *ch = &s->channel[c];

        for (i = 0; i < DABCHICK_POSITIONS; i++) {
            ch->p[i] = 0.0f;
            ch->q[i] = 0.0f;
        }
        for (i = 0; i < DABCHICK_SWITCHED; i++) {
            ch->noted_x[i] = 0.0f;
            ch->noted_y[i] = 0.0f;
        }
        ch->switching = 0u;
        ch->running = 0u;
        if (s->rate > 0) {
            dabchick_apply_choices(s, c);
        }
    }
}

/* Makes the state ready for a sampling rate, every setting at its first choice. */
static inline int dabchick_init(dabchick_state *s, uint32_t rate_hz)
{
    int i;
    int c;

    s->rate = 0;
    for (i = 0; i < DABCHICK_RATES; i++) {
        if (dabchick_rate_table[i].rate_hz == rate_hz) {
            s->rate = i + 1;
        }
    }
    for (c = 0; c < DABCHICK_CHANNELS; c++) {
        for (i = 0; i < DABCHICK_SETTINGS; i++) {
            s->channel[c].choice[i] = 0u;
        }
    }
    dabchick_reset(s);
    return s->rate > 0 ? 0 : 1;
}

static inline int dabchick_change_setting(dabchick_state *s, int channel, int setting,
        unsigned int choice, unsigned int choices)
{
    dabchick_channel_state *ch;

    if (s->rate < 1 || channel < 0 || channel >= DABCHICK_CHANNELS || choice >= choices) {
        return 1;
    }
    ch = &s->channel[channel];
    ch->choice[setting] = (unsigned char)choice;
    if (ch->running == 0u) {
        dabchick_apply_choices(s, channel);
    } else if (ch->switching == 0u) {
        ch->switching = 2u;
    } else {
        /* a switch is under way and takes this choice along */
    }
    return 0;
}

/* desk. Before the first sample it applies at once, later without a jolt. */
static inline int dabchick_set_desk(dabchick_state *s, int channel,
        enum dabchick_desk choice)
{
    return dabchick_change_setting(s, channel, 0, (unsigned int)choice, 2u);
}

/* Filters n samples of one channel: in[i] -> out[way][i]. in may be the same array as one of
 * out; otherwise no two may overlap. */
static inline int dabchick_run(dabchick_state *s, int channel, const float *in,
        float *const out[DABCHICK_WAYS], int n)
{
    float common[DABCHICK_BLOCK];
    float way[DABCHICK_BLOCK];
    const dabchick_rate_entry *rate;
    dabchick_channel_state *ch;
    int done = 0;

    if (s->rate < 1 || channel < 0 || channel >= DABCHICK_CHANNELS || n < 0) {
        return 1;
    }
    rate = &dabchick_rate_table[s->rate - 1];
    ch = &s->channel[channel];
    while (done < n) {
        int block = n - done;
        int w;
        int i;

        if (block > DABCHICK_BLOCK) {
            block = DABCHICK_BLOCK;
        }
        if (ch->switching > 0u) {
            block = 1;
        }
        ch->running = 1u;
        for (i = 0; i < block; i++) {
            common[i] = in[done + i];
        }
        dabchick_run_cascade(rate, 0, ch, common, block);
        for (w = 0; w < DABCHICK_WAYS; w++) {
            for (i = 0; i < block; i++) {
                way[i] = common[i];
            }
            dabchick_run_cascade(rate, 1 + w, ch, way, block);
            for (i = 0; i < block; i++) {
                out[w][done + i] = way[i];
            }
        }
        if (ch->switching > 0u) {
            ch->switching = (unsigned char)(ch->switching - 1u);
        }
        done += block;
    }
    return 0;
}

#undef DABCHICK_NO_FUSING
#if defined __GNUC__ && !defined __clang__
#pragma GCC pop_options
#endif

#endif
