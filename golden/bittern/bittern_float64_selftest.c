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
 *       or within -120 dB of the greatest: compiler or processor compute otherwise than asked
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
    uint32_t hash; /* of all outputs */
    const float *expected; /* some of them */
    float within[BITTERN_WAYS]; /* how far from those is near */
} bittern_selftest_rate;

#ifdef BITTERN_ONLY_48000
static const float bittern_selftest_48000[176] = {
    -5.0676546e-12f, 1.22e-18f, 2.27872e-12f, 5.47e-19f, -1.7753206e-15f, 4.26e-22f, 0.0f,
    1e-30f, -3.5871865e-12f, 8.61e-19f, 2.2799787e-12f, 5.47e-19f, -1.777132e-15f, 4.27e-22f,
    0.0f, 1e-30f, 2.2268758e-13f, 1.22e-18f, 3.864418e-11f, 9.27e-18f, 1.08359016e-10f,
    2.6e-17f, 1.3860877e-06f, 3.33e-13f, 1.5753163e-13f, 8.61e-19f, 3.8669092e-11f, 9.28e-18f,
    1.08422174e-10f, 2.6e-17f, 1.7200387e-06f, 4.13e-13f, 0.010801144f, -0.026679412f,
    0.019125374f, -0.00783976f, 0.009186385f, -0.022177175f, -0.0051667457f, -0.006692051f,
    0.055298995f, -0.00795428f, -0.005475536f, 0.06826097f, 0.04989057f, -0.016590929f,
    0.0127686085f, -0.08712714f, 0.07771255f, 0.019931579f, -0.00067328056f, -0.047667433f,
    0.07166551f, 0.03189842f, -0.0021272204f, 0.15639244f, 0.082852475f, 0.04571287f,
    -0.011353662f, 0.014806245f, 0.076838955f, 0.029431514f, 0.011927325f, -0.02730098f,
    -7.1582523e-12f, 1.72e-18f, 2.27872e-12f, 5.47e-19f, -1.7753206e-15f, 4.26e-22f, 0.0f,
    1e-30f, -5.0676546e-12f, 1.22e-18f, 2.27872e-12f, 5.47e-19f, -1.7753206e-15f, 4.26e-22f,
    0.0f, 1e-30f, 3.1455456e-13f, 1.72e-18f, 3.864418e-11f, 9.27e-18f, 1.08359016e-10f,
    2.6e-17f, 1.3860877e-06f, 3.33e-13f, 2.2268758e-13f, 1.22e-18f, 3.864418e-11f, 9.27e-18f,
    1.08359016e-10f, 2.6e-17f, 1.3860877e-06f, 3.33e-13f, 0.015426782f, -0.016983733f,
    -0.011203517f, 0.012591195f, 0.010729559f, -0.021238646f, -0.0018530568f, -0.0025459763f,
    0.07669984f, -0.0018661867f, -0.040626872f, 0.07364327f, 0.052200567f, -0.009721069f,
    0.012824553f, 0.0320989f, 0.10601899f, 0.030117355f, -0.036151104f, -0.006747674f,
    0.07209019f, 0.021498932f, -0.0040447465f, 0.10570459f, 0.112581775f, -0.01052851f,
    0.053035732f, -0.06074217f, 0.07653801f, 0.00838272f, 0.071495555f, 0.049006198f,
    0.0647682f, 0.05420074f, -0.008361052f, 0.100171596f, 0.029988071f, 0.043754704f,
    -0.024925726f, -0.01790744f, -0.035752688f, 0.0021489495f, 0.017786216f, 0.032789685f,
    -0.0064997f, 0.004864055f, -0.018408615f, 0.009692426f, -0.100416586f, -0.0171125f,
    -0.02588951f, -0.05281105f, -0.0050174003f, -0.002449315f, 8.00003e-05f, 0.005797499f,
    -0.120512895f, -0.02469955f, 0.016131863f, 0.04902312f, -0.0030742781f, -0.0013440759f,
    -0.00093192613f, 0.00075505587f, 0.0f, 0.0f, 0.0f, 0.0f, -0.025776772f, -0.0005532259f,
    0.007456904f, -0.018407468f, -0.006373555f, 0.01677725f, 0.0069260127f, 0.0016554637f,
    -0.13027336f, -0.00638515f, -0.007918812f, -0.019244678f
};
#endif

#ifdef BITTERN_ONLY_96000
static const float bittern_selftest_96000[176] = {
    2.9530736e-14f, 7.09e-21f, 0.0f, 1e-30f, 0.0f, 1e-30f, 0.0f, 1e-30f, 2.0904809e-14f,
    5.02e-21f, 0.0f, 1e-30f, 0.0f, 1e-30f, 0.0f, 1e-30f, -1.1851952e-15f, 7.09e-21f,
    -1.3824723e-14f, 3.32e-21f, 0.0f, 1e-30f, 0.0f, 1e-30f, -8.3873504e-16f, 5.02e-21f,
    -1.3829931e-14f, 3.32e-21f, 0.0f, 1e-30f, 0.0f, 1e-30f, 0.0061895656f, -0.021266406f,
    -0.0141652655f, 0.022379102f, 0.005089926f, -0.028430946f, -0.007038074f, -0.008557866f,
    0.038991284f, -0.0073027043f, -0.0038292073f, -0.059634738f, 0.0341364f, -0.011227906f,
    0.0057399147f, -0.09916351f, 0.06304573f, 0.012661006f, 0.012153043f, 0.04572647f,
    0.057073157f, 0.0028581303f, 0.003995401f, 0.05732973f, 0.069259875f, 0.013693475f,
    -0.029200934f, -0.032685053f, 0.06335295f, 0.0062464336f, -0.002789932f, -0.036703743f,
    4.1713273e-14f, 1e-20f, 0.0f, 1e-30f, 0.0f, 1e-30f, 0.0f, 1e-30f, 2.9530736e-14f, 7.09e-21f,
    0.0f, 1e-30f, 0.0f, 1e-30f, 0.0f, 1e-30f, -1.6741327e-15f, 1e-20f, -1.3824723e-14f,
    3.32e-21f, 0.0f, 1e-30f, 0.0f, 1e-30f, -1.1851952e-15f, 7.09e-21f, -1.3824723e-14f,
    3.32e-21f, 0.0f, 1e-30f, 0.0f, 1e-30f, 0.00029271023f, 0.016972138f, 0.0011899048f,
    0.026840623f, -0.00021489848f, 0.02210072f, 0.00924616f, 0.01846822f, -0.02298348f,
    0.020327678f, -0.01297492f, -0.07867336f, -0.018520107f, 0.027244482f, -0.047546055f,
    0.033555023f, -0.053053655f, 0.013621157f, -0.018072005f, -0.0044997497f, -0.04055491f,
    0.0076865386f, 0.0077042505f, -0.010791007f, -0.06333939f, 0.015399105f, -0.0030661807f,
    0.03413181f, -0.047846097f, 0.0050590634f, -0.013336044f, -0.031179335f, -0.121553175f,
    0.08753835f, 0.04142039f, -0.011556037f, -0.065650135f, 0.06040769f, 0.05753171f,
    -0.040098928f, -0.10303469f, -0.08561094f, 0.0044569885f, -0.02129456f, -0.024162201f,
    -0.03340262f, -0.0020909908f, 0.019064596f, -0.06262716f, -0.06640229f, 0.0019259836f,
    -0.084768765f, -0.0054073622f, -0.006291851f, 0.00051936536f, 0.005751936f, -0.045094546f,
    -0.067005016f, 0.012605911f, 0.0075263097f, -0.002344077f, -0.0027367808f, -0.0030738735f,
    -0.0028077587f, 0.0f, 0.0f, 0.0f, 0.0f, 1.4076981e-08f, 1.339792e-09f, -3.733595e-09f,
    -1.3143568e-08f, 8.233137e-05f, 0.0024204012f, 0.0023359475f, 0.0051702694f, 0.010244096f,
    0.0033728578f, -0.00020156504f, 0.0012767487f
};
#endif

static const bittern_selftest_rate bittern_selftest_rates[] = {
#ifdef BITTERN_ONLY_48000
    { 48000u, 529, 415, 0, 0xb23290cfu, bittern_selftest_48000,
      { 1.3e-07f, 1.09e-07f, 1.37e-07f, 1.61e-07f } },
#endif
#ifdef BITTERN_ONLY_96000
    { 96000u, 907, 793, 0, 0xe4eb66bfu, bittern_selftest_96000,
      { 1.22e-07f, 9.13e-08f, 1.42e-07f, 1.66e-07f } },
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

/* The next sample of 16 bits: a burst, or noise and a step. */
static int32_t bittern_selftest_sample(int i)
{
    static const int16_t burst[BITTERN_SELFTEST_BURST] = {
        1, -16, 120, -560, 1820, -4368, 8008, -11440, 12870, -11440, 8008, -4368, 1820, -560, 120, -16, 1, 0, 0, 0, 0, 0, 0, 0
    };
    const uint32_t turned = (bittern_selftest.time + (uint32_t)i) & 1024u;
    const uint32_t t = bittern_selftest.time + (uint32_t)i - bittern_selftest.opened;

    if (t < (uint32_t)BITTERN_SELFTEST_BURST) {
        return burst[t];
    }

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

/* Compares all outputs of sample i of the block; own: behind each stands how near it has to be. */
static void bittern_selftest_compare(int how, int i, int own)
{
    const int stride = bittern_selftest_stride(how, BITTERN_SELFTEST_OUTPUTS);
    int k;

    for (k = 0; k < BITTERN_SELFTEST_OUTPUTS; k++) {
        const int at = (i * stride) + bittern_selftest_first(how, k);
        float within = bittern_selftest.within[k % BITTERN_WAYS];
        float off;

        if (how == (int)BITTERN_SELFTEST_INT32) {
            off = (float)bittern_selftest.out.wide[at] * (1.0f / 2147483648.0f);
        } else {
            off = (float)bittern_selftest.out.word[at];
        }
        off -= *bittern_selftest.expected;
        bittern_selftest.expected++;
        if (own != 0) {
            within = *bittern_selftest.expected;
            bittern_selftest.expected++;
        }
        bittern_selftest_check(off <= within && off >= -within);
    }
}

/* n samples of every channel in blocks, and so many comparisons, the last at the end. */
static void bittern_selftest_run(int n, int looks)
{
    static const unsigned char sizes[8] = { 64, 32, 0, 1, 2, 7, 33, 21 };
    static const int burst[2] = { 9, 14 };
    int done = 0;

    while (done < n) {
        const uint32_t into = bittern_selftest.time - bittern_selftest.opened;
        const int how = into < (uint32_t)BITTERN_SELFTEST_BURST ? (int)BITTERN_SELFTEST_PLANAR
            : (int)(bittern_selftest.block % (unsigned int)BITTERN_SELFTEST_HOWS);
        int size = (int)sizes[bittern_selftest.block % 8u];
        int j;

        size = n - done < size ? n - done : size;
        bittern_selftest.block++;
        bittern_selftest_fill(how, size);
        bittern_selftest_filter(how, size);
        bittern_selftest_hash(how, size);
        for (j = 0; j < 2 && into < (uint32_t)BITTERN_SELFTEST_BURST; j++) {
            const int i = burst[j] - (int)into;

            if (i >= 0 && i < size) {
                bittern_selftest_compare(how, i, 1);
            }
        }
        for (j = looks - 1; j >= 0; j--) {
            const int i = n - done - 1 - (n * j * j / 18);

            if (i >= 0 && i < size) {
                bittern_selftest_compare(how, i, 0);
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
