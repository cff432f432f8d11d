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
 *   1   not to the bit, but every output that was compared is as near as round-off explains,
 *       or within -110 dB of the greatest: compiler or processor compute otherwise than asked
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
    uint32_t hash; /* of all outputs */
    const float *expected; /* some of them */
    float within[DABCHICK_WAYS]; /* how far from those is near */
} dabchick_selftest_rate;

#ifdef DABCHICK_ONLY_44100
static const float dabchick_selftest_44100[56] = {
    0.047190852f, 0.019878982f, -0.012226581f, -0.06836368f, -0.076196596f, -0.013961192f,
    -0.027095107f, 0.034966834f, -0.09119987f, 0.03778747f, -0.07799518f, -0.007712975f,
    -0.091302484f, 0.04730905f, -0.06683227f, -0.011442572f, -0.0776045f, 0.04847221f,
    -0.011135313f, 0.0028784794f, -0.028751127f, 0.0474798f, -0.00046092505f, 0.0013409732f,
    -0.24545401f, -0.024577927f, 0.0f, 0.0f, -0.25364703f, -0.056086674f, 0.0f, 0.0f, 0.0f,
    0.0f, 0.0038313032f, 0.0224343f, -0.062926404f, -0.026801886f, 0.08353803f, -0.023110103f,
    -0.19429581f, -0.06792235f, 0.0f, 0.0f, 0.03422157f, 0.028282935f, 0.0f, 0.0f, 0.11550936f,
    0.0698789f, 0.0f, 0.0f, 0.06360109f, 0.04404113f, 0.0f, 0.0f
};
#endif

#ifdef DABCHICK_ONLY_48000
static const float dabchick_selftest_48000[40] = {
    0.05558206f, 0.02637169f, 0.010702512f, 0.018429603f, -0.04874715f, -0.018016346f,
    -0.02913965f, 0.003279151f, -0.08772708f, -0.020681497f, -0.061121203f, -0.025649467f,
    -0.09479329f, -0.011770101f, -0.06859269f, -0.07360521f, -0.06593123f, -0.093741104f,
    -0.016062938f, -0.00715867f, -0.25593728f, 0.03187087f, -0.004062687f, 0.0003809651f,
    -0.25638944f, 0.03621923f, 0.0f, 0.0f, -0.22960043f, -0.119650885f, 0.0f, 0.0f, 0.0f, 0.0f,
    0.0014061291f, 0.03457938f, -0.05018312f, -0.010463633f, 0.1322495f, 0.017715586f
};
#endif

#ifdef DABCHICK_ONLY_96000
static const float dabchick_selftest_96000[40] = {
    0.047265433f, 0.013320051f, 0.03228237f, -0.020461805f, -0.046484128f, -0.07098082f,
    -0.025886368f, -0.029191727f, -0.29152808f, 0.01699239f, -0.21744817f, -0.054093592f,
    -0.34699365f, -0.0013116747f, -0.19669382f, 0.09303033f, -0.18339533f, -0.0061968938f,
    -0.052430864f, -0.038503196f, -0.007114152f, 0.05181235f, 0.0005862139f, -0.004708877f,
    0.29806602f, -0.09095193f, 2.0000152e-06f, 6.1653554e-07f, 0.4002245f, -0.021850005f, 0.0f,
    0.0f, 0.0f, 0.0f, 0.019315481f, 0.0037146339f, 0.008466136f, -0.006223806f, 0.07862732f,
    -0.02689718f
};
#endif

static const dabchick_selftest_rate dabchick_selftest_rates[] = {
#ifdef DABCHICK_ONLY_44100
    { 44100u, 640, 496, 2320, 0x83ae0cc8u, dabchick_selftest_44100,
      { 1.16e-06f, 4.37e-07f } },
#endif
#ifdef DABCHICK_ONLY_48000
    { 48000u, 672, 528, 0, 0x9accddd1u, dabchick_selftest_48000,
      { 9.12e-07f, 4.18e-07f } },
#endif
#ifdef DABCHICK_ONLY_96000
    { 96000u, 1152, 1008, 0, 0x844005ffu, dabchick_selftest_96000,
      { 1.26e-06f, 7.24e-07f } },
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
    uint32_t noise;
    uint32_t time;
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

/* The next sample of noise and a step, of 16 bits. */
static int32_t dabchick_selftest_sample(int i)
{
    const uint32_t turned = (dabchick_selftest.time + (uint32_t)i) & 1024u;

    dabchick_selftest.noise = (dabchick_selftest.noise * 1664525u) + 1013904223u;
    return (int32_t)(dabchick_selftest.noise >> 17) - 16384 + (turned == 0u ? 15000 : -15000);
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

/* Compares all outputs of sample i of the block. */
static void dabchick_selftest_compare(int how, int i)
{
    const int stride = dabchick_selftest_stride(how, DABCHICK_SELFTEST_OUTPUTS);
    int k;

    for (k = 0; k < DABCHICK_SELFTEST_OUTPUTS; k++) {
        const int at = (i * stride) + dabchick_selftest_first(how, k);
        const float within = dabchick_selftest.within[k % DABCHICK_WAYS];
        float off;

        if (how == (int)DABCHICK_SELFTEST_INT32) {
            off = (float)dabchick_selftest.out.wide[at] * (1.0f / 2147483648.0f);
        } else {
            off = (float)dabchick_selftest.out.word[at];
        }
        off -= *dabchick_selftest.expected;
        dabchick_selftest.expected++;
        dabchick_selftest_check(off <= within && off >= -within);
    }
}

/* n samples of every channel in blocks, and so many comparisons, the last at the end. */
static void dabchick_selftest_run(int n, int looks)
{
    static const unsigned char sizes[8] = { 64, 32, 0, 1, 2, 7, 33, 21 };
    int done = 0;

    while (done < n) {
        const int how = (int)(dabchick_selftest.block % (unsigned int)DABCHICK_SELFTEST_HOWS);
        int size = (int)sizes[dabchick_selftest.block % 8u];
        int j;

        size = n - done < size ? n - done : size;
        dabchick_selftest.block++;
        dabchick_selftest_fill(how, size);
        dabchick_selftest_filter(how, size);
        dabchick_selftest_hash(how, size);
        for (j = looks - 1; j >= 0; j--) {
            const int i = n - done - 1 - (n * j * j / 18);

            if (i >= 0 && i < size) {
                dabchick_selftest_compare(how, i);
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
    dabchick_selftest.noise = 1u;
    dabchick_selftest.time = 0u;
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
        dabchick_selftest_run(DABCHICK_SELFTEST_BLOCK, 0);
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
