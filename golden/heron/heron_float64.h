/*
 * heron_float64.h: the loudspeaker filters of "heron" in double precision
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
 * loop has to wait while run works in an interrupt. The state takes 840 bytes.
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
#ifndef HERON_FLOAT64_H
#define HERON_FLOAT64_H

#ifdef HERON_FORMAT
#error "heron: include the header of one number format only; another one came before this"
#endif
#define HERON_FORMAT "float64"
#define HERON_SPEC_SHA256 "02de088018f059b24a1ce3b0f55d36da10e3865f3e5c03cbecd041dab219acee"

#include <float.h>
#include <stdint.h>

#if FLT_RADIX != 2 || DBL_MANT_DIG != 53
#error "heron: double must be an IEEE 754 number of 64 bits here"
#endif
#if FLT_EVAL_METHOD != 0 && FLT_EVAL_METHOD != 1 && FLT_EVAL_METHOD != 16
#error "heron: double must be computed as double; on a 32-bit x86 use -msse2 -mfpmath=sse"
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
    double p[HERON_POSITIONS];
    double q[HERON_POSITIONS];
    double noted_x[HERON_SWITCHED]; /* input and output of the first sample of a switch */
    double noted_y[HERON_SWITCHED];
    double delay[HERON_DELAY_WORDS];
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
    double c;
    double b0;
    double b1;
    double b2;
    double a1;
    double a2;
} heron_section_words;

typedef struct {
    uint16_t row; /* of heron_section_table: its first alternative */
    uint16_t pick; /* of heron_pick_table: the alternative of every combination */
    uint16_t switched; /* 0 for a fixed section, otherwise its number among the others */
    uint16_t stride[HERON_SETTINGS]; /* of each setting's choices */
} heron_position_entry;

typedef struct {
    double gain; /* with the polarity as sign */
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

/* c, b0, b1, b2,
 *  a1, a2 of every section. Beside each: the spec line that it realises, its
 * form, and its computed error in this format, re the section's greatest gain. A choice that
 * leaves a constant gain g has b1 = g*a1, exactly: what the section held before fades away
 * there, and the gain itself is untouched. */
static const heron_section_words heron_section_table[38] = {
    /* 48000 Hz, common 0: common[1] low-shelf, common[2] low-shelf; direct form, -268 dB */
    { 0.0, 0.9966112506132827, -1.9573398727739655, 0.9613509484297525,
      -1.9572130475039156, 0.9580921066275986 }, /* placement wall */
    { 0.0, 0.9922426310448612, -1.9470349118214259, 0.9554726046458597,
      -1.9467004284964258, 0.9480578526947708 }, /* placement corner */
    { 1.0, 1.0, 0.00390625, 0.0,
      0.00390625, 0.0 }, /* placement free */
    /* 48000 Hz, common 1: common[0] high-pass; direct form, -222 dB */
    { 0.0, 0.9979657505491978, -1.9959315010983956, 0.9979657505491978,
      -1.9959273629301721, 0.9959356392689693 },
    /* 48000 Hz, common 2: common[3] high-shelf; direct form, -318 dB */
    { 0.0, 1.0979750154030814, -0.9558222422337974, 0.3110662305655511,
      -0.8050818069252648, 0.25827318002849164 }, /* grille woven */
    { 1.0, 1.0, 0.00390625, 0.0,
      0.00390625, 0.0 }, /* grille none */
    /* 48000 Hz, bass 0: ways.bass; direct form, -262 dB */
    { 0.0, 0.0005367579108684631, 0.0024556034596981613, -0.0019490216524969955,
      -1.9540783483903494, 0.955121777056203 },
    /* 48000 Hz, bass 1: ways.bass; direct form, -247 dB */
    { 0.0, 1.0026724714933082, -2.000464440735535, 0.9979370914326143,
      -1.9935665165067376, 0.9937111899512936 },
    /* 48000 Hz, bass 2: ways.bass; direct form, -230 dB */
    { 0.0, 0.4226937641517324, -0.8415612389885258, 0.4188899155263418,
      -1.9931775942977805, 0.9931972487790043 },
    /* 48000 Hz, bass 3: ways.bass; direct form, -258 dB */
    { 0.0, 0.01306208308780594, -0.02923737705946999, 0.019059018327269923,
      -1.9498492312415676, 0.9510760721002166 },
    /* 48000 Hz, mid 0: ways.mid; direct form, -272 dB */
    { 0.0, 1.0058955288315343, -2.0117910576630686, 1.0058955288315343,
      -1.9533334511573819, 0.9544603649643862 },
    /* 48000 Hz, mid 1: ways.mid; direct form, -267 dB */
    { 0.0, 1.041518268427215, -2.08303653685443, 1.041518268427215,
      -1.950254313970071, 0.9513888574448109 },
    /* 48000 Hz, mid 2: ways.mid; direct form, -303 dB */
    { 0.0, 0.025651535521278482, 0.04965458713892294, 0.008915599287874887,
      -0.681587806997501, -0.2864184471676375 },
    /* 48000 Hz, mid 3: ways.mid; direct form, -303 dB */
    { 0.0, 0.02519447425172553, 0.7477452597565329, -0.7220493401547305,
      -1.5930127130929488, 0.6622254159858096 },
    /* 48000 Hz, mid 4: ways.mid; direct form, -303 dB */
    { 0.0, 0.08271158217410449, 0.013778601322057132, -0.0005404442920825814,
      -1.5674808032362426, 0.6450725882545505 },
    /* 48000 Hz, treble 0: ways.treble; direct form, -303 dB */
    { 0.0, 0.8057449599839139, -1.6114899199678279, 0.8057449599839139,
      -1.575065311513358, 0.6484856163226314 },
    /* 48000 Hz, treble 1: ways.treble.filters[0] gain; constant, -327 dB */
    { 1.0, 0.8413951416451951, 0.0032866997720515435, 0.0,
      0.00390625, 0.0 }, /* treble-trim -1.5 dB */
    { 1.0, 1.0, 0.00390625, 0.0,
      0.00390625, 0.0 }, /* treble-trim 0 dB */
    /* 48000 Hz, treble 2: ways.treble; direct form, -302 dB */
    { 0.0, 0.8107288279627133, -1.6214576559254266, 0.8107288279627133,
      -1.5849440071499272, 0.6580370656058205 },
    /* 96000 Hz, common 0: common[1] low-shelf, common[2] low-shelf; direct form, -253 dB */
    { 0.0, 0.9983040307325777, -1.9786316316988795, 0.9804848571507847,
      -1.978599625782188, 0.9788217560457013 }, /* placement wall */
    { 0.0, 0.9961133498275319, -1.9734232975238417, 0.9774823124999745,
      -1.973338663669336, 0.9736825766618091 }, /* placement corner */
    { 1.0, 1.0, 0.001953125, 0.0,
      0.001953125, 0.0 }, /* placement free */
    /* 96000 Hz, common 1: common[0] high-pass; direct form, -220 dB */
    { 0.0, 0.9989823574763852, -1.9979647149527704, 0.9989823574763852,
      -1.9979636793566375, 0.9979657505490703 },
    /* 96000 Hz, common 2: common[3] high-shelf; direct form, -308 dB */
    { 0.0, 1.122558065397629, -1.5587345012980034, 0.5965118596850701,
      -1.3475504617282483, 0.5078857894496982 }, /* grille woven */
    { 1.0, 1.0, 0.001953125, 0.0,
      0.001953125, 0.0 }, /* grille none */
    /* 96000 Hz, bass 0: ways.bass; direct form, -266 dB */
    { 0.0, 0.0010102462362496924, -0.002331238551894892, 0.0016069651902950273,
      -1.975937957825319, 0.9762239240080667 },
    /* 96000 Hz, bass 1: ways.bass; direct form, -226 dB */
    { 0.0, 1.002715894593654, -2.00302172677936, 1.0003421447587688,
      -1.9968081796332753, 0.9968443796571106 },
    /* 96000 Hz, bass 2: ways.bass; direct form, -211 dB */
    { 0.0, 0.42433995098703264, -0.8467652755870291, 0.4224309717904986,
      -1.9965772778484487, 0.9965822213864818 },
    /* 96000 Hz, bass 3: ways.bass; direct form, -254 dB */
    { 0.0, 3.6576068581568704e-05, 0.0017423864320741612, -0.0011061068243099893,
      -1.9759331630158485, 0.9762194215264969 },
    /* 96000 Hz, mid 0: ways.mid; direct form, -295 dB */
    { 0.0, 4.448320136057003e-05, 0.0014514996171473829, 0.01892032140374213,
      -1.7873847502693228, 0.8077844830243981 },
    /* 96000 Hz, mid 1: ways.mid; direct form, -252 dB */
    { 0.0, 1.0414619340486673, -2.0829238680973345, 1.0414619340486673,
      -1.9760852875720094, 0.976368367905515 },
    /* 96000 Hz, mid 2: ways.mid; direct form, -281 dB */
    { 0.0, 0.40425515928648664, -0.0998217720908271, -0.28204036842990193,
      -1.0368234950188846, 0.04857115536993422 },
    /* 96000 Hz, mid 3: ways.mid; direct form, -263 dB */
    { 0.0, 1.044661459229107, -2.089322918458214, 1.044661459229107,
      -1.9757872900507798, 0.9760764919661783 },
    /* 96000 Hz, mid 4: ways.mid; direct form, -297 dB */
    { 0.0, 0.02612858700950642, -0.0009509387704005265, 7.308668820399378e-06,
      -1.7883549920614812, 0.8087007254843012 },
    /* 96000 Hz, treble 0: ways.treble; direct form, -291 dB */
    { 0.0, 0.8992230798931247, -1.7984461597862493, 0.8992230798931247,
      -1.7885514872751271, 0.8089056164141696 },
    /* 96000 Hz, treble 1: ways.treble; direct form, -294 dB */
    { 0.0, 0.8988255900235703, -1.7976511800471406, 0.8988255900235703,
      -1.787196423098519, 0.8075871991497591 },
    /* 96000 Hz, treble 2: ways.treble.filters[0] gain; constant, -327 dB */
    { 1.0, 0.8413951416451951, 0.0016433498860257717, 0.0,
      0.001953125, 0.0 }, /* treble-trim -1.5 dB */
    { 1.0, 1.0, 0.001953125, 0.0,
      0.001953125, 0.0 } /* treble-trim 0 dB */
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
        { 0.5011872336272724, 0u, 0u, 0, 3 }, /* common */
        { 0.6309573444801932, 0u, 0u, 3, 7 }, /* bass */
        { 1.0, 0u, 0u, 7, 12 }, /* mid */
        { 0.8413951416451951, 4u, 0u, 12, 15 } /* treble */
    } },
    { 96000u, 15, {
        { 0.5011872336272724, 0u, 0u, 0, 3 }, /* common */
        { 0.6309573444801932, 0u, 0u, 3, 7 }, /* bass */
        { 1.0, 0u, 0u, 7, 12 }, /* mid */
        { 0.8413951416451951, 9u, 0u, 12, 15 } /* treble */
    } }
};

/* ---- filters -------------------------------------------------------------------------- */

/* One section over n samples, in place. */
static inline void heron_run_section(const heron_section_words *words, double *p_state,
        double *q_state, double *io, int n)
{
    HERON_NO_FUSING
    const heron_section_words k = *words;
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

/* A delay of length >= 1 samples over n samples, in place. */
static inline void heron_run_delay(double *line, uint32_t length, uint32_t *at,
        double *io, int n)
{
    uint32_t k = *at;
    int i;

    for (i = 0; i < n; i++) {
        const double x = io[i];
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
        heron_channel_state *channel, int k, double x, double y)
{
    HERON_NO_FUSING
    const int note = (int)position->switched - 1;
    const uint16_t section = heron_find_section(position, channel);

    if (channel->switching == 2u) {
        channel->noted_x[note] = x;
        channel->noted_y[note] = y;
    } else if (section != channel->section[k]) {
        const heron_section_words w = heron_section_table[section];
        const double x2 = channel->noted_x[note];
        const double y2 = channel->noted_y[note];
        const double e2 = y2 - w.b0 * x2; /* p, two samples and one sample ago */
        const double e1 = y - w.b0 * x;
        const int second_order = w.b2 < 0.0 || w.b2 > 0.0 || w.a2 < 0.0 || w.a2 > 0.0;

        if (second_order) {
            double q = (e1 - w.c * e2) - (w.b1 * x2 - w.a1 * y2);
            q = (w.c * q + w.b2 * x2) - w.a2 * y2;
            channel->p[k] = w.c * e1 + ((q + w.b1 * x) - w.a1 * y);
            channel->q[k] = (w.c * q + w.b2 * x) - w.a2 * y;
        } else {
            channel->p[k] = w.c * e1 + (w.b1 * x - w.a1 * y);
            channel->q[k] = 0.0;
        }
        channel->section[k] = section;
    } else {
        /* this position keeps its section */
    }
}

/* Cascade number c over n samples, in place: gain, delay, sections. */
static inline void heron_run_cascade(const heron_rate_entry *rate, int c,
        heron_channel_state *channel, double *io, int n)
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
        const double before = io[0];

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
            ch->p[i] = 0.0;
            ch->q[i] = 0.0;
        }
        for (i = 0; i < HERON_DELAY_WORDS; i++) {
            ch->delay[i] = 0.0;
        }
        for (i = 0; i < 1 + HERON_WAYS; i++) {
            ch->delay_at[i] = 0u;
        }
        for (i = 0; i < HERON_SWITCHED; i++) {
            ch->noted_x[i] = 0.0;
            ch->noted_y[i] = 0.0;
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
static inline int heron_run(heron_state *s, int channel, const double *in,
        double *const out[HERON_WAYS], int n)
{
    double common[HERON_BLOCK];
    double way[HERON_BLOCK];
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
