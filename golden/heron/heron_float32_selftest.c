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
 *       or within -110 dB of the greatest: compiler or processor compute otherwise than asked
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
static const float heron_selftest_48000[132] = {
    0.08985067f, 0.034635387f, -0.0013313598f, 0.065880746f, 0.046865314f, -0.0248556f,
    0.06931747f, 0.05993981f, -0.033598788f, 0.037057873f, 0.01964682f, 0.07262849f,
    0.020404384f, -0.035099983f, 0.08645523f, 0.014451255f, 0.035180543f, -0.0864911f,
    0.007499686f, -0.03587699f, -0.05642564f, 0.0019121212f, -0.0032351774f, 0.1760054f,
    0.03972596f, -0.050637692f, -0.00640627f, 0.08149305f, -0.0054314155f, 0.059624467f,
    -0.089787036f, -0.02011142f, 0.035373166f, -0.19651969f, -0.06300907f, 0.07617205f,
    -0.08940621f, 0.032493558f, -0.008971134f, -0.1871548f, 0.026982425f, 0.22674601f,
    -0.09434959f, -0.11594092f, -0.053271927f, -0.1854885f, -0.015201636f, -0.06435696f,
    -0.08941131f, -0.05096842f, -0.025363682f, -0.09668345f, -0.009808461f, -0.06344397f,
    -0.06997171f, -0.012494261f, -0.057911184f, -0.05451431f, 0.013241863f, 0.007152766f,
    -0.02330532f, 0.048990488f, 0.059891623f, -0.018276433f, 0.006040707f, -0.14725664f,
    -0.004865049f, -0.0041877674f, -0.063377865f, -0.009940203f, 0.08184575f, 0.1490313f,
    0.27920365f, -0.0020119518f, -0.1489478f, 0.11238887f, 0.017102757f, 0.05224566f,
    0.26219434f, 0.0046024635f, -0.05886065f, 0.006025559f, -0.00040977084f, -0.0022442504f,
    0.22820964f, 0.057308123f, -0.07304295f, 0.0f, 0.0f, 0.0f, 0.20439047f, -0.06758661f,
    -0.104426585f, 0.0f, 0.0f, 0.0f, 0.0f, 0.0f, 0.0f, 0.018969487f, 0.006694954f, 0.06349885f,
    0.045538817f, 0.01448301f, 0.0125020165f, -0.06455393f, -0.021077339f, -0.11267265f,
    -0.013756169f, 0.06491839f, 0.16152722f, 0.0f, 0.0f, 0.0f, 0.2524283f, 0.05664073f,
    0.03235245f, 0.0f, 0.0f, 0.0f, 0.18003508f, -0.00035732356f, 0.114538856f, 0.0f, 0.0f, 0.0f,
    0.15892151f, 0.00014716247f, 0.029638227f, 0.0f, 0.0f, 0.0f
};
#endif

#ifdef HERON_ONLY_96000
static const float heron_selftest_96000[108] = {
    0.071668305f, 0.0028502988f, -0.111598276f, 0.045379423f, -0.02210865f, 0.06199731f,
    0.08885226f, -0.039688855f, 0.103964634f, 0.050183f, -0.011201971f, -0.22870933f,
    0.038192354f, 0.005728939f, 0.038059086f, 0.022139087f, 0.13613544f, -0.07026295f,
    -0.029556641f, 0.12340371f, -0.15350316f, -0.03827061f, 0.14821884f, 0.04842347f,
    -0.038610034f, 0.003846494f, 0.0038453948f, -0.07698307f, -0.023994034f, -0.012283576f,
    -0.040745184f, 0.009128271f, 0.1068637f, -0.077538595f, 0.01938981f, 0.023469882f,
    0.08165273f, 0.03111508f, -0.07491355f, 0.0998695f, 0.01922432f, -0.19270758f, 0.114330545f,
    0.13429396f, -0.18803424f, 0.17932981f, 0.08915181f, -0.029929854f, 0.07249688f,
    -0.008353236f, 0.054023646f, 0.06826572f, 0.018776113f, -0.040149238f, 0.014725803f,
    0.1720452f, 0.06510831f, 0.017303921f, 0.22702716f, -0.08156f, -0.20297156f, -0.016231932f,
    -0.017282816f, -0.19695705f, -0.07139383f, -0.10840973f, -0.2104041f, -0.007658693f,
    -0.10000281f, -0.19970955f, 0.0066822665f, -0.03196877f, -0.19657446f, 0.0010837086f,
    0.057652272f, -0.08518089f, 0.006593541f, 0.03467113f, -0.04319551f, -0.18184729f,
    -0.06048348f, -0.0018968387f, -0.0069584153f, -0.0021432005f, 0.16725026f, 0.062638916f,
    -0.008767809f, 1.3623329e-06f, 7.5194754e-07f, 7.4474076e-07f, 0.17940107f, 0.0022901539f,
    0.06926202f, 0.0f, 0.0f, 0.0f, 0.0f, 0.0f, 0.0f, 0.014182864f, 0.0072917216f, 0.0030673295f,
    0.0057196436f, 0.00078657415f, -0.00795115f, 0.08074888f, 0.007574829f, -0.030736325f
};
#endif

static const heron_selftest_rate heron_selftest_rates[] = {
#ifdef HERON_ONLY_48000
    { 48000u, 672, 528, 1488, 0x12af58f5u, heron_selftest_48000,
      { 9.24e-07f, 1.11e-06f, 1.08e-06f } },
#endif
#ifdef HERON_ONLY_96000
    { 96000u, 1152, 1008, 0, 0xe114b7c7u, heron_selftest_96000,
      { 1.78e-06f, 1.04e-06f, 1.62e-06f } },
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

/* The next sample of noise and a step, of 16 bits. */
static int32_t heron_selftest_sample(int i)
{
    const uint32_t turned = (heron_selftest.time + (uint32_t)i) & 1024u;

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

/* Compares all outputs of sample i of the block. */
static void heron_selftest_compare(int how, int i)
{
    const int stride = heron_selftest_stride(how, HERON_SELFTEST_OUTPUTS);
    int k;

    for (k = 0; k < HERON_SELFTEST_OUTPUTS; k++) {
        const int at = (i * stride) + heron_selftest_first(how, k);
        const float within = heron_selftest.within[k % HERON_WAYS];
        float off;

        if (how == (int)HERON_SELFTEST_INT32) {
            off = (float)heron_selftest.out.wide[at] * (1.0f / 2147483648.0f);
        } else {
            off = (float)heron_selftest.out.word[at];
        }
        off -= *heron_selftest.expected;
        heron_selftest.expected++;
        heron_selftest_check(off <= within && off >= -within);
    }
}

/* n samples of every channel in blocks, and so many comparisons, the last at the end. */
static void heron_selftest_run(int n, int looks)
{
    static const unsigned char sizes[8] = { 64, 32, 0, 1, 2, 7, 33, 21 };
    int done = 0;

    while (done < n) {
        const int how = (int)(heron_selftest.block % (unsigned int)HERON_SELFTEST_HOWS);
        int size = (int)sizes[heron_selftest.block % 8u];
        int j;

        size = n - done < size ? n - done : size;
        heron_selftest.block++;
        heron_selftest_fill(how, size);
        heron_selftest_filter(how, size);
        heron_selftest_hash(how, size);
        for (j = looks - 1; j >= 0; j--) {
            const int i = n - done - 1 - (n * j * j / 18);

            if (i >= 0 && i < size) {
                heron_selftest_compare(how, i);
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
