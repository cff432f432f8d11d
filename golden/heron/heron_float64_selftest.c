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
 *   1   not to the bit, but every output that was compared is as near as round-off explains:
 *       compiler or processor compute otherwise than asked
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
    uint32_t latest; /* samples that the latest way hears late */
    uint32_t hash; /* of all outputs */
    const double *expected; /* some of them */
    int late[HERON_WAYS]; /* samples that a way hears late */
    double within[HERON_WAYS]; /* how far from what is expected is near */
} heron_selftest_rate;

#ifdef HERON_ONLY_48000
static const double heron_selftest_48000[180] = {
    1.687834491584063e-16, 2.5200000000000002e-24, 1.6045534249665984e-10, 2.39e-18,
    -8.234604781826324e-12, 2.43e-18, 4.963133581036455e-15, 7.4e-23, -6.557224780636412e-09,
    9.77e-17, 1.5682075285843522e-10, 9.77e-17, 3.787600004379854e-10, 5.64e-18,
    -6.499756204146148e-05, 9.69e-13, 1.9085377696644657e-06, 9.69e-13, 1.8469200711861031e-16,
    2.7500000000000003e-24, 1.841352389956715e-10, 2.74e-18, -9.857602527501606e-12, 2.82e-18,
    5.43093003046232e-15, 8.090000000000001e-23, -7.51475675304903e-09, 1.12e-16,
    1.8344682093324264e-10, 1.12e-16, 3.4872441285310967e-10, 5.2e-18, -6.298601041505762e-05,
    9.39e-13, 1.9231387794918657e-06, 9.39e-13, 0.09781200993500797, -0.05985799859186059,
    0.04064691737876152, 0.0703945204636478, 0.04251269563850769, 0.173261835594028,
    0.06556285778060555, -0.1422879216261208, 0.09283420816063881, 0.04653126234188676,
    -0.013731048442423344, -0.1726530222222209, 0.02170737135419174, 0.009893436551547365,
    -0.0936352328193495, 0.021749633362701436, -0.04894217643876071, -0.11275062440955036,
    0.0109258811077083, -0.014671825879315634, 0.07125619346773762, 0.011094376825612538,
    0.05507073228647612, -0.15519441751572413, 1.6747413366976366e-16, 2.5000000000000003e-24,
    1.6050122087837285e-10, 2.39e-18, -8.281381166372265e-12, 2.44e-18, 4.9246327226747165e-15,
    7.340000000000001e-23, -6.558465200231104e-09, 9.77e-17, 1.5730314266727182e-10, 9.77e-17,
    3.7582181936913943e-10, 5.6e-18, -6.504615325832949e-05, 9.69e-13, 1.9195250203674197e-06,
    9.69e-13, 1.687834491584063e-16, 2.5200000000000002e-24, 1.6045534249665984e-10, 2.39e-18,
    -8.234604781826324e-12, 2.43e-18, 4.963133581036455e-15, 7.4e-23, -6.557224780636412e-09,
    9.77e-17, 1.5682075285843522e-10, 9.77e-17, 3.787600004379854e-10, 5.64e-18,
    -6.499756204146148e-05, 9.69e-13, 1.9085377696644657e-06, 9.69e-13, 0.03810930019244552,
    -0.018432006239891052, -0.09743964346125722, 0.08767146756872535, 0.05504276789724827,
    0.07482767710462213, -0.0882287674242403, -0.007802978520014332, 0.05401520675146019,
    -0.18020561913612004, 0.055438256586155026, 0.050962761885919555, -0.09150939667597413,
    0.08084571547806263, 0.1586958896368742, -0.18050439562648535, -0.019061332568526268,
    -0.13902604999020696, -0.09394768951460719, -0.02883025025948882, -0.10792143177241087,
    -0.18270835187286139, -0.025378103833645582, 0.05605584429576993, -0.05639069947077703,
    0.050848791900727684, 0.06815411742548119, -0.061180729432273144, 0.017539549982381705,
    0.11792283273350176, -0.0184054436075944, 0.015657741322668423, -0.06520321108385964,
    -0.0026199628510476212, -0.0002763681854922419, -0.014025811685441975,
    -0.003853155765682459, -0.03048272244632244, -0.011115330271422863, -6.756745278835297e-07,
    -4.979316145181656e-06, -8.488073945045471e-06, 4.5257731480832005e-05,
    0.008248898753753137, 0.02198360299177873, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0,
    0.049237051978707314, -0.07802805071696639, -0.05487963417544961, 0.02178696623390625,
    -0.004740315789415572, 0.055682934022955946, 0.2905905644263508, 0.04148526503923773,
    -0.11991338355241835, -0.09195839943813602, 0.20456938866842983, -0.02938676960414323, 0.0,
    0.0, 0.0, -0.19395005595965, 0.025761969453213657, -0.09326692071412936, 0.0, 0.0, 0.0,
    -0.028323042219907644, 0.054626769992297035, -0.25222662616116487, 0.0, 0.0, 0.0,
    0.005929546430706978, 0.06384550454095006, 0.01531743723899126, 0.0, 0.0, 0.0
};
#endif

#ifdef HERON_ONLY_96000
static const double heron_selftest_96000[156] = {
    1.0896121507553833e-19, 1.6200000000000003e-27, 1.1533640169356451e-12, 1.72e-20,
    -5.1317106862766677e-14, 1.72e-20, 5.61490427223892e-18, 8.37e-26, -1.5859541922822228e-11,
    4.25e-19, -2.3254847212125122e-12, 4.25e-19, 2.5281535836330236e-10, 3.77e-18,
    -1.7553183292533925e-05, 2.62e-13, 3.863286445644811e-07, 2.62e-13, 1.2210784782444106e-19,
    1.82e-27, 1.3259613010734971e-12, 1.98e-20, -6.001067285059999e-14, 1.98e-20,
    6.29236628783957e-18, 9.38e-26, -1.8585237263945547e-11, 4.9e-19, -2.724640859561147e-12,
    4.9e-19, 2.383828966449405e-10, 3.55e-18, -1.7000951834133277e-05, 2.53e-13,
    3.802209983213494e-07, 2.53e-13, 0.07339366618543863, 0.013346054125577211,
    0.026626585517078638, 0.04686642251908779, -0.024114372208714485, -0.1239658398553729,
    0.08601723607500471, 0.020528924635190404, 0.13250012963836139, 0.057642711050841774,
    0.0006582969704294806, 0.1529208960145178, 0.03534600464627147, 0.12496136873960495,
    0.08343360247090459, 0.021470678504556417, 0.11013906309381127, -0.004073066636919975,
    -0.04670375352562164, 0.19696388517845403, -0.17810122163486664, -0.04046411957367284,
    0.11176221839821629, -0.03496644474134855, 1.0853772095017266e-19, 1.6200000000000003e-27,
    1.1536395169560058e-12, 1.72e-20, -5.146369595925854e-14, 1.72e-20, 5.593081103580831e-18,
    8.33e-26, -1.5909643130091125e-11, 4.25e-19, -2.3328315329121893e-12, 4.25e-19,
    2.5183275350711706e-10, 3.75e-18, -1.7560745587102394e-05, 2.62e-13, 3.8744901170046136e-07,
    2.62e-13, 1.0896121507553833e-19, 1.6200000000000003e-27, 1.1533640169356451e-12, 1.72e-20,
    -5.1317106862766677e-14, 1.72e-20, 5.61490427223892e-18, 8.37e-26, -1.5859541922822228e-11,
    4.25e-19, -2.3254847212125122e-12, 4.25e-19, 2.5281535836330236e-10, 3.77e-18,
    -1.7553183292533925e-05, 2.62e-13, 3.863286445644811e-07, 2.62e-13, -0.04046207299477646,
    -0.028436230004739375, -0.10618079261778227, -0.07636030802928116, 0.00020742116515475847,
    0.09570868267041253, -0.04245046200230718, 0.03485125442966819, -0.10263973474502563,
    -0.08185326028615236, 0.10871345410123467, -0.08957376051694155, 0.0950668978616058,
    0.027055486040496773, 0.2480005745682642, 0.11296355834242819, 0.04499525950959211,
    0.16643089050810567, 0.11738032762011366, 0.0834021529750882, -0.08887371571906996,
    0.18043309652665182, 0.05696830976625303, -0.10001916050419868, 0.10441435587144685,
    0.0023317037378007086, 0.08635093052611174, 0.1115718185226261, -0.023627246453446837,
    0.0695074955389219, 0.07795269140089423, -0.26954426965067263, 0.1395767891241428,
    0.011486839300414449, -0.018850277535454752, -0.016682180611262525, -0.059792446438223124,
    -0.07863828772678971, -0.04339613951742649, -1.7816666513681412e-05, 5.424953997135162e-07,
    -1.1099036782979965e-05, -0.08574595313558273, -0.09563166185443656, 0.1540320812734288,
    0.0, 0.0, 0.0, 0.0, 0.0, 0.0, -0.01460953010649827, 0.006800439776214096,
    -0.0107815531766391, -0.005007416996924355, -0.0051220307477932705, -0.000913215700512085,
    -0.08552315450914365, 0.009876061871609464, -0.08098243433623575
};
#endif

static const heron_selftest_rate heron_selftest_rates[] = {
#ifdef HERON_ONLY_48000
    { 48000u, 676, 528, 1488, 4u, 0xc5f119fcu, heron_selftest_48000,
      { 0, 0, 4 }, { 4.53e-09, 4.08e-09, 5.38e-09 } },
#endif
#ifdef HERON_ONLY_96000
    { 96000u, 1161, 1008, 0, 9u, 0x32ff2805u, heron_selftest_96000,
      { 0, 0, 9 }, { 3.22e-09, 5.09e-09, 8.46e-09 } },
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
    const double *expected; /* the next to compare with */
    const double *within;
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
        0, 0, 0, 0, 1, -16, 120, -560, 1820, -4368, 8008, -11440, 12870, -11440, 8008, -4368, 1820, -560, 120, -16, 1, 0, 0, 0
    };
    const uint32_t turned = (heron_selftest.time + (uint32_t)i) & 1024u;
    const uint32_t t = heron_selftest.time + (uint32_t)i - heron_selftest.opened;
    int32_t x = turned == 0u ? 15000 : -15000;

    if (t < (uint32_t)HERON_SELFTEST_BURST) {
        x = burst[t];
    } else {
        heron_selftest.noise = (heron_selftest.noise * 1664525u) + 1013904223u;
        x += (int32_t)(heron_selftest.noise >> 17) - 16384;
    }
    return x;
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

/* Whether output k of sample i of the block is as near to the next expected number as it has to be. */
static void heron_selftest_compare(int how, int i, int k, double within)
{
    const int at = (i * heron_selftest_stride(how, HERON_SELFTEST_OUTPUTS)) + heron_selftest_first(how, k);
    double near = within;
    double off;

    if (how == (int)HERON_SELFTEST_INT32) {
        off = (double)heron_selftest.out.wide[at] * (double)(1.0 / 2147483648.0);
        near += (double)(2.0 / 2147483648.0);
    } else {
        off = heron_selftest.out.word[at];
    }
    off -= *heron_selftest.expected;
    heron_selftest.expected++;
    heron_selftest_check(off <= near && off >= -near);
}

/* Compares what ways make of the burst in a block that far into a run; behind each expected number stands
 * how near it has to be. */
static void heron_selftest_compare_burst(uint32_t into, int size)
{
    static const int places[3] = { 4, 13, 18 };
    int k;
    int j;

    for (k = 0; k < HERON_SELFTEST_OUTPUTS && into < (uint32_t)HERON_SELFTEST_BURST + heron_selftest.latest; k++) {
        for (j = 0; j < 3; j++) {
            const int i = places[j] + heron_selftest.late[k % HERON_WAYS] - (int)into;

            if (i >= 0 && i < size) {
                heron_selftest_compare((int)HERON_SELFTEST_PLANAR, i, k, heron_selftest.expected[1]);
                heron_selftest.expected++;
            }
        }
    }
}

/* n samples of every channel in blocks, and so many comparisons, the last at the end. */
static void heron_selftest_run(int n, int looks)
{
    static const unsigned char sizes[8] = { 64, 32, 0, 1, 2, 7, 33, 21 };
    int done = 0;

    while (done < n) {
        const uint32_t into = heron_selftest.time - heron_selftest.opened;
        const int how = into < (uint32_t)HERON_SELFTEST_BURST + heron_selftest.latest ? (int)HERON_SELFTEST_PLANAR
            : (int)(heron_selftest.block % (unsigned int)HERON_SELFTEST_HOWS);
        int size = (int)sizes[heron_selftest.block % 8u];
        int j;

        size = n - done < size ? n - done : size;
        heron_selftest.block++;
        heron_selftest_fill(how, size);
        heron_selftest_filter(how, size);
        heron_selftest_hash(how, size);
        heron_selftest_compare_burst(into, size);
        for (j = looks - 1; j >= 0; j--) {
            const int i = n - done - 1 - (n * j * j / 18);
            int k;

            for (k = 0; k < HERON_SELFTEST_OUTPUTS && i >= 0 && i < size; k++) {
                heron_selftest_compare(how, i, k, heron_selftest.within[k % HERON_WAYS]);
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
    heron_selftest.late = rate->late;
    heron_selftest.latest = rate->latest;
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
        heron_selftest_run(HERON_SELFTEST_BLOCK + (int)rate->latest, 0);
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
