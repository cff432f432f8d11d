/*
 * a_weighting_float32_selftest.c: self-test of the loudspeaker filters of "a_weighting" in single precision
 * Spec SHA-256 586ddc2e7bfba0c537e7adf995975c582ba12a8e1321cb9998a02ca317388236
 *
 * Compile it beside a_weighting_float32.c with the options of the program, declare
 *
 *     int a_weighting_float32_selftest(void);
 *
 * and call it before any output is live: it plays nothing, and touches no state but its own.
 * With A_WEIGHTING_SELFTEST_MAIN defined the file has a main that returns what it says:
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
 * what follows the reset.
 *
 * It takes 512 bytes beside one a_weighting_state, uses no library but memcpy, and is not for
 * two threads at once.
 */
#include "a_weighting_float32.h"

#include <string.h>

#ifdef __cplusplus
extern "C" int a_weighting_float32_selftest(void);
#else
int a_weighting_float32_selftest(void);
#endif

/* Where a_weighting_float32.c is compiled for fewer rates, define the same here. */
#if !(defined A_WEIGHTING_ONLY_48000 || defined A_WEIGHTING_ONLY_96000)
#define A_WEIGHTING_ONLY_48000
#define A_WEIGHTING_ONLY_96000
#endif

#define A_WEIGHTING_SELFTEST_OUTPUTS (A_WEIGHTING_CHANNELS * A_WEIGHTING_WAYS)
#define A_WEIGHTING_SELFTEST_BLOCK 64
#define A_WEIGHTING_SELFTEST_LOOKS 4 /* comparisons in a run, from its middle on */
#define A_WEIGHTING_SELFTEST_BURST 24 /* samples of the highest frequency that a run begins with */
#define A_WEIGHTING_SELFTEST_AFTER 224 /* samples after the end of a mute, or the reset of a channel */

/* How a block is run; the numbers go round. */
enum a_weighting_selftest_how {
    A_WEIGHTING_SELFTEST_PLANAR = 0,
    A_WEIGHTING_SELFTEST_IN_FIRST = 1, /* in place, with the first output of the channel */
    A_WEIGHTING_SELFTEST_FRAMES = 2,
    A_WEIGHTING_SELFTEST_IN_LAST = 3,
    A_WEIGHTING_SELFTEST_INT32 = 4,
    A_WEIGHTING_SELFTEST_HOWS = 5
};

/* What is done at a rate, and what has to come of it. */
typedef struct {
    uint32_t hz;
    int run; /* samples from a reset */
    int fade; /* samples after a mute */
    int change; /* samples from a change of settings; 0: none is tried */
    uint32_t latest; /* samples that the latest way hears late */
    uint32_t hash; /* of all outputs */
    const float *expected; /* some of them */
    int late[A_WEIGHTING_WAYS]; /* samples that a way hears late */
    float within[A_WEIGHTING_WAYS]; /* how far from what is expected is near */
} a_weighting_selftest_rate;

#ifdef A_WEIGHTING_ONLY_48000
static const float a_weighting_selftest_48000[16] = {
    8.229103e-11f, 3.07e-16f, -1.3414654e-05f, 1.18e-10f, -4.2591375e-07f, 1.18e-10f,
    -0.28173205f, 0.20765589f, 0.06290219f, -0.29659063f, 0.042247992f, 0.00548922f, 0.0f, 0.0f,
    0.0f, 0.0009377669f
};
#endif

#ifdef A_WEIGHTING_ONLY_96000
static const float a_weighting_selftest_96000[16] = {
    5.025669e-12f, 1.1e-17f, -4.9347904e-07f, 6.36e-12f, -6.4478707e-09f, 6.36e-12f,
    -0.26411662f, 0.12017727f, 0.019602641f, -0.16220666f, -0.0062497854f, 0.008014327f,
    -6.5819825e-07f, 0.0f, 0.0f, -0.014780542f
};
#endif

static const a_weighting_selftest_rate a_weighting_selftest_rates[] = {
#ifdef A_WEIGHTING_ONLY_48000
    { 48000u, 1216, 528, 0, 0u, 0x123051feu, a_weighting_selftest_48000,
      { 0 }, { 1.03e-06f } },
#endif
#ifdef A_WEIGHTING_ONLY_96000
    { 96000u, 1216, 1008, 0, 0u, 0xfb7b24ecu, a_weighting_selftest_96000,
      { 0 }, { 9.06e-07f } },
#endif
};

/* Samples, as words of the format or as integers. */
typedef union {
    float word[A_WEIGHTING_CHANNELS * A_WEIGHTING_SELFTEST_BLOCK];
    int32_t wide[A_WEIGHTING_CHANNELS * A_WEIGHTING_SELFTEST_BLOCK];
} a_weighting_selftest_input;

typedef union {
    float word[A_WEIGHTING_SELFTEST_OUTPUTS * A_WEIGHTING_SELFTEST_BLOCK];
    int32_t wide[A_WEIGHTING_SELFTEST_OUTPUTS * A_WEIGHTING_SELFTEST_BLOCK];
} a_weighting_selftest_output;

static struct {
    a_weighting_state filters;
    a_weighting_selftest_input in;
    a_weighting_selftest_output out;
    const float *expected; /* the next to compare with */
    const float *within;
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
} a_weighting_selftest;

static void a_weighting_selftest_check(int fine)
{
    if (fine == 0) {
        a_weighting_selftest.wrong = 1;
    }
}

/* How far apart the samples of a line are where there are so many lines, and where the
 * first of line k stands. */
static int a_weighting_selftest_stride(int how, int lines)
{
    return how == (int)A_WEIGHTING_SELFTEST_FRAMES || how == (int)A_WEIGHTING_SELFTEST_INT32 ? lines : 1;
}

static int a_weighting_selftest_first(int how, int k)
{
    return a_weighting_selftest_stride(how, 2) == 2 ? k : k * A_WEIGHTING_SELFTEST_BLOCK;
}

/* Where a channel's samples in words begin. */
static float *a_weighting_selftest_input_of(int how, int c)
{
    float *in = &a_weighting_selftest.in.word[a_weighting_selftest_first(how, c)];

    if (how == (int)A_WEIGHTING_SELFTEST_IN_FIRST) {
        in = &a_weighting_selftest.out.word[c * A_WEIGHTING_WAYS * A_WEIGHTING_SELFTEST_BLOCK];
    } else if (how == (int)A_WEIGHTING_SELFTEST_IN_LAST) {
        in = &a_weighting_selftest.out.word[((c * A_WEIGHTING_WAYS) + A_WEIGHTING_WAYS - 1) * A_WEIGHTING_SELFTEST_BLOCK];
    } else {
        /* out of place */
    }
    return in;
}

/* The next sample of 16 bits: a burst, or noise and a step. */
static int32_t a_weighting_selftest_sample(int i)
{
    static const int16_t burst[A_WEIGHTING_SELFTEST_BURST] = {
        0, 0, 0, 0, 1, -16, 120, -560, 1820, -4368, 8008, -11440, 12870, -11440, 8008, -4368, 1820, -560, 120, -16, 1, 0, 0, 0
    };
    const uint32_t turned = (a_weighting_selftest.time + (uint32_t)i) & 1024u;
    const uint32_t t = a_weighting_selftest.time + (uint32_t)i - a_weighting_selftest.opened;
    int32_t x = turned == 0u ? 15000 : -15000;

    if (t < (uint32_t)A_WEIGHTING_SELFTEST_BURST) {
        x = burst[t];
    } else {
        a_weighting_selftest.noise = (a_weighting_selftest.noise * 1664525u) + 1013904223u;
        x += (int32_t)(a_weighting_selftest.noise >> 17) - 16384;
    }
    return x;
}

/* Makes the block's samples. */
static void a_weighting_selftest_fill(int how, int size)
{
    const int stride = a_weighting_selftest_stride(how, A_WEIGHTING_CHANNELS);
    int c;
    int i;

    for (c = 0; c < A_WEIGHTING_CHANNELS; c++) {
        if (how == (int)A_WEIGHTING_SELFTEST_INT32) {
            for (i = 0; i < size; i++) {
                a_weighting_selftest.in.wide[(i * stride) + c] = a_weighting_selftest_sample(i) * 65536;
            }
        } else {
            float *const in = a_weighting_selftest_input_of(how, c);

            for (i = 0; i < size; i++) {
                in[i * stride] = (float)a_weighting_selftest_sample(i) * (float)3.0517578125e-05;
            }
            if (size > 0 && c >= a_weighting_selftest.spoilt_from && c < a_weighting_selftest.spoilt_to) {
                static const uint32_t none = 0x7fc00000u;

                (void)memcpy(in, &none, sizeof none);
                a_weighting_selftest.spoilt_from++;
            }
        }
    }
    a_weighting_selftest.time += (uint32_t)size;
}

/* Runs the block. */
static void a_weighting_selftest_filter(int how, int size)
{
    a_weighting_state *const s = &a_weighting_selftest.filters;
    a_weighting_selftest_input *const from = &a_weighting_selftest.in;
    a_weighting_selftest_output *const to = &a_weighting_selftest.out;
    int failed;

    if (how == (int)A_WEIGHTING_SELFTEST_FRAMES) {
        failed = a_weighting_run_frames(s, from->word, to->word, size);
    } else if (how == (int)A_WEIGHTING_SELFTEST_INT32) {
        failed = a_weighting_run_frames_int32(s, from->wide, to->wide, size);
    } else {
        const float *in[A_WEIGHTING_CHANNELS];
        float *out[A_WEIGHTING_SELFTEST_OUTPUTS];
        int k;

        for (k = 0; k < A_WEIGHTING_CHANNELS; k++) {
            in[k] = a_weighting_selftest_input_of(how, k);
        }
        for (k = 0; k < A_WEIGHTING_SELFTEST_OUTPUTS; k++) {
            out[k] = &to->word[k * A_WEIGHTING_SELFTEST_BLOCK];
        }
        failed = a_weighting_run(s, in, out, size);
    }
    a_weighting_selftest_check(failed == 0);
}

/* Takes all outputs of the block into the hash, FNV-1a's of whole words. */
static void a_weighting_selftest_hash(int how, int size)
{
    const int stride = a_weighting_selftest_stride(how, A_WEIGHTING_SELFTEST_OUTPUTS);
    uint32_t hash = a_weighting_selftest.hash;
    int k;
    int i;

    for (k = 0; k < A_WEIGHTING_SELFTEST_OUTPUTS; k++) {
        const int first = a_weighting_selftest_first(how, k);

        if (how == (int)A_WEIGHTING_SELFTEST_INT32) {
            for (i = 0; i < size; i++) {
                hash = (hash ^ (uint32_t)a_weighting_selftest.out.wide[(i * stride) + first]) * 16777619u;
            }
        } else {
            const float *const out = &a_weighting_selftest.out.word[first];

            for (i = 0; i < size; i++) {
                uint32_t bits;

                (void)memcpy(&bits, &out[i * stride], sizeof bits);
                hash = (hash ^ bits) * 16777619u;
            }
        }
    }
    a_weighting_selftest.hash = hash;
}

/* Whether output k of sample i of the block is as near to the next expected number as it has to be. */
static void a_weighting_selftest_compare(int how, int i, int k, float within)
{
    const int at = (i * a_weighting_selftest_stride(how, A_WEIGHTING_SELFTEST_OUTPUTS)) + a_weighting_selftest_first(how, k);
    float near = within;
    float off;

    if (how == (int)A_WEIGHTING_SELFTEST_INT32) {
        off = (float)a_weighting_selftest.out.wide[at] * (float)(1.0 / 2147483648.0);
        near += (float)(2.0 / 2147483648.0);
    } else {
        off = a_weighting_selftest.out.word[at];
    }
    off -= *a_weighting_selftest.expected;
    a_weighting_selftest.expected++;
    a_weighting_selftest_check(off <= near && off >= -near);
}

/* Compares what ways make of the burst in a block that far into a run; behind each expected number stands
 * how near it has to be. */
static void a_weighting_selftest_compare_burst(uint32_t into, int size)
{
    static const int places[3] = { 4, 13, 18 };
    int k;
    int j;

    for (k = 0; k < A_WEIGHTING_SELFTEST_OUTPUTS && into < (uint32_t)A_WEIGHTING_SELFTEST_BURST + a_weighting_selftest.latest; k++) {
        for (j = 0; j < 3; j++) {
            const int i = places[j] + a_weighting_selftest.late[k % A_WEIGHTING_WAYS] - (int)into;

            if (i >= 0 && i < size) {
                a_weighting_selftest_compare((int)A_WEIGHTING_SELFTEST_PLANAR, i, k, a_weighting_selftest.expected[1]);
                a_weighting_selftest.expected++;
            }
        }
    }
}

/* n samples of every channel in blocks, and so many comparisons, the last at the end. */
static void a_weighting_selftest_run(int n, int looks)
{
    static const unsigned char sizes[8] = { 64, 32, 0, 1, 2, 7, 33, 21 };
    int done = 0;

    while (done < n) {
        const uint32_t into = a_weighting_selftest.time - a_weighting_selftest.opened;
        const int how = into < (uint32_t)A_WEIGHTING_SELFTEST_BURST + a_weighting_selftest.latest ? (int)A_WEIGHTING_SELFTEST_PLANAR
            : (int)(a_weighting_selftest.block % (unsigned int)A_WEIGHTING_SELFTEST_HOWS);
        int size = (int)sizes[a_weighting_selftest.block % 8u];
        int j;

        size = n - done < size ? n - done : size;
        a_weighting_selftest.block++;
        a_weighting_selftest_fill(how, size);
        a_weighting_selftest_filter(how, size);
        a_weighting_selftest_hash(how, size);
        a_weighting_selftest_compare_burst(into, size);
        for (j = looks - 1; j >= 0; j--) {
            const int i = n - done - 1 - (n * j * j / 18);
            int k;

            for (k = 0; k < A_WEIGHTING_SELFTEST_OUTPUTS && i >= 0 && i < size; k++) {
                a_weighting_selftest_compare(how, i, k, a_weighting_selftest.within[k % A_WEIGHTING_WAYS]);
            }
        }
        done += size;
    }
}

/* Calls that have to be refused, with a state that is not initialised and with one that is. */
static void a_weighting_selftest_refused(uint32_t hz)
{
    a_weighting_state *const s = &a_weighting_selftest.filters;
    const float *const in = a_weighting_selftest.in.word;
    float *const out = a_weighting_selftest.out.word;

    a_weighting_selftest_check(a_weighting_init(s, 1u) == 1);
    a_weighting_selftest_check(a_weighting_run_frames(s, in, out, 1) == 1);
    a_weighting_selftest_check(a_weighting_set_rate(s, hz) == 1);
    a_weighting_selftest_check(a_weighting_init(s, hz) == 0);
    a_weighting_selftest_check(a_weighting_set_rate(s, 1u) == 1);
    a_weighting_selftest_check(a_weighting_run_frames(s, in, out, -1) == 1);
    a_weighting_selftest_check(a_weighting_mute(s, A_WEIGHTING_CHANNELS, 1) == 1);
    a_weighting_selftest_check(a_weighting_reset_channel(s, -1) == 1);
}

/* All that is tried at a rate: 0, 1 or 2. */
static int a_weighting_selftest_one(const a_weighting_selftest_rate *rate, int first)
{
    a_weighting_state *const s = &a_weighting_selftest.filters;
    const int last = A_WEIGHTING_CHANNELS - 1;
    a_weighting_selftest.expected = rate->expected;
    a_weighting_selftest.within = rate->within;
    a_weighting_selftest.late = rate->late;
    a_weighting_selftest.latest = rate->latest;
    a_weighting_selftest.noise = 1u;
    a_weighting_selftest.time = 0u;
    a_weighting_selftest.opened = 0u;
    a_weighting_selftest.hash = 2166136261u;
    a_weighting_selftest.block = 0u;
    a_weighting_selftest.spoilt_from = 0;
    a_weighting_selftest.spoilt_to = 0;
    a_weighting_selftest.wrong = 0;
    if (first != 0) {
        a_weighting_selftest_refused(rate->hz);
    } else {
        a_weighting_selftest_check(a_weighting_set_rate(s, rate->hz) == 0);
    }
    a_weighting_selftest_run(rate->run, A_WEIGHTING_SELFTEST_LOOKS);

    a_weighting_selftest_check(a_weighting_mute(s, last, 1) == 0 && a_weighting_muted(s, last) == 1);
    a_weighting_selftest_run(rate->fade, A_WEIGHTING_SELFTEST_LOOKS);
    a_weighting_selftest_check(a_weighting_mute(s, last, 0) == 0 && a_weighting_muted(s, last) == 0);
    a_weighting_selftest.spoilt_to = 1;
    a_weighting_selftest_run(A_WEIGHTING_SELFTEST_AFTER, 1);
    a_weighting_selftest_check(a_weighting_garbage(s, 0) == 1);
    a_weighting_selftest_check(a_weighting_reset_channel(s, 0) == 0 && a_weighting_garbage(s, 0) == 0);
    a_weighting_selftest_run(A_WEIGHTING_SELFTEST_AFTER, 1);
    return a_weighting_selftest.wrong != 0 ? 2 : a_weighting_selftest.hash != rate->hash ? 1 : 0;
}

int a_weighting_float32_selftest(void)
{
    const int rates = (int)(sizeof a_weighting_selftest_rates / sizeof a_weighting_selftest_rates[0]);
    int worst = 0;
    int i;

    for (i = 0; i < rates; i++) {
        const int found = a_weighting_selftest_one(&a_weighting_selftest_rates[i], i == 0 ? 1 : 0);

        worst = found > worst ? found : worst;
    }
    return worst;
}

#ifdef A_WEIGHTING_SELFTEST_MAIN
int main(void)
{
    return a_weighting_float32_selftest();
}
#endif
