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
    uint32_t hash; /* of all outputs */
    const float *expected; /* some of them */
    float within[BITTERN_WAYS]; /* how far from those is near */
} bittern_selftest_rate;

#ifdef BITTERN_ONLY_48000
static const float bittern_selftest_48000[176] = {
    -5.0676546e-12f, 1.75e-16f, 2.2787193e-12f, 5.35e-14f, -1.7753206e-15f, 2.74e-12f, 0.0f,
    3.4e-11f, -3.5871865e-12f, 1.23e-16f, 2.2799783e-12f, 5.38e-14f, -1.7771323e-15f, 2.75e-12f,
    0.0f, 5.14e-11f, 2.2268373e-13f, 1.75e-16f, 3.8644143e-11f, 5.35e-14f, 1.08359044e-10f,
    2.74e-12f, 1.3860879e-06f, 3.4e-11f, 1.5752878e-13f, 1.23e-16f, 3.8669054e-11f, 5.38e-14f,
    1.08422216e-10f, 2.75e-12f, 1.720039e-06f, 5.14e-11f, 0.029685464f, -0.00569265f,
    -0.025547922f, -0.062007464f, 0.026029436f, -0.033110168f, 0.03580976f, 0.0619647f,
    0.081872985f, 0.042064834f, -0.006331891f, 0.00034242496f, 0.075859666f, 0.036174346f,
    0.0012617912f, -0.0313945f, 0.092381656f, 0.015263233f, 0.009059833f, 0.04637181f,
    0.087259024f, 0.019993592f, 0.001407266f, 0.116581306f, 0.09218481f, 0.02276093f,
    0.015868882f, 0.022960471f, 0.087790385f, 0.010715917f, -0.01624577f, 0.074786454f,
    -7.1582527e-12f, 2.48e-16f, 2.2787193e-12f, 5.35e-14f, -1.7753206e-15f, 2.74e-12f, 0.0f,
    3.4e-11f, -5.0676546e-12f, 1.75e-16f, 2.2787193e-12f, 5.35e-14f, -1.7753206e-15f, 2.74e-12f,
    0.0f, 3.4e-11f, 3.1454911e-13f, 2.48e-16f, 3.8644143e-11f, 5.35e-14f, 1.08359044e-10f,
    2.74e-12f, 1.3860879e-06f, 3.4e-11f, 2.2268373e-13f, 1.75e-16f, 3.8644143e-11f, 5.35e-14f,
    1.08359044e-10f, 2.74e-12f, 1.3860879e-06f, 3.4e-11f, 0.040040806f, -0.008209628f,
    0.008822775f, 0.05215184f, 0.02943486f, -0.0016871197f, -0.04255808f, 0.047371354f,
    0.0891498f, 0.10859017f, 0.019070197f, -0.05894883f, 0.060815804f, 0.098246336f,
    -0.0138430875f, 0.033496946f, 0.045229226f, 0.05090618f, 0.020338664f, 0.06952882f,
    0.026519788f, 0.062868305f, -0.01471016f, -0.072710104f, 0.019893283f, 0.03659597f,
    -0.032656197f, 0.047932897f, 0.007814898f, 0.03575301f, 0.020275256f, -0.07634269f,
    -0.16208026f, -0.041095115f, 0.020645369f, -0.00094649475f, -0.048813514f, -0.018307714f,
    0.012298144f, 0.01518993f, -0.19458713f, -0.0027350502f, -0.010548208f, 0.020551f,
    -0.0033878516f, -0.00019390862f, 0.00060674956f, -0.0013185631f, -0.19036949f,
    -0.008017126f, -0.00815437f, -0.0114243245f, 0.0f, 0.0f, 0.0f, 0.0f, -0.18581115f,
    -0.0036318249f, 0.032968406f, -0.023382897f, 0.0f, 0.0f, 0.0f, 0.0f, 0.0f, 0.0f, 0.0f, 0.0f,
    -0.028558241f, 0.023155248f, -0.02863666f, -0.019454487f, 0.0059572044f, -0.018434374f,
    0.019181993f, 0.0025008514f, 0.03527569f, -0.04171315f, 0.02418377f, 0.0343957f
};
#endif

#ifdef BITTERN_ONLY_96000
static const float bittern_selftest_96000[176] = {
    2.9530736e-14f, 4.97e-20f, 0.0f, 2.67e-17f, 0.0f, 6.66e-18f, 0.0f, 1.38e-13f,
    2.0904807e-14f, 3.75e-20f, 0.0f, 2.66e-17f, 0.0f, 5.18e-18f, 0.0f, 6.1e-14f,
    -1.1851992e-15f, 4.97e-20f, -1.3824726e-14f, 2.67e-17f, 0.0f, 6.66e-18f, 0.0f, 1.38e-13f,
    -8.3873774e-16f, 3.75e-20f, -1.3829934e-14f, 2.66e-17f, 0.0f, 5.18e-18f, 0.0f, 6.1e-14f,
    0.018572154f, -0.013517043f, 0.0023080648f, -0.023706725f, 0.01577457f, -0.022368912f,
    0.017194182f, -0.030009545f, 0.06798752f, 0.014488705f, 0.028855285f, -0.018596968f,
    0.06204975f, 0.0055767936f, -0.028589627f, -0.059656132f, 0.084244154f, -0.0018472928f,
    0.052448936f, -0.060128536f, 0.07975328f, 0.0045598424f, 0.029706234f, -0.041874178f,
    0.08662213f, -0.09146429f, 0.015735522f, -0.02387166f, 0.083058774f, -0.07760099f,
    0.0046451055f, -0.058618076f, 4.1713273e-14f, 7.03e-20f, 0.0f, 2.67e-17f, 0.0f, 6.66e-18f,
    0.0f, 1.38e-13f, 2.9530736e-14f, 4.97e-20f, 0.0f, 2.67e-17f, 0.0f, 6.66e-18f, 0.0f,
    1.38e-13f, -1.6741384e-15f, 7.03e-20f, -1.3824726e-14f, 2.67e-17f, 0.0f, 6.66e-18f, 0.0f,
    1.38e-13f, -1.1851992e-15f, 4.97e-20f, -1.3824726e-14f, 2.67e-17f, 0.0f, 6.66e-18f, 0.0f,
    1.38e-13f, -0.025167834f, 0.011654491f, 0.0017341393f, 0.093365766f, -0.01811939f,
    0.012066624f, -0.010154792f, 0.02863213f, -0.09379523f, -0.016912805f, 0.01146795f,
    0.008875214f, -0.06653871f, -0.002276873f, -0.003749934f, 0.057515346f, -0.116502784f,
    0.06395235f, 0.03475879f, -0.02787708f, -0.080727085f, 0.054814853f, 0.08967367f,
    0.11083445f, -0.11706977f, -0.028366908f, -5.2373995e-05f, -0.041300733f, -0.080223195f,
    -0.03308963f, -0.021435343f, 0.07970789f, 0.041365284f, -0.0073810937f, -0.022346506f,
    0.111014076f, 0.015539297f, -0.00010914284f, 0.0076376055f, 0.0046859244f, 0.15893197f,
    0.036603346f, -0.016493855f, -0.0042456817f, 0.005381678f, 0.0014505199f, 0.000738274f,
    0.0012476565f, 0.20071952f, -0.06323529f, -0.015168102f, 0.03194325f, 1.1770777e-06f,
    -5.653224e-07f, -3.4378823e-07f, 7.971162e-08f, 0.20641038f, 0.020191075f, -0.007983208f,
    -0.061999254f, 0.0f, 0.0f, 0.0f, 0.0f, 0.0f, 0.0f, 0.0f, 0.0f, 0.009145248f, 0.0059697414f,
    0.0023066867f, 0.0047635934f, -0.00011917303f, -0.0022201205f, -0.0008913668f,
    0.0062577305f, 0.024810078f, 0.011430651f, 0.006791381f, -0.004541324f
};
#endif

static const bittern_selftest_rate bittern_selftest_rates[] = {
#ifdef BITTERN_ONLY_48000
    { 48000u, 672, 528, 0, 0xec6c31c2u, bittern_selftest_48000,
      { 6.58e-07f, 3.59e-07f, 3.06e-07f, 3.89e-07f } },
#endif
#ifdef BITTERN_ONLY_96000
    { 96000u, 1152, 1008, 0, 0x07c6167bu, bittern_selftest_96000,
      { 5.61e-07f, 3.5e-07f, 6.8e-07f, 4.73e-07f } },
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
