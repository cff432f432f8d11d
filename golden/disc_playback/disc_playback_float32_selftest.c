/*
 * disc_playback_float32_selftest.c: self-test of the loudspeaker filters of "disc_playback" in single precision
 * Spec SHA-256 ada0beb2583a954f69231574905413e5c83c45d1e6628a9c1fd53094bc33ef57
 *
 * Compile it beside disc_playback_float32.c with the options of the program, declare
 *
 *     int disc_playback_float32_selftest(void);
 *
 * and call it before any output is live: it plays nothing, and touches no state but its own.
 * With DISC_PLAYBACK_SELFTEST_MAIN defined the file has a main that returns what it says:
 *
 *   0   every output is the compiler's own simulation, to the bit
 *   1   not to the bit, but every output that was compared is as near as round-off explains:
 *       compiler or processor compute otherwise than asked
 *   2   wrong: do not let this near a loudspeaker
 *
 * What is tried:
 * all outputs at 44100, 48000, 96000 Hz; blocks of 64, 32, 0, 1, 2, 7, 33, 21 samples and what
 * is left at the end; run in and out of place, run_frames and run_frames_int32; init, change of
 * rate and resets; mute and its end; calls that have to be refused; a sample that is no number,
 * and what follows the reset; every choice, and every section that choices pick; a change of
 * settings while a channel runs, at 44100 Hz.
 *
 * It takes 1024 bytes beside one disc_playback_state, uses no library but memcpy, and is not for
 * two threads at once.
 */
#include "disc_playback_float32.h"

#include <string.h>

#ifdef __cplusplus
extern "C" int disc_playback_float32_selftest(void);
#else
int disc_playback_float32_selftest(void);
#endif

/* Where disc_playback_float32.c is compiled for fewer rates, define the same here. */
#if !(defined DISC_PLAYBACK_ONLY_44100 || defined DISC_PLAYBACK_ONLY_48000 || defined DISC_PLAYBACK_ONLY_96000)
#define DISC_PLAYBACK_ONLY_44100
#define DISC_PLAYBACK_ONLY_48000
#define DISC_PLAYBACK_ONLY_96000
#endif

#define DISC_PLAYBACK_SELFTEST_OUTPUTS (DISC_PLAYBACK_CHANNELS * DISC_PLAYBACK_WAYS)
#define DISC_PLAYBACK_SELFTEST_BLOCK 64
#define DISC_PLAYBACK_SELFTEST_LOOKS 4 /* comparisons in a run, from its middle on */
#define DISC_PLAYBACK_SELFTEST_BURST 24 /* samples of the highest frequency that a run begins with */
#define DISC_PLAYBACK_SELFTEST_AFTER 224 /* samples after the end of a mute, or the reset of a channel */

/* How a block is run; the numbers go round. */
enum disc_playback_selftest_how {
    DISC_PLAYBACK_SELFTEST_PLANAR = 0,
    DISC_PLAYBACK_SELFTEST_IN_FIRST = 1, /* in place, with the first output of the channel */
    DISC_PLAYBACK_SELFTEST_FRAMES = 2,
    DISC_PLAYBACK_SELFTEST_IN_LAST = 3,
    DISC_PLAYBACK_SELFTEST_INT32 = 4,
    DISC_PLAYBACK_SELFTEST_HOWS = 5
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
    int late[DISC_PLAYBACK_WAYS]; /* samples that a way hears late */
    float within[DISC_PLAYBACK_WAYS]; /* how far from what is expected is near */
} disc_playback_selftest_rate;

#ifdef DISC_PLAYBACK_ONLY_44100
static const float disc_playback_selftest_44100[40] = {
    4.9521047e-12f, 1.95e-18f, -6.779434e-07f, 3.62e-12f, -5.5668867e-08f, 4.32e-12f,
    4.945049e-12f, 1.18e-18f, -6.781927e-07f, 4.78e-12f, -5.568719e-08f, 4.78e-12f, 0.4533605f,
    0.13362896f, 0.46119612f, 0.038739473f, -0.1089341f, -0.43059573f, -0.26024884f,
    -0.4811861f, -0.39605737f, -0.14215487f, -0.45340627f, -0.0060821692f, -0.4368942f, 0.0f,
    -0.46050605f, 0.0f, 0.0f, -0.06096855f, 0.086525545f, 0.3585941f, -0.47689703f, 0.0f,
    -0.3160664f, 0.0f, -0.35192892f, 0.0f, -0.16796234f, 0.0f
};
#endif

#ifdef DISC_PLAYBACK_ONLY_48000
static const float disc_playback_selftest_48000[32] = {
    3.7391687e-12f, 1.13e-17f, -5.117023e-07f, 4.35e-12f, -3.281445e-08f, 4.35e-12f,
    3.7342737e-12f, 1.09e-17f, -5.1187374e-07f, 3.86e-12f, -3.282611e-08f, 3.86e-12f,
    0.45138454f, 0.1487428f, 0.46059003f, 0.05093357f, -0.08419388f, -0.40939003f, -0.23539317f,
    -0.4701475f, -0.40732357f, -0.14433901f, -0.462719f, -0.0070315236f, -0.4562934f, 0.0f,
    -0.4380031f, 0.0f, 0.0f, -0.03920463f, 0.09108704f, 0.40444225f
};
#endif

#ifdef DISC_PLAYBACK_ONLY_96000
static const float disc_playback_selftest_96000[32] = {
    2.5683638e-13f, 6.73e-19f, -3.9601808e-08f, 2.64e-13f, 7.879353e-11f, 2.64e-13f,
    2.5666822e-13f, 1.01e-18f, -3.960748e-08f, 2.1e-13f, 7.886472e-11f, 2.1e-13f, 0.2957757f,
    0.17741777f, 0.44057077f, 0.17671616f, 0.09172556f, -0.1769084f, -0.033083946f, -0.2682345f,
    -0.36789617f, -0.1771559f, -0.4150913f, -0.013680194f, -0.09584812f, 4.356291e-07f,
    0.0031628318f, 0.0f, 0.0f, 0.022059632f, 0.015770126f, 0.13408458f
};
#endif

static const disc_playback_selftest_rate disc_playback_selftest_rates[] = {
#ifdef DISC_PLAYBACK_ONLY_44100
    { 44100u, 1216, 496, 7696, 0u, 0x0afb2c0bu, disc_playback_selftest_44100,
      { 0 }, { 2.32e-06f } },
#endif
#ifdef DISC_PLAYBACK_ONLY_48000
    { 48000u, 1216, 528, 0, 0u, 0xb733ffb7u, disc_playback_selftest_48000,
      { 0 }, { 2.52e-06f } },
#endif
#ifdef DISC_PLAYBACK_ONLY_96000
    { 96000u, 1216, 1008, 0, 0u, 0xe7971ed8u, disc_playback_selftest_96000,
      { 0 }, { 1.86e-06f } },
#endif
};

#define DISC_PLAYBACK_SELFTEST_RUNS 1

/* The choices of every setting, of each channel in each run. */
static const unsigned char
disc_playback_selftest_choices[DISC_PLAYBACK_SELFTEST_RUNS * DISC_PLAYBACK_CHANNELS][DISC_PLAYBACK_SETTINGS] = {
    { 0 },
    { 1 }
};

/* Samples, as words of the format or as integers. */
typedef union {
    float word[DISC_PLAYBACK_CHANNELS * DISC_PLAYBACK_SELFTEST_BLOCK];
    int32_t wide[DISC_PLAYBACK_CHANNELS * DISC_PLAYBACK_SELFTEST_BLOCK];
} disc_playback_selftest_input;

typedef union {
    float word[DISC_PLAYBACK_SELFTEST_OUTPUTS * DISC_PLAYBACK_SELFTEST_BLOCK];
    int32_t wide[DISC_PLAYBACK_SELFTEST_OUTPUTS * DISC_PLAYBACK_SELFTEST_BLOCK];
} disc_playback_selftest_output;

static struct {
    disc_playback_state filters;
    disc_playback_selftest_input in;
    disc_playback_selftest_output out;
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
} disc_playback_selftest;

static void disc_playback_selftest_check(int fine)
{
    if (fine == 0) {
        disc_playback_selftest.wrong = 1;
    }
}

/* How far apart the samples of a line are where there are so many lines, and where the
 * first of line k stands. */
static int disc_playback_selftest_stride(int how, int lines)
{
    return how == (int)DISC_PLAYBACK_SELFTEST_FRAMES || how == (int)DISC_PLAYBACK_SELFTEST_INT32 ? lines : 1;
}

static int disc_playback_selftest_first(int how, int k)
{
    return disc_playback_selftest_stride(how, 2) == 2 ? k : k * DISC_PLAYBACK_SELFTEST_BLOCK;
}

/* Where a channel's samples in words begin. */
static float *disc_playback_selftest_input_of(int how, int c)
{
    float *in = &disc_playback_selftest.in.word[disc_playback_selftest_first(how, c)];

    if (how == (int)DISC_PLAYBACK_SELFTEST_IN_FIRST) {
        in = &disc_playback_selftest.out.word[c * DISC_PLAYBACK_WAYS * DISC_PLAYBACK_SELFTEST_BLOCK];
    } else if (how == (int)DISC_PLAYBACK_SELFTEST_IN_LAST) {
        in = &disc_playback_selftest.out.word[((c * DISC_PLAYBACK_WAYS) + DISC_PLAYBACK_WAYS - 1) * DISC_PLAYBACK_SELFTEST_BLOCK];
    } else {
        /* out of place */
    }
    return in;
}

/* The next sample of 16 bits: a burst, or noise and a step. */
static int32_t disc_playback_selftest_sample(int i)
{
    static const int16_t burst[DISC_PLAYBACK_SELFTEST_BURST] = {
        0, 0, 0, 0, 1, -16, 120, -560, 1820, -4368, 8008, -11440, 12870, -11440, 8008, -4368, 1820, -560, 120, -16, 1, 0, 0, 0
    };
    const uint32_t turned = (disc_playback_selftest.time + (uint32_t)i) & 1024u;
    const uint32_t t = disc_playback_selftest.time + (uint32_t)i - disc_playback_selftest.opened;
    int32_t x = turned == 0u ? 15000 : -15000;

    if (t < (uint32_t)DISC_PLAYBACK_SELFTEST_BURST) {
        x = burst[t];
    } else {
        disc_playback_selftest.noise = (disc_playback_selftest.noise * 1664525u) + 1013904223u;
        x += (int32_t)(disc_playback_selftest.noise >> 17) - 16384;
    }
    return x;
}

/* Makes the block's samples. */
static void disc_playback_selftest_fill(int how, int size)
{
    const int stride = disc_playback_selftest_stride(how, DISC_PLAYBACK_CHANNELS);
    int c;
    int i;

    for (c = 0; c < DISC_PLAYBACK_CHANNELS; c++) {
        if (how == (int)DISC_PLAYBACK_SELFTEST_INT32) {
            for (i = 0; i < size; i++) {
                disc_playback_selftest.in.wide[(i * stride) + c] = disc_playback_selftest_sample(i) * 65536;
            }
        } else {
            float *const in = disc_playback_selftest_input_of(how, c);

            for (i = 0; i < size; i++) {
                in[i * stride] = (float)disc_playback_selftest_sample(i) * (float)3.0517578125e-05;
            }
            if (size > 0 && c >= disc_playback_selftest.spoilt_from && c < disc_playback_selftest.spoilt_to) {
                static const uint32_t none = 0x7fc00000u;

                (void)memcpy(in, &none, sizeof none);
                disc_playback_selftest.spoilt_from++;
            }
        }
    }
    disc_playback_selftest.time += (uint32_t)size;
}

/* Runs the block. */
static void disc_playback_selftest_filter(int how, int size)
{
    disc_playback_state *const s = &disc_playback_selftest.filters;
    disc_playback_selftest_input *const from = &disc_playback_selftest.in;
    disc_playback_selftest_output *const to = &disc_playback_selftest.out;
    int failed;

    if (how == (int)DISC_PLAYBACK_SELFTEST_FRAMES) {
        failed = disc_playback_run_frames(s, from->word, to->word, size);
    } else if (how == (int)DISC_PLAYBACK_SELFTEST_INT32) {
        failed = disc_playback_run_frames_int32(s, from->wide, to->wide, size);
    } else {
        const float *in[DISC_PLAYBACK_CHANNELS];
        float *out[DISC_PLAYBACK_SELFTEST_OUTPUTS];
        int k;

        for (k = 0; k < DISC_PLAYBACK_CHANNELS; k++) {
            in[k] = disc_playback_selftest_input_of(how, k);
        }
        for (k = 0; k < DISC_PLAYBACK_SELFTEST_OUTPUTS; k++) {
            out[k] = &to->word[k * DISC_PLAYBACK_SELFTEST_BLOCK];
        }
        failed = disc_playback_run(s, in, out, size);
    }
    disc_playback_selftest_check(failed == 0);
}

/* Takes all outputs of the block into the hash, FNV-1a's of whole words. */
static void disc_playback_selftest_hash(int how, int size)
{
    const int stride = disc_playback_selftest_stride(how, DISC_PLAYBACK_SELFTEST_OUTPUTS);
    uint32_t hash = disc_playback_selftest.hash;
    int k;
    int i;

    for (k = 0; k < DISC_PLAYBACK_SELFTEST_OUTPUTS; k++) {
        const int first = disc_playback_selftest_first(how, k);

        if (how == (int)DISC_PLAYBACK_SELFTEST_INT32) {
            for (i = 0; i < size; i++) {
                hash = (hash ^ (uint32_t)disc_playback_selftest.out.wide[(i * stride) + first]) * 16777619u;
            }
        } else {
            const float *const out = &disc_playback_selftest.out.word[first];

            for (i = 0; i < size; i++) {
                uint32_t bits;

                (void)memcpy(&bits, &out[i * stride], sizeof bits);
                hash = (hash ^ bits) * 16777619u;
            }
        }
    }
    disc_playback_selftest.hash = hash;
}

/* Whether output k of sample i of the block is as near to the next expected number as it has to be. */
static void disc_playback_selftest_compare(int how, int i, int k, float within)
{
    const int at = (i * disc_playback_selftest_stride(how, DISC_PLAYBACK_SELFTEST_OUTPUTS)) + disc_playback_selftest_first(how, k);
    float near = within;
    float off;

    if (how == (int)DISC_PLAYBACK_SELFTEST_INT32) {
        off = (float)disc_playback_selftest.out.wide[at] * (float)(1.0 / 2147483648.0);
        near += (float)(2.0 / 2147483648.0);
    } else {
        off = disc_playback_selftest.out.word[at];
    }
    off -= *disc_playback_selftest.expected;
    disc_playback_selftest.expected++;
    disc_playback_selftest_check(off <= near && off >= -near);
}

/* Compares what ways make of the burst in a block that far into a run; behind each expected number stands
 * how near it has to be. */
static void disc_playback_selftest_compare_burst(uint32_t into, int size)
{
    static const int places[3] = { 4, 13, 18 };
    int k;
    int j;

    for (k = 0; k < DISC_PLAYBACK_SELFTEST_OUTPUTS && into < (uint32_t)DISC_PLAYBACK_SELFTEST_BURST + disc_playback_selftest.latest; k++) {
        for (j = 0; j < 3; j++) {
            const int i = places[j] + disc_playback_selftest.late[k % DISC_PLAYBACK_WAYS] - (int)into;

            if (i >= 0 && i < size) {
                disc_playback_selftest_compare((int)DISC_PLAYBACK_SELFTEST_PLANAR, i, k, disc_playback_selftest.expected[1]);
                disc_playback_selftest.expected++;
            }
        }
    }
}

/* n samples of every channel in blocks, and so many comparisons, the last at the end. */
static void disc_playback_selftest_run(int n, int looks)
{
    static const unsigned char sizes[8] = { 64, 32, 0, 1, 2, 7, 33, 21 };
    int done = 0;

    while (done < n) {
        const uint32_t into = disc_playback_selftest.time - disc_playback_selftest.opened;
        const int how = into < (uint32_t)DISC_PLAYBACK_SELFTEST_BURST + disc_playback_selftest.latest ? (int)DISC_PLAYBACK_SELFTEST_PLANAR
            : (int)(disc_playback_selftest.block % (unsigned int)DISC_PLAYBACK_SELFTEST_HOWS);
        int size = (int)sizes[disc_playback_selftest.block % 8u];
        int j;

        size = n - done < size ? n - done : size;
        disc_playback_selftest.block++;
        disc_playback_selftest_fill(how, size);
        disc_playback_selftest_filter(how, size);
        disc_playback_selftest_hash(how, size);
        disc_playback_selftest_compare_burst(into, size);
        for (j = looks - 1; j >= 0; j--) {
            const int i = n - done - 1 - (n * j * j / 18);
            int k;

            for (k = 0; k < DISC_PLAYBACK_SELFTEST_OUTPUTS && i >= 0 && i < size; k++) {
                disc_playback_selftest_compare(how, i, k, disc_playback_selftest.within[k % DISC_PLAYBACK_WAYS]);
            }
        }
        done += size;
    }
}

/* Makes the choices of row k for a channel. */
static void disc_playback_selftest_choose(int k, int c)
{
    disc_playback_state *const s = &disc_playback_selftest.filters;
    const unsigned char *const choice = disc_playback_selftest_choices[k];
    int failed = 0;

    failed |= disc_playback_set_amendment(s, c, (enum disc_playback_amendment)choice[0]);
    failed |= disc_playback_get_amendment(s, c) ^ (int)choice[0];
    disc_playback_selftest_check(failed == 0);
}

/* Calls that have to be refused, with a state that is not initialised and with one that is. */
static void disc_playback_selftest_refused(uint32_t hz)
{
    disc_playback_state *const s = &disc_playback_selftest.filters;
    const float *const in = disc_playback_selftest.in.word;
    float *const out = disc_playback_selftest.out.word;

    disc_playback_selftest_check(disc_playback_init(s, 1u) == 1);
    disc_playback_selftest_check(disc_playback_run_frames(s, in, out, 1) == 1);
    disc_playback_selftest_check(disc_playback_set_rate(s, hz) == 1);
    disc_playback_selftest_check(disc_playback_init(s, hz) == 0);
    disc_playback_selftest_check(disc_playback_set_rate(s, 1u) == 1);
    disc_playback_selftest_check(disc_playback_run_frames(s, in, out, -1) == 1);
    disc_playback_selftest_check(disc_playback_mute(s, DISC_PLAYBACK_CHANNELS, 1) == 1);
    disc_playback_selftest_check(disc_playback_reset_channel(s, -1) == 1);
    disc_playback_selftest_check(disc_playback_set_amendment(s, DISC_PLAYBACK_CHANNELS, (enum disc_playback_amendment)0) == 1);
}

/* All that is tried at a rate: 0, 1 or 2. */
static int disc_playback_selftest_one(const disc_playback_selftest_rate *rate, int first)
{
    disc_playback_state *const s = &disc_playback_selftest.filters;
    const int last = DISC_PLAYBACK_CHANNELS - 1;
    int k;
    int c;
    disc_playback_selftest.expected = rate->expected;
    disc_playback_selftest.within = rate->within;
    disc_playback_selftest.late = rate->late;
    disc_playback_selftest.latest = rate->latest;
    disc_playback_selftest.noise = 1u;
    disc_playback_selftest.time = 0u;
    disc_playback_selftest.opened = 0u;
    disc_playback_selftest.hash = 2166136261u;
    disc_playback_selftest.block = 0u;
    disc_playback_selftest.spoilt_from = 0;
    disc_playback_selftest.spoilt_to = 0;
    disc_playback_selftest.wrong = 0;
    if (first != 0) {
        disc_playback_selftest_refused(rate->hz);
    } else {
        disc_playback_selftest_check(disc_playback_set_rate(s, rate->hz) == 0);
    }
    for (k = 0; k < DISC_PLAYBACK_SELFTEST_RUNS; k++) {
        if (k > 0) {
            disc_playback_reset(s);
        }
        for (c = 0; c < DISC_PLAYBACK_CHANNELS; c++) {
            disc_playback_selftest_choose((k * DISC_PLAYBACK_CHANNELS) + c, c);
        }
        disc_playback_selftest.opened = disc_playback_selftest.time;
        disc_playback_selftest_run(rate->run, DISC_PLAYBACK_SELFTEST_LOOKS);
    }

    disc_playback_selftest_check(disc_playback_mute(s, last, 1) == 0 && disc_playback_muted(s, last) == 1);
    disc_playback_selftest_run(rate->fade, DISC_PLAYBACK_SELFTEST_LOOKS);
    disc_playback_selftest_check(disc_playback_mute(s, last, 0) == 0 && disc_playback_muted(s, last) == 0);
    disc_playback_selftest.spoilt_to = 1;
    disc_playback_selftest_run(DISC_PLAYBACK_SELFTEST_AFTER, 1);
    disc_playback_selftest_check(disc_playback_garbage(s, 0) == 1);
    disc_playback_selftest_check(disc_playback_reset_channel(s, 0) == 0 && disc_playback_garbage(s, 0) == 0);
    disc_playback_selftest_run(DISC_PLAYBACK_SELFTEST_AFTER, 1);

    if (rate->change > 0) { /* of channel 0; the others are silenced, which saves time */
        disc_playback_reset(s);
        disc_playback_selftest_choose(0, 0);
        disc_playback_selftest.block = 0u;
        disc_playback_selftest.spoilt_to = DISC_PLAYBACK_CHANNELS; /* it stands at 1 since channel 0 was spoilt */
        disc_playback_selftest_run(DISC_PLAYBACK_SELFTEST_BLOCK + (int)rate->latest, 0);
        disc_playback_selftest_choose(1, 0);
        disc_playback_selftest_run(rate->change, DISC_PLAYBACK_SELFTEST_LOOKS);
    }
    return disc_playback_selftest.wrong != 0 ? 2 : disc_playback_selftest.hash != rate->hash ? 1 : 0;
}

int disc_playback_float32_selftest(void)
{
    const int rates = (int)(sizeof disc_playback_selftest_rates / sizeof disc_playback_selftest_rates[0]);
    int worst = 0;
    int i;

    for (i = 0; i < rates; i++) {
        const int found = disc_playback_selftest_one(&disc_playback_selftest_rates[i], i == 0 ? 1 : 0);

        worst = found > worst ? found : worst;
    }
    return worst;
}

#ifdef DISC_PLAYBACK_SELFTEST_MAIN
int main(void)
{
    return disc_playback_float32_selftest();
}
#endif
