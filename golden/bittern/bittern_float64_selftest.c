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
    0.013528874f, -0.016790608f, -0.042627763f, 0.021764217f, 0.012657806f, -0.019254623f,
    -0.00914356f, 0.013319235f, 0.059182983f, -0.0065044668f, -0.024196409f, 0.06671356f,
    0.058402963f, 0.0016300601f, 0.024830773f, -0.11540457f, 0.07899304f, 0.049295016f,
    -0.013905918f, 0.0063146004f, 0.07911371f, 0.031316377f, 0.013931124f, 0.110802546f,
    0.08318978f, 0.034376577f, 0.028000146f, -0.046540935f, 0.083471686f, 0.029416231f,
    -0.009363601f, -0.027845398f, 0.020454869f, -0.016800094f, 0.021792084f, 0.021279031f,
    0.0139504485f, -0.01081076f, 0.0082230605f, 0.007073413f, 0.08426194f, 0.013594558f,
    -0.012612747f, 0.0865788f, 0.058791324f, 0.018682536f, -0.022998089f, 0.025654688f,
    0.10937383f, 0.014388594f, 0.011779148f, 0.008711051f, 0.07743566f, 0.0036070715f,
    0.0035968134f, 0.097708724f, 0.11427593f, -0.008824414f, 0.0033299844f, -0.046060808f,
    0.081208155f, -0.01079241f, 0.041936878f, 0.039319467f, 0.059367597f, 0.055433292f,
    0.02807735f, -0.05853385f, 0.028674804f, 0.05485639f, 0.010802446f, 0.0038004988f,
    -0.040884778f, 0.022904698f, 0.01882145f, -0.04341396f, -0.0075843595f, -0.0030343696f,
    0.0060275467f, 0.011779285f, -0.104436636f, -0.029378511f, 0.041221157f, -0.03480558f,
    -0.005412196f, -0.000121783494f, -0.0029127942f, 0.005622879f, -0.12401334f, -0.04117749f,
    0.03720271f, 0.016976207f, -0.0032933892f, -0.00024400244f, 0.00049150205f, 0.0017178832f,
    0.0f, 0.0f, 0.0f, 0.0f, -0.02685527f, -0.0020502687f, 0.007086988f, -0.002744081f,
    -0.006294143f, 0.010860403f, -0.0038307968f, -0.034320194f, -0.13401493f, 0.0048379377f,
    0.03728547f, 0.027856523f
};
#endif

#ifdef BITTERN_ONLY_96000
static const float bittern_selftest_96000[112] = {
    0.0069771814f, -0.020618845f, -0.0014951595f, -0.023452848f, 0.0062751337f, -0.029143207f,
    -0.00921762f, 0.0030781992f, 0.040532935f, -0.008308894f, -0.0105789825f, 0.04030503f,
    0.03811977f, -0.009366554f, 0.000995063f, 0.042605143f, 0.06432002f, 0.012706712f,
    -0.029419474f, -0.0651371f, 0.06134114f, 0.005511409f, -0.008961293f, 0.14462729f,
    0.07040431f, 0.01040177f, -0.04158074f, -0.069214046f, 0.067323335f, 0.008897135f,
    0.012000371f, 0.06710028f, 0.0012909914f, 0.020401962f, 0.013673326f, -0.0009268178f,
    0.00091312575f, 0.023801688f, -0.0046560857f, -0.011093151f, -0.020354724f, 0.018184295f,
    -0.0021042374f, 0.00650452f, -0.014932449f, 0.020060787f, 0.025254246f, 0.019944623f,
    -0.050856758f, 0.02135312f, 0.0010254027f, -0.044113364f, -0.036680363f, 0.017846659f,
    0.01695289f, -0.040635817f, -0.06150777f, 0.009039313f, 0.018125247f, -0.019738067f,
    -0.04417748f, 0.018301401f, 0.016125128f, 0.049770005f, -0.123824105f, 0.08808857f,
    0.04763765f, 0.01250291f, -0.06473766f, 0.061603323f, 0.03545074f, 0.05347887f,
    -0.10606491f, -0.09525757f, 0.048541367f, 0.038671598f, -0.024319148f, -0.031748854f,
    0.003228502f, 0.04484581f, -0.06539999f, -0.0687193f, 0.0012578386f, -0.11832126f,
    -0.005601395f, -0.007082163f, -0.0054166177f, 0.0107899f, -0.047764182f, -0.05411008f,
    -0.032097436f, -0.0014102468f, -0.0024906886f, -0.0032273647f, 0.00158547f, -0.005602625f,
    0.0f, 0.0f, 0.0f, 0.0f, 1.3207887e-08f, 1.660921e-09f, -3.3415357e-09f, 1.4358826e-08f,
    9.009316e-05f, 0.002109769f, 0.001779332f, -0.0012897255f, 0.009950269f, 0.0028153958f,
    -0.00022535937f, 0.0010012418f
};
#endif

static const bittern_selftest_rate bittern_selftest_rates[] = {
#ifdef BITTERN_ONLY_48000
    { 48000u, 529, 415, 0, 0xc9397687u, bittern_selftest_48000,
      { 4.23e-07f, 2.94e-07f, 5.14e-07f, 5.68e-07f } },
#endif
#ifdef BITTERN_ONLY_96000
    { 96000u, 907, 793, 0, 0x44bad4a8u, bittern_selftest_96000,
      { 3.95e-07f, 3.01e-07f, 4.19e-07f, 5.05e-07f } },
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
