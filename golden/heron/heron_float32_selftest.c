/*
 * heron_float32_selftest.c: self-test of the loudspeaker filters of "heron" in single precision
 * Spec SHA-256 749a0ecc317b8edad31dca10cf8987c5bc35bb68c2e7a6660ab2b71a33f28209
 *
 * Compile it beside heron_float32.c with the options of the program, declare
 *
 *     int heron_float32_selftest(void);
 *
 * and call it before any output is live: it plays nothing, and touches no state but its own.
 * With HERON_SELFTEST_MAIN defined the file has a main that returns what it says:
 *
 *   0   every output is the compiler's own simulation, to the bit
 *   1   not to the bit, but every output that was compared is as near as round-off explains:
 *       compiler or processor compute otherwise than asked
 *   2   wrong: do not let this near a loudspeaker
 *
 * What is tried:
 * all outputs at 48000, 96000 Hz; blocks of 64, 32, 0, 1, 2, 7, 33, 21 samples and what is left
 * at the end; run in and out of place, run_frames and run_frames_int32; init, change of rate
 * and resets; mute and its end; calls that have to be refused; a sample that is no number, and
 * what follows the reset; every choice, and every section that choices pick; a change of
 * settings while a channel runs, at 48000 Hz.
 *
 * It takes 2048 bytes beside one heron_state, uses no library but memcpy, and is not for
 * two threads at once.
 */
#include "heron_float32.h"

#include <string.h>

#ifdef __cplusplus
extern "C" int heron_float32_selftest(void);
#else
int heron_float32_selftest(void);
#endif

/* Where heron_float32.c is compiled for fewer rates, define the same here. */
#if !(defined HERON_ONLY_48000 || defined HERON_ONLY_96000)
#define HERON_ONLY_48000
#define HERON_ONLY_96000
#endif

#define HERON_SELFTEST_OUTPUTS (HERON_CHANNELS * HERON_WAYS)
#define HERON_SELFTEST_BLOCK 64
#define HERON_SELFTEST_LOOKS 4 /* comparisons in a run, from its middle on */
#define HERON_SELFTEST_BURST 24 /* samples of the highest frequency that a run begins with */
#define HERON_SELFTEST_AFTER 224 /* samples after the end of a mute, or the reset of a channel */

/* How a block is run; the numbers go round. */
enum heron_selftest_how {
    HERON_SELFTEST_PLANAR = 0,
    HERON_SELFTEST_IN_FIRST = 1, /* in place, with the first output of the channel */
    HERON_SELFTEST_FRAMES = 2,
    HERON_SELFTEST_IN_LAST = 3,
    HERON_SELFTEST_INT32 = 4,
    HERON_SELFTEST_HOWS = 5
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
    int late[HERON_WAYS]; /* samples that a way hears late */
    float within[HERON_WAYS]; /* how far from what is expected is near */
} heron_selftest_rate;

#ifdef HERON_ONLY_48000
static const float heron_selftest_48000[240] = {
    1.6878349e-16f, 6.53e-22f, 1.6045539e-10f, 5.24e-16f, -8.234504e-12f, 1.62e-15f,
    4.9631345e-15f, 1.44e-20f, -6.557163e-09f, 9.94e-13f, 1.5731995e-10f, 7.99e-12f,
    3.7876008e-10f, 1.91e-15f, -6.499757e-05f, 2.34e-10f, 1.9085414e-06f, 2.34e-10f,
    1.6821152e-16f, 5.7e-22f, 1.604755e-10f, 5.96e-16f, -8.2548655e-12f, 1.55e-15f,
    4.946316e-15f, 1.75e-20f, -6.5577117e-09f, 9.73e-13f, 1.5751471e-10f, 7.74e-12f,
    3.7747658e-10f, 2.34e-15f, -6.501879e-05f, 2.82e-10f, 1.9133226e-06f, 2.82e-10f,
    0.09781195f, -0.059858005f, 0.040646896f, 0.07041616f, 0.04330024f, 0.18020606f,
    0.065562755f, -0.1422879f, 0.0928342f, 0.04653357f, -0.0135185905f, -0.17869043f,
    0.021707265f, 0.009893441f, -0.09363523f, 0.021773256f, -0.049744356f, -0.12482893f,
    0.010925794f, -0.0146718435f, 0.07125616f, 0.011125891f, 0.05567545f, -0.16515383f,
    1.6747418e-16f, 6.62e-22f, 1.6050127e-10f, 5.4e-16f, -8.281288e-12f, 1.5e-15f,
    4.924634e-15f, 1.81e-20f, -6.5584045e-09f, 9.74e-13f, 1.5776765e-10f, 7.43e-12f,
    3.758219e-10f, 1.95e-15f, -6.504616e-05f, 1.92e-10f, 1.9195295e-06f, 1.92e-10f,
    1.8532006e-16f, 8.15e-22f, 1.8411483e-10f, 6.77e-16f, -9.8332375e-12f, 1.67e-15f,
    5.449398e-15f, 1.94e-20f, -7.514246e-09f, 1.04e-12f, 1.8369413e-10f, 7.91e-12f,
    4.158691e-10f, 1.87e-15f, -7.483556e-05f, 3.75e-10f, 2.279958e-06f, 3.75e-10f, 0.038109317f,
    -0.018432045f, -0.097439624f, 0.08765745f, 0.055321384f, 0.09154183f, -0.08822878f,
    -0.0078029893f, 0.05401521f, -0.1802049f, 0.054750416f, 0.041204438f, -0.091509335f,
    0.08084574f, 0.15869589f, -0.18052387f, -0.018540246f, -0.14498574f, -0.09394766f,
    -0.028830247f, -0.10792142f, -0.18271963f, -0.025457354f, 0.060905356f, 1.6878349e-16f,
    6.53e-22f, 1.6045539e-10f, 5.24e-16f, -8.234504e-12f, 1.62e-15f, 4.9631345e-15f, 1.44e-20f,
    -6.557163e-09f, 9.94e-13f, 1.5731995e-10f, 7.99e-12f, 3.1868688e-10f, 1.5e-15f,
    -5.4688637e-05f, 1.53e-10f, 1.6058375e-06f, 1.68e-10f, 1.6878349e-16f, 6.53e-22f,
    1.6045539e-10f, 5.24e-16f, -8.234504e-12f, 1.62e-15f, 4.9631345e-15f, 1.44e-20f,
    -6.557163e-09f, 9.94e-13f, 1.5731995e-10f, 7.99e-12f, 3.7876008e-10f, 1.91e-15f,
    -6.499757e-05f, 2.34e-10f, 1.9085414e-06f, 2.34e-10f, -0.08979491f, -0.047834463f,
    -0.020027291f, -0.10494399f, -0.030325454f, -0.030367423f, -0.07585589f, -0.014120599f,
    0.04316352f, -0.07078941f, -0.016741045f, -0.07657725f, -0.03319268f, -0.049266547f,
    0.14601433f, -0.032739036f, -0.025146216f, 0.005612281f, -0.01611399f, 0.027807102f,
    -0.010777704f, -0.0228241f, 0.016687311f, 0.072353f, 0.2647703f, -0.015301996f,
    -0.048335318f, 0.14178361f, 0.01314786f, -0.009023379f, 0.2531648f, -0.006563511f,
    0.044221617f, 0.015415606f, 0.0006976196f, -0.012274466f, 0.22175358f, -0.044084165f,
    -0.12803644f, 1.8911483e-05f, -2.854038e-06f, -4.467163e-06f, 0.2014f, 0.010611884f,
    0.12203425f, 0.0f, 0.0f, 0.0f, 0.0f, 0.0f, 0.0f, 0.015844118f, -0.015488545f, -0.045747995f,
    0.050848424f, -0.0004997815f, 0.02737399f, -0.063439116f, -0.008594477f, 0.061528016f,
    -0.01393577f, 0.07344704f, -0.15030146f, 0.0f, 0.0f, 0.0f, 0.28404772f, 0.1286055f,
    0.020063361f, 0.0f, 0.0f, 0.0f, 0.17622861f, -0.01271276f, 0.073419064f, 0.0f, 0.0f, 0.0f,
    0.14596142f, -0.01405561f, -0.011605553f, 0.0f, 0.0f, 0.0f
};
#endif

#ifdef HERON_ONLY_96000
static const float heron_selftest_96000[216] = {
    1.0896123e-19f, 2.58e-25f, 1.1533647e-12f, 9.99e-18f, -5.132142e-14f, 6.9e-17f,
    5.614904e-18f, 1.05e-23f, -1.585954e-11f, 1.88e-16f, -2.320874e-12f, 7.37e-14f,
    2.528154e-10f, 9.51e-16f, -1.7553182e-05f, 8.73e-11f, 3.8632908e-07f, 8.73e-11f,
    1.0877643e-19f, 2.56e-25f, 1.153485e-12f, 9.88e-18f, -5.138525e-14f, 6.87e-17f,
    5.605381e-18f, 9.03e-24f, -1.5881378e-11f, 1.88e-16f, -2.3240977e-12f, 7.33e-14f,
    2.5238664e-10f, 1.02e-15f, -1.755648e-05f, 7.67e-11f, 3.8681694e-07f, 7.67e-11f,
    0.073393665f, 0.01334609f, 0.026626589f, 0.04686103f, -0.024238387f, -0.12883231f,
    0.08601724f, 0.020528946f, 0.1325002f, 0.057671037f, 0.0010719949f, 0.15828104f,
    0.035345916f, 0.12496142f, 0.0834336f, 0.021600008f, 0.10959539f, 0.0013746163f,
    -0.04670382f, 0.19696394f, -0.17810126f, -0.040204715f, 0.11311422f, -0.038255367f,
    1.0853774e-19f, 2.96e-25f, 1.1536402e-12f, 9.74e-18f, -5.1467982e-14f, 6.85e-17f,
    5.593081e-18f, 1.08e-23f, -1.590964e-11f, 1.92e-16f, -2.3282773e-12f, 7.28e-14f,
    2.518328e-10f, 9.41e-16f, -1.7560744e-05f, 8.23e-11f, 3.8744935e-07f, 8.23e-11f,
    1.2231531e-19f, 2.56e-25f, 1.3258277e-12f, 9.24e-18f, -5.994078e-14f, 7.35e-17f,
    6.303056e-18f, 7.8e-24f, -1.8560169e-11f, 2.43e-16f, -2.7159234e-12f, 7.96e-14f,
    2.8379998e-10f, 9.99e-16f, -2.020193e-05f, 9.75e-11f, 4.51324e-07f, 9.75e-11f,
    -0.040462077f, -0.028436216f, -0.106180795f, -0.07636032f, 0.00036027044f, 0.10920924f,
    -0.042450473f, 0.03485126f, -0.10263977f, -0.08182664f, 0.11313643f, -0.102144584f,
    0.095066935f, 0.027055508f, 0.24800056f, 0.113246046f, 0.044751454f, 0.18480273f,
    0.117380396f, 0.08340211f, -0.08887371f, 0.18059385f, 0.057337176f, -0.1068368f,
    1.0896123e-19f, 2.58e-25f, 1.1533647e-12f, 9.99e-18f, -5.132142e-14f, 6.9e-17f,
    5.614904e-18f, 1.05e-23f, -1.585954e-11f, 1.88e-16f, -2.320874e-12f, 7.37e-14f,
    2.1271765e-10f, 7.03e-16f, -1.4769163e-05f, 5.92e-11f, 3.250554e-07f, 5.92e-11f,
    1.0896123e-19f, 2.58e-25f, 1.1533647e-12f, 9.99e-18f, -5.132142e-14f, 6.9e-17f,
    5.614904e-18f, 1.05e-23f, -1.585954e-11f, 1.88e-16f, -2.320874e-12f, 7.37e-14f,
    2.528154e-10f, 9.51e-16f, -1.7553182e-05f, 8.73e-11f, 3.8632908e-07f, 8.73e-11f,
    0.071665965f, -0.017356733f, 0.06834543f, 0.07162647f, 0.021609768f, -0.0718532f,
    -0.012710501f, 0.103875615f, 0.08242132f, -0.017715506f, 0.15881692f, 0.05307897f,
    -0.1982136f, -0.022601066f, 0.080572955f, -0.19885316f, -0.026432537f, -0.029273786f,
    -0.1971727f, -0.01829522f, 0.026114903f, -0.19758001f, 0.041276217f, -0.061520435f,
    -0.18673052f, -0.044879355f, 0.019700717f, -0.09335372f, -0.00959143f, 0.089621656f,
    0.007461807f, -0.044240806f, 0.15192632f, 0.0006897172f, -0.003195413f, -0.0005212115f,
    0.17073436f, 0.012099483f, 0.15615755f, 6.400332e-05f, 1.0069927e-05f, 1.4309604e-05f,
    0.17883268f, -0.0022572502f, 0.13314413f, 0.0f, 0.0f, 0.0f, 0.0f, 0.0f, 0.0f, 0.016550085f,
    0.0009803615f, 0.0067643006f, 0.006927308f, 0.00069899065f, -0.002721972f, 0.0845583f,
    -0.010766665f, 0.053720918f
};
#endif

static const heron_selftest_rate heron_selftest_rates[] = {
#ifdef HERON_ONLY_48000
    { 48000u, 676, 528, 1488, 4u, 0xb09e45f9u, heron_selftest_48000,
      { 0, 0, 4 }, { 1.07e-06f, 1.01e-06f, 8.54e-07f } },
#endif
#ifdef HERON_ONLY_96000
    { 96000u, 1161, 1008, 0, 9u, 0x4daf612cu, heron_selftest_96000,
      { 0, 0, 9 }, { 9.88e-07f, 1.08e-06f, 7.79e-07f } },
#endif
};

#define HERON_SELFTEST_RUNS 3

/* The choices of every setting, of each channel in each run. */
static const unsigned char
heron_selftest_choices[HERON_SELFTEST_RUNS * HERON_CHANNELS][HERON_SETTINGS] = {
    { 0, 0, 0 },
    { 1, 0, 0 },
    { 2, 0, 0 },
    { 0, 1, 0 },
    { 0, 0, 1 },
    { 0, 0, 0 }
};

/* Samples, as words of the format or as integers. */
typedef union {
    float word[HERON_CHANNELS * HERON_SELFTEST_BLOCK];
    int32_t wide[HERON_CHANNELS * HERON_SELFTEST_BLOCK];
} heron_selftest_input;

typedef union {
    float word[HERON_SELFTEST_OUTPUTS * HERON_SELFTEST_BLOCK];
    int32_t wide[HERON_SELFTEST_OUTPUTS * HERON_SELFTEST_BLOCK];
} heron_selftest_output;

static struct {
    heron_state filters;
    heron_selftest_input in;
    heron_selftest_output out;
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
} heron_selftest;

static void heron_selftest_check(int fine)
{
    if (fine == 0) {
        heron_selftest.wrong = 1;
    }
}

/* How far apart the samples of a line are where there are so many lines, and where the
 * first of line k stands. */
static int heron_selftest_stride(int how, int lines)
{
    return how == (int)HERON_SELFTEST_FRAMES || how == (int)HERON_SELFTEST_INT32 ? lines : 1;
}

static int heron_selftest_first(int how, int k)
{
    return heron_selftest_stride(how, 2) == 2 ? k : k * HERON_SELFTEST_BLOCK;
}

/* Where a channel's samples in words begin. */
static float *heron_selftest_input_of(int how, int c)
{
    float *in = &heron_selftest.in.word[heron_selftest_first(how, c)];

    if (how == (int)HERON_SELFTEST_IN_FIRST) {
        in = &heron_selftest.out.word[c * HERON_WAYS * HERON_SELFTEST_BLOCK];
    } else if (how == (int)HERON_SELFTEST_IN_LAST) {
        in = &heron_selftest.out.word[((c * HERON_WAYS) + HERON_WAYS - 1) * HERON_SELFTEST_BLOCK];
    } else {
        /* out of place */
    }
    return in;
}

/* The next sample of 16 bits: a burst, or noise and a step. */
static int32_t heron_selftest_sample(int i)
{
    static const int16_t burst[HERON_SELFTEST_BURST] = {
        0, 0, 0, 0, 1, -16, 120, -560, 1820, -4368, 8008, -11440, 12870, -11440, 8008, -4368, 1820, -560, 120, -16, 1, 0, 0, 0
    };
    const uint32_t turned = (heron_selftest.time + (uint32_t)i) & 1024u;
    const uint32_t t = heron_selftest.time + (uint32_t)i - heron_selftest.opened;
    int32_t x = turned == 0u ? 15000 : -15000;

    if (t < (uint32_t)HERON_SELFTEST_BURST) {
        x = burst[t];
    } else {
        heron_selftest.noise = (heron_selftest.noise * 1664525u) + 1013904223u;
        x += (int32_t)(heron_selftest.noise >> 17) - 16384;
    }
    return x;
}

/* Makes the block's samples. */
static void heron_selftest_fill(int how, int size)
{
    const int stride = heron_selftest_stride(how, HERON_CHANNELS);
    int c;
    int i;

    for (c = 0; c < HERON_CHANNELS; c++) {
        if (how == (int)HERON_SELFTEST_INT32) {
            for (i = 0; i < size; i++) {
                heron_selftest.in.wide[(i * stride) + c] = heron_selftest_sample(i) * 65536;
            }
        } else {
            float *const in = heron_selftest_input_of(how, c);

            for (i = 0; i < size; i++) {
                in[i * stride] = (float)heron_selftest_sample(i) * (float)3.0517578125e-05;
            }
            if (size > 0 && c >= heron_selftest.spoilt_from && c < heron_selftest.spoilt_to) {
                static const uint32_t none = 0x7fc00000u;

                (void)memcpy(in, &none, sizeof none);
                heron_selftest.spoilt_from++;
            }
        }
    }
    heron_selftest.time += (uint32_t)size;
}

/* Runs the block. */
static void heron_selftest_filter(int how, int size)
{
    heron_state *const s = &heron_selftest.filters;
    heron_selftest_input *const from = &heron_selftest.in;
    heron_selftest_output *const to = &heron_selftest.out;
    int failed;

    if (how == (int)HERON_SELFTEST_FRAMES) {
        failed = heron_run_frames(s, from->word, to->word, size);
    } else if (how == (int)HERON_SELFTEST_INT32) {
        failed = heron_run_frames_int32(s, from->wide, to->wide, size);
    } else {
        const float *in[HERON_CHANNELS];
        float *out[HERON_SELFTEST_OUTPUTS];
        int k;

        for (k = 0; k < HERON_CHANNELS; k++) {
            in[k] = heron_selftest_input_of(how, k);
        }
        for (k = 0; k < HERON_SELFTEST_OUTPUTS; k++) {
            out[k] = &to->word[k * HERON_SELFTEST_BLOCK];
        }
        failed = heron_run(s, in, out, size);
    }
    heron_selftest_check(failed == 0);
}

/* Takes all outputs of the block into the hash, FNV-1a's of whole words. */
static void heron_selftest_hash(int how, int size)
{
    const int stride = heron_selftest_stride(how, HERON_SELFTEST_OUTPUTS);
    uint32_t hash = heron_selftest.hash;
    int k;
    int i;

    for (k = 0; k < HERON_SELFTEST_OUTPUTS; k++) {
        const int first = heron_selftest_first(how, k);

        if (how == (int)HERON_SELFTEST_INT32) {
            for (i = 0; i < size; i++) {
                hash = (hash ^ (uint32_t)heron_selftest.out.wide[(i * stride) + first]) * 16777619u;
            }
        } else {
            const float *const out = &heron_selftest.out.word[first];

            for (i = 0; i < size; i++) {
                uint32_t bits;

                (void)memcpy(&bits, &out[i * stride], sizeof bits);
                hash = (hash ^ bits) * 16777619u;
            }
        }
    }
    heron_selftest.hash = hash;
}

/* Whether output k of sample i of the block is as near to the next expected number as it has to be. */
static void heron_selftest_compare(int how, int i, int k, float within)
{
    const int at = (i * heron_selftest_stride(how, HERON_SELFTEST_OUTPUTS)) + heron_selftest_first(how, k);
    float near = within;
    float off;

    if (how == (int)HERON_SELFTEST_INT32) {
        off = (float)heron_selftest.out.wide[at] * (float)(1.0 / 2147483648.0);
        near += (float)(2.0 / 2147483648.0);
    } else {
        off = heron_selftest.out.word[at];
    }
    off -= *heron_selftest.expected;
    heron_selftest.expected++;
    heron_selftest_check(off <= near && off >= -near);
}

/* Compares what ways make of the burst in a block that far into a run; behind each expected number stands
 * how near it has to be. */
static void heron_selftest_compare_burst(uint32_t into, int size)
{
    static const int places[3] = { 4, 13, 18 };
    int k;
    int j;

    for (k = 0; k < HERON_SELFTEST_OUTPUTS && into < (uint32_t)HERON_SELFTEST_BURST + heron_selftest.latest; k++) {
        for (j = 0; j < 3; j++) {
            const int i = places[j] + heron_selftest.late[k % HERON_WAYS] - (int)into;

            if (i >= 0 && i < size) {
                heron_selftest_compare((int)HERON_SELFTEST_PLANAR, i, k, heron_selftest.expected[1]);
                heron_selftest.expected++;
            }
        }
    }
}

/* n samples of every channel in blocks, and so many comparisons, the last at the end. */
static void heron_selftest_run(int n, int looks)
{
    static const unsigned char sizes[8] = { 64, 32, 0, 1, 2, 7, 33, 21 };
    int done = 0;

    while (done < n) {
        const uint32_t into = heron_selftest.time - heron_selftest.opened;
        const int how = into < (uint32_t)HERON_SELFTEST_BURST + heron_selftest.latest ? (int)HERON_SELFTEST_PLANAR
            : (int)(heron_selftest.block % (unsigned int)HERON_SELFTEST_HOWS);
        int size = (int)sizes[heron_selftest.block % 8u];
        int j;

        size = n - done < size ? n - done : size;
        heron_selftest.block++;
        heron_selftest_fill(how, size);
        heron_selftest_filter(how, size);
        heron_selftest_hash(how, size);
        heron_selftest_compare_burst(into, size);
        for (j = looks - 1; j >= 0; j--) {
            const int i = n - done - 1 - (n * j * j / 18);
            int k;

            for (k = 0; k < HERON_SELFTEST_OUTPUTS && i >= 0 && i < size; k++) {
                heron_selftest_compare(how, i, k, heron_selftest.within[k % HERON_WAYS]);
            }
        }
        done += size;
    }
}

/* Makes the choices of row k for a channel. */
static void heron_selftest_choose(int k, int c)
{
    heron_state *const s = &heron_selftest.filters;
    const unsigned char *const choice = heron_selftest_choices[k];
    int failed = 0;

    failed |= heron_set_placement(s, c, (enum heron_placement)choice[0]);
    failed |= heron_get_placement(s, c) ^ (int)choice[0];
    failed |= heron_set_grille(s, c, (enum heron_grille)choice[1]);
    failed |= heron_get_grille(s, c) ^ (int)choice[1];
    failed |= heron_set_treble_trim(s, c, (enum heron_treble_trim)choice[2]);
    failed |= heron_get_treble_trim(s, c) ^ (int)choice[2];
    heron_selftest_check(failed == 0);
}

/* Calls that have to be refused, with a state that is not initialised and with one that is. */
static void heron_selftest_refused(uint32_t hz)
{
    heron_state *const s = &heron_selftest.filters;
    const float *const in = heron_selftest.in.word;
    float *const out = heron_selftest.out.word;

    heron_selftest_check(heron_init(s, 1u) == 1);
    heron_selftest_check(heron_run_frames(s, in, out, 1) == 1);
    heron_selftest_check(heron_set_rate(s, hz) == 1);
    heron_selftest_check(heron_init(s, hz) == 0);
    heron_selftest_check(heron_set_rate(s, 1u) == 1);
    heron_selftest_check(heron_run_frames(s, in, out, -1) == 1);
    heron_selftest_check(heron_mute(s, HERON_CHANNELS, 1) == 1);
    heron_selftest_check(heron_reset_channel(s, -1) == 1);
    heron_selftest_check(heron_set_placement(s, HERON_CHANNELS, (enum heron_placement)0) == 1);
    heron_selftest_check(heron_set_grille(s, HERON_CHANNELS, (enum heron_grille)0) == 1);
    heron_selftest_check(heron_set_treble_trim(s, HERON_CHANNELS, (enum heron_treble_trim)0) == 1);
}

/* All that is tried at a rate: 0, 1 or 2. */
static int heron_selftest_one(const heron_selftest_rate *rate, int first)
{
    heron_state *const s = &heron_selftest.filters;
    const int last = HERON_CHANNELS - 1;
    int k;
    int c;
    heron_selftest.expected = rate->expected;
    heron_selftest.within = rate->within;
    heron_selftest.late = rate->late;
    heron_selftest.latest = rate->latest;
    heron_selftest.noise = 1u;
    heron_selftest.time = 0u;
    heron_selftest.opened = 0u;
    heron_selftest.hash = 2166136261u;
    heron_selftest.block = 0u;
    heron_selftest.spoilt_from = 0;
    heron_selftest.spoilt_to = 0;
    heron_selftest.wrong = 0;
    if (first != 0) {
        heron_selftest_refused(rate->hz);
    } else {
        heron_selftest_check(heron_set_rate(s, rate->hz) == 0);
    }
    for (k = 0; k < HERON_SELFTEST_RUNS; k++) {
        if (k > 0) {
            heron_reset(s);
        }
        for (c = 0; c < HERON_CHANNELS; c++) {
            heron_selftest_choose((k * HERON_CHANNELS) + c, c);
        }
        heron_selftest.opened = heron_selftest.time;
        heron_selftest_run(rate->run, HERON_SELFTEST_LOOKS);
    }

    heron_selftest_check(heron_mute(s, last, 1) == 0 && heron_muted(s, last) == 1);
    heron_selftest_run(rate->fade, HERON_SELFTEST_LOOKS);
    heron_selftest_check(heron_mute(s, last, 0) == 0 && heron_muted(s, last) == 0);
    heron_selftest.spoilt_to = 1;
    heron_selftest_run(HERON_SELFTEST_AFTER, 1);
    heron_selftest_check(heron_garbage(s, 0) == 1);
    heron_selftest_check(heron_reset_channel(s, 0) == 0 && heron_garbage(s, 0) == 0);
    heron_selftest_run(HERON_SELFTEST_AFTER, 1);

    if (rate->change > 0) { /* of channel 0; the others are silenced, which saves time */
        heron_reset(s);
        heron_selftest_choose(0, 0);
        heron_selftest.block = 0u;
        heron_selftest.spoilt_to = HERON_CHANNELS; /* it stands at 1 since channel 0 was spoilt */
        heron_selftest_run(HERON_SELFTEST_BLOCK + (int)rate->latest, 0);
        heron_selftest_choose(1, 0);
        heron_selftest_run(rate->change, HERON_SELFTEST_LOOKS);
    }
    return heron_selftest.wrong != 0 ? 2 : heron_selftest.hash != rate->hash ? 1 : 0;
}

int heron_float32_selftest(void)
{
    const int rates = (int)(sizeof heron_selftest_rates / sizeof heron_selftest_rates[0]);
    int worst = 0;
    int i;

    for (i = 0; i < rates; i++) {
        const int found = heron_selftest_one(&heron_selftest_rates[i], i == 0 ? 1 : 0);

        worst = found > worst ? found : worst;
    }
    return worst;
}

#ifdef HERON_SELFTEST_MAIN
int main(void)
{
    return heron_float32_selftest();
}
#endif
