/*
 * pipit_float32_selftest.c: self-test of the loudspeaker filters of "pipit" in single precision
 * Spec SHA-256 4eae535d87d6de68631765ffcaa2606f86dbf6bf82c80c9bf5fe841db6e2b4f7
 *
 * Compile it beside pipit_float32.c with the options of the program, declare
 *
 *     int pipit_float32_selftest(void);
 *
 * and call it before any output is live: it plays nothing, and touches no state but its own.
 * With PIPIT_SELFTEST_MAIN defined the file has a main that returns what it says:
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
 * It takes 768 bytes beside one pipit_state, uses no library but memcpy, and is not for
 * two threads at once.
 */
#include "pipit_float32.h"

#include <string.h>

#ifdef __cplusplus
extern "C" int pipit_float32_selftest(void);
#else
int pipit_float32_selftest(void);
#endif

/* Where pipit_float32.c is compiled for fewer rates, define the same here. */
#if !(defined PIPIT_ONLY_48000)
#define PIPIT_ONLY_48000
#endif

#define PIPIT_SELFTEST_OUTPUTS (PIPIT_CHANNELS * PIPIT_WAYS)
#define PIPIT_SELFTEST_BLOCK 64
#define PIPIT_SELFTEST_LOOKS 4 /* comparisons in a run, from its middle on */
#define PIPIT_SELFTEST_BURST 24 /* samples of the highest frequency that a run begins with */
#define PIPIT_SELFTEST_AFTER 224 /* samples after the end of a mute, or the reset of a channel */

/* How a block is run; the numbers go round. */
enum pipit_selftest_how {
    PIPIT_SELFTEST_PLANAR = 0,
    PIPIT_SELFTEST_IN_FIRST = 1, /* in place, with the first output of the channel */
    PIPIT_SELFTEST_FRAMES = 2,
    PIPIT_SELFTEST_IN_LAST = 3,
    PIPIT_SELFTEST_INT32 = 4,
    PIPIT_SELFTEST_HOWS = 5
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
    int late[PIPIT_WAYS]; /* samples that a way hears late */
    float within[PIPIT_WAYS]; /* how far from what is expected is near */
} pipit_selftest_rate;

#ifdef PIPIT_ONLY_48000
static const float pipit_selftest_48000[32] = {
    1.251982e-12f, 4.64e-18f, 8.1906524e-07f, 3.1e-12f, 7.840083e-08f, 7.6e-12f, -6.291354e-11f,
    2.21e-16f, 3.4054672e-05f, 1.76e-10f, -1.1758821e-06f, 1.76e-10f, -0.2628823f,
    -0.009893089f, 0.074495286f, -0.045080334f, -0.26964062f, -0.0041582435f, -0.04962066f,
    0.116324425f, 0.07551959f, -0.029794404f, 0.003909352f, 0.0016783761f, 0.0f, 0.0f, 0.0f,
    0.0f, 0.0f, 0.0f, 0.06495672f, 0.045523033f
};
#endif

static const pipit_selftest_rate pipit_selftest_rates[] = {
#ifdef PIPIT_ONLY_48000
    { 48000u, 1216, 528, 0, 0u, 0x35f29952u, pipit_selftest_48000,
      { 0, 0 }, { 9.12e-07f, 5.57e-07f } },
#endif
};

/* Samples, as words of the format or as integers. */
typedef union {
    float word[PIPIT_CHANNELS * PIPIT_SELFTEST_BLOCK];
    int32_t wide[PIPIT_CHANNELS * PIPIT_SELFTEST_BLOCK];
} pipit_selftest_input;

typedef union {
    float word[PIPIT_SELFTEST_OUTPUTS * PIPIT_SELFTEST_BLOCK];
    int32_t wide[PIPIT_SELFTEST_OUTPUTS * PIPIT_SELFTEST_BLOCK];
} pipit_selftest_output;

static struct {
    pipit_state filters;
    pipit_selftest_input in;
    pipit_selftest_output out;
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
} pipit_selftest;

static void pipit_selftest_check(int fine)
{
    if (fine == 0) {
        pipit_selftest.wrong = 1;
    }
}

/* How far apart the samples of a line are where there are so many lines, and where the
 * first of line k stands. */
static int pipit_selftest_stride(int how, int lines)
{
    return how == (int)PIPIT_SELFTEST_FRAMES || how == (int)PIPIT_SELFTEST_INT32 ? lines : 1;
}

static int pipit_selftest_first(int how, int k)
{
    return pipit_selftest_stride(how, 2) == 2 ? k : k * PIPIT_SELFTEST_BLOCK;
}

/* Where a channel's samples in words begin. */
static float *pipit_selftest_input_of(int how, int c)
{
    float *in = &pipit_selftest.in.word[pipit_selftest_first(how, c)];

    if (how == (int)PIPIT_SELFTEST_IN_FIRST) {
        in = &pipit_selftest.out.word[c * PIPIT_WAYS * PIPIT_SELFTEST_BLOCK];
    } else if (how == (int)PIPIT_SELFTEST_IN_LAST) {
        in = &pipit_selftest.out.word[((c * PIPIT_WAYS) + PIPIT_WAYS - 1) * PIPIT_SELFTEST_BLOCK];
    } else {
        /* out of place */
    }
    return in;
}

/* The next sample of 16 bits: a burst, or noise and a step. */
static int32_t pipit_selftest_sample(int i)
{
    static const int16_t burst[PIPIT_SELFTEST_BURST] = {
        0, 0, 0, 0, 1, -16, 120, -560, 1820, -4368, 8008, -11440, 12870, -11440, 8008, -4368, 1820, -560, 120, -16, 1, 0, 0, 0
    };
    const uint32_t turned = (pipit_selftest.time + (uint32_t)i) & 1024u;
    const uint32_t t = pipit_selftest.time + (uint32_t)i - pipit_selftest.opened;
    int32_t x = turned == 0u ? 15000 : -15000;

    if (t < (uint32_t)PIPIT_SELFTEST_BURST) {
        x = burst[t];
    } else {
        pipit_selftest.noise = (pipit_selftest.noise * 1664525u) + 1013904223u;
        x += (int32_t)(pipit_selftest.noise >> 17) - 16384;
    }
    return x;
}

/* Makes the block's samples. */
static void pipit_selftest_fill(int how, int size)
{
    const int stride = pipit_selftest_stride(how, PIPIT_CHANNELS);
    int c;
    int i;

    for (c = 0; c < PIPIT_CHANNELS; c++) {
        if (how == (int)PIPIT_SELFTEST_INT32) {
            for (i = 0; i < size; i++) {
                pipit_selftest.in.wide[(i * stride) + c] = pipit_selftest_sample(i) * 65536;
            }
        } else {
            float *const in = pipit_selftest_input_of(how, c);

            for (i = 0; i < size; i++) {
                in[i * stride] = (float)pipit_selftest_sample(i) * (float)3.0517578125e-05;
            }
            if (size > 0 && c >= pipit_selftest.spoilt_from && c < pipit_selftest.spoilt_to) {
                static const uint32_t none = 0x7fc00000u;

                (void)memcpy(in, &none, sizeof none);
                pipit_selftest.spoilt_from++;
            }
        }
    }
    pipit_selftest.time += (uint32_t)size;
}

/* Runs the block. */
static void pipit_selftest_filter(int how, int size)
{
    pipit_state *const s = &pipit_selftest.filters;
    pipit_selftest_input *const from = &pipit_selftest.in;
    pipit_selftest_output *const to = &pipit_selftest.out;
    int failed;

    if (how == (int)PIPIT_SELFTEST_FRAMES) {
        failed = pipit_run_frames(s, from->word, to->word, size);
    } else if (how == (int)PIPIT_SELFTEST_INT32) {
        failed = pipit_run_frames_int32(s, from->wide, to->wide, size);
    } else {
        const float *in[PIPIT_CHANNELS];
        float *out[PIPIT_SELFTEST_OUTPUTS];
        int k;

        for (k = 0; k < PIPIT_CHANNELS; k++) {
            in[k] = pipit_selftest_input_of(how, k);
        }
        for (k = 0; k < PIPIT_SELFTEST_OUTPUTS; k++) {
            out[k] = &to->word[k * PIPIT_SELFTEST_BLOCK];
        }
        failed = pipit_run(s, in, out, size);
    }
    pipit_selftest_check(failed == 0);
}

/* Takes all outputs of the block into the hash, FNV-1a's of whole words. */
static void pipit_selftest_hash(int how, int size)
{
    const int stride = pipit_selftest_stride(how, PIPIT_SELFTEST_OUTPUTS);
    uint32_t hash = pipit_selftest.hash;
    int k;
    int i;

    for (k = 0; k < PIPIT_SELFTEST_OUTPUTS; k++) {
        const int first = pipit_selftest_first(how, k);

        if (how == (int)PIPIT_SELFTEST_INT32) {
            for (i = 0; i < size; i++) {
                hash = (hash ^ (uint32_t)pipit_selftest.out.wide[(i * stride) + first]) * 16777619u;
            }
        } else {
            const float *const out = &pipit_selftest.out.word[first];

            for (i = 0; i < size; i++) {
                uint32_t bits;

                (void)memcpy(&bits, &out[i * stride], sizeof bits);
                hash = (hash ^ bits) * 16777619u;
            }
        }
    }
    pipit_selftest.hash = hash;
}

/* Whether output k of sample i of the block is as near to the next expected number as it has to be. */
static void pipit_selftest_compare(int how, int i, int k, float within)
{
    const int at = (i * pipit_selftest_stride(how, PIPIT_SELFTEST_OUTPUTS)) + pipit_selftest_first(how, k);
    float near = within;
    float off;

    if (how == (int)PIPIT_SELFTEST_INT32) {
        off = (float)pipit_selftest.out.wide[at] * (float)(1.0 / 2147483648.0);
        near += (float)(2.0 / 2147483648.0);
    } else {
        off = pipit_selftest.out.word[at];
    }
    off -= *pipit_selftest.expected;
    pipit_selftest.expected++;
    pipit_selftest_check(off <= near && off >= -near);
}

/* Compares what ways make of the burst in a block that far into a run; behind each expected number stands
 * how near it has to be. */
static void pipit_selftest_compare_burst(uint32_t into, int size)
{
    static const int places[3] = { 4, 13, 18 };
    int k;
    int j;

    for (k = 0; k < PIPIT_SELFTEST_OUTPUTS && into < (uint32_t)PIPIT_SELFTEST_BURST + pipit_selftest.latest; k++) {
        for (j = 0; j < 3; j++) {
            const int i = places[j] + pipit_selftest.late[k % PIPIT_WAYS] - (int)into;

            if (i >= 0 && i < size) {
                pipit_selftest_compare((int)PIPIT_SELFTEST_PLANAR, i, k, pipit_selftest.expected[1]);
                pipit_selftest.expected++;
            }
        }
    }
}

/* n samples of every channel in blocks, and so many comparisons, the last at the end. */
static void pipit_selftest_run(int n, int looks)
{
    static const unsigned char sizes[8] = { 64, 32, 0, 1, 2, 7, 33, 21 };
    int done = 0;

    while (done < n) {
        const uint32_t into = pipit_selftest.time - pipit_selftest.opened;
        const int how = into < (uint32_t)PIPIT_SELFTEST_BURST + pipit_selftest.latest ? (int)PIPIT_SELFTEST_PLANAR
            : (int)(pipit_selftest.block % (unsigned int)PIPIT_SELFTEST_HOWS);
        int size = (int)sizes[pipit_selftest.block % 8u];
        int j;

        size = n - done < size ? n - done : size;
        pipit_selftest.block++;
        pipit_selftest_fill(how, size);
        pipit_selftest_filter(how, size);
        pipit_selftest_hash(how, size);
        pipit_selftest_compare_burst(into, size);
        for (j = looks - 1; j >= 0; j--) {
            const int i = n - done - 1 - (n * j * j / 18);
            int k;

            for (k = 0; k < PIPIT_SELFTEST_OUTPUTS && i >= 0 && i < size; k++) {
                pipit_selftest_compare(how, i, k, pipit_selftest.within[k % PIPIT_WAYS]);
            }
        }
        done += size;
    }
}

/* Calls that have to be refused, with a state that is not initialised and with one that is. */
static void pipit_selftest_refused(uint32_t hz)
{
    pipit_state *const s = &pipit_selftest.filters;
    const float *const in = pipit_selftest.in.word;
    float *const out = pipit_selftest.out.word;

    pipit_selftest_check(pipit_init(s, 1u) == 1);
    pipit_selftest_check(pipit_run_frames(s, in, out, 1) == 1);
    pipit_selftest_check(pipit_set_rate(s, hz) == 1);
    pipit_selftest_check(pipit_init(s, hz) == 0);
    pipit_selftest_check(pipit_set_rate(s, 1u) == 1);
    pipit_selftest_check(pipit_run_frames(s, in, out, -1) == 1);
    pipit_selftest_check(pipit_mute(s, PIPIT_CHANNELS, 1) == 1);
    pipit_selftest_check(pipit_reset_channel(s, -1) == 1);
}

/* All that is tried at a rate: 0, 1 or 2. */
static int pipit_selftest_one(const pipit_selftest_rate *rate, int first)
{
    pipit_state *const s = &pipit_selftest.filters;
    const int last = PIPIT_CHANNELS - 1;
    pipit_selftest.expected = rate->expected;
    pipit_selftest.within = rate->within;
    pipit_selftest.late = rate->late;
    pipit_selftest.latest = rate->latest;
    pipit_selftest.noise = 1u;
    pipit_selftest.time = 0u;
    pipit_selftest.opened = 0u;
    pipit_selftest.hash = 2166136261u;
    pipit_selftest.block = 0u;
    pipit_selftest.spoilt_from = 0;
    pipit_selftest.spoilt_to = 0;
    pipit_selftest.wrong = 0;
    if (first != 0) {
        pipit_selftest_refused(rate->hz);
    } else {
        pipit_selftest_check(pipit_set_rate(s, rate->hz) == 0);
    }
    pipit_selftest_run(rate->run, PIPIT_SELFTEST_LOOKS);

    pipit_selftest_check(pipit_mute(s, last, 1) == 0 && pipit_muted(s, last) == 1);
    pipit_selftest_run(rate->fade, PIPIT_SELFTEST_LOOKS);
    pipit_selftest_check(pipit_mute(s, last, 0) == 0 && pipit_muted(s, last) == 0);
    pipit_selftest.spoilt_to = 1;
    pipit_selftest_run(PIPIT_SELFTEST_AFTER, 1);
    pipit_selftest_check(pipit_garbage(s, 0) == 1);
    pipit_selftest_check(pipit_reset_channel(s, 0) == 0 && pipit_garbage(s, 0) == 0);
    pipit_selftest_run(PIPIT_SELFTEST_AFTER, 1);
    return pipit_selftest.wrong != 0 ? 2 : pipit_selftest.hash != rate->hash ? 1 : 0;
}

int pipit_float32_selftest(void)
{
    const int rates = (int)(sizeof pipit_selftest_rates / sizeof pipit_selftest_rates[0]);
    int worst = 0;
    int i;

    for (i = 0; i < rates; i++) {
        const int found = pipit_selftest_one(&pipit_selftest_rates[i], i == 0 ? 1 : 0);

        worst = found > worst ? found : worst;
    }
    return worst;
}

#ifdef PIPIT_SELFTEST_MAIN
int main(void)
{
    return pipit_float32_selftest();
}
#endif
