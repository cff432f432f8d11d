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
    uint32_t hash; /* of all outputs */
    const float *expected; /* some of them */
    float within[HERON_WAYS]; /* how far from those is near */
} heron_selftest_rate;

#ifdef HERON_ONLY_48000
static const float heron_selftest_48000[204] = {
    5.392235e-11f, 3.18e-16f, -2.2035884e-09f, 4.33e-12f, -3.0479696e-06f, 2.59e-11f,
    5.3929104e-11f, 3.65e-16f, -2.2037727e-09f, 4.42e-12f, -3.0438396e-06f, 3.13e-11f,
    -3.9243006e-12f, 3.18e-16f, 7.4973645e-11f, 4.33e-12f, 2.7086233e-05f, 2.59e-11f,
    -3.934004e-12f, 3.65e-16f, 7.506645e-11f, 4.42e-12f, 2.7106686e-05f, 3.13e-11f, 0.0970622f,
    -0.0472676f, 0.091741584f, 0.0704542f, 0.058133896f, -0.11358514f, 0.06513114f, -0.1519799f,
    -0.1533022f, 0.04666885f, -0.0092407325f, 0.062138543f, 0.023491746f, -0.03367905f,
    -0.05565191f, 0.0227726f, -0.05842979f, 0.0122075435f, 0.011808559f, -0.0077490867f,
    0.07322067f, 0.012497878f, 0.025964715f, 0.22041471f, 5.3937767e-11f, 4.16e-16f,
    -2.2040056e-09f, 4.52e-12f, -3.038499e-06f, 3.05e-11f, 6.18733e-11f, 3.39e-16f,
    -2.5252238e-09f, 4.37e-12f, -3.4229251e-06f, 3.44e-11f, -3.946596e-12f, 4.16e-16f,
    7.5186996e-11f, 4.52e-12f, 2.7133145e-05f, 3.05e-11f, -4.6862054e-12f, 3.39e-16f,
    8.754273e-11f, 4.37e-12f, 3.1413452e-05f, 3.44e-11f, 0.04053602f, -0.02956604f,
    -0.03148956f, 0.07915474f, -0.01049971f, -0.0264781f, -0.09030636f, -0.016821198f,
    0.12341294f, -0.18214998f, -0.04230403f, -0.03623547f, -0.09217034f, -0.063526586f,
    -0.13004974f, -0.18239886f, -0.008379302f, -0.03737764f, -0.09729516f, 0.05574873f,
    -0.15216035f, -0.1813219f, 0.008113703f, 0.06868895f, 5.392235e-11f, 2.2e-17f,
    -2.2035884e-09f, 8.43e-14f, -2.5645468e-06f, 7.35e-13f, 5.392235e-11f, 2.2e-17f,
    -2.2035884e-09f, 8.43e-14f, -3.0479696e-06f, 9.64e-13f, -3.9243006e-12f, 3.18e-16f,
    7.4973645e-11f, 4.33e-12f, 2.2790224e-05f, 1.65e-11f, -3.9243006e-12f, 3.18e-16f,
    7.4973645e-11f, 4.33e-12f, 2.7086233e-05f, 2.59e-11f, -0.08946993f, 0.0151285315f,
    0.12133145f, -0.10184918f, 0.026420694f, -0.10704016f, -0.068660185f, -0.02474861f,
    0.18667647f, -0.077877715f, -0.06968532f, 0.19126815f, -0.03208285f, 0.0042164526f,
    -0.06620618f, -0.035705127f, -0.05205749f, 0.20382872f, -0.014943806f, -0.017525148f,
    0.14363581f, -0.028754473f, -0.04767349f, 0.035386838f, 0.268041f, -0.07341943f,
    -0.017519072f, 0.11193832f, 0.0020964127f, -0.123883024f, 0.23818041f, -0.033981696f,
    0.0016896267f, 0.00673338f, -0.0014916076f, 0.0014653399f, 0.21570659f, -0.056967888f,
    -0.07596268f, 0.0f, 0.0f, 0.0f, 0.2043289f, -0.025079526f, 0.05893005f, 0.0f, 0.0f, 0.0f,
    0.0f, 0.0f, 0.0f, 0.016146487f, -0.016706256f, -0.014686799f, 0.04800522f, -0.0017187078f,
    0.023591368f, -0.06746417f, -0.01399288f, 0.11702848f, -0.0077969246f, 0.021083273f,
    -0.16754118f, 0.0f, 0.0f, 0.0f, 0.25622466f, 0.07768103f, 0.12603481f, 0.0f, 0.0f, 0.0f,
    0.17349726f, -0.0112411715f, 0.073898666f, 0.0f, 0.0f, 0.0f, 0.14371866f, -0.025542784f,
    -0.05743769f, 0.0f, 0.0f, 0.0f
};
#endif

#ifdef HERON_ONLY_96000
static const float heron_selftest_96000[180] = {
    3.8512374e-13f, 4.83e-16f, -5.29571e-12f, 1.83e-13f, 8.441842e-11f, 1.31e-11f,
    3.851639e-13f, 4.76e-16f, -5.303002e-12f, 1.8e-13f, 8.4275247e-11f, 1.3e-11f, -2.43003e-14f,
    4.83e-16f, -1.098916e-12f, 1.83e-13f, -1.5717347e-06f, 1.31e-11f, -2.4330523e-14f,
    4.76e-16f, -1.1004424e-12f, 1.8e-13f, -1.5707017e-06f, 1.3e-11f, 0.07266729f, -0.010201043f,
    0.032452393f, 0.046138406f, -0.022024069f, 0.09054979f, 0.08671487f, -0.01150516f,
    -0.024010278f, 0.058544833f, 0.005973404f, 0.1076401f, 0.042052303f, 0.0785573f,
    -0.15484816f, 0.026592562f, 0.060123384f, -0.1048509f, -0.0324197f, 0.23067279f,
    -0.012181747f, -0.029366596f, 0.1738509f, -0.0530983f, 3.8521576e-13f, 4.68e-16f,
    -5.3124397e-12f, 1.75e-13f, 8.409031e-11f, 1.4e-11f, 4.4271143e-13f, 5.01e-16f,
    -6.197486e-12f, 1.85e-13f, 9.476457e-11f, 1.37e-11f, -2.4369695e-14f, 4.68e-16f,
    -1.1024215e-12f, 1.75e-13f, -1.5693653e-06f, 1.4e-11f, -2.83815e-14f, 5.01e-16f,
    -1.2859689e-12f, 1.85e-13f, -1.7878136e-06f, 1.37e-11f, -0.04000068f, 0.009867719f,
    -0.0023017072f, -0.07452113f, -0.005445701f, 0.065179944f, -0.04742007f, 0.011387186f,
    0.06651362f, -0.07592957f, -0.041716915f, 0.13780078f, 0.078242406f, 0.05454555f,
    -0.04662812f, 0.10322727f, -0.023986114f, 0.12182842f, 0.109857135f, 0.065530986f,
    0.24528804f, 0.17872256f, 0.11798959f, -0.1897431f, 3.8512374e-13f, 3.84e-19f,
    -5.29571e-12f, 1.16e-17f, 7.1029245e-11f, 1.7e-17f, 3.8512374e-13f, 3.84e-19f,
    -5.29571e-12f, 1.16e-17f, 8.441842e-11f, 2.03e-17f, -2.43003e-14f, 4.83e-16f,
    -1.098916e-12f, 1.83e-13f, -1.32245e-06f, 1.11e-11f, -2.43003e-14f, 4.83e-16f,
    -1.098916e-12f, 1.83e-13f, -1.5717347e-06f, 1.31e-11f, 0.07133207f, -0.007999482f,
    -0.08247129f, 0.06995569f, -0.03214317f, -0.07373984f, 0.022140097f, 0.110316314f,
    -0.008478879f, 0.021133447f, 0.1694312f, 0.06455383f, -0.19431426f, -0.1161694f,
    -0.08510237f, -0.20067292f, -0.11451806f, 0.101111785f, -0.193126f, 0.03725806f,
    -0.12225316f, -0.20897031f, 0.0026145359f, 0.06629388f, -0.19912958f, -0.01914286f,
    0.10469997f, -0.08635109f, -0.020134795f, -0.08242911f, -0.038969424f, -0.09982476f,
    0.15448949f, -0.0017234753f, -0.0076426463f, 0.008184341f, 0.16491248f, 0.05433157f,
    0.053642575f, 1.3724839e-06f, 3.124228e-07f, -1.5330507e-06f, 0.17850173f, 0.0018985448f,
    -0.16150266f, 0.0f, 0.0f, 0.0f, 0.0f, 0.0f, 0.0f, 0.013851927f, -0.0014809691f, 0.00436618f,
    0.005977639f, 0.0037111128f, -0.012527499f, 0.08384678f, -0.0101857055f, -0.040908355f
};
#endif

static const heron_selftest_rate heron_selftest_rates[] = {
#ifdef HERON_ONLY_48000
    { 48000u, 672, 528, 1488, 0x0500b611u, heron_selftest_48000,
      { 1.09e-06f, 6.2e-07f, 7.94e-07f } },
#endif
#ifdef HERON_ONLY_96000
    { 96000u, 1152, 1008, 0, 0x7ec9b904u, heron_selftest_96000,
      { 1.08e-06f, 1.4e-06f, 8.4e-07f } },
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
