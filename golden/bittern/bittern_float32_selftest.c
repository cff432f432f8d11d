/*
 * bittern_float32_selftest.c: self-test of the loudspeaker filters of "bittern" in single precision
 * Spec SHA-256 b652ed64a3186ead499ef684655be9b732c246a45975e38af6a82f60bc9a1284
 *
 * Compile it beside bittern_float32.c with the options of the program, declare
 *
 *     int bittern_float32_selftest(void);
 *
 * and call it before any output is live: it plays nothing, and touches no state but its own.
 * With BITTERN_SELFTEST_MAIN defined the file has a main that returns what it says:
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
 * what follows the reset; every choice, and every section that choices pick; no change of
 * settings while a channel runs: its sections settle too long for that.
 *
 * It takes 2560 bytes beside one bittern_state, uses no library but memcpy, and is not for
 * two threads at once.
 */
#include "bittern_float32.h"

#include <string.h>

#ifdef __cplusplus
extern "C" int bittern_float32_selftest(void);
#else
int bittern_float32_selftest(void);
#endif

/* Where bittern_float32.c is compiled for fewer rates, define the same here. */
#if !(defined BITTERN_ONLY_48000 || defined BITTERN_ONLY_96000)
#define BITTERN_ONLY_48000
#define BITTERN_ONLY_96000
#endif

#define BITTERN_SELFTEST_OUTPUTS (BITTERN_CHANNELS * BITTERN_WAYS)
#define BITTERN_SELFTEST_BLOCK 64
#define BITTERN_SELFTEST_LOOKS 4 /* comparisons in a run, from its middle on */
#define BITTERN_SELFTEST_BURST 24 /* samples of the highest frequency that a run begins with */
#define BITTERN_SELFTEST_AFTER 224 /* samples after the end of a mute, or the reset of a channel */

/* How a block is run; the numbers go round. */
enum bittern_selftest_how {
    BITTERN_SELFTEST_PLANAR = 0,
    BITTERN_SELFTEST_IN_FIRST = 1, /* in place, with the first output of the channel */
    BITTERN_SELFTEST_FRAMES = 2,
    BITTERN_SELFTEST_IN_LAST = 3,
    BITTERN_SELFTEST_INT32 = 4,
    BITTERN_SELFTEST_HOWS = 5
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
    int late[BITTERN_WAYS]; /* samples that a way hears late */
    float within[BITTERN_WAYS]; /* how far from what is expected is near */
} bittern_selftest_rate;

#ifdef BITTERN_ONLY_48000
static const float bittern_selftest_48000[208] = {
    3.046229e-17f, 1.35e-22f, -1.5079694e-11f, 6.67e-17f, 4.6726544e-13f, 1.3e-16f,
    -9.242108e-15f, 4.16e-20f, -1.868878e-10f, 6.36e-15f, 1.5284354e-11f, 7.98e-14f,
    -5.282777e-15f, 1.8e-20f, 7.492549e-09f, 3.26e-13f, -1.39554865e-08f, 1.75e-11f,
    4.368472e-10f, 5.57e-16f, -7.871069e-05f, 2.73e-10f, 3.2191306e-06f, 2.73e-10f,
    2.1587654e-17f, 7.13e-23f, -1.0674302e-11f, 3.56e-17f, 3.3054841e-13f, 9.7e-17f,
    -9.251539e-15f, 3.78e-20f, -1.8691676e-10f, 6.24e-15f, 1.5273359e-11f, 7.99e-14f,
    -5.288168e-15f, 2.02e-20f, 7.493687e-09f, 3.29e-13f, -1.3954488e-08f, 1.76e-11f,
    5.2076654e-10f, 1.14e-15f, -0.00010567368f, 2.46e-10f, 4.789024e-06f, 2.46e-10f,
    0.03132103f, -0.0057292497f, 0.021284195f, 0.01638495f, 0.027521996f, -0.035479493f,
    0.06095623f, -0.0047756718f, 0.083169244f, 0.04643056f, -0.03741233f, -0.019839535f,
    0.07717679f, 0.036292974f, -0.01131778f, 0.0530923f, 0.09250021f, 0.019739863f,
    -0.033159647f, -0.06117318f, 0.08755174f, 0.018599924f, -0.015928395f, -0.005555839f,
    0.091841996f, 0.019883566f, 0.015803915f, 0.04823167f, 0.08768128f, 0.0080060465f,
    0.022173926f, 0.10926446f, 4.3029128e-17f, 1.91e-22f, -2.1300635e-11f, 9.19e-17f,
    6.6003e-13f, 1.84e-16f, -9.242108e-15f, 4.16e-20f, -1.868878e-10f, 6.36e-15f,
    1.5284354e-11f, 7.98e-14f, -5.282777e-15f, 1.8e-20f, 7.492549e-09f, 3.26e-13f,
    -1.39554865e-08f, 1.75e-11f, 4.368472e-10f, 5.57e-16f, -7.871069e-05f, 2.73e-10f,
    3.2191306e-06f, 2.73e-10f, 3.046229e-17f, 1.35e-22f, -1.5079694e-11f, 6.67e-17f,
    4.6726544e-13f, 1.3e-16f, -9.242108e-15f, 4.16e-20f, -1.868878e-10f, 6.36e-15f,
    1.5284354e-11f, 7.98e-14f, -5.282777e-15f, 1.8e-20f, 7.492549e-09f, 3.26e-13f,
    -1.39554865e-08f, 1.75e-11f, 4.368472e-10f, 5.57e-16f, -7.871069e-05f, 2.73e-10f,
    3.2191306e-06f, 2.73e-10f, 0.045193795f, 0.008949738f, -0.018713813f, -0.03348016f,
    0.028776063f, -0.017779266f, -0.0045345454f, -0.038223326f, 0.08482068f, 0.11204528f,
    0.017248234f, -0.06544048f, 0.05631599f, 0.08872532f, 0.004229875f, 0.064782694f,
    0.028981008f, 0.039050486f, -0.0161754f, -0.0064005675f, 0.018822946f, 0.05531938f,
    0.02018691f, 0.06776469f, 0.0014306502f, 0.029237002f, 0.016233332f, -0.054654002f,
    7.739896e-05f, 0.017533138f, -0.027504576f, -0.03525702f, -0.16921976f, -0.0405215f,
    -0.0053399513f, -0.067688204f, -0.059834417f, -0.01847092f, -0.0027214992f, 6.9841306e-05f,
    -0.19149269f, -0.0063946727f, 0.003920734f, -0.023793073f, -0.0070044575f, 0.0002450787f,
    -0.001244718f, -0.0042262916f, -0.18348409f, 0.001191346f, -0.012299617f, -0.057369076f,
    -7.324852e-07f, 4.9360096e-08f, -4.377216e-08f, -2.477318e-07f, -0.17803378f, -0.014719781f,
    0.0023045763f, -0.064851455f, 0.0f, 0.0f, 0.0f, 0.0f, 0.0f, 0.0f, 0.0f, 0.0f, -0.027929094f,
    0.046472877f, -0.016750505f, -0.003306522f, 0.008070261f, -0.02127714f, -0.004852263f,
    0.0020302855f, 0.05127352f, -0.024131227f, -0.013561827f, -0.03943834f
};
#endif

#ifdef BITTERN_ONLY_96000
static const float bittern_selftest_96000[208] = {
    -2.1865093e-19f, 7.05e-25f, 8.8438344e-14f, 3.29e-19f, -2.503101e-15f, 3.29e-19f,
    -1.749217e-16f, 7.06e-22f, 3.697406e-12f, 2.19e-17f, -2.2044629e-14f, 1.35e-15f,
    1.435478e-15f, 6.75e-21f, 1.441139e-10f, 1.56e-16f, -2.8220077e-11f, 5.43e-14f,
    4.4352216e-10f, 1.43e-15f, -2.6108431e-05f, 2.05e-10f, 6.1571785e-07f, 2.05e-10f,
    -1.5487168e-19f, 4.32e-25f, 6.2605506e-14f, 2.39e-19f, -1.771386e-15f, 2.39e-19f,
    -1.7501061e-16f, 5.52e-22f, 3.6970136e-12f, 1.46e-17f, -2.203538e-14f, 1.35e-15f,
    1.4362076e-15f, 4.94e-21f, 1.4411977e-10f, 1.83e-16f, -2.8213676e-11f, 5.44e-14f,
    5.601151e-10f, 8.07e-16f, -3.5094574e-05f, 2.43e-10f, 8.564752e-07f, 2.43e-10f,
    0.019931931f, -0.012510538f, 0.009542588f, 0.039077472f, 0.016970318f, -0.0210125f,
    0.018349413f, 0.044876464f, 0.06970951f, 0.013290293f, -0.026430517f, -0.026753958f,
    0.06381599f, 0.0064651663f, 0.006382172f, -0.06713053f, 0.0851197f, -0.02764859f,
    0.11399439f, 0.044454448f, 0.08085483f, -0.016841043f, 0.06476732f, -0.03702159f,
    0.08688399f, -0.09771989f, -0.012340563f, -0.07129143f, 0.08367117f, -0.09136213f,
    0.0027352653f, -0.0384947f, -3.0885265e-19f, 9.41e-25f, 1.2492248e-13f, 4.29e-19f,
    -3.535724e-15f, 4.29e-19f, -1.749217e-16f, 7.06e-22f, 3.697406e-12f, 2.19e-17f,
    -2.2044629e-14f, 1.35e-15f, 1.435478e-15f, 6.75e-21f, 1.441139e-10f, 1.56e-16f,
    4.4352216e-10f, 1.43e-15f, -2.1865093e-19f, 7.05e-25f, 8.8438344e-14f, 3.29e-19f,
    -2.503101e-15f, 3.29e-19f, -1.749217e-16f, 7.06e-22f, 3.697406e-12f, 2.19e-17f,
    -2.2044629e-14f, 1.35e-15f, 1.435478e-15f, 6.75e-21f, 1.441139e-10f, 1.56e-16f,
    4.4352216e-10f, 1.43e-15f, -2.6108431e-05f, 2.05e-10f, -2.6108431e-05f, 2.05e-10f,
    -2.8220077e-11f, 5.43e-14f, 6.1571785e-07f, 2.05e-10f, -2.8220077e-11f, 5.43e-14f,
    6.1571785e-07f, 2.05e-10f, -0.027997056f, 0.016390108f, -0.016176373f, 0.009730407f,
    -0.018257627f, 0.0128366025f, -0.0057458733f, -0.01574822f, -0.09871742f, -0.00465518f,
    -0.00578171f, 0.050867148f, -0.06624928f, -0.006970274f, 0.013960214f, -0.038953256f,
    -0.11559227f, -0.004524535f, 0.021062454f, 0.030910809f, -0.080247164f, 0.02198435f,
    -0.0062215826f, -0.020532789f, -0.11241375f, -0.07895567f, 0.014307314f, -0.09885882f,
    -0.07903931f, -0.06777453f, 0.022116348f, 0.060338996f, 0.063031286f, 0.014125474f,
    -0.0077609792f, 0.02816107f, 0.019458583f, 0.00017925818f, 0.0041590016f, -0.025365053f,
    0.170574f, 0.02933464f, -0.12696524f, -0.12407316f, 0.006765466f, 0.0011040741f,
    -0.0058744927f, 0.002553014f, 0.20250699f, -0.019100655f, -0.017283592f, -0.0032620216f,
    1.6953609e-05f, -1.1567821e-06f, 9.878241e-07f, -1.1967388e-05f, 0.20426731f, 0.062219206f,
    0.018211773f, 0.0359239f, 0.0f, 0.0f, 0.0f, 0.0f, 0.0f, 0.0f, 0.0f, 0.0f, 0.007167378f,
    0.0040776087f, 0.0012306451f, 0.0020015312f, -9.1670234e-05f, -0.0025091874f,
    -0.0005283297f, -0.0055670305f, 0.018725645f, 0.005112612f, -0.005865908f, -0.024246534f
};
#endif

static const bittern_selftest_rate bittern_selftest_rates[] = {
#ifdef BITTERN_ONLY_48000
    { 48000u, 682, 528, 0, 10u, 0x181c05d8u, bittern_selftest_48000,
      { 0, 6, 9, 10 }, { 9.67e-07f, 4.98e-07f, 3.09e-07f, 3.89e-07f } },
#endif
#ifdef BITTERN_ONLY_96000
    { 96000u, 1171, 1008, 0, 19u, 0x000796cbu, bittern_selftest_96000,
      { 0, 12, 17, 19 }, { 5.99e-07f, 5.81e-07f, 5.32e-07f, 4.73e-07f } },
#endif
};

#define BITTERN_SELFTEST_RUNS 2

/* The choices of every setting, of each channel in each run. */
static const unsigned char
bittern_selftest_choices[BITTERN_SELFTEST_RUNS * BITTERN_CHANNELS][BITTERN_SETTINGS] = {
    { 0, 0, 0 },
    { 1, 1, 1 },
    { 0, 0, 2 },
    { 0, 0, 0 }
};

/* Samples, as words of the format or as integers. */
typedef union {
    float word[BITTERN_CHANNELS * BITTERN_SELFTEST_BLOCK];
    int32_t wide[BITTERN_CHANNELS * BITTERN_SELFTEST_BLOCK];
} bittern_selftest_input;

typedef union {
    float word[BITTERN_SELFTEST_OUTPUTS * BITTERN_SELFTEST_BLOCK];
    int32_t wide[BITTERN_SELFTEST_OUTPUTS * BITTERN_SELFTEST_BLOCK];
} bittern_selftest_output;

static struct {
    bittern_state filters;
    bittern_selftest_input in;
    bittern_selftest_output out;
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
} bittern_selftest;

static void bittern_selftest_check(int fine)
{
    if (fine == 0) {
        bittern_selftest.wrong = 1;
    }
}

/* How far apart the samples of a line are where there are so many lines, and where the
 * first of line k stands. */
static int bittern_selftest_stride(int how, int lines)
{
    return how == (int)BITTERN_SELFTEST_FRAMES || how == (int)BITTERN_SELFTEST_INT32 ? lines : 1;
}

static int bittern_selftest_first(int how, int k)
{
    return bittern_selftest_stride(how, 2) == 2 ? k : k * BITTERN_SELFTEST_BLOCK;
}

/* Where a channel's samples in words begin. */
static float *bittern_selftest_input_of(int how, int c)
{
    float *in = &bittern_selftest.in.word[bittern_selftest_first(how, c)];

    if (how == (int)BITTERN_SELFTEST_IN_FIRST) {
        in = &bittern_selftest.out.word[c * BITTERN_WAYS * BITTERN_SELFTEST_BLOCK];
    } else if (how == (int)BITTERN_SELFTEST_IN_LAST) {
        in = &bittern_selftest.out.word[((c * BITTERN_WAYS) + BITTERN_WAYS - 1) * BITTERN_SELFTEST_BLOCK];
    } else {
        /* out of place */
    }
    return in;
}

/* The next sample of 16 bits: a burst, or noise and a step. */
static int32_t bittern_selftest_sample(int i)
{
    static const int16_t burst[BITTERN_SELFTEST_BURST] = {
        0, 0, 0, 0, 1, -16, 120, -560, 1820, -4368, 8008, -11440, 12870, -11440, 8008, -4368, 1820, -560, 120, -16, 1, 0, 0, 0
    };
    const uint32_t turned = (bittern_selftest.time + (uint32_t)i) & 1024u;
    const uint32_t t = bittern_selftest.time + (uint32_t)i - bittern_selftest.opened;
    int32_t x = turned == 0u ? 15000 : -15000;

    if (t < (uint32_t)BITTERN_SELFTEST_BURST) {
        x = burst[t];
    } else {
        bittern_selftest.noise = (bittern_selftest.noise * 1664525u) + 1013904223u;
        x += (int32_t)(bittern_selftest.noise >> 17) - 16384;
    }
    return x;
}

/* Makes the block's samples. */
static void bittern_selftest_fill(int how, int size)
{
    const int stride = bittern_selftest_stride(how, BITTERN_CHANNELS);
    int c;
    int i;

    for (c = 0; c < BITTERN_CHANNELS; c++) {
        if (how == (int)BITTERN_SELFTEST_INT32) {
            for (i = 0; i < size; i++) {
                bittern_selftest.in.wide[(i * stride) + c] = bittern_selftest_sample(i) * 65536;
            }
        } else {
            float *const in = bittern_selftest_input_of(how, c);

            for (i = 0; i < size; i++) {
                in[i * stride] = (float)bittern_selftest_sample(i) * (float)3.0517578125e-05;
            }
            if (size > 0 && c >= bittern_selftest.spoilt_from && c < bittern_selftest.spoilt_to) {
                static const uint32_t none = 0x7fc00000u;

                (void)memcpy(in, &none, sizeof none);
                bittern_selftest.spoilt_from++;
            }
        }
    }
    bittern_selftest.time += (uint32_t)size;
}

/* Runs the block. */
static void bittern_selftest_filter(int how, int size)
{
    bittern_state *const s = &bittern_selftest.filters;
    bittern_selftest_input *const from = &bittern_selftest.in;
    bittern_selftest_output *const to = &bittern_selftest.out;
    int failed;

    if (how == (int)BITTERN_SELFTEST_FRAMES) {
        failed = bittern_run_frames(s, from->word, to->word, size);
    } else if (how == (int)BITTERN_SELFTEST_INT32) {
        failed = bittern_run_frames_int32(s, from->wide, to->wide, size);
    } else {
        const float *in[BITTERN_CHANNELS];
        float *out[BITTERN_SELFTEST_OUTPUTS];
        int k;

        for (k = 0; k < BITTERN_CHANNELS; k++) {
            in[k] = bittern_selftest_input_of(how, k);
        }
        for (k = 0; k < BITTERN_SELFTEST_OUTPUTS; k++) {
            out[k] = &to->word[k * BITTERN_SELFTEST_BLOCK];
        }
        failed = bittern_run(s, in, out, size);
    }
    bittern_selftest_check(failed == 0);
}

/* Takes all outputs of the block into the hash, FNV-1a's of whole words. */
static void bittern_selftest_hash(int how, int size)
{
    const int stride = bittern_selftest_stride(how, BITTERN_SELFTEST_OUTPUTS);
    uint32_t hash = bittern_selftest.hash;
    int k;
    int i;

    for (k = 0; k < BITTERN_SELFTEST_OUTPUTS; k++) {
        const int first = bittern_selftest_first(how, k);

        if (how == (int)BITTERN_SELFTEST_INT32) {
            for (i = 0; i < size; i++) {
                hash = (hash ^ (uint32_t)bittern_selftest.out.wide[(i * stride) + first]) * 16777619u;
            }
        } else {
            const float *const out = &bittern_selftest.out.word[first];

            for (i = 0; i < size; i++) {
                uint32_t bits;

                (void)memcpy(&bits, &out[i * stride], sizeof bits);
                hash = (hash ^ bits) * 16777619u;
            }
        }
    }
    bittern_selftest.hash = hash;
}

/* Whether output k of sample i of the block is as near to the next expected number as it has to be. */
static void bittern_selftest_compare(int how, int i, int k, float within)
{
    const int at = (i * bittern_selftest_stride(how, BITTERN_SELFTEST_OUTPUTS)) + bittern_selftest_first(how, k);
    float near = within;
    float off;

    if (how == (int)BITTERN_SELFTEST_INT32) {
        off = (float)bittern_selftest.out.wide[at] * (float)(1.0 / 2147483648.0);
        near += (float)(2.0 / 2147483648.0);
    } else {
        off = bittern_selftest.out.word[at];
    }
    off -= *bittern_selftest.expected;
    bittern_selftest.expected++;
    bittern_selftest_check(off <= near && off >= -near);
}

/* Compares what ways make of the burst in a block that far into a run; behind each expected number stands
 * how near it has to be. */
static void bittern_selftest_compare_burst(uint32_t into, int size)
{
    static const int places[3] = { 4, 13, 18 };
    int k;
    int j;

    for (k = 0; k < BITTERN_SELFTEST_OUTPUTS && into < (uint32_t)BITTERN_SELFTEST_BURST + bittern_selftest.latest; k++) {
        for (j = 0; j < 3; j++) {
            const int i = places[j] + bittern_selftest.late[k % BITTERN_WAYS] - (int)into;

            if (i >= 0 && i < size) {
                bittern_selftest_compare((int)BITTERN_SELFTEST_PLANAR, i, k, bittern_selftest.expected[1]);
                bittern_selftest.expected++;
            }
        }
    }
}

/* n samples of every channel in blocks, and so many comparisons, the last at the end. */
static void bittern_selftest_run(int n, int looks)
{
    static const unsigned char sizes[8] = { 64, 32, 0, 1, 2, 7, 33, 21 };
    int done = 0;

    while (done < n) {
        const uint32_t into = bittern_selftest.time - bittern_selftest.opened;
        const int how = into < (uint32_t)BITTERN_SELFTEST_BURST + bittern_selftest.latest ? (int)BITTERN_SELFTEST_PLANAR
            : (int)(bittern_selftest.block % (unsigned int)BITTERN_SELFTEST_HOWS);
        int size = (int)sizes[bittern_selftest.block % 8u];
        int j;

        size = n - done < size ? n - done : size;
        bittern_selftest.block++;
        bittern_selftest_fill(how, size);
        bittern_selftest_filter(how, size);
        bittern_selftest_hash(how, size);
        bittern_selftest_compare_burst(into, size);
        for (j = looks - 1; j >= 0; j--) {
            const int i = n - done - 1 - (n * j * j / 18);
            int k;

            for (k = 0; k < BITTERN_SELFTEST_OUTPUTS && i >= 0 && i < size; k++) {
                bittern_selftest_compare(how, i, k, bittern_selftest.within[k % BITTERN_WAYS]);
            }
        }
        done += size;
    }
}

/* Makes the choices of row k for a channel. */
static void bittern_selftest_choose(int k, int c)
{
    bittern_state *const s = &bittern_selftest.filters;
    const unsigned char *const choice = bittern_selftest_choices[k];
    int failed = 0;

    failed |= bittern_set_screen(s, c, (enum bittern_screen)choice[0]);
    failed |= bittern_get_screen(s, c) ^ (int)choice[0];
    failed |= bittern_set_wall(s, c, (enum bittern_wall)choice[1]);
    failed |= bittern_get_wall(s, c) ^ (int)choice[1];
    failed |= bittern_set_sub_trim(s, c, (enum bittern_sub_trim)choice[2]);
    failed |= bittern_get_sub_trim(s, c) ^ (int)choice[2];
    bittern_selftest_check(failed == 0);
}

/* Calls that have to be refused, with a state that is not initialised and with one that is. */
static void bittern_selftest_refused(uint32_t hz)
{
    bittern_state *const s = &bittern_selftest.filters;
    const float *const in = bittern_selftest.in.word;
    float *const out = bittern_selftest.out.word;

    bittern_selftest_check(bittern_init(s, 1u) == 1);
    bittern_selftest_check(bittern_run_frames(s, in, out, 1) == 1);
    bittern_selftest_check(bittern_set_rate(s, hz) == 1);
    bittern_selftest_check(bittern_init(s, hz) == 0);
    bittern_selftest_check(bittern_set_rate(s, 1u) == 1);
    bittern_selftest_check(bittern_run_frames(s, in, out, -1) == 1);
    bittern_selftest_check(bittern_mute(s, BITTERN_CHANNELS, 1) == 1);
    bittern_selftest_check(bittern_reset_channel(s, -1) == 1);
    bittern_selftest_check(bittern_set_screen(s, BITTERN_CHANNELS, (enum bittern_screen)0) == 1);
    bittern_selftest_check(bittern_set_wall(s, BITTERN_CHANNELS, (enum bittern_wall)0) == 1);
    bittern_selftest_check(bittern_set_sub_trim(s, BITTERN_CHANNELS, (enum bittern_sub_trim)0) == 1);
}

/* All that is tried at a rate: 0, 1 or 2. */
static int bittern_selftest_one(const bittern_selftest_rate *rate, int first)
{
    bittern_state *const s = &bittern_selftest.filters;
    const int last = BITTERN_CHANNELS - 1;
    int k;
    int c;
    bittern_selftest.expected = rate->expected;
    bittern_selftest.within = rate->within;
    bittern_selftest.late = rate->late;
    bittern_selftest.latest = rate->latest;
    bittern_selftest.noise = 1u;
    bittern_selftest.time = 0u;
    bittern_selftest.opened = 0u;
    bittern_selftest.hash = 2166136261u;
    bittern_selftest.block = 0u;
    bittern_selftest.spoilt_from = 0;
    bittern_selftest.spoilt_to = 0;
    bittern_selftest.wrong = 0;
    if (first != 0) {
        bittern_selftest_refused(rate->hz);
    } else {
        bittern_selftest_check(bittern_set_rate(s, rate->hz) == 0);
    }
    for (k = 0; k < BITTERN_SELFTEST_RUNS; k++) {
        if (k > 0) {
            bittern_reset(s);
        }
        for (c = 0; c < BITTERN_CHANNELS; c++) {
            bittern_selftest_choose((k * BITTERN_CHANNELS) + c, c);
        }
        bittern_selftest.opened = bittern_selftest.time;
        bittern_selftest_run(rate->run, BITTERN_SELFTEST_LOOKS);
    }

    bittern_selftest_check(bittern_mute(s, last, 1) == 0 && bittern_muted(s, last) == 1);
    bittern_selftest_run(rate->fade, BITTERN_SELFTEST_LOOKS);
    bittern_selftest_check(bittern_mute(s, last, 0) == 0 && bittern_muted(s, last) == 0);
    bittern_selftest.spoilt_to = 1;
    bittern_selftest_run(BITTERN_SELFTEST_AFTER, 1);
    bittern_selftest_check(bittern_garbage(s, 0) == 1);
    bittern_selftest_check(bittern_reset_channel(s, 0) == 0 && bittern_garbage(s, 0) == 0);
    bittern_selftest_run(BITTERN_SELFTEST_AFTER, 1);
    return bittern_selftest.wrong != 0 ? 2 : bittern_selftest.hash != rate->hash ? 1 : 0;
}

int bittern_float32_selftest(void)
{
    const int rates = (int)(sizeof bittern_selftest_rates / sizeof bittern_selftest_rates[0]);
    int worst = 0;
    int i;

    for (i = 0; i < rates; i++) {
        const int found = bittern_selftest_one(&bittern_selftest_rates[i], i == 0 ? 1 : 0);

        worst = found > worst ? found : worst;
    }
    return worst;
}

#ifdef BITTERN_SELFTEST_MAIN
int main(void)
{
    return bittern_float32_selftest();
}
#endif
