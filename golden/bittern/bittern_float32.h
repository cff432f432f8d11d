/*
 * bittern_float32.h: the loudspeaker filters of "bittern" in single precision
 *
 * Bittern, a closed-box four-way for dubbing rooms (invented)
 * Revision C1
 * Spec SHA-256 152f52736f74fec8ee522873edf16cb9eb57aae7be32beefcf4ff04b4132286c
 *
 * WHAT IT DOES
 * One input channel becomes 4 ways. Every input sample passes the common filters once;
 * each way then applies its gain with its polarity, its delay and its own filters:
 *
 *   out[BITTERN_WAY_SUB]: sub, -6 dB, normal polarity, sections: 4
 *   out[BITTERN_WAY_BASS]: bass, -3 dB, normal polarity, sections: 6, samples of delay: 6 at
 *     48000 Hz, 12 at 96000 Hz
 *   out[BITTERN_WAY_MID]: mid, -2 dB, normal polarity, sections: 8, samples of delay: 9 at
 *     48000 Hz, 17 at 96000 Hz
 *   out[BITTERN_WAY_TREBLE]: treble, -7 dB, normal polarity, sections: 6, samples of delay:
 *     10 at 48000 Hz, 19 at 96000 Hz
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
 *   static bittern_state filters;                 all the memory there is
 *   bittern_init(&filters, 48000);                the rate in Hz: 48000 or 96000
 *   bittern_set_screen(&filters, channel, BITTERN_SCREEN_NONE);
 *   bittern_set_wall(&filters, channel, BITTERN_WALL_FLUSH);
 *   bittern_set_sub_trim(&filters, channel, BITTERN_SUB_TRIM_0_DB);
 *   bittern_run(&filters, channel, in, out, n);   channel 0 to 1
 *   bittern_reset(&filters);                      silence in every state and delay
 *
 * All but reset return 0, or 1 for something that does not exist: a rate, channel or choice, or
 * a state that was not initialised. Then nothing was done, and run wrote nothing: mute.
 * n is any number of samples from 0 up; splitting them into blocks in another way does not
 * change a bit. in may be the same array as one of out. Full scale is -1 to 1. Feed finite
 * numbers: a NaN stays in the state until the next reset. Different state structs may be used
 * at the same time. Calls on one struct may not interrupt each other: a set call from the main
 * loop has to wait while run works in an interrupt. The state takes 1044 bytes.
 *
 * SETTINGS (per channel; the first choice applies after init; reset keeps them)
 *   screen
 *     BITTERN_SCREEN_NONE         none
 *     BITTERN_SCREEN_PERFORATED   perforated
 *   wall
 *     BITTERN_WALL_FLUSH   flush
 *     BITTERN_WALL_FREE    free
 *   sub-trim
 *     BITTERN_SUB_TRIM_0_DB         0 dB
 *     BITTERN_SUB_TRIM_MINUS_3_DB   -3 dB
 *     BITTERN_SUB_TRIM_3_DB         3 dB
 * A set call may come between any two runs. The sections that change go over two samples later
 * and carry on from the last two inputs and outputs, so that there is no jolt.
 *
 * LEVELS
 * The input is attenuated by 7 dB (times 0.446684), the headroom for what the filters boost.
 * Give it back behind the converters: 7 dB of make-up gain. Floating-point outputs are not
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
#ifndef BITTERN_FLOAT32_H
#define BITTERN_FLOAT32_H

#ifdef BITTERN_FORMAT
#error "bittern: include the header of one number format only; another one came before this"
#endif
#define BITTERN_FORMAT "float32"
#define BITTERN_SPEC_SHA256 "152f52736f74fec8ee522873edf16cb9eb57aae7be32beefcf4ff04b4132286c"

#include <float.h>
#include <stdint.h>

#if FLT_RADIX != 2 || FLT_MANT_DIG != 24
#error "bittern: float must be an IEEE 754 number of 32 bits here"
#endif
#if FLT_EVAL_METHOD != 0 && FLT_EVAL_METHOD != 16
#error "bittern: float must be computed as float; on a 32-bit x86 use -msse2 -mfpmath=sse"
#endif
#ifdef __FAST_MATH__
#error "bittern: -ffast-math reorders the filters' arithmetic; compile without it"
#endif

/* No product may be fused with a sum, whatever the compiler's own setting is: every compiler
 * and processor then gives the same bits. (clang's -ffp-contract=fast ignores this.) */
#if defined __GNUC__ && !defined __clang__
#pragma GCC push_options
#pragma GCC optimize("fp-contract=off")
#define BITTERN_NO_FUSING
#else
#define BITTERN_NO_FUSING _Pragma("STDC FP_CONTRACT OFF")
#endif

#define BITTERN_CHANNELS 2
#define BITTERN_WAYS 4
#define BITTERN_RATES 2
#define BITTERN_POSITIONS 27 /* the most sections of a channel at one rate */
#define BITTERN_BLOCK 32 /* samples that pass at a time; any number gives the same bits */
#define BITTERN_DELAY_WORDS 48 /* of all delay lines of a channel */
#define BITTERN_SETTINGS 3
#define BITTERN_SWITCHED 4 /* the most positions with a choice at one rate */

/* The outputs, in the order of out. */
enum bittern_way_index {
    BITTERN_WAY_SUB = 0,
    BITTERN_WAY_BASS = 1,
    BITTERN_WAY_MID = 2,
    BITTERN_WAY_TREBLE = 3
};

/* screen */
enum bittern_screen {
    BITTERN_SCREEN_NONE = 0,
    BITTERN_SCREEN_PERFORATED = 1
};

/* wall */
enum bittern_wall {
    BITTERN_WALL_FLUSH = 0,
    BITTERN_WALL_FREE = 1
};

/* sub-trim */
enum bittern_sub_trim {
    BITTERN_SUB_TRIM_0_DB = 0,
    BITTERN_SUB_TRIM_MINUS_3_DB = 1,
    BITTERN_SUB_TRIM_3_DB = 2
};

/* ---- state ---------------------------------------------------------------------------- */

typedef struct {
    float p[BITTERN_POSITIONS];
    float q[BITTERN_POSITIONS];
    float noted_x[BITTERN_SWITCHED]; /* input and output of the first sample of a switch */
    float noted_y[BITTERN_SWITCHED];
    float delay[BITTERN_DELAY_WORDS];
    uint32_t delay_at[1 + BITTERN_WAYS];
    uint16_t section[BITTERN_POSITIONS]; /* the row of bittern_section_table in use */
    unsigned char choice[BITTERN_SETTINGS];
    unsigned char switching; /* samples to go with the old sections */
    unsigned char running; /* a sample has passed since the last reset */
} bittern_channel_state;

typedef struct {
    bittern_channel_state channel[BITTERN_CHANNELS];
    int rate; /* 1 + row of bittern_rate_table; 0: not initialised */
} bittern_state;

/* ---- tables --------------------------------------------------------------------------- */

typedef struct {
    float c;
    float b0;
    float b1;
    float b2;
    float a1;
    float a2;
} bittern_section_words;

typedef struct {
    uint16_t row; /* of bittern_section_table: its first alternative */
    uint16_t pick; /* of bittern_pick_table: the alternative of every combination */
    uint16_t switched; /* 0 for a fixed section, otherwise its number among the others */
    uint16_t stride[BITTERN_SETTINGS]; /* of each setting's choices */
} bittern_position_entry;

typedef struct {
    float gain; /* with the polarity as sign */
    uint32_t delay; /* samples */
    uint32_t delay_at; /* where its delay line begins */
    int from; /* its positions: from <= k < to */
    int to;
} bittern_cascade_entry;

typedef struct {
    uint32_t rate_hz;
    int first; /* position 0 in bittern_position_table */
    bittern_cascade_entry cascade[1 + BITTERN_WAYS]; /* common, then the ways */
} bittern_rate_entry;

/* c, b0, b1, b2, a1, a2 of every section. Beside each: the spec line that it realises, its
 * form, and its computed error in this format, re the section's greatest gain. A choice that
 * leaves a constant gain g has b1 = g*a1, exactly: what the section held before fades away
 * there, and the gain itself is untouched. */
static const bittern_section_words bittern_section_table[64] = {
    /* 48000 Hz, common 0: common[2] peak; delta form, -143 dB */
    /* wall free */
    { 1.0f, 0.9980101f, 0.028257392f, 0.0016211215f, 0.032203585f, 0.0016211182f },
    { 1.0f, 1.0f, 0.00390625f, 0.0f, 0.00390625f, 0.0f }, /* wall flush */
    /* 48000 Hz, common 1: common[0] high-pass; delta form, -127 dB */
    { 1.0f, 0.9983353f, 0.0f, 0.0f, 0.003332159f, 5.5424107e-06f },
    /* 48000 Hz, common 2: common[1] low-shelf; delta form, -139 dB */
    /* wall free */
    { 1.0f, 1.0030164f, 0.03796338f, 0.00051300187f, 0.031872917f, 0.00036317806f },
    { 1.0f, 1.0f, 0.00390625f, 0.0f, 0.00390625f, 0.0f }, /* wall flush */
    /* 48000 Hz, sub 0: ways.sub; delta form, -128 dB */
    { 1.0f, 0.00047889238f, -0.00036721642f, 6.0826937e-05f, 0.011633923f, 5.956277e-05f },
    /* 48000 Hz, sub 1: ways.sub; delta form, -129 dB */
    { 1.0f, 0.392004f, 0.0026760749f, 1.1019525e-05f, 0.0041227606f, 8.336945e-06f },
    /* 48000 Hz, sub 2: ways.sub.filters[1] gain, ways.sub.filters[2] gain; constant, -148 dB */
    { 1.0f, 0.70794576f, 0.0027654131f, 0.0f, 0.00390625f, 0.0f }, /* sub-trim -3 dB */
    { 1.0f, 1.4125376f, 0.005517725f, 0.0f, 0.00390625f, 0.0f }, /* sub-trim 3 dB */
    { 1.0f, 1.0f, 0.00390625f, 0.0f, 0.00390625f, 0.0f }, /* sub-trim 0 dB */
    /* 48000 Hz, sub 3: ways.sub; delta form, -129 dB */
    { 1.0f, 0.006894459f, 0.0013257787f, 0.0001804429f, 0.011297223f, 7.012002e-05f },
    /* 48000 Hz, bass 0: ways.bass; delta form, -131 dB */
    { 1.0f, 0.8473989f, 0.0f, 0.0f, 0.010020309f, 5.8415597e-05f },
    /* 48000 Hz, bass 1: ways.bass; delta form, -131 dB */
    { 1.0f, 1.0065998f, 0.0f, 0.0f, 0.008098703f, 2.3661121e-05f },
    /* 48000 Hz, bass 2: ways.bass; delta form, -136 dB */
    { 1.0f, 0.0072471243f, 0.0072276345f, 0.003337141f, 0.081821665f, 0.0032303843f },
    /* 48000 Hz, bass 3: ways.bass; delta form, -137 dB */
    { 1.0f, 1.0365063f, 0.007363578f, 0.00037220173f, 0.008843863f, 0.0003588256f },
    /* 48000 Hz, bass 4: ways.bass; delta form, -136 dB */
    { 1.0f, -0.0011848235f, -0.001569565f, 0.0029888852f, 0.07714001f, 0.002871333f },
    /* 48000 Hz, bass 5: ways.bass; delta form, -140 dB */
    { 1.0f, 1.0363606f, 0.00842946f, 5.895803e-05f, 0.012915761f, 7.570072e-05f },
    /* 48000 Hz, mid 0: ways.mid; delta form, -140 dB */
    { 1.0f, 0.8519794f, 0.0f, 0.0f, 0.07915331f, 0.0031714696f },
    /* 48000 Hz, mid 1: ways.mid; delta form, -139 dB */
    { 1.0f, 0.9647083f, 0.0f, 0.0f, 0.07934262f, 0.0028944728f },
    /* 48000 Hz, mid 2: ways.mid; delta form, -142 dB */
    { 1.0f, 0.36833385f, 0.8105651f, 0.19201854f, 0.95668614f, 0.19010031f },
    /* 48000 Hz, mid 3: ways.mid; delta form, -142 dB */
    { 1.0f, 1.029855f, 0.087283194f, 0.01871868f, 0.09920401f, 0.017989032f },
    /* 48000 Hz, mid 4: ways.mid; delta form, -139 dB */
    { 1.0f, 0.05621099f, -0.16019286f, 0.26006642f, 0.9991552f, 0.22319984f },
    /* 48000 Hz, mid 5: ways.mid; delta form, -141 dB */
    { 1.0f, 0.06527535f, 0.09063086f, 0.12688258f, 0.4325203f, 0.15268523f },
    /* 48000 Hz, mid 6: ways.mid; delta form, -142 dB */
    { 1.0f, 0.12368277f, 0.30000567f, 0.108292855f, 0.53949547f, 0.08319964f },
    /* 48000 Hz, mid 7: ways.mid; delta form, -137 dB */
    { 1.0f, 0.22984761f, 0.29843745f, 0.1487121f, 0.46347123f, 0.17705473f },
    /* 48000 Hz, treble 0: ways.treble; delta form, -144 dB */
    { 1.0f, 0.66217744f, 0.0f, 0.0f, 0.7386083f, 0.11269262f },
    /* 48000 Hz, treble 1: ways.treble; delta form, -130 dB */
    { 1.0f, 0.9667405f, 0.76242024f, 0.55153775f, 0.8253127f, 0.5521469f },
    /* 48000 Hz, treble 2: ways.treble; delta form, -145 dB */
    { 1.0f, 0.7251042f, 0.0f, 0.0f, 0.6316073f, 0.16463579f },
    /* 48000 Hz, treble 3: ways.treble; delta form, -142 dB */
    { 1.0f, 0.78831697f, 0.0f, 0.0f, 0.4946928f, 0.14777833f },
    /* 48000 Hz, treble 4: ways.treble; delta form, -140 dB */
    { 1.0f, 0.82728225f, 0.0f, 0.0f, 0.4258077f, 0.17012046f },
    /* 48000 Hz, treble 5: ways.treble.filters[1] high-shelf; direct form, -145 dB */
    /* screen perforated */
    { 0.0f, 1.190887f, -0.786311f, 0.30293164f, -0.49867216f, 0.20619753f },
    { 1.0f, 1.0f, 0.00390625f, 0.0f, 0.00390625f, 0.0f }, /* screen none */
    /* 96000 Hz, common 0: common[2] peak; delta form, -143 dB */
    /* wall free */
    { 1.0f, 0.99900115f, 0.013829193f, 0.0004084681f, 0.015817521f, 0.00040846804f },
    { 1.0f, 1.0f, 0.001953125f, 0.0f, 0.001953125f, 0.0f }, /* wall flush */
    /* 96000 Hz, common 1: common[0] high-pass; delta form, -124 dB */
    { 1.0f, 0.9991673f, 0.0f, 0.0f, 0.0016660807f, 1.3867574e-06f },
    /* 96000 Hz, common 2: common[1] low-shelf; delta form, -142 dB */
    /* wall free */
    { 1.0f, 1.0015087f, 0.019005116f, 0.00012929436f, 0.015973497f, 9.153341e-05f },
    { 1.0f, 1.0f, 0.001953125f, 0.0f, 0.001953125f, 0.0f }, /* wall flush */
    /* 96000 Hz, sub 0: ways.sub; delta form, -125 dB */
    { 1.0f, 0.00024145417f, -2.1099766e-05f, 1.6512293e-05f, 0.005739566f, 1.6423182e-05f },
    /* 96000 Hz, sub 1: ways.sub; delta form, -126 dB */
    { 1.0f, 0.38284284f, 0.0013178043f, 2.7521437e-06f, 0.0020566166f, 2.0708208e-06f },
    /* 96000 Hz, sub 2: ways.sub.filters[1] gain, ways.sub.filters[2] gain; constant, -148 dB */
    { 1.0f, 0.70794576f, 0.0013827066f, 0.0f, 0.001953125f, 0.0f }, /* sub-trim -3 dB */
    { 1.0f, 1.4125376f, 0.0027588625f, 0.0f, 0.001953125f, 0.0f }, /* sub-trim 3 dB */
    { 1.0f, 1.0f, 0.001953125f, 0.0f, 0.001953125f, 0.0f }, /* sub-trim 0 dB */
    /* 96000 Hz, sub 3: ways.sub; delta form, -125 dB */
    { 1.0f, -0.00038992066f, 0.00014423627f, 4.2674128e-05f, 0.005738401f, 1.6419239e-05f },
    /* 96000 Hz, bass 0: ways.bass; delta form, -129 dB */
    { 1.0f, 0.8578482f, 0.0f, 0.0f, 0.0057279747f, 1.6433572e-05f },
    /* 96000 Hz, bass 1: ways.bass; delta form, -129 dB */
    { 1.0f, 1.009196f, 0.0f, 0.0f, 0.004142671f, 6.1735686e-06f },
    /* 96000 Hz, bass 2: ways.bass; delta form, -134 dB */
    { 1.0f, -0.00038512622f, 0.00046580206f, 0.00080680137f, 0.03969185f, 0.00077977206f },
    /* 96000 Hz, bass 3: ways.bass; delta form, -138 dB */
    { 1.0f, 1.0370064f, 0.0035959212f, 9.323717e-05f, 0.0043403124f, 8.9869565e-05f },
    /* 96000 Hz, bass 4: ways.bass; delta form, -134 dB */
    { 1.0f, 0.0012359028f, 0.0016157624f, 0.00080459146f, 0.039899666f, 0.00077308045f },
    /* 96000 Hz, bass 5: ways.bass; delta form, -139 dB */
    { 1.0f, 1.0281004f, 0.0042485707f, 1.4782894e-05f, 0.0057507874f, 1.640307e-05f },
    /* 96000 Hz, mid 0: ways.mid; delta form, -137 dB */
    { 1.0f, 0.8711199f, 0.0f, 0.0f, 0.039244283f, 0.000766052f },
    /* 96000 Hz, mid 1: ways.mid; delta form, -138 dB */
    { 1.0f, 0.9824924f, 0.0f, 0.0f, 0.040371727f, 0.00078750047f },
    /* 96000 Hz, mid 2: ways.mid; delta form, -143 dB */
    { 1.0f, 1.0370108f, 0.03990744f, 0.004813191f, 0.046099797f, 0.004623821f },
    /* 96000 Hz, mid 3: ways.mid; delta form, -140 dB */
    { 1.0f, -0.004799597f, 0.084280044f, 0.04881745f, 0.37786502f, 0.04085967f },
    /* 96000 Hz, mid 4: ways.mid; delta form, -139 dB */
    { 1.0f, 0.08095539f, 0.087727845f, 0.03811624f, 0.20472309f, 0.045613203f },
    /* 96000 Hz, mid 5: ways.mid; direct form, -142 dB */
    { 0.0f, 2.1841922f, -2.3579543f, 0.42862818f, 0.014078833f, -0.7781665f },
    /* 96000 Hz, mid 6: ways.mid; delta form, -139 dB */
    { 1.0f, 0.05722072f, 0.02668073f, 0.049915526f, 0.37639242f, 0.040604465f },
    /* 96000 Hz, mid 7: ways.mid; delta form, -138 dB */
    { 1.0f, 0.022725672f, -0.042329468f, 0.036718067f, 0.19939312f, 0.045106374f },
    /* 96000 Hz, treble 0: ways.treble; delta form, -144 dB */
    { 1.0f, 0.83079165f, 0.0f, 0.0f, 0.38818684f, 0.039197423f },
    /* 96000 Hz, treble 1: ways.treble; delta form, -141 dB */
    { 1.0f, 0.98311055f, 0.26742104f, 0.15520784f, 0.29981062f, 0.15521152f },
    /* 96000 Hz, treble 2: ways.treble; delta form, -144 dB */
    { 1.0f, 0.8367378f, 0.0f, 0.0f, 0.36629212f, 0.041725732f },
    /* 96000 Hz, treble 3: ways.treble; delta form, -141 dB */
    { 1.0f, 0.8947108f, 0.0f, 0.0f, 0.20745473f, 0.044957362f },
    /* 96000 Hz, treble 4: ways.treble; delta form, -142 dB */
    { 1.0f, 0.8989353f, 0.0f, 0.0f, 0.19704935f, 0.045647368f },
    /* 96000 Hz, treble 5: ways.treble.filters[1] high-shelf; delta form, -143 dB */
    /* screen perforated */
    { 1.0f, 1.2622381f, 0.8939451f, 0.26790833f, 0.8145088f, 0.26791024f },
    { 1.0f, 1.0f, 0.001953125f, 0.0f, 0.001953125f, 0.0f } /* screen none */
};

static const unsigned char bittern_pick_table[5] = {
    1u, 0u, 2u, 0u, 1u
};

static const bittern_position_entry bittern_position_table[54] = {
    { 0u, 0u, 1u, { 0u, 1u, 0u } },
    { 2u, 1u, 0u, { 0u, 0u, 0u } },
    { 3u, 0u, 2u, { 0u, 1u, 0u } },
    { 5u, 1u, 0u, { 0u, 0u, 0u } },
    { 6u, 1u, 0u, { 0u, 0u, 0u } },
    { 7u, 2u, 3u, { 0u, 0u, 1u } },
    { 10u, 1u, 0u, { 0u, 0u, 0u } },
    { 11u, 1u, 0u, { 0u, 0u, 0u } },
    { 12u, 1u, 0u, { 0u, 0u, 0u } },
    { 13u, 1u, 0u, { 0u, 0u, 0u } },
    { 14u, 1u, 0u, { 0u, 0u, 0u } },
    { 15u, 1u, 0u, { 0u, 0u, 0u } },
    { 16u, 1u, 0u, { 0u, 0u, 0u } },
    { 17u, 1u, 0u, { 0u, 0u, 0u } },
    { 18u, 1u, 0u, { 0u, 0u, 0u } },
    { 19u, 1u, 0u, { 0u, 0u, 0u } },
    { 20u, 1u, 0u, { 0u, 0u, 0u } },
    { 21u, 1u, 0u, { 0u, 0u, 0u } },
    { 22u, 1u, 0u, { 0u, 0u, 0u } },
    { 23u, 1u, 0u, { 0u, 0u, 0u } },
    { 24u, 1u, 0u, { 0u, 0u, 0u } },
    { 25u, 1u, 0u, { 0u, 0u, 0u } },
    { 26u, 1u, 0u, { 0u, 0u, 0u } },
    { 27u, 1u, 0u, { 0u, 0u, 0u } },
    { 28u, 1u, 0u, { 0u, 0u, 0u } },
    { 29u, 1u, 0u, { 0u, 0u, 0u } },
    { 30u, 0u, 4u, { 1u, 0u, 0u } },
    { 32u, 0u, 1u, { 0u, 1u, 0u } },
    { 34u, 1u, 0u, { 0u, 0u, 0u } },
    { 35u, 0u, 2u, { 0u, 1u, 0u } },
    { 37u, 1u, 0u, { 0u, 0u, 0u } },
    { 38u, 1u, 0u, { 0u, 0u, 0u } },
    { 39u, 2u, 3u, { 0u, 0u, 1u } },
    { 42u, 1u, 0u, { 0u, 0u, 0u } },
    { 43u, 1u, 0u, { 0u, 0u, 0u } },
    { 44u, 1u, 0u, { 0u, 0u, 0u } },
    { 45u, 1u, 0u, { 0u, 0u, 0u } },
    { 46u, 1u, 0u, { 0u, 0u, 0u } },
    { 47u, 1u, 0u, { 0u, 0u, 0u } },
    { 48u, 1u, 0u, { 0u, 0u, 0u } },
    { 49u, 1u, 0u, { 0u, 0u, 0u } },
    { 50u, 1u, 0u, { 0u, 0u, 0u } },
    { 51u, 1u, 0u, { 0u, 0u, 0u } },
    { 52u, 1u, 0u, { 0u, 0u, 0u } },
    { 53u, 1u, 0u, { 0u, 0u, 0u } },
    { 54u, 1u, 0u, { 0u, 0u, 0u } },
    { 55u, 1u, 0u, { 0u, 0u, 0u } },
    { 56u, 1u, 0u, { 0u, 0u, 0u } },
    { 57u, 1u, 0u, { 0u, 0u, 0u } },
    { 58u, 1u, 0u, { 0u, 0u, 0u } },
    { 59u, 1u, 0u, { 0u, 0u, 0u } },
    { 60u, 1u, 0u, { 0u, 0u, 0u } },
    { 61u, 1u, 0u, { 0u, 0u, 0u } },
    { 62u, 0u, 4u, { 1u, 0u, 0u } }
};

static const bittern_rate_entry bittern_rate_table[BITTERN_RATES] = {
    { 48000u, 0, {
        { 0.4466836f, 0u, 0u, 0, 3 }, /* common */
        { 0.5011872f, 0u, 0u, 3, 7 }, /* sub */
        { 0.70794576f, 6u, 0u, 7, 13 }, /* bass */
        { 0.7943282f, 9u, 12u, 13, 21 }, /* mid */
        { 0.4466836f, 10u, 29u, 21, 27 } /* treble */
    } },
    { 96000u, 27, {
        { 0.4466836f, 0u, 0u, 0, 3 }, /* common */
        { 0.5011872f, 0u, 0u, 3, 7 }, /* sub */
        { 0.70794576f, 12u, 0u, 7, 13 }, /* bass */
        { 0.7943282f, 17u, 12u, 13, 21 }, /* mid */
        { 0.4466836f, 19u, 29u, 21, 27 } /* treble */
    } }
};

/* ---- filters -------------------------------------------------------------------------- */

/* One section over n samples, in place. */
static inline void bittern_run_section(const bittern_section_words *words, float *p_state,
        float *q_state, float *io, int n)
{
    BITTERN_NO_FUSING
    const bittern_section_words k = *words;
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
static inline void bittern_run_delay(float *line, uint32_t length, uint32_t *at,
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
static inline uint16_t bittern_find_section(const bittern_position_entry *position,
        const bittern_channel_state *channel)
{
    unsigned int pick = position->pick;
    int i;

    for (i = 0; i < BITTERN_SETTINGS; i++) {
        pick += (unsigned int)position->stride[i] * channel->choice[i];
    }
    return (uint16_t)(position->row + bittern_pick_table[pick]);
}

/* The two samples of a switch, after position k took x and gave y. The first is noted; the
 * second gives the new section the state that it would hold had it made these two outputs out
 * of these two inputs. */
static inline void bittern_switch_section(const bittern_position_entry *position,
        bittern_channel_state *channel, int k, float x, float y)
{
    BITTERN_NO_FUSING
    const int note = (int)position->switched - 1;
    const uint16_t section = bittern_find_section(position, channel);

    if (channel->switching == 2u) {
        channel->noted_x[note] = x;
        channel->noted_y[note] = y;
    } else if (section != channel->section[k]) {
        const bittern_section_words w = bittern_section_table[section];
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
static inline void bittern_run_cascade(const bittern_rate_entry *rate, int c,
        bittern_channel_state *channel, float *io, int n)
{
    const bittern_cascade_entry *cascade = &rate->cascade[c];
    int i;
    int k;

    for (i = 0; i < n; i++) {
        io[i] = cascade->gain * io[i];
    }
    if (cascade->delay > 0u) {
        bittern_run_delay(&channel->delay[cascade->delay_at], cascade->delay,
            &channel->delay_at[c], io, n);
    }
    for (k = cascade->from; k < cascade->to; k++) {
        const bittern_position_entry *position = &bittern_position_table[rate->first + k];
        const float before = io[0];

        bittern_run_section(&bittern_section_table[channel->section[k]], &channel->p[k],
            &channel->q[k], io, n);
        if (channel->switching > 0u && position->switched > 0u) { /* n is 1 */
            bittern_switch_section(position, channel, k, before, io[0]);
        }
    }
}

/* ---- the interface -------------------------------------------------------------------- */

/* Sections of a channel that stands still: the choices apply at once. */
static inline void bittern_apply_choices(bittern_state *s, int channel)
{
    const bittern_rate_entry *rate = &bittern_rate_table[s->rate - 1];
    bittern_channel_state *ch = &s->channel[channel];
    const int to = rate->cascade[BITTERN_WAYS].to;
    int k;

    for (k = 0; k < to; k++) {
        ch->section[k] = bittern_find_section(&bittern_position_table[rate->first + k], ch);
    }
}

/* Silence in every state and delay line of every channel. The settings stay. */
static inline void bittern_reset(bittern_state *s)
{
    int c;
    int i;

    for (c = 0; c < BITTERN_CHANNELS; c++) {
        bittern_channel_state *ch = &s->channel[c];

        for (i = 0; i < BITTERN_POSITIONS; i++) {
            ch->p[i] = 0.0f;
            ch->q[i] = 0.0f;
        }
        for (i = 0; i < BITTERN_DELAY_WORDS; i++) {
            ch->delay[i] = 0.0f;
        }
        for (i = 0; i < 1 + BITTERN_WAYS; i++) {
            ch->delay_at[i] = 0u;
        }
        for (i = 0; i < BITTERN_SWITCHED; i++) {
            ch->noted_x[i] = 0.0f;
            ch->noted_y[i] = 0.0f;
        }
        ch->switching = 0u;
        ch->running = 0u;
        if (s->rate > 0) {
            bittern_apply_choices(s, c);
        }
    }
}

/* Makes the state ready for a sampling rate, every setting at its first choice. */
static inline int bittern_init(bittern_state *s, uint32_t rate_hz)
{
    int i;
    int c;

    s->rate = 0;
    for (i = 0; i < BITTERN_RATES; i++) {
        if (bittern_rate_table[i].rate_hz == rate_hz) {
            s->rate = i + 1;
        }
    }
    for (c = 0; c < BITTERN_CHANNELS; c++) {
        for (i = 0; i < BITTERN_SETTINGS; i++) {
            s->channel[c].choice[i] = 0u;
        }
    }
    bittern_reset(s);
    return s->rate > 0 ? 0 : 1;
}

static inline int bittern_change_setting(bittern_state *s, int channel, int setting,
        unsigned int choice, unsigned int choices)
{
    bittern_channel_state *ch;

    if (s->rate < 1 || channel < 0 || channel >= BITTERN_CHANNELS || choice >= choices) {
        return 1;
    }
    ch = &s->channel[channel];
    ch->choice[setting] = (unsigned char)choice;
    if (ch->running == 0u) {
        bittern_apply_choices(s, channel);
    } else if (ch->switching == 0u) {
        ch->switching = 2u;
    } else {
        /* a switch is under way and takes this choice along */
    }
    return 0;
}

/* screen. Before the first sample it applies at once, later without a jolt. */
static inline int bittern_set_screen(bittern_state *s, int channel,
        enum bittern_screen choice)
{
    return bittern_change_setting(s, channel, 0, (unsigned int)choice, 2u);
}

/* wall. Before the first sample it applies at once, later without a jolt. */
static inline int bittern_set_wall(bittern_state *s, int channel,
        enum bittern_wall choice)
{
    return bittern_change_setting(s, channel, 1, (unsigned int)choice, 2u);
}

/* sub-trim. Before the first sample it applies at once, later without a jolt. */
static inline int bittern_set_sub_trim(bittern_state *s, int channel,
        enum bittern_sub_trim choice)
{
    return bittern_change_setting(s, channel, 2, (unsigned int)choice, 3u);
}

/* Filters n samples of one channel: in[i] -> out[way][i]. in may be the same array as one of
 * out; otherwise no two may overlap. */
static inline int bittern_run(bittern_state *s, int channel, const float *in,
        float *const out[BITTERN_WAYS], int n)
{
    float common[BITTERN_BLOCK];
    float way[BITTERN_BLOCK];
    const bittern_rate_entry *rate;
    bittern_channel_state *ch;
    int done = 0;

    if (s->rate < 1 || channel < 0 || channel >= BITTERN_CHANNELS || n < 0) {
        return 1;
    }
    rate = &bittern_rate_table[s->rate - 1];
    ch = &s->channel[channel];
    while (done < n) {
        int block = n - done;
        int w;
        int i;

        if (block > BITTERN_BLOCK) {
            block = BITTERN_BLOCK;
        }
        if (ch->switching > 0u) {
            block = 1;
        }
        ch->running = 1u;
        for (i = 0; i < block; i++) {
            common[i] = in[done + i];
        }
        bittern_run_cascade(rate, 0, ch, common, block);
        for (w = 0; w < BITTERN_WAYS; w++) {
            for (i = 0; i < block; i++) {
                way[i] = common[i];
            }
            bittern_run_cascade(rate, 1 + w, ch, way, block);
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

#undef BITTERN_NO_FUSING
#if defined __GNUC__ && !defined __clang__
#pragma GCC pop_options
#endif

#endif
