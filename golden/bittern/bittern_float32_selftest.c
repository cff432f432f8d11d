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
 *   1   not to the bit, but every output that was compared is as near as round-off explains,
 *       or within -110 dB of the greatest: compiler or processor compute otherwise than asked
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
    uint32_t hash; /* of all outputs */
    const float *expected; /* some of them */
    float within[BITTERN_WAYS]; /* how far from those is near */
} bittern_selftest_rate;

#ifdef BITTERN_ONLY_48000
static const float bittern_selftest_48000[112] = {
    0.03388387f, -0.015341158f, 0.061664388f, -0.05323899f, 0.032682985f, -0.036043122f,
    -0.024993144f, 0.0185469f, 0.082401976f, 0.04085724f, 0.0353795f, -0.040293902f,
    0.08267407f, 0.03577718f, -0.042572398f, 0.018632045f, 0.0900239f, 0.009813146f,
    0.07698297f, -0.010816963f, 0.08994144f, 0.020002654f, 0.014286069f, -0.051507372f,
    0.089301564f, 0.013956191f, 0.029122341f, 0.06914129f, 0.08894432f, 0.004212748f,
    -0.0022483924f, -0.09697366f, 0.04631422f, -0.006264723f, 0.004990743f, -0.09961287f,
    0.03498429f, -0.01669304f, -0.010712638f, -0.07702413f, 0.088308185f, 0.102311015f,
    0.06651215f, 0.006324239f, 0.06680087f, 0.09485359f, 0.028781539f, -0.018340426f,
    0.03937121f, 0.049838297f, 0.0035855556f, 0.028452467f, 0.030289952f, 0.06414595f,
    -0.03180532f, -0.048442498f, 0.013186801f, 0.027988318f, -0.022074403f, -0.09170088f,
    0.0106922295f, 0.03547214f, -0.024674194f, 0.03230575f, -0.16698083f, -0.024411503f,
    0.010318191f, 0.0026361358f, -0.0502704f, -0.01608918f, -0.006794786f, -0.01138347f,
    -0.19960113f, -0.015453728f, -0.024124635f, 0.055949204f, -0.0035468473f, 6.6301345e-06f,
    0.00032859299f, -0.00047553235f, -0.19437613f, 0.0017132438f, 0.03888887f, 0.05718501f,
    0.0f, 0.0f, 0.0f, 0.0f, -0.18953016f, -0.002235353f, -0.008046405f, -0.038271375f, 0.0f,
    0.0f, 0.0f, 0.0f, 0.0f, 0.0f, 0.0f, 0.0f, -0.03016049f, 0.016995799f, -0.026088726f,
    0.0009207688f, 0.006227077f, -0.016725745f, 0.02566214f, -0.03014641f, 0.033368368f,
    -0.035696797f, -0.017953f, 0.0023295898f
};
#endif

#ifdef BITTERN_ONLY_96000
static const float bittern_selftest_96000[112] = {
    0.019903028f, -0.007404896f, -0.005387945f, 0.06781347f, 0.018377319f, -0.021041168f,
    -0.011681214f, -0.026345672f, 0.06916029f, 0.011498456f, 0.0056977756f, 0.0036734426f,
    0.06610043f, 0.0071915644f, -0.009318454f, 0.040503994f, 0.08501823f, -0.0035900995f,
    -0.0048770327f, 0.11169494f, 0.08166623f, 0.0025008852f, 0.025959197f, -0.029633757f,
    0.08732366f, -0.07679668f, 0.05513786f, -0.0057982756f, 0.08404343f, -0.084776685f,
    0.025250789f, 0.0006160916f, -0.027736172f, 0.019594757f, -0.004927669f, -0.004425549f,
    -0.01974361f, 0.012050669f, -0.00020293314f, -0.053822298f, -0.09815926f, -0.0019921423f,
    0.010197409f, -0.0058033834f, -0.0682747f, -0.016061375f, -0.004144188f, -0.043386944f,
    -0.11918384f, 0.06638483f, 0.032945488f, 6.818306e-05f, -0.081452094f, 0.06100996f,
    0.0281917f, 0.085172385f, -0.118812494f, -0.028676797f, -0.011155433f, 0.026076144f,
    -0.08075151f, -0.026798826f, 0.0055925814f, -0.0018863501f, 0.04738462f, -0.0055268956f,
    0.026523156f, 0.018557299f, 0.015242377f, 0.003952313f, 0.0007356591f, -0.01123945f,
    0.16772228f, 0.03363346f, -0.022341467f, 0.0053749587f, 0.0052936184f, 0.0016139424f,
    -0.000371169f, -0.0055703158f, 0.2105097f, -0.059196066f, -0.037514616f, -0.009756263f,
    1.1558457e-06f, -5.2414e-07f, -6.9105414e-07f, -4.016194e-07f, 0.21638337f, 0.018290482f,
    -0.019498881f, -0.051980637f, 0.0f, 0.0f, 0.0f, 0.0f, 0.0f, 0.0f, 0.0f, 0.0f, 0.008966777f,
    0.0049159005f, 0.0007696398f, 0.0060527246f, -0.00013475845f, -0.002099444f, -0.0017527721f,
    0.004670092f, 0.025105802f, 0.008219071f, 0.014798361f, 0.022671359f
};
#endif

static const bittern_selftest_rate bittern_selftest_rates[] = {
#ifdef BITTERN_ONLY_48000
    { 48000u, 672, 528, 0, 0xe8f1ac48u, bittern_selftest_48000,
      { 7.36e-07f, 3.94e-07f, 4.46e-07f, 5.68e-07f } },
#endif
#ifdef BITTERN_ONLY_96000
    { 96000u, 1152, 1008, 0, 0x857d91b8u, bittern_selftest_96000,
      { 7.2e-07f, 3.57e-07f, 5.28e-07f, 8.56e-07f } },
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
    uint32_t noise;
    uint32_t time;
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

/* The next sample of noise and a step, of 16 bits. */
static int32_t bittern_selftest_sample(int i)
{
    const uint32_t turned = (bittern_selftest.time + (uint32_t)i) & 1024u;

    bittern_selftest.noise = (bittern_selftest.noise * 1664525u) + 1013904223u;
    return (int32_t)(bittern_selftest.noise >> 17) - 16384 + (turned == 0u ? 15000 : -15000);
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

/* Compares all outputs of sample i of the block. */
static void bittern_selftest_compare(int how, int i)
{
    const int stride = bittern_selftest_stride(how, BITTERN_SELFTEST_OUTPUTS);
    int k;

    for (k = 0; k < BITTERN_SELFTEST_OUTPUTS; k++) {
        const int at = (i * stride) + bittern_selftest_first(how, k);
        const float within = bittern_selftest.within[k % BITTERN_WAYS];
        float off;

        if (how == (int)BITTERN_SELFTEST_INT32) {
            off = (float)bittern_selftest.out.wide[at] * (1.0f / 2147483648.0f);
        } else {
            off = (float)bittern_selftest.out.word[at];
        }
        off -= *bittern_selftest.expected;
        bittern_selftest.expected++;
        bittern_selftest_check(off <= within && off >= -within);
    }
}

/* n samples of every channel in blocks, and so many comparisons, the last at the end. */
static void bittern_selftest_run(int n, int looks)
{
    static const unsigned char sizes[8] = { 64, 32, 0, 1, 2, 7, 33, 21 };
    int done = 0;

    while (done < n) {
        const int how = (int)(bittern_selftest.block % (unsigned int)BITTERN_SELFTEST_HOWS);
        int size = (int)sizes[bittern_selftest.block % 8u];
        int j;

        size = n - done < size ? n - done : size;
        bittern_selftest.block++;
        bittern_selftest_fill(how, size);
        bittern_selftest_filter(how, size);
        bittern_selftest_hash(how, size);
        for (j = looks - 1; j >= 0; j--) {
            const int i = n - done - 1 - (n * j * j / 18);

            if (i >= 0 && i < size) {
                bittern_selftest_compare(how, i);
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
    bittern_selftest.noise = 1u;
    bittern_selftest.time = 0u;
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
