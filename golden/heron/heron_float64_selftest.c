/*
 * heron_float64_selftest.c: self-test of the loudspeaker filters of "heron" in double precision
 * Spec SHA-256 749a0ecc317b8edad31dca10cf8987c5bc35bb68c2e7a6660ab2b71a33f28209
 *
 * Compile it beside heron_float64.c with the options of the program, declare
 *
 *     int heron_float64_selftest(void);
 *
 * and call it before any output is live: it plays nothing, and touches no state but its own.
 * With HERON_SELFTEST_MAIN defined the file has a main that returns what it says:
 *
 *   0   every output is the compiler's own simulation, to the bit
 *   1   not to the bit, but every output that was compared is as near as round-off explains,
 *       or within -120 dB of the greatest: compiler or processor compute otherwise than asked
 *   2   wrong: do not let this near a loudspeaker
 *
 * What is tried:
 * all outputs at 48000, 96000 Hz; blocks of 64, 32, 0, 1, 2, 7, 33, 21 samples and what is left
 * at the end; run in and out of place, run_frames and run_frames_int32; init, change of rate
 * and resets; mute and its end; calls that have to be refused; a sample that is no number, and
 * what follows the reset; every choice, and every section that choices pick; a change of
 * settings while a channel runs, at 48000 Hz.
 *
 * It takes 4096 bytes beside one heron_state, uses no library but memcpy, and is not for
 * two threads at once.
 */
#include "heron_float64.h"

#include <string.h>

#ifdef __cplusplus
extern "C" int heron_float64_selftest(void);
#else
int heron_float64_selftest(void);
#endif

/* Where heron_float64.c is compiled for fewer rates, define the same here. */
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
    uint32_t hash; /* of all outputs */
    const float *expected; /* some of them */
    float within[HERON_WAYS]; /* how far from those is near */
} heron_selftest_rate;

#ifdef HERON_ONLY_48000
static const float heron_selftest_48000[156] = {
    5.392234e-11f, 1.29e-17f, -2.2036095e-09f, 5.29e-16f, -3.0479696e-06f, 7.32e-13f,
    6.188017e-11f, 1.49e-17f, -2.525396e-09f, 6.06e-16f, -2.8761074e-06f, 6.9e-13f,
    -3.924348e-12f, 1.45e-17f, 7.4735725e-11f, 5.69e-16f, 2.7086233e-05f, 7.07e-12f,
    -4.6978164e-12f, 1.68e-17f, 8.742485e-11f, 6.61e-16f, 2.6450747e-05f, 6.85e-12f,
    0.09706224f, -0.047267586f, 0.091741614f, 0.07043453f, 0.057268716f, -0.108744495f,
    0.06513124f, -0.15197992f, -0.15330221f, 0.046667516f, -0.009281413f, 0.06356175f,
    0.023491854f, -0.03367905f, -0.055651907f, 0.022749303f, -0.059116516f, -0.0047076256f,
    0.011808648f, -0.007749084f, 0.07322067f, 0.0124668395f, 0.026710112f, 0.21229492f,
    5.3937757e-11f, 1.29e-17f, -2.2040263e-09f, 5.29e-16f, -3.038499e-06f, 7.29e-13f,
    5.392234e-11f, 1.29e-17f, -2.2036095e-09f, 5.29e-16f, -3.0479696e-06f, 7.32e-13f,
    -3.94664e-12f, 1.45e-17f, 7.496562e-11f, 5.7e-16f, 2.7133146e-05f, 7.07e-12f,
    -3.924348e-12f, 1.45e-17f, 7.4735725e-11f, 5.69e-16f, 2.7086233e-05f, 7.07e-12f,
    0.040536024f, -0.029566048f, -0.03148957f, 0.07914699f, -0.010693682f, -0.024728378f,
    -0.090306275f, -0.016821224f, 0.123412944f, -0.1821255f, -0.04420109f, -0.032917365f,
    -0.09217028f, -0.06352656f, -0.13004974f, -0.18239386f, -0.007882451f, -0.04307586f,
    -0.097295105f, 0.05574872f, -0.15216036f, -0.18131213f, 0.007667706f, 0.060085066f,
    -0.06259113f, -0.020738563f, -0.05169772f, -0.04490867f, 0.042086124f, 0.028250268f,
    -0.021591185f, 0.039236844f, 0.0025072782f, -0.0011299438f, 0.00056590006f, 0.00025607058f,
    -0.0035383683f, -0.007226039f, 0.10839736f, 0.0f, 0.0f, 0.0f, 0.0013601627f, -0.01710814f,
    0.2828809f, 0.0f, 0.0f, 0.0f, 0.0f, 0.0f, 0.0f, 0.03863947f, -0.051020164f, -0.017967576f,
    0.021487689f, -0.0009942619f, -0.06939657f, 0.2978127f, -0.060624707f, -0.0636311f,
    -0.067883156f, 0.19167915f, 0.23269254f, 0.0f, 0.0f, 0.0f, -0.19206113f, 0.04562831f,
    0.032564074f, 0.0f, 0.0f, 0.0f, -0.03599908f, 0.023402466f, 0.0937206f, 0.0f, 0.0f, 0.0f,
    0.007049313f, 0.0012005417f, 0.15964727f, 0.0f, 0.0f, 0.0f
};
#endif

#ifdef HERON_ONLY_96000
static const float heron_selftest_96000[132] = {
    3.851236e-13f, 9.24e-20f, -5.2957122e-12f, 2.04e-18f, 8.441842e-11f, 2.03e-17f,
    4.4275616e-13f, 1.06e-19f, -6.2058583e-12f, 2.35e-18f, 7.959922e-11f, 1.91e-17f,
    -2.4298256e-14f, 9.94e-20f, -1.1010991e-12f, 2.04e-18f, -1.5717345e-06f, 3.77e-13f,
    -2.8414593e-14f, 1.15e-19f, -1.2900965e-12f, 2.35e-18f, -1.5032654e-06f, 3.61e-13f,
    0.0726673f, -0.010201087f, 0.032452393f, 0.04614278f, -0.022368897f, 0.08590567f,
    0.086714946f, -0.011505177f, -0.02401028f, 0.058517676f, 0.0062069595f, 0.103489086f,
    0.042052392f, 0.07855725f, -0.15484816f, 0.026486801f, 0.062071156f, -0.10156766f,
    -0.032419633f, 0.23067273f, -0.012181745f, -0.029615952f, 0.17318825f, -0.04298155f,
    3.852156e-13f, 9.25e-20f, -5.312442e-12f, 2.04e-18f, 8.409031e-11f, 2.02e-17f,
    3.851236e-13f, 9.24e-20f, -5.2957122e-12f, 2.04e-18f, 8.441842e-11f, 2.03e-17f,
    -2.4367666e-14f, 9.94e-20f, -1.1045778e-12f, 2.04e-18f, -1.569365e-06f, 3.77e-13f,
    -2.4298256e-14f, 9.94e-20f, -1.1010991e-12f, 2.04e-18f, -1.5717345e-06f, 3.77e-13f,
    -0.040000707f, 0.009867722f, -0.002301704f, -0.07452145f, -0.005895486f, 0.056015864f,
    -0.04742012f, 0.011387161f, 0.06651367f, -0.07597818f, -0.04130044f, 0.122516066f,
    0.0782424f, 0.05454557f, -0.04662815f, 0.10292083f, -0.024177685f, 0.11785016f,
    0.109857135f, 0.06553107f, 0.24528804f, 0.17854162f, 0.116380714f, -0.1731788f, 0.10831254f,
    -0.0041801613f, -0.03408461f, 0.10033564f, 0.012433225f, -0.08640149f, 0.08321216f,
    -0.10778174f, -0.0540973f, 0.008324223f, -0.0059144893f, 0.0068360735f, -0.04623668f,
    -0.06311153f, -0.09787178f, -1.3569515e-07f, 4.469026e-07f, -1.5007566e-06f, -0.0825072f,
    -0.073252216f, -0.2016037f, 0.0f, 0.0f, 0.0f, 0.0f, 0.0f, 0.0f, -0.013627511f,
    0.00047995668f, -0.007139786f, -0.003978379f, -0.0037972918f, 0.017862314f, -0.088193275f,
    -0.0027700735f, -0.026763393f
};
#endif

static const heron_selftest_rate heron_selftest_rates[] = {
#ifdef HERON_ONLY_48000
    { 48000u, 672, 528, 1488, 0x7bf62f14u, heron_selftest_48000,
      { 3.02e-07f, 3.16e-07f, 3.3e-07f } },
#endif
#ifdef HERON_ONLY_96000
    { 96000u, 1152, 1008, 0, 0xbfb8b9e2u, heron_selftest_96000,
      { 2.16e-07f, 3.41e-07f, 4.02e-07f } },
#endif
};

#define HERON_SELFTEST_RUNS 2

/* The choices of every setting, of each channel in each run. */
static const unsigned char
heron_selftest_choices[HERON_SELFTEST_RUNS * HERON_CHANNELS][HERON_SETTINGS] = {
    { 0, 0, 0 },
    { 1, 1, 1 },
    { 2, 0, 0 },
    { 0, 0, 0 }
};

/* Samples, as words of the format or as integers. */
typedef union {
    double word[HERON_CHANNELS * HERON_SELFTEST_BLOCK];
    int32_t wide[HERON_CHANNELS * HERON_SELFTEST_BLOCK];
} heron_selftest_input;

typedef union {
    double word[HERON_SELFTEST_OUTPUTS * HERON_SELFTEST_BLOCK];
    int32_t wide[HERON_SELFTEST_OUTPUTS * HERON_SELFTEST_BLOCK];
} heron_selftest_output;

static struct {
    heron_state filters;
    heron_selftest_input in;
    heron_selftest_output out;
    const float *expected; /* the next to compare with */
    const float *within;
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
static double *heron_selftest_input_of(int how, int c)
{
    double *in = &heron_selftest.in.word[heron_selftest_first(how, c)];

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
        1, -16, 120, -560, 1820, -4368, 8008, -11440, 12870, -11440, 8008, -4368, 1820, -560, 120, -16, 1, 0, 0, 0, 0, 0, 0, 0
    };
    const uint32_t turned = (heron_selftest.time + (uint32_t)i) & 1024u;
    const uint32_t t = heron_selftest.time + (uint32_t)i - heron_selftest.opened;

    if (t < (uint32_t)HERON_SELFTEST_BURST) {
        return burst[t];
    }

    heron_selftest.noise = (heron_selftest.noise * 1664525u) + 1013904223u;
    return (int32_t)(heron_selftest.noise >> 17) - 16384 + (turned == 0u ? 15000 : -15000);
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
            double *const in = heron_selftest_input_of(how, c);

            for (i = 0; i < size; i++) {
                in[i * stride] = (double)heron_selftest_sample(i) * (double)3.0517578125e-05;
            }
            if (size > 0 && c >= heron_selftest.spoilt_from && c < heron_selftest.spoilt_to) {
                static const uint64_t none = UINT64_C(0x7ff8000000000001);

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
        const double *in[HERON_CHANNELS];
        double *out[HERON_SELFTEST_OUTPUTS];
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
            const double *const out = &heron_selftest.out.word[first];

            for (i = 0; i < size; i++) {
                uint64_t bits;

                (void)memcpy(&bits, &out[i * stride], sizeof bits);
                hash = (hash ^ (uint32_t)(bits >> 32)) * 16777619u;
                hash = (hash ^ (uint32_t)(bits & 0xffffffffu)) * 16777619u;
            }
        }
    }
    heron_selftest.hash = hash;
}

/* Compares all outputs of sample i of the block; own: behind each stands how near it has to be. */
static void heron_selftest_compare(int how, int i, int own)
{
    const int stride = heron_selftest_stride(how, HERON_SELFTEST_OUTPUTS);
    int k;

    for (k = 0; k < HERON_SELFTEST_OUTPUTS; k++) {
        const int at = (i * stride) + heron_selftest_first(how, k);
        float within = heron_selftest.within[k % HERON_WAYS];
        float off;

        if (how == (int)HERON_SELFTEST_INT32) {
            off = (float)heron_selftest.out.wide[at] * (1.0f / 2147483648.0f);
        } else {
            off = (float)heron_selftest.out.word[at];
        }
        off -= *heron_selftest.expected;
        heron_selftest.expected++;
        if (own != 0) {
            within = *heron_selftest.expected;
            heron_selftest.expected++;
        }
        heron_selftest_check(off <= within && off >= -within);
    }
}

/* n samples of every channel in blocks, and so many comparisons, the last at the end. */
static void heron_selftest_run(int n, int looks)
{
    static const unsigned char sizes[8] = { 64, 32, 0, 1, 2, 7, 33, 21 };
    static const int burst[2] = { 9, 14 };
    int done = 0;

    while (done < n) {
        const uint32_t into = heron_selftest.time - heron_selftest.opened;
        const int how = into < (uint32_t)HERON_SELFTEST_BURST ? (int)HERON_SELFTEST_PLANAR
            : (int)(heron_selftest.block % (unsigned int)HERON_SELFTEST_HOWS);
        int size = (int)sizes[heron_selftest.block % 8u];
        int j;

        size = n - done < size ? n - done : size;
        heron_selftest.block++;
        heron_selftest_fill(how, size);
        heron_selftest_filter(how, size);
        heron_selftest_hash(how, size);
        for (j = 0; j < 2 && into < (uint32_t)HERON_SELFTEST_BURST; j++) {
            const int i = burst[j] - (int)into;

            if (i >= 0 && i < size) {
                heron_selftest_compare(how, i, 1);
            }
        }
        for (j = looks - 1; j >= 0; j--) {
            const int i = n - done - 1 - (n * j * j / 18);

            if (i >= 0 && i < size) {
                heron_selftest_compare(how, i, 0);
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
    const double *const in = heron_selftest.in.word;
    double *const out = heron_selftest.out.word;

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
        heron_selftest_run(HERON_SELFTEST_BLOCK, 0);
        heron_selftest_choose(1, 0);
        heron_selftest_run(rate->change, HERON_SELFTEST_LOOKS);
    }
    return heron_selftest.wrong != 0 ? 2 : heron_selftest.hash != rate->hash ? 1 : 0;
}

int heron_float64_selftest(void)
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
    return heron_float64_selftest();
}
#endif
