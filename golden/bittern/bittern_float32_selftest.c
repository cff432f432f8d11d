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
static const float bittern_selftest_48000[144] = {
    0.03388387f, -0.015341158f, 0.061664388f, -0.05323899f, 0.04616596f, -0.03604309f,
    -0.024993144f, 0.010426733f, 0.082401976f, 0.04085724f, 0.0353795f, -0.040293902f,
    0.116780214f, 0.03577714f, -0.042572405f, 0.014973705f, 0.0900239f, 0.009813146f,
    0.07698297f, -0.010816963f, 0.1270457f, 0.020002708f, 0.014286088f, -0.039202332f,
    0.089301564f, 0.013956191f, 0.029122341f, 0.06914129f, 0.12563723f, 0.0042127934f,
    -0.0022484101f, -0.06932819f, 0.023212112f, -0.006264723f, 0.004990743f, -0.09961287f,
    0.049416643f, -0.01669304f, -0.010712638f, -0.07702413f, 0.044258922f, 0.102311015f,
    0.06651215f, 0.006324239f, 0.09435876f, 0.09485359f, 0.028781539f, -0.018340426f,
    0.019732345f, 0.049838297f, 0.0035855556f, 0.028452467f, 0.042785674f, 0.06414595f,
    -0.03180532f, -0.048442498f, 0.0066090534f, 0.027988318f, -0.022074403f, -0.09170088f,
    0.015103164f, 0.03547214f, -0.024674194f, 0.03230575f, -0.035314485f, 0.019157408f,
    0.015311477f, -0.07572867f, -0.0332473f, 0.011809767f, 0.016805377f, 0.06996786f,
    -0.085248455f, -0.015570696f, 0.036185816f, -0.004384014f, -0.08219498f, -0.022373332f,
    -0.026603367f, -0.019295527f, -0.09364265f, -0.013124203f, 0.002324464f, 0.08449614f,
    -0.08920207f, -0.01671998f, 0.018690178f, -0.08480635f, -0.09302519f, -0.001161006f,
    0.025072852f, 0.051906463f, -0.08801243f, -0.01776687f, -0.04346346f, 0.00071905553f,
    -0.020112364f, -0.070662074f, 0.014072933f, 0.009617511f, -0.0071826377f, -0.028047983f,
    0.008552718f, 0.019384092f, 0.083439745f, -0.0054400666f, -0.055548403f, -0.0012032646f,
    0.0020294164f, 0.0002396859f, 0.001213784f, -0.00027024437f, 0.1420267f, 0.015595131f,
    0.046572704f, -0.12043344f, 0.0f, 0.0f, 0.0f, 0.0f, 0.15807694f, 0.023727182f, -0.02329206f,
    -0.002668249f, 0.0f, 0.0f, 0.0f, 0.0f, 0.0f, 0.0f, 0.0f, 0.0f, 0.07519662f, 0.004756708f,
    -0.009881057f, 0.0049191252f, 0.0043987473f, -0.016151777f, -0.008126522f, 0.03427072f,
    0.15300682f, -0.0047655697f, -0.0024638383f, -0.09406106f
};
#endif

#ifdef BITTERN_ONLY_96000
static const float bittern_selftest_96000[144] = {
    0.019903028f, -0.007404896f, -0.005387945f, 0.06781347f, 0.025958672f, -0.021041168f,
    -0.011681229f, -0.0235001f, 0.06916029f, 0.011498456f, 0.0056977756f, 0.0036734426f,
    0.09336936f, 0.0071915435f, -0.009318454f, 0.026491145f, 0.08501823f, -0.0035900995f,
    -0.0048770327f, 0.11169494f, 0.11535664f, 0.002500846f, 0.025959207f, -0.02164492f,
    0.08732366f, -0.07679668f, 0.05513786f, -0.0057982756f, 0.11871451f, -0.08477674f,
    0.02525077f, -0.009281153f, -0.013901009f, 0.019594757f, -0.004927669f, -0.004425549f,
    -0.027888594f, 0.012050669f, -0.00020293314f, -0.053822298f, -0.049196202f, -0.0019921423f,
    0.010197409f, -0.0058033834f, -0.09644059f, -0.016061375f, -0.004144188f, -0.043386944f,
    -0.059733458f, 0.06638483f, 0.032945488f, 6.818306e-05f, -0.11505424f, 0.06100996f,
    0.0281917f, 0.085172385f, -0.059547357f, -0.028676797f, -0.011155433f, 0.026076144f,
    -0.114064716f, -0.026798826f, 0.0055925814f, -0.0018863501f, 0.02028753f, -0.013414165f,
    0.0029869657f, -0.001489352f, 0.018954301f, -0.014099034f, 0.011844572f, 0.034089718f,
    0.06949859f, -0.08994232f, 0.038727965f, -0.11323687f, 0.06493016f, -0.10388539f,
    0.00030143658f, -0.10165383f, 0.07426282f, 0.08926976f, 0.01566046f, 0.08412196f,
    0.06987538f, 0.09539473f, -0.001428314f, -0.004518454f, 0.068429485f, 0.10046546f,
    0.0016809371f, 0.028446872f, 0.0644651f, 0.09665022f, 0.028195947f, 0.09469639f,
    -0.06595115f, -0.0062210914f, -0.002689791f, -0.0044615613f, -0.02988024f, -0.009576917f,
    0.008558215f, 0.027170569f, -0.12942088f, 0.07343482f, -0.012025909f, -0.04836716f,
    -0.005933412f, 0.0036830571f, 0.00042219367f, -0.0019070404f, -0.13734318f, -0.087182924f,
    0.012018208f, 0.00508287f, -1.0969848e-06f, -6.712257e-07f, -4.5516684e-09f, 1.5015377e-07f,
    -0.13290869f, -0.101937935f, -0.034739f, 0.054116156f, 0.0f, 0.0f, 0.0f, 0.0f, 0.0f, 0.0f,
    0.0f, 0.0f, -0.005728189f, -0.0037966077f, 0.0013224926f, -0.005235467f, 8.801735e-05f,
    0.0014396374f, 0.0022384068f, 0.0025473791f, -0.0015300482f, 0.0066833994f, 0.0051397732f,
    -0.0049357405f
};
#endif

static const bittern_selftest_rate bittern_selftest_rates[] = {
#ifdef BITTERN_ONLY_48000
    { 48000u, 672, 528, 0, 0x431eecd5u, bittern_selftest_48000,
      { 1.15e-06f, 3.24e-07f, 5.82e-07f, 6.38e-07f } },
#endif
#ifdef BITTERN_ONLY_96000
    { 96000u, 1152, 1008, 0, 0xdf9f5459u, bittern_selftest_96000,
      { 4.41e-07f, 4.66e-07f, 5.58e-07f, 6.66e-07f } },
#endif
};

#define BITTERN_SELFTEST_RUNS 3

/* The choices of every setting, of each channel in each run. */
static const unsigned char
bittern_selftest_choices[BITTERN_SELFTEST_RUNS * BITTERN_CHANNELS][BITTERN_SETTINGS] = {
    { 0, 0, 0 },
    { 0, 1, 0 },
    { 0, 0, 1 },
    { 0, 0, 2 },
    { 1, 0, 0 },
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
