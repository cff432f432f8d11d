/*
 * bittern_float64.h: the loudspeaker filters of "bittern" in double precision
 *
 * Bittern, a closed-box four-way for dubbing rooms (invented)
 * Revision C1
 * Spec SHA-256 587fd302766beedb4fcb9db60eabb94a741c553afcb114c1b31647495141f2dd
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
#define BITTERN_SPEC_SHA256 "587fd302766beedb4fcb9db60eabb94a741c553afcb114c1b31647495141f2dd"

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
    /* 48000 Hz, sub 0: ways.sub; direct form, -237 dB */
    { 0.0, 0.00048350754338524, -0.0007299430229019549, 0.00031227813650014195,
      -1.9885221525146772, 0.9885876395605927 },
    /* 48000 Hz, sub 1: ways.sub; direct form, -221 dB */
    { 0.0, 0.38332862246771227, -0.764018463178528, 0.3807008415687796,
      -1.9958861559079548, 0.9958944339275464 },
    /* 48000 Hz, sub 2: ways.sub.filters[1] gain, ways.sub.filters[2] gain; constant, -327 dB */
    { 1.0, 0.7079457843841379, 0.0027654132202505387, 0.0,
      0.00390625, 0.0 }, /* sub-trim -3 dB */
    { 1.0, 1.4125375446227542, 0.0055177247836826334, 0.0,
      0.00390625, 0.0 }, /* sub-trim 3 dB */
    { 1.0, 1.0, 0.00390625, 0.0,
      0.00390625, 0.0 }, /* sub-trim 0 dB */
    /* 48000 Hz, sub 3: ways.sub; direct form, -237 dB */
    { 0.0, 0.00017744822894714255, -0.0007308790941888259, 0.000723597639878653,
      -1.9885240533504462, 0.988589525808995 },
    /* 48000 Hz, bass 0: ways.bass; direct form, -249 dB */
    { 0.0, 0.8555029267077998, -1.7110058534155996, 0.8555029267077998,
      -1.9885069755056677, 0.9885728319678964 },
    /* 48000 Hz, bass 1: ways.bass; direct form, -233 dB */
    { 0.0, 1.0068995664188292, -2.0137991328376583, 1.0068995664188292,
      -1.9917736775783061, 0.9917980753911134 },
    /* 48000 Hz, bass 2: ways.bass; direct form, -280 dB */
    { 0.0, 0.004609981116034168, -0.003024415508453242, 0.0015836647936627738,
      -1.920369595226034, 0.9234248431407304 },
    /* 48000 Hz, bass 3: ways.bass; direct form, -247 dB */
    { 0.0, 1.0364597699861768, -2.0655541035075817, 1.0294666308570062,
      -1.9911526991578978, 0.9915116920323415 },
    /* 48000 Hz, bass 4: ways.bass; direct form, -272 dB */
    { 0.0, -0.0005283775868830542, 8.361379917371566e-05, 0.0035944457916171875,
      -1.9205323506211822, 0.9235675017162044 },
    /* 48000 Hz, bass 5: ways.bass; direct form, -252 dB */
    { 0.0, 1.0268437684563194, -2.045160183440391, 1.0183756834324609,
      -1.9884828206077785, 0.9885489154081233 },
    /* 48000 Hz, mid 0: ways.mid; direct form, -277 dB */
    { 0.0, 0.8528458714935062, -1.7056917429870124, 0.8528458714935062,
      -1.9204496107839797, 0.9235866440317794 },
    /* 48000 Hz, mid 1: ways.mid; direct form, -273 dB */
    { 0.0, 0.9638267227401249, -1.9276534454802499, 0.9638267227401249,
      -1.9206340301108753, 0.9235818129339998 },
    /* 48000 Hz, mid 2: ways.mid; direct form, -318 dB */
    { 0.0, 0.8708209610162677, -0.22138418701642748, -0.3028807616948639,
      -0.3674877895953286, -0.3150772983704142 },
    /* 48000 Hz, mid 3: ways.mid; direct form, -285 dB */
    { 0.0, 1.0287450097185467, -1.9705522358219765, 0.9605470614890118,
      -1.901112383809429, 0.9191810023737282 },
    /* 48000 Hz, mid 4: ways.mid; direct form, -311 dB */
    { 0.0, -0.004744160567778706, 0.21471621267949953, -0.059345689381545386,
      -1.3406621676379558, 0.46734346083296013 },
    /* 48000 Hz, mid 5: ways.mid; direct form, -303 dB */
    { 0.0, 0.042492396844116626, -0.0073859035043510185, 0.09808249229768211,
      -1.5587615202801577, 0.7203028967041631 },
    /* 48000 Hz, mid 6: ways.mid; direct form, -302 dB */
    { 0.0, 0.1650651364172751, -0.036652528117783745, 0.011544510627243043,
      -1.5318382098730532, 0.7018255451960247 },
    /* 48000 Hz, mid 7: ways.mid; direct form, -310 dB */
    { 0.0, -0.02006357515217715, 0.07264206167278284, 0.10827879226955271,
      -1.3099313708727645, 0.4410992447768266 },
    /* 48000 Hz, treble 0: ways.treble; direct form, -308 dB */
    { 0.0, 0.7133055601530249, -1.4266111203060499, 0.7133055601530249,
      -1.3530169944787143, 0.5095429137998114 },
    /* 48000 Hz, treble 1: ways.treble; direct form, -308 dB */
    { 0.0, 0.6671221869585436, -1.3342443739170873, 0.6671221869585436,
      -1.2705385394581685, 0.3858558570617583 },
    /* 48000 Hz, treble 2: ways.treble; direct form, -304 dB */
    { 0.0, 0.9705573131586479, -1.177069659065137, 0.7602156823250245,
      -1.1771343635572842, 0.7291267199299825 },
    /* 48000 Hz, treble 3: ways.treble; direct form, -306 dB */
    { 0.0, 0.7947271483260627, -1.5894542966521255, 0.7947271483260627,
      -1.515844928258221, 0.6691190065098827 },
    /* 48000 Hz, treble 4: ways.treble; direct form, -305 dB */
    { 0.0, 0.824484631395976, -1.648969262791952, 0.824484631395976,
      -1.5685460403639582, 0.7386280021493831 },
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
    /* 96000 Hz, sub 0: ways.sub; direct form, -236 dB */
    { 0.0, 0.000335956357190941, -0.0005784235061457058, 0.0002589738804682394,
      -1.9942616157790107, 0.9942780336969139 },
    /* 96000 Hz, sub 1: ways.sub; direct form, -212 dB */
    { 0.0, 0.38299122286957005, -0.7646644486478226, 0.38167597886236326,
      -1.9979429036230447, 0.9979449749569117 },
    /* 96000 Hz, sub 2: ways.sub.filters[1] gain, ways.sub.filters[2] gain; constant, -327 dB */
    { 1.0, 0.7079457843841379, 0.0013827066101252694, 0.0,
      0.001953125, 0.0 }, /* sub-trim -3 dB */
    { 1.0, 1.4125375446227542, 0.0027588623918413167, 0.0,
      0.001953125, 0.0 }, /* sub-trim 3 dB */
    { 1.0, 1.0, 0.001953125, 0.0,
      0.001953125, 0.0 }, /* sub-trim 0 dB */
    /* 96000 Hz, sub 3: ways.sub; direct form, -236 dB */
    { 0.0, 5.237980387314308e-05, -0.00025701625820054113, 0.000247310777491742,
      -1.9942612232366739, 0.9942776421541842 },
    /* 96000 Hz, bass 0: ways.bass; direct form, -243 dB */
    { 0.0, 0.8581200107339666, -1.7162400214679332, 0.8581200107339666,
      -1.994263164759512, 0.9942795769027403 },
    /* 96000 Hz, bass 1: ways.bass; direct form, -233 dB */
    { 0.0, 1.009206795702019, -2.018413591404038, 1.009206795702019,
      -1.995856453897149, 0.9958626286342658 },
    /* 96000 Hz, bass 2: ways.bass; direct form, -258 dB */
    { 0.0, -0.0004295717901929226, 0.0012748231668159922, -3.9497301559103634e-05,
      -1.9602083795758292, 0.9609850922698965 },
    /* 96000 Hz, bass 3: ways.bass; direct form, -236 dB */
    { 0.0, 1.0369965250161026, -2.070397408625508, 1.033494120377734,
      -1.9956600640701208, 0.9957499344005808 },
    /* 96000 Hz, bass 4: ways.bass; direct form, -254 dB */
    { 0.0, 0.0013561642226837573, -0.0010452477265326227, 0.0004947365996055529,
      -1.9601997671521612, 0.9609759442525991 },
    /* 96000 Hz, bass 5: ways.bass; direct form, -215 dB */
    { 0.0, 1.027753527428381, -2.051260799511682, 1.0235220490525667,
      -1.9942602910613552, 0.9942767097338937 },
    /* 96000 Hz, mid 0: ways.mid; direct form, -263 dB */
    { 0.0, 0.8716256859111766, -1.7432513718223532, 0.8716256859111766,
      -1.9602153444590997, 0.9609914741080741 },
    /* 96000 Hz, mid 1: ways.mid; direct form, -269 dB */
    { 0.0, 0.9818885948206777, -1.9637771896413554, 0.9818885948206777,
      -1.9601917210388569, 0.9609685432496752 },
    /* 96000 Hz, mid 2: ways.mid; direct form, -314 dB */
    { 0.0, 0.9870387959927028, -0.7025728479604008, -0.12004467864120635,
      -0.6372043359842867, -0.20965506260547717 },
    /* 96000 Hz, mid 3: ways.mid; direct form, -261 dB */
    { 0.0, 1.0369988149569598, -2.0341007551138315, 1.0019145321973162,
      -1.9539179710028727, 0.9585408500990282 },
    /* 96000 Hz, mid 4: ways.mid; direct form, -288 dB */
    { 0.0, 0.0366150635119784, 0.023629771505324262, -0.011176532960643006,
      -1.6217321428962816, 0.6623217780003038 },
    /* 96000 Hz, mid 5: ways.mid; direct form, -299 dB */
    { 0.0, 0.06066340398711301, -0.03628780025670818, 0.01313220570836416,
      -1.798090501554641, 0.8434631230795946 },
    /* 96000 Hz, mid 6: ways.mid; direct form, -299 dB */
    { 0.0, 0.031411938150934196, -0.03794271911533847, 0.05593682215807191,
      -1.6236774274376882, 0.6639886636275459 },
    /* 96000 Hz, mid 7: ways.mid; direct form, -286 dB */
    { 0.0, 0.006240922139795774, -0.03751304177590854, 0.06844522613460272,
      -1.7979945079172044, 0.84331278872314 },
    /* 96000 Hz, treble 0: ways.treble; direct form, -300 dB */
    { 0.0, 0.8318406055110323, -1.6636812110220647, 0.8318406055110323,
      -1.6154757329880296, 0.6548584904572947 },
    /* 96000 Hz, treble 1: ways.treble; direct form, -301 dB */
    { 0.0, 0.983119643154703, -1.6988833453619758, 0.870973916699102,
      -1.7003081426999993, 0.8555182118552112 },
    /* 96000 Hz, treble 2: ways.treble; direct form, -300 dB */
    { 0.0, 0.8354924858857803, -1.6709849717715606, 0.8354924858857803,
      -1.6295848605231313, 0.671118871289742 },
    /* 96000 Hz, treble 3: ways.treble; direct form, -297 dB */
    { 0.0, 0.8957093271253698, -1.7914186542507395, 0.8957093271253698,
      -1.794901094661662, 0.8398221326991666 },
    /* 96000 Hz, treble 4: ways.treble; direct form, -291 dB */
    { 0.0, 0.8980999941343797, -1.7961999882687594, 0.8980999941343797,
      -1.8010192082349075, 0.8467258108699828 },
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
