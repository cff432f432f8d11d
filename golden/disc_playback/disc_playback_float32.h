/*
 * disc_playback_float32.h: the loudspeaker filters of "disc_playback" in single precision
 *
 * Disc playback equaliser (IEC 60098)
 * Revision 1
 * Spec SHA-256 ada0beb2583a954f69231574905413e5c83c45d1e6628a9c1fd53094bc33ef57
 *
 * WHAT IT DOES
 * One input channel becomes 1 way. Every input sample passes the common filters once;
 * each way then applies its gain with its polarity, its delay and its own filters:
 *
 *   out[DISC_PLAYBACK_WAY_PLAYED]: played, 0 dB, normal polarity, sections: 3, 3, 2 (by
 *     rate)
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
 *   static disc_playback_state filters;                 all the memory there is
 *   disc_playback_init(&filters, 44100);                the rate in Hz: 44100, 48000 or 96000
 *   disc_playback_set_amendment(&filters, channel, DISC_PLAYBACK_AMENDMENT_WITHOUT);
 *   disc_playback_run(&filters, channel, in, out, n);   channel 0 to 1
 *   disc_playback_reset(&filters);                      silence in every state and delay
 *
 * All but reset return 0, or 1 for something that does not exist: a rate, channel or choice, or
 * a state that was not initialised. Then nothing was done, and run wrote nothing: mute.
 * n is any number of samples from 0 up; splitting them into blocks in another way does not
 * change a bit. in may be the same array as one of out. Full scale is -1 to 1. Feed finite
 * numbers: a NaN stays in the state until the next reset. Different state structs may be used
 * at the same time. Calls on one struct may not interrupt each other: a set call from the main
 * loop has to wait while run works in an interrupt. The state takes 92 bytes.
 *
 * SETTINGS (per channel; the first choice applies after init; reset keeps them)
 *   amendment
 *     DISC_PLAYBACK_AMENDMENT_WITHOUT   without
 *     DISC_PLAYBACK_AMENDMENT_WITH      with
 * A set call may come between any two runs. The sections that change go over two samples later
 * and carry on from the last two inputs and outputs, so that there is no jolt.
 *
 * LEVELS
 * The input is attenuated by 20 dB (times 0.1), the headroom for what the filters boost. Give
 * it back behind the converters: 20 dB of make-up gain. Floating-point outputs are not
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
#ifndef DISC_PLAYBACK_FLOAT32_H
#define DISC_PLAYBACK_FLOAT32_H

#ifdef DISC_PLAYBACK_FORMAT
#error "disc_playback: include the header of one number format only; another one came before this"
#endif
#define DISC_PLAYBACK_FORMAT "float32"
#define DISC_PLAYBACK_SPEC_SHA256 "ada0beb2583a954f69231574905413e5c83c45d1e6628a9c1fd53094bc33ef57"

#include <float.h>
#include <stdint.h>

#if FLT_RADIX != 2 || FLT_MANT_DIG != 24
#error "disc_playback: float must be an IEEE 754 number of 32 bits here"
#endif
#if FLT_EVAL_METHOD != 0 && FLT_EVAL_METHOD != 16
#error "disc_playback: float must be computed as float; on a 32-bit x86 use -msse2 -mfpmath=sse"
#endif
#ifdef __FAST_MATH__
#error "disc_playback: -ffast-math reorders the filters' arithmetic; compile without it"
#endif

/* No product may be fused with a sum, whatever the compiler's own setting is: every compiler
 * and processor then gives the same bits. (clang's -ffp-contract=fast ignores this.) */
#if defined __GNUC__ && !defined __clang__
#pragma GCC push_options
#pragma GCC optimize("fp-contract=off")
#define DISC_PLAYBACK_NO_FUSING
#else
#define DISC_PLAYBACK_NO_FUSING _Pragma("STDC FP_CONTRACT OFF")
#endif

#define DISC_PLAYBACK_CHANNELS 2
#define DISC_PLAYBACK_WAYS 1
#define DISC_PLAYBACK_RATES 3
#define DISC_PLAYBACK_POSITIONS 3 /* the most sections of a channel at one rate */
#define DISC_PLAYBACK_BLOCK 32 /* samples that pass at a time; any number gives the same bits */
#define DISC_PLAYBACK_SETTINGS 1
#define DISC_PLAYBACK_SWITCHED 1 /* the most positions with a choice at one rate */

/* The outputs, in the order of out. */
enum disc_playback_way_index {
    DISC_PLAYBACK_WAY_PLAYED = 0
};

/* amendment */
enum disc_playback_amendment {
    DISC_PLAYBACK_AMENDMENT_WITHOUT = 0,
    DISC_PLAYBACK_AMENDMENT_WITH = 1
};

/* ---- state ---------------------------------------------------------------------------- */

typedef struct {
    float p[DISC_PLAYBACK_POSITIONS];
    float q[DISC_PLAYBACK_POSITIONS];
    float noted_x[DISC_PLAYBACK_SWITCHED]; /* input and output of the first sample of a switch */
    float noted_y[DISC_PLAYBACK_SWITCHED];
    uint16_t section[DISC_PLAYBACK_POSITIONS]; /* the row of disc_playback_section_table in use */
    unsigned char choice[DISC_PLAYBACK_SETTINGS];
    unsigned char switching; /* samples to go with the old sections */
    unsigned char running; /* a sample has passed since the last reset */
} disc_playback_channel_state;

typedef struct {
    disc_playback_channel_state channel[DISC_PLAYBACK_CHANNELS];
    int rate; /* 1 + row of disc_playback_rate_table; 0: not initialised */
} disc_playback_state;

/* ---- tables --------------------------------------------------------------------------- */

typedef struct {
    float c;
    float b0;
    float b1;
    float b2;
    float a1;
    float a2;
} disc_playback_section_words;

typedef struct {
    uint16_t row; /* of disc_playback_section_table: its first alternative */
    uint16_t pick; /* of disc_playback_pick_table: the alternative of every combination */
    uint16_t switched; /* 0 for a fixed section, otherwise its number among the others */
    uint16_t stride[DISC_PLAYBACK_SETTINGS]; /* of each setting's choices */
} disc_playback_position_entry;

typedef struct {
    float gain; /* with the polarity as sign */
    int from; /* its positions: from <= k < to */
    int to;
} disc_playback_cascade_entry;

typedef struct {
    uint32_t rate_hz;
    int first; /* position 0 in disc_playback_position_table */
    disc_playback_cascade_entry cascade[1 + DISC_PLAYBACK_WAYS]; /* common, then the ways */
} disc_playback_rate_entry;

/* c, b0, b1, b2, a1, a2 of every section. Beside each: the spec line that it realises, its
 * form, and its computed error in this format, re the section's greatest gain. A choice that
 * leaves a constant gain g has b1 = g*a1, exactly: what the section held before fades away
 * there, and the gain itself is untouched. */
static const disc_playback_section_words disc_playback_section_table[11] = {
    /* 44100 Hz, played 0: ways.played.filters[1] roots; delta form, -129 dB */
    { 1.0f, 0.99857527f, 1.044116f, 0.0f, 1.048454f, 0.0029781256f }, /* amendment with */
    { 1.0f, 1.0f, 0.00390625f, 0.0f, 0.00390625f, 0.0f }, /* amendment without */
    /* 44100 Hz, played 1: ways.played; delta form, -131 dB */
    { 1.0f, 0.027365217f, 0.030880237f, 0.0019962825f, 0.26815274f, 0.0018551982f },
    /* 44100 Hz, played 2: ways.played; direct form, -139 dB */
    { 0.0f, 8.443638f, 8.70955f, 1.9809726f, 0.91463906f, 0.16567874f },
    /* 48000 Hz, played 0: ways.played.filters[1] roots; delta form, -129 dB */
    { 1.0f, 0.9986909f, 0.9986909f, 0.0f, 1.0026171f, 0.0026171142f }, /* amendment with */
    { 1.0f, 1.0f, 0.00390625f, 0.0f, 0.00390625f, 0.0f }, /* amendment without */
    /* 48000 Hz, played 1: ways.played; delta form, -131 dB */
    { 1.0f, 0.025663238f, 0.0285041f, 0.001704442f, 0.24908836f, 0.0015839477f },
    /* 48000 Hz, played 2: ways.played; direct form, -138 dB */
    { 0.0f, 8.35414f, 7.4429793f, 1.4185193f, 0.76342225f, 0.10820985f },
    /* 96000 Hz, played 0: ways.played.filters[1] roots; delta form, -126 dB */
    { 1.0f, 0.9993452f, 0.9993451f, 0.0f, 1.0013094f, 0.0013094145f }, /* amendment with */
    { 1.0f, 1.0f, 0.001953125f, 0.0f, 0.001953125f, 0.0f }, /* amendment without */
    /* 96000 Hz, played 1: ways.played.filters[0] roots; delta form, -128 dB */
    { 1.0f, 0.117073454f, 0.1342204f, 0.0042153713f, 0.13336505f, 0.0004262586f }
};

static const unsigned char disc_playback_pick_table[2] = {
    1u, 0u
};

static const disc_playback_position_entry disc_playback_position_table[8] = {
    { 0u, 0u, 1u, { 1u } },
    { 2u, 1u, 0u, { 0u } },
    { 3u, 1u, 0u, { 0u } },
    { 4u, 0u, 1u, { 1u } },
    { 6u, 1u, 0u, { 0u } },
    { 7u, 1u, 0u, { 0u } },
    { 8u, 0u, 1u, { 1u } },
    { 10u, 1u, 0u, { 0u } }
};

static const disc_playback_rate_entry disc_playback_rate_table[DISC_PLAYBACK_RATES] = {
    { 44100u, 0, {
        { 0.1f, 0, 0 }, /* common */
        { 1.0f, 0, 3 } /* played */
    } },
    { 48000u, 3, {
        { 0.1f, 0, 0 }, /* common */
        { 1.0f, 0, 3 } /* played */
    } },
    { 96000u, 6, {
        { 0.1f, 0, 0 }, /* common */
        { 1.0f, 0, 2 } /* played */
    } }
};

/* ---- filters -------------------------------------------------------------------------- */

/* One section over n samples, in place. */
static inline void disc_playback_run_section(const disc_playback_section_words *words, float *p_state,
        float *q_state, float *io, int n)
{
    DISC_PLAYBACK_NO_FUSING
    const disc_playback_section_words k = *words;
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
static inline uint16_t disc_playback_find_section(const disc_playback_position_entry *position,
        const disc_playback_channel_state *channel)
{
    unsigned int pick = position->pick;
    int i;

    for (i = 0; i < DISC_PLAYBACK_SETTINGS; i++) {
        pick += (unsigned int)position->stride[i] * channel->choice[i];
    }
    return (uint16_t)(position->row + disc_playback_pick_table[pick]);
}

/* The two samples of a switch, after position k took x and gave y. The first is noted; the
 * second gives the new section the state that it would hold had it made these two outputs out
 * of these two inputs. */
static inline void disc_playback_switch_section(const disc_playback_position_entry *position,
        disc_playback_channel_state *channel, int k, float x, float y)
{
    DISC_PLAYBACK_NO_FUSING
    const int note = (int)position->switched - 1;
    const uint16_t section = disc_playback_find_section(position, channel);

    if (channel->switching == 2u) {
        channel->noted_x[note] = x;
        channel->noted_y[note] = y;
    } else if (section != channel->section[k]) {
        const disc_playback_section_words w = disc_playback_section_table[section];
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
static inline void disc_playback_run_cascade(const disc_playback_rate_entry *rate, int c,
        disc_playback_channel_state *channel, float *io, int n)
{
    const disc_playback_cascade_entry *cascade = &rate->cascade[c];
    int i;
    int k;

    for (i = 0; i < n; i++) {
        io[i] = cascade->gain * io[i];
    }
    for (k = cascade->from; k < cascade->to; k++) {
        const disc_playback_position_entry *position = &disc_playback_position_table[rate->first + k];
        const float before = io[0];

        disc_playback_run_section(&disc_playback_section_table[channel->section[k]], &channel->p[k],
            &channel->q[k], io, n);
        if (channel->switching > 0u && position->switched > 0u) { /* n is 1 */
            disc_playback_switch_section(position, channel, k, before, io[0]);
        }
    }
}

/* ---- the interface -------------------------------------------------------------------- */

/* Sections of a channel that stands still: the choices apply at once. */
static inline void disc_playback_apply_choices(disc_playback_state *s, int channel)
{
    const disc_playback_rate_entry *rate = &disc_playback_rate_table[s->rate - 1];
    disc_playback_channel_state *ch = &s->channel[channel];
    const int to = rate->cascade[DISC_PLAYBACK_WAYS].to;
    int k;

    for (k = 0; k < to; k++) {
        ch->section[k] = disc_playback_find_section(&disc_playback_position_table[rate->first + k], ch);
    }
}

/* Silence in every state and delay line of every channel. The settings stay. */
static inline void disc_playback_reset(disc_playback_state *s)
{
    int c;
    int i;

    for (c = 0; c < DISC_PLAYBACK_CHANNELS; c++) {
        disc_playback_channel_state *ch = &s->channel[c];

        for (i = 0; i < DISC_PLAYBACK_POSITIONS; i++) {
            ch->p[i] = 0.0f;
            ch->q[i] = 0.0f;
        }
        for (i = 0; i < DISC_PLAYBACK_SWITCHED; i++) {
            ch->noted_x[i] = 0.0f;
            ch->noted_y[i] = 0.0f;
        }
        ch->switching = 0u;
        ch->running = 0u;
        if (s->rate > 0) {
            disc_playback_apply_choices(s, c);
        }
    }
}

/* Makes the state ready for a sampling rate, every setting at its first choice. */
static inline int disc_playback_init(disc_playback_state *s, uint32_t rate_hz)
{
    int i;
    int c;

    s->rate = 0;
    for (i = 0; i < DISC_PLAYBACK_RATES; i++) {
        if (disc_playback_rate_table[i].rate_hz == rate_hz) {
            s->rate = i + 1;
        }
    }
    for (c = 0; c < DISC_PLAYBACK_CHANNELS; c++) {
        for (i = 0; i < DISC_PLAYBACK_SETTINGS; i++) {
            s->channel[c].choice[i] = 0u;
        }
    }
    disc_playback_reset(s);
    return s->rate > 0 ? 0 : 1;
}

static inline int disc_playback_change_setting(disc_playback_state *s, int channel, int setting,
        unsigned int choice, unsigned int choices)
{
    disc_playback_channel_state *ch;

    if (s->rate < 1 || channel < 0 || channel >= DISC_PLAYBACK_CHANNELS || choice >= choices) {
        return 1;
    }
    ch = &s->channel[channel];
    ch->choice[setting] = (unsigned char)choice;
    if (ch->running == 0u) {
        disc_playback_apply_choices(s, channel);
    } else if (ch->switching == 0u) {
        ch->switching = 2u;
    } else {
        /* a switch is under way and takes this choice along */
    }
    return 0;
}

/* amendment. Before the first sample it applies at once, later without a jolt. */
static inline int disc_playback_set_amendment(disc_playback_state *s, int channel,
        enum disc_playback_amendment choice)
{
    return disc_playback_change_setting(s, channel, 0, (unsigned int)choice, 2u);
}

/* Filters n samples of one channel: in[i] -> out[way][i]. in may be the same array as one of
 * out; otherwise no two may overlap. */
static inline int disc_playback_run(disc_playback_state *s, int channel, const float *in,
        float *const out[DISC_PLAYBACK_WAYS], int n)
{
    float common[DISC_PLAYBACK_BLOCK];
    float way[DISC_PLAYBACK_BLOCK];
    const disc_playback_rate_entry *rate;
    disc_playback_channel_state *ch;
    int done = 0;

    if (s->rate < 1 || channel < 0 || channel >= DISC_PLAYBACK_CHANNELS || n < 0) {
        return 1;
    }
    rate = &disc_playback_rate_table[s->rate - 1];
    ch = &s->channel[channel];
    while (done < n) {
        int block = n - done;
        int w;
        int i;

        if (block > DISC_PLAYBACK_BLOCK) {
            block = DISC_PLAYBACK_BLOCK;
        }
        if (ch->switching > 0u) {
            block = 1;
        }
        ch->running = 1u;
        for (i = 0; i < block; i++) {
            common[i] = in[done + i];
        }
        disc_playback_run_cascade(rate, 0, ch, common, block);
        for (w = 0; w < DISC_PLAYBACK_WAYS; w++) {
            for (i = 0; i < block; i++) {
                way[i] = common[i];
            }
            disc_playback_run_cascade(rate, 1 + w, ch, way, block);
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

#undef DISC_PLAYBACK_NO_FUSING
#if defined __GNUC__ && !defined __clang__
#pragma GCC pop_options
#endif

#endif
