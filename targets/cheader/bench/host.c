/* The emitted filters beside others that do the same work, in one program and in turns: a plain
 * loop of the transposed direct form, liquid-dsp, and CMSIS-DSP's kernels where they are to be had; and
 * beside a bare chain, which is the least that single samples take on this machine with this compiler.
 * Times are the best of many rounds by the clock on the wall: what else the machine does only adds to that, where the
 * times that a virtual machine counts for a process are now and then too short, and the best would be those. */
#define _POSIX_C_SOURCE 199309L
#include HEADER
#include "work.h"
#include <liquid/liquid.h>
#include <stdio.h>
#include <string.h>
#include <time.h>
#ifdef WITH_CMSIS
#include "dsp/filtering_functions.h"
#endif

enum { ROUNDS = 40, SAMPLES = 8192 };

/* CMSIS-DSP has a kernel of one channel and one of two, and each with its loop unrolled. */
enum { HEADER_HERE, PLAIN, LIQUID, CMSIS, CMSIS_UNROLLED, CMSIS_TWO, CMSIS_TWO_UNROLLED, CHAIN, PROGRAMS };

static THE(_state) state;
static float in[CHANNELS][MOST];
static float out[CHANNELS * WAYS][MOST];
static float common[CHANNELS][MOST];
static const float *ins[CHANNELS]; /* where they stand */
static float *outs[CHANNELS * WAYS];

typedef struct {
    float b0, b1, b2, a1, a2, p, q;
} plain_section;

/* Of every channel the common cascade, then the ways'. */
static plain_section plain[CHANNELS][1 + WAYS][MOST_SECTIONS];
static iirfilt_rrrf liquid[CHANNELS][1 + WAYS];
#ifdef WITH_CMSIS
static float cmsis_words[5 * MOST_SECTIONS];
static float cmsis_states[CHANNELS][1 + WAYS][4 * MOST_SECTIONS];
static arm_biquad_cascade_df2T_instance_f32 cmsis[CHANNELS][1 + WAYS];

/* The kernel of two channels has them side by side: it is handed them so, and hands them on so. */
static float cmsis_frames_in[2 * MOST], cmsis_frames_out[1 + WAYS][2 * MOST];
static float cmsis_two_states[1 + WAYS][4 * MOST_SECTIONS];
static arm_biquad_cascade_stereo_df2T_instance_f32 cmsis_two[1 + WAYS];

/* bench/run compiles the kernels a second time under these names, with ARM_MATH_LOOPUNROLL. */
void cmsis_unrolled(const arm_biquad_cascade_df2T_instance_f32 *, const float *, float *, uint32_t);
void cmsis_two_unrolled(const arm_biquad_cascade_stereo_df2T_instance_f32 *, const float *, float *, uint32_t);
#endif

/* The bare chain: as many sections in series as the longest way has with the common part, in vectors
 * that hold all ways side by side, words and states in memory in the order in which they are met. It
 * is handed whole vectors, and nothing else is done. */
#if OF(_CHANNELS) * OF(_WAYS) > 1
enum { WIDE = CHANNELS * WAYS > 4 ? 8 : 4 };
typedef float vector __attribute__((vector_size(4 * WIDE)));
#else
enum { WIDE = 1 };
typedef float vector;
#endif
enum { VECTORS = (CHANNELS * WAYS + WIDE - 1) / WIDE };

typedef struct {
    vector b0, b1, b2, a1, a2, p, q;
} chain_section;

static chain_section chain[VECTORS][2 * MOST_SECTIONS];
static int chain_length[VECTORS];
static vector chain_in[VECTORS], chain_out[VECTORS];

/* No product is fused with a sum, as in the emitted code: gcc fuses none with -std=c99. */
static __attribute__((noinline)) void run_chain(chain_section *s, const chain_section *end, const vector *from, vector *to)
{
#ifdef __clang__
#pragma clang fp contract(off)
#endif
    vector x = *from;

    do {
        const vector p = s->p;
        const vector q = s->q;
        const vector y = s->b0 * x + p;

        s->p = p + ((q + s->b1 * x) - s->a1 * y);
        s->q = (q + s->b2 * x) - s->a2 * y;
        x = y;
        s++;
    } while (s != end);
    *to = x;
}

static double now(void)
{
    struct timespec t;

    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec * 1e9 + (double)t.tv_nsec;
}

static __attribute__((noinline)) void run_plain(plain_section *s, int count, float *io, int n)
{
    for (int k = 0; k < count; k++) {
        plain_section c = s[k];

        for (int i = 0; i < n; i++) {
            const float x = io[i];
            const float y = c.b0 * x + c.p;

            c.p = c.b1 * x - c.a1 * y + c.q;
            c.q = c.b2 * x - c.a2 * y;
            io[i] = y;
        }
        s[k] = c;
    }
}

/* One cascade of one of the others: from -> to. */
static void run_cascade(int program, int channel, int c, const float *from, float *to, int n)
{
    const int count = sections[c];

#ifdef WITH_CMSIS
    if (program == CMSIS && count > 0) {
        arm_biquad_cascade_df2T_f32(&cmsis[channel][c], from, to, (uint32_t)n);
        return;
    }
    if (program == CMSIS_UNROLLED && count > 0) {
        cmsis_unrolled(&cmsis[channel][c], from, to, (uint32_t)n);
        return;
    }
#endif
    if (program == LIQUID && count > 0) {
        iirfilt_rrrf_execute_block(liquid[channel][c], (float *)from, (unsigned int)n, to);
        return;
    }
    memcpy(to, from, (size_t)n * sizeof *to);
    run_plain(plain[channel][c], count, to, n);
}

#ifdef WITH_CMSIS
/* Two channels at once: the common cascade, then the ways'. */
static void run_two(int program, int n)
{
    const float *from = cmsis_frames_in;

    for (int c = 0; c <= WAYS; c++) {
        if (sections[c] > 0) {
            (program == CMSIS_TWO ? arm_biquad_cascade_stereo_df2T_f32 : cmsis_two_unrolled)(&cmsis_two[c], from, cmsis_frames_out[c], (uint32_t)n);
        } else {
            memcpy(cmsis_frames_out[c], from, 2 * (size_t)n * sizeof *from);
        }
        from = cmsis_frames_out[0];
    }
}
#endif

/* Whether the program is one of those that are timed with blocks of so many. */
static int takes_part(int program, int block)
{
#ifndef WITH_CMSIS
    if (program >= CMSIS && program <= CMSIS_TWO_UNROLLED) {
        return 0;
    }
#endif
    if (program == CMSIS_TWO || program == CMSIS_TWO_UNROLLED) {
        return CHANNELS == 2;
    }
    return program != CHAIN || block == 1;
}

static void run(int program, int n)
{
    if (program == HEADER_HERE) {
        THE(_run)(&state, ins, outs, n);
        return;
    }
#ifdef WITH_CMSIS
    if (program == CMSIS_TWO || program == CMSIS_TWO_UNROLLED) {
        run_two(program, n);
        return;
    }
#endif
    if (program == CHAIN) {
        for (int v = 0; v < VECTORS; v++) {
            run_chain(chain[v], &chain[v][chain_length[v]], &chain_in[v], &chain_out[v]);
        }
        return;
    }
    for (int c = 0; c < CHANNELS; c++) {
        run_cascade(program, c, 0, in[c], common[c], n);
        for (int w = 0; w < WAYS; w++) {
            run_cascade(program, c, 1 + w, common[c], out[c * WAYS + w], n);
        }
    }
}

/* The filters with samples in one array a channel and output, side by side, and side by side in 32 bits. */
static void run_as(int how, int n)
{
    static float frames_in[CHANNELS * MOST], frames_out[CHANNELS * WAYS * MOST];
    static int32_t wide_in[CHANNELS * MOST], wide_out[CHANNELS * WAYS * MOST];

    if (how == 0) {
        run(HEADER_HERE, n);
        return;
    }
    if (wide_in[0] == 0) {
        for (int i = 0; i < CHANNELS * MOST; i++) {
            frames_in[i] = in[i % CHANNELS][i / CHANNELS];
            wide_in[i] = (int32_t)(frames_in[i] * 2147483648.0f);
        }
    }
    if (how == 1) {
        THE(_run_frames)(&state, frames_in, frames_out, n);
    } else {
        THE(_run_frames_int32)(&state, wide_in, wide_out, n);
    }
}

/* The ways to hand samples over beside each other, nanoseconds a sample of all channels. */
static void side_by_side(int block)
{
    double ns[3] = { 1e99, 1e99, 1e99 };

    for (int r = 0; r < ROUNDS; r++) {
        for (int how = 0; how < 3; how++) {
            const double start = now();

            for (int done = 0; done < SAMPLES; done += block) {
                run_as(how, block);
            }
            const double t = (now() - start) / SAMPLES;
            ns[how] = t < ns[how] ? t : ns[how];
        }
    }
    printf("  block %3d, a sample of all channels: %.1f ns; side by side %.1f ns, in 32 bits %.1f ns\n", block, ns[0], ns[1], ns[2]);
}

static void set_up_chain(void)
{
    for (int l = 0; l < VECTORS * WIDE; l++) {
        const int v = l / WIDE;
        const int length = sections[0] + sections[1 + l % WAYS];

        if (l < CHANNELS * WAYS && length > chain_length[v]) {
            chain_length[v] = length;
        }
        ((float *)&chain_in[v])[l % WIDE] = 0.01f * (float)(1 + l);
        for (int k = 0; k < 2 * MOST_SECTIONS; k++) {
            static const float words[5] = { 1.01f, 0.21f, 0.021f, 0.2f, 0.02f };

            for (int i = 0; i < 5; i++) {
                ((float *)&chain[v][k])[i * WIDE + l % WIDE] = words[i];
            }
        }
    }
}

static void set_up(void)
{
    float b[3 * MOST_SECTIONS];
    float a[3 * MOST_SECTIONS];

    for (int k = 0; k < MOST_SECTIONS; k++) {
        const float words[5] = { 1.01f, -1.8f, 0.83f, -1.8f, 0.84f };

        for (int c = 0; c < CHANNELS * (1 + WAYS); c++) {
            const plain_section s = { words[0], words[1], words[2], words[3], words[4], 0, 0 };

            (&plain[0][0][0])[c * MOST_SECTIONS + k] = s;
        }
        memcpy(&b[3 * k], words, 3 * sizeof *words);
        a[3 * k] = 1;
        memcpy(&a[3 * k + 1], words + 3, 2 * sizeof *words);
#ifdef WITH_CMSIS
        memcpy(&cmsis_words[5 * k], words, 3 * sizeof *words);
        cmsis_words[5 * k + 3] = -words[3];
        cmsis_words[5 * k + 4] = -words[4];
#endif
    }
    for (int c = 0; c < CHANNELS; c++) {
        for (int k = 0; k <= WAYS; k++) {
            if (sections[k] > 0) {
                liquid[c][k] = iirfilt_rrrf_create_sos(b, a, (unsigned int)sections[k]);
            }
#ifdef WITH_CMSIS
            arm_biquad_cascade_df2T_init_f32(&cmsis[c][k], (uint8_t)sections[k], cmsis_words, cmsis_states[c][k]);
            arm_biquad_cascade_stereo_df2T_init_f32(&cmsis_two[k], (uint8_t)sections[k], cmsis_words, cmsis_two_states[k]);
#endif
        }
    }
    for (int c = 0; c < CHANNELS; c++) {
        ins[c] = in[c];
    }
    for (int w = 0; w < CHANNELS * WAYS; w++) {
        outs[w] = out[w];
    }
    set_up_chain();
    THE(_init)(&state, RATE);
}

static void noise(void)
{
    static uint32_t x = 1;

    for (int c = 0; c < CHANNELS; c++) {
        for (int i = 0; i < MOST; i++) {
            x = x * 1664525u + 1013904223u;
            in[c][i] = (float)(int32_t)x * (0.25f / 2147483648.0f);
#ifdef WITH_CMSIS
            cmsis_frames_in[2 * i + c % 2] = in[c][i];
#endif
        }
    }
}

/* The time of silence, where it takes most in the seconds after noise, re that of noise that goes on: the two
 * in turns, the best of fifty of each. */
static double silence(void)
{
    static THE(_state) quiet;
    static float nothing[MOST];
    const float *nothings[CHANNELS];
    double worst = 0;

    for (int c = 0; c < CHANNELS; c++) {
        nothings[c] = nothing;
    }
    quiet = state;
    for (int k = 0; k < 20; k++) {
        double best[2] = { 1e99, 1e99 };

        for (int r = 0; r < 100; r++) {
            const double start = now();

            for (int i = 0; i < 20; i++) {
                if (r % 2 == 0) {
                    THE(_run)(&state, ins, outs, 64);
                } else {
                    THE(_run)(&quiet, nothings, outs, 64);
                }
            }
            const double t = now() - start;
            best[r % 2] = t < best[r % 2] ? t : best[r % 2];
        }
        worst = best[1] / best[0] > worst ? best[1] / best[0] : worst;
    }
    return worst;
}

#ifdef WITH_CMSIS
static const char *const cmsis_names[] = { "one channel", "one channel, unrolled", "two channels", "two channels, unrolled" };

/* The kernel that takes least. */
static int fastest(const double *t)
{
    int best = CMSIS;

    for (int p = CMSIS; p <= CMSIS_TWO_UNROLLED; p++) {
        best = t[p] < t[best] ? p : best;
    }
    return best;
}
#endif

int main(void)
{
    static const int blocks[] = { 256, 64, 32, 8, 1 };
    double ns[5][PROGRAMS];
    double work = 0;

    set_up();
    noise();
    for (int i = 0; i < 1200; i++) { /* the fade from silence is over */
        run(HEADER_HERE, 64);
    }
    for (int c = 0; c <= WAYS; c++) {
        work += (double)CHANNELS * sections[c];
    }
    for (int k = 0; k < 5; k++) {
        for (int p = 0; p < PROGRAMS; p++) {
            ns[k][p] = 1e99;
        }
    }
    for (int r = 0; r < ROUNDS; r++) {
        for (int k = 0; k < 5; k++) {
            for (int p = 0; p < PROGRAMS; p++) {
                const double start = now();

                if (!takes_part(p, blocks[k])) {
                    continue;
                }
                for (int done = 0; done < SAMPLES; done += blocks[k]) {
                    run(p, blocks[k]);
                }
                const double t = (now() - start) / (SAMPLES * work);
                ns[k][p] = t < ns[k][p] ? t : ns[k][p];
            }
        }
    }
    for (int k = 0; k < 5; k++) {
        const double *t = ns[k];

        printf("  block %3d: %6.3f ns a section and sample; plain loop %.3f (%.2f x), liquid-dsp %.3f (%.1f x)", blocks[k],
            t[HEADER_HERE], t[PLAIN], t[PLAIN] / t[HEADER_HERE], t[LIQUID], t[LIQUID] / t[HEADER_HERE]);
#ifdef WITH_CMSIS
        printf(", CMSIS-DSP's fastest %.3f (%.1f x; %s)", t[fastest(t)], t[fastest(t)] / t[HEADER_HERE], cmsis_names[fastest(t) - CMSIS]);
#endif
        printf("\n");
    }
    side_by_side(64);
    side_by_side(8);
    side_by_side(1);
    verdict("block 1 re block 32", ns[4][HEADER_HERE] / ns[2][HEADER_HERE], 1.6, 0);
    printf("  %-44s %7.2f   (the chain: %.3f ns, %.2f times block 32)\n", "block 1 re a bare chain", ns[4][HEADER_HERE] / ns[4][CHAIN],
        ns[4][CHAIN], ns[4][CHAIN] / ns[2][HEADER_HERE]);
    if (CHANNELS * WAYS == 1) {
        verdict("time re a plain loop, block 64", ns[1][HEADER_HERE] / ns[1][PLAIN], 1.1, 0);
    }
#ifdef AGAINST_LIQUID /* stereo to four ways of ten sections, with this machine's vectors */
    verdict("faster than liquid-dsp, block 64", ns[1][LIQUID] / ns[1][HEADER_HERE], 20, 1);
#ifdef WITH_CMSIS
    verdict("faster than CMSIS-DSP's fastest, block 64", ns[1][fastest(ns[1])] / ns[1][HEADER_HERE], 8, 1);
#endif
#endif
    verdict("silence re noise", silence(), 1.1, 0);
    return 0;
}
