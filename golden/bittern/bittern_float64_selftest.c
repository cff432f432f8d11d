/*
 * bittern_float64_selftest.c: self-test of the loudspeaker filters of "bittern" in double precision
 * Spec SHA-256 b652ed64a3186ead499ef684655be9b732c246a45975e38af6a82f60bc9a1284
 *
 * Compile it beside bittern_float64.c with the options of the program, declare
 *
 *     int bittern_float64_selftest(void);
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
 * It takes 5120 bytes beside one bittern_state, uses no library but memcpy, and is not for
 * two threads at once.
 */
#include "bittern_float64.h"

#include <string.h>

#ifdef __cplusplus
extern "C" int bittern_float64_selftest(void);
#else
int bittern_float64_selftest(void);
#endif

/* Where bittern_float64.c is compiled for fewer rates, define the same here. */
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
    0.02551406f, -0.016449036f, 0.023040488f, 0.015922258f, 0.024346745f, -0.026380315f,
    0.056740917f, 0.024616633f, 0.075901814f, 0.032212086f, -0.01643242f, -0.04893114f,
    0.07585265f, 0.028064203f, -0.030888747f, 0.08730755f, 0.08848224f, -0.002775413f,
    -0.0057414793f, -0.055112317f, 0.08872397f, 0.029050633f, 0.027002055f, -0.014649145f,
    0.08985419f, 0.0058737593f, 0.003791623f, -0.021705136f, 0.08988674f, 0.02470368f,
    -0.020390186f, 0.04164242f, 0.037956517f, -0.018735258f, -0.014698387f, -0.07288245f,
    0.024538435f, -0.0021564816f, -0.0031282443f, 0.0417291f, 0.10556183f, -0.08069751f,
    0.028707223f, -0.0069097085f, 0.06943991f, -0.087558895f, -0.064571574f, 0.091092065f,
    0.0996087f, 0.084466234f, -0.030285364f, -0.031666152f, 0.06587318f, 0.0908969f,
    0.0040284097f, 0.0042883856f, 0.08582862f, 0.087001815f, 0.011709645f, 0.037579834f,
    0.056546398f, 0.0895602f, -0.034311604f, 0.044301555f, -0.10918933f, -0.014488835f,
    0.045738183f, -0.098763525f, -0.042594925f, -0.015918368f, -0.017296808f, -0.00011793875f,
    -0.19254187f, -0.040455088f, 0.013560779f, 0.034689218f, -0.014624017f, -0.0029896316f,
    -0.0010206664f, 0.004723385f, -0.21556202f, -0.0047737593f, 0.026559873f, -0.064133264f,
    -0.00091390015f, -5.6143763e-05f, 0.00017621975f, -0.00037107535f, -0.21895155f,
    -0.014263457f, -0.015926028f, -0.054400865f, -5.23192e-05f, -2.263052e-06f, 8.793234e-06f,
    9.709432e-06f, 0.0f, 0.0f, 0.0f, 0.0f, -0.04740428f, 2.6446669e-05f, -0.007848972f,
    0.032576878f, -0.0039513893f, 0.017691558f, -0.010354352f, 0.029177638f, -0.05501699f,
    0.002097199f, -0.020531813f, 0.0028088088f
};
#endif

#ifdef BITTERN_ONLY_96000
static const float bittern_selftest_96000[112] = {
    0.014227347f, -0.015211603f, -0.03454424f, -0.008759263f, 0.013027208f, -0.027607957f,
    0.018712675f, 0.008689147f, 0.060002323f, 0.009632914f, 0.025824077f, 0.010328698f,
    0.057098303f, 0.0046966835f, -0.0182152f, -0.118667275f, 0.079408035f, 0.009530089f,
    0.021512654f, -0.039993487f, 0.07615575f, 0.029865703f, -0.005896298f, 0.071157634f,
    0.08350108f, 0.009802031f, -0.028367909f, -0.03861553f, 0.08016831f, 0.024790928f,
    -0.021664351f, 0.040821407f, -0.019841392f, 0.0144986035f, 0.004854149f, -0.04987849f,
    -0.014126224f, 0.011357173f, 0.0034115557f, -0.0109439f, -0.0829474f, 0.0046960283f,
    0.0010034726f, 0.07778918f, -0.05988809f, -0.005121471f, -0.0040773572f, 0.0055366964f,
    -0.110001266f, -0.018630868f, 0.03222188f, -0.005640585f, -0.07984381f, -0.010509327f,
    -0.01056937f, -0.01711805f, -0.11569728f, 0.008900733f, -0.07978508f, -0.0014173668f,
    -0.08407667f, 0.0123891f, -0.0719515f, 0.08155422f, -0.04460844f, -0.056541204f,
    -0.0022049374f, 0.002607903f, -0.019052258f, -0.030221175f, -0.009776021f, -0.012656324f,
    0.074284345f, 0.0034288324f, 0.018692719f, -0.028255498f, 0.0072805653f, 0.00211266f,
    -0.0033659383f, 0.012564864f, 0.14200512f, 0.037643325f, 0.008308748f, 0.01086816f,
    0.0013372279f, 0.00032736632f, 0.00018059937f, 0.0005955614f, 0.16121502f, 0.037889246f,
    0.018547876f, 0.044120423f, 0.00026085984f, 6.277326e-05f, 3.8870272e-05f, 0.00011142954f,
    0.0f, 0.0f, 0.0f, 0.0f, 0.0059964336f, -0.0013862465f, -0.0002612983f, -0.0031508033f,
    -0.00010007299f, -0.002005517f, -0.0023737454f, 0.00061277725f, 0.04755298f, 0.02728907f,
    -0.00545929f, 0.02417079f
};
#endif

static const bittern_selftest_rate bittern_selftest_rates[] = {
#ifdef BITTERN_ONLY_48000
    { 48000u, 619, 486, 0, 0x32944265u, bittern_selftest_48000,
      { 6.92e-07f, 3.41e-07f, 4.71e-07f, 5.68e-07f } },
#endif
#ifdef BITTERN_ONLY_96000
    { 96000u, 1061, 928, 0, 0xfa8ec78du, bittern_selftest_96000,
      { 5.09e-07f, 3e-07f, 3.82e-07f, 8.56e-07f } },
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
    double word[BITTERN_CHANNELS * BITTERN_SELFTEST_BLOCK];
    int32_t wide[BITTERN_CHANNELS * BITTERN_SELFTEST_BLOCK];
} bittern_selftest_input;

typedef union {
    double word[BITTERN_SELFTEST_OUTPUTS * BITTERN_SELFTEST_BLOCK];
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
static double *bittern_selftest_input_of(int how, int c)
{
    double *in = &bittern_selftest.in.word[bittern_selftest_first(how, c)];

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
            double *const in = bittern_selftest_input_of(how, c);

            for (i = 0; i < size; i++) {
                in[i * stride] = (double)bittern_selftest_sample(i) * (double)3.0517578125e-05;
            }
            if (size > 0 && c >= bittern_selftest.spoilt_from && c < bittern_selftest.spoilt_to) {
                static const uint64_t none = UINT64_C(0x7ff8000000000001);

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
        const double *in[BITTERN_CHANNELS];
        double *out[BITTERN_SELFTEST_OUTPUTS];
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
            const double *const out = &bittern_selftest.out.word[first];

            for (i = 0; i < size; i++) {
                uint64_t bits;

                (void)memcpy(&bits, &out[i * stride], sizeof bits);
                hash = (hash ^ (uint32_t)(bits >> 32)) * 16777619u;
                hash = (hash ^ (uint32_t)(bits & 0xffffffffu)) * 16777619u;
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
    const double *const in = bittern_selftest.in.word;
    double *const out = bittern_selftest.out.word;

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

int bittern_float64_selftest(void)
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
    return bittern_float64_selftest();
}
#endif
