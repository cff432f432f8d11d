/*
 * dunlin_float32_selftest.c: self-test of the loudspeaker filters of "dunlin" in single precision
 * Spec SHA-256 f8c37e765636524f76afc56730fc49a53da092a23530c7a6f16b91c253883514
 *
 * Compile it beside dunlin_float32.c with the options of the program, declare
 *
 *     int dunlin_float32_selftest(void);
 *
 * and call it before any output is live: it plays nothing, and touches no state but its own.
 * With DUNLIN_SELFTEST_MAIN defined the file has a main that returns what it says:
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
 * follows the reset; every choice, and every section that choices pick; a change of settings
 * while a channel runs, at 48000 Hz.
 *
 * It takes 768 bytes beside one dunlin_state, uses no library but memcpy, and is not for
 * two threads at once.
 */
#include "dunlin_float32.h"

#include <string.h>

#ifdef __cplusplus
extern "C" int dunlin_float32_selftest(void);
#else
int dunlin_float32_selftest(void);
#endif

/* Where dunlin_float32.c is compiled for fewer rates, define the same here. */
#if !(defined DUNLIN_ONLY_48000)
#define DUNLIN_ONLY_48000
#endif

#define DUNLIN_SELFTEST_OUTPUTS (DUNLIN_CHANNELS * DUNLIN_WAYS)
#define DUNLIN_SELFTEST_BLOCK 64
#define DUNLIN_SELFTEST_LOOKS 4 /* comparisons in a run, from its middle on */
#define DUNLIN_SELFTEST_BURST 24 /* samples of the highest frequency that a run begins with */
#define DUNLIN_SELFTEST_AFTER 224 /* samples after the end of a mute, or the reset of a channel */

/* How a block is run; the numbers go round. */
enum dunlin_selftest_how {
    DUNLIN_SELFTEST_PLANAR = 0,
    DUNLIN_SELFTEST_IN_FIRST = 1, /* in place, with the first output of the channel */
    DUNLIN_SELFTEST_FRAMES = 2,
    DUNLIN_SELFTEST_IN_LAST = 3,
    DUNLIN_SELFTEST_INT32 = 4,
    DUNLIN_SELFTEST_HOWS = 5
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
    int late[DUNLIN_WAYS]; /* samples that a way hears late */
    float within[DUNLIN_WAYS]; /* how far from what is expected is near */
} dunlin_selftest_rate;

#ifdef DUNLIN_ONLY_48000
static const float dunlin_selftest_48000[60] = {
    4.2115016e-15f, 1.31e-20f, -1.2306962e-08f, 2.78e-13f, -7.284884e-10f, 4.51e-12f,
    4.1762685e-10f, 1.71e-15f, -9.146626e-05f, 1.4e-10f, 2.8440313e-06f, 2.91e-10f,
    -0.028461318f, 0.1848063f, 0.08916362f, 0.22624111f, -0.12693726f, -0.38794512f,
    0.19739304f, 0.18485811f, 4.1992658e-15f, 1.95e-20f, 4.1641346e-10f, 1.62e-15f,
    -1.2316887e-08f, 2.77e-13f, -7.3005585e-10f, 4.46e-12f, -9.149145e-05f, 1.38e-10f,
    2.8501331e-06f, 2.84e-10f, 0.073216334f, 0.12617484f, -0.106677234f, -0.41814956f,
    -0.16689281f, 0.23892821f, -0.15900087f, -0.05525686f, -0.016428787f, 0.055492066f,
    -9.1484755e-05f, -0.008891424f, 0.0f, 0.0f, 0.0f, 0.0f, 0.0f, 0.0f, 0.043911476f,
    0.017404743f, -0.068180025f, -0.04075913f, -0.012208065f, 0.18658513f, -0.010522158f,
    -0.2309569f, 0.061305553f, -0.06267959f
};
#endif

static const dunlin_selftest_rate dunlin_selftest_rates[] = {
#ifdef DUNLIN_ONLY_48000
    { 48000u, 1216, 528, 1648, 3u, 0x6176d51eu, dunlin_selftest_48000,
      { 0, 3 }, { 8.27e-07f, 1.42e-06f } },
#endif
};

#define DUNLIN_SELFTEST_RUNS 2

/* The choices of every setting, of each channel in each run. */
static const unsigned char
dunlin_selftest_choices[DUNLIN_SELFTEST_RUNS * DUNLIN_CHANNELS][DUNLIN_SETTINGS] = {
    { 0 },
    { 1 }
};

/* Samples, as words of the format or as integers. */
typedef union {
    float word[DUNLIN_CHANNELS * DUNLIN_SELFTEST_BLOCK];
    int32_t wide[DUNLIN_CHANNELS * DUNLIN_SELFTEST_BLOCK];
} dunlin_selftest_input;

typedef union {
    float word[DUNLIN_SELFTEST_OUTPUTS * DUNLIN_SELFTEST_BLOCK];
    int32_t wide[DUNLIN_SELFTEST_OUTPUTS * DUNLIN_SELFTEST_BLOCK];
} dunlin_selftest_output;

static struct {
    dunlin_state filters;
    dunlin_selftest_input in;
    dunlin_selftest_output out;
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
} dunlin_selftest;

static void dunlin_selftest_check(int fine)
{
    if (fine == 0) {
        dunlin_selftest.wrong = 1;
    }
}

/* How far apart the samples of a line are where there are so many lines, and where the
 * first of line k stands. */
static int dunlin_selftest_stride(int how, int lines)
{
    return how == (int)DUNLIN_SELFTEST_FRAMES || how == (int)DUNLIN_SELFTEST_INT32 ? lines : 1;
}

static int dunlin_selftest_first(int how, int k)
{
    return dunlin_selftest_stride(how, 2) == 2 ? k : k * DUNLIN_SELFTEST_BLOCK;
}

/* Where a channel's samples in words begin. */
static float *dunlin_selftest_input_of(int how, int c)
{
    float *in = &dunlin_selftest.in.word[dunlin_selftest_first(how, c)];

    if (how == (int)DUNLIN_SELFTEST_IN_FIRST) {
        in = &dunlin_selftest.out.word[c * DUNLIN_WAYS * DUNLIN_SELFTEST_BLOCK];
    } else if (how == (int)DUNLIN_SELFTEST_IN_LAST) {
        in = &dunlin_selftest.out.word[((c * DUNLIN_WAYS) + DUNLIN_WAYS - 1) * DUNLIN_SELFTEST_BLOCK];
    } else {
        /* out of place */
    }
    return in;
}

/* The next sample of 16 bits: a burst, or noise and a step. */
static int32_t dunlin_selftest_sample(int i)
{
    static const int16_t burst[DUNLIN_SELFTEST_BURST] = {
        0, 0, 0, 0, 1, -16, 120, -560, 1820, -4368, 8008, -11440, 12870, -11440, 8008, -4368, 1820, -560, 120, -16, 1, 0, 0, 0
    };
    const uint32_t turned = (dunlin_selftest.time + (uint32_t)i) & 1024u;
    const uint32_t t = dunlin_selftest.time + (uint32_t)i - dunlin_selftest.opened;
    int32_t x = turned == 0u ? 15000 : -15000;

    if (t < (uint32_t)DUNLIN_SELFTEST_BURST) {
        x = burst[t];
    } else {
        dunlin_selftest.noise = (dunlin_selftest.noise * 1664525u) + 1013904223u;
        x += (int32_t)(dunlin_selftest.noise >> 17) - 16384;
    }
    return x;
}

/* Makes the block's samples. */
static void dunlin_selftest_fill(int how, int size)
{
    const int stride = dunlin_selftest_stride(how, DUNLIN_CHANNELS);
    int c;
    int i;

    for (c = 0; c < DUNLIN_CHANNELS; c++) {
        if (how == (int)DUNLIN_SELFTEST_INT32) {
            for (i = 0; i < size; i++) {
                dunlin_selftest.in.wide[(i * stride) + c] = dunlin_selftest_sample(i) * 65536;
            }
        } else {
            float *const in = dunlin_selftest_input_of(how, c);

            for (i = 0; i < size; i++) {
                in[i * stride] = (float)dunlin_selftest_sample(i) * (float)3.0517578125e-05;
            }
            if (size > 0 && c >= dunlin_selftest.spoilt_from && c < dunlin_selftest.spoilt_to) {
                static const uint32_t none = 0x7fc00000u;

                (void)memcpy(in, &none, sizeof none);
                dunlin_selftest.spoilt_from++;
            }
        }
    }
    dunlin_selftest.time += (uint32_t)size;
}

/* Runs the block. */
static void dunlin_selftest_filter(int how, int size)
{
    dunlin_state *const s = &dunlin_selftest.filters;
    dunlin_selftest_input *const from = &dunlin_selftest.in;
    dunlin_selftest_output *const to = &dunlin_selftest.out;
    int failed;

    if (how == (int)DUNLIN_SELFTEST_FRAMES) {
        failed = dunlin_run_frames(s, from->word, to->word, size);
    } else if (how == (int)DUNLIN_SELFTEST_INT32) {
        failed = dunlin_run_frames_int32(s, from->wide, to->wide, size);
    } else {
        const float *in[DUNLIN_CHANNELS];
        float *out[DUNLIN_SELFTEST_OUTPUTS];
        int k;

        for (k = 0; k < DUNLIN_CHANNELS; k++) {
            in[k] = dunlin_selftest_input_of(how, k);
        }
        for (k = 0; k < DUNLIN_SELFTEST_OUTPUTS; k++) {
            out[k] = &to->word[k * DUNLIN_SELFTEST_BLOCK];
        }
        failed = dunlin_run(s, in, out, size);
    }
    dunlin_selftest_check(failed == 0);
}

/* Takes all outputs of the block into the hash, FNV-1a's of whole words. */
static void dunlin_selftest_hash(int how, int size)
{
    const int stride = dunlin_selftest_stride(how, DUNLIN_SELFTEST_OUTPUTS);
    uint32_t hash = dunlin_selftest.hash;
    int k;
    int i;

    for (k = 0; k < DUNLIN_SELFTEST_OUTPUTS; k++) {
        const int first = dunlin_selftest_first(how, k);

        if (how == (int)DUNLIN_SELFTEST_INT32) {
            for (i = 0; i < size; i++) {
                hash = (hash ^ (uint32_t)dunlin_selftest.out.wide[(i * stride) + first]) * 16777619u;
            }
        } else {
            const float *const out = &dunlin_selftest.out.word[first];

            for (i = 0; i < size; i++) {
                uint32_t bits;

                (void)memcpy(&bits, &out[i * stride], sizeof bits);
                hash = (hash ^ bits) * 16777619u;
            }
        }
    }
    dunlin_selftest.hash = hash;
}

/* Whether output k of sample i of the block is as near to the next expected number as it has to be. */
static void dunlin_selftest_compare(int how, int i, int k, float within)
{
    const int at = (i * dunlin_selftest_stride(how, DUNLIN_SELFTEST_OUTPUTS)) + dunlin_selftest_first(how, k);
    float near = within;
    float off;

    if (how == (int)DUNLIN_SELFTEST_INT32) {
        off = (float)dunlin_selftest.out.wide[at] * (float)(1.0 / 2147483648.0);
        near += (float)(2.0 / 2147483648.0);
    } else {
        off = dunlin_selftest.out.word[at];
    }
    off -= *dunlin_selftest.expected;
    dunlin_selftest.expected++;
    dunlin_selftest_check(off <= near && off >= -near);
}

/* Compares what ways make of the burst in a block that far into a run; behind each expected number stands
 * how near it has to be. */
static void dunlin_selftest_compare_burst(uint32_t into, int size)
{
    static const int places[3] = { 4, 13, 18 };
    int k;
    int j;

    for (k = 0; k < DUNLIN_SELFTEST_OUTPUTS && into < (uint32_t)DUNLIN_SELFTEST_BURST + dunlin_selftest.latest; k++) {
        for (j = 0; j < 3; j++) {
            const int i = places[j] + dunlin_selftest.late[k % DUNLIN_WAYS] - (int)into;

            if (i >= 0 && i < size) {
                dunlin_selftest_compare((int)DUNLIN_SELFTEST_PLANAR, i, k, dunlin_selftest.expected[1]);
                dunlin_selftest.expected++;
            }
        }
    }
}

/* n samples of every channel in blocks, and so many comparisons, the last at the end. */
static void dunlin_selftest_run(int n, int looks)
{
    static const unsigned char sizes[8] = { 64, 32, 0, 1, 2, 7, 33, 21 };
    int done = 0;

    while (done < n) {
        const uint32_t into = dunlin_selftest.time - dunlin_selftest.opened;
        const int how = into < (uint32_t)DUNLIN_SELFTEST_BURST + dunlin_selftest.latest ? (int)DUNLIN_SELFTEST_PLANAR
            : (int)(dunlin_selftest.block % (unsigned int)DUNLIN_SELFTEST_HOWS);
        int size = (int)sizes[dunlin_selftest.block % 8u];
        int j;

        size = n - done < size ? n - done : size;
        dunlin_selftest.block++;
        dunlin_selftest_fill(how, size);
        dunlin_selftest_filter(how, size);
        dunlin_selftest_hash(how, size);
        dunlin_selftest_compare_burst(into, size);
        for (j = looks - 1; j >= 0; j--) {
            const int i = n - done - 1 - (n * j * j / 18);
            int k;

            for (k = 0; k < DUNLIN_SELFTEST_OUTPUTS && i >= 0 && i < size; k++) {
                dunlin_selftest_compare(how, i, k, dunlin_selftest.within[k % DUNLIN_WAYS]);
            }
        }
        done += size;
    }
}

/* Makes the choices of row k for a channel. */
static void dunlin_selftest_choose(int k, int c)
{
    dunlin_state *const s = &dunlin_selftest.filters;
    const unsigned char *const choice = dunlin_selftest_choices[k];
    int failed = 0;

    failed |= dunlin_set_placement(s, c, (enum dunlin_placement)choice[0]);
    failed |= dunlin_get_placement(s, c) ^ (int)choice[0];
    dunlin_selftest_check(failed == 0);
}

/* Calls that have to be refused, with a state that is not initialised and with one that is. */
static void dunlin_selftest_refused(uint32_t hz)
{
    dunlin_state *const s = &dunlin_selftest.filters;
    const float *const in = dunlin_selftest.in.word;
    float *const out = dunlin_selftest.out.word;

    dunlin_selftest_check(dunlin_init(s, 1u) == 1);
    dunlin_selftest_check(dunlin_run_frames(s, in, out, 1) == 1);
    dunlin_selftest_check(dunlin_set_rate(s, hz) == 1);
    dunlin_selftest_check(dunlin_init(s, hz) == 0);
    dunlin_selftest_check(dunlin_set_rate(s, 1u) == 1);
    dunlin_selftest_check(dunlin_run_frames(s, in, out, -1) == 1);
    dunlin_selftest_check(dunlin_mute(s, DUNLIN_CHANNELS, 1) == 1);
    dunlin_selftest_check(dunlin_reset_channel(s, -1) == 1);
    dunlin_selftest_check(dunlin_set_placement(s, DUNLIN_CHANNELS, (enum dunlin_placement)0) == 1);
}

/* All that is tried at a rate: 0, 1 or 2. */
static int dunlin_selftest_one(const dunlin_selftest_rate *rate, int first)
{
    dunlin_state *const s = &dunlin_selftest.filters;
    const int last = DUNLIN_CHANNELS - 1;
    int k;
    int c;
    dunlin_selftest.expected = rate->expected;
    dunlin_selftest.within = rate->within;
    dunlin_selftest.late = rate->late;
    dunlin_selftest.latest = rate->latest;
    dunlin_selftest.noise = 1u;
    dunlin_selftest.time = 0u;
    dunlin_selftest.opened = 0u;
    dunlin_selftest.hash = 2166136261u;
    dunlin_selftest.block = 0u;
    dunlin_selftest.spoilt_from = 0;
    dunlin_selftest.spoilt_to = 0;
    dunlin_selftest.wrong = 0;
    if (first != 0) {
        dunlin_selftest_refused(rate->hz);
    } else {
        dunlin_selftest_check(dunlin_set_rate(s, rate->hz) == 0);
    }
    for (k = 0; k < DUNLIN_SELFTEST_RUNS; k++) {
        if (k > 0) {
            dunlin_reset(s);
        }
        for (c = 0; c < DUNLIN_CHANNELS; c++) {
            dunlin_selftest_choose((k * DUNLIN_CHANNELS) + c, c);
        }
        dunlin_selftest.opened = dunlin_selftest.time;
        dunlin_selftest_run(rate->run, DUNLIN_SELFTEST_LOOKS);
    }

    dunlin_selftest_check(dunlin_mute(s, last, 1) == 0 && dunlin_muted(s, last) == 1);
    dunlin_selftest_run(rate->fade, DUNLIN_SELFTEST_LOOKS);
    dunlin_selftest_check(dunlin_mute(s, last, 0) == 0 && dunlin_muted(s, last) == 0);
    dunlin_selftest.spoilt_to = 1;
    dunlin_selftest_run(DUNLIN_SELFTEST_AFTER, 1);
    dunlin_selftest_check(dunlin_garbage(s, 0) == 1);
    dunlin_selftest_check(dunlin_reset_channel(s, 0) == 0 && dunlin_garbage(s, 0) == 0);
    dunlin_selftest_run(DUNLIN_SELFTEST_AFTER, 1);

    if (rate->change > 0) { /* of channel 0; the others are silenced, which saves time */
        dunlin_reset(s);
        dunlin_selftest_choose(0, 0);
        dunlin_selftest.block = 0u;
        dunlin_selftest.spoilt_to = DUNLIN_CHANNELS; /* it stands at 1 since channel 0 was spoilt */
        dunlin_selftest_run(DUNLIN_SELFTEST_BLOCK + (int)rate->latest, 0);
        dunlin_selftest_choose(1, 0);
        dunlin_selftest_run(rate->change, DUNLIN_SELFTEST_LOOKS);
    }
    return dunlin_selftest.wrong != 0 ? 2 : dunlin_selftest.hash != rate->hash ? 1 : 0;
}

int dunlin_float32_selftest(void)
{
    const int rates = (int)(sizeof dunlin_selftest_rates / sizeof dunlin_selftest_rates[0]);
    int worst = 0;
    int i;

    for (i = 0; i < rates; i++) {
        const int found = dunlin_selftest_one(&dunlin_selftest_rates[i], i == 0 ? 1 : 0);

        worst = found > worst ? found : worst;
    }
    return worst;
}

#ifdef DUNLIN_SELFTEST_MAIN
int main(void)
{
    return dunlin_float32_selftest();
}
#endif
