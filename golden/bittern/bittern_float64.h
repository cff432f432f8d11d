/*
 * bittern_float64.h: the loudspeaker filters of "bittern" in double precision
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
 * loop has to wait while run works in an interrupt. The state takes 1928 bytes.
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
#ifndef BITTERN_FLOAT64_H
#define BITTERN_FLOAT64_H

#ifdef BITTERN_FORMAT
#error "bittern: include the header of one number format only; another one came before this"
#endif
#define BITTERN_FORMAT "float64"
#define BITTERN_SPEC_SHA256 "152f52736f74fec8ee522873edf16cb9eb57aae7be32beefcf4ff04b4132286c"

#include <float.h>
#include <stdint.h>

#if FLT_RADIX != 2 || DBL_MANT_DIG != 53
#error "bittern: double must be an IEEE 754 number of 64 bits here"
#endif
#if FLT_EVAL_METHOD != 0 && FLT_EVAL_METHOD != 1 && FLT_EVAL_METHOD != 16
#error "bittern: double must be computed as double; on a 32-bit x86 use -msse2 -mfpmath=sse"
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
    double p[BITTERN_POSITIONS];
    double q[BITTERN_POSITIONS];
    double noted_x[BITTERN_SWITCHED]; /* input and output of the first sample of a switch */
    double noted_y[BITTERN_SWITCHED];
    double delay[BITTERN_DELAY_WORDS];
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
    double c;
    double b0;
    double b1;
    double b2;
    double a1;
    double a2;
} bittern_section_words;

typedef struct {
    uint16_t row; /* of bittern_section_table: its first alternative */
    uint16_t pick; /* of bittern_pick_table: the alternative of every combination */
    uint16_t switched; /* 0 for a fixed section, otherwise its number among the others */
    uint16_t stride[BITTERN_SETTINGS]; /* of each setting's choices */
} bittern_position_entry;

typedef struct {
    double gain; /* with the polarity as sign */
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

/* c, b0, b1, b2,
 *  a1, a2 of every section. Beside each: the spec line that it realises, its
 * form, and its computed error in this format, re the section's greatest gain. A choice that
 * leaves a constant gain g has b1 = g*a1, exactly: what the section held before fades away
 * there, and the gain itself is untouched. */
static const bittern_section_words bittern_section_table[64] = {
    /* 48000 Hz, common 0: common[2] peak; direct form, -258 dB */
    { 0.0, 0.9980100856615033, -1.9677627783824367, 0.9713738143061534,
      -1.9677964144965425, 0.9694175326528979 }, /* wall free */
    { 1.0, 1.0, 0.00390625, 0.0,
      0.00390625, 0.0 }, /* wall flush */
    /* 48000 Hz, common 1: common[0] high-pass; direct form, -218 dB */
    { 0.0, 0.9983353060408954, -1.9966706120817908, 0.9983353060408954,
      -1.9966678408769813, 0.9966733832876548 },
    /* 48000 Hz, common 2: common[1] low-shelf; direct form, -246 dB */
    { 0.0, 1.0030163135176249, -1.9680692495666843, 0.965565937932108,
      -1.9681270817536625, 0.9684902597984248 }, /* wall free */
    { 1.0, 1.0, 0.00390625, 0.0,
      0.00390625, 0.0 }, /* wall flush */
    /* 48000 Hz, sub 0: ways.sub; direct form, -234 dB */
    { 0.0, 0.0004788923903729047, -0.0013250012113631454, 0.0009069357581932856,
      -1.9883660770139298, 0.9884256397843199 },
    /* 48000 Hz, sub 1: ways.sub; direct form, -222 dB */
    { 0.0, 0.3920040215074679, -0.7813319681020303, 0.3893389661193103,
      -1.995877239532943, 0.9958855764776772 },
    /* 48000 Hz, sub 2: ways.sub.filters[1] gain, ways.sub.filters[2] gain; constant, -327 dB */
    { 1.0, 0.7079457843841379, 0.0027654132202505387, 0.0,
      0.00390625, 0.0 }, /* sub-trim -3 dB */
    { 1.0, 1.4125375446227542, 0.0055177247836826334, 0.0,
      0.00390625, 0.0 }, /* sub-trim 3 dB */
    { 1.0, 1.0, 0.00390625, 0.0,
      0.00390625, 0.0 }, /* sub-trim 0 dB */
    /* 48000 Hz, sub 3: ways.sub; direct form, -243 dB */
    { 0.0, 0.006894459239741399, -0.012463139835620205, 0.00574912350622102,
      -1.988702776589014, 0.9887728966059259 },
    /* 48000 Hz, bass 0: ways.bass; direct form, -244 dB */
    { 0.0, 0.8473989044647527, -1.6947978089295055, 0.8473989044647527,
      -1.9899796905954745, 0.9900381061930287 },
    /* 48000 Hz, bass 1: ways.bass; direct form, -250 dB */
    { 0.0, 1.0065997597098861, -2.0131995194197723, 1.0065997597098861,
      -1.9919012973743104, 0.9919249584953721 },
    /* 48000 Hz, bass 2: ways.bass; direct form, -274 dB */
    { 0.0, 0.007247124456561622, -0.007266614305821666, 0.0033566306541269195,
      -1.918178331383951, 0.921408715618041 },
    /* 48000 Hz, bass 3: ways.bass; direct form, -251 dB */
    { 0.0, 1.036506346872023, -2.065649115801943, 1.0295149706627185,
      -1.991156136619526, 0.991514962235138 },
    /* 48000 Hz, bass 4: ways.bass; direct form, -283 dB */
    { 0.0, -0.0011848234960054288, 0.0008000819981738821, 0.0033736266947040983,
      -1.9228599868356109, 0.9257313196965509 },
    /* 48000 Hz, bass 5: ways.bass; direct form, -243 dB */
    { 0.0, 1.0363605751925762, -2.064291689806154, 1.0279900726428313,
      -1.98708423891706, 0.987159939635856 },
    /* 48000 Hz, mid 0: ways.mid; direct form, -275 dB */
    { 0.0, 0.8519793999656072, -1.7039587999312145, 0.8519793999656072,
      -1.9208466933804011, 0.9240181630256571 },
    /* 48000 Hz, mid 1: ways.mid; direct form, -280 dB */
    { 0.0, 0.964708343321659, -1.929416686643318, 0.964708343321659,
      -1.920657384808002, 0.9235518576830112 },
    /* 48000 Hz, mid 2: ways.mid; direct form, -313 dB */
    { 0.0, 0.36833385009965575, 0.07389740586064197, -0.25021271923516253,
      -1.0433138337711596, 0.23341414421271228 },
    /* 48000 Hz, mid 3: ways.mid; direct form, -280 dB */
    { 0.0, 1.0298550432227633, -1.9724268915450653, 0.9612905286763009,
      -1.900795987345961, 0.9187850194785966 },
    /* 48000 Hz, mid 4: ways.mid; direct form, -303 dB */
    { 0.0, 0.05621099107106288, -0.27261484089809485, 0.47647025871876997,
      -1.0008447970266832, 0.22404464071044983 },
    /* 48000 Hz, mid 5: ways.mid; direct form, -304 dB */
    { 0.0, 0.0652753483621272, -0.03991983811524338, 0.10152707829455945,
      -1.5674796865792455, 0.7201649151985288 },
    /* 48000 Hz, mid 6: ways.mid; direct form, -306 dB */
    { 0.0, 0.12368276601646765, 0.052640129880093506, -0.06803004016084487,
      -1.4605045446934772, 0.5437041844876991 },
    /* 48000 Hz, mid 7: ways.mid; direct form, -308 dB */
    { 0.0, 0.2298476031838208, -0.16125775903324935, 0.08012226111688761,
      -1.536528780756962, 0.7135835065229551 },
    /* 48000 Hz, treble 0: ways.treble; direct form, -308 dB */
    { 0.0, 0.6621774597932315, -1.324354919586463, 0.6621774597932315,
      -1.2613917191110549, 0.3740843366342147 },
    /* 48000 Hz, treble 1: ways.treble; direct form, -306 dB */
    { 0.0, 0.9667404713512188, -1.1710607270787137, 0.7558580344812533,
      -1.1746873392763528, 0.7268342272612659 },
    /* 48000 Hz, treble 2: ways.treble; direct form, -306 dB */
    { 0.0, 0.7251042140341589, -1.4502084280683178, 0.7251042140341589,
      -1.368392700252461, 0.5330284971902416 },
    /* 48000 Hz, treble 3: ways.treble; direct form, -305 dB */
    { 0.0, 0.7883169942609515, -1.576633988521903, 0.7883169942609515,
      -1.5053071976286778, 0.6530855324527349 },
    /* 48000 Hz, treble 4: ways.treble; direct form, -304 dB */
    { 0.0, 0.8272822592825501, -1.6545645185651001, 0.8272822592825501,
      -1.5741922908276358, 0.7443127602532712 },
    /* 48000 Hz, treble 5: ways.treble.filters[1] high-shelf; direct form, -321 dB */
    { 0.0, 1.1908869881784054, -0.7863109657896774, 0.3029316470867406,
      -0.4986721557396294, 0.20619753360221482 }, /* screen perforated */
    { 1.0, 1.0, 0.00390625, 0.0,
      0.00390625, 0.0 }, /* screen none */
    /* 96000 Hz, common 0: common[2] peak; direct form, -242 dB */
    { 0.0, 0.9990011369603272, -1.9841730807512525, 0.9855804118765432,
      -1.9841824794370202, 0.9845909474801164 }, /* wall free */
    { 1.0, 1.0, 0.001953125, 0.0,
      0.001953125, 0.0 }, /* wall flush */
    /* 96000 Hz, common 1: common[0] high-pass; direct form, -210 dB */
    { 0.0, 0.999167306331047, -1.998334612662094, 0.999167306331047,
      -1.9983339192834262, 0.9983353060408385 },
    /* 96000 Hz, common 2: common[1] low-shelf; direct form, -245 dB */
    { 0.0, 1.001508757886297, -1.984012400283416, 0.9826329367673156,
      -1.9840265033074747, 0.9841180367183003 }, /* wall free */
    { 1.0, 1.0, 0.001953125, 0.0,
      0.001953125, 0.0 }, /* wall flush */
    /* 96000 Hz, sub 0: ways.sub; direct form, -240 dB */
    { 0.0, 0.00024145417102351327, -0.0005040081086172639, 0.0002790662301712942,
      -1.9942604342003074, 0.9942768573823462 },
    /* 96000 Hz, sub 1: ways.sub; direct form, -226 dB */
    { 0.0, 0.38284284928285267, -0.7643678942413312, 0.3815277971022773,
      -1.9979433833543188, 0.997945454175155 },
    /* 96000 Hz, sub 2: ways.sub.filters[1] gain, ways.sub.filters[2] gain; constant, -327 dB */
    { 1.0, 0.7079457843841379, 0.0013827066101252694, 0.0,
      0.001953125, 0.0 }, /* sub-trim -3 dB */
    { 1.0, 1.4125375446227542, 0.0027588623918413167, 0.0,
      0.001953125, 0.0 }, /* sub-trim 3 dB */
    { 1.0, 1.0, 0.001953125, 0.0,
      0.001953125, 0.0 }, /* sub-trim 0 dB */
    /* 96000 Hz, sub 3: ways.sub; direct form, -232 dB */
    { 0.0, -0.0003899206694094693, 0.0009240776095753877, -0.0004914828125515127,
      -1.9942615990401316, 0.9942780182795757 },
    /* 96000 Hz, bass 0: ways.bass; direct form, -240 dB */
    { 0.0, 0.8578482125922675, -1.715696425184535, 0.8578482125922675,
      -1.994272025332845, 0.9942884589044048 },
    /* 96000 Hz, bass 1: ways.bass; direct form, -221 dB */
    { 0.0, 1.0091960080004865, -2.018392016000973, 1.0091960080004865,
      -1.9958573290268073, 0.9958635025955774 },
    /* 96000 Hz, bass 2: ways.bass; direct form, -256 dB */
    { 0.0, -0.0003851262210191742, 0.0012360544967115513, -4.412689262107928e-05,
      -1.960308149708855, 0.9610879217852696 },
    /* 96000 Hz, bass 3: ways.bass; direct form, -222 dB */
    { 0.0, 1.0370063221488186, -2.070416723043677, 1.0335036380621128,
      -1.9956596876606525, 0.9957495572258245 },
    /* 96000 Hz, bass 4: ways.bass; direct form, -257 dB */
    { 0.0, 0.0012359027645834659, -0.0008560432013500318, 0.00042473191542600065,
      -1.9601003330696674, 0.9608734135154068 },
    /* 96000 Hz, bass 5: ways.bass; direct form, -229 dB */
    { 0.0, 1.0281004271587972, -2.051952283636965, 1.023866639372362,
      -1.9942492126838363, 0.994265615752942 },
    /* 96000 Hz, mid 0: ways.mid; direct form, -268 dB */
    { 0.0, 0.871119924361693, -1.742239848723386, 0.871119924361693,
      -1.960755716428283, 0.9615217684247531 },
    /* 96000 Hz, mid 1: ways.mid; direct form, -261 dB */
    { 0.0, 0.9824923806254662, -1.9649847612509324, 0.9824923806254662,
      -1.959628272620466, 0.9604157730823076 },
    /* 96000 Hz, mid 2: ways.mid; direct form, -267 dB */
    { 0.0, 1.0370108245690302, -2.034114209628081, 1.0019165762448574,
      -1.953900202488413, 0.958524023427137 },
    /* 96000 Hz, mid 3: ways.mid; direct form, -303 dB */
    { 0.0, -0.004799596852483962, 0.09387923414417111, -0.04026218730256695,
      -1.6221349908708595, 0.6629946601536398 },
    /* 96000 Hz, mid 4: ways.mid; direct form, -292 dB */
    { 0.0, 0.08095539174859656, -0.07418293737626366, 0.03134378328637637,
      -1.7952769037623153, 0.840890107512849 },
    /* 96000 Hz, mid 5: ways.mid; direct form, -310 dB */
    { 0.0, 2.1841922023674147, -2.3579541926341125, 0.42862818235256245,
      0.014078832756592163, -0.7781664756970255 },
    /* 96000 Hz, mid 6: ways.mid; direct form, -296 dB */
    { 0.0, 0.057220720428108066, -0.08776071061312991, 0.08045551451117558,
      -1.6236075734913542, 0.6642120394580314 },
    /* 96000 Hz, mid 7: ways.mid; direct form, -294 dB */
    { 0.0, 0.02272567241505706, -0.08778081086521244, 0.10177320375062633,
      -1.8006068761709206, 0.8457132513458506 },
    /* 96000 Hz, treble 0: ways.treble; direct form, -299 dB */
    { 0.0, 0.8307916255686174, -1.6615832511372348, 0.8307916255686174,
      -1.6118131508865452, 0.6510105725630498 },
    /* 96000 Hz, treble 1: ways.treble; direct form, -295 dB */
    { 0.0, 0.9831105494246926, -1.6988000737160067, 0.8708973700483075,
      -1.700189388028976, 0.8554009180857042 },
    /* 96000 Hz, treble 2: ways.treble; direct form, -300 dB */
    { 0.0, 0.8367377834503537, -1.6734755669007073, 0.8367377834503537,
      -1.6337078940442424, 0.6754336249187657 },
    /* 96000 Hz, treble 3: ways.treble; direct form, -296 dB */
    { 0.0, 0.8947107613384727, -1.7894215226769454, 0.8947107613384727,
      -1.7925452689029646, 0.8375026311855985 },
    /* 96000 Hz, treble 4: ways.treble; direct form, -287 dB */
    { 0.0, 0.8989353058477352, -1.7978706116954704, 0.8989353058477352,
      -1.802950650815804, 0.8485980191307728 },
    /* 96000 Hz, treble 5: ways.treble.filters[1] high-shelf; direct form, -308 dB */
    { 0.0, 1.262238165668291, -1.6305312203051947, 0.6362013987051051,
      -1.1854912172534597, 0.45340146476119264 }, /* screen perforated */
    { 1.0, 1.0, 0.001953125, 0.0,
      0.001953125, 0.0 } /* screen none */
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
        { 0.44668359215096315, 0u, 0u, 0, 3 }, /* common */
        { 0.5011872336272724, 0u, 0u, 3, 7 }, /* sub */
        { 0.7079457843841379, 6u, 0u, 7, 13 }, /* bass */
        { 0.7943282347242815, 9u, 12u, 13, 21 }, /* mid */
        { 0.44668359215096315, 10u, 29u, 21, 27 } /* treble */
    } },
    { 96000u, 27, {
        { 0.44668359215096315, 0u, 0u, 0, 3 }, /* common */
        { 0.5011872336272724, 0u, 0u, 3, 7 }, /* sub */
        { 0.7079457843841379, 12u, 0u, 7, 13 }, /* bass */
        { 0.7943282347242815, 17u, 12u, 13, 21 }, /* mid */
        { 0.44668359215096315, 19u, 29u, 21, 27 } /* treble */
    } }
};

/* ---- filters -------------------------------------------------------------------------- */

/* One section over n samples, in place. */
static inline void bittern_run_section(const bittern_section_words *words, double *p_state,
        double *q_state, double *io, int n)
{
    BITTERN_NO_FUSING
    const bittern_section_words k = *words;
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
static inline void bittern_run_delay(double *line, uint32_t length, uint32_t *at,
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
        bittern_channel_state *channel, int k, double x, double y)
{
    BITTERN_NO_FUSING
    const int note = (int)position->switched - 1;
    const uint16_t section = bittern_find_section(position, channel);

    if (channel->switching == 2u) {
        channel->noted_x[note] = x;
        channel->noted_y[note] = y;
    } else if (section != channel->section[k]) {
        const bittern_section_words w = bittern_section_table[section];
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
static inline void bittern_run_cascade(const bittern_rate_entry *rate, int c,
        bittern_channel_state *channel, double *io, int n)
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
        const double before = io[0];

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
            ch->p[i] = 0.0;
            ch->q[i] = 0.0;
        }
        for (i = 0; i < BITTERN_DELAY_WORDS; i++) {
            ch->delay[i] = 0.0;
        }
        for (i = 0; i < 1 + BITTERN_WAYS; i++) {
            ch->delay_at[i] = 0u;
        }
        for (i = 0; i < BITTERN_SWITCHED; i++) {
            ch->noted_x[i] = 0.0;
            ch->noted_y[i] = 0.0;
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
static inline int bittern_run(bittern_state *s, int channel, const double *in,
        double *const out[BITTERN_WAYS], int n)
{
    double common[BITTERN_BLOCK];
    double way[BITTERN_BLOCK];
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
