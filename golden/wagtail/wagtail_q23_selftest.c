/*
 * wagtail_q23_selftest.c: self-test of the loudspeaker filters of "wagtail" in fixed point, 24-bit samples
 * Spec SHA-256 2ed3eabd1b2faac077ea3710ebe52ca82c615fc363ccb4393a0272918c09ba0e
 *
 * Compile it beside wagtail_q23.c with the options of the program, declare
 *
 *     int wagtail_q23_selftest(void);
 *
 * and call it before any output is live: it plays nothing, and touches no state but its own.
 * With WAGTAIL_SELFTEST_MAIN defined the file has a main that returns what it says:
 *
 *   0   every output is the compiler's own simulation, to the bit
 *   2   wrong: do not let this near a loudspeaker; nothing of integers is left to compilers
 *       and processors, so that there is nothing between
 *
 * What is tried:
 * all outputs at 48000 Hz; blocks of 64, 32, 0, 1, 2, 7, 33, 21 samples and what is left at the
 * end; run in and out of place, run_frames and run_frames_int32; init, change of rate and
 * resets; mute and its end; calls that have to be refused; every choice, and every section that
 * choices pick; a change of settings while a channel runs, at 48000 Hz.
 *
 * It takes 768 bytes beside one wagtail_state, uses no library but memcpy, and is not for
 * two threads at once.
 */
#include "wagtail_q23.h"

#include <string.h>

#ifdef __cplusplus
extern "C" int wagtail_q23_selftest(void);
#else
int wagtail_q23_selftest(void);
#endif

/* Where wagtail_q23.c is compiled for fewer rates, define the same here. */
#if !(defined WAGTAIL_ONLY_48000)
#define WAGTAIL_ONLY_48000
#endif

#define WAGTAIL_SELFTEST_OUTPUTS (WAGTAIL_CHANNELS * WAGTAIL_WAYS)
#define WAGTAIL_SELFTEST_BLOCK 64
#define WAGTAIL_SELFTEST_BURST 24 /* samples of the highest frequency that a run begins with */
#define WAGTAIL_SELFTEST_AFTER 224 /* samples after the end of a mute, or the reset of a channel */

/* How a block is run; the numbers go round. */
enum wagtail_selftest_how {
    WAGTAIL_SELFTEST_PLANAR = 0,
    WAGTAIL_SELFTEST_IN_FIRST = 1, /* in place, with the first output of the channel */
    WAGTAIL_SELFTEST_FRAMES = 2,
    WAGTAIL_SELFTEST_IN_LAST = 3,
    WAGTAIL_SELFTEST_INT32 = 4,
    WAGTAIL_SELFTEST_HOWS = 5
};

/* What is done at a rate, and what has to come of it. */
typedef struct {
    uint32_t hz;
    int run; /* samples from a reset */
    int fade; /* samples after a mute */
    int change; /* samples from a change of settings; 0: none is tried */
    uint32_t latest; /* samples that the latest way hears late */
    uint32_t hash; /* of all outputs */
} wagtail_selftest_rate;

static const wagtail_selftest_rate wagtail_selftest_rates[] = {
#ifdef WAGTAIL_ONLY_48000
    { 48000u, 1216, 528, 1616, 0u, 0x3f409da3u },
#endif
};

#define WAGTAIL_SELFTEST_RUNS 2

/* The choices of every setting, of each channel in each run. */
static const unsigned char
wagtail_selftest_choices[WAGTAIL_SELFTEST_RUNS * WAGTAIL_CHANNELS][WAGTAIL_SETTINGS] = {
    { 0 },
    { 1 }
};

/* Samples, as words of the format or as integers. */
typedef union {
    int32_t word[WAGTAIL_CHANNELS * WAGTAIL_SELFTEST_BLOCK];
    int32_t wide[WAGTAIL_CHANNELS * WAGTAIL_SELFTEST_BLOCK];
} wagtail_selftest_input;

typedef union {
    int32_t word[WAGTAIL_SELFTEST_OUTPUTS * WAGTAIL_SELFTEST_BLOCK];
    int32_t wide[WAGTAIL_SELFTEST_OUTPUTS * WAGTAIL_SELFTEST_BLOCK];
} wagtail_selftest_output;

static struct {
    wagtail_state filters;
    wagtail_selftest_input in;
    wagtail_selftest_output out;
    uint32_t latest;
    uint32_t noise;
    uint32_t time;
    uint32_t opened; /* when the last run began */
    uint32_t hash;
    unsigned int block; /* how many there were */
    int spoilt_from; /* the channels from here */
    int spoilt_to; /* up to before here get a sample that is none */
    int wrong;
} wagtail_selftest;

static void wagtail_selftest_check(int fine)
{
    if (fine == 0) {
        wagtail_selftest.wrong = 1;
    }
}

/* How far apart the samples of a line are where there are so many lines, and where the
 * first of line k stands. */
static int wagtail_selftest_stride(int how, int lines)
{
    return how == (int)WAGTAIL_SELFTEST_FRAMES || how == (int)WAGTAIL_SELFTEST_INT32 ? lines : 1;
}

static int wagtail_selftest_first(int how, int k)
{
    return wagtail_selftest_stride(how, 2) == 2 ? k : k * WAGTAIL_SELFTEST_BLOCK;
}

/* Where a channel's samples in words begin. */
static int32_t *wagtail_selftest_input_of(int how, int c)
{
    int32_t *in = &wagtail_selftest.in.word[wagtail_selftest_first(how, c)];

    if (how == (int)WAGTAIL_SELFTEST_IN_FIRST) {
        in = &wagtail_selftest.out.word[c * WAGTAIL_WAYS * WAGTAIL_SELFTEST_BLOCK];
    } else if (how == (int)WAGTAIL_SELFTEST_IN_LAST) {
        in = &wagtail_selftest.out.word[((c * WAGTAIL_WAYS) + WAGTAIL_WAYS - 1) * WAGTAIL_SELFTEST_BLOCK];
    } else {
        /* out of place */
    }
    return in;
}

/* The next sample of 16 bits: a burst, or noise and a step. */
static int32_t wagtail_selftest_sample(int i)
{
    static const int16_t burst[WAGTAIL_SELFTEST_BURST] = {
        0, 0, 0, 0, 1, -16, 120, -560, 1820, -4368, 8008, -11440, 12870, -11440, 8008, -4368, 1820, -560, 120, -16, 1, 0, 0, 0
    };
    const uint32_t turned = (wagtail_selftest.time + (uint32_t)i) & 1024u;
    const uint32_t t = wagtail_selftest.time + (uint32_t)i - wagtail_selftest.opened;
    int32_t x = turned == 0u ? 15000 : -15000;

    if (t < (uint32_t)WAGTAIL_SELFTEST_BURST) {
        x = burst[t];
    } else {
        wagtail_selftest.noise = (wagtail_selftest.noise * 1664525u) + 1013904223u;
        x += (int32_t)(wagtail_selftest.noise >> 17) - 16384;
    }
    return x;
}

/* Makes the block's samples. */
static void wagtail_selftest_fill(int how, int size)
{
    const int stride = wagtail_selftest_stride(how, WAGTAIL_CHANNELS);
    int c;
    int i;

    for (c = 0; c < WAGTAIL_CHANNELS; c++) {
        if (how == (int)WAGTAIL_SELFTEST_INT32) {
            for (i = 0; i < size; i++) {
                wagtail_selftest.in.wide[(i * stride) + c] = wagtail_selftest_sample(i) * 65536;
            }
        } else {
            int32_t *const in = wagtail_selftest_input_of(how, c);

            for (i = 0; i < size; i++) {
                in[i * stride] = (int32_t)wagtail_selftest_sample(i) * (int32_t)256;
            }
        }
    }
    wagtail_selftest.time += (uint32_t)size;
}

/* Runs the block. */
static void wagtail_selftest_filter(int how, int size)
{
    wagtail_state *const s = &wagtail_selftest.filters;
    wagtail_selftest_input *const from = &wagtail_selftest.in;
    wagtail_selftest_output *const to = &wagtail_selftest.out;
    int failed;

    if (how == (int)WAGTAIL_SELFTEST_FRAMES) {
        failed = wagtail_run_frames(s, from->word, to->word, size);
    } else if (how == (int)WAGTAIL_SELFTEST_INT32) {
        failed = wagtail_run_frames_int32(s, from->wide, to->wide, size);
    } else {
        const int32_t *in[WAGTAIL_CHANNELS];
        int32_t *out[WAGTAIL_SELFTEST_OUTPUTS];
        int k;

        for (k = 0; k < WAGTAIL_CHANNELS; k++) {
            in[k] = wagtail_selftest_input_of(how, k);
        }
        for (k = 0; k < WAGTAIL_SELFTEST_OUTPUTS; k++) {
            out[k] = &to->word[k * WAGTAIL_SELFTEST_BLOCK];
        }
        failed = wagtail_run(s, in, out, size);
    }
    wagtail_selftest_check(failed == 0);
}

/* Takes all outputs of the block into the hash, FNV-1a's of whole words. */
static void wagtail_selftest_hash(int how, int size)
{
    const int stride = wagtail_selftest_stride(how, WAGTAIL_SELFTEST_OUTPUTS);
    uint32_t hash = wagtail_selftest.hash;
    int k;
    int i;

    for (k = 0; k < WAGTAIL_SELFTEST_OUTPUTS; k++) {
        const int first = wagtail_selftest_first(how, k);

        if (how == (int)WAGTAIL_SELFTEST_INT32) {
            for (i = 0; i < size; i++) {
                hash = (hash ^ (uint32_t)wagtail_selftest.out.wide[(i * stride) + first]) * 16777619u;
            }
        } else {
            const int32_t *const out = &wagtail_selftest.out.word[first];

            for (i = 0; i < size; i++) {
                uint32_t bits;

                (void)memcpy(&bits, &out[i * stride], sizeof bits);
                hash = (hash ^ bits) * 16777619u;
            }
        }
    }
    wagtail_selftest.hash = hash;
}

/* n samples of every channel in blocks. */
static void wagtail_selftest_run(int n)
{
    static const unsigned char sizes[8] = { 64, 32, 0, 1, 2, 7, 33, 21 };
    int done = 0;

    while (done < n) {
        const uint32_t into = wagtail_selftest.time - wagtail_selftest.opened;
        const int how = into < (uint32_t)WAGTAIL_SELFTEST_BURST + wagtail_selftest.latest ? (int)WAGTAIL_SELFTEST_PLANAR
            : (int)(wagtail_selftest.block % (unsigned int)WAGTAIL_SELFTEST_HOWS);
        int size = (int)sizes[wagtail_selftest.block % 8u];

        size = n - done < size ? n - done : size;
        wagtail_selftest.block++;
        wagtail_selftest_fill(how, size);
        wagtail_selftest_filter(how, size);
        wagtail_selftest_hash(how, size);
        done += size;
    }
}

/* Makes the choices of row k for a channel. */
static void wagtail_selftest_choose(int k, int c)
{
    wagtail_state *const s = &wagtail_selftest.filters;
    const unsigned char *const choice = wagtail_selftest_choices[k];
    int failed = 0;

    failed |= wagtail_set_placement(s, c, (enum wagtail_placement)choice[0]);
    failed |= wagtail_get_placement(s, c) ^ (int)choice[0];
    wagtail_selftest_check(failed == 0);
}

/* Calls that have to be refused, with a state that is not initialised and with one that is. */
static void wagtail_selftest_refused(uint32_t hz)
{
    wagtail_state *const s = &wagtail_selftest.filters;
    const int32_t *const in = wagtail_selftest.in.word;
    int32_t *const out = wagtail_selftest.out.word;

    wagtail_selftest_check(wagtail_init(s, 1u) == 1);
    wagtail_selftest_check(wagtail_run_frames(s, in, out, 1) == 1);
    wagtail_selftest_check(wagtail_set_rate(s, hz) == 1);
    wagtail_selftest_check(wagtail_init(s, hz) == 0);
    wagtail_selftest_check(wagtail_set_rate(s, 1u) == 1);
    wagtail_selftest_check(wagtail_run_frames(s, in, out, -1) == 1);
    wagtail_selftest_check(wagtail_mute(s, WAGTAIL_CHANNELS, 1) == 1);
    wagtail_selftest_check(wagtail_reset_channel(s, -1) == 1);
    wagtail_selftest_check(wagtail_set_placement(s, WAGTAIL_CHANNELS, (enum wagtail_placement)0) == 1);
}

/* All that is tried at a rate: 0, 1 or 2. */
static int wagtail_selftest_one(const wagtail_selftest_rate *rate, int first)
{
    wagtail_state *const s = &wagtail_selftest.filters;
    const int last = WAGTAIL_CHANNELS - 1;
    int k;
    int c;
    wagtail_selftest.latest = rate->latest;
    wagtail_selftest.noise = 1u;
    wagtail_selftest.time = 0u;
    wagtail_selftest.opened = 0u;
    wagtail_selftest.hash = 2166136261u;
    wagtail_selftest.block = 0u;
    wagtail_selftest.spoilt_from = 0;
    wagtail_selftest.spoilt_to = 0;
    wagtail_selftest.wrong = 0;
    if (first != 0) {
        wagtail_selftest_refused(rate->hz);
    } else {
        wagtail_selftest_check(wagtail_set_rate(s, rate->hz) == 0);
    }
    for (k = 0; k < WAGTAIL_SELFTEST_RUNS; k++) {
        if (k > 0) {
            wagtail_reset(s);
        }
        for (c = 0; c < WAGTAIL_CHANNELS; c++) {
            wagtail_selftest_choose((k * WAGTAIL_CHANNELS) + c, c);
        }
        wagtail_selftest.opened = wagtail_selftest.time;
        wagtail_selftest_run(rate->run);
    }

    wagtail_selftest_check(wagtail_mute(s, last, 1) == 0 && wagtail_muted(s, last) == 1);
    wagtail_selftest_run(rate->fade);
    wagtail_selftest_check(wagtail_mute(s, last, 0) == 0 && wagtail_muted(s, last) == 0);
    wagtail_selftest_run(WAGTAIL_SELFTEST_AFTER);
    wagtail_selftest_check(wagtail_garbage(s, 0) == 0);
    wagtail_selftest_check(wagtail_reset_channel(s, 0) == 0 && wagtail_garbage(s, 0) == 0);
    wagtail_selftest_run(WAGTAIL_SELFTEST_AFTER);

    if (rate->change > 0) { /* of channel 0; the others are silenced, which saves time */
        wagtail_reset(s);
        wagtail_selftest_choose(0, 0);
        wagtail_selftest.block = 0u;
        wagtail_selftest_run(WAGTAIL_SELFTEST_BLOCK + (int)rate->latest);
        wagtail_selftest_choose(1, 0);
        wagtail_selftest_run(rate->change);
    }
    return wagtail_selftest.wrong != 0 || wagtail_selftest.hash != rate->hash ? 2 : 0;
}

int wagtail_q23_selftest(void)
{
    const int rates = (int)(sizeof wagtail_selftest_rates / sizeof wagtail_selftest_rates[0]);
    int worst = 0;
    int i;

    for (i = 0; i < rates; i++) {
        const int found = wagtail_selftest_one(&wagtail_selftest_rates[i], i == 0 ? 1 : 0);

        worst = found > worst ? found : worst;
    }
    return worst;
}

#ifdef WAGTAIL_SELFTEST_MAIN
int main(void)
{
    return wagtail_q23_selftest();
}
#endif
