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
 *   1   not to the bit, but every output that was compared is as near as round-off explains:
 *       compiler or processor compute otherwise than asked
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
    uint32_t latest; /* samples that the latest way hears late */
    uint32_t hash; /* of all outputs */
    const double *expected; /* some of them */
    int late[BITTERN_WAYS]; /* samples that a way hears late */
    double within[BITTERN_WAYS]; /* how far from what is expected is near */
} bittern_selftest_rate;

#ifdef BITTERN_ONLY_48000
static const double bittern_selftest_48000[208] = {
    3.0462283366984335e-17, 4.540000000000001e-25, -1.5079691377913816e-11, 2.25e-19,
    4.672736178605532e-13, 2.25e-19, -9.24210555831862e-15, 1.3800000000000001e-22,
    -1.868873922115947e-10, 2.78e-18, 1.5279368110389703e-11, 3.52e-18, -5.282776687803008e-15,
    7.870000000000001e-23, 7.492528451684908e-09, 1.12e-16, -1.3956580466602104e-08, 2.11e-16,
    4.368471546271194e-10, 6.51e-18, -7.871068718421767e-05, 1.17e-12, 3.2191265310646274e-06,
    1.17e-12, 2.158765061135781e-17, 3.2200000000000005e-25, -1.0674300035398405e-11, 1.59e-19,
    3.3055449216801487e-13, 1.59e-19, -9.251536174860113e-15, 1.3800000000000001e-22,
    -1.8691635280260565e-10, 2.79e-18, 1.52683617219172e-11, 3.52e-18, -5.288167217147501e-15,
    7.880000000000001e-23, 7.493665683942452e-09, 1.12e-16, -1.3955587229182487e-08, 2.1e-16,
    5.207664390921112e-10, 7.76e-18, -0.0001056736680336724, 1.57e-12, 4.78901705643751e-06,
    1.57e-12, 0.01003686088701738, -0.02551587869511755, 0.02815829695872533,
    0.01084443269240817, 0.008524087907517209, -0.022292291622450472, 0.004822334936661242,
    -0.028290727145233955, 0.053362285161138064, -0.012289850696342747, -0.027495652534234825,
    -0.044117918555183974, 0.04805251248474432, -0.02046467992173523, 0.0009559703387261275,
    0.04389377329870956, 0.07632027240470052, 0.013204779010266066, -0.05462964158505201,
    -0.036326722241938114, 0.07027529086917639, 0.02999982424080372, -0.032451620791107416,
    0.09786676522344351, 0.08170538395643234, 0.04128469014540315, -0.00833539105951786,
    0.03046171646565199, 0.07568246452137828, 0.03072756575420499, 0.01643585367128253,
    -0.018795360811054707, 4.302911895080262e-17, 6.410000000000001e-25, -2.13006302326273e-11,
    3.17e-19, 6.60041528839737e-13, 3.17e-19, -9.24210555831862e-15, 1.3800000000000001e-22,
    -1.868873922115947e-10, 2.78e-18, 1.5279368110389703e-11, 3.52e-18, -5.282776687803008e-15,
    7.870000000000001e-23, 7.492528451684908e-09, 1.12e-16, -1.3956580466602104e-08, 2.11e-16,
    4.368471546271194e-10, 6.51e-18, -7.871068718421767e-05, 1.17e-12, 3.2191265310646274e-06,
    1.17e-12, 3.0462283366984335e-17, 4.540000000000001e-25, -1.5079691377913816e-11, 2.25e-19,
    4.672736178605532e-13, 2.25e-19, -9.24210555831862e-15, 1.3800000000000001e-22,
    -1.868873922115947e-10, 2.78e-18, 1.5279368110389703e-11, 3.52e-18, -5.282776687803008e-15,
    7.870000000000001e-23, 7.492528451684908e-09, 1.12e-16, -1.3956580466602104e-08, 2.11e-16,
    4.368471546271194e-10, 6.51e-18, -7.871068718421767e-05, 1.17e-12, 3.2191265310646274e-06,
    1.17e-12, 0.014328596623773128, -0.019762258087051197, 0.015045791206047352,
    -0.023329289009722424, 0.010088258162340068, -0.02005676465518587, -0.0044712221212867675,
    0.0371877942672167, 0.07485425985127431, -0.01522863519425636, 0.017796859208586736,
    -0.02118451925161529, 0.04975089958837136, 0.0023281583148566255, 0.03765681230484971,
    0.10091215201760823, 0.1055375887081027, 0.03730857418850064, 0.03773768059909344,
    0.028236424550414085, 0.06973953638225794, 0.005010980647057295, 0.029394127894192934,
    0.025470551569014788, 0.11250759154135175, 0.03378200702270365, -0.09353342195931946,
    -0.0004737115337176967, 0.07444788179710153, 0.010504853997285214, -0.027646761879798133,
    0.028019429678174012, 0.07486205025191564, 0.07204669551452576, -0.001866430045710103,
    -0.0001473742262949676, 0.03498785914796186, 0.04559636275775478, -0.037156454412042995,
    -0.02292591714075052, -0.0245451144396082, 0.020031657855368305, 0.02425313328055256,
    0.04580238654195981, -0.004910557532757278, 0.0019989310057911933, -0.0014932178374665705,
    -0.015422845343290055, -0.09026969539386366, -0.01784618170539926, 0.0008003270265830649,
    0.042296383961926504, -0.005224989815143839, -0.001589732043040622, 0.002686624038090113,
    -0.0007856737777040333, -0.1108518892981762, -0.028149165350013206, -0.028352735828721203,
    -0.01281312464248411, -0.0034454888936433534, -0.001092166079047347, -0.0008026409106905348,
    0.00356516987465864, 0.0, 0.0, 0.0, 0.0, -0.02338138952565846, -2.519766768672346e-05,
    -0.0002497071768038135, 0.006757117541146339, -0.005579564232432338, 0.014410068273819321,
    0.003030174941572296, -0.00415939371141322, -0.13215241621411492, 0.0012101068410570758,
    0.02570867097389482, 0.027333118441066687
};
#endif

#ifdef BITTERN_ONLY_96000
static const double bittern_selftest_96000[208] = {
    -2.1865088565293e-19, 3.2600000000000004e-27, 8.843832739419016e-14, 1.32e-21,
    -2.503092621796507e-15, 1.32e-21, -1.7492163594885096e-16, 2.6100000000000003e-24,
    3.697405090071256e-12, 6.35e-20, -2.1960259620173672e-14, 6.35e-20, 1.43547749618753e-15,
    2.1400000000000003e-23, 1.4411386965321234e-10, 2.15e-18, -2.8216674498766577e-11, 2.45e-18,
    4.4352205871359586e-10, 6.61e-18, -2.610842611745175e-05, 3.89e-13, 6.157180980831287e-07,
    3.89e-13, -1.5487166760936191e-19, 2.3100000000000002e-27, 6.26054966587687e-14, 9.33e-22,
    -1.7713804329939452e-15, 9.33e-22, -1.7501056397524684e-16, 2.6100000000000003e-24,
    3.697012466629102e-12, 6.35e-20, -2.195088986080913e-14, 6.35e-20, 1.4362072754397028e-15,
    2.1400000000000003e-23, 1.441197474492423e-10, 2.15e-18, -2.821026605408941e-11, 2.45e-18,
    5.601150808073155e-10, 8.35e-18, -3.5094558776780536e-05, 5.23e-13, 8.564758248573057e-07,
    5.23e-13, 0.004351691411128421, -0.018280417538017527, 0.01125363232847591,
    0.01697390619196293, 0.0035473817163088677, -0.022531124767191178, 0.005796298745482654,
    -0.025955492102693368, 0.031242832912141163, -0.012742376227707245, -0.016380488739185704,
    0.01922100445523091, 0.0270660986679502, -0.013482531927470242, 0.002432047058816603,
    0.059916638095916394, 0.05483598513529597, 0.002844174758740083, -0.009314043259792442,
    0.014468743818951425, 0.04904136804570762, -0.004476108698528544, -0.032495888061942396,
    0.059205948699897114, 0.06181060117523489, 0.011285570434415271, -0.00852952496576409,
    0.004027251379184705, 0.055848362672500144, 0.002910061604174171, 0.004900438467322281,
    -0.13179716035174652, -3.0885258514978033e-19, 4.6000000000000006e-27,
    1.2492245782793264e-13, 1.86e-21, -3.53571230595577e-15, 1.86e-21, -1.7492163594885096e-16,
    2.6100000000000003e-24, 3.697405090071256e-12, 6.35e-20, -2.1960259620173672e-14, 6.35e-20,
    1.43547749618753e-15, 2.1400000000000003e-23, 1.4411386965321234e-10, 2.15e-18,
    4.4352205871359586e-10, 6.61e-18, -2.1865088565293e-19, 3.2600000000000004e-27,
    8.843832739419016e-14, 1.32e-21, -2.503092621796507e-15, 1.32e-21, -1.7492163594885096e-16,
    2.6100000000000003e-24, 3.697405090071256e-12, 6.35e-20, -2.1960259620173672e-14, 6.35e-20,
    1.43547749618753e-15, 2.1400000000000003e-23, 1.4411386965321234e-10, 2.15e-18,
    4.4352205871359586e-10, 6.61e-18, -2.610842611745175e-05, 3.89e-13, -2.610842611745175e-05,
    3.89e-13, -2.8216674498766577e-11, 2.45e-18, 6.157180980831287e-07, 3.89e-13,
    -2.8216674498766577e-11, 2.45e-18, 6.157180980831287e-07, 3.89e-13, 0.0031632082536816597,
    -0.012998862657696009, -0.0025172107852995396, 0.028259475715458393, 0.0020084460265934467,
    -0.012006355449557304, 0.003923814743757248, -0.04581107525154948, -0.00229187808890678,
    0.03980544300422577, -0.009311532863227917, 0.08339421762561659, -0.002033453839638737,
    0.03783273099643847, 0.03064055685141651, -0.08004966398318827, -0.023411659929517988,
    0.01706547475158561, 0.02381746779621386, 0.05874854796784506, -0.016950799210772718,
    0.0276564037411996, 0.000878118774756478, -0.03309876278868005, -0.03277855393137106,
    0.007886567894180097, 0.0035619616627754723, 0.0596687571452076, -0.02356460648148729,
    0.018714221733869243, -0.02856383474197562, 0.024555267405568477, -0.10720110032707453,
    -0.020329334773123264, 0.02050594985485077, 0.045946781989187, -0.06565848598256707,
    -0.011971785686910152, -0.025439029559493065, -0.0382835678756237, -0.12714792430230085,
    0.021923897635052217, -0.022580662281433267, -0.06430485382380859, -0.04694978005858639,
    0.011228013780052672, 0.004216013048729501, -0.006235452910888359, -0.11769000357504802,
    -0.08604074349037283, 0.014070153852854811, -0.029633752155427205, -0.024159486068895914,
    -0.029276940647290858, -0.010790416923005674, 0.008225461112208364, -0.11018244363850134,
    -0.09106686224394782, -4.41727519272605e-05, 0.0812343241608868, -0.0174266322608742,
    -0.022608351198416414, 0.0015124675867753026, 0.006068407001843189, 0.0, 0.0, 0.0, 0.0,
    -0.0002450765674993355, -0.00032599214033319016, 0.0001393022572778435,
    -0.0003526926721750073, 0.00011134566739201546, 0.002269947435706854, 0.0020560258999466896,
    0.004588993266224861, 0.0006976285949349403, 0.00015973998233675957, 8.798856288194656e-05,
    0.0012945192866027355
};
#endif

static const bittern_selftest_rate bittern_selftest_rates[] = {
#ifdef BITTERN_ONLY_48000
    { 48000u, 522, 416, 0, 10u, 0xf2b62a52u, bittern_selftest_48000,
      { 0, 6, 9, 10 }, { 1.97e-09, 1.68e-09, 2.36e-09, 2.6e-09 } },
#endif
#ifdef BITTERN_ONLY_96000
    { 96000u, 848, 734, 0, 19u, 0x858e21dcu, bittern_selftest_96000,
      { 0, 12, 17, 19 }, { 1.89e-09, 1.36e-09, 2.2e-09, 2.56e-09 } },
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
        0, 0, 0, 0, 1, -16, 120, -560, 1820, -4368, 8008, -11440, 12870, -11440, 8008, -4368, 1820, -560, 120, -16, 1, 0, 0, 0
    };
    const uint32_t turned = (bittern_selftest.time + (uint32_t)i) & 1024u;
    const uint32_t t = bittern_selftest.time + (uint32_t)i - bittern_selftest.opened;
    int32_t x = turned == 0u ? 15000 : -15000;

    if (t < (uint32_t)BITTERN_SELFTEST_BURST) {
        x = burst[t];
    } else {
        bittern_selftest.noise = (bittern_selftest.noise * 1664525u) + 1013904223u;
        x += (int32_t)(bittern_selftest.noise >> 17) - 16384;
    }
    return x;
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

/* Whether output k of sample i of the block is as near to the next expected number as it has to be. */
static void bittern_selftest_compare(int how, int i, int k, double within)
{
    const int at = (i * bittern_selftest_stride(how, BITTERN_SELFTEST_OUTPUTS)) + bittern_selftest_first(how, k);
    double near = within;
    double off;

    if (how == (int)BITTERN_SELFTEST_INT32) {
        off = (double)bittern_selftest.out.wide[at] * (double)(1.0 / 2147483648.0);
        near += (double)(2.0 / 2147483648.0);
    } else {
        off = bittern_selftest.out.word[at];
    }
    off -= *bittern_selftest.expected;
    bittern_selftest.expected++;
    bittern_selftest_check(off <= near && off >= -near);
}

/* Compares what ways make of the burst in a block that far into a run; behind each expected number stands
 * how near it has to be. */
static void bittern_selftest_compare_burst(uint32_t into, int size)
{
    static const int places[3] = { 4, 13, 18 };
    int k;
    int j;

    for (k = 0; k < BITTERN_SELFTEST_OUTPUTS && into < (uint32_t)BITTERN_SELFTEST_BURST + bittern_selftest.latest; k++) {
        for (j = 0; j < 3; j++) {
            const int i = places[j] + bittern_selftest.late[k % BITTERN_WAYS] - (int)into;

            if (i >= 0 && i < size) {
                bittern_selftest_compare((int)BITTERN_SELFTEST_PLANAR, i, k, bittern_selftest.expected[1]);
                bittern_selftest.expected++;
            }
        }
    }
}

/* n samples of every channel in blocks, and so many comparisons, the last at the end. */
static void bittern_selftest_run(int n, int looks)
{
    static const unsigned char sizes[8] = { 64, 32, 0, 1, 2, 7, 33, 21 };
    int done = 0;

    while (done < n) {
        const uint32_t into = bittern_selftest.time - bittern_selftest.opened;
        const int how = into < (uint32_t)BITTERN_SELFTEST_BURST + bittern_selftest.latest ? (int)BITTERN_SELFTEST_PLANAR
            : (int)(bittern_selftest.block % (unsigned int)BITTERN_SELFTEST_HOWS);
        int size = (int)sizes[bittern_selftest.block % 8u];
        int j;

        size = n - done < size ? n - done : size;
        bittern_selftest.block++;
        bittern_selftest_fill(how, size);
        bittern_selftest_filter(how, size);
        bittern_selftest_hash(how, size);
        bittern_selftest_compare_burst(into, size);
        for (j = looks - 1; j >= 0; j--) {
            const int i = n - done - 1 - (n * j * j / 18);
            int k;

            for (k = 0; k < BITTERN_SELFTEST_OUTPUTS && i >= 0 && i < size; k++) {
                bittern_selftest_compare(how, i, k, bittern_selftest.within[k % BITTERN_WAYS]);
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
    bittern_selftest.late = rate->late;
    bittern_selftest.latest = rate->latest;
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
