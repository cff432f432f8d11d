/*
 * dabchick_float32_selftest.c: self-test of the loudspeaker filters of "dabchick" in single precision
 * Spec SHA-256 e9e3a6613886ac7f14945f19e9061166695aa6e43386e7818311cf29d7257624
 *
 * Compile it beside dabchick_float32.c with the options of the program, declare
 *
 *     int dabchick_float32_selftest(void);
 *
 * and call it before any output is live: it plays nothing, and touches no state but its own.
 * With DABCHICK_SELFTEST_MAIN defined the file has a main that returns what it says:
 *
 *   0   every output is the compiler's own simulation, to the bit
 *   1   not to the bit, but every output that was compared is as near as round-off explains:
 *       compiler or processor compute otherwise than asked
 *   2   wrong: do not let this near a loudspeaker
 *
 * What is tried:
 * all outputs at 44100, 48000, 96000 Hz; blocks of 64, 32, 0, 1, 2, 7, 33, 21 samples and what
 * is left at the end; run in and out of place, run_frames and run_frames_int32; init, change of
 * rate and resets; mute and its end; calls that have to be refused; a sample that is no number,
 * and what follows the reset; every choice, and every section that choices pick; a change of
 * settings while a channel runs, at 44100 Hz.
 *
 * It takes 1536 bytes beside one dabchick_state, uses no library but memcpy, and is not for
 * two threads at once.
 */
#include "dabchick_float32.h"

#include <string.h>

#ifdef __cplusplus
extern "C" int dabchick_float32_selftest(void);
#else
int dabchick_float32_selftest(void);
#endif

/* Where dabchick_float32.c is compiled for fewer rates, define the same here. */
#if !(defined DABCHICK_ONLY_44100 || defined DABCHICK_ONLY_48000 || defined DABCHICK_ONLY_96000)
#define DABCHICK_ONLY_44100
#define DABCHICK_ONLY_48000
#define DABCHICK_ONLY_96000
#endif

#define DABCHICK_SELFTEST_OUTPUTS (DABCHICK_CHANNELS * DABCHICK_WAYS)
#define DABCHICK_SELFTEST_BLOCK 64
#define DABCHICK_SELFTEST_LOOKS 4 /* comparisons in a run, from its middle on */
#define DABCHICK_SELFTEST_BURST 24 /* samples of the highest frequency that a run begins with */
#define DABCHICK_SELFTEST_AFTER 224 /* samples after the end of a mute, or the reset of a channel */

/* How a block is run; the numbers go round. */
enum dabchick_selftest_how {
    DABCHICK_SELFTEST_PLANAR = 0,
    DABCHICK_SELFTEST_IN_FIRST = 1, /* in place, with the first output of the channel */
    DABCHICK_SELFTEST_FRAMES = 2,
    DABCHICK_SELFTEST_IN_LAST = 3,
    DABCHICK_SELFTEST_INT32 = 4,
    DABCHICK_SELFTEST_HOWS = 5
};

/* What is done at a rate, and what has to come of it. */
typedef struct {
    uint32_t hz;
    int run; /* samples from a reset */
    int fade; /* samples after a mute */
    int change; /* samples from a change of settings; 0: none is tried */
    uint32_t latest; /* samples that the latest way hears late */
    uint32_t hash; /* of all outputs */
    const float *expected; /* some of them */
    int late[DABCHICK_WAYS]; /* samples that a way hears late */
    float within[DABCHICK_WAYS]; /* how far from what is expected is near */
} dabchick_selftest_rate;

#ifdef DABCHICK_ONLY_44100
static const float dabchick_selftest_44100[80] = {
    2.955057e-13f, 7.05e-20f, 1.9659359e-07f, 9.71e-13f, 2.4219174e-08f, 4.14e-12f,
    -3.005701e-11f, 7.17e-18f, 1.665557e-05f, 4.62e-11f, -5.8638926e-07f, 5.45e-11f,
    2.9333477e-13f, 1.73e-19f, 1.9684809e-07f, 8.73e-13f, 2.4273909e-08f, 4.05e-12f,
    -2.9836196e-11f, 1.71e-17f, 1.6667327e-05f, 2.87e-11f, -5.8959256e-07f, 6.02e-11f,
    0.04268227f, -0.013432588f, 0.018652756f, -0.0037149207f, -0.027902264f, -0.0143741295f,
    -0.02803628f, -0.011090146f, -0.09585295f, -0.049418155f, -0.055260092f, -0.057094034f,
    -0.084189884f, -0.008226522f, -0.061073437f, 0.054379746f, -0.062999904f, 0.019767057f,
    -0.016004952f, -0.00354694f, -0.04658228f, 0.10131465f, -0.00065206364f, 0.0013152249f,
    -0.2580636f, 0.060849473f, 0.0f, 0.0f, -0.23481295f, -0.025383968f, 0.0f, 0.0f, 0.0f, 0.0f,
    -0.013133526f, -0.024545513f, -0.058909792f, -0.005916982f, 0.0785987f, -0.020123532f,
    -0.16371565f, 0.027279701f, 0.0f, 0.0f, 0.03761567f, -0.072003f, 0.0f, 0.0f, 0.0893785f,
    -0.03335016f, 0.0f, 0.0f, 0.052041903f, -0.0321916f, 0.0f, 0.0f
};
#endif

#ifdef DABCHICK_ONLY_48000
static const float dabchick_selftest_48000[64] = {
    2.055837e-13f, 5.89e-19f, 1.3777145e-07f, 1.39e-12f, 1.213948e-08f, 7.07e-12f,
    -2.513768e-11f, 5.91e-17f, 1.3570244e-05f, 4.21e-11f, -4.6751242e-07f, 4.21e-11f,
    2.0419513e-13f, 5.33e-19f, 1.3793303e-07f, 1.4e-12f, 1.2168375e-08f, 6.76e-12f,
    -2.496789e-11f, 2.72e-17f, 1.357926e-05f, 2.75e-11f, -4.6986221e-07f, 2.91e-11f,
    0.027859801f, -0.03519203f, 0.02612916f, 0.034980502f, -0.069071025f, -0.07862291f,
    -0.0384724f, -0.054251127f, -0.07458333f, 0.058848422f, -0.06112272f, 0.030938031f,
    -0.102520406f, -0.029328488f, -0.042701334f, 0.086534284f, -0.06832684f, -0.040955056f,
    -0.006289255f, 0.0026293069f, -0.2678833f, 0.058363177f, -0.0037265145f, -0.0002633544f,
    -0.29131794f, 0.0054653888f, 0.0f, 0.0f, -0.25803417f, 0.00080130144f, 0.0f, 0.0f, 0.0f,
    0.0f, 0.0032946763f, -0.02271566f, -0.043221787f, -0.019759899f, 0.0958785f, 0.008783647f
};
#endif

#ifdef DABCHICK_ONLY_96000
static const float dabchick_selftest_96000[64] = {
    6.965509e-15f, 1.42e-20f, 5.179438e-09f, 3.5e-14f, 4.2328547e-11f, 7.75e-13f,
    -3.7090873e-12f, 5.67e-18f, 1.720931e-06f, 9.04e-12f, -5.304143e-08f, 9.04e-12f,
    6.941907e-15f, 1.2e-20f, 5.182136e-09f, 3.52e-14f, 4.2358072e-11f, 7.6e-13f,
    -3.6965197e-12f, 1.01e-17f, 1.7215817e-06f, 6.24e-12f, -5.317574e-08f, 6.24e-12f,
    0.05561444f, 0.013502003f, 0.031706613f, -0.017592385f, -0.027730068f, -0.021850074f,
    -0.028864292f, -0.10442088f, -0.31330785f, -0.027681999f, -0.20667274f, 0.012051926f,
    -0.30308086f, 0.1005633f, -0.20270003f, -0.063083544f, -0.19023435f, 0.0028707683f,
    -0.05377193f, 0.018851344f, 0.03252278f, 0.02616737f, 0.00017599406f, -0.0038588624f,
    0.33880013f, -0.069516525f, 1.8537976e-06f, 8.433126e-07f, 0.39322272f, 0.025718164f, 0.0f,
    0.0f, 0.0f, 0.0f, 0.018390387f, 0.003974896f, 0.008691129f, -0.0011016647f, 0.085519865f,
    -0.0076734237f
};
#endif

static const dabchick_selftest_rate dabchick_selftest_rates[] = {
#ifdef DABCHICK_ONLY_44100
    { 44100u, 640, 496, 2320, 0u, 0xce43a5e9u, dabchick_selftest_44100,
      { 0, 0 }, { 5.23e-07f, 2.61e-07f } },
#endif
#ifdef DABCHICK_ONLY_48000
    { 48000u, 672, 528, 0, 0u, 0x202a7ed4u, dabchick_selftest_48000,
      { 0, 0 }, { 4.62e-07f, 3.05e-07f } },
#endif
#ifdef DABCHICK_ONLY_96000
    { 96000u, 1152, 1008, 0, 0u, 0x2372231fu, dabchick_selftest_96000,
      { 0, 0 }, { 1.63e-06f, 3.55e-07f } },
#endif
};

#define DABCHICK_SELFTEST_RUNS 1

/* The choices of every setting, of each channel in each run. */
static const unsigned char
dabchick_selftest_choices[DABCHICK_SELFTEST_RUNS * DABCHICK_CHANNELS][DABCHICK_SETTINGS] = {
    { 0 },
    { 1 }
};

/* Samples, as words of the format or as integers. */
typedef union {
    float word[DABCHICK_CHANNELS * DABCHICK_SELFTEST_BLOCK];
    int32_t wide[DABCHICK_CHANNELS * DABCHICK_SELFTEST_BLOCK];
} dabchick_selftest_input;

typedef union {
    float word[DABCHICK_SELFTEST_OUTPUTS * DABCHICK_SELFTEST_BLOCK];
    int32_t wide[DABCHICK_SELFTEST_OUTPUTS * DABCHICK_SELFTEST_BLOCK];
} dabchick_selftest_output;

static struct {
    dabchick_state filters;
    dabchick_selftest_input in;
    dabchick_selftest_output out;
    const float *expected; /* the next to compare with */
    const float *within;
    const int *late;
    uint32_t latest;
    uint32_t noise;
    uint32_t time;
    uint32_t opened; /* when the last run began */
    uint32_t hash;
    unsigned int block; /* how many there were */
    int spoilt_from; /* the channels from here */
    int spoilt_to; /* up to before here get a sample that is none */
    int wrong;
} dabchick_selftest;

static void dabchick_selftest_check(int fine)
{
    if (fine == 0) {
        dabchick_selftest.wrong = 1;
    }
}

/* How far apart the samples of a line are where there are so many lines, and where the
 * first of line k stands. */
static int dabchick_selftest_stride(int how, int lines)
{
    return how == (int)DABCHICK_SELFTEST_FRAMES || how == (int)DABCHICK_SELFTEST_INT32 ? lines : 1;
}

static int dabchick_selftest_first(int how, int k)
{
    return dabchick_selftest_stride(how, 2) == 2 ? k : k * DABCHICK_SELFTEST_BLOCK;
}

/* Where a channel's samples in words begin. */
static float *dabchick_selftest_input_of(int how, int c)
{
    float *in = &dabchick_selftest.in.word[dabchick_selftest_first(how, c)];

    if (how == (int)DABCHICK_SELFTEST_IN_FIRST) {
        in = &dabchick_selftest.out.word[c * DABCHICK_WAYS * DABCHICK_SELFTEST_BLOCK];
    } else if (how == (int)DABCHICK_SELFTEST_IN_LAST) {
        in = &dabchick_selftest.out.word[((c * DABCHICK_WAYS) + DABCHICK_WAYS - 1) * DABCHICK_SELFTEST_BLOCK];
    } else {
        /* out of place */
    }
    return in;
}

/* The next sample of 16 bits: a burst, or noise and a step. */
static int32_t dabchick_selftest_sample(int i)
{
    static const int16_t burst[DABCHICK_SELFTEST_BURST] = {
        0, 0, 0, 0, 1, -16, 120, -560, 1820, -4368, 8008, -11440, 12870, -11440, 8008, -4368, 1820, -560, 120, -16, 1, 0, 0, 0
    };
    const uint32_t turned = (dabchick_selftest.time + (uint32_t)i) & 1024u;
    const uint32_t t = dabchick_selftest.time + (uint32_t)i - dabchick_selftest.opened;
    int32_t x = turned == 0u ? 15000 : -15000;

    if (t < (uint32_t)DABCHICK_SELFTEST_BURST) {
        x = burst[t];
    } else {
        dabchick_selftest.noise = (dabchick_selftest.noise * 1664525u) + 1013904223u;
        x += (int32_t)(dabchick_selftest.noise >> 17) - 16384;
    }
    return x;
}

/* Makes the block's samples. */
static void dabchick_selftest_fill(int how, int size)
{
    const int stride = dabchick_selftest_stride(how, DABCHICK_CHANNELS);
    int c;
    int i;

    for (c = 0; c < DABCHICK_CHANNELS; c++) {
        if (how == (int)DABCHICK_SELFTEST_INT32) {
            for (i = 0; i < size; i++) {
                dabchick_selftest.in.wide[(i * stride) + c] = dabchick_selftest_sample(i) * 65536;
            }
        } else {
            float *const in = dabchick_selftest_input_of(how, c);

            for (i = 0; i < size; i++) {
                in[i * stride] = (float)dabchick_selftest_sample(i) * (float)3.0517578125e-05;
            }
            if (size > 0 && c >= dabchick_selftest.spoilt_from && c < dabchick_selftest.spoilt_to) {
                static const uint32_t none = 0x7fc00000u;

                (void)memcpy(in, &none, sizeof none);
                dabchick_selftest.spoilt_from++;
            }
        }
    }
    dabchick_selftest.time += (uint32_t)size;
}

/* Runs the block. */
static void dabchick_selftest_filter(int how, int size)
{
    dabchick_state *const s = &dabchick_selftest.filters;
    dabchick_selftest_input *const from = &dabchick_selftest.in;
    dabchick_selftest_output *const to = &dabchick_selftest.out;
    int failed;

    if (how == (int)DABCHICK_SELFTEST_FRAMES) {
        failed = dabchick_run_frames(s, from->word, to->word, size);
    } else if (how == (int)DABCHICK_SELFTEST_INT32) {
        failed = dabchick_run_frames_int32(s, from->wide, to->wide, size);
    } else {
        const float *in[DABCHICK_CHANNELS];
        float *out[DABCHICK_SELFTEST_OUTPUTS];
        int k;

        for (k = 0; k < DABCHICK_CHANNELS; k++) {
            in[k] = dabchick_selftest_input_of(how, k);
        }
        for (k = 0; k < DABCHICK_SELFTEST_OUTPUTS; k++) {
            out[k] = &to->word[k * DABCHICK_SELFTEST_BLOCK];
        }
        failed = dabchick_run(s, in, out, size);
    }
    dabchick_selftest_check(failed == 0);
}

/* Takes all outputs of the block into the hash, FNV-1a's of whole words. */
static void dabchick_selftest_hash(int how, int size)
{
    const int stride = dabchick_selftest_stride(how, DABCHICK_SELFTEST_OUTPUTS);
    uint32_t hash = dabchick_selftest.hash;
    int k;
    int i;

    for (k = 0; k < DABCHICK_SELFTEST_OUTPUTS; k++) {
        const int first = dabchick_selftest_first(how, k);

        if (how == (int)DABCHICK_SELFTEST_INT32) {
            for (i = 0; i < size; i++) {
                hash = (hash ^ (uint32_t)dabchick_selftest.out.wide[(i * stride) + first]) * 16777619u;
            }
        } else {
            const float *const out = &dabchick_selftest.out.word[first];

            for (i = 0; i < size; i++) {
                uint32_t bits;

                (void)memcpy(&bits, &out[i * stride], sizeof bits);
                hash = (hash ^ bits) * 16777619u;
            }
        }
    }
    dabchick_selftest.hash = hash;
}

/* Whether output k of sample i of the block is as near to the next expected number as it has to be. */
static void dabchick_selftest_compare(int how, int i, int k, float within)
{
    const int at = (i * dabchick_selftest_stride(how, DABCHICK_SELFTEST_OUTPUTS)) + dabchick_selftest_first(how, k);
    float near = within;
    float off;

    if (how == (int)DABCHICK_SELFTEST_INT32) {
        off = (float)dabchick_selftest.out.wide[at] * (float)(1.0 / 2147483648.0);
        near += (float)(2.0 / 2147483648.0);
    } else {
        off = dabchick_selftest.out.word[at];
    }
    off -= *dabchick_selftest.expected;
    dabchick_selftest.expected++;
    dabchick_selftest_check(off <= near && off >= -near);
}

/* Compares what ways make of the burst in a block that far into a run; behind each expected number stands
 * how near it has to be. */
static void dabchick_selftest_compare_burst(uint32_t into, int size)
{
    static const int places[3] = { 4, 13, 18 };
    int k;
    int j;

    for (k = 0; k < DABCHICK_SELFTEST_OUTPUTS && into < (uint32_t)DABCHICK_SELFTEST_BURST + dabchick_selftest.latest; k++) {
        for (j = 0; j < 3; j++) {
            const int i = places[j] + dabchick_selftest.late[k % DABCHICK_WAYS] - (int)into;

            if (i >= 0 && i < size) {
                dabchick_selftest_compare((int)DABCHICK_SELFTEST_PLANAR, i, k, dabchick_selftest.expected[1]);
                dabchick_selftest.expected++;
            }
        }
    }
}

/* n samples of every channel in blocks, and so many comparisons, the last at the end. */
static void dabchick_selftest_run(int n, int looks)
{
    static const unsigned char sizes[8] = { 64, 32, 0, 1, 2, 7, 33, 21 };
    int done = 0;

    while (done < n) {
        const uint32_t into = dabchick_selftest.time - dabchick_selftest.opened;
        const int how = into < (uint32_t)DABCHICK_SELFTEST_BURST + dabchick_selftest.latest ? (int)DABCHICK_SELFTEST_PLANAR
            : (int)(dabchick_selftest.block % (unsigned int)DABCHICK_SELFTEST_HOWS);
        int size = (int)sizes[dabchick_selftest.block % 8u];
        int j;

        size = n - done < size ? n - done : size;
        dabchick_selftest.block++;
        dabchick_selftest_fill(how, size);
        dabchick_selftest_filter(how, size);
        dabchick_selftest_hash(how, size);
        dabchick_selftest_compare_burst(into, size);
        for (j = looks - 1; j >= 0; j--) {
            const int i = n - done - 1 - (n * j * j / 18);
            int k;

            for (k = 0; k < DABCHICK_SELFTEST_OUTPUTS && i >= 0 && i < size; k++) {
                dabchick_selftest_compare(how, i, k, dabchick_selftest.within[k % DABCHICK_WAYS]);
            }
        }
        done += size;
    }
}

/* Makes the choices of row k for a channel. */
static void dabchick_selftest_choose(int k, int c)
{
    dabchick_state *const s = &dabchick_selftest.filters;
    const unsigned char *const choice = dabchick_selftest_choices[k];
    int failed = 0;

    failed |= dabchick_set_desk(s, c, (enum dabchick_desk)choice[0]);
    failed |= dabchick_get_desk(s, c) ^ (int)choice[0];
    dabchick_selftest_check(failed == 0);
}

/* Calls that have to be refused, with a state that is not initialised and with one that is. */
static void dabchick_selftest_refused(uint32_t hz)
{
    dabchick_state *const s = &dabchick_selftest.filters;
    const float *const in = dabchick_selftest.in.word;
    float *const out = dabchick_selftest.out.word;

    dabchick_selftest_check(dabchick_init(s, 1u) == 1);
    dabchick_selftest_check(dabchick_run_frames(s, in, out, 1) == 1);
    dabchick_selftest_check(dabchick_set_rate(s, hz) == 1);
    dabchick_selftest_check(dabchick_init(s, hz) == 0);
    dabchick_selftest_check(dabchick_set_rate(s, 1u) == 1);
    dabchick_selftest_check(dabchick_run_frames(s, in, out, -1) == 1);
    dabchick_selftest_check(dabchick_mute(s, DABCHICK_CHANNELS, 1) == 1);
    dabchick_selftest_check(dabchick_reset_channel(s, -1) == 1);
    dabchick_selftest_check(dabchick_set_desk(s, DABCHICK_CHANNELS, (enum dabchick_desk)0) == 1);
}

/* All that is tried at a rate: 0, 1 or 2. */
static int dabchick_selftest_one(const dabchick_selftest_rate *rate, int first)
{
    dabchick_state *const s = &dabchick_selftest.filters;
    const int last = DABCHICK_CHANNELS - 1;
    int k;
    int c;
    dabchick_selftest.expected = rate->expected;
    dabchick_selftest.within = rate->within;
    dabchick_selftest.late = rate->late;
    dabchick_selftest.latest = rate->latest;
    dabchick_selftest.noise = 1u;
    dabchick_selftest.time = 0u;
    dabchick_selftest.opened = 0u;
    dabchick_selftest.hash = 2166136261u;
    dabchick_selftest.block = 0u;
    dabchick_selftest.spoilt_from = 0;
    dabchick_selftest.spoilt_to = 0;
    dabchick_selftest.wrong = 0;
    if (first != 0) {
        dabchick_selftest_refused(rate->hz);
    } else {
        dabchick_selftest_check(dabchick_set_rate(s, rate->hz) == 0);
    }
    for (k = 0; k < DABCHICK_SELFTEST_RUNS; k++) {
        if (k > 0) {
            dabchick_reset(s);
        }
        for (c = 0; c < DABCHICK_CHANNELS; c++) {
            dabchick_selftest_choose((k * DABCHICK_CHANNELS) + c, c);
        }
        dabchick_selftest.opened = dabchick_selftest.time;
        dabchick_selftest_run(rate->run, DABCHICK_SELFTEST_LOOKS);
    }

    dabchick_selftest_check(dabchick_mute(s, last, 1) == 0 && dabchick_muted(s, last) == 1);
    dabchick_selftest_run(rate->fade, DABCHICK_SELFTEST_LOOKS);
    dabchick_selftest_check(dabchick_mute(s, last, 0) == 0 && dabchick_muted(s, last) == 0);
    dabchick_selftest.spoilt_to = 1;
    dabchick_selftest_run(DABCHICK_SELFTEST_AFTER, 1);
    dabchick_selftest_check(dabchick_garbage(s, 0) == 1);
    dabchick_selftest_check(dabchick_reset_channel(s, 0) == 0 && dabchick_garbage(s, 0) == 0);
    dabchick_selftest_run(DABCHICK_SELFTEST_AFTER, 1);

    if (rate->change > 0) { /* of channel 0; the others are silenced, which saves time */
        dabchick_reset(s);
        dabchick_selftest_choose(0, 0);
        dabchick_selftest.block = 0u;
        dabchick_selftest.spoilt_to = DABCHICK_CHANNELS; /* it stands at 1 since channel 0 was spoilt */
        dabchick_selftest_run(DABCHICK_SELFTEST_BLOCK + (int)rate->latest, 0);
        dabchick_selftest_choose(1, 0);
        dabchick_selftest_run(rate->change, DABCHICK_SELFTEST_LOOKS);
    }
    return dabchick_selftest.wrong != 0 ? 2 : dabchick_selftest.hash != rate->hash ? 1 : 0;
}

int dabchick_float32_selftest(void)
{
    const int rates = (int)(sizeof dabchick_selftest_rates / sizeof dabchick_selftest_rates[0]);
    int worst = 0;
    int i;

    for (i = 0; i < rates; i++) {
        const int found = dabchick_selftest_one(&dabchick_selftest_rates[i], i == 0 ? 1 : 0);

        worst = found > worst ? found : worst;
    }
    return worst;
}

#ifdef DABCHICK_SELFTEST_MAIN
int main(void)
{
    return dabchick_float32_selftest();
}
#endif
