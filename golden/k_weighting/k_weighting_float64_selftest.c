/*
 * k_weighting_float64_selftest.c: self-test of the loudspeaker filters of "k_weighting" in double precision
 * Spec SHA-256 29e1ef5e82e76c1e77f1dd7279d7a5b11a20f993805dabaca2663d1272037fd4
 *
 * Compile it beside k_weighting_float64.c with the options of the program, declare
 *
 *     int k_weighting_float64_selftest(void);
 *
 * and call it before any output is live: it plays nothing, and touches no state but its own.
 * With K_WEIGHTING_SELFTEST_MAIN defined the file has a main that returns what it says:
 *
 *   0   every output is the compiler's own simulation, to the bit
 *   1   not to the bit, but every output that was compared is as near as round-off explains:
 *       compiler or processor compute otherwise than asked
 *   2   wrong: do not let this near a loudspeaker
 *
 * What is tried:
 * all outputs at 48000 Hz; blocks of 64, 32, 0, 1, 2, 7, 33, 21 samples and what is left at the
 * end; run in and out of place, run_frames and run_frames_int32; init, change of rate and
 * resets; mute and its end; calls that have to be refused; a sample that is no number, and what
 * follows the reset.
 *
 * It takes 2048 bytes beside one k_weighting_state, uses no library but memcpy, and is not for
 * two threads at once.
 */
#include "k_weighting_float64.h"

#include <string.h>

#ifdef __cplusplus
extern "C" int k_weighting_float64_selftest(void);
#else
int k_weighting_float64_selftest(void);
#endif

/* Where k_weighting_float64.c is compiled for fewer rates, define the same here. */
#if !(defined K_WEIGHTING_ONLY_48000)
#define K_WEIGHTING_ONLY_48000
#endif

#define K_WEIGHTING_SELFTEST_OUTPUTS (K_WEIGHTING_CHANNELS * K_WEIGHTING_WAYS)
#define K_WEIGHTING_SELFTEST_BLOCK 64
#define K_WEIGHTING_SELFTEST_LOOKS 4 /* comparisons in a run, from its middle on */
#define K_WEIGHTING_SELFTEST_BURST 24 /* samples of the highest frequency that a run begins with */
#define K_WEIGHTING_SELFTEST_AFTER 224 /* samples after the end of a mute, or the reset of a channel */

/* How a block is run; the numbers go round. */
enum k_weighting_selftest_how {
    K_WEIGHTING_SELFTEST_PLANAR = 0,
    K_WEIGHTING_SELFTEST_IN_FIRST = 1, /* in place, with the first output of the channel */
    K_WEIGHTING_SELFTEST_FRAMES = 2,
    K_WEIGHTING_SELFTEST_IN_LAST = 3,
    K_WEIGHTING_SELFTEST_INT32 = 4,
    K_WEIGHTING_SELFTEST_HOWS = 5
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
    int late[K_WEIGHTING_WAYS]; /* samples that a way hears late */
    double within[K_WEIGHTING_WAYS]; /* how far from what is expected is near */
} k_weighting_selftest_rate;

#ifdef K_WEIGHTING_ONLY_48000
static const double k_weighting_selftest_48000[32] = {
    1.5055856269622206e-10, 2.24e-18, -5.989993696530229e-05, 8.93e-13, 1.6798438475113975e-06,
    8.93e-13, 1.5055856269622206e-10, 2.24e-18, -5.989993696530229e-05, 8.93e-13,
    1.6798438475113975e-06, 8.93e-13, 0.40431756458269885, 0.27510906926831413,
    0.19585239520926453, 0.080063215775332, 0.29809611820997145, 0.04634799225018392,
    -0.309422749923467, -0.0910892249540369, -0.07039026866973853, -0.15645209250977882,
    -0.11099879166968718, 0.001210088000806448, -0.047614423068768584, 0.0, 0.23014322660836323,
    0.0, 0.0, 0.17755405377380315, 0.11351858943131041, -0.3220185510978933
};
#endif

static const k_weighting_selftest_rate k_weighting_selftest_rates[] = {
#ifdef K_WEIGHTING_ONLY_48000
    { 48000u, 1216, 528, 0, 0u, 0x836dcdd5u, k_weighting_selftest_48000,
      { 0 }, { 1.43e-08 } },
#endif
};

/* Samples, as words of the format or as integers. */
typedef union {
    double word[K_WEIGHTING_CHANNELS * K_WEIGHTING_SELFTEST_BLOCK];
    int32_t wide[K_WEIGHTING_CHANNELS * K_WEIGHTING_SELFTEST_BLOCK];
} k_weighting_selftest_input;

typedef union {
    double word[K_WEIGHTING_SELFTEST_OUTPUTS * K_WEIGHTING_SELFTEST_BLOCK];
    int32_t wide[K_WEIGHTING_SELFTEST_OUTPUTS * K_WEIGHTING_SELFTEST_BLOCK];
} k_weighting_selftest_output;

static struct {
    k_weighting_state filters;
    k_weighting_selftest_input in;
    k_weighting_selftest_output out;
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
} k_weighting_selftest;

static void k_weighting_selftest_check(int fine)
{
    if (fine == 0) {
        k_weighting_selftest.wrong = 1;
    }
}

/* How far apart the samples of a line are where there are so many lines, and where the
 * first of line k stands. */
static int k_weighting_selftest_stride(int how, int lines)
{
    return how == (int)K_WEIGHTING_SELFTEST_FRAMES || how == (int)K_WEIGHTING_SELFTEST_INT32 ? lines : 1;
}

static int k_weighting_selftest_first(int how, int k)
{
    return k_weighting_selftest_stride(how, 2) == 2 ? k : k * K_WEIGHTING_SELFTEST_BLOCK;
}

/* Where a channel's samples in words begin. */
static double *k_weighting_selftest_input_of(int how, int c)
{
    double *in = &k_weighting_selftest.in.word[k_weighting_selftest_first(how, c)];

    if (how == (int)K_WEIGHTING_SELFTEST_IN_FIRST) {
        in = &k_weighting_selftest.out.word[c * K_WEIGHTING_WAYS * K_WEIGHTING_SELFTEST_BLOCK];
    } else if (how == (int)K_WEIGHTING_SELFTEST_IN_LAST) {
        in = &k_weighting_selftest.out.word[((c * K_WEIGHTING_WAYS) + K_WEIGHTING_WAYS - 1) * K_WEIGHTING_SELFTEST_BLOCK];
    } else {
        /* out of place */
    }
    return in;
}

/* The next sample of 16 bits: a burst, or noise and a step. */
static int32_t k_weighting_selftest_sample(int i)
{
    static const int16_t burst[K_WEIGHTING_SELFTEST_BURST] = {
        0, 0, 0, 0, 1, -16, 120, -560, 1820, -4368, 8008, -11440, 12870, -11440, 8008, -4368, 1820, -560, 120, -16, 1, 0, 0, 0
    };
    const uint32_t turned = (k_weighting_selftest.time + (uint32_t)i) & 1024u;
    const uint32_t t = k_weighting_selftest.time + (uint32_t)i - k_weighting_selftest.opened;
    int32_t x = turned == 0u ? 15000 : -15000;

    if (t < (uint32_t)K_WEIGHTING_SELFTEST_BURST) {
        x = burst[t];
    } else {
        k_weighting_selftest.noise = (k_weighting_selftest.noise * 1664525u) + 1013904223u;
        x += (int32_t)(k_weighting_selftest.noise >> 17) - 16384;
    }
    return x;
}

/* Makes the block's samples. */
static void k_weighting_selftest_fill(int how, int size)
{
    const int stride = k_weighting_selftest_stride(how, K_WEIGHTING_CHANNELS);
    int c;
    int i;

    for (c = 0; c < K_WEIGHTING_CHANNELS; c++) {
        if (how == (int)K_WEIGHTING_SELFTEST_INT32) {
            for (i = 0; i < size; i++) {
                k_weighting_selftest.in.wide[(i * stride) + c] = k_weighting_selftest_sample(i) * 65536;
            }
        } else {
            double *const in = k_weighting_selftest_input_of(how, c);

            for (i = 0; i < size; i++) {
                in[i * stride] = (double)k_weighting_selftest_sample(i) * (double)3.0517578125e-05;
            }
            if (size > 0 && c >= k_weighting_selftest.spoilt_from && c < k_weighting_selftest.spoilt_to) {
                static const uint64_t none = UINT64_C(0x7ff8000000000001);

                (void)memcpy(in, &none, sizeof none);
                k_weighting_selftest.spoilt_from++;
            }
        }
    }
    k_weighting_selftest.time += (uint32_t)size;
}

/* Runs the block. */
static void k_weighting_selftest_filter(int how, int size)
{
    k_weighting_state *const s = &k_weighting_selftest.filters;
    k_weighting_selftest_input *const from = &k_weighting_selftest.in;
    k_weighting_selftest_output *const to = &k_weighting_selftest.out;
    int failed;

    if (how == (int)K_WEIGHTING_SELFTEST_FRAMES) {
        failed = k_weighting_run_frames(s, from->word, to->word, size);
    } else if (how == (int)K_WEIGHTING_SELFTEST_INT32) {
        failed = k_weighting_run_frames_int32(s, from->wide, to->wide, size);
    } else {
        const double *in[K_WEIGHTING_CHANNELS];
        double *out[K_WEIGHTING_SELFTEST_OUTPUTS];
        int k;

        for (k = 0; k < K_WEIGHTING_CHANNELS; k++) {
            in[k] = k_weighting_selftest_input_of(how, k);
        }
        for (k = 0; k < K_WEIGHTING_SELFTEST_OUTPUTS; k++) {
            out[k] = &to->word[k * K_WEIGHTING_SELFTEST_BLOCK];
        }
        failed = k_weighting_run(s, in, out, size);
    }
    k_weighting_selftest_check(failed == 0);
}

/* Takes all outputs of the block into the hash, FNV-1a's of whole words. */
static void k_weighting_selftest_hash(int how, int size)
{
    const int stride = k_weighting_selftest_stride(how, K_WEIGHTING_SELFTEST_OUTPUTS);
    uint32_t hash = k_weighting_selftest.hash;
    int k;
    int i;

    for (k = 0; k < K_WEIGHTING_SELFTEST_OUTPUTS; k++) {
        const int first = k_weighting_selftest_first(how, k);

        if (how == (int)K_WEIGHTING_SELFTEST_INT32) {
            for (i = 0; i < size; i++) {
                hash = (hash ^ (uint32_t)k_weighting_selftest.out.wide[(i * stride) + first]) * 16777619u;
            }
        } else {
            const double *const out = &k_weighting_selftest.out.word[first];

            for (i = 0; i < size; i++) {
                uint64_t bits;

                (void)memcpy(&bits, &out[i * stride], sizeof bits);
                hash = (hash ^ (uint32_t)(bits >> 32)) * 16777619u;
                hash = (hash ^ (uint32_t)(bits & 0xffffffffu)) * 16777619u;
            }
        }
    }
    k_weighting_selftest.hash = hash;
}

/* Whether output k of sample i of the block is as near to the next expected number as it has to be. */
static void k_weighting_selftest_compare(int how, int i, int k, double within)
{
    const int at = (i * k_weighting_selftest_stride(how, K_WEIGHTING_SELFTEST_OUTPUTS)) + k_weighting_selftest_first(how, k);
    double near = within;
    double off;

    if (how == (int)K_WEIGHTING_SELFTEST_INT32) {
        off = (double)k_weighting_selftest.out.wide[at] * (double)(1.0 / 2147483648.0);
        near += (double)(2.0 / 2147483648.0);
    } else {
        off = k_weighting_selftest.out.word[at];
    }
    off -= *k_weighting_selftest.expected;
    k_weighting_selftest.expected++;
    k_weighting_selftest_check(off <= near && off >= -near);
}

/* Compares what ways make of the burst in a block that far into a run; behind each expected number stands
 * how near it has to be. */
static void k_weighting_selftest_compare_burst(uint32_t into, int size)
{
    static const int places[3] = { 4, 13, 18 };
    int k;
    int j;

    for (k = 0; k < K_WEIGHTING_SELFTEST_OUTPUTS && into < (uint32_t)K_WEIGHTING_SELFTEST_BURST + k_weighting_selftest.latest; k++) {
        for (j = 0; j < 3; j++) {
            const int i = places[j] + k_weighting_selftest.late[k % K_WEIGHTING_WAYS] - (int)into;

            if (i >= 0 && i < size) {
                k_weighting_selftest_compare((int)K_WEIGHTING_SELFTEST_PLANAR, i, k, k_weighting_selftest.expected[1]);
                k_weighting_selftest.expected++;
            }
        }
    }
}

/* n samples of every channel in blocks, and so many comparisons, the last at the end. */
static void k_weighting_selftest_run(int n, int looks)
{
    static const unsigned char sizes[8] = { 64, 32, 0, 1, 2, 7, 33, 21 };
    int done = 0;

    while (done < n) {
        const uint32_t into = k_weighting_selftest.time - k_weighting_selftest.opened;
        const int how = into < (uint32_t)K_WEIGHTING_SELFTEST_BURST + k_weighting_selftest.latest ? (int)K_WEIGHTING_SELFTEST_PLANAR
            : (int)(k_weighting_selftest.block % (unsigned int)K_WEIGHTING_SELFTEST_HOWS);
        int size = (int)sizes[k_weighting_selftest.block % 8u];
        int j;

        size = n - done < size ? n - done : size;
        k_weighting_selftest.block++;
        k_weighting_selftest_fill(how, size);
        k_weighting_selftest_filter(how, size);
        k_weighting_selftest_hash(how, size);
        k_weighting_selftest_compare_burst(into, size);
        for (j = looks - 1; j >= 0; j--) {
            const int i = n - done - 1 - (n * j * j / 18);
            int k;

            for (k = 0; k < K_WEIGHTING_SELFTEST_OUTPUTS && i >= 0 && i < size; k++) {
                k_weighting_selftest_compare(how, i, k, k_weighting_selftest.within[k % K_WEIGHTING_WAYS]);
            }
        }
        done += size;
    }
}

/* Calls that have to be refused, with a state that is not initialised and with one that is. */
static void k_weighting_selftest_refused(uint32_t hz)
{
    k_weighting_state *const s = &k_weighting_selftest.filters;
    const double *const in = k_weighting_selftest.in.word;
    double *const out = k_weighting_selftest.out.word;

    k_weighting_selftest_check(k_weighting_init(s, 1u) == 1);
    k_weighting_selftest_check(k_weighting_run_frames(s, in, out, 1) == 1);
    k_weighting_selftest_check(k_weighting_set_rate(s, hz) == 1);
    k_weighting_selftest_check(k_weighting_init(s, hz) == 0);
    k_weighting_selftest_check(k_weighting_set_rate(s, 1u) == 1);
    k_weighting_selftest_check(k_weighting_run_frames(s, in, out, -1) == 1);
    k_weighting_selftest_check(k_weighting_mute(s, K_WEIGHTING_CHANNELS, 1) == 1);
    k_weighting_selftest_check(k_weighting_reset_channel(s, -1) == 1);
}

/* All that is tried at a rate: 0, 1 or 2. */
static int k_weighting_selftest_one(const k_weighting_selftest_rate *rate, int first)
{
    k_weighting_state *const s = &k_weighting_selftest.filters;
    const int last = K_WEIGHTING_CHANNELS - 1;
    k_weighting_selftest.expected = rate->expected;
    k_weighting_selftest.within = rate->within;
    k_weighting_selftest.late = rate->late;
    k_weighting_selftest.latest = rate->latest;
    k_weighting_selftest.noise = 1u;
    k_weighting_selftest.time = 0u;
    k_weighting_selftest.opened = 0u;
    k_weighting_selftest.hash = 2166136261u;
    k_weighting_selftest.block = 0u;
    k_weighting_selftest.spoilt_from = 0;
    k_weighting_selftest.spoilt_to = 0;
    k_weighting_selftest.wrong = 0;
    if (first != 0) {
        k_weighting_selftest_refused(rate->hz);
    } else {
        k_weighting_selftest_check(k_weighting_set_rate(s, rate->hz) == 0);
    }
    k_weighting_selftest_run(rate->run, K_WEIGHTING_SELFTEST_LOOKS);

    k_weighting_selftest_check(k_weighting_mute(s, last, 1) == 0 && k_weighting_muted(s, last) == 1);
    k_weighting_selftest_run(rate->fade, K_WEIGHTING_SELFTEST_LOOKS);
    k_weighting_selftest_check(k_weighting_mute(s, last, 0) == 0 && k_weighting_muted(s, last) == 0);
    k_weighting_selftest.spoilt_to = 1;
    k_weighting_selftest_run(K_WEIGHTING_SELFTEST_AFTER, 1);
    k_weighting_selftest_check(k_weighting_garbage(s, 0) == 1);
    k_weighting_selftest_check(k_weighting_reset_channel(s, 0) == 0 && k_weighting_garbage(s, 0) == 0);
    k_weighting_selftest_run(K_WEIGHTING_SELFTEST_AFTER, 1);
    return k_weighting_selftest.wrong != 0 ? 2 : k_weighting_selftest.hash != rate->hash ? 1 : 0;
}

int k_weighting_float64_selftest(void)
{
    const int rates = (int)(sizeof k_weighting_selftest_rates / sizeof k_weighting_selftest_rates[0]);
    int worst = 0;
    int i;

    for (i = 0; i < rates; i++) {
        const int found = k_weighting_selftest_one(&k_weighting_selftest_rates[i], i == 0 ? 1 : 0);

        worst = found > worst ? found : worst;
    }
    return worst;
}

#ifdef K_WEIGHTING_SELFTEST_MAIN
int main(void)
{
    return k_weighting_float64_selftest();
}
#endif
