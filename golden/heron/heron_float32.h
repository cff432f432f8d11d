/*
 * heron_float32.h: the loudspeaker filters of "heron" in single precision
 *
 * Heron, a three-way for recital halls (invented)
 * Revision B2
 * Spec SHA-256 02de088018f059b24a1ce3b0f55d36da10e3865f3e5c03cbecd041dab219acee
 *
 * WHAT IT DOES
 * One input channel becomes 3 ways. Every input sample passes the common filters once;
 * each way then applies its gain with its polarity, its delay and its own filters:
 *
 *   out[HERON_WAY_BASS]: bass, -4 dB, normal polarity, sections: 4
 *   out[HERON_WAY_MID]: mid, 0 dB, normal polarity, sections: 5
 *   out[HERON_WAY_TREBLE]: treble, -1.5 dB, normal polarity, sections: 3, samples of delay:
 *     4 at 48000 Hz, 9 at 96000 Hz
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
 *   static heron_state filters;                 all the memory there is
 *   heron_init(&filters, 48000);                the rate in Hz: 48000 or 96000
 *   heron_set_placement(&filters, channel, HERON_PLACEMENT_FREE);
 *   heron_set_grille(&filters, channel, HERON_GRILLE_NONE);
 *   heron_set_treble_trim(&filters, channel, HERON_TREBLE_TRIM_0_DB);
 *   heron_run(&filters, channel, in, out, n);   channel 0 to 1
 *   heron_reset(&filters);                      silence in every state and delay
 *
 * All but reset return 0, or 1 for something that does not exist: a rate, channel or choice, or
 * a state that was not initialised. Then nothing was done, and run wrote nothing: mute.
 * n is any number of samples from 0 up; splitting them into blocks in another way does not
 * change a bit. in may be the same array as one of out. Full scale is -1 to 1. Feed finite
 * numbers: a NaN stays in the state until the next reset. Different state structs may be used
 * at the same time. Calls on one struct may not interrupt each other: a set call from the main
 * loop has to wait while run works in an interrupt. The state takes 468 bytes.
 *
 * SETTINGS (per channel; the first choice applies after init; reset keeps them)
 *   placement
 *     HERON_PLACEMENT_FREE     free
 *     HERON_PLACEMENT_WALL     wall
 *     HERON_PLACEMENT_CORNER   corner
 *   grille
 *     HERON_GRILLE_NONE    none
 *     HERON_GRILLE_WOVEN   woven
 *   treble-trim
 *     HERON_TREBLE_TRIM_0_DB           0 dB
 *     HERON_TREBLE_TRIM_MINUS_1_5_DB   -1.5 dB
 * A set call may come between any two runs. The sections that change go over two samples later
 * and carry on from the last two inputs and outputs, so that there is no jolt.
 *
 * LEVELS
 * The input is attenuated by 6 dB (times 0.501187), the headroom for what the filters boost.
 * Give it back behind the converters: 6 dB of make-up gain. Floating-point outputs are not
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
#ifndef HERON_FLOAT32_H
#define HERON_FLOAT32_H

#ifdef HERON_FORMAT
#error "heron: include the header of one number format only; another one came before this"
#endif
#define HERON_FORMAT "float32"
#define HERON_SPEC_SHA256 "02de088018f059b24a1ce3b0f55d36da10e3865f3e5c03cbecd041dab219acee"

#include <float.h>
#include <stdint.h>

#if FLT_RADIX != 2 || FLT_MANT_DIG != 24
#error "heron: float must be an IEEE 754 number of 32 bits here"
#endif
#if FLT_EVAL_METHOD != 0 && FLT_EVAL_METHOD != 16
#error "heron: float must be computed as float; on a 32-bit x86 use -msse2 -mfpmath=sse"
#endif
#ifdef __FAST_MATH__
#error "heron: -ffast-math reorders the filters' arithmetic; compile without it"
#endif

/* No product may be fused with a sum, whatever the compiler's own setting is: every compiler
 * and processor then gives the same bits. (clang's -ffp-contract=fast ignores this.) */
#if defined __GNUC__ && !defined __clang__
#pragma GCC push_options
#pragma GCC optimize("fp-contract=off")
#define HERON_NO_FUSING
#else
#define HERON_NO_FUSING _Pragma("STDC FP_CONTRACT OFF")
#endif

#define HERON_CHANNELS 2
#define HERON_WAYS 3
#define HERON_RATES 2
#define HERON_POSITIONS 15 /* the most sections of a channel at one rate */
#define HERON_BLOCK 32 /* samples that pass at a time; any number gives the same bits */
#define HERON_DELAY_WORDS 9 /* of all delay lines of a channel */
#define HERON_SETTINGS 3
#define HERON_SWITCHED 3 /* the most positions with a choice at one rate */

/* The outputs, in the order of out. */
enum heron_way_index {
    HERON_WAY_BASS = 0,
    HERON_WAY_MID = 1,
    HERON_WAY_TREBLE = 2
};

/* placement */
enum heron_placement {
    HERON_PLACEMENT_FREE = 0,
    HERON_PLACEMENT_WALL = 1,
    HERON_PLACEMENT_CORNER = 2
};

/* grille */
enum heron_grille {
    HERON_GRILLE_NONE = 0,
    HERON_GRILLE_WOVEN = 1
};

/* treble-trim */
enum heron_treble_trim {
    HERON_TREBLE_TRIM_0_DB = 0,
    HERON_TREBLE_TRIM_MINUS_1_5_DB = 1
};

/* ---- state ---------------------------------------------------------------------------- */

typedef struct {
    float p[HERON_POSITIONS];
    float q[HERON_POSITIONS];
    float noted_x[HERON_SWITCHED]; /* input and output of the first sample of a switch */
    float noted_y[HERON_SWITCHED];
    float delay[HERON_DELAY_WORDS];
    uint32_t delay_at[1 + HERON_WAYS];
    uint16_t section[HERON_POSITIONS]; /* the row of heron_section_table in use */
    unsigned char choice[HERON_SETTINGS];
    unsigned char switching; /* samples to go with the old sections */
    unsigned char running; /* a sample has passed since the last reset */
} heron_channel_state;

typedef struct {
    heron_channel_state channel[HERON_CHANNELS];
    int rate; /* 1 + row of heron_rate_table; 0: not initialised */
} heron_state;

/* ---- tables --------------------------------------------------------------------------- */

typedef struct {
    float c;
    float b0;
    float b1;
    float b2;
    float a1;
    float a2;
} heron_section_words;

typedef struct {
    uint16_t row; /* of heron_section_table: its first alternative */
    uint16_t pick; /* of heron_pick_table: the alternative of every combination */
    uint16_t switched; /* 0 for a fixed section, otherwise its number among the others */
    uint16_t stride[HERON_SETTINGS]; /* of each setting's choices */
} heron_position_entry;

typedef struct {
    float gain; /* with the polarity as sign */
    uint32_t delay; /* samples */
    uint32_t delay_at; /* where its delay line begins */
    int from; /* its positions: from <= k < to */
    int to;
} heron_cascade_entry;

typedef struct {
    uint32_t rate_hz;
    int first; /* position 0 in heron_position_table */
    heron_cascade_entry cascade[1 + HERON_WAYS]; /* common, then the ways */
} heron_rate_entry;

/* c, b0, b1, b2, a1, a2 of every section. Beside each: the spec line that it realises, its
 * form, and its computed error in this format, re the section's greatest gain. A choice that
 * leaves a constant gain g has b1 = g*a1, exactly: what the section held before fades away
 * there, and the gain itself is untouched. */
static const heron_section_words heron_section_table[38] = {
    /* 48000 Hz, common 0: common[1] low-shelf, common[2] low-shelf; delta form, -143 dB */
    /* placement wall */
    { 1.0f, 0.99661124f, 0.03588263f, 0.0006223263f, 0.042786952f, 0.00087905914f },
    /* placement corner */
    { 1.0f, 0.99224263f, 0.03745035f, 0.00068032386f, 0.053299572f, 0.0013574242f },
    { 1.0f, 1.0f, 0.00390625f, 0.0f, 0.00390625f, 0.0f }, /* placement free */
    /* 48000 Hz, common 1: common[0] high-pass; delta form, -128 dB */
    { 1.0f, 0.99796575f, 0.0f, 0.0f, 0.0040726373f, 8.276339e-06f },
    /* 48000 Hz, common 2: common[3] high-shelf; direct form, -143 dB */
    { 0.0f, 1.097975f, -0.9558222f, 0.31106624f, -0.8050818f, 0.25827318f }, /* grille woven */
    { 1.0f, 1.0f, 0.00390625f, 0.0f, 0.00390625f, 0.0f }, /* grille none */
    /* 48000 Hz, bass 0: ways.bass; delta form, -134 dB */
    { 1.0f, 0.0005367579f, 0.0035291193f, 0.0010433397f, 0.04592165f, 0.0010434287f },
    /* 48000 Hz, bass 1: ways.bass; delta form, -135 dB */
    { 1.0f, 1.0026724f, 0.0048805024f, 0.00014512219f, 0.0064334837f, 0.00014467344f },
    /* 48000 Hz, bass 2: ways.bass; delta form, -131 dB */
    { 1.0f, 0.42269376f, 0.0038262892f, 2.244069e-05f, 0.006822406f, 1.965448e-05f },
    /* 48000 Hz, bass 3: ways.bass; delta form, -134 dB */
    { 1.0f, 0.013062083f, -0.003113211f, 0.0028837244f, 0.050150767f, 0.0012268409f },
    /* 48000 Hz, mid 0: ways.mid; delta form, -138 dB */
    { 1.0f, 1.0058955f, 0.0f, 0.0f, 0.046666548f, 0.0011269138f },
    /* 48000 Hz, mid 1: ways.mid; delta form, -138 dB */
    { 1.0f, 1.0415182f, 0.0f, 0.0f, 0.049745686f, 0.0011345434f },
    /* 48000 Hz, mid 2: ways.mid; direct form, -137 dB */
    { 0.0f, 0.025651535f, 0.049654588f, 0.008915599f, -0.6815878f, -0.28641844f },
    /* 48000 Hz, mid 3: ways.mid; delta form, -143 dB */
    { 1.0f, 0.025194474f, 0.7981342f, 0.050890394f, 0.40698728f, 0.069212705f },
    /* 48000 Hz, mid 4: ways.mid; delta form, -143 dB */
    { 1.0f, 0.082711585f, 0.17920177f, 0.09594974f, 0.4325192f, 0.077591784f },
    /* 48000 Hz, treble 0: ways.treble; delta form, -145 dB */
    { 1.0f, 0.80574495f, 0.0f, 0.0f, 0.4249347f, 0.07342031f },
    /* 48000 Hz, treble 1: ways.treble.filters[0] gain; constant, -152 dB */
    { 1.0f, 0.84139514f, 0.0032866998f, 0.0f, 0.00390625f, 0.0f }, /* treble-trim -1.5 dB */
    { 1.0f, 1.0f, 0.00390625f, 0.0f, 0.00390625f, 0.0f }, /* treble-trim 0 dB */
    /* 48000 Hz, treble 2: ways.treble; delta form, -144 dB */
    { 1.0f, 0.81072885f, 0.0f, 0.0f, 0.415056f, 0.07309306f },
    /* 96000 Hz, common 0: common[1] low-shelf, common[2] low-shelf; delta form, -140 dB */
    /* placement wall */
    { 1.0f, 0.998304f, 0.01797643f, 0.00015725619f, 0.021400373f, 0.00022213026f },
    /* placement corner */
    { 1.0f, 0.99611336f, 0.018803403f, 0.0001723648f, 0.026661336f, 0.00034391298f },
    { 1.0f, 1.0f, 0.001953125f, 0.0f, 0.001953125f, 0.0f }, /* placement free */
    /* 96000 Hz, common 1: common[0] high-pass; delta form, -125 dB */
    { 1.0f, 0.99898237f, 0.0f, 0.0f, 0.0020363207f, 2.0711925e-06f },
    /* 96000 Hz, common 2: common[3] high-shelf; delta form, -141 dB */
    { 1.0f, 1.1225581f, 0.68638164f, 0.16033542f, 0.65244955f, 0.16033533f }, /* grille woven */
    { 1.0f, 1.0f, 0.001953125f, 0.0f, 0.001953125f, 0.0f }, /* grille none */
    /* 96000 Hz, bass 0: ways.bass; delta form, -131 dB */
    { 1.0f, 0.0010102462f, -0.00031074608f, 0.00028597287f, 0.024062043f, 0.00028596618f },
    /* 96000 Hz, bass 1: ways.bass; delta form, -134 dB */
    { 1.0f, 1.002716f, 0.0024100624f, 3.6312573e-05f, 0.0031918203f, 3.6200025e-05f },
    /* 96000 Hz, bass 2: ways.bass; delta form, -128 dB */
    { 1.0f, 0.42433995f, 0.0019146263f, 5.6471904e-06f, 0.0034227222f, 4.943538e-06f },
    /* 96000 Hz, bass 3: ways.bass; delta form, -131 dB */
    { 1.0f, 3.6576068e-05f, 0.0018155386f, 0.00067285565f, 0.024066838f, 0.00028625852f },
    /* 96000 Hz, mid 0: ways.mid; delta form, -139 dB */
    { 1.0f, 4.44832e-05f, 0.001540466f, 0.020416304f, 0.21261525f, 0.020399733f },
    /* 96000 Hz, mid 1: ways.mid; delta form, -135 dB */
    { 1.0f, 1.041462f, 0.0f, 0.0f, 0.023914712f, 0.00028308033f },
    /* 96000 Hz, mid 2: ways.mid; delta form, -136 dB */
    { 1.0f, 0.40425515f, 0.70868856f, 0.022393018f, 0.9631765f, 0.01174766f },
    /* 96000 Hz, mid 3: ways.mid; delta form, -135 dB */
    { 1.0f, 1.0446614f, 0.0f, 0.0f, 0.02421271f, 0.0002892019f },
    /* 96000 Hz, mid 4: ways.mid; delta form, -139 dB */
    { 1.0f, 0.026128586f, 0.051306237f, 0.025184957f, 0.211645f, 0.020345733f },
    /* 96000 Hz, treble 0: ways.treble; delta form, -142 dB */
    { 1.0f, 0.8992231f, 0.0f, 0.0f, 0.2114485f, 0.02035413f },
    /* 96000 Hz, treble 1: ways.treble; delta form, -143 dB */
    { 1.0f, 0.8988256f, 0.0f, 0.0f, 0.21280357f, 0.020390777f },
    /* 96000 Hz, treble 2: ways.treble.filters[0] gain; constant, -152 dB */
    { 1.0f, 0.84139514f, 0.0016433499f, 0.0f, 0.001953125f, 0.0f }, /* treble-trim -1.5 dB */
    { 1.0f, 1.0f, 0.001953125f, 0.0f, 0.001953125f, 0.0f } /* treble-trim 0 dB */
};

static const unsigned char heron_pick_table[5] = {
    2u, 0u, 1u, 1u, 0u
};

static const heron_position_entry heron_position_table[30] = {
    { 0u, 0u, 1u, { 1u, 0u, 0u } },
    { 3u, 1u, 0u, { 0u, 0u, 0u } },
    { 4u, 3u, 2u, { 0u, 1u, 0u } },
    { 6u, 1u, 0u, { 0u, 0u, 0u } },
    { 7u, 1u, 0u, { 0u, 0u, 0u } },
    { 8u, 1u, 0u, { 0u, 0u, 0u } },
    { 9u, 1u, 0u, { 0u, 0u, 0u } },
    { 10u, 1u, 0u, { 0u, 0u, 0u } },
    { 11u, 1u, 0u, { 0u, 0u, 0u } },
    { 12u, 1u, 0u, { 0u, 0u, 0u } },
    { 13u, 1u, 0u, { 0u, 0u, 0u } },
    { 14u, 1u, 0u, { 0u, 0u, 0u } },
    { 15u, 1u, 0u, { 0u, 0u, 0u } },
    { 16u, 3u, 3u, { 0u, 0u, 1u } },
    { 18u, 1u, 0u, { 0u, 0u, 0u } },
    { 19u, 0u, 1u, { 1u, 0u, 0u } },
    { 22u, 1u, 0u, { 0u, 0u, 0u } },
    { 23u, 3u, 2u, { 0u, 1u, 0u } },
    { 25u, 1u, 0u, { 0u, 0u, 0u } },
    { 26u, 1u, 0u, { 0u, 0u, 0u } },
    { 27u, 1u, 0u, { 0u, 0u, 0u } },
    { 28u, 1u, 0u, { 0u, 0u, 0u } },
    { 29u, 1u, 0u, { 0u, 0u, 0u } },
    { 30u, 1u, 0u, { 0u, 0u, 0u } },
    { 31u, 1u, 0u, { 0u, 0u, 0u } },
    { 32u, 1u, 0u, { 0u, 0u, 0u } },
    { 33u, 1u, 0u, { 0u, 0u, 0u } },
    { 34u, 1u, 0u, { 0u, 0u, 0u } },
    { 35u, 1u, 0u, { 0u, 0u, 0u } },
    { 36u, 3u, 3u, { 0u, 0u, 1u } }
};

static const heron_rate_entry heron_rate_table[HERON_RATES] = {
    { 48000u, 0, {
        { 0.5011872f, 0u, 0u, 0, 3 }, /* common */
        { 0.63095737f, 0u, 0u, 3, 7 }, /* bass */
        { 1.0f, 0u, 0u, 7, 12 }, /* mid */
        { 0.84139514f, 4u, 0u, 12, 15 } /* treble */
    } },
    { 96000u, 15, {
        { 0.5011872f, 0u, 0u, 0, 3 }, /* common */
        { 0.63095737f, 0u, 0u, 3, 7 }, /* bass */
        { 1.0f, 0u, 0u, 7, 12 }, /* mid */
        { 0.84139514f, 9u, 0u, 12, 15 } /* treble */
    } }
};

/* ---- filters -------------------------------------------------------------------------- */

/* One section over n samples, in place. */
static inline void heron_run_section(const heron_section_words *words, float *p_state,
        float *q_state, float *io, int n)
{
    HERON_NO_FUSING
    const heron_section_words k = *words;
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

/* A delay of length >= 1 samples over n samples, in place. */
static inline void heron_run_delay(float *line, uint32_t length, uint32_t *at,
        float *io, int n)
{
    uint32_t k = *at;
    int i;

    for (i = 0; i < n; i++) {
        const float x = io[i];
        io[i] = line[k];
        line[k] = x;
        k++;
        if (k == length) {
            k = 0u;
        }
    }
    *at = k;
}

/* The row of a position's section under the choices of a channel. */
static inline uint16_t heron_find_section(const heron_position_entry *position,
        const heron_channel_state *channel)
{
    unsigned int pick = position->pick;
    int i;

    for (i = 0; i < HERON_SETTINGS; i++) {
        pick += (unsigned int)position->stride[i] * channel->choice[i];
    }
    return (uint16_t)(position->row + heron_pick_table[pick]);
}

/* The two samples of a switch, after position k took x and gave y. The first is noted; the
 * second gives the new section the state that it would hold had it made these two outputs out
 * of these two inputs. */
static inline void heron_switch_section(const heron_position_entry *position,
        heron_channel_state *channel, int k, float x, float y)
{
    HERON_NO_FUSING
    const int note = (int)position->switched - 1;
    const uint16_t section = heron_find_section(position, channel);

    if (channel->switching == 2u) {
        channel->noted_x[note] = x;
        channel->noted_y[note] = y;
    } else if (section != channel->section[k]) {
        const heron_section_words w = heron_section_table[section];
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

/* Cascade number c over n samples, in place: gain, delay, sections. */
static inline void heron_run_cascade(const heron_rate_entry *rate, int c,
        heron_channel_state *channel, float *io, int n)
{
    const heron_cascade_entry *cascade = &rate->cascade[c];
    int i;
    int k;

    for (i = 0; i < n; i++) {
        io[i] = cascade->gain * io[i];
    }
    if (cascade->delay > 0u) {
        heron_run_delay(&channel->delay[cascade->delay_at], cascade->delay,
            &channel->delay_at[c], io, n);
    }
    for (k = cascade->from; k < cascade->to; k++) {
        const heron_position_entry *position = &heron_position_table[rate->first + k];
        const float before = io[0];

        heron_run_section(&heron_section_table[channel->section[k]], &channel->p[k],
            &channel->q[k], io, n);
        if (channel->switching > 0u && position->switched > 0u) { /* n is 1 */
            heron_switch_section(position, channel, k, before, io[0]);
        }
    }
}

/* ---- the interface -------------------------------------------------------------------- */

/* Sections of a channel that stands still: the choices apply at once. */
static inline void heron_apply_choices(heron_state *s, int channel)
{
    const heron_rate_entry *rate = &heron_rate_table[s->rate - 1];
    heron_channel_state *ch = &s->channel[channel];
    const int to = rate->cascade[HERON_WAYS].to;
    int k;

    for (k = 0; k < to; k++) {
        ch->section[k] = heron_find_section(&heron_position_table[rate->first + k], ch);
    }
}

/* Silence in every state and delay line of every channel. The settings stay. */
static inline void heron_reset(heron_state *s)
{
    int c;
    int i;

    for (c = 0; c < HERON_CHANNELS; c++) {
        heron_channel_state *ch = &s->channel[c];

        for (i = 0; i < HERON_POSITIONS; i++) {
            ch->p[i] = 0.0f;
            ch->q[i] = 0.0f;
        }
        for (i = 0; i < HERON_DELAY_WORDS; i++) {
            ch->delay[i] = 0.0f;
        }
        for (i = 0; i < 1 + HERON_WAYS; i++) {
            ch->delay_at[i] = 0u;
        }
        for (i = 0; i < HERON_SWITCHED; i++) {
            ch->noted_x[i] = 0.0f;
            ch->noted_y[i] = 0.0f;
        }
        ch->switching = 0u;
        ch->running = 0u;
        if (s->rate > 0) {
            heron_apply_choices(s, c);
        }
    }
}

/* Makes the state ready for a sampling rate, every setting at its first choice. */
static inline int heron_init(heron_state *s, uint32_t rate_hz)
{
    int i;
    int c;

    s->rate = 0;
    for (i = 0; i < HERON_RATES; i++) {
        if (heron_rate_table[i].rate_hz == rate_hz) {
            s->rate = i + 1;
        }
    }
    for (c = 0; c < HERON_CHANNELS; c++) {
        for (i = 0; i < HERON_SETTINGS; i++) {
            s->channel[c].choice[i] = 0u;
        }
    }
    heron_reset(s);
    return s->rate > 0 ? 0 : 1;
}

static inline int heron_change_setting(heron_state *s, int channel, int setting,
        unsigned int choice, unsigned int choices)
{
    heron_channel_state *ch;

    if (s->rate < 1 || channel < 0 || channel >= HERON_CHANNELS || choice >= choices) {
        return 1;
    }
    ch = &s->channel[channel];
    ch->choice[setting] = (unsigned char)choice;
    if (ch->running == 0u) {
        heron_apply_choices(s, channel);
    } else if (ch->switching == 0u) {
        ch->switching = 2u;
    } else {
        /* a switch is under way and takes this choice along */
    }
    return 0;
}

/* placement. Before the first sample it applies at once, later without a jolt. */
static inline int heron_set_placement(heron_state *s, int channel,
        enum heron_placement choice)
{
    return heron_change_setting(s, channel, 0, (unsigned int)choice, 3u);
}

/* grille. Before the first sample it applies at once, later without a jolt. */
static inline int heron_set_grille(heron_state *s, int channel,
        enum heron_grille choice)
{
    return heron_change_setting(s, channel, 1, (unsigned int)choice, 2u);
}

/* treble-trim. Before the first sample it applies at once, later without a jolt. */
static inline int heron_set_treble_trim(heron_state *s, int channel,
        enum heron_treble_trim choice)
{
    return heron_change_setting(s, channel, 2, (unsigned int)choice, 2u);
}

/* Filters n samples of one channel: in[i] -> out[way][i]. in may be the same array as one of
 * out; otherwise no two may overlap. */
static inline int heron_run(heron_state *s, int channel, const float *in,
        float *const out[HERON_WAYS], int n)
{
    float common[HERON_BLOCK];
    float way[HERON_BLOCK];
    const heron_rate_entry *rate;
    heron_channel_state *ch;
    int done = 0;

    if (s->rate < 1 || channel < 0 || channel >= HERON_CHANNELS || n < 0) {
        return 1;
    }
    rate = &heron_rate_table[s->rate - 1];
    ch = &s->channel[channel];
    while (done < n) {
        int block = n - done;
        int w;
        int i;

        if (block > HERON_BLOCK) {
            block = HERON_BLOCK;
        }
        if (ch->switching > 0u) {
            block = 1;
        }
        ch->running = 1u;
        for (i = 0; i < block; i++) {
            common[i] = in[done + i];
        }
        heron_run_cascade(rate, 0, ch, common, block);
        for (w = 0; w < HERON_WAYS; w++) {
            for (i = 0; i < block; i++) {
                way[i] = common[i];
            }
            heron_run_cascade(rate, 1 + w, ch, way, block);
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

#undef HERON_NO_FUSING
#if defined __GNUC__ && !defined __clang__
#pragma GCC pop_options
#endif

#endif
